package alternate

import (
	"math"
	"slices"

	"carryover/internal/plane"
)

// bound returns a number that the objective nowhere in the box falls below.
//
// The distance of the wanted places, taken together as one point of 2P dimensions, to the convex set of
// what travels reach is at least n·want - max n·contact for any unit n; the direction of the miss in the
// middle of the box is used. The maximum is at stops of the travels and at corners of the places in
// turning frames; for one corner it is linear in the turns but for at most ½|n_p||v|·δ².
func (w *work) bound(box []stretch, x []float64) float64 {
	c := w.c
	n := make([]plane.Point, len(c.links))
	d := 0.0
	for p := range c.links {
		at, _ := c.links[p].contact(x)
		n[p] = c.links[p].want.Sub(at)
		d += n[p].Dot(n[p])
	}
	d = math.Sqrt(d)
	angles := w.angleTerms(box, x)
	if d < 1e-9 {
		return angles.least(0, make([]float64, len(c.vars)))
	}
	rest := 0.0 // n·(want - what does not turn), travels at their best stops
	pull := make([]float64, len(c.vars))
	for p := range c.links {
		l := &c.links[p]
		n[p] = n[p].Scale(1 / d)
		rest += n[p].Dot(l.want.Sub(l.base))
		for _, s := range l.slides {
			pull[s.v] += n[p].Dot(s.dir)
		}
	}
	for i, v := range pull {
		rest -= math.Max(v*box[i].lo, v*box[i].hi)
	}
	y := slices.Clone(x)
	slope := make([]float64, len(c.vars))
	least := math.Inf(1)
	for corner := range 1 << len(w.inner) {
		for k, i := range w.inner {
			y[i] = box[i].lo
			if corner>>k&1 == 1 {
				y[i] = box[i].hi
			}
		}
		clear(slope)
		a := rest
		for p := range c.links {
			for j := range c.links[p].terms {
				t := &c.links[p].terms[j]
				v := t.vector(y).Turn(t.angle(x))
				a -= n[p].Dot(v)
				across := n[p].Dot(v.Perp())
				half := 0.0
				if t.turn >= 0 {
					slope[t.turn] -= across
					half += (box[t.turn].hi - box[t.turn].lo) / 2
				}
				if t.back >= 0 {
					slope[t.back] += across
					half += (box[t.back].hi - box[t.back].lo) / 2
				}
				a -= n[p].Norm() * v.Norm() * half * half / 2
			}
		}
		least = math.Min(least, angles.least(a, slope))
	}
	return least
}

// angleTerms are the angle parts of the objective over a box: constant, or a quadratic in one turn each.
type angleTerms struct {
	base float64
	half []float64 // of each turn's stretch, radians
	k2   []float64 // Σ k² of the postures that turn with it
	lin  []float64 // Σ k²·(angle - wanted) in the middle
	sq   []float64 // Σ k²·(angle - wanted)² in the middle
	both []difference
}

// difference is the angle part of a posture whose angle is one turn less another (none: -1): k·(off + δ_turn - δ_back).
type difference struct {
	turn, back int
	off, k     float64
}

func (w *work) angleTerms(box []stretch, x []float64) angleTerms {
	c := w.c
	m := len(c.vars)
	a := angleTerms{half: make([]float64, m), k2: make([]float64, m), lin: make([]float64, m), sq: make([]float64, m)}
	for i := range c.vars {
		if c.vars[i].turns {
			a.half[i] = (box[i].hi - box[i].lo) / 2
		}
	}
	for p := range c.links {
		l := &c.links[p]
		_, angle := l.contact(x)
		off, k2 := angle-l.angle, l.weight*l.weight
		t := l.terms[len(l.terms)-1]
		switch {
		case t.turn >= 0 && t.back < 0:
			a.k2[t.turn] += k2
			a.lin[t.turn] += k2 * off
			a.sq[t.turn] += k2 * off * off
		case t.back >= 0:
			a.both = append(a.both, difference{t.turn, t.back, off, l.weight})
		default:
			a.base += k2 * off * off
		}
	}
	return a
}

// least bounds min over the box of max(0, a + b·δ)² + angles(δ) from below. As s² = max over l of 2·l·s - l²
// for s >= 0, every l >= 0 gives a bound that falls apart into the single turns; the best l is looked for
// by golden section (the bound is concave in l).
func (t *angleTerms) least(a float64, b []float64) float64 {
	if len(t.both) > 0 {
		return t.leastCoupled(a, b)
	}
	at := func(l float64) float64 {
		sum := t.base - l*l + 2*l*a
		for i, h := range t.half {
			if h == 0 {
				sum += t.sq[i]
				continue
			}
			lin := 2*l*b[i] + 2*t.lin[i]
			var d float64
			switch {
			case t.k2[i] > 0:
				d = plane.Clamp(-lin/(2*t.k2[i]), -h, h)
			case lin > 0:
				d = -h
			default:
				d = h
			}
			sum += t.sq[i] + lin*d + t.k2[i]*d*d
		}
		return sum
	}
	top := a
	for i, h := range t.half {
		top += math.Abs(b[i]) * h
	}
	best := at(0)
	if top <= 0 {
		return best
	}
	l := plane.Lowest(func(l float64) float64 { return -at(l) }, plane.Range{Hi: top}, 1e-6*top)
	return math.Max(best, at(l))
}

// leastCoupled is least with angles that are differences of turns. Each of their squares is bounded in the
// same way, y² >= 2·m·y - m² for any m, so that any multipliers give a bound; those of the convex problem's own
// minimum, which bounded least squares finds, give the best one.
func (t *angleTerms) leastCoupled(a float64, b []float64) float64 {
	dual := func(l float64, m []float64) float64 {
		sum := t.base - l*l + 2*l*a
		slope := make([]float64, len(b))
		for i := range b {
			slope[i] = 2*l*b[i] + 2*t.lin[i]
		}
		for r, y := range t.both {
			sum += 2*m[r]*y.k*y.off - m[r]*m[r]
			if y.turn >= 0 {
				slope[y.turn] += 2 * m[r] * y.k
			}
			slope[y.back] -= 2 * m[r] * y.k
		}
		for i, h := range t.half {
			d := -math.Copysign(h, slope[i])
			if t.k2[i] > 0 {
				d = plane.Clamp(-slope[i]/(2*t.k2[i]), -h, h)
			}
			sum += t.sq[i] + slope[i]*d + t.k2[i]*d*d
		}
		return sum
	}
	n := len(b)
	best := math.Inf(-1)
	for _, place := range []bool{true, false} { // with the place's part, and where that is nought
		rows := len(t.both) + n
		col := make([][]float64, n)
		box, vars := make([]stretch, n), make([]variable, n)
		for i := range col {
			col[i] = make([]float64, rows+1)
			box[i] = stretch{lo: -t.half[i], hi: t.half[i]}
			col[i][len(t.both)+i] = math.Sqrt(t.k2[i])
			if place {
				col[i][rows] = b[i]
			}
		}
		res := make([]float64, rows+1)
		for r, y := range t.both {
			res[r] = -y.k * y.off
			if y.turn >= 0 {
				col[y.turn][r] += y.k
			}
			col[y.back][r] -= y.k
		}
		for i, k2 := range t.k2 {
			if k2 > 0 {
				res[len(t.both)+i] = -t.lin[i] / math.Sqrt(k2)
			}
		}
		if place {
			res[rows] = -a
		}
		bounded(col, res, make([]float64, n), box, vars)
		m := make([]float64, len(t.both))
		for r := range m {
			m[r] = -res[r]
		}
		l := math.Max(0, -res[rows])
		best = math.Max(best, dual(l, m))
	}
	return best
}
