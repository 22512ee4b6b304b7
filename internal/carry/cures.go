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
	CureSetting CureKind = iota // a setting that the file fixes, or holds to less than its part offers
	CureSpacers                 // more or fewer spacers under the same stem
	CureFlip                    // the stem turned over, with its spacers
	CureStem                    // another stem, with its spacers
	CureLever
	CureClipon
	CureSaddle
	CureBar
	CureSetback // a seatpost with more (or less) setback
	CureHeight  // more (or less) under saddle or bar
	CureReach   // the bar further forward (or back)
)

// Cure is one change after which a contact is carried, and the bike with it made.
type Cure struct {
	Kind     CureKind
	OnSaddle bool      // it is the seat that is cured, else the hands
	Sets     bike.Sets // CureSetting
	Setting  string    // CureSetting: the adjuster's name, or the key
	// By is how much: of a setting its travel from where the file holds it (mm or radians), of spacers the change, of what is
	// done to the machine mm forward or up.
	By       float64
	Part     Part     // what is fitted instead; its Slot is "" where nothing is
	Spacers  *float64 // under the stem then, mm
	Rotation *float64 // of the bar then, radians
	Solution *Solution
}

// spacersSold bounds the stack of spacers that a cure may ask for, mm, and pieces it is built of (common practice).
const (
	spacersSold  = 40.0
	spacersPiece = 5.0
)

// Cures lists the single changes that would carry what is not carried, or would free what a stop holds back: whether or
// not the file leaves them open. Each is solved with everything else as it is, and carries; of parts of one kind the
// one that comes nearest is named. A context that ends leaves what was found by then. What costs nothing comes first,
// of one kind the smaller change.
func (s *Solution) Cures(ctx context.Context, shop Shop) []Cure {
	c := curer{ctx: ctx, of: s, target: s.pinned()}
	if c.ails(0) {
		c.seat(shop)
	}
	if c.ails(1) || s.GapShort > 0 {
		c.cockpit(shop)
	}
	slices.SortStableFunc(c.found, func(a, b Cure) int {
		return cmp.Or(cmp.Compare(a.Kind, b.Kind), cmp.Compare(math.Abs(a.By), math.Abs(b.By)))
	})
	return c.found
}

type curer struct {
	ctx    context.Context
	of     *Solution
	target *bike.Bike // with the parts of the solution, nothing open
	found  []Cure
}

// pinned is the target with the parts of a solution: nothing is left to choose but what is set.
func (s *Solution) pinned() *bike.Bike {
	b := s.picks().narrow(s.Target)
	if b.Stem != nil {
		b.Stem.Flip = &s.hands.base.flip
		b.Stem.Spacers = bike.Spacers{Given: true, Fixed: s.hands.base.spacers}
	}
	return b
}

// ails reports whether a primary contact is not carried, or is held short of its place by a stop.
func (c *curer) ails(contact int) bool {
	k := c.of.Contacts[contact]
	return !k.Carried || k.Miss > CarriedMM/2 && len(c.of.HeldBy(k)) > 0
}

// try makes a change on a copy of the target, and keeps the cure when the contact is carried then, and nearer.
func (c *curer) try(cure Cure, change func(b *bike.Bike)) (*Solution, bool) {
	s := c.of
	if c.ctx.Err() != nil {
		return nil, false
	}
	b := *c.target
	b.Adjusters = slices.Clone(b.Adjusters)
	change(&b)
	n, err := Solve(c.ctx, &b, s.Source, s.Position, s.Options)
	if err != nil {
		return nil, false
	}
	k := 1
	if cure.OnSaddle {
		k = 0
	}
	now, then := s.Contacts[k], n.Contacts[k]
	better := !now.Carried || then.Miss < now.Miss/2 || s.GapShort > 0
	if !then.Carried || !better || n.GapShort > 0 && k == 1 {
		return n, false
	}
	return n, true
}

func (c *curer) keep(cure Cure, n *Solution) {
	cure.Solution = n
	if !cure.OnSaddle {
		if n.hands.base.stem >= 0 {
			spacers := n.hands.base.spacers
			cure.Spacers = &spacers
		}
		rotation := n.hands.rotation
		cure.Rotation = &rotation
	}
	c.found = append(c.found, cure)
}

// free tries to let a setting go wherever its part offers.
func (c *curer) free(k bike.Sets, change func(b *bike.Bike)) {
	cure := Cure{Kind: CureSetting, OnSaddle: k.OnSaddle(), Sets: k, Setting: k.Key()}
	n, ok := c.try(cure, change)
	if !ok {
		return
	}
	for _, set := range n.Settings {
		if set.Sets == k {
			cure.By = set.Travel - c.standing(k)
		}
	}
	if math.Abs(cure.By) > 1e-6 {
		c.keep(cure, n)
	}
}

// standing is where a setting is in the solution that is to be cured.
func (c *curer) standing(k bike.Sets) float64 {
	a := bike.Settable{Sets: k, Adjuster: -1}
	v, _ := c.of.setting(&a)
	return v
}

// swapped tries a part in place of the fitted one: all that the catalogue has at once, the nearest of which is named.
func swapped[T any](c *curer, cure Cure, slot string, options []bike.Option[T], fitted int, now []bike.Option[T], put func(b *bike.Bike,
	s bike.Slot[T])) {
	var others []bike.Option[T]
	for _, o := range options {
		if fitted < 0 || o.ID != now[fitted].ID {
			others = append(others, o)
		}
	}
	if len(others) == 0 {
		return
	}
	n, ok := c.try(cure, func(b *bike.Bike) { put(b, bike.Slot[T]{Open: true, Options: others}) })
	if !ok {
		return
	}
	for _, p := range n.Parts {
		if p.Slot == slot {
			cure.Part = p
		}
	}
	c.keep(cure, n)
}

// nearest tries how far a half must be shifted along a direction before its contact is carried: as little as that takes.
func (c *curer) nearest(cure Cure, moves bike.Moves, dir plane.Point) {
	const most, fine = 150.0, 0.5
	within := func(d float64) (*Solution, bool) {
		return c.try(cure, func(b *bike.Bike) {
			b.Adjusters = append(b.Adjusters, bike.Adjuster{Name: "shift", Moves: moves, Angle: math.Atan2(dir.Y, dir.X), Unit: 1,
				Lo: math.Min(0, d), Hi: math.Max(0, d), NoScale: true})
		})
	}
	for _, sign := range [2]float64{-1, 1} {
		if _, ok := within(sign * most); !ok {
			continue
		}
		lo, hi := 0.0, most
		for hi-lo > fine {
			if _, ok := within(sign * (lo + hi) / 2); ok {
				hi = (lo + hi) / 2
			} else {
				lo = (lo + hi) / 2
			}
		}
		n, _ := within(sign * hi)
		cure.By = sign * hi
		c.keep(cure, n)
	}
}

// seat looks for what cures the saddle.
func (c *curer) seat(shop Shop) {
	b := c.of.Target
	if i := c.of.saddle.arm.saddle; i >= 0 {
		rail := b.Saddle.Options[i].Part.Rail
		c.free(bike.SetsRails, func(b *bike.Bike) {
			b.Saddle.ClampAt = bike.Setting{Given: true, Free: true, Lo: rail.From, Hi: rail.To}
		})
		swapped(c, Cure{Kind: CureSaddle, OnSaddle: true}, "saddle", shop.Saddles, i, b.Saddle.Options,
			func(b *bike.Bike, s bike.Slot[saddle.Shape]) {
				b.Saddle.Slot = s
				if b.Saddle.ClampAt.Given && b.Saddle.ClampAt.Free { // held anywhere on its own rails
					b.Saddle.ClampAt = bike.Setting{Given: true, Free: true, Lo: 0, Hi: 1000}
				} else {
					b.Saddle.ClampAt = bike.Setting{}
				}
			})
	}
	if len(b.Moving(bike.MovesSaddleTilt)) == 0 {
		c.free(bike.SetsSaddleTilt, func(b *bike.Bike) { b.Saddle.Tilt = anyTurn(b.Saddle.Tilt) })
	}
	c.nearest(Cure{Kind: CureSetback, OnSaddle: true}, bike.MovesSaddle, plane.Point{X: 1})
	c.nearest(Cure{Kind: CureHeight, OnSaddle: true}, bike.MovesSaddle, plane.Point{Y: 1})
}

// anyTurn frees a turn by as much as bolts allow either way.
func anyTurn(s bike.Setting) bike.Setting {
	const most = 15 * math.Pi / 180
	return bike.Setting{Given: true, Free: true, Lo: s.Lo - most, Hi: s.Hi + most}
}

// cockpit looks for what cures the hands.
func (c *curer) cockpit(shop Shop) {
	s, b := c.of, c.of.Target
	hands := s.Position.Posture.Hands
	if hands == bike.Hood && s.hands.arm.lever >= 0 {
		first, last := b.Bar.Options[s.hands.arm.bar].Part.LeverTravel()
		c.free(bike.SetsLever, func(b *bike.Bike) { b.Bar.LeverAt = bike.Setting{Given: true, Free: true, Lo: first, Hi: last} })
		swapped(c, Cure{Kind: CureLever}, "lever", shop.Levers, s.hands.arm.lever, b.Bar.Lever.Options,
			func(b *bike.Bike, l bike.Slot[cockpit.Lever]) { b.Bar.Lever = l })
	}
	if hands != bike.Pad && len(b.Moving(bike.MovesBarRotation)) == 0 {
		c.free(bike.SetsRotation, func(b *bike.Bike) { b.Bar.Rotation = anyTurn(b.Bar.Rotation) })
	}
	if hands != bike.Pad && s.hands.arm.bar >= 0 {
		swapped(c, Cure{Kind: CureBar}, "bar", shop.Bars, s.hands.arm.bar, b.Bar.Options, func(b *bike.Bike,
			o bike.Slot[cockpit.Bar]) {
			b.Bar.Slot = o
		})
	}
	if i := s.hands.arm.clipon; i >= 0 {
		for k, set := range map[bike.Sets]func(*bike.CliponFit) *bike.Setting{
			bike.SetsPadTilt: func(f *bike.CliponFit) *bike.Setting { return &f.Tilt },
			bike.SetsHole:    func(f *bike.CliponFit) *bike.Setting { return &f.Hole },
			bike.SetsRisers:  func(f *bike.CliponFit) *bike.Setting { return &f.Stack }} {
			c.free(k, func(b *bike.Bike) {
				fit := *b.Clipon
				*set(&fit) = bike.Setting{}
				b.Clipon = &fit
			})
		}
		swapped(c, Cure{Kind: CureClipon}, "clipon", shop.Clipons, i, b.Clipon.Options, func(b *bike.Bike, o bike.Slot[cockpit.Clipon]) {
			b.Clipon = &bike.CliponFit{Slot: o}
		})
	}
	if s.hands.base.stem >= 0 {
		c.stems(shop)
	}
	c.nearest(Cure{Kind: CureReach}, bike.MovesBar, plane.Point{X: 1})
	c.nearest(Cure{Kind: CureHeight}, bike.MovesBar, plane.Point{Y: 1})
}

// stems tries spacers, the stem turned over, and other stems.
func (c *curer) stems(shop Shop) {
	s, b := c.of, c.of.Target
	i, flip := s.hands.base.stem, s.hands.base.flip
	most := spacersSold
	if f := b.Stem.Spacers; f.Free {
		most = math.Max(most, f.Max)
	}
	anyHeight := bike.Spacers{Given: true, Free: true, Max: most, Step: spacersPiece}
	stem := func(options bike.Slot[cockpit.Stem], flip *bool) func(*bike.Bike) {
		return func(b *bike.Bike) { b.Stem = &bike.StemFit{Slot: options, Flip: flip, Spacers: anyHeight} }
	}
	own := only(b.Stem.Slot, i)
	cure := Cure{Kind: CureSpacers}
	if n, ok := c.try(cure, stem(own, &flip)); ok {
		cure.By = n.hands.base.spacers - s.hands.base.spacers
		c.keep(cure, n)
	}
	over := !flip
	if b.Stem.Options[i].Part.Angle != 0 {
		cure = Cure{Kind: CureFlip}
		if n, ok := c.try(cure, stem(own, &over)); ok {
			cure.By = n.hands.base.spacers - s.hands.base.spacers
			c.keep(cure, n)
		}
	}
	swapped(c, Cure{Kind: CureStem}, "stem", shop.Stems, i, b.Stem.Options, func(b *bike.Bike, o bike.Slot[cockpit.Stem]) {
		stem(o, nil)(b)
	})
}

// cureNames are the kinds in JSON, in the order of the constants.
var cureNames = [...]string{"setting", "spacers", "flip", "stem", "lever", "clipon", "saddle", "bar", "setback", "height", "reach"}

func (k CureKind) String() string { return cureNames[k] }

// MarshalJSON writes a cure with what it takes to make it; by and rotation in mm or degrees.
func (c Cure) MarshalJSON() ([]byte, error) {
	type part struct {
		Slot string `json:"slot"`
		Part string `json:"part"`
		Flip bool   `json:"flip"`
	}
	out := struct {
		Kind     string       `json:"kind"`
		Contact  bike.Contact `json:"contact"`
		Setting  string       `json:"setting,omitempty"`
		By       float64      `json:"by"`
		Part     *part        `json:"part,omitempty"`
		Spacers  *float64     `json:"spacers,omitempty"`
		Rotation *plane.Angle `json:"rotation,omitempty"`
		Error    float64      `json:"error"`
	}{Kind: c.Kind.String(), Contact: bike.Sit, Setting: c.Setting, By: c.By, Spacers: c.Spacers, Error: c.Solution.E}
	if !c.OnSaddle {
		out.Contact = c.Solution.Position.Posture.Hands
	}
	if c.Kind == CureSetting && c.Sets.Turns() {
		out.By = plane.Deg(c.By)
	}
	if c.Part.Slot != "" {
		out.Part = &part{c.Part.Slot, c.Part.ID, c.Part.Flip}
	}
	if c.Rotation != nil {
		a := plane.Angle(*c.Rotation)
		out.Rotation = &a
	}
	return json.Marshal(out)
}
