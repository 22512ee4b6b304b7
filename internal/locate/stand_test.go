package locate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/biketest"
	"carryover/internal/plane"
)

// taped takes the usual readings of a bike: at the mark where nothing else is known of the saddle, at the bar or at what
// the hands hold where nothing is known of the bar.
func taped(r *rand.Rand, t *biketest.Truth, seat, hands bool) {
	at := biketest.Wide(t.Posture.Support)
	if seat {
		at = biketest.Sit
	}
	t.Read(bike.Line, biketest.BB, at)
	t.Read(bike.Level, at, biketest.BB)
	t.Level(bike.SaddleBody)
	to := map[bike.Contact]bike.PlaceKind{bike.Hood: bike.AtHood, bike.Drop: bike.AtDrop, bike.Pad: bike.AtPad}[t.Posture.Hands]
	if !hands && r.IntN(2) == 0 {
		to = bike.AtBar
	}
	t.Read(bike.Level, at, biketest.At(to))
	t.Read(bike.Plumb, biketest.At(to), at)
	switch {
	case !hands:
		t.Level(bike.BarBody)
	case t.Posture.Hands == bike.Hood:
		t.Level(bike.HoodBody)
	}
	if t.Posture.Hands == bike.Pad {
		t.Level(bike.PadBody)
	}
}

// target draws a bike and hides some of what its file says: shapes, anchors, marks.
func target(r *rand.Rand) *biketest.Truth {
	hands := []bike.Contact{bike.Hood, bike.Hood, bike.Drop, bike.Pad}[r.IntN(4)]
	t := biketest.Bike(r, hands)
	seat, unshaped := r.IntN(3) == 0, r.IntN(3) == 0
	taped(r, t, seat, unshaped)
	t.Unshaped(seat, unshaped)
	for i := range t.Bike.Adjusters {
		if r.IntN(4) == 0 {
			t.Lose(t.Bike.Adjusters[i].Name)
		}
	}
	if r.IntN(3) > 0 {
		t.Bike.SaddleAnchor = nil
	}
	if r.IntN(3) > 0 {
		t.Bike.BarAnchor = nil
	}
	return t
}

// Truth first, readings made from it: what Stand hands out has the contacts where they truly are.
func TestAStandingBikeIsTheTruth(t *testing.T) {
	const seed = 51
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for n := range tenth(1000) {
		truth := target(r)
		given := fmt.Sprintf("%+v", *truth.Bike)
		s, err := Stand(truth.Bike, nil, truth.Posture)
		require.NoError(t, err, "case %d", n)
		require.Equal(t, given, fmt.Sprintf("%+v", *truth.Bike), "the bike itself stays as it was read")
		sit, hands := biketest.Standing(s.Bike, truth.Posture)
		wantSit, wantHands := truth.Contacts()
		if truth.Posture.Hands == bike.Drop {
			hands.Angle, wantHands.Angle = 0, 0
		}
		require.InDelta(t, 0, biketest.Near(sit, wantSit), 1e-5, "case %d: sit", n)
		require.InDelta(t, 0, biketest.Near(hands, wantHands), 1e-5, "case %d: %s", n, hands.Name)
		for _, a := range s.Bike.Adjusters {
			_, marked := truth.Bike.Marks[a.Name]
			require.Equal(t, !marked, a.FromHere, "case %d: %s", n, a.Name)
		}
	}
}

// handedOut are the numbers of a Standing in the order of Shift.
func handedOut(s *Standing) (v [handed]float64) {
	b := s.Bike
	put := func(k int, at plane.Point, angle float64) { v[k], v[k+1], v[k+2] = at.X, at.Y, angle }
	put(ofSaddle, *b.SaddleAnchor, b.Saddle.Tilt.Mid())
	put(ofBar, *b.BarAnchor, b.Bar.Rotation.Mid())
	if b.Clipon != nil {
		v[ofPads] = b.Clipon.Tilt.Mid()
	}
	if b.Saddle.Arm != nil {
		put(ofSit, b.Saddle.Arm.At, 0)
	}
	return v
}

func listed(s Shift) (v [handed]float64) {
	put := func(k int, p plane.Pose) { v[k], v[k+1], v[k+2] = p.Origin.X, p.Origin.Y, p.Turn }
	put(ofSaddle, s.Saddle)
	put(ofBar, s.Bar)
	v[ofPads] = s.Pads
	put(ofSit, s.Sit)
	put(ofHands, s.Hands)
	put(ofSecond, s.Second)
	return v
}

// Every shift against central differences of the whole: the file with one number changed, adjusted anew.
func TestShiftsAgainstDifferences(t *testing.T) {
	const seed = 52
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for n := range tenth(150) {
		truth := target(r)
		b := truth.Bike
		s, err := Stand(b, nil, truth.Posture)
		require.NoError(t, err)
		numbers := func() [handed]float64 {
			s, err := Stand(b, nil, truth.Posture)
			require.NoError(t, err)
			v := handedOut(s)
			second, _ := secondOf(truth.Posture.Hands)
			for k, c := range map[int]bike.Contact{ofHands: truth.Posture.Hands, ofSecond: second} {
				if arm, ok := s.Bike.Bar.Arms[c]; ok {
					v[k], v[k+1], v[k+2] = arm.At.X, arm.At.Y, arm.Angle
				}
			}
			return v
		}
		check := func(k Shift, what string, move func(d float64)) {
			const h = 1e-3
			move(h)
			up := numbers()
			move(-2 * h)
			down := numbers()
			move(h)
			for i, v := range listed(k) {
				want := (up[i] - down[i]) / (2 * h)
				require.InDelta(t, want, v, 2e-4*(1+math.Abs(want)), "case %d, %s, number %d", n, what, i)
			}
		}
		observed := 0
		for _, k := range s.Shifts() {
			switch k.Kind {
			case ByObservation:
				observed++
				o := s.Adjusted.Observations[k.Observation]
				switch o.Origin {
				case FromReading:
					check(k, o.Name, func(d float64) { b.Readings[o.Reading.Index-1].Value += d })
				case FromAnchor:
					at := map[string]*float64{}
					if p := b.SaddleAnchor; p != nil {
						at["saddle_clamp x"], at["saddle_clamp y"] = &p.X, &p.Y
					}
					if p := b.BarAnchor; p != nil {
						at["bar_clamp x"], at["bar_clamp y"] = &p.X, &p.Y
					}
					check(k, o.Name, func(d float64) { *at[o.Name] += d })
				case FromStated:
					set := map[string]*bike.Setting{"saddle.tilt": &b.Saddle.Tilt, "bar.rotation": &b.Bar.Rotation}
					if b.Clipon != nil {
						set["clipon.tilt"] = &b.Clipon.Tilt
					}
					check(k, o.Name, func(d float64) { set[o.Name].Lo += d; set[o.Name].Hi += d })
				}
			case ByFault:
				if k.Fault == assembly.BarY {
					continue // no number of a curved bar moves it up alone
				}
				check(k, fmt.Sprint("fault ", k.Fault), func(d float64) { spoil(truth, k.Fault, d) })
			}
		}
		if s.Adjusted != nil {
			require.Equal(t, len(s.Adjusted.Observations), observed)
		}
	}
}

// spoil adds d to what a fault is about.
func spoil(t *biketest.Truth, f assembly.Fault, d float64) {
	b := t.Bike
	switch f {
	case assembly.SaddleWidths, assembly.SaddleHeights:
		for i := range t.Saddle.Width {
			if f == assembly.SaddleWidths {
				t.Saddle.Width[i][1] += d
			}
		}
		for i := range t.Saddle.Top {
			if f == assembly.SaddleHeights {
				t.Saddle.Top[i][1] += d
			}
		}
		b.Saddle.Options = biketest.One(b.Saddle.Options[0].ID, b.Saddle.Options[0].Sigma, t.Saddle.Shape(0, 0)).Options
	case assembly.Support:
		t.Posture.Support += d
	case assembly.BarX:
		b.Bar.Options[0].Part.Reach += d
	case assembly.LeverX:
		b.Bar.Lever.Options[0].Part.Along += d
	case assembly.LeverY:
		b.Bar.Lever.Options[0].Part.Out += d
	case assembly.CliponX:
		b.Clipon.Hole.Lo += d
		b.Clipon.Hole.Hi += d
	case assembly.CliponY:
		b.Clipon.Options[0].Part.Base += d
	}
}

// Every effect on a position against central differences likewise, the part that is off on its own body included.
func TestEffectsAgainstDifferences(t *testing.T) {
	const seed = 53
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for n := range tenth(150) {
		truth := biketest.Bike(r, []bike.Contact{bike.Hood, bike.Drop, bike.Pad}[r.IntN(3)])
		seat, unshaped := r.IntN(3) == 0, r.IntN(3) == 0
		taped(r, truth, seat, unshaped)
		truth.Unshaped(seat, unshaped)
		b := truth.Bike
		b.Frame.Pitch = biketest.Between(r, -0.03, 0.03)
		station := 0.0
		if !seat && r.IntN(2) == 0 {
			station, _ = truth.Placement.Shape.WidthStation(truth.Posture.Support)
			truth.Posture.At = &station
		}
		numbers := func() (v [Coordinates + 1]float64) {
			a, err := Adjust(b, nil, Options{Posture: &truth.Posture})
			require.NoError(t, err)
			p, err := a.Position(truth.Posture)
			require.NoError(t, err)
			v = [Coordinates + 1]float64{p.Sit.At.X, p.Sit.At.Y, p.Sit.Angle, p.Hands.At.X, p.Hands.At.Y, p.Hands.Angle}
			if p.Second != nil {
				v[6], v[7] = p.Second.At.X, p.Second.At.Y
			}
			v[8] = p.Posture.Support
			return v
		}
		a, err := Adjust(b, nil, Options{Posture: &truth.Posture})
		require.NoError(t, err)
		effects, err := a.Effects(truth.Posture)
		require.NoError(t, err)
		for _, e := range effects {
			const h = 1e-3
			move := func(d float64) {
				switch {
				case e.Kind == ByObservation:
					a.Observations[e.Observation].Reading.Value += d
				case e.Fault == assembly.Support && truth.Posture.At != nil:
					station += d
				default:
					spoil(truth, e.Fault, d)
				}
			}
			if e.Kind == ByObservation && a.Observations[e.Observation].Origin != FromReading || e.Fault == assembly.BarY {
				continue
			}
			move(h)
			up := numbers()
			move(-2 * h)
			down := numbers()
			move(h)
			for i, v := range append(e.At[:], e.Width) {
				want := (up[i] - down[i]) / (2 * h)
				require.InDelta(t, want, v, 2e-4*(1+math.Abs(want)), "case %d, %+v, coordinate %d", n, e.Cause, i)
			}
		}
		p, err := a.Position(truth.Posture)
		require.NoError(t, err)
		read := slices.DeleteFunc(slices.Clone(effects), func(e Effect) bool { return e.Kind != ByObservation })
		for i := range Coordinates {
			assert.InDelta(t, p.Sigma(i), Total(read, i), 1e-6, "the observations make up the covariance")
		}
	}
}

// bareTarget is a bike with everything given, to take away from.
func bareTarget(hands bike.Contact) *biketest.Truth {
	return biketest.Bike(rand.New(rand.NewPCG(56, 0)), hands)
}

// A half with a shape that nothing holds and nothing moves is set by tape, whatever was read of it.
func TestWhatNothingMovesIsSetByTape(t *testing.T) {
	truth := bareTarget(bike.Hood)
	taped(rand.New(rand.NewPCG(1, 0)), truth, false, false)
	b := truth.Bike
	b.SaddleAnchor, b.BarAnchor, b.Adjusters, b.Marks = nil, nil, nil, nil
	b.Saddle.Tilt, b.Bar.Rotation = bike.Setting{}, bike.Setting{}
	s, err := Stand(b, nil, truth.Posture)
	require.NoError(t, err)
	assert.Len(t, s.Bike.Moving(bike.MovesSaddle), 2)
	assert.Len(t, s.Bike.Moving(bike.MovesBar), 2)
	assert.False(t, s.Bike.Adjusters[0].FromHere, "a tape says where it goes, from the BB")
}

// What an anchor holds and nothing moves stays where it is, but for a part without a shape: that can be moved by eye, up and forward.
func TestWhatNothingMovesStaysOrIsMovedByEye(t *testing.T) {
	for _, c := range []struct{ seat, hands bool }{{false, false}, {true, false}, {false, true}, {true, true}} {
		truth := bareTarget(bike.Hood)
		taped(rand.New(rand.NewPCG(1, 0)), truth, c.seat, c.hands)
		truth.Unshaped(c.seat, c.hands)
		b := truth.Bike
		seat, bar := truth.Placement.Poses[assembly.Saddle], truth.Placement.Poses[assembly.Bar].Origin
		if !c.seat {
			seat.Origin = seat.At(b.Saddle.Only().RailPoint(b.Saddle.ClampAt.Lo))
		}
		b.Adjusters, b.Marks, b.SaddleAnchor, b.BarAnchor = nil, nil, &seat.Origin, &bar
		b.Saddle.Tilt, b.Bar.Rotation = bike.Fixed(seat.Turn), bike.Fixed(truth.Placement.Poses[assembly.Bar].Turn)
		s, err := Stand(b, nil, truth.Posture)
		require.NoError(t, err)
		count := map[bool]int{true: 2}
		assert.Len(t, s.Bike.Moving(bike.MovesSaddle), count[c.seat], "%+v", c)
		assert.Len(t, s.Bike.Moving(bike.MovesBar), count[c.hands], "%+v", c)
	}
}

// An adjuster without a mark counts from where it stands, in whole steps where it has steps, and knows no stop.
func TestAnUnmarkedAdjusterCountsFromHere(t *testing.T) {
	truth := bareTarget(bike.Hood)
	taped(rand.New(rand.NewPCG(1, 0)), truth, false, false)
	b := truth.Bike
	for i := range b.Adjusters {
		if a := &b.Adjusters[i]; a.Name == "saddle post" {
			a.Lo, a.Hi, a.Step = 3, 10, 2
		}
	}
	truth.Lose("saddle post")
	b.SaddleAnchor = nil
	s, err := Stand(b, nil, truth.Posture)
	require.NoError(t, err)
	for _, a := range s.Bike.Adjusters {
		assert.Equal(t, a.Name == "saddle post", a.FromHere)
		if a.FromHere {
			assert.True(t, a.NoRange)
			assert.Equal(t, [2]float64{-6, 6}, [2]float64{a.Lo, a.Hi})
		}
	}
}

// A half with an anchor that was not read is as described, and its anchor may be off by what the file says of it.
func TestAHalfThatWasNotReadIsAsDescribed(t *testing.T) {
	truth := bareTarget(bike.Hood)
	truth.Read(bike.Line, biketest.BB, biketest.Mid)
	truth.Read(bike.Level, biketest.Nose, biketest.BB)
	b := truth.Bike
	truth.Lose("bar post")
	s, err := Stand(b, nil, truth.Posture)
	require.NoError(t, err)
	assert.Equal(t, *b.BarAnchor, *s.Bike.BarAnchor)
	assert.Equal(t, b.Bar.Rotation, s.Bike.Bar.Rotation)
	sigma := 0.0
	for _, k := range s.Shifts() {
		if k.Kind == ByAnchor {
			assert.Equal(t, assembly.Bar, k.Body)
			assert.Equal(t, plane.Pose{}, k.Saddle)
			assert.Equal(t, k.Across, k.Bar.Origin.Y != 0)
			sigma = math.Hypot(sigma, k.Sigma*k.Bar.Origin.Norm())
		}
	}
	assert.InDelta(t, math.Sqrt2*b.AnchorSigma, sigma, 1e-12)
	for _, a := range s.Bike.Adjusters {
		assert.False(t, a.FromHere, "%s: its range is that of the file", a.Name)
	}
}

// So is the saddle's where only the bar was read.
func TestASaddleThatWasNotReadIsAsDescribed(t *testing.T) {
	truth := bareTarget(bike.Hood)
	truth.Read(bike.Level, biketest.BB, biketest.At(bike.AtBar))
	truth.Read(bike.Plumb, biketest.BB, biketest.At(bike.AtBar))
	b := truth.Bike
	for _, anchored := range []bool{true, false} {
		if !anchored {
			b.SaddleAnchor = nil
			b.Adjusters = slices.DeleteFunc(b.Adjusters, func(a bike.Adjuster) bool { return a.Moves == bike.MovesSaddle })
		}
		s, err := Stand(b, nil, truth.Posture)
		require.NoError(t, err)
		sigma := 0.0
		for _, k := range s.Shifts() {
			if k.Kind == ByAnchor {
				assert.Equal(t, assembly.Saddle, k.Body)
				assert.Equal(t, k.Across, k.Saddle.Origin.Y != 0)
				sigma = math.Hypot(sigma, k.Sigma*k.Saddle.Origin.Norm())
			}
		}
		assert.InDelta(t, map[bool]float64{true: math.Sqrt2 * b.AnchorSigma}[anchored], sigma, 1e-12, "anchored %t", anchored)
	}
}

// Where the clamp of hoods without a bar is not read it is taken to be where it usually is; a reading to the bar gives it.
// Pads and drops have no usual clamp: without that reading they cannot be turned.
func TestTheClampOfWhatHasNoShape(t *testing.T) {
	for _, c := range []struct {
		hands            bike.Contact
		at               bike.PlaceKind
		bar              bool
		taken, stuck, no bool
	}{
		{bike.Hood, bike.AtHood, false, true, false, false}, {bike.Hood, bike.AtHood, true, false, false, false},
		{bike.Drop, bike.AtDrop, false, false, true, true}, {bike.Drop, bike.AtDrop, true, false, false, true},
		{bike.Pad, bike.AtPad, false, false, true, false}, {bike.Pad, bike.AtPad, true, false, false, false},
	} {
		truth := bareTarget(c.hands)
		taped(rand.New(rand.NewPCG(1, 0)), truth, true, true)
		if c.bar {
			truth.Read(bike.Level, biketest.BB, biketest.At(bike.AtBar))
			truth.Read(bike.Plumb, biketest.BB, biketest.At(bike.AtBar))
			truth.Level(bike.BarBody)
		}
		clamp, body := truth.Placement.Poses[assembly.Bar].Origin, truth.Placement.Poses[assembly.Bar].Turn
		_, hands := truth.Contacts()
		truth.Unshaped(true, true)
		truth.Bike.BarAnchor, truth.Bike.SaddleAnchor = nil, nil
		s, err := Stand(truth.Bike, nil, truth.Posture)
		require.NoError(t, err)
		arm := s.Bike.Bar.Arms[c.hands]
		assert.Equal(t, []bool{c.taken, c.stuck, c.no}, []bool{arm.Taken, arm.NoTurn, arm.NoAngle}, "%s, bar %t", c.hands, c.bar)
		if c.bar {
			assert.InDelta(t, 0, arm.At.Distance(hands.At.Sub(clamp).Turn(-body)), 1e-6)
		}
		assert.Equal(t, clampUnderMarkSigma, s.Bike.Saddle.Arm.Sigma)
		clamps := 0
		for _, k := range s.Shifts() {
			if k.Kind == ByClamp {
				clamps++
			}
		}
		assert.Equal(t, map[bool]int{true: 4, false: 2}[c.taken], clamps, "%s, bar %t", c.hands, c.bar)
	}
}

// What has no shape and was not read is refused, with what to read.
func TestWhatHasNoShapeHasToBeRead(t *testing.T) {
	truth := bareTarget(bike.Hood)
	truth.Unshaped(true, false)
	_, err := Stand(truth.Bike, nil, truth.Posture)
	assert.ErrorContains(t, err, `saddle-height at = "sit"`)
	truth = bareTarget(bike.Hood)
	truth.Unshaped(false, true)
	_, err = Stand(truth.Bike, nil, truth.Posture)
	assert.ErrorContains(t, err, "hood-angle")
	truth = bareTarget(bike.Hood)
	truth.Read(bike.Level, biketest.BB, biketest.Mid)
	truth.Bike.SaddleAnchor = nil
	_, err = Stand(truth.Bike, nil, truth.Posture)
	var missing *MissingError
	require.ErrorAs(t, err, &missing)
	assert.Equal(t, "saddle.y", missing.Gaps[0].Name)
}

// Readings to a saddle or a bar that is still to be chosen say nothing of it.
func TestReadingsOfWhatIsToBeChosen(t *testing.T) {
	truth := bareTarget(bike.Hood)
	taped(rand.New(rand.NewPCG(1, 0)), truth, false, false)
	b := truth.Bike
	b.Saddle.Open, b.Bar.Open = true, true
	s, err := Stand(b, nil, truth.Posture)
	require.NoError(t, err)
	assert.Equal(t, *b.SaddleAnchor, *s.Bike.SaddleAnchor)
	assert.Contains(t, s.Assumptions[0], "are left out")
}

// A bike ridden at another pitch: its contacts are turned about the BB, and their covariance with them.
func TestAPositionIsInTheFrameOfRiding(t *testing.T) {
	truth := bareTarget(bike.Hood)
	taped(rand.New(rand.NewPCG(1, 0)), truth, false, false)
	at := func(pitch float64) Position {
		truth.Bike.Frame.Pitch = pitch
		a, err := Adjust(truth.Bike, nil, Options{})
		require.NoError(t, err)
		p, err := a.Position(truth.Posture)
		require.NoError(t, err)
		return p
	}
	flat, quarter := at(0), at(math.Pi/2)
	assert.InDelta(t, 0, quarter.Sit.At.Distance(flat.Sit.At.Perp()), 1e-9)
	assert.InDelta(t, 0, quarter.Hands.At.Distance(flat.Hands.At.Perp()), 1e-9)
	assert.InDelta(t, flat.Hands.Angle+math.Pi/2, quarter.Hands.Angle, 1e-12)
	assert.InDelta(t, flat.Cov[0][0], quarter.Cov[1][1], 1e-9)
	assert.InDelta(t, -flat.Cov[0][1], quarter.Cov[0][1], 1e-9)
	assert.InDelta(t, flat.Cov[2][2], quarter.Cov[2][2], 1e-12)
	back := quarter.Turned(-math.Pi / 2).touches()
	assert.InDelta(t, flat.Sit.At.X, back[0].X, 1e-9)
	assert.InDelta(t, flat.Sigma(0), back[0].SigmaX, 1e-9, "what locate prints is as the bike is read")
}

func TestSolesAreTheSameOrStatedOnBoth(t *testing.T) {
	bikes := func(no, noOther bool) (from, to *bike.Bike) {
		return &bike.Bike{File: "from.toml", Feet: bike.Feet{NoSole: no}}, &bike.Bike{File: "to.toml", Feet: bike.Feet{NoSole: noOther}}
	}
	from, to := bikes(false, false)
	got, err := ShareSole(from, to)
	require.NoError(t, err)
	assert.Same(t, from, got)
	from, to = bikes(true, true)
	got, err = ShareSole(from, to)
	require.NoError(t, err)
	assert.Len(t, got.Assumed, 1)
	assert.Empty(t, from.Assumed, "the bike itself stays as it is")
	_, err = ShareSole(bikes(true, false))
	require.ErrorContains(t, err, "from.toml: sole_height is missing in [feet], and to.toml gives it")
	_, err = ShareSole(bikes(false, true))
	require.ErrorContains(t, err, "to.toml: sole_height is missing in [feet], and from.toml gives it")
}

func TestSagIsShared(t *testing.T) {
	shaped, mark, other := bareTarget(bike.Hood), bareTarget(bike.Hood), bareTarget(bike.Hood)
	mark.Unshaped(true, false)
	other.Unshaped(true, false)
	mark.Bike.Saddle.Sag = nil
	f, to, err := ShareSag(mark.Bike, shaped.Bike)
	require.NoError(t, err)
	assert.Equal(t, shaped.Saddle.Sag, *f.Saddle.Sag)
	assert.Same(t, shaped.Bike, to)
	assert.Nil(t, mark.Bike.Saddle.Sag, "the bike itself stays as it was read")
	assert.Contains(t, f.Assumed[len(f.Assumed)-1], "taken as the other bike's")
	*other.Bike.Saddle.Sag = 7.5
	if f, _, err = ShareSag(mark.Bike, other.Bike); assert.NoError(t, err) {
		assert.Equal(t, 7.5, *f.Saddle.Sag)
	}
	other.Bike.Saddle.Sag = nil
	if f, to, err = ShareSag(mark.Bike, other.Bike); assert.NoError(t, err) {
		assert.Equal(t, [2]float64{0, 0}, [2]float64{*f.Saddle.Sag, *to.Saddle.Sag})
		assert.Contains(t, f.Assumed[len(f.Assumed)-1], "taken as the same on both bikes")
	}
	shaped.Bike.Saddle.Open = true
	_, _, err = ShareSag(mark.Bike, shaped.Bike)
	assert.ErrorContains(t, err, "give sag in [saddle]")
}

// Where an anchor and all marks say where the clamp of a body without a shape is, its contacts are seen from there.
func TestAnAnchorGivesTheClampOfWhatHasNoShape(t *testing.T) {
	for _, hands := range []bike.Contact{bike.Hood, bike.Drop, bike.Pad} {
		truth := bareTarget(hands)
		taped(rand.New(rand.NewPCG(1, 0)), truth, true, true)
		seat, bar := truth.Placement.Poses[assembly.Saddle], truth.Placement.Poses[assembly.Bar]
		truth.Level(bike.BarBody)
		sit, hand := truth.Contacts()
		rail := truth.Placement.Shape.RailPoint(truth.Bike.Saddle.ClampAt.Lo)
		truth.Unshaped(true, true)
		s, err := Stand(truth.Bike, nil, truth.Posture)
		require.NoError(t, err)
		assert.False(t, s.Bike.Saddle.Arm.Taken)
		assert.InDelta(t, 0, s.Bike.Saddle.Arm.At.Distance(seat.Local(sit.At).Sub(rail)), 1e-6)
		arm := s.Bike.Bar.Arms[hands]
		assert.False(t, arm.Taken || arm.NoTurn, "%s", hands)
		assert.InDelta(t, 0, arm.At.Distance(bar.Local(hand.At)), 1e-6)
	}
}

// Readings that do not say where a bar stands are an error that names what is missing, or leave it to the anchor.
func TestABarReadByHalf(t *testing.T) {
	truth := bareTarget(bike.Hood)
	taped(rand.New(rand.NewPCG(1, 0)), truth, false, false)
	b := truth.Bike
	b.Readings = append(b.Readings[:3:3], b.Readings[4:]...)
	truth.Lose("bar post")
	truth.Lose("bar slide")
	s, err := Stand(b, nil, truth.Posture)
	require.NoError(t, err)
	assert.Equal(t, *b.BarAnchor, *s.Bike.BarAnchor)
	assert.Contains(t, s.Assumptions[len(s.Assumptions)-1], "where the bar of")
	b.BarAnchor = nil
	_, err = Stand(b, nil, truth.Posture)
	var missing *MissingError
	require.ErrorAs(t, err, &missing)
	assert.Equal(t, "bar.x", missing.Gaps[0].Name)
	b.Clipon = nil
	truth.Unshaped(false, true)
	_, err = Stand(truth.Bike, nil, truth.Posture)
	assert.Error(t, err, "hoods read by half have no place either")
}

// Pads or drops of their own, read on a bike whose bar was not, with an anchor but no mark: beside a bar with a shape they are seen
// from where the anchor says, which is said; without one they are their own clamp, and the anchor is not asked.
func TestHandsOfTheirOwnWhereTheBarWasNotRead(t *testing.T) {
	for _, c := range []struct {
		hands  bike.Contact
		at     bike.PlaceKind
		shaped bool
	}{{bike.Pad, bike.AtPad, true}, {bike.Pad, bike.AtPad, false}, {bike.Drop, bike.AtDrop, false}} {
		truth := bareTarget(c.hands)
		taped(rand.New(rand.NewPCG(1, 0)), truth, false, true)
		_, hands := truth.Contacts()
		if !c.shaped {
			truth.Unshaped(false, true)
		}
		b := truth.Bike
		b.Clipon = nil
		truth.Lose("bar post")
		truth.Lose("bar slide")
		said := func(s *Standing) bool { return strings.Contains(strings.Join(s.Assumptions, "\n"), "where the bar of") }
		s, err := Stand(b, nil, truth.Posture)
		require.NoError(t, err)
		arm, ok := s.Bike.Bar.Arms[c.hands]
		require.True(t, ok, "%+v", c)
		turn := s.Bike.Bar.Rotation.Mid()
		assert.InDelta(t, 0, s.Bike.BarAnchor.Add(arm.At.Turn(turn)).Distance(hands.At), 1e-6, "%+v", c)
		assert.Equal(t, c.shaped, said(s), "%+v", c)
		b.BarAnchor = nil
		s, err = Stand(b, nil, truth.Posture)
		if c.shaped && err != nil {
			continue // nothing says where the bar is
		}
		require.NoError(t, err)
		assert.False(t, said(s))
	}
}

// Hoods of their own whose angle nobody read, on a bar that may be turned: they lie as the bar does in the middle of what it may be,
// and stand where they were read.
func TestHoodsWithAPlaceAndNoAngle(t *testing.T) {
	truth := bareTarget(bike.Hood)
	truth.Read(bike.Level, biketest.BB, biketest.At(bike.AtHood))
	truth.Read(bike.Plumb, biketest.BB, biketest.At(bike.AtHood))
	_, hands := truth.Contacts()
	truth.Unshaped(false, true)
	truth.Bike.BarAnchor = nil
	truth.Bike.Bar.Rotation = bike.Setting{Given: true, Free: true, Lo: plane.Rad(-5), Hi: plane.Rad(20)}
	s, err := Stand(truth.Bike, nil, truth.Posture)
	require.NoError(t, err)
	arm := s.Bike.Bar.Arms[bike.Hood]
	assert.True(t, arm.NoAngle)
	_, now := biketest.Standing(s.Bike, truth.Posture)
	assert.InDelta(t, 0, now.At.Distance(hands.At), 1e-6)
}

// A reading that hangs on a part still to be chosen says nothing, and that is said.
func TestReadingsToOpenPartsAreToldUnused(t *testing.T) {
	b := biketest.Parsed(t, seated(741, 61, -1))
	b.Bar.Open = true
	s, err := Stand(b, nil, b.Postures[0])
	require.NoError(t, err)
	assert.Contains(t, strings.Join(s.Assumptions, "\n"), "which bar bike.toml has now is not said, so 2 of its readings are left out")
}

// Where only the lever is still to be chosen, or may slide, what was read of the hoods is left out and the rest of the bar is not.
func TestReadingsOfALeverToBeChosen(t *testing.T) {
	for _, spec := range []func(b *bike.Bike){
		func(b *bike.Bike) { b.Bar.Lever.Open = true },
		func(b *bike.Bike) { b.Bar.LeverAt = bike.Setting{Given: true, Free: true, Lo: -5, Hi: 10} },
	} {
		truth := bareTarget(bike.Hood)
		taped(rand.New(rand.NewPCG(1, 0)), truth, false, false)
		truth.Read(bike.Level, biketest.BB, biketest.At(bike.AtBar))
		truth.Read(bike.Plumb, biketest.BB, biketest.At(bike.AtBar))
		truth.Level(bike.HoodBody)
		hoods := 0
		for _, r := range truth.Bike.Readings {
			if r.From.Kind == bike.AtHood && r.Kind != bike.Angle || r.To.Kind == bike.AtHood || r.Kind == bike.Angle && r.Of == bike.HoodBody {
				hoods++
			}
		}
		require.Positive(t, hoods)
		spec(truth.Bike)
		s, err := Stand(truth.Bike, nil, truth.Posture)
		require.NoError(t, err)
		assert.Contains(t, strings.Join(s.Assumptions, "\n"), fmt.Sprintf("so %d of its readings are left out", hoods))
	}
}
