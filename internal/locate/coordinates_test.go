package locate

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/biketest"
	"carryover/internal/cockpit"
	"carryover/internal/plane"
)

// A position moved by a coordinate differs in that one, and only there.
func TestMovedMovesOneCoordinate(t *testing.T) {
	of := func(p Position) [Coordinates]float64 {
		return [Coordinates]float64{p.Sit.At.X, p.Sit.At.Y, p.Sit.Angle, p.Hands.At.X, p.Hands.At.Y, p.Hands.Angle, p.Second.At.X, p.Second.At.Y}
	}
	p := Position{Second: &assembly.Contact{}}
	for i := range Coordinates {
		want := [Coordinates]float64{}
		want[i] = 0.5
		assert.Equal(t, want, of(p.Moved(i, 0.5)), "coordinate %d", i)
	}
	assert.Zero(t, of(p), "what is moved is a copy")
}

// A position turned about the BB is T·p, its covariance T·C·T', T turning each place and adding to each angle.
func TestTurnedIsALinearMap(t *testing.T) {
	const seed, by = 62, 0.3
	r := rand.New(rand.NewPCG(seed, 0))
	at := func() assembly.Contact {
		return assembly.Contact{At: plane.Point{X: 400 * r.NormFloat64(), Y: 400 * r.NormFloat64()}, Angle: r.NormFloat64()}
	}
	second := at()
	p := Position{Sit: at(), Hands: at(), Second: &second}
	var half, turn [Coordinates][Coordinates]float64
	for i := range Coordinates {
		for j := range Coordinates {
			half[i][j] = r.NormFloat64()
		}
		turn[i][i] = 1
	}
	for _, k := range []int{0, 3, 6} {
		turn[k][k], turn[k][k+1], turn[k+1][k], turn[k+1][k+1] = math.Cos(by), -math.Sin(by), math.Sin(by), math.Cos(by)
	}
	product := func(a, b [Coordinates][Coordinates]float64, transposed bool) (c [Coordinates][Coordinates]float64) {
		for i := range Coordinates {
			for j := range Coordinates {
				for k := range Coordinates {
					if transposed {
						c[i][j] += a[i][k] * b[j][k]
					} else {
						c[i][j] += a[i][k] * b[k][j]
					}
				}
			}
		}
		return c
	}
	p.Cov = product(half, half, true)
	got, cov := p.Turned(by), product(product(turn, p.Cov, false), turn, true)
	for i := range Coordinates {
		want := 0.0
		for k := range Coordinates {
			want += turn[i][k] * p.Coordinate(k)
		}
		if i%3 == 2 {
			want += by
		}
		assert.InDelta(t, want, got.Coordinate(i), 1e-9, "coordinate %d", i)
		for j := range Coordinates {
			assert.InDelta(t, cov[i][j], got.Cov[i][j], 1e-9)
		}
	}
	assert.Equal(t, second, *p.Second, "what is turned is a copy")
	assert.Equal(t, p, p.Turned(0))
	p.Second = nil
	assert.Zero(t, p.Coordinate(6)+p.Coordinate(7), "there is none")
}

// Effects of a bike that is turned about its BB: how far each place moves turns with it, how far angles do not; the ones handed in stay.
func TestTurnedEffects(t *testing.T) {
	const by = 0.4
	e := Effect{At: [Coordinates]float64{3, 1, 0.2, -2, 5, 0.1, 4, -7}, Width: 2}
	got := Turned([]Effect{e}, by)[0]
	want := e
	for _, k := range []int{0, 3, 6} {
		want.At[k] = e.At[k]*math.Cos(by) - e.At[k+1]*math.Sin(by)
		want.At[k+1] = e.At[k]*math.Sin(by) + e.At[k+1]*math.Cos(by)
	}
	assert.InDeltaSlice(t, want.At[:], got.At[:], 1e-12)
	assert.Equal(t, e.Width, got.Width)
	assert.Equal(t, 3.0, e.At[0])
}

// What the adjustment lists of a body is where the body stands.
func TestValuesAreWhereBodiesStand(t *testing.T) {
	for _, name := range []string{"road", "tri"} {
		a, err := Adjust(biketest.Example(t, name), nil, Options{})
		require.NoError(t, err)
		got := map[string]float64{}
		for _, v := range a.Values() {
			got[v.Name] = v.Value.Value()
		}
		seat, bar := a.Placement.Poses[assembly.Saddle], a.Placement.Poses[assembly.Bar]
		for key, want := range map[string]float64{"saddle.x": seat.Origin.X, "saddle.y": seat.Origin.Y, "saddle.tilt": seat.Turn,
			"bar.x": bar.Origin.X, "bar.y": bar.Origin.Y} {
			require.Contains(t, got, key, name)
			assert.InDelta(t, want, got[key], 1e-9, "%s of %s", key, name)
		}
	}
}

// One position less another: what both depend on counts by the difference, everything else by itself, and coordinates go together
// where one cause moves both.
func TestApartInClosedForm(t *testing.T) {
	shared := Cause{Kind: ByFault, Fault: assembly.BarX, Part: "one bar", Sigma: 2}
	of := []Effect{{Cause: Cause{Kind: ByObservation, Sigma: 3}, At: [Coordinates]float64{1, 2}}, {Cause: shared, At: [Coordinates]float64{5,
		7}}}
	from := []Effect{{Cause: Cause{Kind: ByObservation, Sigma: 0.5}, At: [Coordinates]float64{4, -6}},
		{Cause: shared, At: [Coordinates]float64{2, 3}}}
	cov := Apart(of, from)
	assert.InDelta(t, 9*1*1+0.25*4*4+4*3*3, cov[0][0], 1e-12)
	assert.InDelta(t, 9*1*2-0.25*4*6+4*3*4, cov[0][1], 1e-12)
	assert.InDelta(t, cov[0][1], cov[1][0], 1e-12)
	assert.InDelta(t, 9*2*2+0.25*6*6+4*4*4, cov[1][1], 1e-12)
	assert.Zero(t, cov[2][2])
	assert.InDelta(t, math.Sqrt(9*2*2+4*7*7), Total(of, 1), 1e-12)
}

// A bar in use for the pads alone is not seen to turn, unless they turn with it.
func TestABarThatOnlyHoldsPadsHasNoTurn(t *testing.T) {
	truth := biketest.Bike(rand.New(rand.NewPCG(3, 0)), bike.Pad)
	taped(rand.New(rand.NewPCG(1, 0)), truth, false, true)
	truth.Bike.Bar.Slot = bike.Slot[cockpit.Bar]{}
	for fromBar, want := range map[bool]bool{false: false, true: true} {
		truth.Bike.Clipon.Only().TiltFromBar = fromBar
		a, err := Adjust(truth.Bike, nil, Options{})
		require.NoError(t, err)
		assert.Equal(t, want, slices.ContainsFunc(a.Values(), func(v Value) bool { return v.Name == bike.SetsRotation.Key() }))
	}
}

// Who carries the readings: the posture that is asked for, else the bike's first, else sit bones; a width that the posture
// leaves to the sit bones comes from the rider, one that it states does not.
func TestWhoCarriesTheReadings(t *testing.T) {
	rider := &bike.Rider{SitBones: 100, Margin: 20}
	bones, wide := bike.Posture{Name: "bones", SitBones: true}, bike.Posture{Name: "wide", Support: 90}
	filled := bike.Posture{SitBones: true, Support: 80}
	for _, c := range []struct {
		why     string
		own     []bike.Posture
		chosen  *bike.Posture
		rider   *bike.Rider
		support float64
	}{
		{"the first of the bike", []bike.Posture{wide, bones}, nil, rider, 90},
		{"the one that is asked for", []bike.Posture{wide, bones}, &bones, rider, 120},
		{"none", nil, nil, rider, 120},
		{"none, of nobody", nil, nil, nil, 0},
		{"already filled in", []bike.Posture{filled}, nil, rider, 80},
	} {
		assert.Equal(t, c.support, carriedBy(&bike.Bike{Postures: c.own}, c.rider, c.chosen).Support, c.why)
	}
}

// A bike that was read at where its rider sits is adjusted anew for a posture that is carried elsewhere, and only then.
func TestAdjustedForAnotherPosture(t *testing.T) {
	k := biketest.Bike(rand.New(rand.NewPCG(61, 0)), bike.Hood)
	here, there := 120.0, 150.0
	at := func(support float64, station *float64) bike.Posture {
		p := k.Posture
		p.Support, p.At = support, station
		return p
	}
	for _, c := range []struct {
		why      string
		sit      bool
		is, asks bike.Posture
		same     bool
	}{
		{"the same width", true, at(100, nil), at(100, nil), true},
		{"another width", true, at(100, nil), at(110, nil), false},
		{"the same station", true, at(0, &here), at(0, &here), true},
		{"another station", true, at(0, &here), at(0, &there), false},
		{"a station for a width", true, at(100, nil), at(100, &here), false},
		{"a width for a station", true, at(100, &here), at(100, nil), false},
		{"another width, nothing read there", false, at(100, nil), at(110, nil), true},
	} {
		t.Run(c.why, func(t *testing.T) {
			k.Bike.Readings, k.Bike.Postures = nil, []bike.Posture{c.is}
			k.Read(bike.Plumb, biketest.BB, biketest.Nose)
			if c.sit {
				k.Read(bike.Plumb, biketest.BB, biketest.Sit)
			}
			a, err := Adjust(k.Bike, nil, Options{})
			require.NoError(t, err)
			b, err := a.For(c.asks)
			require.NoError(t, err)
			assert.Equal(t, c.same, a == b)
			assert.Equal(t, c.asks.At, b.model.layout.SitAt)
		})
	}
}
