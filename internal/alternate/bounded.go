package alternate

import (
	"math"
	"slices"

	"carryover/internal/plane"
)

// bounded minimises |res - Σ (x_i - start_i)·col_i|² over the box, from x on; res is
// the residual at the given x and is kept up to date. Sweeps of one-variable steps, each exact, alternate
// with Newton's method over what is off its stops; as that ends at the least over them, no set of stops comes twice.
func bounded(col [][]float64, res, x []float64, box []stretch) {
	norm := make([]float64, len(col))
	for i, c := range col {
		for _, v := range c {
			norm[i] += v * v
		}
	}
	move := func(i int, d float64) {
		x[i] += d
		for k, v := range col[i] {
			res[k] -= d * v
		}
	}
	var free []int
	for range 200 {
		moved := 0.0
		free = free[:0]
		for i := range col {
			if norm[i] == 0 || box[i].hi <= box[i].lo {
				continue
			}
			along := 0.0
			for k, v := range col[i] {
				along += v * res[k]
			}
			to := plane.Clamp(x[i]+along/norm[i], box[i].lo, box[i].hi)
			moved = math.Max(moved, math.Abs(to-x[i]))
			move(i, to-x[i])
			if to > box[i].lo && to < box[i].hi {
				free = append(free, i)
			}
		}
		if moved < 1e-11 {
			return
		}
		if len(free) > 1 {
			newton(col, res, x, box, free, move)
		}
	}
}

// newton goes to the least squares of the free variables; one that meets its stop on the way stays there, and the others go on.
func newton(col [][]float64, res, x []float64, box []stretch, free []int, move func(int, float64)) {
	for len(free) > 0 {
		s := leastStep(col, res, free)
		step, hit := 1.0, -1
		for a, i := range free {
			to := box[i].hi
			if s[a] < 0 {
				to = box[i].lo
			}
			if part := (to - x[i]) / s[a]; part < step {
				step, hit = part, a
			}
		}
		for a, i := range free {
			move(i, plane.Clamp(x[i]+step*s[a], box[i].lo, box[i].hi)-x[i])
		}
		if hit < 0 {
			return
		}
		free = slices.Delete(free, hit, hit+1)
	}
}

// leastStep solves the normal equations of the free variables by Cholesky's method; a ridge keeps directions that cancel one
// another harmless.
func leastStep(col [][]float64, res []float64, free []int) []float64 {
	n := len(free)
	l := make([]float64, n*n)
	s := make([]float64, n)
	for a, i := range free {
		for k, v := range col[i] {
			s[a] += v * res[k]
		}
		for b, j := range free[:a+1] {
			for k, v := range col[i] {
				l[a*n+b] += v * col[j][k]
			}
		}
		l[a*n+a] += 1e-9
	}
	for a := range n {
		for b := range a + 1 {
			v := l[a*n+b]
			for k := range b {
				v -= l[a*n+k] * l[b*n+k]
			}
			if a == b {
				l[a*n+a] = math.Sqrt(math.Max(v, 1e-12)) // rounding may leave less than the ridge
			} else {
				l[a*n+b] = v / l[b*n+b]
			}
		}
	}
	for a := range n {
		for k := range a {
			s[a] -= l[a*n+k] * s[k]
		}
		s[a] /= l[a*n+a]
	}
	for a := n - 1; a >= 0; a-- {
		for k := a + 1; k < n; k++ {
			s[a] -= l[k*n+a] * s[k]
		}
		s[a] /= l[a*n+a]
	}
	return s
}
