//go:build race

package format_test

// stride thins out the longest tests under the race detector, which has nothing to find in one goroutine and makes
// them ten times as slow.
const stride = 10
