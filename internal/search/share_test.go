package search

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/plane"
)

// randomTravels are often parallel, or nearly so, by no less than the angle least.
func randomTravels(r *rand.Rand, least float64) []Travel {
	travels := make([]Travel, 1+r.IntN(6))
	for i := range travels {
		lo := between(r, -40, 20)
		travels[i] = Travel{plane.Slide{Dir: plane.Direction(between(r, 0, 2*math.Pi)), Lo: lo, Hi: lo + between(r, 0, 60)}, between(r, -60, 60)}
		switch r.IntN(6) {
		case 0:
			travels[i].Hi = lo
		case 1:
			travels[i].Dir = travels[0].Dir
		case 2:
			travels[i].Dir = travels[0].Dir.Scale(-1)
		case 3: // nearly along the first: a degree or much less
			travels[i].Dir = travels[0].Dir.Turn(math.Exp(between(r, math.Log(least), math.Log(2e-2))))
		}
	}
	return travels
}

// stray is Σ (x - home)².
func strayOf(x []float64, travels []Travel) float64 {
	sum := 0.0
	for i, t := range travels {
		sum += (x[i] - t.Home) * (x[i] - t.Home)
	}
	return sum
}

// Any change of the travels that keeps the displacement is made of changes of two or three of them, so it is
// enough that none of those is an improvement.
func requireShared(t *testing.T, to plane.Point, travels []Travel, x []float64, n int) {
	t.Helper()
	for i, v := range travels {
		require.GreaterOrEqual(t, x[i], v.Lo, "case %d", n)
		require.LessOrEqual(t, x[i], v.Hi, "case %d", n)
	}
	require.InDelta(t, 0, short(to, travels, x), Tie, "case %d: the travels make up the displacement", n)
	now := strayOf(x, travels)
	try := func(members []int, change []float64) {
		size := 0.0
		for _, c := range change {
			size = math.Max(size, math.Abs(c))
		}
		if size == 0 {
			return
		}
		for _, step := range []float64{-1, -0.01, 0.01, 1} {
			y := append([]float64(nil), x...)
			for k, i := range members {
				y[i] += step * change[k] / size
				if y[i] < travels[i].Lo || y[i] > travels[i].Hi {
					y = nil
					break
				}
			}
			if y != nil {
				require.LessOrEqual(t, now, strayOf(y, travels)+1e-5, "case %d: %v", n, members)
			}
		}
	}
	for i, a := range travels {
		for j := range i {
			b := travels[j]
			if a.Dir == b.Dir {
				try([]int{i, j}, []float64{1, -1})
			} else if a.Dir == b.Dir.Scale(-1) {
				try([]int{i, j}, []float64{1, 1})
			}
			for k := range j {
				c := travels[k]
				try([]int{i, j, k}, []float64{b.Dir.Cross(c.Dir), c.Dir.Cross(a.Dir), a.Dir.Cross(b.Dir)})
			}
		}
	}
}

func TestShareIsNearestToHome(t *testing.T) {
	const seed = 61
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for n := range trials(6000) {
		travels := randomTravels(r, 1e-5)
		to := plane.Point{}
		for _, v := range travels {
			share := r.Float64()
			switch r.IntN(4) { // often against a stop: rims and corners
			case 0:
				share = 0
			case 1:
				share = 1
			}
			to = to.Add(v.Dir.Scale(v.Lo + share*(v.Hi-v.Lo)))
		}
		requireShared(t, to, travels, Share(to, travels), n)
	}
}

// crossing leaves out what runs within 15° of another travel but not alongside it.
func crossing(travels []Travel) []Travel {
	var list []Travel
	for _, v := range travels {
		if !slices.ContainsFunc(list, func(o Travel) bool { return v.Dir.Cross(o.Dir) != 0 && math.Abs(v.Dir.Cross(o.Dir)) < 0.26 }) {
			list = append(list, v)
		}
	}
	return list
}

// Trying every stop is for travels nearly parallel alone: where none are, Newton's method, or the rim, have shared it.
func TestTravelsThatCrossAreSharedWithoutTryingStops(t *testing.T) {
	const seed = 64
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	missed, all := 0, trials(6000)
	for n := range all {
		travels := crossing(randomTravels(r, 1.9e-2))
		to, whole := plane.Point{}, plane.Zonogon{}
		for _, v := range travels {
			to = to.Add(v.Dir.Scale(v.Lo + []float64{0, 1, r.Float64(), r.Float64()}[r.IntN(4)]*(v.Hi-v.Lo)))
			whole.Add(v.Slide)
		}
		if r.IntN(3) == 0 { // onto the rim
			to = to.Add(plane.Direction(between(r, 0, 7)).Scale(500))
		}
		to = whole.Nearest(to)
		x := quick(to, whole, travels)
		if short(to, travels, x) > 10*Nought {
			missed++
			continue
		}
		requireShared(t, to, travels, x, n)
	}
	require.LessOrEqual(t, missed, all/500, "next to the rim the multipliers grow without end")
}

func TestShareOfWhatCannotBeReachedIsTheNearest(t *testing.T) {
	const seed = 62
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for n := range trials(3000) {
		travels := randomTravels(r, 1e-5)
		to := plane.Point{X: between(r, -400, 400), Y: between(r, -400, 400)}
		slides := make([]plane.Slide, len(travels))
		for i := range travels {
			slides[i] = travels[i].Slide
		}
		nearest := plane.NewZonogon(plane.Point{}, slides).Nearest(to)
		requireShared(t, nearest, travels, Share(to, travels), n)
	}
}

// Rails tilted by next to nothing against a slider: whatever the angle, the travels make up the displacement.
func TestShareOfTravelsNearlyParallel(t *testing.T) {
	const seed = 63
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for n := range trials(6000) {
		travels := randomTravels(r, 1e-14)
		to := plane.Point{}
		for _, v := range travels {
			to = to.Add(v.Dir.Scale(between(r, v.Lo, v.Hi)))
		}
		x := Share(to, travels)
		for i, v := range travels {
			require.True(t, x[i] >= v.Lo && x[i] <= v.Hi, "case %d", n)
		}
		require.InDelta(t, 0, short(to, travels, x), 1.5*Tie, "case %d", n)
	}
}

// Closed forms: two slides that run the same way share evenly; when the displacement is where home leads,
// nothing moves from home.
func TestShareInClosedForm(t *testing.T) {
	forward := plane.Slide{Dir: plane.Point{X: 1}, Lo: -50, Hi: 50}
	x := Share(plane.Point{X: 30}, []Travel{{forward, 0}, {forward, 10}})
	assert.InDeltaSlice(t, []float64{10, 20}, x, 1e-9)
	back := plane.Slide{Dir: plane.Point{X: -1}, Lo: -50, Hi: 50}
	x = Share(plane.Point{X: 30}, []Travel{{forward, 0}, {back, 0}})
	assert.InDeltaSlice(t, []float64{15, -15}, x, 1e-9)
	short := plane.Slide{Dir: plane.Point{X: 1}, Lo: -50, Hi: 4}
	x = Share(plane.Point{X: 30}, []Travel{{forward, 0}, {short, 0}})
	assert.InDeltaSlice(t, []float64{26, 4}, x, 1e-9, "one at its stop, the other takes the rest")
	assert.Empty(t, Share(plane.Point{}, nil))

	up := plane.Slide{Dir: plane.Direction(plane.Rad(107)), Lo: 0, Hi: 200}
	home := []Travel{{forward, 12}, {up, 80}, {back, -3}}
	to := forward.Dir.Scale(12).Add(up.Dir.Scale(80)).Add(back.Dir.Scale(-3))
	assert.InDeltaSlice(t, []float64{12, 80, -3}, Share(to, home), 1e-9)
}
