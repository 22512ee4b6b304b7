package lsq

import "testing"

// tenth is a count of trials, a tenth of it with -short.
func tenth(n int) int {
	if testing.Short() {
		return n / 10
	}
	return n
}
