package carry

import (
	"context"
	"fmt"
	"math"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/reach"
)

// A contact is carried when it misses by no more than this: 2 mm and 1°.
const (
	CarriedMM  = 2.0
	CarriedRad = math.Pi / 180
)

// Carries reports whether a contact that misses by so much (mm, and radians either way) counts as carried;
// rounding in the last place does not.
func Carries(miss, angle float64) bool {
	return miss <= CarriedMM+1e-9 && math.Abs(angle) <= CarriedRad+1e-9
}

// Setting is one number to set on the target.
type Setting struct {
	Name     string
	Adjuster int     // index into the bike's adjusters, -1 for what has no scale
	Travel   float64 // mm or radians
	Turns    bool
	Mark     float64 // on the adjuster's scale; for the others mm or degrees
	Sigma    float64 // of Travel, from the source's readings
	Limit    string  // "", "min", "max" or "step"
	Push     float64 // how hard the misses of its half ask for more travel, mm
	Lo, Hi   float64 // what Travel may be
}

// Part is what was chosen for an open slot.
type Part struct {
	Slot, ID, Name string
	Flip           bool
	Price          *float64
}

// Carried is one wanted contact and what became of it.
type Carried struct {
	Want, Got assembly.Contact
	Primary   bool
	Miss      float64     // mm
	Away      plane.Point // from got to wanted, mm
	MissAngle float64     // radians, got - want; 0 for a second contact
	Carried   bool
}

// Warning is something the rider should know.
type Warning struct{ Code, Text string }

// Solution is a carried position.
type Solution struct {
	Target       *bike.Bike
	Position     *locate.Position
	Source       bike.Feet
	Options      Options
	Want         Wanted
	E            float64 // mm
	Second       float64 // miss of the second contact, mm; NaN when there is none
	Combinations float64
	Proven       bool
	Settings     []Setting
	Parts        []Part
	Contacts     []Carried
	Stance       *assembly.Stance // the target as set up
	Warnings     []Warning

	saddle, hands         settled
	saddleSide, handSide  *side
	saddlePick, handsPick reach.Candidate
	nearby                *[locate.Coordinates][2]*Solution // see beside
}

// Carried reports whether every primary contact is.
func (s *Solution) Carried() bool {
	for _, c := range s.Contacts {
		if c.Primary && !c.Carried {
			return false
		}
	}
	return true
}

// Solve finds the settings of the target that bring its contacts nearest to the wanted ones, and proves it.
func Solve(ctx context.Context, target *bike.Bike, source bike.Feet, pos *locate.Position, o Options) (*Solution, error) {
	want, err := Want(pos, source, target.Feet, o)
	if err != nil {
		return nil, err
	}
	s := &Solution{Target: target, Position: pos, Source: source, Options: o, Want: want}
	if s.saddleSide, err = saddleSide(target, pos.Posture, want.Sit); err != nil {
		return nil, err
	}
	if s.handSide, err = handSide(target, pos.Posture, want.Hands); err != nil {
		return nil, err
	}
	if err := s.search(ctx); err != nil {
		return nil, err
	}
	s.Combinations = s.saddleSide.Combinations() * s.handSide.Combinations()
	s.complete()
	return s, nil
}

// search settles both halves, with every discrete choice free.
func (s *Solution) search(ctx context.Context) error {
	return s.settleOn(ctx, s.saddleSide.Search(ctx), s.handSide.Search(ctx))
}

// settleOn settles both halves on what their searches found.
func (s *Solution) settleOn(ctx context.Context, saddles, hands reach.Result) error {
	if len(saddles.Ties) == 0 || len(hands.Ties) == 0 {
		return fmt.Errorf("%s: stopped before any setting was tried", s.Target.File)
	}
	var allSaddles, allHands bool
	s.saddle, s.saddlePick, allSaddles = s.saddleSide.choose(ctx, s.Target, s.Position.Posture, saddles, nil)
	s.hands, s.handsPick, allHands = s.handSide.choose(ctx, s.Target, s.Position.Posture, hands, s.Want.Second)
	s.Proven = saddles.Proven && hands.Proven && allSaddles && allHands
	return nil
}

// complete fills in what a person reads from the two settled halves.
func (s *Solution) complete() {
	s.settle()
	s.Parts = s.parts()
	s.Stance = s.stand()
	s.Warnings = s.warnings()
}

// settle fills in the numbers: E, contacts and settings.
func (s *Solution) settle() {
	s.E = math.Sqrt(s.saddle.square + s.hands.square)
	s.Second = math.NaN()
	if s.Want.Second != nil && s.hands.second != nil {
		s.Second = s.hands.short
	}
	s.saddle.got.Name, s.hands.got.Name = bike.Sit, s.Position.Posture.Hands
	s.Contacts = append(make([]Carried, 0, 3),
		Judged(s.Want.Sit, s.saddle.got, true), Judged(s.Want.Hands, s.hands.got, true))
	if s.Want.Second != nil && s.hands.second != nil {
		s.Contacts = append(s.Contacts, Judged(*s.Want.Second, *s.hands.second, false))
	}
	s.Settings = s.settings()
}

// Judged compares a contact with where it should be.
func Judged(want, got assembly.Contact, primary bool) Carried {
	c := Carried{Want: want, Got: got, Primary: primary, Away: want.At.Sub(got.At)}
	c.Miss = c.Away.Norm()
	if primary {
		c.MissAngle = got.Angle - want.Angle
	}
	c.Carried = Carries(c.Miss, c.MissAngle)
	return c
}

// settings lists what to set: adjusters in file order, then what has no scale.
func (s *Solution) settings() []Setting {
	b := s.Target
	const unscaled = 8 // at most so many have no scale
	list := make([]Setting, 0, len(b.Adjusters)+unscaled)
	for i := range b.Adjusters {
		a := &b.Adjusters[i]
		set := Setting{Name: a.Name, Adjuster: i, Turns: a.Moves.Turns()}
		lo, hi := a.Travel(a.Lo), a.Travel(a.Last())
		set.Lo, set.Hi = math.Min(lo, hi), math.Max(lo, hi)
		reversed := a.Unit < 0
		half, sd := &s.saddle, s.saddleSide
		if a.Moves == bike.MovesBar || a.Moves == bike.MovesBarRotation {
			half, sd = &s.hands, s.handSide
		}
		switch {
		case a.Moves.Turns() && sd.turnBy == i:
			set.Travel = half.turn
			set.hold(sd.turnPush(half), a.Indexed(), reversed)
		case a.Moves.Turns(): // turns nothing in this posture: left where it is
			set.Travel = untouched(b, i)
		default:
			set.Travel = half.travels[i]
			set.hold(half.miss.Dot(a.Direction()), a.Indexed(), reversed)
		}
		set.Mark = set.Travel / a.Unit
		list = append(list, set)
	}
	return s.unscaled(list)
}

// unscaled adds the settings without a scale that the file leaves open.
func (s *Solution) unscaled(list []Setting) []Setting {
	b := s.Target
	add := func(name string, travel, lo, hi, push float64, turns, indexed bool) {
		set := Setting{Name: name, Adjuster: -1, Travel: travel, Mark: travel, Turns: turns, Lo: lo, Hi: hi}
		if turns {
			set.Mark = plane.Deg(travel)
		}
		set.hold(push, indexed, false)
		list = append(list, set)
	}
	if s.saddleSide.turnBy < 0 && b.Saddle.Tilt.Free {
		t := b.Saddle.Tilt
		add("saddle.tilt", s.saddle.turn, t.Lo, t.Hi, s.saddleSide.turnPush(&s.saddle), true, false)
	}
	if b.Saddle.ClampAt.Free {
		o := b.Saddle.Options[s.saddle.arm.saddle]
		r, _ := ClampRange(b.Saddle.ClampAt, o.Part.Rail)
		add("saddle.clamp_at", s.saddle.slideAt+s.saddle.arm.station, r.Lo, r.Hi,
			s.saddle.miss.Dot(plane.Direction(s.saddle.turn)), false, false)
	}
	onBar := s.hands.arm.bar >= 0
	if r := b.Bar.Rotation; r.Free && len(b.Moving(bike.MovesBarRotation)) == 0 {
		if onBar {
			add("bar.rotation", s.hands.turn, r.Lo, r.Hi, s.handSide.turnPush(&s.hands), true, false)
		} else {
			add("bar.rotation", r.Mid(), r.Lo, r.Hi, 0, true, false)
		}
	}
	if q := b.Bar.LeverAt; q.Free && s.hands.arm.lever >= 0 {
		first, last := b.Bar.Options[s.hands.arm.bar].Part.LeverTravel()
		lo, hi := Within(q, [2]float64{first, last})
		add("bar.lever_at", s.hands.leverAt, lo, hi, s.leverPush(lo), false, false)
	}
	if s.hands.base.stem >= 0 && b.Stem.Spacers.Free {
		steerer, _ := b.Steerer()
		heights := b.Stem.Spacers.Heights()
		add("stem.spacers", s.hands.base.spacers, 0, heights[len(heights)-1], s.hands.miss.Dot(steerer.Up()), false, b.Stem.Spacers.Step > 0)
	}
	if s.hands.arm.clipon >= 0 {
		c, part := b.Clipon, b.Clipon.Options[s.hands.arm.clipon].Part
		along := plane.Direction(s.hands.turn)
		open := func(set bike.Setting) bool { return !set.Given || set.Free }
		if open(c.Tilt) {
			lo, hi := Within(c.Tilt, part.Tilt)
			if t, _ := Tilts(part, c.Tilt); len(t.Values) > 0 { // the stop may lie beyond the last step
				lo, hi = t.Values[0], t.Values[len(t.Values)-1]
			}
			add("clipon.tilt", s.hands.turn, lo, hi, s.handSide.turnPush(&s.hands), true, part.TiltStep > 0)
		}
		if open(c.Hole) {
			on := ends(Offered(part.Holes, c.Hole))
			add("clipon.hole", s.hands.arm.hole, on[0], on[1], s.hands.miss.Dot(along), false, true)
		}
		if open(c.Stack) {
			on := ends(Offered(part.Stacks, c.Stack))
			add("clipon.stack", s.hands.arm.stack, on[0], on[1], s.hands.miss.Dot(along.Perp()), false, true)
		}
		if open(c.Extension) {
			lo, hi := Within(c.Extension, part.GripForward)
			push := 0.0
			if s.Want.Second != nil && s.hands.second != nil {
				push = s.Want.Second.At.Sub(s.hands.second.At).Dot(along)
			}
			add("clipon.extension", s.hands.extend, lo, hi, push, false, false)
		}
	}
	return list
}

// turnPush is how strongly the misses ask for more turn: -½ dE²/dt per k, mm.
func (s *side) turnPush(h *settled) float64 {
	arm := h.got.At.Sub(h.clamp)
	off := s.Wish.Weight * s.Wish.Weight * (h.got.Angle - s.Wish.Angle)
	return (h.miss.Dot(arm.Perp()) - off) / s.Wish.Weight
}

// felt is the push, mm, below which a stop or step holds nothing back that a person could notice.
const felt = 1e-3

// leverPush is how strongly the misses ask for a lever further along the bar: -½ dE²/dq, mm. On the flat the
// contact goes along the bar; around the bend, at f = q/bend, it goes round the bend's centre and its angle
// falls by as much. lo is the least q there is.
func (s *Solution) leverPush(lo float64) float64 {
	h := &s.hands
	if h.leverAt <= 0 && lo < 0 {
		return h.miss.Dot(plane.Direction(h.turn))
	}
	bar := s.Target.Bar.Options[h.arm.bar].Part
	k := s.handSide.Wish.Weight
	arm := h.got.At.Sub(plane.Pose{Origin: h.clamp, Turn: h.turn}.At(bar.BendCentre()))
	return (k*k*(h.got.Angle-s.handSide.Wish.Angle) - h.miss.Dot(arm.Perp())) / bar.Bend
}

// hold notes how hard the misses push a setting, and names the stop or step that holds a contact back: a
// setting at an end of its travel that is pushed outward, or on a step with the wanted place beside it.
func (set *Setting) hold(push float64, indexed, reversed bool) {
	low, high := "min", "max"
	if reversed {
		low, high = high, low
	}
	const end = 1e-9
	set.Push = push
	switch {
	case math.Abs(push) <= felt:
	case set.Travel >= set.Hi-end && push > 0:
		set.Limit = high
	case set.Travel <= set.Lo+end && push < 0:
		set.Limit = low
	case indexed:
		set.Limit = "step"
	}
}

// HeldBy lists the settings whose stop or step holds a primary contact back. One that hardly points the way
// the contact should go is none of them: freed, it would leave the miss much as it is.
func (s *Solution) HeldBy(c Carried) []string {
	const towards = 0.3 // the least part of a miss that counts
	list := []string{}
	if !c.Primary {
		return list
	}
	weight := s.handSide.Wish.Weight
	if c.Want.Name == bike.Sit {
		weight = s.saddleSide.Wish.Weight
	}
	e := math.Hypot(c.Miss, weight*c.MissAngle)
	for _, set := range s.Settings {
		if set.Limit != "" && s.OnSaddle(set) == (c.Want.Name == bike.Sit) && set.Name != "clipon.extension" && math.Abs(set.Push) >= towards*e {
			list = append(list, set.Name)
		}
	}
	return list
}

// parts lists what was chosen for open slots.
func (s *Solution) parts() []Part {
	b := s.Target
	var list []Part
	if b.Saddle.Open {
		o := b.Saddle.Options[s.saddle.arm.saddle]
		list = append(list, Part{Slot: "saddle", ID: o.ID, Name: o.Name, Price: o.Price})
	}
	if b.Bar.Open && s.hands.arm.bar >= 0 {
		o := b.Bar.Options[s.hands.arm.bar]
		list = append(list, Part{Slot: "bar", ID: o.ID, Name: o.Name, Price: o.Price})
	}
	if b.Bar.Lever.Open && s.hands.arm.lever >= 0 {
		o := b.Bar.Lever.Options[s.hands.arm.lever]
		list = append(list, Part{Slot: "lever", ID: o.ID, Name: o.Name, Price: o.Price})
	}
	if b.Stem != nil && b.Stem.Open {
		o := b.Stem.Options[s.hands.base.stem]
		list = append(list, Part{Slot: "stem", ID: o.ID, Name: o.Name, Price: o.Price, Flip: s.hands.base.flip})
	}
	if b.Clipon != nil && b.Clipon.Open && s.hands.arm.clipon >= 0 {
		o := b.Clipon.Options[s.hands.arm.clipon]
		list = append(list, Part{Slot: "clipon", ID: o.ID, Name: o.Name, Price: o.Price})
	}
	return list
}

// stand is the target as set up.
func (s *Solution) stand() *assembly.Stance {
	b := s.Target
	l := &assembly.Layout{Bike: b, Shape: b.Saddle.Options[s.saddle.arm.saddle].Part, SitWidth: s.Position.Posture.Support,
		Extension: math.NaN()}
	st := &assembly.Stance{Layout: l}
	// N = C + R(t)·(c, rail height), with c = x + station.
	rail := plane.Point{X: s.saddle.slideAt + s.saddle.arm.station, Y: l.Shape.Rail.Height}
	st.Poses[assembly.Saddle] = plane.Pose{Origin: s.saddle.clamp.Add(rail.Turn(s.saddle.turn)), Turn: s.saddle.turn}

	turn := s.hands.turn
	if i := s.hands.arm.bar; i >= 0 {
		l.BarShape = b.Bar.Options[i].Part
	} else if !b.Bar.Empty() {
		l.BarShape = b.Bar.Options[0].Part
		turn = b.Bar.Rotation.Mid()
		if on := b.Moving(bike.MovesBarRotation); len(on) > 0 {
			turn = untouched(b, on[0])
		}
	}
	if i := s.hands.arm.lever; i >= 0 {
		l.Lever, l.LeverAt = b.Bar.Lever.Options[i].Part, s.hands.leverAt
	} else if !b.Bar.Lever.Empty() {
		l.Lever, l.LeverAt = b.Bar.Lever.Options[0].Part, b.Bar.LeverAt.Mid()
	}
	st.Poses[assembly.Bar] = plane.Pose{Origin: s.hands.clamp, Turn: turn}
	if i := s.hands.arm.clipon; i >= 0 {
		l.Clipon = b.Clipon.Options[i].Part
		l.Hole, l.Stack, l.Extension = s.hands.arm.hole, s.hands.arm.stack, s.hands.extend
		l.PadLength = l.Clipon.PadLength
		st.Poses[assembly.Pads] = plane.Pose{Origin: s.hands.clamp, Turn: s.hands.turn}
	}
	l.Hang()
	return st
}
