package locate

import (
	"errors"
	"fmt"
	"math/rand/v2"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/lsq"
)

// ErrNoFit is what Draw wraps when the drawn readings cannot be adjusted.
var ErrNoFit = errors.New("locate: the drawn readings have no adjustment")

// Sampler draws positions: every observation around its value with its standard uncertainty (normal),
// adjusted anew. One goroutine at a time.
type Sampler struct {
	touch   touch
	model   *model
	problem lsq.Problem
	centre  []float64
	at      *assembly.Placement
	work    lsq.Workspace
}

// Sampler returns a sampler of one posture. The suspects stay aside.
func (a *Adjustment) Sampler(p bike.Posture) (*Sampler, error) {
	t, err := a.touched(p)
	if err != nil {
		return nil, err
	}
	s := &Sampler{touch: t, model: a.model, problem: a.problem(), at: a.standing(a.solution().X)}
	s.centre = s.problem.Values
	s.problem.Values = make([]float64, len(s.centre))
	s.problem.Aside = a.aside()
	s.problem.Start = a.solution().X
	// A step of 1e-5 standard uncertainties is far below what a draw can show.
	s.problem.Tolerance, s.problem.MaxIterations = 1e-5, 50
	return s, nil
}

// Draw returns the next position; its covariance is zero. Readings drawn so far apart that no bike comes near
// them give an error wrapping ErrNoFit.
func (s *Sampler) Draw(r *rand.Rand) (Position, error) {
	for i, v := range s.centre {
		s.problem.Values[i] = v + s.problem.Sigmas[i]*r.NormFloat64()
	}
	x, status, err := lsq.Minimum(s.problem, &s.work)
	if err != nil {
		return Position{}, errors.Join(ErrNoFit, err)
	}
	if status != lsq.Converged {
		return Position{}, fmt.Errorf("%w: it ended early: %s", ErrNoFit, status)
	}
	s.model.chains[0].Stand(x, s.at)
	return s.touch.place(s.at), nil
}
