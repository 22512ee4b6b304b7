package saddle

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/interp"
)

// The curve is gonum's, to the last bit but one.
func TestCurveIsFritschAndButlands(t *testing.T) {
	r := rand.New(rand.NewPCG(84, 0))
	for range 500 {
		var points [][2]float64
		var at, value []float64
		x := 0.0
		for range 2 + r.IntN(9) {
			points = append(points, [2]float64{x, float64(r.IntN(60)) - 20})
			at, value = append(at, x), append(value, points[len(points)-1][1])
			x += 1 + 40*r.Float64()
		}
		var want interp.FritschButland
		require.NoError(t, want.Fit(at, value))
		c := newCurve(points)
		for _, s := range append([]float64{at[0], at[len(at)-1], at[len(at)/2]}, at[len(at)-1]*r.Float64(), at[len(at)-1]*r.Float64()) {
			require.InDelta(t, want.Predict(s), c.height(s), 1e-12)
			require.InDelta(t, want.PredictDerivative(s), c.slope(s), 1e-12)
		}
	}
}
