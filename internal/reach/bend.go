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

// miss returns the vector from the nearest place of the contact to the wanted one, at turns t and p.
func (l *bendLimb) miss(t, p float64) plane.Point {
	to := l.wish.Place.Sub(l.arm.Bend.Centre.Turn(t)).Sub(l.arm.Bend.Hand.Turn(p))
	return to.Sub(l.clamps.Nearest(to))
}

func (l *bendLimb) square(t, p float64) float64 {
	m := l.miss(t, p)
	a := l.wish.Weight * (p - l.wanted())
	return m.Dot(m) + a*a
}

// turns is the stretch of bar turns that the lever's place on the bend allows at hand turn p.
func (l *bendLimb) turns(p float64) Range {
	f, t := l.arm.Bend.F, l.arm.Turn.Range
	return Range{math.Max(t.Lo, p+f.Lo), math.Min(t.Hi, p+f.Hi)}
}

// box is a rectangle of bar turns t and hand turns p.
type box struct{ t, p Range }

// empty reports whether no lever place fits: f = t - p must be possible.
func (l *bendLimb) empty(b box) bool {
	return b.t.Lo-b.p.Hi > l.arm.Bend.F.Hi || b.t.Hi-b.p.Lo < l.arm.Bend.F.Lo
}

// bestOnBend is Best for a lever free on the bend. When the hand's angle can be had exactly and some bar
// turn reaches the place exactly, E = 0 and nothing is better; otherwise boxes of (t, p) are bounded from
// below, as in bestTurn, and split.
func bestOnBend(w Wish, a *Arm, clamps plane.Zonogon, cutoff float64) (t, f, square float64) {
	l := bendLimb{w, a, clamps}
	tr := a.Turn.Range
	if len(a.Turn.Values) > 0 {
		square = math.Inf(1)
		for _, v := range a.Turn.Values {
			one := *a
			one.Turn = Turn{Range: Range{v, v}}
			if vt, vf, s := bestOnBend(w, &one, clamps, math.Min(cutoff, square)); s < square {
				t, f, square = vt, vf, s
			}
		}
		return t, f, square
	}
	whole := box{tr, Range{tr.Lo - a.Bend.F.Hi, tr.Hi - a.Bend.F.Lo}}
	p := plane.Clamp(l.wanted(), whole.p.Lo, whole.p.Hi)
	t, square = l.along(p)
	if square <= nought*nought {
		return t, t - p, square
	}
	t, p, square = l.descend(whole, t, p, square)

	open := append(make([]box, 0, 256), whole)
	for len(open) > 0 {
		b := open[len(open)-1]
		open = open[:len(open)-1]
		if l.empty(b) || l.bound(b) >= math.Min(worthwhile(square), cutoff) {
			continue
		}
		wt, wp := b.t.Hi-b.t.Lo, b.p.Hi-b.p.Lo
		if math.Max(wt, wp) < 1e-7 { // a tenth of a micrometre at arm's length
			continue
		}
		mt, mp := b.t.Lo+wt/2, b.p.Lo+wp/2
		if allowed := l.turns(mp); mt >= allowed.Lo && mt <= allowed.Hi {
			if v := l.square(mt, mp); v < worthwhile(square) {
				t, p, square = l.descend(b, mt, mp, v)
			}
		}
		if wt > wp {
			open = append(open, box{Range{b.t.Lo, mt}, b.p}, box{Range{mt, b.t.Hi}, b.p})
		} else {
			open = append(open, box{b.t, Range{b.p.Lo, mp}}, box{b.t, Range{mp, b.p.Hi}})
		}
	}
	return t, t - p, square
}

// along returns the best bar turn for hand turn p and its E², by samples and golden section.
func (l *bendLimb) along(p float64) (t, square float64) {
	r := l.turns(p)
	if r.Hi < r.Lo {
		return r.Lo, math.Inf(1)
	}
	const parts = 32
	step := (r.Hi - r.Lo) / parts
	t, square = r.Lo, math.Inf(1)
	for i := range parts + 1 {
		at := r.Lo + float64(i)*step
		if s := l.square(at, p); s < square {
			t, square = at, s
		}
	}
	if step > 0 && square > nought*nought {
		at, s := minimise(func(x float64) float64 { return l.square(x, p) },
			math.Max(r.Lo, t-step), math.Min(r.Hi, t+step), 1e-10)
		if s < square {
			return at, s
		}
	}
	return t, square
}

// descend improves a known place within b: golden section over p of the best t.
func (l *bendLimb) descend(b box, t, p, square float64) (float64, float64, float64) {
	best := func(x float64) float64 { _, s := l.along(x); return s }
	const parts = 8
	step := (b.p.Hi - b.p.Lo) / parts
	for i := range parts + 1 {
		at := b.p.Lo + float64(i)*step
		if bt, s := l.along(at); s < square {
			t, p, square = bt, at, s
		}
	}
	if step > 0 {
		at, s := minimise(best, math.Max(b.p.Lo, p-step), math.Min(b.p.Hi, p+step), 1e-10)
		if s < square {
			bt, bs := l.along(at)
			return bt, at, bs
		}
	}
	return t, p, square
}

// bound returns a number that E² nowhere in the box falls below: the direction n of the miss in its middle
// is held, n·(want - R(t)·B - R(p)·h) - support(n) is linear in t and p but for at most
// ½(|B|·dt² + |h|·dp²), and t enters nowhere else.
func (l *bendLimb) bound(b box) float64 {
	mt, ht := b.t.Lo+(b.t.Hi-b.t.Lo)/2, (b.t.Hi-b.t.Lo)/2
	mp, hp := b.p.Lo+(b.p.Hi-b.p.Lo)/2, (b.p.Hi-b.p.Lo)/2
	plain := limb{wish: l.wish, arm: l.arm}
	miss := l.miss(mt, mp)
	d := miss.Norm()
	if d <= nought {
		return plain.floor(0, 0, mp, hp)
	}
	n := miss.Scale(1 / d)
	c, h := l.arm.Bend.Centre, l.arm.Bend.Hand
	a := d - math.Abs(n.Dot(c.Turn(mt).Perp()))*ht - (c.Norm()*ht*ht+h.Norm()*hp*hp)/2
	return plain.floor(a, -n.Dot(h.Turn(mp).Perp()), mp, hp)
}
