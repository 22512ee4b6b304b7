package confirm

import (
	"context"
	"math"
	"math/bits"
	"slices"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// Correction is one thing to move: from where its scale shows it now to where it should show.
type Correction struct {
	Name     string
	Turns    bool
	Adjuster int     // index into the bike's adjusters, -1 for a setting
	Scale    bool    // whether there is a scale to set it by
	From, To float64 // marks; without a scale mm or degrees
	Travel   float64 // mm or radians
	Toward   string  // where it goes, in a word or two
	// Tape is what to set an adjuster without a scale by, nil when no tape shows it: the reading with what it
	// says now and once everything is corrected.
	Tape *Change
}

// movable is something that a correction may move.
type movable struct {
	name     string
	adjuster int // -1: a setting
	turns    bool
	now      float64 // where it stands, as adjusted: mm or radians
	// offset is what the adjusted mark differs from the mark on the scale: a scale that reads a little wrong
	// goes on doing so.
	offset float64
}

// hangs reports whether the contact of one half hangs on anchors and scales, so that a correction can be
// told in marks: half 0 the saddle, 1 the hands.
func (s *Standing) hangs(half int, hands bike.Contact) bool {
	if half == 0 {
		return s.Bike.SaddleAnchor != nil
	}
	// A contact that was only measured hangs on no part that a scale moves.
	if m := s.Adjusted.Stance.HandMount(hands); m.Body != assembly.Bar && (m.Body != assembly.Pads || s.Adjusted.Stance.Clipon == nil) {
		return false
	}
	if s.Bike.Stem != nil {
		_, ok := s.Bike.Steerer()
		return ok
	}
	return s.Bike.BarAnchor != nil
}

// movables lists what can be moved for one contact: half 0 the saddle, 1 the hands.
func (s *Standing) movables(half int, hands bike.Contact) []movable {
	b, a := s.Bike, s.Adjusted
	var list []movable
	shifts, turns := bike.MovesSaddle, bike.MovesSaddleTilt
	if half == 1 {
		shifts, turns = bike.MovesBar, bike.MovesBarRotation
	}
	suspect := map[string]bool{}
	for _, f := range a.Findings() {
		if o := a.Observations[f.Observation]; o.Origin == locate.FromMark && len(f.Blamed()) == 1 {
			suspect[o.Name] = true // noted wrong: its mark is not where the scale stands
		}
	}
	for i := range b.Adjusters {
		adj := &b.Adjusters[i]
		if adj.Moves != shifts && (adj.Moves != turns || half == 1 && hands == bike.Pad) {
			continue
		}
		now, _, ok := a.Travel(i)
		if !ok {
			continue
		}
		m := movable{name: adj.Name, adjuster: i, turns: adj.Moves.Turns(), now: now}
		if mark, ok := b.Marks[adj.Name]; ok && !suspect[adj.Name] {
			m.offset = now/adj.Unit - mark
		}
		list = append(list, m)
	}
	free := func(name string, set bike.Setting, turns bool, now float64, ok bool) {
		if ok && set.Free {
			list = append(list, movable{name: name, adjuster: -1, turns: turns, now: now})
		}
	}
	if half == 0 {
		free("saddle.tilt", b.Saddle.Tilt, true, a.Stance.Poses[assembly.Saddle].Turn, len(b.Moving(bike.MovesSaddleTilt)) == 0)
		station, ok := a.ClampStation()
		free("saddle.clamp_at", b.Saddle.ClampAt, false, station, ok)
		return list
	}
	if hands == bike.Pad {
		tilt := b.Clipon.Tilt
		if !tilt.Given {
			part := b.Clipon.Only()
			tilt = bike.Setting{Free: true, Lo: part.Tilt[0], Hi: part.Tilt[1]}
		}
		free("clipon.tilt", tilt, true, a.Stance.Poses[assembly.Pads].Turn, true)
		return list
	}
	free("bar.rotation", b.Bar.Rotation, true, a.Stance.Poses[assembly.Bar].Turn, len(b.Moving(bike.MovesBarRotation)) == 0)
	return list
}

// held is the bike with everything where it stands but for the movables in the set, which keep their range.
func (s *Standing) held(all []movable, set uint, hands bike.Contact) *bike.Bike {
	c := *s.Bike
	a := s.Adjusted
	if at, ok := a.Anchor(assembly.Saddle); ok {
		c.SaddleAnchor = &at
	}
	if at, ok := a.Anchor(assembly.Bar); ok {
		c.BarAnchor = &at
	}
	c.Adjusters = slices.Clone(c.Adjusters)
	c.Marks = map[string]float64{}
	for i := range c.Adjusters {
		adj := &c.Adjusters[i]
		now, _, ok := a.Travel(i)
		if !ok {
			now = adj.Travel(plane.Clamp(s.Bike.Marks[adj.Name], adj.Lo, adj.Hi))
		}
		mark := now / adj.Unit
		c.Marks[adj.Name] = mark
		k := slices.IndexFunc(all, func(m movable) bool { return m.adjuster == i })
		if k >= 0 && set>>k&1 == 1 {
			adj.Lo, adj.Hi = adj.Lo+all[k].offset, adj.Hi+all[k].offset
			continue
		}
		adj.Lo, adj.Hi, adj.Step = mark, mark, 0
	}
	moves := func(name string) bool {
		k := slices.IndexFunc(all, func(m movable) bool { return m.name == name && m.adjuster < 0 })
		return k >= 0 && set>>k&1 == 1
	}
	if len(c.Moving(bike.MovesSaddleTilt)) == 0 && !moves("saddle.tilt") {
		c.Saddle.Tilt = bike.Fixed(a.Stance.Poses[assembly.Saddle].Turn)
	}
	if station, ok := a.ClampStation(); ok && !moves("saddle.clamp_at") {
		rail := c.Saddle.Only().Rail
		c.Saddle.ClampAt = bike.Fixed(plane.Clamp(station, rail.From, rail.To))
	}
	if a.Uses(assembly.Bar) && len(c.Moving(bike.MovesBarRotation)) == 0 && !moves("bar.rotation") {
		c.Bar.Rotation = bike.Fixed(a.Stance.Poses[assembly.Bar].Turn)
	}
	if c.Clipon != nil && hands == bike.Pad && !moves("clipon.tilt") {
		clipon := *c.Clipon
		clipon.Tilt = bike.Fixed(a.Stance.Poses[assembly.Pads].Turn)
		c.Clipon = &clipon
	}
	return &c
}

// most bounds how many movables of one half are tried in every combination.
const most = 12

// unfollowed is a position whose hands are wanted where they are to be once the saddle is where it is wanted: the halves
// are corrected apart, and the hands must not follow a saddle that stands wrong.
func unfollowed(pos *locate.Position, feet bike.Feet, target *bike.Bike, o carry.Options) (*locate.Position, carry.Options, error) {
	want, err := carry.Want(pos, feet, target, o)
	if err != nil || o.HandsFixed {
		return pos, o, err
	}
	still := *pos
	shift := want.Shift.Turn(target.Frame.Pitch)
	still.Hands.At = still.Hands.At.Add(shift)
	if pos.Second != nil {
		second := *pos.Second
		second.At = second.At.Add(shift)
		still.Second = &second
	}
	o.HandsFixed = true
	return &still, o, nil
}

// correct finds, for each half on its own (they share nothing), the smallest set of movables that brings
// its contact inside tolerance, of several as small the one that moves least. What moves goes where the
// contact comes out best, not just to the edge of the tolerance.
func (r *Result) correct(ctx context.Context, s *Standing, feet bike.Feet, pos *locate.Position, o carry.Options) error {
	r.Cured = true
	pos, o, err := unfollowed(pos, feet, s.Bike, o)
	if err != nil {
		return err
	}
	hands := pos.Posture.Hands
	then := *s.Adjusted.Stance // with both halves corrected
	for half := range 2 {
		now := r.Contacts[half]
		if now.Inside {
			r.After = append(r.After, now)
			continue
		}
		if !s.hangs(0, hands) || !s.hangs(1, hands) {
			r.Cured = false
			r.After = append(r.After, now)
			continue
		}
		all := s.movables(half, hands)
		all = all[:min(len(all), most)]
		best, found, least := (*carry.Solution)(nil), uint(0), math.Inf(1)
		size := 0
		for ; size <= len(all) && best == nil; size++ {
			for set := range uint(1) << len(all) {
				if bits.OnesCount(set) != size {
					continue
				}
				k, err := carry.Solve(ctx, s.held(all, set, hands), &bike.Bike{Feet: feet}, pos, o)
				if err != nil {
					return err
				}
				if !k.Contacts[half].Carried {
					continue
				}
				if way := travelled(k, all, set); way < least {
					best, found, least = k, set, way
				}
			}
		}
		if best == nil { // nothing brings it inside: as near as everything together comes
			r.Cured = false
			found = uint(1)<<len(all) - 1
			var err error
			if best, err = carry.Solve(ctx, s.held(all, found, hands), &bike.Bike{Feet: feet}, pos, o); err != nil {
				return err
			}
		}
		for body := range then.Poses {
			if (assembly.Body(body) == assembly.Saddle) == (half == 0) {
				then.Poses[body] = best.Stance.Poses[body]
			}
		}
		for k, m := range all {
			if found>>k&1 == 1 {
				c, err := s.correction(m, best)
				if err != nil {
					return err
				}
				if math.Abs(c.Travel) > still {
					r.Corrections = append(r.Corrections, c)
				}
			}
		}
		c := best.Contacts[half]
		r.After = append(r.After, Contact{Want: c.Want, Got: c.Got, Primary: true, Away: c.Away.Scale(-1), Miss: c.Miss,
			MissAngle: c.MissAngle, Inside: c.Carried})
	}
	for i := range r.Corrections {
		t := r.Corrections[i].Tape
		if t == nil {
			continue
		}
		var err error
		if t.Before, _, err = s.Adjusted.Stance.Measure(t.Reading); err == nil {
			t.After, _, err = then.Measure(t.Reading)
		}
		if err != nil {
			r.Corrections[i].Tape = nil
		}
	}
	return nil
}

// still is the travel, mm or radians, below which something does not count as moved.
const still = 1e-6

// setting is what a solution says of a movable, mm or radians.
func setting(k *carry.Solution, m movable) float64 {
	for _, set := range k.Settings {
		if m.adjuster >= 0 && set.Adjuster == m.adjuster || m.adjuster < 0 && set.Name == m.name {
			return set.Travel
		}
	}
	return m.now
}

// travelled is how far a solution is from how the bike stands: root of the summed squares, mm, a degree
// counting as much as in a carry.
func travelled(k *carry.Solution, all []movable, set uint) float64 {
	sum := 0.0
	for i, m := range all {
		if set>>i&1 == 0 {
			continue
		}
		d := setting(k, m) - m.now
		if m.turns {
			d = plane.Deg(d) * bike.DegreeCost
		}
		sum += d * d
	}
	return math.Sqrt(sum)
}

func (s *Standing) correction(m movable, k *carry.Solution) (Correction, error) {
	c := Correction{Name: m.name, Turns: m.turns, Adjuster: m.adjuster, Travel: setting(k, m) - m.now}
	at := slices.IndexFunc(k.Settings, func(set carry.Setting) bool {
		return m.adjuster >= 0 && set.Adjuster == m.adjuster || m.adjuster < 0 && set.Name == m.name
	})
	if at >= 0 {
		c.Toward = k.Settings[at].Towards(c.Travel)
	}
	switch {
	case m.adjuster >= 0:
		adj := &s.Bike.Adjusters[m.adjuster]
		c.Scale = !adj.NoScale
		c.From = m.now/adj.Unit - m.offset
		c.To = c.From + c.Travel/adj.Unit
		if adj.NoScale && at >= 0 {
			steps, err := k.Order()
			if err != nil {
				return c, err
			}
			for _, step := range steps {
				if slices.Contains(step.Settings, at) && step.Gauge.Own == "" {
					c.Tape = &Change{Reading: step.Gauge.Reading}
				}
			}
		}
	case m.turns:
		c.From, c.To = plane.Deg(m.now), plane.Deg(m.now+c.Travel)
	default:
		c.From, c.To = m.now, m.now+c.Travel
	}
	return c, nil
}
