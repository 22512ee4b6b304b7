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
	c, p := s.Clipon, &Picture{Title: "Pads from above", Of: v.Posture.Name}
	padWidth, padLength := c.PadWidth, c.PadLength
	const clamp, tube, bar, over = 24.0, 22.0, 32.0, 30.0 // of what is only sketched, mm (common practice)
	reach := s.Hole + padLength/2
	if !math.IsNaN(s.Extension) {
		reach = s.Hole + s.Extension
	}
	out := spacing.Target/2 + padWidth/2
	lo := plane.Point{X: math.Min(s.Hole-padLength/2, -bar/2), Y: -math.Max(out, c.Gap/2+clamp) - over}
	hi := plane.Point{X: reach, Y: -lo.Y}
	f := p.place(o, lo, hi, margins{34, 12, o.top() + 9, 15}, 100)
	r := NewRoom(p, plane.Point{X: edge, Y: o.top()}, plane.Point{X: p.Width - edge, Y: p.Height - edge})
	x, y := func(v float64) float64 { return f.At(plane.Point{X: v}).X }, func(v float64) float64 { return f.At(plane.Point{Y: v}).Y }
	area := func(k Style, name string, ahead, left, long, wide float64) {
		p.Area(k, To, name, rect(x(ahead), y(left+wide), long/p.Scale, wide/p.Scale)...)
	}
	area(Carriage, "bar", -bar/2, lo.Y, bar, hi.Y-lo.Y)
	if w := s.Bike.Bar.ClampWidth; w != nil {
		area(Carriage, "stem plate", -bar/2-8, -*w/2, bar+16, *w)
	}
	for _, sign := range []float64{1, -1} {
		across := sign * (c.Gap/2 + clamp/2)
		if !math.IsNaN(s.Extension) {
			area(Carriage, "extension", -bar/2-20, across-tube/2, reach+bar/2+20, tube)
		}
		area(Open, "clamp", -bar/2-5, across-clamp/2, bar+10, clamp)
		pad := rect(x(s.Hole-padLength/2), y(sign*spacing.Target/2+padWidth/2), padLength/p.Scale, padWidth/p.Scale)
		p.Line(Heavy, To, "pad", append(pad, pad[0])...)
		p.Dot(Accent, To, "pad centre", f.At(plane.Point{X: s.Hole, Y: sign * spacing.Target / 2}), 0.95)
	}
	p.Line(Chain, Both, "", f.At(plane.Point{X: lo.X - 2*p.Scale}), f.At(plane.Point{X: hi.X + 3*p.Scale}))
	p.foot("mm; clamps and tubes sketched", 25)
	// The spacing stands at the back, the gap between the extensions, hole and extension below.
	half, low := spacing.Target/2, y(lo.Y)+5
	list := []dimension{upright(f.At(plane.Point{X: s.Hole, Y: -half}), f.At(plane.Point{X: s.Hole, Y: half}), x(lo.X)-6, "spacing",
		"pad centres "+mm(spacing.Target)),
		between(plane.Point{X: x(bar/2) + 7, Y: y(-c.Gap / 2)}, plane.Point{X: x(bar/2) + 7, Y: y(c.Gap / 2)}, "gap", mm(c.Gap))}
	list[0].toward, list[1].toward = math.Pi, 0
	along := func(a, b float64, name, text string) {
		if math.Abs(a-b) >= 0.5 {
			from := plane.Point{X: x(a), Y: low - 5}
			list = append(list, level(from, plane.Point{X: x(b), Y: from.Y}, low, name, text))
			list[len(list)-1].toward = -math.Pi / 4
		}
	}
	along(s.Hole, s.Hole+s.Extension, "extension", "extension "+mm(s.Extension))
	where := " ahead of the bar"
	if s.Hole < 0 {
		where = " behind the bar"
	}
	along(0, s.Hole, "hole", "hole "+mm(math.Abs(s.Hole))+where)
	r.lines(list...)
	r.say(r.texts(list...)...)
	gap := "clear between the clamps " + mm(c.Gap)
	if w := s.Bike.Bar.ClampWidth; w != nil {
		gap += ", stem plate " + mm(*w)
		if *w > c.Gap {
			gap += ": does not fit"
		}
	}
	p.Say(Label, Both, plane.Point{X: p.Width - edge, Y: o.top() + 4}, End, gap)
	p.Text = "The pads from above, to scale, front to the right: pad centres " + mm(spacing.Target) + " mm apart, " + gap + " mm."
	return p
}
