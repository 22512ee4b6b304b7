package assembly

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/bike"
	"carryover/internal/cockpit"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

func at(k bike.PlaceKind) bike.Place { return bike.Place{Kind: k} }

func onSaddle(k saddle.RefKind, mm float64) bike.Place {
	return bike.Place{Kind: bike.AtSaddle, Ref: saddle.Reference{Kind: k, MM: mm}}
}

func curved(t *testing.T) *saddle.Shape {
	t.Helper()
	s, err := saddle.New(280,
		[][2]float64{{0, 40}, {90, 52}, {160, 90}, {240, 142}, {280, 110}},
		[][2]float64{{0, -4}, {60, -1}, {140, -8}, {230, -2}, {260, 0}, {280, -5}},
		5, saddle.Rail{Height: 47, From: 95, To: 175})
	require.NoError(t, err)
	return s
}

// whole is a bike with a saddle, a bar with levers, a clip-on and a floor.
func whole(t *testing.T) *bike.Bike {
	t.Helper()
	floor, seat := 272.0, plane.Rad(73.5)
	b := &bike.Bike{Name: "whole"}
	b.Frame.BBHeight, b.Frame.SeatAngle = &floor, &seat
	b.Saddle.Options = []bike.Option[saddle.Shape]{{Part: curved(t)}}
	b.Bar.Options = []bike.Option[cockpit.Bar]{{Part: &cockpit.Bar{Reach: 78, Drop: 128, Bend: 34}}}
	b.Bar.Lever.Options = []bike.Option[cockpit.Lever]{{Part: &cockpit.Lever{Along: 31, Out: 24, Angle: 0.1}}}
	b.Bar.LeverAt = bike.Fixed(12)
	b.Clipon = &bike.CliponFit{Hole: bike.Fixed(10), Stack: bike.Fixed(20), Extension: bike.Fixed(290)}
	b.Clipon.Options = []bike.Option[cockpit.Clipon]{{Part: &cockpit.Clipon{Base: 55, Holes: []float64{0, 10}, Stacks: []float64{0, 20},
		PadLength: 90, GripRise: 30}}}
	return b
}

// bare is a bike with nothing but a saddle: every contact is a body of its own.
func bare(t *testing.T) *bike.Bike {
	t.Helper()
	b := whole(t)
	b.Bar, b.Clipon = bike.BarFit{}, nil
	return b
}

var places = []bike.Place{
	at(bike.AtFloor), at(bike.AtBB), onSaddle(saddle.Nose, 0), onSaddle(saddle.Tail, 0), onSaddle(saddle.Mid, 0), onSaddle(saddle.Widest, 0),
	onSaddle(saddle.Sit, 0), onSaddle(saddle.ByWidth, 80), onSaddle(saddle.ByStation, 33), at(bike.AtBar), at(bike.AtHood), at(bike.AtDrop),
	at(bike.AtPad), at(bike.AtPadRear), at(bike.AtPadFront), at(bike.AtGrip),
}

// readings are every kind of reading between every two places, and every angle.
func readings() []bike.Reading {
	list := []bike.Reading{{Kind: bike.SeatTube}}
	for of := bike.SaddleBody; of <= bike.PadBody; of++ {
		list = append(list, bike.Reading{Kind: bike.Angle, Of: of})
	}
	for _, kind := range []bike.Kind{bike.Line, bike.Level, bike.Plumb} {
		for _, from := range places {
			for _, to := range places {
				if kind != bike.Plumb && (from.Kind == bike.AtFloor || to.Kind == bike.AtFloor) {
					continue // the floor has only a height
				}
				list = append(list, bike.Reading{Kind: kind, From: from, To: to})
			}
		}
	}
	return list
}

func stand(l *Layout, r *rand.Rand) *Placement {
	s := &Placement{Layout: l}
	for b, origin := range [Bodies]plane.Point{{X: -60, Y: 720}, {X: 420, Y: 640}, {X: 500, Y: 670}, {X: 460, Y: 540}, {X: 430, Y: 690},
		{X: 700, Y: 720}} {
		s.Poses[b] = plane.Pose{Origin: origin.Add(plane.Point{X: r.NormFloat64() * 30, Y: r.NormFloat64() * 30}), Turn: r.NormFloat64() * 0.1}
	}
	return s
}

// Every derivative against central differences, and only of the bodies that Needs names.
func TestGradientsAgainstCentralDifferences(t *testing.T) {
	const seed = 31
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	rider := &bike.Rider{SitBones: 100, Margin: 20}
	for name, b := range map[string]*bike.Bike{"with parts": whole(t), "with bodies of their own": bare(t)} {
		t.Run(name, func(t *testing.T) {
			l := New(b, bike.Posture{Support: rider.SitWidth()})
			for range 5 {
				s := stand(l, r)
				for _, reading := range readings() {
					tape, err := l.Span(reading)
					if err != nil {
						_, _, other := s.ReadingOf(reading)
						require.Error(t, other, "what cannot be used cannot be measured")
						continue
					}
					v, g, err := s.ReadingOf(reading)
					require.NoError(t, err)
					if reading.Kind == bike.Line && v < 1 {
						continue // the tape has no direction: see below
					}
					numeric := differences(t, s, reading)
					for body := range Bodies {
						if !tape.Needs()[body] {
							require.Zero(t, g[body])
						}
						require.InDelta(t, numeric[body].By.X, g[body].By.X, 1e-6, "%v body %d", reading, body)
						require.InDelta(t, numeric[body].By.Y, g[body].By.Y, 1e-6, "%v body %d", reading, body)
						require.InDelta(t, numeric[body].Turn, g[body].Turn, 2e-3, "%v body %d", reading, body)
					}
				}
			}
		})
	}
}

func differences(t *testing.T, s *Placement, reading bike.Reading) (g Gradient) {
	t.Helper()
	by := func(move func(p *plane.Pose, d float64), body Body, h float64) float64 {
		up, down := *s, *s
		move(&up.Poses[body], h)
		move(&down.Poses[body], -h)
		a, _, err := up.ReadingOf(reading)
		require.NoError(t, err)
		b, _, err := down.ReadingOf(reading)
		require.NoError(t, err)
		return (a - b) / (2 * h)
	}
	for body := range Bodies {
		g[body].By.X = by(func(p *plane.Pose, d float64) { p.Origin.X += d }, body, 1e-4)
		g[body].By.Y = by(func(p *plane.Pose, d float64) { p.Origin.Y += d }, body, 1e-4)
		g[body].Turn = by(func(p *plane.Pose, d float64) { p.Turn += d }, body, 1e-6)
	}
	return g
}

func TestALineToItselfReadsNothing(t *testing.T) {
	s := stand(New(whole(t), bike.Posture{}), rand.New(rand.NewPCG(1, 1)))
	for _, p := range places[1:6] {
		v, g, err := s.ReadingOf(bike.Reading{Kind: bike.Line, From: p, To: p})
		require.NoError(t, err)
		assert.Zero(t, v)
		assert.Zero(t, g, "%v: no movement changes it", p)
	}
}

// A level, a plumb line and the straight tape are the sides of a right-angled triangle (Pythagoras), and
// readings the other way round differ in sign only.
func TestLineLevelAndPlumbAgree(t *testing.T) {
	const seed = 32
	t.Logf("seed %d", seed)
	s := stand(New(whole(t), bike.Posture{Support: 115}), rand.New(rand.NewPCG(seed, 0)))
	read := func(k bike.Kind, a, b bike.Place) float64 {
		v, _, err := s.ReadingOf(bike.Reading{Kind: k, From: a, To: b})
		require.NoError(t, err)
		return v
	}
	for _, a := range places[1:] {
		for _, b := range places[1:] {
			level, plumb := read(bike.Level, a, b), read(bike.Plumb, a, b)
			assert.InDelta(t, math.Hypot(level, plumb), read(bike.Line, a, b), 1e-9)
			assert.Equal(t, -level, read(bike.Level, b, a))
			assert.Equal(t, -plumb, read(bike.Plumb, b, a))
		}
	}
}

// Common practice: a height from the floor is the height above the BB plus the BB's own, so between two
// bikes it shifts by the difference of their BB heights.
func TestFloorHeightsShiftWithTheBB(t *testing.T) {
	l := New(whole(t), bike.Posture{})
	s := stand(l, rand.New(rand.NewPCG(3, 3)))
	height := func(bb float64) float64 {
		l.Bike.Frame.BBHeight = &bb
		v, _, err := s.ReadingOf(bike.Reading{Kind: bike.Plumb, From: at(bike.AtFloor), To: onSaddle(saddle.Mid, 0)})
		require.NoError(t, err)
		return v
	}
	assert.InDelta(t, 305.0-272.0, height(305)-height(272), 1e-12)
	mid, err := s.Where(onSaddle(saddle.Mid, 0))
	require.NoError(t, err)
	assert.InDelta(t, mid.Y+272, height(272), 1e-12)
}

// The end of a seat-tube reading lies on the seat-tube line and on the saddle's surface.
func TestSeatTubeReadingEndsOnTheSaddle(t *testing.T) {
	const seed = 33
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	l := New(whole(t), bike.Posture{})
	for range 500 {
		s := stand(l, r)
		d, _, err := s.ReadingOf(bike.Reading{Kind: bike.SeatTube})
		require.NoError(t, err)
		end := plane.Direction(math.Pi - *l.Bike.Frame.SeatAngle).Scale(d)
		local := s.Poses[Saddle].Local(end)
		require.InDelta(t, l.Shape.Top(-local.X), local.Y, 1e-9)
	}
}

// A level saddle with a level top: the seat-tube reading is its height over the sine of the seat angle.
func TestSeatTubeOfALevelSaddle(t *testing.T) {
	b := whole(t)
	shape, err := saddle.New(280, [][2]float64{{0, 40}, {280, 140}}, [][2]float64{{0, 0}, {280, 0}}, 5, saddle.Rail{})
	require.NoError(t, err)
	b.Saddle.Options[0].Part = shape
	s := &Placement{Layout: New(b, bike.Posture{})}
	s.Poses[Saddle].Origin = plane.Point{X: -60, Y: 705}
	d, _, err := s.ReadingOf(bike.Reading{Kind: bike.SeatTube})
	require.NoError(t, err)
	assert.InDelta(t, 705/math.Sin(plane.Rad(73.5)), d, 1e-9)
}

// Common practice: on a saddle slid along level rails, BB-to-saddle changes by the cosine of the angle
// between the rails and the line from the BB.
func TestSlidingALevelSaddleChangesItsHeightByTheCosine(t *testing.T) {
	s := &Placement{Layout: New(whole(t), bike.Posture{})}
	s.Poses[Saddle].Origin = plane.Point{X: -60, Y: 720}
	reading := bike.Reading{Kind: bike.Line, From: at(bike.AtBB), To: onSaddle(saddle.Mid, 0)}
	d, g, err := s.ReadingOf(reading)
	require.NoError(t, err)
	mid, err := s.Where(onSaddle(saddle.Mid, 0))
	require.NoError(t, err)
	assert.InDelta(t, math.Cos(math.Atan2(mid.Y, mid.X)), g[Saddle].By.X, 1e-12)
	s.Poses[Saddle].Origin.X += 10
	after, _, err := s.ReadingOf(reading)
	require.NoError(t, err)
	// Law of cosines for the whole 10 mm.
	assert.InDelta(t, math.Sqrt(d*d+100+2*10*mid.X), after, 1e-9)
}

func TestWhatCannotBeMeasured(t *testing.T) {
	for _, c := range []struct {
		name    string
		spoil   func(b *bike.Bike)
		reading bike.Reading
		says    string
	}{
		{"a floor without bb_height", func(b *bike.Bike) { b.Frame.BBHeight = nil },
			bike.Reading{Kind: bike.Plumb, From: at(bike.AtFloor), To: at(bike.AtBar)}, "bb_height"},
		{"a seat tube without an angle", func(b *bike.Bike) { b.Frame.SeatAngle = nil }, bike.Reading{Kind: bike.SeatTube}, "seat_angle"},
		{"a saddle that is not there", func(b *bike.Bike) { b.Saddle.Options = nil },
			bike.Reading{Kind: bike.Line, From: at(bike.AtBB), To: onSaddle(saddle.Mid, 0)}, "no saddle"},
		{"a sit reference without a rider", func(*bike.Bike) {},
			bike.Reading{Kind: bike.Line, From: at(bike.AtBB), To: onSaddle(saddle.Sit, 0)}, "sit bones"},
		{"a pad's end without a clip-on", func(b *bike.Bike) { b.Clipon = nil },
			bike.Reading{Kind: bike.Plumb, From: at(bike.AtBB), To: at(bike.AtPadRear)}, "length of the pads"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := whole(t)
			c.spoil(b)
			s := &Placement{Layout: New(b, bike.Posture{})}
			_, err := s.Span(c.reading)
			assert.ErrorContains(t, err, c.says)
		})
	}
}

func TestContactsHangOnWhatGivesThem(t *testing.T) {
	l := New(whole(t), bike.Posture{})
	assert.Equal(t, Bar, l.Hood.Body)
	assert.Equal(t, Bar, l.Drop.Body)
	assert.Equal(t, Pads, l.Pad.Body)
	assert.Equal(t, Pads, l.Grip.Body)

	l = New(bare(t), bike.Posture{})
	assert.Equal(t, [4]Body{Hood, Drop, Pads, Grip}, [4]Body{l.Hood.Body, l.Drop.Body, l.Pad.Body, l.Grip.Body})

	b := whole(t)
	b.Clipon.Extension = bike.Setting{Given: true, Free: true, Lo: 200, Hi: 320}
	assert.Equal(t, Grip, New(b, bike.Posture{}).Grip.Body, "an extension left open puts the grip nowhere")
}

// Pads hang on their clip-on where both what they are screwed into and what lies under them are known: stated, or the only
// one that the part offers.
func TestPadsHangWhereTheyAreBuilt(t *testing.T) {
	open, two, one := bike.Setting{Given: true, Free: true, Lo: 0, Hi: 40}, []float64{0, 20}, []float64{30}
	for _, c := range []struct {
		why           string
		hole, stack   bike.Setting
		holes, stacks []float64
		want          plane.Point // in the clip-on's frame; 55 is its base
		hangs         bool
	}{
		{"both stated", bike.Fixed(20), bike.Fixed(0), two, two, plane.Point{X: 20, Y: 55}, true},
		{"only one of each", bike.Setting{}, open, one, one, plane.Point{X: 30, Y: 85}, true},
		{"a stated hole, one stack", bike.Fixed(0), bike.Setting{}, two, one, plane.Point{Y: 85}, true},
		{"no word of the hole", bike.Setting{}, bike.Fixed(20), two, two, plane.Point{}, false},
		{"no word of the risers", bike.Fixed(20), bike.Setting{}, two, two, plane.Point{}, false},
		{"a free hole", open, bike.Fixed(20), two, two, plane.Point{}, false},
		{"neither", bike.Setting{}, open, two, two, plane.Point{}, false},
	} {
		t.Run(c.why, func(t *testing.T) {
			b := whole(t)
			b.Clipon.Hole, b.Clipon.Stack = c.hole, c.stack
			b.Clipon.Only().Holes, b.Clipon.Only().Stacks = c.holes, c.stacks
			l := New(b, bike.Posture{})
			assert.Equal(t, Mount{Body: Pads, At: c.want, Known: true}, l.Pad)
			assert.Equal(t, map[bool]Body{true: Pads, false: Grip}[c.hangs], l.Grip.Body)
			assert.Equal(t, c.hangs, l.Clipon != nil)
			assert.Equal(t, 90.0, l.PadLength, "the pads are as long wherever they are")
		})
	}
}

func TestAPadRearAndFrontLieHalfAPadAway(t *testing.T) {
	s := stand(New(whole(t), bike.Posture{}), rand.New(rand.NewPCG(4, 4)))
	mid, err := s.Where(at(bike.AtPad))
	require.NoError(t, err)
	for place, half := range map[bike.PlaceKind]float64{bike.AtPadFront: 45, bike.AtPadRear: -45} {
		p, err := s.Where(at(place))
		require.NoError(t, err)
		assert.InDelta(t, 0, p.Distance(mid.Add(plane.Direction(s.Poses[Pads].Turn).Scale(half))), 1e-9)
	}
}
