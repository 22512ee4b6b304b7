package draw

import (
	"math"

	"carryover/internal/plane"
)

// box is a rectangle on paper, mm.
type box struct{ lo, hi plane.Point }

func (b box) grown(by float64) box {
	return box{b.lo.Sub(plane.Point{X: by, Y: by}), b.hi.Add(plane.Point{X: by, Y: by})}
}

// overlap is the area two boxes share, mm².
func (b box) overlap(o box) float64 {
	w := math.Min(b.hi.X, o.hi.X) - math.Max(b.lo.X, o.lo.X)
	h := math.Min(b.hi.Y, o.hi.Y) - math.Max(b.lo.Y, o.lo.Y)
	if w <= 0 || h <= 0 {
		return 0
	}
	return w * h
}

func (b box) has(p plane.Point) bool {
	return p.X >= b.lo.X && p.X <= b.hi.X && p.Y >= b.lo.Y && p.Y <= b.hi.Y
}

// crowd is what a label should keep clear of: other labels strictly, lines where it can.
type crowd struct {
	page  box
	boxes []box
	lines []plane.Point // points along lines, a mm or so apart
	faint []plane.Point // the same along hair lines, which a label may cross if it must
}

// avoid adds the points of a line.
func (c *crowd) avoid(line []plane.Point) { c.lines = append(c.lines, dotted(line)...) }

// dotted are points along a line, about a mm apart.
func dotted(line []plane.Point) (pts []plane.Point) {
	for i := 1; i < len(line); i++ {
		d := line[i].Sub(line[i-1])
		n := int(math.Min(400, math.Ceil(d.Norm()))) + 1
		for k := range n {
			pts = append(pts, line[i-1].Add(d.Scale(float64(k)/float64(n))))
		}
	}
	return pts
}

// leader is the line from a point to its label's box; none when they are close.
func leader(at plane.Point, b box) []plane.Point {
	near := plane.Point{X: plane.Clamp(at.X, b.lo.X, b.hi.X), Y: plane.Clamp(at.Y, b.lo.Y, b.hi.Y)}
	d := near.Distance(at)
	if d <= 3.2 {
		return nil
	}
	return []plane.Point{at.Add(near.Sub(at).Scale(1.4 / d)), near}
}

// textBox is the room that text takes.
func textBox(text string, k Ink, at plane.Point, side Side, turn float64) box {
	w, size := Measure(text, k), k.Size()
	left := map[Side]float64{Start: 0, Middle: -w / 2, End: -w}[side]
	var corners []plane.Point
	for _, c := range [][2]float64{{left, 0.25 * size}, {left + w, 0.25 * size}, {left + w, -0.85 * size}, {left, -0.85 * size}} {
		corners = append(corners, at.Add(plane.Point{X: c[0], Y: c[1]}.Turn(-turn)))
	}
	lo, hi := around(corners...)
	return box{lo, hi}
}

// label puts text near a point where it covers least, with a leader when it had to go far.
func (p *Picture) label(c *crowd, k Ink, layer Layer, at plane.Point, text string, toward float64) {
	if text == "" {
		return
	}
	best, bestCost := Mark{}, math.Inf(1)
	var bestBox box
	for _, far := range []float64{3, 5.5, 9, 14, 20, 27} {
		for turn := 0; turn < 16; turn++ {
			// Alternately to both sides of the direction asked for.
			a := toward + float64((turn+1)/2)*[2]float64{1, -1}[turn%2]*math.Pi/8
			s, co := math.Sincos(a)
			q := plane.Point{X: at.X + far*co, Y: at.Y - far*s}
			side := Middle
			switch {
			case co > 0.35:
				side = Start
			case co < -0.35:
				side = End
			}
			q.Y += 0.35 * k.Size() * (1 - s) // so that the text's middle, foot or head meets the direction
			if s < -0.5 {
				q.Y += 0.25 * k.Size()
			}
			b := textBox(text, k, q, side, 0).grown(0.5)
			cost := far*0.6 + float64((turn+1)/2)*0.9
			for _, o := range c.boxes {
				cost += 40 * b.overlap(o)
			}
			for _, l := range c.lines {
				if b.has(l) {
					cost += 4
				}
			}
			for _, l := range c.faint {
				if b.has(l) {
					cost++
				}
			}
			for _, l := range dotted(leader(at, b)) {
				for _, o := range c.boxes {
					if o.has(l) {
						cost += 20
					}
				}
			}
			if b.lo.X < c.page.lo.X || b.lo.Y < c.page.lo.Y || b.hi.X > c.page.hi.X || b.hi.Y > c.page.hi.Y {
				cost += 1e4
			}
			if cost < bestCost {
				best, bestCost, bestBox = Mark{Ink: k, Layer: layer, Text: text, At: q, Side: side}, cost, b
			}
		}
	}
	if l := leader(at, bestBox); l != nil {
		p.Line(Thin, layer, "", l...)
		c.avoid(l)
	}
	p.Marks = append(p.Marks, best)
	c.boxes = append(c.boxes, bestBox)
}

// slash is the end of a dimension line: a short stroke across it at 45°.
func (p *Picture) slash(layer Layer, at plane.Point, dir plane.Point) {
	d := dir.Turn(math.Pi / 4).Scale(1.3)
	p.Line(Thin, layer, "", at.Sub(d), at.Add(d))
}

// dimension measures from a to b along a line shifted by off from both, with its text in the middle or, where the
// line is too short, past b's end, or past a's where b's leads off the page.
func (p *Picture) dimension(c *crowd, layer Layer, a, b, off plane.Point, name, text string) {
	a2, b2 := a.Add(off), b.Add(off)
	d := b2.Sub(a2)
	n := d.Norm()
	if n == 0 {
		return
	}
	u := d.Scale(1 / n)
	if off.Norm() > 0 {
		o := off.Scale(1 / off.Norm())
		for _, e := range []plane.Point{a, b} {
			p.Line(Hair, layer, "", e.Add(o.Scale(1.5)), e.Add(off).Add(o.Scale(1.5)))
		}
	}
	p.Line(Thin, layer, name, a2, b2)
	p.slash(layer, a2, u)
	p.slash(layer, b2, u)
	c.avoid([]plane.Point{a2, b2})
	turn := math.Atan2(-d.Y, d.X)
	if turn > math.Pi/2+1e-9 {
		turn -= math.Pi
	} else if turn <= -math.Pi/2+1e-9 {
		turn += math.Pi
	}
	at, side := a2.Add(d.Scale(0.5)), Middle
	w := Measure(text, Label)
	if w+6 > n {
		end := b2
		if q := b2.Add(u.Scale(w + 3)); !c.page.has(q) {
			end, u = a2, u.Scale(-1)
		}
		at, side = end.Add(u.Scale(2.2)), Start
		if math.Cos(turn)*u.X-math.Sin(turn)*u.Y < 0 {
			side = End
		}
		p.Line(Thin, layer, "", end, end.Add(u.Scale(1.6)))
	}
	at = at.Add(plane.Point{Y: 0.33 * Label.Size()}.Turn(-turn))
	p.SayOn(Label, layer, at, side, turn, text)
	c.boxes = append(c.boxes, textBox(text, Label, at, side, turn).grown(0.5))
}

// arrow is a short line with a filled head.
func (p *Picture) arrow(layer Layer, name string, a, b plane.Point) {
	d := b.Sub(a)
	n := d.Norm()
	if n < 0.2 {
		return
	}
	u := d.Scale(1 / n)
	head := math.Min(2.2, 0.7*n)
	base := b.Sub(u.Scale(head))
	p.Line(Strong, layer, name, a, base)
	side := u.Perp().Scale(0.36 * head)
	p.Area(Accent, layer, "", b, base.Add(side), base.Sub(side))
}
