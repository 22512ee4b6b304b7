package carry

import (
	"fmt"
	"math"
	"slices"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/cockpit"
	"carryover/internal/plane"
	"carryover/internal/saddle"
	"carryover/internal/search"
)

// half is one half of the target (saddle or hands): what it can be built of and set to, and once it is aimed at a
// wanted contact, a search. The halves share nothing but that the hands follow the saddle that was got.
type half struct {
	bike    *bike.Bike
	posture bike.Posture
	bases   []baseChoice
	arms    []armChoice
	slides  []int // adjuster of each slide
	racks   []int // adjuster of each rack
	turnBy  int   // adjuster that turns the part, -1: a setting
	wasted  []string

	search.Side
	ways    []way // what each arm of the search means
	want    assembly.Contact
	noAngle bool              // none is wanted of the contact
	second  *assembly.Contact // wanted too, once the first is in place; nil: none
}

// baseChoice is a stem with its spacers; nil: the anchor.
type baseChoice struct {
	stem    *cockpit.Stem
	pick    int // of the slot's options
	flip    bool
	spacers float64
}

// armChoice is the parts of one arm, and where the contact lies on them: at clamp + R(turn)·(x, y), its angle turn + offset.
type armChoice struct {
	bike.Fitted
	picks              bike.Picks // the same parts
	parts              int        // those that decide what the angle can be
	station            float64    // of the support
	meets              saddle.Meeting
	hole, stack        float64
	leverAt, leverHome float64 // of a fixed lever and of x's lower end; middle of where a lever may stand
	x                  plane.Range
	y, offset          float64
	turns              bike.Turns
	rotation           *bike.Turns // of the bar, when turns is a clip-on's tilt that counts from it
	bend               *bendChoice // not nil: a lever free on the bend
	more               bool        // goes on where the arm before it ends: another stretch, not a choice of its own
	shapeless          *bike.Arm
}

// anchored is a half that hangs on its anchor.
var anchored = baseChoice{pick: bike.Every}

// bendChoice is where a lever may stand on the bend: at f around it the contact is clamp + R(turn)·centre +
// R(turn - f)·hand, its angle turn - f + offset.
type bendChoice struct {
	centre, hand plane.Point
	f            plane.Range
}

// way is an arm with its angle settled.
type way struct {
	choice int
	turn   float64 // of the part
	hand   float64 // turn less angle around the bend, for a lever on the bend
}

// moved sets up what the adjusters of a half can do.
func (h *half) moved(moves bike.Moves) {
	b := h.bike
	for _, i := range b.Moving(moves) {
		a := &b.Adjusters[i]
		lo, hi := a.Stops()
		if a.Indexed() {
			h.racks = append(h.racks, i)
			h.Racks = append(h.Racks, search.Rack{Dir: a.Direction(), First: lo, Step: math.Abs(a.Travel(a.Step)), Count: a.Steps(),
				Home: b.Home(i)})
			continue
		}
		h.slides = append(h.slides, i)
		h.Slides = append(h.Slides, search.Travel{Slide: plane.Slide{Dir: a.Direction(), Lo: lo, Hi: hi}, Home: b.Home(i)})
	}
}

// saddleHalf sets up the saddle half.
func saddleHalf(b *bike.Bike, p bike.Posture) (*half, error) {
	if b.Saddle.Empty() && b.Saddle.Arm == nil {
		return nil, fmt.Errorf("%s has no saddle: give [saddle] part = \"...\"", b.File)
	}
	if b.SaddleAnchor == nil {
		return nil, fmt.Errorf("%s does not say where its saddle clamp is: give [anchor] saddle_clamp = [x, y]", b.File)
	}
	h := &half{bike: b, posture: p, bases: []baseChoice{anchored}}
	h.Bases = []search.Base{{At: *b.SaddleAnchor}}
	h.moved(bike.MovesSaddle)
	turns, by := b.TurnsOf(bike.MovesSaddleTilt)
	h.turnBy = by
	none := armChoice{picks: nothingBolted.Picks, turns: turns}
	if a := b.Saddle.Arm; b.Saddle.Empty() {
		h.hold(none, a)
		return h, nil
	}
	for i, o := range b.Saddle.Options {
		clamp, ok := b.Saddle.ClampAt.OnRails(o.Part.Rail)
		if !ok {
			h.wasted = append(h.wasted, fmt.Sprintf("%s: the clamp cannot hold its rails, which may be held from %g to %g", o.Name,
				o.Part.Rail.From, o.Part.Rail.To))
			continue
		}
		c := none
		c.Saddle, c.picks[bike.SaddleSlot], c.parts = o.Part, i, i
		c.station, c.meets = o.Part.WidthStation(p.Support)
		// contact = C + R(t)·(c - station, rail height + top - sag)
		c.x = plane.Range{Lo: clamp.Lo - c.station, Hi: clamp.Hi - c.station}
		c.y = o.Part.Rail.Height + o.Part.Loaded(c.station).Y
		h.arms = append(h.arms, c)
	}
	if len(h.arms) == 0 {
		return nil, fmt.Errorf("%s: no saddle can be held: %s", b.File, h.wasted[0])
	}
	return h, nil
}

// hold adds the contact of a body without a shape. One whose clamp nobody knows stays turned as it is.
func (h *half) hold(c armChoice, a *bike.Arm) {
	c.shapeless, c.x, c.y, c.offset = a, plane.Range{Lo: a.At.X, Hi: a.At.X}, a.At.Y, a.Angle
	if a.NoTurn {
		now := h.homeTurn(c.turns)
		c.turns = bike.Turns{Range: plane.Range{Lo: now, Hi: now}}
	}
	h.arms = append(h.arms, c)
}

// handHalf sets up the hands' half.
func handHalf(b *bike.Bike, p bike.Posture) (*half, error) {
	h := &half{bike: b, posture: p}
	h.moved(bike.MovesBar)
	if err := h.clamps(); err != nil {
		return nil, err
	}
	turns, by := b.TurnsOf(bike.MovesBarRotation)
	h.turnBy = by
	none := armChoice{picks: nothingBolted.Picks, turns: turns}
	var err error
	if a, own := b.Bar.Arms[p.Hands]; own {
		h.hold(none, &a)
	} else if p.Hands == bike.Pad {
		err = h.padArms(none)
	} else {
		err = h.barArms(none)
	}
	if err != nil {
		return nil, err
	}
	if len(h.arms) == 0 {
		return nil, fmt.Errorf("%s: nothing fitted gives a place for the %s", b.File, p.Hands)
	}
	return h, nil
}

// homeTurn is where a part is turned to now, or the middle of what it may be.
func (h *half) homeTurn(t bike.Turns) float64 {
	if h.turnBy >= 0 {
		return h.bike.Home(h.turnBy) + h.bike.Settable(h.turnBy, "").Zero
	}
	return middle(t.Ends())
}

func middle(r plane.Range) float64 { return r.Lo + (r.Hi-r.Lo)/2 }

// anyAngle reports whether no angle is wanted of an arm's contact, or none is known; a saddle always has its tilt.
func (h *half) anyAngle(c *armChoice) bool {
	return h.want.Name != bike.Sit && (h.noAngle || c.shapeless != nil && c.shapeless.NoAngle)
}

// clamps lists where the bar can be clamped: every stem, either way up, on every stack of spacers.
func (h *half) clamps() error {
	b := h.bike
	if b.Stem == nil {
		if b.BarAnchor == nil {
			return fmt.Errorf("%s does not say where its bar is: give [anchor] bar_clamp = [x, y] or a [stem] on a frame with stack and reach",
				b.File)
		}
		h.Bases, h.bases = []search.Base{{At: *b.BarAnchor}}, []baseChoice{anchored}
		return nil
	}
	if b.Stem.Empty() {
		return fmt.Errorf("%s has no stem to choose from: give [stem] part = \"...\"", b.File)
	}
	steerer, ok := b.Steerer()
	if !ok {
		return fmt.Errorf("%s has a stem but no steerer: give frame head_angle with stack and reach, or [steerer] top = [x, y]", b.File)
	}
	for i, o := range b.Stem.Options {
		for _, flip := range b.Stem.Ways(i) {
			for _, s := range b.Stem.Spacers.Heights() {
				c := baseChoice{o.Part, i, flip, s}
				h.bases = append(h.bases, c)
				h.Bases = append(h.Bases, search.Base{At: steerer.BarClamp(*o.Part, flip, s), Stray: spacerStray(b, c), Parts: i})
			}
		}
	}
	return nil
}

// barArms lists the bars, with each lever where the hands are on the hoods.
func (h *half) barArms(c armChoice) error {
	b, hands := h.bike, h.posture.Hands
	if b.Bar.Empty() {
		return fmt.Errorf("%s has no bar: give [bar] part = \"...\"", b.File)
	}
	at := func(p plane.Point, offset float64) {
		c.x, c.y, c.offset = plane.Range{Lo: p.X, Hi: p.X}, p.Y, offset
		h.arms = append(h.arms, c)
	}
	for i, o := range b.Bar.Options {
		c.Bar, c.picks[bike.BarSlot] = o.Part, i
		c.Lever, c.picks[bike.LeverSlot], c.parts = nil, bike.Every, i*max(1, len(b.Bar.Lever.Options))
		if hands == bike.Drop {
			if p, ok := o.Part.DropContact(); ok {
				at(p, 0)
			}
			continue
		}
		if o.Part.Hood != nil {
			at(*o.Part.Hood, o.Part.HoodAngle)
			continue
		}
		for j, lever := range b.Bar.Lever.Options {
			c.Lever, c.picks[bike.LeverSlot], c.parts = lever.Part, j, i*len(b.Bar.Lever.Options)+j
			h.leverArms(c)
		}
	}
	if hands == bike.Hood && len(h.arms) == 0 && b.Bar.Lever.Empty() {
		return fmt.Errorf("%s has no levers on its bar: give [bar] lever = \"...\", or a bar with hood = [x, y]", b.File)
	}
	return nil
}

// leverArms adds a lever where it stands, or the flat run and the bend along which it may slide.
func (h *half) leverArms(c armChoice) {
	set, bar, lever := h.bike.Bar.LeverAt, c.Bar, c.Lever
	if !set.Free {
		p, angle, ok := bar.HoodContact(lever, set.Lo)
		if !ok {
			return
		}
		c.leverAt = set.Lo
		c.x, c.y, c.offset = plane.Range{Lo: p.X, Hi: p.X}, p.Y, angle
		h.arms = append(h.arms, c)
		return
	}
	if !bar.Curved() {
		return
	}
	first, last := bar.LeverTravel()
	lo, hi := math.Max(set.Lo, first), math.Min(set.Hi, last)
	if lo > hi {
		h.wasted = append(h.wasted, fmt.Sprintf("the lever cannot stand from %g to %g on this bar", set.Lo, set.Hi))
		return
	}
	c.leverHome, c.offset = (lo+hi)/2, lever.Angle
	if lo <= 0 {
		from, _, _ := bar.HoodContact(lever, lo)
		to, _, _ := bar.HoodContact(lever, math.Min(hi, 0))
		flat := c
		flat.leverAt, flat.x, flat.y = lo, plane.Range{Lo: from.X, Hi: to.X}, from.Y
		h.arms = append(h.arms, flat)
	}
	if hi > 0 {
		c.leverAt, c.more = math.Max(lo, 0), lo <= 0
		c.bend = &bendChoice{centre: bar.BendCentre(), hand: plane.Point{X: lever.Along, Y: bar.Bend + lever.Out},
			f: plane.Range{Lo: math.Max(lo, 0) / bar.Bend, Hi: hi / bar.Bend}}
		h.arms = append(h.arms, c)
	}
}

// padArms lists the clip-ons with every hole and riser that is allowed; of several only those that fit the bar's clamp,
// where any does.
func (h *half) padArms(none armChoice) error {
	b := h.bike
	if b.Clipon == nil || b.Clipon.Empty() {
		return fmt.Errorf("%s has no clip-on for the pads: give [clipon] part = \"...\"", b.File)
	}
	rotation := none.turns
	fits := false
	for _, o := range b.Clipon.Options {
		fits = fits || !tooWide(b, o.Part)
	}
	turnBy := h.turnBy
	h.turnBy = -1
	for i, o := range b.Clipon.Options {
		if fits && tooWide(b, o.Part) {
			continue
		}
		tilts, ok := b.Clipon.Tilt.Tilts(o.Part)
		holes, stacks := b.Clipon.Hole.Offered(o.Part.Holes), b.Clipon.Stack.Offered(o.Part.Stacks)
		if !ok || len(holes) == 0 || len(stacks) == 0 {
			h.wasted = append(h.wasted, fmt.Sprintf("%s offers no tilt, hole or riser within what [clipon] allows", o.Name))
			continue
		}
		c := none
		c.Clipon, c.picks[bike.CliponSlot], c.parts, c.turns = o.Part, i, i, tilts
		if o.Part.TiltFromBar {
			c.rotation, h.turnBy = &rotation, turnBy
		}
		for _, c.hole = range holes {
			for _, c.stack = range stacks {
				p := o.Part.Pad(c.hole, c.stack)
				c.x, c.y = plane.Range{Lo: p.X, Hi: p.X}, p.Y
				h.arms = append(h.arms, c)
			}
		}
	}
	if len(h.arms) == 0 {
		return fmt.Errorf("%s: %s", b.File, h.wasted[0])
	}
	return nil
}

// tooWide reports whether what the bar is clamped in is too wide for a clip-on's clamps.
func tooWide(b *bike.Bike, c *cockpit.Clipon) bool { return b.Short(c) > 1e-9 }

// combinations is the number of discrete ways the half can be built and set.
func (h *half) combinations() float64 {
	n := float64(len(h.Bases))
	for _, r := range h.Racks {
		n *= float64(r.Count)
	}
	arms := 0.0
	for _, c := range h.arms {
		if !c.more {
			ways := float64(max(1, len(c.turns.Values)))
			if c.rotation != nil {
				ways *= float64(max(1, len(c.rotation.Values)))
			}
			arms += ways
		}
	}
	return n * arms
}

// angles are the turns (less what a lever's place on the bend takes away) that bring an arm's angle nearest to a wanted
// one.
func (h *half) angles(c *armChoice, wanted float64) []float64 {
	wanted -= c.offset
	switch {
	case h.anyAngle(c):
		return c.turns.Nearest(h.homeTurn(c.turns))
	case c.bend != nil:
		return nearestSums(c.turns, bike.Turns{Range: plane.Range{Lo: -c.bend.f.Hi, Hi: -c.bend.f.Lo}}, wanted)
	case c.rotation != nil:
		return nearestSums(c.turns, *c.rotation, wanted)
	}
	return c.turns.Nearest(wanted)
}

// aim settles the angle of every choice of parts as near to the wanted one as it goes, and sets up the search for the
// place. line is the direction that the weights along and across count from.
func (h *half) aim(want assembly.Contact, second *assembly.Contact, m plane.Metric) {
	h.want, h.second = want, second
	h.Wish = search.Wish{Place: want.At, Metric: m}
	h.Arms, h.ways = h.Arms[:0], h.ways[:0]
	for from := 0; from < len(h.arms); {
		to := from + 1
		for to < len(h.arms) && h.arms[to].parts == h.arms[from].parts {
			to++
		}
		h.settleAngle(from, to)
		from = to
	}
}

// settleAngle adds the arms of one choice of parts at the angles nearest to the wanted one.
func (h *half) settleAngle(from, to int) {
	least := math.Inf(1)
	near := make([][]float64, to-from)
	for i := range near {
		c := &h.arms[from+i]
		near[i] = h.angles(c, h.want.Angle)
		least = math.Min(least, h.missed(c, near[i][0]))
	}
	for i, angles := range near {
		c := &h.arms[from+i]
		for _, a := range angles {
			if miss := h.missed(c, a); miss <= least+1e-9 {
				h.add(from+i, a, h.posture.Weights.Angle*miss)
			}
		}
	}
}

// missed is by how much the angle of a contact misses with its part turned so far, radians.
func (h *half) missed(c *armChoice, turn float64) float64 {
	if h.anyAngle(c) {
		return 0
	}
	return math.Abs(turn + c.offset - h.want.Angle)
}

// add is one arm with its angle settled; miss is what the angle costs, mm.
func (h *half) add(choice int, angle, miss float64) {
	c := &h.arms[choice]
	if c.bend != nil {
		h.addOnBend(choice, angle, miss)
		return
	}
	along := plane.Direction(angle)
	arm := search.Arm{At: along.Scale(c.x.Lo).Add(along.Perp().Scale(c.y)), Square: miss * miss, Parts: c.parts}
	if c.x.Hi > c.x.Lo {
		arm.Own = h.ownTravel(c, along)
	}
	h.push(arm, way{choice: choice, turn: angle})
}

// addOnBend is a lever on the bend with the turn of its hand settled: the bar may turn as far as its own stops and the
// lever's allow.
func (h *half) addOnBend(choice int, hand, miss float64) {
	c := &h.arms[choice]
	arm := search.Arm{At: c.bend.hand.Turn(hand), Square: miss * miss, Parts: c.parts}
	turn := plane.Range{Lo: hand + c.bend.f.Lo, Hi: hand + c.bend.f.Hi}
	add := func(r plane.Range) {
		if r.Lo <= r.Hi+1e-12 {
			r.Hi = math.Max(r.Lo, r.Hi)
			arm.Bend = &search.Bend{Centre: c.bend.centre, Turn: r}
			h.push(arm, way{choice: choice, hand: hand})
		}
	}
	if len(c.turns.Values) == 0 {
		add(plane.Range{Lo: math.Max(turn.Lo, c.turns.Lo), Hi: math.Min(turn.Hi, c.turns.Hi)})
	}
	for _, v := range c.turns.Values {
		if v >= turn.Lo-1e-12 && v <= turn.Hi+1e-12 {
			add(plane.Range{Lo: v, Hi: v})
		}
	}
}

func (h *half) push(arm search.Arm, w way) {
	h.Arms, h.ways = append(h.Arms, arm), append(h.ways, w)
	last := &h.Arms[len(h.Arms)-1]
	last.Second, last.Stray = h.foresee(w)
}

// ownTravel is what an arm can slide along itself, from its lower end.
func (h *half) ownTravel(c *armChoice, along plane.Point) search.Travel {
	own := search.Travel{Slide: plane.Slide{Dir: along, Lo: 0, Hi: c.x.Hi - c.x.Lo}, Home: (c.x.Hi - c.x.Lo) / 2}
	if c.Lever != nil { // its travel may go on around the bend
		own.Home = c.leverHome - c.leverAt
	}
	return own
}

// nearestSums are the sums of two turns that come nearest to a wanted one.
func nearestSums(a, b bike.Turns, wanted float64) []float64 {
	if len(a.Values) == 0 {
		a, b = b, a
	}
	if len(a.Values) == 0 {
		return []float64{plane.Clamp(wanted, a.Lo+b.Lo, a.Hi+b.Hi)}
	}
	var all []float64
	for _, v := range a.Values {
		for _, w := range b.Nearest(wanted - v) {
			all = append(all, v+w)
		}
	}
	slices.Sort(all)
	all = slices.CompactFunc(all, func(x, y float64) bool { return math.Abs(x-y) <= 1e-9 })
	return bike.Turns{Values: all}.Nearest(wanted)
}

// Mount is where a contact hangs on a bike whose parts are chosen: at Clamp + R(turn)·At, its angle turn + Offset, with every adjuster
// at travel 0 and rails, spacers, hole and risers at the least they may be.
type Mount struct {
	Clamp, At plane.Point
	Offset    float64                  // radians
	NoAngle   bool                     // its angle is not known
	Turns     map[bike.Sets]bike.Turns // what its turn is the sum of
}

// MountOf is the mount of the seat, or of the hands, of a bike in a posture; of several parts those that come first.
func MountOf(b *bike.Bike, p bike.Posture, seat bool) (m Mount, err error) {
	build, turning := handHalf, bike.SetsRotation
	if seat {
		build, turning = saddleHalf, bike.SetsSaddleTilt
	}
	h, err := build(b, p)
	if err != nil {
		return m, err
	}
	c := &h.arms[0]
	if c.Clipon != nil {
		turning = bike.SetsPadTilt
	}
	m = Mount{Clamp: h.Bases[0].At, At: plane.Point{X: c.x.Lo, Y: c.y}, Offset: c.offset, NoAngle: c.shapeless != nil && c.shapeless.NoAngle,
		Turns: map[bike.Sets]bike.Turns{turning: c.turns}}
	if c.rotation != nil {
		m.Turns[bike.SetsRotation] = *c.rotation
	}
	return m, nil
}
