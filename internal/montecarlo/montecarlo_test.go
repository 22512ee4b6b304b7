package montecarlo

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// same is a Start for draws without buffers.
func same(d Draw) func() Draw { return func() Draw { return d } }

func run(t *testing.T, draws int, d Draw) *Sample {
	t.Helper()
	const seed = 101
	t.Logf("seed %d, %d draws", seed, draws)
	s, err := Run(context.Background(), Plan{Draws: draws, Seed: seed, Outputs: 1, Start: same(d)})
	require.NoError(t, err)
	return s
}

// rectangular is a draw of the rectangular distribution with mean 0 and standard deviation sigma.
func rectangular(r *rand.Rand, sigma float64) float64 {
	return (2*r.Float64() - 1) * sigma * math.Sqrt(3)
}

// JCGM 101:2008, 9.2.2 to 9.2.4: the sum of four inputs. Published standard uncertainties and 95 %
// intervals, typed from memory; the exact ends are recomputed: 2√3(2 - 0.6^¼) for four rectangular inputs.
func TestAdditiveModelsOfTheGUMSupplement(t *testing.T) {
	for _, c := range []struct {
		name          string
		draw          func(r *rand.Rand) float64
		sigma, end    float64
		published     float64
		publishedEnds float64
	}{
		{"9.2.2 four normal", func(r *rand.Rand) float64 {
			return r.NormFloat64() + r.NormFloat64() + r.NormFloat64() + r.NormFloat64()
		}, 2, 3.919928, 2.00, 3.92},
		{"9.2.3 four rectangular", func(r *rand.Rand) float64 {
			return rectangular(r, 1) + rectangular(r, 1) + rectangular(r, 1) + rectangular(r, 1)
		}, 2, 2 * math.Sqrt(3) * (2 - math.Pow(0.6, 0.25)), 2.00, 3.88},
		{"9.2.4 one rectangular ten times wider", func(r *rand.Rand) float64 {
			return rectangular(r, 1) + rectangular(r, 1) + rectangular(r, 1) + rectangular(r, 10)
		}, math.Sqrt(103), 17.0158, 10.1, 17.0},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := run(t, 1_000_000, func(r *rand.Rand, out []float64) error { out[0] = c.draw(r); return nil })
			lo, hi := s.Interval(0, 0.95)
			t.Logf("mean %.4f, u %.4f, 95 %% [%.3f, %.3f]", s.Mean(0), s.Sigma(0), lo, hi)
			// Five standard deviations of a million draws; for the ends the density there is at most as low
			// as 1/80 of 1/sigma, which makes their own spread some 0.003 sigma.
			assert.InDelta(t, 0, s.Mean(0), 5*c.sigma/1000)
			assert.InDelta(t, c.sigma, s.Sigma(0), 5*c.sigma/1400)
			assert.InDelta(t, -c.end, lo, 0.015*c.sigma)
			assert.InDelta(t, c.end, hi, 0.015*c.sigma)
			assert.InDelta(t, c.published, s.Sigma(0), 0.06)
			assert.InDelta(t, c.publishedEnds, hi, 0.05+0.01*c.sigma)
		})
	}
}

// JCGM 101:2008, 9.3: mass calibration. Published from Monte Carlo: 1.234 mg, u 0.0754 mg, shortest 95 %
// interval [1.0834, 1.3825] mg; first order gives u 0.0539. Typed from memory, recomputed apart from this code.
func TestMassCalibrationOfTheGUMSupplement(t *testing.T) {
	between := func(r *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }
	s := run(t, 1_000_000, func(r *rand.Rand, out []float64) error {
		mRc, dmRc := 100000+0.050*r.NormFloat64(), 1.234+0.020*r.NormFloat64()
		air, w, ref := between(r, 1.10, 1.30), between(r, 7000, 9000), between(r, 7950, 8050)
		out[0] = (mRc+dmRc)*(1+(air-1.2)*(1/w-1/ref)) - 100000
		return nil
	})
	// The shortest of the intervals that hold 950,000 draws (JCGM 101:2008, 7.7.4).
	lo, hi := math.Inf(-1), math.Inf(1)
	for i, from := range s.columns[0][:50_000] {
		if to := s.columns[0][i+950_000]; to-from < hi-lo {
			lo, hi = from, to
		}
	}
	t.Logf("mean %.4f, u %.4f, shortest 95 %% [%.4f, %.4f] mg", s.Mean(0), s.Sigma(0), lo, hi)
	assert.InDelta(t, 1.234, s.Mean(0), 0.0005)
	assert.InDelta(t, 0.0754, s.Sigma(0), 0.0004)
	assert.Greater(t, s.Sigma(0), 1.3*0.0539, "first order is far too small here")
	// The shortest interval of a million draws is known to about 0.002 at either end.
	assert.InDelta(t, 1.0834, lo, 0.003)
	assert.InDelta(t, 1.3825, hi, 0.003)
}

func TestTheSeedAloneDecides(t *testing.T) {
	d := func(r *rand.Rand, out []float64) error {
		out[0], out[1] = r.NormFloat64(), math.Exp(r.NormFloat64())
		return nil
	}
	var first *Sample
	for _, workers := range []int{1, 2, 3, 8} {
		s, err := Run(context.Background(), Plan{Draws: 20_123, Seed: 4, Outputs: 2, Start: same(d), Workers: workers})
		require.NoError(t, err)
		require.Equal(t, 20_123, s.N)
		if first == nil {
			first = s
		}
		assert.Equal(t, first.columns, s.columns, "bit for bit with %d workers", workers)
	}
	other, err := Run(context.Background(), Plan{Draws: 20_123, Seed: 5, Outputs: 2, Start: same(d)})
	require.NoError(t, err)
	assert.NotEqual(t, first.Mean(0), other.Mean(0))
}

// The quantiles of the exponential and the Cauchy distribution are closed forms; the second has no variance.
func TestQuantilesOfSkewAndHeavyTails(t *testing.T) {
	for _, c := range []struct {
		name  string
		draw  func(r *rand.Rand) float64
		exact func(p float64) float64
		tol   float64
	}{
		{"exponential", func(r *rand.Rand) float64 { return r.ExpFloat64() }, func(p float64) float64 { return -math.Log(1 - p) }, 0.04},
		{"Cauchy", func(r *rand.Rand) float64 { return math.Tan(math.Pi * (r.Float64() - 0.5)) },
			func(p float64) float64 { return math.Tan(math.Pi * (p - 0.5)) }, 0.6},
	} {
		s := run(t, 400_000, func(r *rand.Rand, out []float64) error { out[0] = c.draw(r); return nil })
		for _, p := range []float64{0.025, 0.25, 0.5, 0.75, 0.975} {
			assert.InDelta(t, c.exact(p), s.quantile(0, p), c.tol*math.Max(1, math.Abs(p-0.5)*2), "%s at %g", c.name, p)
		}
	}
}

// A handful of draws can be reckoned by hand, and what is far from 0 spreads no less exactly.
func TestAHandfulOfDraws(t *testing.T) {
	for _, offset := range []float64{0, 1e8 / 3, 1e9 / 7, 3e9 / 7} {
		s := &Sample{columns: [][]float64{{1 + offset, 2 + offset, 4 + offset, 5 + offset, 8 + offset}}}
		assert.InDelta(t, 4+offset, s.Mean(0), 1e-6)
		assert.InDelta(t, math.Sqrt(30./4), s.Sigma(0), 1e-6)
		for p, want := range map[float64]float64{0: 1, 0.1: 1, 0.2: 1, 0.3: 1.5, 0.5: 3, 0.8: 5, 0.9: 6.5, 1: 8} {
			assert.InDelta(t, want+offset, s.quantile(0, p), 1e-6, "%g", p)
		}
		lo, hi := s.Interval(0, 0.4)
		assert.InDelta(t, 1.5+offset, lo, 1e-6)
		assert.InDelta(t, 4.5+offset, hi, 1e-6)
	}
	s, err := Run(context.Background(), Plan{Draws: 2, Outputs: 1, Start: same(func(*rand.Rand, []float64) error { return nil })})
	require.NoError(t, err, "two draws have a spread")
	assert.Equal(t, 2, s.N)
}

func TestAConstantOutput(t *testing.T) {
	s := run(t, 5000, func(_ *rand.Rand, out []float64) error { out[0] = 172.5; return nil })
	lo, hi := s.Interval(0, 0.95)
	assert.Equal(t, []float64{172.5, 0, 172.5, 172.5}, []float64{s.Mean(0), s.Sigma(0), lo, hi})
}

func TestDrawsWithoutAnAnswerAreCounted(t *testing.T) {
	s := run(t, 10_000, func(r *rand.Rand, out []float64) error {
		if out[0] = r.Float64(); out[0] < 0.25 {
			return fmt.Errorf("too short: %w", ErrVoid)
		}
		return nil
	})
	assert.Equal(t, 10_000, s.N+s.Void)
	assert.InDelta(t, 2500, s.Void, 5*math.Sqrt(10_000*0.25*0.75))
	assert.GreaterOrEqual(t, s.quantile(0, 0), 0.25)
}

func TestWhatEndsARun(t *testing.T) {
	broken := errors.New("broken")
	_, err := Run(context.Background(), Plan{Draws: 5000, Outputs: 1, Start: func() Draw {
		n := 0
		return func(_ *rand.Rand, out []float64) error {
			if n++; n > 700 {
				return broken
			}
			return nil
		}
	}})
	assert.ErrorIs(t, err, broken)

	ctx, cancel := context.WithCancel(context.Background())
	var made atomic.Int64
	_, err = Run(ctx, Plan{Draws: 10_000_000, Outputs: 1, Start: same(func(*rand.Rand, []float64) error {
		if made.Add(1) == 2000 {
			cancel()
		}
		return nil
	})})
	assert.ErrorIs(t, err, context.Canceled)
	assert.Less(t, made.Load(), int64(1_000_000))

	_, err = Run(context.Background(), Plan{Draws: 5000, Outputs: 1, Start: same(func(*rand.Rand, []float64) error { return ErrVoid })})
	assert.ErrorContains(t, err, "5000 of 5000 draws have no answer")
	for _, n := range []int{-1, 0, 1, MaxDraws + 1} {
		_, err = Run(context.Background(), Plan{Draws: n, Outputs: 1})
		assert.ErrorContains(t, err, "number of draws", "%d", n)
	}
}

// Every draw is told of once, in steps that rise to all of them.
func TestProgressCountsEveryDraw(t *testing.T) {
	last := 0
	_, err := Run(context.Background(), Plan{Draws: 1_234, Outputs: 1, Workers: 3, Progress: func(done int) {
		assert.Greater(t, done, last)
		last = done
	}, Start: same(func(*rand.Rand, []float64) error { return nil })})
	require.NoError(t, err)
	assert.Equal(t, 1_234, last)
}

func TestAnOutputThatSomeDrawsDoNotHave(t *testing.T) {
	s, err := Run(context.Background(), Plan{Draws: 40_000, Seed: 9, Outputs: 3, Start: same(func(r *rand.Rand, out []float64) error {
		out[0], out[1], out[2] = r.NormFloat64(), math.NaN(), math.NaN()
		if out[0] > 0 {
			out[1] = out[0]
		}
		return nil
	})})
	require.NoError(t, err)
	assert.Equal(t, 40_000, s.N)
	assert.Equal(t, 40_000, s.Count(0))
	assert.InDelta(t, 20_000, s.Count(1), 5*100)
	// Half a normal distribution: mean √(2/π), standard deviation √(1 - 2/π).
	assert.InDelta(t, math.Sqrt(2/math.Pi), s.Mean(1), 5*0.0043)
	assert.InDelta(t, math.Sqrt(1-2/math.Pi), s.Sigma(1), 5*0.004)
	assert.Positive(t, s.quantile(1, 0))
	assert.Zero(t, s.Count(2))
	assert.True(t, math.IsNaN(s.quantile(2, 0.5)))
}

func TestACancelledRunEndsBetweenTwoDraws(t *testing.T) {
	for _, at := range []int64{3, 700} {
		ctx, cancel := context.WithCancel(context.Background())
		var drawn, late atomic.Int64
		var cancelled atomic.Bool
		_, err := Run(ctx, Plan{Draws: 100_000, Outputs: 1, Workers: 2, Start: func() Draw {
			return func(r *rand.Rand, out []float64) error {
				if cancelled.Load() {
					late.Add(1)
				}
				if drawn.Add(1) == at {
					cancel()
					cancelled.Store(true)
				}
				return nil
			}
		}})
		assert.ErrorIs(t, err, context.Canceled)
		assert.LessOrEqual(t, late.Load(), int64(1), "the other worker may have asked just before")
	}
}
