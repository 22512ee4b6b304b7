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

// profile is the top of a saddle in the side view, from nose to tail, a point every step mm.
func profile(s *standing, step float64) []plane.Point {
	pose := s.Poses[assembly.Saddle]
	var pts []plane.Point
	for _, st := range along(s.Shape, step) {
		pts = append(pts, pose.At(s.Shape.Point(st)))
	}
	return pts
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
	pose, r := s.Poses[assembly.Saddle], s.Shape.Rail
	return []plane.Point{
		pose.At(s.Shape.Point(s.Shape.Length).Add(plane.Point{X: 4, Y: -14})),
		pose.At(s.Shape.RailPoint(r.To)), pose.At(s.Shape.RailPoint(r.From)),
		pose.At(s.Shape.Point(0).Add(plane.Point{X: -8, Y: -14})),
	}
}

// barLine is the bar's centreline in the side view: along the flat run, around the bend and down to the drops.
func barLine(s *standing) []plane.Point {
	b := s.BarShape
	if b == nil || !s.Poses[assembly.Bar].Origin.Finite() {
		return nil
	}
	pose, local := s.Poses[assembly.Bar], b.Line()
	pts := make([]plane.Point, len(local))
	for i, p := range local {
		pts[i] = pose.At(p)
	}
	return pts
}

// leverLines are the lever's body: from its mount to the hollow of the hand, and its top surface there.
func leverLines(s *standing) [][]plane.Point {
	if s.BarShape == nil || s.Lever == nil || !s.BarShape.Curved() || !s.Hood.Known {
		return nil
	}
	pose := s.Poses[assembly.Bar]
	mount, _ := s.BarShape.Mount(s.LeverAt)
	top := plane.Pose{Origin: s.Hood.At, Turn: s.Hood.Angle}
	// The hand lies on the top surface behind the horn; the horn and the underside are only sketched.
	outline := []plane.Point{mount, top.At(plane.Point{X: -28}), top.At(plane.Point{X: 14}), top.At(plane.Point{X: 26, Y: 16}),
		top.At(plane.Point{X: 36, Y: 14}), top.At(plane.Point{X: 34, Y: -14}), top.At(plane.Point{X: 4, Y: -30})}
	pts := make([]plane.Point, 0, len(outline)+1)
	for _, p := range append(outline, mount) {
		pts = append(pts, pose.At(p))
	}
	return [][]plane.Point{pts}
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
	at := func(p plane.Point) plane.Point { return pose.At(s.Pad.At.Add(p)) }
	cup := []plane.Point{{X: -half, Y: 6}, {X: -half}, {X: half}, {X: half, Y: 6}}
	for i := range cup {
		cup[i] = at(cup[i])
	}
	lines := [][]plane.Point{cup}
	if s.Clipon != nil {
		lines = append(lines, []plane.Point{pose.At(plane.Point{}), pose.At(plane.Point{X: s.Pad.At.X, Y: s.Pad.At.Y - 8}), at(plane.Point{})})
		if s.Grip.Known && s.Grip.Body == s.Pad.Body {
			low := plane.Point{X: s.Pad.At.X + 0.62*(s.Grip.At.X-s.Pad.At.X), Y: s.Pad.At.Y - 14}
			lines = append(lines, []plane.Point{pose.At(plane.Point{X: s.Pad.At.X - half, Y: s.Pad.At.Y - 14}), pose.At(low), pose.At(s.Grip.At)})
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

// inCircle are the pieces of a line inside a circle.
func inCircle(line []plane.Point, centre plane.Point, radius float64) [][]plane.Point {
	var pieces [][]plane.Point
	var piece []plane.Point
	flush := func() {
		if len(piece) > 1 {
			pieces = append(pieces, piece)
		}
		piece = nil
	}
	for i := 1; i < len(line); i++ {
		a, d := line[i-1].Sub(centre), line[i].Sub(line[i-1])
		// |a + t·d| = radius
		qa, qb, qc := d.Dot(d), a.Dot(d), a.Dot(a)-radius*radius
		disc := qb*qb - qa*qc
		if qa == 0 || disc <= 0 {
			flush()
			continue
		}
		root := math.Sqrt(disc)
		from, to := math.Max(0, (-qb-root)/qa), math.Min(1, (-qb+root)/qa)
		if from >= to {
			flush()
			continue
		}
		if from > 0 || len(piece) == 0 {
			flush()
			piece = []plane.Point{line[i-1].Add(d.Scale(from))}
		}
		piece = append(piece, line[i-1].Add(d.Scale(to)))
		if to < 1 {
			flush()
		}
	}
	flush()
	return pieces
}
