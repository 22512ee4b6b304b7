package locate

import (
	"errors"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/biketest"
	"carryover/internal/lsq"
)

// Leave out any of an example's readings, even all: the list proposed fixes everything, and none of it can be spared.
func TestTheShortestListFixesEverythingAndNoLess(t *testing.T) {
	for _, name := range []string{"road", "tri"} {
		whole := biketest.Example(t, name)
		full, err := Adjust(whole, nil, Options{})
		require.NoError(t, err)
		for mask := range 1 << len(whole.Readings) {
			if mask%7 != 0 && mask > 3 { // a spread of them
				continue
			}
			b := *whole
			b.Readings = nil
			for i, r := range whole.Readings {
				if mask>>i&1 == 1 {
					b.Readings = append(b.Readings, r)
				}
			}
			a, err := Adjust(&b, nil, Options{})
			require.NoError(t, err)
			if len(a.Missing) == 0 {
				continue
			}
			var missing *MissingError
			require.True(t, errors.As(a.Err(), &missing))
			take := func(names []string) []Gap {
				c := b
				c.Readings = append([]bike.Reading(nil), b.Readings...)
				for _, n := range names {
					found := false
					for _, k := range a.Candidates() {
						if k.Reading.Written == n {
							r := k.Reading
							r.Value, _, err = full.Placement.ReadingOf(r)
							require.NoError(t, err)
							c.Readings = append(c.Readings, r)
							found = true
						}
					}
					require.True(t, found, n)
				}
				after, err := Adjust(&c, nil, Options{})
				require.NoError(t, err)
				return after.Missing
			}
			require.Empty(t, take(missing.Shortest), "%s %b: %v does not fix %v", name, mask, missing.Shortest, missing.Gaps)
			for i := range missing.Shortest {
				less := append(append([]string(nil), missing.Shortest[:i]...), missing.Shortest[i+1:]...)
				require.NotEmpty(t, take(less), "%s %b: %s is not needed", name, mask, missing.Shortest[i])
			}
		}
	}
}

func TestWhatIsMissingIsSaidInWords(t *testing.T) {
	b := biketest.Example(t, "road")
	b.Readings = b.Readings[1:4] // setback, tilt, reach
	b.Frame.BBHeight = nil
	a, err := Adjust(b, nil, Options{})
	require.NoError(t, err)
	text := a.Err().Error()
	t.Log("\n" + text)
	assert.Contains(t, text, "how high the saddle is (saddle y: read ")
	assert.Contains(t, text, "fewest readings")
	assert.NotContains(t, text, "known to", "it is not known at all")
	assert.NotContains(t, text, "floor-height", "without frame.bb_height there is no height above the floor")
}

// What a plan promises is what happens when the readings are really added.
func TestAPlanKeepsItsPromise(t *testing.T) {
	b := biketest.Example(t, "road")
	a, err := Adjust(b, nil, Options{})
	require.NoError(t, err)
	outputs, err := a.ContactOutputs(b.Postures[0])
	require.NoError(t, err)
	spread := func(a *Adjustment) float64 {
		out, err := a.ContactOutputs(b.Postures[0])
		require.NoError(t, err)
		v := 0.0
		for _, row := range out {
			v += math.Pow(a.solution().Propagate(row), 2)
		}
		return math.Sqrt(v)
	}
	now, steps := a.Plan(outputs, 4)
	assert.InDelta(t, spread(a), now, 1e-9)
	require.NotEmpty(t, steps)
	before := now
	for i, s := range steps {
		r := s.Reading
		assert.Equal(t, slices.ContainsFunc(b.Readings, func(o bike.Reading) bool { return same(o, r) }), s.Again, r.Written)
		r.Value, _, err = a.Placement.ReadingOf(r)
		require.NoError(t, err)
		b.Readings = append(b.Readings, r)
		more, err := Adjust(b, nil, Options{})
		require.NoError(t, err)
		// The new reading shifts the adjusted values by nothing, so only rounding is left.
		assert.InDelta(t, s.Spread, spread(more), 1e-3, "step %d, %s", i, r.Written)
		assert.InDelta(t, before-s.Spread, s.Gain, 1e-9)
		assert.Greater(t, s.Gain, Worthwhile)
		before = s.Spread
	}
}

// A reading that could be taken goes to bodies that have a place only.
func TestCandidatesGoWhereTheBikeHasAPlace(t *testing.T) {
	for _, name := range []string{"road", "tri", "weekend"} {
		a, err := Adjust(biketest.Example(t, name), nil, Options{})
		require.NoError(t, err)
		all, unused := a.Candidates(), 0
		require.NotEmpty(t, all)
		for _, c := range all {
			tape, err := a.Placement.Span(c.Reading)
			require.NoError(t, err)
			for body, n := range tape.Needs() {
				assert.False(t, n && !a.Uses(assembly.Body(body)), "%s: %s", name, c.Reading.Written)
			}
		}
		for body := range assembly.Bodies {
			if !a.Uses(body) {
				unused++
			}
		}
		assert.Positive(t, unused, "%s uses all", name)
	}
}

// The first reading of a plan is the one of all candidates that, added and adjusted with the rest, leaves the outputs surest, whichever
// reading the bike lacks, for all contacts or for the height and setback of the seat alone.
func TestAPlanBeginsWithTheBestOfAll(t *testing.T) {
	firsts := 0
	for lacks := range biketest.Example(t, "road").Readings {
		for _, n := range []int{6, 2} {
			b := biketest.Example(t, "road")
			b.Readings = slices.Delete(b.Readings, lacks, lacks+1)
			a, err := Adjust(b, nil, Options{})
			require.NoError(t, err)
			if len(a.Missing) > 0 {
				continue
			}
			outputs := func(a *Adjustment) [][]float64 {
				out, err := a.ContactOutputs(b.Postures[0])
				require.NoError(t, err)
				return out[:n]
			}
			_, steps := a.Plan(outputs(a), 1)
			require.NotEmpty(t, steps)
			least, best := math.Inf(1), 0
			for i, c := range a.Candidates() {
				other, v := *b, 0.0
				r := c.Reading
				r.Value, _, err = a.Placement.ReadingOf(r)
				require.NoError(t, err)
				other.Readings = append(slices.Clip(b.Readings), r)
				more, err := Adjust(&other, nil, Options{})
				require.NoError(t, err)
				for _, row := range outputs(more) {
					v += math.Pow(more.solution().Propagate(row), 2)
				}
				if math.Sqrt(v) < least {
					least, best = math.Sqrt(v), i
				}
			}
			// An angle read replaces one assumed, which the plan keeps beside it.
			assert.InDelta(t, least, steps[0].Spread, 0.02, "without reading %d: %s", lacks, steps[0].Reading.Written)
			if best == 0 {
				firsts++
			}
		}
	}
	assert.Positive(t, firsts, "the first of all is never the best")
}

func TestNothingToGainIsNoPlan(t *testing.T) {
	b := biketest.Example(t, "road")
	for i := range b.Readings {
		b.Readings[i].Sigma = 0.01
	}
	a, err := Adjust(b, nil, Options{})
	require.NoError(t, err)
	outputs, err := a.ContactOutputs(b.Postures[0])
	require.NoError(t, err)
	now, steps := a.Plan(outputs, 5)
	assert.Less(t, now, 5.0)
	for _, s := range steps {
		assert.Greater(t, s.Gain, Worthwhile)
	}
}

// A thousand readings of one bike are a large but ordinary problem.
func TestAThousandReadings(t *testing.T) {
	b := biketest.Example(t, "road")
	once := b.Readings
	for len(b.Readings) < 1000 {
		r := once[len(b.Readings)%len(once)]
		r.Index = len(b.Readings) + 1
		b.Readings = append(b.Readings, r)
	}
	a, err := Adjust(b, nil, Options{})
	require.NoError(t, err)
	require.NoError(t, a.Err())
	assert.Len(t, a.Observations, 1000)
	one, err := Adjust(biketest.Example(t, "road"), nil, Options{})
	require.NoError(t, err)
	ratio := one.Values()[0].Sigma.Value() / a.Values()[0].Sigma.Value()
	assert.InDelta(t, math.Sqrt(1000.0/9), ratio, 1, "each reading about 111 times")
}

// Two exact readings of one thing that disagree, and uncertainties no reading can have.
func TestContradictionsAndImpossibleUncertainties(t *testing.T) {
	b := biketest.Example(t, "road")
	extra := b.Readings[0]
	extra.Index, extra.Value = 10, extra.Value+1
	b.Readings = append(b.Readings, extra)
	b.Readings[0].Sigma, b.Readings[9].Sigma = 1e-6, 1e-6
	a, err := Adjust(b, nil, Options{})
	require.NoError(t, err)
	require.Len(t, a.Suspects(), 1, "one of the two is called wrong")
	s := a.Findings()[0]
	assert.Subset(t, []int{0, 9}, s.Blamed())

	for _, sigma := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		c := biketest.Example(t, "road")
		c.Readings[2].Sigma = sigma
		_, err := Adjust(c, nil, Options{})
		require.Error(t, err, "%g", sigma)
		var input *lsq.InputError
		require.True(t, errors.As(err, &input), "%v", err)
		assert.Equal(t, 2, input.Index)
	}
}

func BenchmarkAdjust30(b *testing.B) {
	k := wellChecked(b)
	for i := 0; len(k.Readings) < 30; i++ {
		r := k.Readings[i]
		r.Index = len(k.Readings) + 1
		k.Readings = append(k.Readings, r)
	}
	a, err := Adjust(k, nil, Options{})
	require.NoError(b, err)
	b.Run("adjustment with its statistics", func(b *testing.B) {
		b.ReportAllocs()
		p := a.problem()
		var ws lsq.Workspace
		for b.Loop() {
			s, err := lsq.Solve(p, &ws)
			if err != nil {
				b.Fatal(err)
			}
			s.Normalized()
			s.Redundancy()
		}
	})
	b.Run("with the search for blunders and the gaps", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := Adjust(k, nil, Options{}); err != nil {
				b.Fatal(err)
			}
		}
	})
}
