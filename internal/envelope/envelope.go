// Package envelope says what a machine can be set to: the least and greatest of the measures a fitter
// asks for, the regions that its points can be brought to, and the room left around a wanted contact.
//
// It speaks of the parts that are fitted; in an open slot that is the first of the list.
package envelope

import (
	"context"
	"fmt"
	"math"
	"slices"

	"carryover/internal/bike"
	"carryover/internal/plane"
	"carryover/internal/saddle"
	"carryover/internal/search"
)

// Machine is a bike reduced to what can be moved with its parts as fitted.
type Machine struct {
	Bike    *bike.Bike
	Fitted  []string // parts taken for fitted although their slot is open, in words
	Unbound []string // adjusters that no stop is known of
	saddle  clamp
	bar     clamp
	fit     bike.Fitted
	rail    plane.Range // stations the clamp may hold
	tilt    bike.Turns
	rotate  bike.Turns
}

// clamp is where a clamp can be: one of many places, then along slides.
type clamp struct {
	places []plane.Point
	slides []plane.Slide
}

// mostPlaces bounds the steps of a clamp, all together, that are gone through one by one.
const mostPlaces = 100_000

// New takes a bike apart. It fails when the file does not say where the clamps are.
func New(b *bike.Bike) (*Machine, error) {
	m := &Machine{Bike: b, fit: b.Chosen()}
	if b.Saddle.Empty() && b.Saddle.Arm != nil {
		return nil, fmt.Errorf("%s has no saddle part, so where its nose and middle can be is not known: give [saddle] part", b.File)
	}
	if b.Saddle.Empty() || b.SaddleAnchor == nil {
		return nil, fmt.Errorf("%s does not say where its saddle can be: give a saddle and [anchor] saddle_clamp = [x, y]", b.File)
	}
	var ok bool
	if m.rail, ok = b.Saddle.ClampAt.OnRails(m.fit.Saddle.Rail); !ok {
		return nil, fmt.Errorf("%s: the clamp cannot hold the rails of %s", b.File, b.Saddle.Options[0].ID)
	}
	var places []plane.Point
	if b.Stem != nil {
		steerer, ok := b.Steerer()
		if !ok {
			return nil, fmt.Errorf("%s has a stem but no steerer: give frame head_angle with stack and reach, or [steerer] top = [x, y]", b.File)
		}
		for _, h := range b.Stem.Spacers.Heights() {
			places = append(places, steerer.BarClamp(*m.fit.Stem, b.Stem.Flipped(), h))
		}
	} else if b.BarAnchor != nil {
		places = []plane.Point{*b.BarAnchor}
	} else {
		return nil, fmt.Errorf("%s does not say where its bar can be: give [anchor] bar_clamp = [x, y] or a [stem]", b.File)
	}
	var err error
	if m.saddle, err = m.newClamp([]plane.Point{*b.SaddleAnchor}, bike.SetsSaddle); err != nil {
		return nil, err
	}
	if m.bar, err = m.newClamp(places, bike.SetsBar); err != nil {
		return nil, err
	}
	m.tilt, _ = b.TurnsOf(bike.MovesSaddleTilt)
	m.rotate, _ = b.TurnsOf(bike.MovesBarRotation)
	taken(m, "saddle", b.Saddle.Slot)
	if b.Stem != nil {
		taken(m, "stem", b.Stem.Slot)
	}
	taken(m, "bar", b.Bar.Slot)
	taken(m, "lever", b.Bar.Lever)
	if b.Clipon != nil {
		taken(m, "clipon", b.Clipon.Slot)
	}
	return m, nil
}

// taken notes what an open slot is taken to be fitted with.
func taken[T any](m *Machine, name string, s bike.Slot[T]) {
	if s.Open && len(s.Options) > 0 {
		m.Fitted = append(m.Fitted, name+" "+s.Options[0].ID)
	}
}

// newClamp is a clamp at one of several places with what moves it.
func (m *Machine) newClamp(places []plane.Point, by bike.Sets) (clamp, error) {
	c := clamp{places: places}
	for _, s := range m.Bike.Settables(bike.Fitted{}, bike.Hood) {
		if s.Sets != by {
			continue
		}
		if !s.Stops {
			m.Unbound = append(m.Unbound, s.Name)
		}
		if s.Step == 0 {
			c.slides = append(c.slides, plane.Slide{Dir: s.Heading, Lo: s.Lo, Hi: s.Hi})
			continue
		}
		count := int(math.Round((s.Hi-s.Lo)/s.Step)) + 1
		if count*len(c.places) > mostPlaces {
			return c, fmt.Errorf("%s: the steps of its adjusters make more than %d places", m.Bike.File, mostPlaces)
		}
		var next []plane.Point
		for _, p := range c.places {
			for j := range count {
				next = append(next, p.Add(s.Heading.Scale(s.Lo+float64(j)*s.Step)))
			}
		}
		c.places = next
	}
	return c, nil
}

// ends are the stretches of a turn: one, or every value by itself.
func ends(t bike.Turns) []plane.Range {
	if len(t.Values) == 0 {
		return []plane.Range{t.Range}
	}
	var list []plane.Range
	for _, v := range t.Values {
		list = append(list, plane.Range{Lo: v, Hi: v})
	}
	return list
}

// arm is a point of a part that turns about its clamp: at one of many places in the turning frame, each a
// stretch along it.
type arm struct {
	at     []plane.Point
	long   float64 // each place goes on by so much along the part, mm
	offset float64 // angle of the contact at turn 0
	turn   bike.Turns
}

// ontoSaddle is a point (s, h) of the saddle as an arm of the saddle clamp.
func (m *Machine) ontoSaddle(p plane.Point) arm {
	return arm{at: []plane.Point{{X: m.rail.Lo + p.X, Y: m.fit.Saddle.Rail.Height + p.Y}}, long: m.rail.Hi - m.rail.Lo, turn: m.tilt}
}

// lever stations along a bar whose lever is free are gone through in steps of a millimetre, ends included.
func (m *Machine) hoodArms() []arm {
	if m.fit.Bar == nil {
		return nil
	}
	q := m.Bike.Bar.LeverAt
	lo, hi := q.Lo, q.Hi
	if q.Free && m.fit.Bar.Curved() {
		first, last := m.fit.Bar.LeverTravel()
		lo, hi = math.Max(lo, first), math.Min(hi, last)
	}
	var arms []arm
	for j := 0.0; ; j++ {
		at := math.Min(lo+j, hi)
		p, angle, ok := m.fit.Bar.HoodContact(m.fit.Lever, at)
		if !ok {
			return nil
		}
		arms = append(arms, arm{at: []plane.Point{p}, offset: angle, turn: m.rotate})
		if at >= hi || m.fit.Bar.Hood != nil {
			return arms
		}
	}
}

// arms are the ways to the contact of the hands; none when the bike does not have it.
func (m *Machine) arms(c bike.Contact) []arm {
	if own, ok := m.Bike.Bar.Arms[c]; ok {
		return []arm{{at: []plane.Point{own.At}, offset: own.Angle, turn: m.rotate}}
	}
	switch c {
	case bike.Hood:
		return m.hoodArms()
	case bike.Drop:
		if m.fit.Bar == nil {
			return nil
		}
		at, ok := m.fit.Bar.DropContact()
		if !ok {
			return nil
		}
		return []arm{{at: []plane.Point{at}, turn: m.rotate}}
	case bike.Pad:
		if m.fit.Clipon == nil {
			return nil
		}
		tilts, ok := m.Bike.Clipon.Tilt.Tilts(m.fit.Clipon)
		if !ok {
			return nil
		}
		a := arm{turn: tilts}
		if m.fit.Clipon.TiltFromBar {
			a.turn = sums(tilts, m.rotate)
		}
		for _, hole := range m.Bike.Clipon.Hole.Offered(m.fit.Clipon.Holes) {
			for _, stack := range m.Bike.Clipon.Stack.Offered(m.fit.Clipon.Stacks) {
				a.at = append(a.at, m.fit.Clipon.Pad(hole, stack))
			}
		}
		if len(a.at) == 0 {
			return nil
		}
		return []arm{a}
	}
	return nil
}

// sums are the turns that two turns, one on the other, can come to; of steps the ends alone count where the other is free.
func sums(a, b bike.Turns) bike.Turns {
	e, f := a.Ends(), b.Ends()
	out := bike.Turns{Range: plane.Range{Lo: e.Lo + f.Lo, Hi: e.Hi + f.Hi}}
	for _, v := range a.Values {
		for _, w := range b.Values {
			out.Values = append(out.Values, v+w)
		}
	}
	if f.Lo == f.Hi && len(b.Values) == 0 {
		for _, v := range a.Values {
			out.Values = append(out.Values, v+f.Lo)
		}
	}
	slices.Sort(out.Values)
	return out
}

// most is the greatest n·R(t)·v over a stretch of turns: at an end, or where R(t)·v points along n.
func most(n, v plane.Point, r plane.Range) float64 {
	at := func(t float64) float64 { return n.Dot(v.Turn(t)) }
	best := math.Max(at(r.Lo), at(r.Hi))
	along := math.Atan2(n.Y, n.X) - math.Atan2(v.Y, v.X)
	for k := math.Ceil((r.Lo - along) / (2 * math.Pi)); along+2*math.Pi*k <= r.Hi; k++ {
		best = math.Max(best, at(along+2*math.Pi*k))
	}
	return best
}

// corners are the ends of the places of an arm.
func (a arm) corners() []plane.Point {
	var list []plane.Point
	for _, p := range a.at {
		list = append(list, p)
		if a.long > 0 {
			list = append(list, plane.Point{X: p.X + a.long, Y: p.Y})
		}
	}
	return list
}

// support is the greatest n·contact over everything that can be set; n of any length.
func support(c clamp, arms []arm, n plane.Point) float64 {
	best := math.Inf(-1)
	for _, p := range c.places {
		best = math.Max(best, n.Dot(p))
	}
	for _, s := range c.slides {
		best += math.Max(n.Dot(s.Dir)*s.Lo, n.Dot(s.Dir)*s.Hi)
	}
	if arms == nil { // the clamp itself
		return best
	}
	own := math.Inf(-1)
	for _, a := range arms {
		for _, r := range ends(a.turn) {
			for _, v := range a.corners() {
				own = math.Max(own, most(n, v, r))
			}
		}
	}
	return best + own
}

// Extreme is the least and the greatest that a measure can be, mm. Each is reached, but not all at once.
type Extreme struct {
	Name     string       `json:"measure"`
	Reading  bike.Reading `json:"-"` // what a tape would read
	From     bike.Place   `json:"from"`
	To       bike.Place   `json:"to"`
	Least    float64      `json:"least"`
	Greatest float64      `json:"greatest"`
}

func extreme(name string, kind bike.Kind, from, to bike.Place, least, greatest float64) Extreme {
	return Extreme{Name: name, Reading: bike.Reading{Kind: kind, From: from, To: to}, From: from, To: to, Least: least, Greatest: greatest}
}

// Extremes lists what the machine can be. The straight saddle height is the only measure that is not
// linear: its greatest is at corners, its least is a proven search.
func (m *Machine) Extremes(ctx context.Context) ([]Extreme, error) {
	right, up := plane.Point{X: 1}, plane.Point{Y: 1}
	between := func(c clamp, a []arm, n plane.Point) (lo, hi float64) {
		return -support(c, a, n.Scale(-1)), support(c, a, n)
	}
	bb := bike.Place{Kind: bike.AtBB}
	onSaddle := func(k saddle.RefKind) bike.Place {
		return bike.Place{Kind: bike.AtSaddle, Ref: saddle.Reference{Kind: k}}
	}
	station := func(s float64) []arm { return []arm{m.ontoSaddle(m.fit.Saddle.Point(s))} }
	nose, mid := station(0), station(m.fit.Saddle.Length/2)
	list := []Extreme{}
	least, greatest, err := m.saddleHeight(ctx, mid[0])
	if err != nil {
		return nil, err
	}
	list = append(list, extreme("saddle-height", bike.Line, bb, onSaddle(saddle.Mid), least, greatest))
	noseLo, noseHi := between(m.saddle, nose, right)
	list = append(list, extreme("setback", bike.Level, onSaddle(saddle.Nose), bb, -noseHi, -noseLo))
	midLo, midHi := between(m.saddle, mid, up)
	for _, c := range []bike.Contact{bike.Hood, bike.Drop, bike.Pad} {
		arms := m.arms(c)
		if arms == nil {
			continue
		}
		hands := bike.Place{Kind: map[bike.Contact]bike.PlaceKind{bike.Hood: bike.AtHood, bike.Drop: bike.AtDrop, bike.Pad: bike.AtPad}[c]}
		xLo, xHi := between(m.bar, arms, right)
		yLo, yHi := between(m.bar, arms, up)
		list = append(list,
			extreme("reach to "+string(c), bike.Level, onSaddle(saddle.Nose), hands, xLo-noseHi, xHi-noseLo),
			extreme("drop to "+string(c), bike.Plumb, hands, onSaddle(saddle.Mid), midLo-yHi, midHi-yLo))
		if c == bike.Pad {
			list = append(list, m.height("pad height", hands, yLo, yHi)...)
		}
	}
	yLo, yHi := between(m.bar, nil, up)
	return append(list, m.height("bar height", bike.Place{Kind: bike.AtBar}, yLo, yHi)...), nil
}

// height is a height above the BB, and above the floor when the BB's is known.
func (m *Machine) height(name string, of bike.Place, lo, hi float64) []Extreme {
	list := []Extreme{extreme(name, bike.Plumb, bike.Place{Kind: bike.AtBB}, of, lo, hi)}
	if h := m.Bike.Frame.BBHeight; h != nil {
		list = append(list, extreme(name+" above the floor", bike.Plumb, bike.Place{Kind: bike.AtFloor}, of, lo+*h, hi+*h))
	}
	return list
}

// saddleHeight is the least and greatest straight distance from the BB. The greatest of a convex function
// is at a corner v of the places and an end of the rail; there |v + R(t)·w|² = |v|² + |w|² + 2·v·R(t)·w.
func (m *Machine) saddleHeight(ctx context.Context, a arm) (least, greatest float64, err error) {
	for _, p := range hull(m.saddle.places) {
		for _, v := range plane.NewZonogon(p, m.saddle.slides).Vertices() {
			for _, r := range ends(a.turn) {
				for _, w := range a.corners() {
					greatest = math.Max(greatest, v.Dot(v)+w.Dot(w)+2*most(v, w, r))
				}
			}
		}
	}
	// The least: for a given tilt a search proves it, and over the tilts it has one dip.
	stopped := false
	at := func(t float64) float64 {
		along := plane.Direction(t)
		side := search.Side{Bases: make([]search.Base, len(m.saddle.places)),
			Wish: search.Wish{Metric: plane.Metric{Line: plane.Point{X: 1}, Along: 1, Across: 1}},
			Arms: []search.Arm{{At: a.at[0].Turn(t), Own: search.Travel{Slide: plane.Slide{Dir: along, Hi: a.long}}}}}
		for i, p := range m.saddle.places {
			side.Bases[i].At = p
		}
		for _, s := range m.saddle.slides {
			side.Slides = append(side.Slides, search.Travel{Slide: s})
		}
		best, _, proven := side.Best(ctx)
		stopped = stopped || !proven
		return math.Sqrt(best.Square)
	}
	least = math.Inf(1)
	for _, r := range ends(a.turn) {
		least = math.Min(least, math.Min(at(r.Lo), at(plane.Lowest(at, r, 1e-9))))
	}
	if stopped {
		return 0, 0, fmt.Errorf("stopped before the least saddle height was proven")
	}
	return least, math.Sqrt(greatest), nil
}
