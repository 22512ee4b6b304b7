package lsq

import (
	"carryover/internal/lsq/lsqtest"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Networks from textbooks, as collected in F. Krumm, "Geodetic Network
// Adjustment Examples", Univ. Stuttgart, rev. 3.5 (2020). Where the book prints
// fewer digits than are asserted, the rest were recomputed by an independent
// Gauss-Newton program. s0 is the a posteriori standard deviation of unit weight.

type difference struct {
	from, to     int // -1 is the fixed benchmark
	value, sigma float64
}

func levelling(n int, benchmark, start float64, obs []difference) Problem {
	p := Problem{Start: make([]float64, n)}
	for j := range p.Start {
		p.Start[j] = start
	}
	for _, o := range obs {
		p.Values = append(p.Values, o.value)
		p.Sigmas = append(p.Sigmas, o.sigma)
	}
	p.Model = func(x, f, jac []float64) {
		clear(f)
		for i, o := range obs {
			for _, end := range []struct {
				at   int
				sign float64
			}{{o.to, 1}, {o.from, -1}} {
				if end.at < 0 {
					f[i] += end.sign * benchmark
					continue
				}
				f[i] += end.sign * x[end.at]
				jac[i*n+end.at] = end.sign
			}
		}
	}
	return p
}

type distance struct {
	a, b         int
	value, sigma float64
}

// trilateration takes the points in order, the first free ones being parameters.
func trilateration(points [][2]float64, free int, obs []distance) Problem {
	p := Problem{}
	for _, at := range points[:free] {
		p.Start = append(p.Start, at[0], at[1])
	}
	for _, o := range obs {
		p.Values = append(p.Values, o.value)
		p.Sigmas = append(p.Sigmas, o.sigma)
	}
	n := 2 * free
	p.Model = func(x, f, jac []float64) {
		at := func(k int) (float64, float64) {
			if k < free {
				return x[2*k], x[2*k+1]
			}
			return points[k][0], points[k][1]
		}
		for i, o := range obs {
			ax, ay := at(o.a)
			bx, by := at(o.b)
			f[i] = math.Hypot(bx-ax, by-ay)
			cx, cy := (bx-ax)/f[i], (by-ay)/f[i]
			if o.a < free {
				jac[i*n+2*o.a], jac[i*n+2*o.a+1] = -cx, -cy
			}
			if o.b < free {
				jac[i*n+2*o.b], jac[i*n+2*o.b+1] = cx, cy
			}
		}
	}
	return p
}

func solved(t *testing.T, p Problem) *Solution {
	t.Helper()
	require.Less(t, lsqtest.JacobianError(p.Model, p.Start, p.Sigmas, p.Scale), 1e-6)
	s, err := Solve(p, nil)
	require.NoError(t, err)
	require.Equal(t, Converged, s.Status)
	return s
}

func (s *Solution) s0() float64 { return math.Sqrt(s.Chi2 / float64(s.DOF)) }

func deviations(s *Solution) []float64 {
	d := make([]float64, len(s.X))
	for j := range d {
		d[j] = s.s0() * s.Sigma(j)
	}
	return d
}

// C. Ghilani, Adjustment Computations, 5th ed. (2010), Ex. 12.6, p. 218.
func ghilaniLevelling() Problem {
	return levelling(3, 437.596, 0, []difference{
		{-1, 0, 10.509, 0.006}, {0, 1, 5.360, 0.004}, {1, 2, -8.523, 0.005},
		{2, -1, -7.348, 0.003}, {0, 2, -3.167, 0.004}, {-1, 1, 15.881, 0.012}})
}

func TestLevellingGhilani(t *testing.T) {
	s := solved(t, ghilaniLevelling())
	assert.InDeltaSlice(t, []float64{448.108712, 453.468468, 444.943605}, s.X, 6e-7)
	assert.InDeltaSlice(t, []float64{2.2953e-3, 2.6363e-3, 1.7607e-3}, deviations(s), 6e-8)
	assert.Equal(t, 3, s.DOF)
	assert.InDelta(t, 1.272123, s.Chi2, 6e-7)
	assert.InDelta(t, 0.651184, s.s0(), 6e-7)
	assert.InDeltaSlice(t, []float64{3.7117e-3, -0.2439e-3, -1.8625e-3, 0.3947e-3, 1.8936e-3, -8.5322e-3}, s.Residuals, 6e-8)
	assert.InDeltaSlice(t, []float64{0.6549, 0.3294, 0.5092, 0.1877, 0.4326, 0.8862}, s.Redundancy(), 6e-5)
}

// G. Strang & K. Borre, Linear Algebra, Geodesy and GPS (1997), Ex. 10.1 / 12.4.
var (
	strangPoints    = [][2]float64{{170.71, 170.71}, {170.71, 270.71}, {100, 100}, {241.42, 100}}
	strangDistances = []distance{{0, 1, 100.01, 0.01}, {0, 2, 100.02, 0.01}, {0, 3, 100.03, 0.01}}
)

func TestTrilaterationStrangBorre(t *testing.T) {
	s := solved(t, trilateration(strangPoints, 1, strangDistances))
	assert.InDeltaSlice(t, []float64{170.702925, 170.723357}, s.X, 6e-7)
	assert.InDelta(t, 3.302932, s.s0(), 6e-7)
	assert.InDeltaSlice(t, []float64{33.032e-3, 23.354e-3}, deviations(s), 6e-7)
	assert.InDeltaSlice(t, []float64{-23.356e-3, -16.516e-3, -16.512e-3}, s.Residuals, 6e-7)
	assert.InDeltaSlice(t, []float64{0.5, 0.25, 0.25}, s.Redundancy(), 6e-4)
	for _, w := range s.Normalized() {
		assert.InDelta(t, 1, w/s.s0(), 1e-6, "one redundancy: every tau is 1")
	}
}

func TestFreeNetworkStrangBorre(t *testing.T) {
	p := trilateration(strangPoints, 4, append(strangDistances[:3:3],
		distance{1, 2, 184.785, 0.01}, distance{2, 3, 141.44, 0.01}, distance{1, 3, 184.805, 0.01}))
	s := solved(t, p)
	assert.Equal(t, 5, s.Rank)
	assert.Equal(t, 1, s.DOF)
	require.Len(t, s.Free, 3)
	assert.InDeltaSlice(t, []float64{170.712266, 170.718530, 170.703203, 270.721332, 99.991212, 99.997140, 241.433319, 99.982998}, s.X, 6e-7)
	assert.InDelta(t, 1.176363, s.s0(), 6e-7)
	assert.InDeltaSlice(t, []float64{10.792e-3, 6.818e-3, 8.097e-3, 5.513e-3, 6.405e-3, 7.055e-3, 6.405e-3, 7.055e-3}, deviations(s), 6e-7)

	// The free directions span the two shifts and the turn, and nothing else.
	shiftX, shiftY, turn := make([]float64, 8), make([]float64, 8), make([]float64, 8)
	for k := range 4 {
		shiftX[2*k], shiftY[2*k+1] = 1, 1
		turn[2*k], turn[2*k+1] = -s.X[2*k+1], s.X[2*k]
	}
	for _, rigid := range [][]float64{shiftX, shiftY, turn} {
		inside := 0.0
		for _, d := range s.Free {
			dot := 0.0
			for j := range d {
				dot += d[j] * rigid[j]
			}
			inside += dot * dot
		}
		assert.InEpsilon(t, sumSquares(rigid), inside, 1e-12)
		assert.False(t, s.Estimable(rigid))
	}
	for i := range s.Fitted {
		assert.True(t, s.Estimable(s.Row(i)), "a distance does not feel the datum")
	}
	for a := range s.Free {
		for b := range s.Free {
			dot := 0.0
			for j := range 8 {
				dot += s.Free[a][j] * s.Free[b][j]
			}
			want := 0.0
			if a == b {
				want = 1
			}
			assert.InDelta(t, want, dot, 1e-12)
		}
	}
}

// W. Benning, Statistik in Geodäsie, Geoinformation und Bauwesen (2011), Ex. 8-2.
func TestQuadrilateralBenning(t *testing.T) {
	// 3, 4 free; 1, 2 fixed.
	s := solved(t, trilateration([][2]float64{{0, 0}, {1000, 0}, {0, 1000}, {1000, 1000}}, 2, []distance{
		{2, 0, 1000.02, 0.01}, {2, 1, 1414.20, 0.01}, {3, 0, 1414.24, 0.01}, {3, 1, 999.98, 0.01}, {0, 1, 1000.00, 0.01}}))
	assert.InDeltaSlice(t, []float64{-0.009585, -0.022601, 999.993016, 0.017399}, s.X, 6e-7)
	assert.InDelta(t, 0.688242, s.s0(), 6e-7)
	assert.InDeltaSlice(t, []float64{9.011e-3, 6.372e-3, 9.011e-3, 6.372e-3}, deviations(s), 6e-7)
}

// The same book, Ex. 8-8: the last distance is almost uncontrolled.
func TestWeakGeometryBenning(t *testing.T) {
	s := solved(t, trilateration([][2]float64{{2000, 2000}, {3000, 2000}, {1000, 2000}, {3000, 2100}, {1000, 2100}, {2000, 1000}}, 1,
		[]distance{
			{0, 1, 1000, 0.02}, {0, 2, 1000, 0.02}, {0, 3, 1005, 0.02}, {0, 4, 1005, 0.02}, {0, 5, 1000, 0.02}}))
	assert.InDeltaSlice(t, []float64{2000, 1999.997573}, s.X, 6e-7)
	assert.InDelta(t, 0.502821, s.s0(), 6e-7)
	assert.InDeltaSlice(t, []float64{5.041e-3, 9.958e-3}, deviations(s), 6e-7)
	assert.InDeltaSlice(t, []float64{0.7488, 0.7488, 0.7415, 0.7415, 0.0194}, s.Redundancy(), 6e-5)
}

// Ghilani (2010), Ex. 14.5, p. 251; d is the distance Badger-Wisconsin.
func ghilaniDistances(d float64) Problem {
	const wisconsin, campus, badger, bucky = 0, 1, 2, 3
	p := trilateration([][2]float64{{2415776.819, 391043.461}, {2416892.670, 387603.450}, {2410000, 390000}, {2411820, 386881.222}}, 2,
		[]distance{
			{badger, wisconsin, d, 0.01}, {badger, campus, 7297.588, 0.01}, {wisconsin, campus, 3616.434, 0.01},
			{wisconsin, bucky, 5742.878, 0.01}, {campus, bucky, 5123.760, 0.01}})
	p.Scale = []float64{1000, 1000, 1000, 1000}
	return p
}

func TestBlunderSeenButNotLocatedGhilani(t *testing.T) {
	p := ghilaniDistances(5870.302)
	s := solved(t, p)
	assert.InDeltaSlice(t, []float64{2415776.904378, 391043.294493, 2416892.695516, 387603.255128}, s.X, 1e-6)
	assert.InDelta(t, 13.590536, s.s0(), 1e-6)
	for _, w := range s.Normalized() {
		assert.InDelta(t, 1, w/s.s0(), 1e-5)
	}
	value, _, ok := s.Others(0)
	assert.True(t, ok)
	assert.InDelta(t, 0.3378, value-5870.302, 6e-5)
	found, err := Robust(p, nil, 0.001, nil)
	require.NoError(t, err)
	require.Len(t, found.Suspects, 1)
	assert.ElementsMatch(t, []int{0, 1, 2, 3, 4}, append(found.Suspects[0].Twins, found.Suspects[0].Index), "any of the five")
	found, err = Robust(ghilaniDistances(5870.640), nil, 0.001, nil)
	require.NoError(t, err)
	assert.Empty(t, found.Suspects)
	s = solved(t, ghilaniDistances(5870.640))
	assert.InDelta(t, 0.009202, s.s0(), 1e-6)
	assert.InDeltaSlice(t, []float64{2415777.233347, 391043.066836, 2416892.673974, 387602.952461}, s.X, 2e-6)
}

// W. Niemeier, Ausgleichungsrechnung (2008), p. 153; sigma 1 mm per sqrt(km).
func TestLevellingNiemeier(t *testing.T) {
	line := func(from, to int, value, km float64) difference {
		return difference{from, to, value, 0.001 * math.Sqrt(km)}
	}
	s := solved(t, levelling(5, 67.228, 60, []difference{
		line(0, 1, -8.206, 0.621118), line(0, 2, -5.734, 1.204819), line(1, 2, 2.481, 0.450450),
		line(1, 3, -4.433, 0.8), line(2, 3, -6.909, 1.0), line(2, 4, -18.872, 1.098901),
		line(2, -1, 4.035, 0.440529), line(3, 4, -11.962, 0.719424), line(4, -1, 22.904, 0.833333)}))
	assert.InDeltaSlice(t, []float64{68.923468, 60.715254, 63.193765, 56.283822, 44.322554}, s.X, 1e-6)
	assert.InDelta(t, 3.394176, s.s0(), 2e-6)
}

// E. Mikhail & F. Ackermann, Observations and Least Squares (1976), Ex. 9.1,
// p. 219, without its constraint; the digits are recomputed.
func TestThreeDistancesMikhailAckermann(t *testing.T) {
	s := solved(t, trilateration([][2]float64{{5, 5}, {0, 5}, {0, 0}, {5, 0}}, 1, []distance{
		{1, 0, 5.10, 1}, {2, 0, 7.07, 1}, {3, 0, 4.90, 1}}))
	assert.InDeltaSlice(t, []float64{5.098615, 4.898630}, s.X, 6e-7)
	assert.InDelta(t, 5.7005e-7, s.Chi2, 6e-12)
}
