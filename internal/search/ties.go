package search

import (
	"context"
	"math"

	"carryover/internal/plane"
)

// Review goes through candidates that share the least E. They rank by the miss of the second contact, then by their
// way from home; those that may rank highest come first.
type Review struct {
	// Beaten reports whether nothing whose second miss (mm) and way from home (mm²) are no less than these can still
	// matter.
	Beaten func(second, stray float64) bool
	// Offer takes a candidate, and returns false to end the review.
	Offer func(Candidate) bool
}

// Ties reviews every candidate within Tie of a least E² that Best has found. It reports whether it saw all that are
// not beaten: false when Offer or the context ended it.
//
// With the contact in place, the second contact's miss depends on the arm alone. The way from home of travels that
// together make up d = place - base - arm is at least Wd, with W² the inverse of Σ dir·dirᵀ and d counted from what the
// travels make up at home: once more the distance of a zonogon, in another metric.
func (s *Side) Ties(ctx context.Context, best float64, r Review) (all bool) {
	return newSearch(s).ties(ctx, best, r)
}

func (c *search) ties(ctx context.Context, best float64, r Review) (all bool) {
	limit := beyond(best)
	var q queue
	push := func(n node) {
		if n.low > limit {
			return
		}
		second, stray := c.least(&n, limit)
		if r.Beaten(second, stray) {
			return
		}
		n.rank = [2]float64{math.Floor(second / Tie), stray}
		q.push(n)
	}
	if len(c.arms.all) > 0 {
		push(c.root())
	}
	for len(q) > 0 {
		n := q.pop()
		switch {
		case r.Beaten(n.rank[0]*Tie, n.rank[1]):
		case n.settled:
			if !r.Offer(c.candidate(n)) {
				return false
			}
		default:
			for _, half := range c.halves(n) {
				push(half)
			}
		}
		if c.stopped(ctx) {
			return false
		}
	}
	return true
}

// least is what second miss and way from home of a node do not fall below while its E² is within the limit.
func (c *search) least(n *node, limit float64) (second, stray float64) {
	arm := &c.arms.all[n.arm]
	m := c.side.Wish.Metric
	off := math.Sqrt(math.Max(0, limit-arm.square)) / math.Min(m.Along, m.Across) // of the contact from its place, mm
	second, stray = math.Max(0, arm.second-off), c.bases.all[n.base].stray+arm.stray
	lone := c.lone(n)
	if arm.moves && (lone == nil || lone.Bend != nil) {
		return second, stray
	}
	if lone != nil && c.bases.single(n.base) && off < 1e-5 {
		return second, stray + c.shared(n, lone, off)
	}
	to, way, fixed := c.homeward(n, lone)
	z := plane.Zonogon{Centre: c.side.Wish.Place.Sub(to), Half: []plane.Point{{X: off}, {Y: off}}}
	box := func(f frame) {
		half := f.half()
		z.Centre = z.Centre.Sub(m.Back(f.middle()))
		z.Half = append(z.Half, m.Back(plane.Point{X: half.X}), m.Back(plane.Point{Y: half.Y}))
	}
	box(c.bases.all[n.base].box)
	if lone != nil {
		z.Centre = z.Centre.Sub(lone.At)
	} else {
		box(arm.box)
	}
	for i, g := range z.Half {
		z.Half[i] = way.Flat(g)
	}
	z.Centre = way.Flat(z.Centre)
	d := z.Nearest(plane.Point{})
	return second, stray + fixed + d.Dot(d)
}

// shared is the way from home (mm²) of the travels of a node with one base and one arm, its racks as slides over their
// steps, with the contact no further than off from its place.
func (c *search) shared(n *node, arm *Arm, off float64) float64 {
	travels := append(make([]Travel, 0, len(c.side.Slides)+len(n.racks)+1), c.side.Slides...)
	if arm.Own.Hi > arm.Own.Lo {
		travels = append(travels, arm.Own)
	}
	for k, s := range n.racks {
		r := &c.side.Racks[k]
		travels = append(travels, Travel{Slide: r.slide(s.lo, s.hi), Home: r.Home})
	}
	to := c.side.Wish.Place.Sub(c.side.Bases[c.bases.leafOf(n.base)].At).Sub(arm.At)
	sum := 0.0
	for i, x := range Share(to, travels) {
		sum += (x - travels[i].Home) * (x - travels[i].Home)
	}
	way := math.Max(0, math.Sqrt(sum)-2*off)
	return way * way
}

// homeward is what the travels of a node make up at home, the metric in which a displacement from there is no longer
// than their way, and the way (mm²) of the racks down to one step, which have none left to choose.
func (c *search) homeward(n *node, arm *Arm) (to plane.Point, m plane.Metric, fixed float64) {
	var xx, xy, yy float64
	add := func(dir plane.Point, home float64) {
		xx, xy, yy = xx+dir.X*dir.X, xy+dir.X*dir.Y, yy+dir.Y*dir.Y
		to = to.Add(dir.Scale(home))
	}
	if arm != nil && arm.Own.Hi > arm.Own.Lo {
		add(arm.Own.Dir, arm.Own.Home)
	}
	for _, t := range c.side.Slides {
		add(t.Dir, t.Home)
	}
	for k, r := range c.side.Racks {
		if s := n.racks[k]; s.hi-s.lo > 1 {
			add(r.Dir, r.Home)
			continue
		}
		at := r.Travel(n.racks[k].lo)
		to = to.Add(r.Dir.Scale(at))
		fixed += (at - r.Home) * (at - r.Home)
	}
	// The eigenvalues of Σ dir·dirᵀ and the direction of the greater; what no travel goes along counts nothing.
	mean, apart := (xx+yy)/2, math.Hypot((xx-yy)/2, xy)
	m.Line = plane.Direction(math.Atan2(2*xy, xx-yy) / 2)
	if mean > 0 {
		m.Along = 1 / math.Sqrt(mean+apart)
	}
	if less := mean - apart; less > 1e-6*mean {
		m.Across = 1 / math.Sqrt(less)
	}
	return to, m, fixed
}
