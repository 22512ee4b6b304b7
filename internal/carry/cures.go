package carry

import (
	"cmp"
	"context"
	"encoding/json"
	"math"
	"slices"

	"carryover/internal/bike"
	"carryover/internal/cockpit"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Shop is what could be bought: the parts of the catalogue.
type Shop struct {
	Saddles []bike.Option[saddle.Shape]
	Bars    []bike.Option[cockpit.Bar]
	Levers  []bike.Option[cockpit.Lever]
	Stems   []bike.Option[cockpit.Stem]
	Clipons []bike.Option[cockpit.Clipon]
}

// CureKind is what a cure changes, in the order of what it costs: first what is only set otherwise, then what is bought,
// last what is done to the machine.
type CureKind int

// The kinds of cure.
const (
	CureGap     CureKind = iota // the clamps of the clip-on, with their pads, further out on the bar
	CureSetting                 // a setting that the file fixes, or holds to less than its part offers
	CureSpacers                 // more or fewer spacers under the same stem
	CureFlip                    // the stem turned over, with its spacers
	CureStem                    // another stem, with its spacers
	CureLever
	CureClipon
	CureSaddle
	CureBar
	CureTurn    // a clamp that turns further
	CureSetback // a seatpost with more (or less) setback
	CureHeight  // more (or less) under saddle or bar
	CureReach   // the bar further forward (or back)
)

// Cure is one change after which a contact is carried, and what becomes of the bike with it made. Every posture is solved anew with
// what is bolted on shared.
type Cure struct {
	Kind     CureKind
	OnSaddle bool // it is the seat that is cured, else the hands
	Sets     bike.Sets
	// By is how much: of a setting its travel from where the file holds it (mm or radians), of spacers the change, of clamps
	// how far each goes out, of what is done to the machine mm forward or up, or radians; the least that does, in whole
	// millimetres and half degrees.
	By       float64
	Part     Part  // what is fitted instead; its Slot is "" where nothing is
	With     *Cure // what else must be changed, where no single change does
	Solution *Solution
	Also     []string // other postures that it cures as well
	Leaves   []string // other postures in which the seat, or the hands, are as little carried as before
	Spoils   []Touch  // contacts that were carried and with it are not

	change func(b *bike.Bike) // makes the change on a copy of the target
	holds  bool               // the file fixes the setting: it then stands alike in every posture
}

// Touch is a contact in a posture.
type Touch struct {
	Posture string
	Contact bike.Contact
}

// Cost is the dearest kind of what must be changed.
func (c Cure) Cost() CureKind {
	if c.With != nil {
		return max(c.Kind, c.With.Cost())
	}
	return c.Kind
}

// Compare puts a cure that carries every posture before one that leaves another as it is, and that before one that spoils something;
// of these what costs nothing first, and of one kind the smaller change.
func (c Cure) Compare(d Cure) int {
	rank := func(c Cure) int {
		switch {
		case len(c.Spoils) > 0:
			return 2
		case len(c.Leaves) > 0:
			return 1
		}
		return 0
	}
	return cmp.Or(cmp.Compare(rank(c), rank(d)), cmp.Compare(c.Cost(), d.Cost()), cmp.Compare(c.Kind, d.Kind),
		cmp.Compare(math.Abs(c.By), math.Abs(d.By)))
}

// Lack is what a half lacks to have its contact in place, the angle first: radians, and mm forward and up, each as
// little as does, in half degrees and whole millimetres. Zero where nothing known to be turned or moved would do.
type Lack struct {
	Turn  float64
	Place plane.Point
}

// Ailment is a contact that is not carried, or is held short of its place by a stop, or a clip-on that does not fit; and
// what would cure it, in the order of Compare.
type Ailment struct {
	Contact bike.Contact
	Gap     bool // what ails is the gap between the clip-on's clamps
	Lack    Lack
	Cures   []Cure
}

// Single reports whether a single change is a cure.
func (a *Ailment) Single() bool {
	return slices.ContainsFunc(a.Cures, func(c Cure) bool { return c.With == nil })
}

// spacersSold bounds the stack of spacers that a cure may ask for, mm, and pieces it is built of (common practice).
const (
	spacersSold  = 40.0
	spacersPiece = 5.0
)

// What is done to a machine goes in such steps, and no further than this; a bolt turns what it holds by up to mostTurn.
const (
	wholeMM    = 1.0
	halfDegree = math.Pi / 360
	mostMM     = 150.0
	mostTurn   = 15 * math.Pi / 180
)

// Cures lists for each posture the contacts that are not carried, or that a stop holds back, with the single changes that would
// carry them: whether or not the file leaves them open. Each is solved with everything else as it is, and carries; of parts of one
// kind the one that comes nearest is named. All postures sit on the one target: a change that carries all of them is sought first,
// then one that takes nothing from those that are carried, then one for the posture alone. Where no single change does without
// spoiling another contact, a setting and one more change, else all that the half lacks. A context that ends leaves what was found.
func Cures(ctx context.Context, all []*Solution, shop Shop) [][]Ailment {
	list := make([][]Ailment, len(all))
	for of, s := range all {
		for i, k := range s.Contacts[:2] {
			c := curer{ctx: ctx, all: all, of: of, seat: i == 0, level: 1}
			if k.Carried { // no better than it is, but nearer
				c.level = 0.5
			}
			gap, ails := s.GapShort > 0 && !c.seat, !k.Carried || !c.good(k) && s.stopped(k)
			if gap || ails {
				c.prepare()
			}
			if gap {
				list[of] = append(list[of], c.gap(shop))
			}
			if ails {
				list[of] = append(list[of], c.contact(shop))
			}
		}
	}
	return list
}

// stopped reports whether a stop holds a contact back, and not only a step.
func (s *Solution) stopped(k Carried) bool {
	by := s.HeldBy(k)
	return slices.ContainsFunc(s.Settings, func(set Setting) bool { return set.Limit != "step" && slices.Contains(by, set.Name) })
}

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
	if b.Stem != nil && base.stem >= 0 {
		b.Stem.Flip = &base.flip
		b.Stem.Spacers = bike.Spacers{Given: true, Fixed: base.spacers}
	}
	return b
}

func (c *curer) good(k Carried) bool {
	return k.Miss <= c.level*CarriedMM+1e-9 && math.Abs(k.MissAngle) <= c.level*CarriedRad+1e-9
}

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
			h.aim(s.Want.Sit, nil, saddleMetric(s.Want.Sit.At, p.Weights))
		}
		return h, err
	}
	if h, err = handHalf(b, p); err == nil {
		h.noAngle = s.Position.NoAngle
		h.aim(s.Want.Hands, s.Want.Second, handMetric(p.Weights))
	}
	return h, err
}

// outcome is what becomes of the contact in one posture.
type outcome struct {
	Carried
	half    *half
	settled settled
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
		if c.fits && out.arm.clipon >= 0 && tooWide(h.bike, h.bike.Clipon.Options[out.arm.clipon].Part) {
			return nil, false
		}
		out.got.Name = h.want.Name
		list = append(list, outcome{Judged(h.want, out.got, true), h, out})
	}
	return list, true
}

// first does something for the first of the sets of postures for which it succeeds.
func (c *curer) first(does func(who []int) bool) {
	for _, who := range c.sets {
		if does(who) {
			return
		}
	}
}

// try notes the cures that do, each for as many postures as it can.
func (c *curer) try(cures ...Cure) {
	for _, cure := range cures {
		c.first(func(who []int) bool { return c.tryFor(who, cure) })
	}
}

// tryFor notes a cure that brings the contact where it should be in every posture of who, all that it leaves to choose chosen.
func (c *curer) tryFor(who []int, cure Cure) bool {
	bikes := c.made(cure.change)
	list, ok := c.got(bikes, who)
	picks := bike.Picks{bike.Every, bike.Every, bike.Every, bike.Every, bike.Every}
	for n, i := range who {
		if !ok || !c.cured(i, list[n].Carried) {
			return false
		}
		picks = picks.And(list[n].settled.picks())
	}
	open := bikes[c.of].Narrowed(picks)
	for i, b := range bikes {
		bikes[i] = pinned(b, picks, list[0].settled.base)
	}
	// What the file fixes stands alike in every posture: in the middle of what each would have, else where one would.
	var held []bike.Settable
	cure.With = c.with
	for w := &cure; w != nil; w = w.With {
		if w.holds {
			held = append(held, bike.Settable{Sets: w.Sets, Adjuster: -1})
		}
	}
	if len(held) == 0 {
		return c.keep(who, cure, bikes, open)
	}
	at := make([][]float64, len(who))
	middle := make([]float64, len(held))
	for n, k := range list {
		s := Solution{Target: k.half.bike, Source: c.all[who[n]].Source, Position: c.all[who[n]].Position, saddleHalf: k.half, handHalf: k.half,
			saddle: k.settled, hands: k.settled}
		for j := range held {
			v, _ := s.setting(&held[j])
			at[n], middle[j] = append(at[n], v), middle[j]+v/float64(len(who))
		}
	}
	return slices.ContainsFunc(append([][]float64{middle}, at...), func(at []float64) bool {
		all := make([]*bike.Bike, len(bikes))
		for i, b := range bikes {
			all[i] = b.Held(held, at)
		}
		return c.keep(who, cure, all, open)
	})
}

// keep notes a cure with all postures as they come out with it, where it does in those of who.
func (c *curer) keep(who []int, cure Cure, bikes []*bike.Bike, open *bike.Bike) bool {
	cure.OnSaddle = c.seat
	for i, was := range c.all {
		n, err := Solve(c.ctx, bikes[i], was.Source, was.Position, was.Options)
		if err != nil || slices.Contains(who, i) && !c.cured(i, contactOf(n, c.seat)) {
			return false
		}
		name := was.Position.Posture.Name
		for k := range was.Contacts[:2] {
			if now := n.Contacts[k]; was.Contacts[k].Carried && !now.Carried || k == 1 && was.GapShort <= 0 && n.GapShort > 0 {
				cure.Spoils = append(cure.Spoils, Touch{name, now.Want.Name})
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
	n.Settings = n.settings()
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

// measure fills in by how much a cure changes what is only set otherwise, from one solution to another.
func (c *Cure) measure(from, to *Solution) {
	switch c.Kind {
	case CureSetting:
		a := bike.Settable{Sets: c.Sets, Adjuster: -1}
		was, _ := from.setting(&a)
		is, _ := to.setting(&a)
		c.By = is - was
	case CureSpacers, CureFlip:
		c.By = to.hands.base.spacers - from.hands.base.spacers
	}
}

// contact looks for what cures the contact: single changes; where none does without spoiling another contact, pairs of which one is a
// setting; else all that it lacks.
func (c *curer) contact(shop Shop) Ailment {
	a := Ailment{Contact: c.now(c.of).Want.Name}
	settings := c.settings()
	c.singles(settings, shop)
	lack, turned := c.lack()
	a.Lack = lack
	clean := func(k Cure) bool { return len(k.Spoils) == 0 }
	if !slices.ContainsFunc(c.found, clean) {
		first := slices.Clip(settings)
		if turned != nil && !slices.ContainsFunc(settings, Cure.turns) {
			first = append(first, *turned)
		}
		pairs := *c
		pairs.found = nil
		for i, cure := range first {
			if lack.Turn != 0 && !cure.turns() {
				continue // what is turned wrong is not cured by places
			}
			w := pairs
			w.targets, w.with = c.made(cure.change), &cure
			w.singles(settings[min(i+1, len(settings)):], shop)
			pairs.found = w.found
		}
		if len(c.found) > 0 {
			pairs.found = slices.DeleteFunc(pairs.found, func(k Cure) bool { return !clean(k) })
		}
		c.found = append(c.found, pairs.found...)
	}
	if d := lack.Place; len(c.found) == 0 && d != (plane.Point{}) {
		c.machine(turned, d)
	}
	slices.SortStableFunc(c.found, Cure.Compare)
	a.Cures = c.found
	return a
}

// machine is the cure that needs everything that is lacking done to the machine.
func (c *curer) machine(turned *Cure, d plane.Point) {
	w := *c
	if turned != nil {
		w.targets, w.with = c.made(turned.change), turned
	}
	if d.X != 0 && d.Y != 0 {
		up := w.moved(plane.Point{Y: 1}, d.Y)
		up.With = w.with
		w.targets, w.with = w.made(up.change), &up
		d.Y = 0
	}
	if d.X != 0 {
		w.try(w.moved(plane.Point{X: 1}, d.X))
	} else {
		w.try(w.moved(plane.Point{Y: 1}, d.Y))
	}
	c.found = w.found
}

// singles looks for single changes of the targets as they are.
func (c *curer) singles(settings []Cure, shop Shop) {
	c.try(settings...)
	if !c.seat && c.all[c.of].hands.base.stem >= 0 {
		c.try(c.stems(shop)...)
	}
	c.try(c.parts(shop)...)
	if (c.with == nil || !c.with.turns()) && !slices.ContainsFunc(settings, Cure.turns) {
		c.first(c.leastTurn)
	}
	for _, cure := range c.leastShifts(c.sets) {
		c.try(cure)
	}
}

// turns reports whether a cure turns what carries the contact.
func (c Cure) turns() bool { return c.Kind == CureTurn || c.Kind == CureSetting && c.Sets.Turns() }

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
		if i := s.saddle.arm.saddle; i >= 0 {
			rail := s.Target.Saddle.Options[i].Part.Rail
			free(bike.SetsRails, anywhere(rail.From, rail.To))
		}
	case s.hands.arm.clipon >= 0:
		for _, k := range []bike.Sets{bike.SetsPadTilt, bike.SetsHole, bike.SetsRisers} {
			if on := b.Setting(k); on.Given && (k != bike.SetsPadTilt || !on.Free) {
				free(k, bike.Setting{})
			}
		}
	default:
		bolt(bike.SetsRotation, bike.MovesBarRotation)
		if s.hands.arm.lever >= 0 {
			free(bike.SetsLever, anywhere(s.Target.Bar.Options[s.hands.arm.bar].Part.LeverTravel()))
		}
	}
	return list
}

// stems are the ways to build the stem: on other spacers, turned over, or another one.
func (c *curer) stems(shop Shop) []Cure {
	s := c.all[c.of]
	i, flip := s.hands.base.stem, s.hands.base.flip
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
		return swapped(list, CureSaddle, shop.Saddles, b.Saddle.Slot, s.saddle.arm.saddle,
			func(b *bike.Bike, o bike.Slot[saddle.Shape]) {
				free := b.Saddle.ClampAt.Free
				b.Saddle.Slot, b.Saddle.ClampAt = o, bike.Setting{}
				if free { // held anywhere on its own rails
					b.Saddle.ClampAt = bike.Setting{Given: true, Free: true, Lo: 0, Hi: 1000}
				}
			})
	}
	if i := s.hands.arm.clipon; i >= 0 {
		return swapped(list, CureClipon, shop.Clipons, b.Clipon.Slot, i,
			func(b *bike.Bike, o bike.Slot[cockpit.Clipon]) { b.Clipon = &bike.CliponFit{Slot: o} })
	}
	if s.hands.arm.lever >= 0 {
		list = swapped(list, CureLever, shop.Levers, b.Bar.Lever, s.hands.arm.lever,
			func(b *bike.Bike, o bike.Slot[cockpit.Lever]) { b.Bar.Lever = o })
	}
	return swapped(list, CureBar, shop.Bars, b.Bar.Slot, s.hands.arm.bar,
		func(b *bike.Bike, o bike.Slot[cockpit.Bar]) { b.Bar.Slot = o })
}

// swapped adds all that the shop has in place of the fitted part of a slot, where one is fitted.
func swapped[T any](list []Cure, kind CureKind, shop []bike.Option[T], now bike.Slot[T], fitted int,
	put func(b *bike.Bike, s bike.Slot[T])) []Cure {
	if fitted < 0 {
		return list
	}
	others := slices.DeleteFunc(slices.Clone(shop), func(o bike.Option[T]) bool { return o.ID == now.Options[fitted].ID })
	if len(others) == 0 {
		return list
	}
	return append(list, Cure{Kind: kind, Part: Part{Slot: kind.String()},
		change: func(b *bike.Bike) { put(b, bike.Slot[T]{Open: true, Options: others}) }})
}

// gap looks for what makes room for what the bar is clamped in: the clamps further out than the file lets them go, each by
// half of what they are short, or another clip-on.
func (c *curer) gap(shop Shop) Ailment {
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

// moved is a clamp that stands elsewhere.
func (c *curer) moved(dir plane.Point, by float64) Cure {
	kind := CureHeight
	switch {
	case dir.X != 0 && c.seat:
		kind = CureSetback
	case dir.X != 0:
		kind = CureReach
	}
	d, seat := dir.Scale(by), c.seat
	return Cure{Kind: kind, By: by, change: func(b *bike.Bike) {
		switch {
		case seat:
			at := b.SaddleAnchor.Add(d)
			b.SaddleAnchor = &at
		case b.Stem != nil:
			steerer, _ := b.Steerer()
			at := steerer.Top.Add(d)
			b.Frame.SteererTop = &at
		default:
			at := b.BarAnchor.Add(d)
			b.BarAnchor = &at
		}
	}}
}

// turned is a clamp, or pads, that turn further by so much one way; ok is false where there is no such clamp, or no stop. What has no
// steps still turns as far the other way.
func (c *curer) turned(by float64) (cure Cure, ok bool) {
	s, b := c.all[c.of], c.targets[c.of]
	further := func(set *bike.Setting) {
		if set.Free {
			set.Lo, set.Hi = set.Lo+math.Min(by, 0), set.Hi+math.Max(by, 0)
		} else {
			set.Lo, set.Hi = set.Lo+by, set.Hi+by
		}
	}
	cure = Cure{Kind: CureTurn, Sets: bike.SetsRotation, By: by, change: func(b *bike.Bike) { further(&b.Bar.Rotation) }}
	moves, arm := bike.MovesBarRotation, s.hands.arm.shapeless
	switch {
	case c.seat:
		moves, arm, cure.Sets = bike.MovesSaddleTilt, b.Saddle.Arm, bike.SetsSaddleTilt
		cure.change = func(b *bike.Bike) { further(&b.Saddle.Tilt) }
	case s.hands.arm.clipon >= 0:
		cure.Sets = bike.SetsPadTilt
		cure.change = func(b *bike.Bike) {
			changeClipon(b, func(p *cockpit.Clipon) { p.Tilt[0], p.Tilt[1] = p.Tilt[0]+by, p.Tilt[1]+by })
			if b.Clipon.Tilt.Given {
				further(&b.Clipon.Tilt)
			}
		}
		return cure, true
	}
	if on := b.Moving(moves); len(on) > 0 && !b.Adjusters[on[0]].FromHere {
		cure.change = func(b *bike.Bike) {
			a := &b.Adjusters[on[0]]
			set := bike.Setting{Free: !a.Indexed(), Lo: a.Lo * a.Unit, Hi: a.Hi * a.Unit}
			if a.Unit < 0 {
				set.Lo, set.Hi = set.Hi, set.Lo
			}
			further(&set)
			a.Lo, a.Hi = math.Min(set.Lo/a.Unit, set.Hi/a.Unit), math.Max(set.Lo/a.Unit, set.Hi/a.Unit)
		}
	}
	return cure, arm == nil || !arm.NoTurn
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

// leastShift is the least that does one way or the other. A shift by d lessens what the metric counts by no more than d times its
// greater weight: so many are passed over.
func (c *curer) leastShift(dir plane.Point, who []int) Cure {
	best := Cure{By: mostMM + wholeMM}
	for _, sign := range [2]float64{-1, 1} {
		for d := wholeMM; d < math.Abs(best.By); {
			cure := c.moved(dir, sign*d)
			list, ok := c.got(c.made(cure.change), who)
			step, done := 0.0, true
			for n, i := range who {
				if !ok || i == c.of && math.Abs(list[n].MissAngle) > c.level*CarriedRad+1e-9 {
					return best
				}
				done = done && c.cured(i, list[n].Carried)
				if m := list[n].half.Wish.Metric; i == c.of {
					step = m.Flat(list[n].Away).Norm()/math.Max(m.Along, m.Across) - c.level*CarriedMM
				}
			}
			if done {
				best = cure
				break
			}
			d += math.Max(wholeMM, wholeMM*math.Floor(step/wholeMM))
		}
	}
	return best
}

// lack is what the half lacks: its angle first, by the cure that turns it, then its place.
func (c *curer) lack() (l Lack, turned *Cure) {
	alone := []int{c.of}
	k := c.now(c.of)
	w := *c
	if n := math.Ceil((math.Abs(k.MissAngle)-c.level*CarriedRad)/halfDegree - 1e-9); n > 0 {
		cure, ok := c.turned(math.Copysign(n*halfDegree, -k.MissAngle))
		if !ok {
			return l, nil
		}
		l.Turn, w.targets, turned = cure.By, c.made(cure.change), &cure
		list, ok := w.got(w.targets, alone)
		if !ok {
			return l, turned
		}
		k = list[0].Carried
	}
	if w.good(k) {
		return l, turned
	}
	if shifts := w.leastShifts([][]int{alone}); len(shifts) > 0 {
		least := slices.MinFunc(shifts, func(a, b Cure) int { return cmp.Compare(math.Abs(a.By), math.Abs(b.By)) })
		if least.Kind == CureHeight {
			l.Place.Y = least.By
		} else {
			l.Place.X = least.By
		}
		return l, turned
	}
	edge := k.Away.Scale(1 - c.level*CarriedMM/k.Miss)
	whole := func(v float64) float64 { return math.Copysign(math.Ceil(math.Abs(v)/wholeMM-1e-9)*wholeMM, v) }
	for _, d := range [...]plane.Point{{X: whole(edge.X), Y: whole(edge.Y)}, {X: whole(k.Away.X), Y: whole(k.Away.Y)}} {
		l.Place = d
		list, ok := w.got(w.made(func(b *bike.Bike) {
			w.moved(plane.Point{X: 1}, d.X).change(b)
			w.moved(plane.Point{Y: 1}, d.Y).change(b)
		}), alone)
		if ok && w.good(list[0].Carried) {
			break
		}
	}
	return l, turned
}

// MarshalJSON writes a contact in a posture.
func (t Touch) MarshalJSON() ([]byte, error) {
	return json.Marshal(Keys{"posture": t.Posture, "contact": t.Contact})
}

// cureNames are the kinds in JSON, in the order of the constants.
var cureNames = [...]string{"gap", "setting", "spacers", "flip", "stem", "lever", "clipon", "saddle", "bar", "turn", "setback", "height",
	"reach"}

func (k CureKind) String() string { return cureNames[k] }

// MarshalJSON writes a cure with what it takes to make it; by and rotation in mm or degrees.
func (c Cure) MarshalJSON() ([]byte, error) {
	k := Keys{"kind": c.Kind.String(), "by": c.By}
	if c.turns() {
		k["by"] = plane.Deg(c.By)
	}
	if c.Kind == CureSetting || c.Kind == CureTurn {
		k["setting"] = c.Sets.Key()
	}
	if c.Part.Slot != "" {
		k["part"] = c.Part
	}
	if c.With != nil {
		k["with"] = *c.With
	}
	if s := c.Solution; s != nil {
		k["error"], k["contact"] = s.E, bike.Sit
		k["also"], k["leaves"], k["spoils"] = append([]string{}, c.Also...), append([]string{}, c.Leaves...), append([]Touch{}, c.Spoils...)
		if !c.OnSaddle {
			k["contact"] = s.Position.Posture.Hands
			if s.hands.arm.clipon < 0 || s.hands.arm.rotation != nil {
				k["rotation"] = plane.Angle(s.hands.rotation)
			}
			if s.hands.base.stem >= 0 {
				k["spacers"] = s.hands.base.spacers
			}
		}
	}
	return json.Marshal(k)
}
