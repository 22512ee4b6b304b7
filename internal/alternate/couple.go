package alternate

import (
	"context"
	"math"
	"slices"

	"carryover/internal/plane"
)

// Tolerance is how far above the true least E an answer may lie, mm.
const Tolerance = 1e-3

// variable is one number to decide: a travel of some clamp, a place in a turning frame, or a turn.
type variable struct {
	lo, hi float64   // mm or radians
	values []float64 // rising; nil: anything from lo to hi
	turns  bool
	home   float64
}

// link is one posture's contact as a function of the variables:
//
//	contact = base + Σ x_i·dir_i + Σ over terms of R(θ)·(at + along·x_j, at + up·x_k),   angle = offset + θ of the last term
type link struct {
	base   plane.Point
	slides []slideUse
	terms  []term
	offset float64 // radians
	want   plane.Point
	angle  float64 // wanted, radians
	weight float64 // mm per radian
}

type slideUse struct {
	v   int
	dir plane.Point
}

// term is a vector that turns: θ = turn - back (none: -1), with places x and y in the turning frame.
type term struct {
	turn, back int // variables; -1: none
	fixed      float64
	at         plane.Point
	x, y       int // variables added to at; -1: none
}

// coupling is the least-squares problem of several postures that share variables: minimise
// Σ |contact_p - want_p|² + (k_p·(angle_p - wanted_p))². For given turns it is linear least squares within
// bounds. The turns, and everything that stands on steps, are decided by branch and bound.
type coupling struct {
	vars  []variable
	links []link
	limit int // nodes after which the search gives up
}

// outcome is the best of a coupling.
type outcome struct {
	x      []float64
	square float64 // mm²; +Inf when nothing is better than the cutoff
	bound  float64 // no answer lies below this, mm²
	proven bool
}

// stretch is what a node leaves of a variable: an interval, or the values first..last.
type stretch struct {
	lo, hi      float64
	first, last int
}

func (v *variable) whole() stretch {
	if len(v.values) > 0 {
		return stretch{v.values[0], v.values[len(v.values)-1], 0, len(v.values) - 1}
	}
	return stretch{lo: v.lo, hi: v.hi}
}

type node struct {
	box   []stretch
	bound float64
	start []float64
}

// below is the square that an answer must undercut to matter beside one of the given square.
func below(square float64) float64 {
	e := math.Max(0, math.Sqrt(square)-Tolerance)
	return e * e
}

// solve finds the least square below cutoff.
func (c *coupling) solve(ctx context.Context, cutoff float64) outcome {
	w := newWork(c)
	best := outcome{square: math.Inf(1), proven: true}
	root := node{box: make([]stretch, len(c.vars)), start: make([]float64, len(c.vars))}
	for i := range c.vars {
		root.box[i] = c.vars[i].whole()
		root.start[i] = plane.Clamp(c.vars[i].home, root.box[i].lo, root.box[i].hi)
	}
	least := math.Inf(1) // of the bounds of what was cut off
	open := []node{root}
	for count := 0; len(open) > 0; count++ {
		// The whole box is always looked at, so that there is an answer to stop with.
		if count >= c.limit || count > 0 && count&63 == 0 && ctx.Err() != nil {
			best.proven = false
			break
		}
		n := open[len(open)-1]
		open = open[:len(open)-1]
		goal := math.Min(below(best.square), cutoff)
		if n.bound >= goal {
			least = math.Min(least, n.bound)
			continue
		}
		x := slices.Clone(n.start)
		w.centre(n.box, x)
		w.fit(n.box, x)
		bound := math.Max(n.bound, w.bound(n.box, x))
		if bound < goal {
			if y, square := w.rounded(n.box, x); square < best.square {
				y, square = w.polish(y, square)
				best.x, best.square = y, square
				goal = math.Min(below(best.square), cutoff)
			}
		}
		if bound >= goal {
			least = math.Min(least, bound)
			continue
		}
		i := w.widest(n.box)
		if i < 0 {
			least = math.Min(least, bound)
			continue
		}
		near, far := split(&c.vars[i], n.box, i, x[i])
		for _, box := range [2][]stretch{far, near} {
			open = append(open, node{box, bound, x})
		}
	}
	for _, n := range open { // only when stopped
		least = math.Min(least, n.bound)
	}
	best.bound = math.Min(least, best.square)
	if best.square >= cutoff {
		best.x, best.square = nil, math.Inf(1)
	}
	return best
}

// split halves a variable's stretch, the half that holds x first.
func split(v *variable, box []stretch, i int, x float64) (near, far []stretch) {
	a, b := slices.Clone(box), slices.Clone(box)
	s := box[i]
	if len(v.values) > 0 {
		cut := s.first
		for cut+1 < s.last && v.values[cut+1] <= x {
			cut++
		}
		a[i].last, a[i].hi = cut, v.values[cut]
		b[i].first, b[i].lo = cut+1, v.values[cut+1]
		if x-v.values[cut] > v.values[cut+1]-x {
			a, b = b, a
		}
		return a, b
	}
	mid := s.lo + (s.hi-s.lo)/2
	a[i].hi, b[i].lo = mid, mid
	return a, b
}

// work holds what a solve computes again and again.
type work struct {
	c     *coupling
	reach []float64 // of each turn: mm that a radian of it can move contacts; 1 for lengths
	inner []int     // variables placed in a turning frame
	rows  int       // two for each posture
	col   [][]float64
	res   []float64
}

func newWork(c *coupling) *work {
	w := &work{c: c, rows: 2 * len(c.links), reach: make([]float64, len(c.vars))}
	seen := map[int]bool{}
	for _, l := range c.links {
		for _, t := range l.terms {
			for _, i := range [2]int{t.turn, t.back} {
				if i >= 0 {
					w.reach[i] += w.longest(t) + l.weight
				}
			}
			for _, i := range [2]int{t.x, t.y} {
				if i >= 0 && !seen[i] {
					seen[i] = true
					w.inner = append(w.inner, i)
				}
			}
		}
	}
	for i := range c.vars {
		if !c.vars[i].turns {
			w.reach[i] = 1
		}
	}
	w.col = make([][]float64, len(c.vars))
	for i := range w.col {
		w.col[i] = make([]float64, w.rows)
	}
	w.res = make([]float64, w.rows)
	return w
}

// longest bounds the length of a term's vector, mm.
func (w *work) longest(t term) float64 {
	far := func(at float64, i int) float64 {
		if i < 0 {
			return math.Abs(at)
		}
		s := w.c.vars[i].whole()
		return math.Max(math.Abs(at+s.lo), math.Abs(at+s.hi))
	}
	return math.Hypot(far(t.at.X, t.x), far(t.at.Y, t.y))
}

// angle is the θ of a term at x, radians.
func (t *term) angle(x []float64) float64 {
	a := t.fixed
	if t.turn >= 0 {
		a += x[t.turn]
	}
	if t.back >= 0 {
		a -= x[t.back]
	}
	return a
}

// vector is the term's vector in its own frame at x.
func (t *term) vector(x []float64) plane.Point {
	v := t.at
	if t.x >= 0 {
		v.X += x[t.x]
	}
	if t.y >= 0 {
		v.Y += x[t.y]
	}
	return v
}

// centre puts every turn in the middle of its stretch and everything else within its own.
func (w *work) centre(box []stretch, x []float64) {
	for i := range x {
		if w.c.vars[i].turns {
			x[i] = box[i].lo + (box[i].hi-box[i].lo)/2
		} else {
			x[i] = plane.Clamp(x[i], box[i].lo, box[i].hi)
		}
	}
}

// contact is where a link's contact is at x, and its angle.
func (l *link) contact(x []float64) (at plane.Point, angle float64) {
	at, angle = l.base, l.offset
	for _, s := range l.slides {
		at = at.Add(s.dir.Scale(x[s.v]))
	}
	for i := range l.terms {
		t := &l.terms[i]
		a := t.angle(x)
		at = at.Add(t.vector(x).Turn(a))
		if i == len(l.terms)-1 {
			angle += a
		}
	}
	return at, angle
}

// square is the objective at x, mm².
func (c *coupling) square(x []float64) float64 {
	sum := 0.0
	for i := range c.links {
		l := &c.links[i]
		at, angle := l.contact(x)
		d := l.want.Sub(at)
		off := l.weight * (angle - l.angle)
		sum += d.Dot(d) + off*off
	}
	return sum
}

// fit sets everything but the turns to the least sum of squared distances within the box, from x on.
func (w *work) fit(box []stretch, x []float64) {
	c := w.c
	for i := range w.col {
		clear(w.col[i])
	}
	for p := range c.links {
		l := &c.links[p]
		at, _ := l.contact(x)
		d := l.want.Sub(at)
		w.res[2*p], w.res[2*p+1] = d.X, d.Y
		put := func(i int, v plane.Point) {
			w.col[i][2*p] += v.X
			w.col[i][2*p+1] += v.Y
		}
		for _, s := range l.slides {
			put(s.v, s.dir)
		}
		for i := range l.terms {
			t := &l.terms[i]
			e := plane.Direction(t.angle(x))
			if t.x >= 0 {
				put(t.x, e)
			}
			if t.y >= 0 {
				put(t.y, e.Perp())
			}
		}
	}
	bounded(w.col, w.res, x, box, c.vars)
}

// rounded puts everything that stands on steps on the step nearest to x, one after the other, and the rest
// where it is then best.
func (w *work) rounded(box []stretch, x []float64) ([]float64, float64) {
	y := slices.Clone(x)
	b := slices.Clone(box)
	for i := range w.c.vars {
		v := &w.c.vars[i]
		if len(v.values) == 0 {
			continue
		}
		k := box[i].first
		for j := box[i].first; j <= box[i].last; j++ {
			if math.Abs(v.values[j]-y[i]) < math.Abs(v.values[k]-y[i]) {
				k = j
			}
		}
		y[i] = v.values[k]
		b[i] = stretch{y[i], y[i], k, k}
		w.fit(b, y)
	}
	w.fit(b, y)
	return y, w.c.square(y)
}

// polish turns the turns that are free, one by one, to where the rest comes out best.
func (w *work) polish(x []float64, square float64) ([]float64, float64) {
	c := w.c
	box := make([]stretch, len(c.vars))
	for i := range box {
		box[i] = c.vars[i].whole()
		if len(c.vars[i].values) > 0 {
			box[i] = stretch{lo: x[i], hi: x[i]}
		}
	}
	for range 40 {
		before := square
		for i := range c.vars {
			if !c.vars[i].turns || box[i].hi <= box[i].lo {
				continue
			}
			try := func(t float64) ([]float64, float64) {
				y := slices.Clone(x)
				y[i] = t
				w.fit(box, y)
				return y, c.square(y)
			}
			const width = 0.02
			near := plane.Range{Lo: math.Max(box[i].lo, x[i]-width), Hi: math.Min(box[i].hi, x[i]+width)}
			t := plane.Lowest(func(t float64) float64 { _, s := try(t); return s }, near, 1e-9)
			for _, t := range [3]float64{t, near.Lo, near.Hi} {
				if y, s := try(t); s < square {
					x, square = y, s
				}
			}
		}
		if before-square <= 1e-10 {
			break
		}
	}
	return x, square
}

// widest is the variable whose stretch can move contacts furthest, -1 when nothing is left to split.
func (w *work) widest(box []stretch) int {
	best, at := 0.0, -1
	for i := range box {
		v := &w.c.vars[i]
		if !v.turns && len(v.values) == 0 || len(v.values) > 0 && box[i].first == box[i].last {
			continue
		}
		width := (box[i].hi - box[i].lo) * w.reach[i]
		if len(v.values) == 0 && box[i].hi-box[i].lo < 1e-9 {
			continue
		}
		if width > best {
			best, at = width, i
		}
	}
	return at
}
