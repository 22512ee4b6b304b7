package carry

import (
	"cmp"
	"context"
	"encoding/json"
	"math"
	"slices"

	"carryover/internal/bike"
	"carryover/internal/cockpit"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Shop is what could be bought: the parts of the catalogue.
type Shop struct {
	Saddles []bike.Option[saddle.Shape]
	Bars    []bike.Option[cockpit.Bar]
	Levers  []bike.Option[cockpit.Lever]
	Stems   []bike.Option[cockpit.Stem]
	Clipons []bike.Option[cockpit.Clipon]
}

// CureKind is what a cure changes, in the order of what it costs: first what is only set otherwise, then what is bought,
// last what is done to the machine.
type CureKind int

// The kinds of cure.
const (
	CureGap     CureKind = iota // the clamps of the clip-on, with their pads, further out on the bar
	CureSetting                 // a setting that the file fixes, or holds to less than its part offers
	CureSpacers                 // more or fewer spacers under the same stem
	CureFlip                    // the stem turned over, with its spacers
	CureStem                    // another stem, with its spacers
	CureLever
	CureClipon
	CureSaddle
	CureBar
	CureTurn    // a clamp that turns further
	CureSetback // a seatpost with more (or less) setback
	CureHeight  // more (or less) under saddle or bar
	CureReach   // the bar further forward (or back)
)

// Cure is one change after which a contact is carried, and what becomes of the bike with it made. Every posture is solved anew with
// what is bolted on shared.
type Cure struct {
	Kind     CureKind
	OnSaddle bool // it is the seat that is cured, else the hands
	Sets     bike.Sets
	// By is how much: of a setting its travel from where the file holds it (mm or radians), of spacers the change, of clamps
	// how far each goes out, of what is done to the machine mm forward or up, or radians; the least that does, in whole
	// millimetres and half degrees.
	By       float64
	Part     Part  // what is fitted instead; its Slot is "" where nothing is
	With     *Cure // what else must be changed, where no single change does
	Solution *Solution
	Also     []string // other postures that it cures as well
	Leaves   []string // other postures in which the seat, or the hands, are as little carried as before
	Spoils   []Touch  // contacts that were carried and with it are not

	change func(b *bike.Bike) // makes the change on a copy of the target
	holds  bool               // the file fixes the setting: it then stands alike in every posture
}

// Touch is a contact in a posture.
type Touch struct {
	Contact bike.Contact `json:"contact"`
	Posture string       `json:"posture"`
}

// Cost is the dearest kind of what must be changed.
func (c Cure) Cost() CureKind {
	if c.With != nil {
		return max(c.Kind, c.With.Cost())
	}
	return c.Kind
}

// Compare puts a cure that carries every posture before one that leaves another as it is, and that before one that spoils something;
// of these what costs nothing first, and of one kind the smaller change.
func (c Cure) Compare(d Cure) int {
	rank := func(c Cure) int {
		switch {
		case len(c.Spoils) > 0:
			return 2
		case len(c.Leaves) > 0:
			return 1
		}
		return 0
	}
	return cmp.Or(cmp.Compare(rank(c), rank(d)), cmp.Compare(c.Cost(), d.Cost()), cmp.Compare(c.Kind, d.Kind),
		cmp.Compare(math.Abs(c.By), math.Abs(d.By)))
}

// Lack is what a half lacks to have its contact in place, the angle first: radians, and mm forward and up, each as
// little as does, in half degrees and whole millimetres. Zero where nothing known to be turned or moved would do.
type Lack struct {
	Turn  float64
	Place plane.Point
}

// Ailment is a contact that is not carried, or is held short of its place by a stop, or a clip-on that does not fit; and
// what would cure it, in the order of Compare.
type Ailment struct {
	Contact bike.Contact
	Gap     bool // what ails is the gap between the clip-on's clamps
	Lack    Lack
	Cures   []Cure
}

// Single reports whether a single change is a cure.
func (a *Ailment) Single() bool {
	return slices.ContainsFunc(a.Cures, func(c Cure) bool { return c.With == nil })
}

// spacersSold bounds the stack of spacers that a cure may ask for, mm, and pieces it is built of (common practice).
const (
	spacersSold  = 40.0
	spacersPiece = 5.0
)

// What is done to a machine goes in such steps, and no further than this; a bolt turns what it holds by up to mostTurn.
const (
	wholeMM    = 1.0
	halfDegree = math.Pi / 360
	mostMM     = 150.0
	mostTurn   = 15 * math.Pi / 180
)

// Cures lists for each posture the contacts that are not carried, or that a stop holds back, with the single changes that would
// carry them: whether or not the file leaves them open. Each is solved with everything else as it is, and carries; of parts of one
// kind the one that comes nearest is named. All postures sit on the one target: a change that carries all of them is sought first,
// then one that takes nothing from those that are carried, then one for the posture alone. Where no single change does without
// spoiling another contact, a setting and one more change, else all that the half lacks. A context that ends leaves what was found.
// The shop is asked for where something ails.
func Cures(ctx context.Context, all []*Solution, shop func() (Shop, error)) ([][]Ailment, error) {
	list := make([][]Ailment, len(all))
	for of, s := range all {
		for i, k := range s.Contacts[:2] {
			c := curer{ctx: ctx, all: all, of: of, seat: i == 0, level: 1}
			if k.Carried { // no better than it is, but nearer
				c.level = 0.5
			}
			gap, ails := s.GapShort > 0 && !c.seat, !k.Carried || !c.good(k) && s.stopped(k)
			if !gap && !ails {
				continue
			}
			c.prepare()
			parts, err := shop()
			if err != nil {
				return nil, err
			}
			if gap {
				list[of] = append(list[of], c.makeRoom(parts))
			}
			if ails {
				list[of] = append(list[of], c.contact(parts))
			}
		}
	}
	return list, nil
}

// stopped reports whether a stop holds a contact back, and not only a step.
func (s *Solution) stopped(k Carried) bool {
	by := s.HeldBy(k)
	return slices.ContainsFunc(s.Settings, func(set Setting) bool { return set.Limit != "step" && slices.Contains(by, set.Name) })
}

// turns reports whether a cure turns what carries the contact.
func (c Cure) turns() bool { return c.Kind == CureTurn || c.Kind == CureSetting && c.Sets.Turns() }

// measure fills in by how much a cure changes what is only set otherwise, from one solution to another.
func (c *Cure) measure(from, to *Solution) {
	switch c.Kind {
	case CureSetting:
		a := bike.Settable{Sets: c.Sets, Adjuster: -1}
		c.By = to.travel(&a) - from.travel(&a)
	case CureSpacers, CureFlip:
		c.By = to.hands.base.spacers - from.hands.base.spacers
	}
}

// cureNames are the kinds in JSON, in the order of the constants.
var cureNames = [...]string{"gap", "setting", "spacers", "flip", "stem", "lever", "clipon", "saddle", "bar", "turn", "setback", "height",
	"reach"}

func (k CureKind) String() string { return cureNames[k] }

// MarshalJSON writes a cure with what it takes to make it; by and rotation in mm or degrees.
func (c Cure) MarshalJSON() ([]byte, error) {
	k := Keys{"kind": c.Kind.String(), "by": c.By}
	if c.turns() {
		k["by"] = plane.Deg(c.By)
	}
	if c.Kind == CureSetting || c.Kind == CureTurn {
		k["setting"] = c.Sets.Key()
	}
	if c.Part.Slot != "" {
		k["part"] = c.Part
	}
	if c.With != nil {
		k["with"] = *c.With
	}
	if s := c.Solution; s != nil {
		k["error"], k["contact"] = s.E, bike.Sit
		k["also"], k["leaves"], k["spoils"] = append([]string{}, c.Also...), append([]string{}, c.Leaves...), append([]Touch{}, c.Spoils...)
		if !c.OnSaddle {
			k["contact"] = s.Position.Posture.Hands
			if s.hands.arm.Clipon == nil || s.hands.arm.rotation != nil {
				k["rotation"] = plane.Angle(s.hands.rotation)
			}
			if s.hands.base.stem != nil {
				k["spacers"] = s.hands.base.spacers
			}
		}
	}
	return json.Marshal(k)
}
