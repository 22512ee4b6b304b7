package cockpit

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/plane"
)

// Common practice: a -17° stem runs level on a 73° head angle.
func TestAMinus17StemOnA73HeadAngleRunsLevel(t *testing.T) {
	s := Steerer{Top: plane.Point{X: 380, Y: 570}, HeadAngle: plane.Rad(73)}
	middle := s.Top.Add(s.Up().Scale(20)) // of the stem's clamp on the steerer
	c := s.BarClamp(Stem{Length: 110, Angle: plane.Rad(-17), Height: 40}, false, 0)
	assert.InDelta(t, middle.Y, c.Y, 1e-12)
	assert.InDelta(t, middle.X+110, c.X, 1e-12)
}

// Common practice: the same stem flipped to +17° rises by length·sin 34°.
func TestAFlippedStemRises(t *testing.T) {
	s := Steerer{HeadAngle: plane.Rad(73)}
	stem := Stem{Length: 110, Angle: plane.Rad(-17), Height: 40}
	down, up := s.BarClamp(stem, false, 0), s.BarClamp(stem, true, 0)
	assert.InDelta(t, 110*math.Sin(plane.Rad(34)), up.Y-down.Y, 1e-12)
	assert.InDelta(t, 110*(math.Cos(plane.Rad(34))-1), up.X-down.X, 1e-12)
	upright := Stem{Length: 110, Angle: plane.Rad(17), Height: 40}
	assert.InDelta(t, 0, up.Distance(s.BarClamp(upright, false, 0)), 1e-12, "a -17° stem flipped is a +17° stem")
}

// Common practice: 10 mm of spacers on a 73° steerer raise the bar 9.6 mm and bring it back 2.9 mm.
func TestSpacersFollowTheSteerer(t *testing.T) {
	s := Steerer{HeadAngle: plane.Rad(73)}
	stem := Stem{Length: 100, Angle: plane.Rad(-6), Height: 40}
	d := s.BarClamp(stem, false, 10).Sub(s.BarClamp(stem, false, 0))
	assert.InDelta(t, 9.563, d.Y, 5e-4)
	assert.InDelta(t, -2.924, d.X, 5e-4)
}

// Law of cosines: bar clamp, middle of the steerer clamp and top of the cover form a triangle whose angle at
// the steerer clamp is 90° + stem angle.
func TestStemObeysTheLawOfCosines(t *testing.T) {
	const seed = 21
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for range 1000 {
		s := Steerer{Top: plane.Point{X: r.NormFloat64() * 100, Y: 600}, HeadAngle: plane.Rad(65 + r.Float64()*15)}
		stem := Stem{Length: 40 + r.Float64()*100, Angle: plane.Rad(r.Float64()*60 - 30), Height: 30 + r.Float64()*20}
		spacers := r.Float64() * 40
		up := spacers + stem.Height/2
		want := up*up + stem.Length*stem.Length - 2*up*stem.Length*math.Cos(math.Pi/2+stem.Angle)
		d := s.BarClamp(stem, false, spacers).Distance(s.Top)
		assert.InDelta(t, math.Sqrt(want), d, 1e-9)
	}
}

func TestSteererLeansBack(t *testing.T) {
	up := Steerer{HeadAngle: plane.Rad(73)}.Up()
	assert.InDelta(t, -math.Cos(plane.Rad(73)), up.X, 1e-15)
	assert.InDelta(t, math.Sin(plane.Rad(73)), up.Y, 1e-15)
}

func bar() *Bar { return &Bar{Reach: 80, Drop: 130, Bend: 35, Width: 420, Clamp: 31.8} }

func TestLeverMounts(t *testing.T) {
	b, l := bar(), &Lever{Along: 30, Out: 22, Angle: plane.Rad(8)}
	half := math.Sqrt(0.5)
	for _, c := range []struct {
		name  string
		q     float64
		at    plane.Point
		angle float64
	}{
		{"where the flat meets the bend", 0, plane.Point{X: 45 + 30, Y: 22}, plane.Rad(8)},
		{"on the flat", -20, plane.Point{X: 25 + 30, Y: 22}, plane.Rad(8)},
		{"an eighth around", 35 * math.Pi / 4, plane.Point{X: 45 + (35+30+22)*half, Y: -35 + (35-30+22)*half}, plane.Rad(8 - 45)},
		{"a quarter around, pointing down", 35 * math.Pi / 2, plane.Point{X: 80 + 22, Y: -35 - 30}, plane.Rad(8 - 90)},
	} {
		t.Run(c.name, func(t *testing.T) {
			at, angle, ok := b.HoodContact(l, c.q)
			require.True(t, ok)
			assert.InDelta(t, 0, at.Distance(c.at), 1e-12)
			assert.InDelta(t, c.angle, angle, 1e-15)
		})
	}
}

// The bend is a circle: lever places lie bend away from its centre, and q is the length along it.
func TestArcPositionIsLengthAlongTheBar(t *testing.T) {
	b := bar()
	lo, hi := b.LeverTravel()
	assert.Equal(t, -45.0, lo)
	assert.InDelta(t, 35*math.Pi/2, hi, 1e-12)
	const parts = 20000
	walked := 0.0
	last, _ := b.Mount(lo)
	assert.InDelta(t, 0, last.Norm(), 1e-12, "the flat run begins at the clamp")
	for i := 1; i <= parts; i++ {
		q := lo + (hi-lo)*float64(i)/parts
		p, down := b.Mount(q)
		walked += p.Distance(last)
		last = p
		if q > 0 {
			require.InDelta(t, 35, p.Distance(b.BendCentre()), 1e-12)
			require.InDelta(t, q/35, down, 1e-15)
		}
	}
	assert.InDelta(t, hi-lo, walked, 1e-6)
	front, _ := b.Mount(hi)
	assert.InDelta(t, b.Reach, front.X, 1e-12, "reach is the foremost of the bend")
}

func TestHoodContactIsContinuousWhereTheBendBegins(t *testing.T) {
	b, l := bar(), &Lever{Along: 34, Out: 18, Angle: plane.Rad(5)}
	on, angleOn, _ := b.HoodContact(l, 0)
	for _, q := range []float64{-1e-9, 1e-9} {
		at, angle, _ := b.HoodContact(l, q)
		assert.InDelta(t, 0, at.Distance(on), 1e-8)
		assert.InDelta(t, angleOn, angle, 1e-9)
	}
}

func TestWhatGivesContacts(t *testing.T) {
	b := bar()
	_, _, ok := b.HoodContact(nil, 0)
	assert.False(t, ok, "a curved bar without a lever has no hood")
	drop, ok := b.DropContact()
	require.True(t, ok)
	assert.Equal(t, plane.Point{X: 45, Y: -130}, drop)

	b.Drops = &plane.Point{X: 60, Y: -120}
	drop, _ = b.DropContact()
	assert.Equal(t, plane.Point{X: 60, Y: -120}, drop, "a measured drop goes before the closed form")

	measured := &Bar{Hood: &plane.Point{X: 130, Y: 30}, HoodAngle: 0.1}
	at, angle, ok := measured.HoodContact(&Lever{Along: 99}, 12)
	require.True(t, ok)
	assert.Equal(t, plane.Point{X: 130, Y: 30}, at, "a measured hood needs no lever")
	assert.Equal(t, 0.1, angle)
	_, ok = measured.DropContact()
	assert.False(t, ok)
}

func TestPadAndGripOfAClipon(t *testing.T) {
	c := &Clipon{Base: 60, GripRise: 25}
	assert.Equal(t, plane.Point{X: -15, Y: 80}, c.Pad(-15, 20))
	assert.Equal(t, plane.Point{X: 275, Y: 105}, c.Grip(-15, 20, 290))
}

// A measured hand place is not a curve, and a bar that gives no drop has none to hold.
func TestWhatABarDoesNotGive(t *testing.T) {
	assert.False(t, (&Bar{Reach: 80, Bend: 40, Hood: &plane.Point{X: 90, Y: 20}}).Curved())
	assert.False(t, (&Bar{}).Curved())
	assert.True(t, (&Bar{Reach: 80, Bend: 40}).Curved())
	for _, b := range []Bar{{Reach: 80, Bend: 40}, {Drop: 125}} {
		_, ok := b.DropContact()
		assert.False(t, ok, "%+v", b)
	}
}

// The drawn line is the bar's own: along the bend it lies where levers are mounted, and it passes through the drops.
func TestLinePassesWhatIsKnown(t *testing.T) {
	b := &Bar{Reach: 74, Drop: 126, Bend: 30}
	line := b.Line()
	drop, ok := b.DropContact()
	require.True(t, ok)
	nearest := func(q plane.Point) float64 {
		least := math.Inf(1)
		for i := 1; i < len(line); i++ {
			a, d := line[i-1], line[i].Sub(line[i-1])
			k := plane.Clamp(q.Sub(a).Dot(d)/d.Dot(d), 0, 1)
			least = math.Min(least, q.Distance(a.Add(d.Scale(k))))
		}
		return least
	}
	assert.InDelta(t, 0, nearest(drop), 1e-9)
	// It never rises nor leaves the box of reach and drop, turns one way only, and ends level under the clamp.
	for i, p := range line {
		assert.True(t, p.X >= -1e-9 && p.X <= b.Reach+1e-9 && p.Y <= 1e-9 && p.Y >= -b.Drop-1e-9, "%d: %v", i, p)
		if i > 0 {
			assert.LessOrEqual(t, p.Y, line[i-1].Y+1e-9, "%d", i)
		}
		if i > 1 {
			assert.LessOrEqual(t, line[i-1].Sub(line[i-2]).Cross(p.Sub(line[i-1])), 1e-9, "%d", i)
		}
	}
	assert.InDelta(t, 0, line[len(line)-1].Distance(plane.Point{Y: -b.Drop}), 1e-9)
	_, quarter := b.LeverTravel()
	for q := -40.0; q < quarter; q += 5 {
		at, _ := b.Mount(q)
		assert.InDelta(t, 0, nearest(at), 0.05, "mount at %g", q)
	}
	hood := plane.Point{X: 110, Y: 8}
	palm := plane.Point{X: 25}
	assert.Equal(t, []plane.Point{{}, hood.Sub(palm), hood.Add(palm)}, (&Bar{Hood: &hood}).Line(), "along the palm, from its nearer end")
	behind := plane.Point{X: -28, Y: 14}
	assert.Equal(t, []plane.Point{{}, behind.Add(palm), behind.Sub(palm)}, (&Bar{Hood: &behind}).Line())
	moulded := (&Bar{Hood: &hood, Drops: &drop}).Line()
	assert.Contains(t, moulded, drop)
}

// Risers are stacked from the fewest pieces; what they do not come to is not named.
func TestRisersAreStackedFromTheFewestPieces(t *testing.T) {
	c := Clipon{Pieces: []float64{5, 10, 10, 20}}
	for stack, want := range map[float64][]float64{20: {20}, 30: {20, 10}, 25: {20, 5}, 45: {20, 10, 10, 5}, 0: {}, 12: nil} {
		assert.Equal(t, want, c.Stacked(stack), "%g", stack)
	}
	assert.Nil(t, (&Clipon{}).Stacked(10), "a part that lists no pieces")
}
