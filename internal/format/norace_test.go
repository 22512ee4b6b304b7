//go:build !race

package format_test

const stride = 1
