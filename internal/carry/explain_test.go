package carry_test

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/biketest"
	"carryover/internal/carry"
	"carryover/internal/cockpit"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// carried is a solved example pair in one posture.
type carried struct {
	source *locate.Adjustment
	s      *carry.Solution
}

func solve(t testing.TB, source, target *bike.Bike, posture string, move func(*locate.Position), o carry.Options) carried {
	t.Helper()
	a, err := locate.Adjust(source, nil, locate.Options{})
	require.NoError(t, err)
	p, ok := source.Posture(posture)
	require.True(t, ok)
	pos, err := a.Position(p)
	require.NoError(t, err)
	if move != nil {
		move(&pos)
	}
	s, err := carry.Solve(context.Background(), target, source, &pos, o)
	require.NoError(t, err)
	return carried{a, s}
}

// pairs are the examples that can be carried.
var pairs = []struct{ from, to, posture string }{
	{"road", "studio", "road"}, {"road", "outdoor", "road"}, {"tri", "studio", "aero"}, {"tri", "studio", "horns"},
}

// undone lists the steps whose reading a later step changes, found by doing one step after the other.
func undone(s *carry.Solution, steps []carry.Step, starts []float64) map[[2]int]float64 {
	shown := s.Simulate(steps, starts)
	found := map[[2]int]float64{}
	for k := range steps {
		for later := k + 1; later < len(steps); later++ {
			if d := shown[later][k] - shown[later-1][k]; steps[k].Gauge.Undone(d) {
				found[[2]int{k, later}] = d
			}
		}
	}
	return found
}

// No step of the examples changes the reading that confirmed an earlier one, from wherever the settings
// stood before the work began.
func TestOrderUndoesNothing(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, p := range pairs {
		c := solve(t, biketest.Example(t, p.from), biketest.Example(t, p.to), p.posture, nil, carry.Options{})
		steps := c.s.Order()
		require.NotEmpty(t, steps)
		for range 50 {
			starts := make([]float64, len(c.s.Settings))
			for i, set := range c.s.Settings {
				starts[i] = set.Lo + rng.Float64()*(set.Hi-set.Lo)
			}
			assert.Empty(t, undone(c.s, steps, starts), "%s to %s, posture %s", p.from, p.to, p.posture)
			shown := c.s.Simulate(steps, starts)
			for k, step := range steps {
				if !step.Gauge.Turns() {
					assert.InDelta(t, step.Value.Value(), shown[k][k], carry.UndoneMM, "step %d is predicted whatever stands before it", k+1)
				}
			}
		}
	}
}

// Every setting that can move is set in exactly one step; the crank comes first, parts before settings,
// the saddle before the hands.
func TestOrderIsWhole(t *testing.T) {
	for _, p := range pairs {
		c := solve(t, biketest.Example(t, p.from), biketest.Example(t, p.to), p.posture, nil, carry.Options{})
		steps := c.s.Order()
		times := make([]int, len(c.s.Settings))
		lastPhase := -1
		for _, step := range steps {
			phase := 0
			switch {
			case len(step.Parts) > 0:
				phase = 1
			case len(step.Settings) > 0:
				phase = 3
				if c.s.Settings[step.Settings[0]].Sets.OnSaddle() {
					phase = 2
				}
			}
			assert.GreaterOrEqual(t, phase, lastPhase)
			lastPhase = phase
			for _, i := range step.Settings {
				times[i]++
			}
		}
		for i, set := range c.s.Settings {
			want := 1
			if set.Fixed() || c.s.Idle(set.Settable) {
				want = 0
			}
			assert.Equal(t, want, times[i], "%s to %s: %s", p.from, p.to, set.Name)
		}
	}
}

// On machines whose slides run in any direction no order may exist that undoes nothing; every disturbance
// is then told, and none that is not there.
func TestOrderTellsWhatItCannotAvoid(t *testing.T) {
	const seed = 7
	rng := rand.New(rand.NewPCG(seed, seed))
	told := 0
	for range 100 {
		target := biketest.Example(t, "studio")
		for i := range target.Adjusters {
			target.Adjusters[i].Angle += (rng.Float64() - 0.5) * 0.8
		}
		c := solve(t, biketest.Example(t, "road"), target, "road", nil, carry.Options{})
		steps := c.s.Order()
		starts := make([]float64, len(c.s.Settings))
		for i, set := range c.s.Settings { // as Order takes them: marks, else mid-range
			starts[i] = set.Lo + (set.Hi-set.Lo)/2
			if set.Adjuster >= 0 {
				a := target.Adjusters[set.Adjuster]
				if m, ok := target.Marks[a.Name]; ok {
					starts[i] = a.Travel(m)
				}
			}
		}
		found := undone(c.s, steps, starts)
		for k, step := range steps {
			var want []int
			for later := range steps {
				if _, ok := found[[2]int{k, later}]; ok {
					want = append(want, later)
				}
			}
			assert.Equal(t, want, step.Disturbed, "seed %d, step %d", seed, k+1)
			told += len(want)
		}
	}
	assert.Positive(t, told, "seed %d never met a machine that cannot be set without undoing", seed)
}

// The bike as simulated, with every setting where the answer puts it, is the bike of the answer.
func TestStandAtTheAnswerIsTheAnswer(t *testing.T) {
	for _, p := range pairs {
		c := solve(t, biketest.Example(t, p.from), biketest.Example(t, p.to), p.posture, nil, carry.Options{})
		v := make([]float64, len(c.s.Settings))
		for i, set := range c.s.Settings {
			v[i] = set.Travel
		}
		st := c.s.StandAt(v)
		for b := range assembly.Bodies {
			if !st.Poses[b].Origin.Finite() {
				continue
			}
			assert.InDelta(t, 0, st.Poses[b].Origin.Distance(c.s.Placement.Poses[b].Origin), 1e-9, "%s to %s: body %d", p.from, p.to, b)
			assert.InDelta(t, c.s.Placement.Poses[b].Turn, st.Poses[b].Turn, 1e-12)
		}
	}
}

// A saddle slid along level rails changes BB-to-saddle by the cosine of the angle between rail and line
// (common practice), to first order; over 10 mm the law of cosines gives the rest.
func TestCouplingIsTheLawOfCosines(t *testing.T) {
	c := solve(t, biketest.Example(t, "road"), biketest.Example(t, "studio"), "road", nil, carry.Options{})
	mid, err := c.s.Placement.Where(bike.Place{Kind: bike.AtSaddle, Ref: saddle.Reference{Kind: saddle.Mid}})
	require.NoError(t, err)
	line := mid.Norm()
	toward := -mid.X / line // cosine between forward and the line back to the BB
	after := math.Sqrt(line*line + 100 - 2*line*10*toward)
	found := false
	for _, k := range c.s.Couplings() {
		if c.s.Settings[k.By].Name != "saddle slide" || k.Measure != carry.SaddleHeight {
			continue
		}
		found = true
		assert.InDelta(t, 10, k.Amount, 0)
		assert.InDelta(t, after-line, k.Change, 1e-9)
		assert.Equal(t, "saddle post", c.s.Settings[k.Mend].Name)
		// The post runs along 106°; per mm it lengthens the line by the cosine between the two.
		perMM := mid.Scale(1 / line).Dot(plane.Direction(plane.Rad(106)))
		assert.InDelta(t, (line-after)/perMM, k.MendTravel, 1e-5)
		assert.Equal(t, "up", c.s.Settings[k.Mend].Towards(k.MendTravel))
	}
	assert.True(t, found)
}

// measured are the measures by Placement.Measure, which knows nothing of how Why swaps.
func measured(t *testing.T, st *assembly.Placement, hands bike.Contact, m carry.Measure) float64 {
	t.Helper()
	v, _, err := st.ReadingOf(m.Reading(st.Bike, hands))
	require.NoError(t, err)
	return v
}

func TestWhyAddsUp(t *testing.T) {
	const seed = 11
	rng := rand.New(rand.NewPCG(seed, seed))
	var examples [][2]*bike.Bike
	for _, p := range pairs {
		examples = append(examples, [2]*bike.Bike{biketest.Example(t, p.from), biketest.Example(t, p.to)})
	}
	for n := range tenth(400) {
		p := pairs[n%len(pairs)]
		source, target := examples[n%len(pairs)][0], examples[n%len(pairs)][1].Held(nil, nil) // a copy
		target.Feet.Crank += float64(rng.IntN(5)) * 2.5
		target.Feet.SoleHeight += rng.Float64()*10 - 5
		shift := plane.Point{X: rng.NormFloat64() * 30, Y: rng.NormFloat64() * 30}
		for i := range target.Adjusters { // some within reach, some not
			target.Adjusters[i].Hi -= rng.Float64() * (target.Adjusters[i].Hi - target.Adjusters[i].Lo) / 2
		}
		if n%3 == 0 {
			target.Saddle.Tilt = bike.Fixed(plane.Rad(rng.Float64()*6 - 3))
		}
		a := target.SaddleAnchor.Add(shift)
		target.SaddleAnchor = &a
		o := carry.Options{HandsFixed: n%2 == 0, Policy: carry.Policy(n % 5 / 4)}
		c := solve(t, source, target, p.posture, nil, o)
		w := c.s.Why(c.source)
		causes := []string{"crank", "foot stack", "saddle shape", "sag", "tilt", "bar", "lever", "clip-on", "BB height", "leftover"}
		require.Len(t, w.Swaps, len(causes))
		for m := range carry.Measures {
			if !w.Known[m] {
				continue
			}
			hands := c.s.Position.Posture.Hands
			from, to := measured(t, c.source.Placement, hands, m), measured(t, c.s.Placement, hands, m)
			assert.InDelta(t, from, w.Source[m], 1e-9, "seed %d, case %d: %s of the source", seed, n, m)
			assert.InDelta(t, to, w.Target[m], 1e-9, "seed %d, case %d: %s of the target", seed, n, m)
			sum := 0.0
			for _, k := range w.Swaps {
				sum += k.By[m]
			}
			assert.InDelta(t, to-from, sum, 1e-9, "seed %d, case %d: the shares of %s", seed, n, m)
		}
		for i, k := range w.Swaps {
			require.Equal(t, causes[i], k.Cause)
			if k.Cause == "BB height" {
				for m := carry.Setback; m < carry.FloorHeight; m++ {
					assert.Zero(t, k.By[m], "the BB's height changes nothing that is measured from the BB")
				}
			}
			if k.Cause == "leftover" && c.s.E < 1e-9 && n%3 != 0 {
				for m := range carry.Measures {
					assert.InDelta(t, 0, k.By[m], 1e-6, "a position fully carried leaves nothing over")
				}
			}
		}
	}
}

// Only what differs has a share: swap one thing in a bike and all of the change is its.
func TestWhyBlamesTheOneDifference(t *testing.T) {
	for _, tc := range []struct {
		cause  string
		change func(*bike.Bike)
		where  carry.Measure
		want   float64
	}{
		{"crank", func(b *bike.Bike) { b.Feet.Crank = 165; b.Feet.Cranks = nil }, carry.SaddleHeight, 0},
		{"foot stack", func(b *bike.Bike) { b.Feet.SoleHeight = 24 + 4 }, carry.SaddleHeight, 0},
		{"BB height", func(b *bike.Bike) { h := 272.0 + 33; b.Frame.BBHeight = &h }, carry.FloorHeight, 33},
		{"bar", func(b *bike.Bike) {
			part := *b.Bar.Only()
			part.Reach += 8
			b.Bar.Slot = bike.Slot[cockpit.Bar]{Options: []bike.Option[cockpit.Bar]{{ID: "longer", Part: &part}}}
		}, carry.NoseToBar, -7.8}, // 8 mm, seen along a line that rises or falls by some 12°
		{"lever", func(b *bike.Bike) {
			part := *b.Bar.Lever.Only()
			part.Along += 8
			b.Bar.Lever = bike.Slot[cockpit.Lever]{Options: []bike.Option[cockpit.Lever]{{ID: "longer", Part: &part}}}
		}, carry.NoseToBar, -8},
		{"pitch", func(b *bike.Bike) { b.Frame.Pitch += plane.Rad(0.5) }, carry.Setback, -6.2}, // a nose 715 mm up, by sin 0.5°
	} {
		t.Run(tc.cause, func(t *testing.T) {
			source, target := biketest.Example(t, "road"), biketest.Example(t, "studio")
			source.Frame.Pitch, target.Frame.Pitch = 0.01, 0.01 // both stand for the tape otherwise than they are ridden
			// The same bike but for the one difference.
			target.Feet, target.Feet.Cranks = source.Feet, nil
			target.Saddle.Slot, target.Bar.Slot = source.Saddle.Slot, source.Bar.Slot
			target.Bar.Lever, target.Bar.LeverAt = source.Bar.Lever, source.Bar.LeverAt
			target.Saddle.ClampAt = bike.Fixed(140)
			h := *source.Frame.BBHeight
			target.Frame.BBHeight = &h
			tc.change(target)
			c := solve(t, source, target, "road", nil, carry.Options{})
			require.InDelta(t, 0, c.s.E, 1e-9)
			w := c.s.Why(c.source)
			for _, k := range w.Swaps {
				if k.Cause != tc.cause {
					for m := range carry.Measures {
						assert.InDelta(t, 0, k.By[m], 1e-9, "%s of %s", m, k.Cause)
					}
				} else if tc.want != 0 {
					assert.InDelta(t, tc.want, k.By[tc.where], 0.1)
				} else {
					assert.Greater(t, math.Abs(k.By[tc.where]), 1.0)
				}
			}
		})
	}
}

// Putting the saddle by a reference and looking where the rider then sits is what the table says.
func TestReferencesDisagree(t *testing.T) {
	c := solve(t, biketest.Example(t, "road"), biketest.Example(t, "studio"), "road", nil, carry.Options{})
	rows, amb := c.s.References(c.source.Placement)
	require.NotEmpty(t, rows)
	var least, most plane.Point
	least, most = plane.Point{X: math.Inf(1), Y: math.Inf(1)}, plane.Point{X: math.Inf(-1), Y: math.Inf(-1)}
	for _, row := range rows {
		// Move the whole saddle so that its reference is where the source's was: the contact moves along.
		move := row.Source.Add(c.s.Want.Shift).Sub(row.Target)
		sit := c.s.Contacts[0].Got.At.Add(move)
		assert.InDelta(t, 0, sit.Sub(c.s.Want.Sit.At).Distance(row.Away), 1e-9, row.Name)
		least = plane.Point{X: math.Min(least.X, row.Away.X), Y: math.Min(least.Y, row.Away.Y)}
		most = plane.Point{X: math.Max(most.X, row.Away.X), Y: math.Max(most.Y, row.Away.Y)}
		if row.Name == "support" {
			assert.InDelta(t, 0, row.Away.X, 1e-9, "what carries the rider is the right reference")
			assert.InDelta(t, c.source.Placement.Shape.Sag-c.s.Placement.Shape.Sag, row.Away.Y, 1e-9, "but for the saddles' sag")
		}
	}
	assert.InDelta(t, most.X-least.X, amb.Level, 1e-9)
	assert.InDelta(t, most.Y-least.Y, amb.Plumb, 1e-9)

	// What is asked for besides follows, and leaves the rest as it is.
	wide := saddle.Reference{Kind: saddle.ByWidth, MM: 80}
	short, long := c.source.Placement.Shape.Length, c.s.Placement.Shape.Length
	require.Less(t, short, long)
	c.s.Options.Also = []saddle.Reference{{Kind: saddle.Tail}, wide, {Kind: saddle.ByWidth, MM: 290},
		{Kind: saddle.ByStation, MM: (short + long) / 2}} // behind the end of one of the two saddles
	more, same := c.s.References(c.source.Placement)
	require.Len(t, more, len(rows)+1)
	assert.Equal(t, rows, more[:len(rows)])
	assert.Equal(t, amb, same)
	at, err := c.s.Placement.Shape.Station(wide, 0)
	require.NoError(t, err)
	assert.Equal(t, c.s.Placement.Poses[assembly.Saddle].At(c.s.Placement.Shape.Point(at)), more[len(rows)].Target)

	// The road bike's file gives a seat angle, the studio's does not.
	from, to := c.s.SeatTubes(c.source.Placement)
	require.NotNil(t, from)
	assert.Nil(t, to)
	top := plane.Direction(math.Pi - *c.s.Source.Frame.SeatAngle).Scale(*from)
	local := c.source.Placement.Poses[assembly.Saddle].Local(top)
	assert.InDelta(t, c.source.Placement.Shape.Top(-local.X), local.Y, 1e-6, "it ends on the saddle's top")
}

// A bike carried onto the same saddle is not ambiguous.
func TestSameSaddleIsNotAmbiguous(t *testing.T) {
	source, target := biketest.Example(t, "road"), biketest.Example(t, "studio")
	target.Saddle.Slot, target.Saddle.ClampAt = source.Saddle.Slot, bike.Fixed(140)
	target.Feet, target.Feet.Cranks = source.Feet, nil
	c := solve(t, source, target, "road", nil, carry.Options{})
	require.InDelta(t, 0, c.s.E, 1e-9)
	_, amb := c.s.References(c.source.Placement)
	assert.InDelta(t, 0, amb.Level, 1e-9)
	assert.InDelta(t, 0, amb.Plumb, 1e-9)
	require.True(t, amb.UsualOK)
	assert.InDelta(t, 0, amb.Usual.Norm(), 1e-9)
}

func BenchmarkExplain(b *testing.B) {
	c := solve(b, biketest.Example(b, "road"), biketest.Example(b, "studio"), "road", nil, carry.Options{})
	b.ReportAllocs()
	for b.Loop() {
		c.s.Order()
		c.s.Couplings()
		c.s.Why(c.source)
		c.s.References(c.source.Placement)
	}
}

// tenth is a count of trials, a tenth of it with -short.
func tenth(n int) int {
	if testing.Short() {
		return n / 10
	}
	return n
}
