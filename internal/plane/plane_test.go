package plane

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestTurnIsTheStatedMatrix(t *testing.T) {
	a := Rad(30)
	got := Point{2, 1}.Turn(a)
	assert.InDelta(t, 2*math.Cos(a)-math.Sin(a), got.X, 1e-15)
	assert.InDelta(t, 2*math.Sin(a)+math.Cos(a), got.Y, 1e-15)
	assert.InDelta(t, 90, Deg(Rad(90)), 1e-13)
}

func TestAPositiveTurnLiftsTheFront(t *testing.T) {
	nose := Pose{Turn: Rad(2)}.At(Point{X: 100})
	assert.Greater(t, nose.Y, 0.0)
}

func TestLocalUndoesAt(t *testing.T) {
	const seed = 1
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for range 1000 {
		f := Pose{Point{r.NormFloat64() * 500, r.NormFloat64() * 500}, r.NormFloat64()}
		p := Point{r.NormFloat64() * 300, r.NormFloat64() * 300}
		back := f.Local(f.At(p))
		assert.InDelta(t, 0, back.Distance(p), 1e-9)
		assert.InDelta(t, p.Norm(), f.At(p).Distance(f.Origin), 1e-9, "a rigid motion keeps lengths")
	}
}

// Law of cosines: a closed form of school geometry.
func TestDistanceObeysTheLawOfCosines(t *testing.T) {
	a, b, gamma := 742.0, 510.0, Rad(63)
	p, q := Direction(0).Scale(a), Direction(gamma).Scale(b)
	assert.InDelta(t, math.Sqrt(a*a+b*b-2*a*b*math.Cos(gamma)), p.Distance(q), 1e-9)
}

// A cross product is |p||q| sin of the turn from p to q, as a dot product is the cosine's.
func TestCrossAndDotByTheTurnBetween(t *testing.T) {
	for _, turn := range []float64{-170, -90, -30, 0, 12, 90, 179} {
		p := Point{3, 4}
		q := p.Turn(Rad(turn)).Scale(2)
		assert.InDelta(t, 50*math.Sin(Rad(turn)), p.Cross(q), 1e-12, "%g°", turn)
		assert.InDelta(t, 50*math.Cos(Rad(turn)), p.Dot(q), 1e-12, "%g°", turn)
	}
}

func TestFinite(t *testing.T) {
	assert.True(t, Point{1, -2}.Finite())
	for _, odd := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		assert.False(t, Point{odd, 1}.Finite())
		assert.False(t, Point{1, odd}.Finite())
	}
}

func TestNearestOfAPostAndASlide(t *testing.T) {
	box := []Slide{{Point{1, 0}, -10, 10}, {Point{0, 1}, 0, 40}}
	for _, c := range []struct {
		name    string
		p, want Point
	}{
		{"inside stays", Point{3, 7}, Point{3, 7}},
		{"over the top", Point{3, 50}, Point{3, 40}},
		{"past a corner", Point{20, -5}, Point{10, 0}},
		{"before the front", Point{-30, 20}, Point{-10, 20}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := NewZonogon(Point{}, box).Nearest(c.p)
			assert.InDelta(t, 0, got.Distance(c.want), 1e-12)
		})
	}
}

func TestNearestOfFlatAndEmptySets(t *testing.T) {
	assert.Equal(t, Point{5, 5}, NewZonogon(Point{5, 5}, nil).Nearest(Point{9, 9}))
	line := NewZonogon(Point{}, []Slide{{Point{1, 0}, 0, 10}, {Point{-1, 0}, 0, 5}})
	assert.Equal(t, Point{-5, 0}, line.Nearest(Point{-50, 0}), "past the end, exactly on the line")
	assert.Equal(t, Point{10, 0}, line.Nearest(Point{50, 3}))
	assert.Equal(t, []Point{{-5, 0}, {10, 0}}, line.Vertices())
}

// Against brute force: no point of a fine grid of the set is nearer, and the answer is in the set.
func TestNearestAgainstBruteForce(t *testing.T) {
	const seed = 7
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for range 300 {
		slides := make([]Slide, 1+r.IntN(3))
		for i := range slides {
			lo := r.Float64()*40 - 20
			slides[i] = Slide{Direction(r.Float64() * 2 * math.Pi), lo, lo + r.Float64()*30}
		}
		if r.IntN(4) == 0 {
			slides = append(slides, slides[0])
		}
		z := NewZonogon(Point{1, 2}, slides)
		p := Point{r.NormFloat64() * 40, r.NormFloat64() * 40}
		got := z.Nearest(p)
		best := math.Inf(1)
		var walk func(i int, at Point)
		walk = func(i int, at Point) {
			if i == len(slides) {
				best = math.Min(best, at.Distance(p))
				return
			}
			for k := range 13 {
				s := slides[i]
				walk(i+1, at.Add(s.Dir.Scale(s.Lo+(s.Hi-s.Lo)*float64(k)/12)))
			}
		}
		walk(0, Point{1, 2})
		assert.LessOrEqual(t, got.Distance(p), best+1e-9)
		// Optimality: no place of a convex set lies beyond the line through the nearest one.
		if d := got.Distance(p); d > 1e-9 {
			n := p.Sub(got).Scale(1 / d)
			assert.InDelta(t, z.Support(n), n.Dot(got), 1e-8)
		}
		for _, v := range z.Vertices() {
			assert.InDelta(t, 0, z.Nearest(v).Distance(v), 1e-8, "corners belong to the set")
		}
	}
}

// A metric is the usual distance in the plane that it makes flat, from which there is a way back; what is nearest by it is in the set,
// no place of it is nearer, and what lies inside stays exactly.
func TestNearestByAMetric(t *testing.T) {
	const seed = 14
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for range 300 {
		m := Metric{Line: Direction(2 * math.Pi * r.Float64()), Along: 0.3 + 3*r.Float64(), Across: 0.3 + 3*r.Float64()}
		length := func(p Point) float64 { return math.Hypot(m.Along*m.Line.Dot(p), m.Across*m.Line.Cross(p)) }
		p := Point{30 * r.NormFloat64(), 30 * r.NormFloat64()}
		require.InDelta(t, length(p), m.Flat(p).Norm(), 1e-9)
		require.InDelta(t, 0, m.Back(m.Flat(p)).Distance(p), 1e-9)
		z := Zonogon{Centre: Point{1, 2}}
		for range 1 + r.IntN(3) {
			z.Half = append(z.Half, Direction(2*math.Pi*r.Float64()).Scale(20*r.Float64()))
		}
		got := z.NearestBy(m, p)
		require.InDelta(t, 0, z.Nearest(got).Distance(got), 1e-8, "it is in the set")
		inside := Point{1, 2}
		for range 40 {
			other := Point{1, 2}
			for _, g := range z.Half {
				other = other.Add(g.Scale(2*r.Float64() - 1))
			}
			require.LessOrEqual(t, length(got.Sub(p)), length(other.Sub(p))+1e-9)
			inside = other
		}
		if len(z.Half) > 1 {
			require.Equal(t, inside, z.NearestBy(m, inside))
		}
	}
}

// The lowest place of a dip is found wherever it lies on the stretch, at either end too, with the fewest looks a golden section needs.
func TestLowestOfADip(t *testing.T) {
	for _, at := range []float64{-3, -2.9, 0, 1, 4.99, 5, 9} {
		looks := 0
		got := Lowest(func(v float64) float64 { looks++; return math.Abs(v - at) }, Range{-3, 5}, 1e-6)
		assert.InDelta(t, Clamp(at, -3, 5), got, 1e-6, "%g", at)
		assert.LessOrEqual(t, looks, 3+int(math.Ceil(math.Log(8/1e-6)/math.Log(math.Phi))), "%g", at)
	}
}

// Corners turn left at every one, begin with the lowest, and enclose the area 4·Σ |Half[i] × Half[j]| over the pairs (a zonogon
// is tiled by their parallelograms: Shephard 1974, from memory).
func TestVerticesEncloseTheZonogon(t *testing.T) {
	const seed = 13
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for n := range 400 {
		z := Zonogon{Centre: Point{r.Float64(), r.Float64()}}
		for range 2 + r.IntN(4) {
			z.Half = append(z.Half, Direction(2*math.Pi*r.Float64()).Scale(1+r.Float64()))
		}
		switch n % 3 {
		case 0:
			z.Half = append(z.Half, z.Half[0].Scale(-0.7), Point{})
		case 1:
			z.Half = append(z.Half, Point{-2, 0})
		}
		want := 0.0
		for i, a := range z.Half {
			for _, b := range z.Half[:i] {
				want += 4 * math.Abs(a.Cross(b))
			}
		}
		v, area := z.Vertices(), 0.0
		for i, p := range v {
			next, after := v[(i+1)%len(v)], v[(i+2)%len(v)]
			require.Positive(t, next.Sub(p).Cross(after.Sub(next)), "case %d, corner %d of %v", n, i, v)
			require.True(t, v[0].Y < p.Y+1e-12 && (i == 0 || v[0].Y < p.Y-1e-12 || v[0].X < p.X), "case %d: %v begins lower than %v", n, v[0], p)
			area += p.Sub(z.Centre).Cross(next.Sub(z.Centre)) / 2
		}
		require.InDelta(t, want, area, 1e-9, "case %d", n)
	}
}

// The strips of a zonogon meet in it: a place lies in all of them exactly when it is its own nearest.
func TestAZonogonIsWhereItsStripsMeet(t *testing.T) {
	const seed = 9
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	in, out := 0, 0
	for n := range 4000 {
		z := Zonogon{Centre: Point{10 * r.Float64(), 10 * r.Float64()}}
		for range n % 4 {
			z.Add(Slide{Dir: Direction(7 * r.Float64()), Lo: -r.Float64(), Hi: r.Float64() * float64(r.IntN(3))})
		}
		if len(z.Half) > 0 && n%3 == 0 { // one more along the first: flat, or a longer edge
			z.Half = append(z.Half, z.Half[0].Scale(-0.7))
		}
		if n%5 == 0 { // a travel that goes nowhere
			z.Half = append(z.Half, Point{})
		}
		strips := z.Strips()
		for range 20 {
			p := z.Centre.Add(Point{3 * (r.Float64() - 0.5), 3 * (r.Float64() - 0.5)})
			if r.IntN(2) == 0 {
				p = z.Nearest(p)
			}
			worst := math.Inf(-1)
			for _, s := range strips {
				require.InDelta(t, 1, s.Normal.Norm(), 1e-12)
				worst = math.Max(worst, math.Abs(s.Normal.Dot(p.Sub(z.Centre)))-s.Half)
			}
			if d := z.Nearest(p).Distance(p); d < 1e-12 {
				in++
				require.LessOrEqual(t, worst, 1e-11, "case %d", n)
			} else if d > 1e-9 {
				out++
				require.Positive(t, worst, "case %d", n)
			}
		}
	}
	assert.Greater(t, in, 10_000)
	assert.Greater(t, out, 10_000)
}
