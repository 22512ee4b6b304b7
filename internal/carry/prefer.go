package carry

import (
	"cmp"
	"context"
	"math"
	"math/bits"
	"slices"

	"carryover/internal/bike"
	"carryover/internal/locate"
	"carryover/internal/reach"
)

// fitted is the option of an open slot that counts as fitted now: the first of its list.
const fitted = 0

// Trade is the least E that some number of changed parts allows.
type Trade struct {
	Changes  int
	Changed  []Change
	Solution *Solution
}

// Change is one part in place of another.
type Change struct{ Slot, From, To string }

// Front is the trade between changing parts and missing contacts.
type Front struct {
	Trades    []Trade // one for every number of changes that brings E down, from 0
	Preferred Trade   // the fewest changes that carry every primary contact; the least E when none does
	Proven    bool    // every trade, and that fewer changes do not carry
	Subsets   int     // sets of slots tried: all of them
}

// changes compares the parts of a solution with the fitted ones.
func changes(target *bike.Bike, s *Solution) []Change {
	var list []Change
	for k := slot(0); k < slots; k++ {
		if count, isOpen := stock(target, k); !isOpen || count == 0 {
			continue
		}
		now := about(target, k, fitted)
		for _, p := range s.Parts {
			if p.Slot == slotNames[k] && p.ID != now.ID {
				list = append(list, Change{Slot: p.Slot, From: now.ID, To: p.ID})
			}
		}
	}
	return list
}

// choosable lists the open slots with something to choose that the posture uses.
func choosable(target *bike.Bike, hands bike.Contact) []slot {
	var list []slot
	for k := slot(0); k < slots; k++ {
		count, isOpen := stock(target, k)
		used := true
		switch k {
		case barSlot:
			used = hands != bike.Pad
		case leverSlot:
			used = hands == bike.Hood
		case cliponSlot:
			used = hands == bike.Pad
		}
		if isOpen && count > 1 && used {
			list = append(list, k)
		}
	}
	return list
}

// PreferFitted changes as few parts as carry the position. The fitted part of an open slot is the first of
// its list; a stem turned over is not a change. For every set of slots (there are at most 2⁴ that matter)
// the rest is held at the fitted parts and the best is found and proven, so each trade is the best of its
// number of changes.
func PreferFitted(ctx context.Context, target *bike.Bike, source bike.Feet, pos *locate.Position, o Options) (*Front, error) {
	free := choosable(target, pos.Posture.Hands)
	f := &Front{Proven: true}
	held := open()
	for _, k := range free {
		held[k] = fitted
	}
	byCount := make([]*Trade, len(free)+1)
	var preferred *Trade
	keep := func(at **Trade, s *Solution) {
		if *at == nil || s.E < (*at).Solution.E-reach.Tie {
			c := changes(target, s)
			*at = &Trade{len(c), c, s}
		}
	}
	sets := make([]uint, 1<<len(free))
	for i := range sets {
		sets[i] = uint(i)
	}
	slices.SortStableFunc(sets, func(a, b uint) int { return cmp.Compare(bits.OnesCount(a), bits.OnesCount(b)) })
	for _, set := range sets {
		count := bits.OnesCount(set)
		p := held
		for i, k := range free {
			if set>>i&1 == 1 {
				p[k] = every
			}
		}
		narrowed := p.narrow(target)
		s, err := Solve(ctx, narrowed, source, pos, o)
		if err != nil {
			return nil, err
		}
		f.Subsets++
		f.Proven = f.Proven && s.Proven
		keep(&byCount[count], s)
		if preferred != nil && preferred.Changes < count {
			continue
		}
		if !s.Carried() {
			other, proven, err := leastCarried(ctx, narrowed, source, pos, o)
			if err != nil {
				return nil, err
			}
			f.Proven = f.Proven && proven
			s = other
		}
		if s != nil {
			keep(&preferred, s)
		}
	}
	for _, t := range byCount {
		if n := len(f.Trades); n == 0 || t.Solution.E < f.Trades[n-1].Solution.E-reach.Tie {
			f.Trades = append(f.Trades, *t)
		}
	}
	f.Preferred = f.Trades[len(f.Trades)-1]
	if preferred != nil {
		f.Preferred = *preferred
	}
	return f, nil
}

// leastCarried is the carried solution of least E, nil when no combination of parts carries.
func leastCarried(ctx context.Context, target *bike.Bike, source bike.Feet, pos *locate.Position, o Options) (s *Solution, proven bool, err error) {
	saddle, hands, err := halves(target, source, pos, o)
	if err != nil {
		return nil, false, err
	}
	a, okA, provenA := saddle.leastCarried(ctx, target, pos.Posture)
	b, okB, provenB := hands.leastCarried(ctx, target, pos.Posture)
	if !okA || !okB {
		return nil, (okA || provenA) && (okB || provenB), nil
	}
	s, err = Solve(ctx, a.and(b).narrow(target), source, pos, o)
	if err != nil || !s.Carried() {
		return nil, provenA && provenB, err
	}
	return s, provenA && provenB, nil
}

// Bargain is the cheapest set of parts that carries the position.
type Bargain struct {
	Solution *Solution
	Sum      float64
	Carried  bool     // false: nothing carries, and Solution is the least E whatever it costs
	Unpriced []string // parts left out because they have no price beside others of their slot that do
	Free     []string // slots in which no part has a price: they count nothing
	Proven   bool
}

// PreferCheapest finds the least sum of part prices whose best settings carry every primary contact, and
// among equal sums the least E. A part without a price cannot be compared and is left out, unless no part
// of its slot has one. Slots are fixed one by one, cheapest part first; a branch ends when its parts, with
// the cheapest of what is still open, cost more than the best so far, or when even the best of what is
// open misses by more than any carried contact does.
func PreferCheapest(ctx context.Context, target *bike.Bike, source bike.Feet, pos *locate.Position, o Options) (*Bargain, error) {
	want, err := Want(pos, source, target.Feet, o)
	if err != nil {
		return nil, err
	}
	b := &Bargain{Proven: true}
	market := newMarket(target, choosable(target, pos.Posture.Hands), b)
	saddle := func(t *bike.Bike) (*side, error) { return saddleSide(t, pos.Posture, want.Sit) }
	hands := func(t *bike.Bike) (*side, error) { return handSide(t, pos.Posture, want.Hands) }
	p, carried := open(), true
	for _, half := range []struct {
		setUp func(*bike.Bike) (*side, error)
		slots []slot
	}{{saddle, []slot{saddleSlot}}, {hands, []slot{stemSlot, barSlot, leverSlot, cliponSlot}}} {
		h := hunt{ctx: ctx, target: target, posture: pos.Posture, setUp: half.setUp, market: market, best: math.Inf(1), proven: true}
		for _, k := range half.slots {
			if len(market[k]) > 0 {
				h.order = append(h.order, k)
			}
		}
		if err := h.fix(0, open(), 0); err != nil {
			return nil, err
		}
		b.Proven = b.Proven && h.proven
		carried = carried && h.found
		if h.found {
			p = p.and(h.chosen)
		}
	}
	if !carried {
		p = open()
	}
	if b.Solution, err = Solve(ctx, p.narrow(target), source, pos, o); err != nil {
		return nil, err
	}
	b.Carried = carried && b.Solution.Carried()
	b.Sum, _ = b.Solution.Price()
	return b, nil
}

// offer is one part of a slot at its price.
type offer struct {
	index int
	price float64
}

// newMarket lists what can be chosen in each slot, cheapest first, and notes what has no price.
func newMarket(target *bike.Bike, free []slot, b *Bargain) (m [slots][]offer) {
	for _, k := range free {
		count, _ := stock(target, k)
		var priced []offer
		var unpriced []string
		for i := range count {
			p := about(target, k, i)
			if p.Price == nil {
				unpriced = append(unpriced, p.ID)
				continue
			}
			priced = append(priced, offer{i, *p.Price})
		}
		if len(priced) == 0 {
			b.Free = append(b.Free, slotNames[k])
			continue
		}
		b.Unpriced = append(b.Unpriced, unpriced...)
		slices.SortStableFunc(priced, func(x, y offer) int { return cmp.Compare(x.price, y.price) })
		m[k] = priced
	}
	return m
}

// hunt is the search for the cheapest parts of one half.
type hunt struct {
	ctx     context.Context
	target  *bike.Bike
	posture bike.Posture
	setUp   func(*bike.Bike) (*side, error)
	market  [slots][]offer
	order   []slot

	best, square  float64
	chosen        picks
	found, proven bool
}

// fix decides the slots of the order from depth on; spent is what those before it cost.
func (h *hunt) fix(depth int, p picks, spent float64) error {
	least := spent
	for _, k := range h.order[depth:] {
		least += h.market[k][0].price
	}
	if least > h.best {
		return nil
	}
	s, err := h.setUp(p.narrow(h.target))
	if err != nil {
		return nil // these parts cannot be put together
	}
	r := s.Search(h.ctx)
	h.proven = h.proven && r.Proven
	if len(r.Ties) == 0 || r.Best > mostCarried(s.Wish.Weight)+reach.Tie || least == h.best && r.Best*r.Best >= h.square {
		return nil
	}
	if depth < len(h.order) {
		k := h.order[depth]
		for _, o := range h.market[k] {
			p[k] = o.index
			if err := h.fix(depth+1, p, spent+o.price); err != nil {
				return err
			}
		}
		return nil
	}
	got, pick, all := s.choose(h.ctx, h.target, h.posture, r, nil)
	h.proven = h.proven && all
	if s.carries(got) {
		h.best, h.square, h.found = spent, r.Best*r.Best, true
		h.chosen = p.and(s.partsWithin(p, pick))
	}
	return nil
}

// partsWithin are the parts of a candidate, by their index in the file: a slot that is already narrowed
// keeps its pick, the candidate's own index being that of the narrowed list.
func (s *side) partsWithin(p picks, c reach.Candidate) picks {
	q := s.parts(c)
	for i := range p {
		if p[i] != every {
			q[i] = p[i]
		}
	}
	return q
}
