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
	if s.Sets == SetsSpacers {
		b.Stem.Spacers = Spacers{Given: true, Fixed: at}
	} else if set := b.Setting(s.Sets); set != nil {
		*set = Fixed(at)
	}
}

// Setting is where a bike holds what is set without an adjuster, nil for what it does not hold so.
func (b *Bike) Setting(k Sets) *Setting {
	switch k {
	case SetsSaddleTilt:
		return &b.Saddle.Tilt
	case SetsRails:
		return &b.Saddle.ClampAt
	case SetsRotation:
		return &b.Bar.Rotation
	case SetsLever:
		return &b.Bar.LeverAt
	}
	if b.Clipon == nil {
		return nil
	}
	switch k {
	case SetsPadTilt:
		return &b.Clipon.Tilt
	case SetsHole:
		return &b.Clipon.Hole
	case SetsRisers:
		return &b.Clipon.Stack
	case SetsExtension:
		return &b.Clipon.Extension
	case SetsSpacing:
		return &b.Clipon.Spacing
	}
	return nil
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

// Slots for parts, in the order they are listed.
const (
	SaddleSlot = iota
	BarSlot
	LeverSlot
	StemSlot
	CliponSlot
	Slots
)

// Stock is what a slot has to choose from.
type Stock struct {
	Slot  string
	Open  bool // the file leaves it to choose
	Count int
	At    func(i int) Stocked
}

// Stocked is one part of a stock, its shape a pointer of its kind.
type Stocked struct {
	ID, Name string
	Shape    any
}

// IDs are what the file calls the parts.
func (s Stock) IDs() (list []string) {
	for i := range s.Count {
		list = append(list, s.At(i).ID)
	}
	return list
}

// Stocks are the slots of a bike; one that it does not have has nothing to choose from.
func (b *Bike) Stocks() [Slots]Stock {
	list := [Slots]Stock{SaddleSlot: stock("saddle", b.Saddle.Slot), BarSlot: stock("bar", b.Bar.Slot), LeverSlot: stock("lever", b.Bar.Lever)}
	if b.Stem != nil {
		list[StemSlot] = stock("stem", b.Stem.Slot)
	}
	if b.Clipon != nil {
		list[CliponSlot] = stock("clipon", b.Clipon.Slot)
	}
	return list
}

func stock[T any](name string, s Slot[T]) Stock {
	return Stock{name, s.Open, len(s.Options), func(i int) Stocked { return Stocked{s.Options[i].ID, s.Options[i].Name, s.Options[i].Part} }}
}

// Every is no pick: it leaves a slot as open as the file has it.
const Every = -1

// Picks chooses an option for each slot, by index: its zero value the first of every one.
type Picks [Slots]int

// Pick chooses option i of one slot, and leaves the others as they are.
func Pick(slot, i int) Picks {
	p := Picks{Every, Every, Every, Every, Every}
	p[slot] = i
	return p
}

// Uses reports whether a rider with the hands there feels the part of a slot.
func (c Contact) Uses(slot int) bool {
	switch slot {
	case BarSlot:
		return c != Pad
	case LeverSlot:
		return c == Hood
	case CliponSlot:
		return c == Pad
	}
	return true
}

// And joins picks with those of other slots.
func (p Picks) And(q Picks) Picks {
	for i := range p {
		if p[i] == Every {
			p[i] = q[i]
		}
	}
	return p
}

// only narrows a slot to what is picked of it; an open one stays open.
func only[T any](s Slot[T], i int) Slot[T] {
	if i != Every && i < len(s.Options) {
		s.Options = s.Options[i : i+1]
	}
	return s
}

// Narrowed is the bike with its slots narrowed to picks; everything else is shared with the original.
func (b *Bike) Narrowed(p Picks) *Bike {
	n := *b
	n.Saddle.Slot, n.Bar.Slot, n.Bar.Lever = only(b.Saddle.Slot, p[SaddleSlot]), only(b.Bar.Slot, p[BarSlot]), only(b.Bar.Lever, p[LeverSlot])
	if b.Stem != nil {
		stem := *b.Stem
		stem.Slot, n.Stem = only(b.Stem.Slot, p[StemSlot]), &stem
	}
	if b.Clipon != nil {
		clipon := *b.Clipon
		clipon.Slot, n.Clipon = only(b.Clipon.Slot, p[CliponSlot]), &clipon
	}
	return &n
}
