package reach

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/plane"
)

// randomSide is a small machine: stems, steps, slides, parts, turns free or on steps.
func randomSide(r *rand.Rand) Side {
	s := Side{Slides: randomSlides(r, 2), Wish: randomWish(r)}
	for range 1 + r.IntN(5) {
		s.Bases = append(s.Bases, plane.Point{X: between(r, -60, 60), Y: between(r, -60, 60)})
	}
	for range r.IntN(3) {
		k := Rack{Dir: plane.Direction(between(r, 0, 2*math.Pi)), First: between(r, -30, 10), Step: between(r, -15, 15), Count: 1 + r.IntN(5)}
		if len(s.Racks) > 0 && r.IntN(4) == 0 {
			k.Dir = s.Racks[0].Dir
		}
		s.Racks = append(s.Racks, k)
	}
	for range 1 + r.IntN(3) {
		a := randomArm(r)
		if r.IntN(6) == 0 {
			a = randomBend(r)
		}
		if r.IntN(3) == 0 {
			for v := a.Turn.Lo; v <= a.Turn.Hi; v += 0.08 {
				a.Turn.Values = append(a.Turn.Values, v)
			}
		}
		s.Arms = append(s.Arms, a)
	}
	return s
}

// whole is a side on a lattice, where many choices come out alike.
func whole(r *rand.Rand) Side {
	s := Side{Wish: Wish{Place: plane.Point{X: float64(r.IntN(40)), Y: float64(r.IntN(40))}, Weight: 100}}
	for range 1 + r.IntN(4) {
		s.Bases = append(s.Bases, plane.Point{X: float64(5 * r.IntN(5)), Y: float64(5 * r.IntN(5))})
	}
	for range 1 + r.IntN(3) {
		s.Racks = append(s.Racks, Rack{Dir: []plane.Point{{X: 1}, {Y: 1}}[r.IntN(2)], Step: 5, Count: 1 + r.IntN(5)})
	}
	for range 1 + r.IntN(3) {
		x := float64(5 * r.IntN(4))
		s.Arms = append(s.Arms, Arm{X: Range{x, x}})
	}
	return s
}

// choices calls each for every discrete choice of a side.
func (s *Side) choices(each func(c Candidate, turn Turn)) {
	steps := make([]int, len(s.Racks))
	var walk func(base, arm, depth int, turn Turn)
	walk = func(base, arm, depth int, turn Turn) {
		if depth == len(steps) {
			each(Candidate{Base: base, Arm: arm, Steps: slices.Clone(steps)}, turn)
			return
		}
		for steps[depth] = range s.Racks[depth].Count {
			walk(base, arm, depth+1, turn)
		}
	}
	for base := range s.Bases {
		for arm, a := range s.Arms {
			turns := []Turn{{Range: a.Turn.Range}}
			if len(a.Turn.Values) > 0 {
				turns = nil
				for _, v := range a.Turn.Values {
					turns = append(turns, Turn{Range: Range{v, v}})
				}
			}
			for _, turn := range turns {
				walk(base, arm, 0, turn)
			}
		}
	}
}

// at is E² of a candidate at its own turn and place on the bend, by its definition.
func (s *Side) at(c Candidate) float64 {
	base := s.Bases[c.Base]
	for k, j := range c.Steps {
		base = base.Add(s.Racks[k].at(j))
	}
	set := plane.NewZonogon(base, s.Slides)
	a := s.Arms[c.Arm]
	if a.Bend == nil {
		l := newLimb(s.Wish, &a, set)
		return l.square(c.Turn)
	}
	l := bendLimb{s.Wish, &a, set}
	return l.square(c.Turn, c.Around)
}

// scan is E² of a discrete choice by a dense scan of what may turn.
func (s *Side) scan(c Candidate, turn Turn, parts int) float64 {
	a := s.Arms[c.Arm]
	base := s.Bases[c.Base]
	for k, j := range c.Steps {
		base = base.Add(s.Racks[k].at(j))
	}
	set := plane.NewZonogon(base, s.Slides)
	least := math.Inf(1)
	if turn.Hi == turn.Lo {
		parts = 0
	}
	for i := range parts + 1 {
		t := turn.Lo + (turn.Hi-turn.Lo)*float64(i)/math.Max(1, float64(parts))
		if a.Bend == nil {
			l := newLimb(s.Wish, &a, set)
			least = math.Min(least, l.square(t))
			continue
		}
		l := bendLimb{s.Wish, &a, set}
		for j := range 25 {
			least = math.Min(least, l.square(t, a.Bend.F.Lo+(a.Bend.F.Hi-a.Bend.F.Lo)*float64(j)/24))
		}
	}
	return least
}

// Every choice enumerated with a dense scan of the turn: none is better than the answer, the answer is what
// it says, and what it says it searched is what there is.
func TestSearchAgainstEnumeration(t *testing.T) {
	const seed = 51
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for n := range tenth(2000) {
		s := randomSide(r)
		got := s.Search(context.Background())
		require.True(t, got.Proven)
		require.NotEmpty(t, got.Ties, "case %d", n)
		for _, c := range got.Ties {
			require.InDelta(t, math.Sqrt(c.Square), math.Sqrt(s.at(c)), 1e-9, "case %d: E can be had", n)
			require.LessOrEqual(t, math.Sqrt(c.Square), got.Best+Tie+1e-12)
		}
		count := 0.0
		s.choices(func(c Candidate, turn Turn) {
			count++
			require.LessOrEqual(t, got.Best, math.Sqrt(s.scan(c, turn, 30))+2*slack, "case %d: %+v", n, c)
		})
		require.Equal(t, count, s.Combinations())
	}
}

// Where choices come out alike, all of them are reported.
func TestSearchFindsEveryTie(t *testing.T) {
	const seed = 52
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	most := 0
	for n := range tenth(2000) {
		s := whole(r)
		got := s.Search(context.Background())
		key := func(c Candidate) string { return fmt.Sprint(c.Base, c.Arm, c.Steps) }
		var found, want []string
		for _, c := range got.Ties {
			found = append(found, key(c))
		}
		s.choices(func(c Candidate, turn Turn) {
			if math.Sqrt(s.scan(c, turn, 0)) <= got.Best+Tie {
				want = append(want, key(c))
			}
		})
		slices.Sort(found)
		slices.Sort(want)
		require.Equal(t, want, found, "case %d", n)
		most = max(most, len(want))
	}
	t.Logf("up to %d alike", most)
}

// An indexed bar with a lever free on the bend: the bar may stand on any of its steps, and all are reported.
func TestSearchFindsEveryStepOfABarWithAFreeLever(t *testing.T) {
	s := Side{Bases: []plane.Point{{}}, Wish: Wish{Place: plane.Point{X: 90, Y: 20}, Weight: 100},
		Slides: []plane.Slide{{Dir: plane.Point{X: 1}, Lo: -200, Hi: 200}, {Dir: plane.Point{Y: 1}, Lo: -200, Hi: 200}},
		Arms: []Arm{{Offset: 0.2, Turn: Turn{Values: []float64{-0.1, 0, 0.1, 0.2, 0.9}, Range: Range{-0.1, 0.9}},
			Bend: &Bend{Centre: plane.Point{X: 45, Y: -35}, Hand: plane.Point{X: 30, Y: 57}, F: Range{0, 0.5}}}}}
	got := s.Search(context.Background())
	var turns []float64
	for _, c := range got.Ties {
		turns = append(turns, c.Turn)
		assert.InDelta(t, -0.2, c.Turn-c.Around, 1e-9, "the hand keeps its angle")
	}
	slices.Sort(turns)
	assert.Equal(t, []float64{-0.1, 0, 0.1, 0.2}, turns)
}

// de Jonge & Tiberius 1996, The LAMBDA method for integer ambiguity estimation, Delft: minimise
// (a - z)'Q⁻¹(a - z) over whole z. Best (5, 3, 4) with 0.2183 and second (6, 4, 4) with 0.3073 are published;
// the third, and (5, 3, 3) with 1.245126 for plain rounding, were found by brute force. With Q⁻¹ = R'R the
// first two columns of R are racks and the third, which ends in an angle, is a choice of part.
func TestIntegersAreSolvedNotRounded(t *testing.T) {
	a := [3]float64{5.45, 3.10, 2.97}
	q := [3][3]float64{{6.290, 5.978, 0.544}, {5.978, 6.292, 2.340}, {0.544, 2.340, 6.288}}
	m := inverse(q)
	var u [3][3]float64 // upper triangular, m = u'u
	for i := range 3 {
		for j := i; j < 3; j++ {
			v := m[i][j]
			for k := range i {
				v -= u[k][i] * u[k][j]
			}
			if i == j {
				u[i][i] = math.Sqrt(v)
			} else {
				u[i][j] = v / u[i][i]
			}
		}
	}
	s := Side{Bases: []plane.Point{{}}, Wish: Wish{Weight: 1, Angle: u[2][2] * a[2],
		Place: plane.Point{X: u[0][0]*a[0] + u[0][1]*a[1] + u[0][2]*a[2], Y: u[1][1]*a[1] + u[1][2]*a[2]}}}
	for j := range 2 {
		column := plane.Point{X: u[0][j], Y: u[1][j]}
		s.Racks = append(s.Racks, Rack{Dir: column.Scale(1 / column.Norm()), Step: column.Norm(), Count: 12})
	}
	for z := range 12 {
		x := u[0][2] * float64(z)
		s.Arms = append(s.Arms, Arm{X: Range{x, x}, Y: u[1][2] * float64(z), Offset: u[2][2] * float64(z)})
	}

	best := s.Search(context.Background())
	require.Len(t, best.Ties, 1)
	assert.Equal(t, []int{5, 3, 4}, append(slices.Clone(best.Ties[0].Steps), best.Ties[0].Arm))
	assert.InDelta(t, 0.218331, best.Ties[0].Square, 5e-7)

	each := func(c Candidate) uint64 { return uint64(c.Arm<<16 | c.Steps[0]<<8 | c.Steps[1]) }
	next := s.Alternatives(context.Background(), 3, each)
	for i, want := range []struct {
		z      []int
		square float64
	}{{[]int{5, 3, 4}, 0.218331}, {[]int{6, 4, 4}, 0.307273}, {[]int{4, 2, 4}, 0.593409}} {
		c := next.Ties[i]
		assert.Equal(t, want.z, append(slices.Clone(c.Steps), c.Arm))
		assert.InDelta(t, want.square, c.Square, 1e-6)
	}
	rounded := Candidate{Steps: []int{5, 3}, Arm: 3}
	assert.InDelta(t, 1.245126, s.at(rounded), 5e-7, "each rounded by itself")
}

func inverse(m [3][3]float64) (v [3][3]float64) {
	minor := func(i, j int) float64 {
		a, b, c, d := (i+1)%3, (i+2)%3, (j+1)%3, (j+2)%3
		return m[a][c]*m[b][d] - m[a][d]*m[b][c]
	}
	det := m[0][0]*minor(0, 0) + m[0][1]*minor(0, 1) + m[0][2]*minor(0, 2)
	for i := range 3 {
		for j := range 3 {
			v[j][i] = minor(i, j) / det
		}
	}
	return v
}

// Two adjusters that lie nearly along one another: rounding each wanted mark to its nearest step misses by
// more than ten times what the best steps do.
func TestRoundingEachAdjusterIsWrong(t *testing.T) {
	s := Side{Bases: []plane.Point{{}}, Arms: []Arm{{}}, Wish: Wish{Weight: 100}, Racks: []Rack{
		{Dir: plane.Direction(plane.Rad(107)), Step: 10, Count: 40}, {Dir: plane.Direction(plane.Rad(100)), Step: 10, Count: 40}}}
	// Wanted at marks 10.49 and 10.51 of the two.
	s.Wish.Place = s.Racks[0].Dir.Scale(104.9).Add(s.Racks[1].Dir.Scale(105.1))
	got := s.Search(context.Background())
	rounded := math.Sqrt(s.at(Candidate{Steps: []int{10, 11}}))
	assert.Less(t, got.Best, rounded+1e-12)
	least := math.Inf(1)
	s.choices(func(c Candidate, _ Turn) { least = math.Min(least, s.at(c)) })
	assert.InDelta(t, math.Sqrt(least), got.Best, 1e-9)
	s.Wish.Place = s.Racks[0].Dir.Scale(104).Add(s.Racks[1].Dir.Scale(104))
	got = s.Search(context.Background())
	rounded = math.Sqrt(s.at(Candidate{Steps: []int{10, 10}}))
	assert.Less(t, got.Best, rounded/2, "best %.2f mm, rounded %.2f mm", got.Best, rounded)
}

// The n best groups against enumeration.
func TestAlternativesAgainstEnumeration(t *testing.T) {
	const seed = 53
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for n := range tenth(600) {
		s := randomSide(r)
		byBase := func(c Candidate) uint64 { return uint64(c.Base) }
		many := 1 + r.IntN(5)
		got := s.Alternatives(context.Background(), many, byBase)
		require.True(t, got.Proven)
		var want []float64
		for base := range s.Bases {
			one := s
			one.Bases = s.Bases[base : base+1]
			want = append(want, one.Search(context.Background()).Best)
		}
		slices.Sort(want)
		require.Len(t, got.Ties, min(many, len(want)), "case %d", n)
		seen := map[uint64]bool{}
		for i, c := range got.Ties {
			require.InDelta(t, want[i], math.Sqrt(c.Square), 2*slack, "case %d, alternative %d", n, i)
			require.False(t, seen[byBase(c)], "each group once")
			seen[byBase(c)] = true
		}
	}
}

func TestACancelledSearchSaysThatItIsNotProven(t *testing.T) {
	s := Side{Arms: []Arm{{}}, Wish: Wish{Weight: 100}}
	for i := range 5000 { // all equally far, so none can be left out
		s.Bases = append(s.Bases, plane.Direction(float64(i)).Scale(300))
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	got := s.Search(ctx)
	assert.False(t, got.Proven)
	assert.NotEmpty(t, got.Ties, "the best so far")
}

// reachesAll has five racks that slides make up for, whatever their steps.
func reachesAll() Side {
	s := Side{Bases: []plane.Point{{}}, Arms: []Arm{{}}, Wish: Wish{Place: plane.Point{X: 600}, Weight: 100},
		Slides: []plane.Slide{{Dir: plane.Point{X: 1}, Lo: -1e4, Hi: 1e4}, {Dir: plane.Point{Y: 1}, Lo: -1e4, Hi: 1e4}}}
	for range 5 {
		s.Racks = append(s.Racks, Rack{Dir: plane.Point{X: 1}, Step: 1, Count: 60})
	}
	return s
}

// Racks alone can make a search long: it must stop there too.
func TestACancelledSearchStopsAmongTheSteps(t *testing.T) {
	s := reachesAll()
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	got := s.Search(ctx)
	assert.False(t, got.Proven)
	assert.NotEmpty(t, got.Ties)
}

// 60⁵ choices that all reach: as many as are listed are found, and the search ends, proven, and says so.
func TestMoreTiesThanAnybodyWants(t *testing.T) {
	s := reachesAll()
	got := s.Search(context.Background())
	assert.True(t, got.Proven)
	assert.Zero(t, got.Best)
	assert.Len(t, got.Ties, maxTies)
	assert.True(t, got.More)
}

func TestNothingToSearch(t *testing.T) {
	for name, s := range map[string]Side{
		"no base":              {Arms: []Arm{{}}, Wish: Wish{Weight: 1}},
		"no arm":               {Bases: []plane.Point{{}}, Wish: Wish{Weight: 1}},
		"a rack without steps": {Bases: []plane.Point{{}}, Arms: []Arm{{}}, Racks: []Rack{{Dir: plane.Point{X: 1}}}, Wish: Wish{Weight: 1}},
	} {
		t.Run(name, func(t *testing.T) {
			got := s.Search(context.Background())
			assert.Empty(t, got.Ties)
			assert.Zero(t, s.Combinations())
		})
	}
}

func TestPointsComeInOrderOfTheirBound(t *testing.T) {
	const seed = 54
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for range 300 {
		points := make([]plane.Point, r.IntN(200))
		for i := range points {
			points[i] = plane.Point{X: float64(r.IntN(30)), Y: float64(r.IntN(30))} // many alike
		}
		p := plane.Point{X: between(r, -20, 50), Y: between(r, -20, 50)}
		var got []float64
		seen := map[int]bool{}
		stop := 1 + r.IntN(250)
		distance := func(f frame) float64 {
			return plane.Point{X: plane.Clamp(p.X, f.min.X, f.max.X), Y: plane.Clamp(p.Y, f.min.Y, f.max.Y)}.Distance(p)
		}
		newTree(points).rising(distance, func(i int, d float64) bool {
			require.False(t, seen[i])
			seen[i] = true
			require.Equal(t, points[i].Distance(p), d)
			got = append(got, d)
			return len(got) < stop
		})
		want := make([]float64, len(points))
		for i := range points {
			want[i] = points[i].Distance(p)
		}
		slices.SortFunc(want, cmp.Compare[float64])
		require.Equal(t, want[:min(stop, len(want))], append([]float64{}, got...))
	}
}
