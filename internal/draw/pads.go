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
	area := func(k Style, name string, x, y, w, h float64) {
		p.Area(k, To, name, f.at(plane.Point{X: x, Y: y + h}), f.at(plane.Point{X: x + w, Y: y + h}), f.at(plane.Point{X: x + w, Y: y}), f.at(plane.Point{X: x, Y: y}))
	}
	area(Carriage, "bar", -bar/2, lo.Y, bar, size.Y)
	if w := s.Bike.Bar.ClampWidth; w != nil {
		area(Carriage, "stem plate", -bar/2-8, -*w/2, bar+16, *w)
	}
	for _, sign := range []float64{1, -1} {
		y := sign * (c.Gap/2 + clamp/2)
		if !math.IsNaN(s.Extension) {
			area(Carriage, "extension", -bar/2-20, y-tube/2, reach+bar/2+20, tube)
		}
		area(Open, "clamp", -bar/2-5, y-clamp/2, bar+10, clamp)
		at := plane.Point{X: s.Hole, Y: sign * spacing.Target / 2}
		w, h := plane.Point{X: padLength / 2}, plane.Point{Y: padWidth / 2}
		p.Line(Heavy, To, "pad", f.all([]plane.Point{at.Sub(w).Sub(h), at.Add(w).Sub(h), at.Add(w).Add(h), at.Sub(w).Add(h), at.Sub(w).Sub(h)})...)
		p.Dot(Accent, To, "pad centre", f.at(at), 0.95)
	}
	p.Line(Chain, Both, "", f.at(plane.Point{X: lo.X - 2*scale}), f.at(plane.Point{X: hi.X + 3*scale}))
	p.scaleBar(plane.Point{X: p.Width - edge - 8, Y: p.Height - 4.6}, 25)
	p.Say(Minor, Both, plane.Point{X: edge, Y: p.Height - 1}, Start, scaleName(scale)+", mm; clamps and tubes sketched")
	// Dimensions: spacing at the back, gap and plate in front of the bar's outline, reach of the holes and the grips below.
	x := f.at(lo).X - 6
	half := spacing.Target / 2
	back := func(y float64) { // an extension line to the left
		p.Line(Hair, Both, "", f.at(plane.Point{X: s.Hole, Y: y}).Sub(plane.Point{X: 1.5}), plane.Point{X: x - 1, Y: f.at(plane.Point{Y: y}).Y})
	}
	back(half)
	back(-half)
	r.Dimension(Label, math.Pi, plane.Point{X: x, Y: f.at(plane.Point{Y: -half}).Y}, plane.Point{X: x, Y: f.at(plane.Point{Y: half}).Y}, "spacing",
		"pad centres "+mm(spacing.Target))
	y := f.at(lo).Y + 5
	along := func(a, b float64, name, text string) {
		if math.Abs(a-b) < 0.5 {
			return
		}
		for _, e := range []float64{a, b} {
			p.Line(Hair, Both, "", plane.Point{X: f.at(plane.Point{X: e}).X, Y: f.at(lo).Y + 1}, plane.Point{X: f.at(plane.Point{X: e}).X, Y: y + 1})
		}
		r.Dimension(Label, -math.Pi/4, plane.Point{X: f.at(plane.Point{X: a}).X, Y: y}, plane.Point{X: f.at(plane.Point{X: b}).X, Y: y}, name, text)
	}
	if !math.IsNaN(s.Extension) {
		along(s.Hole, reach, "extension", "extension "+mm(s.Extension))
	}
	where := " ahead of the bar"
	if s.Hole < 0 {
		where = " behind the bar"
	}
	along(0, s.Hole, "hole", "hole "+mm(math.Abs(s.Hole))+where)
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
