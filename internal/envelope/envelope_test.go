package envelope

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/biketest"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

const seed = 20260207

func machine(t *testing.T, name string) *Machine {
	t.Helper()
	m, err := New(biketest.Example(t, name))
	require.NoError(t, err)
	return m
}

// stand sets a machine up with every setting drawn by pick, which gets its least and greatest, and measures it as
// a tape would: nothing of it goes through regions or supports.
func stand(m *Machine, pick func(lo, hi float64) float64) *assembly.Placement {
	b := m.Bike
	l := &assembly.Layout{Bike: b, Shape: m.fit.Saddle, BarShape: m.fit.Bar, Lever: m.fit.Lever,
		LeverAt: b.Bar.LeverAt.Mid(), Extension: math.NaN()}
	at := func(anchor plane.Point, moves bike.Moves) plane.Point {
		for _, i := range b.Moving(moves) {
			a := &b.Adjusters[i]
			anchor = anchor.Add(a.Direction().Scale(a.Travel(pick(a.Lo, a.Hi))))
		}
		return anchor
	}
	st := &assembly.Placement{Layout: l}
	tilt := pick(b.Saddle.Tilt.Lo, b.Saddle.Tilt.Hi)
	station := b.Saddle.ClampAt.Lo
	if b.Saddle.ClampAt.Free {
		station = pick(math.Max(b.Saddle.ClampAt.Lo, m.fit.Saddle.Rail.From), math.Min(b.Saddle.ClampAt.Hi, m.fit.Saddle.Rail.To))
	}
	rail := plane.Point{X: station, Y: m.fit.Saddle.Rail.Height}
	st.Poses[assembly.Saddle] = plane.Pose{Origin: at(*b.SaddleAnchor, bike.MovesSaddle).Add(rail.Turn(tilt)), Turn: tilt}
	bar := plane.Point{}
	if b.Stem != nil {
		steerer, _ := b.Steerer()
		h := b.Stem.Spacers.Heights()
		bar = steerer.BarClamp(*b.Stem.Only(), false, h[int(math.Round(pick(0, float64(len(h)-1))))])
	} else {
		bar = *b.BarAnchor
	}
	st.Poses[assembly.Bar] = plane.Pose{Origin: at(bar, bike.MovesBar), Turn: pick(b.Bar.Rotation.Lo, b.Bar.Rotation.Hi)}
	l.Hang()
	return st
}

func measure(t *testing.T, s *assembly.Placement, name string) float64 {
	t.Helper()
	nose := bike.Place{Kind: bike.AtSaddle, Ref: saddle.Reference{Kind: saddle.Nose}}
	mid := bike.Place{Kind: bike.AtSaddle, Ref: saddle.Reference{Kind: saddle.Mid}}
	bb, bar := bike.Place{Kind: bike.AtBB}, bike.Place{Kind: bike.AtBar}
	hood, drop := bike.Place{Kind: bike.AtHood}, bike.Place{Kind: bike.AtDrop}
	readings := map[string]bike.Reading{
		"saddle-height":              {Kind: bike.Line, From: bb, To: mid},
		"setback":                    {Kind: bike.Level, From: nose, To: bb},
		"reach to hood":              {Kind: bike.Level, From: nose, To: hood},
		"reach to drop":              {Kind: bike.Level, From: nose, To: drop},
		"drop to hood":               {Kind: bike.Plumb, From: hood, To: mid},
		"drop to drop":               {Kind: bike.Plumb, From: drop, To: mid},
		"bar height":                 {Kind: bike.Plumb, From: bb, To: bar},
		"bar height above the floor": {Kind: bike.Plumb, From: bike.Place{Kind: bike.AtFloor}, To: bar},
	}
	r, ok := readings[name]
	if !ok {
		return math.NaN()
	}
	v, _, err := s.ReadingOf(r)
	require.NoError(t, err)
	return v
}

func TestNoSettingIsBeyondAnExtremeAndSomeComeNear(t *testing.T) {
	for _, name := range []string{"studio", "outdoor"} {
		m := machine(t, name)
		extremes, err := m.Extremes(context.Background())
		require.NoError(t, err)
		r := rand.New(rand.NewPCG(seed, 1))
		least, greatest := map[string]float64{}, map[string]float64{}
		for _, x := range extremes {
			least[x.Name], greatest[x.Name] = math.Inf(1), math.Inf(-1)
		}
		settings := 10_000
		if testing.Short() {
			settings = 2000
		}
		for k := range settings {
			s := stand(m, func(lo, hi float64) float64 {
				if k%2 == 0 { // at a stop as often as not: that is where extremes are
					switch r.IntN(3) {
					case 0:
						return lo
					case 1:
						return hi
					}
				}
				return lo + r.Float64()*(hi-lo)
			})
			for _, x := range extremes {
				v := measure(t, s, x.Name)
				if math.IsNaN(v) {
					continue
				}
				require.GreaterOrEqual(t, v, x.Least-1e-9, "seed %d, %s, %s", seed, name, x.Name)
				require.LessOrEqual(t, v, x.Greatest+1e-9, "seed %d, %s, %s", seed, name, x.Name)
				least[x.Name], greatest[x.Name] = math.Min(least[x.Name], v), math.Max(greatest[x.Name], v)
			}
		}
		for _, x := range extremes {
			if math.IsInf(least[x.Name], 1) {
				continue
			}
			assert.InDelta(t, x.Least, least[x.Name], 8, "%s, %s: least", name, x.Name)
			assert.InDelta(t, x.Greatest, greatest[x.Name], 8, "%s, %s: greatest", name, x.Name)
		}
	}
}

func TestRegionHoldsEverySettingAtItsTurnAndIsNoWider(t *testing.T) {
	r := rand.New(rand.NewPCG(seed, 2))
	for _, name := range []string{"studio", "outdoor"} {
		m := machine(t, name)
		b := m.Bike
		for _, g := range m.Regions() {
			kind := map[string]bike.Place{
				"saddle.nose": {Kind: bike.AtSaddle, Ref: saddle.Reference{Kind: saddle.Nose}},
				"saddle.mid":  {Kind: bike.AtSaddle, Ref: saddle.Reference{Kind: saddle.Mid}},
				"bar":         {Kind: bike.AtBar}, "hood": {Kind: bike.AtHood}, "drop": {Kind: bike.AtDrop},
			}
			place, ok := kind[g.Name]
			if !ok {
				continue
			}
			far := make([]float64, 16)
			for i := range far {
				far[i] = math.Inf(-1)
			}
			for range 2000 {
				tilt, rotation := b.Saddle.Tilt, b.Bar.Rotation
				b.Saddle.Tilt, b.Bar.Rotation = bike.Fixed(g.Turn), bike.Fixed(g.Turn)
				s := stand(m, func(lo, hi float64) float64 {
					switch r.IntN(4) {
					case 0:
						return lo
					case 1:
						return hi
					}
					return lo + r.Float64()*(hi-lo)
				})
				b.Saddle.Tilt, b.Bar.Rotation = tilt, rotation
				p, err := s.Where(place)
				require.NoError(t, err)
				_, d := border(g.Polygon, p)
				require.True(t, inside(g.Polygon, p) || d < 1e-6, "seed %d, %s, %s", seed, name, g.Name)
				for i := range far {
					far[i] = math.Max(far[i], plane.Direction(float64(i)*math.Pi/8).Dot(p))
				}
			}
			for i := range far {
				n := plane.Direction(float64(i) * math.Pi / 8)
				most := math.Inf(-1)
				for _, v := range g.Polygon {
					most = math.Max(most, n.Dot(v))
				}
				assert.InDelta(t, most, far[i], 3, "%s, %s: the polygon goes further than any setting", name, g.Name)
			}
		}
	}
}

var square = []plane.Point{{X: 0, Y: 0}, {X: 10, Y: 0}, {X: 10, Y: 20}, {X: 0, Y: 20}}

func TestRoomInARectangle(t *testing.T) {
	nan := math.NaN()
	cases := []struct {
		name    string
		at      plane.Point
		inside  bool
		nearest float64
		along   [8]float64 // forward and then counter-clockwise
	}{
		{"inside", plane.Point{X: 7, Y: 12}, true, 3,
			[8]float64{3, 3 * math.Sqrt2, 8, 7 * math.Sqrt2, 7, 7 * math.Sqrt2, 12, 3 * math.Sqrt2}},
		{"on the border", plane.Point{X: 10, Y: 5}, true, 0,
			[8]float64{0, 0, 15, 10 * math.Sqrt2, 10, 5 * math.Sqrt2, 5, 0}},
		{"4 mm behind it", plane.Point{X: -4, Y: 10}, false, 4,
			[8]float64{-4, -4 * math.Sqrt2, nan, nan, nan, nan, nan, -4 * math.Sqrt2}},
		{"off a corner", plane.Point{X: -3, Y: -4}, false, 5,
			[8]float64{nan, -4 * math.Sqrt2, nan, nan, nan, nan, nan, nan}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			assert.Equal(t, c.inside, inside(square, c.at))
			_, d := border(square, c.at)
			assert.InDelta(t, c.nearest, d, 1e-12)
			for k, want := range c.along {
				got := toBorder(square, c.at, plane.Direction(float64(k)*math.Pi/4), c.inside)
				if math.IsNaN(want) {
					assert.True(t, math.IsNaN(got), "%s: %g", Compass[k], got)
				} else {
					assert.InDelta(t, want, got, 1e-9, Compass[k])
				}
			}
		})
	}
}

func TestRoomIsTheWayToTheBorder(t *testing.T) {
	r := rand.New(rand.NewPCG(seed, 3))
	for range 2000 {
		var slides []plane.Slide
		for range 2 + r.IntN(3) {
			slides = append(slides, plane.Slide{Dir: plane.Direction(r.Float64() * 6), Lo: -r.Float64() * 100, Hi: r.Float64() * 100})
		}
		poly := plane.NewZonogon(plane.Point{}, slides).Vertices()
		p := plane.Point{X: r.NormFloat64() * 100, Y: r.NormFloat64() * 100}
		in := inside(poly, p)
		for k := range Compass {
			d := plane.Direction(float64(k) * math.Pi / 4)
			v := toBorder(poly, p, d, in)
			if math.IsNaN(v) {
				for s := 1.0; s < 1000; s += 7 {
					require.False(t, inside(poly, p.Add(d.Scale(s))), "seed %d", seed)
				}
				continue
			}
			_, off := border(poly, p.Add(d.Scale(math.Abs(v))))
			require.InDelta(t, 0, off, 1e-6, "seed %d", seed)
			require.Equal(t, in, v >= 0, "seed %d", seed)
			require.Equal(t, in, inside(poly, p.Add(d.Scale(math.Abs(v)/2))), "seed %d: the border comes sooner", seed)
		}
	}
}

func TestGreatestAlongADirectionOverAStretchOfTurns(t *testing.T) {
	r := rand.New(rand.NewPCG(seed, 4))
	for range 2000 {
		n, v := plane.Direction(r.Float64()*7), plane.Point{X: r.NormFloat64() * 100, Y: r.NormFloat64() * 100}
		lo := r.Float64()*8 - 4
		stretch := struct{ Lo, Hi float64 }{lo, lo + r.Float64()*3}
		best := math.Inf(-1)
		for k := range 2001 {
			best = math.Max(best, n.Dot(v.Turn(stretch.Lo+(stretch.Hi-stretch.Lo)*float64(k)/2000)))
		}
		got := most(n, v, stretch)
		require.GreaterOrEqual(t, got, best-1e-9, "seed %d", seed)
		require.InDelta(t, best, got, 1e-3, "seed %d", seed)
	}
}

func TestHullIsTheSmallestConvexPolygon(t *testing.T) {
	points := append([]plane.Point{{X: 5, Y: 10}, {X: 5, Y: 0}, {X: 2, Y: 3}}, square...)
	assert.Equal(t, square, hull(points))
}

func TestSteppedMachineListsItsPieces(t *testing.T) {
	m := machine(t, "outdoor")
	for _, g := range m.Regions() {
		if g.Name != "bar" {
			continue
		}
		assert.Len(t, g.Pieces, 7, "0 to 30 mm of spacers in steps of 5")
		assert.False(t, g.PieceOpen)
		require.Len(t, g.Polygon, 2, "all on one line, along the steerer")
		assert.InDelta(t, 30, g.Polygon[0].Distance(g.Polygon[1]), 1e-9)
	}
}

// TestManyStepsHaveTheSameHullAsTheirPlaces: a machine with more places than are listed has for a hull what all of
// them have, gone through one by one.
func TestManyStepsHaveTheSameHullAsTheirPlaces(t *testing.T) {
	r := rand.New(rand.NewPCG(seed, 5))
	for range 20 {
		c := clamp{slides: []plane.Slide{{Dir: plane.Direction(r.Float64() * 6), Hi: r.Float64() * 40}}}
		one, other := plane.Direction(r.Float64()*6), plane.Direction(r.Float64()*6)
		for i := range 1 + r.IntN(30) {
			for j := range 1 + r.IntN(30) {
				c.places = append(c.places, one.Scale(float64(i)*3).Add(other.Scale(float64(j)*2)))
			}
		}
		arms := []arm{{turn: bike.Turns{Range: plane.Range{Lo: -0.1, Hi: 0.1}}}}
		for range 1 + r.IntN(20) {
			arms[0].at = append(arms[0].at, plane.Point{X: r.NormFloat64() * 50, Y: r.NormFloat64() * 50})
		}
		want := r.Float64() - 0.5
		g := region("any", c, arms, want)
		var all []plane.Point
		for _, p := range c.places {
			for _, at := range arms[0].at {
				all = append(all, plane.NewZonogon(p.Add(at.Turn(g.Turn)), c.slides).Vertices()...)
			}
		}
		exact := hull(all)
		for k := range 64 {
			n := plane.Direction(float64(k) * math.Pi / 32)
			assert.InDelta(t, farthest(exact, n), farthest(g.Polygon, n), 1e-9, "seed %d", seed)
		}
		count := len(c.places) * len(arms[0].at)
		assert.Equal(t, count > mostPieces, g.PieceOpen, "seed %d", seed)
		switch {
		case g.PieceOpen:
			assert.NotNil(t, g.Pieces, "it is stepped all the same")
			assert.Empty(t, g.Pieces)
		case count > 1:
			assert.Len(t, g.Pieces, count)
		}
	}
}

func farthest(poly []plane.Point, n plane.Point) float64 {
	most := math.Inf(-1)
	for _, v := range poly {
		most = math.Max(most, n.Dot(v))
	}
	return most
}

// BenchmarkManySteps is a bar on two scales of 301 steps with a lever free along it.
func BenchmarkManySteps(b *testing.B) {
	c := clamp{}
	for i := range 301 {
		for j := range 301 {
			c.places = append(c.places, plane.Point{X: float64(i), Y: float64(j)})
		}
	}
	var arms []arm
	for k := range 100 {
		arms = append(arms, arm{at: []plane.Point{plane.Direction(float64(k) / 60).Scale(60)}})
	}
	b.ReportAllocs()
	for b.Loop() {
		region("hood", c, arms, 0)
	}
}
