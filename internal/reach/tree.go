package reach

import (
	"container/heap"
	"math"
	"slices"

	"carryover/internal/plane"
)

// tree is a balanced k-d tree over points of the plane, laid out in one slice: the middle of a stretch is
// its root, split by x and y in turn.
type tree struct {
	at    []plane.Point
	index []int // of each point in the caller's order
}

func newTree(points []plane.Point) tree {
	t := tree{index: make([]int, len(points)), at: make([]plane.Point, len(points))}
	for i := range t.index {
		t.index[i] = i
	}
	var split func(part []int, byX bool)
	split = func(part []int, byX bool) {
		if len(part) < 2 {
			return
		}
		slices.SortFunc(part, func(a, b int) int {
			d := points[a].Y - points[b].Y
			if byX {
				d = points[a].X - points[b].X
			}
			switch {
			case d < 0:
				return -1
			case d > 0:
				return 1
			}
			return a - b
		})
		m := len(part) / 2
		split(part[:m], !byX)
		split(part[m+1:], !byX)
	}
	split(t.index, true)
	for i, k := range t.index {
		t.at[i] = points[k]
	}
	return t
}

// node is a stretch of the tree not yet opened, or a single point, with the least distance it can be at.
type node struct {
	lo, hi int // hi = lo: the point itself
	byX    bool
	min    plane.Point // the corner box of the stretch
	max    plane.Point
	gap    float64
}

type queue []node

func (q queue) Len() int           { return len(q) }
func (q queue) Less(i, j int) bool { return q[i].gap < q[j].gap }
func (q queue) Swap(i, j int)      { q[i], q[j] = q[j], q[i] }
func (q *queue) Push(x any)        { *q = append(*q, x.(node)) }
func (q *queue) Pop() any {
	old := *q
	n := old[len(old)-1]
	*q = old[:len(old)-1]
	return n
}

// nearest calls visit for the points in rising order of distance from p until visit returns false.
func (t tree) nearest(p plane.Point, visit func(index int, distance float64) bool) {
	switch len(t.at) {
	case 0:
		return
	case 1: // the common case: nothing to choose
		visit(0, t.at[0].Distance(p))
		return
	}
	inf := math.Inf(1)
	q := &queue{{lo: 0, hi: len(t.at), byX: true, min: plane.Point{X: -inf, Y: -inf}, max: plane.Point{X: inf, Y: inf}}}
	for q.Len() > 0 {
		n := heap.Pop(q).(node)
		if n.hi == n.lo {
			if !visit(t.index[n.lo], n.gap) {
				return
			}
			continue
		}
		m := n.lo + (n.hi-n.lo)/2
		root := t.at[m]
		heap.Push(q, node{lo: m, hi: m, gap: root.Distance(p)})
		less, more := n, n
		less.hi, more.lo = m, m+1
		less.byX, more.byX = !n.byX, !n.byX
		if n.byX {
			less.max.X, more.min.X = root.X, root.X
		} else {
			less.max.Y, more.min.Y = root.Y, root.Y
		}
		for _, part := range []node{less, more} {
			if part.hi > part.lo {
				near := plane.Point{X: plane.Clamp(p.X, part.min.X, part.max.X), Y: plane.Clamp(p.Y, part.min.Y, part.max.Y)}
				part.gap = near.Distance(p)
				heap.Push(q, part)
			}
		}
	}
}
