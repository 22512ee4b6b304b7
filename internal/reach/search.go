package reach

import (
	"cmp"
	"context"
	"math"
	"slices"

	"carryover/internal/plane"
)

// Tie is the difference in E, mm, below which two settings count as equally good.
const Tie = 1e-6

// maxTies bounds how many equally good candidates are kept; more than that are alike in every way that
// matters to a person, and the first found stand for them.
const maxTies = 4096

// Result is the outcome of a search.
type Result struct {
	Best   float64     // least E found, mm
	Ties   []Candidate // every discrete choice within Tie of it
	Proven bool        // false only when the search was stopped early
}

// Search finds the discrete choices of least E and proves that there is no better one. A cancelled context
// ends it with the best so far.
func (s *Side) Search(ctx context.Context) Result {
	c := search{side: s, limit: math.Inf(1)}
	c.offer = c.offerTie
	proven := c.run(ctx)
	c.trim()
	return Result{Best: math.Sqrt(c.best()), Ties: c.found, Proven: proven}
}

// Alternatives finds the n best groups of discrete choices, the best candidate of each in rising order of
// E; group says which choices belong together (the same parts, say).
func (s *Side) Alternatives(ctx context.Context, n int, group func(Candidate) uint64) Result {
	c := search{side: s, limit: math.Inf(1)}
	c.offer = func(k Candidate) { c.offerGroup(k, n, group) }
	proven := c.run(ctx)
	return Result{Best: math.Sqrt(c.best()), Ties: c.found, Proven: proven}
}

// search holds what one run knows: the candidates so far and the E² above which nothing matters.
type search struct {
	side  *Side
	found []Candidate
	limit float64
	offer func(Candidate)

	tree    tree
	rest    []plane.Zonogon // rest[i]: the slides and racks i and later, relaxed, about the origin
	halves  []plane.Point   // room for least
	steps   []int
	done    <-chan struct{}
	visited int
	low     float64 // E² below which the arm in hand, and any after it, does not fall
}

// enough reports whether as many ties are known as are kept and nothing can be better than they are.
func (c *search) enough() bool {
	return len(c.found) >= maxTies && c.limit <= beyond(c.low)+nought*nought
}

// stopped reports whether the caller has cancelled; it looks only now and then.
func (c *search) stopped() bool {
	if c.visited++; c.visited&255 != 0 {
		return false
	}
	select {
	case <-c.done:
		return true
	default:
		return false
	}
}

func (c *search) best() float64 {
	best := math.Inf(1)
	for _, k := range c.found {
		best = math.Min(best, k.Square)
	}
	return best
}

// beyond is the E² a tie (mm) above E² = square.
func beyond(square float64) float64 {
	e := math.Sqrt(square) + Tie
	return e * e
}

func (c *search) offerTie(k Candidate) {
	if limit := beyond(k.Square); limit < c.limit {
		c.limit = limit
		c.trim()
	}
	if k.Square <= c.limit && len(c.found) < maxTies {
		k.Steps = slices.Clone(c.steps)
		c.found = append(c.found, k)
	}
}

// trim drops what is no longer within a tie of the best.
func (c *search) trim() {
	c.found = slices.DeleteFunc(c.found, func(k Candidate) bool { return k.Square > c.limit })
}

func (c *search) offerGroup(k Candidate, n int, group func(Candidate) uint64) {
	k.Steps = slices.Clone(c.steps)
	g := group(k)
	if i := slices.IndexFunc(c.found, func(o Candidate) bool { return group(o) == g }); i >= 0 {
		if c.found[i].Square <= k.Square {
			return
		}
		c.found = slices.Delete(c.found, i, i+1)
	}
	at, _ := slices.BinarySearchFunc(c.found, k.Square, func(o Candidate, v float64) int {
		if o.Square <= v {
			return -1
		}
		return 1
	})
	c.found = slices.Insert(c.found, at, k)
	if len(c.found) > n {
		c.found = c.found[:n]
	}
	if len(c.found) == n {
		c.limit = c.found[n-1].Square
	}
}

// run visits every discrete choice that can still matter, best arms first, and reports whether it saw them all.
func (c *search) run(ctx context.Context) bool {
	s := c.side
	c.done = ctx.Done()
	c.steps = make([]int, len(s.Racks))
	c.rest = make([]plane.Zonogon, len(s.Racks)+1)
	c.rest[len(s.Racks)] = plane.NewZonogon(plane.Point{}, s.Slides)
	for i := len(s.Racks) - 1; i >= 0; i-- {
		z := plane.Zonogon{Centre: c.rest[i+1].Centre, Half: slices.Clone(c.rest[i+1].Half)}
		z.Add(s.Racks[i].slide())
		c.rest[i] = z
	}
	c.tree = newTree(s.Bases)
	c.halves = make([]plane.Point, 0, len(c.rest[0].Half)+3)

	if len(s.Bases) == 0 {
		return true
	}
	type entry struct {
		arm  int
		turn Turn
		low  float64 // E² does not fall below it, whatever the base
	}
	var entries []entry
	for i := range s.Arms {
		arm := s.Arms[i]
		turns := []Turn{{Range: arm.Turn.Range}}
		if len(arm.Turn.Values) > 0 { // each turn on its own: its bound is then exact
			turns = turns[:0]
			for _, v := range arm.Turn.Values {
				turns = append(turns, Turn{Range: Range{v, v}})
			}
		}
		for _, turn := range turns {
			arm.Turn = turn
			entries = append(entries, entry{i, turn, c.least(&arm, c.tree.whole())})
		}
	}
	slices.SortStableFunc(entries, func(a, b entry) int { return cmp.Compare(a.low, b.low) })
	for _, e := range entries {
		if e.low > c.limit {
			return true // the entries that follow are no better
		}
		arm := s.Arms[e.arm]
		arm.Turn = e.turn
		c.low = e.low
		if !c.visit(e.arm, &arm) || c.stopped() {
			return c.enough()
		}
	}
	return true
}

// least returns a number that E² of an arm does not fall below with its base anywhere in a rectangle: that of
// a clamp that may also slide about the rectangle.
func (c *search) least(arm *Arm, f frame) float64 {
	across := f.max.Sub(f.min).Scale(0.5)
	set := plane.Zonogon{Centre: c.rest[0].Centre.Add(f.min).Add(across),
		Half: append(append(c.halves[:0], c.rest[0].Half...), plane.Point{X: across.X}, plane.Point{Y: across.Y})}
	if arm.Bend != nil {
		l := bendLimb{c.side.Wish, arm, set}
		return l.bound(box{arm.Turn.Range, arm.Bend.F})
	}
	l := limb{wish: c.side.Wish, arm: arm, set: set, slide: -1, clamp: set.Centre}
	if arm.X.Hi > arm.X.Lo {
		l.slide = len(l.set.Half)
		l.set.Half = append(l.set.Half, plane.Point{})
	}
	// A turn further from the wanted one than the limit allows cannot matter, and a bound is the tighter the
	// shorter the stretch of turns it speaks for.
	wide := math.Sqrt(c.limit) / c.side.Wish.Weight
	r := Range{math.Max(arm.Turn.Lo, l.wanted()-wide), math.Min(arm.Turn.Hi, l.wanted()+wide)}
	if r.Hi < r.Lo {
		return math.Inf(1)
	}
	parts := 1
	if r.Hi-r.Lo > 0.05 {
		parts = 4
	}
	low, step := math.Inf(1), (r.Hi-r.Lo)/float64(parts)
	for i := range parts {
		from := r.Lo + float64(i)*step
		low = math.Min(low, l.bound(Range{from, from + step}))
	}
	return low
}

// gap is how far the contact's angle must stay from the wanted one, radians.
func (a *Arm) gap(wanted float64) float64 {
	return math.Abs(wanted - plane.Clamp(wanted, a.Turn.Lo, a.Turn.Hi))
}

// floor is the least E² of an arm whose contact is d mm short of its place at the turn nearest to the
// wanted one: turning on by u brings it at most longest·u nearer and costs k²(gap + u)².
func (c *search) floor(arm *Arm, gap, d float64) float64 {
	k2 := c.side.Wish.Weight * c.side.Wish.Weight
	speed := arm.longest()
	u := plane.Clamp((speed*d-k2*gap)/(speed*speed+k2), 0, arm.Turn.Hi-arm.Turn.Lo)
	d = math.Max(0, d-speed*u)
	return d*d + k2*(gap+u)*(gap+u)
}

// visit tries one arm on every base that can matter, the most promising first.
func (c *search) visit(index int, arm *Arm) bool {
	alive := true
	c.tree.rising(func(f frame) float64 { return c.least(arm, f) }, func(base int, low float64) bool {
		if low > c.limit {
			return false
		}
		alive = c.descend(index, arm, base, 0, c.side.Bases[base])
		return alive
	})
	return alive
}

// settled returns the best turn and place on the bend, and E², with the racks before depth at their steps
// and the others relaxed.
func (c *search) settled(arm *Arm, depth int, at plane.Point) (t, f, square float64) {
	rest := c.rest[depth]
	return Best(c.side.Wish, arm, plane.Zonogon{Centre: at.Add(rest.Centre), Half: rest.Half}, c.limit)
}

// descend fixes the racks one by one, and reports false when the search was stopped.
func (c *search) descend(index int, arm *Arm, base, depth int, at plane.Point) bool {
	if depth == len(c.side.Racks) {
		if t, f, square := c.settled(arm, depth, at); square <= c.limit {
			c.offer(Candidate{Base: base, Arm: index, Turn: t, Around: f, Square: square})
		}
		return !c.stopped() && !c.enough()
	}
	try := func(j int) bool {
		c.steps[depth] = j
		return c.descend(index, arm, base, depth+1, at.Add(c.side.Racks[depth].at(j)))
	}
	if arm.Bend != nil {
		return c.tryOnBend(arm, depth, at, try)
	}
	return c.tryAtTurn(arm, depth, at, try)
}

// tryAtTurn tries the steps of a rack that can matter. With the later racks relaxed, the distance to the
// wanted place at one turn is a convex function of the step, so they lie together around its least.
func (c *search) tryAtTurn(arm *Arm, depth int, at plane.Point, try func(j int) bool) bool {
	rack := c.side.Racks[depth]
	l := newLimb(c.side.Wish, arm, c.rest[depth+1])
	origin, gap := l.clamp, arm.gap(l.wanted())
	t := plane.Clamp(l.wanted(), arm.Turn.Lo, arm.Turn.Hi)
	short := func(j int) float64 {
		l.clamp = origin.Add(at).Add(rack.at(j))
		return l.miss(t).Norm()
	}
	lo, hi := 0, rack.Count-1
	for lo < hi { // the least of a convex function on whole numbers
		mid := lo + (hi-lo)/2
		if short(mid) <= short(mid+1) {
			hi = mid
		} else {
			lo = mid + 1
		}
	}
	matters := func(j int) bool { return c.floor(arm, gap, short(j)) <= c.limit }
	for j := lo; j < rack.Count && matters(j); j++ {
		if !try(j) {
			return false
		}
	}
	for j := lo - 1; j >= 0 && matters(j); j-- {
		if !try(j) {
			return false
		}
	}
	return true
}

// tryOnBend tries the steps of a rack that can matter, for a lever free on the bend: those whose E² with the
// later racks relaxed is low enough, the lowest first.
func (c *search) tryOnBend(arm *Arm, depth int, at plane.Point, try func(j int) bool) bool {
	rack := c.side.Racks[depth]
	type step struct {
		j      int
		square float64
	}
	var steps []step
	for j := range rack.Count {
		if _, _, square := c.settled(arm, depth+1, at.Add(rack.at(j))); square <= c.limit {
			steps = append(steps, step{j, square})
		}
	}
	slices.SortStableFunc(steps, func(a, b step) int { return cmp.Compare(a.square, b.square) })
	for _, s := range steps {
		if s.square > c.limit {
			return true
		}
		if !try(s.j) {
			return false
		}
	}
	return true
}
