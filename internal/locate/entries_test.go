package locate

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/bike"
	"carryover/internal/biketest"
	"carryover/internal/cockpit"
	"carryover/internal/lsq/lsqtest"
	"carryover/internal/saddle"
)

// A mark shows the travel over the unit; a scale that is bent shows that less the bend times 4u(1-u), u from 0 at the least mark entered
// to 1 at the greatest: nothing at the ends, all in the middle.
func TestWhatAScaleMakesOfAMark(t *testing.T) {
	b := biketest.Example(t, "studio-calibrate")
	a, err := Entries(b)
	require.NoError(t, err)
	var numbers []Number
	for i := range b.Adjusters {
		numbers = append(numbers, Number{Direction, false, i}, Number{Unit, false, i}, Number{Bend, false, i})
	}
	numbers = append(numbers, Number{AnchorX, true, -1}, Number{AnchorY, true, -1}, Number{AnchorX, false, -1}, Number{AnchorY, false, -1})
	for _, n := range numbers {
		assert.Equal(t, -1, a.Unknown(n), "nothing is learnt yet: %+v", n)
	}
	p := a.Learn(numbers)
	assert.Less(t, lsqtest.JacobianError(p.Model, p.Start, p.Sigmas, p.Scale), 1e-6)
	for _, n := range numbers {
		assert.GreaterOrEqual(t, a.Unknown(n), 0, "%+v", n)
	}
	read := func(x []float64) []float64 {
		f := make([]float64, len(p.Values))
		p.Model(x, f, make([]float64, len(f)*len(x)))
		return f
	}
	marks := 0
	for i := range b.Adjusters {
		all := a.Entered(i)
		x := append([]float64(nil), p.Start...)
		straight := read(x)
		x[a.Unknown(Number{Bend, false, i})] += 3
		bent := read(x)
		x = append([]float64(nil), p.Start...)
		x[a.Unknown(Number{Unit, false, i})] *= 1.1
		stretched := read(x)
		for k, o := range a.Observations {
			if o.Origin != FromMark {
				continue
			}
			wantBend, wantUnit := 0.0, 0.0
			if o.Adjuster == i {
				marks++
				wantUnit = -0.1 * b.Adjusters[i].Unit * o.Mark
				if span := all[len(all)-1] - all[0]; span > 0 {
					wantBend = -3 * (1 - math.Pow(2*(o.Mark-all[0])/span-1, 2))
				}
			}
			assert.InDelta(t, wantBend, bent[k]-straight[k], 1e-9, "%+v", o)
			assert.InDelta(t, wantUnit, stretched[k]-straight[k], 1e-9, "%+v", o)
		}
	}
	assert.Positive(t, marks)
}

// An adjuster is seen where a reading goes to what it moves: the saddle, or what hangs on the bar.
func TestWhatReadingsSee(t *testing.T) {
	for _, c := range []struct {
		to   []bike.Place
		sees map[bike.Moves]bool
	}{
		{[]bike.Place{biketest.Mid}, map[bike.Moves]bool{bike.MovesSaddle: true}},
		{[]bike.Place{biketest.At(bike.AtBar)}, map[bike.Moves]bool{bike.MovesBar: true}},
		{[]bike.Place{biketest.At(bike.AtHood), biketest.Nose}, map[bike.Moves]bool{bike.MovesBar: true, bike.MovesSaddle: true}},
	} {
		b := biketest.Example(t, "studio")
		entry := bike.Calibration{}
		for _, to := range c.to {
			entry.Readings = append(entry.Readings, bike.Reading{Kind: bike.Plumb, From: biketest.BB, To: to, Value: 600, Sigma: 2})
		}
		b.Calibrations = []bike.Calibration{entry}
		a, err := Entries(b)
		require.NoError(t, err)
		for i := range b.Adjusters {
			assert.Equal(t, c.sees[b.Adjusters[i].Moves], a.Sees(Number{Kind: Unit, Adjuster: i}), "%v: %s", c.to, b.Adjusters[i].Name)
		}
	}
}

// The clamp of a machine to be learnt holds the rails where the file says; left out or left open it is held in the middle of that.
func TestEntriesHoldTheRails(t *testing.T) {
	b := biketest.Example(t, "studio-calibrate")
	rail := b.Saddle.Only().Rail
	read := func(at bike.Setting) []float64 {
		b.Saddle.ClampAt = at
		a, err := Entries(b)
		require.NoError(t, err)
		p := a.Learn(nil)
		f := make([]float64, len(p.Values))
		p.Model(p.Start, f, make([]float64, len(f)*len(p.Start)))
		return f
	}
	assert.Equal(t, read(bike.Fixed(rail.Mid())), read(bike.Setting{}))
	assert.Equal(t, read(bike.Fixed(120)), read(bike.Setting{Given: true, Free: true, Lo: 110, Hi: 130}))
	assert.NotEqual(t, read(bike.Fixed(120)), read(bike.Fixed(130)))
	b.Saddle.Slot = bike.Slot[saddle.Shape]{}
	_, err := Entries(b)
	assert.Error(t, err, "there are no rails")
}

// What a reading of an entry goes to must hang on a clamp of the file, which must have a place to start from.
func TestEntriesThatHangOnNothing(t *testing.T) {
	none := func(*bike.Bike) {}
	settled := func(b *bike.Bike) { b.Clipon.Hole, b.Clipon.Stack = bike.Fixed(0), bike.Fixed(0) }
	for _, c := range []struct {
		to   bike.Place
		spec func(b *bike.Bike)
		says string
	}{
		{biketest.At(bike.AtHood), none, ""},
		{biketest.At(bike.AtDrop), none, ""},
		{biketest.At(bike.AtHood), func(b *bike.Bike) { b.Bar.Lever = bike.Slot[cockpit.Lever]{} }, "hangs on no part of this file"},
		{biketest.At(bike.AtPad), settled, ""},
		{biketest.At(bike.AtPad), none, "hangs on no part of this file"}, // its hole is not said
		{biketest.At(bike.AtPad), func(b *bike.Bike) { b.Clipon = nil }, "hangs on no part of this file"},
		{biketest.At(bike.AtGrip), settled, "hangs on no part of this file"}, // its extension is not said
		{biketest.At(bike.AtBar), func(b *bike.Bike) { b.BarAnchor = nil }, "give a rough [anchor]"},
		{biketest.At(bike.AtBar), func(b *bike.Bike) { b.SaddleAnchor = nil }, ""},
		{biketest.Mid, func(b *bike.Bike) { b.SaddleAnchor = nil }, "give a rough [anchor]"},
		{biketest.Mid, func(b *bike.Bike) { b.BarAnchor = nil }, ""},
		{biketest.Sit, func(b *bike.Bike) { b.Saddle.Slot = bike.Slot[saddle.Shape]{} }, "its part is needed"},
	} {
		b := biketest.Example(t, "studio")
		c.spec(b)
		b.Calibrations = []bike.Calibration{{Readings: []bike.Reading{{Kind: bike.Line, From: biketest.BB, To: c.to, Value: 600, Sigma: 2,
			Written: "it"}}}}
		_, err := Entries(b)
		if c.says == "" {
			assert.NoError(t, err, "%v", c.to)
			continue
		}
		assert.ErrorContains(t, err, c.says, "%v", c.to)
	}
}
