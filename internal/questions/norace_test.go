//go:build !race

package questions_test

const stride = 1
