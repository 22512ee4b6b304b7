package lsq

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// A step z of the bound goes the way that lowers |R z + q|^2 most: with J the weighted Jacobian in units of Scale and v the residuals,
// J'(J z + v) = -damping z, of length radius to a tenth or, undamped, shorter; and the fall it promises is |v|^2 - |J z + v|^2.
func TestAStepIsTheBestOfItsLength(t *testing.T) {
	const seed = 5
	t.Logf("seed %d", seed)
	r, w := rand.New(rand.NewPCG(seed, 3)), new(Workspace)
	undamped, damped := 0, 0
	for trial := range 400 {
		m, n := 1+r.IntN(8), 1+r.IntN(5)
		a, values, sigmas, scale := normals(r, m*n), normals(r, m), make([]float64, m), make([]float64, n)
		for i := range sigmas {
			sigmas[i] = math.Exp(r.NormFloat64())
		}
		for j := range scale {
			scale[j] = math.Exp(r.NormFloat64())
		}
		p := linear(a, values, sigmas, n)
		p.Scale = scale
		w.resize(m, n)
		clear(w.x)
		_, _, ok := w.evaluate(&p, w.x, w.f, w.jac, w.res)
		require.True(t, ok && w.factor(&p))
		radius := math.Exp(r.NormFloat64())
		damping, predicted := w.step(radius, []float64{0, math.Exp(2 * r.NormFloat64())}[r.IntN(2)])

		j, v, z := mat.NewDense(m, n, nil), mat.NewVecDense(m, w.res[:m]), mat.NewVecDense(n, nil)
		for k, at := range w.perm {
			z.SetVec(at, w.z[k])
			for i := range m {
				j.Set(i, at, a[i*n+at]*scale[at]/sigmas[i])
			}
		}
		var after, slope mat.VecDense
		after.MulVec(j, z)
		after.AddVec(&after, v)
		slope.MulVec(j.T(), &after)
		for k := range n {
			require.InDelta(t, -damping*z.AtVec(k), slope.AtVec(k), 1e-8*(1+mat.Norm(v, 2)*mat.Norm(j, 2)), "trial %d", trial)
		}
		require.InDelta(t, mat.Dot(v, v)-mat.Dot(&after, &after), predicted, 1e-8*(1+mat.Dot(v, v)), "trial %d", trial)
		if length := mat.Norm(z, 2); damping == 0 {
			undamped++
			require.LessOrEqual(t, length, 1.1*radius)
		} else {
			damped++
			require.InDelta(t, radius, length, 0.1*radius+1e-12, "trial %d", trial)
		}
	}
	assert.Greater(t, min(undamped, damped), 100)
}

// One parameter at x, an observation that reads x and should read far away, its derivative said to be c: a step far from
// the goal promises c times what it brings. Where the promise is kept the bound doubles, where half is kept it stays,
// where less than a quarter is kept it is quartered; and so it is where a step makes it worse and is not taken.
func TestTheBoundOfAStep(t *testing.T) {
	for _, c := range []struct {
		why         string
		start, goal float64
		slope       float64
		scale       float64
		tried       []float64
	}{
		{"kept, and the last step to the goal", 1, 100, 1, 1, []float64{1, 2, 4, 8, 16, 32, 64, 100}},
		{"more than kept", 0, 1e5, 0.5, 1, []float64{0, 1, 3, 7, 15, 31}},
		{"half kept", 0, 1e5, 2, 1, []float64{0, 1, 2, 3, 4}},
		{"an eighth kept", 0, 1e5, 8, 1, []float64{0, 1, 1.25, 1.3125}},
		{"not taken", 0, 1e5, -1, 1, []float64{0, -1, -0.25, -0.0625}},
		{"not taken, well within the bound", 0, 0.01, -1, 1, []float64{0, -0.01, -0.01, -0.0025, -0.000625}},
		{"the first by what the parameter is", 20, 1e5, 1, 1, []float64{20, 40, 80}},
		{"the first by what it usually is", 0, 1e5, 1, 5, []float64{0, 5, 15}},
		{"the first by what it is, in units of what it usually is", 20, 1e5, 1, 5, []float64{20, 40, 80}},
		{"a step all the way that halves what is left", 0, 1, 2, 1, []float64{0, 0.5, 0.75, 0.875}},
	} {
		t.Run(c.why, func(t *testing.T) {
			var tried []float64
			_, _, err := Minimum(Problem{Start: []float64{c.start}, Values: []float64{c.goal}, Sigmas: []float64{1}, Scale: []float64{c.scale},
				MaxIterations: len(c.tried), Model: func(x, f, jac []float64) {
					tried = append(tried, x[0])
					f[0], jac[0] = x[0], c.slope
				}}, new(Workspace))
			require.NoError(t, err)
			require.Len(t, tried, len(c.tried))
			for i, x := range c.tried {
				assert.InDelta(t, x, tried[i], 0.12*math.Abs(x), "trial %d", i) // a step is as long as its bound to a tenth
			}
		})
	}
}
