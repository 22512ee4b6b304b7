package carry

import (
	"os"
	"runtime/debug"
	"testing"
)

// Thousands of small bikes are invented and thrown away: collecting them less often spares a fifth of the time.
func TestMain(m *testing.M) {
	debug.SetGCPercent(400)
	os.Exit(m.Run())
}

// tenth is a count of trials, a tenth of it with -short.
func tenth(n int) int {
	if testing.Short() {
		return n / 10
	}
	return n
}
