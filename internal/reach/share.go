package reach

import (
	"math"
	"slices"

	"carryover/internal/plane"
)

// Travel is a slide with the place it would rather stay at.
type Travel struct {
	plane.Slide
	Home float64 // mm; need not lie within the stops
}

// Share divides the displacement to among the travels: it returns the travel x_i of each with
// Σ x_i·Dir_i = to, lo_i <= x_i <= hi_i and the least Σ (x_i - home_i)². The displacement must be
// reachable; one that is not is replaced by the nearest that is.
//
// The optimum has the form x_i = clamp(home_i + Dir_i·u): two numbers u, the multipliers of the two
// equations, are found by Newton's method on the convex dual. On the rim of what is reachable every travel
// across the rim is at a stop and only one equation, along the rim, is left.
func Share(to plane.Point, travels []Travel) []float64 {
	slides := make([]plane.Slide, len(travels))
	for i, t := range travels {
		slides[i] = t.Slide
	}
	set := plane.NewZonogon(plane.Point{}, slides)
	to = set.Nearest(to)
	x := make([]float64, len(travels))
	for i, t := range travels {
		x[i] = plane.Clamp(t.Home, t.Lo, t.Hi)
	}
	flat := true
	for i, a := range travels {
		if a.Hi == a.Lo {
			continue
		}
		n := a.Dir.Perp()
		for _, side := range [2]plane.Point{n, n.Scale(-1)} {
			if set.Support(side)-side.Dot(to) <= nought*10 {
				shareAlongRim(to, travels, x, a.Dir, side)
				return x
			}
		}
		for _, b := range travels[i+1:] {
			if b.Hi > b.Lo && math.Abs(a.Dir.Cross(b.Dir)) > 1e-12 {
				flat = false
			}
		}
	}
	if !flat {
		shareInside(to, travels, x)
	}
	return x
}

// shareAlongRim sets every travel that crosses the rim to its stop on side n, and divides what is left
// along the rim among those parallel to it.
func shareAlongRim(to plane.Point, travels []Travel, x []float64, along, n plane.Point) {
	rest := to
	var free []int
	for i, t := range travels {
		switch across := n.Dot(t.Dir); {
		case t.Hi == t.Lo:
			x[i] = t.Lo
		case across > 1e-12:
			x[i] = t.Hi
		case across < -1e-12:
			x[i] = t.Lo
		default:
			free = append(free, i)
			continue
		}
		rest = rest.Sub(t.Dir.Scale(x[i]))
	}
	// Σ s·clamp(home + s·u) rises with u, bending where a travel meets a stop: find the stretch, interpolate.
	sign := func(i int) float64 { return math.Copysign(1, along.Dot(travels[i].Dir)) }
	at := func(i int, u float64) float64 {
		return plane.Clamp(travels[i].Home+sign(i)*u, travels[i].Lo, travels[i].Hi)
	}
	sum := func(u float64) float64 {
		s := 0.0
		for _, i := range free {
			s += sign(i) * at(i, u)
		}
		return s
	}
	var bends []float64
	for _, i := range free {
		bends = append(bends, sign(i)*(travels[i].Lo-travels[i].Home), sign(i)*(travels[i].Hi-travels[i].Home))
	}
	slices.Sort(bends)
	want := along.Dot(rest)
	u := bends[0]
	for k := 1; k < len(bends); k++ {
		lo, hi := sum(bends[k-1]), sum(bends[k])
		if want <= lo {
			break
		}
		u = bends[k]
		if want < hi {
			u = bends[k-1] + (bends[k]-bends[k-1])*(want-lo)/(hi-lo)
			break
		}
	}
	for _, i := range free {
		x[i] = at(i, u)
	}
}

// shareInside solves the two equations for the two multipliers. The dual is convex and quadratic in pieces,
// so Newton's step with halving ends on the right piece after a few steps.
func shareInside(to plane.Point, travels []Travel, x []float64) {
	spread := func(u plane.Point) (miss plane.Point, value float64, xx, xy, yy float64) {
		miss = to
		value = -u.Dot(to)
		for i, t := range travels {
			s := t.Dir.Dot(u)
			free := t.Home + s
			x[i] = plane.Clamp(free, t.Lo, t.Hi)
			miss = miss.Sub(t.Dir.Scale(x[i]))
			// The conjugate of ½(x - home)² within the stops, at slope s.
			value += s*x[i] - (x[i]-t.Home)*(x[i]-t.Home)/2
			if free > t.Lo && free < t.Hi {
				xx += t.Dir.X * t.Dir.X
				xy += t.Dir.X * t.Dir.Y
				yy += t.Dir.Y * t.Dir.Y
			}
		}
		return miss, value, xx, xy, yy
	}
	var u plane.Point
	for range 200 {
		miss, value, xx, xy, yy := spread(u)
		if miss.Norm() <= 1e-12 {
			return
		}
		ridge := 0.0
		if det := xx*yy - xy*xy; det < 1e-9 {
			ridge = 1e-3
		}
		a, b, d := xx+ridge, xy, yy+ridge
		det := a*d - b*b
		step := plane.Point{X: (d*miss.X - b*miss.Y) / det, Y: (a*miss.Y - b*miss.X) / det}
		next := u.Add(step)
		for range 60 {
			if _, v, _, _, _ := spread(next); v <= value-1e-4*step.Dot(miss) || step.Norm() < 1e-13 {
				break
			}
			step = step.Scale(0.5)
			next = u.Add(step)
		}
		if next == u {
			break
		}
		u = next
	}
	spread(u)
}
