package lsq

import (
	"math"
	"slices"
)

// householder factors the rows x cols column-major matrix a (rows >= cols) in
// place: R above and on the diagonal, reflector k below it with its leading
// entry in lead[k]. With perm != nil, columns are exchanged so that
// |R_kk| never grows, and perm[k] is the original index of column k.
func householder(a []float64, rows, cols int, lead []float64, perm []int, norms, start []float64) {
	col := func(j int) []float64 { return a[j*rows : (j+1)*rows] }
	if perm != nil {
		for j := range cols {
			perm[j] = j
			norms[j] = sumSquares(col(j))
			start[j] = norms[j]
		}
	}
	for k := range cols {
		if perm != nil {
			best := k
			for j := k + 1; j < cols; j++ {
				if norms[j] > norms[best] {
					best = j
				}
			}
			if best != k {
				ck, cb := col(k), col(best)
				for i := range ck {
					ck[i], cb[i] = cb[i], ck[i]
				}
				perm[k], perm[best] = perm[best], perm[k]
				norms[best], start[best] = norms[k], start[k]
			}
		}
		v := col(k)[k:]
		length := math.Sqrt(sumSquares(v))
		lead[k] = 0
		if length > 0 {
			if v[0] > 0 {
				length = -length
			}
			// The reflector is v - length*e1; its squared norm is -2*length*first.
			first := v[0] - length
			lead[k] = first
			v[0] = first
			for j := k + 1; j < cols; j++ {
				reflect(v, col(j)[k:], -length*first)
			}
			v[0] = length
		}
		if perm == nil {
			continue
		}
		for j := k + 1; j < cols; j++ {
			norms[j] -= sq(a[j*rows+k])
			// Down-dating has cancelled: sum afresh.
			if norms[j] <= 1e-6*start[j] {
				norms[j] = sumSquares(col(j)[k+1:])
				start[j] = norms[j]
			}
		}
	}
}

// rankOf is how many of the columns of a factored matrix with exchanged columns are independent: their diagonals stand out from
// the rounding of the greatest.
func rankOf(a []float64, rows, cols int) (rank int) {
	for rank < cols && math.Abs(a[rank*rows+rank]) > rankTolerance*math.Abs(a[0]) {
		rank++
	}
	return rank
}

// reflect applies I - v v'/half to y, where half is half the squared norm of v.
func reflect(v, y []float64, half float64) {
	y = y[:len(v)]
	// Two sums at once: one alone waits for each addition to finish.
	even, odd := 0.0, 0.0
	i := 0
	for ; i+1 < len(v); i += 2 {
		even += v[i] * y[i]
		odd += v[i+1] * y[i+1]
	}
	if i < len(v) {
		even += v[i] * y[i]
	}
	dot := (even + odd) / half
	for i, vi := range v {
		y[i] -= dot * vi
	}
}

// applyReflector applies reflector k of a factored matrix to y (length rows).
func applyReflector(a []float64, rows, k int, lead []float64, y []float64) {
	if lead[k] == 0 {
		return
	}
	v := a[k*rows+k : (k+1)*rows]
	diagonal := v[0]
	v[0] = lead[k]
	reflect(v, y[k:], -diagonal*lead[k])
	v[0] = diagonal
}

// applyQT overwrites y with Q'y.
func applyQT(a []float64, rows, cols int, lead []float64, y []float64) {
	for k := range cols {
		applyReflector(a, rows, k, lead, y)
	}
}

// applyQ overwrites y with Qy.
func applyQ(a []float64, rows, cols int, lead []float64, y []float64) {
	for k := cols - 1; k >= 0; k-- {
		applyReflector(a, rows, k, lead, y)
	}
}

// solveUpper solves R z = b in place for the leading n x n upper triangle of a
// column-major matrix with the given column stride.
func solveUpper(r []float64, stride, n int, b []float64) {
	for j := n - 1; j >= 0; j-- {
		b[j] /= r[j*stride+j]
		for i := range j {
			b[i] -= r[j*stride+i] * b[j]
		}
	}
}

// solveUpperT solves R'z = b in place.
func solveUpperT(r []float64, stride, n int, b []float64) {
	for j := range n {
		for i := range j {
			b[j] -= r[j*stride+i] * b[i]
		}
		b[j] /= r[j*stride+j]
	}
}

func sumSquares(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x * x
	}
	return s
}

func norm(v []float64) float64 { return math.Sqrt(sumSquares(v)) }

func sq(x float64) float64 { return x * x }

func finite(v []float64) bool {
	return !slices.ContainsFunc(v, func(x float64) bool { return x-x != 0 }) // NaN but for a finite x
}
