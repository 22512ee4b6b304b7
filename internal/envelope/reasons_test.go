package envelope

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// A seat wanted 30 mm behind the end of the slide: the slide is named, and the hands are looked for where they are once the
// saddle has come as near as it goes.
func TestWhatIsOutOfReachSaysWhatHoldsItBack(t *testing.T) {
	m := machine(t, "studio")
	pos := locate.Position{Posture: bike.Posture{Hands: bike.Hood, Support: 122, Weights: bike.DefaultWeights()},
		Sit:   assembly.Contact{Name: bike.Sit, At: plane.Point{X: -330, Y: 690}},
		Hands: assembly.Contact{Name: bike.Hood, At: plane.Point{X: 420, Y: 660}}}
	source := &bike.Bike{Feet: m.Bike.Feet}
	rooms, crank, err := m.Rooms(context.Background(), &pos, source, carry.Options{})
	require.NoError(t, err)
	assert.Equal(t, m.Bike.Feet.Crank, crank)
	require.Len(t, rooms, 2)
	require.False(t, rooms[0].Inside)
	assert.Contains(t, rooms[0].HeldBy, "saddle slide")
	assert.Greater(t, rooms[1].Want.X, pos.Hands.At.X+10, "the hands follow the saddle that was got")
	still, _, err := m.Rooms(context.Background(), &pos, source, carry.Options{HandsFixed: true})
	require.NoError(t, err)
	assert.InDelta(t, pos.Hands.At.X, still[1].Want.X, 1e-9)
	for _, r := range rooms {
		if r.Inside {
			assert.Empty(t, r.HeldBy)
		}
	}
}

func TestAnAdjusterWithoutStopsIsNamed(t *testing.T) {
	m := machine(t, "studio")
	assert.Empty(t, m.Unbound)
	b := *m.Bike
	b.Adjusters = append([]bike.Adjuster(nil), b.Adjusters...)
	b.Adjusters[1].NoRange = true
	m, err := New(&b)
	require.NoError(t, err)
	assert.Equal(t, []string{"saddle slide"}, m.Unbound)
}

// How far it turns from the wanted angle counts from the contact's own angle, not the bar's.
func TestTheRoomToTurnCountsFromTheContact(t *testing.T) {
	m := machine(t, "studio")
	_, offset, _ := m.barPart.HoodContact(m.lever, m.Bike.Bar.LeverAt.Lo)
	require.NotZero(t, offset)
	want := carry.Wanted{Sit: assembly.Contact{At: plane.Point{X: -200, Y: 700}},
		Hands: assembly.Contact{Name: bike.Hood, At: plane.Point{X: 500, Y: 660}, Angle: offset + plane.Rad(2)}}
	r := m.rooms(want, 122)[1]
	assert.InDelta(t, 14, plane.Deg(r.TurnDown), 1e-9, "from -12 to 2")
	assert.InDelta(t, 10, plane.Deg(r.TurnUp), 1e-9, "from 2 to 12")
}

// A lever free along its bar is tried every millimetre, from one end to the other.
func TestAFreeLeverIsTriedFromEndToEnd(t *testing.T) {
	m := machine(t, "studio")
	b := *m.Bike
	b.Bar.LeverAt = bike.Setting{Given: true, Free: true, Lo: 2, Hi: 6.5}
	m, err := New(&b)
	require.NoError(t, err)
	arms := m.arms(bike.Hood)
	require.Len(t, arms, 6, "2, 3, 4, 5, 6 and 6.5")
	for i, q := range []float64{2, 3, 4, 5, 6, 6.5} {
		at, angle, _ := m.barPart.HoodContact(m.lever, q)
		assert.Equal(t, at, arms[i].at[0])
		assert.Equal(t, angle, arms[i].offset)
	}
}

func TestStepsWithoutNumberAreRefused(t *testing.T) {
	m := machine(t, "studio")
	for steps, ok := range map[float64]bool{0.1: true, 0.05: false} { // 301 · 161, or 601 · 321 places
		b := *m.Bike
		b.Adjusters = append([]bike.Adjuster(nil), b.Adjusters...)
		b.Adjusters[0].Step, b.Adjusters[1].Step = steps, steps
		_, err := New(&b)
		if ok {
			assert.NoError(t, err)
		} else {
			assert.ErrorContains(t, err, "more than 100000 places")
		}
	}
}

func TestWhatIsMeasured(t *testing.T) {
	m := machine(t, "studio")
	list, err := m.Extremes(context.Background())
	require.NoError(t, err)
	var names []string
	for _, e := range list {
		names = append(names, e.Name)
		assert.Less(t, e.Least, e.Greatest, e.Name)
	}
	assert.Equal(t, []string{"saddle-height", "setback", "reach to hood", "drop to hood", "reach to drop", "drop to drop", "reach to pad",
		"drop to pad", "pad height", "pad height above the floor", "bar height", "bar height above the floor"}, names)
}

// Pads whose tilt counts from the bar turn with it.
func TestTurnsOnTurns(t *testing.T) {
	free := bike.Turns{Range: plane.Range{Lo: -0.1, Hi: 0.2}}
	still := bike.Turns{Range: plane.Range{Lo: 0.05, Hi: 0.05}}
	steps := bike.Turns{Values: []float64{0, 0.1}}
	more := bike.Turns{Values: []float64{-0.3, 0.01}}
	assert.Equal(t, plane.Range{Lo: -0.05, Hi: 0.25}, roundedTurn(sums(free, still).Range))
	assert.Empty(t, sums(free, still).Values)
	assert.InDeltaSlice(t, []float64{0.05, 0.15}, sums(steps, still).Values, 1e-12)
	assert.InDeltaSlice(t, []float64{-0.3, -0.2, 0.01, 0.11}, sums(steps, more).Values, 1e-12)
	assert.Empty(t, sums(steps, free).Values, "with the other free there are no steps left to stand on")
	assert.Equal(t, plane.Range{Lo: -0.1, Hi: 0.3}, roundedTurn(sums(steps, free).Ends()))
}

func roundedTurn(r plane.Range) plane.Range {
	return plane.Range{Lo: math.Round(r.Lo*1e9) / 1e9, Hi: math.Round(r.Hi*1e9) / 1e9}
}

// Outside, the way to the nearest border is pointed out: at right angles to the post, which leans 16° back.
func TestOutsideTheWayInIsPointedOut(t *testing.T) {
	m := machine(t, "studio")
	r := m.rooms(carry.Wanted{Sit: assembly.Contact{At: plane.Point{X: -900, Y: 690}}, Hands: assembly.Contact{Name: bike.Hood}}, 122)[0]
	require.False(t, r.Inside)
	across := plane.Direction(plane.Rad(16))
	assert.InDelta(t, across.X, r.Toward.X, 1e-6)
	assert.InDelta(t, across.Y, r.Toward.Y, 1e-6)
	assert.InDelta(t, r.Nearest, r.Along[0]*across.X, 1e-6)
	assert.Negative(t, r.Nearest)
}

func TestAFlippedStemStaysFlipped(t *testing.T) {
	m := machine(t, "outdoor")
	stem := *m.Bike.Stem
	for _, flip := range []*bool{nil, new(bool)} {
		stem.Flip = flip
		b := *m.Bike
		b.Stem = &stem
		m, err := New(&b)
		require.NoError(t, err)
		assert.False(t, *m.AsFitted().Stem.Flip)
		assert.Len(t, m.AsFitted().Stem.Options, 1)
		if flip != nil {
			*flip = true
			assert.True(t, *m.AsFitted().Stem.Flip)
		}
	}
}
