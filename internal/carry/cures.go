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

// Cure is one change after which a contact is carried, and the bike with it made.
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

	change func(b *bike.Bike) // makes the change on a copy of the target
}

// Cost is the dearest kind of what must be changed.
func (c Cure) Cost() CureKind {
	if c.With != nil {
		return max(c.Kind, c.With.Cost())
	}
	return c.Kind
}

// Lack is what a half lacks to have its contact in place, the angle first: radians, and mm forward and up, each as
// little as does, in half degrees and whole millimetres. Zero where nothing known to be turned or moved would do.
type Lack struct {
	Turn  float64
	Place plane.Point
}

// Ailment is a contact that is not carried, or is held short of its place by a stop, or a clip-on that does not fit; and
// what would cure it, what costs nothing first, of one kind the smaller change.
type Ailment struct {
	Contact bike.Contact
	Gap     bool // what ails is the gap between the clip-on's clamps
	Lack    Lack
	Cures   []Cure
}

// Single reports whether a single change is a cure.
func (a *Ailment) Single() bool { return len(a.Cures) > 0 && a.Cures[0].With == nil }

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

// Cures lists for each contact that is not carried, or that a stop holds back, the single changes that would carry it:
// whether or not the file leaves them open. Each is solved with everything else as it is, and carries; of parts of one
// kind the one that comes nearest is named. Where no single change does, a setting and one more change, else all that the
// half lacks. A context that ends leaves what was found by then.
func (s *Solution) Cures(ctx context.Context, shop Shop) []Ailment {
	var list []Ailment
	for i, k := range s.Contacts[:2] {
		c := curer{ctx: ctx, of: s, target: s.pinned(), seat: i == 0, level: 1}
		if k.Carried { // no better than it is, but nearer
			c.level = 0.5
		}
		if s.GapShort > 0 && !c.seat {
			list = append(list, c.gap(shop))
		}
		if !k.Carried || !c.good(k) && s.stopped(k) {
			list = append(list, c.contact(shop))
		}
	}
	return list
}

// stopped reports whether a stop holds a contact back, and not only a step.
func (s *Solution) stopped(k Carried) bool {
	by := s.HeldBy(k)
	return slices.ContainsFunc(s.Settings, func(set Setting) bool { return set.Limit != "step" && slices.Contains(by, set.Name) })
}

// curer looks for the cures of one contact.
type curer struct {
	ctx    context.Context
	of     *Solution
	target *bike.Bike // with the parts of the solution, nothing open
	seat   bool       // the contact is the seat, else the hands
	level  float64    // what counts as cured, as a part of what counts as carried
	fits   bool       // the clip-on must fit, and the hands may stay as they are
	with   *Cure      // what is already changed on the target
	found  []Cure
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
	return s.pinned().Held(list, at)
}

// pinned is the target with the parts of a solution: nothing is left to choose but what is set.
func (s *Solution) pinned() *bike.Bike {
	b := s.Target.Narrowed(s.picks())
	if b.Stem != nil {
		b.Stem.Flip = &s.hands.base.flip
		b.Stem.Spacers = bike.Spacers{Given: true, Fixed: s.hands.base.spacers}
	}
	return b
}

func (c *curer) good(k Carried) bool {
	return k.Miss <= c.level*CarriedMM+1e-9 && math.Abs(k.MissAngle) <= c.level*CarriedRad+1e-9
}

// now is the contact as it is.
func (c *curer) now() Carried {
	if c.seat {
		return c.of.Contacts[0]
	}
	return c.of.Contacts[1]
}

// made is the target with a change made.
func (c *curer) made(change func(b *bike.Bike)) *bike.Bike {
	b := *c.target
	b.Adjusters = slices.Clone(b.Adjusters)
	change(&b)
	return &b
}

// got is what becomes of the contact on a bike, and the half that it hangs on; ok is false when nothing does.
func (c *curer) got(b *bike.Bike) (k Carried, h *half, ok bool) {
	s := c.of
	p := s.Position.Posture
	if c.ctx.Err() != nil {
		return k, nil, false
	}
	var err error
	want := s.Want.Sit
	if c.seat {
		if h, err = saddleHalf(b, p); err != nil {
			return k, nil, false
		}
		h.aim(want, nil, saddleMetric(want.At, p.Weights))
	} else {
		if h, err = handHalf(b, p); err != nil {
			return k, nil, false
		}
		want, h.noAngle = s.Want.Hands, s.Position.NoAngle
		h.aim(want, s.Want.Second, handMetric(p.Weights))
	}
	out, _, ok, _ := h.choose(c.ctx)
	if ok && c.fits && tooWide(b, b.Clipon.Options[out.arm.clipon].Part) {
		return k, h, false
	}
	out.got.Name = want.Name
	return Judged(want, out.got, true), h, ok
}

// cures reports whether a change brings the contact where it should be.
func (c *curer) cures(change func(b *bike.Bike)) bool {
	k, _, ok := c.got(c.made(change))
	return ok && (c.good(k) || c.fits && !c.now().Carried)
}

// keep notes a cure, with the whole bike as it comes out with it.
func (c *curer) keep(cure Cure) {
	s, b := c.of, c.made(cure.change)
	n, err := Solve(c.ctx, b, s.Source, s.Position, s.Options)
	if err != nil {
		return
	}
	cure.OnSaddle, cure.Solution = c.seat, n
	cure.measure(s, n)
	if c.with != nil {
		with := *c.with
		with.measure(s, n)
		cure.With = &with
	}
	if cure.Kind == CureSetting && math.Abs(cure.By) < 1e-6 {
		return
	}
	for _, p := range n.Parts {
		if p.Slot == cure.Part.Slot {
			cure.Part = p
		}
	}
	c.found = append(c.found, cure)
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

func (c *curer) try(cures ...Cure) {
	for _, cure := range cures {
		if c.cures(cure.change) {
			c.keep(cure)
		}
	}
}

// contact looks for what cures the contact: single changes, else pairs of which one is a setting, else all that it lacks.
func (c *curer) contact(shop Shop) Ailment {
	a := Ailment{Contact: c.now().Want.Name}
	settings := c.settings()
	c.singles(settings, shop)
	lack, turned := c.lack()
	a.Lack = lack
	if len(c.found) == 0 {
		first := slices.Clip(settings)
		if turned != nil && !slices.ContainsFunc(settings, Cure.turns) {
			first = append(first, *turned)
		}
		for i, cure := range first {
			if lack.Turn != 0 && !cure.turns() {
				continue // what is turned wrong is not cured by places
			}
			rest := settings
			if i < len(settings) {
				rest = settings[i+1:]
			}
			w := *c
			w.target, w.with = c.made(cure.change), &cure
			w.singles(rest, shop)
			c.found = w.found
		}
	}
	if d := lack.Place; len(c.found) == 0 && d != (plane.Point{}) {
		c.machine(turned, d)
	}
	slices.SortStableFunc(c.found, func(a, b Cure) int {
		return cmp.Or(cmp.Compare(a.Cost(), b.Cost()), cmp.Compare(a.Kind, b.Kind), cmp.Compare(math.Abs(a.By), math.Abs(b.By)))
	})
	a.Cures = c.found
	return a
}

// machine is the cure that needs everything that is lacking done to the machine.
func (c *curer) machine(turned *Cure, d plane.Point) {
	w := *c
	if turned != nil {
		w.target, w.with = c.made(turned.change), turned
	}
	if d.X != 0 && d.Y != 0 {
		up := w.moved(plane.Point{Y: 1}, d.Y)
		up.With = w.with
		w.target, w.with = w.made(up.change), &up
		d.Y = 0
	}
	if d.X != 0 {
		w.try(w.moved(plane.Point{X: 1}, d.X))
	} else {
		w.try(w.moved(plane.Point{Y: 1}, d.Y))
	}
	c.found = w.found
}

// singles looks for single changes of the target as it is.
func (c *curer) singles(settings []Cure, shop Shop) {
	c.try(settings...)
	if !c.seat && c.of.hands.base.stem >= 0 {
		c.try(c.stems(shop)...)
	}
	c.try(c.parts(shop)...)
	if (c.with == nil || !c.with.turns()) && !slices.ContainsFunc(settings, Cure.turns) {
		c.leastTurn()
	}
	for _, cure := range c.leastShifts() {
		c.keep(cure)
	}
}

// turns reports whether a cure turns what carries the contact.
func (c Cure) turns() bool { return c.Kind == CureTurn || c.Kind == CureSetting && c.Sets.Turns() }

// settings are what could be set otherwise for nothing. What the file gives a stretch for turns no further than that.
func (c *curer) settings() (list []Cure) {
	s, b := c.of, c.of.Target
	free := func(k bike.Sets, change func(b *bike.Bike)) {
		list = append(list, Cure{Kind: CureSetting, Sets: k, change: change})
	}
	anywhere := func(lo, hi float64) bike.Setting { return bike.Setting{Given: true, Free: true, Lo: lo, Hi: hi} }
	bolt := func(on *bike.Setting) { *on = anywhere(on.Lo-mostTurn, on.Lo+mostTurn) }
	if c.seat {
		if len(b.Moving(bike.MovesSaddleTilt)) == 0 && !b.Saddle.Tilt.Free {
			free(bike.SetsSaddleTilt, func(b *bike.Bike) { bolt(&b.Saddle.Tilt) })
		}
		if i := s.saddle.arm.saddle; i >= 0 {
			rail := b.Saddle.Options[i].Part.Rail
			free(bike.SetsRails, func(b *bike.Bike) { b.Saddle.ClampAt = anywhere(rail.From, rail.To) })
		}
		return list
	}
	if i := s.hands.arm.clipon; i >= 0 {
		sets := func(k bike.Sets, of func(f *bike.CliponFit) *bike.Setting) {
			if set := of(b.Clipon); !set.Given || k == bike.SetsPadTilt && set.Free {
				return
			}
			free(k, func(b *bike.Bike) {
				fit := *b.Clipon
				*of(&fit) = bike.Setting{}
				b.Clipon = &fit
			})
		}
		sets(bike.SetsPadTilt, func(f *bike.CliponFit) *bike.Setting { return &f.Tilt })
		sets(bike.SetsHole, func(f *bike.CliponFit) *bike.Setting { return &f.Hole })
		sets(bike.SetsRisers, func(f *bike.CliponFit) *bike.Setting { return &f.Stack })
		return list
	}
	if len(b.Moving(bike.MovesBarRotation)) == 0 && !b.Bar.Rotation.Free {
		free(bike.SetsRotation, func(b *bike.Bike) { bolt(&b.Bar.Rotation) })
	}
	if s.hands.arm.lever >= 0 {
		first, last := b.Bar.Options[s.hands.arm.bar].Part.LeverTravel()
		free(bike.SetsLever, func(b *bike.Bike) { b.Bar.LeverAt = anywhere(first, last) })
	}
	return list
}

// stems are the ways to build the stem: on other spacers, turned over, or another one.
func (c *curer) stems(shop Shop) []Cure {
	s, b := c.of, c.of.Target
	i, flip := s.hands.base.stem, s.hands.base.flip
	most := spacersSold
	if f := b.Stem.Spacers; f.Free {
		most = math.Max(most, f.Max)
	}
	stem := func(slot bike.Slot[cockpit.Stem], flip *bool) func(*bike.Bike) {
		return func(b *bike.Bike) {
			b.Stem = &bike.StemFit{Slot: slot, Flip: flip, Spacers: bike.Spacers{Given: true, Free: true, Max: most, Step: spacersPiece}}
		}
	}
	own, over := b.Stem.Slot.One(i), !flip
	list := []Cure{{Kind: CureSpacers, change: stem(own, &flip)}}
	if b.Stem.Options[i].Part.Angle != 0 {
		list = append(list, Cure{Kind: CureFlip, Part: Part{Flip: over}, change: stem(own, &over)})
	}
	return swapped(list, CureStem, shop.Stems, b.Stem.Slot, i,
		func(b *bike.Bike, o bike.Slot[cockpit.Stem]) { stem(o, nil)(b) })
}

// parts are the other parts of the shop that the contact hangs on.
func (c *curer) parts(shop Shop) (list []Cure) {
	s, b := c.of, c.of.Target
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
	each := c.of.GapShort / 2
	w.try(Cure{Kind: CureGap, By: each, change: func(b *bike.Bike) {
		b.Clipon = withClipon(b, func(p *cockpit.Clipon) { p.Spread += each })
	}})
	w.try(w.parts(shop)...)
	return Ailment{Contact: bike.Pad, Gap: true, Cures: w.found}
}

// withClipon is the clip-on of a pinned bike with its part changed.
func withClipon(b *bike.Bike, change func(p *cockpit.Clipon)) *bike.CliponFit {
	fit, o := *b.Clipon, b.Clipon.Options[0]
	part := *o.Part
	change(&part)
	o.Part = &part
	fit.Options = []bike.Option[cockpit.Clipon]{o}
	return &fit
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

// turned is a clamp, or pads, that turn further by so much one way, stops and steps alike; ok is false where there is no
// such clamp, or no stop.
func (c *curer) turned(by float64) (cure Cure, ok bool) {
	s, b := c.of, c.target
	shift := func(set bike.Setting) bike.Setting {
		set.Lo, set.Hi = set.Lo+by, set.Hi+by
		return set
	}
	cure = Cure{Kind: CureTurn, Sets: bike.SetsSaddleTilt, By: by}
	moves := bike.MovesSaddleTilt
	switch {
	case c.seat && b.Saddle.Arm != nil && b.Saddle.Arm.NoTurn:
		return cure, false
	case c.seat:
		cure.change = func(b *bike.Bike) { b.Saddle.Tilt = shift(b.Saddle.Tilt) }
	case s.hands.arm.clipon >= 0:
		cure.Sets = bike.SetsPadTilt
		cure.change = func(b *bike.Bike) {
			b.Clipon = withClipon(b, func(p *cockpit.Clipon) { p.Tilt[0], p.Tilt[1] = p.Tilt[0]+by, p.Tilt[1]+by })
			if b.Clipon.Tilt.Given {
				b.Clipon.Tilt = shift(b.Clipon.Tilt)
			}
		}
		return cure, true
	case s.hands.arm.shapeless != nil && s.hands.arm.shapeless.NoTurn:
		return cure, false
	default:
		moves, cure.Sets = bike.MovesBarRotation, bike.SetsRotation
		cure.change = func(b *bike.Bike) { b.Bar.Rotation = shift(b.Bar.Rotation) }
	}
	if on := b.Moving(moves); len(on) > 0 && !b.Adjusters[on[0]].FromHere {
		cure.change = func(b *bike.Bike) {
			a := &b.Adjusters[on[0]]
			a.Lo, a.Hi = a.Lo+by/a.Unit, a.Hi+by/a.Unit
		}
	}
	return cure, true
}

// leastTurn looks for the clamp that turns no further than it must.
func (c *curer) leastTurn() {
	k := c.now()
	off := math.Abs(k.MissAngle)
	for n := math.Ceil((off-c.level*CarriedRad)/halfDegree - 1e-9); n > 0 && n <= math.Ceil(off/halfDegree) && off <= mostTurn; n++ {
		if cure, ok := c.turned(math.Copysign(n*halfDegree, -k.MissAngle)); ok && c.cures(cure.change) {
			c.keep(cure)
			return
		}
	}
}

// leastShifts are the least whole numbers of millimetres by which the clamp must stand higher or lower, and further forward
// or back, so that it does. A shift by d lessens what the metric counts by no more than d times its greater weight: so many
// are passed over.
func (c *curer) leastShifts() (list []Cure) {
	for _, dir := range [2]plane.Point{{Y: 1}, {X: 1}} {
		best := Cure{By: mostMM + wholeMM}
		for _, sign := range [2]float64{-1, 1} {
			for d := wholeMM; d < math.Abs(best.By); {
				cure := c.moved(dir, sign*d)
				k, h, ok := c.got(c.made(cure.change))
				if !ok || math.Abs(k.MissAngle) > c.level*CarriedRad+1e-9 {
					break
				}
				if c.good(k) {
					best = cure
					break
				}
				m := h.Wish.Metric
				sure := m.Flat(k.Away).Norm()/math.Max(m.Along, m.Across) - c.level*CarriedMM
				d += math.Max(wholeMM, wholeMM*math.Floor(sure/wholeMM))
			}
		}
		if best.change != nil {
			list = append(list, best)
		}
	}
	if len(list) == 2 { // no one asks for many millimetres where a few do
		list = slices.DeleteFunc(list, func(c Cure) bool { return math.Abs(c.By) > 2*math.Min(math.Abs(list[0].By), math.Abs(list[1].By)) })
	}
	return list
}

// lack is what the half lacks: its angle first, by the cure that turns it, then its place.
func (c *curer) lack() (l Lack, turned *Cure) {
	k := c.now()
	w := *c
	if n := math.Ceil((math.Abs(k.MissAngle)-c.level*CarriedRad)/halfDegree - 1e-9); n > 0 {
		cure, ok := c.turned(math.Copysign(n*halfDegree, -k.MissAngle))
		if !ok {
			return l, nil
		}
		l.Turn, w.target, turned = cure.By, c.made(cure.change), &cure
		if k, _, ok = w.got(w.target); !ok {
			return l, turned
		}
	}
	if w.good(k) {
		return l, turned
	}
	if shifts := w.leastShifts(); len(shifts) > 0 {
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
		if w.cures(func(b *bike.Bike) {
			w.moved(plane.Point{X: 1}, d.X).change(b)
			w.moved(plane.Point{Y: 1}, d.Y).change(b)
		}) {
			break
		}
	}
	return l, turned
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
