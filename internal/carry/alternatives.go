package carry

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"carryover/internal/bike"
	"carryover/internal/cockpit"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/search"
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

// about is the id and name of an option of a slot.
func about(b *bike.Bike, s slot, i int) Part {
	p := Part{Slot: slotNames[s]}
	switch s {
	case saddleSlot:
		o := b.Saddle.Options[i]
		p.ID, p.Name = o.ID, o.Name
	case barSlot:
		o := b.Bar.Options[i]
		p.ID, p.Name = o.ID, o.Name
	case leverSlot:
		o := b.Bar.Lever.Options[i]
		p.ID, p.Name = o.ID, o.Name
	case stemSlot:
		o := b.Stem.Options[i]
		p.ID, p.Name = o.ID, o.Name
	case cliponSlot:
		o := b.Clipon.Options[i]
		p.ID, p.Name = o.ID, o.Name
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
func (h *half) parts(c search.Candidate) picks {
	a := h.arms[h.ways[c.Arm].choice]
	return picks{saddleSlot: a.saddle, barSlot: a.bar, leverSlot: a.lever, stemSlot: h.bases[c.Base].stem, cliponSlot: a.clipon}
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

// Alternatives returns the n best combinations of parts, each with its own best settings, in rising order of E: the best
// one and what could be fitted instead. Every saddle that may be among them is got first, since the hands follow it; then
// every cockpit. proven is false when the search was stopped early.
func Alternatives(ctx context.Context, target, source *bike.Bike, pos *locate.Position, o Options, n int) (list []*Solution, proven bool,
	err error) {
	first, err := Solve(ctx, target, source, pos, o)
	if err != nil {
		return nil, false, err
	}
	type pair struct {
		picks  picks
		square float64
	}
	var pairs []pair
	worst := func() float64 {
		if len(pairs) < n {
			return math.Inf(1)
		}
		return pairs[n-1].square
	}
	keep := func(p picks, square float64) {
		at, _ := slices.BinarySearchFunc(pairs, square, func(x pair, v float64) int {
			if x.square <= v {
				return -1
			}
			return 1
		})
		pairs = slices.Insert(pairs, at, pair{p, square})
		pairs = pairs[:min(n, len(pairs))]
	}
	want := first.Want
	// cockpits are those found for a place of the seat, best first; of a seat elsewhere no cockpit comes nearer by more
	// than it is away.
	type cockpits struct {
		at   plane.Point
		list []pair
	}
	var known []cockpits
	least := math.Sqrt(first.hands.square)
	proven = first.Proven
	all := first.saddleHalf.Groups(ctx, func(c search.Candidate) bool {
		if c.Square >= worst() {
			return false
		}
		got, _, _, _ := first.with(first.saddleHalf.parts(c)).choose(ctx)
		hands := first.handHalf
		away := got.got.At.Sub(first.saddle.got.At)
		if !want.Followed {
			away = plane.Point{}
		}
		near := math.Max(0, least-hands.Wish.Metric.Along*away.Norm())
		if got.square+near*near >= worst() {
			return true
		}
		i := slices.IndexFunc(known, func(k cockpits) bool { return k.at.Distance(away) <= search.Tie })
		if i < 0 {
			i, known = len(known), append(known, cockpits{at: away})
			follow := want.after(want.Sit.At) // a copy
			follow.shift(away)
			hands.aim(follow.Hands, follow.Second, hands.Wish.Metric)
			all := hands.Groups(ctx, func(d search.Candidate) bool {
				known[i].list = append(known[i].list, pair{hands.parts(d), d.Square})
				return got.square+d.Square < worst() && len(known[i].list) < n
			})
			proven = proven && all
		}
		for _, d := range known[i].list {
			if got.square+d.square < worst() {
				keep(first.saddleHalf.parts(c).and(d.picks), got.square+d.square)
			}
		}
		return true
	})
	proven = proven && all
	// The answer comes first, even where a saddle of its own less E would have let the hands make good for it.
	answer := first.picks()
	pairs = slices.DeleteFunc(pairs, func(p pair) bool { return p.picks == answer })
	pairs = slices.Insert(pairs, 0, pair{picks: answer})
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
	return list, proven, nil
}

// Stems returns the n stems that bring the hands nearest, best first, of those in the shop and those the file lists: each either
// way up and on its own spacers, with everything else that was chosen as it is. proven is false when the search was stopped early.
func (s *Solution) Stems(ctx context.Context, shop Shop, n int) (list []*Solution, proven bool, err error) {
	b, own := s.pinned(), s.Target.Stem
	if own == nil {
		return nil, false, fmt.Errorf("%s has no [stem], so there is none to buy: give [stem] with frame stack, reach and head_angle", b.File)
	}
	options := slices.Clone(shop.Stems)
	for _, o := range own.Options {
		if !slices.ContainsFunc(options, func(k bike.Option[cockpit.Stem]) bool { return k.ID == o.ID }) {
			options = append(options, o)
		}
	}
	spacers := bike.Spacers{Given: true, Free: true, Max: spacersSold, Step: spacersPiece}
	if own.Spacers.Free {
		spacers = own.Spacers
	}
	b.Stem = &bike.StemFit{Slot: bike.Slot[cockpit.Stem]{Open: true, Options: options}, Spacers: spacers}
	return Alternatives(ctx, b, s.Source, s.Position, s.Options, n)
}

// with is the saddle half with one choice of parts.
func (s *Solution) with(p picks) *half {
	h := *s.saddleHalf
	h.arms, h.Arms, h.ways = nil, nil, nil
	for _, a := range s.saddleHalf.arms {
		if a.saddle == p[saddleSlot] {
			h.arms = append(h.arms, a)
		}
	}
	h.aim(s.Want.Sit, nil, h.Wish.Metric)
	return &h
}
