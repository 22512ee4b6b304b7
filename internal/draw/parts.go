package draw

import (
	"math"
	"slices"

	"carryover/internal/assembly"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// parts are the lines of saddle, bar, lever, stem and pads in the side view, mm, the saddle's a point every step mm.
func (s *standing) parts(step float64) []piece {
	var list []piece
	add := func(name string, lines ...[]plane.Point) {
		for _, l := range lines {
			if len(l) > 1 {
				list = append(list, piece{name: name, line: l})
			}
		}
	}
	if s.Shape != nil {
		top, under := profile(s, step), underside(s)
		add("saddle body", append(append(slices.Clone(top), under...), top[0]))
		add("saddle", top)
		add("rails", under[1:3])
	}
	add("bar", barLine(s))
	add("stem", stemLine(s))
	add("lever", leverLines(s)...)
	add("pad", padLines(s)...)
	return list
}

// posed are points of a body where it lies.
func posed(pose plane.Pose, pts ...plane.Point) []plane.Point {
	out := make([]plane.Point, len(pts))
	for i, p := range pts {
		out[i] = pose.At(p)
	}
	return out
}

// profile is the top of a saddle in the side view, from nose to tail, a point every step mm.
func profile(s *standing, step float64) (pts []plane.Point) {
	for _, st := range along(s.Shape, step) {
		pts = append(pts, s.Shape.Point(st))
	}
	return posed(s.Poses[assembly.Saddle], pts...)
}

// along are stations from nose to tail, the listed ones and one at least every step mm between them.
func along(s *saddle.Shape, step float64) []float64 {
	var all []float64
	listed := s.Stations()
	for i, st := range listed {
		if i > 0 {
			n := int(math.Ceil((st - listed[i-1]) / step))
			for k := 1; k < n; k++ {
				all = append(all, listed[i-1]+(st-listed[i-1])*float64(k)/float64(n))
			}
		}
		all = append(all, st)
	}
	return all
}

// underside leads from the tail along the rails back to the nose. Only the rails' stretch is measured; the rest
// makes it look like a saddle.
func underside(s *standing) []plane.Point {
	r := s.Shape.Rail
	return posed(s.Poses[assembly.Saddle], s.Shape.Point(s.Shape.Length).Add(plane.Point{X: 4, Y: -14}),
		s.Shape.RailPoint(r.To), s.Shape.RailPoint(r.From), s.Shape.Point(0).Add(plane.Point{X: -8, Y: -14}))
}

// barLine is the bar's centreline in the side view: along the flat run, around the bend and down to the drops.
func barLine(s *standing) []plane.Point {
	b := s.BarShape
	if b == nil || !s.Poses[assembly.Bar].Origin.Finite() {
		return nil
	}
	return posed(s.Poses[assembly.Bar], b.Line()...)
}

// leverLines are the lever's body: from its mount to the hollow of the hand, and its top surface there.
func leverLines(s *standing) [][]plane.Point {
	if s.BarShape == nil || s.Lever == nil || !s.BarShape.Curved() || !s.Hood.Known {
		return nil
	}
	mount, _ := s.BarShape.Mount(s.LeverAt)
	top := plane.Pose{Origin: s.Hood.At, Turn: s.Hood.Angle}
	// The hand lies on the top surface behind the horn; the horn and the underside are only sketched.
	return [][]plane.Point{posed(s.Poses[assembly.Bar], mount, top.At(plane.Point{X: -28}), top.At(plane.Point{X: 14}),
		top.At(plane.Point{X: 26, Y: 16}),
		top.At(plane.Point{X: 36, Y: 14}), top.At(plane.Point{X: 34, Y: -14}), top.At(plane.Point{X: 4, Y: -30}), mount)}
}

// padLines are the pads, what carries them, and the extension to the grip.
func padLines(s *standing) [][]plane.Point {
	if s.PadLength == 0 && s.Clipon == nil {
		return nil
	}
	pose := s.Poses[s.Pad.Body]
	if pose.Origin == (plane.Point{}) { // nothing says where they are
		return nil
	}
	half := s.PadLength / 2
	at := func(x, y float64) plane.Point { return s.Pad.At.Add(plane.Point{X: x, Y: y}) }
	lines := [][]plane.Point{posed(pose, at(-half, 6), at(-half, 0), at(half, 0), at(half, 6))}
	if s.Clipon != nil {
		lines = append(lines, posed(pose, plane.Point{}, at(0, -8), s.Pad.At))
		if s.Grip.Known && s.Grip.Body == s.Pad.Body {
			lines = append(lines, posed(pose, at(-half, -14), at(0.62*(s.Grip.At.X-s.Pad.At.X), -14), s.Grip.At))
		}
	}
	return lines
}

// stemLine leads from the top of the upper bearing cover along the steerer and the stem to the bar's clamp.
func stemLine(s *standing) []plane.Point {
	st, ok := s.Bike.Steerer()
	if !ok || s.Bike.Stem == nil {
		return nil
	}
	clamp := s.Poses[assembly.Bar].Origin
	up := st.Up()
	// The stem leaves the steerer where the clamp's foot on the axis lies, for a stem square to it near enough.
	foot := st.Top.Add(up.Scale(clamp.Sub(st.Top).Dot(up)))
	return []plane.Point{st.Top.Sub(up.Scale(60)), foot, clamp}
}
