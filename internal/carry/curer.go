package carry

import (
	"cmp"
	"context"
	"math"
	"slices"

	"carryover/internal/bike"
	"carryover/internal/cockpit"
	"carryover/internal/plane"
	"carryover/internal/saddle"
	"carryover/internal/search"
)

// curer looks for the cures of one contact of one posture.
type curer struct {
	ctx     context.Context
	all     []*Solution
	of      int          // the posture of the contact
	targets []*bike.Bike // of every posture with its parts, nothing open
	sets    [][]int      // the postures that a change should carry, the most first; the last is the posture of the contact alone
	seat    bool         // the contact is the seat, else the hands
	level   float64      // what counts as cured, as a part of what counts as carried
	fits    bool         // the clip-on must fit, and the hands may stay as they are
	with    *Cure        // what is already changed on the targets
	found   []Cure
}

// prepare pins what is bolted on: nothing is left to choose but what is set.
func (c *curer) prepare() {
	every, kept := []int{}, []int{}
	for i, s := range c.all {
		picks := s.picks()
		for _, other := range c.all {
			picks = picks.And(other.picks())
		}
		c.targets = append(c.targets, pinned(s.Target, picks, s.hands.base))
		every = append(every, i)
		if i == c.of || c.now(i).Carried {
			kept = append(kept, i)
		}
	}
	c.sets = slices.CompactFunc([][]int{every, kept, {c.of}}, slices.Equal)
}

// pinned is a target with parts picked, and its stem as a choice of where the bar is clamped has it.
func pinned(target *bike.Bike, picks bike.Picks, base baseChoice) *bike.Bike {
	b := target.Narrowed(picks)
	if base.stem != nil {
		b.Stem.Flip = &base.flip
		b.Stem.Spacers = bike.Spacers{Given: true, Fixed: base.spacers}
	}
	return b
}

func (c *curer) good(k Carried) bool { return within(c.level, k.Miss, k.MissAngle) }

// cured reports whether the contact is in posture i as it should be.
func (c *curer) cured(i int, k Carried) bool {
	if c.fits && !c.now(i).Carried {
		return true
	}
	return k.Carried && (i != c.of || c.good(k))
}

// now is the contact of posture i as it is.
func (c *curer) now(i int) Carried { return contactOf(c.all[i], c.seat) }

func contactOf(s *Solution, seat bool) Carried {
	if seat {
		return s.Contacts[0]
	}
	return s.Contacts[1]
}

// made is the targets with a change made.
func (c *curer) made(change func(b *bike.Bike)) []*bike.Bike {
	list := make([]*bike.Bike, len(c.targets))
	for i, b := range c.targets {
		list[i] = b.Held(nil, nil) // a copy
		change(list[i])
	}
	return list
}

// on is the half of posture i on a bike, aimed.
func (c *curer) on(b *bike.Bike, i int) (h *half, err error) {
	s := c.all[i]
	p := s.Position.Posture
	if c.seat {
		if h, err = saddleHalf(b, p); err == nil {
			h.aim(s.Want.Sit, nil, SeatMetric(s.Want.Sit.At, p.Weights))
		}
		return h, err
	}
	if h, err = handHalf(b, p); err == nil {
		h.noAngle = s.Position.NoAngle
		h.aim(s.Want.Hands, s.Want.Second, HandMetric(p.Weights))
	}
	return h, err
}

// outcome is what becomes of the contact in one posture.
type outcome struct {
	Carried
	half    *half
	settled settled
}

// cures is what becomes of the contact in some postures, all that is left to choose chosen; ok is false where it is not cured in all.
func (c *curer) cures(bikes []*bike.Bike, who []int) (list []outcome, ok bool) {
	list, ok = c.got(bikes, who)
	for n, k := range list {
		ok = ok && c.cured(who[n], k.Carried)
	}
	return list, ok
}

// got is what becomes of the contact in some postures on changed bikes that share what is bolted on; ok is false when nothing does.
func (c *curer) got(bikes []*bike.Bike, who []int) (list []outcome, ok bool) {
	halves := make([]*half, len(who))
	for n, i := range who {
		h, err := c.on(bikes[i], i)
		if err != nil || c.ctx.Err() != nil {
			return nil, false
		}
		halves[n] = h
	}
	settled, ok := together(c.ctx, halves)
	if !ok {
		return nil, false
	}
	for n, h := range halves {
		out := settled[n]
		if part := out.arm.Clipon; c.fits && part != nil && tooWide(h.bike, part) {
			return nil, false
		}
		out.got.Name = h.want.Name
		list = append(list, outcome{Judged(h.want, out.got, true), h, out})
	}
	return list, true
}

// forFirst does something for the first of the sets of postures for which it succeeds.
func (c *curer) forFirst(does func(who []int) bool) {
	for _, who := range c.sets {
		if does(who) {
			return
		}
	}
}

// try notes the cures that do, each for as many postures as it can.
func (c *curer) try(cures ...Cure) {
	for _, cure := range cures {
		c.forFirst(func(who []int) bool { return c.tryFor(who, cure) })
	}
}

// tryFor notes a cure that brings the contact where it should be in every posture of who.
func (c *curer) tryFor(who []int, cure Cure) bool {
	bikes := c.made(cure.change)
	list, ok := c.cures(bikes, who)
	if !ok {
		return false
	}
	picks := nothingBolted.Picks
	for _, k := range list {
		picks = picks.And(k.settled.picks())
	}
	open := bikes[c.of].Narrowed(picks)
	for i, b := range bikes {
		bikes[i] = pinned(b, picks, list[0].settled.base)
	}
	// What the file fixes stands alike in every posture: in the middle of what those that feel it would have, else where one would.
	var held []bike.Settable
	cure.With = c.with
	for w := &cure; w != nil; w = w.With {
		if w.holds {
			held = append(held, bike.Settable{Sets: w.Sets, Adjuster: -1})
		}
	}
	if len(held) == 0 {
		return c.note(who, cure, bikes, open)
	}
	tries := make([][]float64, 1+len(list))
	for j := range held {
		sum, own := 0.0, make([]float64, len(list)) // NaN where a posture does not feel it
		feel := 0
		for n, k := range list {
			s := Solution{Target: k.half.bike, Source: c.all[who[n]].Source, Position: c.all[who[n]].Position, saddle: k.settled, hands: k.settled}
			if own[n] = math.NaN(); s.feels(held[j]) {
				own[n] = s.travel(&held[j])
				sum, feel = sum+own[n], feel+1
			}
		}
		middle := sum / float64(feel)
		tries[0] = append(tries[0], middle)
		for n, v := range own {
			if math.IsNaN(v) {
				v = middle
			}
			tries[n+1] = append(tries[n+1], v)
		}
	}
	return slices.ContainsFunc(tries, func(at []float64) bool {
		all := make([]*bike.Bike, len(bikes))
		for i, b := range bikes {
			all[i] = b.Held(held, at)
		}
		return c.note(who, cure, all, open)
	})
}

// note notes a cure with all postures as they come out with it, where it does in those of who.
func (c *curer) note(who []int, cure Cure, bikes []*bike.Bike, open *bike.Bike) bool {
	cure.OnSaddle = c.seat
	for i, was := range c.all {
		n, err := Solve(c.ctx, bikes[i], was.Source, was.Position, was.Options)
		if err != nil || slices.Contains(who, i) && !c.cured(i, contactOf(n, c.seat)) {
			return false
		}
		name := was.Position.Posture.Name
		for k := range was.Contacts[:2] {
			if now := n.Contacts[k]; was.Contacts[k].Carried && !now.Carried || k == 1 && was.GapShort <= 0 && n.GapShort > 0 {
				cure.Spoils = append(cure.Spoils, Touch{now.Want.Name, name})
			}
		}
		switch carried := contactOf(n, c.seat).Carried; {
		case i == c.of:
			cure.Solution = n
		case !carried && !c.now(i).Carried:
			cure.Leaves = append(cure.Leaves, name)
		case !c.now(i).Carried:
			cure.Also = append(cure.Also, name)
		}
	}
	s, n := c.all[c.of], cure.Solution
	n.Target = open
	n.reset()
	cure.measure(s, n)
	if cure.With = c.with; c.with != nil {
		with := *c.with
		with.measure(s, n)
		cure.With = &with
	}
	if cure.Kind == CureSetting && math.Abs(cure.By) < 1e-6 {
		return false
	}
	for _, p := range n.Parts {
		if p.Slot == cure.Part.Slot {
			cure.Part = p
		}
	}
	c.found = append(c.found, cure)
	return true
}

// contact looks for what cures the contact: single changes; where none does without spoiling another contact, pairs of which one is a
// setting; else all that it lacks.
func (c *curer) contact(shop Shop) Ailment {
	settings := c.settings()
	c.singles(settings, shop)
	a := Ailment{Contact: c.now(c.of).Want.Name}
	lacks := c.lacks()
	for _, k := range lacks {
		switch k.Kind {
		case CureTurn:
			a.Lack.Turn = k.By
		case CureHeight:
			a.Lack.Place.Y = k.By
		default:
			a.Lack.Place.X = k.By
		}
	}
	spoils := func(k Cure) bool { return len(k.Spoils) > 0 }
	if singles := c.found; !slices.ContainsFunc(singles, func(k Cure) bool { return !spoils(k) }) {
		first := slices.Clip(settings)
		if a.Lack.Turn != 0 && !slices.ContainsFunc(settings, Cure.turns) {
			first = append(first, lacks[0])
		}
		c.found = nil
		for i, cure := range first {
			if a.Lack.Turn == 0 || cure.turns() { // what is turned wrong is not cured by places
				c.after(cure, func(w *curer) { w.singles(settings[min(i+1, len(settings)):], shop) })
			}
		}
		if len(singles) > 0 {
			c.found = append(singles, slices.DeleteFunc(c.found, spoils)...)
		}
	}
	if len(c.found) == 0 {
		c.allOf(lacks)
	}
	slices.SortStableFunc(c.found, Cure.Compare)
	a.Cures = c.found
	return a
}

// after does something with the targets as they are once a change is made.
func (c *curer) after(cure Cure, do func(w *curer)) {
	w := *c
	cure.With = w.with
	w.targets, w.with = c.made(cure.change), &cure
	do(&w)
	c.found = w.found
}

// allOf tries changes all together.
func (c *curer) allOf(list []Cure) {
	switch {
	case len(list) == 1:
		c.try(list[0])
	case len(list) > 1:
		c.after(list[0], func(w *curer) { w.allOf(list[1:]) })
	}
}

// singles looks for single changes of the targets as they are.
func (c *curer) singles(settings []Cure, shop Shop) {
	c.try(settings...)
	if !c.seat && c.all[c.of].hands.base.stem != nil {
		c.try(c.stems(shop)...)
	}
	c.try(c.parts(shop)...)
	if (c.with == nil || !c.with.turns()) && !slices.ContainsFunc(settings, Cure.turns) {
		c.forFirst(c.leastTurn)
	}
	for _, cure := range c.leastShifts(c.sets) {
		c.try(cure)
	}
}

// settings are what could be set otherwise for nothing. What the file gives a stretch for turns no further than that.
func (c *curer) settings() (list []Cure) {
	s, b := c.all[c.of], c.targets[c.of]
	free := func(k bike.Sets, to bike.Setting) {
		list = append(list, Cure{Kind: CureSetting, Sets: k, holds: !b.Setting(k).Free, change: func(b *bike.Bike) { *b.Setting(k) = to }})
	}
	anywhere := func(lo, hi float64) bike.Setting { return bike.Setting{Given: true, Free: true, Lo: lo, Hi: hi} }
	bolt := func(k bike.Sets, moves bike.Moves) {
		if on := b.Setting(k); len(b.Moving(moves)) == 0 && !on.Free {
			free(k, anywhere(on.Lo-mostTurn, on.Lo+mostTurn))
		}
	}
	switch {
	case c.seat:
		bolt(bike.SetsSaddleTilt, bike.MovesSaddleTilt)
		if part := s.saddle.arm.Saddle; part != nil {
			free(bike.SetsRails, anywhere(part.Rail.From, part.Rail.To))
		}
	case s.hands.arm.Clipon != nil:
		for _, k := range []bike.Sets{bike.SetsPadTilt, bike.SetsHole, bike.SetsRisers} {
			if on := b.Setting(k); on.Given && (k != bike.SetsPadTilt || !on.Free) {
				free(k, bike.Setting{})
			}
		}
	default:
		bolt(bike.SetsRotation, bike.MovesBarRotation)
		if s.hands.arm.Lever != nil {
			free(bike.SetsLever, anywhere(s.hands.arm.Bar.LeverTravel()))
		}
	}
	return list
}

// stems are the ways to build the stem: on other spacers, turned over, or another one.
func (c *curer) stems(shop Shop) []Cure {
	s := c.all[c.of]
	i, flip := s.hands.base.pick, s.hands.base.flip
	spacers := soldSpacers(s.Target.Stem)
	stem := func(slot bike.Slot[cockpit.Stem], flip *bool) func(*bike.Bike) {
		return func(b *bike.Bike) { b.Stem = &bike.StemFit{Slot: slot, Flip: flip, Spacers: spacers} }
	}
	own, over := s.Target.Stem.Slot.One(i), !flip
	list := []Cure{{Kind: CureSpacers, change: stem(own, &flip)}}
	if own.Only().Angle != 0 {
		list = append(list, Cure{Kind: CureFlip, Part: Part{Flip: over}, change: stem(own, &over)})
	}
	return swapped(list, CureStem, shop.Stems, s.Target.Stem.Slot, i,
		func(b *bike.Bike, o bike.Slot[cockpit.Stem]) { stem(o, nil)(b) })
}

// soldSpacers are the stacks of spacers that may be asked for under a stem: what can be bought, or all that the file allows.
func soldSpacers(stem *bike.StemFit) bike.Spacers {
	most := spacersSold
	if f := stem.Spacers; f.Free {
		most = math.Max(most, f.Max)
	}
	return bike.Spacers{Given: true, Free: true, Max: most, Step: spacersPiece}
}

// parts are the other parts of the shop that the contact hangs on.
func (c *curer) parts(shop Shop) (list []Cure) {
	s, b := c.all[c.of], c.all[c.of].Target
	if c.seat {
		return swapped(list, CureSaddle, shop.Saddles, b.Saddle.Slot, s.saddle.arm.picks[bike.SaddleSlot],
			func(b *bike.Bike, o bike.Slot[saddle.Shape]) {
				free := b.Saddle.ClampAt.Free
				b.Saddle.Slot, b.Saddle.ClampAt = o, bike.Setting{}
				if free { // held anywhere on its own rails
					b.Saddle.ClampAt = bike.Setting{Given: true, Free: true, Lo: 0, Hi: 1000}
				}
			})
	}
	if i := s.hands.arm.picks[bike.CliponSlot]; i != bike.Every {
		return swapped(list, CureClipon, shop.Clipons, b.Clipon.Slot, i,
			func(b *bike.Bike, o bike.Slot[cockpit.Clipon]) { b.Clipon = &bike.CliponFit{Slot: o} })
	}
	list = swapped(list, CureLever, shop.Levers, b.Bar.Lever, s.hands.arm.picks[bike.LeverSlot],
		func(b *bike.Bike, o bike.Slot[cockpit.Lever]) { b.Bar.Lever = o })
	return swapped(list, CureBar, shop.Bars, b.Bar.Slot, s.hands.arm.picks[bike.BarSlot],
		func(b *bike.Bike, o bike.Slot[cockpit.Bar]) { b.Bar.Slot = o })
}

// swapped adds all that the shop has in place of the fitted part of a slot, where one is fitted.
func swapped[T any](list []Cure, kind CureKind, shop []bike.Option[T], now bike.Slot[T], fitted int,
	put func(b *bike.Bike, s bike.Slot[T])) []Cure {
	if fitted == bike.Every {
		return list
	}
	others := slices.DeleteFunc(slices.Clone(shop), func(o bike.Option[T]) bool { return o.ID == now.Options[fitted].ID })
	if len(others) == 0 {
		return list
	}
	return append(list, Cure{Kind: kind, Part: Part{Slot: kind.String()},
		change: func(b *bike.Bike) { put(b, bike.Slot[T]{Open: true, Options: others}) }})
}

// makeRoom looks for what makes room for what the bar is clamped in: the clamps further out than the file lets them go, each by
// half of what they are short, or another clip-on.
func (c *curer) makeRoom(shop Shop) Ailment {
	w := *c
	w.fits, w.level = true, 1
	each := c.all[c.of].GapShort / 2
	w.try(Cure{Kind: CureGap, By: each, change: func(b *bike.Bike) { changeClipon(b, func(p *cockpit.Clipon) { p.Spread += each }) }})
	w.try(w.parts(shop)...)
	slices.SortStableFunc(w.found, Cure.Compare)
	return Ailment{Contact: bike.Pad, Gap: true, Cures: w.found}
}

// changeClipon changes the part of a copied bike's clip-on.
func changeClipon(b *bike.Bike, change func(p *cockpit.Clipon)) {
	o := b.Clipon.Options[0]
	part := *o.Part
	change(&part)
	o.Part = &part
	b.Clipon.Options = []bike.Option[cockpit.Clipon]{o}
}

// moved is a clamp that stands elsewhere, by so much forward or up.
func (c *curer) moved(d plane.Point) Cure {
	cure := Cure{Kind: CureReach, By: d.X + d.Y}
	switch {
	case d.Y != 0:
		cure.Kind = CureHeight
	case c.seat:
		cure.Kind = CureSetback
	}
	seat := c.seat
	cure.change = func(b *bike.Bike) {
		at := &b.BarAnchor
		switch {
		case seat:
			at = &b.SaddleAnchor
		case b.Stem != nil:
			steerer, _ := b.Steerer()
			at, b.Frame.SteererTop = &b.Frame.SteererTop, &steerer.Top
		}
		to := (*at).Add(d)
		*at = &to
	}
	return cure
}

// turned is a clamp, or pads, that turn further by so much one way; ok is false where there is no such clamp, or no stop. What has no
// steps still turns as far the other way.
func (c *curer) turned(by float64) (cure Cure, ok bool) {
	s, b := c.all[c.of], c.targets[c.of]
	further := func(lo, hi *float64, by float64, whole bool) {
		if whole || by < 0 {
			*lo += by
		}
		if whole || by > 0 {
			*hi += by
		}
	}
	moves, sets, arm := bike.MovesBarRotation, bike.SetsRotation, s.hands.arm.shapeless
	switch {
	case c.seat:
		moves, sets, arm = bike.MovesSaddleTilt, bike.SetsSaddleTilt, b.Saddle.Arm
	case s.hands.arm.Clipon != nil:
		sets = bike.SetsPadTilt
	}
	on := b.Moving(moves)
	cure = Cure{Kind: CureTurn, Sets: sets, By: by, change: func(b *bike.Bike) {
		set := b.Setting(sets)
		switch {
		case sets == bike.SetsPadTilt:
			changeClipon(b, func(p *cockpit.Clipon) { further(&p.Tilt[0], &p.Tilt[1], by, true) })
			if set.Given {
				further(&set.Lo, &set.Hi, by, !set.Free)
			}
		case len(on) > 0 && !b.Adjusters[on[0]].FromHere:
			a := &b.Adjusters[on[0]]
			further(&a.Lo, &a.Hi, by/a.Unit, a.Indexed())
		default:
			further(&set.Lo, &set.Hi, by, !set.Free)
		}
	}}
	return cure, sets == bike.SetsPadTilt || arm == nil || !arm.NoTurn
}

// leastTurn looks for the clamp that turns no further than it must for the postures of who.
func (c *curer) leastTurn(who []int) bool {
	k := c.now(c.of)
	off := math.Abs(k.MissAngle)
	for n := math.Ceil((off-c.level*CarriedRad)/halfDegree - 1e-9); n > 0 && n <= math.Ceil(off/halfDegree) && off <= mostTurn; n++ {
		if cure, ok := c.turned(math.Copysign(n*halfDegree, -k.MissAngle)); ok && c.tryFor(who, cure) {
			return true
		}
	}
	return false
}

// leastShifts are the least whole numbers of millimetres by which the clamp must stand higher or lower, and further forward
// or back, so that it does; for the postures of the first of the sets that can be had.
func (c *curer) leastShifts(sets [][]int) (list []Cure) {
	for _, dir := range [2]plane.Point{{Y: 1}, {X: 1}} {
		for _, who := range sets {
			if best := c.leastShift(dir, who); best.change != nil {
				list = append(list, best)
				break
			}
		}
	}
	if len(list) == 2 { // no one asks for many millimetres where a few do
		list = slices.DeleteFunc(list, func(c Cure) bool { return math.Abs(c.By) > 2*math.Min(math.Abs(list[0].By), math.Abs(list[1].By)) })
	}
	return list
}

// leastShift is the least that does one way or the other, tried towards the wanted place first. A shift by d lessens what the metric
// counts by no more than d times its greater weight: so many are passed over.
func (c *curer) leastShift(dir plane.Point, who []int) Cure {
	best := Cure{By: mostMM + wholeMM}
	towards := math.Copysign(1, c.now(c.of).Away.Dot(dir))
	for _, sign := range [2]float64{towards, -towards} {
		for d := wholeMM; d < math.Abs(best.By); {
			cure := c.moved(dir.Scale(sign * d))
			bikes := c.made(cure.change)
			h, err := c.on(bikes[c.of], c.of)
			if err != nil || c.ctx.Err() != nil {
				return best
			}
			least, _, _ := h.Best(c.ctx)
			angle, m := h.Arms[least.Arm].Square, h.Wish.Metric
			if math.Sqrt(angle) > h.posture.Weights.Angle*c.level*CarriedRad+1e-9 {
				return best
			}
			short := math.Sqrt(math.Max(0, least.Square-angle))/math.Max(m.Along, m.Across) - c.level*CarriedMM
			if short <= search.Tie {
				if _, ok := c.cures(bikes, who); ok {
					best = cure
					break
				}
			}
			d += math.Max(wholeMM, wholeMM*math.Floor(short/wholeMM))
		}
	}
	return best
}

// lacks are the changes that together bring the half where it should be in the posture of the contact: its angle first, then its place,
// each as little as does; none where nothing known to be turned would do.
func (c *curer) lacks() (list []Cure) {
	alone := []int{c.of}
	k, w := c.now(c.of), *c
	if n := math.Ceil((math.Abs(k.MissAngle)-c.level*CarriedRad)/halfDegree - 1e-9); n > 0 {
		cure, ok := c.turned(math.Copysign(n*halfDegree, -k.MissAngle))
		if !ok {
			return nil
		}
		list, w.targets = append(list, cure), c.made(cure.change)
		got, ok := w.got(w.targets, alone)
		if !ok {
			return list
		}
		k = got[0].Carried
	}
	if w.good(k) {
		return list
	}
	if shifts := w.leastShifts([][]int{alone}); len(shifts) > 0 {
		return append(list, slices.MinFunc(shifts, func(a, b Cure) int { return cmp.Compare(math.Abs(a.By), math.Abs(b.By)) }))
	}
	var both []Cure
	whole := func(v float64) float64 { return math.Copysign(math.Ceil(math.Abs(v)/wholeMM-1e-9)*wholeMM, v) }
	for _, d := range [...]plane.Point{k.Away.Scale(1 - c.level*CarriedMM/k.Miss), k.Away} {
		both = nil
		for _, along := range [...]plane.Point{{Y: whole(d.Y)}, {X: whole(d.X)}} {
			if along != (plane.Point{}) {
				both = append(both, w.moved(along))
			}
		}
		got, ok := w.got(w.made(func(b *bike.Bike) {
			for _, cure := range both {
				cure.change(b)
			}
		}), alone)
		if ok && w.good(got[0].Carried) {
			break
		}
	}
	return append(list, both...)
}
