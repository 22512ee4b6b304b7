package saddle

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/plane"
)

// flat is a profile that the straightedge touches everywhere.
func flat(length float64) [][2]float64 { return [][2]float64{{0, 0}, {length, 0}} }

func shape(t *testing.T, width [][2]float64) *Shape {
	t.Helper()
	length := width[len(width)-1][0]
	s, err := New(length, width, flat(length), 0, Rail{Height: 45, From: 90, To: 180})
	require.NoError(t, err)
	return s
}

// Data: Fritsch & Carlson 1980, SIAM J. Numer. Anal. 17:238-246, table RPN 14; slopes of Fritsch & Butland
// 1984 (three-point harmonic mean). The four-digit values are those published with the NAG E01BEF example;
// the ten-digit ones and the slopes were recomputed with SciPy 1.10 (PchipInterpolator).
func TestCurvesAgainstPublishedMonotoneData(t *testing.T) {
	x := []float64{7.99, 8.09, 8.19, 8.70, 9.20, 10, 12, 15, 20}
	y := []float64{0, 0.27643e-4, 0.43750e-1, 0.16918, 0.46943, 0.94374, 0.99864, 0.99992, 0.99999}
	slope := []float64{0, 5.5251068094e-4, 3.3587301646e-1, 3.4944455397e-1, 5.9696239059e-1,
		6.0325970532e-2, 8.9832790741e-4, 2.9405168877e-5, 0}
	at := []float64{9.191, 10.392, 11.593, 12.794, 13.995, 15.196, 16.397, 17.598, 18.799}
	published := []float64{0.4640, 0.9645, 0.9965, 0.9992, 0.9998, 0.9999, 1, 1, 1}
	digits := []float64{0.4640162637, 0.9644711834, 0.9964924637, 0.9992426582, 0.9997733571,
		0.9999256347, 0.9999546708, 0.9999746876, 0.9999862693}

	// A saddle begins at station 0: the data slid along, which changes no value and no slope.
	rows := make([][2]float64, len(x))
	for i := range x {
		rows[i] = [2]float64{x[i] - x[0], y[i]}
	}
	length := rows[len(rows)-1][0]
	s, err := New(length, rows, rows, 0, Rail{})
	require.NoError(t, err)
	for i, v := range x {
		assert.InDelta(t, y[i], s.Width(v-x[0]), 1e-14, "passes through the data at %g", v)
		assert.InDelta(t, slope[i], s.Slope(rows[i][0]), 1e-10, "slope at %g", v)
	}
	for i, v := range at {
		assert.InDelta(t, published[i], s.Width(v-x[0]), 0.5e-4, "published at %g", v)
		assert.InDelta(t, digits[i], s.Width(v-x[0]), 1e-10, "width at %g", v)
		assert.InDelta(t, digits[i], s.Top(v-x[0]), 1e-10, "top at %g", v)
	}
}

// Data: Akima 1970 as used by the same authors; Fritsch-Butland values recomputed with SciPy 1.10. The flat
// part stays exactly flat.
func TestAFlatStretchStaysFlat(t *testing.T) {
	rows := [][2]float64{{0, 10}, {2, 10}, {3, 10}, {5, 10}, {6, 10}, {8, 10}, {9, 10.5}, {11, 15}, {12, 50}, {14, 60}, {15, 85}}
	s, err := New(15, rows, rows, 0, Rail{})
	require.NoError(t, err)
	for v := 0.0; v <= 8; v += 0.125 {
		assert.Equal(t, 10.0, s.Width(v))
	}
	for at, want := range map[float64]float64{8.5: 10.154481, 10: 11.769550, 11.5: 31.892562, 13: 55.136364, 14.5: 69.666667} {
		assert.InDelta(t, want, s.Width(at), 5e-7, "at %g", at)
	}
}

func TestCurvesInventNoBump(t *testing.T) {
	const seed = 11
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for range 500 {
		rows := [][2]float64{{0, r.Float64() * 60}}
		for range 2 + r.IntN(9) {
			last := rows[len(rows)-1][0]
			rows = append(rows, [2]float64{last + 5 + r.Float64()*40, r.Float64() * 160})
		}
		s := shape(t, rows)
		for i := 1; i < len(rows); i++ {
			lo, hi := math.Min(rows[i-1][1], rows[i][1]), math.Max(rows[i-1][1], rows[i][1])
			last, rising := rows[i-1][1], rows[i][1] >= rows[i-1][1]
			for k := range 21 {
				w := s.Width(rows[i-1][0] + (rows[i][0]-rows[i-1][0])*float64(k)/20)
				require.GreaterOrEqual(t, w, lo-1e-9)
				require.LessOrEqual(t, w, hi+1e-9)
				if rising {
					require.GreaterOrEqual(t, w, last-1e-9)
				} else {
					require.LessOrEqual(t, w, last+1e-9)
				}
				last = w
			}
		}
	}
}

func TestWidthStation(t *testing.T) {
	waisted := [][2]float64{{0, 40}, {60, 48}, {120, 44}, {200, 140}, {240, 140}, {280, 60}}
	for _, c := range []struct {
		name  string
		width [][2]float64
		w     float64
		want  float64
		fit   Meeting
	}{
		{"exactly the nose", waisted, 40, 0, Reached},
		{"wider than wanted at the very nose", waisted, 30, 0, AtNose},
		{"a listed width on the way back", waisted, 48, 60, Reached},
		{"the first of several stations of that width", waisted, 140, 200, Reached},
		{"nowhere as wide: the most forward widest", waisted, 141, 200, TooNarrow},
		{"a saddle widest at its nose carries there", [][2]float64{{0, 50}, {100, 30}, {200, 50}}, 60, 0, TooNarrow},
		{"a saddle of one width", [][2]float64{{0, 50}, {200, 50}}, 50, 0, Reached},
		{"two equal maxima", [][2]float64{{0, 10}, {50, 90}, {100, 40}, {150, 90}, {200, 20}}, 95, 50, TooNarrow},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, fit := shape(t, c.width).WidthStation(c.w)
			assert.InDelta(t, c.want, got, 1e-9)
			assert.Equal(t, c.fit, fit)
		})
	}
}

// The station of width W is the most forward one: the width is there, and nowhere ahead of it.
func TestWidthStationIsTheMostForward(t *testing.T) {
	const seed = 12
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for range 500 {
		rows := [][2]float64{{0, 20 + r.Float64()*30}}
		for range 1 + r.IntN(9) {
			last := rows[len(rows)-1][0]
			rows = append(rows, [2]float64{last + 5 + r.Float64()*60, 20 + r.Float64()*130})
		}
		s := shape(t, rows)
		w := 15 + r.Float64()*140
		at, fit := s.WidthStation(w)
		switch fit {
		case Reached:
			require.InDelta(t, w, s.Width(at), 1e-9)
			for k := range 200 {
				require.Less(t, s.Width(at*float64(k)/200), w+1e-12)
			}
		case AtNose:
			require.Zero(t, at)
			require.Greater(t, s.Width(0), w)
		case TooNarrow:
			for k := range 201 {
				require.Less(t, s.Width(s.Length*float64(k)/200), w)
			}
			widest, _ := s.Widest()
			require.Equal(t, widest, at)
		}
	}
}

func TestWidestIsTheMostForwardOfEquals(t *testing.T) {
	at, w := shape(t, [][2]float64{{0, 40}, {180, 140}, {220, 140}, {280, 30}}).Widest()
	assert.Equal(t, 180.0, at)
	assert.Equal(t, 140.0, w)
}

func TestPointsOfTheSurface(t *testing.T) {
	s, err := New(280, [][2]float64{{0, 40}, {280, 140}}, [][2]float64{{0, -3}, {140, -8}, {260, 0}, {280, -2}}, 6, Rail{Height: 48,
		From: 100, To: 170})
	require.NoError(t, err)
	assert.Equal(t, plane.Point{X: 0, Y: -3}, s.Point(0))
	assert.Equal(t, plane.Point{X: -140, Y: -8}, s.Point(140))
	assert.Equal(t, plane.Point{X: -140, Y: -14}, s.Loaded(140), "the rider sinks in by the sag")
	assert.Equal(t, plane.Point{X: -150, Y: -48}, s.RailPoint(150))
	assert.Equal(t, []float64{0, 140, 260, 280}, s.Stations())
	assert.Equal(t, s.Top(0), s.Top(-5), "beyond the ends the surface goes on level")
	assert.Equal(t, s.Top(280), s.Top(300))
	assert.Zero(t, s.Slope(-1))
	assert.Zero(t, s.Slope(281))
}

// A clamp of which nothing is said is anywhere on the rails alike: the mean and the standard deviation of the rectangular distribution.
func TestAClampAnywhereOnTheRails(t *testing.T) {
	r, n := Rail{From: 96, To: 171}, 1000
	sum, squares := 0.0, 0.0
	for i := range n {
		s := r.From + (r.To-r.From)*(float64(i)+0.5)/float64(n)
		sum, squares = sum+s, squares+(s-r.Mid())*(s-r.Mid())
	}
	assert.InDelta(t, sum/float64(n), r.Mid(), 1e-9)
	assert.InDelta(t, math.Sqrt(squares/float64(n)), r.Sigma(), 1e-4)
}

func TestSlopeIsTheDerivativeOfTop(t *testing.T) {
	const seed = 13
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	s, err := New(270, [][2]float64{{0, 40}, {270, 140}}, [][2]float64{{0, -6}, {50, -2}, {120, -9}, {200, -4}, {255, 0}, {270, -3}}, 5,
		Rail{})
	require.NoError(t, err)
	for range 500 {
		at := 0.001 + r.Float64()*269.998
		const h = 1e-5
		assert.InDelta(t, (s.Top(at+h)-s.Top(at-h))/(2*h), s.Slope(at), 1e-5)
	}
}

// A stretched saddle at s·L'/L is W'/W as wide and as high as the shape is at s; a key left out keeps what there is.
func TestStretched(t *testing.T) {
	s, err := New(280, [][2]float64{{0, 40}, {100, 60}, {240, 140}, {280, 100}}, [][2]float64{{0, -4}, {150, 0}, {280, -2}}, 5, Rail{48, 100,
		190})
	require.NoError(t, err)
	for _, c := range []struct{ length, width, along, across float64 }{{252, 154, 0.9, 1.1}, {252, 0, 0.9, 1}, {0, 154, 1, 1.1}, {0, 0, 1,
		1}} {
		got, err := s.Stretched(c.length, c.width)
		require.NoError(t, err)
		assert.InDelta(t, 280*c.along, got.Length, 1e-9)
		for at := 0.0; at <= 280; at += 7 {
			assert.InDelta(t, s.Width(at)*c.across, got.Width(at*c.along), 1e-9, "%v at %g", c, at)
			assert.InDelta(t, s.Top(at), got.Top(at*c.along), 1e-9, "%v at %g", c, at)
		}
		assert.InDelta(t, 100*c.along, got.Rail.From, 1e-9)
		assert.InDelta(t, 190*c.along, got.Rail.To, 1e-9)
		assert.Equal(t, [2]float64{48, 5}, [2]float64{got.Rail.Height, got.Sag})
	}
}

func TestNewRefusesWhatHasNoCurve(t *testing.T) {
	good := [][2]float64{{0, 1}, {100, 2}}
	for name, width := range map[string][][2]float64{
		"one row":             {{0, 1}},
		"does not begin at 0": {{1, 1}, {100, 2}},
		"ends early":          {{0, 1}, {90, 2}},
		"a station twice":     {{0, 1}, {50, 2}, {50, 3}, {100, 2}},
		"a station back":      {{0, 1}, {60, 2}, {50, 3}, {100, 2}},
		"not a number":        {{0, 1}, {math.NaN(), 2}, {100, 2}},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := New(100, width, good, 0, Rail{})
			assert.ErrorContains(t, err, "width")
			_, err = New(100, good, width, 0, Rail{})
			assert.ErrorContains(t, err, "top")
		})
	}
}
