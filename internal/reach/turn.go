package reach

import (
	"math"

	"carryover/internal/plane"
)

// slack is how much better than the best known E (mm) an unexplored turn would have to be: a tenth of the
// 1e-6 mm within which settings are equal.
const slack = 1e-7

// worthwhile is the E² below which an unexplored branch still matters, given the best so far.
func worthwhile(best float64) float64 {
	e := math.Max(0, math.Sqrt(best)-slack)
	return e * e
}

// bestTurn finds the least E² over the turns of r and proves it.
//
// If the contact is reached exactly at the allowed turn nearest to the wanted one, nothing is better: both
// terms of E² are least there. Otherwise a local minimum is found first and then every stretch of turns is
// bounded from below (bound) and halved until no stretch can hold anything better.
func (l *limb) bestTurn(r Range, cutoff float64) (t, square float64) {
	t = plane.Clamp(l.wanted(), r.Lo, r.Hi)
	square = l.square(t)
	if l.miss(t).Norm() <= Nought || r.Hi <= r.Lo {
		return t, square
	}
	// A turn further from the wanted one than E/k cannot pay.
	wide := math.Sqrt(square) / l.wish.Weight
	r = Range{math.Max(r.Lo, l.wanted()-wide), math.Min(r.Hi, l.wanted()+wide)}
	if r.Hi <= r.Lo {
		return t, square
	}
	if low := l.bound(r); low >= cutoff {
		return t, math.Inf(1)
	}
	if square < cutoff {
		t, square = l.descend(r, t, square)
	}

	open := make([]Range, 0, 64)
	open = append(open, r)
	for len(open) > 0 {
		s := open[len(open)-1]
		open = open[:len(open)-1]
		if l.bound(s) >= math.Min(worthwhile(square), cutoff) {
			continue
		}
		mid := s.Lo + (s.Hi-s.Lo)/2
		if s.Hi-s.Lo < 1e-9 { // narrower than any rounding can tell apart
			continue
		}
		if v := l.square(mid); v < math.Min(worthwhile(square), cutoff) {
			t, square = l.descend(s, mid, v)
		}
		// The half towards the best turn is explored first: it tightens the answer sooner.
		near, far := Range{s.Lo, mid}, Range{mid, s.Hi}
		if t > mid {
			near, far = far, near
		}
		open = append(open, far, near)
	}
	return t, square
}

// golden is the ratio of golden-section search.
var golden = (math.Sqrt(5) - 1) / 2

// Minimise returns a local minimum of f between lo and hi by golden section, to about tol.
func Minimise(f func(float64) float64, lo, hi, tol float64) (x, fx float64) {
	a, b := lo+(1-golden)*(hi-lo), lo+golden*(hi-lo)
	fa, fb := f(a), f(b)
	for hi-lo > tol {
		if fa <= fb {
			hi, b, fb = b, a, fa
			a = lo + (1-golden)*(hi-lo)
			fa = f(a)
		} else {
			lo, a, fa = a, b, fb
			b = lo + golden*(hi-lo)
			fb = f(b)
		}
	}
	if fa <= fb {
		return a, fa
	}
	return b, fb
}

// descend looks for the best turn of r from a known one: nine samples choose a basin, golden section ends in it.
func (l *limb) descend(r Range, t, square float64) (float64, float64) {
	const parts = 8
	step := (r.Hi - r.Lo) / parts
	for i := range parts + 1 {
		at := r.Lo + float64(i)*step
		if s := l.square(at); s < square {
			t, square = at, s
		}
	}
	at, s := Minimise(l.square, math.Max(r.Lo, t-step), math.Min(r.Hi, t+step), 1e-10)
	if s < square {
		return at, s
	}
	return t, square
}

// bound returns a number that E² nowhere on the stretch r of turns falls below.
//
// The distance to a convex set is the greatest n·(place) - support(n) over unit vectors n, so any one n
// gives a lower bound for every turn. Two choices are tried, both the direction of the miss in the middle
// of the stretch: held still, and turning along with the part (which suits a slide in the part's own
// frame). Along the stretch each is A + B·d minus at most ½·C·d², so that E² is at least the minimum of a
// convex function known in closed form (floor). The error is of second order in the width of the stretch.
func (l *limb) bound(r Range) float64 {
	mid, half := r.Lo+(r.Hi-r.Lo)/2, (r.Hi-r.Lo)/2
	miss := l.miss(mid)
	d := miss.Norm()
	if d <= Nought {
		return l.floor(0, 0, mid, half)
	}
	n := miss.Scale(1 / d)
	return math.Max(l.boundStill(n, mid, half), l.boundTurning(n, mid, half))
}

// boundStill holds n: n·(want - clamp) - support of the travels - max over the ends x of n·R(t)·(x, y).
// The last is, for each end, a sinusoid of amplitude |(x, y)|.
func (l *limb) boundStill(n plane.Point, mid, half float64) float64 {
	rest := n.Dot(l.wish.Place.Sub(l.clamp))
	for i, g := range l.set.Half {
		if i != l.slide {
			rest -= math.Abs(n.Dot(g))
		}
	}
	low := math.Inf(1)
	for _, x := range [2]float64{l.arm.X.Lo, l.arm.X.Hi} {
		v := plane.Point{X: x, Y: l.arm.Y}
		at := v.Turn(mid)
		low = math.Min(low, l.floor(rest-n.Dot(at)-v.Norm()*half*half/2, -n.Dot(at.Perp()), mid, half))
	}
	return low
}

// boundTurning turns n with the part, so that what the part adds stays the same and the travels become
// sinusoids: of amplitude |want - clamp| and, once a travel's stop cannot change within the stretch, its half.
func (l *limb) boundTurning(n plane.Point, mid, half float64) float64 {
	if l.slide < 0 {
		return 0
	}
	to := l.wish.Place.Sub(l.clamp)
	own := n.Turn(-mid)
	at := n.Dot(to) - math.Max(own.X*l.arm.X.Lo, own.X*l.arm.X.Hi) - own.Y*l.arm.Y
	slope, curve := n.Perp().Dot(to), to.Norm()
	for i, g := range l.set.Half {
		if i == l.slide {
			continue
		}
		across, size := n.Dot(g), g.Norm()
		if math.Abs(across) <= size*math.Sin(math.Min(half, math.Pi/2)) {
			at -= size // its stop may change: take the most it can do
			continue
		}
		at -= math.Abs(across)
		slope -= math.Copysign(1, across) * n.Perp().Dot(g)
		curve += size
	}
	return l.floor(at-curve*half*half/2, slope, mid, half)
}

// floor returns the least of max(0, a + b·d)² + (k·(mid + d - wanted))² over |d| <= half. The function is
// convex: its minimum is that of the full quadratic where a + b·d >= 0 there, else of the second term alone.
func (l *limb) floor(a, b, mid, half float64) float64 {
	k2 := l.wish.Weight * l.wish.Weight
	off := mid - l.wanted()
	d := plane.Clamp(-(a*b+k2*off)/(b*b+k2), -half, half)
	if v := a + b*d; v >= 0 {
		return v*v + k2*(off+d)*(off+d)
	}
	lo, hi := -half, half
	if b > 0 {
		hi = math.Min(hi, -a/b)
	} else if b < 0 {
		lo = math.Max(lo, -a/b)
	}
	d = plane.Clamp(-off, lo, hi)
	return k2 * (off + d) * (off + d)
}
