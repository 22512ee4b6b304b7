package job

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/biketest"
	"carryover/internal/body"
)

// compared is the road example as it is, and as some change of its text makes it.
func compared(t *testing.T, change *strings.Replacer) *Comparison {
	t.Helper()
	dir := t.TempDir()
	a, b := filepath.Join(dir, "a.toml"), filepath.Join(dir, "b.toml")
	text := biketest.Text(t, "road")
	require.NoError(t, os.WriteFile(a, []byte(text), 0o600))
	require.NoError(t, os.WriteFile(b, []byte(change.Replace(text)), 0o600))
	var files Files
	c, err := files.Compare(Asked{From: a, To: b}, body.UsualHabits())
	require.NoError(t, err)
	return c
}

func (c *Comparison) find(t *testing.T, g Group, key string) Difference {
	t.Helper()
	for _, d := range c.Differences {
		if d.Group == g && d.Key == key {
			return d
		}
	}
	require.Fail(t, "no such number", "%s %s", g, key)
	return Difference{}
}

// A saddle 5 mm further back, the readings from its nose 5 mm longer: what goes with it goes, what does not stays.
func TestWhatChangedIsWhatWasChanged(t *testing.T) {
	c := compared(t, strings.NewReplacer("value = 43.0", "value = 48.0", "value = 591.0", "value = 596.0", "value = 512.0", "value = 517.0"))
	assert.InDelta(t, 5, func() float64 { d := c.find(t, Readings, "setback at nose"); return d.By().Value() }(), 1e-12)
	setback, hood := c.find(t, Measures, "setback"), c.find(t, Contacts, "hood.x")
	seat := c.find(t, Contacts, "sit.x")
	// The line from the BB to mid-saddle stays as long, so the saddle sinks a little and the readings share what that leaves.
	assert.InDelta(t, 5, setback.By().Value(), 0.2)
	assert.InDelta(t, -setback.By().Value(), seat.By().Value(), 0.01, "the saddle goes as a whole")
	assert.InDelta(t, 0, hood.By().Value(), 0.2, "reach and nose-to-bar grew with it: the hands stay")
	assert.Empty(t, c.Parts)
	assert.Empty(t, c.OnlyA)
}

// The same parts on both err alike: only the readings make a change unsure, each bike's by itself.
func TestThePartsOfBothCancel(t *testing.T) {
	c := compared(t, strings.NewReplacer())
	pos, err := c.A.Adjusted.Position(c.A.Bike.Postures[0])
	require.NoError(t, err)
	for k, key := range []string{"sit.x", "sit.y", "sit.angle", "hood.x", "hood.y", "hood.angle"} {
		d := c.find(t, Contacts, key)
		assert.InDelta(t, 0, d.By().Value(), 1e-9, key)
		assert.InEpsilon(t, math.Sqrt2*pos.Sigma(k), d.Sigma.Value(), 1e-6, key)
		assert.GreaterOrEqual(t, d.SigmaA.Value(), pos.Sigma(k)-1e-9, "%s: by itself it counts the parts too", key)
	}
	other := compared(t, strings.NewReplacer("short-250", "short-245"))
	sit := other.find(t, Contacts, "sit.x")
	assert.Greater(t, sit.Sigma.Value(), 5.0, "two saddles err each by itself")
	require.Len(t, other.Parts, 1)
	assert.Equal(t, "saddle", other.Parts[0].Slot)
}
