package locate

import (
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
	"carryover/internal/cockpit"
	"carryover/internal/lsq/lsqtest"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

func place(k bike.PlaceKind) bike.Place { return bike.Place{Kind: k} }

func slot[T any](part *T) bike.Slot[T] {
	return bike.Slot[T]{Options: []bike.Option[T]{{Part: part}}}
}

// plain is a bike with a saddle whose straightedge it touches everywhere, and hands in the posture asked for.
func plain(t *testing.T, hands bike.Contact) *bike.Bike {
	t.Helper()
	shape, err := saddle.New(280, [][2]float64{{0, 40}, {240, 140}, {280, 100}}, [][2]float64{{0, 0}, {280, 0}}, 5, saddle.Rail{Height: 48,
		From: 100, To: 180})
	require.NoError(t, err)
	floor, seat := 270.0, plane.Rad(73)
	b := &bike.Bike{File: "plain"}
	b.Frame.BBHeight, b.Frame.SeatAngle = &floor, &seat
	b.Saddle.Slot = slot(shape)
	b.Postures = []bike.Posture{{Name: "p", Hands: hands, Support: 90, Weights: bike.DefaultWeights()}}
	return b
}

func reading(kind bike.Kind, from, to bike.Place, value float64) bike.Reading {
	return bike.Reading{Kind: kind, From: from, To: to, Value: value, Sigma: 2}
}

func tilted(of bike.Body, deg float64) bike.Reading {
	return bike.Reading{Kind: bike.Angle, Of: of, Value: plane.Rad(deg), Sigma: plane.Rad(0.5)}
}

// Exact readings of every kind give back the position in closed form (Pythagoras on a level saddle, the mid
// 140 mm behind the nose).
func TestPositionsInClosedForm(t *testing.T) {
	bb, floor := place(bike.AtBB), place(bike.AtFloor)
	hands := []bike.Reading{tilted(bike.HoodBody, 6), reading(bike.Level, on(saddle.Nose), place(bike.AtHood), 560), reading(bike.Plumb,
		place(bike.AtHood), on(saddle.Mid), 60)}
	setback := reading(bike.Level, on(saddle.Nose), bb, 50)
	level := tilted(bike.SaddleBody, 0)
	for _, c := range []struct {
		name     string
		readings []bike.Reading
		nose     plane.Point
	}{
		{"saddle height and setback", []bike.Reading{reading(bike.Line, bb, on(saddle.Mid), 740), setback, level}, plane.Point{X: -50,
			Y: math.Sqrt(740*740 - 190*190)}},
		{"saddle height to the tail", []bike.Reading{reading(bike.Line, bb, on(saddle.Tail), 740), setback, level}, plane.Point{X: -50,
			Y: math.Sqrt(740*740 - 330*330)}},
		{"a height from the floor", []bike.Reading{reading(bike.Plumb, floor, on(saddle.Mid), 985), setback, level}, plane.Point{X: -50, Y: 715}},
		{"along the seat tube", []bike.Reading{{Kind: bike.SeatTube, Value: 740, Sigma: 3}, setback, level}, plane.Point{X: -50,
			Y: 740 * math.Sin(plane.Rad(73))}},
		{"two tapes from the BB", []bike.Reading{reading(bike.Line, bb, on(saddle.Nose), 710), reading(bike.Line, bb, on(saddle.Tail), 790),
			level},
			plane.Point{X: (710*710 - 790*790 + 280*280) / (2 * 280.0), Y: math.Sqrt(710*710 - math.Pow((710*710-790*790+280*280)/(2*280.0), 2))}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := plain(t, bike.Hood)
			b.Readings = append(append([]bike.Reading(nil), c.readings...), hands...)
			a, err := Adjust(b, nil, Options{})
			require.NoError(t, err)
			require.NoError(t, a.Err())
			assert.InDelta(t, 0, a.Placement.Poses[assembly.Saddle].Origin.Distance(c.nose), 1e-6)
			p, err := a.Position(b.Postures[0])
			require.NoError(t, err)
			assert.InDelta(t, 0, p.Hands.At.Distance(plane.Point{X: c.nose.X + 560, Y: c.nose.Y - 60}), 1e-6)
			assert.InDelta(t, plane.Rad(6), p.Hands.Angle, 1e-9)
			station, _ := b.Saddle.Only().WidthStation(90)
			assert.InDelta(t, 0, p.Sit.At.Distance(plane.Point{X: c.nose.X - station, Y: c.nose.Y - 5}), 1e-6, "the rider sinks in by the sag")
		})
	}
}

// Error propagation by hand: on a level saddle a plumb reading and a setback are the two coordinates, so
// their uncertainties are the nose's own; the sit contact adds the lever arm of the tilt.
func TestUncertaintyInClosedForm(t *testing.T) {
	b := plain(t, bike.Hood)
	b.Readings = []bike.Reading{reading(bike.Plumb, place(bike.AtBB), on(saddle.Nose), 720), reading(bike.Level, on(saddle.Nose),
		place(bike.AtBB), 50), tilted(bike.SaddleBody, 0),
		tilted(bike.HoodBody, 6), reading(bike.Level, place(bike.AtBB), place(bike.AtHood), 500), reading(bike.Plumb, place(bike.AtBB),
			place(bike.AtHood), 650)}
	a, err := Adjust(b, nil, Options{})
	require.NoError(t, err)
	p, err := a.Position(b.Postures[0])
	require.NoError(t, err)
	station, _ := b.Saddle.Only().WidthStation(90)
	assert.InDelta(t, math.Hypot(2, station*plane.Rad(0.5)), p.Sigma(1), 1e-6)
	assert.InDelta(t, 2, p.Sigma(3), 1e-6)
	assert.InDelta(t, plane.Rad(0.5), p.Sigma(5), 1e-9)
}

func TestWhatIsNeitherStatedNorReadIsAssumed(t *testing.T) {
	base := func() *bike.Bike {
		b := plain(t, bike.Hood)
		b.Bar = bike.BarFit{Slot: slot(&cockpit.Bar{Reach: 80, Drop: 130, Bend: 40}), Lever: slot(&cockpit.Lever{Along: 30, Out: 20}),
			LeverAt: bike.Fixed(0)}
		b.Readings = []bike.Reading{reading(bike.Line, place(bike.AtBB), on(saddle.Mid), 740), reading(bike.Level, on(saddle.Nose),
			place(bike.AtBB), 50),
			reading(bike.Level, on(saddle.Nose), place(bike.AtBar), 480), reading(bike.Plumb, place(bike.AtBar), on(saddle.Mid), 80)}
		return b
	}
	assumed := func(b *bike.Bike) (names []string) {
		a, err := Adjust(b, nil, Options{})
		require.NoError(t, err)
		require.NoError(t, a.Err())
		for _, o := range a.Observations {
			if o.Origin == FromAssumption {
				names = append(names, o.Name)
				assert.Zero(t, o.Value.Value())
				assert.InDelta(t, 1.5, plane.Deg(o.Sigma), 1e-12)
			}
		}
		assert.Len(t, a.Assumptions(), len(names))
		return names
	}
	assert.Equal(t, []string{"saddle.tilt", "bar.rotation"}, assumed(base()))

	b := base()
	b.Saddle.Tilt = bike.Fixed(plane.Rad(-2))
	assert.Equal(t, []string{"bar.rotation"}, assumed(b), "a stated tilt counts as read to half a degree")

	b = base()
	b.Readings = append(b.Readings, tilted(bike.HoodBody, 3), tilted(bike.SaddleBody, 1))
	assert.Empty(t, assumed(b), "the angle of a hood on a bar is the bar's rotation")

	b = base()
	b.Adjusters = []bike.Adjuster{{Name: "tilt", Moves: bike.MovesSaddleTilt, Unit: plane.Rad(1), Lo: -5, Hi: 5, Sigma: plane.Rad(0.3)}}
	assert.Equal(t, []string{"saddle.tilt", "bar.rotation"}, assumed(b))
	b.Marks = map[string]float64{"tilt": 2}
	assert.Equal(t, []string{"bar.rotation"}, assumed(b), "a mark counts as a reading")
}

// Marks alone place a bike that hangs on anchors; what a mark says and what a tape says are averaged by
// their weights (1/σ²).
func TestMarksAreObservations(t *testing.T) {
	b := plain(t, bike.Hood)
	b.Saddle.ClampAt, b.Saddle.Tilt = bike.Fixed(140), bike.Fixed(0)
	b.SaddleAnchor = &plane.Point{X: -150, Y: 500}
	b.Adjusters = []bike.Adjuster{{Name: "post", Moves: bike.MovesSaddle, Angle: math.Pi / 2, Unit: 10, Hi: 30, Sigma: 0.5}}
	b.Marks = map[string]float64{"post": 17}
	b.Readings = []bike.Reading{tilted(bike.HoodBody, 6), reading(bike.Level, place(bike.AtBB), place(bike.AtHood), 500), reading(bike.Plumb,
		place(bike.AtBB), place(bike.AtHood), 650)}
	a, err := Adjust(b, nil, Options{})
	require.NoError(t, err)
	require.NoError(t, a.Err())
	assert.InDelta(t, 0, a.Placement.Poses[assembly.Saddle].Origin.Distance(plane.Point{X: -10, Y: 500 + 170 + 48}), 1e-9)

	b.Readings = append(b.Readings, reading(bike.Plumb, place(bike.AtBB), on(saddle.Mid), 721))
	b.Readings[3].Sigma = 1
	a, err = Adjust(b, nil, Options{})
	require.NoError(t, err)
	y := a.Placement.Poses[assembly.Saddle].Origin.Y
	// At level the middle lies over the clamp, so the tilt does not move it.
	assert.InDelta(t, (718/(0.5*0.5)+721/1.0)/(1/(0.5*0.5)+1), y, 1e-3)
}

// The derivatives that the adjustment is given, for bikes through marks, stems, clip-ons and free bodies.
func TestDerivativesOfTheAdjustment(t *testing.T) {
	const seed = 111
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for _, name := range []string{"road", "tri", "studio"} {
		b := biketest.Example(t, name)
		if name == "studio" {
			b.Postures = []bike.Posture{{Name: "p", Hands: bike.Hood, Support: 100}}
			b.Readings = biketest.Example(t, "road").Readings
			b.Saddle.ClampAt = bike.Setting{Given: true, Free: true, Lo: 110, Hi: 170}
		}
		a, err := Adjust(b, nil, Options{})
		require.NoError(t, err)
		p := a.problem()
		for range 20 {
			x := append([]float64(nil), a.solution().X...)
			for i := range x {
				x[i] += r.NormFloat64() * 0.1 * p.Scale[i]
			}
			require.Less(t, lsqtest.JacobianError(p.Model, x, p.Sigmas, p.Scale), 1e-5, name)
		}
	}
}

// The rows that carry the covariance to the contacts, against differences of the contacts themselves.
func TestContactRowsAgainstDifferences(t *testing.T) {
	for _, name := range []string{"road", "tri"} {
		a, err := Adjust(biketest.Example(t, name), nil, Options{})
		require.NoError(t, err)
		for _, p := range a.model.layout.Bike.Postures {
			sit, _ := a.Placement.SitMount(p.Support)
			for _, m := range []assembly.Mount{sit, a.Placement.HandMount(p.Hands)} {
				rows := a.contactRows(m)
				x := a.solution().X
				for j := range x {
					h := 1e-5 * a.model.scales[j]
					at := func(d float64) assembly.Contact {
						y := append([]float64(nil), x...)
						y[j] += d
						return a.standing(y).At("", m)
					}
					up, down := at(h), at(-h)
					assert.InDelta(t, (up.At.X-down.At.X)/(2*h), rows[0][j], 1e-4)
					assert.InDelta(t, (up.At.Y-down.At.Y)/(2*h), rows[1][j], 1e-4)
					assert.InDelta(t, (up.Angle-down.Angle)/(2*h), rows[2][j], 1e-6)
				}
			}
		}
	}
}

// A bar with a shape has a place where an anchor or a stem holds it, whether the hands ask for it or not, and where they do.
func TestWhatHoldsABarGivesItAPlace(t *testing.T) {
	for _, c := range []struct {
		why  string
		spec func(b *bike.Bike)
		want bool
	}{
		{"nothing", func(*bike.Bike) {}, false},
		{"an anchor", func(b *bike.Bike) { b.BarAnchor = &plane.Point{X: 420, Y: 640} }, true},
		{"a stem", func(b *bike.Bike) { b.Stem = &bike.StemFit{} }, true},
		{"an anchor, of a bar without a shape", func(b *bike.Bike) {
			b.BarAnchor, b.Bar.Slot = &plane.Point{X: 420, Y: 640},
				bike.Slot[cockpit.Bar]{}
		}, false},
		{"the hands", func(b *bike.Bike) { b.Bar.Slot.Options[0].Part.Hood = &plane.Point{X: 80, Y: 20} }, true},
	} {
		b := plain(t, bike.Hood)
		b.Bar = bike.BarFit{Slot: slot(&cockpit.Bar{})}
		c.spec(b)
		b.Readings = []bike.Reading{reading(bike.Plumb, place(bike.AtBB), on(saddle.Nose), 720)}
		a, err := Adjust(b, nil, Options{})
		require.NoError(t, err)
		assert.Equal(t, c.want, a.Uses(assembly.Bar), c.why)
	}
}

// Without a saddle part nothing says where the rider sits, whatever was read of the hands, until a mark put there is read.
func TestNobodySitsOnASaddleThatWasNotRead(t *testing.T) {
	bb := place(bike.AtBB)
	hands := []bike.Reading{reading(bike.Level, bb, place(bike.AtHood), 480), reading(bike.Plumb, bb, place(bike.AtHood), 650),
		tilted(bike.HoodBody, 3)}
	seat := []bike.Reading{reading(bike.Plumb, bb, on(saddle.Sit), 720), reading(bike.Level, bb, on(saddle.Sit), -200)}
	for _, readings := range [][]bike.Reading{nil, hands, seat, slices.Concat(hands, seat)} {
		b := plain(t, bike.Hood)
		b.Saddle.Slot, b.Readings = bike.Slot[saddle.Shape]{}, readings
		a, err := Adjust(b, nil, Options{})
		if !slices.ContainsFunc(readings, sits) {
			assert.ErrorContains(t, err, "nothing says where on it the rider sits")
			continue
		}
		require.NoError(t, err)
		pos, err := a.Position(b.Postures[0])
		if len(readings) == len(seat) {
			assert.ErrorContains(t, err, "how far forward the hoods are")
			continue
		}
		require.NoError(t, err)
		assert.InDelta(t, 0, pos.Sit.At.Distance(plane.Point{X: -200, Y: 720}), 1e-9)
	}
}

// A bar on a stem is where the stem holds it, whatever an anchor says; a reading pulls at neither.
func TestABarOnAStem(t *testing.T) {
	b := biketest.Example(t, "outdoor")
	b.Stem.Slot, b.Stem.Spacers = slot(&cockpit.Stem{Length: 100, Angle: plane.Rad(6), Height: 40}), bike.Spacers{Given: true, Fixed: 10}
	want, ok := b.OnStem()
	require.True(t, ok)
	b.BarAnchor = &plane.Point{X: 1, Y: 2}
	a, err := Adjust(b, nil, Options{})
	require.NoError(t, err)
	assert.InDelta(t, 0, want.Distance(a.Placement.Poses[assembly.Bar].Origin), 1e-9)
}

// What a reading would show is what it fits where it was taken, with the ± of that; nothing where its place is not known.
func TestWhatAReadingWouldShow(t *testing.T) {
	a, err := Adjust(biketest.Example(t, "road"), nil, Options{})
	require.NoError(t, err)
	judged := a.Judged()
	for i, r := range a.Placement.Bike.Readings {
		v, sigma, ok := a.Reads(r)
		require.True(t, ok, r.Written)
		assert.InDelta(t, judged[i].Fitted, v, 1e-9)
		assert.InDelta(t, r.Sigma*math.Sqrt(1-judged[i].Redundancy), sigma, 1e-9, "the share of its variance that the fit keeps")
	}
	_, _, ok := a.Reads(reading(bike.Level, place(bike.AtBB), place(bike.AtPad), 0))
	assert.False(t, ok)
}

// In an account a reading is suspect that was found to be wrong, or, where nothing is held against any, that is beyond the limit.
func TestWhichReadingsAreSuspect(t *testing.T) {
	for _, off := range []float64{0, 80} {
		b := wellChecked(t)
		b.Readings[3].Value += off
		a, err := Adjust(b, nil, Options{})
		require.NoError(t, err)
		account, err := a.Account()
		require.NoError(t, err)
		for i, r := range account.Readings {
			assert.Equal(t, off > 0 && (i == 3 || r.Normalized > a.Search.Limit), r.Suspect, r.Written)
		}
		if assert.Equal(t, off > 0, account.Aside != nil); off > 0 {
			for i, r := range account.Aside.Readings {
				assert.Equal(t, i == 3, r.Suspect, r.Written)
			}
		}
	}
}

// Where nobody has said how far apart the sit bones are, everything is told but how the rider sits.
func TestAnAccountWithoutSitBones(t *testing.T) {
	b := biketest.Example(t, "road")
	b.Postures[0].SitBones, b.Postures[0].Support = true, 0
	for _, c := range []struct {
		rider    *bike.Rider
		contacts int
	}{{nil, 0}, {&bike.Rider{SitBones: 102, Margin: 20}, 3}} {
		if c.rider != nil {
			b.Postures[0].Support = c.rider.SitWidth()
		}
		a, err := Adjust(b, c.rider, Options{})
		require.NoError(t, err)
		account, err := a.Account()
		require.NoError(t, err)
		assert.Len(t, account.Contacts, c.contacts)
		assert.NotEmpty(t, account.Points)
	}
}

// Leaving one reading out of a set without redundancy names what it fixed.
func TestWhatNothingFixesIsNamed(t *testing.T) {
	bb := place(bike.AtBB)
	seat := []bike.Reading{reading(bike.Plumb, bb, on(saddle.Nose), 720), reading(bike.Level, bb, on(saddle.Nose), -50),
		tilted(bike.SaddleBody, 0)}
	at := func(k bike.PlaceKind) []bike.Reading {
		return []bike.Reading{reading(bike.Level, bb, place(k), 480), reading(bike.Plumb, bb, place(k), 650)}
	}
	bar := func(b *bike.Bike) {
		b.Bar = bike.BarFit{Slot: slot(&cockpit.Bar{Reach: 80, Drop: 130, Bend: 40}), Lever: slot(&cockpit.Lever{Along: 30, Out: 20}),
			LeverAt: bike.Fixed(0), Rotation: bike.Fixed(0)}
	}
	for _, c := range []struct {
		name     string
		hands    bike.Contact
		fit      func(b *bike.Bike)
		readings []bike.Reading
		without  int
		unknowns []string
		proposed string
	}{
		{"no plumb line to the saddle", bike.Hood, nil, append(append(seat, at(bike.AtHood)...), tilted(bike.HoodBody, 6)), 0,
			[]string{"saddle.y"},
			"saddle-height at sit, floor-height of saddle.sit, seat-tube"},
		{"no plumb line, carried at a station", bike.Hood, func(b *bike.Bike) { b.Postures[0].Support, b.Postures[0].At = 0, new(120.0) },
			append(append(seat, at(bike.AtHood)...), tilted(bike.HoodBody, 6)), 0, []string{"saddle.y"},
			"saddle-height at sit, floor-height of saddle.sit, seat-tube"},
		{"no plumb line, and nobody says how wide the rider sits", bike.Hood, func(b *bike.Bike) { b.Postures[0].Support = 0 },
			append(append(seat, at(bike.AtHood)...), tilted(bike.HoodBody, 6)), 0, []string{"saddle.y"},
			"saddle-height, floor-height of saddle.mid, seat-tube"},
		{"no setback", bike.Hood, nil, append(append(seat, at(bike.AtHood)...), tilted(bike.HoodBody, 6)), 1, []string{"saddle.x"},
			"setback at sit, saddle-height at sit"},
		{"no reach", bike.Hood, nil, append(append(seat, at(bike.AtHood)...), tilted(bike.HoodBody, 6)), 3, []string{"hood.x"},
			"reach at sit to hood, line from bb to hood"},
		{"no drop", bike.Hood, nil, append(append(seat, at(bike.AtHood)...), tilted(bike.HoodBody, 6)), 4, []string{"hood.y"},
			"drop at sit to hood, floor-height of hood"},
		{"no reach to the bar", bike.Hood, bar, append(seat, at(bike.AtBar)...), 3, []string{"bar.x"},
			"nose-to-bar, reach at sit to bar"},
		{"no height of the bar", bike.Hood, bar, append(seat, at(bike.AtBar)...), 4, []string{"bar.y"},
			"drop at sit to bar, floor-height of bar"},
		{"no reach to the pad", bike.Pad, nil, append(append(seat, at(bike.AtPad)...), tilted(bike.PadBody, 6)), 3, []string{"pad.x"},
			"reach at sit to pad"},
		{"no reach to the drop", bike.Drop, nil, append(seat, at(bike.AtDrop)...), 3, []string{"drop.x"},
			"reach at sit to drop"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := plain(t, c.hands)
			if c.fit != nil {
				c.fit(b)
			}
			b.Readings = append([]bike.Reading(nil), c.readings...)
			a, err := Adjust(b, nil, Options{})
			require.NoError(t, err)
			require.NoError(t, a.Err(), "the whole set fixes everything")
			b.Readings = append(b.Readings[:c.without], b.Readings[c.without+1:]...)
			a, err = Adjust(b, nil, Options{})
			require.NoError(t, err)
			var names []string
			for _, g := range a.Missing {
				names = append(names, g.Name)
				assert.Equal(t, c.proposed, strings.Join(g.Readings, ", "))
			}
			assert.Equal(t, c.unknowns, names)
			_, err = a.Position(b.Postures[0])
			var missing *MissingError
			require.ErrorAs(t, err, &missing)
			assert.Len(t, missing.Shortest, 1, "one reading was left out, one fixes it")
		})
	}
}

// Without the angle of the hoods the rest is still known, and what is missing is named.
func TestHoodsWithoutAnAngleAreCarriedByTheirPlace(t *testing.T) {
	b := plain(t, bike.Hood)
	bb := place(bike.AtBB)
	b.Readings = []bike.Reading{reading(bike.Plumb, bb, on(saddle.Nose), 720), reading(bike.Level, bb, on(saddle.Nose), -50),
		tilted(bike.SaddleBody, 0),
		reading(bike.Level, bb, place(bike.AtHood), 480), reading(bike.Plumb, bb, place(bike.AtHood), 650)}
	a, err := Adjust(b, nil, Options{})
	require.NoError(t, err)
	p, err := a.Position(b.Postures[0])
	require.NoError(t, err)
	assert.True(t, p.NoAngle)
	assert.InDelta(t, 0, p.Hands.At.Distance(plane.Point{X: 480, Y: 650}), 1e-9)
	assert.Contains(t, strings.Join(a.Assumptions(), "\n"), "read hood-angle")

	b.Readings = append(b.Readings, tilted(bike.HoodBody, 6))
	a, err = Adjust(b, nil, Options{})
	require.NoError(t, err)
	p, err = a.Position(b.Postures[0])
	require.NoError(t, err)
	assert.False(t, p.NoAngle)
	assert.InDelta(t, plane.Rad(6), p.Hands.Angle, 1e-9)
}

// No list shorter than the proposed one fixes everything: every shorter set of candidates is tried.
func TestNoShorterListFixesEverything(t *testing.T) {
	whole := biketest.Example(t, "road")
	full, err := Adjust(whole, nil, Options{})
	require.NoError(t, err)
	longest := 0
	for _, keep := range [][]int{{0, 1, 2, 3, 4}, {0, 2, 3, 5}, {1, 2, 3, 4, 5}, {0, 1, 2, 5, 6}, {3, 4, 5, 6}, {0, 2, 5}} {
		b := *whole
		b.Readings = nil
		for _, i := range keep {
			b.Readings = append(b.Readings, whole.Readings[i])
		}
		a, err := Adjust(&b, nil, Options{})
		require.NoError(t, err)
		if len(a.Missing) == 0 {
			continue
		}
		all := a.Candidates()
		n := len(a.Shortest())
		longest = max(longest, n)
		require.LessOrEqual(t, n, 4, "a longer one would take long to prove")
		var try func(from int, chosen []bike.Reading)
		try = func(from int, chosen []bike.Reading) {
			if len(chosen) == n-1 {
				c := b
				c.Readings = append(append([]bike.Reading(nil), b.Readings...), chosen...)
				after, err := Adjust(&c, nil, Options{})
				require.NoError(t, err)
				require.NotEmpty(t, after.Missing, "%v: %v would do", keep, chosen)
				return
			}
			for i := from; i < len(all); i++ {
				r := all[i].Reading
				r.Value, _, err = full.Placement.ReadingOf(r)
				require.NoError(t, err)
				try(i+1, append(chosen[:len(chosen):len(chosen)], r))
			}
		}
		try(0, nil)
	}
	require.GreaterOrEqual(t, longest, 2, "some of them leave several readings to take")
}
