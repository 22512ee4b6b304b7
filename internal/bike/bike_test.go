package bike

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A step like 0.1 is no binary fraction: rounding must lose no step and invent none.
func TestStepsOfAnAdjuster(t *testing.T) {
	for _, c := range []struct {
		a       Adjuster
		indexed bool
		steps   int
		last    float64
	}{
		{Adjuster{Unit: 1, Lo: 0, Hi: 1, Step: 0.1}, true, 11, 1},
		{Adjuster{Unit: 1, Lo: 0, Hi: 0.3, Step: 0.1}, true, 4, 0.3},
		{Adjuster{Unit: 1, Lo: 5, Hi: 5.95, Step: 0.1}, true, 10, 5.9},
		{Adjuster{Unit: 1, Lo: -3, Hi: 4, Step: 5}, true, 2, 2},
		{Adjuster{Unit: 1, Lo: 0, Hi: 7}, false, 0, 7},
		{Adjuster{Unit: 1, Lo: 4, Hi: 4, Step: 1}, false, 0, 4},
	} {
		assert.Equal(t, c.indexed, c.a.Indexed(), "%+v", c.a)
		if c.indexed {
			assert.Equal(t, c.steps, c.a.Steps(), "%+v", c.a)
		}
		_, last := c.a.Stops()
		assert.InDelta(t, c.last, last, 1e-12, "%+v", c.a)
	}
}
