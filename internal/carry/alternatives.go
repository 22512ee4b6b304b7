package carry

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"carryover/internal/bike"
	"carryover/internal/cockpit"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/search"
)

// parts are the picks that a candidate of one half stands for; slots of the other half stay as they are.
func (h *half) parts(c search.Candidate) bike.Picks {
	k := settled{arm: h.arms[h.ways[c.Arm].choice], base: h.bases[c.Base]}
	return k.picks()
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
		picks  bike.Picks
		square float64
	}
	var pairs []pair
	worst := func() float64 {
		if len(pairs) < n {
			return math.Inf(1)
		}
		return pairs[n-1].square
	}
	keep := func(p bike.Picks, square float64) {
		pairs = append(pairs, pair{p, square})
		slices.SortStableFunc(pairs, func(a, b pair) int { return cmp.Compare(a.square, b.square) })
		pairs = pairs[:min(n, len(pairs))]
	}
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
		got, sure := first.saddleHalf.aimed(nothingBolted.with(first.saddleHalf, c)).solve(ctx)
		proven = proven && sure
		hands := first.handHalf
		away := got.got.At.Sub(first.saddle.got.At)
		if !first.asked.Followed {
			away = plane.Point{}
		}
		near := math.Max(0, least-hands.Wish.Metric.Along*away.Norm())
		if got.square+near*near >= worst() {
			return true
		}
		i := slices.IndexFunc(known, func(k cockpits) bool { return k.at.Distance(away) <= search.Tie })
		if i < 0 {
			i, known = len(known), append(known, cockpits{at: away})
			follow := first.asked.After(got.got.At)
			hands.aim(follow.Hands, follow.Second, hands.Wish.Metric)
			all := hands.Groups(ctx, func(d search.Candidate) bool {
				known[i].list = append(known[i].list, pair{hands.parts(d), d.Square})
				return got.square+d.Square < worst() && len(known[i].list) < n
			})
			proven = proven && all
		}
		for _, d := range known[i].list {
			if got.square+d.square < worst() {
				keep(first.saddleHalf.parts(c).And(d.picks), got.square+d.square)
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
		s, err := Solve(context.WithoutCancel(ctx), target.Narrowed(p.picks), source, pos, o) // small: let it end
		if err != nil {
			return nil, false, err
		}
		list = append(list, s)
	}
	return list, proven, nil
}

// Stems returns the n stems that bring the hands nearest, best first, of those in the shop and those the file lists: each either
// way up and on its own spacers, with everything else that was chosen as it is. proven is false when the search was stopped early.
func (s *Solution) Stems(ctx context.Context, shop Shop, n int) (list []*Solution, proven bool, err error) {
	b, own := pinned(s.Target, s.picks(), s.hands.base), s.Target.Stem
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

// Built is the target with everything built as in a solution: nothing of that is left to choose.
func (s *Solution) Built() *bike.Bike {
	var list []bike.Settable
	var at []float64
	for i := range s.Settings {
		if set := &s.Settings[i]; set.Sets == bike.SetsHole || set.Sets == bike.SetsRisers {
			list, at = append(list, set.Settable), append(at, set.Travel)
		}
	}
	return pinned(s.Target, s.picks(), s.hands.base).Held(list, at)
}
