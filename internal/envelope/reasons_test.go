package envelope

import (
	"context"
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
	"carryover/internal/carry"
	"carryover/internal/cockpit"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// A seat wanted 30 mm behind the end of the slide: the slide is named, and the hands are looked for where they are once the
// saddle has come as near as it goes.
func TestWhatIsOutOfReachSaysWhatHoldsItBack(t *testing.T) {
	m := machine(t, "studio")
	pos := locate.Position{Posture: bike.Posture{Hands: bike.Hood, Support: 122, Weights: bike.DefaultWeights()},
		Sit:   assembly.Contact{Name: bike.Sit, At: plane.Point{X: -330, Y: 690}},
		Hands: assembly.Contact{Name: bike.Hood, At: plane.Point{X: 420, Y: 660}}}
	source := &bike.Bike{Feet: m.Bike.Feet}
	rooms, crank, err := m.Rooms(context.Background(), &pos, source, carry.Options{})
	require.NoError(t, err)
	assert.Equal(t, m.Bike.Feet.Crank, crank)
	require.Len(t, rooms, 2)
	require.False(t, rooms[0].Inside)
	assert.Contains(t, rooms[0].HeldBy, "saddle slide")
	assert.Greater(t, rooms[1].Want.At.X, pos.Hands.At.X+10, "the hands follow the saddle that was got")
	still, _, err := m.Rooms(context.Background(), &pos, source, carry.Options{HandsFixed: true})
	require.NoError(t, err)
	assert.InDelta(t, pos.Hands.At.X, still[1].Want.At.X, 1e-9)
}

func TestAnAdjusterWithoutStopsIsNamed(t *testing.T) {
	m := machine(t, "studio")
	assert.Empty(t, m.Unbound)
	b := *m.Bike
	b.Adjusters = append([]bike.Adjuster(nil), b.Adjusters...)
	b.Adjusters[1].NoRange = true
	m, err := New(&b)
	require.NoError(t, err)
	assert.Equal(t, []string{"saddle slide"}, m.Unbound)
}

// How far it turns from the wanted angle counts from the contact's own angle, not the bar's.
func TestTheRoomToTurnCountsFromTheContact(t *testing.T) {
	m := machine(t, "studio")
	_, offset, _ := m.fit.Bar.HoodContact(m.fit.Lever, m.Bike.Bar.LeverAt.Lo)
	require.NotZero(t, offset)
	want := assembly.Contact{Name: bike.Hood, At: plane.Point{X: 500, Y: 660}, Angle: offset + plane.Rad(2)}
	r := room(carry.Judged(want, want, true), m.bar, m.arms(bike.Hood))
	assert.InDelta(t, 14, plane.Deg(r.TurnDown), 1e-9, "from -12 to 2")
	assert.InDelta(t, 10, plane.Deg(r.TurnUp), 1e-9, "from 2 to 12")
}

// A lever free along its bar is tried every millimetre, from one end to the other.
func TestAFreeLeverIsTriedFromEndToEnd(t *testing.T) {
	m := machine(t, "studio")
	b := *m.Bike
	b.Bar.LeverAt = bike.Setting{Given: true, Free: true, Lo: 2, Hi: 6.5}
	m, err := New(&b)
	require.NoError(t, err)
	arms := m.arms(bike.Hood)
	require.Len(t, arms, 6, "2, 3, 4, 5, 6 and 6.5")
	for i, q := range []float64{2, 3, 4, 5, 6, 6.5} {
		at, angle, _ := m.fit.Bar.HoodContact(m.fit.Lever, q)
		assert.Equal(t, at, arms[i].at[0])
		assert.Equal(t, angle, arms[i].offset)
	}
}

func TestStepsWithoutNumberAreRefused(t *testing.T) {
	m := machine(t, "studio")
	for steps, ok := range map[float64]bool{0.1: true, 0.05: false} { // 301 · 161, or 601 · 321 places
		b := *m.Bike
		b.Adjusters = append([]bike.Adjuster(nil), b.Adjusters...)
		b.Adjusters[0].Step, b.Adjusters[1].Step = steps, steps
		_, err := New(&b)
		if ok {
			assert.NoError(t, err)
		} else {
			assert.ErrorContains(t, err, "more than 100000 places")
		}
	}
}

func TestWhatIsMeasured(t *testing.T) {
	m := machine(t, "studio")
	list, err := m.Extremes(context.Background())
	require.NoError(t, err)
	var names []string
	for _, e := range list {
		names = append(names, e.Name)
		assert.Less(t, e.Least, e.Greatest, e.Name)
	}
	assert.Equal(t, []string{"saddle-height", "setback", "reach to hood", "drop to hood", "reach to drop", "drop to drop", "reach to pad",
		"drop to pad", "pad height", "pad height above the floor", "bar height", "bar height above the floor"}, names)
}

// Pads whose tilt counts from the bar turn with it.
func TestTurnsOnTurns(t *testing.T) {
	free := bike.Turns{Range: plane.Range{Lo: -0.1, Hi: 0.2}}
	still := bike.Turns{Range: plane.Range{Lo: 0.05, Hi: 0.05}}
	steps := bike.Turns{Values: []float64{0, 0.1}}
	more := bike.Turns{Values: []float64{-0.3, 0.01}}
	assert.Equal(t, plane.Range{Lo: -0.05, Hi: 0.25}, roundedTurn(sums(free, still).Range))
	assert.Empty(t, sums(free, still).Values)
	assert.InDeltaSlice(t, []float64{0.05, 0.15}, sums(steps, still).Values, 1e-12)
	assert.InDeltaSlice(t, []float64{-0.3, -0.2, 0.01, 0.11}, sums(steps, more).Values, 1e-12)
	assert.Empty(t, sums(steps, free).Values, "with the other free there are no steps left to stand on")
	assert.Equal(t, plane.Range{Lo: -0.1, Hi: 0.3}, roundedTurn(sums(steps, free).Ends()))
}

func roundedTurn(r plane.Range) plane.Range {
	return plane.Range{Lo: math.Round(r.Lo*1e9) / 1e9, Hi: math.Round(r.Hi*1e9) / 1e9}
}

// compass are the directions of Compass, drawn by hand: x is forward, y up.
var compass = [8]plane.Point{{X: 1}, {X: 1, Y: 1}, {Y: 1}, {X: -1, Y: 1}, {X: -1}, {X: -1, Y: -1}, {Y: -1}, {X: 1, Y: -1}}

// A machine has the regions of what is fitted, and of nothing else.
func TestRegionsAreOfWhatIsFitted(t *testing.T) {
	b := *machine(t, "studio").Bike
	b.Clipon = nil
	for name, on := range map[string]*bike.Bike{"": &b, " pad": machine(t, "studio").Bike} {
		m, err := New(on)
		require.NoError(t, err)
		var names []string
		for _, g := range m.Regions() {
			names = append(names, g.Name)
		}
		assert.Equal(t, "saddle.nose saddle.mid bar hood drop"+name, strings.Join(names, " "))
	}
}

// Pads are looked for at every hole on every riser, each as it is bolted.
func TestPadsAtEveryHoleOnEveryRiser(t *testing.T) {
	b := *machine(t, "studio").Bike
	clipon := *biketest.Example(t, "tri").Clipon
	clipon.Hole, clipon.Stack = bike.Setting{}, bike.Setting{}
	b.Clipon = &clipon
	m, err := New(&b)
	require.NoError(t, err)
	shape := m.fit.Clipon
	require.Greater(t, len(shape.Holes)*len(shape.Stacks), 4)
	arms := m.arms(bike.Pad)
	require.Len(t, arms, 1)
	require.Len(t, arms[0].at, len(shape.Holes)*len(shape.Stacks))
	for _, hole := range shape.Holes {
		for _, stack := range shape.Stacks {
			fitted := clipon
			fitted.Hole, fitted.Stack = bike.Fixed(hole), bike.Fixed(stack)
			bolted := b
			bolted.Clipon = &fitted
			pad := assembly.New(&bolted, bike.Posture{Hands: bike.Pad}).Pad.At
			require.True(t, slices.ContainsFunc(arms[0].at, func(p plane.Point) bool { return p.Distance(pad) < 1e-9 }),
				"hole %g, risers %g", hole, stack)
		}
	}
}

// How far out a contact is has one measure, the carry's: with the angle as near as it goes, leg extension counts three times. Of
// all places of the region none is nearer in it than the one that is pointed out.
func TestOutOfReachIsWhatACarryMissesBy(t *testing.T) {
	r := rand.New(rand.NewPCG(seed, 11))
	for _, name := range []string{"studio", "outdoor"} {
		m := machine(t, name)
		source, out := &bike.Bike{Feet: m.Bike.Feet}, 0
		for range 40 {
			pos := locate.Position{Posture: bike.Posture{Hands: bike.Hood, Support: 122, Weights: bike.DefaultWeights()},
				Sit: assembly.Contact{Name: bike.Sit, At: plane.Point{X: -200 + 150*r.NormFloat64(), Y: 690 + 150*r.NormFloat64()},
					Angle: plane.Rad(r.NormFloat64())},
				Hands: assembly.Contact{Name: bike.Hood, At: plane.Point{X: 480 + 150*r.NormFloat64(), Y: 660 + 150*r.NormFloat64()}}}
			s, err := carry.Solve(context.Background(), m.Bike, source, &pos, carry.Options{})
			require.NoError(t, err)
			rooms, _, err := m.Rooms(context.Background(), &pos, source, carry.Options{})
			require.NoError(t, err)
			require.Len(t, rooms, 2)
			for i, room := range rooms {
				require.Equal(t, s.Contacts[i], room.Carried)
				if room.Inside {
					require.GreaterOrEqual(t, room.Nearest, 0.0)
					for k, d := range compass { // what is left in each direction ends on the border
						_, off := border(room.Region.Polygon, room.Want.At.Add(d.Scale(room.Along[k]/d.Norm())))
						require.InDelta(t, 0, off, 1e-6, "seed %d, %s, %s", seed, room.Want.Name, Compass[k])
					}
					continue
				}
				out++
				require.Equal(t, -s.Contacts[i].Miss, room.Nearest)
				require.InDelta(t, 0, room.Want.At.Add(room.Toward.Scale(room.Miss)).Distance(room.Got.At), 1e-9)
				w := pos.Posture.Weights
				metric := plane.Metric{Line: room.Want.At.Scale(1 / room.Want.At.Norm()), Along: w.Extension, Across: w.Setback}
				if i == 1 {
					metric.Along, metric.Across = 1, 1
				}
				cost := func(p plane.Point) float64 { return metric.Flat(p.Sub(room.Want.At)).Norm() }
				pieces := room.Region.Pieces
				if !room.Region.Stepped() {
					pieces = [][]plane.Point{room.Region.Polygon}
				}
				for _, poly := range pieces {
					for k, a := range poly {
						for f := range 20 {
							at := a.Add(poly[(k+1)%len(poly)].Sub(a).Scale(float64(f) / 20))
							require.LessOrEqual(t, cost(room.Got.At), cost(at)+1e-6, "seed %d, %s", seed, room.Want.Name)
						}
					}
				}
			}
		}
		require.Greater(t, out, 30, name)
	}
}

// On steps the border is that of what lies between them too; what a carry misses by says the rest.
func TestBetweenTwoStepsIsInsideAndMisses(t *testing.T) {
	m := machine(t, "outdoor")
	stem := *m.Bike.Stem
	stem.Spacers = bike.Spacers{Given: true, Free: true, Max: 40, Step: 20}
	b := *m.Bike
	b.Stem, b.Bar.Rotation = &stem, bike.Fixed(0)
	m, err := New(&b)
	require.NoError(t, err)
	steerer, _ := b.Steerer()
	arm := m.arms(bike.Hood)[0]
	pos := locate.Position{Posture: bike.Posture{Hands: bike.Hood, Support: 122, Weights: bike.DefaultWeights()},
		Sit: assembly.Contact{Name: bike.Sit, At: plane.Point{X: -200, Y: 690}},
		Hands: assembly.Contact{Name: bike.Hood, Angle: arm.offset,
			At: steerer.BarClamp(*b.Stem.Only(), b.Stem.Flipped(), 7).Add(arm.at[0])}}
	rooms, _, err := m.Rooms(context.Background(), &pos, &bike.Bike{Feet: b.Feet}, carry.Options{HandsFixed: true})
	require.NoError(t, err)
	require.Len(t, rooms, 2)
	assert.True(t, rooms[1].Inside)
	assert.InDelta(t, 7, rooms[1].Miss, 1e-6, "7 mm up the steerer from the step at 0")
	assert.Equal(t, []string{"stem.spacers"}, rooms[1].HeldBy)
}

// Where nothing fitted gives the hands a place, the seat's room is as with any hands.
func TestTheSeatHasRoomWithoutAPlaceForTheHands(t *testing.T) {
	m := machine(t, "outdoor")
	pos := locate.Position{Posture: bike.Posture{Hands: bike.Pad, Support: 122, Weights: bike.DefaultWeights()},
		Sit: assembly.Contact{Name: bike.Sit, At: plane.Point{X: -500, Y: 690}}, Hands: assembly.Contact{Name: bike.Pad}}
	source := &bike.Bike{Feet: m.Bike.Feet}
	padless, _, err := m.Rooms(context.Background(), &pos, source, carry.Options{})
	require.NoError(t, err)
	require.Len(t, padless, 1)
	pos.Posture.Hands, pos.Hands.Name = bike.Hood, bike.Hood
	rooms, _, err := m.Rooms(context.Background(), &pos, source, carry.Options{})
	require.NoError(t, err)
	assert.Equal(t, rooms[0].Carried, padless[0].Carried)
	assert.Equal(t, rooms[0].HeldBy, padless[0].HeldBy)
	assert.False(t, rooms[0].Inside)
}

func TestAFlippedStemStaysFlipped(t *testing.T) {
	m := machine(t, "outdoor")
	stem := *m.Bike.Stem
	upright, over := false, true
	for _, flip := range []*bool{nil, &upright, &over} {
		stem.Flip = flip
		b := *m.Bike
		b.Stem = &stem
		m, err := New(&b)
		require.NoError(t, err)
		assert.Equal(t, flip == &over, *m.Bike.Stem.Flip)
		assert.Len(t, m.Bike.Stem.Options, 1)
	}
}

// What a region says of its part: whether it turns, and where the steps of what moves it stand.
func TestStepsAndTurnsOfARegion(t *testing.T) {
	for _, c := range []struct {
		tilt bike.Setting
		free bool
	}{{bike.Fixed(0.02), false}, {bike.Setting{Given: true, Free: true, Lo: -0.1, Hi: 0.1}, true}} {
		b := *machine(t, "studio").Bike
		b.Saddle.Tilt = c.tilt
		m, err := New(&b)
		require.NoError(t, err)
		assert.Equal(t, c.free, m.Regions()[0].TurnFree)
	}
	turned := *machine(t, "studio").Bike
	turned.Adjusters = append(append([]bike.Adjuster(nil), turned.Adjusters...),
		bike.Adjuster{Name: "tilt", Moves: bike.MovesSaddleTilt, Unit: 0.01, Lo: -3, Hi: 3, Step: 2})
	m, err := New(&turned)
	require.NoError(t, err)
	assert.True(t, m.Regions()[0].TurnFree, "on steps")
	turned.Adjusters[len(turned.Adjusters)-1].Hi = -3
	m, err = New(&turned)
	require.NoError(t, err)
	assert.False(t, m.Regions()[0].TurnFree, "on one step")

	b := *machine(t, "studio").Bike
	b.Adjusters = append([]bike.Adjuster(nil), b.Adjusters...)
	slide := &b.Adjusters[1]
	slide.Lo, slide.Hi, slide.Step = -1, 4, 2.5 // cm
	m, err = New(&b)
	require.NoError(t, err)
	var places []plane.Point
	for _, at := range []float64{-10, 15, 40} {
		places = append(places, b.SaddleAnchor.Add(plane.Point{X: at}))
	}
	require.Len(t, m.saddle.places, 3)
	for i, p := range places {
		assert.InDelta(t, 0, p.Distance(m.saddle.places[i]), 1e-9)
	}
}

// What a machine lacks is said, and what is taken for fitted although its slot is open.
func TestWhatAMachineLacks(t *testing.T) {
	for want, change := range map[string]func(b *bike.Bike){
		"where its saddle clamp is": func(b *bike.Bike) { b.SaddleAnchor = nil },
		"has no saddle:":            func(b *bike.Bike) { b.Saddle.Slot = bike.Slot[saddle.Shape]{} },
		"has no saddle part":        func(b *bike.Bike) { b.Saddle = bike.SaddleFit{Arm: &bike.Arm{}} },
		"where its bar can be":      func(b *bike.Bike) { b.BarAnchor = nil },
	} {
		b := *machine(t, "studio").Bike
		change(&b)
		_, err := New(&b)
		assert.ErrorContains(t, err, want)
	}
	b := *machine(t, "studio").Bike
	fit := *b.Clipon
	fit.Open, b.Clipon = true, &fit
	b.Saddle.Open, b.Bar.Open, b.Bar.Lever.Open = true, true, true
	m, err := New(&b)
	require.NoError(t, err)
	assert.Equal(t, []string{"saddle classic-280", "bar classic-420", "lever lever-full", "clipon clip-stepless"}, m.Fitted)
	assert.Empty(t, machine(t, "studio").Fitted)
	b.Bar.Lever = bike.Slot[cockpit.Lever]{}
	m, err = New(&b)
	require.NoError(t, err)
	assert.Equal(t, []string{"saddle classic-280", "bar classic-420", "clipon clip-stepless"}, m.Fitted)

	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	b.Adjusters = append([]bike.Adjuster(nil), b.Adjusters...)
	b.Adjusters[0].Step, b.Saddle.Tilt = 1, bike.Fixed(0)
	stepped, err := New(&b)
	require.NoError(t, err)
	_, err = stepped.Extremes(ctx)
	assert.ErrorContains(t, err, "stopped before the least saddle height was proven")
}
