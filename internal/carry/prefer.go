package carry

import (
	"cmp"
	"context"
	"math"
	"math/bits"
	"slices"

	"carryover/internal/bike"
	"carryover/internal/locate"
	"carryover/internal/search"
)

// fitted is the option of an open slot that counts as fitted now: the first of its list.
const fitted = 0

// Trade is the least E that some number of changed parts allows.
type Trade struct {
	Changed  []Change
	Solution *Solution
}

// Change is one part in place of another.
type Change struct {
	From string `json:"from"`
	Slot string `json:"slot"`
	To   string `json:"to"`
}

// Front is the trade between changing parts and missing contacts.
type Front struct {
	Trades    []Trade // one for every number of changes that brings E down, from 0
	Preferred Trade   // the fewest changes that carry every primary contact; the least E when none does
	Proven    bool    // every trade, and that fewer changes do not carry
}

// changes compares the parts of a solution with the fitted ones.
func changes(target *bike.Bike, s *Solution) []Change {
	var list []Change
	for _, k := range target.Stocks() {
		if !k.Open || k.Count == 0 {
			continue
		}
		now := k.At(fitted)
		for _, p := range s.Parts {
			if p.Slot == k.Slot && p.ID != now.ID {
				list = append(list, Change{Slot: p.Slot, From: now.ID, To: p.ID})
			}
		}
	}
	return list
}

// choosable lists the open slots with something to choose that the posture uses.
func choosable(target *bike.Bike, hands bike.Contact) []int {
	var list []int
	for k, s := range target.Stocks() {
		if s.Open && s.Count > 1 && hands.Uses(k) {
			list = append(list, k)
		}
	}
	return list
}

// PreferFitted changes as few parts as carry the position. The fitted part of an open slot is the first of
// its list; a stem turned over is not a change. For every set of slots (there are at most 2⁴ that matter)
// the rest is held at the fitted parts and the best is found and proven, so each trade is the best of its
// number of changes.
func PreferFitted(ctx context.Context, target, source *bike.Bike, pos *locate.Position, o Options) (*Front, error) {
	free := choosable(target, pos.Posture.Hands)
	f := &Front{Proven: true}
	var held bike.Picks // the fitted ones, the first of their lists
	for k := range held {
		if !slices.Contains(free, k) {
			held[k] = bike.Every
		}
	}
	sets := make([]uint, 1<<len(free))
	for i := range sets {
		sets[i] = uint(i)
	}
	slices.SortStableFunc(sets, func(a, b uint) int { return cmp.Compare(bits.OnesCount(a), bits.OnesCount(b)) })
	var preferred *Trade
	for _, set := range sets {
		p := held
		for i, k := range free {
			if set>>i&1 == 1 {
				p[k] = bike.Every
			}
		}
		s, err := Solve(ctx, target.Narrowed(p), source, pos, o)
		if err != nil {
			return nil, err
		}
		f.Proven = f.Proven && s.Proven
		t := Trade{changes(target, s), s}
		switch n := len(f.Trades); {
		case n > 0 && s.E >= f.Trades[n-1].Solution.E-search.Tie:
		case n > 0 && len(f.Trades[n-1].Changed) == len(t.Changed):
			f.Trades[n-1] = t
		default:
			f.Trades = append(f.Trades, t)
		}
		if preferred != nil && len(preferred.Changed) < bits.OnesCount(set) {
			continue
		}
		if !s.Carried() {
			var proven bool
			if s, proven, err = leastCarried(ctx, s); err != nil {
				return nil, err
			}
			f.Proven = f.Proven && proven
		}
		if s != nil && (preferred == nil || s.E < preferred.Solution.E-search.Tie) {
			preferred = &Trade{changes(target, s), s}
		}
	}
	f.Preferred = f.Trades[len(f.Trades)-1]
	if preferred != nil {
		f.Preferred = *preferred
	}
	return f, nil
}

// leastCarried is the carried solution whose saddle, and then whose cockpit, has the least E; nil when no combination
// of parts carries.
func leastCarried(ctx context.Context, first *Solution) (s *Solution, proven bool, err error) {
	proven = true
	hands := first.handHalf
	saddles := first.saddleHalf.Groups(ctx, func(c search.Candidate) bool {
		saddle := first.saddleHalf.aimed(nothingBolted.with(first.saddleHalf, c))
		got, sure := saddle.solve(ctx)
		proven = proven && sure
		if c.Square > mostCarried(saddle) {
			return false
		}
		if !saddle.carries(got) {
			return true
		}
		follow := first.asked.After(got.got.At)
		hands.aim(follow.Hands, follow.Second, hands.Wish.Metric)
		all := hands.Groups(ctx, func(d search.Candidate) bool {
			if d.Square > mostCarried(hands) {
				return false
			}
			if hands.carries(hands.settle(d)) {
				parts := first.saddleHalf.parts(c).And(hands.parts(d))
				s, err = Solve(ctx, first.Target.Narrowed(parts), first.Source, first.Position, first.Options)
			}
			return s == nil && err == nil
		})
		proven = proven && all
		return s == nil && err == nil
	})
	if err != nil || s == nil || !s.Carried() {
		return nil, proven && saddles, err
	}
	return s, true, nil
}

// mostCarried is the greatest E² that a carried contact can have, mm².
func mostCarried(h *half) float64 {
	m, k := h.Wish.Metric, h.posture.Weights.Angle*CarriedRad
	place := CarriedMM * math.Max(m.Along, m.Across)
	return place*place + k*k + search.Tie
}

// carries reports whether a settled half carries its contact.
func (h *half) carries(k settled) bool { return Carries(k.miss.Norm(), k.got.Angle-h.want.Angle) }
