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

// row is one setting as it is drawn, the value over or beside a sign of what is seen when it stands right.
type row struct {
	name, hint   string
	value, limit string // what it is set to, with its ±, and whether it goes no further
	told         string // the value for who cannot see the picture
	points       bool   // with the pointers that the legend explains
	spare        bool   // the text says as much
	sign         func(s strip)
}

// strip is where a sign is drawn: a base line between two places of a picture.
type strip struct {
	*Picture
	base, left, right float64
}

func (s strip) at(x, down float64) plane.Point { return plane.Point{X: x, Y: s.base + down} }

// Scales draws every setting of the bike that is set up in the order of work, in so many columns, a picture each: a scale with a
// pointer for what has one, else what is seen when it stands right, a tape between two points, a level, holes or risers. Where
// there is no room for all, tapes and levels are left to the text.
func (v *Scene) Scales(o Sheet, columns int) (list []*Picture) {
	if v.top() != To {
		return nil
	}
	const least, most = 13.0, 18.0 // mm, the height of a row
	rows, top := v.rows(v.result.Steps), o.top()
	points := slices.ContainsFunc(rows, func(w row) bool { return w.points })
	if points {
		top += 5
	}
	each := func() int { return max((len(rows)+columns-1)/columns, 1) }
	if top+float64(each())*least > o.Height {
		rows = slices.DeleteFunc(rows, func(w row) bool { return w.spare })
	}
	high := plane.Clamp((o.Height-top)/float64(each()), least, most)
	name, pad := 42.0, 6.0
	if o.Width < 120 {
		name, pad = 32, 3
	}
	for part := range slices.Chunk(rows, each()) {
		p := &Picture{Title: "Scales and settings", Of: v.Posture.Name, Width: o.Width, Height: top + float64(len(part))*high,
			Text: "What is set, in the order of work."}
		for i, w := range part {
			s := strip{p, top + high*float64(i) + 0.7*(high-least) + 6.7, edge + name + pad, p.Width - edge - pad}
			p.Say(Label, Both, s.at(edge, -0.4), Start, Shortened(w.name, Label, name))
			p.Say(Minor, Both, s.at(edge, 3.6), Start, Shortened(w.hint, Minor, name))
			w.sign(s)
			p.Text += " " + w.name + ": " + w.told + "."
		}
		list = append(list, p)
	}
	if len(list) > 0 {
		list[0].headed(o)
	}
	if points {
		shows := func(name string) bool {
			return slices.ContainsFunc(list, func(p *Picture) bool { return p.shows(name) })
		}
		p := list[0]
		p.legend(plane.Point{X: edge, Y: o.top() + 2.8}, 0, []sign{
			{true, "set it here", 4.5, func(q plane.Point) { p.Area(Accent, Both, "", pointer(q.Add(plane.Point{X: 2, Y: 1.2}), 1)...) }},
			{shows("was "), "from where it stands", 13.5, func(q plane.Point) {
				p.Area(Dotted, Both, "", pointer(q.Add(plane.Point{X: 2, Y: -1.8}), -1)...)
				p.arrow(Both, "", q.Add(plane.Point{X: 5}), q.Add(plane.Point{X: 12}))
			}},
			{shows("sigma"), "± so far off", 6.5, func(q plane.Point) { p.Line(Strong, Both, "", q, q.Add(plane.Point{X: 5})) }},
		})
	}
	return list
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
	b, clipon := v.result.Target, v.bikes[To].Clipon
	w := row{name: words.Setting(set.Name), value: typeset(words.Value(b, set)),
		limit: map[string]string{"min": "at its stop", "max": "at its stop", "step": "nearest step"}[set.Limit]}
	switch {
	case set.Scale:
		w.onScale(set, &b.Adjusters[set.Adjuster])
		return w
	case set.Sets == bike.SetsHole && clipon != nil:
		w.hint, w.sign = "holes under the pad", func(s strip) { w.holes(s, clipon.Holes, set.Travel) }
	case set.Sets == bike.SetsRisers && clipon != nil:
		w.hint, w.sign = "risers under the pad", func(s strip) { w.risers(s, clipon.Stacks, set.Travel) }
	case set.Sets == bike.SetsSpacers && b.Stem != nil:
		w.hint, w.sign = "spacers under the stem", func(s strip) { w.risers(s, b.Stem.Spacers.Heights(), set.Travel) }
	case set.Turns():
		angle, reads := set.Zero+set.Travel, ""
		w.hint, w.spare = "by level", true
		if step != nil && step.Gauge.Own == "" {
			w.hint = words.Reading(step.Gauge.Reading, step.Value.Value())
			if step.Gauge.Turns() {
				angle, reads = step.Value.Value(), "reads "+sure(step.Value, step.SigmaTotal)
			}
		}
		w.sign = func(s strip) { w.level(s, angle, reads) }
	case set.Stands != nil:
		v.fromHere(&w, set)
		return w
	default:
		return w.taped(step)
	}
	w.told = w.value
	return w
}

// sure is a quantity with its ±, as it is set.
func sure(q plane.Quantity, sigma float64) string { return typeset(words.Sure(q, sigma)) }

// pointer is a triangle whose tip touches at, from above (1) or from below (-1).
func pointer(at plane.Point, from float64) []plane.Point {
	return []plane.Point{at, {X: at.X + 1.5, Y: at.Y - 3*from}, {X: at.X - 1.5, Y: at.Y - 3*from}}
}

// listed are the texts that there are, behind one another.
func listed(texts ...string) string {
	return strings.Join(slices.DeleteFunc(texts, func(t string) bool { return t == "" }), ", ")
}

// over writes the value over a place on the base line, between left and right.
func (w row) over(s strip, x, up, left, right float64) {
	text := listed(w.value, w.limit)
	half := TextWidth(text, Alert) / 2
	s.Say(Alert, Both, s.at(plane.Clamp(x, left+half, math.Max(left+half, right-half)), -up), Middle, text)
}

// beside writes the value to the right of a sign, and below it what there is to say, with the limit that it is at.
func (w row) beside(s strip, x float64, below string) {
	s.Say(Alert, Both, s.at(x, -0.4), Start, Shortened(w.value, Alert, s.right-x))
	s.Say(Minor, Both, s.at(x, 3.6), Start, Shortened(listed(below, w.limit), Minor, s.right-x))
}

// moves draws the pointer, and the old one where it is known, with an arrow from there where they are apart.
func (w row) moves(s strip, was, to float64, stood string) {
	if !math.IsNaN(was) {
		s.Area(Dotted, Both, "was "+w.name, pointer(s.at(was, 0.3), -1)...)
		s.Say(Minor, Both, s.at(was, 5.9), Middle, stood)
		if math.Abs(to-was) > 4 {
			s.arrow(Both, "move "+w.name, s.at(was, -1.7), s.at(to-math.Copysign(1.7, to-was), -1.7))
		}
	}
	s.Area(Accent, Both, "pointer "+w.name, pointer(s.at(to, 0), 1)...)
}

// onScale draws a scale with its divisions.
func (w *row) onScale(set carry.Setting, a *bike.Adjuster) {
	d := dialOf(set, a)
	w.hint, w.points = "1 mark is "+words.Trimmed(math.Abs(a.Unit), 4)+" mm", true
	if set.Turns() {
		w.hint = "1 mark is " + words.Trimmed(plane.Deg(math.Abs(a.Unit)), 4) + "°"
	}
	d.sigma = math.Abs(set.SigmaTotal / a.Unit)
	if off := words.Trimmed(d.sigma, 1); off != "0" {
		w.value += " ± " + off
	}
	w.told = w.value
	if d.stood != "" {
		w.told += ", stood at " + d.stood
	}
	drawn := *w
	w.sign = func(s strip) { drawn.dial(s, d) }
}

// Scale draws a scale around the mark to set, and the mark where it stands, so many mm wide.
func Scale(target *bike.Bike, set carry.Setting, width float64) *Picture {
	a := &target.Adjusters[set.Adjuster]
	d, around := dialOf(set, a), 30.0 // mm to both sides
	if set.Turns() {
		around = plane.Rad(5)
	}
	d.lo, d.hi = d.around(around / math.Abs(a.Unit))
	d.apart = 6
	w := row{name: words.Setting(set.Name), value: typeset(words.Value(target, set))}
	p := &Picture{Width: width, Height: 14, Title: w.name, Text: "The scale around " + w.value + ", where it is to be set."}
	w.dial(strip{p, 7, edge, width - edge}, d)
	return p
}

// dial is a scale as it is drawn, in marks.
type dial struct {
	lo, hi, mark float64 // what is seen of it, and where it is to be set
	was          float64 // where it stands, told by stood; NaN: not known
	stood        string
	sigma        float64
	stops        [2]float64 // NaN: it has none
	apart        float64    // mm of paper from one number to the next, at least
}

// dialOf is the whole of a scale, or where its ends are not known as much as shows both marks.
func dialOf(set carry.Setting, a *bike.Adjuster) dial {
	d := dial{lo: a.Lo, hi: a.Hi, mark: set.Mark(), was: math.NaN(), stops: [2]float64{a.Lo, a.Hi}, apart: 17}
	if set.Stands != nil {
		d.was = set.Settable.Mark(*set.Stands)
		d.stood = typeset(words.Trimmed(d.was, 4))
	}
	if !set.Stops {
		d.stops = [2]float64{math.NaN(), math.NaN()}
		d.lo, d.hi = d.around(math.Abs(20 / a.Unit))
	}
	return d
}

// around is the part of a scale that shows both marks and some of it to both sides.
func (d *dial) around(some float64) (lo, hi float64) {
	from := d.mark
	if d.stood != "" {
		from = d.was
	}
	some = math.Max(some, math.Abs(d.mark-from)/2)
	return math.Min(d.mark, from) - some, math.Max(d.mark, from) + some
}

// dial draws a scale with its pointers, and the value over the mark.
func (w row) dial(s strip, d dial) {
	at := func(v float64) float64 {
		return s.left + (s.right-s.left)*(plane.Clamp(v, d.lo, d.hi)-d.lo)/(d.hi-d.lo)
	}
	if d.hi > d.lo {
		s.ticks(d, at)
		if d.sigma > 0 {
			s.Line(Strong, Both, "sigma", s.at(at(d.mark-d.sigma), -0.4), s.at(at(d.mark+d.sigma), -0.4))
		}
	} else {
		at = func(float64) float64 { return (s.left + s.right) / 2 }
	}
	s.Line(Thin, Both, "scale", s.at(s.left, 0), s.at(s.right, 0))
	was := math.NaN()
	if d.stood != "" {
		was = at(d.was)
	}
	w.moves(s, was, at(d.mark), d.stood)
	w.over(s, at(d.mark), 3.9, s.left-3, s.Width-edge)
}

// ticks draws a scale's divisions, its numbers where the old mark's does not stand, and its stops.
func (s strip) ticks(d dial, at func(v float64) float64) {
	width, span := s.right-s.left, d.hi-d.lo
	major, parts := niceStep(span / math.Max(4, width/d.apart))
	decimals := 0
	if major < 1 {
		decimals = int(math.Ceil(-math.Log10(major) - 1e-9))
	}
	each := func(step float64, do func(v, x float64)) {
		for k := math.Ceil(d.lo/step - 1e-9); k*step <= d.hi+1e-9*span; k++ {
			do(k*step, s.left+width*(k*step-d.lo)/span)
		}
	}
	if minor := major / parts; span/minor < 200 {
		each(minor, func(_, x float64) { s.Line(Thin, Both, "", s.at(x, 0), s.at(x, 1.2)) })
	}
	each(major, func(v, x float64) {
		s.Line(Thin, Both, "", s.at(x, 0), s.at(x, 2.2))
		text := Fixed(v, decimals)
		half := TextWidth(text, Minor) / 2
		if d.stood != "" && math.Abs(x-at(d.was)) < 2.2+half+math.Max(TextWidth(d.stood, Minor), 3)/2 || x-half < 0 || x+half > s.Width {
			return // the old mark's pointer stands there, or the picture ends
		}
		s.Say(Minor, Both, s.at(x, 5.2), Middle, text)
	})
	for _, stop := range d.stops {
		if stop >= d.lo && stop <= d.hi {
			s.Line(Heavy, Both, "", s.at(at(stop), -1.6), s.at(at(stop), 2.4))
		}
	}
}

// taped draws a tape between the two places of the reading that sets what has no scale.
func (w row) taped(step *carry.Step) row {
	w.hint, w.spare = "no scale: by tape", true
	var ends [2]string
	if step != nil {
		w.value = sure(plane.Length(math.Abs(step.Value.Value())), step.SigmaTotal)
		switch step.Gauge.Own {
		case "":
			ends = [2]string{words.Place(step.Gauge.Reading.From), words.Place(step.Gauge.Reading.To)}
			if k := step.Gauge.Reading.Kind; k == bike.Level || k == bike.Plumb {
				w.hint = words.Reading(step.Gauge.Reading, step.Value.Value()) // which says the direction
			}
		case "clamp":
			ends = [2]string{"nose", "rail clamp"}
		}
	}
	w.told = w.value + " by tape, " + ends[0] + " to " + ends[1]
	w.sign = func(s strip) {
		s.Area(Carriage, Both, "tape "+w.name, rect(s.left, s.base-1.6, s.right-s.left, 1.6)...)
		for x := s.left + 2.5; x < s.right-1; x += 2.5 {
			s.Line(Hair, Both, "", s.at(x, 0), s.at(x, -0.8))
		}
		half := (s.right - s.left) / 2
		for i, x := range []float64{s.left, s.right} {
			s.Line(Heavy, Both, "", s.at(x, -2.4), s.at(x, 1.2))
			s.Say(Label, Both, s.at(x, 4.6), []Side{Start, End}[i], Shortened(ends[i], Label, half-1))
		}
		w.over(s, s.left+half, 3.4, s.left, s.right)
	}
	return w
}

// fromHere draws the way from where a setting stands, in the direction of a rising mark to the right.
func (v *Scene) fromHere(w *row, set carry.Setting) {
	by, _ := set.Move()
	w.hint, w.points = "from where it stands", true
	if q := plane.Length(by); !words.None(q) {
		w.value = words.Size(q) + " " + set.Towards(by)
	}
	if q := plane.Length(set.SigmaTotal); !words.None(q) {
		w.value += " ± " + mm(set.SigmaTotal)
	}
	w.told = w.value
	longest := 0.0 // way of all that are drawn so, mm
	for _, o := range v.result.Settings {
		if way, known := o.Move(); known && !o.Scale && !o.Turns() {
			longest = math.Max(longest, math.Abs(way))
		}
	}
	drawn := *w
	w.sign = func(s strip) {
		s.Line(Machine, Both, "", s.at(s.left, 0), s.at(s.right, 0))
		here, far := (s.left+s.right)/2, (s.right-s.left)/4
		there := here
		if math.Abs(by) >= worth {
			there += math.Copysign(8+(far-8)*math.Abs(by)/longest, by) // the least is still seen
		}
		drawn.moves(s, here, there, "here now")
		drawn.over(s, there, 3.9, s.left, s.right)
	}
}

// level draws an angle against the level, as it is.
func (w row) level(s strip, angle float64, reads string) {
	arm, u := math.Min(34, 0.3*(s.right-s.left)), plane.Direction(angle)
	s.Line(Chain, Both, "level", s.at(s.left, 0), s.at(s.left+arm, 0))
	s.Line(Heavy, Both, "angle "+w.name, s.at(s.left, 0), s.at(s.left+arm*u.X, -plane.Clamp(arm*u.Y, -6, 6)))
	w.beside(s, s.left+arm+3, reads)
}

// holes draws the holes on offer, the front to the right, with the one to use filled.
func (w row) holes(s strip, offered []float64, chosen float64) {
	lo, hi := offered[0], offered[len(offered)-1]
	k := 0.0
	if hi > lo {
		k = math.Min((s.right-s.left-8)/(hi-lo), 8/((hi-lo)/float64(len(offered)-1)))
	}
	s.Line(Machine, Both, "", s.at(s.left, -0.5), s.at(s.left+6+k*(hi-lo), -0.5))
	s.Say(Minor, Both, s.at(s.left, 4.6), Start, listed("front to the right", w.limit))
	w.limit = ""
	for _, h := range offered {
		q, style := s.at(s.left+3+k*(h-lo), -0.5), Open
		if math.Abs(h-chosen) < 0.01 {
			style = Accent
			w.over(s, q.X, 3.4, s.left, s.right)
		}
		s.Dot(style, Both, "hole "+Fixed(h, 1), q, 1.4)
	}
}

// risers draws a pile as high as the one to build, in the smallest steps on offer, with the highest one in outline.
func (w row) risers(s strip, offered []float64, chosen float64) {
	step, most := math.Inf(1), 0.0
	for i, h := range offered {
		most = math.Max(most, h)
		if i > 0 {
			step = math.Min(step, h-offered[i-1])
		}
	}
	if !(step > 0) || math.IsInf(step, 1) {
		step = math.Max(chosen, 1)
	}
	const tall, wide = 9.0, 16.0
	k, low := math.Min(tall/math.Max(most, 1), 1), s.base+3
	if most > 0 {
		s.Area(Dotted, Both, "", rect(s.left, low-k*most, wide, k*most)...)
	}
	for h := 0.0; h < chosen-0.01; h += step {
		d := math.Min(step, chosen-h)
		s.Area(Body, Both, "riser", rect(s.left, low-k*(h+d), wide, k*d)...)
	}
	w.beside(s, s.left+wide+3, "of "+words.MM(most))
}

// niceStep is the least of 1, 2, 5 times a power of ten that is at least v, and into how many parts it is best divided.
func niceStep(v float64) (step, parts float64) {
	ten := math.Pow(10, math.Floor(math.Log10(v)))
	for _, k := range []float64{1, 2, 5} {
		if k*ten >= v*(1-1e-9) {
			if k == 2 {
				return k * ten, 4
			}
			return k * ten, 5
		}
	}
	return 10 * ten, 5
}
