package draw

import (
	"math"

	"carryover/internal/plane"
)

// Pads draws the pads of the bike that is set up from above, front to the right: bar, stem plate, clamps, pads and
// extensions. Nil where the posture has none.
func (v *Scene) Pads(o Sheet) *Picture {
	if v.top() != To {
		return nil
	}
	s, spacing := v.bikes[To], v.result.Spacing
	if s.Clipon == nil || spacing == nil {
		return nil
	}
	c, p := s.Clipon, &Picture{Title: "Pads from above: " + v.Posture.Name, Width: o.Width}
	const left, right, above, below = 34.0, 12.0, 9.0, 15.0
	top := p.headed(o)
	padWidth, padLength := c.PadWidth, c.PadLength
	const clamp, tube, bar, over = 24.0, 22.0, 32.0, 30.0 // of what is only sketched, mm (common practice)
	reach := s.Hole + padLength/2
	if !math.IsNaN(s.Extension) {
		reach = s.Hole + s.Extension
	}
	out := spacing.Target/2 + padWidth/2
	lo := plane.Point{X: math.Min(s.Hole-padLength/2, -bar/2), Y: -math.Max(out, c.Gap/2+clamp) - over}
	hi := plane.Point{X: reach, Y: -lo.Y}
	size := hi.Sub(lo)
	scale := o.Scale
	if scale == 0 {
		scale = fitting(size.X, size.Y, o.Width-left-right, o.Height-top-above-below)
	}
	p.Height = top + above + size.Y/scale + below
	f := frame{scale, plane.Point{X: (p.Width+left-right)/2 - (lo.X+hi.X)/2/scale, Y: top + above + hi.Y/scale}}
	p.Scale, p.Origin = scale, f.origin
	r := NewRoom(p, plane.Point{X: edge, Y: top}, plane.Point{X: p.Width - edge, Y: p.Height - edge})
	x, y := func(v float64) float64 { return f.at(plane.Point{X: v}).X }, func(v float64) float64 { return f.at(plane.Point{Y: v}).Y }
	area := func(k Style, name string, ahead, left, long, wide float64) {
		p.Area(k, To, name, rect(x(ahead), y(left+wide), long/scale, wide/scale)...)
	}
	area(Carriage, "bar", -bar/2, lo.Y, bar, size.Y)
	if w := s.Bike.Bar.ClampWidth; w != nil {
		area(Carriage, "stem plate", -bar/2-8, -*w/2, bar+16, *w)
	}
	for _, sign := range []float64{1, -1} {
		across := sign * (c.Gap/2 + clamp/2)
		if !math.IsNaN(s.Extension) {
			area(Carriage, "extension", -bar/2-20, across-tube/2, reach+bar/2+20, tube)
		}
		area(Open, "clamp", -bar/2-5, across-clamp/2, bar+10, clamp)
		pad := rect(x(s.Hole-padLength/2), y(sign*spacing.Target/2+padWidth/2), padLength/scale, padWidth/scale)
		p.Line(Heavy, To, "pad", append(pad, pad[0])...)
		p.Dot(Accent, To, "pad centre", f.at(plane.Point{X: s.Hole, Y: sign * spacing.Target / 2}), 0.95)
	}
	p.Line(Chain, Both, "", f.at(plane.Point{X: lo.X - 2*scale}), f.at(plane.Point{X: hi.X + 3*scale}))
	p.scaleBar(plane.Point{X: p.Width - edge - 8, Y: p.Height - 4.6}, 25)
	p.Say(Minor, Both, plane.Point{X: edge, Y: p.Height - 1}, Start, scaleName(scale)+", mm; clamps and tubes sketched")
	// The spacing stands at the back, the gap between the extensions, hole and extension below: all lines before any number.
	type dimension struct {
		toward     float64
		a, b       plane.Point
		name, text string
	}
	back, low, ahead, half := x(lo.X)-6, y(lo.Y)+5, x(bar/2)+7, spacing.Target/2
	for _, v := range []float64{half, -half} {
		p.Line(Hair, Both, "", plane.Point{X: x(s.Hole) - 1.5, Y: y(v)}, plane.Point{X: back - 1, Y: y(v)})
	}
	list := []dimension{{math.Pi, plane.Point{X: back, Y: y(-half)}, plane.Point{X: back, Y: y(half)}, "spacing",
		"pad centres " + mm(spacing.Target)},
		{0, plane.Point{X: ahead, Y: y(-c.Gap / 2)}, plane.Point{X: ahead, Y: y(c.Gap / 2)}, "gap", mm(c.Gap)}}
	along := func(a, b float64, name, text string) {
		if !(math.Abs(a-b) >= 0.5) {
			return
		}
		for _, e := range []float64{a, b} {
			p.Line(Hair, Both, "", plane.Point{X: x(e), Y: low - 4}, plane.Point{X: x(e), Y: low + 1})
		}
		list = append(list, dimension{-math.Pi / 4, plane.Point{X: x(a), Y: low}, plane.Point{X: x(b), Y: low}, name, text})
	}
	along(s.Hole, s.Hole+s.Extension, "extension", "extension "+mm(s.Extension))
	where := " ahead of the bar"
	if s.Hole < 0 {
		where = " behind the bar"
	}
	along(0, s.Hole, "hole", "hole "+mm(math.Abs(s.Hole))+where)
	for _, d := range list {
		r.dimension(d.a, d.b, d.name)
	}
	for _, d := range list {
		r.sayDimension(Label, d.toward, d.a, d.b, d.text)
	}
	gap := "clear between the clamps " + mm(c.Gap)
	if w := s.Bike.Bar.ClampWidth; w != nil {
		gap += ", stem plate " + mm(*w)
		if *w > c.Gap {
			gap += ": does not fit"
		}
	}
	p.Say(Label, Both, plane.Point{X: p.Width - edge, Y: top + 4}, End, gap)
	p.Text = "The pads from above, to scale, front to the right: pad centres " + mm(spacing.Target) + " mm apart, " + gap + " mm."
	return p
}
