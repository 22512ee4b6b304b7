package carry

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/plane"
)

// onTheBend is a bike whose bar turns and whose lever goes anywhere round the bend, on some slides. hood is
// the hands' contact from the clamp at a turn of the bar, with the hand itself turned by hand.
func onTheBend(r *rand.Rand, slides ...bike.Adjuster) (m *machine, hood func(turn, hand float64) assembly.Contact) {
	m = hooded(r)
	bar, lever := m.b.Bar.Only(), m.b.Bar.Lever.Only()
	m.b.Adjusters, m.b.Marks = slides, map[string]float64{}
	m.b.BarAnchor = &plane.Point{X: 400, Y: 550}
	m.b.Bar.LeverAt, m.b.Bar.Rotation = free(0, bar.Bend*math.Pi/2), free(-0.6, 0.6)
	return m, func(turn, hand float64) assembly.Contact {
		h, a, ok := bar.HoodContact(lever, (turn-hand)*bar.Bend)
		if !ok {
			panic("no hood there")
		}
		return assembly.Contact{Name: bike.Hood, Angle: a + turn, At: h.Turn(turn)}
	}
}

// With one slide across the way to the bend's centre, the bar can stand at two turns only, the same amount
// up and down: whichever brings the second contact into place is found.
func TestTwoTurnsOfTheBarReachAndTheSecondContactDecides(t *testing.T) {
	const seed = 5
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	tried := 0
	for n := range 200 {
		m, hood := onTheBend(r)
		bar := m.b.Bar.Only()
		bc := bar.BendCentre()
		across := math.Atan2(bc.Perp().Y, bc.Perp().X)
		m.b.Adjusters = []bike.Adjuster{{Name: "slide", Moves: bike.MovesBar, Angle: across, Unit: 1, Lo: -60, Hi: 60}}
		const hand = -0.75
		up := between(r, 0.1, 0.5)
		m.hands = hood(up, hand)
		m.hands.At = m.b.BarAnchor.Add(m.hands.At)
		drop, _ := bar.DropContact()
		for _, turn := range []float64{up, -up} {
			clamp := m.hands.At.Sub(hood(turn, hand).At)
			from := clamp.Sub(*m.b.BarAnchor)
			require.InDelta(t, 0, from.Cross(plane.Direction(across)), 1e-9)
			if from.Norm() > 60 {
				continue // past the slide's stop
			}
			tried++
			second := &assembly.Contact{Name: bike.Drop, At: clamp.Add(drop.Turn(turn))}
			got := solvePosition(t, m, positionOf(m, second))
			require.LessOrEqual(t, math.Sqrt(got.hands.square), 1e-9, "case %d", n)
			require.InDelta(t, 0, got.Second, 1e-6, "case %d", n)
			require.InDelta(t, turn, got.hands.turn, 1e-6, "case %d", n)
		}
	}
	assert.Greater(t, tried, 300)
}

// Where the bar turns, a lever whose hand is turned as wanted goes round with it: the stop of the lever is named that keeps both from
// going on, and its push is half the slope of what the hands miss, squared.
func TestALeverGoesRoundWithItsBar(t *testing.T) {
	const hand, d = -0.7, 1e-4
	for limit, turn := range map[string]float64{"max": 0.2, "min": -0.2} {
		m, hood := onTheBend(rand.New(rand.NewPCG(6, 0)))
		bend := m.b.Bar.Only().Bend
		m.b.Bar.LeverAt = map[string]bike.Setting{"max": free(0, -hand*bend), "min": free(-hand*bend, bend*math.Pi/2)}[limit]
		wanted := hood(turn, hand)
		m.hands = wanted
		m.hands.At = m.b.BarAnchor.Add(wanted.At)
		square := func(turn float64) float64 { return math.Pow(hood(turn, hand).At.Distance(wanted.At), 2) }
		set := setting(t, solvePosition(t, m, positionOf(m, nil)), "bar.lever_at")
		assert.Equal(t, limit, set.Limit)
		assert.InDelta(t, (square(-d)-square(d))/(2*d)/2/bend, set.Push, 1e-4)
	}
}

// Against a scan of the bar's turns with the hand as wanted: none that reaches brings the second contact
// nearer, or, without one, leaves the settings nearer to home.
func TestTheBestTurnOfTheBarAgainstAScan(t *testing.T) {
	const seed = 83
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	stretches := map[int]int{}
	for n := range 60 {
		var slides []bike.Adjuster
		for i := range 1 + n%3 {
			slides = append(slides, bike.Adjuster{Name: string(rune('a' + i)), Moves: bike.MovesBar, Angle: between(r, 0, math.Pi), Unit: 1,
				Lo: -between(r, 0, 20), Hi: between(r, 0, 20)})
		}
		m, hood := onTheBend(r, slides...)
		turn := between(r, -0.4, 0.4)
		hand := turn - between(r, 0.2, 1.2)
		clamp := *m.b.BarAnchor
		for i := range slides {
			clamp = clamp.Add(slides[i].Direction().Scale(between(r, slides[i].Lo, slides[i].Hi)))
		}
		m.hands = hood(turn, hand)
		m.hands.At = clamp.Add(m.hands.At)
		var second *assembly.Contact
		drop, _ := m.b.Bar.Only().DropContact()
		if n%2 == 0 {
			second = &assembly.Contact{Name: bike.Drop, At: clamp.Add(drop.Turn(turn)).Add(plane.Point{X: between(r, -30, 30), Y: between(r, -30,
				30)})}
		}
		got := solvePosition(t, m, positionOf(m, second))
		require.LessOrEqual(t, math.Sqrt(got.hands.square), 1e-9, "case %d", n)

		s, c := got.handHalf, got.hands.from
		bend, f := s.Arms[c.Arm].Bend, s.arms[s.ways[c.Arm].choice].bend.f
		w := swing{centre: bend.Centre, at: m.hands.At.Sub(s.Arms[c.Arm].At), clamps: s.clampPlaces(c)}
		stray := s.strayOnBend(c, &w)
		lo, hi := math.Max(-0.6, hand), math.Min(0.6, hand+f.Hi)
		count, was := 0, false
		const steps = 4000
		for i := range steps + 1 {
			at := lo + (hi-lo)*float64(i)/steps
			where := w.clamp(at)
			ok := w.clamps.Nearest(where).Distance(where) <= 1e-9
			if ok && !was {
				count++
			}
			was = ok
			if !ok {
				continue
			}
			if second != nil {
				require.LessOrEqual(t, got.Second, where.Add(drop.Turn(at)).Distance(second.At)+1e-9, "case %d, turn %g", n, at)
			} else {
				require.LessOrEqual(t, got.hands.strayS, stray(at)+1e-6, "case %d, turn %g", n, at)
			}
		}
		stretches[count]++
	}
	t.Logf("stretches of turns that reach: %v", stretches)
	assert.Greater(t, stretches[1], 10)
}

// The stretches are what the strips allow: their ends reach, and just outside nothing does.
func TestTheTurnsThatReach(t *testing.T) {
	const seed = 84
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	point := func(s float64) plane.Point { return plane.Point{X: between(r, -s, s), Y: between(r, -s, s)} }
	several := 0
	for n := range 3000 {
		var slides []plane.Slide
		for range n % 4 {
			slides = append(slides, plane.Slide{Dir: plane.Direction(between(r, 0, 7)), Lo: -between(r, 0, 15), Hi: between(r, 0, 15)})
		}
		w := swing{centre: point(80), clamps: plane.NewZonogon(point(50), slides)}
		turn := between(r, -2, 2)
		// Reached at turn, from somewhere the clamp can stand.
		w.at = w.clamps.Nearest(w.clamps.Centre.Add(point(20))).Add(w.centre.Turn(turn))
		whole := plane.Range{Lo: turn - between(r, 0, 4), Hi: turn + between(r, 0, 4)}
		list := w.reaching(whole, turn)
		reaches := func(t float64) bool {
			p := w.clamp(t)
			return w.clamps.Nearest(p).Distance(p) <= 3e-9
		}
		inside := func(t float64) bool {
			for _, k := range list {
				if t >= k.Lo-1e-12 && t <= k.Hi+1e-12 {
					return true
				}
			}
			return false
		}
		require.True(t, inside(turn), "case %d", n)
		if len(list) > 1 {
			several++
		}
		for _, k := range list {
			require.True(t, reaches(k.Lo) && reaches(k.Hi), "case %d: %v", n, k)
		}
		for range 50 {
			at := between(r, whole.Lo, whole.Hi)
			if p := w.clamp(at); w.clamps.Nearest(p).Distance(p) < 1e-10 {
				require.True(t, inside(at), "case %d: turn %g", n, at)
			} else if !reaches(at) {
				require.False(t, inside(at), "case %d: turn %g", n, at)
			}
		}
	}
	assert.Greater(t, several, 50)
}
