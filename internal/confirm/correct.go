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

// movable is something that stands somewhere, and that a correction may move.
type movable struct {
	bike.Settable
	now float64 // where it stands, mm or radians
	// offset is by how much that is more than its scale shows: a scale that reads a little wrong goes on doing so.
	offset float64
}

// rig is a bike as it stands in one posture, with everything that can be set on it.
type rig struct {
	*Standing
	bike  *bike.Bike
	hands bike.Contact
	all   []movable
}

// rig says where everything stands that can be set.
func (s *Standing) rig(p bike.Posture) (*rig, error) {
	at, err := locate.Stand(s.Bike, s.rider, p)
	if err != nil {
		return nil, err
	}
	k := &rig{Standing: s, bike: at.Bike, hands: p.Hands}
	wrong := map[string]bool{} // marks noted wrong: they are not where the scale stands
	for _, f := range s.Adjusted.Findings() {
		if o := s.Adjusted.Observations[f.Observation]; o.Origin == locate.FromMark && len(f.Blamed()) == 1 {
			wrong[o.Name] = true
		}
	}
	for _, set := range k.bike.Settables(k.bike.Chosen(), p.Hands) {
		if set.Sets == bike.SetsExtension || set.Sets.Sideways() {
			continue
		}
		m := movable{Settable: set, now: set.Home}
		turn, known := s.turn(set.Sets)
		marked := set.Adjuster >= 0 && set.Adjuster < len(s.Bike.Adjusters) && set.Scale && set.Stands != nil
		switch travel, _, ok := s.travel(set.Adjuster); {
		case marked && set.Turns() && known:
			m.now, m.offset = turn, turn-set.Home
			if wrong[set.Name] {
				m.offset = 0
			}
		case marked && ok && wrong[set.Name]:
			m.offset = set.Home - travel
		case set.Adjuster < 0 && set.Turns() && known:
			m.now = turn
		case set.Stands == nil && ok:
			m.now = travel
		}
		k.all = append(k.all, m)
	}
	return k, nil
}

// travel is where an adjuster of the file stands as adjusted.
func (s *Standing) travel(i int) (travel, sigma float64, ok bool) {
	if i < 0 || i >= len(s.Bike.Adjusters) {
		return 0, 0, false
	}
	return s.Adjusted.Travel(i)
}

// turn is how far what a setting turns is turned as adjusted.
func (s *Standing) turn(k bike.Sets) (turn float64, ok bool) {
	at := func(b assembly.Body) (float64, bool) {
		return s.Adjusted.Placement.Poses[b].Turn, s.Adjusted.Uses(b)
	}
	switch k {
	case bike.SetsSaddleTilt:
		return at(assembly.Saddle)
	case bike.SetsRotation:
		return at(assembly.Bar)
	case bike.SetsPadTilt:
		turn, ok = at(assembly.Pads)
		if c := s.Adjusted.Placement.Clipon; c != nil && c.TiltFromBar {
			bar, _ := at(assembly.Bar)
			turn -= bar
		}
		return turn, ok
	}
	return 0, false
}

// movables are the indexes into all of what can be moved for one contact: half 0 the saddle, 1 the hands. There is none
// where the half hangs on nothing that says where it is.
func (k *rig) movables(half int) []int {
	var list []int
	clipon := k.bike.Chosen().Clipon
	for i, m := range k.all {
		switch {
		case m.Sets.OnSaddle() != (half == 0) || m.Fixed():
		case m.Sets == bike.SetsRotation && k.hands == bike.Pad && !(clipon != nil && clipon.TiltFromBar):
		case m.Adjuster >= len(k.Bike.Adjusters) && !k.bike.Adjusters[m.Adjuster].FromHere:
			return nil // made up to be set by tape
		case m.Adjuster >= 0 && m.Stands == nil && m.now == m.Home:
			if _, _, ok := k.travel(m.Adjuster); ok {
				list = append(list, i)
			}
		default:
			list = append(list, i)
		}
	}
	return list[:min(len(list), most)]
}

// held is the bike with everything where it stands but for the movables in the set, which keep their range.
func (k *rig) held(moving []int, set uint) *bike.Bike {
	var still []bike.Settable
	var at []float64
	for i, m := range k.all {
		if j := slices.Index(moving, i); j < 0 || set>>j&1 == 0 {
			still, at = append(still, m.Settable), append(at, m.now)
		}
	}
	c := k.bike.Held(still, at)
	for j, i := range moving {
		if m := &k.all[i]; set>>j&1 == 1 && m.Adjuster >= 0 && m.Stops {
			a := &c.Adjusters[m.Adjuster]
			a.Lo, a.Hi = a.Lo+m.offset/a.Unit, a.Hi+m.offset/a.Unit
			c.Marks[a.Name] = m.now / a.Unit
		}
	}
	return c
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
	o.HandsFixed = true
	return further(pos, want.Shift.Turn(target.Frame.Pitch)), o, nil
}

// further is a position with the hands so much further on.
func further(pos *locate.Position, by plane.Point) *locate.Position {
	k := *pos
	k.Hands.At = k.Hands.At.Add(by)
	if pos.Second != nil {
		second := *pos.Second
		second.At = second.At.Add(by)
		k.Second = &second
	}
	return &k
}

// correct finds, for each half on its own (they share nothing), the smallest set of movables that brings
// its contact inside tolerance, of several as small the one that moves least. What moves goes where the
// contact comes out best, not just to the edge of the tolerance. Where the saddle does not come all the way the hands are
// wanted from where it can be, as carry wants them.
func (r *Result) correct(ctx context.Context, s *Standing, feet bike.Feet, pos *locate.Position, o carry.Options) error {
	r.Cured = true
	follow := !o.HandsFixed
	pos, o, err := unfollowed(pos, feet, s.Bike, o)
	if err != nil {
		return err
	}
	if r.Inside() {
		r.After = append(r.After, r.Contacts[:2]...)
		return nil
	}
	k, err := s.rig(pos.Posture)
	if err != nil {
		return err
	}
	then := *s.Adjusted.Placement // with both halves corrected
	for half := range 2 {
		moving := k.movables(half)
		if r.Contacts[half].Inside() || len(moving) == 0 {
			r.Cured = r.Cured && r.Contacts[half].Inside()
			r.ByTape = r.ByTape || !r.Contacts[half].Inside() && slices.ContainsFunc(k.all, func(m movable) bool {
				return m.Sets.OnSaddle() == (half == 0) && m.Adjuster >= 0
			})
			r.After = append(r.After, r.Contacts[half])
			continue
		}
		best, found, cured, err := k.smallest(ctx, half, moving, feet, pos, o)
		if err != nil {
			return err
		}
		r.Cured = r.Cured && cured
		for body := range then.Poses {
			if (assembly.Body(body) == assembly.Saddle) == (half == 0) {
				then.Poses[body] = best.Placement.Poses[body]
			}
		}
		for j, i := range moving {
			m := &k.all[i]
			if by := m.travel(best); found>>j&1 == 1 && math.Abs(by) > still {
				r.Corrections = append(r.Corrections, m.to(m.now+by))
			}
		}
		c := best.Contacts[half]
		if half == 0 && follow && !cured {
			pos = r.follow(pos, c.Away.Scale(-1), s.Bike.Frame.Pitch)
		}
		r.After = append(r.After, Contact{Carried: c})
	}
	for i := range r.Corrections {
		r.Corrections[i].showOnTape(k, &then)
	}
	return nil
}

// follow wants the hands as much further on as the saddle can only be had, and judges them anew.
func (r *Result) follow(pos *locate.Position, by plane.Point, pitch float64) *locate.Position {
	r.Followed = true
	for i := 1; i < len(r.Contacts); i++ {
		c := &r.Contacts[i]
		c.Want.At = c.Want.At.Add(by)
		c.judge()
	}
	return further(pos, by.Turn(pitch))
}

// smallest is the smallest set of movables of a half that cures it, with where they go; all of them when none does.
func (k *rig) smallest(ctx context.Context, half int, moving []int, feet bike.Feet, pos *locate.Position, o carry.Options) (
	best *carry.Solution, found uint, cured bool, err error) {
	solve := func(set uint) (*carry.Solution, error) {
		return carry.Solve(ctx, k.held(moving, set), &bike.Bike{Feet: feet}, pos, o)
	}
	least := math.Inf(1)
	for size := 0; size <= len(moving) && best == nil; size++ {
		for set := range uint(1) << len(moving) {
			if bits.OnesCount(set) != size {
				continue
			}
			s, err := solve(set)
			if err != nil {
				return nil, 0, false, err
			}
			if way := k.travelled(s, moving, set); s.Contacts[half].Carried && way < least {
				best, found, least = s, set, way
			}
		}
	}
	if best != nil {
		return best, found, true, nil
	}
	found = uint(1)<<len(moving) - 1 // nothing brings it inside: as near as everything together comes
	best, err = solve(found)
	return best, found, false, err
}

// still is the travel, mm or radians, below which something does not count as moved.
const still = 1e-6

// travel is how far a solution takes a movable from where it stands, mm or radians.
func (m *movable) travel(k *carry.Solution) float64 {
	for i := range k.Settings {
		if set := &k.Settings[i]; set.Adjuster == m.Adjuster && set.Sets == m.Sets {
			return set.Travel - m.now
		}
	}
	return 0
}

// travelled is how far a solution is from how the bike stands: root of the summed squares, mm, a degree
// counting as much as in a carry.
func (k *rig) travelled(s *carry.Solution, moving []int, set uint) float64 {
	sum := 0.0
	for j, i := range moving {
		if m := &k.all[i]; set>>j&1 == 1 {
			d := m.travel(s) * m.Weight
			sum += d * d
		}
	}
	return math.Sqrt(sum)
}

// showOnTape finds what shows a correction that no scale shows: the reading that follows it closest, now and with everything
// corrected.
func (c *Move) showOnTape(k *rig, then *assembly.Placement) {
	own, body := k.bike.Saddle.Arm != nil, assembly.Saddle
	if _, arm := k.bike.Bar.Arms[k.hands]; !c.Sets.OnSaddle() {
		own, body = own || arm, assembly.Bar
	}
	if c.Scale || c.Adjuster < 0 || own { // what has no shape is placed nowhere
		return
	}
	now, closest := k.Adjusted.Placement, 0.0
	further := *now
	further.Poses[body].Origin = further.Poses[body].Origin.Add(c.Heading)
	for _, r := range c.Readings(k.bike, k.hands) {
		before, _, err := now.ReadingOf(r)
		if err != nil {
			continue
		}
		moved, _, _ := further.ReadingOf(r)
		after, _, err := then.ReadingOf(r)
		if follows := math.Abs(moved - before); err == nil && (c.Tape == nil || follows > closest+likewise) {
			closest, c.Tape = follows, &Change{r, before, after, math.NaN()}
		}
	}
}

// likewise is by how much, mm per mm, a reading must follow a setting closer than a handier one.
const likewise = 0.1
