package lsq

import (
	"carryover/internal/lsq/lsqtest"
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// linear is the problem f = A x with unit derivatives in a (m x n, row-major).
func linear(a, values, sigmas []float64, n int) Problem {
	return Problem{Start: make([]float64, n), Values: values, Sigmas: sigmas,
		Model: func(x, f, jac []float64) {
			copy(jac, a)
			for i := range f {
				f[i] = 0
				for j, v := range x {
					f[i] += a[i*n+j] * v
				}
			}
		}}
}

func normals(r *rand.Rand, k int) []float64 {
	v := make([]float64, k)
	for i := range v {
		v[i] = r.NormFloat64()
	}
	return v
}

// The hand-written factorization against gonum's full singular value
// decomposition, on random problems of every shape and rank.
func TestAgreesWithSVD(t *testing.T) {
	const seed = 20240611
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 1))
	ws := new(Workspace)
	for trial := range 300 {
		m, n := 1+r.IntN(30), 1+r.IntN(12)
		rank := 1 + r.IntN(min(m, n))
		left, right := normals(r, m*rank), normals(r, rank*n)
		a := make([]float64, m*n)
		for i := range m {
			for j := range n {
				for k := range rank {
					a[i*n+j] += left[i*rank+k] * right[k*n+j]
				}
			}
		}
		values, sigmas, scale := normals(r, m), make([]float64, m), make([]float64, n)
		for i := range sigmas {
			sigmas[i] = math.Exp(r.NormFloat64())
		}
		for j := range scale {
			scale[j] = math.Exp(r.NormFloat64())
		}
		p := linear(a, values, sigmas, n)
		p.Scale = scale
		s, err := Solve(p, ws)
		require.NoError(t, err)
		require.Equal(t, Converged, s.Status)

		weighted := mat.NewDense(m, n, nil)
		for i := range m {
			for j := range n {
				weighted.Set(i, j, a[i*n+j]*scale[j]/sigmas[i])
			}
		}
		var svd mat.SVD
		require.True(t, svd.Factorize(weighted, mat.SVDFull))
		sv := svd.Values(nil)
		var u, v mat.Dense
		svd.UTo(&u)
		svd.VTo(&v)
		want := 0
		for want < len(sv) && sv[want] > 1e-10*sv[0] {
			want++
		}
		require.Equal(t, want, s.Rank, "trial %d", trial)
		require.Len(t, s.Free, n-want)
		for j := range n {
			x, share := 0.0, 0.0
			for k := range want {
				dot := 0.0
				for i := range m {
					dot += u.At(i, k) * values[i] / sigmas[i]
				}
				x += scale[j] * v.At(j, k) * dot / sv[k]
			}
			for k := want; k < n; k++ {
				share += sq(v.At(j, k))
			}
			spread := scale[j] / sv[want-1]
			assert.InDelta(t, x, s.X[j], 1e-7*(1+spread), "trial %d", trial)
			assert.InDelta(t, share, s.FreeShare(j), 1e-7)
			for l := range n {
				c := 0.0
				for k := range want {
					c += scale[j] * scale[l] * v.At(j, k) * v.At(l, k) / sq(sv[k])
				}
				assert.InDelta(t, c, s.Cov[j*n+l], 1e-7*(1+scale[j]*scale[l]/sq(sv[want-1])))
			}
		}
		sum := 0.0
		for i, ri := range s.Redundancy() {
			h := 0.0
			for k := range want {
				h += sq(u.At(i, k))
			}
			assert.InDelta(t, 1-h, ri, 1e-9)
			sum += ri
		}
		assert.InDelta(t, float64(s.DOF), sum, 1e-9)
		assert.Equal(t, m-want, s.DOF)
	}
}

// An observation set aside reports what it would if it were the only one put back.
func TestAsideIsJudgedAsIfPutBack(t *testing.T) {
	p := ghilaniLevelling()
	with := solved(t, p)
	for i := range p.Values {
		p.Aside = make([]bool, len(p.Values))
		p.Aside[i] = true
		without := solved(t, p)
		assert.Equal(t, with.DOF-1, without.DOF)
		assert.InDelta(t, with.Redundancy()[i], without.Redundancy()[i], 1e-12)
		assert.InDelta(t, with.Normalized()[i], without.Normalized()[i], 1e-9)
		assert.InDelta(t, with.Chi2-sq(with.Normalized()[i]), without.Chi2, 1e-9)
		a, sa, ok := with.Others(i)
		require.True(t, ok)
		b, sb, _ := without.Others(i)
		assert.InDelta(t, b, a, 1e-9)
		assert.InDelta(t, sb, sa, 1e-12)
		assert.InDelta(t, without.Propagate(without.Row(i)), sb, 1e-12)
	}
}

func TestInfluenceIsTheDerivativeOfTheParameters(t *testing.T) {
	p := trilateration(strangPoints, 1, strangDistances)
	// Consistent readings: then the linear influence is the exact derivative.
	f, jac := make([]float64, 3), make([]float64, 6)
	p.Model(p.Start, f, jac)
	p.Values = f
	s := solved(t, p)
	for i := range p.Values {
		const h = 1e-4
		q := p
		q.Values = slices.Clone(p.Values)
		q.Values[i] += h
		high := solved(t, q)
		q.Values[i] -= 2 * h
		low := solved(t, q)
		for j, d := range s.Influence(i) {
			assert.InDelta(t, (high.X[j]-low.X[j])/(2*h), d, 1e-6)
		}
	}
}

func TestExactFitConverges(t *testing.T) {
	p := trilateration(strangPoints, 1, strangDistances[:2])
	s := solved(t, p)
	assert.Equal(t, 0, s.DOF)
	assert.Less(t, s.Chi2, 1e-18)
	assert.Equal(t, 1.0, s.PValue())
	for _, r := range s.Redundancy() {
		assert.InDelta(t, 0, r, 1e-12)
	}
	assert.Equal(t, []float64{0, 0}, s.Normalized())
	_, _, ok := s.Others(0)
	assert.False(t, ok)
}

func TestOneDistanceLeavesTheCircle(t *testing.T) {
	s := solved(t, trilateration(strangPoints, 1, strangDistances[:1]))
	assert.Equal(t, 1, s.Rank)
	require.Len(t, s.Free, 1)
	assert.InDelta(t, 1, math.Abs(s.Free[0][0]), 1e-12, "along x, square to the distance")
	assert.InDelta(t, 1, s.FreeShare(0), 1e-12)
	assert.InDelta(t, 0, s.FreeShare(1), 1e-12)
	assert.InDelta(t, 100.01, s.Fitted[0], 1e-9)
	assert.False(t, s.Estimable([]float64{1, 0}))
	assert.True(t, s.Estimable([]float64{0, 1}))
}

// Two parameters that the readings only see the sum of, whatever the unit of their uncertainty: what is left free does not depend
// on it.
func TestRankDoesNotDependOnTheUnit(t *testing.T) {
	for _, unit := range []float64{1e-9, 1e-3, 1, 1e3, 1e9} {
		a, sigmas := []float64{1, 1, 1. / 3, 1. / 3, 0.7, 0.7}, []float64{unit, unit, unit}
		s := solved(t, linear(a, []float64{3, 1, 2.1}, sigmas, 2))
		assert.Equal(t, 1, s.Rank, "%g", unit)
		assert.InDelta(t, 0.5, s.FreeShare(0), 1e-9, "%g", unit)
		assert.Equal(t, 1, newReduction(s, nil).m-newReduction(s, nil).dof(), "%g", unit)
	}
}

// Columns are exchanged so that the diagonal never grows, however the columns are graded: rank is decided by it.
func TestTheDiagonalNeverGrows(t *testing.T) {
	const seed = 8
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 4))
	for trial := range 300 {
		rows, cols := 6+r.IntN(6), 2+r.IntN(5)
		a := normals(r, rows*cols)
		for j := range cols {
			if j > 0 && r.IntN(2) == 0 { // nearly that before it, so that what is left of it is small
				for i := range rows {
					a[j*rows+i] = a[(j-1)*rows+i] + math.Pow(10, -9*r.Float64())*a[j*rows+i]
				}
			}
			for i, scale := 0, math.Pow(10, 4*r.Float64()-2); i < rows; i++ {
				a[j*rows+i] *= scale
			}
		}
		householder(a, rows, cols, make([]float64, cols), make([]int, cols), make([]float64, cols), make([]float64, cols))
		for k := 1; k < cols; k++ {
			require.LessOrEqual(t, math.Abs(a[k*rows+k]), (1+1e-4)*math.Abs(a[(k-1)*rows+k-1])+1e-13, "trial %d, column %d", trial, k)
		}
	}
}

func TestStatus(t *testing.T) {
	p := nistSets[3].problem(nistSets[3].starts[0])
	p.MaxIterations = 5
	s, err := Solve(p, nil)
	require.NoError(t, err)
	assert.Equal(t, MaxIterations, s.Status)

	wrong := Problem{Start: []float64{1}, Values: []float64{3}, Sigmas: []float64{1},
		Model: func(x, f, jac []float64) { f[0], jac[0] = x[0], -1 }}
	assert.Greater(t, lsqtest.JacobianError(wrong.Model, wrong.Start, wrong.Sigmas, nil), 1.0)
	s, err = Solve(wrong, nil)
	require.NoError(t, err)
	assert.Equal(t, Stalled, s.Status)
	assert.Equal(t, []float64{1}, s.X)
	assert.Equal(t, []string{"converged", "iteration bound reached", "stalled"},
		[]string{Converged.String(), MaxIterations.String(), Stalled.String()})
}

// A model that has no slope on one side of a wall, though it has a value there that fits better: steps into it are shortened too.
func TestATrialWithoutASlopeIsRejected(t *testing.T) {
	p := Problem{Start: []float64{4}, Scale: []float64{1000}, Values: []float64{0.1}, Sigmas: []float64{1},
		Model: func(x, f, jac []float64) {
			if f[0] = math.Sqrt(math.Abs(x[0])); x[0] < 0 {
				f[0] /= 2
			}
			jac[0] = 0.5 / math.Sqrt(x[0])
		}}
	s, err := Solve(p, nil)
	require.NoError(t, err)
	assert.Equal(t, Converged, s.Status)
	assert.InDelta(t, 0.01, s.X[0], 1e-9)
}

// A model undefined on one side of a wall: steps into it are shortened.
func TestNotFiniteTrialIsRejected(t *testing.T) {
	p := Problem{Start: []float64{10}, Values: []float64{-5}, Sigmas: []float64{1},
		Model: func(x, f, jac []float64) { f[0], jac[0] = math.Log(x[0]), 1/x[0] }}
	s := solved(t, p)
	assert.InEpsilon(t, math.Exp(-5), s.X[0], 1e-9)
}

func TestContradictoryTightReadings(t *testing.T) {
	p := linear([]float64{1, 1}, []float64{0, 100}, []float64{1e-9, 1e-9}, 1)
	s := solved(t, p)
	assert.InDelta(t, 50, s.X[0], 1e-9)
	assert.Less(t, s.PValue(), 1e-12)
}

func TestThousandReadings(t *testing.T) {
	const seed, m = 7, 1000
	r := rand.New(rand.NewPCG(seed, 2))
	a, values, sigmas := normals(r, m*20), normals(r, m), make([]float64, m)
	for i := range sigmas {
		sigmas[i] = 1
	}
	for _, i := range []int{10, 500, 999} {
		values[i] += 15
	}
	found, err := Robust(linear(a, values, sigmas, 20), nil, 1e-6, nil)
	require.NoError(t, err)
	assert.ElementsMatch(t, []int{10, 500, 999}, indices(found), "seed %d", seed)
	assert.Equal(t, 977, found.Final.DOF)
}

func TestInputErrors(t *testing.T) {
	for name, c := range map[string]struct {
		spoil func(p *Problem)
		field string
		index int
	}{
		"no parameters":           {func(p *Problem) { p.Start = nil }, "Start", -1},
		"no observations":         {func(p *Problem) { p.Values = nil }, "Values", -1},
		"sigma missing":           {func(p *Problem) { p.Sigmas = p.Sigmas[:2] }, "Sigmas", -1},
		"sigma zero":              {func(p *Problem) { p.Sigmas[2] = 0 }, "Sigmas", 2},
		"sigma negative":          {func(p *Problem) { p.Sigmas[1] = -1 }, "Sigmas", 1},
		"sigma NaN":               {func(p *Problem) { p.Sigmas[0] = math.NaN() }, "Sigmas", 0},
		"sigma whose square is 0": {func(p *Problem) { p.Sigmas[0] = 1e-200 }, "Sigmas", 0},
		"sigma infinite":          {func(p *Problem) { p.Sigmas[0] = math.Inf(1) }, "Sigmas", 0},
		"value NaN":               {func(p *Problem) { p.Values[1] = math.NaN() }, "Values", 1},
		"start infinite":          {func(p *Problem) { p.Start[0] = math.Inf(-1) }, "Start", 0},
		"scale zero":              {func(p *Problem) { p.Scale = make([]float64, 3) }, "Scale", 0},
		"scale short":             {func(p *Problem) { p.Scale = []float64{1} }, "Scale", -1},
		"aside short":             {func(p *Problem) { p.Aside = []bool{true} }, "Aside", -1},
		"no model":                {func(p *Problem) { p.Model = nil }, "Model", -1},
		"tolerance NaN":           {func(p *Problem) { p.Tolerance = math.NaN() }, "Tolerance", -1},
		"iterations below 0":      {func(p *Problem) { p.MaxIterations = -1 }, "MaxIterations", -1},
	} {
		t.Run(name, func(t *testing.T) {
			p := ghilaniLevelling()
			c.spoil(&p)
			_, err := Solve(p, nil)
			var input *InputError
			require.True(t, errors.As(err, &input), "%v", err)
			assert.Equal(t, c.field, input.Field)
			assert.Equal(t, c.index, input.Index)
		})
	}
	p := ghilaniLevelling()
	p.Model = func(x, f, jac []float64) { f[0] = math.NaN() }
	_, err := Solve(p, nil)
	assert.ErrorIs(t, err, ErrNotFinite)
	_, err = Robust(ghilaniLevelling(), nil, 0, nil)
	assert.ErrorContains(t, err, "alpha")
	_, err = Robust(ghilaniLevelling(), []bool{true}, 0.1, nil)
	assert.ErrorContains(t, err, "candidates")
	assert.EqualError(t, &InputError{"Sigmas", 2, "0 is not a positive number"}, "lsq: Sigmas[2]: 0 is not a positive number")
}

// All observations aside: nothing is known, nothing breaks.
func TestEverythingAside(t *testing.T) {
	p := ghilaniLevelling()
	p.Aside = slices.Repeat([]bool{true}, len(p.Values))
	s, err := Solve(p, nil)
	require.NoError(t, err)
	assert.Equal(t, 0, s.Rank)
	assert.Len(t, s.Free, 3)
	assert.Equal(t, p.Start, s.X)
	assert.Equal(t, make([]float64, 6), s.Normalized())
}

func TestFitIsSolveWithoutStatistics(t *testing.T) {
	const seed = 16
	r, ws := rand.New(rand.NewPCG(seed, 8)), new(Workspace)
	for _, net := range []tapeNetwork{newTapeNetwork(3, false), newTapeNetwork(4, true), newTapeNetwork(2, false)} {
		p := net.measure(r)
		s, err := Solve(p, nil)
		require.NoError(t, err)
		x, status, err := Minimum(p, ws)
		require.NoError(t, err)
		assert.Equal(t, Converged, status)
		assert.Equal(t, s.X, x, "seed %d", seed)
		assert.Zero(t, testing.AllocsPerRun(10, func() { _, _, _ = Minimum(p, ws) }))
	}
	_, _, err := Minimum(Problem{}, ws)
	var input *InputError
	assert.ErrorAs(t, err, &input)
}
