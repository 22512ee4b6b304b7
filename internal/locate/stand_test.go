package locate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
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
	for n := range tenth(4000) {
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
	for n := range tenth(300) {
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
		for _, k := range s.Shifts() {
			switch k.Kind {
			case ByObservation:
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
	for n := range tenth(300) {
		truth := biketest.Bike(r, []bike.Contact{bike.Hood, bike.Drop, bike.Pad}[r.IntN(3)])
		seat, unshaped := r.IntN(3) == 0, r.IntN(3) == 0
		taped(r, truth, seat, unshaped)
		truth.Unshaped(seat, unshaped)
		b := truth.Bike
		b.Frame.Pitch = biketest.Between(r, -0.03, 0.03)
		station := 0.0
		if !seat && r.IntN(2) == 0 {
			station, _ = truth.Stance.Shape.WidthStation(truth.Posture.Support)
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
