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
	"carryover/internal/biketest"
	"carryover/internal/cockpit"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/saddle"
	"carryover/internal/search"
)

// BenchmarkLocateExample adjusts the readings of the example road bike.
func BenchmarkLocateExample(b *testing.B) {
	source := biketest.Example(b, "road")
	b.ReportAllocs()
	for b.Loop() {
		a, err := locate.Adjust(source, nil, locate.Options{})
		if err != nil || len(a.Missing) > 0 {
			b.Fatal(err)
		}
	}
}

// BenchmarkCarryExample is a carry once the files are read: the settings alone, and with all that is said of them.
func BenchmarkCarryExample(b *testing.B) {
	source, target := biketest.Example(b, "road"), biketest.Example(b, "studio")
	settings := func(b *testing.B) (*Solution, *locate.Adjustment) {
		a, err := locate.Adjust(source, nil, locate.Options{})
		if err != nil {
			b.Fatal(err)
		}
		pos, err := a.Position(source.Postures[0])
		if err != nil {
			b.Fatal(err)
		}
		s, err := Solve(context.Background(), target, source, &pos, Options{})
		if err != nil {
			b.Fatal(err)
		}
		return s, a
	}
	b.Run("settings", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			settings(b)
		}
	})
	b.Run("settings with their uncertainty and checks", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			s, a := settings(b)
			if err := s.Total(a, nil); err != nil {
				b.Fatal(err)
			}
			if _, err := s.Checks(); err != nil {
				b.Fatal(err)
			}
		}
	})
}

// frame is a target on adjusters alone: a post and a slide for each side, tilt and rotation.
func frame(step float64) *machine {
	m := hooded(rand.New(rand.NewPCG(201, 0)))
	m.b.SaddleAnchor, m.b.BarAnchor = &plane.Point{X: -150, Y: 480}, &plane.Point{X: 400, Y: 480}
	m.b.Saddle.ClampAt, m.b.Bar.LeverAt = bike.Fixed(130), bike.Fixed(5)
	m.b.Adjusters = []bike.Adjuster{
		{Name: "saddle post", Moves: bike.MovesSaddle, Angle: plane.Rad(106), Unit: 5, Hi: 59, Step: step},
		{Name: "saddle slide", Moves: bike.MovesSaddle, Unit: 1.5, Lo: -29, Hi: 30, Step: step},
		{Name: "bar post", Moves: bike.MovesBar, Angle: plane.Rad(102), Unit: 5, Hi: 59, Step: step},
		{Name: "bar slide", Moves: bike.MovesBar, Unit: 2, Hi: 59, Step: step},
		{Name: "tilt", Moves: bike.MovesSaddleTilt, Unit: plane.Rad(1), Lo: -8, Hi: 8},
		{Name: "turn", Moves: bike.MovesBarRotation, Unit: plane.Rad(1), Lo: -15, Hi: 15},
	}
	m.sit = assembly.Contact{Name: bike.Sit, At: plane.Point{X: -170, Y: 700}, Angle: plane.Rad(-1.3)}
	m.hands = assembly.Contact{Name: bike.Hood, At: plane.Point{X: 500, Y: 660}, Angle: plane.Rad(4)}
	return m
}

func benchmarkSolve(b *testing.B, m *machine) {
	pos := positionOf(m, nil)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Solve(context.Background(), m.b, m.b, pos, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCarry6Adjusters(b *testing.B) { benchmarkSolve(b, frame(0)) }

func BenchmarkCarry4IndexedOf60Steps(b *testing.B) {
	m := frame(1)
	s := solvePosition(b, m, positionOf(m, nil))
	require.Equal(b, 60.0*60*60*60, s.Combinations)
	benchmarkSolve(b, m)
}

// BenchmarkCarry4IndexedOnOneSide has all four on the saddle, where nothing splits: 60⁴ = 13 million.
func BenchmarkCarry4IndexedOnOneSide(b *testing.B) {
	m := frame(1)
	for i, angle := range []float64{106, 1, 73, 17} {
		m.b.Adjusters[i] = bike.Adjuster{Name: string(rune('a' + i)), Moves: bike.MovesSaddle, Angle: plane.Rad(angle), Unit: 1.7 +
			0.3*float64(i), Hi: 59, Step: 1}
	}
	benchmarkSolve(b, m)
}

func BenchmarkThousandSaddles(b *testing.B) {
	r := rand.New(rand.NewPCG(202, 0))
	m := frame(0)
	m.b.Saddle.Slot = bike.Slot[saddle.Shape]{Open: true}
	for range 1000 {
		m.b.Saddle.Options = append(m.b.Saddle.Options, bike.Option[saddle.Shape]{Part: randomSaddle(r)})
	}
	m.b.Saddle.ClampAt = bike.Setting{}
	m.b.Adjusters[0].Hi, m.b.Adjusters[1].Lo, m.b.Adjusters[1].Hi = 41, 0, 0 // nothing fits exactly
	benchmarkSolve(b, m)
}

// cockpits is a target whose front is to be chosen from so many parts, made from a seed and stored nowhere:
// 200 stems either way up on 8 stacks of spacers, 300 bars, 50 levers are 48 million.
func cockpits(stems, bars, levers int) *machine {
	r := rand.New(rand.NewPCG(203, 0))
	m := frame(0)
	head := plane.Rad(73)
	m.b.Frame.HeadAngle, m.b.Frame.SteererTop = &head, &plane.Point{X: 372, Y: 575}
	m.b.Stem = &bike.StemFit{Spacers: bike.Spacers{Given: true, Free: true, Max: 35, Step: 5}}
	m.b.Stem.Open = true
	for range stems {
		m.b.Stem.Options = append(m.b.Stem.Options, bike.Option[cockpit.Stem]{Part: &cockpit.Stem{
			Length: 35 + 5*float64(r.IntN(22)), Angle: plane.Rad(between(r, -20, 20)), Height: between(r, 38, 44)}})
	}
	m.b.Bar = bike.BarFit{Rotation: free(plane.Rad(-10), plane.Rad(10)), LeverAt: bike.Fixed(6)}
	m.b.Bar.Open, m.b.Bar.Lever.Open = true, true
	for range bars {
		m.b.Bar.Options = append(m.b.Bar.Options, bike.Option[cockpit.Bar]{Part: randomBar(r)})
	}
	for range levers {
		m.b.Bar.Lever.Options = append(m.b.Bar.Lever.Options, bike.Option[cockpit.Lever]{Part: randomLever(r)})
	}
	m.b.Adjusters = withoutBar(m.b.Adjusters)
	return m
}

func withoutBar(all []bike.Adjuster) (some []bike.Adjuster) {
	for _, a := range all {
		if a.Moves == bike.MovesSaddle || a.Moves == bike.MovesSaddleTilt {
			some = append(some, a)
		}
	}
	return some
}

// Where the wanted hood lies decides how hard the proof is: among the cockpits, beside them, or with an angle
// that none of them has.
var wantedHoods = []struct {
	name  string
	hands assembly.Contact
}{
	{"among them", assembly.Contact{Name: bike.Hood, At: plane.Point{X: 560, Y: 660}, Angle: plane.Rad(4)}},
	{"100 mm beyond", assembly.Contact{Name: bike.Hood, At: plane.Point{X: 720, Y: 800}, Angle: plane.Rad(4)}},
	{"an angle out of reach", assembly.Contact{Name: bike.Hood, At: plane.Point{X: 560, Y: 660}, Angle: plane.Rad(40)}},
}

func Benchmark48MillionCockpits(b *testing.B) {
	for _, c := range wantedHoods {
		b.Run(c.name, func(b *testing.B) {
			m := cockpits(200, 300, 50)
			m.hands = c.hands
			s := solvePosition(b, m, positionOf(m, nil))
			require.Equal(b, 48e6, s.Combinations)
			b.ReportMetric(s.E, "mm")
			benchmarkSolve(b, m)
		})
	}
}

// The same search on a small catalogue against every cockpit one by one, the bar turned as near as it goes.
func TestCockpitsAgainstEnumeration(t *testing.T) {
	for _, c := range wantedHoods {
		t.Run(c.name, func(t *testing.T) {
			m := cockpits(12, 6, 5)
			m.hands = c.hands
			s := solvePosition(t, m, positionOf(m, nil))
			least := math.Inf(1)
			steerer, _ := m.b.Steerer()
			for _, bar := range m.b.Bar.Options {
				for _, lever := range m.b.Bar.Lever.Options {
					hood, angle, _ := bar.Part.HoodContact(lever.Part, 6)
					turn := plane.Clamp(c.hands.Angle-angle, plane.Rad(-10), plane.Rad(10))
					off := plane.Deg(bike.DegreeCost) * (turn + angle - c.hands.Angle)
					for _, stem := range m.b.Stem.Options {
						for _, flip := range []bool{false, true} {
							for _, spacers := range m.b.Stem.Spacers.Heights() {
								at := steerer.BarClamp(*stem.Part, flip, spacers).Add(hood.Turn(turn))
								least = math.Min(least, math.Hypot(at.Distance(c.hands.At), off))
							}
						}
					}
				}
			}
			got := math.Sqrt(s.hands.square)
			assert.InDelta(t, least, got, search.Tie)
			assert.Equal(t, 12.0*2*8*6*5, s.handHalf.combinations())
		})
	}
}
