package lsq

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
)

// detectable is the smallest blunder that a two-sided test at significance alpha finds with the given power (Baarda 1968).
func detectable(s *Solution, i int, alpha, power float64) float64 {
	return (CriticalW(alpha) + distuv.UnitNormal.Quantile(power)) * s.sigmas[i] / math.Sqrt(s.redundancy(i))
}

// binomialBounds holds a count of trials at probability p with all but 1e-6 of chance.
func binomialBounds(trials int, p float64) (low, high float64) {
	spread := distuv.UnitNormal.Quantile(1-5e-7) * math.Sqrt(float64(trials)*p*(1-p))
	return float64(trials)*p - spread - 1, float64(trials)*p + spread + 1
}

// One test of one observation errs with probability alpha: the rate over all
// observations is the stated significance, here on 15 tests per network.
func TestFalseAlarmsAtTheStatedRate(t *testing.T) {
	const seed, trials, alpha = 11, 4000, 0.01
	r := rand.New(rand.NewPCG(seed, 3))
	net, ws := newTapeNetwork(3, false), new(Workspace)
	tests, alarms, global := 0, 0, 0
	for range trials {
		s, err := Solve(net.measure(r), ws)
		require.NoError(t, err)
		for _, w := range s.Normalized() {
			tests++
			if w > CriticalW(alpha) {
				alarms++
			}
		}
		if s.PValue() < alpha {
			global++
		}
	}
	t.Logf("seed %d: %d of %d tests alarm (%.3f %%), %d of %d global tests", seed, alarms, tests, 100*float64(alarms)/float64(tests), global,
		trials)
	// The tests of one network are correlated: widen as if only one per redundancy counted.
	low, high := binomialBounds(trials*9, alpha)
	assert.Less(t, low/9*15, float64(alarms))
	assert.Greater(t, high/9*15, float64(alarms))
	low, high = binomialBounds(trials, alpha)
	assert.Less(t, low, float64(global))
	assert.Greater(t, high, float64(global))
}

// The family rate of a search without any blunder cannot exceed the sum of its tests.
func TestSearchRarelyAccusesAGoodNetwork(t *testing.T) {
	const seed, trials, alpha = 12, 1000, 0.001
	net, ws := newTapeNetwork(3, false), new(Workspace)
	r := rand.New(rand.NewPCG(seed, 4))
	accused := 0
	for range trials {
		s, err := Robust(net.measure(r), nil, alpha, ws)
		require.NoError(t, err)
		if len(s.Suspects) > 0 {
			accused++
		}
	}
	_, high := binomialBounds(trials, 15*alpha)
	t.Logf("seed %d: %d of %d good networks accused, bound %.0f", seed, accused, trials, high)
	assert.Less(t, float64(accused), high)
}

// The share of single blunders of the detectable size that the test sees is
// the power the size was computed for (80 %), and 25 mm is found nearly always.
func TestDetectionOfOneBlunder(t *testing.T) {
	const seed, alpha = 13, 0.001
	trials := tenth(1000)
	net, ws := newTapeNetwork(3, false), new(Workspace)
	r := rand.New(rand.NewPCG(seed, 5))
	seen := 0
	for range trials {
		p := net.measure(r)
		s, err := Solve(p, ws)
		require.NoError(t, err)
		i := r.IntN(len(p.Values))
		p.Values[i] += detectable(s, i, alpha, 0.8)
		s, err = Solve(p, ws)
		require.NoError(t, err)
		if s.Normalized()[i] > CriticalW(alpha) {
			seen++
		}
	}
	t.Logf("seed %d: %d of %d blunders of the detectable size seen", seed, seen, trials)
	low, high := binomialBounds(trials, 0.8)
	assert.Less(t, low, float64(seen))
	assert.Greater(t, high, float64(seen))

	found, exact := 0, 0
	for range trials {
		p := net.measure(r)
		i := r.IntN(len(p.Values))
		p.Values[i] += math.Copysign(25, r.Float64()-0.5)
		s, err := Robust(p, nil, alpha, ws)
		require.NoError(t, err)
		at := indices(s)
		if slices.Contains(at, i) {
			found++
		}
		if slices.Equal(at, []int{i}) {
			exact++
		}
	}
	t.Logf("25 mm found in %.1f %%, alone in %.1f %%", 100*float64(found)/float64(trials), 100*float64(exact)/float64(trials))
	assert.Greater(t, float64(found), 0.95*float64(trials))
	assert.Greater(t, float64(exact), 0.90*float64(trials))
}

// oneByOne is the plain alternative: the candidate with the largest |w| beyond the limit is set aside, and so on (Baarda
// 1968); what agrees with the rest at last is put back.
func oneByOne(p Problem, _ []bool, alpha float64, ws *Workspace) (*Search, error) {
	all, err := Solve(p, ws)
	if err != nil {
		return nil, err
	}
	h := &hunt{p: p, ws: ws, limit: CriticalW(alpha), may: slices.Repeat([]bool{true}, len(p.Values))}
	final, err := h.oneByOne(all)
	if err != nil {
		return nil, err
	}
	s := &Search{All: all, Final: final, Limit: h.limit}
	for _, i := range h.aside {
		s.Suspects = append(s.Suspects, h.suspect(final, i))
	}
	return s, nil
}

func (h *hunt) oneByOne(s *Solution) (*Solution, error) {
	worst := func(s *Solution) (at int, w float64) {
		for i := range h.may {
			if wi := s.normalized(i); !s.isAside(i) && wi > w {
				at, w = i, wi
			}
		}
		return at, w
	}
	for s.DOF > 0 {
		i, w := worst(s)
		if w <= h.limit {
			break
		}
		h.aside = append(h.aside, i)
		var err error
		if s, err = h.without(h.aside, s.X); err != nil {
			return nil, err
		}
	}
	// Put back what the others do not contradict after all, unless that
	// brings a contradiction elsewhere.
	for k := 0; k < len(h.aside); {
		if w := s.normalized(h.aside[k]); w > h.limit || s.redundancy(h.aside[k]) < minRedundancy {
			k++
			continue
		}
		fewer := slices.Delete(slices.Clone(h.aside), k, k+1)
		back, err := h.without(fewer, s.X)
		if err != nil {
			return nil, err
		}
		if _, w := worst(back); w > h.limit {
			k++
			continue
		}
		h.aside, s, k = fewer, back, 0
	}
	return s, nil
}

// reweighted is the usual alternative for several blunders: iteratively
// reweighted least squares from a Huber (1.5) to a Tukey biweight (4.685) fit on
// normalized residuals, what has lost its weight set aside, what then agrees
// put back, and the rest tested one by one.
func reweighted(p Problem, _ []bool, alpha float64, ws *Workspace) (*Search, error) {
	s, err := Solve(p, ws)
	if err != nil {
		return nil, err
	}
	all, q := s, p
	weights := make([]float64, len(p.Values))
	redundancy := s.Redundancy()
	for round := range 30 {
		q.Sigmas, q.Start = slices.Clone(p.Sigmas), s.X
		for i := range weights {
			w := math.Abs(s.Residuals[i]) / p.Sigmas[i] / math.Sqrt(max(redundancy[i], 0.01))
			if round < 15 {
				weights[i] = min(1, 1.5/max(w, 1e-12))
			} else {
				weights[i] = sq(max(0, 1-sq(w/4.685)))
			}
			q.Sigmas[i] /= math.Sqrt(max(weights[i], 1e-6))
		}
		if s, err = Solve(q, ws); err != nil {
			return nil, err
		}
	}
	h := &hunt{p: p, ws: ws, limit: CriticalW(alpha), may: slices.Repeat([]bool{true}, len(weights))}
	for i, w := range weights {
		if w < 0.1 && len(h.aside) < all.DOF-1 {
			h.aside = append(h.aside, i)
		}
	}
	if s, err = h.without(h.aside, s.X); err != nil {
		return nil, err
	}
	final, err := h.oneByOne(s)
	if err != nil {
		return nil, err
	}
	out := &Search{All: all, Final: final, Limit: h.limit}
	for _, i := range h.aside {
		out.Suspects = append(out.Suspects, Suspect{Index: i})
	}
	return out, nil
}

// Planted groups of blunders of 25 to 100 mm at random. Where redundancy is
// short they mask each other, and the joint search must find the exact set
// more often than both alternatives; it is never worse.
func TestSeveralBlunders(t *testing.T) {
	const seed, alpha = 14, 0.001
	ws := new(Workspace)
	for _, c := range []struct {
		name          string
		net           tapeNetwork
		count, trials int
		least         float64
		masks         bool
	}{
		{"two in 15 (redundancy 9)", newTapeNetwork(3, false), 2, 80, 0.95, true},
		{"three in 15 (redundancy 9)", newTapeNetwork(3, false), 3, 80, 0.85, true},
		{"two in 30 (redundancy 21)", newTapeNetwork(4, true), 2, 40, 0.90, false},
		{"three in 30 (redundancy 21)", newTapeNetwork(4, true), 3, 40, 0.90, false},
	} {
		rate := map[string]float64{}
		for name, find := range map[string]searchFunc{"one by one": oneByOne, "jointly": Robust, "reweighted": reweighted} {
			r := rand.New(rand.NewPCG(seed, 6))
			exact, all := 0, 0
			for range c.trials {
				p := c.net.measure(r)
				at := r.Perm(len(p.Values))[:c.count]
				for _, i := range at {
					p.Values[i] += math.Copysign(25+75*r.Float64(), r.Float64()-0.5)
				}
				s, err := find(p, nil, alpha, ws)
				require.NoError(t, err)
				found := indices(s)
				if len(found) == len(at) && containsAll(found, at) {
					exact++
				}
				if containsAll(found, at) {
					all++
				}
			}
			rate[name] = float64(exact) / float64(c.trials)
			t.Logf("seed %d, %s, %s: exact set %.1f %%, all found %.1f %%", seed, c.name, name, 100*rate[name], 100*float64(all)/float64(c.trials))
		}
		assert.Greater(t, rate["jointly"], c.least, c.name)
		assert.GreaterOrEqual(t, rate["jointly"], rate["one by one"], c.name)
		assert.GreaterOrEqual(t, rate["jointly"], rate["reweighted"], c.name)
		if c.masks {
			assert.Greater(t, rate["jointly"], rate["one by one"], c.name)
			assert.Greater(t, rate["jointly"], rate["reweighted"], c.name)
		}
	}
}

func containsAll(set, members []int) bool {
	for _, i := range members {
		if !slices.Contains(set, i) {
			return false
		}
	}
	return true
}

// Every pair of equal blunders, either sign, in noise-free readings: one by one
// sets aside good readings in some; what the joint search leaves is a set that
// explains the readings at least as cheaply as the truth.
func TestMaskedPairs(t *testing.T) {
	net, ws := newTapeNetwork(3, false), new(Workspace)
	m := len(net.problem.Values)
	wrong, pairs := map[string]int{}, 0
	for a := range m {
		for b := range a {
			for _, sign := range []float64{1, -1} {
				p := net.problem
				p.Values = slices.Clone(p.Values)
				p.Values[a] += 40
				p.Values[b] += 40 * sign
				pairs++
				for name, find := range map[string]searchFunc{"one by one": oneByOne, "jointly": Robust} {
					s, err := find(p, nil, 0.001, ws)
					require.NoError(t, err)
					found := indices(s)
					if len(found) == 2 && containsAll(found, []int{a, b}) {
						continue
					}
					wrong[name]++
					if name == "jointly" {
						cost := s.Final.Chi2 + sq(s.Limit)*float64(len(found))
						assert.LessOrEqual(t, cost, 2*sq(s.Limit)+1e-6, "%d and %d, %+g: found %v", a, b, sign, found)
					}
				}
			}
		}
	}
	t.Logf("of %d pairs, wrong set one by one %d, jointly %d", pairs, wrong["one by one"], wrong["jointly"])
	assert.Positive(t, wrong["one by one"], "the network must have masked pairs for the test to mean anything")
	assert.Less(t, wrong["jointly"], wrong["one by one"])
}

// The joint search against trying every set of up to three, each readjusted.
func TestJointSearchAgainstEverySet(t *testing.T) {
	const seed, trials = 15, 20
	r := rand.New(rand.NewPCG(seed, 7))
	net, ws := newTapeNetwork(3, false), new(Workspace)
	m := len(net.problem.Values)
	optimal := 0
	for range trials {
		p := net.measure(r)
		for _, i := range r.Perm(m)[:2] {
			p.Values[i] += math.Copysign(10+40*r.Float64(), r.Float64()-0.5)
		}
		s, err := Robust(p, nil, 0.001, ws)
		require.NoError(t, err)
		cost := func(set ...int) float64 {
			q := p
			q.Start, q.Aside = s.Final.X, make([]bool, m)
			for _, i := range set {
				q.Aside[i] = true
			}
			fit, err := Solve(q, ws)
			require.NoError(t, err)
			return fit.Chi2 + sq(s.Limit)*float64(len(set))
		}
		best := cost()
		for a := range m {
			best = min(best, cost(a))
			for b := range a {
				best = min(best, cost(a, b))
				for c := range b {
					best = min(best, cost(a, b, c))
				}
			}
		}
		if cost(indices(s)...) <= best+1e-6 {
			optimal++
		}
	}
	t.Logf("seed %d: the cheapest set found in %d of %d", seed, optimal, trials)
	assert.GreaterOrEqual(t, optimal, trials*9/10)
}

// Taking observations out of the linear model one by one is never having had them.
func TestAReductionIsTheAdjustmentWithoutASet(t *testing.T) {
	const seed = 21
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 6))
	for range 50 {
		m, n := 8+r.IntN(8), 1+r.IntN(4)
		sigmas := make([]float64, m)
		for i := range sigmas {
			sigmas[i] = math.Exp(r.NormFloat64())
		}
		p := linear(normals(r, m*n), normals(r, m), sigmas, n)
		set := r.Perm(m)[:1+r.IntN(3)]
		q := p
		q.Aside = make([]bool, m)
		for _, i := range set {
			q.Aside[i] = true
		}
		with, without := solved(t, p), solved(t, q)
		out, never := newReduction(with, nil).without(set), newReduction(without, q.Aside)
		assert.InDelta(t, without.Chi2, out.chi2, 1e-9*(1+with.Chi2))
		assert.Equal(t, without.DOF, never.dof())
		w := without.Normalized()
		for i := range m {
			if slices.Contains(set, i) {
				continue
			}
			assert.InDelta(t, w[i], out.w(i), 1e-9*(1+w[i]))
			for j := range m {
				if !slices.Contains(set, j) {
					assert.InDelta(t, never.q(i, j), out.q(i, j), 1e-9)
				}
			}
		}
	}
}

// What is no candidate is never named, though the observations cannot tell it from the suspect.
func TestWhatIsNoCandidateIsNoTwin(t *testing.T) {
	p := Problem{Start: []float64{0}, Values: []float64{0, 100}, Sigmas: []float64{1, 1},
		Model: func(x, f, jac []float64) { f[0], f[1], jac[0], jac[1] = x[0], x[0], 1, 1 }}
	for _, both := range []bool{true, false} {
		s, err := Robust(p, []bool{true, both}, 0.001, nil)
		require.NoError(t, err)
		require.Len(t, s.Suspects, 1)
		assert.Equal(t, both, len(s.Suspects[0].Twins) == 1)
	}
}

// Two readings of one thing that nothing else reads: one is wrong, not which;
// a blunder elsewhere is still located.
func TestTwinsAreNotToldApart(t *testing.T) {
	p := linear([]float64{
		1, 0, 1, 0, 1, 0, 1, 0,
		0, 1, 0, 1}, []float64{10, 10, 10, 90, 650, 605}, []float64{1, 1, 1, 1, 1, 1}, 2)
	s, err := Robust(p, nil, 0.001, nil)
	require.NoError(t, err)
	require.Len(t, s.Suspects, 2)
	for _, suspect := range s.Suspects {
		if suspect.Index == 3 {
			assert.Empty(t, suspect.Twins)
			assert.Empty(t, suspect.Rivals)
			assert.InDelta(t, 80/math.Sqrt(4.0/3), suspect.W, 1e-9)
			continue
		}
		assert.ElementsMatch(t, []int{4, 5}, append(suspect.Twins, suspect.Index))
		assert.InDelta(t, 45/math.Sqrt2, suspect.W, 1e-9)
	}
	assert.Equal(t, 2, s.Final.Rank, "the fit without the suspects still fixes everything")
}

// Three readings, two far apart and one between: either end may be the wrong one.
func TestRivals(t *testing.T) {
	p := linear([]float64{1, 1, 1}, []float64{0, 2.6, 5}, []float64{1, 1, 1}, 1)
	s, err := Robust(p, nil, 0.01, nil)
	require.NoError(t, err)
	require.Len(t, s.Suspects, 1)
	assert.Equal(t, 0, s.Suspects[0].Index)
	assert.Empty(t, s.Suspects[0].Twins)
	assert.Equal(t, []int{2}, s.Suspects[0].Rivals)
}

func TestOnlyCandidatesAreAccused(t *testing.T) {
	p := newTapeNetwork(3, false).problem
	p.Values = slices.Clone(p.Values)
	p.Values[4] += 50
	may := slices.Repeat([]bool{true}, len(p.Values))
	may[4] = false
	p.Aside = make([]bool, len(p.Values))
	p.Aside[7] = true
	s, err := Robust(p, may, 0.001, nil)
	require.NoError(t, err)
	assert.NotContains(t, indices(s), 4)
	assert.NotContains(t, indices(s), 7)
	assert.True(t, s.Final.isAside(7))
}
