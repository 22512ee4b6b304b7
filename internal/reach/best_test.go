package reach

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/optimize"

	"carryover/internal/plane"
)

func between(r *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }

func randomSlides(r *rand.Rand, most int) []plane.Slide {
	slides := make([]plane.Slide, r.IntN(most+1))
	for i := range slides {
		lo := between(r, -60, 20)
		slides[i] = plane.Slide{Dir: plane.Direction(between(r, 0, 2*math.Pi)), Lo: lo, Hi: lo + between(r, 0, 80)}
		switch {
		case r.IntN(6) == 0:
			slides[i].Hi = lo
		case i > 0 && r.IntN(5) == 0:
			slides[i].Dir = slides[i-1].Dir
		}
	}
	return slides
}

// randomArm is a saddle or bar of ordinary size, sometimes sliding in its own frame.
func randomArm(r *rand.Rand) Arm {
	a := Arm{Y: between(r, -40, 80), Offset: between(r, -0.3, 0.3)}
	a.X.Lo = between(r, -80, 140)
	a.X.Hi = a.X.Lo
	if r.IntN(2) == 0 {
		a.X.Hi += between(r, 0, 90)
	}
	lo := between(r, -0.5, 0.4)
	a.Turn.Range = Range{lo, lo + between(r, 0, 0.5)}
	if r.IntN(8) == 0 {
		a.Turn.Hi = a.Turn.Lo
	}
	return a
}

func randomWish(r *rand.Rand) Wish {
	return Wish{Place: plane.Point{X: between(r, -150, 200), Y: between(r, -100, 150)}, Angle: between(r, -0.5, 0.5),
		Weight: math.Exp(between(r, math.Log(5), math.Log(2000)))}
}

// bounded is the least |to - Σ c_i·dir_i|² within the stops, by coordinate descent on the box: slow, and
// independent of plane.Zonogon.
func bounded(to plane.Point, slides []plane.Slide) float64 {
	c := make([]float64, len(slides))
	rest := to
	for i, s := range slides {
		c[i] = s.Lo
		rest = rest.Sub(s.Dir.Scale(c[i]))
	}
	for range tenth(3000) {
		moved := 0.0
		for i, s := range slides {
			v := plane.Clamp(c[i]+s.Dir.Dot(rest), s.Lo, s.Hi)
			rest = rest.Sub(s.Dir.Scale(v - c[i]))
			moved = math.Max(moved, math.Abs(v-c[i]))
			c[i] = v
		}
		if moved < 1e-12 {
			break
		}
	}
	return rest.Dot(rest)
}

// slow is E² at one turn, by coordinate descent.
func slow(w Wish, a *Arm, base plane.Point, slides []plane.Slide, t float64) float64 {
	all := append([]plane.Slide{{Dir: plane.Direction(t), Lo: a.X.Lo, Hi: a.X.Hi}}, slides...)
	to := w.Place.Sub(base).Sub(plane.Point{Y: a.Y}.Turn(t))
	off := w.Weight * (t + a.Offset - w.Angle)
	return bounded(to, all) + off*off
}

// Dense scan of the turn times bounded least squares finds nothing better, and the answer can be had.
func TestBestAgainstAScanOfTheTurns(t *testing.T) {
	const seed = 41
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for n := range tenth(300) {
		a, w, slides := randomArm(r), randomWish(r), randomSlides(r, 3)
		base := plane.Point{X: between(r, -50, 50), Y: between(r, -50, 50)}
		turn, _, square := Best(w, &a, plane.NewZonogon(base, slides), math.Inf(1))
		require.GreaterOrEqual(t, turn, a.Turn.Lo)
		require.LessOrEqual(t, turn, a.Turn.Hi)
		require.InDelta(t, math.Sqrt(slow(w, &a, base, slides, turn)), math.Sqrt(square), 1e-5, "case %d: E is had at that turn", n)
		least := math.Inf(1)
		for k := range 301 {
			least = math.Min(least, slow(w, &a, base, slides, a.Turn.Lo+(a.Turn.Hi-a.Turn.Lo)*float64(k)/300))
		}
		require.LessOrEqual(t, math.Sqrt(square), math.Sqrt(least)+1e-6, "case %d", n)
	}
}

// A finer scan with the fast projection: many more cases.
func TestBestAgainstAFineScan(t *testing.T) {
	const seed = 42
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for n := range tenth(1500) {
		a, w := randomArm(r), randomWish(r)
		l := newLimb(w, &a, plane.NewZonogon(plane.Point{X: 3, Y: -2}, randomSlides(r, 3)))
		_, square := l.bestTurn(a.Turn.Range, math.Inf(1))
		for k := range 401 {
			at := a.Turn.Lo + (a.Turn.Hi-a.Turn.Lo)*float64(k)/400
			require.LessOrEqual(t, math.Sqrt(square), math.Sqrt(l.square(at))+2*slack, "case %d at turn %g", n, at)
		}
	}
}

// Karush, Kuhn and Tucker: at the best turn E² does not fall along any allowed turn, and the miss is normal
// to what can be reached.
func TestBestSatisfiesTheOptimalityConditions(t *testing.T) {
	const seed = 43
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for n := range tenth(3000) {
		a, w := randomArm(r), randomWish(r)
		l := newLimb(w, &a, plane.NewZonogon(plane.Point{}, randomSlides(r, 3)))
		turn, square := l.bestTurn(a.Turn.Range, math.Inf(1))
		miss := l.miss(turn)
		if d := miss.Norm(); d > 1e-6 {
			normal := miss.Scale(1 / d)
			require.InDelta(t, l.set.Support(normal), normal.Dot(w.Place)-d, 1e-6, "case %d: the miss is normal", n)
		}
		const h = 1e-5
		slope := func(from, to float64) float64 { return (l.square(to) - l.square(from)) / (to - from) }
		allowed := 1e-3 * (1 + math.Sqrt(square)) * (1 + w.Weight) // the curvature within the step
		if turn+h <= a.Turn.Hi {
			require.GreaterOrEqual(t, slope(turn, turn+h), -allowed, "case %d upward", n)
		}
		if turn-h >= a.Turn.Lo {
			require.LessOrEqual(t, slope(turn-h, turn), allowed, "case %d downward", n)
		}
	}
}

// Against a general optimiser: gonum's Nelder-Mead from many starts, with stops as sines.
func TestBestAgainstNelderMead(t *testing.T) {
	const seed = 44
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for n := range 40 {
		a, w, slides := randomArm(r), randomWish(r), randomSlides(r, 2)
		_, _, square := Best(w, &a, plane.NewZonogon(plane.Point{}, slides), math.Inf(1))
		in := func(r Range, v float64) float64 { return r.Lo + (r.Hi-r.Lo)*(1+math.Sin(v))/2 }
		problem := optimize.Problem{Func: func(v []float64) float64 {
			turn := in(a.Turn.Range, v[0])
			at := plane.Point{X: in(a.X, v[1]), Y: a.Y}.Turn(turn)
			for i, s := range slides {
				at = at.Add(s.Dir.Scale(in(Range{s.Lo, s.Hi}, v[2+i])))
			}
			off := w.Weight * (turn + a.Offset - w.Angle)
			return at.Sub(w.Place).Dot(at.Sub(w.Place)) + off*off
		}}
		least := math.Inf(1)
		for range 12 {
			start := make([]float64, 2+len(slides))
			for i := range start {
				start[i] = between(r, -1.5, 1.5)
			}
			got, err := optimize.Minimize(problem, start, &optimize.Settings{MajorIterations: 5000}, &optimize.NelderMead{})
			require.NoError(t, err)
			least = math.Min(least, got.F)
		}
		assert.LessOrEqual(t, math.Sqrt(square), math.Sqrt(least)+1e-6, "case %d: it finds nothing better", n)
		assert.InDelta(t, math.Sqrt(square), math.Sqrt(least), 0.02, "case %d: it finds the same", n)
	}
}

// The bound is never above what is possible on the stretch it speaks for.
func TestBoundIsNeverAboveTheTruth(t *testing.T) {
	const seed = 45
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for n := range tenth(10000) {
		a, w := randomArm(r), randomWish(r)
		l := newLimb(w, &a, plane.NewZonogon(plane.Point{X: 5}, randomSlides(r, 3)))
		width := math.Exp(between(r, math.Log(1e-6), math.Log(3)))
		lo := between(r, -1.5, 1.5)
		low := l.bound(Range{lo, lo + width})
		for k := range 41 {
			truth := l.square(lo + width*float64(k)/40)
			require.LessOrEqual(t, low, truth+1e-9*(1+truth), "case %d: stretch %g to %g", n, lo, lo+width)
		}
	}
}

func TestBoundOnTheBendIsNeverAboveTheTruth(t *testing.T) {
	const seed = 46
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for n := range tenth(5000) {
		a := randomBend(r)
		w := randomWish(r)
		l := bendLimb{w, &a, plane.NewZonogon(plane.Point{X: 5}, randomSlides(r, 3))}
		size := math.Exp(between(r, math.Log(1e-5), 0))
		b := box{t: Range{Lo: between(r, -1, 1)}, f: Range{Lo: between(r, -1, 2)}}
		b.t.Hi, b.f.Hi = b.t.Lo+size*r.Float64(), b.f.Lo+size*r.Float64()
		low := l.bound(b)
		for range 60 {
			truth := l.square(between(r, b.t.Lo, b.t.Hi), between(r, b.f.Lo, b.f.Hi))
			require.LessOrEqual(t, low, truth+1e-9*(1+truth), "case %d", n)
		}
	}
}

func randomBend(r *rand.Rand) Arm {
	bend := between(r, 20, 45)
	lo := between(r, 0, 0.6)
	a := Arm{Offset: between(r, -0.1, 0.4), Bend: &Bend{
		Centre: plane.Point{X: between(r, 20, 70), Y: -bend},
		Hand:   plane.Point{X: between(r, 15, 60), Y: bend + between(r, 0, 40)},
		F:      Range{lo, lo + between(r, 0, 0.9)},
	}}
	t := between(r, -0.4, 0.3)
	a.Turn.Range = Range{t, t + between(r, 0, 0.4)}
	return a
}

// A lever free on the bend: no pair of a fine grid of turn and place on the bend is better, and the answer
// is what its own turn and place give.
func TestBestOnTheBendAgainstAGrid(t *testing.T) {
	const seed = 47
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for n := range tenth(200) {
		a := randomBend(r)
		w := randomWish(r)
		w.Place = plane.Point{X: between(r, 20, 180), Y: between(r, -60, 100)}
		clamps := plane.NewZonogon(plane.Point{}, randomSlides(r, 2))
		at := func(turn, f float64) float64 {
			to := w.Place.Sub(a.Bend.Centre.Turn(turn)).Sub(a.Bend.Hand.Turn(turn - f))
			off := w.Weight * (a.Offset + turn - f - w.Angle)
			d := clamps.Nearest(to).Distance(to)
			return d*d + off*off
		}
		turn, f, square := Best(w, &a, clamps, math.Inf(1))
		require.InDelta(t, math.Sqrt(square), math.Sqrt(at(turn, f)), 1e-9)
		require.True(t, turn >= a.Turn.Lo-1e-12 && turn <= a.Turn.Hi+1e-12 && f >= a.Bend.F.Lo-1e-12 && f <= a.Bend.F.Hi+1e-12, "case %d", n)
		for i := range 61 {
			for j := range 61 {
				v := at(a.Turn.Lo+(a.Turn.Hi-a.Turn.Lo)*float64(i)/60, a.Bend.F.Lo+(a.Bend.F.Hi-a.Bend.F.Lo)*float64(j)/60)
				require.LessOrEqual(t, math.Sqrt(square), math.Sqrt(v)+2*slack, "case %d", n)
			}
		}
	}
}

// Where a post and a slide reach everything, turning the bar and sliding the lever back along the bend keeps
// the hand in place: a whole family with E = 0.
func TestBestOnTheBendFindsAFamily(t *testing.T) {
	a := Arm{Offset: 0.2, Turn: Turn{Range: Range{-0.3, 0.3}}, Bend: &Bend{Centre: plane.Point{X: 45, Y: -35}, Hand: plane.Point{X: 30, Y: 57}, F: Range{0, 1}}}
	clamps := plane.NewZonogon(plane.Point{}, []plane.Slide{{Dir: plane.Point{X: 1}, Lo: -200, Hi: 200}, {Dir: plane.Point{Y: 1}, Lo: -200, Hi: 200}})
	_, _, square := Best(Wish{Place: plane.Point{X: 90, Y: 20}, Angle: 0, Weight: 100}, &a, clamps, math.Inf(1))
	assert.InDelta(t, 0, square, 1e-15)
}

// Values of a turn are tried one by one; rounding the best free turn to the next of them may be wrong.
func TestBestAmongTheStepsOfATurn(t *testing.T) {
	const seed = 48
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for range tenth(1000) {
		a, w := randomArm(r), randomWish(r)
		for v := a.Turn.Lo; v <= a.Turn.Hi; v += 0.07 {
			a.Turn.Values = append(a.Turn.Values, v)
		}
		clamps := plane.NewZonogon(plane.Point{}, randomSlides(r, 2))
		_, _, square := Best(w, &a, clamps, math.Inf(1))
		least := math.Inf(1)
		for _, v := range a.Turn.Values {
			one := a
			one.Turn = Turn{Range: Range{v, v}}
			_, _, s := Best(w, &one, clamps, math.Inf(1))
			least = math.Min(least, s)
		}
		require.InDelta(t, math.Sqrt(least), math.Sqrt(square), 1e-9)
	}
}

// A cutoff only saves work: it never hides an answer below it.
func TestCutoffNeverHidesABetterAnswer(t *testing.T) {
	const seed = 49
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for n := range tenth(4000) {
		a, w := randomArm(r), randomWish(r)
		if r.IntN(4) == 0 {
			a = randomBend(r)
		}
		clamps := plane.NewZonogon(plane.Point{}, randomSlides(r, 2))
		_, _, square := Best(w, &a, clamps, math.Inf(1))
		cutoff := beyond(square * between(r, 0, 2))
		_, _, cut := Best(w, &a, clamps, cutoff)
		if square < cutoff*(1-1e-12) {
			require.InDelta(t, math.Sqrt(square), math.Sqrt(cut), 2*slack, "case %d", n)
		} else {
			require.GreaterOrEqual(t, cut, cutoff*(1-1e-9), "case %d", n)
		}
	}
}

// Metres out of reach, weights from next to nothing to rigid: an end comes, and it is finite.
func TestBestFarOutOfReach(t *testing.T) {
	const seed = 50
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for n := range tenth(600) {
		a, w := randomArm(r), randomWish(r)
		if n%3 == 0 {
			a = randomBend(r)
		}
		w.Place = w.Place.Scale(math.Exp(between(r, 0, math.Log(1e5))))
		w.Weight = math.Exp(between(r, math.Log(1e-6), math.Log(1e7)))
		clamps := plane.NewZonogon(plane.Point{}, randomSlides(r, 2))
		turn, f, square := Best(w, &a, clamps, math.Inf(1))
		require.False(t, math.IsNaN(square+turn+f) || math.IsInf(square, 0), "case %d", n)
	}
}
