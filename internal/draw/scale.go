package draw

import (
	"math"
	"slices"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/plane"
	"carryover/internal/words"
)

// A setting takes so much height, mm: as room allows.
const rowLeast, rowMost = 13.0, 18.0

// Scales draws every setting of the bike that is set up in the order of work, in so many columns, a picture each: a scale with a
// pointer for what has one, else what is seen when it stands right, a tape between two points, a level, holes or risers. Where
// there is no room for all, tapes and levels are left to the text.
func (v *Scene) Scales(o Sheet, columns int) (list []*Picture) {
	if v.top() != To {
		return nil
	}
	rows := v.rows(v.result.Steps)
	far := 0.0 // the longest way of what has no scale, mm
	for _, w := range rows {
		if w.kind == fromHere {
			far = math.Max(far, math.Abs(w.chosen))
		}
	}
	first := &Picture{Title: "Scales and settings: " + v.Posture.Name, Width: o.Width}
	top := first.headed(o)
	top += first.legend(top, rows)
	each := func() int { return (len(rows) + columns - 1) / columns }
	if top+float64(each())*rowLeast > o.Height {
		rows = slices.DeleteFunc(rows, func(w row) bool { return w.kind == byTape || w.kind == byLevel })
	}
	high := plane.Clamp((o.Height-top)/float64(max(each(), 1)), rowLeast, rowMost)
	for part := range slices.Chunk(rows, max(each(), 1)) {
		p := first
		if list != nil {
			p = &Picture{Title: first.Title, Width: o.Width}
		}
		p.Text = "What is set, in the order of work."
		for i, w := range part {
			w.most = far
			w.draw(p, edge, top+high*float64(i)+0.7*(high-rowLeast)+6.7, p.Width-2*edge)
			p.Text += " " + w.name + ": " + w.told() + "."
		}
		p.Height = top + float64(len(part))*high
		list = append(list, p)
	}
	return list
}

// legend explains the signs of scales, where there are any, from y down, and returns the height that it takes.
func (p *Picture) legend(y float64, rows []row) float64 {
	scale, was, sigma := false, false, false
	for _, w := range rows {
		scale = scale || w.kind == onScale
		was = was || w.kind == onScale && !math.IsNaN(w.was)
		sigma = sigma || w.kind == onScale && w.sigma > 0
	}
	x := edge
	say := func(text string, width float64) {
		p.Say(Minor, Both, plane.Point{X: x + width, Y: y + 3.8}, Start, text)
		x += width + TextWidth(text, Minor) + 5
	}
	if scale {
		p.Area(Accent, Both, "", pointer(plane.Point{X: x + 2, Y: y + 4}, 1)...)
		say("set it here", 4.5)
	}
	if was {
		p.Area(Dotted, Both, "", pointer(plane.Point{X: x + 2, Y: y + 1}, -1)...)
		p.arrow(Both, "", plane.Point{X: x + 5, Y: y + 2.8}, plane.Point{X: x + 12, Y: y + 2.8})
		say("from where it stands", 13.5)
	}
	if sigma {
		p.Line(Strong, Both, "", plane.Point{X: x, Y: y + 2.8}, plane.Point{X: x + 5, Y: y + 2.8})
		say("± so far off", 6.5)
	}
	if scale {
		return 5
	}
	return 0
}

// seen says by what a setting is set.
type seen int

const (
	onScale seen = iota
	byTape
	byLevel
	fromHere
	inHole
	onRisers
)

// row is one setting as it is drawn.
type row struct {
	kind       seen
	name, hint string
	value      string // what it is set to, with its ±
	limit      string
	// On a scale, in marks.
	mark, was, lo, hi, sigma float64
	stood                    string // was, as it is told
	// By tape or level.
	ends  [2]string
	angle float64
	// Holes and risers, mm.
	offered []float64
	chosen  float64
	most    float64 // the longest way of any row, mm
}

// told is a setting in words, for who cannot see the picture.
func (w row) told() string {
	switch w.kind {
	case byTape:
		return w.value + " by tape, " + w.ends[0] + " to " + w.ends[1]
	case onScale:
		if !math.IsNaN(w.was) {
			return w.value + ", stood at " + w.stood
		}
	}
	return w.value
}

// rows lists the settings in the order of work, and behind them those that it leaves alone.
func (v *Scene) rows(steps []carry.Step) (list []row) {
	done := map[int]bool{}
	for i := range steps {
		for _, s := range steps[i].Settings {
			done[s] = true
			if set := v.result.Settings[s]; !set.Sets.Sideways() { // the side view does not show it
				list = append(list, v.row(set, &steps[i]))
			}
		}
	}
	for i, s := range v.result.Settings {
		if !done[i] && s.Scale {
			list = append(list, v.row(s, nil))
		}
	}
	return list
}

// row says how a setting is seen, with the step that sets it; nil where the work leaves it alone.
func (v *Scene) row(set carry.Setting, step *carry.Step) row {
	b := v.result.Target
	w := row{name: words.Setting(set.Name), was: math.NaN(), value: typeset(words.Value(b, set)), chosen: set.Travel}
	switch set.Limit {
	case "min", "max":
		w.limit = ", at its stop"
	case "step":
		w.limit = ", nearest step"
	}
	clipon := v.bikes[To].Clipon
	switch {
	case set.Scale:
		w.scaled(set, b)
	case set.Sets == bike.SetsHole && clipon != nil:
		w.kind, w.offered, w.hint = inHole, clipon.Holes, "holes under the pad"
	case set.Sets == bike.SetsRisers && clipon != nil:
		w.kind, w.offered, w.hint = onRisers, clipon.Stacks, "risers under the pad"
	case set.Sets == bike.SetsSpacers && b.Stem != nil:
		w.kind, w.offered, w.hint = onRisers, b.Stem.Spacers.Heights(), "spacers under the stem"
	case set.Turns():
		w.kind, w.angle, w.hint = byLevel, set.Zero+set.Travel, "by level"
		if step != nil && step.Gauge.Own == "" {
			w.hint = words.Reading(step.Gauge.Reading, step.Value)
			if step.Gauge.Turns() {
				w.angle = step.Value
				w.ends[0] = "reads " + sure(plane.Turning(plane.Angle(step.Value)), step.SigmaTotal)
			}
		}
	case set.Stands != nil:
		by, _ := set.Move()
		w.kind, w.hint, w.chosen = fromHere, "from where it stands", by
		if q := plane.Length(by); !words.None(q) {
			w.value = words.Size(q) + " " + set.Towards(by)
		}
		if q := plane.Length(set.SigmaTotal); !words.None(q) {
			w.value += " ± " + mm(set.SigmaTotal)
		}
	default:
		w.taped(step)
	}
	return w
}

// scaled fills in what a scale shows, in marks.
func (w *row) scaled(set carry.Setting, b *bike.Bike) {
	a := &b.Adjusters[set.Adjuster]
	w.mark, w.lo, w.hi, w.sigma = set.Mark(), a.Lo, a.Hi, math.Abs(set.SigmaTotal/a.Unit)
	if set.Stands != nil {
		w.was = set.Settable.Mark(*set.Stands)
		w.stood = typeset(words.Trimmed(w.was, 4))
	}
	if !set.Stops { // as much of it as shows both
		from := w.mark
		if !math.IsNaN(w.was) {
			from = w.was
		}
		room := math.Max(math.Abs(w.mark-from)/2, math.Abs(20/a.Unit))
		w.lo, w.hi = math.Min(w.mark, from)-room, math.Max(w.mark, from)+room
	}
	w.hint = "1 mark is " + words.Trimmed(math.Abs(a.Unit), 4) + " mm"
	if set.Turns() {
		w.hint = "1 mark is " + words.Trimmed(plane.Deg(math.Abs(a.Unit)), 4) + "°"
	}
	if off := words.Trimmed(w.sigma, 1); off != "0" {
		w.value += " ± " + off
	}
}

// taped fills in the reading that sets what has no scale, between its two places.
func (w *row) taped(step *carry.Step) {
	w.kind, w.hint = byTape, "no scale: by tape"
	if step == nil {
		return
	}
	w.value = sure(plane.Length(math.Abs(step.Value)), step.SigmaTotal)
	switch step.Gauge.Own {
	case "":
		w.ends = [2]string{words.Place(step.Gauge.Reading.From), words.Place(step.Gauge.Reading.To)}
		if k := step.Gauge.Reading.Kind; k == bike.Level || k == bike.Plumb {
			w.hint = words.Reading(step.Gauge.Reading, step.Value) // which says the direction
		}
	case "clamp":
		w.ends = [2]string{"nose", "rail clamp"}
	}
}

// sure is a quantity with its ±, as it is set.
func sure(q plane.Quantity, sigma float64) string { return typeset(words.Sure(q, sigma)) }

// pointer is a triangle whose tip touches at, from above (1) or from below (-1).
func pointer(at plane.Point, from float64) []plane.Point {
	return []plane.Point{at, {X: at.X + 1.5, Y: at.Y - 3*from}, {X: at.X - 1.5, Y: at.Y - 3*from}}
}

// draw draws one setting on its base line, from x on.
func (w row) draw(p *Picture, x, base, width float64) {
	nameWidth, pad := 42.0, 6.0
	if width < 120 {
		nameWidth, pad = 32, 3
	}
	left, right := x+nameWidth+pad, x+width-pad
	p.Say(Label, Both, plane.Point{X: x, Y: base - 0.4}, Start, Shortened(w.name, Label, nameWidth))
	p.Say(Minor, Both, plane.Point{X: x, Y: base + 3.6}, Start, Shortened(w.hint, Minor, nameWidth))
	switch w.kind {
	case onScale:
		w.scale(p, base, left, right, x+width)
	case byTape:
		w.tape(p, base, left, right)
	case fromHere:
		w.move(p, base, left, right)
	case byLevel:
		w.level(p, base, left, right)
	case inHole:
		w.holes(p, base, left, right)
	case onRisers:
		w.risers(p, base, left, right)
	}
}

// say writes a value over a place on the row's line, inside [left, right].
func (w row) say(p *Picture, text string, x, y, left, right float64) {
	half := TextWidth(text, Alert) / 2
	p.Say(Alert, Both, plane.Point{X: plane.Clamp(x, left+half, math.Max(left+half, right-half)), Y: y}, Middle, text)
}

func (w row) scale(p *Picture, base, left, right, end float64) {
	span := w.hi - w.lo
	at := func(v float64) plane.Point { return plane.Point{X: left + (right-left)*(v-w.lo)/span, Y: base} }
	if !(span > 0) {
		at = func(float64) plane.Point { return plane.Point{X: (left + right) / 2, Y: base} }
		p.Line(Thin, Both, "scale", plane.Point{X: left, Y: base}, plane.Point{X: right, Y: base})
	} else {
		p.Line(Thin, Both, "scale", at(w.lo), at(w.hi))
		w.ticks(p, at, span, right-left)
	}
	mark := at(plane.Clamp(w.mark, w.lo, w.hi))
	if w.sigma > 0 && span > 0 {
		a, b := at(plane.Clamp(w.mark-w.sigma, w.lo, w.hi)), at(plane.Clamp(w.mark+w.sigma, w.lo, w.hi))
		p.Line(Strong, Both, "sigma", a.Add(plane.Point{Y: -0.4}), b.Add(plane.Point{Y: -0.4}))
	}
	if !math.IsNaN(w.was) {
		q := at(w.was)
		p.Area(Dotted, Both, "was "+w.name, pointer(q.Add(plane.Point{Y: 0.3}), -1)...)
		p.Say(Minor, Both, q.Add(plane.Point{Y: 5.9}), Middle, w.stood)
		toward := math.Copysign(1.7, mark.X-q.X)
		if math.Abs(mark.X-q.X) > 4 {
			p.arrow(Both, "move "+w.name, q.Add(plane.Point{Y: -1.7}), mark.Add(plane.Point{X: -toward, Y: -1.7}))
		}
	}
	p.Area(Accent, Both, "pointer "+w.name, pointer(mark, 1)...)
	w.say(p, w.value+w.limit, mark.X, base-3.9, left-3, end)
}

// ticks draws a scale's divisions, its numbers where the old mark's does not stand, and its stops.
func (w row) ticks(p *Picture, at func(float64) plane.Point, span, width float64) {
	major := niceStep(span / math.Max(4, width/17))
	minor := major / 5
	if leading(major) == 2 {
		minor = major / 4
	}
	decimals := 0
	if major < 1 {
		decimals = int(math.Ceil(-math.Log10(major) - 1e-9))
	}
	if span/minor < 200 {
		for k := math.Ceil(w.lo/minor - 1e-9); k*minor <= w.hi+1e-9*span; k++ {
			q := at(k * minor)
			p.Line(Thin, Both, "", q, q.Add(plane.Point{Y: 1.2}))
		}
	}
	was := math.Inf(-1)
	if !math.IsNaN(w.was) {
		was = at(w.was).X
	}
	for k := math.Ceil(w.lo/major - 1e-9); k*major <= w.hi+1e-9*span; k++ {
		q := at(k * major)
		p.Line(Thin, Both, "", q, q.Add(plane.Point{Y: 2.2}))
		text := Fixed(k*major, decimals)
		if math.Abs(q.X-was) < 2.2+(TextWidth(text, Minor)+math.Max(TextWidth(w.stood, Minor), 3))/2 {
			continue // the old mark's pointer stands there
		}
		p.Say(Minor, Both, q.Add(plane.Point{Y: 5.2}), Middle, text)
	}
	for _, stop := range []float64{w.lo, w.hi} {
		q := at(stop)
		p.Line(Heavy, Both, "", q.Add(plane.Point{Y: -1.6}), q.Add(plane.Point{Y: 2.4}))
	}
}

// tape draws a tape between two points.
func (w row) tape(p *Picture, base, left, right float64) {
	p.Area(Carriage, Both, "tape "+w.name, rect(left, base-1.6, right-left, 1.6)...)
	for x := left + 2.5; x < right-1; x += 2.5 {
		p.Line(Hair, Both, "", plane.Point{X: x, Y: base}, plane.Point{X: x, Y: base - 0.8})
	}
	for _, x := range []float64{left, right} {
		p.Line(Heavy, Both, "", plane.Point{X: x, Y: base - 2.4}, plane.Point{X: x, Y: base + 1.2})
	}
	half := (right - left) / 2
	p.Say(Label, Both, plane.Point{X: left, Y: base + 4.6}, Start, Shortened(w.ends[0], Label, half-1))
	p.Say(Label, Both, plane.Point{X: right, Y: base + 4.6}, End, Shortened(w.ends[1], Label, half-1))
	w.say(p, w.value+w.limit, (left+right)/2, base-3.4, left, right)
}

// move draws the way from where a setting stands, in the direction of a rising mark to the right.
func (w row) move(p *Picture, base, left, right float64) {
	p.Line(Machine, Both, "", plane.Point{X: left, Y: base}, plane.Point{X: right, Y: base})
	here, mid := plane.Point{X: (left + right) / 2, Y: base}, (right-left)/4
	p.Area(Dotted, Both, "was "+w.name, pointer(here.Add(plane.Point{Y: 0.3}), -1)...)
	p.Say(Minor, Both, here.Add(plane.Point{Y: 5.9}), Middle, "here now")
	there := here
	if math.Abs(w.chosen) >= worth {
		there.X += math.Copysign(8+(mid-8)*math.Abs(w.chosen)/w.most, w.chosen) // the least is still seen
		p.arrow(Both, "move "+w.name, here.Add(plane.Point{Y: -1.7}), there.Add(plane.Point{X: -math.Copysign(1.7, w.chosen), Y: -1.7}))
	}
	p.Area(Accent, Both, "pointer "+w.name, pointer(there, 1)...)
	w.say(p, w.value+w.limit, there.X, base-3.9, left, right)
}

// beside writes the value to the right of a sign, and below it what there is to say, with the limit that it is at.
func (w row) beside(p *Picture, x, base, right float64, below string) {
	p.Say(Alert, Both, plane.Point{X: x, Y: base - 0.4}, Start, Shortened(w.value, Alert, right-x))
	p.Say(Minor, Both, plane.Point{X: x, Y: base + 3.6}, Start, Shortened(strings.TrimPrefix(below+w.limit, ", "), Minor, right-x))
}

// level draws the angle against the level, as it is.
func (w row) level(p *Picture, base, left, right float64) {
	arm := math.Min(34, 0.3*(right-left))
	at := plane.Point{X: left, Y: base}
	p.Line(Chain, Both, "level", at, at.Add(plane.Point{X: arm}))
	u := plane.Direction(w.angle)
	p.Line(Heavy, Both, "angle "+w.name, at, plane.Point{X: left + arm*u.X, Y: base - plane.Clamp(arm*u.Y, -6, 6)})
	w.beside(p, left+arm+3, base, right, w.ends[0])
}

// holes draws the holes on offer, the front to the right, with the one to use filled.
func (w row) holes(p *Picture, base, left, right float64) {
	lo, hi := w.offered[0], w.offered[len(w.offered)-1]
	k := 0.0
	if hi > lo {
		k = math.Min((right-left-8)/(hi-lo), 8/((hi-lo)/float64(len(w.offered)-1)))
	}
	p.Line(Machine, Both, "", plane.Point{X: left, Y: base - 0.5}, plane.Point{X: left + 6 + k*(hi-lo), Y: base - 0.5})
	for _, h := range w.offered {
		q, style := plane.Point{X: left + 3 + k*(h-lo), Y: base - 0.5}, Open
		if math.Abs(h-w.chosen) < 0.01 {
			style = Accent
			w.say(p, w.value, q.X, base-3.4, left, right)
		}
		p.Area(style, Both, "hole "+Fixed(h, 1), circle(q, 1.4, 0, 2*math.Pi)...)
	}
	p.Say(Minor, Both, plane.Point{X: left, Y: base + 4.6}, Start, "front to the right"+w.limit)
}

// risers draws a pile as high as the one to build, in the smallest steps on offer, with the highest one in outline.
func (w row) risers(p *Picture, base, left, right float64) {
	step, most := math.Inf(1), 0.0
	for i, h := range w.offered {
		most = math.Max(most, h)
		if i > 0 {
			step = math.Min(step, h-w.offered[i-1])
		}
	}
	if !(step > 0) || math.IsInf(step, 1) {
		step = math.Max(w.chosen, 1)
	}
	const tall, wide = 9.0, 16.0
	k := math.Min(tall/math.Max(most, 1), 1)
	low := base + 3
	if most > 0 {
		p.Area(Dotted, Both, "", rect(left, low-k*most, wide, k*most)...)
	}
	for h := 0.0; h < w.chosen-0.01; h += step {
		d := math.Min(step, w.chosen-h)
		p.Area(Body, Both, "riser", rect(left, low-k*(h+d), wide, k*d)...)
	}
	w.beside(p, left+wide+3, base, right, "of "+words.MM(most))
}

// niceStep is the least of 1, 2, 5 times a power of ten that is at least v.
func niceStep(v float64) float64 {
	ten := math.Pow(10, math.Floor(math.Log10(v)))
	for _, k := range []float64{1, 2, 5} {
		if k*ten >= v*(1-1e-9) {
			return k * ten
		}
	}
	return 10 * ten
}

// leading is the first digit of a nice step.
func leading(v float64) int {
	return int(math.Round(v / math.Pow(10, math.Floor(math.Log10(v)+1e-9))))
}
