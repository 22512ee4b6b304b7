package carry

import (
	"cmp"
	"context"
	"errors"
	"math"
	"slices"

	"carryover/internal/bike"
	"carryover/internal/locate"
	"carryover/internal/search"
)

// Asked is a posture to carry to a target as it stands for it.
type Asked struct {
	Target   *bike.Bike
	Position *locate.Position
}

// Outcome is what became of it: a solution, or why there is none.
type Outcome struct {
	*Solution
	Err error
}

// SolveAll carries several postures to one target. What is bolted on serves them all: of saddles, bars, levers, stems,
// spacers and clip-ons the choice with the least sum of E² over the postures that can be carried at all; of several hands'
// parts with the same sum those whose second contacts, and then whose way from home, sum up to less.
func SolveAll(ctx context.Context, source *bike.Bike, asked []Asked, o Options) []Outcome {
	list := make([]Outcome, len(asked))
	var all []*Solution
	for i, a := range asked {
		s, err := Solve(ctx, a.Target, source, a.Position, o)
		if list[i] = (Outcome{s, err}); err == nil {
			all = append(all, s)
		}
	}
	if len(all) > 1 {
		alone := make([]Solution, len(all))
		for i, s := range all {
			alone[i] = *s
		}
		err := shareParts(ctx, all)
		for i := range list {
			list[i].Err = cmp.Or(list[i].Err, err)
		}
		for i, s := range all {
			if s.E > alone[i].E+search.Tie {
				s.Alone = &alone[i]
			}
		}
	}
	for i := range list {
		if list[i].Err != nil {
			list[i].Solution = nil
		}
	}
	return list
}

// bolted is a choice of what all postures share: parts, and the base of the hands, its stem with its spacers; bike.Every: open.
type bolted struct {
	bike.Picks
	base int
}

var nothingBolted = bolted{bike.Picks{bike.Every, bike.Every, bike.Every, bike.Every, bike.Every}, bike.Every}

// with is a choice of parts with what a candidate of a half adds.
func (k bolted) with(h *half, c search.Candidate) bolted {
	k.Picks = k.And(h.parts(c))
	if h.want.Name != bike.Sit {
		k.base = h.Bases[c.Base].Parts
	}
	return k
}

// only is a half with what is bolted on alone, not yet aimed; its bases are groups of their own.
func (h *half) only(k bolted) *half {
	n := h.copied()
	n.arms, n.bases, n.Bases = nil, nil, nil
	for _, a := range h.arms {
		if k.And(a.picks) == a.picks.And(k.Picks) { // neither says otherwise
			n.arms = append(n.arms, a)
		}
	}
	for i, b := range h.Bases {
		if h.want.Name != bike.Sit {
			b.Parts = i
		}
		if h.want.Name == bike.Sit || k.base == bike.Every || k.base == b.Parts {
			n.Bases, n.bases = append(n.Bases, b), append(n.bases, h.bases[i])
		}
	}
	return n
}

// aimed is a half with what is bolted on alone, aimed as the whole half is.
func (h *half) aimed(k bolted) *half {
	n := h.only(k)
	n.aim(h.want, h.second, h.Wish.Metric)
	return n
}

// open reports whether a half has parts, or spacers, to choose from.
func (h *half) open() bool {
	return len(h.bases) > 1 || slices.ContainsFunc(h.arms, func(a armChoice) bool { return a.picks != h.arms[0].picks })
}

// shareParts makes solved postures share what is bolted on. The hands follow the saddle that is got, so every saddle that
// may be best is tried: they come in rising order of what the seats alone come to, which the whole does not fall below.
func shareParts(ctx context.Context, all []*Solution) error {
	seats, hands := make([]*half, len(all)), make([]*half, len(all))
	for i, s := range all {
		seats[i], hands[i] = s.saddleHalf, s.handHalf
	}
	if !slices.ContainsFunc(slices.Concat(seats, hands), (*half).open) {
		return nil
	}
	// solved solves every posture with what is bolted on; proven tells whether each answer is.
	solved := func(k bolted) (proven bool) {
		proven = true
		for i, s := range all {
			s.saddleHalf, s.handHalf = seats[i].only(k), hands[i].only(k)
			s.solve(ctx)
			proven = proven && s.Proven
		}
		return proven
	}
	type saddle struct {
		k      bolted
		square float64
	}
	var saddles []saddle
	best, least, found, proven := nothingBolted, math.Inf(1), false, true
	for _, a := range seats[0].arms { // of each saddle
		k := saddle{k: bolted{a.picks, bike.Every}}
		for _, h := range seats {
			n := h.aimed(k.k)
			if len(n.arms) == 0 {
				k.square = math.Inf(1)
				break
			}
			c, _, sure := n.Best(ctx)
			k.square, proven = k.square+c.Square, proven && sure
		}
		saddles = append(saddles, k)
	}
	slices.SortStableFunc(saddles, func(a, b saddle) int { return cmp.Compare(a.square, b.square) })
	for _, k := range saddles {
		if math.IsInf(k.square, 1) || found && k.square > least {
			break // the saddles that follow are no better
		}
		sure := solved(k.k)
		halves := make([]*half, len(all))
		for i, s := range all {
			halves[i] = s.handHalf
		}
		chosen, square, ok, all := sharedBest(ctx, halves, k.k)
		proven = proven && sure && all
		if total := k.square + square; ok && (!found || math.Sqrt(total) < math.Sqrt(least)-search.Tie) {
			best, least, found = chosen, total, true
		}
	}
	if !found {
		return errors.New("no choice of parts serves every posture: ask for one with --posture")
	}
	sure := solved(best)
	for _, s := range all {
		s.Proven = sure && proven
	}
	return nil
}

// together settles aimed halves of several postures with the same parts bolted on.
func together(ctx context.Context, halves []*half) (list []settled, ok bool) {
	k, open := nothingBolted, len(halves) > 1 && slices.ContainsFunc(halves, (*half).open)
	if open {
		each := make([]*half, len(halves))
		for i, h := range halves {
			each[i] = h.aimed(k)
		}
		if k, _, ok, _ = sharedBest(ctx, each, k); !ok {
			return nil, false
		}
	}
	for _, h := range halves {
		if open {
			h = h.aimed(k)
		}
		out, _ := h.solve(ctx)
		list = append(list, out)
	}
	return list, true
}

// mostShared bounds how many choices with the same sum are compared.
const mostShared = 256

// sharedBest is the choice of parts with the least sum of E² over halves that have been aimed. Groups of parts of the
// first half come in rising order; each leaves the others only what goes with it, and none is worth a look once it and
// the least that the others can have, each by itself, come to more than the best.
func sharedBest(ctx context.Context, halves []*half, k bolted) (best bolted, square float64, ok, proven bool) {
	least := make([]float64, len(halves)+1) // of the halves from i on, each by itself
	proven = true
	for i := len(halves) - 1; i >= 0; i-- {
		c, _, sure := halves[i].Best(ctx)
		least[i], proven = least[i+1]+c.Square, proven && sure
	}
	type total struct {
		k      bolted
		square float64
	}
	var found []total
	limit := math.Inf(1)
	var walk func(i int, k bolted, square float64)
	walk = func(i int, k bolted, square float64) {
		if i == len(halves) {
			found = append(found, total{k, square})
			e := math.Sqrt(square) + search.Tie
			if e*e < limit {
				limit = e * e
				found = slices.DeleteFunc(found, func(t total) bool { return t.square > limit })
			}
			return
		}
		h := halves[i].aimed(k)
		sure := h.Groups(ctx, func(c search.Candidate) bool {
			if square+c.Square+least[i+1] > limit || len(found) >= mostShared {
				return false
			}
			walk(i+1, k.with(h, c), square+c.Square)
			return true
		})
		proven = proven && sure
	}
	walk(0, k, 0)
	if len(found) == 0 {
		return best, 0, false, proven
	}
	rank := func(t total) (second, stray float64) {
		for _, h := range halves {
			out, sure := h.aimed(t.k).solve(ctx)
			proven = proven && sure
			second, stray = second+out.short*out.short, stray+out.strayS
		}
		return math.Sqrt(second), stray
	}
	second, stray := math.Inf(1), math.Inf(1)
	for _, t := range found {
		if len(found) == 1 {
			return t.k, t.square, true, proven
		}
		if a, b := rank(t); a < second-search.Tie || a < second+search.Tie && b < stray-evenStray {
			best, square, second, stray = t.k, t.square, a, b
		}
	}
	return best, square, true, proven
}
