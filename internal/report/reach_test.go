package report

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestCountsAreReadable(t *testing.T) {
	for n, want := range map[float64]string{1: "1", 999: "999", 1000: "1,000", 48e6: "48,000,000", 2416510: "2,416,510", 1e18: "more than a million thousand million"} {
		assert.Equal(t, want, counted(n))
	}
}

// Far out of reach is said before any setting; a miss that a rider might put up with is not.
func TestFarOutOfReachIsSaidFirst(t *testing.T) {
	for e, warned := range map[float64]bool{3: false, 19.9: false, 20.1: true, 400: true} {
		var b strings.Builder
		require.NoError(t, Text(&b, Carry{Results: []Result{{Error: e}}}, false))
		head, _, ok := strings.Cut(b.String(), "\nSettings\n")
		require.True(t, ok)
		assert.Equal(t, warned, strings.Contains(strings.Join(strings.Fields(head), " "),
			"! Out of reach by "+num(e, 1)+" mm: check the readings; do not set this bike up like this."), "E = %g", e)
	}
}
