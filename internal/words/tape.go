package words

import (
	"fmt"
	"math"

	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/job"
	"carryover/internal/plane"
)

// What a tape or a level may be off a step's reading and still be good: as finely as they are read.
const goodMM, goodDegrees = 1.0, 0.3

// Taped answers a step's reading, mm or degrees as it was read: whether it is good, else how far to move what, and to which mark.
func Taped(r *job.Result, step carry.Step, read float64) (answer string, good bool) {
	want, tolerance := gauge(step.Gauge, step.Value), goodMM
	if want.Turns() {
		read, tolerance = plane.Rad(read), plane.Rad(goodDegrees)
	}
	off := read - want.Value()
	if math.Abs(off) <= tolerance {
		return "Good.", true
	}
	signed := read
	if !want.Turns() && step.Value < 0 {
		signed = -read // the words say which way
	}
	i, by, ok := r.Mend(step, signed)
	if !ok {
		return fmt.Sprintf("%s off: look at this step again.", Size(want.Of(off))), false
	}
	set := r.Settings[i]
	text := Size(quantityOf(set, by)) + " " + set.Towards(by)
	if a := scaled(r.Target, set); a != nil {
		to := set.Mark() + by/a.Unit
		if a.Step > 0 {
			to = set.Mark() + math.Round(by/a.Unit/a.Step)*a.Step
			if math.Abs(to-set.Mark()) < a.Step/2 {
				return "Good: no step is nearer.", true
			}
		}
		text += ": to " + Mark(a, to)
	}
	const rare, slack = 4, 3 // times what is known to be unsure, and tolerances beside it
	if math.Abs(off) > rare*step.Sigma+slack*tolerance && scaled(r.Target, set) != nil {
		return fmt.Sprintf("Scale and tape disagree by %s: measure it again. If the tape stays so, %s.", Size(want.Of(off)), text), false
	}
	return text + ".", false
}

// Typed is what was read where a reading should show a value, mm or degrees, as a reading of the target with a number of its own.
func Typed(of bike.Reading, should, read float64, no int) bike.Reading {
	of.Index, of.Written, of.Value, of.Sigma = no, Called(of), read, of.UsualSigma()
	switch {
	case of.Kind == bike.Angle:
		of.Value = plane.Rad(read)
	case should < 0:
		of.Value = -read // the words say which way
	}
	return of
}

// Checked answers a reading of the finished bike: good, or by how much it is off.
func Checked(c carry.Check, read float64) (answer string, good bool) {
	want, tolerance := quantity(c.Reading, c.Value), goodMM
	if want.Turns() {
		read, tolerance = plane.Rad(read), plane.Rad(goodDegrees)
	}
	off := read - want.Value()
	if math.Abs(off) <= math.Max(tolerance, c.Sigma) {
		return "Good.", true
	}
	return Size(want.Of(off)) + map[bool]string{true: " more", false: " less"}[off > 0] + " than it should be.", false
}

// Should is what a reading of the finished bike is called, and what it should show.
func Should(c carry.Check) (name, value string) {
	return Called(c.Reading), Sure(quantity(c.Reading, c.Value), c.SigmaTotal)
}
