package bike

import (
	"maps"
	"slices"
)

// Held is the bike with settings fixed where they are told to stand, mm or radians; the others stay as free as they are.
func (b *Bike) Held(list []Settable, at []float64) *Bike {
	c := *b
	c.Adjusters, c.Marks = slices.Clone(b.Adjusters), maps.Clone(b.Marks)
	if c.Marks == nil {
		c.Marks = map[string]float64{}
	}
	if b.Stem != nil {
		stem := *b.Stem
		c.Stem = &stem
	}
	if b.Clipon != nil {
		clipon := *b.Clipon
		c.Clipon = &clipon
	}
	for i := range list {
		c.hold(&list[i], at[i])
	}
	return &c
}

// hold fixes one setting of a bike that is a copy.
func (b *Bike) hold(s *Settable, at float64) {
	if s.Adjuster >= 0 {
		a := &b.Adjusters[s.Adjuster]
		mark := (at + s.Zero) / a.Unit // an adjuster that counted from where it stands counts from level now
		a.Lo, a.Hi, a.Step, a.FromHere, a.NoRange = mark, mark, 0, false, false
		b.Marks[a.Name] = mark
		return
	}
	switch fixed := Fixed(at); s.Sets {
	case SetsSaddleTilt:
		b.Saddle.Tilt = fixed
	case SetsRails:
		b.Saddle.ClampAt = fixed
	case SetsRotation:
		b.Bar.Rotation = fixed
	case SetsLever:
		b.Bar.LeverAt = fixed
	case SetsSpacers:
		b.Stem.Spacers = Spacers{Given: true, Fixed: at}
	case SetsPadTilt:
		b.Clipon.Tilt = fixed
	case SetsHole:
		b.Clipon.Hole = fixed
	case SetsRisers:
		b.Clipon.Stack = fixed
	case SetsExtension:
		b.Clipon.Extension = fixed
	case SetsSpacing:
		b.Clipon.Spacing = fixed
	}
}

// Chosen is the choice of the parts that are fitted: the first of every slot.
func (b *Bike) Chosen() (f Fitted) {
	f.Saddle, f.Bar, f.Lever = b.Saddle.Only(), b.Bar.Only(), b.Bar.Lever.Only()
	if b.Stem != nil {
		f.Stem = b.Stem.Only()
	}
	if b.Clipon != nil {
		f.Clipon = b.Clipon.Only()
	}
	return f
}

// One is the slot with one of its options, and no other.
func (s Slot[T]) One(i int) Slot[T] { return Slot[T]{Options: s.Options[i : i+1]} }
