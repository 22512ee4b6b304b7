package carry

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/cockpit"
	"carryover/internal/plane"
	"carryover/internal/saddle"
	"carryover/internal/search"
)

// crowded is a target with a few saddles, stems on spacers, bars and levers to choose from, and a clip-on or two.
func crowded(r *rand.Rand) *bike.Bike {
	head := plane.Rad(between(r, 70, 75))
	b := &bike.Bike{File: "target", Feet: bike.Feet{Crank: 172.5, SoleHeight: 20}, SaddleAnchor: &plane.Point{X: -170, Y: 560},
		Adjusters: []bike.Adjuster{{Name: "post", Moves: bike.MovesSaddle, Angle: plane.Rad(105), Unit: 1, Lo: 0, Hi: 90}}}
	b.Frame.HeadAngle, b.Frame.SteererTop = &head, &plane.Point{X: 360, Y: 570}
	b.Stem = &bike.StemFit{Spacers: bike.Spacers{Given: true, Free: true, Max: 20, Step: 10}}
	b.Clipon = &bike.CliponFit{}
	b.Saddle.Open, b.Stem.Open, b.Bar.Open, b.Bar.Lever.Open, b.Clipon.Open = true, true, true, true, true
	id := func(i int) string { return fmt.Sprint(i) }
	for i := range 2 {
		b.Saddle.Options = append(b.Saddle.Options, bike.Option[saddle.Shape]{ID: id(i), Part: randomSaddle(r)})
		b.Bar.Options = append(b.Bar.Options, bike.Option[cockpit.Bar]{ID: id(i), Part: randomBar(r)})
		b.Bar.Lever.Options = append(b.Bar.Lever.Options, bike.Option[cockpit.Lever]{ID: id(i), Part: randomLever(r)})
		b.Clipon.Options = append(b.Clipon.Options, bike.Option[cockpit.Clipon]{ID: id(i), Part: &cockpit.Clipon{Base: between(r, 30, 60),
			Stacks: []float64{0, 15},
			Holes:  []float64{-10, 10}, Tilt: [2]float64{0, 0.3}, GripForward: [2]float64{250, 340}}})
	}
	for i := range 3 {
		b.Stem.Options = append(b.Stem.Options, bike.Option[cockpit.Stem]{ID: id(i), Part: &cockpit.Stem{Length: between(r, 70, 130),
			Angle: plane.Rad(between(r, -17, 10)), Height: 40}})
	}
	b.Bar.Rotation = free(-0.1, 0.1)
	return b
}

// Against every choice of parts held for all postures: none has a lesser sum of E².
func TestSharedPartsAreTheBestOfEveryChoice(t *testing.T) {
	const seed = 77
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	lost := 0 // by a posture, to what serves the others
	for n := range tenth(80) {
		b := crowded(r)
		var asked []Asked
		for _, hands := range [][]bike.Contact{{bike.Hood, bike.Drop}, {bike.Hood, bike.Pad}, {bike.Hood, bike.Hood, bike.Pad}}[n%3] {
			m := &machine{b: b, sit: assembly.Contact{Name: bike.Sit, At: plane.Point{X: between(r, -230, -150), Y: between(r, 650, 720)},
				Angle: between(r, -0.03, 0.03)},
				hands: assembly.Contact{Name: hands, At: plane.Point{X: between(r, 440, 560), Y: between(r, 560, 720)}, Angle: between(r, -0.1, 0.2)}}
			pos := positionOf(m, nil)
			pos.Posture.Support = between(r, 80, 110)
			asked = append(asked, Asked{Target: b, Position: pos})
		}
		list := SolveAll(context.Background(), b, asked, Options{})
		got, first := 0.0, list[0].Solution
		for _, o := range list {
			require.NoError(t, o.Err)
			require.True(t, o.Proven)
			got += o.E * o.E
			own, err := Solve(context.Background(), b, b, o.Position, Options{})
			require.NoError(t, err)
			require.Equal(t, o.E > own.E+search.Tie, o.Alone != nil, "case %d", n)
			if o.Alone != nil {
				lost++
				require.Equal(t, [2]any{own.E, own.Parts}, [2]any{o.Alone.E, o.Alone.Parts}, "case %d", n)
			}
			require.Equal(t, first.saddle.arm.Saddle, o.saddle.arm.Saddle)
			require.Equal(t, first.hands.base, o.hands.base, "case %d", n)
			if o.hands.arm.Bar != nil && first.hands.arm.Bar != nil {
				require.Equal(t, first.hands.arm.Bar, o.hands.arm.Bar)
			}
		}
		// sum is that of one choice of parts held for every posture, each solved once for the parts that it uses.
		type held struct {
			posture int
			bike.Picks
			flip    bool
			spacers float64
		}
		known := map[held]float64{}
		sum := func(p bike.Picks, flip bool, spacers float64) (s float64) {
			for i, a := range asked {
				k := held{i, p, flip, spacers}
				if a.Position.Posture.Hands == bike.Pad {
					k.Picks[bike.BarSlot], k.Picks[bike.LeverSlot] = 0, 0
				} else {
					k.Picks[bike.CliponSlot] = 0
				}
				if _, ok := known[k]; !ok {
					c := b.Narrowed(k.Picks)
					c.Stem.Flip, c.Stem.Spacers = &flip, bike.Spacers{Given: true, Fixed: spacers}
					s, err := Solve(context.Background(), c, b, a.Position, Options{})
					require.NoError(t, err)
					known[k] = s.E * s.E
				}
				s += known[k]
			}
			return s
		}
		least := math.Inf(1)
		for i := range 2 * 2 * 2 * 2 * 3 * 2 * 3 {
			p := bike.Picks{i / 144, i % 2, i / 2 % 2, i / 8 % 3, i / 4 % 2}
			least = math.Min(least, sum(p, i/24%2 == 1, 10*float64(i/48%3)))
		}
		require.InDelta(t, least, got, 1e-4*(1+least), "case %d", n)
	}
	assert.Positive(t, lost)
}

// A posture that a bike cannot serve does not take the others with it.
func TestOnePostureThatFailsLeavesTheOthers(t *testing.T) {
	b := crowded(rand.New(rand.NewPCG(3, 0)))
	b.Clipon = nil
	var asked []Asked
	for _, hands := range []bike.Contact{bike.Pad, bike.Hood} {
		m := &machine{b: b, sit: assembly.Contact{Name: bike.Sit, At: plane.Point{X: -190, Y: 690}}, hands: assembly.Contact{Name: hands,
			At: plane.Point{X: 500, Y: 650}}}
		asked = append(asked, Asked{Target: b, Position: positionOf(m, nil)})
	}
	list := SolveAll(context.Background(), b, asked, Options{})
	assert.ErrorContains(t, list[0].Err, "no clip-on")
	require.NoError(t, list[1].Err)
	assert.NotEmpty(t, list[1].Settings)
}

// A saddle whose slide ends d short of where it is wanted: the tilt is exact, and the post, along u, makes good for the leg
// as far as the metric says. With L the line to the seat, a the part of a miss along it and b the part across, the post's
// share t of the miss m = -d·slide makes (3·a)² + b² least: t = (9·aᵤaₘ + bᵤbₘ)/(9·aᵤ² + bᵤ²).
func TestAShortSlideKeepsTheTiltAndTheLeg(t *testing.T) {
	const seed = 78
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for range 500 {
		up := bike.Adjuster{Unit: 1, Lo: -200, Hi: 200}
		b, m := limited(up, bike.Adjuster{Unit: 1, Lo: -10, Hi: 10})
		b.Adjusters[0].Angle = plane.Rad(between(r, 100, 110))
		b.Adjusters[1].Angle = plane.Rad(between(r, -3, 3))
		b.Saddle.Tilt = free(-0.2, 0.2)
		d := between(r, 5, 40)
		clamp := *m.b.SaddleAnchor
		m.sit.Angle = between(r, -0.05, 0.05)
		s := b.Saddle.Only()
		station, _ := s.WidthStation(support)
		arm := plane.Point{X: 130 - station, Y: s.Rail.Height + s.Loaded(station).Y}.Turn(m.sit.Angle)
		// Wanted d beyond the slide's rear stop, the post at 0.
		m.sit.At = clamp.Add(arm).Add(b.Adjusters[1].Direction().Scale(-10 - d))
		got := solvePosition(t, m, positionOf(m, nil))
		require.InDelta(t, m.sit.Angle, got.Contacts[0].Got.Angle, 1e-12, "the tilt is exact")
		line := m.sit.At.Scale(1 / m.sit.At.Norm())
		u, miss := b.Adjusters[0].Direction(), b.Adjusters[1].Direction().Scale(-d)
		au, bu, am, bm := line.Dot(u), line.Cross(u), line.Dot(miss), line.Cross(miss)
		post := (9*au*am + bu*bm) / (9*au*au + bu*bu)
		require.InDelta(t, post, got.Settings[0].Travel, 1e-6)
		require.InDelta(t, -10, got.Settings[1].Travel, 1e-9)
		require.InDelta(t, math.Hypot(3*(am-post*au), bm-post*bu), got.E, 1e-6)
		leg := math.Abs(got.Contacts[0].Away.Dot(line))
		require.InDelta(t, math.Abs(am-post*au), leg, 1e-9, "leg extension")
		require.Less(t, leg, 0.05*d, "and next to nothing of it is lost")
	}
}

// Whatever moves the seat, a crank, other pedals or a saddle out of reach: hands that can, keep their place from it.
func TestHandsAreTranslatedWithTheSeat(t *testing.T) {
	const seed = 79
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	short := 0
	for range 300 {
		b, m := limited(bike.Adjuster{Unit: 1, Lo: -20, Hi: 20}, bike.Adjuster{Unit: 1, Lo: -10, Hi: 10})
		for _, deg := range []float64{2, 95} {
			b.Adjusters = append(b.Adjusters, bike.Adjuster{Name: fmt.Sprint("bar ", deg), Moves: bike.MovesBar, Angle: plane.Rad(deg), Unit: 1,
				Lo: -300, Hi: 300})
		}
		b.Frame.Pitch = between(r, -0.02, 0.02)
		m.sit.At = m.sit.At.Add(plane.Point{X: between(r, -50, 50), Y: between(r, -50, 50)})
		pos := positionOf(m, &assembly.Contact{Name: bike.Drop, At: m.hands.At.Sub(plane.Point{X: 50, Y: 120})})
		source := &bike.Bike{Feet: bike.Feet{Crank: between(r, 165, 180), SoleHeight: between(r, 15, 30)}}
		s, err := Solve(context.Background(), b, source, pos, Options{Policy: Policy(r.IntN(2))})
		require.NoError(t, err)
		if !s.Contacts[0].Carried {
			short++
		}
		from := func(hands, sit plane.Point) plane.Point { return hands.Sub(sit) }
		was := from(pos.Hands.At, pos.Sit.At).Turn(-b.Frame.Pitch)
		require.InDelta(t, 0, was.Distance(from(s.Contacts[1].Got.At, s.Contacts[0].Got.At)), 1e-6)
		second := from(pos.Second.At, pos.Sit.At).Turn(-b.Frame.Pitch)
		require.InDelta(t, 0, second.Distance(from(s.Want.Second.At, s.Contacts[0].Got.At)), 1e-9)
	}
	assert.Greater(t, short, 100)
}

// Pads whose tilt counts from the bar: of every turn of the bar with every tilt the sum nearest to the wanted angle is
// got, and of those that share it the one nearest to home.
func TestATiltFromTheBarIsTheNearestSum(t *testing.T) {
	const seed = 80
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for n := range 500 {
		m := hooded(r)
		m.b.Adjusters, m.b.Stem = nil, nil
		m.b.Saddle.ClampAt, m.b.BarAnchor = bike.Fixed(130), &plane.Point{X: 400, Y: 600}
		part := &cockpit.Clipon{Base: 40, Stacks: []float64{0}, Holes: []float64{0}, Tilt: [2]float64{-0.1, 0.25}, TiltFromBar: true,
			GripForward: [2]float64{250, 340}}
		if n%2 == 0 {
			part.TiltStep = 0.05
		}
		m.b.Clipon = &bike.CliponFit{Slot: one(part)}
		dial := bike.Adjuster{Name: "dial", Moves: bike.MovesBarRotation, Unit: plane.Rad(1), Lo: -8, Hi: 8}
		if n%3 == 0 {
			dial.Step = 2
		}
		m.b.Adjusters = []bike.Adjuster{dial}
		m.b.Marks = map[string]float64{"dial": between(r, -8, 8)}
		m.hands = assembly.Contact{Name: bike.Pad, Angle: between(r, -0.4, 0.5), At: plane.Point{X: 400, Y: 640}}
		s := solvePosition(t, m, positionOf(m, nil))
		bar, tilt := setting(t, s, "dial").Travel, setting(t, s, "clipon.tilt").Travel
		for b, pose := range s.at(s.travels()).Placement.Poses { // stood anew as it is set, it stands as it does
			if pose.Origin.Finite() {
				require.InDelta(t, s.Placement.Poses[b].Turn, pose.Turn, 1e-12)
			}
		}
		require.InDelta(t, s.Contacts[1].Got.Angle, bar+tilt, 1e-9)
		// Wanted turned by a little more, what has steps stays on them and the other goes.
		const little = 1e-4
		k := s.toward(s.asked.moved(5, little))
		moved := [2]float64{setting(t, k, "dial").Travel - bar, setting(t, k, "clipon.tilt").Travel - tilt}
		if part.TiltStep > 0 {
			require.InDelta(t, 0, moved[1], 1e-9)
		}
		if dial.Step > 0 {
			require.InDelta(t, 0, moved[0], 1e-9)
		}
		if s.Contacts[1].MissAngle == 0 && k.Contacts[1].MissAngle == 0 {
			require.InDelta(t, little, moved[0]+moved[1], 1e-9)
		}
		miss, way := math.Inf(1), math.Inf(1)
		home := func(v, w float64) float64 { return math.Hypot(v-plane.Rad(m.b.Marks["dial"]), w-0.075) }
		steps := func(lo, hi, step float64) (list []float64) {
			if step == 0 {
				step = (hi - lo) / 400
			}
			for j := 0; lo+float64(j)*step <= hi+1e-9; j++ {
				list = append(list, lo+float64(j)*step)
			}
			return list
		}
		for _, v := range steps(plane.Rad(-8), plane.Rad(8), plane.Rad(dial.Step)) {
			for _, w := range steps(-0.1, 0.25, part.TiltStep) {
				d := math.Abs(v + w - m.hands.Angle)
				if d < miss-1e-9 {
					miss, way = d, math.Inf(1)
				}
				if d <= miss+1e-9 {
					way = math.Min(way, home(v, w))
				}
			}
		}
		require.LessOrEqual(t, math.Abs(s.Contacts[1].MissAngle), miss+1e-9, "case %d", n)
		if part.TiltStep > 0 && dial.Step > 0 {
			require.InDelta(t, miss, math.Abs(s.Contacts[1].MissAngle), 1e-9, "case %d", n)
			require.InDelta(t, way, home(bar, tilt), 1e-9, "case %d", n)
		}
		if part.TiltStep == 0 && dial.Step == 0 && math.Abs(s.Contacts[1].MissAngle) < 1e-9 {
			inside := math.Abs(bar) < plane.Rad(8)-1e-9 && tilt > -0.1+1e-9 && tilt < 0.25-1e-9
			if inside {
				require.InDelta(t, bar-plane.Rad(m.b.Marks["dial"]), tilt-0.075, 1e-9, "case %d: both go as far", n)
			}
		}
	}
}
