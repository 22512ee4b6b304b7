package carry

import (
	"cmp"
	"context"
	"math"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// A contact is carried when it misses by no more than this: 2 mm and 1°.
const (
	CarriedMM  = 2.0
	CarriedRad = math.Pi / 180
)

// Carries reports whether a contact that misses by so much (mm, and radians either way) counts as carried;
// rounding in the last place does not.
func Carries(miss, angle float64) bool { return within(1, miss, angle) }

// within is Carries for a part of what counts as carried.
func within(part, miss, angle float64) bool {
	return miss <= part*CarriedMM+1e-9 && math.Abs(angle) <= part*CarriedRad+1e-9
}

// Setting is one number to set on the target.
type Setting struct {
	bike.Settable
	Travel     float64 // mm or radians
	Sigma      float64 // of Travel, from the source's readings: see Total
	SigmaTotal float64 // of Travel, from everything: see Total
	Limit      string  // "", "min", "max" or "step"
	Push       float64 // how hard the misses of its half ask for more travel, mm
}

// Mark is what the scale shows; mm or degrees without one.
func (s *Setting) Mark() float64 { return s.Settable.Mark(s.Travel) }

// Move is how far a setting goes from where it stands, mm or radians; ok is false when that is not known.
func (s *Setting) Move() (d float64, ok bool) {
	if s.Stands == nil {
		return 0, false
	}
	return s.Travel - *s.Stands, true
}

// Part is what was chosen for an open slot.
type Part struct {
	Flip bool   `json:"flip"`
	ID   string `json:"part"`
	Slot string `json:"slot"`
	Name string `json:"-"`
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
type Warning struct {
	Code string `json:"code"`
	Text string `json:"text"`
}

// Solution is a carried position.
type Solution struct {
	Target       *bike.Bike
	Source       *bike.Bike
	Position     *locate.Position
	Options      Options
	Want         Wanted  // the hands following the saddle that was got
	E            float64 // mm
	Second       float64 // miss of the second contact, mm; NaN when there is none
	Combinations float64
	Proven       bool
	Settings     []Setting
	Parts        []Part
	Contacts     []Carried
	Placement    *assembly.Placement // the target as set up
	Warnings     []Warning
	Causes       []Cause   // of the settings' uncertainty: see Total
	GapShort     float64   // by how much the clip-on does not fit the bar's clamp, mm; 0 when it does
	Alone        *Solution // the posture by itself, where what is bolted on for several brings it less near; else nil

	wants                *[locate.Coordinates][locate.Coordinates]float64 // derivatives of asked: see Wants
	asked                Wanted                                           // before it was known which saddle is got
	saddle, hands        settled
	saddleHalf, handHalf *half
	nearby               *[locate.Coordinates][2]*Solution // see beside: by the coordinates of asked
}

// half is the saddle's half as it is settled, or the hands'.
func (s *Solution) half(onSaddle bool) (*half, *settled) {
	if onSaddle {
		return s.saddleHalf, &s.saddle
	}
	return s.handHalf, &s.hands
}

// Carried reports whether every primary contact is, and the parts fit.
func (s *Solution) Carried() bool {
	for _, c := range s.Contacts {
		if c.Primary && !c.Carried {
			return false
		}
	}
	return s.GapShort <= 0
}

// Solve finds the settings of the target that bring its contacts nearest to the wanted ones, angles first, then the
// saddle, then the hands, and proves it.
func Solve(ctx context.Context, target, source *bike.Bike, pos *locate.Position, o Options) (_ *Solution, err error) {
	s := &Solution{Target: target, Position: pos, Source: source, Options: o}
	if s.asked, err = Want(pos, source.Feet, target, o); err != nil {
		return nil, err
	}
	wants, err := Wants(pos, source.Feet, target, o)
	if err != nil {
		return nil, err
	}
	s.wants = &wants
	if s.saddleHalf, err = saddleHalf(target, pos.Posture); err != nil {
		return nil, err
	}
	if s.handHalf, err = handHalf(target, pos.Posture); err != nil {
		return nil, err
	}
	s.handHalf.noAngle = pos.NoAngle
	s.Combinations = s.saddleHalf.combinations() * s.handHalf.combinations()
	s.solve(ctx)
	return s, nil
}

// solve settles both halves and fills in what a person reads.
func (s *Solution) solve(ctx context.Context) {
	s.search(ctx)
	s.settle()
	s.reset()
	s.Parts = s.parts()
	s.Placement = s.stand()
	s.Warnings = s.warnings()
}

// search settles the saddle's half, ties included, and then the hands'.
func (s *Solution) search(ctx context.Context) {
	var proven bool
	s.saddleHalf.aim(s.asked.Sit, nil, SeatMetric(s.asked.Sit.At, s.Position.Posture.Weights))
	s.saddle, s.Proven = s.saddleHalf.solve(ctx)
	s.Want = s.asked.After(s.saddle.got.At)
	s.handHalf.aim(s.Want.Hands, s.Want.Second, HandMetric(s.Position.Posture.Weights))
	s.hands, proven = s.handHalf.solve(ctx)
	s.Proven = s.Proven && proven
}

// SeatMetric counts what a saddle misses along the line from the BB, which is leg extension, and across it.
func SeatMetric(sit plane.Point, w bike.Weights) plane.Metric {
	return plane.Metric{Line: sit.Scale(1 / sit.Norm()), Along: w.Extension, Across: w.Setback}
}

// HandMetric counts what hands miss alike whichever way.
func HandMetric(w bike.Weights) plane.Metric {
	return plane.Metric{Line: plane.Point{X: 1}, Along: w.Hands, Across: w.Hands}
}

// settle fills in the numbers: E and contacts.
func (s *Solution) settle() {
	s.E = math.Sqrt(s.saddle.square + s.hands.square)
	s.Second = math.NaN()
	if s.Want.Second != nil && s.hands.second != nil {
		s.Second = s.hands.short
	}
	if c := s.hands.arm.Clipon; c != nil && tooWide(s.Target, c) {
		s.GapShort = s.Target.Short(c)
	}
	s.saddle.got.Name, s.hands.got.Name = bike.Sit, s.Position.Posture.Hands
	s.Contacts = append(make([]Carried, 0, 3),
		Judged(s.Want.Sit, s.saddle.got, true), Judged(s.Want.Hands, s.hands.got, true))
	if s.Want.Second != nil && s.hands.second != nil {
		s.Contacts = append(s.Contacts, Judged(*s.Want.Second, *s.hands.second, false))
	}
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

// Fitted is the choice of parts.
func (s *Solution) Fitted() bike.Fitted {
	f := s.hands.arm.Fitted
	f.Saddle, f.Stem = s.saddle.arm.Saddle, s.hands.base.stem
	return f
}

// reset lists what is to set, adjusters in file order, then what has no scale, and fills it in.
func (s *Solution) reset() {
	all := s.Target.Settables(s.Fitted(), s.Position.Posture.Hands)
	s.Settings = make([]Setting, len(all))
	for i, a := range all {
		s.Settings[i].Settable = a
	}
	s.set()
}

// set fills in the settings.
func (s *Solution) set() {
	for i := range s.Settings {
		set := &s.Settings[i]
		set.Travel, set.Push = s.travel(&set.Settable), s.push(&set.Settable)
		set.hold()
	}
}

// stored is the number of the settled halves that a setting sets, and its value at travel 0; nil outside the side view.
func (s *Solution) stored(a *bike.Settable) (number *float64, zero float64) {
	switch a.Sets {
	case bike.SetsSaddle:
		return &s.saddle.travels[a.Adjuster], 0
	case bike.SetsSaddleTilt:
		return &s.saddle.turn, a.Zero
	case bike.SetsRails:
		return &s.saddle.slideAt, -s.saddle.arm.station
	case bike.SetsBar:
		return &s.hands.travels[a.Adjuster], 0
	case bike.SetsRotation:
		return &s.hands.rotation, a.Zero
	case bike.SetsLever:
		return &s.hands.leverAt, 0
	case bike.SetsSpacers:
		return &s.hands.base.spacers, 0
	case bike.SetsPadTilt:
		return &s.hands.turn, s.padRotation()
	case bike.SetsHole:
		return &s.hands.arm.hole, 0
	case bike.SetsRisers:
		return &s.hands.arm.stack, 0
	case bike.SetsExtension:
		return &s.hands.extend, 0
	}
	return nil, 0
}

// travel is where a setting came to stand.
func (s *Solution) travel(a *bike.Settable) float64 {
	switch part := s.hands.arm.Clipon; {
	case a.Sets == bike.SetsSpacing:
		if p := s.Spacing(s.Source); p != nil {
			return p.Target
		}
		return 0
	case a.Sets == bike.SetsGap:
		return part.Gap + s.Target.Widening(part)
	case a.Sets == bike.SetsRotation && s.Idle(*a): // turns nothing in this posture: left where it is
		if a.Adjuster >= 0 {
			return untouched(s.Target, a.Adjuster)
		}
		return a.Home
	}
	number, zero := s.stored(a)
	return *number - zero
}

// push is how hard the misses of its half push a setting: half the slope of -E², per mm, and per the mm that angles are worth.
func (s *Solution) push(a *bike.Settable) float64 {
	h, out := s.half(a.Sets.OnSaddle())
	way := a.Heading
	switch {
	case a.Sets.Sideways() || s.Idle(*a):
		return 0
	case a.Turns():
		return h.anglePush(out)
	case a.Sets == bike.SetsLever:
		return s.leverPush()
	case a.Sets == bike.SetsSpacers:
		steerer, _ := s.Target.Steerer()
		way = steerer.Up()
	case a.Adjuster < 0: // on the part that turns
		way = way.Turn(out.turn)
	}
	if a.Sets == bike.SetsExtension {
		if out.second == nil {
			return 0
		}
		return s.Want.Second.At.Sub(out.second.At).Dot(way)
	}
	return out.pull(h).Dot(way)
}

// padRotation is what of the pads' turn is the bar's.
func (s *Solution) padRotation() float64 {
	if s.hands.arm.rotation == nil {
		return 0
	}
	return s.hands.rotation
}

// pull is half the slope of -P² by the place of the contact, mm.
func (k *settled) pull(h *half) plane.Point {
	m := h.Wish.Metric
	a, b := m.Along*m.Along*m.Line.Dot(k.miss), m.Across*m.Across*m.Line.Cross(k.miss)
	return m.Line.Scale(a).Add(m.Line.Perp().Scale(b))
}

// anglePush is how strongly the angle asks for more turn, mm: nothing but the angle decides on a turn.
func (h *half) anglePush(out *settled) float64 {
	return h.posture.Weights.Angle * (h.want.Angle - out.got.Angle)
}

// felt is the push, mm, below which a stop or step holds nothing back that a person could notice.
const felt = 1e-3

// end is how near, mm or radians, a setting counts as being at an end of its travel, and a lever at the end of the flat.
const end = 1e-9

// leverPush is how strongly the misses ask for a lever further along the bar, mm. On the flat the contact goes along the
// bar; around the bend, at f = q/bend, the hand turns down by f, and where its angle is as wanted it goes round with the
// bar. From the end of the flat a hand turns down by going on, and by going back it turns no way.
func (s *Solution) leverPush() float64 {
	k := &s.hands
	pull, off := k.pull(s.handHalf), s.handHalf.anglePush(k)
	switch onBend := k.leverAt > end; {
	case off < -felt && k.leverAt >= -end, off > felt && onBend:
		return -off
	case onBend:
		bar := k.arm.Bar
		return pull.Dot(bar.BendCentre().Turn(k.turn).Perp()) / bar.Bend
	}
	return pull.Dot(plane.Direction(k.turn))
}

// hold names the stop or step that holds a contact back: a setting at an end of its travel that is pushed outward, or on a step with
// the wanted place beside it.
func (set *Setting) hold() {
	low, high := "min", "max"
	if set.Unit < 0 {
		low, high = high, low
	}
	switch set.Limit = ""; {
	case math.Abs(set.Push) <= felt || !set.Stops:
	case set.Travel >= set.Hi-end && set.Push > 0:
		set.Limit = high
	case set.Travel <= set.Lo+end && set.Push < 0:
		set.Limit = low
	case set.Stepped():
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
	onSaddle := c.Want.Name == bike.Sit
	h, out := s.half(onSaddle)
	place, angle := out.pull(h).Norm(), math.Abs(h.anglePush(out))
	for _, set := range s.Settings {
		pulled := place
		if set.Turns() {
			pulled = angle
			if math.Abs(c.MissAngle) < CarriedRad/10 { // less than a level tells
				continue
			}
		}
		if set.Limit != "" && set.Sets.OnSaddle() == onSaddle && set.Sets != bike.SetsExtension &&
			math.Abs(set.Push) >= towards*pulled {
			list = append(list, set.Name)
		}
	}
	return list
}

// parts lists what was chosen for open slots.
func (s *Solution) parts() []Part {
	var list []Part
	chosen := s.picks()
	for k, at := range s.Target.Stocks() {
		if at.Open && chosen[k] != bike.Every {
			p := at.At(chosen[k])
			list = append(list, Part{Slot: at.Slot, ID: p.ID, Name: p.Name, Flip: k == bike.StemSlot && s.hands.base.flip})
		}
	}
	return list
}

// picks are the parts of a solution.
func (s *Solution) picks() bike.Picks { return s.saddle.picks().And(s.hands.picks()) }

// picks are the parts of a half; slots of the other are left open.
func (k *settled) picks() bike.Picks {
	p := k.arm.picks
	p[bike.StemSlot] = k.base.pick
	return p
}

// ownBody is the body that a contact is on which no part gives.
var ownBody = map[bike.Contact]assembly.Body{bike.Hood: assembly.Hood, bike.Drop: assembly.Drop, bike.Pad: assembly.Pads,
	bike.Grip: assembly.Grip}

// stand is the target as set up.
func (s *Solution) stand() *assembly.Placement {
	b := s.Target
	l := &assembly.Layout{Bike: b, SitWidth: s.Position.Posture.Support, Extension: math.NaN()}
	st := &assembly.Placement{Layout: l}
	if l.Shape = s.saddle.arm.Saddle; l.Shape != nil {
		// N = C + R(t)·(c, rail height), with c = x + station.
		rail := plane.Point{X: s.saddle.slideAt + s.saddle.arm.station, Y: l.Shape.Rail.Height}
		st.Poses[assembly.Saddle] = plane.Pose{Origin: s.saddle.clamp.Add(rail.Turn(s.saddle.turn)), Turn: s.saddle.turn}
	}
	if a := s.saddle.arm.shapeless; a != nil { // the mark lies above the loaded contact by the sag
		sag := 0.0
		if b.Saddle.Sag != nil {
			sag = *b.Saddle.Sag
		}
		at := plane.Pose{Origin: s.saddle.clamp, Turn: s.saddle.turn}.At(a.At)
		st.Poses[assembly.Saddle] = plane.Pose{Origin: at.Add(plane.Point{Y: sag}.Turn(s.saddle.turn)), Turn: s.saddle.turn}
	}
	turn := s.hands.rotation
	l.BarShape = cmp.Or(s.hands.arm.Bar, b.Bar.Only())
	if s.hands.arm.Clipon != nil && s.hands.arm.rotation == nil { // the bar turns nothing of this posture
		turn = b.Bar.Rotation.Mid()
		if on := b.Moving(bike.MovesBarRotation); len(on) > 0 {
			turn = untouched(b, on[0])
		}
	}
	if l.Lever = s.hands.arm.Lever; l.Lever != nil {
		l.LeverAt = s.hands.leverAt
	} else if !b.Bar.Lever.Empty() {
		l.Lever, l.LeverAt = b.Bar.Lever.Only(), b.Bar.LeverAt.Mid()
	}
	st.Poses[assembly.Bar] = plane.Pose{Origin: s.hands.clamp, Turn: turn}
	for c, a := range b.Bar.Arms {
		st.Poses[ownBody[c]] = plane.Pose{Origin: st.Poses[assembly.Bar].At(a.At), Turn: turn + a.Angle}
	}
	if l.Clipon = s.hands.arm.Clipon; l.Clipon != nil {
		l.Hole, l.Stack, l.Extension = s.hands.arm.hole, s.hands.arm.stack, s.hands.extend
		l.PadLength = l.Clipon.PadLength
		st.Poses[assembly.Pads] = plane.Pose{Origin: s.hands.clamp, Turn: s.hands.turn}
	}
	l.Hang()
	return st
}
