package lsq

import "math"

// Status says how the minimization ended.
type Status int

const (
	// Converged: the weighted residuals are orthogonal to the column space of
	// the Jacobian within Tolerance, or as far as rounding lets chi2 tell.
	Converged Status = iota
	// MaxIterations: the bound on model evaluations was reached first.
	MaxIterations
	// Stalled: no step, however short, lowers chi2 although the derivatives
	// say it should: the derivatives do not fit the model.
	Stalled
)

func (s Status) String() string {
	switch s {
	case Converged:
		return "converged"
	case MaxIterations:
		return "iteration bound reached"
	default:
		return "stalled"
	}
}

const (
	// rankTolerance is the share of the largest diagonal of the pivoted R
	// below which a direction counts as free.
	rankTolerance = 1e-10
	// rounding is the relative noise granted to the sum in chi2; that of its
	// terms comes on top.
	rounding = 1e-14
	// acceptGain is the share of the predicted fall of chi2 a step must bring.
	acceptGain = 1e-4
	// smallestStep is the step bound, relative to the parameters, that counts as none.
	smallestStep   = 1e-15
	dampingRounds  = 10
	defaultMaxIter = 200
	defaultTol     = 1e-10
)

// Workspace holds the buffers of Solve for reuse by one goroutine at a time.
// The zero value is ready.
type Workspace struct {
	m, n, rows   int
	x, trial     []float64
	f, fTrial    []float64
	jac, jTrial  []float64
	res, resNext []float64 // weighted residuals, zero where set aside
	a            []float64 // rows x n column-major factor of the scaled weighted Jacobian
	lead, qtr    []float64
	norms, start []float64
	perm         []int
	rank         int
	damped       []float64 // n x n
	t, tLead     []float64 // n x rank factor of the leading rows of R, transposed
	z, y, g, rot []float64
	memory       []float64
}

func (w *Workspace) resize(m, n int) {
	if w.m == m && w.n == n {
		return
	}
	rows := max(m, n)
	*w = Workspace{m: m, n: n, rows: rows, perm: make([]int, n), memory: w.memory}
	need := 2*n + 2*m + 2*m*n + 2*rows + rows*n + n + rows + 2*n + 2*n*n + 5*n
	if len(w.memory) < need {
		w.memory = make([]float64, need)
	}
	take := carve(w.memory)
	w.x, w.trial = take(n), take(n)
	w.f, w.fTrial = take(m), take(m)
	w.jac, w.jTrial = take(m*n), take(m*n)
	w.res, w.resNext = take(rows), take(rows)
	w.a, w.lead, w.qtr = take(rows*n), take(n), take(rows)
	w.norms, w.start = take(n), take(n)
	w.damped, w.t = take(n*n), take(n*n)
	w.tLead, w.z, w.y, w.g, w.rot = take(n), take(n), take(n), take(n), take(n)
}

// carve hands out pieces of a buffer, of k numbers each.
func carve(memory []float64) (take func(k int) []float64) {
	return func(k int) []float64 {
		s := memory[:k:k]
		memory = memory[k:]
		return s
	}
}

// Solve minimizes chi2 and returns the parameters with their statistics. ws
// may be nil. A problem that leaves parameters free still converges, to a
// minimum near Start; Rank and Free then say what is free. The error is an
// *InputError or ErrNotFinite; a poor ending is told by Status instead.
func Solve(p Problem, ws *Workspace) (*Solution, error) {
	if ws == nil {
		ws = new(Workspace)
	}
	status, err := ws.minimize(&p)
	if err != nil {
		return nil, err
	}
	return ws.solution(&p, status)
}

// Minimum is Solve without the statistics and, once ws has its size, without
// allocation, for Monte Carlo draws. x (n) belongs to ws and holds until its next use.
func Minimum(p Problem, ws *Workspace) (x []float64, status Status, err error) {
	status, err = ws.minimize(&p)
	return ws.x, status, err
}

// minimize checks the problem and leaves the minimum in x, f, jac and res, and the factored Jacobian in a.
func (w *Workspace) minimize(p *Problem) (Status, error) {
	if err := p.check(); err != nil {
		return 0, err
	}
	w.resize(len(p.Values), len(p.Start))
	limit, tol := p.MaxIterations, p.Tolerance
	if limit == 0 {
		limit = defaultMaxIter
	}
	if tol == 0 {
		tol = defaultTol
	}
	copy(w.x, p.Start)
	chi2, size, ok := w.evaluate(p, w.x, w.f, w.jac, w.res)
	if !ok || !w.factor(p) {
		return 0, ErrNotFinite
	}
	// The first step may not move the parameters by more than their own size.
	radius := 0.0
	for j, x := range w.x {
		radius += max(1, sq(x/p.scale(j)))
	}
	radius = math.Sqrt(radius)
	lambda := 0.0
	for evaluations := 1; ; evaluations++ {
		// Stop: the residuals are orthogonal to the column space, or what is
		// left is the rounding of the observations themselves.
		slope := norm(w.qtr[:w.rank])
		if slope <= tol*math.Sqrt(chi2) || slope <= 4*epsilon*size {
			return Converged, nil
		}
		if evaluations >= limit {
			return MaxIterations, nil
		}
		var predicted float64
		lambda, predicted = w.step(radius, lambda)
		length := norm(w.z)
		for j := range w.x {
			w.trial[w.perm[j]] = w.x[w.perm[j]] + p.scale(w.perm[j])*w.z[j]
		}
		next, nextSize, ok := w.evaluate(p, w.trial, w.fTrial, w.jTrial, w.resNext)
		gain := -1.0
		// Below the rounding of chi2 the comparison says nothing; the step is
		// taken on trust, and the last if the slope does not fall.
		noise := rounding*chi2 + 4*epsilon*size*math.Sqrt(chi2)
		trusted := ok && lambda == 0 && predicted <= noise && math.Abs(chi2-next) <= noise
		if ok && predicted > 0 {
			gain = (chi2 - next) / predicted
		}
		switch {
		case gain <= 0.25:
			radius = 0.25 * min(radius, 4*length)
			lambda *= 4
		case gain >= 0.75 || lambda == 0:
			radius = max(radius, 2*length)
			lambda /= 2
		}
		if trusted || gain > acceptGain {
			w.x, w.trial = w.trial, w.x
			w.f, w.fTrial = w.fTrial, w.f
			w.jac, w.jTrial = w.jTrial, w.jac
			w.res, w.resNext = w.resNext, w.res
			chi2, size = next, nextSize
			if !w.factor(p) {
				return 0, ErrNotFinite
			}
			if trusted && norm(w.qtr[:w.rank]) > 0.9*slope {
				return Converged, nil
			}
			continue
		}
		// Stop: the full step promises no more than the rounding of chi2.
		if sq(slope) <= 100*noise {
			return Converged, nil
		}
		// Stop: shortened below the rounding of the parameters.
		if predicted <= noise || !(radius > smallestStep*scaledNorm(p, w.x)) || radius < 1e-300 {
			return Stalled, nil
		}
	}
}

const epsilon = 2.220446049250313e-16

func scaledNorm(p *Problem, x []float64) float64 {
	s := 0.0
	for j, v := range x {
		s += sq(v / p.scale(j))
	}
	return math.Sqrt(s)
}

// evaluate returns chi2, the size to which the rounding of the weighted
// residuals is relative, and whether all of it is finite.
func (w *Workspace) evaluate(p *Problem, x, f, jac, res []float64) (chi2, size float64, ok bool) {
	clear(jac)
	p.Model(x, f, jac)
	for i := range f {
		res[i] = 0
		if p.used(i) {
			res[i] = (f[i] - p.Values[i]) / p.Sigmas[i]
			chi2 += sq(res[i])
			terms := math.Abs(p.Values[i])
			for j, d := range jac[i*w.n : (i+1)*w.n] {
				terms += math.Abs(d * x[j])
			}
			size += sq(terms / p.Sigmas[i])
		}
	}
	return chi2, math.Sqrt(size), chi2-chi2 == 0 && finite(f) && finite(jac) && finite(x)
}

// factor decides the rank of the scaled weighted Jacobian and rotates the residuals.
func (w *Workspace) factor(p *Problem) bool {
	m, n, rows := w.m, w.n, w.rows
	for i := m; i < rows; i++ {
		w.res[i] = 0
	}
	for j := range n {
		col, s := w.a[j*rows:(j+1)*rows], p.scale(j)
		clear(col[m:])
		for i := range m {
			if p.used(i) {
				col[i] = w.jac[i*n+j] * s / p.Sigmas[i]
			} else {
				col[i] = 0
			}
		}
	}
	householder(w.a, rows, n, w.lead, w.perm, w.norms, w.start)
	copy(w.qtr, w.res)
	applyQT(w.a, rows, n, w.lead, w.qtr)
	w.rank = rankOf(w.a, rows, n)
	if w.rank < n {
		// [R11 R12]' = Z [T; 0]: the first rank columns of Z span the row
		// space, the others the free directions.
		for k := range w.rank {
			for j := range n {
				w.t[k*n+j] = 0
				if j >= k {
					w.t[k*n+j] = w.a[j*rows+k]
				}
			}
		}
		householder(w.t, n, w.rank, w.tLead, nil, nil, nil)
	}
	return finite(w.a) && finite(w.qtr)
}

// column returns column k of the Q of the factored Jacobian (rows), until the next use of resNext.
func (w *Workspace) column(k int) []float64 {
	q := w.resNext
	clear(q)
	q[k] = 1
	applyQ(w.a, w.rows, k+1, w.lead, q)
	return q
}

// step writes the step of length about radius or less into z, in units of
// Scale and in pivoted order, and returns its damping and predicted gain.
func (w *Workspace) step(radius, lambda float64) (damping, predicted float64) {
	n, rows, r := w.n, w.rows, w.rank
	// Undamped: the minimum-norm Gauss-Newton step.
	clear(w.z)
	for k := range r {
		w.z[k] = -w.qtr[k]
	}
	if r == n {
		solveUpper(w.a, rows, n, w.z)
	} else {
		solveUpperT(w.t, n, r, w.z)
		applyQ(w.t, n, r, w.tLead, w.z)
	}
	length := norm(w.z)
	if length <= 1.1*radius {
		return 0, sumSquares(w.qtr[:r])
	}
	for j := range n {
		w.g[j] = 0
		for i := range j + 1 {
			w.g[j] += w.a[j*rows+i] * w.qtr[i]
		}
	}
	low, high := 0.0, norm(w.g)/radius
	lambda = min(lambda, high)
	if lambda <= 0 {
		lambda = 1e-3 * high
	}
	for range dampingRounds {
		w.solveDamped(lambda)
		length = norm(w.z)
		if math.Abs(length-radius) <= 0.1*radius {
			break
		}
		if length > radius {
			low = lambda
		} else {
			high = lambda
		}
		copy(w.y, w.z)
		solveUpperT(w.damped, n, n, w.y)
		lambda += (length - radius) / radius * sq(length) / sumSquares(w.y)
		if !(lambda > low && lambda < high) {
			lambda = max(math.Sqrt(low*high), 1e-3*high)
		}
	}
	w.solveDamped(lambda)
	for i := range n {
		s := 0.0
		for j := i; j < n; j++ {
			s += w.a[j*rows+i] * w.z[j]
		}
		predicted += sq(s)
	}
	return lambda, predicted + 2*lambda*sumSquares(w.z)
}

// solveDamped minimizes |R z + qtr|^2 + lambda |z|^2 by rotating the rows of
// sqrt(lambda) I into R.
func (w *Workspace) solveDamped(lambda float64) {
	n, rows, s := w.n, w.rows, w.damped
	for j := range n {
		copy(s[j*n:j*n+j+1], w.a[j*rows:])
		w.z[j] = -w.qtr[j]
	}
	for k := range n {
		clear(w.rot)
		w.rot[k] = math.Sqrt(lambda)
		right := 0.0
		for j := k; j < n; j++ {
			if w.rot[j] == 0 {
				continue
			}
			d := math.Sqrt(sq(s[j*n+j]) + sq(w.rot[j]))
			c, t := s[j*n+j]/d, w.rot[j]/d
			for l := j; l < n; l++ {
				s[l*n+j], w.rot[l] = c*s[l*n+j]+t*w.rot[l], c*w.rot[l]-t*s[l*n+j]
			}
			w.z[j], right = c*w.z[j]+t*right, c*right-t*w.z[j]
		}
	}
	solveUpper(s, n, n, w.z)
}
