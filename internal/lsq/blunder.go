package lsq

import (
	"cmp"
	"math"
	"slices"
)

// Search is the outcome of a search for blunders.
type Search struct {
	// Suspects are the observations set aside.
	Suspects []Suspect
	// All is the adjustment with every observation, Final the one without the suspects.
	All, Final *Solution
	// Limit is the critical |w|.
	Limit float64
}

// Suspect is an observation that the others contradict.
type Suspect struct {
	Index int
	// W is its normalized residual against all observations still used.
	W float64
	// Twins would each explain the disagreement exactly as well, whatever the
	// values read: one of Index and Twins is wrong, and the observations cannot
	// tell which. That Index is the one set aside is then arbitrary.
	Twins []int
	// Rivals would explain it nearly as well with these values: at most
	// 20 times less likely to be the wrong one.
	Rivals []int
}

// Suspected reports whether an observation is set aside.
func (s *Search) Suspected(i int) bool {
	return slices.ContainsFunc(s.Suspects, func(k Suspect) bool { return k.Index == i })
}

const (
	twinCorrelation = 1 - 1e-6
	minPairPivot    = 1e-6
	// poolSize bounds the observations that a joint search tries in pairs.
	poolSize = 64
	// shortlistSize bounds the sets that are readjusted in a round.
	shortlistSize = 10
)

// rivalGap is the difference of w^2 at a likelihood ratio of 20.
var rivalGap = 2 * math.Log(20)

// Robust searches for blunders, several of which can mask each other or point at a good observation. Among all sets
// of candidates (m, nil for all; those set aside in p stay so) it looks for the one with the smallest
// chi2(rest) + Limit^2 * size, so that each member must pay for itself with |w| > Limit; sets are varied by putting in,
// taking out and exchanging one or two members. What is left determines as many parameters as all observations did. alpha
// is per observation, two-sided. Suspects come by index.
func Robust(p Problem, candidates []bool, alpha float64, ws *Workspace) (*Search, error) {
	if !(alpha > 0 && alpha < 1) {
		return nil, &InputError{"alpha", -1, "outside 0 to 1"}
	}
	if candidates != nil && len(candidates) != len(p.Values) {
		return nil, &InputError{"candidates", -1, "not one for each observation"}
	}
	if ws == nil {
		ws = new(Workspace)
	}
	all, err := Solve(p, ws)
	if err != nil {
		return nil, err
	}
	h := &hunt{p: p, ws: ws, limit: CriticalW(alpha), may: make([]bool, len(p.Values))}
	for i := range h.may {
		h.may[i] = p.used(i) && (candidates == nil || candidates[i])
	}
	final, err := h.search(all)
	if err != nil {
		return nil, err
	}
	s := &Search{All: all, Final: final, Limit: h.limit}
	for _, i := range h.aside {
		s.Suspects = append(s.Suspects, h.suspect(final, i))
	}
	return s, nil
}

type hunt struct {
	p     Problem
	ws    *Workspace
	limit float64
	may   []bool
	aside []int
}

// without adjusts with the observations of set left out besides those of the problem.
func (h *hunt) without(set []int, start []float64) (*Solution, error) {
	q := h.p
	q.Start = start
	q.Aside = make([]bool, len(q.Values))
	copy(q.Aside, h.p.Aside)
	for _, i := range set {
		q.Aside[i] = true
	}
	return Solve(q, h.ws)
}

// search improves the set, at first empty: the linear model proposes, readjusting decides, until no proposal is cheaper.
func (h *hunt) search(all *Solution) (*Solution, error) {
	s, cost := all, all.Chi2
	if all.DOF == 0 || cost <= sq(h.limit) {
		return all, nil // already cheaper than any set with a member
	}
	var tried [][]int
	for {
		// Blunders bend a nonlinear model, so it is looked at from both the adjustment with all observations and the best so
		// far; where they bend it much, the plainest proposal is the best: what fits worst goes too.
		proposals := append([][]int{h.worst(s)}, h.propose(s)...)
		if s != all {
			proposals = append(proposals, h.propose(all)...)
		}
		better := false
		for _, set := range proposals {
			if slices.ContainsFunc(tried, func(t []int) bool { return slices.Equal(t, set) }) {
				continue
			}
			tried = append(tried, set)
			next, set, err := h.prune(set, s.X)
			if err != nil {
				return nil, err
			}
			c := next.Chi2 + sq(h.limit)*float64(len(set))
			if c < cost-1e-9*(1+cost) && next.Rank == all.Rank {
				h.aside, s, cost, better = set, next, c, true
			}
		}
		if !better {
			return s, nil
		}
	}
}

// worst is the set with the candidate still used that has the largest |w|.
func (h *hunt) worst(s *Solution) []int {
	at, most := -1, 0.0
	for i := range h.may {
		if h.may[i] && !s.isAside(i) {
			if w := s.normalized(i); w > most {
				at, most = i, w
			}
		}
	}
	if at < 0 {
		return h.aside
	}
	return slices.Sorted(slices.Values(append(slices.Clone(h.aside), at)))
}

// prune adjusts without set, and puts back its members one by one that do not
// pay for themselves once the blunders no longer bend the model.
func (h *hunt) prune(set []int, start []float64) (*Solution, []int, error) {
	for {
		s, err := h.without(set, start)
		if err != nil {
			return nil, nil, err
		}
		least, at := h.limit, -1
		for k, i := range set {
			if w := s.normalized(i); w < least && s.redundancy(i) > minRedundancy {
				least, at = w, k
			}
		}
		if at < 0 {
			return s, set, nil
		}
		set, start = slices.Delete(slices.Clone(set), at, at+1), s.X
	}
}

// propose varies the set in the linear model at s, as far as that becomes
// cheaper, and returns the cheapest sets met.
func (h *hunt) propose(s *Solution) [][]int {
	base := newReduction(s, h.p.Aside)
	pool := h.pool(s)
	most := max(1, base.dof()-1)
	penalty := sq(h.limit)
	var met shortlist
	set := slices.Sorted(slices.Values(h.aside))
	for {
		base.without(set).offer(&met, pool, set, most, penalty)
		for k := range set {
			kept := slices.Delete(slices.Clone(set), k, k+1)
			base.without(kept).offer(&met, pool, kept, most, penalty)
		}
		if slices.Equal(met.sets[0], set) {
			return met.sets
		}
		set = met.sets[0]
	}
}

// shortlist holds the cheapest sets met, cheapest first.
type shortlist struct {
	sets  [][]int
	costs []float64
}

// worst returns the cost a set must beat to get on the list.
func (l *shortlist) worst() float64 {
	if len(l.sets) < shortlistSize {
		return math.Inf(1)
	}
	return l.costs[shortlistSize-1]
}

func (l *shortlist) add(cost float64, kept []int, more ...int) {
	if cost >= l.worst() {
		return
	}
	set := append(slices.Clone(kept), more...)
	slices.Sort(set)
	for _, known := range l.sets {
		if slices.Equal(known, set) {
			return
		}
	}
	at, _ := slices.BinarySearch(l.costs, cost)
	l.sets = slices.Insert(l.sets, at, set)
	l.costs = slices.Insert(l.costs, at, cost)
	if len(l.sets) > shortlistSize {
		l.sets, l.costs = l.sets[:shortlistSize], l.costs[:shortlistSize]
	}
}

// pool returns the candidates worth trying: those aside and those with the largest |w|.
func (h *hunt) pool(s *Solution) []int {
	var pool []int
	for i := range h.may {
		if h.may[i] {
			pool = append(pool, i)
		}
	}
	if len(pool) <= poolSize {
		return pool
	}
	w := s.Normalized()
	slices.SortStableFunc(pool, func(a, b int) int {
		first := func(i int) float64 { // those aside before all others
			if s.isAside(i) {
				return math.Inf(1)
			}
			return w[i]
		}
		return cmp.Compare(first(b), first(a))
	})
	pool = pool[:poolSize]
	slices.Sort(pool)
	return pool
}

// suspect describes observation i of the set aside.
func (h *hunt) suspect(s *Solution, i int) Suspect {
	out := Suspect{Index: i, W: s.normalized(i)}
	others := slices.DeleteFunc(slices.Clone(h.aside), func(k int) bool { return k == i })
	r := newReduction(s, h.p.Aside).without(others)
	wi := r.w(i)
	for j := range h.may {
		if j == i || !h.may[j] || slices.Contains(others, j) || r.q(j, j) < minPairPivot {
			continue
		}
		switch wj := r.w(j); {
		case math.Abs(r.q(i, j)) > twinCorrelation*math.Sqrt(r.q(i, i)*r.q(j, j)):
			out.Twins = append(out.Twins, j)
		case sq(wi)-sq(wj) < rivalGap && wj > h.limit:
			out.Rivals = append(out.Rivals, j)
		}
	}
	return out
}

// reduction is the linear model seen through its residuals: u the residuals
// over sigma and qvv their cofactors (m x m), both of the adjustment without
// the observations taken out. Taking out i is an elimination step on qvv.
type reduction struct {
	m    int
	u    []float64
	qvv  []float64
	chi2 float64
}

// newReduction returns the reduction with all observations in, except those of
// never, from the derivatives and residuals of s: those aside in s but not in
// never come back.
func newReduction(s *Solution, never []bool) *reduction {
	m, w := len(s.values), new(Workspace)
	w.resize(m, len(s.X))
	p := Problem{Sigmas: s.sigmas, Scale: s.scale, Aside: never}
	r := &reduction{m: m, u: w.res[:m], qvv: make([]float64, m*m)}
	copy(w.jac, s.Jac)
	for i := range m {
		if p.used(i) {
			r.u[i] = s.Residuals[i] / s.sigmas[i]
			r.qvv[i*m+i] = 1
		}
	}
	w.factor(&p)
	for k := range w.rank {
		q, dot := w.column(k)[:m], 0.0
		for i, qi := range q {
			dot += qi * r.u[i]
			for j, qj := range q {
				r.qvv[i*m+j] -= qi * qj
			}
		}
		for i, qi := range q {
			r.u[i] -= dot * qi
		}
	}
	r.chi2 = sumSquares(r.u)
	return r
}

func (r *reduction) q(i, j int) float64 { return r.qvv[i*r.m+j] }

// w returns |w| of an observation still in.
func (r *reduction) w(i int) float64 {
	if r.q(i, i) < minRedundancy {
		return 0
	}
	return math.Abs(r.u[i]) / math.Sqrt(r.q(i, i))
}

func (r *reduction) dof() int {
	trace := 0.0
	for i := range r.m {
		trace += r.q(i, i)
	}
	return int(math.Round(trace))
}

// without returns the reduction with the observations of set taken out.
func (r *reduction) without(set []int) *reduction {
	if len(set) == 0 {
		return r
	}
	c := &reduction{m: r.m, u: slices.Clone(r.u), qvv: slices.Clone(r.qvv), chi2: r.chi2}
	pivot := make([]float64, r.m)
	for _, k := range set {
		copy(pivot, c.qvv[k*c.m:])
		d, uk := pivot[k], c.u[k]
		if d < minRedundancy {
			continue
		}
		c.chi2 -= uk * uk / d
		for i, pi := range pivot {
			if pi == 0 {
				continue
			}
			c.u[i] -= pi / d * uk
			row := c.qvv[i*c.m : (i+1)*c.m]
			for j, pj := range pivot {
				row[j] -= pi / d * pj
			}
		}
	}
	return c
}

// offer puts on the list the set kept, of which r is the reduction, and that
// set with one or two more of pool, up to most in all.
func (r *reduction) offer(list *shortlist, pool, kept []int, most int, penalty float64) {
	cost := r.chi2 + penalty*float64(len(kept))
	list.add(cost, kept)
	if len(kept) >= most {
		return
	}
	for a, i := range pool {
		qi := r.q(i, i)
		if qi < minPairPivot || slices.Contains(kept, i) {
			continue
		}
		ui := r.u[i]
		one := cost + penalty - ui*ui/qi
		list.add(one, kept, i)
		if len(kept)+1 >= most {
			continue
		}
		for _, j := range pool[a+1:] {
			qij := r.q(i, j)
			// What is left of j once i is out.
			qj := r.q(j, j) - qij*qij/qi
			if qj < minPairPivot {
				continue
			}
			uj := r.u[j] - qij/qi*ui
			if two := one + penalty - uj*uj/qj; two < list.worst() && !slices.Contains(kept, j) {
				list.add(two, kept, i, j)
			}
		}
	}
}
