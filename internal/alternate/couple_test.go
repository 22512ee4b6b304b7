package alternate

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/plane"
)

const seed = 20260131

// randomCoupling is two or three postures on one saddle-like half: two or three travels, a turn and
// sometimes a rail, each shared or a posture's own, free or on steps.
func randomCoupling(r *rand.Rand) *coupling {
	c := &coupling{limit: nodeLimit}
	postures := 2 + r.IntN(2)
	add := func(lo, hi float64, steps int, turns bool) []int {
		v := variable{lo: lo, hi: hi, turns: turns, home: lo}
		if steps > 0 {
			for j := range steps {
				v.values = append(v.values, lo+(hi-lo)*float64(j)/float64(steps))
			}
		}
		own := make([]int, postures)
		shared := r.IntN(3) > 0
		for p := range own {
			if p == 0 || !shared {
				c.vars = append(c.vars, v)
			}
			own[p] = len(c.vars) - 1
		}
		return own
	}
	steps := func() int {
		if r.IntN(3) == 0 {
			return 2 + r.IntN(3)
		}
		return 0
	}
	post, slide := add(0, 20+r.Float64()*40, steps(), false), add(-10, 10, steps(), false)
	turn := add(-0.12, 0.05+r.Float64()*0.1, steps(), true)
	rail := []int{-1, -1, -1}
	if r.IntN(2) == 0 {
		rail = add(-15, 15, 0, false)
	}
	around := []int{-1, -1, -1}
	if r.IntN(4) == 0 { // a lever around a bend, the same in every posture
		c.vars = append(c.vars, variable{lo: 0, hi: 0.3 + r.Float64(), turns: true})
		around = []int{len(c.vars) - 1, len(c.vars) - 1, len(c.vars) - 1}
	}
	angle := 1.5 + r.Float64()*0.5
	for p := range postures {
		l := link{weight: 100, angle: r.Float64()*0.3 - 0.15, offset: r.Float64()*0.02 - 0.01,
			base: plane.Point{X: -150, Y: 600}, want: plane.Point{X: -190 + r.Float64()*60, Y: 640 + r.Float64()*80}}
		l.slides = []slideUse{{post[p], plane.Direction(angle)}, {slide[p], plane.Point{X: 1}}}
		l.terms = []term{{turn: turn[p], back: -1, at: plane.Point{X: -r.Float64() * 60, Y: 50}, x: rail[p], y: -1}}
		if around[p] >= 0 {
			l.terms = append(l.terms, term{turn: turn[p], back: around[p], at: plane.Point{X: 40, Y: 80}, x: -1, y: -1})
		}
		c.links = append(c.links, l)
	}
	return c
}

// exact solves bounded linear least squares by going through every way for each variable to be free or at
// one of its stops: slow, and with nothing in common with the sweeps of the package.
func exact(col [][]float64, want []float64, lo, hi []float64) float64 {
	n := len(col)
	best := math.Inf(1)
	state := make([]int, n)
	for {
		rest := append([]float64(nil), want...)
		var free []int
		for i, s := range state {
			v := lo[i]
			switch s {
			case 0:
				free = append(free, i)
				continue
			case 2:
				v = hi[i]
			}
			for k := range rest {
				rest[k] -= v * col[i][k]
			}
		}
		if x, ok := normal(col, rest, free); ok {
			inside := true
			for a, i := range free {
				inside = inside && x[a] >= lo[i]-1e-9 && x[a] <= hi[i]+1e-9
				for k := range rest {
					rest[k] -= x[a] * col[i][k]
				}
			}
			if inside {
				s := 0.0
				for _, v := range rest {
					s += v * v
				}
				best = math.Min(best, s)
			}
		}
		i := 0
		for ; i < n; i++ {
			if state[i]++; state[i] < 3 {
				break
			}
			state[i] = 0
		}
		if i == n {
			return best
		}
	}
}

// normal solves the normal equations of some columns by Gauss-Jordan; ok is false when they are singular,
// in which case fewer free variables do as well.
func normal(col [][]float64, want []float64, free []int) ([]float64, bool) {
	n := len(free)
	m := make([][]float64, n)
	for a, i := range free {
		m[a] = make([]float64, n+1)
		for k, v := range col[i] {
			m[a][n] += v * want[k]
			for b, j := range free {
				m[a][b] += v * col[j][k]
			}
		}
	}
	for a := range n {
		p := a
		for b := a; b < n; b++ {
			if math.Abs(m[b][a]) > math.Abs(m[p][a]) {
				p = b
			}
		}
		m[a], m[p] = m[p], m[a]
		if math.Abs(m[a][a]) < 1e-9 {
			return nil, false
		}
		for b := range n {
			if b == a {
				continue
			}
			f := m[b][a] / m[a][a]
			for k := a; k <= n; k++ {
				m[b][k] -= f * m[a][k]
			}
		}
	}
	x := make([]float64, n)
	for a := range n {
		x[a] = m[a][n] / m[a][a]
	}
	return x, true
}

// scan is the least square over a grid of turns and every step, each solved by exact.
func scan(c *coupling, grid int) float64 {
	best := math.Inf(1)
	x := make([]float64, len(c.vars))
	var walk func(i int)
	walk = func(i int) {
		if i == len(c.vars) {
			var col [][]float64
			var lo, hi []float64
			want := make([]float64, 2*len(c.links))
			angles := 0.0
			for j := range c.vars {
				v := &c.vars[j]
				if !v.turns && len(v.values) == 0 {
					x[j] = 0
				}
			}
			for p := range c.links {
				at, angle := c.links[p].contact(x)
				want[2*p], want[2*p+1] = c.links[p].want.X-at.X, c.links[p].want.Y-at.Y
				off := c.links[p].weight * (angle - c.links[p].angle)
				angles += off * off
			}
			for j := range c.vars {
				v := &c.vars[j]
				if v.turns || len(v.values) > 0 {
					continue
				}
				one := make([]float64, len(want)) // a column by difference: the contact is linear in it
				x[j] = 1
				for p := range c.links {
					at, _ := c.links[p].contact(x)
					one[2*p], one[2*p+1] = want[2*p]-(c.links[p].want.X-at.X), want[2*p+1]-(c.links[p].want.Y-at.Y)
				}
				x[j] = 0
				col, lo, hi = append(col, one), append(lo, v.lo), append(hi, v.hi)
			}
			best = math.Min(best, exact(col, want, lo, hi)+angles)
			return
		}
		v := &c.vars[i]
		switch {
		case len(v.values) > 0:
			for _, t := range v.values {
				x[i] = t
				walk(i + 1)
			}
		case v.turns:
			for k := range grid + 1 {
				x[i] = v.lo + (v.hi-v.lo)*float64(k)/float64(grid)
				walk(i + 1)
			}
		default:
			walk(i + 1)
		}
	}
	walk(0)
	return best
}

func TestCouplingAgreesWithScanOfTurnsAndEnumerationOfStopsAndSteps(t *testing.T) {
	r := rand.New(rand.NewPCG(seed, 1))
	tried := 0
	for range runs(400) {
		c := randomCoupling(r)
		turns, size, free := 0, 1, 0
		for _, v := range c.vars {
			switch {
			case len(v.values) > 0:
				size *= len(v.values)
			case v.turns:
				turns++
			default:
				free++
			}
		}
		if turns > 2 || size > 100 || free > 5 || turns == 2 && (free > 3 || size > 10) {
			continue
		}
		tried++
		grid, near := 60, 1.0
		if turns == 2 {
			grid, near = 24, 6
		}
		out := c.solve(context.Background(), math.Inf(1))
		require.True(t, out.proven, "seed %d", seed)
		dense := scan(c, grid)
		assert.LessOrEqual(t, math.Sqrt(out.square), math.Sqrt(dense)+Tolerance, "seed %d, case %d: a scanned place is better", seed, tried)
		assert.InDelta(t, out.square, c.square(out.x), 1e-9, "the answer is worth what it says")
		// The scan is at most half a grid step off, and the objective moves by no more than this per radian.
		assert.GreaterOrEqual(t, out.square+1e-6, out.bound)
		assert.GreaterOrEqual(t, math.Sqrt(out.bound)+2*Tolerance, math.Sqrt(out.square), "seed %d, case %d: the proof is tight", seed, tried)
		if dense > 1 {
			assert.Less(t, math.Sqrt(dense)-math.Sqrt(out.square), near, "seed %d, case %d: and the scan comes near", seed, tried)
		}
	}
	assert.Greater(t, tried, runs(60))
}

func TestBoundIsNeverAboveTheObjectiveInItsBox(t *testing.T) {
	r := rand.New(rand.NewPCG(seed, 2))
	for range runs(3000) {
		c := randomCoupling(r)
		w := newWork(c)
		box := make([]stretch, len(c.vars))
		x := make([]float64, len(c.vars))
		for i := range box {
			v := &c.vars[i]
			box[i] = v.whole()
			if v.turns && len(v.values) == 0 {
				a, b := v.lo+r.Float64()*(v.hi-v.lo), v.lo+r.Float64()*(v.hi-v.lo)
				box[i].lo, box[i].hi = math.Min(a, b), math.Max(a, b)
			}
		}
		w.centre(box, x)
		w.fit(box, x)
		bound := w.bound(box, x)
		for range 50 {
			y := make([]float64, len(x))
			for i := range y {
				v := &c.vars[i]
				y[i] = box[i].lo + r.Float64()*(box[i].hi-box[i].lo)
				if len(v.values) > 0 {
					y[i] = v.values[box[i].first+r.IntN(box[i].last-box[i].first+1)]
				}
			}
			if r.IntN(2) == 0 { // and at the best travels for those turns
				b := append([]stretch(nil), box...)
				for i := range b {
					if len(c.vars[i].values) > 0 {
						b[i] = stretch{lo: y[i], hi: y[i]}
					}
				}
				w.fit(b, y)
			}
			require.LessOrEqual(t, bound, c.square(y)+1e-7, "seed %d", seed)
		}
	}
}

func TestBoundedLeastSquaresAgreesWithEveryWayToBeAtStops(t *testing.T) {
	r := rand.New(rand.NewPCG(seed, 3))
	for range runs(2000) {
		n, m := 1+r.IntN(5), 2+2*r.IntN(3)
		col := make([][]float64, n)
		box, vars := make([]stretch, n), make([]variable, n)
		lo, hi := make([]float64, n), make([]float64, n)
		for i := range col {
			col[i] = make([]float64, m)
			for k := range col[i] {
				col[i][k] = r.Float64()*2 - 1
			}
			lo[i], hi[i] = -r.Float64()*20, r.Float64()*20
			box[i] = stretch{lo: lo[i], hi: hi[i]}
		}
		want := make([]float64, m)
		for k := range want {
			want[k] = r.Float64()*60 - 30
		}
		res, x := append([]float64(nil), want...), make([]float64, n)
		bounded(col, res, x, box, vars)
		sum := 0.0
		for _, v := range res {
			sum += v * v
		}
		assert.InDelta(t, exact(col, want, lo, hi), sum, 1e-6, "seed %d", seed)
	}
}

func TestASearchCutShortIsNotProvenAndItsBoundHolds(t *testing.T) {
	r := rand.New(rand.NewPCG(seed, 4))
	short := 0
	for range runs(200) {
		c := randomCoupling(r)
		whole := c.solve(context.Background(), math.Inf(1))
		c.limit = 2
		cut := c.solve(context.Background(), math.Inf(1))
		require.NotNil(t, cut.x, "seed %d: the best so far", seed)
		assert.LessOrEqual(t, cut.bound, whole.square+1e-9, "seed %d", seed)
		assert.GreaterOrEqual(t, math.Sqrt(cut.square), math.Sqrt(whole.square)-Tolerance, "seed %d", seed)
		if !cut.proven {
			short++
		}
	}
	assert.Greater(t, short, runs(50))
}
