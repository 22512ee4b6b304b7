package plane

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestQuantitiesAreWrittenInTheUnitOfPeople(t *testing.T) {
	out, err := json.Marshal([]any{Angle(math.Pi / 2), Turning(math.Pi), Length(12.5), Turning(0).Of(math.Pi / 4), Length(0).Of(3)})
	require.NoError(t, err)
	assert.JSONEq(t, `[90, 180, 12.5, 45, 3]`, string(out))
	assert.Equal(t, math.Pi, Turning(math.Pi).Value(), "computing goes on in radians")
}

// What was typed in degrees comes back as it was typed.
func TestDegreesComeBackAsTheyWereTyped(t *testing.T) {
	for tenths := -1800; tenths <= 1800; tenths++ {
		typed := float64(tenths) / 10
		out, err := json.Marshal(map[string]any{"a": Angle(Rad(typed)), "q": QuantityOf(true, Rad(typed))})
		require.NoError(t, err)
		want, err := json.Marshal(map[string]float64{"a": typed, "q": typed})
		require.NoError(t, err)
		assert.JSONEq(t, string(want), string(out))
	}
}
