package draw

import (
	"fmt"
	"math"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Sheet says how large a picture may be, mm, and how it is drawn.
type Sheet struct {
	Width, Height float64 // the most it may take
	Scale         float64 // mm of bike per mm of paper; 0: the largest usual one that fits
	Plain         bool    // without a title: the page has its own
}

// A4 is the room on an A4 page that also fits onto Letter, margins of 10 mm taken off.
func A4() Sheet { return Sheet{Width: 190, Height: 250} }

const (
	titleRoom  = 7.0 // above a picture, for its title
	legendRoom = 6.0
)

// titled writes title and legend and returns how far down they reach.
func (v *Scene) titled(p *Picture, o Sheet) float64 {
	y := 0.0
	if !o.Plain {
		p.Say(Head, Both, plane.Point{X: 0.5, Y: 4.4}, Start, Fit(p.Title, Head, p.Width-1))
		y += titleRoom
	}
	x := 0.5
	room := (p.Width - 2) / 2
	stacked := false // names too long to stand side by side stand below one another
	for _, l := range v.layers() {
		stacked = stacked || 24+Measure(Fit(name(v.stance(l)), Label, p.Width), Label) > room
	}
	if stacked {
		room = p.Width - 2
	}
	for i := len(v.layers()) - 1; i >= 0; i-- {
		l := v.layers()[i]
		word := map[Layer]string{Source: "from: ", Target: "to: "}[l]
		text := Fit(word+name(v.stance(l)), Label, room-14)
		p.Line(line(l), l, "", plane.Point{X: x, Y: y + 2.6}, plane.Point{X: x + 10, Y: y + 2.6})
		p.Say(Label, l, plane.Point{X: x + 11.5, Y: y + 3.6}, Start, text)
		if stacked {
			y += 4.6
			continue
		}
		x += math.Min(room, 18+Measure(text, Label))
	}
	if stacked {
		return y + 1.4
	}
	return y + legendRoom
}

// name is what a bike is called.
func name(s *assembly.Stance) string {
	if s.Bike.Name != "" {
		return s.Bike.Name
	}
	return s.Bike.File
}

// Side draws the bikes from their drive side, laid over each other at the BB.
func (v *Scene) Side(o Sheet) *Picture {
	p := &Picture{Title: "Side view: " + v.Posture.Name, Width: o.Width}
	top := v.titled(p, o)
	const left, right, above, below = 15.0, 15.0, 11.0, 11.0
	lo, hi := v.extent()
	size := hi.Sub(lo)
	scale := o.Scale
	if scale == 0 {
		scale = fitting(size.X, size.Y, o.Width-left-right, o.Height-top-above-below)
	} else {
		p.Width = math.Max(80, size.X/scale+left+right)
	}
	p.Height = top + above + size.Y/scale + below
	f := frame{scale, plane.Point{X: (p.Width+left-right)/2 - (lo.X+hi.X)/2/scale, Y: top + above + hi.Y/scale}}
	p.Scale, p.Origin = scale, f.origin
	c := &crowd{page: box{plane.Point{X: 0, Y: top}, plane.Point{X: p.Width, Y: p.Height - below + 2}}}

	v.ground(p, c, f)
	for _, l := range v.layers() {
		v.machine(p, c, f, l)
	}
	v.measures(p, c, f, lo, hi)
	v.touches(p, c, f)
	v.changes(p, c, f)
	v.lenses(p, c, f)
	p.scaleBar(plane.Point{X: p.Width - 1, Y: p.Height - 3}, scale)
	p.Text = v.sideText()
	return p
}

// extent is the rectangle, mm of bike, that holds everything drawn to scale.
func (v *Scene) extent() (lo, hi plane.Point) {
	var pts []plane.Point
	for _, l := range v.layers() {
		s, r := v.stance(l), v.crank(l)
		pts = append(pts, plane.Point{X: -r, Y: -r}, plane.Point{X: r, Y: r})
		if h := s.Bike.Frame.BBHeight; h != nil {
			pts = append(pts, plane.Point{Y: -*h})
		}
		pts = append(pts, profile(s, 20)...)
		pts = append(pts, barLine(s)...)
		pts = append(pts, stemLine(s)...)
		for _, list := range append(leverLines(s), padLines(s)...) {
			pts = append(pts, list...)
		}
		for _, c := range v.contacts(l) {
			pts = append(pts, c.At)
		}
	}
	return around(pts...)
}

// ground draws each bike's floor and crank circle, and the BB.
func (v *Scene) ground(p *Picture, c *crowd, f frame) {
	for _, l := range v.layers() {
		if h := v.stance(l).Bike.Frame.BBHeight; h != nil {
			y := f.at(plane.Point{Y: -*h}).Y
			a, b := plane.Point{X: 12, Y: y}, plane.Point{X: p.Width - 12, Y: y}
			p.Line(line(l), l, "floor", a, b)
			c.avoid([]plane.Point{a, b})
			// Two floors may be a few mm apart: their names stand side by side, the lower one's below its line.
			at := plane.Point{X: b.X - 1, Y: y - 1}
			if l == Source {
				at.X -= 24
			}
			if v.lower(l) {
				at.Y = y + 3.2
			}
			text := "floor, " + map[Layer]string{Source: "from", Target: "to"}[l]
			p.Say(Minor, l, at, End, text)
			c.boxes = append(c.boxes, textBox(text, Minor, at, End, 0))
		}
		ring := circle(f.at(plane.Point{}), v.crank(l)/f.scale, 0, 2*math.Pi)
		p.Line(line(l), l, "crank circle", ring...)
		c.avoid(ring)
	}
	bb := f.at(plane.Point{})
	p.Line(Thin, Both, "", bb.Add(plane.Point{X: -3}), bb.Add(plane.Point{X: 3}))
	p.Line(Thin, Both, "", bb.Add(plane.Point{Y: -3}), bb.Add(plane.Point{Y: 3}))
	p.Area(Open, Both, "bb", circle(bb, 1.1, 0, 2*math.Pi)...)
	p.label(c, Label, Both, bb, "BB", -math.Pi/4)
	for _, l := range v.layers() {
		a := map[Layer]float64{Source: -0.72 * math.Pi, Target: -0.28 * math.Pi}[l]
		text := "crank " + Fixed(v.crank(l), 1)
		if v.Show == Both && v.Crank[0] != v.Crank[1] {
			text += map[Layer]string{Source: ", from", Target: ", to"}[l]
		} else if v.Show == Both && l == Source {
			continue
		}
		p.label(c, Minor, l, f.at(plane.Direction(a).Scale(v.crank(l))), text, a)
	}
}

// lower reports whether a bike's floor is drawn and lies below the other's.
func (v *Scene) lower(l Layer) bool {
	a, b := v.Source.Bike.Frame.BBHeight, v.Target.Bike.Frame.BBHeight
	if v.Show != Both || a == nil || b == nil || *a == *b {
		return false
	}
	return (*a > *b) == (l == Source)
}

// machine draws one bike's parts.
func (v *Scene) machine(p *Picture, c *crowd, f frame, l Layer) {
	s, k := v.stance(l), line(l)
	top := f.all(profile(s, math.Max(1, f.scale/2)))
	under := f.all(underside(s))
	body := append(append([]plane.Point(nil), top...), under...)
	if l == Target {
		p.Area(Tint, l, "", body...)
		p.Line(Thin, l, "", append(append([]plane.Point{top[len(top)-1]}, under...), top[0])...)
	}
	p.Line(k, l, "saddle", top...)
	p.Line(k, l, "rails", under[1], under[2])
	c.avoid(append(body, top[0]))
	for _, part := range []struct {
		name string
		line []plane.Point
	}{{"bar", barLine(s)}, {"stem", stemLine(s)}} {
		if len(part.line) > 1 {
			pts := f.all(part.line)
			p.Line(k, l, part.name, pts...)
			c.avoid(pts)
		}
	}
	for _, list := range leverLines(s) {
		pts := f.all(list)
		p.Line(k, l, "lever", pts...)
		c.avoid(pts)
	}
	for _, list := range padLines(s) {
		pts := f.all(list)
		p.Line(k, l, "pad", pts...)
		c.avoid(pts)
	}
	if hasBar(s) {
		at := f.at(s.Poses[assembly.Bar].Origin)
		ink := Open
		if l == Source {
			ink = Dotted
		}
		p.Area(ink, l, "bar clamp", circle(at, 1.2, 0, 2*math.Pi)...)
	}
}

// place is where a point of a bike lies, if it has it.
func (v *Scene) place(l Layer, at bike.Place) (plane.Point, bool) {
	q, err := v.stance(l).Where(at)
	return q, err == nil && q.Finite()
}

func saddleAt(k saddle.RefKind) bike.Place {
	return bike.Place{Kind: bike.AtSaddle, Ref: saddle.Reference{Kind: k}}
}

// hands is the place of the posture's hands.
func (v *Scene) hands() bike.Place {
	return bike.Place{Kind: map[bike.Contact]bike.PlaceKind{bike.Hood: bike.AtHood, bike.Drop: bike.AtDrop, bike.Pad: bike.AtPad, bike.Grip: bike.AtGrip}[v.Posture.Hands]}
}

// measures draws the dimensions: of the target, with what they were on the source.
func (v *Scene) measures(p *Picture, c *crowd, f frame, lo, hi plane.Point) {
	l := Target
	if v.Show == Source {
		l = Source
	}
	value := func(name string, of func(Layer) float64) string {
		now := Fixed(of(l), 1)
		if v.Show == Both {
			if was := Fixed(of(Source), 1); was != now {
				return name + " " + was + " → " + now
			}
		}
		return name + " " + now
	}
	at := func(l Layer, k bike.Place) plane.Point { q, _ := v.place(l, k); return q }
	nose, mid, hand := saddleAt(saddle.Nose), saddleAt(saddle.Mid), v.hands()
	n, m, h := at(l, nose), at(l, mid), at(l, hand)

	p.dimension(c, Both, f.at(plane.Point{}), f.at(m), plane.Point{}, "saddle height",
		value("saddle height", func(l Layer) float64 { return at(l, mid).Norm() }))
	p.Dot(Solid, Both, "", f.at(m), 0.5)

	// The setback lies under the saddle, where nothing else is.
	y := f.at(plane.Point{Y: math.Max(v.crank(l)+0.08*n.Y, 0.8*n.Y)}).Y
	p.Line(Hair, Both, "", f.at(n).Add(plane.Point{Y: 1.5}), plane.Point{X: f.at(n).X, Y: y + 1.5})
	p.Line(Hair, Both, "", plane.Point{X: f.origin.X, Y: f.origin.Y - 4}, plane.Point{X: f.origin.X, Y: y - 1.5})
	// From back to front, so that a text with no room goes ahead, away from the line to the saddle.
	rear, front := math.Min(f.at(n).X, f.origin.X), math.Max(f.at(n).X, f.origin.X)
	p.dimension(c, Both, plane.Point{X: rear, Y: y}, plane.Point{X: front, Y: y}, plane.Point{}, "setback",
		value("setback", func(l Layer) float64 { return -at(l, nose).X }))

	up := f.at(hi).Y - 6
	p.spanned(c, f.at(n), f.at(h), plane.Point{Y: up}, "reach",
		value("nose to "+string(v.Posture.Hands), func(l Layer) float64 { return at(l, hand).X - at(l, nose).X }))
	out := f.at(hi).X + 8
	p.spanned(c, f.at(h), f.at(m), plane.Point{X: out}, "drop",
		value("drop", func(l Layer) float64 { return at(l, mid).Y - at(l, hand).Y }))
	if v.stance(l).Bike.Frame.BBHeight != nil {
		floor := func(l Layer) float64 {
			if h := v.stance(l).Bike.Frame.BBHeight; h != nil {
				return *h
			}
			return math.NaN()
		}
		text := "floor to saddle middle " + Fixed(m.Y+floor(l), 1)
		p.spanned(c, f.at(plane.Point{X: lo.X, Y: -floor(l)}), f.at(m), plane.Point{X: f.at(lo).X - 8}, "floor", text)
	}
}

// spanned is a level (line.Y given) or plumb (line.X given) dimension between two points, drawn on that line.
func (p *Picture) spanned(c *crowd, a, b, line plane.Point, name, text string) {
	a2, b2 := a, b
	if line.Y != 0 {
		a2.Y, b2.Y = line.Y, line.Y
	} else {
		a2.X, b2.X = line.X, line.X
	}
	for _, e := range [][2]plane.Point{{a, a2}, {b, b2}} {
		if d := e[1].Sub(e[0]); d.Norm() > 2 {
			u := d.Scale(1 / d.Norm())
			p.Line(Hair, Both, "", e[0].Add(u.Scale(1.5)), e[1].Add(u.Scale(1.5)))
			c.faint = append(c.faint, dotted([]plane.Point{e[0].Add(u.Scale(1.5)), e[1]})...)
		}
	}
	p.dimension(c, Both, a2, b2, plane.Point{}, name, text)
}

// seen is the least movement, mm, that an arrow is drawn for.
const seen = 0.5

// changes draws arrows from where parts were to where they are.
func (v *Scene) changes(p *Picture, c *crowd, f frame) {
	if v.Show != Both {
		return
	}
	for _, m := range []struct {
		name   string
		at     bike.Place
		toward float64
	}{{"nose", saddleAt(saddle.Nose), -0.2 * math.Pi}, {"bar clamp", bike.Place{Kind: bike.AtBar}, -0.75 * math.Pi}} {
		if m.at.Kind == bike.AtBar && (!hasBar(v.Source) || !hasBar(v.Target)) {
			continue
		}
		a, okA := v.place(Source, m.at)
		b, okB := v.place(Target, m.at)
		if !okA || !okB || a.Distance(b) < seen {
			continue
		}
		p.arrow(Both, m.name, f.at(a), f.at(b))
		c.avoid([]plane.Point{f.at(a), f.at(b)})
		p.label(c, Label, Both, f.at(b), m.name+" "+moved(b.Sub(a)), m.toward)
	}
}

// touch draws a contact: a stroke at its angle with a dot on it.
// A length of 0 draws the dot alone.
func (p *Picture) touch(l Layer, f frame, c assembly.Contact, length float64) []plane.Point {
	u := plane.Direction(c.Angle)
	u.Y = -u.Y
	at := f.at(c.At)
	ends := []plane.Point{at.Sub(u.Scale(length / 2)), at.Add(u.Scale(length / 2))}
	k := Strong
	if l == Source {
		k = Dashed
	}
	if length > 0 {
		p.Line(k, l, "", ends...)
	}
	if l == Source {
		p.Area(Dotted, l, "contact "+string(c.Name), circle(at, 1.0, 0, 2*math.Pi)...)
	} else {
		p.Dot(Accent, l, "contact "+string(c.Name), at, 0.9)
	}
	return ends
}

// touches draws the contacts and, on the target, what they miss.
func (v *Scene) touches(p *Picture, c *crowd, f frame) {
	for _, l := range v.layers() {
		for i, t := range v.contacts(l) {
			length := 8.0
			if i > 1 {
				length = 0 // a second contact is a place without an angle
			}
			c.avoid(p.touch(l, f, t, length))
		}
	}
	toward := map[bike.Contact]float64{bike.Sit: math.Pi / 2, bike.Hood: math.Pi / 4, bike.Drop: -math.Pi / 3, bike.Pad: math.Pi / 2, bike.Grip: math.Pi / 4}
	if !v.shows(Target) {
		for _, t := range v.Touched {
			p.label(c, Bold, Source, f.at(t.At), string(t.Name), toward[t.Name])
		}
		return
	}
	for _, t := range v.Contacts {
		text := string(t.Got.Name)
		if t.Miss > carry.CarriedMM {
			p.Line(Cut, Target, "", f.at(t.Got.At), f.at(t.Want.At))
			p.Area(Open, Target, "wanted "+text, circle(f.at(t.Want.At), 0.8, 0, 2*math.Pi)...)
			text += ", " + Fixed(t.Miss, 1) + " off"
		}
		p.label(c, Bold, Target, f.at(t.Got.At), text, toward[t.Got.Name])
	}
}

// scaleBar draws a bar of a round length, its right end at at.
func (p *Picture) scaleBar(at plane.Point, scale float64) {
	// The longest of 1, 2 or 5 times a power of ten that takes at most 50 mm of paper.
	length := math.Pow(10, math.Floor(math.Log10(50*scale)))
	for _, k := range []float64{5, 2} {
		if k*length <= 50*scale {
			length *= k
			break
		}
	}
	w := length / scale
	left := at.X - w
	for i := range 4 {
		ink := Solid
		if i%2 == 1 {
			ink = Open
		}
		a, b := left+w*float64(i)/4, left+w*float64(i+1)/4
		p.Area(ink, Both, "", plane.Point{X: a, Y: at.Y}, plane.Point{X: b, Y: at.Y}, plane.Point{X: b, Y: at.Y - 1}, plane.Point{X: a, Y: at.Y - 1})
	}
	p.Line(Thin, Both, "scale bar", plane.Point{X: left, Y: at.Y}, plane.Point{X: at.X, Y: at.Y})
	p.Say(Minor, Both, plane.Point{X: left - 1.5, Y: at.Y + 0.3}, End, fmt.Sprintf("%s    0", scaleName(scale)))
	p.Say(Minor, Both, plane.Point{X: at.X, Y: at.Y - 1.8}, End, fmt.Sprintf("%g mm", length))
}

// sideText tells the side view in words.
func (v *Scene) sideText() string {
	t := "Both bikes seen from the drive side, to scale, laid over each other at the BB"
	if v.Show != Both {
		t = "The bike seen from the drive side, to scale"
	}
	t += "; front to the right."
	for _, l := range v.layers() {
		n, okN := v.place(l, saddleAt(saddle.Nose))
		m, okM := v.place(l, saddleAt(saddle.Mid))
		h, okH := v.place(l, v.hands())
		if okN && okM && okH {
			t += fmt.Sprintf(" %s: saddle height %s mm, setback %s mm, nose to %s %s mm, drop %s mm, crank %s mm.",
				map[Layer]string{Source: "From", Target: "To"}[l], Fixed(m.Norm(), 1), Fixed(-n.X, 1), v.Posture.Hands,
				Fixed(h.X-n.X, 1), Fixed(m.Y-h.Y, 1), Fixed(v.crank(l), 1))
		}
	}
	if v.shows(Target) {
		for _, c := range v.Contacts {
			if c.Carried {
				t += fmt.Sprintf(" %s is where it was.", c.Got.Name)
			} else {
				t += fmt.Sprintf(" %s misses by %s mm.", c.Got.Name, Fixed(c.Miss, 1))
			}
		}
	}
	return t
}
