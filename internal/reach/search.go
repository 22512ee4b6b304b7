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

// maxTies bounds how many equally good candidates Search lists; Ties goes through all of them.
const maxTies = 1024

// Result is the outcome of a search.
type Result struct {
	Best   float64     // least E found, mm
	Ties   []Candidate // every discrete choice within Tie of it
	Proven bool        // false only when the search was stopped early
	More   bool        // there are more ties than those listed: see Side.Ties
}

// Search finds the discrete choices of least E and proves that there is no better one. A cancelled context
// ends it with the best so far.
func (s *Side) Search(ctx context.Context) Result {
	c := search{side: s, limit: math.Inf(1)}
	c.offer = c.offerTie
	proven := c.run(ctx)
	c.trim()
	return Result{Best: math.Sqrt(c.best()), Ties: c.found, Proven: proven, More: c.more}
}

// Review goes through candidates too many to look at one by one. They rank by two measures, the first before
// the second; those that may rank highest come first.
type Review struct {
	// Least is what the two measures do not fall below in any candidate of an arm and a base whose first
	// racks stand on steps.
	Least func(arm, base int, steps []int) [2]float64
	// Beaten reports whether nothing with measures no less than least can still matter.
	Beaten func(least [2]float64) bool
	// Offer takes a candidate, and returns false to end the review.
	Offer func(Candidate) bool
}

// Ties reviews every candidate within Tie of a least E (mm) that Search has found. It reports whether it saw
// all that are not beaten: false when Offer or a cancelled context ended it.
func (s *Side) Ties(ctx context.Context, best float64, r Review) bool {
	c := search{side: s, limit: beyond(best * best), review: &r, low: math.Inf(-1)}
	c.offer = func(k Candidate) {
		k.Steps = slices.Clone(c.steps)
		c.ended = c.ended || !r.Offer(k)
	}
	return c.run(ctx)
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
	low     float64 // E² below which the arm in hand, and any after it, does not fall
	more    bool    // ties were left out
	review  *Review // nil: the candidates are looked for by E alone
	ended   bool    // by the review or the context
	visited int     // since the context was last looked at
}

// enough reports whether as many ties are known as are listed and nothing can be better than they are.
func (c *search) enough() bool {
	if len(c.found) < maxTies || c.limit > beyond(c.low)+Nought*Nought {
		return false
	}
	c.more = true
	return true
}

// stopped reports whether the caller has had enough, but not before there is something to show. It looks only
// now and then: work says how much was done since it was last asked, in candidates tried.
func (c *search) stopped(work int) bool {
	if c.ended || c.review == nil && len(c.found) == 0 {
		return c.ended
	}
	if c.visited += work; c.visited < 256 {
		return false
	}
	c.visited = 0
	select {
	case <-c.done:
		c.ended = true
	default:
	}
	return c.ended
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
	switch {
	case k.Square > c.limit:
	case len(c.found) >= maxTies:
		c.more = true
	default:
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
		z.Add(s.Racks[i].Slide())
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
		if !c.visit(e.arm, &arm) || c.stopped(1) {
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
		if c.review != nil && c.review.Beaten(c.review.Least(index, base, nil)) {
			return true
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
		return !c.stopped(1) && !c.enough()
	}
	if c.review != nil {
		return c.reviewed(index, arm, base, depth, at)
	}
	try := func(j int) bool {
		c.steps[depth] = j
		return c.descend(index, arm, base, depth+1, at.Add(c.side.Racks[depth].at(j)))
	}
	return c.each(arm, depth, at, try)
}

// each tries the steps of a rack that can matter.
func (c *search) each(arm *Arm, depth int, at plane.Point, try func(j int) bool) bool {
	if arm.Bend != nil {
		return c.tryOnBend(arm, depth, at, try)
	}
	return c.tryAtTurn(arm, depth, at, try)
}

// reviewed is descend for a review: of the steps within the limit, those that may rank highest come first.
func (c *search) reviewed(index int, arm *Arm, base, depth int, at plane.Point) bool {
	type step struct {
		j     int
		least [2]float64
	}
	var steps []step
	if !c.each(arm, depth, at, func(j int) bool {
		c.steps[depth] = j
		steps = append(steps, step{j, c.review.Least(index, base, c.steps[:depth+1])})
		return !c.stopped(1)
	}) {
		return false
	}
	slices.SortStableFunc(steps, func(a, b step) int {
		return cmp.Or(cmp.Compare(a.least[0], b.least[0]), cmp.Compare(a.least[1], b.least[1]), a.j-b.j)
	})
	for _, k := range steps {
		if c.review.Beaten(k.least) {
			continue
		}
		c.steps[depth] = k.j
		if !c.descend(index, arm, base, depth+1, at.Add(c.side.Racks[depth].at(k.j))) {
			return false
		}
	}
	return true
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

// tryOnBend tries the steps of a rack that can matter, for a lever free on the bend. Stretches of steps are
// bounded by what the rack could do if it slid along them and the later racks slid too; the most promising
// stretch is halved first.
func (c *search) tryOnBend(arm *Arm, depth int, at plane.Point, try func(j int) bool) bool {
	rack, rest := c.side.Racks[depth], c.rest[depth+1]
	low := func(lo, hi int) float64 {
		part := Rack{Dir: rack.Dir, First: rack.First + float64(lo)*rack.Step, Step: rack.Step, Count: hi - lo}
		set := plane.Zonogon{Centre: at.Add(rest.Centre), Half: append(make([]plane.Point, 0, len(rest.Half)+1), rest.Half...)}
		set.Add(part.Slide())
		_, _, square := Best(c.side.Wish, arm, set, c.limit)
		return worthwhile(square)
	}
	q := make(queue, 0, 64)
	push := func(lo, hi int) {
		if hi > lo {
			if v := low(lo, hi); v <= c.limit {
				q.push(node{lo, hi, v})
			}
		}
	}
	push(0, rack.Count)
	for len(q) > 0 && !c.stopped(64) {
		n := q.pop()
		switch mid := n.lo + (n.hi-n.lo)/2; {
		case n.low > c.limit:
			return true
		case n.hi-n.lo > 1:
			push(n.lo, mid)
			push(mid, n.hi)
		case !try(n.lo):
			return false
		}
	}
	return len(q) == 0
}
