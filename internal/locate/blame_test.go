package locate

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/bike"
	"carryover/internal/biketest"
	"carryover/internal/plane"
)

// found adjusts a bike after one of its readings was changed.
func found(t *testing.T, b *bike.Bike, written string, value float64) (*Adjustment, []Finding) {
	t.Helper()
	for i := range b.Readings {
		if b.Readings[i].Written == written {
			b.Readings[i].Value = value
		}
	}
	a, err := Adjust(b, nil, Options{})
	require.NoError(t, err)
	return a, a.Findings()
}

// Where two readings could equally be the wrong one both are named and nothing is set aside.
func TestTwoThatCouldEquallyBeWrongAreBothNamed(t *testing.T) {
	b := exact(t, biketest.Example(t, "road"))
	keep := b.Readings[:0]
	for _, r := range b.Readings { // reach and nose-to-bar see the bar alike, nothing else does
		if !strings.Contains(r.Written, "line") && !strings.Contains(r.Written, "floor") {
			keep = append(keep, r)
		}
	}
	b.Readings = keep
	var was float64
	for _, r := range b.Readings {
		if strings.HasPrefix(r.Written, "nose-to-bar") {
			was = r.Value
		}
	}
	a, list := found(t, b, "nose-to-bar", was-20)
	require.Len(t, list, 1)
	assert.False(t, list[0].Aside)
	var names []string
	for _, i := range list[0].Blamed() {
		names = append(names, a.Observations[i].Name)
	}
	assert.Contains(t, strings.Join(names, ", "), "nose-to-bar")
	assert.Contains(t, strings.Join(names, ", "), "reach")
}

// A setback written in centimetres is that, and no doubt of the saddle height.
func TestCentimetresAreNotBlamedOnAnother(t *testing.T) {
	b := wellChecked(t)
	var setback float64
	for _, r := range b.Readings {
		if r.Written == "setback at nose" {
			setback = r.Value
		}
	}
	a, list := found(t, b, "setback at nose", setback/10)
	require.Len(t, list, 1)
	assert.Equal(t, []int{1}, list[0].Blamed(), "%v", a.Observations[list[0].Observation].Name)
	assert.True(t, list[0].Aside)
	require.NotEmpty(t, list[0].Slips)
	assert.Equal(t, "centimetres", list[0].Slips[0].Code)
}

// Whatever length is wrong by whatever amount, no angle is blamed that would have to be misread by more than a few degrees,
// unless a slip of its own explains it.
func TestNoAngleIsBlamedForADistanceItCannotCause(t *testing.T) {
	const seed = 54
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for range tenth(600) {
		truth := biketest.Bike(r, bike.Hood)
		taped(r, truth, false, false)
		truth.Read(bike.Line, biketest.BB, biketest.Mid)
		truth.Read(bike.Level, biketest.Nose, biketest.BB)
		truth.Disturb(r)
		i := r.IntN(len(truth.Bike.Readings))
		if truth.Bike.Readings[i].Kind == bike.Angle {
			continue
		}
		truth.Bike.Readings[i].Value += math.Copysign(biketest.Between(r, 15, 120), r.Float64()-0.5)
		a, err := Adjust(truth.Bike, nil, Options{})
		require.NoError(t, err)
		for _, f := range a.Findings() {
			for _, k := range f.Blamed() {
				o := a.Observations[k]
				if !o.Value.Turns() || len(f.Slips) > 0 || k != f.Observation {
					continue
				}
				assert.Less(t, math.Abs(f.Others-o.Value.Value()), plane.Rad(4)+1e-9)
			}
		}
	}
}

// How the pads are screwed can be the mistake too: one hole further on, with every tape to the pads saying so.
func TestAWrongHoleIsFound(t *testing.T) {
	const seed = 55
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for n := range tenth(200) {
		truth := biketest.Bike(r, bike.Pad)
		b := truth.Bike
		truth.Read(bike.Line, biketest.BB, biketest.Mid)
		truth.Read(bike.Level, biketest.Nose, biketest.BB)
		truth.Level(bike.SaddleBody)
		bar, pad := biketest.At(bike.AtBar), biketest.At(bike.AtPad)
		for range 2 {
			truth.Read(bike.Level, biketest.BB, bar)
			truth.Read(bike.Plumb, biketest.BB, bar)
			truth.Read(bike.Level, biketest.Nose, pad)
			truth.Read(bike.Plumb, biketest.BB, pad)
		}
		truth.Level(bike.PadBody)
		b.BarAnchor = nil
		name := "clipon.hole"
		if n%2 == 0 {
			b.Clipon.Hole = bike.Fixed(-20)
		} else {
			b.Clipon.Stack, name = bike.Fixed(20+b.Clipon.Options[0].Part.Stacks[1]), "clipon.stack"
		}
		a, err := Adjust(b, nil, Options{})
		require.NoError(t, err)
		list := a.Findings()
		require.NotEmpty(t, list)
		assert.Equal(t, name, a.Observations[list[0].Observation].Name, "case %d", n)
		assert.Equal(t, FromClipon, a.Observations[list[0].Observation].Origin)
	}
}

// A hole may be the mistake as well as the one tape that goes past it, where the part has a hole that the tape would fit.
func TestAHoleMayBeWrongAsWellAsATape(t *testing.T) {
	blamed := func(change func(b *bike.Bike)) (names []string) {
		b := biketest.Example(t, "tri")
		clipon := *b.Clipon
		b.Clipon, b.Readings = &clipon, slices.Clone(b.Readings)
		change(b)
		a, err := Adjust(b, nil, Options{})
		require.NoError(t, err)
		require.Len(t, a.Findings(), 1)
		for _, i := range a.Findings()[0].Blamed() {
			names = append(names, a.Observations[i].Name)
		}
		return names
	}
	assert.Contains(t, blamed(func(b *bike.Bike) { b.Clipon.Hole = bike.Fixed(40) }), bike.SetsHole.Key())
	assert.NotContains(t, blamed(func(b *bike.Bike) { b.Readings[7].Value += 90 }), bike.SetsHole.Key(), "no hole is 90 mm off")
}

// Where a mark and a reading rival each other it is not the same which of them is wrong: neither is set aside.
func TestAMarkThatRivalsAReadingIsNotSetAside(t *testing.T) {
	mixed := 0
	for seed := range uint64(20) {
		truth := biketest.Bike(rand.New(rand.NewPCG(seed, 0)), bike.Hood)
		b := truth.Bike
		b.AnchorSigma = 0
		truth.Read(bike.Line, biketest.BB, biketest.Mid)
		if seed%2 == 0 {
			truth.Read(bike.Line, biketest.BB, biketest.Tail)
			truth.Read(bike.Plumb, biketest.BB, biketest.Mid)
		}
		truth.Level(bike.SaddleBody)
		b.Marks["saddle post"] += 25 / b.Adjusters[b.Moving(bike.MovesSaddle)[0]].Unit
		a, err := Adjust(b, nil, Options{})
		require.NoError(t, err)
		for _, f := range a.Findings() {
			origins := map[Origin]int{}
			for _, i := range f.Blamed() {
				origins[a.Observations[i].Origin]++
			}
			if origins[FromMark] > 0 && origins[FromReading] > 0 {
				mixed++
				assert.False(t, f.Aside, "seed %d", seed)
			}
		}
	}
	assert.Greater(t, mixed, 5)
}

// A finding says what it is, and whether it, or what may be wrong instead, is where an anchor is; what is set aside follows from whom
// it blames.
func TestAFindingSaysWhereAnAnchorIsInQuestion(t *testing.T) {
	said := map[bool]int{}
	for seed := range uint64(60) {
		r := rand.New(rand.NewPCG(seed, 57))
		truth := biketest.Bike(r, bike.Hood)
		taped(r, truth, false, false)
		truth.Read(bike.Line, biketest.BB, biketest.Tail)
		truth.Read(bike.Plumb, biketest.BB, biketest.Nose)
		switch truth.Bike.AnchorSigma = 1; seed % 4 {
		case 0:
			truth.Bike.SaddleAnchor.X += 40
		case 1:
			truth.Bike.Readings[0].Value += 40
		case 2: // the anchor unknown: the mark or the tape
			truth.Bike.Marks["saddle post"] += 60 / truth.Bike.Adjusters[slices.IndexFunc(truth.Bike.Adjusters,
				func(a bike.Adjuster) bool { return a.Name == "saddle post" })].Unit
		case 3:
			truth.Bike.Saddle.Tilt.Lo += 0.2
			truth.Bike.Saddle.Tilt.Hi += 0.2
		}
		a, err := Adjust(truth.Bike, nil, Options{})
		require.NoError(t, err)
		for _, f := range a.Findings() {
			text, err := json.Marshal(f)
			require.NoError(t, err)
			var got struct {
				Name   string
				Anchor bool
			}
			require.NoError(t, json.Unmarshal(text, &got))
			want := slices.ContainsFunc(f.Blamed(), func(i int) bool { return a.Observations[i].Origin == FromAnchor })
			assert.Equal(t, want, got.Anchor)
			said[want]++
			o, name := a.Observations[f.Observation], a.Called(f.Observation)
			if o.Origin == FromReading || o.Origin == FromStated {
				name = o.Name
			}
			assert.Equal(t, name, got.Name)
			// Set aside is what is blamed alone, or with nothing but marks and anchors, of which any leaves the same.
			others := slices.ContainsFunc(f.Blamed(), func(i int) bool { return !a.onScale(i) })
			assert.Equal(t, f.BBHeight == 0 && (len(f.Blamed()) == 1 || !others), f.Aside)
			for _, k := range f.Slips {
				assert.False(t, a.onScale(k.Observation), "how a scale is read wrong depends on it")
			}
		}
	}
	assert.Len(t, said, 2)
}
