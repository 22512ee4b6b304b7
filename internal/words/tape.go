package words

import (
	"fmt"
	"math"

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
