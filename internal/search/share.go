package search

import (
	"math"
	"slices"

	"carryover/internal/plane"
)

// alike is the sine below which two travels share a displacement as if parallel: over a travel of 100 mm they
// then end within the 1e-6 mm to which settings are compared.
const alike = 1e-8

// Share divides the displacement to among the travels: it returns the travel x_i of each with
// Σ x_i·Dir_i = to, lo_i <= x_i <= hi_i and the least Σ (x_i - home_i)². The displacement must be
// reachable; one that is not is replaced by the nearest that is.
//
// The optimum has the form x_i = clamp(home_i + Dir_i·u): two numbers u, the multipliers of the two
// equations, are found by Newton's method on the convex dual. Where travels nearly parallel make u too large
// for that, the stops that hold are enumerated. On the rim of what is reachable every travel across the rim
// is at a stop and only one equation, along the rim, is left.
func Share(to plane.Point, travels []Travel) []float64 {
	slides := make([]plane.Slide, len(travels))
	for i, t := range travels {
		slides[i] = t.Slide
	}
	set := plane.NewZonogon(plane.Point{}, slides)
	to = set.Nearest(to)
	x := quick(to, set, travels)
	if d := short(to, travels, x); d > 10*Nought && !shareByStops(to, travels, x, 10*Nought) && d > Tie {
		shareByStops(to, travels, x, Tie)
	}
	return x
}

// quick shares a displacement that can be reached, but for travels so nearly parallel that u is too large.
func quick(to plane.Point, set plane.Zonogon, travels []Travel) []float64 {
	x := make([]float64, len(travels))
	for i, t := range travels {
		x[i] = plane.Clamp(t.Home, t.Lo, t.Hi)
	}
	if along, n, ok := rim(to, set, travels); ok {
		shareAlongRim(to, travels, x, along, n)
	} else {
		shareInside(to, travels, x)
	}
	return x
}

// short is by how much the travels miss the displacement, mm.
func short(to plane.Point, travels []Travel, x []float64) float64 {
	for i, t := range travels {
		to = to.Sub(t.Dir.Scale(x[i]))
	}
	return to.Norm()
}

// rim returns the edge of what is reachable that a displacement lies on: its direction and its outward
// normal. Where all travels run along one line, everything is on the rim.
func rim(to plane.Point, set plane.Zonogon, travels []Travel) (along, n plane.Point, ok bool) {
	flat := true
	for i, a := range travels {
		if a.Hi == a.Lo {
			continue
		}
		along, n = a.Dir, a.Dir.Perp()
		for _, side := range [2]plane.Point{n, n.Scale(-1)} {
			if set.Support(side)-side.Dot(to) <= Nought*10 {
				return along, side, true
			}
		}
		for _, b := range travels[i+1:] {
			if b.Hi > b.Lo && math.Abs(a.Dir.Cross(b.Dir)) > alike {
				flat = false
			}
		}
	}
	return along, n, flat && along != (plane.Point{})
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
		case across > alike:
			x[i] = t.Hi
		case across < -alike:
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
	for range 60 {
		miss, value, xx, xy, yy := spread(u)
		if miss.Norm() <= Nought/10 {
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
			return
		}
		u = next
	}
}

// shareByStops tries every choice of travels at a stop. The others are then the nearest to home that make up
// the rest to within tol: home + the least change, which lies in the span of the two equations' rows. It
// reports whether there was one.
func shareByStops(to plane.Point, travels []Travel, x []float64, tol float64) bool {
	best := math.Inf(1)
	trial := make([]float64, len(travels))
	var free []int
	var walk func(i int, rest plane.Point)
	walk = func(i int, rest plane.Point) {
		if i < len(travels) {
			t := travels[i]
			trial[i] = t.Lo
			walk(i+1, rest.Sub(t.Dir.Scale(t.Lo)))
			if t.Hi > t.Lo {
				trial[i] = t.Hi
				walk(i+1, rest.Sub(t.Dir.Scale(t.Hi)))
				free = append(free, i)
				walk(i+1, rest.Sub(t.Dir.Scale(t.Home)))
				free = free[:len(free)-1]
			}
			return
		}
		if !leastChange(rest, travels, free, trial, tol) {
			return
		}
		stray := 0.0
		for k, t := range travels {
			stray += (trial[k] - t.Home) * (trial[k] - t.Home)
		}
		if stray < best {
			best = stray
			copy(x, trial)
		}
	}
	walk(0, to)
	return !math.IsInf(best, 1)
}

// leastChange moves the free travels from home by as little as makes up rest, and reports whether that is
// possible within their stops. Rows are taken along and across the first of them: what lies across is small
// for travels nearly parallel to it, and exact.
func leastChange(rest plane.Point, travels []Travel, free []int, x []float64, tol float64) bool {
	if len(free) == 0 {
		return rest.Norm() <= tol
	}
	e := travels[free[0]].Dir
	n := e.Perp()
	// With a across and b along, x - home = a·u + b·v; b is first freed of what it shares with a.
	var aa, ab, bb float64
	for _, i := range free {
		a, b := n.Dot(travels[i].Dir), e.Dot(travels[i].Dir)
		aa, ab, bb = aa+a*a, ab+a*b, bb+b*b
	}
	wantA, wantB := n.Dot(rest), e.Dot(rest)
	u, v, shared := 0.0, 0.0, 0.0
	if aa > alike*alike {
		u, shared = wantA/aa, ab/aa
		if left := bb - ab*shared; left > 0 {
			v = (wantB - wantA*shared) / left
		}
	} else if math.Abs(wantA) > tol {
		return false
	} else {
		v = wantB / bb
	}
	for _, i := range free {
		t := travels[i]
		a, b := n.Dot(t.Dir), e.Dot(t.Dir)
		x[i] = t.Home + a*u + (b-a*shared)*v
		if x[i] < t.Lo-tol || x[i] > t.Hi+tol {
			return false
		}
		x[i] = plane.Clamp(x[i], t.Lo, t.Hi)
		rest = rest.Sub(t.Dir.Scale(x[i] - t.Home))
	}
	return rest.Norm() <= tol
}
