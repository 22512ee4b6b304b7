package confirm

import (
	"context"
	"math"
	"slices"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// Shift is how a contact moved: in the frame of riding, mm and radians.
type Shift struct {
	Contact bike.Contact
	By      plane.Point
	Turn    float64
}

// Felt is a change made by feel on one bike, taken to another.
//
// It is a difference. With S the contact before and S + d after, the contact of the other bike goes from where it is to
// the same d further, whatever either bike's readings are off by: only how far things moved, and for what turns the arm
// from clamp to contact, leaves something open. What did not move on the one stays on the other.
type Felt struct {
	Posture  bike.Posture    `json:"-"` // of the other bike
	Moved    []Move          `json:"moved"`
	Shifts   []Shift         `json:"felt"` // of the seat and the hands
	Settings []Move          `json:"settings"`
	Readings []Change        `json:"readings"`
	Carried  bool            `json:"carried"` // the other bike goes so far, but for what no tape or level shows
	Standing *Standing       `json:"-"`       // the other bike
	Movable  []bike.Settable `json:"-"`       // what could have been moved on the first
}

// change is all that a felt change is worked out from.
type change struct {
	from, to *rig
	moved    []Move
	at       locate.Position // on the other bike, in the frame of riding
}

// Feel takes moves on one bike, each "NAME=MARK" or "NAME=LENGTH" (see Moved), to another, in a posture of each.
func Feel(ctx context.Context, from, to *bike.Bike, rider *bike.Rider, here, there bike.Posture, moves []string) (*Felt, error) {
	c := change{}
	var err error
	if c.from, err = standingFor(from, rider, here); err != nil {
		return nil, err
	}
	for _, set := range c.from.bike.Bolted(here.Hands) {
		if !slices.ContainsFunc(c.from.all, func(m movable) bool { return m.Sets == set.Sets }) {
			c.from.all = append(c.from.all, movable{Settable: set, now: set.Home})
		}
	}
	for _, text := range moves {
		m, err := c.from.moved(text)
		if err != nil {
			return nil, err
		}
		c.moved = append(c.moved, m)
	}
	at, err := stand(to, rider, []bike.Posture{there})
	if err != nil {
		return nil, err
	}
	if c.to, err = at.rig(there); err != nil {
		return nil, err
	}
	if c.at, _, err = at.Position(there); err != nil {
		return nil, err
	}
	f, err := c.answer(ctx)
	if err != nil {
		return nil, err
	}
	for _, m := range c.from.all {
		if !m.Fixed() {
			f.Movable = append(f.Movable, m.Settable)
		}
	}
	return f, c.uncertain(ctx, f)
}

// standingFor says where everything stands on a bike on which something was moved. For a difference that need not be
// known: what is not is taken to be anywhere.
func standingFor(b *bike.Bike, rider *bike.Rider, p bike.Posture) (*rig, error) {
	s, err := stand(b, rider, []bike.Posture{p})
	if err == nil {
		return s.rig(p)
	}
	c := *b
	c.Postures = []bike.Posture{p}
	if len(open(&c)) > 0 {
		return nil, err
	}
	for anchor, moves := range map[**plane.Point]bike.Moves{&c.SaddleAnchor: bike.MovesSaddle, &c.BarAnchor: bike.MovesBar} {
		if *anchor == nil && len(b.Moving(moves)) > 0 {
			*anchor = &plane.Point{}
		}
	}
	c.Readings = nil
	at, other := locate.Stand(&c, rider, p)
	if other != nil {
		return nil, err
	}
	k := &rig{Standing: &Standing{Bike: &c, rider: rider}, bike: at.Bike, hands: p.Hands}
	for _, set := range k.bike.Settables(k.bike.Chosen(), p.Hands) {
		k.all = append(k.all, movable{Settable: set, now: set.Home})
	}
	return k, nil
}

// touched is where a bike's contacts are with some of its settings moved.
func (k *rig) touched(ctx context.Context, moved []Move) (sit, hands assembly.Contact, err error) {
	var list []bike.Settable
	var at []float64
	for _, s := range k.all {
		v := s.now
		for _, m := range moved {
			if m.Name == s.Name {
				v = m.After
			}
		}
		list, at = append(list, s.Settable), append(at, v)
	}
	p := k.posture()
	anywhere := locate.Position{Posture: p}
	anywhere.Sit.At, anywhere.Hands.At = plane.Point{X: -200, Y: 700}, plane.Point{X: 500, Y: 650}
	s, err := carry.Solve(ctx, k.bike.Held(list, at), &bike.Bike{Feet: k.bike.Feet}, &anywhere, carry.Options{HandsFixed: true})
	if err != nil {
		return sit, hands, err
	}
	return s.Contacts[0].Got, s.Contacts[1].Got, nil
}

func (k *rig) posture() bike.Posture { return k.Bike.Postures[0] }

// answer works a change out.
func (c *change) answer(ctx context.Context) (*Felt, error) {
	f := &Felt{Posture: c.to.posture(), Moved: c.moved, Standing: c.to.Standing}
	sit, hands, err := c.from.touched(ctx, nil)
	if err != nil {
		return nil, err
	}
	sitNow, handsNow, err := c.from.touched(ctx, c.moved)
	if err != nil {
		return nil, err
	}
	pitch := c.from.bike.Frame.Pitch
	shift := func(name bike.Contact, before, after assembly.Contact) Shift {
		return Shift{name, after.At.Sub(before.At).Turn(pitch), after.Angle - before.Angle}
	}
	f.Shifts = []Shift{shift(bike.Sit, sit, sitNow), shift(c.to.hands, hands, handsNow)}
	then := c.at
	then.Sit.At, then.Sit.Angle = then.Sit.At.Add(f.Shifts[0].By), then.Sit.Angle+f.Shifts[0].Turn
	then.Hands.At, then.Hands.Angle = then.Hands.At.Add(f.Shifts[1].By), then.Hands.Angle+f.Shifts[1].Turn
	before, err := c.set(ctx, &c.at, f)
	if err != nil {
		return nil, err
	}
	after, err := c.set(ctx, &then, f)
	if err != nil {
		return nil, err
	}
	f.Carried = true
	for i := range 2 {
		a, b := &before.Contacts[i], &after.Contacts[i]
		f.Carried = f.Carried && b.Away.Sub(a.Away).Norm() <= ownSigmaMM && math.Abs(b.MissAngle-a.MissAngle) <= ownSigmaRad
	}
	for _, s := range c.to.all {
		f.Settings = append(f.Settings, s.to(s.now+s.travel(after)-s.travel(before)))
	}
	described := then.Turned(-c.to.bike.Frame.Pitch)
	r := &Result{Posture: f.Posture, Contacts: make([]Contact, 2)}
	r.Contacts[0].Want, r.Contacts[0].MissAngle = described.Sit, -f.Shifts[0].Turn
	r.Contacts[1].Want, r.Contacts[1].MissAngle = described.Hands, -f.Shifts[1].Turn
	f.Readings = c.to.changes(r)
	return f, nil
}

// set brings the other bike's contacts to a position. What does not move stays: an angle, a half.
func (c *change) set(ctx context.Context, pos *locate.Position, f *Felt) (*carry.Solution, error) {
	var still []bike.Settable
	var at []float64
	for _, s := range c.to.all {
		half := &f.Shifts[1]
		if s.Sets.OnSaddle() {
			half = &f.Shifts[0]
		}
		turns, goes := math.Abs(half.Turn) >= nothing, half.By.Norm() >= nothing
		if !turns && (s.Turns() || !goes) {
			still, at = append(still, s.Settable), append(at, s.now)
		}
	}
	b := c.to.bike.Held(still, at)
	return carry.Solve(ctx, b, &bike.Bike{Feet: b.Feet}, pos, carry.Options{HandsFixed: true})
}

// nothing is what is no move at all, mm and radians.
const nothing = 1e-9

// uncertain fills in how sure the changes are: each cause moved by its standard uncertainty, and all worked out anew.
func (c *change) uncertain(ctx context.Context, f *Felt) error {
	var squares [2][]float64
	squares[0], squares[1] = make([]float64, len(f.Settings)), make([]float64, len(f.Readings))
	again := func(k change) error {
		g, err := k.answer(ctx)
		if err != nil {
			return err
		}
		for i := range f.Settings {
			squares[0][i] += math.Pow(g.Settings[i].Travel().Value()-f.Settings[i].Travel().Value(), 2)
		}
		for i := range f.Readings {
			squares[1][i] += math.Pow(g.Readings[i].By()-f.Readings[i].By(), 2)
		}
		return nil
	}
	for i := range c.moved {
		k := *c
		k.moved = slices.Clone(c.moved)
		k.moved[i].After += k.moved[i].Sigma
		if err := again(k); err != nil {
			return err
		}
	}
	for _, cause := range c.arms() {
		if err := again(cause); err != nil {
			return err
		}
	}
	for i := range f.Settings {
		f.Settings[i].Sigma = math.Sqrt(squares[0][i])
	}
	for i := range f.Readings {
		f.Readings[i].Sigma = math.Sqrt(squares[1][i])
	}
	return nil
}

// arms are the change with what turns seen from its clamp somewhat otherwise: the arms of bodies without a shape, and where
// on its saddle the rider is carried.
func (c *change) arms() []change {
	if !slices.ContainsFunc(c.moved, func(m Move) bool { return m.Turns() }) {
		return nil
	}
	var list []change
	for _, side := range [...]func(*change) **rig{func(c *change) **rig { return &c.from }, func(c *change) **rig { return &c.to }} {
		k := *side(c)
		add := func(a bike.Arm, put func(*bike.Bike, bike.Arm)) {
			for _, by := range []plane.Point{{X: a.Sigma.X}, {Y: a.Sigma.Y}} {
				n, otherwise, b, arm := *c, *k, *k.bike, a
				arm.At = a.At.Add(by)
				put(&b, arm)
				otherwise.bike, *side(&n) = &b, &otherwise
				list = append(list, n)
			}
		}
		if a := k.bike.Saddle.Arm; a != nil {
			add(*a, func(b *bike.Bike, arm bike.Arm) { b.Saddle.Arm = &arm })
		}
		if a, ok := k.bike.Bar.Arms[k.hands]; ok {
			add(a, func(b *bike.Bike, arm bike.Arm) { b.Bar.Arms = map[bike.Contact]bike.Arm{k.hands: arm} })
		}
	}
	wider := *c
	wider.from, wider.to = c.from.wider(), c.to.wider()
	if at, _, err := wider.to.Position(wider.to.posture()); err == nil {
		wider.at = at
	}
	return append(list, wider)
}

// wider is a bike whose rider is carried on a support that is wider by its standard uncertainty: the same on both bikes.
func (k *rig) wider() *rig {
	n, standing, file := *k, *k.Standing, *k.Bike
	file.Postures = slices.Clone(file.Postures)
	file.Postures[0].Support += file.Postures[0].SupportSigma
	standing.Bike, n.Standing = &file, &standing
	return &n
}

// Moves are the settings that change, by more than a tape can tell.
func (f *Felt) Moves() []Move {
	return slices.DeleteFunc(slices.Clone(f.Settings), func(m Move) bool { return math.Abs(m.Travel().Shown()) < seen })
}

// seen is the least change, mm or degrees, that is worth a line.
const seen = 0.05
