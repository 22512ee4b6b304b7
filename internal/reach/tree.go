package reach

import (
	"cmp"
	"math"
	"slices"

	"carryover/internal/plane"
)

// tree is a balanced k-d tree over points of the plane, laid out in one slice: the middle of a stretch is
// its root, split by x and y in turn.
type tree struct {
	at    []plane.Point
	index []int // of each point in the caller's order
	box   []frame
}

// frame is the upright rectangle around some points.
type frame struct{ min, max plane.Point }

func around(p plane.Point) frame { return frame{p, p} }

func (f frame) join(o frame) frame {
	return frame{plane.Point{X: math.Min(f.min.X, o.min.X), Y: math.Min(f.min.Y, o.min.Y)},
		plane.Point{X: math.Max(f.max.X, o.max.X), Y: math.Max(f.max.Y, o.max.Y)}}
}

func newTree(points []plane.Point) tree {
	t := tree{index: make([]int, len(points)), at: make([]plane.Point, len(points)), box: make([]frame, len(points))}
	for i := range t.index {
		t.index[i] = i
	}
	var split func(lo, hi int, byX bool) frame
	split = func(lo, hi int, byX bool) frame {
		slices.SortFunc(t.index[lo:hi], func(a, b int) int {
			if byX {
				return cmp.Or(cmp.Compare(points[a].X, points[b].X), a-b)
			}
			return cmp.Or(cmp.Compare(points[a].Y, points[b].Y), a-b)
		})
		m := lo + (hi-lo)/2
		t.at[m] = points[t.index[m]]
		t.box[m] = around(t.at[m])
		if lo < m {
			t.box[m] = t.box[m].join(split(lo, m, !byX))
		}
		if m+1 < hi {
			t.box[m] = t.box[m].join(split(m+1, hi, !byX))
		}
		return t.box[m]
	}
	if len(points) > 0 {
		split(0, len(points), true)
	}
	return t
}

// whole is the rectangle around all points of a tree that has any.
func (t tree) whole() frame { return t.box[len(t.box)/2] }

// node is a stretch of the tree not yet opened, or with hi = lo the point lo itself, and a bound of what it holds.
type node struct {
	lo, hi int
	low    float64
}

// queue is a binary heap of nodes, the lowest first.
type queue []node

func (q *queue) push(n node) {
	h := append(*q, n)
	for i := len(h) - 1; i > 0; {
		up := (i - 1) / 2
		if h[up].low <= h[i].low {
			break
		}
		h[up], h[i] = h[i], h[up]
		i = up
	}
	*q = h
}

func (q *queue) pop() node {
	h := *q
	first, last := h[0], len(h)-1
	h[0] = h[last]
	h = h[:last]
	for i := 0; ; {
		least := i
		for _, down := range [2]int{2*i + 1, 2*i + 2} {
			if down < last && h[down].low < h[least].low {
				least = down
			}
		}
		if least == i {
			break
		}
		h[least], h[i] = h[i], h[least]
		i = least
	}
	*q = h
	return first
}

// rising calls visit for the points in rising order of their bound until visit returns false. least bounds
// from below what any point of a rectangle can give.
func (t tree) rising(least func(frame) float64, visit func(index int, low float64) bool) {
	if len(t.at) == 0 {
		return
	}
	q := make(queue, 0, 64)
	q.push(node{0, len(t.at), least(t.whole())})
	for len(q) > 0 {
		n := q.pop()
		if n.hi == n.lo {
			if !visit(t.index[n.lo], n.low) {
				return
			}
			continue
		}
		m := n.lo + (n.hi-n.lo)/2
		q.push(node{m, m, math.Max(n.low, least(around(t.at[m])))})
		for _, part := range [2]node{{lo: n.lo, hi: m}, {lo: m + 1, hi: n.hi}} {
			if part.hi > part.lo {
				part.low = math.Max(n.low, least(t.box[part.lo+(part.hi-part.lo)/2]))
				q.push(part)
			}
		}
	}
}
