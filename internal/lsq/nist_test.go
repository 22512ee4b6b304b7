package lsq

import (
	"carryover/internal/lsq/lsqtest"
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// NIST Statistical Reference Datasets, Nonlinear Regression: data, both starts
// and certified values (parameters, their standard deviations scaled by the
// residual standard deviation, residual sum of squares).
type nistSet struct {
	name         string
	x, y         []float64
	starts       [2][]float64
	params, devs []float64
	rss          float64
	model        func(b []float64, x float64, grad []float64) float64
}

var nistSets = []nistSet{
	{
		name:   "DanWood",
		x:      []float64{1.309, 1.471, 1.490, 1.565, 1.611, 1.680},
		y:      []float64{2.138, 3.421, 3.597, 4.340, 4.882, 5.660},
		starts: [2][]float64{{1, 5}, {0.7, 4}},
		params: []float64{7.6886226176e-01, 3.8604055871e+00},
		devs:   []float64{1.8281973860e-02, 5.1726610913e-02},
		rss:    4.3173084083e-03,
		model: func(b []float64, x float64, g []float64) float64 {
			p := math.Pow(x, b[1])
			g[0], g[1] = p, b[0]*p*math.Log(x)
			return b[0] * p
		},
	},
	{
		name:   "Misra1a",
		x:      []float64{77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0},
		y:      []float64{10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78},
		starts: [2][]float64{{500, 1e-4}, {250, 5e-4}},
		params: []float64{2.3894212918e+02, 5.5015643181e-04},
		devs:   []float64{2.7070075241e+00, 7.2668688436e-06},
		rss:    1.2455138894e-01,
		model:  saturating,
	},
	{
		name:   "BoxBOD",
		x:      []float64{1, 2, 3, 5, 7, 10},
		y:      []float64{109, 149, 149, 191, 213, 224},
		starts: [2][]float64{{1, 1}, {100, 0.75}},
		params: []float64{2.1380940889e+02, 5.4723748542e-01},
		devs:   []float64{1.2354515176e+01, 1.0455993237e-01},
		rss:    1.1680088766e+03,
		model:  saturating,
	},
	{
		name:   "MGH09",
		x:      []float64{4, 2, 1, 0.5, 0.25, 0.167, 0.125, 0.1, 0.0833, 0.0714, 0.0625},
		y:      []float64{0.1957, 0.1947, 0.1735, 0.1600, 0.0844, 0.0627, 0.0456, 0.0342, 0.0323, 0.0235, 0.0246},
		starts: [2][]float64{{25, 39, 41.5, 39}, {0.25, 0.39, 0.415, 0.39}},
		params: []float64{1.9280693458e-01, 1.9128232873e-01, 1.2305650693e-01, 1.3606233068e-01},
		devs:   []float64{1.1435312227e-02, 1.9633220911e-01, 8.0842031232e-02, 9.0025542308e-02},
		rss:    3.0750560385e-04,
		model: func(b []float64, x float64, g []float64) float64 {
			top, bottom := x*x+x*b[1], x*x+x*b[2]+b[3]
			f := b[0] * top / bottom
			g[0], g[1], g[2], g[3] = top/bottom, b[0]*x/bottom, -f*x/bottom, -f/bottom
			return f
		},
	},
}

func saturating(b []float64, x float64, g []float64) float64 {
	e := math.Exp(-b[1] * x)
	g[0], g[1] = 1-e, b[0]*x*e
	return b[0] * (1 - e)
}

func (s nistSet) problem(start []float64) Problem {
	n := len(start)
	sigmas := make([]float64, len(s.x))
	for i := range sigmas {
		sigmas[i] = 1
	}
	scale := make([]float64, n)
	for j := range scale {
		scale[j] = math.Abs(start[j])
	}
	return Problem{Start: start, Values: s.y, Sigmas: sigmas, Scale: scale,
		Model: func(x, f, jac []float64) {
			for i, at := range s.x {
				f[i] = s.model(x, at, jac[i*n:(i+1)*n])
			}
		}}
}

func TestNISTCertifiedValues(t *testing.T) {
	for _, set := range nistSets {
		for k, start := range set.starts {
			t.Run(fmt.Sprintf("%s/start%d", set.name, k+1), func(t *testing.T) {
				p := set.problem(start)
				assert.Less(t, lsqtest.JacobianError(p.Model, start, p.Sigmas, p.Scale), 1e-7)
				s, err := Solve(p, nil)
				require.NoError(t, err)
				assert.Equal(t, Converged, s.Status)
				s0 := math.Sqrt(s.Chi2 / float64(s.DOF))
				for j := range set.params {
					assert.InEpsilon(t, set.params[j], s.X[j], 1e-8, "b%d", j+1)
					assert.InEpsilon(t, set.devs[j], s0*s.Sigma(j), 1e-7, "deviation of b%d", j+1)
				}
				assert.InEpsilon(t, set.rss, s.Chi2, 1e-9)
			})
		}
	}
}
