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
