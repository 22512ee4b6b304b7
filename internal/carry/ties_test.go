package carry

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/cockpit"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// positionOf is a position at known contacts, exactly known.
func positionOf(m *machine, second *assembly.Contact) *locate.Position {
	return &locate.Position{Posture: bike.Posture{Name: "road", Hands: m.hands.Name, Support: support, Weights: bike.DefaultWeights()},
		Sit: m.sit, Hands: m.hands, Second: second}
}

// solvePosition solves with the hands wanted where they are, wherever the saddle is got.
func solvePosition(t testing.TB, m *machine, pos *locate.Position) *Solution {
	t.Helper()
	s, err := Solve(context.Background(), m.b, m.b, pos, Options{HandsFixed: true})
	require.NoError(t, err)
	return s
}

// Two slides on steps and a post: many pairs of steps bring the saddle to the same place. Every pair
// enumerated, the one nearest to the marks (or to mid-range) is the answer.
func TestOfEqualStepsTheNearestToTheMarksWins(t *testing.T) {
	const seed = 81
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for n := range 300 {
		m := newMachine(r)
		m.b.Adjusters = nil
		m.truth = map[string]float64{}
		m.b.Saddle.ClampAt, m.b.Saddle.Tilt = bike.Fixed(130), bike.Fixed(0)
		s := m.b.Saddle.Only()
		post := bike.Adjuster{Name: "post", Moves: bike.MovesSaddle, Angle: plane.Rad(107), Unit: 1, Hi: 100}
		fine := bike.Adjuster{Name: "fine", Moves: bike.MovesSaddle, Unit: 1, Lo: -20, Hi: 20, Step: 5}
		coarse := bike.Adjuster{Name: "coarse", Moves: bike.MovesSaddle, Unit: -10, Lo: -4, Hi: 4, Step: 1}
		m.b.Adjusters = []bike.Adjuster{post, fine, coarse}
		m.b.Bar = bike.BarFit{Slot: one(&cockpit.Bar{Hood: &plane.Point{X: 100, Y: 20}}), Rotation: bike.Fixed(0)}
		m.b.Stem, m.b.Clipon = nil, nil
		m.b.BarAnchor = &plane.Point{X: 400, Y: 600}
		m.hands = assembly.Contact{Name: bike.Hood, At: plane.Point{X: 500, Y: 620}}
		marks := [2]float64{fine.Travel(0), coarse.Travel(0)}
		if r.IntN(2) == 0 {
			m.b.Marks = map[string]float64{"fine": between(r, -20, 20), "coarse": between(r, -4, 4)}
			marks = [2]float64{fine.Travel(m.b.Marks["fine"]), coarse.Travel(m.b.Marks["coarse"])}
		}
		total := 5 * float64(r.IntN(17)-8)
		clamp := m.b.SaddleAnchor.Add(post.Direction().Scale(between(r, 0, 100))).Add(plane.Point{X: total})
		station, _ := s.WidthStation(support)
		m.sit = assembly.Contact{Name: bike.Sit, At: clamp.Add(plane.Point{X: 130 - station, Y: s.Rail.Height + s.Loaded(station).Y})}

		least := math.Inf(1)
		for f := -20.0; f <= 20; f += 5 {
			for c := -40.0; c <= 40; c += 10 {
				if f+c == total {
					least = math.Min(least, math.Hypot(f-marks[0], c-marks[1]))
				}
			}
		}
		got := solvePosition(t, m, positionOf(m, nil))
		require.InDelta(t, 0, got.E, 1e-6, "case %d", n)
		require.InDelta(t, least, math.Hypot(got.Settings[1].Travel-marks[0], got.Settings[2].Travel-marks[1]), 1e-6, "case %d", n)
	}
}

// A lever free along flat and bend, a bar free to turn, a post and a slide: a family of settings has E = 0.
// Against a fine scan of the lever's place: no other brings the drops nearer; without drops to carry, none is
// nearer to mid-range.
func TestOfEqualLeverPlacesTheDropDecidesThenMidRange(t *testing.T) {
	const seed = 82
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	tested := 0
	for n := range 150 {
		m := hooded(r)
		bar, lever := m.b.Bar.Only(), m.b.Bar.Lever.Only()
		slides := []bike.Adjuster{{Name: "up", Moves: bike.MovesBar, Angle: math.Pi / 2, Unit: 1, Hi: 60},
			{Name: "ahead", Moves: bike.MovesBar, Unit: 1, Hi: 60}}
		m.b.Adjusters = append(slides, bike.Adjuster{})[:2]
		m.b.BarAnchor = &plane.Point{X: 400, Y: 550}
		m.b.Bar.LeverAt, m.b.Bar.Rotation = free(-25, 40), free(-0.3, 0.3)
		q := between(r, -25, 40)
		hood, angle, _ := bar.HoodContact(lever, q)
		turn := between(r, -0.3, 0.3)
		m.hands = assembly.Contact{Name: bike.Hood, Angle: turn + angle,
			At: m.b.BarAnchor.Add(plane.Point{X: between(r, 0, 60), Y: between(r, 0, 60)}).Add(hood.Turn(turn))}
		var second *assembly.Contact
		if r.IntN(2) == 0 {
			second = &assembly.Contact{Name: bike.Drop, At: m.hands.At.Add(plane.Point{X: between(r, -60, 0), Y: between(r, -160, -80)})}
		}

		drop, _ := bar.DropContact()
		type score struct{ short, stray float64 }
		best := score{math.Inf(1), math.Inf(1)}
		lo, hi := math.Max(-25, -(bar.Reach-bar.Bend)), math.Min(40, bar.Bend*math.Pi/2)
		const parts = 4000
		for k := range parts + 1 {
			q := lo + (hi-lo)*float64(k)/parts
			hood, angle, _ := bar.HoodContact(lever, q)
			turn := m.hands.Angle - angle
			clamp := m.hands.At.Sub(hood.Turn(turn))
			moved := clamp.Sub(*m.b.BarAnchor)
			if math.Abs(turn) > 0.3 || moved.X < 0 || moved.X > 60 || moved.Y < 0 || moved.Y > 60 {
				continue
			}
			off := plane.Deg(turn) * bike.DegreeCost
			mid := q - (lo+hi)/2
			v := score{0, off*off + mid*mid + (moved.X-30)*(moved.X-30) + (moved.Y-30)*(moved.Y-30)}
			if second != nil {
				v.short = clamp.Add(drop.Turn(turn)).Distance(second.At)
			}
			if v.short < best.short || v.short == best.short && v.stray < best.stray {
				best = v
			}
		}
		if math.IsInf(best.stray, 1) {
			continue // the one setting lies between the scan's
		}
		tested++
		got := solvePosition(t, m, positionOf(m, second))
		require.InDelta(t, 0, math.Sqrt(got.hands.square), 1e-6, "case %d", n)
		requireStanding(t, got, n)
		if second != nil {
			require.LessOrEqual(t, got.Second, best.short+1e-6, "case %d: the drops", n)
			continue
		}
		require.LessOrEqual(t, got.hands.strayS, best.stray+1e-6, "case %d: the way from mid-range", n)
	}
	t.Logf("%d compared", tested)
	require.Greater(t, tested, 100)
}

// A bar that turns on steps with a lever free on the bend: every step that keeps the hood in place is
// considered, and mid-range decides.
func TestAnIndexedBarWithAFreeLever(t *testing.T) {
	m := hooded(rand.New(rand.NewPCG(83, 0)))
	m.b.Bar = bike.BarFit{Slot: one(&cockpit.Bar{Reach: 80, Drop: 130, Bend: 40}), Lever: one(&cockpit.Lever{Along: 30, Out: 25}),
		LeverAt: free(0, 40)}
	m.b.Adjusters = []bike.Adjuster{{Name: "up", Moves: bike.MovesBar, Angle: math.Pi / 2, Unit: 1, Lo: -100, Hi: 100},
		{Name: "ahead", Moves: bike.MovesBar, Unit: 1, Lo: -100, Hi: 100},
		{Name: "turn", Moves: bike.MovesBarRotation, Unit: plane.Rad(1), Lo: -40, Hi: 40, Step: 4}}
	m.b.BarAnchor = &plane.Point{X: 400, Y: 550}
	m.hands = assembly.Contact{Name: bike.Hood, At: plane.Point{X: 480, Y: 570}, Angle: plane.Rad(-30)}
	s := solvePosition(t, m, positionOf(m, nil))
	assert.InDelta(t, 0, math.Sqrt(s.hands.square), 1e-9)
	least := math.Inf(1)
	for deg := -40.0; deg <= 40; deg += 4 {
		f := plane.Rad(deg + 30)
		if q := 40 * f; q >= 0 && q <= 40 {
			local, _, _ := m.b.Bar.Only().HoodContact(m.b.Bar.Lever.Only(), q)
			moved := m.hands.At.Sub(local.Turn(plane.Rad(deg))).Sub(*m.b.BarAnchor)
			off := deg * bike.DegreeCost
			least = math.Min(least, off*off+(q-20)*(q-20)+moved.Dot(moved))
		}
	}
	assert.InDelta(t, least, s.hands.strayS, 1e-6)
}
