package draw

import (
	"fmt"
	"math"

	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Top draws the saddles from above, laid over each other where they carry the rider, front to the right.
func (v *Scene) Top(o Sheet) *Picture {
	p := &Picture{Title: "Saddles from above: " + v.Posture.Name, Width: o.Width}
	top := v.titled(p, o)
	const left, right, above, below = 13.0, 6.0, 5.5, 18.5
	station := func(l Layer) float64 { s, _ := v.stance(l).Shape.WidthStation(v.Posture.Support); return s }
	var lo, hi plane.Point
	for _, l := range v.layers() {
		a, b := around(outlineOf(v.stance(l).Shape, station(l), 5)...)
		lo = plane.Point{X: math.Min(lo.X, a.X), Y: math.Min(lo.Y, a.Y)}
		hi = plane.Point{X: math.Max(hi.X, b.X), Y: math.Max(hi.Y, b.Y)}
	}
	size := hi.Sub(lo)
	scale := o.Scale
	if scale == 0 {
		scale = fitting(size.X, size.Y, o.Width-left-right, o.Height-top-above-below)
	} else {
		p.Width = math.Max(110, size.X/scale+left+right)
	}
	p.Height = top + above + size.Y/scale + below
	f := frame{scale, plane.Point{X: (p.Width+left-right)/2 - (lo.X+hi.X)/2/scale, Y: top + above + hi.Y/scale}}
	p.Scale, p.Origin = scale, f.origin
	c := &crowd{page: box{plane.Point{Y: top}, plane.Point{X: p.Width, Y: p.Height}}}

	for _, l := range v.layers() {
		pts := f.all(outlineOf(v.stance(l).Shape, station(l), math.Max(1, scale/2)))
		if l == Target {
			p.Area(SaddleIn, l, "outline", pts...)
		}
		c.avoid(append(pts, pts[0]))
	}
	if v.shows(Source) { // over the target's tint
		pts := f.all(outlineOf(v.Source.Shape, station(Source), math.Max(1, scale/2)))
		p.Line(Dashed, Source, "outline", append(pts, pts[0])...)
	}
	p.Line(Chain, Both, "", f.at(plane.Point{X: lo.X - 4*scale}), f.at(plane.Point{X: hi.X + 4*scale}))

	// The support line, with the width it stands for where the saddle has it.
	half := v.Posture.Support / 2
	reach := math.Max(hi.Y, half) + 3*scale
	p.Line(Strong, Both, "support", f.at(plane.Point{Y: reach}), f.at(plane.Point{Y: -reach}))
	for _, y := range []float64{half, -half} {
		p.Dot(Accent, Both, "", f.at(plane.Point{Y: y}), 1)
	}
	c.avoid([]plane.Point{f.at(plane.Point{Y: reach}), f.at(plane.Point{Y: -reach})})
	at := f.at(plane.Point{Y: reach}).Add(plane.Point{X: 1.5, Y: 2.2})
	text := fmt.Sprintf("support, %s wide", Fixed(v.Posture.Support, 1))
	p.SayOn(Label, Both, at, Start, 0, text)
	c.boxes = append(c.boxes, textBox(text, Label, at, Start, 0))

	// Below: how far nose and tail lie from the support.
	y := f.at(lo).Y + 6
	for _, l := range v.layers() {
		s, st := v.stance(l).Shape, station(l)
		word := map[Layer]string{Source: "from", Target: "to"}[l]
		p.Say(Label, l, plane.Point{X: f.at(lo).X - 3, Y: y + 1}, End, word)
		for _, e := range []struct {
			name string
			x    float64
		}{{"nose", st}, {"tail", st - s.Length}} {
			if math.Abs(e.x) < 0.05 {
				continue
			}
			end := f.at(plane.Point{X: e.x})
			edge := f.at(plane.Point{X: e.x, Y: -s.Width(st-e.x) / 2})
			p.Line(Hair, l, "", edge.Add(plane.Point{Y: 1}), plane.Point{X: end.X, Y: y + 1})
			p.dimension(c, l, plane.Point{X: f.origin.X, Y: y}, plane.Point{X: end.X, Y: y}, plane.Point{}, "support to "+e.name,
				Fixed(math.Abs(e.x), 1))
		}
		y += 5
	}
	p.scaleBar(plane.Point{X: p.Width - 1, Y: p.Height - 1}, scale)
	p.Text = "The saddles from above, to scale, laid over each other where they carry the rider; front to the right."
	for _, l := range v.layers() {
		s := v.stance(l).Shape
		st, fit := s.WidthStation(v.Posture.Support)
		_, widest := s.Widest()
		p.Text += fmt.Sprintf(" %s: %s mm long, %s mm at its widest; it carries %s mm behind its nose.",
			map[Layer]string{Source: "From", Target: "To"}[l], Fixed(s.Length, 1), Fixed(widest, 1), Fixed(st, 1))
		if fit == saddle.TooNarrow {
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
