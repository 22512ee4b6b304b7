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
	p := &Picture{Title: "Saddle from above: " + v.Posture.Name, Width: o.Width}
	line := func(l Layer) Style { return Heavy }
	if len(shapes) == 2 {
		p.Title, line = "Saddles from above: "+v.Posture.Name, v.parts
	}
	const left, right, above = 13.0, 4.0, 6.0
	below := 9.5 + 6*float64(len(shapes))
	top := p.headed(o) + 4.8*float64(len(shapes))
	station := func(l Layer) float64 { return v.bikes[l].seat(v.Posture) }
	var lo, hi plane.Point
	for _, l := range shapes {
		a, b := around(outlineOf(v.bikes[l].Shape, station(l), 5)...)
		lo = plane.Point{X: math.Min(lo.X, a.X), Y: math.Min(lo.Y, a.Y)}
		hi = plane.Point{X: math.Max(hi.X, b.X), Y: math.Max(hi.Y, b.Y)}
	}
	half := v.Posture.Support / 2
	lo.Y, hi.Y = math.Min(lo.Y, -half), math.Max(hi.Y, half)
	size := hi.Sub(lo)
	scale := o.Scale
	if scale == 0 {
		scale = fitting(size.X, size.Y, o.Width-left-right, o.Height-top-above-below)
	} else {
		p.Width = math.Max(110, size.X/scale+left+right)
	}
	for i := range shapes {
		l := shapes[len(shapes)-1-i]
		y := top - 4.8*float64(len(shapes)-i)
		p.Line(line(l), l, "", plane.Point{X: edge, Y: y + 2.6}, plane.Point{X: edge + 9, Y: y + 2.6})
		p.Say(Label, l, plane.Point{X: edge + 11, Y: y + 3.6}, Start, Shortened(v.name(l), Label, p.Width-2*edge-11))
	}
	p.Height = top + above + size.Y/scale + below
	f := frame{scale, plane.Point{X: (p.Width+left-right)/2 - (lo.X+hi.X)/2/scale, Y: top + above + hi.Y/scale}}
	p.Scale, p.Origin = scale, f.origin
	r := NewRoom(p, plane.Point{X: edge, Y: top}, plane.Point{X: p.Width - edge, Y: p.Height - edge})

	for i := range shapes { // the dashed one over the other's tint
		l := shapes[len(shapes)-1-i]
		pts := f.all(outlineOf(v.bikes[l].Shape, station(l), math.Max(1, scale/2)))
		if line(l) == Dashed {
			p.Line(Dashed, l, "outline", append(pts, pts[0])...)
		} else {
			p.Area(Body, l, "outline", pts...)
		}
	}
	p.Line(Chain, Both, "", f.at(plane.Point{X: lo.X - 3*scale}), f.at(plane.Point{X: hi.X + 3*scale}))
	// The support line, with the width it stands for.
	reach := hi.Y + 2.5*scale
	p.Line(Strong, Both, "support", f.at(plane.Point{Y: reach}), f.at(plane.Point{Y: -reach}))
	for _, y := range []float64{half, -half} {
		p.Dot(Accent, Both, "", f.at(plane.Point{Y: y}), 1)
	}
	// Below: how far nose and tail lie from the support, all lines before any number.
	y := f.at(lo).Y + 6
	type span struct {
		end  plane.Point
		text string
	}
	var spans []span
	for _, l := range shapes {
		s, st := v.bikes[l].Shape, station(l)
		if len(shapes) == 2 {
			p.Line(line(l), l, "", plane.Point{X: edge, Y: y}, plane.Point{X: edge + 7, Y: y})
		}
		for _, e := range []struct {
			name string
			x    float64
		}{{"nose", st}, {"tail", st - s.Length}} {
			if math.Abs(e.x) < 0.05 {
				continue
			}
			end := plane.Point{X: f.at(plane.Point{X: e.x}).X, Y: y}
			p.Line(Hair, l, "", f.at(plane.Point{X: e.x, Y: -s.Width(st-e.x) / 2}).Add(plane.Point{Y: 1}), end.Add(plane.Point{Y: 1}))
			r.dimension(plane.Point{X: f.origin.X, Y: y}, end, "support to "+e.name)
			spans = append(spans, span{end, mm(math.Abs(e.x))})
		}
		y += 6
	}
	p.scaleBar(plane.Point{X: p.Width - edge - 8, Y: p.Height - 4.6}, 50)
	p.Say(Minor, Both, plane.Point{X: edge, Y: p.Height - 1}, Start, scaleName(scale)+", mm")
	for _, e := range spans {
		r.sayDimension(Label, -math.Pi/2, plane.Point{X: f.origin.X, Y: e.end.Y}, e.end, e.text)
	}
	r.Label(Label, Both, f.at(plane.Point{Y: reach}), fmt.Sprintf("support, %s wide", mm(v.Posture.Support)), 0)
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
