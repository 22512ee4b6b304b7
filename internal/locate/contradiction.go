package locate

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"carryover/internal/lsq"
	"carryover/internal/written"
)

// ContradictionError says that observations which nothing else checks cannot all be true: no bike has them,
// as a setback longer than the straight line from the BB.
type ContradictionError struct {
	Of           *Adjustment
	Observations []int
}

func (e *ContradictionError) Error() string { return e.Telling(e.Of.Called) }

// Telling is the message with observations as they are called there.
func (e *ContradictionError) Telling(called func(i int) string) string {
	var list []string
	for _, i := range e.Observations {
		v := e.Of.Observations[i].Value
		list = append(list, fmt.Sprintf("%s = %.1f%s", called(i), v.Shown(), map[bool]string{false: " mm", true: "°"}[v.Turns()]))
	}
	return fmt.Sprintf("%s: these cannot all be true, no bike has them: %s; measure them again",
		e.Of.model.layout.Bike.File, written.And(list))
}

const (
	// contradictory is how many of its sigma an observation that nothing checks may stay off. Where the model
	// can follow it, it stays off by nothing.
	contradictory = 3
	// alone is the redundancy below which nothing checks an observation.
	alone = 1e-6
	// involved is the share of the worst such residual, in sigmas, from which on an observation is named.
	involved = 0.02
)

// contradicted lists the observations that nothing checks and that are missed all the same.
//
// Redundancy at the solution cannot be asked: where readings contradict each other the minimum lies at a place
// at which two of them point the same way, and there they seem to check each other. It is taken at the start.
func (a *Adjustment) contradicted(p lsq.Problem) []int {
	list := a.missed(p, a.Search.Final, a.aside(), contradictory)
	if list == nil && len(a.found) > 0 {
		// A suspect that nothing checks once all are in is no outlier among others, however little it is off.
		all := a.missed(p, a.Search.All, p.Aside, 0)
		if slices.ContainsFunc(a.found, func(f Finding) bool { return slices.Contains(all, f.Observation) }) {
			list = all
		}
	}
	return list
}

// missed lists the observations that nothing checks and that a solution misses, one of them by more than least of its sigmas; nil
// when there are none.
func (a *Adjustment) missed(p lsq.Problem, s *lsq.Solution, aside []bool, least float64) []int {
	off := func(i int) float64 {
		if aside != nil && aside[i] {
			return 0
		}
		return math.Abs(s.Residuals[i]) / a.Observations[i].Sigma
	}
	bad := func(i int) bool { return off(i) > least }
	list := make([]int, len(a.Observations))
	for i := range list {
		list[i] = i
	}
	if !slices.ContainsFunc(list, bad) {
		return nil
	}
	r := a.redundancyAtStart(p, aside)
	list = slices.DeleteFunc(list, func(i int) bool { return r == nil || r[i] >= alone })
	if !slices.ContainsFunc(list, bad) {
		return nil
	}
	worst := off(slices.MaxFunc(list, func(i, j int) int { return cmp.Compare(off(i), off(j)) }))
	return slices.DeleteFunc(list, func(i int) bool { return off(i) <= involved*worst })
}

// redundancyAtStart is the redundancy of every observation where the parts are looked for first, slightly
// turned: level there, a reading along a part would not see it turn. nil when that cannot be worked out.
func (a *Adjustment) redundancyAtStart(p lsq.Problem, aside []bool) []float64 {
	q := p
	q.Start = append([]float64(nil), p.Start...)
	for i, start := range a.model.starts {
		if start.Turns() {
			q.Start[i] += 0.05
		}
	}
	q.Values = make([]float64, len(p.Values))
	q.Model(q.Start, q.Values, make([]float64, len(p.Values)*len(q.Start)))
	q.Aside = aside
	s, err := lsq.Solve(q, nil)
	if err != nil {
		return nil
	}
	return s.Redundancy()
}
