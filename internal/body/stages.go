package body

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/written"
)

// Habits is what is assumed of a rider besides lengths.
type Habits struct {
	Pitch Pitch
	Elbow float64 // opening over hoods and drops, radians
}

// UsualHabits are usualPitch and usualElbow.
func UsualHabits() Habits { return Habits{usualPitch(), usualElbow} }

// Stage is a rider on a bike, or on the way from one to another.
type Stage struct {
	Cause   string // what differs from the stage before
	Place   Place
	Numbers *Numbers // nil: the leg does not close
	Err     error    // why
	Turn    []Leg    // as List lists it
}

// hands describes what is held.
func (h Habits) hands(c assembly.Contact, l *assembly.Layout) *Hands {
	return &Hands{Contact: c.Name, At: c.At, Angle: c.Angle, ElbowBehind: l.PadLength / 2, Elbow: h.Elbow}
}

// widths are the lateral sizes of a bike in a posture.
func widths(l *assembly.Layout, hands bike.Contact) Laterals {
	var w Laterals
	if q := l.Bike.Feet.QFactor; q != nil {
		w.QFactor = *q
	}
	if bar := l.BarShape; bar != nil && bar.Width > 0 {
		w.Hands = bar.Width
		if bar.Curved() {
			w.Drops = bar.Width + 2*flareOut(bar.Drop, plane.Rad(bar.Flare))
		}
	}
	switch hands {
	case bike.Pad:
		w.Hands, w.Drops = 0, 0
		if c := l.Bike.Clipon; c != nil && c.Spacing.Given && !c.Spacing.Free {
			w.Hands = c.Spacing.Lo
		}
	case bike.Drop:
		if w.Drops > 0 {
			w.Hands = w.Drops
		}
	}
	return w
}

// noticed is the least miss that makes a step of its own, mm and degrees.
const noticed = 0.05

// On is a rider in one posture of a measured bike.
func (s *Segments) On(pos *locate.Position, l *assembly.Layout, h Habits) Stage {
	return s.stage("", Place{Sit: pos.Sit.At, Crank: l.Bike.Feet.Crank, Sole: l.Bike.Feet.SoleHeight, Pitch: h.Pitch,
		Hands: h.hands(pos.Hands, l), Widths: widths(l, pos.Hands.Name)})
}

func (s *Segments) stage(cause string, f Place) Stage {
	st := Stage{Cause: cause, Place: f}
	st.Numbers, st.Err = s.Turn(f)
	return st
}

// Carried follows a carry step by step: the source; the wanted place under the target's crank and pedals; with what
// is left over at the saddle; with what is left over at the hands, which is the target as set up. A step that changes
// nothing is left out, but there is always one. padsApart is the spacing of the target's pads as set up, mm; 0: its file's.
func (s *Segments) Carried(from Stage, c *carry.Solution, padsApart float64, h Habits) []Stage {
	stages := []Stage{from}
	target := c.Target.Feet
	sit, hands := &c.Contacts[0], &c.Contacts[1]
	f := from.Place
	wide := widths(c.Placement.Layout, hands.Want.Name)
	if padsApart > 0 {
		wide.Hands = padsApart
	}
	next := func(cause string, changed bool) {
		if changed {
			stages = append(stages, s.stage(cause, f))
		}
	}
	var causes []string
	cause := func(what string, was, is float64) {
		if was != is {
			causes = append(causes, fmt.Sprintf("%s %s instead of %s mm", what, mm(is), mm(was)))
		}
	}
	cause("crank", f.Crank, c.Want.Crank)
	cause("pedal axle to foot", f.Sole, target.SoleHeight)
	if f.Widths.QFactor > 0 && wide.QFactor > 0 {
		cause("Q-factor", f.Widths.QFactor, wide.QFactor)
	}
	f.Crank, f.Sole, f.Sit, f.Widths.QFactor = c.Want.Crank, target.SoleHeight, c.Want.Sit.At, wide.QFactor
	f.Hands = h.hands(c.Want.Hands, c.Placement.Layout)
	f.Hands.ElbowBehind = from.Place.Hands.ElbowBehind
	next(strings.Join(causes, ", "), len(causes) > 0)
	f.Sit = sit.Got.At
	next("the saddle is left "+left(sit), sit.Miss > noticed)
	changed := hands.Miss > noticed || math.Abs(hands.MissAngle) > plane.Rad(noticed)
	f.Hands = h.hands(hands.Got, c.Placement.Layout)
	next("the hands are left "+left(hands), changed)
	wider := f.Widths.Hands != wide.Hands && f.Widths.Hands > 0 && wide.Hands > 0
	f.Widths.Hands, f.Widths.Drops = wide.Hands, wide.Drops
	next(fmt.Sprintf("hands %s instead of %s mm apart", mm(wide.Hands), mm(from.Place.Widths.Hands)), wider && s.Shoulders.MM > 0)
	if len(stages) == 1 {
		stages = append(stages, s.stage("nothing differs", f))
	}
	return stages
}

// mm is a length as a tape reads it, to half a millimetre.
func mm(v float64) string { return strconv.FormatFloat(math.Round(2*v)/2, 'f', -1, 64) }

// left is how far off its place a contact is left: "3.5 mm off", "2.0° off".
func left(c *carry.Carried) string {
	var list []string
	if text := mm(c.Miss); text != "0" {
		list = append(list, text+" mm")
	}
	if a := math.Abs(plane.Deg(c.MissAngle)); a > noticed {
		list = append(list, fmt.Sprintf("%.1f°", a))
	}
	if len(list) == 0 {
		return "hardly off"
	}
	return written.And(list) + " off"
}
