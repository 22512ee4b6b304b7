package draw

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/plane"
	"carryover/internal/words"
)

// Sheet says how large a picture may be, mm, and how it is drawn.
type Sheet struct {
	Width, Height float64 // the most it may take
	Scale         float64 // mm of bike per mm of paper; 0: the largest usual one that fits
	Plain         bool    // without a title: the page has its own
	Fills         bool    // at whatever scale fills its width
}

// A4 is the room on an A4 page that also fits onto Letter, margins of 10 mm taken off.
func A4() Sheet { return Sheet{Width: 190, Height: 250} }

const (
	titleRoom = 7.0 // above a picture, for its title
	edge      = 1.0 // kept free at the edges of a picture
)

// top is where a picture begins below its title.
func (o Sheet) top() float64 {
	if o.Plain {
		return 0
	}
	return titleRoom
}

// headed writes a picture's title and returns how far down it reaches.
func (p *Picture) headed(o Sheet) float64 {
	if !o.Plain {
		p.Say(Head, Both, plane.Point{X: edge, Y: 4.4}, Start, Shortened(p.heading(), Head, p.Width-2*edge))
	}
	return o.top()
}

// margins are the paper left free around what is drawn to scale, mm.
type margins struct{ left, right, above, below float64 }

// place makes a picture as high as a rectangle, mm of bike, needs at the sheet's scale, or at the largest usual one that fits,
// and writes its title. With a scale of its own it is as wide as that needs, and least mm.
func (p *Picture) place(o Sheet, lo, hi plane.Point, m margins, least float64) Frame {
	size := hi.Sub(lo)
	p.Width, p.Scale = o.Width, o.Scale
	if o.Fills {
		p.Scale = size.X / (o.Width - m.left - m.right)
	} else if p.Scale == 0 {
		p.Scale = fitting(size.X, size.Y, o.Width-m.left-m.right, o.Height-m.above-m.below)
	} else {
		p.Width = math.Max(least, size.X/p.Scale+m.left+m.right)
	}
	p.Height = m.above + size.Y/p.Scale + m.below
	p.headed(o)
	p.Origin = plane.Point{X: (p.Width+m.left-m.right)/2 - (lo.X+hi.X)/2/p.Scale, Y: m.above + hi.Y/p.Scale}
	return p.Frame
}

// Side draws the bikes from their drive side, laid over each other at the BB.
func (v *Scene) Side(o Sheet) *Picture {
	p := &Picture{Title: "Side view", Of: v.Posture.Name}
	if !v.ridden() {
		p.Title, p.Of = "Side view as it stands", ""
	}
	lo, hi := v.extent()
	const block = 19.0 // the title block's height
	f := p.place(o, lo, hi, margins{13, 13, o.top() + 13.5, 7 + block}, 120)
	foot := p.Height - block
	r := NewRoom(p, plane.Point{X: edge, Y: o.top() + edge}, plane.Point{X: p.Width - edge, Y: foot - edge})

	v.ground(p, f)
	labels := v.machines(p, f)
	for _, l := range v.layers() {
		v.drawParts(p, f, l)
	}
	v.touches(p, f)
	texts := v.dimensions(r, f, lo, hi)
	v.floors(r, f)
	r.say(slices.Concat(v.contactLabels(f), texts, labels)...)
	v.details(r, f) // where the words have left room
	v.titleBlock(p, foot)
	p.Text = v.sideText()
	return p
}

// extent is the rectangle, mm of bike, that holds everything drawn to scale.
func (v *Scene) extent() (lo, hi plane.Point) {
	var pts []plane.Point
	for _, l := range v.layers() {
		s := v.bikes[l]
		pts = append(pts, plane.Point{X: -s.crank, Y: -s.crank}, plane.Point{X: s.crank, Y: s.crank})
		if h := s.Bike.Frame.BBHeight; h != nil {
			pts = append(pts, plane.Point{Y: -*h})
		}
		for _, part := range s.parts(20) {
			pts = append(pts, part.line...)
		}
		if l == v.top() {
			list, _ := s.machine()
			for _, m := range list {
				pts = append(pts, m.line...)
			}
		}
		for _, c := range s.contacts {
			pts = append(pts, c.At)
		}
	}
	return around(pts...)
}

// ground draws each bike's floor and crank circle, and the BB.
func (v *Scene) ground(p *Picture, f Frame) {
	for _, l := range v.layers() {
		s, ring, floor := v.bikes[l], Thin, Machine
		if v.parts(l) == Dashed {
			ring, floor = Faint, Faint
		}
		if l == v.top() || s.crank != v.bikes[v.top()].crank {
			p.Line(ring, l, "crank circle", circle(f.At(plane.Point{}), s.crank/f.Scale, 0, 2*math.Pi)...)
		}
		if h := s.Bike.Frame.BBHeight; h != nil {
			y := f.At(plane.Point{Y: -*h}).Y
			p.Line(floor, l, "floor", plane.Point{X: 4, Y: y}, plane.Point{X: p.Width - 4, Y: y})
		}
	}
	bb := f.At(plane.Point{})
	p.Line(Thin, Both, "", bb.Add(plane.Point{X: -3}), bb.Add(plane.Point{X: 3}))
	p.Line(Thin, Both, "", bb.Add(plane.Point{Y: -3}), bb.Add(plane.Point{Y: 3}))
	p.Dot(Open, Both, "bb", bb, 1.1)
}

// machines sketches the bike that is set up, or the one alone, and returns the names of what is set there.
func (v *Scene) machines(p *Picture, f Frame) (labels []note) {
	l := v.top()
	s := v.bikes[l]
	list, at := s.machine()
	for _, m := range list {
		if m.closed {
			p.Area(Carriage, l, m.name, f.All(m.line...)...)
		} else {
			p.Line(Machine, l, m.name, f.All(m.line...)...)
		}
	}
	for i := range s.Bike.Adjusters {
		q, ok := at[i]
		if !ok {
			continue
		}
		a := &s.Bike.Adjusters[i]
		text := Shortened(a.Name, Label, 34)
		if t := s.travels[i]; !a.NoScale && !a.FromHere && !math.IsNaN(t) {
			text += " " + typeset(words.Mark(a, t/a.Unit))
		}
		labels = append(labels, note{style: Label, layer: l, at: f.At(q.at), text: text, toward: q.toward})
	}
	return labels
}

// drawParts draws saddle, bar, lever, stem and pads of one bike.
func (v *Scene) drawParts(p *Picture, f Frame, l Layer) {
	for _, part := range v.bikes[l].parts(math.Max(1, f.Scale/2)) {
		pts := f.All(part.line...)
		if part.name == "saddle body" {
			if l == v.top() {
				p.Area(Tint, l, "", pts...)
				p.Line(Thin, l, "", pts...)
			}
			continue
		}
		p.Line(v.parts(l), l, part.name, pts...)
	}
	if at, ok := v.bikes[l].clamped(bike.MovesBar); ok {
		style := Open
		if v.parts(l) == Dashed {
			style = Dotted
		}
		p.Dot(style, l, "bar clamp", f.At(at), 1.2)
	}
}

// read is what a tape reads on a bike, NaN where it lacks one of the places.
func (v *Scene) read(l Layer, of bike.Reading) float64 {
	value, _, err := v.bikes[l].ReadingOf(of)
	if err != nil {
		return math.NaN()
	}
	return value
}

// told is a reading of the bike on top, with what it was on the first where both are shown: "setback 43 → 6.5 ± 2".
func (v *Scene) told(of bike.Reading) string {
	now := v.read(v.top(), of)
	text := mm(now)
	if v.both() {
		if was := v.read(From, of); !math.IsNaN(was) && mm(was) != text {
			text = mm(was) + " → " + text
		}
	}
	if sigma := v.sigma(of); sigma >= 0.25 {
		text += " ± " + mm(sigma)
	}
	return cmp.Or(words.Trade(of), words.Reading(of, now)) + " " + text
}

// dimensions draws the customary numbers of the bike on top; what is left for labels is returned.
func (v *Scene) dimensions(r *Room, f Frame, lo, hi plane.Point) (labels []note) {
	s := v.bikes[v.top()]
	var list []dimension
	measure := func(m carry.Measure, draw func(from, to plane.Point, name, text string)) {
		of := m.Reading(s.Bike, v.Posture.Hands)
		from, to := v.place(v.top(), of.From), v.place(v.top(), of.To)
		if from.Finite() && to.Finite() {
			draw(f.At(from), f.At(to), m.String(), v.told(of))
		}
	}
	measure(carry.SaddleHeight, func(bb, mid plane.Point, name, text string) { list = append(list, between(bb, mid, name, text)) })
	measure(carry.Reach, func(nose, hand plane.Point, name, text string) {
		list = append(list, level(nose, hand, f.At(hi).Y-6.5, name, text))
	})
	measure(carry.Drop, func(hand, mid plane.Point, name, text string) {
		list = append(list, upright(hand, mid, f.At(hi).X+7, name, text))
	})
	measure(carry.FloorHeight, func(floor, mid plane.Point, name, text string) {
		floor.X = f.At(lo).X - 7
		list = append(list, upright(floor, mid, floor.X, name, text))
	})
	r.lines(list...)
	measure(carry.Setback, func(nose, bb plane.Point, name, text string) { // under the saddle, where little else is
		var places []dimension
		crank, up := s.crank/f.Scale, bb.Y-nose.Y
		for _, share := range []float64{0.8, 0.7, 0.6, 0.5, 0.4} {
			places = append(places, level(nose, bb, bb.Y-math.Max(crank+0.10*up, share*up), name, text))
		}
		if lo.Y < -s.crank { // or between the crank and the floor
			places = append(places, level(nose, bb, (f.At(lo).Y+bb.Y+crank)/2, name, text))
		}
		setback := r.roomy(places...)
		r.lines(setback)
		list = append(list, setback)
	})
	labels = r.texts(list...)
	crank := mm(s.crank)
	if was := mm(v.bikes[v.layers()[0]].crank); was != crank {
		crank = was + " → " + crank
	}
	return append(labels, note{style: Label, at: f.At(plane.Direction(-0.3 * math.Pi).Scale(s.crank)), text: "crank " + crank,
		toward: -0.3 * math.Pi}, note{style: Label, at: f.Origin, text: "BB", toward: -math.Pi / 4})
}

// floors names the floors at their right ends, over or under their lines.
func (v *Scene) floors(r *Room, f Frame) {
	for _, l := range v.layers() {
		h := v.bikes[l].Bike.Frame.BBHeight
		if h == nil {
			continue
		}
		text := "floor"
		if v.both() {
			other := v.bikes[To].Bike.Frame.BBHeight
			if was := v.bikes[From].Bike.Frame.BBHeight; l == To && was != nil && *was == *h {
				continue
			} else if was == nil || other == nil || *was != *other {
				text += ", " + Shortened(v.names[l], Minor, 50)
			}
		}
		y := f.At(plane.Point{Y: -*h}).Y
		var places []Mark
		for x := r.p.Width - 5; x > 45; x -= 5 {
			for _, dy := range []float64{-1.9, 3.6} {
				places = append(places, Mark{Style: Minor, Layer: l, Text: text, At: plane.Point{X: x, Y: y + dy}, Side: End})
			}
		}
		r.Put(places...)
	}
}

// Touch draws a contact: a dot, dashed where it is that of the first bike, with a stroke to both sides.
func (p *Picture) Touch(dashed bool, l Layer, name string, at, side plane.Point) {
	stroke, dot, radius := Strong, Accent, 0.95
	if dashed {
		stroke, dot, radius = Dashed, Dotted, 1.0
	}
	if side != (plane.Point{}) {
		p.Line(stroke, l, "", at.Sub(side), at.Add(side))
	}
	p.Dot(dot, l, name, at, radius)
}

// contact draws a contact of a bike with a stroke of some length at its angle, mm of paper; 0: without.
func (v *Scene) contact(p *Picture, l Layer, f Frame, c assembly.Contact, length float64) {
	side := plane.Direction(c.Angle).Scale(length / 2)
	p.Touch(v.parts(l) == Dashed, l, "contact "+string(c.Name), f.At(c.At), plane.Point{X: side.X, Y: -side.Y})
}

// touches draws the contacts and, on the bike that is set up, what they miss.
func (v *Scene) touches(p *Picture, f Frame) {
	if !v.ridden() {
		return
	}
	for _, l := range v.layers() {
		for i, t := range v.bikes[l].contacts {
			length := 8.0
			if i > 1 {
				length = 0 // a second contact is a place without an angle
			}
			v.contact(p, l, f, t, length)
		}
	}
	for _, t := range v.carried() {
		if t.Miss > carry.CarriedMM {
			p.Line(Cut, To, "", f.At(t.Got.At), f.At(t.Want.At))
			p.Dot(Open, To, "wanted "+string(t.Got.Name), f.At(t.Want.At), 0.8)
		}
	}
}

// contactLabels name the contacts, with their angle and what they miss.
func (v *Scene) contactLabels(f Frame) (list []note) {
	toward := map[bike.Contact]float64{bike.Sit: math.Pi / 2, bike.Hood: math.Pi / 4, bike.Drop: -math.Pi / 3, bike.Pad: math.Pi / 2,
		bike.Grip: math.Pi / 4}
	l := v.top()
	if !v.ridden() {
		return nil
	}
	for i, c := range v.bikes[l].contacts {
		text, end := words.Touched(c.Name), "front"
		if c.Name == bike.Sit {
			end = "nose"
		}
		if i < 2 {
			text += " " + words.Tilted(plane.Angle(c.Angle), end)
		}
		if got := v.carried(); got != nil && got[i].Miss > carry.CarriedMM {
			text += ", " + mm(got[i].Miss) + " off"
		}
		list = append(list, note{style: Bold, layer: l, at: f.At(c.At), text: text, toward: toward[c.Name]})
	}
	return list
}

// sideText tells the side view in words.
func (v *Scene) sideText() string {
	list := []string{words.FromTheSide(v.both())}
	for _, l := range v.layers() {
		s := v.bikes[l]
		list = append(list, words.Dimensioned(Shortened(v.names[l], Label, 120), v.Posture.Hands, func(m carry.Measure) float64 {
			return v.read(l, m.Reading(s.Bike, v.Posture.Hands))
		}, s.crank))
	}
	for _, c := range v.carried() {
		list = append(list, words.Arrived(c))
	}
	return words.Plain(strings.Join(list, " "))
}
