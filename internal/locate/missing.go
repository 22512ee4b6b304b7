package locate

import (
	"fmt"
	"slices"
	"strings"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/lsq"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// gaps lists the coordinates that a posture needs and the observations leave free, or as good as free. The turn of the hoods is
// the one that a posture does without: they are then carried by their place alone.
func (a *Adjustment) gaps() (gaps []Gap) {
	for _, c := range a.model.coordinates() {
		pads := c.Body == assembly.Bar && a.need[assembly.Pads] && a.model.layout.Clipon != nil // which hang on it
		if !a.need[c.Body] && !pads || c.Body == assembly.Hood && c.axis == inTurn {
			continue
		}
		g := Gap{Coordinate: c}
		if row := a.row(c.gradient()); a.solution().Estimable(row) {
			g.Sigma = plane.QuantityOf(c.axis == inTurn, a.solution().Propagate(row))
			if g.Sigma.Value() <= c.loose() {
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
	open := map[string]string{}
	for _, c := range a.Candidates() {
		if !a.takenAlike(c.Reading) {
			open[c.called] = c.Reading.Written
		}
	}
	for i := range gaps {
		g := &gaps[i]
		for _, called := range g.meaning().usual {
			if written, ok := open[called]; ok {
				g.Readings = append(g.Readings, written)
			}
		}
		if len(g.Readings) == 0 && g.Body == assembly.Saddle && g.axis == inY { // a laser line from the BB, when all else is taken
			seat, _, _ := a.seat()
			g.Readings = []string{"plumb from bb to " + seat.String()}
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
		line := g.Means() + " (" + g.short()
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

// Candidate is a reading that could be taken.
type Candidate struct {
	Reading bike.Reading
	Row     []float64 // its derivatives by the unknowns at the adjusted values
	called  string    // as it is written, without where on the saddle it is taken
}

// Candidates lists the readings a person can sensibly take on this bike, the usual ones first.
func (a *Adjustment) Candidates() (list []Candidate) {
	seat, front, sit := a.seat()
	add := func(called, written string, r bike.Reading) {
		r.Written, r.Sigma = written, r.UsualSigma()
		if _, row, ok := a.reading(r); ok {
			list = append(list, Candidate{r, row, called})
		}
	}
	at := func(k bike.PlaceKind) bike.Place { return bike.Place{Kind: k} }
	bb, bar := at(bike.AtBB), at(bike.AtBar)
	fromSeat := func(name, to string, kind bike.Kind, from, end bike.Place) {
		add(name+to, name+sit+to, bike.Reading{Kind: kind, From: from, To: end})
	}
	plain := func(called string, kind bike.Kind, from, end bike.Place) {
		add(called, called, bike.Reading{Kind: kind, From: from, To: end})
	}
	angle := func(called string, of bike.Body) { add(called, called, bike.Reading{Kind: bike.Angle, Of: of}) }
	fromSeat("saddle-height", "", bike.Line, bb, seat)
	fromSeat("setback", "", bike.Level, front, bb)
	angle("saddle-tilt", bike.SaddleBody)
	for _, k := range []bike.PlaceKind{bike.AtHood, bike.AtDrop, bike.AtPad, bike.AtGrip} {
		fromSeat("reach", " to "+bike.PlaceNames[k], bike.Level, front, at(k))
		fromSeat("drop", " to "+bike.PlaceNames[k], bike.Plumb, at(k), seat)
	}
	angle("hood-angle", bike.HoodBody)
	angle("pad-tilt", bike.PadBody)
	plain("nose-to-bar", bike.Line, on(saddle.Nose), bar)
	if sit != "" {
		fromSeat("reach", " to bar", bike.Level, seat, bar)
	}
	fromSeat("drop", " to bar", bike.Plumb, bar, seat)
	angle("bar-rotation", bike.BarBody)
	add("floor-height", "floor-height of "+seat.String(), bike.Reading{Kind: bike.Plumb, From: at(bike.AtFloor), To: seat})
	for _, p := range []bike.Place{on(saddle.Tail), on(saddle.Nose), bar, at(bike.AtHood)} {
		plain("line from bb to "+p.String(), bike.Line, bb, p)
	}
	for _, k := range []bike.PlaceKind{bike.AtHood, bike.AtBar, bike.AtPad} {
		plain("floor-height of "+bike.PlaceNames[k], bike.Plumb, at(bike.AtFloor), at(k))
	}
	plain("seat-tube", bike.SeatTube, bike.Place{}, bike.Place{})
	return list
}

// Shortest proposes a shortest list of further readings that fixes every gap. Which sets of readings fix something is a matroid,
// so taking any reading that settles one more direction, again and again, ends with as few as possible. What is free is taken to be
// known to far times the scales of the unknowns; a reading settles a direction when what it would show is known no better than to
// share of that.
func (a *Adjustment) Shortest() (names []string) {
	const far, share = 10, 0.05
	scale, cov := a.model.scales, slices.Clone(a.solution().Cov)
	n := len(scale)
	for _, d := range a.solution().Free {
		for i := range n {
			for j := range n {
				cov[i*n+j] += far * scale[i] * d[i] * far * scale[j] * d[j]
			}
		}
	}
	variance := func(row []float64) float64 { return lsq.Bilinear(cov, row, row) }
	open := func(g Gap) bool { return variance(a.row(g.gradient())) > g.loose()*g.loose() }
	for _, c := range a.Candidates() {
		if !slices.ContainsFunc(a.Missing, open) {
			break
		}
		size := 0.0
		for j, v := range c.Row {
			size += v * scale[j] * v * scale[j]
		}
		if variance(c.Row) > share*far*share*far*size {
			names, cov = append(names, c.Reading.Written), after(cov, c.Row, c.Reading.Sigma)
		}
	}
	return names
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
