package locate

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/lsq"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Gap is a number of the bike that a posture needs and nothing fixes.
type Gap struct {
	Unknown string // as in the list of unknowns: saddle.x, bar.rotation
	// Sigma is how badly the readings fix it all the same; 0: not at all.
	Sigma    plane.Quantity
	Readings []string // any one of these helps to fix it, the usual first
}

// coordinate is one number of a body that a person can be told about.
type coordinate struct {
	name string
	body assembly.Body
	g    assembly.Motion
}

// coordinates lists the coordinates of the bodies in use, in their fixed order.
func (m *model) coordinates() []coordinate {
	var all []coordinate
	for b := range assembly.Bodies {
		if !m.chains[0].Uses(b) || b == assembly.Pads && m.layout.Clipon != nil {
			continue
		}
		n := bodyNames[b]
		all = append(all,
			coordinate{n.body + ".x", b, assembly.Motion{By: plane.Point{X: 1}}},
			coordinate{n.body + ".y", b, assembly.Motion{By: plane.Point{Y: 1}}})
		if n.turn != "" && m.turnOf(0, b) >= 0 {
			all = append(all, coordinate{n.turn, b, assembly.Motion{Turn: 1}})
		}
	}
	if m.chains[0].Uses(assembly.Pads) && m.layout.Clipon != nil {
		all = append(all, coordinate{bike.SetsPadTilt.Key(), assembly.Pads, assembly.Motion{Turn: 1}})
	}
	return all
}

// gradient is the coordinate's own derivative by the poses.
func (c coordinate) gradient() (g assembly.Gradient) {
	g[c.body] = c.g
	return g
}

// hoodAngle is the one number that a posture does without: the hoods are then carried by their place alone.
const hoodAngle = "hood.angle"

// What is known no better than this is not fixed: no bike is set by it.
const (
	looseMM  = 100
	looseRad = 20 * math.Pi / 180
)

// gaps lists the coordinates that a posture needs and the observations leave free, or as good as free.
func (a *Adjustment) gaps() (gaps []Gap) {
	for _, c := range a.model.coordinates() {
		pads := c.body == assembly.Bar && a.need[assembly.Pads] && a.model.layout.Clipon != nil // which hang on it
		if !a.need[c.body] && !pads || c.name == hoodAngle {
			continue
		}
		g, limit := Gap{Unknown: c.name}, float64(looseMM)
		if c.g.Turn != 0 {
			limit = looseRad
		}
		if row := a.row(c.gradient()); a.solution().Estimable(row) {
			g.Sigma = plane.QuantityOf(c.g.Turn != 0, a.solution().Propagate(row))
			if g.Sigma.Value() <= limit {
				continue
			}
		}
		gaps = append(gaps, g)
	}
	if len(gaps) > 0 {
		a.propose(gaps)
	}
	return gaps
}

// numbers are the numbers of a bike that a gap may be: what each is in a rider's words, and the readings that a person would
// take for it.
var numbers = map[string]struct {
	means string
	usual []string
}{
	"saddle.x":                {"how far the saddle is behind or ahead of the BB", []string{"setback", "saddle-height", "nose-to-bar"}},
	"saddle.y":                {"how high the saddle is", []string{"saddle-height", "floor-height", "seat-tube"}},
	bike.SetsSaddleTilt.Key(): {"how far the saddle's nose points up or down", []string{"saddle-tilt"}},
	"bar.x":                   {"how far forward the bar is", []string{"nose-to-bar", "reach to bar"}},
	"bar.y":                   {"how high the bar is", []string{"drop to bar", "floor-height of bar"}},
	bike.SetsRotation.Key():   {"how far the bar is turned in its clamp", []string{"bar-rotation", "hood-angle"}},
	"hood.x":                  {"how far forward the hoods are", []string{"reach", "line from bb to hood"}},
	"hood.y":                  {"how high the hoods are", []string{"drop", "floor-height of hood"}},
	hoodAngle:                 {"how far the hoods point up", nil},
	"drop.x":                  {"how far forward the drops are", []string{"reach to drop"}},
	"drop.y":                  {"how high the drops are", []string{"drop to drop", "floor-height of drop"}},
	"pad.x":                   {"how far forward the pads are", []string{"reach to pad"}},
	"pad.y":                   {"how high the pads are", []string{"drop to pad", "floor-height of pad"}},
	"pad.tilt":                {"how far the pads point up", []string{"pad-tilt"}},
	bike.SetsPadTilt.Key():    {"how far the pads point up", []string{"pad-tilt"}},
	"grip.x":                  {"how far forward the grips are", []string{"reach to grip"}},
	"grip.y":                  {"how high the grips are", []string{"drop to grip"}},
}

// Means is what the number is in a rider's words.
func (g Gap) Means() string { return numbers[g.Unknown].means }

// seat says where readings go to on the saddle. Where a posture says so that is where the rider sits, which hardly
// depends on the saddle's shape (and is all there is to go to on one without): the middle and the nose otherwise.
func (a *Adjustment) seat() (height, level bike.Place, at string) {
	l := a.model.layout
	if sits := len(l.Bike.Postures) > 0 && (l.SitAt != nil || l.SitWidth > 0); sits || l.Shape == nil {
		return on(saddle.Sit), on(saddle.Sit), " at sit"
	}
	return on(saddle.Mid), on(saddle.Nose), ""
}

// propose says for each gap which readings would help that can be taken and are not yet.
func (a *Adjustment) propose(gaps []Gap) {
	seat, _, at := a.seat()
	open := map[string]bool{}
	for _, c := range a.Candidates() {
		r := c.Reading
		open[r.Written] = !a.takenAlike(r)
		open[strings.TrimSuffix(r.Written, " to hood")] = open[r.Written] // what reach and drop alone mean
	}
	for i := range gaps {
		for _, r := range numbers[gaps[i].Unknown].usual {
			name, to, there := strings.Cut(r, " to ")
			switch {
			case r == "floor-height":
				r += " of " + seat.String()
			case at != "" && (name == "setback" || name == "saddle-height" || name == "reach" || name == "drop"):
				r = name + at
				if there {
					r += " to " + to
				}
			}
			if open[r] {
				gaps[i].Readings = append(gaps[i].Readings, r)
			}
		}
		if len(gaps[i].Readings) == 0 && gaps[i].Unknown == "saddle.y" { // a laser line from the BB, when all else is taken
			gaps[i].Readings = []string{"plumb from bb to " + seat.String()}
		}
	}
}

// MissingError is what stops a carry: unknowns that nothing fixes.
type MissingError struct {
	File     string
	Gaps     []Gap
	Shortest []string // a shortest list of readings that fixes everything
}

func (e *MissingError) Error() string {
	var lines []string
	for _, g := range e.Gaps {
		line := g.Means() + " (" + strings.ReplaceAll(g.Unknown, ".", " ")
		if sigma := g.Sigma.Shown(); sigma > 0 && sigma < 1000 { // far more means nothing to anybody
			line += fmt.Sprintf(", known to %.0f%s only", sigma, map[bool]string{false: " mm", true: "°"}[g.Sigma.Turns()])
		}
		if len(g.Readings) > 0 {
			line += ": read " + strings.Join(g.Readings, ", or ")
		}
		lines = append(lines, line+")")
	}
	text := fmt.Sprintf("%s: no reading tells %s", e.File, strings.Join(lines, "\n  nor "))
	if len(e.Shortest) > 0 && (len(e.Gaps) > 1 || !slices.Contains(e.Gaps[0].Readings, e.Shortest[0])) {
		text += "\nthe fewest readings that tell all of it: " + strings.Join(e.Shortest, ", ")
	}
	return text
}

// stated are the numbers of a file that an observation may be of, as a rider calls them.
var stated = map[string]string{
	bike.SetsSaddleTilt.Key(): "the saddle tilt", bike.SetsRails.Key(): "the place of the rail clamp",
	bike.SetsRotation.Key(): "the rotation of the bar", hoodAngle: "the angle of the hoods", "pad.tilt": "the pad tilt",
	bike.SetsPadTilt.Key(): "the pad tilt", bike.SetsHole.Key(): "the pad hole", bike.SetsRisers.Key(): "the risers under the pads",
}

// Stated is the name of an observation in a rider's words; a name that is no key stays as it is.
func Stated(name string) string {
	if plain, ok := stated[name]; ok {
		return plain
	}
	return name
}

// Candidate is a reading that could be taken.
type Candidate struct {
	Reading bike.Reading
	Row     []float64 // its derivatives by the unknowns at the adjusted values
}

// Candidates lists the readings a person can sensibly take on this bike, the usual ones first.
func (a *Adjustment) Candidates() (list []Candidate) {
	for _, r := range a.sensible() {
		t, err := a.Placement.Span(r)
		if err != nil {
			continue
		}
		inside := true
		for b, n := range t.Needs() {
			inside = inside && (!n || a.Uses(assembly.Body(b)))
		}
		if !inside {
			continue
		}
		_, g := a.Placement.Read(&t)
		list = append(list, Candidate{r, a.row(g)})
	}
	return list
}

// sensible lists readings in the order a person would take them.
func (a *Adjustment) sensible() []bike.Reading {
	seat, front, sit := a.seat()
	at := func(k bike.PlaceKind) bike.Place { return bike.Place{Kind: k} }
	bb, floor, bar := at(bike.AtBB), at(bike.AtFloor), at(bike.AtBar)
	var list []bike.Reading
	add := func(written string, kind bike.Kind, from, to bike.Place) {
		list = append(list, bike.Reading{Kind: kind, From: from, To: to, Written: written})
	}
	angle := func(written string, of bike.Body) {
		list = append(list, bike.Reading{Kind: bike.Angle, Of: of, Written: written})
	}
	add("saddle-height"+sit, bike.Line, bb, seat)
	add("setback"+sit, bike.Level, front, bb)
	angle("saddle-tilt", bike.SaddleBody)
	for _, to := range []bike.PlaceKind{bike.AtHood, bike.AtDrop, bike.AtPad, bike.AtGrip} {
		add("reach"+sit+" to "+bike.PlaceNames[to], bike.Level, front, at(to))
		add("drop"+sit+" to "+bike.PlaceNames[to], bike.Plumb, at(to), seat)
	}
	angle("hood-angle", bike.HoodBody)
	angle("pad-tilt", bike.PadBody)
	add("nose-to-bar", bike.Line, on(saddle.Nose), bar)
	if sit != "" {
		add("reach"+sit+" to bar", bike.Level, seat, bar)
	}
	add("drop"+sit+" to bar", bike.Plumb, bar, seat)
	angle("bar-rotation", bike.BarBody)
	add("floor-height of "+seat.String(), bike.Plumb, floor, seat)
	for _, k := range []saddle.RefKind{saddle.Tail, saddle.Nose} {
		add("line from bb to "+on(k).String(), bike.Line, bb, on(k))
	}
	add("line from bb to bar", bike.Line, bb, bar)
	add("line from bb to hood", bike.Line, bb, at(bike.AtHood))
	for _, k := range []bike.PlaceKind{bike.AtHood, bike.AtBar, bike.AtPad} {
		add("floor-height of "+bike.PlaceNames[k], bike.Plumb, floor, at(k))
	}
	if a.model.layout.Bike.Frame.SeatAngle != nil {
		add("seat-tube", bike.SeatTube, bike.Place{}, bike.Place{})
	}
	for i := range list {
		list[i].Sigma = list[i].UsualSigma()
	}
	return list
}

// Shortest proposes a shortest list of further readings that fixes every gap. Which sets of readings fix
// something is a matroid, so taking any reading that settles one more direction, again and again, ends
// with as few as possible.
func (a *Adjustment) Shortest() []string {
	scale, open := a.model.scales, a.open()
	var names []string
	for _, c := range a.Candidates() {
		if !a.gapOpen(open) {
			break
		}
		size := 0.0
		for j, v := range c.Row {
			size += v * scale[j] * v * scale[j]
		}
		const share = 0.05 // of all that the reading sees, in what is open
		if lsq.Bilinear(open, c.Row, c.Row) > share*share*size {
			names, open = append(names, c.Reading.Written), after(open, c.Row, 0)
		}
	}
	return names
}

// open is the sum of d·d' over the directions d in which the unknowns are not fixed (n x n), each as long as the scales of the
// unknowns: those that are free, and those along which what is fixed too badly moves most.
func (a *Adjustment) open() []float64 {
	scale := a.model.scales
	n := len(scale)
	sum := make([]float64, n*n)
	add := func(d func(j int) float64) {
		for i := range n {
			for j := range n {
				sum[i*n+j] += d(i) * d(j)
			}
		}
	}
	for _, free := range a.solution().Free {
		add(func(j int) float64 { return scale[j] * free[j] })
	}
	for _, row := range a.missing(func(g Gap) bool { return g.Sigma.Value() > 0 }) {
		d, size := make([]float64, n), 0.0
		for j := range d {
			for k, v := range row {
				d[j] += a.solution().Cov[j*n+k] * v
			}
			size += d[j] / scale[j] * d[j] / scale[j]
		}
		add(func(j int) float64 { return d[j] / math.Sqrt(size) })
	}
	return sum
}

// missing are the derivatives of the gaps' coordinates.
func (a *Adjustment) missing(is func(Gap) bool) (rows [][]float64) {
	for _, c := range a.model.coordinates() {
		if slices.ContainsFunc(a.Missing, func(g Gap) bool { return g.Unknown == c.name && is(g) }) {
			rows = append(rows, a.row(c.gradient()))
		}
	}
	return rows
}

// gapOpen reports whether a missing coordinate still moves, mm or radians, along what is open.
func (a *Adjustment) gapOpen(open []float64) bool {
	const moves = 1e-4
	return slices.ContainsFunc(a.missing(func(Gap) bool { return true }), func(row []float64) bool {
		return lsq.Bilinear(open, row, row) > moves*moves
	})
}

// Err returns a MissingError when something a posture needs is not fixed, another error where nothing at all is said of the bike.
func (a *Adjustment) Err() error {
	switch {
	case len(a.Missing) == 0 && a.Search == nil:
		return fmt.Errorf("%s has no posture, reading, anchor or mark: there is nothing to work out", a.model.layout.Bike.File)
	case len(a.Missing) == 0:
		return nil
	}
	return &MissingError{File: a.model.layout.Bike.File, Gaps: a.Missing, Shortest: a.Shortest()}
}
