package words

import (
	"math"

	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// FromTheSide says what a side view shows, of one bike or of both.
func FromTheSide(both bool) string {
	return either(both, "Both bikes seen from the drive side, to scale, laid over each other at the BB; front to the right.",
		"The bike seen from the drive side, to scale; front to the right.")
}

// Dimensioned are the customary numbers of a bike in a picture and its crank, mm; a number that is NaN is not known.
func Dimensioned(name string, hands bike.Contact, of func(carry.Measure) float64, crank float64) string {
	text := name + ": "
	for _, m := range []carry.Measure{carry.SaddleHeight, carry.Setback, carry.Reach, carry.Drop} {
		if v := of(m); !math.IsNaN(v) {
			text += Measure(m, hands) + " " + MM(v) + ", "
		}
	}
	return text + "crank " + MM(crank) + "."
}

// Arrived says what became of a contact.
func Arrived(c carry.Carried) string {
	return "The " + Touched(c.Got.Name) + ": " + either(c.Carried, "carried.", MM(c.Miss)+" off.")
}

// FromAbove says what a view of saddles shows: laid over each other where both carry the rider.
const FromAbove = "Seen from above, to scale, where the saddle carries the rider on one upright line; front to the right."

// Carries is a saddle from above with the place where it carries a rider, mm behind its nose, on a support of a width, mm.
func Carries(name string, s *saddle.Shape, station, support float64) string {
	_, widest := s.Widest()
	return name + ": " + MM(s.Length) + " long, " + MM(widest) + " at its widest; it carries " + MM(station) + " behind its nose." +
		either(widest < support, " It is nowhere as wide as the support.", "")
}

// OverEachOther tells what a second saddle does to the usual numbers, laid over a first one where both are equally wide, mm behind
// their noses; fit says how the second is as wide there.
func OverEachOther(a, b string, first, second *saddle.Shape, at, there float64, fit saddle.Meeting) []string {
	width := MM(first.Width(at))
	sits := "Sitting where both are " + width + " wide: " + MM(at) + " behind the nose of " + a + ", " + MM(there) + " behind the nose of " +
		b + "."
	switch fit {
	case saddle.TooNarrow:
		sits = b + " is nowhere " + width + " wide: its widest place stands in for it."
	case saddle.AtNose:
		sits = b + " is wider than " + width + " at its very nose."
	}
	longer := there - at
	nose := "The nose of " + b + " is " + MM(math.Abs(longer)) + either(longer > 0, " further forward", " further back") +
		": with the same setback at the nose you would sit that much too far " + either(longer > 0, "back.", "forward.")
	if None(plane.Length(longer)) {
		nose = "Both noses are equally far ahead of you: the same setback at the nose fits."
	}
	up := second.Loaded(there).Y - second.Top(second.Length/2) - (first.Loaded(at).Y - first.Top(first.Length/2))
	middle := "Measured to the middle of the saddle, on " + b + " you sit " +
		either(None(plane.Length(up)), "equally high", MM(math.Abs(up))+either(up > 0, " higher", " lower")) + " for the same saddle height."
	return []string{sits, nose, middle}
}
