package lsq

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"
)

// Solution is a minimum of a Problem and what is needed to judge it.
type Solution struct {
	X      []float64 // n
	Status Status
	// Fitted are the computed observations, Residuals = Fitted - Values (m),
	// for observations set aside too.
	Fitted, Residuals []float64
	// Chi2 is the weighted sum of squares over the observations used, DOF
	// their number less Rank.
	Chi2      float64
	Rank, DOF int
	// Free spans what the observations leave free: n - Rank orthonormal
	// directions d, along which parameter j moves by Scale[j]*d[j].
	Free [][]float64
	// Cov is the covariance of the parameters (n x n, row-major) from the
	// a priori uncertainties. With free directions it is the pseudo-inverse in
	// units of Scale, and means something for Estimable functions only.
	Cov []float64
	// Jac holds the derivatives at X (m x n, row-major).
	Jac []float64

	values, sigmas, scale []float64
	leverage              []float64
	aside                 []bool
}

// minRedundancy is the redundancy below which an observation is not checked by
// the others at all.
const minRedundancy = 1e-9

func (w *Workspace) solution(p *Problem, status Status) (*Solution, error) {
	m, n, r := w.m, w.n, w.rank
	take := carve(make([]float64, 2*n+5*m+n*n+m*n+(n-r)*n))
	s := &Solution{X: take(n), Status: status, Rank: r,
		Fitted: take(m), Residuals: take(m), Cov: take(n * n), Jac: take(m * n),
		values: take(m), sigmas: take(m), leverage: take(m), scale: take(n)}
	copy(s.X, w.x)
	copy(s.Fitted, w.f)
	copy(s.Jac, w.jac)
	copy(s.values, p.Values)
	copy(s.sigmas, p.Sigmas)
	s.aside = slices.Clone(p.Aside)
	for j := range n {
		s.scale[j] = p.scale(j)
	}
	s.DOF = -r
	for i := range m {
		s.Residuals[i] = w.f[i] - p.Values[i]
		if p.used(i) {
			s.Chi2 += sq(w.res[i])
			s.DOF++
		}
	}
	// Leverage: squared row norms of the first r columns of Q.
	for k := range r {
		for i, qi := range w.column(k)[:m] {
			s.leverage[i] += sq(qi)
		}
	}
	w.covariance(s)
	for k := r; k < n; k++ {
		clear(w.z)
		w.z[k] = 1
		applyQ(w.t, n, r, w.tLead, w.z)
		d := take(n)
		for j, at := range w.perm {
			d[at] = w.z[j]
		}
		s.Free = append(s.Free, d)
	}
	// The last product bounds every variance Propagate makes of the rows.
	bound := largest(s.Cov) * sq(largest(s.Jac)*float64(n))
	if bound-bound != 0 || !finite(s.Cov) || !finite(s.Residuals) || s.Chi2-s.Chi2 != 0 {
		return nil, ErrNotFinite
	}
	return s, nil
}

func largest(v []float64) float64 {
	l := 0.0
	for _, x := range v {
		l = max(l, math.Abs(x))
	}
	return l
}

// covariance sums the outer products of the columns of the scaled
// pseudo-inverse of the factored Jacobian.
func (w *Workspace) covariance(s *Solution) {
	n, r := w.n, w.rank
	for k := range r {
		clear(w.z)
		w.z[k] = 1
		if r == n {
			solveUpper(w.a, w.rows, k+1, w.z)
		} else {
			solveUpperT(w.t, n, r, w.z)
			applyQ(w.t, n, r, w.tLead, w.z)
		}
		for j, at := range w.perm {
			w.y[at] = w.z[j] * s.scale[at]
		}
		for i, yi := range w.y {
			if yi == 0 {
				continue
			}
			row := s.Cov[i*n : i*n+i+1]
			for j := range row {
				row[j] += yi * w.y[j]
			}
		}
	}
	for i := range n {
		for j := range i {
			s.Cov[j*n+i] = s.Cov[i*n+j]
		}
	}
}

// Sigma returns the standard uncertainty of parameter j.
func (s *Solution) Sigma(j int) float64 { return math.Sqrt(s.Cov[j*len(s.X)+j]) }

// Row returns the derivatives of observation i (n).
func (s *Solution) Row(i int) []float64 {
	n := len(s.X)
	return s.Jac[i*n : (i+1)*n : (i+1)*n]
}

// Covariance returns a C b' for two functions of the parameters with
// derivatives a and b (n each).
func (s *Solution) Covariance(a, b []float64) float64 { return Bilinear(s.Cov, a, b) }

// Bilinear returns a C b' for a matrix c (n x n, row-major) and vectors a and b (n each).
func Bilinear(c, a, b []float64) float64 {
	n, sum := len(a), 0.0
	for i, ai := range a {
		if ai == 0 {
			continue
		}
		dot := 0.0
		for j, v := range c[i*n : (i+1)*n] {
			dot += v * b[j]
		}
		sum += ai * dot
	}
	return sum
}

// Propagate returns the standard uncertainty sqrt(row C row') of a function of
// the parameters with derivatives row (n).
func (s *Solution) Propagate(row []float64) float64 {
	return math.Sqrt(max(0, s.Covariance(row, row)))
}

// Influence returns dX/dValues[i] (n) in the linear model; zero if i is aside.
func (s *Solution) Influence(i int) []float64 {
	n := len(s.X)
	d := make([]float64, n)
	if s.isAside(i) {
		return d
	}
	row := s.Row(i)
	for j := range d {
		for k, c := range s.Cov[j*n : (j+1)*n] {
			d[j] += c * row[k]
		}
		d[j] /= sq(s.sigmas[i])
	}
	return d
}

// Estimable says whether the observations fix a function with derivatives row
// (n): whether it stays put along every free direction.
func (s *Solution) Estimable(row []float64) bool {
	size := 0.0
	for j, v := range row {
		size += sq(v * s.scale[j])
	}
	for _, d := range s.Free {
		dot := 0.0
		for j, v := range row {
			dot += v * s.scale[j] * d[j]
		}
		if math.Abs(dot) > 1e-8*math.Sqrt(size) {
			return false
		}
	}
	return true
}

// FreeShare returns for parameter j how far the observations leave it open:
// 0 is fixed, 1 entirely free (the squares of its entries in Free, summed).
func (s *Solution) FreeShare(j int) float64 {
	sum := 0.0
	for _, d := range s.Free {
		sum += sq(d[j])
	}
	return min(sum, 1)
}

func (s *Solution) isAside(i int) bool { return s.aside != nil && s.aside[i] }

// Redundancy returns the redundancy numbers (m): the share of an error of
// observation i that shows in its residual. They sum to DOF over the
// observations used. For one set aside it is the number it would have as the
// only one put back.
func (s *Solution) Redundancy() []float64 { return s.each(s.redundancy) }

func (s *Solution) each(of func(i int) float64) []float64 {
	list := make([]float64, len(s.values))
	for i := range list {
		list[i] = of(i)
	}
	return list
}

func (s *Solution) redundancy(i int) float64 {
	if !s.isAside(i) {
		return min(1, max(0, 1-s.leverage[i]))
	}
	row := s.Row(i)
	if !s.Estimable(row) {
		return 0
	}
	return 1 / (1 + s.Covariance(row, row)/sq(s.sigmas[i]))
}

// Normalized returns |w_i| (m), the residual over its own standard uncertainty
// sigma_i sqrt(r_i): standard normal in the absence of blunders. It is 0 where
// r_i < 1e-9. For an observation set aside it is the value it would have as
// the only one put back.
func (s *Solution) Normalized() []float64 { return s.each(s.normalized) }

func (s *Solution) normalized(i int) float64 {
	r := s.redundancy(i)
	if r < minRedundancy {
		return 0
	}
	v := math.Abs(s.Residuals[i]) / s.sigmas[i]
	if s.isAside(i) {
		// v/sigma is the full disagreement here, of variance 1/r.
		return v * math.Sqrt(r)
	}
	return v / math.Sqrt(r)
}

// Others returns what the other observations say observation i should read,
// and the standard uncertainty of that. ok is false if they say nothing.
// It is exact for a linear model; set i aside and solve to have it exactly.
func (s *Solution) Others(i int) (value, sigma float64, ok bool) {
	r := s.redundancy(i)
	if r < minRedundancy {
		return 0, 0, false
	}
	sigma = s.sigmas[i] * math.Sqrt((1-r)/r)
	if s.isAside(i) {
		return s.Fitted[i], sigma, true
	}
	return s.values[i] + s.Residuals[i]/r, sigma, true
}

// PValue returns the probability of a Chi2 this large or larger without
// blunders (the global test); 1 with no redundancy.
func (s *Solution) PValue() float64 {
	if s.DOF <= 0 {
		return 1
	}
	return mathext.GammaIncRegComp(0.5*float64(s.DOF), 0.5*math.Max(0, s.Chi2))
}

// CriticalW returns the limit on |w| of a two-sided test at significance alpha.
func CriticalW(alpha float64) float64 { return mathext.NormalQuantile(1 - alpha/2) }
