package search

import (
	"cmp"
	"container/heap"
	"context"
	"math"
	"slices"

	"carryover/internal/plane"
)

// frame is an upright rectangle in the flat plane.
type frame struct{ min, max plane.Point }

func around(points ...plane.Point) frame {
	f := frame{points[0], points[0]}
	for _, p := range points[1:] {
		f = f.join(frame{p, p})
	}
	return f
}

func (f frame) join(o frame) frame {
	return frame{plane.Point{X: math.Min(f.min.X, o.min.X), Y: math.Min(f.min.Y, o.min.Y)},
		plane.Point{X: math.Max(f.max.X, o.max.X), Y: math.Max(f.max.Y, o.max.Y)}}
}

func (f frame) middle() plane.Point { return f.min.Add(f.half()) }
func (f frame) half() plane.Point   { return f.max.Sub(f.min).Scale(0.5) }

// leaf is one base or arm as the tree sees it.
type leaf struct {
	box                   frame
	square, second, stray float64
	parts                 int
	moves                 bool // an arm that slides or swings by itself
}

// mixed stands for more than one group of parts.
const mixed = -1

// branch is some leaves of a tree, what they lie in and what none of them falls below.
type branch struct {
	leaf
	lo, hi int // of the order
	first  int // of its two branches; 0: not split yet
}

// tree is a k-d tree that grows where it is looked at: a branch is split across the longer side of its box.
type tree struct {
	leaves []leaf
	order  []int
	all    []branch
}

func newTree(leaves []leaf) tree {
	t := tree{leaves: leaves, order: make([]int, len(leaves))}
	for i := range t.order {
		t.order[i] = i
	}
	t.grow(0, len(leaves))
	return t
}

// grow adds the branch of a stretch of the order.
func (t *tree) grow(lo, hi int) {
	b := branch{leaf: t.leaves[t.order[lo]], lo: lo, hi: hi}
	for _, i := range t.order[lo+1 : hi] {
		l := &t.leaves[i]
		b.box = b.box.join(l.box)
		b.square, b.second, b.stray = math.Min(b.square, l.square), math.Min(b.second, l.second), math.Min(b.stray, l.stray)
		b.moves = b.moves || l.moves
		if b.parts != l.parts {
			b.parts = mixed
		}
	}
	t.all = append(t.all, b)
}

func (t *tree) single(i int) bool { return t.all[i].hi-t.all[i].lo == 1 }

// leafOf is the caller's index of a single branch.
func (t *tree) leafOf(i int) int { return t.order[t.all[i].lo] }

// split returns the two halves of a branch.
func (t *tree) split(i int) [2]int {
	b := t.all[i]
	if b.first == 0 {
		across := b.box.half()
		slices.SortFunc(t.order[b.lo:b.hi], func(x, y int) int {
			p, q := t.leaves[x].box.middle(), t.leaves[y].box.middle()
			if across.X >= across.Y {
				return cmp.Or(cmp.Compare(p.X, q.X), x-y)
			}
			return cmp.Or(cmp.Compare(p.Y, q.Y), x-y)
		})
		mid := b.lo + (b.hi-b.lo)/2
		t.all[i].first = len(t.all)
		t.grow(b.lo, mid)
		t.grow(mid, b.hi)
	}
	return [2]int{t.all[i].first, t.all[i].first + 1}
}

// stretch is some steps of a rack, from lo to before hi.
type stretch struct{ lo, hi int }

// node is a set of choices: a branch of the bases, one of the arms, and steps of every rack.
type node struct {
	base, arm int
	racks     []stretch
	low       float64 // E² that none of them falls below
	turn      float64 // of the bar
	settled   bool    // one choice is left, and low is its E²
	rank      [2]float64
	depth     int // splits so far
}

// before orders nodes by rank; of equals the one with fewer choices left comes first, lest all of them are opened
// before one is settled.
func (n *node) before(o *node) bool {
	return cmp.Or(cmp.Compare(n.rank[0], o.rank[0]), cmp.Compare(n.rank[1], o.rank[1]), o.depth-n.depth) < 0
}

// search is one run over a side, in the flat plane of its wish.
type search struct {
	side        *Side
	place       plane.Point
	bases, arms tree
	slides      plane.Zonogon
	racks       []plane.Point // directions
	room        plane.Zonogon
	looked      int // nodes so far
}

func newSearch(s *Side) *search {
	flat := s.Wish.Metric.Flat
	c := &search{side: s, place: flat(s.Wish.Place)}
	bases := make([]leaf, len(s.Bases))
	for i, b := range s.Bases {
		bases[i] = leaf{box: around(flat(b.At)), stray: b.Stray, parts: b.Parts}
	}
	arms := make([]leaf, len(s.Arms))
	for i := range s.Arms {
		a := &s.Arms[i]
		arms[i] = leaf{box: a.frame(flat), square: a.Square, second: a.Second, stray: a.Stray, parts: a.Parts,
			moves: a.Bend != nil || a.Own.Hi > a.Own.Lo}
	}
	for _, t := range s.Slides {
		t.Dir = flat(t.Dir)
		c.slides.Add(t.Slide)
	}
	for _, r := range s.Racks {
		c.racks = append(c.racks, flat(r.Dir))
	}
	if len(bases) > 0 && len(arms) > 0 {
		c.bases, c.arms = newTree(bases), newTree(arms)
	}
	return c
}

// frame is the box around the places of an arm.
func (a *Arm) frame(flat func(plane.Point) plane.Point) frame {
	if a.Bend == nil {
		return around(flat(a.at(a.Own.Lo)), flat(a.at(a.Own.Hi)))
	}
	centre := flat(a.Bend.Centre)
	f := around(centre.Turn(a.Bend.Turn.Lo), centre.Turn(a.Bend.Turn.Hi))
	for k := range 4 { // and where it is furthest forward, up, back and down
		if t, ok := onArc(a.Bend.Turn, centre, plane.Direction(float64(k)*math.Pi/2)); ok {
			at := centre.Turn(t)
			f = f.join(frame{at, at})
		}
	}
	at := flat(a.At)
	return frame{f.min.Add(at), f.max.Add(at)}
}

// onArc is the turn at which a bend points along a direction; ok is false when it does not come there.
func onArc(r plane.Range, centre, along plane.Point) (t float64, ok bool) {
	t = math.Atan2(along.Y, along.X) - math.Atan2(centre.Y, centre.X)
	t -= 2 * math.Pi * math.Floor((t-r.Lo)/(2*math.Pi))
	return t, t <= r.Hi
}

// at is the arm with its own travel at x.
func (a *Arm) at(x float64) plane.Point { return a.At.Add(a.Own.Dir.Scale(x)) }

// root is every choice there is.
func (c *search) root() node {
	n := node{racks: make([]stretch, len(c.side.Racks))}
	for k, r := range c.side.Racks {
		n.racks[k] = stretch{0, r.Count}
	}
	c.bound(&n)
	return n
}

// set is a zonogon around the places that the choices of a node can give the contact, but for the arm's bend.
func (c *search) set(n *node) plane.Zonogon {
	z := plane.Zonogon{Centre: c.slides.Centre, Half: append(c.room.Half[:0], c.slides.Half...)}
	box := func(f frame) {
		half := f.half()
		z.Centre = z.Centre.Add(f.middle())
		z.Half = append(z.Half, plane.Point{X: half.X}, plane.Point{Y: half.Y})
	}
	box(c.bases.all[n.base].box)
	if arm := c.lone(n); arm != nil && arm.Bend == nil {
		own := arm.Own.Slide
		flat := c.side.Wish.Metric.Flat
		own.Dir = flat(own.Dir)
		z.Centre = z.Centre.Add(flat(arm.At))
		z.Add(own)
	} else if arm == nil {
		box(c.arms.all[n.arm].box)
	}
	for k, s := range n.racks {
		slide := c.side.Racks[k].slide(s.lo, s.hi)
		slide.Dir = c.racks[k]
		z.Add(slide)
	}
	c.room = z
	return z
}

// lone is the arm of a node that has only one left, else nil.
func (c *search) lone(n *node) *Arm {
	if !c.arms.single(n.arm) {
		return nil
	}
	return &c.side.Arms[c.arms.leafOf(n.arm)]
}

// bound fills in what E² of a node does not fall below.
func (c *search) bound(n *node) {
	z := c.set(n)
	if arm := c.lone(n); arm != nil && arm.Bend != nil {
		n.turn, n.low = c.swing(z, arm)
	} else {
		n.low = c.square(z)
	}
	n.low += c.arms.all[n.arm].square
	n.settled = c.alone(n)
}

// square is the squared distance of the place from a set, 0 when it counts as reached.
func (c *search) square(z plane.Zonogon) float64 {
	miss := z.Nearest(c.place).Sub(c.place)
	if d := miss.Dot(miss); d > Nought*Nought {
		return d
	}
	return 0
}

// alone reports whether a node holds one choice only.
func (c *search) alone(n *node) bool {
	if !c.bases.single(n.base) || !c.arms.single(n.arm) {
		return false
	}
	for _, s := range n.racks {
		if s.hi-s.lo > 1 {
			return false
		}
	}
	return true
}

// halves splits a node where its choices are spread widest.
func (c *search) halves(n *node) [2]node {
	widest, at := -1.0, -1
	consider := func(open bool, size float64, which int) {
		if open && size > widest {
			widest, at = size, which
		}
	}
	consider(!c.bases.single(n.base), c.bases.all[n.base].box.half().Norm(), 0)
	consider(!c.arms.single(n.arm), c.arms.all[n.arm].box.half().Norm(), 1)
	for k, s := range n.racks {
		consider(s.hi-s.lo > 1, c.racks[k].Norm()*math.Abs(c.side.Racks[k].Step)*float64(s.hi-1-s.lo)/2, 2+k)
	}
	both := [2]node{*n, *n}
	for i := range both {
		switch at {
		case 0:
			both[i].base = c.bases.split(n.base)[i]
		case 1:
			both[i].arm = c.arms.split(n.arm)[i]
		default:
			s := n.racks[at-2]
			mid := s.lo + (s.hi-s.lo)/2
			both[i].racks = slices.Clone(n.racks)
			both[i].racks[at-2] = [2]stretch{{s.lo, mid}, {mid, s.hi}}[i]
		}
		both[i].depth++
		c.bound(&both[i])
		both[i].low = math.Max(both[i].low, n.low)
	}
	return both
}

// swing returns the turn of a bar at which the contact is nearest to its place, and the square of the distance there.
//
// Seen from the place, less what else moves the contact, the contact goes along a circle, R(t)·centre, and what else moves it makes
// a convex polygon. The distance from the circle to the polygon turns round only where its line goes through the circle's
// centre, so towards a corner or across an edge, and ends where the circle meets an edge: these turns, either way, and the
// two ends of the arc are all that can be the nearest.
func (c *search) swing(z plane.Zonogon, arm *Arm) (turn, least float64) {
	flat := c.side.Wish.Metric.Flat
	at, centre, r := flat(arm.At), flat(arm.Bend.Centre), arm.Bend.Turn
	least = math.Inf(1)
	look := func(t float64) {
		there := z
		there.Centre = z.Centre.Add(at).Add(centre.Turn(t))
		if square := c.square(there); square < least {
			turn, least = t, square
		}
	}
	towards := func(n plane.Point) {
		if t, ok := onArc(r, centre, n); ok {
			look(t)
		}
	}
	look(r.Lo)
	look(r.Hi)
	size := centre.Norm()
	corners := plane.Zonogon{Centre: c.place.Sub(at).Sub(z.Centre), Half: z.Half}.Vertices()
	for i, v := range corners {
		towards(v)
		towards(v.Scale(-1))
		edge := corners[(i+1)%len(corners)].Sub(v)
		if edge == (plane.Point{}) {
			continue
		}
		n := edge.Perp().Scale(1 / edge.Norm())
		towards(n)
		towards(n.Scale(-1))
		if off := n.Dot(v); math.Abs(off) < size {
			meets := math.Acos(off / size)
			towards(n.Turn(meets))
			towards(n.Turn(-meets))
		}
	}
	return turn, least
}

// rising takes the nodes of one choice in rising order of E² until visit returns false; done reports those that
// nothing more is wanted of. It returns whether it came so far with nothing left out.
func (c *search) rising(ctx context.Context, done func(*node) bool, visit func(*node) bool) bool {
	if len(c.arms.all) == 0 {
		return true
	}
	var q queue
	push := func(n node) {
		n.rank[0] = math.Floor(math.Sqrt(n.low) / slack)
		q.push(n)
	}
	push(c.root())
	for len(q) > 0 {
		n := q.pop()
		switch {
		case done(n):
		case n.settled:
			if !visit(n) {
				return true
			}
		default:
			for _, half := range c.halves(n) {
				push(half)
			}
		}
		if c.stopped(ctx) {
			c.dive(&q, visit)
			return false
		}
	}
	return true
}

// dive follows the most promising node to one choice, so that a search that was stopped has something to show.
func (c *search) dive(q *queue, visit func(*node) bool) {
	if len(*q) == 0 {
		return
	}
	n := q.pop()
	for !c.alone(n) {
		both := c.halves(n)
		n = &both[0]
		if both[1].low < n.low {
			n = &both[1]
		}
	}
	visit(n)
}

// stopped reports whether the context has ended; it looks now and then only.
func (c *search) stopped(ctx context.Context) bool {
	c.looked++
	return c.looked%256 == 1 && ctx.Err() != nil
}

// candidate is a node of one choice.
func (c *search) candidate(n *node) Candidate {
	k := Candidate{Base: c.bases.leafOf(n.base), Arm: c.arms.leafOf(n.arm), Turn: n.turn, Square: n.low, Steps: make([]int, len(n.racks))}
	for i, s := range n.racks {
		k.Steps[i] = s.lo
	}
	return k
}

// queue is a heap of nodes, the first of them before all others.
type queue []*node

func (q queue) Len() int           { return len(q) }
func (q queue) Less(i, j int) bool { return q[i].before(q[j]) }
func (q queue) Swap(i, j int)      { q[i], q[j] = q[j], q[i] }
func (q *queue) Push(n any)        { *q = append(*q, n.(*node)) }

func (q *queue) Pop() any {
	last := len(*q) - 1
	n := (*q)[last]
	(*q)[last] = nil // else the heap would keep what was taken off it
	*q = (*q)[:last]
	return n
}

func (q *queue) push(n node) { heap.Push(q, &n) }
func (q *queue) pop() *node  { return heap.Pop(q).(*node) }
