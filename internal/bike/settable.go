package bike

import (
	"math"
	"slices"

	"carryover/internal/cockpit"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Sets says what a setting sets.
type Sets int

// What can be set. A clamp's travels and turns have adjusters; the others are set by tape, level or by counting.
const (
	SetsSaddle Sets = iota
	SetsSaddleTilt
	SetsRails // where the clamp holds the rails
	SetsBar
	SetsRotation
	SetsLever // where the lever stands on its bar
	SetsSpacers
	SetsPadTilt
	SetsHole
	SetsRisers
	SetsExtension
	SetsSpacing
	SetsGap
	setsCount
)

// settingKeys are the keys of the file, in the order of the constants; an adjuster has its own name instead.
var settingKeys = [setsCount]string{"", "saddle.tilt", "saddle.clamp_at", "", "bar.rotation", "bar.lever_at", "stem.spacers",
	"clipon.tilt", "clipon.hole", "clipon.stack", "clipon.extension", "clipon.spacing", "clipon.gap"}

// calledInWords is what a person calls them.
var calledInWords = [setsCount]string{"saddle", "saddle tilt", "rail clamp", "bar", "bar rotation", "lever on the bar", "spacers",
	"pad tilt", "pad hole", "risers", "extension", "pad spacing", "clamp gap"}

// Key is what the file calls a setting without an adjuster.
func (s Sets) Key() string { return settingKeys[s] }

// Called is what a person calls such a setting.
func (s Sets) Called() string { return calledInWords[s] }

// SettingKeys are the keys of all settings without an adjuster.
func SettingKeys() []string {
	return slices.DeleteFunc(slices.Clone(settingKeys[:]), func(key string) bool { return key == "" })
}

// Called is what a person calls the setting of a key; "" when no setting has that key.
func Called(key string) string {
	if i := slices.Index(settingKeys[:], key); i >= 0 && key != "" {
		return calledInWords[i]
	}
	return ""
}

// Turns reports whether it is an angle that is set.
func (s Sets) Turns() bool { return s == SetsSaddleTilt || s == SetsRotation || s == SetsPadTilt }

// Several reports a setting that is called in the plural.
func (s Sets) Several() bool { return s == SetsSpacers || s == SetsRisers }

// OnSaddle reports whether it moves the saddle rather than the hands.
func (s Sets) OnSaddle() bool { return s == SetsSaddle || s == SetsSaddleTilt || s == SetsRails }

// Sideways reports whether it lies outside the side view.
func (s Sets) Sideways() bool { return s == SetsSpacing || s == SetsGap }

// Built reports whether it is built once rather than adjusted.
func (s Sets) Built() bool {
	return s == SetsSpacers || s == SetsHole || s == SetsRisers || s == SetsSpacing || s == SetsGap
}

// sets is what an adjuster sets.
func (m Moves) sets() Sets {
	return [...]Sets{MovesSaddle: SetsSaddle, MovesBar: SetsBar, MovesSaddleTilt: SetsSaddleTilt, MovesBarRotation: SetsRotation}[m]
}

// Settable is one number that can be set on a bike.
type Settable struct {
	Sets     Sets
	Adjuster int             // index into the bike's adjusters; -1: it has none
	Name     string          // the adjuster's, or the key of the file
	Called   string          // what a person calls it
	Lo, Hi   float64         // what it may be, mm or radians
	Step     float64         // mm or radians; 0: anywhere between
	Offered  []float64       // of a hole, risers or pads: where the part has places for them, rising
	Unit     float64         // mm or radians per 1.0 of the scale; 1 mm or 1° without
	Heading  plane.Point     // where what it moves goes as it rises; zero for a turn and outside the side view
	Stands   *float64        // where it stands now, mm or radians; nil: not known
	Home     float64         // where it stands, else the middle of what it may be
	Zero     float64         // of what turns: its turn at travel 0
	Scale    bool            // it carries a scale that a mark is read on
	Stops    bool            // Lo and Hi are stops; false: nothing is known to hold it
	Weight   float64         // mm per mm or radian when its way is compared with others'
	Clipon   *cockpit.Clipon // of risers: whose they are; nil: not known
}

// Turns reports whether it is an angle.
func (s *Settable) Turns() bool { return s.Sets.Turns() }

// Fixed reports a setting that cannot be anywhere else.
func (s *Settable) Fixed() bool { return s.Hi-s.Lo < 1e-9 }

// Stepped reports a setting that cannot stand just anywhere between its ends.
func (s *Settable) Stepped() bool { return s.Step > 0 || s.Offered != nil }

// Places are where a setting can stand, mm or radians, least first; nil: anywhere between.
func (s *Settable) Places() []float64 {
	if s.Step <= 0 || s.Offered != nil {
		return s.Offered
	}
	list := make([]float64, 1+int(math.Round((s.Hi-s.Lo)/s.Step)))
	for j := range list {
		list[j] = s.Lo + float64(j)*s.Step
	}
	return list
}

// Mark is a travel on the scale; mm or degrees without one.
func (s *Settable) Mark(travel float64) float64 { return travel / s.Unit }

// Seat is a reference of a bike's saddle as a place; without a part only the mark where the rider sits is one.
func (b *Bike) Seat(k saddle.RefKind) Place {
	if b.Saddle.Empty() {
		k = saddle.Sit
	}
	return Place{Kind: AtSaddle, Ref: saddle.Reference{Kind: k}}
}

// Front is the centre of a bike's bar as a place; where nobody knows its part, the place of the hands.
func (b *Bike) Front(hands Contact) Place {
	if b.Bar.Empty() {
		return hands.Place()
	}
	return Place{Kind: AtBar}
}

var contactPlaces = map[Contact]PlaceKind{Hood: AtHood, Drop: AtDrop, Pad: AtPad, Grip: AtGrip}

// Place is where a contact of the hands is, as a place a tape goes to.
func (c Contact) Place() Place { return Place{Kind: contactPlaces[c]} }

// Above is the reading of a place's height: from the floor where the BB's height is known.
func (b *Bike) Above(p Place) Reading {
	from := Place{Kind: AtBB}
	if b.Frame.BBHeight != nil {
		from = Place{Kind: AtFloor}
	}
	return Reading{Kind: Plumb, From: from, To: p}
}

// Readings are the tape or level readings that show a setting, the handiest first, for hands at a contact; none for what
// is counted or has a gauge of its own.
func (s *Settable) Readings(b *Bike, hands Contact) []Reading {
	bb, front := Place{Kind: AtBB}, b.Front(hands)
	switch s.Sets {
	case SetsSaddle:
		return []Reading{{Kind: Line, From: bb, To: b.Seat(saddle.Mid)}, {Kind: Level, From: b.Seat(saddle.Nose), To: bb},
			b.Above(b.Seat(saddle.Mid))}
	case SetsSaddleTilt:
		return []Reading{{Kind: Angle, Of: SaddleBody}}
	case SetsBar:
		return []Reading{{Kind: Line, From: b.Seat(saddle.Nose), To: front}, b.Above(front), {Kind: Level, From: bb, To: front}}
	case SetsRotation:
		return []Reading{{Kind: Angle, Of: map[bool]Body{true: HoodBody, false: BarBody}[hands == Hood]}}
	case SetsPadTilt:
		return []Reading{{Kind: Angle, Of: PadBody}}
	case SetsLever:
		return []Reading{{Kind: Line, From: Place{Kind: AtBar}, To: Place{Kind: AtHood}}}
	case SetsSpacers:
		return []Reading{b.Above(Place{Kind: AtBar})}
	case SetsHole, SetsRisers:
		return []Reading{{Kind: Line, From: Place{Kind: AtBar}, To: Place{Kind: AtPad}}}
	case SetsExtension:
		return []Reading{{Kind: Line, From: Place{Kind: AtPad}, To: Place{Kind: AtGrip}}}
	}
	return nil
}

// Fitted is one choice of parts; nil where a bike has none.
type Fitted struct {
	Saddle *saddle.Shape
	Bar    *cockpit.Bar
	Lever  *cockpit.Lever
	Stem   *cockpit.Stem
	Clipon *cockpit.Clipon
}

// settable describes adjuster i.
func (b *Bike) settable(i int) Settable {
	a := &b.Adjusters[i]
	lo, hi := a.Stops()
	s := Settable{Sets: a.Moves.sets(), Adjuster: i, Name: a.Name, Called: a.Name, Lo: lo, Hi: hi, Unit: a.Unit,
		Scale: !a.NoScale && !a.FromHere, Stops: !a.unbound(), Home: b.Home(i)}
	if a.Indexed() {
		s.Step = math.Abs(a.Travel(a.Step))
	}
	if _, marked := b.Marks[a.Name]; marked || a.FromHere {
		home := s.Home
		s.Stands = &home
	}
	if !a.Moves.Turns() {
		s.Heading = a.Direction()
	}
	s.Zero = b.zero(a)
	return s.weighed()
}

func (s Settable) weighed() Settable {
	s.Weight = 1
	if s.Turns() {
		s.Weight = plane.Deg(DegreeCost)
	}
	return s
}

// Settable describes adjuster i, or with -1 the setting of a key, without what it may be.
func (b *Bike) Settable(i int, key string) Settable {
	if i >= 0 {
		return b.settable(i)
	}
	s := Sets(max(0, slices.Index(settingKeys[:], key))).settable()
	if c := b.Clipon; s.Sets == SetsRisers && c != nil && !c.Open {
		s.Clipon = c.Only()
	}
	return s
}

// settable describes a setting without an adjuster, but for what it may be.
func (s Sets) settable() Settable {
	unit := 1.0
	if s.Turns() {
		unit = plane.Rad(1)
	}
	return Settable{Sets: s, Adjuster: -1, Name: s.Key(), Called: calledInWords[s], Unit: unit}.weighed()
}

// Bolted lists what stands where the file says, by no adjuster, and what a bolt or another hole lets go of all the same, for hands
// at a contact; what would stop it is not known.
func (b *Bike) Bolted(hands Contact) (list []Settable) {
	headings := [setsCount]plane.Point{SetsRails: {X: 1}, SetsHole: {X: 1}, SetsRisers: {Y: 1}}
	kinds := []Sets{SetsSaddleTilt, SetsRotation}
	if !b.Saddle.Empty() {
		kinds = append(kinds, SetsRails)
	}
	if hands == Pad {
		kinds = append(kinds, SetsPadTilt, SetsHole, SetsRisers)
	}
	for _, k := range kinds {
		set := b.Setting(k)
		if set == nil || !set.Given || set.Free {
			continue
		}
		at := set.Lo
		s := k.settable()
		s.Lo, s.Hi, s.Home, s.Stands, s.Heading = at, at, at, &at, headings[k]
		list = append(list, s)
	}
	return list
}

// Settables lists what can be set on a bike with its parts chosen, for hands at a contact: adjusters in file order, then
// what has none and the file leaves open.
func (b *Bike) Settables(f Fitted, hands Contact) []Settable {
	list := make([]Settable, 0, len(b.Adjusters)+int(setsCount))
	for i := range b.Adjusters {
		list = append(list, b.settable(i))
	}
	add := func(k Sets, lo, hi, step float64, heading plane.Point) {
		s := k.settable()
		s.Lo, s.Hi, s.Step, s.Heading, s.Home, s.Stops = lo, hi, step, heading, lo+(hi-lo)/2, true
		list = append(list, s)
	}
	ahead, up := plane.Point{X: 1}, plane.Point{Y: 1}
	if t := b.Saddle.Tilt; t.Free && len(b.Moving(MovesSaddleTilt)) == 0 {
		add(SetsSaddleTilt, t.Lo, t.Hi, 0, plane.Point{})
	}
	if b.Saddle.ClampAt.Free && f.Saddle != nil {
		r, _ := b.Saddle.ClampAt.OnRails(f.Saddle.Rail)
		add(SetsRails, r.Lo, r.Hi, 0, ahead)
	}
	if r := b.Bar.Rotation; r.Free && len(b.Moving(MovesBarRotation)) == 0 {
		add(SetsRotation, r.Lo, r.Hi, 0, plane.Point{})
	}
	if q := b.Bar.LeverAt; q.Free && f.Bar != nil && f.Lever != nil && hands == Hood && f.Bar.Curved() {
		first, last := f.Bar.LeverTravel()
		r := q.Within(first, last)
		add(SetsLever, r.Lo, r.Hi, 0, ahead)
	}
	if f.Stem != nil && b.Stem.Spacers.Free {
		heights := b.Stem.Spacers.Heights()
		steerer, _ := b.Steerer()
		add(SetsSpacers, 0, heights[len(heights)-1], b.Stem.Spacers.Step, steerer.Up())
	}
	if c := b.Clipon; c != nil && f.Clipon != nil && hands == Pad {
		part := f.Clipon
		if c.Tilt.Open() {
			if t, ok := c.Tilt.Tilts(part); ok {
				r := t.Ends()
				add(SetsPadTilt, r.Lo, r.Hi, part.TiltStep, plane.Point{})
			}
		}
		built := func(k Sets, offered []float64, set Setting, heading plane.Point) {
			if some := set.Offered(offered); set.Open() && len(some) > 0 {
				r := set.Within(offered[0], offered[len(offered)-1])
				add(k, some[0], some[len(some)-1], 0, heading)
				last := &list[len(list)-1]
				last.Home, last.Clipon, last.Offered = r.Lo+(r.Hi-r.Lo)/2, part, some
			}
		}
		built(SetsHole, part.Holes, c.Hole, ahead)
		built(SetsRisers, part.Stacks, c.Stack, up)
		if c.Extension.Open() {
			r := c.Extension.Within(part.GripForward[0], part.GripForward[1])
			add(SetsExtension, r.Lo, r.Hi, 0, ahead)
		}
		if some := b.Spacings(part); c.Spacing.Open() && len(some) > 0 {
			add(SetsSpacing, some[0], some[len(some)-1], 0, plane.Point{})
			list[len(list)-1].Offered = some
		}
		if part.Spread > 0 && b.Bar.ClampWidth != nil {
			add(SetsGap, part.Gap, part.Gap+2*part.Spread, 0, plane.Point{})
		}
	}
	return list
}

// freeWay is how far, mm or radians, an adjuster is taken to go either way from where it stands when nothing is known
// of its stops: further than any machine.
func (a *Adjuster) freeWay() float64 {
	if a.Moves.Turns() {
		return plane.Rad(30)
	}
	return 400
}

// unbound reports an adjuster whose stops are not known.
func (a *Adjuster) unbound() bool { return a.NoRange || a.FromHere }

// Stops is what an adjuster's travel may be, mm or radians, least first: between stops, or the first and last step.
func (a *Adjuster) Stops() (lo, hi float64) {
	if a.unbound() {
		way := a.freeWay()
		if a.Step > 0 {
			step := math.Abs(a.Travel(a.Step))
			way = step * math.Floor(way/step)
		}
		return -way, way
	}
	lo, hi = a.Travel(a.Lo), a.Travel(a.Hi)
	if a.Indexed() { // the stop may lie beyond the last step
		hi = lo + a.Travel(a.Step)*float64(a.Steps()-1)
	}
	return math.Min(lo, hi), math.Max(lo, hi)
}

// Home is where adjuster i stands now, or the middle of its range, as travel (mm or radians).
func (b *Bike) Home(i int) float64 {
	a := &b.Adjusters[i]
	if m, ok := b.Marks[a.Name]; ok && !a.FromHere {
		return a.Travel(m)
	}
	if a.unbound() {
		return 0
	}
	return a.Travel(a.Lo + (a.Hi-a.Lo)/2)
}

// Turns is what a part may be turned to, radians: one of Values when there are any, else anything in the range.
type Turns struct {
	plane.Range
	Values []float64 // rising
}

// Ends is the least and the greatest turn.
func (t Turns) Ends() plane.Range {
	if n := len(t.Values); n > 0 {
		return plane.Range{Lo: t.Values[0], Hi: t.Values[n-1]}
	}
	return t.Range
}

// even is the difference, radians, below which two turns are equally near.
const even = 1e-9

// Nearest returns the turns that come nearest to a wanted one: one, or two steps equally near.
func (t Turns) Nearest(wanted float64) []float64 {
	if len(t.Values) == 0 {
		return []float64{plane.Clamp(wanted, t.Lo, t.Hi)}
	}
	least := math.Inf(1)
	for _, v := range t.Values {
		least = math.Min(least, math.Abs(v-wanted))
	}
	var near []float64
	for _, v := range t.Values {
		if math.Abs(v-wanted) <= least+even {
			near = append(near, v)
		}
	}
	return near
}

// TurnsOf is what the saddle (MovesSaddleTilt) or the bar (MovesBarRotation) may be turned to, and by which adjuster; -1:
// by a setting without one.
func (b *Bike) TurnsOf(m Moves) (t Turns, by int) {
	on := b.Moving(m)
	if len(on) == 0 {
		set := b.Saddle.Tilt
		if m == MovesBarRotation {
			set = b.Bar.Rotation
		}
		return Turns{Range: plane.Range{Lo: set.Lo, Hi: set.Hi}}, -1
	}
	a := &b.Adjusters[on[0]]
	lo, hi := a.Stops()
	zero := b.zero(a)
	lo, hi = lo+zero, hi+zero
	t.Range = plane.Range{Lo: lo, Hi: hi}
	if a.Indexed() {
		step := math.Abs(a.Travel(a.Step))
		for j := range a.Steps() {
			t.Values = append(t.Values, lo+float64(j)*step)
		}
	}
	return t, on[0]
}

// zero is the turn of a part at travel 0 of the adjuster that turns it: one that counts from where it stands has it there.
func (b *Bike) zero(a *Adjuster) float64 {
	switch {
	case a.FromHere && a.Moves == MovesSaddleTilt:
		return b.Saddle.Tilt.Mid()
	case a.FromHere && a.Moves == MovesBarRotation:
		return b.Bar.Rotation.Mid()
	}
	return 0
}

// Open reports whether the file leaves a clip-on's setting to the solver.
func (s Setting) Open() bool { return !s.Given || s.Free }

// OnRails is the stretch of stations a saddle's clamp may hold, mm: the setting within the rails; ok is false when
// there is none.
func (s Setting) OnRails(r saddle.Rail) (plane.Range, bool) {
	switch {
	case !s.Given:
		return plane.Range{Lo: r.Mid(), Hi: r.Mid()}, true
	case s.Free:
		lo, hi := math.Max(s.Lo, r.From), math.Min(s.Hi, r.To)
		return plane.Range{Lo: lo, Hi: hi}, lo <= hi
	}
	return plane.Range{Lo: s.Lo, Hi: s.Lo}, s.Lo >= r.From-1e-9 && s.Lo <= r.To+1e-9
}

// Within is the stretch that a setting leaves of what a part offers. One that lies outside leaves the nearest end; a
// stated value is taken as it stands.
func (s Setting) Within(lo, hi float64) plane.Range {
	switch {
	case !s.Given:
		return plane.Range{Lo: lo, Hi: hi}
	case !s.Free:
		return plane.Range{Lo: s.Lo, Hi: s.Lo}
	}
	return plane.Range{Lo: plane.Clamp(s.Lo, lo, hi), Hi: plane.Clamp(s.Hi, lo, hi)}
}

// inReach forgives what decimals in a file cannot express.
const inReach = 1e-6

// Offered lists what a part offers of a setting: all of it when the file does not say, a stated value as it stands, and
// of a stretch what lies in it.
func (s Setting) Offered(all []float64) []float64 {
	if !s.Given {
		return all
	}
	if !s.Free {
		return []float64{s.Lo}
	}
	var some []float64
	for _, v := range all {
		if v >= s.Lo-inReach && v <= s.Hi+inReach {
			some = append(some, v)
		}
	}
	return some
}

// Tilts are the tilts a clip-on can have within a setting; ok is false when there is none.
func (s Setting) Tilts(c *cockpit.Clipon) (t Turns, ok bool) {
	if s.Given && !s.Free {
		return Turns{Range: plane.Range{Lo: s.Lo, Hi: s.Lo}}, true
	}
	lo, hi := c.Tilt[0], c.Tilt[1]
	from, to := lo, hi
	if s.Given {
		from, to = math.Max(lo, s.Lo), math.Min(hi, s.Hi)
	}
	if c.TiltStep <= 0 {
		return Turns{Range: plane.Range{Lo: from, Hi: to}}, from <= to
	}
	for j := 0; ; j++ {
		v := lo + float64(j)*c.TiltStep
		if v > hi+1e-9 {
			break
		}
		if v >= from-1e-9 && v <= to+1e-9 {
			t.Values = append(t.Values, v)
		}
	}
	return t, len(t.Values) > 0
}

// Widening is by how much a clip-on's clamps have to leave more than at their closest, so that they straddle what the bar
// is clamped in, as far as they go; mm. The spacing of the pads widens with it.
func (b *Bike) Widening(c *cockpit.Clipon) float64 {
	if b.Bar.ClampWidth == nil {
		return 0
	}
	return plane.Clamp(*b.Bar.ClampWidth-c.Gap, 0, 2*c.Spread)
}

// Spacings are how far apart the pads of a clip-on can stand, its clamps as far out as the bar's clamp asks, mm, rising.
func (b *Bike) Spacings(part *cockpit.Clipon) (list []float64) {
	for _, v := range b.Clipon.Spacing.Offered(part.Spacings) {
		list = append(list, v+b.Widening(part))
	}
	return list
}

// Short is by how much a clip-on's clamps, as far out as they go, come short of straddling what the bar is clamped in,
// mm; 0 or less when it fits or the width is not known.
func (b *Bike) Short(c *cockpit.Clipon) float64 {
	if b.Bar.ClampWidth == nil {
		return 0
	}
	return *b.Bar.ClampWidth - c.Gap - 2*c.Spread
}
