package lsq

import (
	"math"
	"math/rand/v2"
	"slices"
)

// tapeNetwork is an invented plane network in millimetres: free points taped
// to fixed ones and to each other (sigma 2 mm), and optionally their heights
// (sigma 3 mm) with a tape whose zero is one more unknown.
type tapeNetwork struct {
	truth   []float64
	problem Problem // with exact values
}

func newTapeNetwork(points int, zero bool) tapeNetwork {
	free := [][2]float64{{-180, 700}, {430, 600}, {-60, 150}, {300, 350}}[:points]
	fixed := [][2]float64{{0, 0}, {600, -280}, {-410, -70}, {590, 610}, {-300, 300}}
	if !zero {
		fixed = fixed[:4]
	}
	type pair struct{ a, b int } // b < 0 is fixed point -1-b
	var pairs []pair
	for a := range free {
		for b := range fixed {
			pairs = append(pairs, pair{a, -1 - b})
		}
		for b := range a {
			pairs = append(pairs, pair{a, b})
		}
	}
	heights := 0
	n := 2 * points
	if zero {
		heights, n = points, n+1
	}
	m := len(pairs) + heights
	t := tapeNetwork{}
	for _, at := range free {
		t.truth = append(t.truth, at[0], at[1])
	}
	if zero {
		t.truth = append(t.truth, 4)
	}
	p := Problem{Start: slices.Clone(t.truth), Values: make([]float64, m), Sigmas: make([]float64, m), Scale: make([]float64, n)}
	for j := range p.Scale {
		p.Scale[j] = 100
	}
	for i := range p.Sigmas {
		p.Sigmas[i] = 2
		if i >= len(pairs) {
			p.Sigmas[i] = 3
		}
	}
	p.Model = func(x, f, jac []float64) {
		for i, o := range pairs {
			a := 2 * o.a
			var bx, by float64
			if o.b < 0 {
				bx, by = fixed[-1-o.b][0], fixed[-1-o.b][1]
			} else {
				bx, by = x[2*o.b], x[2*o.b+1]
			}
			dx, dy := x[a]-bx, x[a+1]-by
			d := math.Sqrt(dx*dx + dy*dy)
			f[i] = d
			row := jac[i*n : (i+1)*n]
			row[a], row[a+1] = dx/d, dy/d
			if o.b >= 0 {
				row[2*o.b], row[2*o.b+1] = -dx/d, -dy/d
			}
			if zero {
				f[i] += x[n-1]
				row[n-1] = 1
			}
		}
		for k := range heights {
			i := len(pairs) + k
			f[i] = x[2*k+1] + x[n-1]
			jac[i*n+2*k+1], jac[i*n+n-1] = 1, 1
		}
	}
	p.Model(t.truth, p.Values, make([]float64, m*n))
	t.problem = p
	return t
}

// measure returns the problem read by a noisy tape, started well off the truth.
func (t tapeNetwork) measure(r *rand.Rand) Problem {
	p := t.problem
	p.Values = slices.Clone(p.Values)
	p.Start = slices.Clone(t.truth)
	for i := range p.Values {
		p.Values[i] += p.Sigmas[i] * r.NormFloat64()
	}
	for j := range p.Start {
		p.Start[j] += 20 * r.NormFloat64()
	}
	return p
}

type searchFunc func(Problem, []bool, float64, *Workspace) (*Search, error)

func indices(s *Search) []int {
	var at []int
	for _, suspect := range s.Suspects {
		at = append(at, suspect.Index)
	}
	return at
}
