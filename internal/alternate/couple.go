package alternate

import (
	"context"
	"math"
	"slices"

	"carryover/internal/plane"
)

// Tolerance is how far above the true least E an answer may lie, mm.
const Tolerance = 1e-3

// variable is one number to decide: how far something goes, in mm.
type variable struct {
	lo, hi float64
	values []float64 // rising: it stands on one of these; nil: anything from lo to hi
	home   float64
}

// coupling is the problem of several postures that share variables, once every angle is settled: minimise
// |want - Σ x_i·col_i|², two rows for each posture. It is linear least squares within bounds, and where variables stand
// on steps it is bounded from below by the same with the steps forgotten; so steps are split until nothing can be better.
type coupling struct {
	vars  []variable
	col   [][]float64
	want  []float64
	limit int // nodes after which the search gives up
}

// outcome is the best of a coupling.
type outcome struct {
	x      []float64
	square float64 // mm²; +Inf when nothing is better than the cutoff
	proven bool
	looked int // boxes
}

// stretch is what a node leaves of a variable: an interval, or the values first..last.
type stretch struct {
	lo, hi      float64
	first, last int
}

func (v *variable) whole() stretch {
	if len(v.values) > 0 {
		return stretch{v.values[0], v.values[len(v.values)-1], 0, len(v.values) - 1}
	}
	return stretch{lo: v.lo, hi: v.hi}
}

// below is the square that an answer must undercut to matter beside one of the given square.
func below(square float64) float64 {
	e := math.Max(0, math.Sqrt(square)-Tolerance/10)
	return e * e
}

// whole is everything that the variables may be, and homes where they would rather be.
func (c *coupling) whole() (box []stretch, homes []float64) {
	box, homes = make([]stretch, len(c.vars)), make([]float64, len(c.vars))
	for i := range c.vars {
		box[i] = c.vars[i].whole()
		homes[i] = plane.Clamp(c.vars[i].home, box[i].lo, box[i].hi)
	}
	return box, homes
}

// fit returns the variables of least square within a box with the steps forgotten, that square, and what no place in the
// box falls below: with n the direction of the miss, n·want - max n·(Σ x·col), which convexity makes as large as the miss.
func (c *coupling) fit(box []stretch, start []float64) (x []float64, square, bound float64) {
	x = slices.Clone(start)
	res := slices.Clone(c.want)
	for i := range x {
		x[i] = plane.Clamp(x[i], box[i].lo, box[i].hi)
		for k, v := range c.col[i] {
			res[k] -= x[i] * v
		}
	}
	bounded(c.col, res, x, box)
	for k, v := range res {
		square += v * v
		bound += v * c.want[k]
	}
	for i, col := range c.col {
		pull := 0.0
		for k, v := range col {
			pull += v * res[k]
		}
		bound -= math.Max(pull*box[i].lo, pull*box[i].hi)
	}
	if bound <= 0 || square == 0 {
		return x, square, 0
	}
	return x, square, bound * bound / square
}

// off is the variable furthest from a step that the box leaves it; -1 when all stand on one.
func (c *coupling) off(box []stretch, x []float64) int {
	at, most := -1, 1e-9
	for i := range c.vars {
		v := c.vars[i].values
		if len(v) == 0 || box[i].first == box[i].last {
			continue
		}
		if d := math.Abs(v[c.nearest(i, box, x[i])] - x[i]); d > most {
			at, most = i, d
		}
	}
	return at
}

// nearest is the step nearest to a place.
func (c *coupling) nearest(i int, box []stretch, x float64) int {
	v, k := c.vars[i].values, box[i].first
	for j := box[i].first; j <= box[i].last; j++ {
		if math.Abs(v[j]-x) < math.Abs(v[k]-x) {
			k = j
		}
	}
	return k
}

// rounded puts what stands on steps on the step nearest, one after the other, and the rest where it is then best.
func (c *coupling) rounded(box []stretch, x []float64) ([]float64, float64) {
	box = slices.Clone(box)
	var square float64
	for i := range c.vars {
		if v := c.vars[i].values; len(v) > 0 {
			k := c.nearest(i, box, x[i])
			box[i] = stretch{v[k], v[k], k, k}
			x, _, _ = c.fit(box, x)
		}
	}
	x, square, _ = c.fit(box, x)
	return x, square
}

// split parts the steps of a variable around x, the part that holds it last.
func (c *coupling) split(box []stretch, i int, x float64) [2][]stretch {
	a, b := slices.Clone(box), slices.Clone(box)
	v, cut := c.vars[i].values, box[i].first
	for cut+1 < box[i].last && v[cut+1] <= x {
		cut++
	}
	a[i].last, a[i].hi = cut, v[cut]
	b[i].first, b[i].lo = cut+1, v[cut+1]
	if x-v[cut] < v[cut+1]-x {
		return [2][]stretch{b, a}
	}
	return [2][]stretch{a, b}
}

// solve finds the least square below cutoff.
func (c *coupling) solve(ctx context.Context, cutoff float64) outcome {
	best := outcome{square: math.Inf(1), proven: true}
	root, homes := c.whole()
	type node struct {
		box   []stretch
		start []float64
	}
	open := []node{{root, homes}}
	for count := 0; len(open) > 0; count++ {
		// The whole box is always looked at, so that there is an answer to stop with.
		if count >= c.limit || count > 0 && count&63 == 0 && ctx.Err() != nil {
			best.proven = false
			break
		}
		n := open[len(open)-1]
		open = open[:len(open)-1]
		best.looked++
		x, square, bound := c.fit(n.box, n.start)
		if bound >= math.Min(below(best.square), cutoff) {
			continue
		}
		i := c.off(n.box, x)
		if i < 0 {
			if square < best.square {
				best.x, best.square = x, square
			}
			continue
		}
		if y, s := c.rounded(n.box, x); s < best.square {
			best.x, best.square = y, s
		}
		for _, half := range c.split(n.box, i, x[i]) {
			open = append(open, node{half, x})
		}
	}
	if best.square >= cutoff {
		best.x, best.square = nil, math.Inf(1)
	}
	return best
}

// ties offers every choice of steps whose least square is no more than limit, until there are too many; it says how many boxes
// it looked at.
func (c *coupling) ties(limit float64, offer func(x []float64, square float64)) (looked int) {
	root, homes := c.whole()
	var walk func(box []stretch, start []float64)
	walk = func(box []stretch, start []float64) {
		looked++
		x, square, bound := c.fit(box, start)
		if bound > limit || looked > mostTies {
			return
		}
		for i := range c.vars {
			if v := c.vars[i].values; len(v) > 0 && box[i].first < box[i].last {
				for _, half := range c.split(box, i, x[i]) {
					walk(half, x)
				}
				return
			}
		}
		if square <= limit {
			offer(x, square)
		}
	}
	walk(root, homes)
	return looked
}

// mostTies bounds how many choices of steps that come out alike are looked at.
const mostTies = 20_000

// near moves the variables, steps held, to where they are nearest to their homes, as far as contacts do not feel it: a way from
// home counts a ten-thousandth of a miss.
func (c *coupling) near(x []float64) []float64 {
	const slight = 1e-4
	k := coupling{vars: c.vars, want: slices.Clone(c.want)}
	box, _ := c.whole()
	for i, col := range c.col {
		row := make([]float64, len(c.vars))
		row[i] = slight
		k.col, k.want = append(k.col, slices.Concat(col, row)), append(k.want, slight*c.vars[i].home)
		if len(c.vars[i].values) > 0 {
			box[i] = stretch{lo: x[i], hi: x[i]}
		}
	}
	x, _, _ = k.fit(box, x)
	return x
}
