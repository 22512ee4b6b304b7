package reach

import (
	"math"

	"carryover/internal/plane"
)

// bendLimb is an arm whose lever is free on the bend: turn t of the bar and angle f around the bend. With
// p = t - f the turn of the hand itself,
//
//	contact = clamp + R(t)·B + R(p)·h,   contact angle = Offset + p.
type bendLimb struct {
	wish   Wish
	arm    *Arm
	clamps plane.Zonogon
}

func (l *bendLimb) wanted() float64 { return l.wish.Angle - l.arm.Offset }

// miss returns the vector from the nearest place of the contact to the wanted one, at turn t and angle f.
func (l *bendLimb) miss(t, f float64) plane.Point {
	to := l.wish.Place.Sub(l.arm.Bend.Centre.Turn(t)).Sub(l.arm.Bend.Hand.Turn(t - f))
	return to.Sub(l.clamps.Nearest(to))
}

// square is E² at turn t and angle f.
func (l *bendLimb) square(t, f float64) float64 {
	m := l.miss(t, f)
	a := l.wish.Weight * (t - f - l.wanted())
	return m.Dot(m) + a*a
}

// box is a rectangle of bar turns t and angles f around the bend.
type box struct{ t, f Range }

// halves splits a box across its longer side.
func (b box) halves() (box, box) {
	one, other := b, b
	if wt, wf := b.t.Hi-b.t.Lo, b.f.Hi-b.f.Lo; wt > wf {
		one.t.Hi = b.t.Lo + wt/2
		other.t.Lo = one.t.Hi
	} else {
		one.f.Hi = b.f.Lo + wf/2
		other.f.Lo = one.f.Hi
	}
	return one, other
}

// bestOnBend is Best for a lever free on the bend. When the hand's angle can be had exactly and some bar
// turn reaches the place exactly, E = 0 and nothing is better; otherwise boxes of (t, f) are bounded from
// below, as in bestTurn, and split.
func bestOnBend(w Wish, a *Arm, clamps plane.Zonogon, cutoff float64) (t, f, square float64) {
	l := bendLimb{w, a, clamps}
	whole := box{a.Turn.Range, a.Bend.F}
	if l.bound(whole) >= cutoff {
		return whole.t.Lo, whole.f.Lo, math.Inf(1)
	}
	t, f, square = l.atWantedAngle(whole)
	if square <= Nought*Nought {
		return t, f, square
	}
	t, f, square = l.descend(whole, t, f, square)

	open := append(make([]box, 0, 64), whole)
	for len(open) > 0 {
		b := open[len(open)-1]
		open = open[:len(open)-1]
		if l.bound(b) >= math.Min(worthwhile(square), cutoff) {
			continue
		}
		if math.Max(b.t.Hi-b.t.Lo, b.f.Hi-b.f.Lo) < 1e-9 { // narrower than any rounding can tell apart
			continue
		}
		mt, mf := b.t.Lo+(b.t.Hi-b.t.Lo)/2, b.f.Lo+(b.f.Hi-b.f.Lo)/2
		if v := l.square(mt, mf); v < worthwhile(square) {
			t, f, square = l.descend(b, mt, mf, v)
		}
		one, other := b.halves()
		open = append(open, one, other)
	}
	return t, f, square
}

// atWantedAngle returns the best bar turn with the hand turned as nearly as possible as wanted.
func (l *bendLimb) atWantedAngle(b box) (t, f, square float64) {
	p := plane.Clamp(l.wanted(), b.t.Lo-b.f.Hi, b.t.Hi-b.f.Lo)
	t, square = lowest(func(t float64) float64 { return l.square(t, t-p) },
		Range{math.Max(b.t.Lo, p+b.f.Lo), math.Min(b.t.Hi, p+b.f.Hi)}, 32)
	return t, plane.Clamp(t-p, b.f.Lo, b.f.Hi), square
}

// lowest looks for the least of a function: samples choose a basin, golden section ends in it.
func lowest(fn func(float64) float64, r Range, parts int) (x, fx float64) {
	step := math.Max(0, r.Hi-r.Lo) / float64(parts)
	x, fx = r.Lo, fn(r.Lo)
	if step == 0 {
		return x, fx
	}
	for i := range parts {
		at := math.Min(r.Hi, r.Lo+float64(i+1)*step)
		if v := fn(at); v < fx {
			x, fx = at, v
		}
	}
	if fx <= Nought*Nought {
		return x, fx
	}
	if at, v := Minimise(fn, math.Max(r.Lo, x-step), math.Min(r.Hi, x+step), 1e-10); v < fx {
		return at, v
	}
	return x, fx
}

// descend improves a known place within b: over f, the best t.
func (l *bendLimb) descend(b box, t, f, square float64) (float64, float64, float64) {
	along := func(f float64) (float64, float64) {
		return lowest(func(t float64) float64 { return l.square(t, f) }, b.t, 8)
	}
	at, v := lowest(func(f float64) float64 { _, v := along(f); return v }, b.f, 8)
	if v < square {
		bt, _ := along(at)
		return bt, at, v
	}
	return t, f, square
}

// bound returns a number that E² nowhere in the box falls below: the direction n of the miss in its middle
// is held, and n·(want - R(t)·B - R(p)·h) - support(n) is linear in t and f but for at most
// ½(|B|·dt² + |h|·dp²). What is left, max(0, linear)² + (k·(p - wanted))², is convex and depends on two
// linear forms only, so along some line of it nothing changes or both forms vanish: its least in the box is
// on an edge, where floor knows it.
func (l *bendLimb) bound(b box) float64 {
	mt, ht := b.t.Lo+(b.t.Hi-b.t.Lo)/2, (b.t.Hi-b.t.Lo)/2
	mf, hf := b.f.Lo+(b.f.Hi-b.f.Lo)/2, (b.f.Hi-b.f.Lo)/2
	plain := limb{wish: l.wish, arm: l.arm}
	miss := l.miss(mt, mf)
	d := miss.Norm()
	if d <= Nought {
		return plain.floor(0, 0, mt-mf, ht+hf)
	}
	n := miss.Scale(1 / d)
	c, h := l.arm.Bend.Centre, l.arm.Bend.Hand
	hp := ht + hf
	a := d - (c.Norm()*ht*ht+h.Norm()*hp*hp)/2
	byHand := -n.Dot(h.Turn(mt - mf).Perp()) // per radian of p
	byTurn := -n.Dot(c.Turn(mt).Perp())      // per radian of t, the hand's own turn kept
	low := math.Inf(1)
	for _, side := range [2]float64{-1, 1} {
		// t at an end, f runs: p = mt ± ht - f.
		low = math.Min(low, plain.floor(a+side*ht*(byTurn+byHand), byHand, mt+side*ht-mf, hf))
		// f at an end, t runs: p = t - mf ∓ hf.
		low = math.Min(low, plain.floor(a-side*hf*byHand, byTurn+byHand, mt-mf-side*hf, ht))
	}
	return low
}
