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

// Answer is what a reading that was taken at a step means.
type Answer struct {
	Text    string
	Good    bool
	Setting int
	To      string // the mark to move the setting to; "" where it has none or nothing is to be moved
}

// Taped answers a step's reading, mm or degrees as it was read: whether it is good, else how far to move what, and to which mark.
// marks are where settings stand that were moved since, by their index.
func Taped(r *job.Result, step carry.Step, marks map[int]float64, read float64) Answer {
	want, tolerance := gauge(step.Gauge, step.Value.Value()), goodMM
	if want.Turns() {
		read, tolerance = plane.Rad(read), plane.Rad(goodDegrees)
	}
	off := read - want.Value()
	if math.Abs(off) <= tolerance {
		return Answer{Text: "Good.", Good: true}
	}
	signed := read
	if !want.Turns() && step.Value.Value() < 0 {
		signed = -read // the words say which way
	}
	i, by, ok := r.Mend(step, signed)
	if !ok {
		return Answer{Text: fmt.Sprintf("%s off: look at this step again.", Size(want.Of(off)))}
	}
	set := r.Settings[i]
	k := Answer{Setting: i, Text: Size(quantityOf(set, by)) + " " + set.Towards(by)}
	a := scaled(r.Target, set)
	if a == nil {
		k.Text += "."
		return k
	}
	at, moved := marks[i]
	if !moved {
		at = set.Mark()
	}
	to := at + by/a.Unit
	if a.Step > 0 {
		to = at + math.Round(by/a.Unit/a.Step)*a.Step
		if math.Abs(to-at) < a.Step/2 {
			return Answer{Text: "Good: no step is nearer.", Good: true}
		}
	}
	k.To = Mark(a, to)
	k.Text += ": to " + k.To
	const rare, slack = 4, 3 // times what is known to be unsure, and tolerances beside it
	if !moved && math.Abs(off) > rare*step.Sigma+slack*tolerance {
		k.Text = fmt.Sprintf("Scale and tape disagree by %s: measure it again. If the tape stays so, %s", Size(want.Of(off)), k.Text)
	}
	k.Text += "."
	return k
}

// Typed is what was read where a reading should show a value, mm or degrees, as a reading of the target with a number of its own.
func Typed(of bike.Reading, should plane.Quantity, read float64, no int) bike.Reading {
	of.Index, of.Written, of.Value, of.Sigma = no, Called(of), read, of.UsualSigma()
	switch {
	case should.Turns():
		of.Value = plane.Rad(read)
	case should.Value() < 0:
		of.Value = -read // the words say which way
	}
	return of
}

// Checked answers a reading of the finished bike: good, or by how much it is off.
func Checked(c carry.Check, read float64) (answer string, good bool) {
	want, tolerance := quantity(c.Reading, c.Value.Value()), goodMM
	if want.Turns() {
		read, tolerance = plane.Rad(read), plane.Rad(goodDegrees)
	}
	off := read - want.Value()
	if math.Abs(off) <= math.Max(tolerance, c.Sigma) {
		return "Good.", true
	}
	return Size(want.Of(off)) + either(off > 0, " more", " less") + " than it should be.", false
}

// Should is what a reading of the finished bike is called, and what it should show.
func Should(c carry.Check) (name, value string) {
	return CalledAt(c.Reading, c.Value.Value()), Sure(quantity(c.Reading, c.Value.Value()), c.SigmaTotal)
}

// Check is what a reading is called, how it is taken where the name does not say so, and what it shows.
func Check(r bike.Reading, value, sigma float64) (name, how, shows string) {
	name, how = Called(r), Reading(r, value)
	if name == how || Trade(r) == "" {
		name, how = how, ""
	}
	return name, how, Sure(quantity(r, value), sigma)
}
