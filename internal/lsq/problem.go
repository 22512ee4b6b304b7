package lsq

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Problem is m observations of n parameters, minimized as
// chi2 = sum over used i of ((f_i(x) - Values[i]) / Sigmas[i])^2.
type Problem struct {
	// Start is the first guess of the parameters (n).
	Start []float64
	// Values and Sigmas are the observations and their standard uncertainties (m).
	Values, Sigmas []float64
	// Aside marks observations that take no part in the fit (m, or nil for
	// none). Their fitted values are then what the others predict.
	Aside []bool
	// Model writes the computed observations into f (m) and their derivatives
	// into jac (m x n, row-major, zero on entry). Solve always asks for both.
	Model func(x, f, jac []float64)
	// Scale is the typical size of each parameter (n, or nil for all 1). It is
	// the metric of the step bound, of the rank decision and of the
	// minimum-norm choice among equally good solutions.
	Scale []float64
	// MaxIterations bounds the model evaluations; 0 means 200.
	MaxIterations int
	// Tolerance is the greatest cosine between the weighted residuals and the
	// column space of the Jacobian at a minimum; 0 means 1e-10. The step then
	// left out is about Tolerance times the root of chi2, in standard
	// uncertainties of the parameters.
	Tolerance float64
}

// InputError says which field of a Problem cannot be used and why.
type InputError struct {
	Field  string
	Index  int // entry of the field, or -1 when it is the field as a whole
	Reason string
}

func (e *InputError) Error() string {
	if e.Index < 0 {
		return fmt.Sprintf("lsq: %s: %s", e.Field, e.Reason)
	}
	return fmt.Sprintf("lsq: %s[%d]: %s", e.Field, e.Index, e.Reason)
}

// ErrNotFinite is returned when the model, its derivatives or a statistic made
// from them is infinite or not a number where a result is needed.
var ErrNotFinite = errors.New("lsq: model values, derivatives or covariance not finite")

func (p *Problem) check() error {
	n, m := len(p.Start), len(p.Values)
	whole := func(field, reason string) error { return &InputError{field, -1, reason} }
	switch {
	case n == 0:
		return whole("Start", "no parameters")
	case m == 0:
		return whole("Values", "no observations")
	case len(p.Sigmas) != m:
		return whole("Sigmas", fmt.Sprintf("has %d entries for %d observations", len(p.Sigmas), m))
	case p.Aside != nil && len(p.Aside) != m:
		return whole("Aside", fmt.Sprintf("has %d entries for %d observations", len(p.Aside), m))
	case p.Scale != nil && len(p.Scale) != n:
		return whole("Scale", fmt.Sprintf("has %d entries for %d parameters", len(p.Scale), n))
	case p.Model == nil:
		return whole("Model", "missing")
	case p.MaxIterations < 0:
		return whole("MaxIterations", "negative")
	case p.Tolerance < 0 || p.Tolerance >= 1 || math.IsNaN(p.Tolerance):
		return whole("Tolerance", "outside 0 to 1")
	}
	for i, s := range p.Sigmas {
		if weight := 1 / sq(s); !(s > 0) || weight == 0 || weight-weight != 0 {
			return &InputError{"Sigmas", i, fmt.Sprintf("%g is not a positive number", s)}
		}
	}
	for i, s := range p.Scale {
		if !(s > 0) || math.IsInf(s, 0) {
			return &InputError{"Scale", i, fmt.Sprintf("%g is not a positive number", s)}
		}
	}
	for k, list := range [...][]float64{p.Values, p.Start} {
		if i := slices.IndexFunc(list, func(v float64) bool { return v-v != 0 }); i >= 0 {
			return &InputError{[...]string{"Values", "Start"}[k], i, fmt.Sprintf("%g is not finite", list[i])}
		}
	}
	return nil
}

func (p *Problem) scale(j int) float64 {
	if p.Scale == nil {
		return 1
	}
	return p.Scale[j]
}

func (p *Problem) used(i int) bool { return p.Aside == nil || !p.Aside[i] }
