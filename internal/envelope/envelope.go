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
	"carryover/internal/carry"
	"carryover/internal/plane"
	"carryover/internal/search"
)

// Machine is a bike reduced to what can be moved with its parts as fitted.
type Machine struct {
	Bike    *bike.Bike // with those parts alone
	Fitted  []string   // parts taken for fitted although their slot is open, in words
	Unbound []string   // adjusters that no stop is known of
	saddle  clamp
	bar     clamp
	fit     bike.Fitted
	rail    plane.Range // stations the clamp may hold
	tilt    bike.Turns
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
	m := &Machine{Bike: b.Narrowed(bike.Picks{}), fit: b.Chosen()}
	if b.Stem != nil {
		flip := b.Stem.Flipped()
		m.Bike.Stem.Flip = &flip
	}
	if b.Saddle.Empty() && b.Saddle.Arm != nil {
		return nil, fmt.Errorf("%s has no saddle part, so where its nose and middle can be is not known: give [saddle] part", b.File)
	}
	seat, err := carry.MountOf(m.Bike, bike.Posture{}, true)
	if err != nil {
		return nil, err
	}
	m.tilt = seat.Turns[bike.SetsSaddleTilt]
	m.rail, _ = b.Saddle.ClampAt.OnRails(m.fit.Saddle.Rail)
	if m.saddle, err = m.newClamp(seat.Clamp, bike.SetsSaddle); err != nil {
		return nil, err
	}
	at, ok := m.Bike.OnStem()
	if b.Stem == nil && b.BarAnchor != nil {
		at, ok = *b.BarAnchor, true
	}
	if !ok {
		return nil, fmt.Errorf("%s does not say where its bar can be: give [anchor] bar_clamp = [x, y], or a [stem] on a frame with "+
			"head_angle, stack and reach or [steerer] top = [x, y]", b.File)
	}
	if m.bar, err = m.newClamp(at, bike.SetsBar, bike.SetsSpacers); err != nil {
		return nil, err
	}
	for _, k := range m.Bike.Stocks() {
		if k.Open && k.Count > 0 {
			m.Fitted = append(m.Fitted, k.Slot+" "+k.At(0).ID)
		}
	}
	return m, nil
}

// newClamp is a clamp with what moves it.
func (m *Machine) newClamp(at plane.Point, by ...bike.Sets) (clamp, error) {
	c := clamp{places: []plane.Point{at}}
	for _, s := range m.Bike.Settables(m.fit, bike.Hood) {
		if !slices.Contains(by, s.Sets) {
			continue
		}
		if !s.Stops {
			m.Unbound = append(m.Unbound, s.Name)
		}
		steps := s.Places()
		if steps == nil {
			c.slides = append(c.slides, plane.Slide{Dir: s.Heading, Lo: s.Lo, Hi: s.Hi})
			continue
		}
		if len(steps)*len(c.places) > mostPlaces {
			return c, fmt.Errorf("%s: the steps of its adjusters make more than %d places", m.Bike.File, mostPlaces)
		}
		c.places = along(c.places, s.Heading, steps, 0)
	}
	return c, nil
}

// along is every place moved along a direction by every step, counted from one of them.
func along(places []plane.Point, dir plane.Point, steps []float64, from float64) (list []plane.Point) {
	for _, p := range places {
		for _, at := range steps {
			list = append(list, p.Add(dir.Scale(at-from)))
		}
	}
	return list
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

// levers is the machine with its levers wherever they are tried for hands at a contact: where they are, or every millimetre of where
// they may be, ends included.
func (m *Machine) levers(c bike.Contact) (list []*bike.Bike) {
	for _, s := range m.Bike.Settables(m.fit, c) {
		for at := s.Lo; s.Sets == bike.SetsLever; at++ {
			list = append(list, m.Bike.Held([]bike.Settable{s}, []float64{math.Min(at, s.Hi)}))
			if at >= s.Hi {
				return list
			}
		}
	}
	return []*bike.Bike{m.Bike}
}

// arms are the ways to the contact of the hands; none when the bike does not have it.
func (m *Machine) arms(c bike.Contact) (list []arm) {
	for _, b := range m.levers(c) {
		mount, err := carry.MountOf(b, bike.Posture{Hands: c}, false)
		if err != nil {
			return nil
		}
		a := arm{at: []plane.Point{mount.At}, offset: mount.Offset}
		for _, t := range mount.Turns {
			a.turn = sums(a.turn, t)
		}
		for _, s := range b.Settables(m.fit, c) {
			if s.Sets == bike.SetsHole || s.Sets == bike.SetsRisers { // the mount has them at their least
				a.at = along(a.at, s.Heading, s.Places(), s.Lo)
			}
		}
		list = append(list, a)
	}
	return list
}

// sums are the turns that two turns, one on the other, can come to; of steps the ends alone count where the other is free.
func sums(a, b bike.Turns) bike.Turns {
	steps := func(t bike.Turns) []float64 {
		if len(t.Values) == 0 && t.Lo == t.Hi {
			return []float64{t.Lo}
		}
		return t.Values
	}
	e, f := a.Ends(), b.Ends()
	out := bike.Turns{Range: plane.Range{Lo: e.Lo + f.Lo, Hi: e.Hi + f.Hi}}
	for _, v := range steps(a) {
		for _, w := range steps(b) {
			out.Values = append(out.Values, v+w)
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

func extreme(name string, r bike.Reading, least, greatest float64) Extreme {
	return Extreme{Name: name, Reading: r, From: r.From, To: r.To, Least: least, Greatest: greatest}
}

// Extremes lists what the machine can be. The straight saddle height is the only measure that is not
// linear: its greatest is at corners, its least is a proven search.
func (m *Machine) Extremes(ctx context.Context) ([]Extreme, error) {
	right, up := plane.Point{X: 1}, plane.Point{Y: 1}
	between := func(c clamp, a []arm, n plane.Point) (lo, hi float64) {
		return -support(c, a, n.Scale(-1)), support(c, a, n)
	}
	nose, mid := m.ontoSaddle(m.fit.Saddle.Point(0)), m.ontoSaddle(m.fit.Saddle.Point(m.fit.Saddle.Length/2))
	least, greatest, err := m.saddleHeight(ctx, mid)
	if err != nil {
		return nil, err
	}
	noseLo, noseHi := between(m.saddle, []arm{nose}, right)
	midLo, midHi := between(m.saddle, []arm{mid}, up)
	of := func(k carry.Measure, hands bike.Contact, least, greatest float64) Extreme {
		name := k.String()
		if hands != "" {
			name += " to " + string(hands)
		}
		return extreme(name, k.Reading(m.Bike, hands), least, greatest)
	}
	list := []Extreme{of(carry.SaddleHeight, "", least, greatest), of(carry.Setback, "", -noseHi, -noseLo)}
	for _, c := range []bike.Contact{bike.Hood, bike.Drop, bike.Pad} {
		arms := m.arms(c)
		if arms == nil {
			continue
		}
		xLo, xHi := between(m.bar, arms, right)
		yLo, yHi := between(m.bar, arms, up)
		list = append(list, of(carry.Reach, c, xLo-noseHi, xHi-noseLo), of(carry.Drop, c, midLo-yHi, midHi-yLo))
		if c == bike.Pad {
			list = append(list, m.height("pad height", c.Place(), yLo, yHi)...)
		}
	}
	yLo, yHi := between(m.bar, nil, up)
	return append(list, m.height("bar height", bike.Place{Kind: bike.AtBar}, yLo, yHi)...), nil
}

// height is a height above the BB, and above the floor when the BB's is known.
func (m *Machine) height(name string, of bike.Place, lo, hi float64) []Extreme {
	list := []Extreme{extreme(name, bike.Reading{Kind: bike.Plumb, From: bike.Place{Kind: bike.AtBB}, To: of}, lo, hi)}
	if h := m.Bike.Frame.BBHeight; h != nil {
		list = append(list, extreme(name+" above the floor", m.Bike.Above(of), lo+*h, hi+*h))
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
