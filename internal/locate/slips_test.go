package locate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"carryover/internal/bike"
	"carryover/internal/biketest"
	"carryover/internal/lsq"
	"carryover/internal/plane"
)

// exact gives every reading of a bike the value that the adjusted bike has, so that only what a test adds
// is wrong with it.
func exact(t testing.TB, b *bike.Bike) *bike.Bike {
	t.Helper()
	a, err := Adjust(b, nil, Options{})
	require.NoError(t, err)
	require.Empty(t, a.Suspects())
	for i := range b.Readings {
		v, _, err := a.Placement.ReadingOf(b.Readings[i])
		require.NoError(t, err)
		b.Readings[i].Value = v
	}
	return b
}

// wellChecked is the example with the readings that a plan asks for next, so that everything is checked.
func wellChecked(t testing.TB) *bike.Bike {
	b := biketest.Example(t, "road")
	a, err := Adjust(b, nil, Options{})
	require.NoError(t, err)
	for _, c := range a.Candidates() {
		known := false
		for _, r := range b.Readings {
			known = known || same(r, c.Reading)
		}
		if !known {
			r := c.Reading
			r.Index = len(b.Readings) + 1
			b.Readings = append(b.Readings, r)
			b.Readings[len(b.Readings)-1].Value, _, err = a.Placement.ReadingOf(r)
			require.NoError(t, err)
		}
	}
	return exact(t, b)
}

// alpha is the significance of the simulated tapes.
const alpha = 0.001

// tenth is a count of trials, a tenth of it with -short.
func tenth(n int) int {
	if testing.Short() {
		return n / 10
	}
	return n
}

// disturb draws the tape errors of one trial.
func disturb(b *bike.Bike, truth []float64, r *rand.Rand) {
	for i := range b.Readings {
		b.Readings[i].Value = truth[i] + b.Readings[i].Sigma*r.NormFloat64()
	}
}

func values(b *bike.Bike) []float64 {
	v := make([]float64, len(b.Readings))
	for i := range v {
		v[i] = b.Readings[i].Value
	}
	return v
}

// detectable is the smallest blunder that a test of an observation at significance alpha finds 19 times in 20 (Baarda 1968).
func detectable(a *Adjustment, i int, alpha float64) float64 {
	return (lsq.CriticalW(alpha) + distuv.UnitNormal.Quantile(0.95)) * a.Observations[i].Sigma / math.Sqrt(a.Search.Final.Redundancy()[i])
}

// binomial returns the bounds that a count of n trials at probability p leaves with a chance of 1e-6.
func binomial(n int, p float64) (lo, hi float64) {
	z := distuv.UnitNormal.Quantile(1 - 5e-7)
	s := z * math.Sqrt(float64(n)*p*(1-p))
	return float64(n)*p - s - 1, float64(n)*p + s + 1
}

// A test at significance alpha accuses each good reading with that chance, whatever the bike; all of them
// together at most their sum. At alpha = 1 % there is enough to count.
func TestFalseAlarmsOfSimulatedTapes(t *testing.T) {
	const seed, alpha = 31, 0.01
	trials := tenth(800)
	b := wellChecked(t)
	truth, r := values(b), rand.New(rand.NewPCG(seed, 1))
	accusedTapes, tests, alarms, global := 0, 0, 0, 0
	for range trials {
		disturb(b, truth, r)
		a, err := Adjust(b, nil, Options{Significance: alpha})
		require.NoError(t, err)
		redundancy := a.Search.All.Redundancy()
		for i, w := range a.Search.All.Normalized() {
			if a.Observations[i].Origin == FromReading && redundancy[i] > 1e-6 {
				tests++
				if w > a.Search.Limit {
					alarms++
				}
			}
		}
		if len(a.Suspects()) > 0 {
			accusedTapes++
		}
		if a.Search.All.PValue() < alpha {
			global++
		}
	}
	t.Logf("seed %d: %d of %d tests alarm (%.2f %%), %d of %d tapes accused (%.1f %%), %d global tests fail", seed,
		alarms, tests, 100*float64(alarms)/float64(tests), accusedTapes, trials, 100*float64(accusedTapes)/float64(trials), global)
	// The tests on one tape hang together; bound as if only a third of them counted.
	lo, hi := binomial(tests/3, alpha)
	assert.Greater(t, float64(alarms), 3*lo)
	assert.Less(t, float64(alarms), 3*hi)
	lo, hi = binomial(trials, alpha)
	assert.Greater(t, float64(global), lo)
	assert.Less(t, float64(global), hi)
	_, hi = binomial(trials, alpha*float64(len(b.Readings)))
	assert.Less(t, float64(accusedTapes), hi)
}

// A reading 25 mm out is found in at least 95 % of tapes wherever the redundancy allows it at all (the smallest
// blunder found with 95 % power is below 25 mm). Found is: named, or named as one that may be it instead.
func TestABlunderOf25MillimetresIsFound(t *testing.T) {
	const seed = 32
	for _, c := range []struct {
		name   string
		b      *bike.Bike
		trials int
	}{{"the example as it is", exact(t, biketest.Example(t, "road")), 50}, {"with every usual reading", wellChecked(t), 20}} {
		truth, r := values(c.b), rand.New(rand.NewPCG(seed, 2))
		ideal, err := Adjust(c.b, nil, Options{})
		require.NoError(t, err)
		all, outOf := 0, 0
		for i := range c.b.Readings {
			if c.b.Readings[i].Kind == bike.Angle {
				continue
			}
			findable := detectable(ideal, i, alpha) < 25
			found, right, wronged := 0, 0, 0
			n := tenth(c.trials)
			for range n {
				disturb(c.b, truth, r)
				c.b.Readings[i].Value += math.Copysign(25, r.Float64()-0.5)
				a, err := Adjust(c.b, nil, Options{Significance: alpha})
				require.NoError(t, err)
				for k, f := range a.Findings() {
					if contains(f.Blamed(), i) {
						found++
						if f.Observation == i && k == 0 && len(a.Findings()) == 1 {
							right++
						}
						break
					}
				}
				if len(a.Suspects()) > 1 {
					wronged++
				}
			}
			t.Logf("seed %d, %s, %-26s redundancy %.2f, detectable %5.1f mm: found %3d of %d, alone and first %3d, more accused %d", seed, c.name,
				c.b.Readings[i].Written, ideal.Search.Final.Redundancy()[i], detectable(ideal, i, alpha), found, n, right, wronged)
			if findable {
				all, outOf = all+found, outOf+n
				if !testing.Short() {
					assert.GreaterOrEqual(t, found, n*85/100, c.b.Readings[i].Written)
				}
			}
		}
		t.Logf("%s: %d of %d found (%.1f %%)", c.name, all, outOf, 100*float64(all)/float64(outOf))
		require.Greater(t, outOf, 0)
		least, _ := binomial(outOf, 0.97)
		if !testing.Short() {
			least = 0.95 * float64(outOf)
		}
		assert.GreaterOrEqual(t, float64(all), least)
	}
}

func contains(list []int, v int) bool {
	for _, x := range list {
		if x == v {
			return true
		}
	}
	return false
}

// Two blunders at once, which may hide each other.
func TestTwoBlundersAtOnce(t *testing.T) {
	const seed = 33
	n := tenth(150)
	b := wellChecked(t)
	truth := values(b)
	ideal, err := Adjust(b, nil, Options{})
	require.NoError(t, err)
	var tapes []int
	for i := range b.Readings {
		if b.Readings[i].Kind != bike.Angle && detectable(ideal, i, alpha) < 30 {
			tapes = append(tapes, i)
		}
	}
	require.Greater(t, len(tapes), 4)
	right := 0
	r := rand.New(rand.NewPCG(seed, 3))
	for range n {
		disturb(b, truth, r)
		i := r.IntN(len(tapes))
		j := (i + 1 + r.IntN(len(tapes)-1)) % len(tapes)
		i, j = tapes[i], tapes[j]
		b.Readings[i].Value += math.Copysign(60, r.Float64()-0.5)
		b.Readings[j].Value += math.Copysign(60, r.Float64()-0.5)
		a, err := Adjust(b, nil, Options{Significance: alpha})
		require.NoError(t, err)
		s := a.Suspects()
		if contains(s, i) && contains(s, j) && len(s) == 2 {
			right++
		}
	}
	t.Logf("seed %d: exactly the two named in %d of %d tapes", seed, right, n)
	assert.Greater(t, right, n*80/100)
}

// Planted slips on a well checked bike are named, and named alone.
func TestTheUsualSlipsAreNamed(t *testing.T) {
	at := func(b *bike.Bike, written string) *bike.Reading {
		for i := range b.Readings {
			if b.Readings[i].Written == written {
				return &b.Readings[i]
			}
		}
		require.Fail(t, "no reading", written)
		return nil
	}
	for _, c := range []struct {
		name, reading string
		spoil         func(b *bike.Bike, r *bike.Reading)
		code          string
	}{
		{"519 for 591", "reach at nose to hood", func(_ *bike.Bike, r *bike.Reading) { r.Value = swapTo(r.Value, 1, 2) }, "digits"},
		{"a hundred short", "saddle-height at mid", func(_ *bike.Bike, r *bike.Reading) { r.Value -= 100 }, "hundred"},
		{"centimetres", "saddle-height at mid", func(_ *bike.Bike, r *bike.Reading) { r.Value = math.Round(r.Value) / 10 }, "centimetres"},
		{"inches", "nose-to-bar", func(_ *bike.Bike, r *bike.Reading) { r.Value = math.Round(r.Value/25.4*10) / 10 }, "inches"},
		{"the tail of the saddle", "setback at nose", func(b *bike.Bike, r *bike.Reading) { r.Value += b.Saddle.Only().Length }, "reference"},
		{"the tail, read as tapes are", "setback at nose", func(b *bike.Bike, r *bike.Reading) { r.Value += b.Saddle.Only().Length + 4 },
			"reference"},
		{"from the BB", "floor-height to bar", func(b *bike.Bike, r *bike.Reading) { r.Value -= *b.Frame.BBHeight }, "floor"},
		{"from the floor", "saddle-height at mid", func(b *bike.Bike, r *bike.Reading) { r.Value = at(b, "floor-height to saddle.mid").Value },
			"floor"},
		{"the sign", "drop at mid to hood", func(_ *bike.Bike, r *bike.Reading) { r.Value = -r.Value }, "sign"},
		{"the sign of a tilt", "hood-angle", func(_ *bike.Bike, r *bike.Reading) { r.Value = -r.Value }, "sign"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := wellChecked(t)
			r := at(b, c.reading)
			right := r.Value
			c.spoil(b, r)
			a, err := Adjust(b, nil, Options{})
			require.NoError(t, err)
			findings := a.Findings()
			require.Len(t, findings, 1)
			f := findings[0]
			o := a.Observations[f.Observation]
			assert.Equal(t, c.reading, o.Name)
			assert.InDelta(t, right, f.Others, 3*f.Sigma)
			codes := ""
			for _, s := range f.Slips {
				codes += fmt.Sprintf("%s (%s); ", s.Code, s.Words)
			}
			t.Log("others say", f.Others, "±", f.Sigma, codes)
			require.Len(t, f.Slips, 1, codes)
			assert.Equal(t, c.code, f.Slips[0].Code)
			if was := o.Reading.Value; c.code == "centimetres" || c.code == "inches" { // what is written, and what it is
				unit := map[string]float64{"centimetres": 10, "inches": 25.4}[c.code]
				assert.Contains(t, f.Slips[0].Words, number(was))
				assert.Contains(t, f.Slips[0].Words, "is "+number(math.Round(was*unit*10)/10)+" mm")
			}
			// -2 log of the likelihood of what was read after the slip, of the rest, and of so usual a slip.
			if spread := math.Hypot(o.Sigma, f.Sigma); slices.Contains([]string{"digits", "hundred", "sign"}, c.code) {
				off := (f.Slips[0].Value - f.Others) / spread
				assert.InDelta(t, a.solution().Chi2+off*off+2*math.Log(spread/(o.Sigma*slipShare)), f.Slips[0].cost, 1e-6)
			}
		})
	}
}

// A BB height with a slip in it puts every reading to the floor off alike: what they make look wrong may then as well be right. One
// that is off otherwise, or that not all of them agree on, or that a single one speaks for, is not in question.
func TestABBHeightWithASlipIsNamedBesideTheSuspect(t *testing.T) {
	for _, c := range []struct {
		why   string
		spoil func(b *bike.Bike)
		want  float64 // what bb_height should be; 0: not in question
	}{
		{"digits swapped", func(*bike.Bike) {}, 272},
		{"a hundred short", func(b *bike.Bike) { *b.Frame.BBHeight = 172 }, 272},
		{"a hundred long", func(b *bike.Bike) { *b.Frame.BBHeight = 372 }, 272},
		{"ten short", func(b *bike.Bike) { *b.Frame.BBHeight = 262; finer(b) }, 272},
		{"ten long", func(b *bike.Bike) { *b.Frame.BBHeight = 282; finer(b) }, 272},
		{"by no usual slip", func(b *bike.Bike) { *b.Frame.BBHeight = 235 }, 0},
		{"no BB height", func(b *bike.Bike) {
			*b = *wellChecked(t)
			b.Readings = slices.DeleteFunc(b.Readings, func(r bike.Reading) bool { return r.Kind == bike.Plumb && r.From.Kind == bike.AtFloor })
			b.Frame.BBHeight = nil
			b.Readings[0].Value = 986.6 // as it would read from the floor
		}, 0},
		{"one reading to the floor", func(b *bike.Bike) {
			*b = *wellChecked(t)
			floor := 0
			b.Readings = slices.DeleteFunc(b.Readings, func(r bike.Reading) bool {
				if r.Kind == bike.Plumb && r.From.Kind == bike.AtFloor {
					floor++
				}
				return r.Kind == bike.Plumb && r.From.Kind == bike.AtFloor && floor > 1
			})
			b.Readings[0].Value -= 45
		}, 0},
		{"one of two says otherwise", func(b *bike.Bike) { *b.Frame.BBHeight = 272; b.Readings[len(b.Readings)-1].Value += 45 }, 0},
	} {
		t.Run(c.why, func(t *testing.T) {
			b := exact(t, biketest.Example(t, "road"))
			height := 227.0
			b.Frame.BBHeight = &height
			c.spoil(b)
			a, err := Adjust(b, nil, Options{})
			require.NoError(t, err)
			list := a.Findings()
			require.NotEmpty(t, list)
			for _, f := range list {
				assert.Equal(t, c.want, f.BBHeight)
				assert.False(t, f.BBHeight > 0 && f.Aside, "either may be wrong")
				for _, s := range f.Slips {
					assert.False(t, b.Frame.BBHeight == nil && s.Code == "floor", "nobody knows where the floor is")
				}
			}
		})
	}
}

// finer reads as with a calliper.
func finer(b *bike.Bike) {
	for i := range b.Readings {
		b.Readings[i].Sigma /= 4
	}
}

// swapTo swaps two digits of a rounded number, counted from 0.
func swapTo(v float64, i, j int) float64 {
	d := []byte(fmt.Sprintf("%.0f", v))
	d[i], d[j] = d[j], d[i]
	var out float64
	fmt.Sscanf(string(d), "%g", &out)
	return out
}

func TestSwappedDigits(t *testing.T) {
	for v, want := range map[float64][]float64{
		605:   {65, 650},
		650:   {560, 605},
		738.5: {378.5, 783.5, 735.8},
		-12:   {-21},
		7:     nil,
		77:    nil,
	} {
		assert.Equal(t, want, swapped(v), "%g", v)
	}
}

// A reading that alone fixes something can be anything; it is named.
func TestWhatNothingElseChecksIsNamed(t *testing.T) {
	b := biketest.Example(t, "road")
	a, err := Adjust(b, nil, Options{})
	require.NoError(t, err)
	var names []string
	for _, i := range a.Unchecked() {
		names = append(names, a.Observations[i].Name)
		assert.Less(t, a.Search.Final.Redundancy()[i], 0.1)
	}
	t.Log(names)
	b.Readings = b.Readings[:6] // just enough
	a, err = Adjust(b, nil, Options{})
	require.NoError(t, err)
	require.NoError(t, a.Err())
	assert.NotEmpty(t, a.Unchecked())
}

// All readings together pass as long as so large a chi-square is no rarer than the risk taken.
func TestTheGlobalTestIsHeldAgainstTheRisk(t *testing.T) {
	passed := map[bool]int{}
	for _, risk := range []float64{1e-6, 0.001, 0.3, 0.9999} {
		for _, off := range []float64{0, 4, 9} {
			b := biketest.Example(t, "road")
			b.Readings[6].Value += off
			a, err := Adjust(b, nil, Options{Significance: risk})
			require.NoError(t, err)
			g := a.WithAll().Global()
			assert.Equal(t, g.P >= risk, g.Passed)
			passed[g.Passed]++
		}
	}
	assert.Len(t, passed, 2)
}

// An error in a stated tilt stays a tilt in radians inside.
func TestFindingsOfAnglesAreInRadians(t *testing.T) {
	b := wellChecked(t)
	for i := range b.Readings {
		if b.Readings[i].Written == "saddle-tilt" {
			b.Readings[i].Value += plane.Rad(20)
		}
	}
	a, err := Adjust(b, nil, Options{})
	require.NoError(t, err)
	f := a.Findings()
	require.Len(t, f, 1)
	assert.InDelta(t, plane.Rad(-1.5), f[0].Others, plane.Rad(2))
}

// Two wrong readings, each of which the others take for the same third: one reading is blamed once, with one value.
func TestNoReadingIsBlamedTwice(t *testing.T) {
	b := biketest.Example(t, "studio-set")
	b.Readings = slices.Clone(b.Readings)
	b.Readings[0].Value, b.Readings[1].Value = 763, 70
	a, err := Adjust(b, nil, Options{})
	require.NoError(t, err)
	require.Len(t, a.Findings(), 2)
	for i, f := range a.Findings() {
		assert.Equal(t, i, f.Observation)
		assert.InDelta(t, []float64{736, 7}[i], f.Others, 1)
	}
}
