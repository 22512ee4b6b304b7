package confirm

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/bike"
	"carryover/internal/biketest"
	"carryover/internal/carry"
	"carryover/internal/plane"
)

// rider's bike: readings with errors, a saddle whose shape in the file is not quite its own, sometimes no shapes at all,
// sometimes no anchors or marks, ridden at a pitch or level.
func anyBike(r *rand.Rand, marked bool) *biketest.Truth {
	truth := biketest.Bike(r, bike.Hood)
	truth.Read(bike.Line, biketest.BB, biketest.Sit)
	truth.Read(bike.Level, biketest.Sit, biketest.BB)
	truth.Level(bike.SaddleBody)
	truth.Read(bike.Level, biketest.Sit, biketest.At(bike.AtHood))
	truth.Read(bike.Plumb, biketest.At(bike.AtHood), biketest.Sit)
	truth.Level(bike.HoodBody)
	truth.Disturb(r)
	b := truth.Bike
	switch r.IntN(3) {
	case 0:
		truth.Unshaped(true, true)
	case 1: // a shape stretched to another saddle's size
		b.Saddle.Slot = biketest.One("stretched", 4, truth.Saddle.Shape(biketest.Between(r, -5, 5), biketest.Between(r, -3, 3)))
	}
	if !marked && r.IntN(2) == 0 {
		for _, a := range b.Adjusters {
			truth.Lose(a.Name)
		}
		truth.Bike.SaddleAnchor, truth.Bike.BarAnchor = nil, nil
	}
	truth.Bike.Frame.Pitch = float64(r.IntN(2)) * plane.Rad(0.8)
	return truth
}

// 5 mm back on the one is 5.0 mm back on the other, whatever the readings and shapes are off by: along a post as it leans.
func TestWhatWasFeltIsTheSameOnTheOtherBike(t *testing.T) {
	const seed = 50
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	n, exact, went := 300, 0, 0
	if testing.Short() {
		n = 60
	}
	for trial := range n {
		from, to := anyBike(r, true), anyBike(r, false)
		name := []string{"saddle slide", "saddle post", "bar slide", "bar post"}[r.IntN(4)]
		i := 0
		for from.Bike.Adjusters[i].Name != name {
			i++
		}
		a := &from.Bike.Adjusters[i]
		by := biketest.Between(r, -8, 8)
		d := a.Direction().Scale(by).Turn(from.Bike.Frame.Pitch - to.Bike.Frame.Pitch) // on the other, as it is read
		moved := fmt.Sprintf("%s=%.6f", name, from.Bike.Marks[name]+by/a.Unit)
		f, err := Feel(context.Background(), from.Bike, to.Bike, nil, from.Posture, to.Posture, []string{moved})
		if mark := from.Bike.Marks[name] + by/a.Unit; mark < a.Lo || mark > a.Hi {
			require.ErrorContains(t, err, "off the scale", "trial %d", trial)
			continue
		}
		require.NoError(t, err, "trial %d", trial)
		if !f.Carried { // a stop of the other bike
			continue
		}
		var saddle, bar plane.Point
		for _, m := range f.Settings {
			require.False(t, m.Turns() && m.Travel().Value() != 0, "trial %d: nothing was turned", trial)
			if m.Sets.OnSaddle() {
				saddle = saddle.Add(m.Heading.Scale(m.Travel().Value()))
			} else {
				bar = bar.Add(m.Heading.Scale(m.Travel().Value()))
			}
			assert.LessOrEqual(t, m.Sigma, 1.3, "trial %d: a difference is sure to tenths", trial)
		}
		goes, stays := saddle, bar
		if strings.HasPrefix(name, "bar") {
			goes, stays = bar, saddle
		}
		went++
		if off := goes.Sub(d).Norm(); off < 1e-4 {
			exact++
		} else { // a stop just short of it
			assert.Less(t, off, 0.51, "trial %d: %s moved by %v, comes to %v", trial, name, d, goes)
		}
		assert.Zero(t, stays, "trial %d: the other half stays", trial)
	}
	assert.Greater(t, went, n/2)
	assert.Greater(t, exact, went*9/10)
}

// A tilt turns the seat about each bike's own clamp, and what that lifts is made good: the contacts move alike.
func TestATiltThatWasFeltIsTheSameOnTheOtherBike(t *testing.T) {
	const seed = 51
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	n := 0
	for n < 40 {
		from, to := biketest.Bike(r, bike.Hood), biketest.Bike(r, bike.Hood)
		dial := func(b *bike.Bike) bool { return len(b.Moving(bike.MovesSaddleTilt)) > 0 }
		if !dial(from.Bike) || !dial(to.Bike) {
			continue
		}
		n++
		mark := from.Bike.Marks["saddle tilt dial"]
		before, _ := biketest.Standing(from.Bike, from.Posture)
		moved := fmt.Sprintf("saddle tilt dial=%.9f", mark+0.5)
		f, err := Feel(context.Background(), from.Bike, to.Bike, nil, from.Posture, to.Posture, []string{moved})
		require.NoError(t, err)
		from.Bike.Marks["saddle tilt dial"] = mark + 0.5 // 1 degree
		after, _ := biketest.Standing(from.Bike, from.Posture)
		there, _ := biketest.Standing(to.Bike, to.Posture)
		for _, m := range f.Settings {
			if m.Adjuster >= 0 {
				to.Bike.Marks[m.Name] += m.Travel().Value() / m.Unit
			}
		}
		then, _ := biketest.Standing(to.Bike, to.Posture)
		if f.Carried {
			assert.Less(t, then.At.Sub(there.At).Sub(after.At.Sub(before.At)).Norm(), 1e-4)
			assert.InDelta(t, plane.Rad(1), then.Angle-there.Angle, 1e-9)
		}
		assert.InDelta(t, plane.Rad(1), f.Shifts[0].Turn, 1e-9)
		for _, m := range f.Settings {
			if m.Turns() && m.Travel().Value() != 0 {
				assert.InDelta(t, plane.Rad(0.3)*1.4142, m.Sigma, 1e-6, "both notes of the dial")
			}
		}
	}
}

func TestWhatWasMovedIsReadAsPeopleWriteIt(t *testing.T) {
	s := set(t)
	s.read(t)
	delete(s.frame.Marks, "bar slide")
	k, err := standingFor(s.frame, nil, s.source.Postures[0])
	require.NoError(t, err)
	slide := s.frame.Marks["saddle slide"]
	for _, c := range []struct {
		text   string
		name   string
		travel float64
	}{
		{"saddle slide=" + fmt.Sprint(slide-0.5), "saddle slide", -5},
		{"Saddle Slide = 5 mm back", "saddle slide", -5},
		{"saddle slide=-5mm", "saddle slide", -5},
		{"saddle slide=0.5cm forward", "saddle slide", 5},
		{"saddle post=4mm up", "saddle post", 4},
		{"bar slide=3mm back", "bar slide", -3},
		{"saddle tilt=1° nose down", "saddle.tilt", plane.Rad(-1)},
		{"saddle.tilt=0.5 deg nose up", "saddle.tilt", plane.Rad(0.5)},
	} {
		m, err := k.moved(c.text)
		require.NoError(t, err, c.text)
		assert.Equal(t, c.name, m.Name, c.text)
		assert.InDelta(t, c.travel, m.Travel().Value(), 1e-9, c.text)
	}
	for text, want := range map[string]string{
		"saddle slide":             "NAME=MARK",
		"saddle slide=":            "NAME=MARK",
		"=5mm back":                "NAME=MARK",
		"sadle slide=3":            `did you mean "saddle slide"?`,
		"bar slide=80":             "no mark",
		"saddle slide=5mm up":      "goes forward or back",
		"saddle slide=-5mm back":   "goes forward or back",
		"saddle slide=five":        "five",
		"saddle tilt=5mm nose up":  "",
		"saddle slide=2° back":     "",
		"bar rotation=3mm further": "",
	} {
		_, err := k.moved(text)
		assert.ErrorContains(t, err, want, text)
	}
}

// A machine without anchors or readings: for a difference it may stand anywhere.
func TestNothingNeedBeKnownOfWhereItWasFelt(t *testing.T) {
	s := set(t)
	s.read(t)
	to, err := Stand(s.frame, nil, s.source.Postures)
	require.NoError(t, err)
	bare := *s.frame
	bare.SaddleAnchor, bare.BarAnchor, bare.Readings = nil, nil, nil
	f, err := Feel(context.Background(), &bare, to.Bike, nil, s.source.Postures[0], s.source.Postures[0], []string{"saddle slide=6mm forward"})
	require.NoError(t, err)
	moves := f.Moves()
	require.Len(t, moves, 1)
	assert.Equal(t, "saddle slide", moves[0].Name)
	assert.InDelta(t, 6, moves[0].Travel().Value(), 1e-6)
	assert.InDelta(t, 0.5, moves[0].Sigma, 0.01)
	for _, c := range f.Readings {
		if c.Reading.Written == "setback" {
			assert.InDelta(t, -6, c.By(), 1e-6)
			assert.InDelta(t, 0.5, c.Sigma, 0.01, "as sure as how far the slide went")
		}
	}
}

// A dial that reads a little wrong goes on doing so: it is told by what it shows, on either bike.
func TestADialIsToldByWhatItShows(t *testing.T) {
	r := rand.New(rand.NewPCG(52, 0))
	n := 0
	for n < 10 {
		truth := biketest.Bike(r, bike.Hood)
		b := truth.Bike
		if len(b.Moving(bike.MovesSaddleTilt)) == 0 {
			continue
		}
		n++
		const dial = "saddle tilt dial"
		b.Marks[dial] += 0.2 // 0.4 degrees
		shows := b.Marks[dial]
		truth.Level(bike.SaddleBody)
		truth.Read(bike.Line, biketest.BB, biketest.Mid)
		truth.Read(bike.Level, biketest.Nose, biketest.BB)
		f, err := Feel(context.Background(), b, b, nil, truth.Posture, truth.Posture, []string{fmt.Sprintf("%s=%.9f", dial, shows+0.3)})
		require.NoError(t, err)
		assert.InDelta(t, 0.3*plane.Rad(2), f.Moved[0].Travel().Value(), 1e-9)
		assert.InDelta(t, shows, f.Moved[0].From, 1e-9)
		assert.InDelta(t, shows+0.3, f.Moved[0].To, 1e-9)
		for _, m := range f.Settings {
			if m.Name == dial && f.Carried {
				assert.InDelta(t, shows, m.From, 1e-9)
				assert.InDelta(t, shows+0.3, m.To, 1e-6)
			}
		}
	}
}

// Near the end of its scale a dial that reads a little wrong is told no further than the scale goes.
func TestADialIsToldNoFurtherThanItsScaleGoes(t *testing.T) {
	r := rand.New(rand.NewPCG(54, 0))
	for n := 0; n < 10; {
		truth := biketest.Bike(r, bike.Hood)
		b := truth.Bike
		on := b.Moving(bike.MovesSaddleTilt)
		if len(on) == 0 {
			continue
		}
		n++
		dial := &b.Adjusters[on[0]]
		way, end := 1.0, &dial.Hi
		if n%2 == 0 {
			way, end = -1, &dial.Lo
		}
		dial.Lo, dial.Hi = b.Marks[dial.Name]-5, b.Marks[dial.Name]+5
		*end = b.Marks[dial.Name] + 0.3*way
		b.Marks[dial.Name] += 0.2 * way // it shows 0.4 degrees too much
		truth.Level(bike.SaddleBody)
		truth.Read(bike.Line, biketest.BB, biketest.Mid)
		truth.Read(bike.Level, biketest.Nose, biketest.BB)
		stand, err := Stand(b, nil, []bike.Posture{truth.Posture})
		require.NoError(t, err)
		pos, _, err := stand.Position(truth.Posture)
		require.NoError(t, err)
		pos.Sit.Angle += way * plane.Rad(3) * dial.Unit / math.Abs(dial.Unit)
		k, err := Check(context.Background(), stand, From{Feet: b.Feet, Position: &pos}, carry.Options{})
		require.NoError(t, err)
		told := slices.IndexFunc(k.Corrections, func(m Move) bool { return m.Name == dial.Name })
		require.GreaterOrEqual(t, told, 0)
		assert.InDelta(t, *end, k.Corrections[told].To, 1e-6)
	}
}

// A bar turned by feel turns the hoods as much on the other bike, and what its clamp is taken to be leaves something open.
func TestABarTurnedByFeel(t *testing.T) {
	r := rand.New(rand.NewPCG(53, 0))
	n := 0
	for n < 10 {
		from, to := biketest.Bike(r, bike.Hood), biketest.Bike(r, bike.Hood)
		if len(from.Bike.Moving(bike.MovesBarRotation)) == 0 || len(to.Bike.Moving(bike.MovesBarRotation)) == 0 {
			continue
		}
		to.Read(bike.Line, biketest.BB, biketest.Sit)
		to.Read(bike.Level, biketest.Sit, biketest.BB)
		to.Level(bike.SaddleBody)
		to.Read(bike.Level, biketest.Sit, biketest.At(bike.AtHood))
		to.Read(bike.Plumb, biketest.At(bike.AtHood), biketest.Sit)
		to.Level(bike.HoodBody)
		to.Unshaped(false, true)
		to.Bike.BarAnchor = nil
		n++
		f, err := Feel(context.Background(), from.Bike, to.Bike, nil, from.Posture, to.Posture, []string{"bar dial=2° front up"})
		require.NoError(t, err)
		assert.InDelta(t, plane.Rad(2), f.Shifts[1].Turn, 1e-9)
		assert.Zero(t, f.Shifts[0].Turn)
		if !f.Carried {
			continue
		}
		most := 0.0
		for _, m := range f.Settings {
			if m.Sets == bike.SetsRotation {
				assert.InDelta(t, plane.Rad(2), m.Travel().Value(), 1e-9)
			} else if m.Sets == bike.SetsBar {
				most = max(most, m.Sigma)
			}
		}
		// The clamp is taken to be 80 ± 20 mm behind the hood and 30 ± 15 mm below: 2° of that are 0.7 mm and 0.5 mm.
		assert.Greater(t, most, 0.5)
		assert.Less(t, most, 1.6)
	}
}
