//go:build !race

package schema_test

const stride = 1
