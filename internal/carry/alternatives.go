package carry

import (
	"cmp"
	"context"
	"errors"
	"math"
	"slices"

	"carryover/internal/bike"
	"carryover/internal/locate"
	"carryover/internal/reach"
)

// slot is a place for a part.
type slot int

// The slots, in the order their parts are listed.
const (
	saddleSlot slot = iota
	barSlot
	leverSlot
	stemSlot
	cliponSlot
	slots
)

var slotNames = [slots]string{"saddle", "bar", "lever", "stem", "clipon"}

// every leaves a slot as open as the file has it.
const every = -1

// picks narrows each slot to one of its options, by index, or to none (every).
type picks [slots]int

func open() picks {
	var p picks
	for i := range p {
		p[i] = every
	}
	return p
}

// stock is how many options a slot has and whether the file leaves it open.
func stock(b *bike.Bike, s slot) (count int, isOpen bool) {
	switch s {
	case saddleSlot:
		return len(b.Saddle.Options), b.Saddle.Open
	case barSlot:
		return len(b.Bar.Options), b.Bar.Open
	case leverSlot:
		return len(b.Bar.Lever.Options), b.Bar.Lever.Open
	case stemSlot:
		if b.Stem != nil {
			return len(b.Stem.Options), b.Stem.Open
		}
	case cliponSlot:
		if b.Clipon != nil {
			return len(b.Clipon.Options), b.Clipon.Open
		}
	}
	return 0, false
}

// about is the id, name and price of an option of a slot.
func about(b *bike.Bike, s slot, i int) Part {
	p := Part{Slot: slotNames[s]}
	switch s {
	case saddleSlot:
		o := b.Saddle.Options[i]
		p.ID, p.Name, p.Price = o.ID, o.Name, o.Price
	case barSlot:
		o := b.Bar.Options[i]
		p.ID, p.Name, p.Price = o.ID, o.Name, o.Price
	case leverSlot:
		o := b.Bar.Lever.Options[i]
		p.ID, p.Name, p.Price = o.ID, o.Name, o.Price
	case stemSlot:
		o := b.Stem.Options[i]
		p.ID, p.Name, p.Price = o.ID, o.Name, o.Price
	case cliponSlot:
		o := b.Clipon.Options[i]
		p.ID, p.Name, p.Price = o.ID, o.Name, o.Price
	}
	return p
}

// only narrows a slot to its option i.
func only[T any](s bike.Slot[T], i int) bike.Slot[T] {
	if i != every && i < len(s.Options) {
		s.Options = s.Options[i : i+1]
	}
	return s
}

// narrow is the bike with its slots narrowed; everything else is shared with the original.
func (p picks) narrow(b *bike.Bike) *bike.Bike {
	n := *b
	n.Saddle.Slot = only(b.Saddle.Slot, p[saddleSlot])
	n.Bar.Slot = only(b.Bar.Slot, p[barSlot])
	n.Bar.Lever = only(b.Bar.Lever, p[leverSlot])
	if b.Stem != nil {
		stem := *b.Stem
		stem.Slot = only(b.Stem.Slot, p[stemSlot])
		n.Stem = &stem
	}
	if b.Clipon != nil {
		clipon := *b.Clipon
		clipon.Slot = only(b.Clipon.Slot, p[cliponSlot])
		n.Clipon = &clipon
	}
	return &n
}

// parts are the picks a candidate of one half stands for; slots of the other half stay as they are.
func (s *side) parts(c reach.Candidate) picks {
	p := open()
	if at := s.bases[c.Base]; at.stem >= 0 {
		p[stemSlot] = at.stem
	}
	a := s.arms[c.Arm]
	for k, i := range map[slot]int{saddleSlot: a.saddle, barSlot: a.bar, leverSlot: a.lever, cliponSlot: a.clipon} {
		if i >= 0 {
			p[k] = i
		}
	}
	return p
}

// group numbers the parts of a candidate: candidates of the same parts, whatever their settings, share it.
func (s *side) group(c reach.Candidate) uint64 {
	at, a := s.bases[c.Base], s.arms[c.Arm]
	number := uint64(0)
	for _, i := range [...]int{a.saddle, a.bar, a.lever, a.clipon, at.stem} {
		number = number*10_007 + uint64(i+1) // no slot of a file holds ten thousand parts
	}
	return number
}

// and joins the picks of the two halves.
func (p picks) and(q picks) picks {
	for i := range p {
		if p[i] == every {
			p[i] = q[i]
		}
	}
	return p
}

// halves sets up both halves of a target.
func halves(target *bike.Bike, source bike.Feet, pos *locate.Position, o Options) (saddle, hands *side, err error) {
	want, err := Want(pos, source, target.Feet, o)
	if err != nil {
		return nil, nil, err
	}
	if saddle, err = saddleSide(target, pos.Posture, want.Sit); err != nil {
		return nil, nil, err
	}
	hands, err = handSide(target, pos.Posture, want.Hands)
	return saddle, hands, err
}

// Alternatives returns the n best combinations of parts, each with its own best settings, in rising order
// of E: the best one and what could be fitted instead. The two halves share no part, so the best n of the
// bike are among the pairs of the best n of each. proven is false when the search was stopped early.
func Alternatives(ctx context.Context, target *bike.Bike, source bike.Feet, pos *locate.Position, o Options, n int) (list []*Solution, proven bool, err error) {
	saddle, hands, err := halves(target, source, pos, o)
	if err != nil {
		return nil, false, err
	}
	a, b := saddle.Alternatives(ctx, n, saddle.group), hands.Alternatives(ctx, n, hands.group)
	type pair struct {
		picks  picks
		square float64
	}
	var pairs []pair
	for _, x := range a.Ties {
		for _, y := range b.Ties {
			pairs = append(pairs, pair{saddle.parts(x).and(hands.parts(y)), x.Square + y.Square})
		}
	}
	slices.SortStableFunc(pairs, func(x, y pair) int { return cmp.Compare(x.square, y.square) })
	for _, p := range pairs[:min(n, len(pairs))] {
		s, err := Solve(context.WithoutCancel(ctx), p.picks.narrow(target), source, pos, o) // small: let it end
		if err != nil {
			return nil, false, err
		}
		list = append(list, s)
	}
	if len(list) == 0 {
		return nil, false, errors.New("stopped before any combination of parts was tried")
	}
	return list, a.Proven && b.Proven, nil
}

// Price sums the prices of the chosen parts and names those that have none.
func (s *Solution) Price() (sum float64, unpriced []string) {
	for _, p := range s.Parts {
		if p.Price == nil {
			unpriced = append(unpriced, p.ID)
			continue
		}
		sum += *p.Price
	}
	return sum, unpriced
}

// mostCarried is the greatest E that a carried contact of weight k (mm per radian) can have, mm.
func mostCarried(k float64) float64 { return math.Hypot(CarriedMM, k*CarriedRad) }

// carries reports whether a settled half carries its contact.
func (s *side) carries(k settled) bool {
	return Carries(k.miss.Norm(), k.got.Angle-s.Wish.Angle)
}

// leastCarried returns the parts of least E whose best settings carry the contact. More and more groups
// are asked for until one carries or E is beyond what any carried contact has; ok is false when none does.
func (s *side) leastCarried(ctx context.Context, b *bike.Bike, p bike.Posture) (parts picks, ok, proven bool) {
	const most = 1 << 12
	for n := 1; ; n *= 8 {
		r := s.Alternatives(ctx, n, s.group)
		for _, c := range r.Ties {
			if s.carries(s.settle(b, p, c, nil)) {
				return s.parts(c), true, r.Proven
			}
		}
		last := math.Inf(1)
		if len(r.Ties) > 0 {
			last = math.Sqrt(r.Ties[len(r.Ties)-1].Square)
		}
		if !r.Proven || len(r.Ties) < n || last > mostCarried(s.Wish.Weight) || n >= most {
			return picks{}, false, r.Proven && n < most
		}
	}
}
