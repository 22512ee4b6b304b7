package plane

import "math"

// golden is the ratio of golden-section search.
var golden = (math.Sqrt(5) - 1) / 2

// Lowest returns where a function with one dip on a stretch is least, to about tol, by golden section.
func Lowest(f func(float64) float64, r Range, tol float64) float64 {
	lo, hi := r.Lo, r.Hi
	a, b := lo+(1-golden)*(hi-lo), lo+golden*(hi-lo)
	fa, fb := f(a), f(b)
	for hi-lo > tol {
		if fa <= fb {
			hi, b, fb = b, a, fa
			a = lo + (1-golden)*(hi-lo)
			fa = f(a)
		} else {
			lo, a, fa = a, b, fb
			b = lo + golden*(hi-lo)
			fb = f(b)
		}
	}
	if fa <= fb {
		return a
	}
	return b
}
