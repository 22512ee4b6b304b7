package envelope

import (
	"context"
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
