package words

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/diag"
	"carryover/internal/job"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/written"
)

// observed is an observation as a person knows it: "reading 4 (reach at nose to hood)".
func observed(a *locate.Adjustment, i int) string {
	o := a.Observations[i]
	name := diag.Shorten(o.Name, 50)
	switch o.Origin {
	case locate.FromReading:
		return fmt.Sprintf("reading %d (%s)", o.Reading.Index, Called(*o.Reading))
	case locate.FromMark:
		return "the mark of " + name
	case locate.FromAnchor:
		return "the anchor " + name
	case locate.FromStated, locate.FromClipon:
		return o.Called + " as the file states it"
	}
	return o.Called + " as assumed"
}

// Finding tells a wrong reading, the same wherever it is told: what it is, the likely slip, and what else it may be.
func Finding(a *locate.Adjustment, f locate.Finding) string {
	of := func(v float64) plane.Quantity { return a.Observations[f.Observation].Written(v) }
	value := of(a.Observations[f.Observation].Value.Value())
	read := Trimmed(value.Shown(), 2) + NoBreak + "mm" // as it was read, not as a tape could have been
	if value.Turns() {
		read = Trimmed(value.Shown(), 2) + "°"
	}
	text := Sentence(fmt.Sprintf("%s, %s, does not fit the others, which say %s", observed(a, f.Observation), read, Sure(of(f.Others),
		f.Sigma)))
	if s := f.Likely(); s != nil {
		text += " It looks like " + slip(a, f, *s) + either(len(f.Slips) > 1, ", though another slip would explain it too.", ".")
	} else if len(f.Slips) > 0 {
		var list []string
		for _, s := range f.Slips {
			list = append(list, slip(a, f, s))
		}
		text += " Several slips would explain it alike: " + strings.Join(list, "; ") + "."
	}
	var also []string
	for _, i := range slices.Concat(f.Twins, f.Rivals) {
		also = append(also, observed(a, i))
	}
	if f.BBHeight > 0 {
		also = append(also, fmt.Sprintf("bb_height in [frame] (%s for %s)", Trimmed(*a.Placement.Bike.Frame.BBHeight, 1), Trimmed(f.BBHeight, 1)))
	}
	switch {
	case !f.Aside:
		text += fmt.Sprintf(" It may as well be %s that is wrong: none is left out. Measure these again.", written.Or(also))
	case len(also) > 0:
		text += fmt.Sprintf(" It is left out; hardly less likely it is %s that is wrong. Measure these again.", written.Or(also))
	default:
		text += " It is left out; measure it again."
	}
	for _, i := range slices.Concat([]int{f.Observation}, f.Twins, f.Rivals) {
		if a.Observations[i].Origin == locate.FromAnchor {
			return text + " If marks and tape are right, the anchor in the file is not: `carryover calibrate` learns it."
		}
	}
	return text
}

// Failure is an error as a person reads it, with readings by their names.
func Failure(err error) string {
	var c *locate.ContradictionError
	if errors.As(err, &c) {
		return c.Telling(func(i int) string { return observed(c.Of, i) })
	}
	return err.Error()
}

// slip is a slip in words, with whose it is where that is not the observation told of.
func slip(a *locate.Adjustment, f locate.Finding, s locate.Slip) string {
	if s.Observation == f.Observation {
		return s.Words
	}
	return observed(a, s.Observation) + ", " + s.Words
}

// Disagree reports whether readings contradict one another and nothing tells which are wrong; those of a bike that was not read do
// not.
func Disagree(a *locate.Adjustment) bool {
	return a != nil && slices.ContainsFunc(a.Findings(), func(f locate.Finding) bool { return !f.Aside })
}

// compromise reports whether where the parts lie is no more than a compromise between readings that disagree, which no ± counts.
func compromise(a *locate.Adjustment) bool { return Disagree(a) || !a.Global().Passed }

// Doubts are what speaks against a bike's readings: the wrong ones, what they disagree by together, and what no bike is
// likely to have; nothing of a bike that was not read.
func Doubts(a *locate.Adjustment) (list []string) {
	if a == nil {
		return nil
	}
	for _, f := range a.Findings() {
		list = append(list, Finding(a, f))
	}
	if t := a.Global(); !t.Passed && !Disagree(a) { // of those that do, each is told above
		list = append(list, fmt.Sprintf("Taken together the readings disagree by more than their ± allows, which %s. No single one stands out: "+
			"take all of them again, and see whether a part has another shape than its file says.", rarely(t.P)))
	}
	for _, text := range a.Implausible() {
		list = append(list, diag.Visible(Sentence(text)))
	}
	return list
}

// rarely says how seldom something of probability p happens to a good set of readings.
func rarely(p float64) string {
	const most = 1e6
	if p < 1/most {
		return "good readings hardly ever do"
	}
	return fmt.Sprintf("good readings do once in %s times", Thousands(1/p))
}

// Assumed are what was assumed of a bike.
func Assumed(a *locate.Adjustment) []string { return assumed(a.Trusted()) }

func assumed(list []string) (lines []string) {
	for _, t := range list {
		lines = append(lines, diag.Visible("Assumed: "+t+"."))
	}
	return lines
}

// of puts a name before each of some sentences.
func of(name string, list []string) (named []string) {
	for _, t := range list {
		named = append(named, name+": "+t)
	}
	return named
}

// once are all sentences of some lists, each told once.
func once(lists ...[]string) (all []string) {
	for _, t := range slices.Concat(lists...) {
		if !slices.Contains(all, t) {
			all = append(all, t)
		}
	}
	return all
}

// AllDoubts are what speaks against the readings that a result rests on, under the names of the bikes where it tells of two.
func AllDoubts(t job.Told) []string {
	var from, to *bike.Bike
	for _, r := range t.On {
		if r.Other {
			to = r.Bike
		} else {
			from = r.Bike
		}
	}
	var a, b string
	two := from != nil && to != nil
	if two {
		a, b = Names(from, to)
	}
	var lists [][]string
	for _, r := range t.On {
		list := Doubts(r.Adjusted)
		if two {
			list = of(either(r.Other, b, a), list)
		}
		lists = append(lists, list)
	}
	return once(lists...)
}

// AllAssumed are what was assumed of the bikes that a result rests on.
func AllAssumed(t job.Told) []string { return assumed(t.Assumptions) }

// Sound reports whether a posture is carried, from readings that agree.
func Sound(r *job.Result) bool { return r.Carried() && !disagree(r) }

// disagree reports whether the readings of either bike contradict one another.
func disagree(r *job.Result) bool {
	return Disagree(r.Source.Adjusted) || Disagree(r.Standing.Adjusted)
}
