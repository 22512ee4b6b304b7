package reach

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/plane"
)

// fineRacks are two racks of 100 001 steps each under a lever on the bend that is out of reach.
func fineRacks() Side {
	return Side{Bases: []plane.Point{{}}, Wish: Wish{Place: plane.Point{X: 300, Y: 500}, Weight: 100},
		Racks: []Rack{{Dir: plane.Point{X: 1}, Step: 0.001, Count: 100_001}, {Dir: plane.Point{X: 0.9, Y: 0.435}, Step: 0.001, Count: 100_001}},
		Arms: []Arm{{Turn: Turn{Range: Range{-0.5, 0.5}}, Bend: &Bend{Centre: plane.Point{X: 44, Y: -30},
			Hand: plane.Point{X: 36, Y: 52}, F: Range{0, 1.5}}}}}
}

// Ten thousand million choices: the steps are halved, not listed. Both racks end at their stops.
func TestFineStepsOnTheBendAreNotListed(t *testing.T) {
	s := fineRacks()
	got := s.Search(context.Background())
	assert.True(t, got.Proven)
	require.Len(t, got.Ties, 1)
	assert.Equal(t, []int{100_000, 100_000}, got.Ties[0].Steps)
}

// Two racks along one line whose steps hardly ever meet: whatever the one does, the other nearly makes up for
// it, and no bound helps.
func TestACancelledSearchStopsOnTheBend(t *testing.T) {
	s := fineRacks()
	s.Racks[1] = Rack{Dir: plane.Point{X: 1}, Step: 0.00137, Count: 100_001}
	arm := &s.Arms[0]
	arm.Turn.Range, arm.Bend.F = Range{0, 0}, Range{0.5, 0.5}
	s.Wish.Place = arm.Bend.Centre.Add(arm.Bend.Hand.Turn(-0.5)).Add(plane.Point{X: 100.000123})
	s.Wish.Angle = -0.5
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	got := s.Search(ctx)
	assert.False(t, got.Proven)
	assert.NotEmpty(t, got.Ties, "the best so far")
}

// A review finds the tie of least stray from any home, as looking at every single one does.
func TestAReviewFindsTheBestOfAllTies(t *testing.T) {
	const seed = 71
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for n := range 40 {
		// Two upright and two level racks: every sum can be had in many ways.
		s := Side{Bases: []plane.Point{{}}, Arms: []Arm{{}}, Wish: Wish{Place: plane.Point{X: float64(r.IntN(30)), Y: float64(r.IntN(30))}, Weight: 100}}
		home := make([]float64, 4)
		for i := range home {
			s.Racks = append(s.Racks, Rack{Dir: [2]plane.Point{{X: 1}, {Y: 1}}[i%2], Step: 1, Count: 20})
			home[i] = between(r, -5, 25)
		}
		if n%3 == 0 { // out of reach: all ties miss alike
			s.Wish.Place.X += 40
		}
		stray := func(steps []int) float64 {
			sum := 0.0
			for i, j := range steps {
				sum += (float64(j) - home[i]) * (float64(j) - home[i])
			}
			return sum
		}
		got := s.Search(context.Background())
		require.False(t, got.More)
		want := math.Inf(1)
		for _, c := range got.Ties {
			want = math.Min(want, stray(c.Steps))
		}
		best, offered := math.Inf(1), 0
		require.True(t, s.Ties(context.Background(), got.Best, Review{
			Least:  func(_, _ int, steps []int) [2]float64 { return [2]float64{0, stray(steps)} },
			Beaten: func(least [2]float64) bool { return least[1] >= best },
			Offer: func(c Candidate) bool {
				best = math.Min(best, stray(c.Steps))
				offered++
				return true
			},
		}))
		require.Equal(t, want, best, "case %d", n)
		require.LessOrEqual(t, offered, len(got.Ties))
	}
}

func TestAReviewEndsWhenAsked(t *testing.T) {
	s := reachesAll()
	all := Review{Least: func(int, int, []int) [2]float64 { return [2]float64{} }, Beaten: func([2]float64) bool { return false }}
	var seen []Candidate
	all.Offer = func(c Candidate) bool { seen = append(seen, c); return len(seen) < 100 }
	assert.False(t, s.Ties(context.Background(), 0, all), "not all of 60⁵")
	assert.Len(t, seen, 100)
	slices.SortFunc(seen, func(a, b Candidate) int { return slices.Compare(a.Steps, b.Steps) })
	for i := range seen[1:] {
		assert.NotEqual(t, seen[i].Steps, seen[i+1].Steps)
	}

	ctx, cancel := context.WithCancel(context.Background())
	count := 0
	all.Offer = func(Candidate) bool {
		if count++; count == 50 {
			cancel()
		}
		return true
	}
	assert.False(t, s.Ties(ctx, 0, all))
	assert.Less(t, count, 1000)
}
