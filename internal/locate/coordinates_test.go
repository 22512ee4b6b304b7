package locate

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/assembly"
	"carryover/internal/biketest"
)

// A position moved by a coordinate differs in that one, and only there.
func TestMovedMovesOneCoordinate(t *testing.T) {
	of := func(p Position) [Coordinates]float64 {
		return [Coordinates]float64{p.Sit.At.X, p.Sit.At.Y, p.Sit.Angle, p.Hands.At.X, p.Hands.At.Y, p.Hands.Angle, p.Second.At.X, p.Second.At.Y}
	}
	p := Position{Second: &assembly.Contact{}}
	for i := range Coordinates {
		want := [Coordinates]float64{}
		want[i] = 0.5
		assert.Equal(t, want, of(p.Moved(i, 0.5)), "coordinate %d", i)
	}
	assert.Zero(t, of(p), "what is moved is a copy")
}

// What the adjustment lists of a body is where the body stands.
func TestValuesAreWhereBodiesStand(t *testing.T) {
	for _, name := range []string{"road", "tri"} {
		a, err := Adjust(biketest.Example(t, name), nil, Options{})
		require.NoError(t, err)
		got := map[string]float64{}
		for _, v := range a.Values() {
			got[v.Name] = v.Value.Value()
		}
		seat, bar := a.Stance.Poses[assembly.Saddle], a.Stance.Poses[assembly.Bar]
		for key, want := range map[string]float64{"saddle.x": seat.Origin.X, "saddle.y": seat.Origin.Y, "saddle.tilt": seat.Turn,
			"bar.x": bar.Origin.X, "bar.y": bar.Origin.Y} {
			require.Contains(t, got, key, name)
			assert.InDelta(t, want, got[key], 1e-9, "%s of %s", key, name)
		}
	}
}
