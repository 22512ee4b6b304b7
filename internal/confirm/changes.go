package confirm

import (
	"math"
	"slices"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/plane"
)

// Change is one reading of a bike before and after its contacts are moved to where they are wanted.
type Change struct {
	Reading       bike.Reading
	Before, After float64 // mm or radians
	Sigma         float64 // standard uncertainty of the difference, mm or radians; NaN: not worked out
}

// By is the difference, mm or radians.
func (c *Change) By() float64 { return c.After - c.Before }

// changes says, for each thing that the bike's file reads, what a tape shows now and what it will show once
// the contacts of the result are where they are wanted. It needs no scales: the saddle and what the hands
// hold are moved as rigid parts.
func (s *Standing) changes(r *Result) []Change {
	now := s.Adjusted.Placement
	then := *now
	sit, _ := now.SitMount(r.Posture.Support)
	place := func(m assembly.Mount, want assembly.Contact, turned float64) {
		pose := plane.Pose{Turn: now.Poses[m.Body].Turn + turned}
		pose.Origin = want.At.Sub(m.At.Turn(pose.Turn))
		then.Poses[m.Body] = pose
	}
	place(sit, r.Contacts[0].Want, -r.Contacts[0].MissAngle)
	hand := now.HandMount(r.Posture.Hands)
	place(hand, r.Contacts[1].Want, -r.Contacts[1].MissAngle)
	switch { // bar and clip-on are clamped to one another
	case hand.Body == assembly.Pads && now.Clipon != nil:
		then.Poses[assembly.Bar].Origin = then.Poses[assembly.Pads].Origin
	case hand.Body == assembly.Bar && now.Clipon != nil:
		then.Poses[assembly.Pads].Origin = then.Poses[assembly.Bar].Origin
	}
	list := []Change{}
	for _, k := range s.Bike.Readings {
		before, _, err := now.ReadingOf(k)
		if err != nil {
			continue // the adjustment has refused such readings
		}
		after, _, err := then.ReadingOf(k)
		if err != nil {
			continue
		}
		if !slices.ContainsFunc(list, func(c Change) bool { return c.Reading.Keys() == k.Keys() }) {
			list = append(list, Change{k, before, after, math.NaN()})
		}
	}
	return list
}
