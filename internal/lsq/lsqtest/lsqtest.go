// Package lsqtest is what tests ask of an adjustment that no one else does.
package lsqtest

import "math"

// JacobianError compares a model's derivatives at x with central differences (step 1e-5 of scale; nil: all 1) and returns the
// largest difference, relative to the largest derivative by that parameter or, where those are small, to the change of one
// observation uncertainty per scale.
func JacobianError(model func(x, f, jac []float64), x, sigmas, scale []float64) (worst float64) {
	m, n := len(sigmas), len(x)
	jac, scratch := make([]float64, m*n), make([]float64, m*n)
	low, high := make([]float64, m), make([]float64, m)
	model(x, low, jac)
	x = append([]float64(nil), x...)
	for j := range n {
		unit, at := 1.0, x[j]
		if scale != nil {
			unit = scale[j]
		}
		h := 1e-5 * unit
		x[j] = at + h
		clear(scratch)
		model(x, high, scratch)
		x[j] = at - h
		clear(scratch)
		model(x, low, scratch)
		x[j] = at
		size := 1.0
		for i := range m {
			size = max(size, math.Abs(jac[i*n+j])*unit/sigmas[i])
		}
		for i := range m {
			d := (high[i]-low[i])/(2*h) - jac[i*n+j]
			worst = max(worst, math.Abs(d)*unit/sigmas[i]/size)
		}
	}
	return worst
}
