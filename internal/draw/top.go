package draw

import (
	"fmt"
	"math"

	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Top draws the saddles from above, laid over each other where they carry the rider, front to the right. Nil when no
// saddle has a shape.
func (v *Scene) Top(o Sheet) *Picture {
	var shapes []Layer // the one of the bike that is set up last, on top
	for _, l := range v.layers() {
		if v.bikes[l].Shape != nil {
			shapes = append(shapes, l)
		}
	}
	if len(shapes) == 0 || !v.ridden() {
		return nil
	}
	p := &Picture{Title: "Saddle from above: " + v.Posture.Name}
	line := func(l Layer) Style { return Heavy }
	if len(shapes) == 2 {
		p.Title, line = "Saddles from above: "+v.Posture.Name, v.parts
	}
	top := o.top() + 4.8*float64(len(shapes))
	station := func(l Layer) float64 { return v.bikes[l].seat(v.Posture) }
	var lo, hi plane.Point
	for _, l := range shapes {
		a, b := around(outlineOf(v.bikes[l].Shape, station(l), 5)...)
		lo = plane.Point{X: math.Min(lo.X, a.X), Y: math.Min(lo.Y, a.Y)}
		hi = plane.Point{X: math.Max(hi.X, b.X), Y: math.Max(hi.Y, b.Y)}
	}
	half := v.Posture.Support / 2
	lo.Y, hi.Y = math.Min(lo.Y, -half), math.Max(hi.Y, half)
	f := p.place(o, lo, hi, margins{13, 4, top + 6, 9.5 + 6*float64(len(shapes))}, 110)
	for i := range shapes {
		l := shapes[len(shapes)-1-i]
		y := top - 4.8*float64(len(shapes)-i)
		p.Line(line(l), l, "", plane.Point{X: edge, Y: y + 2.6}, plane.Point{X: edge + 9, Y: y + 2.6})
		p.Say(Label, l, plane.Point{X: edge + 11, Y: y + 3.6}, Start, Shortened(v.name(l), Label, p.Width-2*edge-11))
	}
	r := NewRoom(p, plane.Point{X: edge, Y: top}, plane.Point{X: p.Width - edge, Y: p.Height - edge})

	for i := range shapes { // the dashed one over the other's tint
		l := shapes[len(shapes)-1-i]
		pts := f.all(outlineOf(v.bikes[l].Shape, station(l), math.Max(1, p.Scale/2)))
		if line(l) == Dashed {
			p.Line(Dashed, l, "outline", append(pts, pts[0])...)
		} else {
			p.Area(Body, l, "outline", pts...)
		}
	}
	p.Line(Chain, Both, "", f.at(plane.Point{X: lo.X - 3*p.Scale}), f.at(plane.Point{X: hi.X + 3*p.Scale}))
	// The support line, with the width it stands for.
	reach := hi.Y + 2.5*p.Scale
	p.Line(Strong, Both, "support", f.at(plane.Point{Y: reach}), f.at(plane.Point{Y: -reach}))
	for _, y := range []float64{half, -half} {
		p.Dot(Accent, Both, "", f.at(plane.Point{Y: y}), 1)
	}
	// Below: how far nose and tail lie from the support.
	y := f.at(lo).Y + 6
	var list []dimension
	for _, l := range shapes {
		s, st := v.bikes[l].Shape, station(l)
		if len(shapes) == 2 {
			p.Line(line(l), l, "", plane.Point{X: edge, Y: y}, plane.Point{X: edge + 7, Y: y})
		}
		for i, x := range []float64{st, st - s.Length} {
			if math.Abs(x) >= 0.05 {
				d := level(plane.Point{X: f.origin.X, Y: y}, f.at(plane.Point{X: x, Y: -s.Width(st-x) / 2}), y,
					"support to "+[]string{"nose", "tail"}[i], mm(math.Abs(x)))
				d.toward = -math.Pi / 2
				list = append(list, d)
			}
		}
		y += 6
	}
	p.scaleBar(plane.Point{X: p.Width - edge - 8, Y: p.Height - 4.6}, 50)
	p.Say(Minor, Both, plane.Point{X: edge, Y: p.Height - 1}, Start, scaleName(p.Scale)+", mm")
	r.say(r.measure(list)...)
	r.say(note{style: Label, at: f.at(plane.Point{Y: reach}), text: fmt.Sprintf("support, %s wide", mm(v.Posture.Support))})
	p.Text = "Seen from above, to scale, where the saddle carries the rider on one upright line; front to the right."
	for _, l := range shapes {
		s := v.bikes[l].Shape
		st := station(l)
		_, widest := s.Widest()
		p.Text += fmt.Sprintf(" %s: %s mm long, %s mm at its widest; it carries %s mm behind its nose.",
			Shortened(v.name(l), Label, 120), mm(s.Length), mm(widest), mm(st))
		if widest < v.Posture.Support {
			p.Text += " It is nowhere as wide as the support."
		}
	}
	return p
}

// outlineOf is a saddle from above, its station at the origin and its nose to the right, once around.
func outlineOf(s *saddle.Shape, station, step float64) []plane.Point {
	stations := along(s, step)
	var pts []plane.Point
	for _, st := range stations {
		pts = append(pts, plane.Point{X: station - st, Y: s.Width(st) / 2})
	}
	for i := len(stations) - 1; i >= 0; i-- {
		pts = append(pts, plane.Point{X: station - stations[i], Y: -s.Width(stations[i]) / 2})
	}
	return pts
}
