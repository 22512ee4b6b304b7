package body

import (
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/diff/fd"
	"gonum.org/v1/gonum/mat"

	"carryover/internal/bike"
	"carryover/internal/plane"
)

// A four-bar with a textbook answer: Norton, Design of Machinery, example 4-1 (from memory; the digits beyond the
// book's two decimals were computed independently). Ground 100, crank 40 at 40°, coupler 120, rocker 80.
func TestFourBarOfTheTextbook(t *testing.T) {
	crank := plane.Direction(plane.Rad(40)).Scale(40)
	ground := plane.Point{X: 100}
	for _, c := range []struct {
		left            bool
		coupler, rocker float64
	}{{true, 20.29788, 57.32488}, {false, -60.97797, -98.00496}} {
		p, short := closing(crank, 120, ground, 80, c.left)
		require.Zero(t, short)
		coupler, rocker := p.Sub(crank), p.Sub(ground)
		assert.InDelta(t, c.coupler, plane.Deg(math.Atan2(coupler.Y, coupler.X)), 5e-6)
		assert.InDelta(t, c.rocker, plane.Deg(math.Atan2(rocker.Y, rocker.X)), 5e-6)
	}
}

// A planar leg of a rider of 1780 mm, thigh 0.245 and shank 0.246 of it: how far ankle and hip are apart at a knee
// flexion (cosine rule, computed by another program to 0.01 mm).
func TestKneeFlexionAtGivenReach(t *testing.T) {
	for k, d := range map[float64]float64{20: 860.70, 25: 853.26, 30: 844.20, 35: 833.53, 40: 821.27, 45: 807.45} {
		s := &Segments{Thigh: Length{MM: 0.245 * 1780}, Shank: Length{MM: 0.246 * 1780}}
		l, err := s.Leg(Place{Sit: plane.Point{Y: d}}, 0)
		require.NoError(t, err)
		assert.InDelta(t, k, plane.Deg(l.KneeFlexion), 0.005, "0.005 mm over at most 1.324 mm per degree, %v", k)
	}
}

func randomPlace(rng *rand.Rand) (*Segments, Place) {
	in := func(lo, hi float64) float64 { return lo + (hi-lo)*rng.Float64() }
	s := &Segments{Thigh: Length{MM: in(380, 480)}, Shank: Length{MM: in(370, 470)}, AnkleHeight: Length{MM: in(60, 95)},
		BallToAnkle: Length{MM: in(110, 160)}, HipAboveSaddle: Length{MM: in(70, 110)},
		Trunk: Length{MM: in(450, 580)}, UpperArm: Length{MM: in(280, 360)}, Forearm: Length{MM: in(230, 300)}, Hand: Length{MM: in(80, 100)}}
	leg := s.Thigh.MM + s.Shank.MM
	angle := plane.Rad(in(102, 112))
	f := Place{Crank: in(150, 185), Sole: in(10, 40), Pitch: Pitch{plane.Rad(in(-35, 0)), plane.Rad(in(0, 15)), plane.Rad(in(0, 360))}}
	f.Sit = plane.Direction(angle).Scale(leg*in(0.90, 0.97) - f.Crank - s.HipAboveSaddle.MM + 60)
	f.Hands = &Hands{Contact: bike.Hood, At: f.Sit.Add(plane.Point{X: in(600, 720), Y: in(-120, 20)}), Elbow: plane.Rad(in(130, 175))}
	return s, f
}

// Over a whole turn of many bodies: every segment keeps its length, the pedal its circle and the knee its side; and
// gonum's linear algebra and finite differences, by Newton's method from the neighbouring crank angle, close the linkage at
// the same knee.
func TestLinkageKeepsItsLengthsAndAgreesWithRootFinding(t *testing.T) {
	seed := uint64(20)
	rng := rand.New(rand.NewPCG(seed, 2))
	turns := 0
	for turns < 60 {
		s, f := randomPlace(rng)
		if _, err := s.Turn(f); err != nil {
			continue
		}
		turns++
		var guess []float64
		for i := range 72 {
			c := 2 * math.Pi * float64(i) / 72
			l, err := s.Leg(f, c)
			require.NoError(t, err)
			require.InDelta(t, s.Thigh.MM, l.Hip.Distance(l.Knee), 1e-9, "seed %d", seed)
			require.InDelta(t, s.Shank.MM, l.Knee.Distance(l.Ankle), 1e-9)
			require.InDelta(t, math.Hypot(s.BallToAnkle.MM, f.Sole+s.AnkleHeight.MM), l.Ankle.Distance(l.Pedal), 1e-9)
			require.InDelta(t, f.Crank, l.Pedal.Norm(), 1e-9)
			require.Positive(t, l.Ankle.Sub(l.Hip).Cross(l.Knee.Sub(l.Hip)), "the knee bends forward")

			close := func(y, x []float64) {
				k := plane.Point{X: x[0], Y: x[1]}
				y[0] = k.Distance(l.Hip) - s.Thigh.MM
				y[1] = k.Distance(l.Ankle) - s.Shank.MM
			}
			if guess == nil {
				guess = []float64{l.Hip.X + 400, l.Hip.Y - 200}
			}
			y, step := make([]float64, 2), mat.NewVecDense(2, nil)
			for range 50 {
				close(y, guess)
				if math.Hypot(y[0], y[1]) < 1e-11 {
					break
				}
				j := mat.NewDense(2, 2, nil)
				fd.Jacobian(j, close, guess, &fd.JacobianSettings{Formula: fd.Central})
				require.NoError(t, step.SolveVec(j, mat.NewVecDense(2, y)))
				guess[0] -= step.AtVec(0)
				guess[1] -= step.AtVec(1)
			}
			require.InDelta(t, 0, l.Knee.Distance(plane.Point{X: guess[0], Y: guess[1]}), 1e-6)
		}
	}
}

// The extremes of a turn against a hundred times finer look at it.
func TestExtremesOfTheTurn(t *testing.T) {
	seed := uint64(21)
	rng := rand.New(rand.NewPCG(seed, 3))
	for tested := 0; tested < 10; {
		s, f := randomPlace(rng)
		n, err := s.Turn(f)
		if err != nil {
			continue
		}
		tested++
		least, most, thigh := math.Inf(1), math.Inf(-1), math.Inf(-1)
		for i := range 36000 {
			l, err := s.Leg(f, 2*math.Pi*float64(i)/36000)
			require.NoError(t, err)
			least, most = math.Min(least, l.KneeFlexion), math.Max(most, l.KneeFlexion)
			thigh = math.Max(thigh, l.ThighAngle)
		}
		assert.InDelta(t, least, n.KneeLeast, 1e-7, "seed %d", seed)
		assert.InDelta(t, most, n.KneeMost, 1e-7)
		assert.InDelta(t, thigh, n.ThighMost, 1e-7)
		assert.GreaterOrEqual(t, n.KneeLowest, n.KneeLeast-1e-12)
	}
}

// Of two peaks the higher one is found, wherever it stands in the turn.
func TestOfTwoPeaksTheHigher(t *testing.T) {
	for k := range 40 {
		high, low := float64(k)*0.157, float64(k)*0.157+2.3
		at, value := extreme(func(c float64) float64 {
			return math.Exp(9*(math.Cos(c-high)-1)) + 0.8*math.Exp(9*(math.Cos(c-low)-1))
		})
		assert.InDelta(t, 0, math.Remainder(at-high, 2*math.Pi), 1e-3)
		assert.InDelta(t, 1, value, 1e-3)
	}
}

// trained is a rider of 1780 mm on a saddle 760 mm from the BB, lengths by the ratios of Drillis and Contini.
func trained(t *testing.T) (*Segments, Place) {
	t.Helper()
	height := 1780.0
	s, err := NewSegments(&bike.Rider{Body: bike.BodySizes{Height: &height}})
	require.NoError(t, err)
	pitch := usualPitch()
	return s, Place{Sit: plane.Direction(plane.Rad(106)).Scale(720), Crank: 172.5, Sole: 24, Pitch: pitch}
}

func scaled(f Place, by float64) Place {
	f.Sit = f.Sit.Scale(by)
	return f
}

// Ferrer-Roca et al. 2014, J Strength Cond Res 28(3):784-791: from 2 % under to 2 % over the usual saddle height, 14
// riders opened the knee by 7° and the ankle by 8° at extension (abstract). A foot that stands as before is an upper bound:
// 7 to 16°; with 8° of the foot given to the model, 4 to 10°. The two bands are this project's reading of the spread.
func TestSaddleHeightAgainstMeasuredRiders(t *testing.T) {
	s, f := trained(t)
	low, err := s.Turn(scaled(f, 0.98))
	require.NoError(t, err)
	high, err := s.Turn(scaled(f, 1.02))
	require.NoError(t, err)
	change := plane.Deg(low.KneeLeast - high.KneeLeast)
	t.Logf("stiff foot: %.1f°", change)
	assert.Greater(t, change, 7.0)
	assert.Less(t, change, 16.0)

	// The foot turned 8° further toe-down on the higher saddle.
	pointed := scaled(f, 1.02)
	pointed.Pitch.Mean -= plane.Rad(8)
	yielding, err := s.Turn(pointed)
	require.NoError(t, err)
	change = plane.Deg(low.KneeLeast - yielding.KneeLeast)
	t.Logf("foot turned 8°: %.1f°", change)
	assert.Greater(t, change, 4.0)
	assert.Less(t, change, 10.0)
}

// Bini et al. 2013, Phys Ther Sport 14:23-27: a saddle further forward at unchanged height bends the knee more.
func TestForwardSaddleBendsTheKnee(t *testing.T) {
	s, f := trained(t)
	back, err := s.Turn(f)
	require.NoError(t, err)
	f.Sit.X += 40
	forward, err := s.Turn(f)
	require.NoError(t, err)
	assert.Greater(t, forward.KneeLowest, back.KneeLowest)
	assert.Greater(t, forward.KneeAhead, back.KneeAhead)
}

// Too and Williams, Human Power: longer cranks lower the least angles of hip and knee and widen their ranges; a higher
// saddle raises all least and greatest angles of hip, knee and ankle. (An angle here is 180° less a flexion.)
func TestCrankAndSaddleSigns(t *testing.T) {
	s, f := trained(t)
	f.Hands = &Hands{Contact: bike.Hood, At: plane.Point{X: 480, Y: 650}, Elbow: usualElbow}
	n := func(f Place) *Numbers {
		n, err := s.Turn(f)
		require.NoError(t, err)
		require.NoError(t, n.UpperError)
		return n
	}
	reach := f.Sit.Norm() + f.Crank // kept, as a rider would set it
	at := func(crank float64) *Numbers {
		g := f
		g.Crank = crank
		g.Sit = g.Sit.Scale((reach - crank) / g.Sit.Norm())
		return n(g)
	}
	short, long := at(150), at(185)
	assert.Greater(t, long.KneeMost, short.KneeMost, "least knee angle falls")
	assert.Less(t, long.HipLeast, short.HipLeast)
	assert.Greater(t, long.KneeMost-long.KneeLeast, short.KneeMost-short.KneeLeast)

	low, high := n(scaled(f, 0.95)), n(scaled(f, 1.0))
	assert.Less(t, high.KneeMost, low.KneeMost)
	assert.Less(t, high.KneeLeast, low.KneeLeast)
	assert.Greater(t, high.AnkleLeast, low.AnkleLeast)
	assert.Greater(t, high.AnkleMost, low.AnkleMost)
	// The hip opens between thigh and trunk; a lifted saddle lowers both, so the thigh's own range shows the sign.
	assert.Less(t, high.ThighMost, low.ThighMost)
}

// Drillis & Contini's legs lie within the 5th to 95th percentile of men at their mean stature (ANSUR II 2012, 4082 men,
// public data: stature 1756 mm; trochanter to lateral epicondyle 0.2330, its SD 0.0122; epicondyle to malleolus 0.2384,
// SD 0.0083, of stature). The landmarks differ, which is why the two are never mixed.
func TestRatiosAgainstMeasuredPeople(t *testing.T) {
	height := 1756.21
	s, err := NewSegments(&bike.Rider{Body: bike.BodySizes{Height: &height}})
	require.NoError(t, err)
	assert.InDelta(t, 0.2330*height, s.Thigh.MM, 1.645*0.0122*height)
	assert.InDelta(t, 0.2384*height, s.Shank.MM, 1.645*0.0083*height)
	assert.InDelta(t, 335.24, s.UpperArm.MM, 1.645*17.48)
	assert.InDelta(t, 267.88, s.Forearm.MM, 1.645*15.42)
	assert.InDelta(t, 72.90, s.AnkleHeight.MM, 1.645*5.67)
	assert.InDelta(t, 271.18, 2*s.BallToAnkle.MM, 1.645*13.10)
	for _, l := range s.Lengths() {
		assert.NotEqual(t, Measured, l.Origin, l.Name)
		assert.NotEmpty(t, l.Source, l.Name)
	}
}

func TestMeasuredLengthsStandBeforeEstimates(t *testing.T) {
	height, thigh := 1780.0, 432.0
	s, err := NewSegments(&bike.Rider{Body: bike.BodySizes{Height: &height, Thigh: &thigh}})
	require.NoError(t, err)
	assert.Equal(t, Length{Key: "thigh", Name: "thigh", MM: 432}, s.Thigh)
	assert.Equal(t, Estimated, s.Shank.Origin)

	_, err = NewSegments(&bike.Rider{File: "me.toml", Body: bike.BodySizes{Thigh: &thigh}})
	assert.EqualError(t, err, "me.toml: the leg needs shank, ankle_height and foot_length: give them, or height to estimate them from")

	shank, ankle, ball := 418.0, 82.0, 138.0
	s, err = NewSegments(&bike.Rider{Body: bike.BodySizes{Thigh: &thigh, Shank: &shank, AnkleHeight: &ankle, BallToAnkle: &ball}})
	require.NoError(t, err, "the leg is enough for the leg")
	ok, missing := s.Upper()
	assert.False(t, ok)
	assert.Contains(t, missing, "trunk")
}

func TestBodiesThatDoNotClose(t *testing.T) {
	s, f := trained(t)
	_, err := s.Turn(scaled(f, 1.3))
	var reach *ReachError
	require.ErrorAs(t, err, &reach)
	assert.Positive(t, reach.Short)
	assert.InDelta(t, 180, plane.Deg(reach.Crank), 20, "the lowest pedal is the furthest")
	assert.Contains(t, err.Error(), "too short")

	stump := *s
	stump.Thigh.MM = 250
	_, err = stump.Turn(scaled(f, 0.5))
	require.ErrorAs(t, err, &reach)

	f.Hands = &Hands{Contact: bike.Pad, At: plane.Point{X: 1500, Y: 700}}
	n, err := s.Turn(f)
	require.NoError(t, err, "the leg still closes")
	require.ErrorAs(t, n.UpperError, &reach)
	assert.True(t, math.IsNaN(n.HipLeast))
}

// Over pads the elbow is where the pad says, and trunk and upper arm keep their lengths; over hoods the elbow keeps the
// opening that is assumed.
func TestUpperBodyKeepsItsLengths(t *testing.T) {
	s, f := trained(t)
	for _, h := range []Hands{
		{Contact: bike.Pad, At: plane.Point{X: 400, Y: 700}, Angle: plane.Rad(15), ElbowBehind: 40},
		{Contact: bike.Hood, At: plane.Point{X: 480, Y: 680}, Elbow: plane.Rad(155)},
		{Contact: bike.Drop, At: plane.Point{X: 440, Y: 540}, Elbow: plane.Rad(180)},
	} {
		f.Hands = &h
		n, err := s.Turn(f)
		require.NoError(t, err)
		require.NoError(t, n.UpperError)
		u := n.Upper
		assert.InDelta(t, s.Trunk.MM, u.Shoulder.Distance(s.hipJoint(f.Sit)), 1e-9)
		assert.InDelta(t, s.UpperArm.MM, u.Shoulder.Distance(u.Elbow), 1e-9)
		assert.Greater(t, u.Shoulder.Y, f.Sit.Y)
		if h.Contact == bike.Pad {
			assert.InDelta(t, 40, u.Elbow.Distance(h.At), 1e-9)
			assert.False(t, u.ElbowAssumed)
			continue
		}
		assert.InDelta(t, s.Forearm.MM+s.Hand.MM, u.Elbow.Distance(h.At), 1e-6)
		assert.InDelta(t, h.Elbow, opening(u.Shoulder, u.Elbow, h.At), 1e-6)
		assert.True(t, u.ElbowAssumed)
	}
}

// An arm of 600 mm reaching 60 mm out shows sqrt(600² - 60²) = 597.0 mm: wide hands shorten the reach, as do narrow ones.
func TestWideHandsShortenTheReach(t *testing.T) {
	assert.InDelta(t, 600-596.992462, reachLost(600, 508, 388), 1e-6)
	assert.Equal(t, reachLost(600, 508, 388), reachLost(600, 268, 388))
	assert.Zero(t, reachLost(600, 388, 388))
	assert.True(t, math.IsNaN(reachLost(50, 508, 388)))
	assert.InDelta(t, 126*math.Tan(plane.Rad(12)), flareOut(126, plane.Rad(12)), 1e-12)

	s, f := trained(t)
	s.Shoulders = Length{MM: 388}
	f.Hands = &Hands{Contact: bike.Hood, At: plane.Point{X: 480, Y: 680}, Elbow: plane.Rad(155)}
	trunk := func(width float64) float64 {
		f.Widths.Hands = width
		n, err := s.Turn(f)
		require.NoError(t, err)
		require.NoError(t, n.UpperError)
		return n.Upper.Trunk
	}
	assert.Less(t, trunk(560), trunk(388), "wider hands pull the shoulders down")
	f.Widths = Laterals{QFactor: 180}
	wide, err := s.Turn(f)
	require.NoError(t, err)
	l, err := s.Leg(f, math.Pi)
	require.NoError(t, err)
	d, half := l.Hip.Distance(l.Ankle), 90+footOutside-hipsApart(1780)/2
	assert.InDelta(t, math.Hypot(d, half)-d, wide.LegLost, 1e-9)
	// The knee along that way, by laying thigh and shank out as a triangle with it.
	knee, short := closing(plane.Point{}, s.Thigh.MM, plane.Point{X: math.Hypot(d, half)}, s.Shank.MM, true)
	require.Zero(t, short)
	assert.InDelta(t, math.Pi-opening(plane.Point{}, knee, plane.Point{X: math.Hypot(d, half)}), wide.KneeAcross, 1e-9)
	assert.Less(t, wide.KneeAcross, wide.KneeLowest, "a longer way straightens the knee")
}

// Hip joints lie 170 to 180 mm apart in a rider of 1785 mm; 341 mm is the breadth of the hips. Bell, Pedersen and Brand 1990, J
// Biomech 23:617-621, put each joint 14 % of the distance between the front spines in from its spine: with spines 230 to 250 mm
// apart that is 166 to 180 mm (all from memory).
func TestHipJointsApart(t *testing.T) {
	assert.InDelta(t, 175, hipsApart(1785), 5)
	assert.InDelta(t, 0.72*240, hipsApart(1756), 0.72*10)
	// By hand for 2000 mm: leg (0.4715·2000 + 9)/0.922 = 1032.54, joint 8 + 88.80 from the middle.
	assert.InDelta(t, 193.597, hipsApart(2000), 1e-3)
	// A joint lies below the spine by what the leg is longer than the way from the joint to the ankle.
	leg := (hipsApart(1785)/2 - 8) / 0.086
	assert.InDelta(t, (0.513-0.0415)*1785, leg-(9+0.078*leg), 1e-9)
}

// A right angle at the knee with the thigh level: the kneecap faces 45° up from forward.
func TestKneecapHalvesTheAngle(t *testing.T) {
	s := &Segments{Kneecap: Length{MM: 55}}
	l := Leg{Hip: plane.Point{X: -400}, Ankle: plane.Point{Y: -380}}
	assert.InDelta(t, 0, s.kneecap(l).Distance(plane.Direction(math.Pi/4).Scale(55)), 1e-12)
	l.Ankle = plane.Point{X: 300} // straight and level: it faces up
	assert.InDelta(t, 0, s.kneecap(l).Distance(plane.Point{Y: 55}), 1e-12)

	body, f := trained(t)
	n, err := body.Turn(f)
	require.NoError(t, err)
	l, err = body.Leg(f, math.Pi/2)
	require.NoError(t, err)
	front := body.kneecap(l)
	assert.InDelta(t, opening(l.Hip, l.Knee, front), opening(l.Ankle, l.Knee, front), 1e-12)
	assert.InDelta(t, front.X-f.Crank, n.KneecapAhead, 1e-12)
	assert.Greater(t, n.KneecapAhead, n.KneeAhead+40)
}

// Two links that are too long to fold so far lack the rest of their difference.
func TestLinksThatDoNotFold(t *testing.T) {
	p, short := closing(plane.Point{}, 100, plane.Point{X: 30}, 50, true)
	assert.True(t, math.IsNaN(p.X))
	assert.InDelta(t, -20, short, 1e-12)
	_, short = closing(plane.Point{}, 100, plane.Point{X: 180}, 50, true)
	assert.InDelta(t, 30, short, 1e-12)
}

func TestPitchOverTheTurn(t *testing.T) {
	p := Pitch{Mean: -0.3, Swing: 0.2, Peak: math.Pi / 2}
	assert.InDelta(t, -0.1, p.At(math.Pi/2), 1e-12, "most at the peak")
	assert.InDelta(t, -0.5, p.At(-math.Pi/2), 1e-12)
	assert.InDelta(t, -0.3, p.At(0), 1e-12)
}

// The lengths by hand: half the hand of 0.108 and half the foot of 0.152 of the stature.
func TestSharesOfHandAndFoot(t *testing.T) {
	height := 1800.0
	s, err := NewSegments(&bike.Rider{Body: bike.BodySizes{Height: &height}})
	require.NoError(t, err)
	assert.InDelta(t, 97.2, s.Hand.MM, 1e-9)
	assert.InDelta(t, 136.8, s.BallToAnkle.MM, 1e-9)
	assert.InDelta(t, 1800*0.288, s.Trunk.MM, 1e-9)
}

// Seen from the side a whole arm shrinks alike; a width that is not known takes nothing, and says that it is not known.
func TestWidthsAcrossTheArms(t *testing.T) {
	s, f := trained(t)
	s.Shoulders = Length{MM: 388}
	turn := func(h Hands, hands float64) *Numbers {
		f.Hands, f.Widths = &h, Laterals{Hands: hands}
		n, err := s.Turn(f)
		require.NoError(t, err)
		require.NoError(t, n.UpperError)
		return n
	}
	hood := Hands{Contact: bike.Hood, At: plane.Point{X: 480, Y: 680}, Elbow: plane.Rad(155)}
	n := turn(hood, 560)
	share := math.Sqrt(n.Upper.Arm*n.Upper.Arm-86*86) / n.Upper.Arm
	assert.InDelta(t, s.UpperArm.MM*share, n.Upper.Shoulder.Distance(n.Upper.Elbow), 1e-6)
	assert.InDelta(t, (s.Forearm.MM+s.Hand.MM)*share, n.Upper.Elbow.Distance(hood.At), 1e-6)
	assert.True(t, math.IsNaN(n.LegLost), "the Q-factor is not known")

	pads := Hands{Contact: bike.Pad, At: plane.Point{X: 400, Y: 700}, Angle: plane.Rad(15), ElbowBehind: 40}
	n = turn(pads, 200)
	assert.InDelta(t, reachLost(s.UpperArm.MM, 200, 388), n.Upper.ArmLost, 1e-9)
	assert.InDelta(t, s.UpperArm.MM-n.Upper.ArmLost, n.Upper.Shoulder.Distance(n.Upper.Elbow), 1e-9)
	assert.True(t, math.IsNaN(turn(pads, 0).Upper.ArmLost))
	lost := func(drops float64) float64 {
		f.Hands, f.Widths = &hood, Laterals{Hands: 440, Drops: drops}
		n, err := s.Turn(f)
		require.NoError(t, err)
		return n.DropsLost
	}
	assert.InDelta(t, reachLost(s.UpperArm.MM+s.Forearm.MM+s.Hand.MM, 500, 388), lost(500), 8, "an arm bent a little")
	assert.Greater(t, lost(520), lost(500))
	assert.True(t, math.IsNaN(lost(0)), "nobody knows how wide the drops are")
	s.Shoulders.MM = 0
	assert.True(t, math.IsNaN(lost(500)))
	assert.True(t, math.IsNaN(turn(pads, 200).Upper.ArmLost))
}

// The turn as it is listed, and what is said of an elbow that nothing assumes.
func TestListAndJSON(t *testing.T) {
	s, f := trained(t)
	f.Hands = &Hands{Contact: bike.Pad, At: plane.Point{X: 400, Y: 700}, Angle: plane.Rad(15), ElbowBehind: 40}
	stages := []Stage{s.stage("", f), s.stage("too far", scaled(f, 1.3))}
	s.List(stages, plane.Rad(30))
	require.Len(t, stages[0].Turn, 12)
	for i, l := range stages[0].Turn {
		assert.InDelta(t, 30*i, plane.Deg(l.Crank), 1e-9)
	}
	assert.Empty(t, stages[1].Turn)
	again := []Stage{s.stage("", f)}
	s.List(again, 0)
	assert.Empty(t, again[0].Turn)
	for _, n := range []*Numbers{stages[0].Numbers, {}} {
		text, err := json.Marshal(n)
		require.NoError(t, err)
		assert.Contains(t, string(text), `"elbow_is_assumed":false`)
	}
	n := stages[0].Numbers
	assert.True(t, n.HipLeastAt >= 0 && n.HipLeastAt < 2*math.Pi, "%g", n.HipLeastAt)
}

func TestReachErrorReads(t *testing.T) {
	err := error(&ReachError{Limb: "leg", Short: -12, Crank: 0, Leg: true})
	assert.EqualError(t, err, "the leg does not fold so far with the crank 0° past the top: 12 mm are missing")
	assert.False(t, errors.Is(err, errors.ErrUnsupported))
}

func BenchmarkTurn(b *testing.B) {
	height := 1780.0
	s, err := NewSegments(&bike.Rider{Body: bike.BodySizes{Height: &height}})
	require.NoError(b, err)
	f := Place{Sit: plane.Direction(plane.Rad(106)).Scale(720), Crank: 172.5, Sole: 24, Pitch: usualPitch()}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := s.Turn(f); err != nil {
			b.Fatal(err)
		}
	}
}
