package locate

import (
	"errors"
	"fmt"
	"math/rand/v2"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/lsq"
)

// Rows returns the derivatives of the coordinates of a position (in the order of Position.Cov) by the
// unknowns of the adjustment, nil where there is no second contact.
func (a *Adjustment) Rows(p bike.Posture) ([Coordinates][]float64, error) {
	t, err := a.touched(p)
	if err != nil {
		return [Coordinates][]float64{}, err
	}
	return a.rows(t), nil
}

// Influence returns, for every observation, how far each coordinate of a position moves per mm or radian
// of its value: zero for one set aside. Σ (influence·sigma)² over the observations is the variance.
func (a *Adjustment) Influence(p bike.Posture) ([][Coordinates]float64, error) {
	rows, err := a.Rows(p)
	if err != nil {
		return nil, err
	}
	out := make([][Coordinates]float64, len(a.Observations))
	for i := range out {
		by := a.solution().Influence(i)
		for k, row := range rows {
			for j, v := range row {
				out[i][k] += v * by[j]
			}
		}
	}
	return out, nil
}

// ErrNoFit is what Draw wraps when the drawn readings cannot be adjusted.
var ErrNoFit = errors.New("locate: the drawn readings have no adjustment")

// Sampler draws positions: every observation around its value with its standard uncertainty (normal),
// adjusted anew. One goroutine at a time.
type Sampler struct {
	touch   touch
	model   *model
	problem lsq.Problem
	centre  []float64
	at      *assembly.Stance
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
	s.model.chains.Stand(x, s.at)
	return s.touch.place(s.at), nil
}
