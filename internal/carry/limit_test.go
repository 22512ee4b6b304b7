package carry

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/cockpit"
	"carryover/internal/plane"
)

func setting(t *testing.T, s *Solution, name string) Setting {
	t.Helper()
	for _, set := range s.Settings {
		if set.Name == name {
			return set
		}
	}
	require.Fail(t, "no setting", name)
	return Setting{}
}

// levered is a bike on whose bar only the lever can be moved, from lo to hi; the hands are wanted where they
// are with the lever at q, so far forward along the bar's own tangent there as ahead says.
func levered(r *rand.Rand, lo, hi, q, ahead float64) *machine {
	m := hooded(r)
	m.b.Adjusters = nil
	m.b.BarAnchor = &plane.Point{X: 400, Y: 550}
	m.b.Bar.LeverAt, m.b.Bar.Rotation = free(lo, hi), bike.Fixed(0)
	hood, angle, _ := m.b.Bar.Only().HoodContact(m.b.Bar.Lever.Only(), q)
	m.hands = assembly.Contact{Name: bike.Hood, Angle: angle, At: m.b.BarAnchor.Add(hood).Add(plane.Point{X: ahead})}
	return m
}

// The stop that holds a lever is named, on the flat and on the bend, be it the file's or the bar's own.
func TestTheStopOfALeverIsNamed(t *testing.T) {
	same := func() *rand.Rand { return rand.New(rand.NewPCG(21, 0)) }
	first, last := hooded(same()).b.Bar.Only().LeverTravel()
	for _, c := range []struct {
		name          string
		lo, hi        float64
		limit         string
		least, most   float64 // in force
		wanted, ahead float64
	}{
		{"the file's stop on the flat, wanted further on", -30, -10, "max", -30, -10, -10, 5},
		{"the file's stop on the flat, wanted further back", -30, -10, "min", -30, -10, -30, -5},
		{"the bar's own end", first - 50, -10, "min", first, -10, first, -5},
		{"on the bend, wanted further round", 0, 20, "max", 0, 20, 30, 0},
		{"on the bend, wanted nearer", 15, 40, "min", 15, 40, 5, 0},
		{"the bend's end", 0, last + 30, "max", 0, last, last + 5, 0},
		{"nothing in the way", -20, 30, "", -20, 30, 12, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := levered(same(), c.lo, c.hi, c.wanted, c.ahead)
			s := solvePosition(t, m, positionOf(m, nil))
			set := setting(t, s, "bar.lever_at")
			assert.Equal(t, c.limit, set.Limit)
			assert.Equal(t, [2]float64{c.least, c.most}, [2]float64{set.Lo, set.Hi}, "the stops in force")
			if c.limit == "" {
				assert.Empty(t, s.HeldBy(s.Contacts[1]))
			} else {
				assert.Equal(t, []string{"bar.lever_at"}, s.HeldBy(s.Contacts[1]))
			}
		})
	}
}

// An open slot whose part tilts less far than the file allows: the part's own stop is the one in force.
func TestAnOpenSlotIsBoundByItsPart(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 0))
	m := newMachine(r)
	for m.b.Clipon == nil {
		m = newMachine(r)
	}
	m.b.Adjusters, m.b.Stem = nil, nil
	m.b.Saddle.ClampAt = bike.Fixed(130)
	m.b.BarAnchor = &plane.Point{X: 400, Y: 600}
	for _, c := range []struct {
		name           string
		step           float64
		wanted, at, hi float64 // degrees
		limit          string
	}{
		{"anywhere", 0, 15, 10, 10, "max"},
		{"on steps, the last before the stop", 3, 15, 9, 9, "max"},
		{"on steps, between two", 3, 4, 3, 9, "step"},
	} {
		t.Run(c.name, func(t *testing.T) {
			part := *m.b.Clipon.Only()
			part.Tilt, part.TiltStep = [2]float64{0, plane.Rad(10)}, plane.Rad(c.step)
			part.Holes, part.Stacks = []float64{0}, []float64{0}
			slot := one(&part)
			slot.Open = true
			m.b.Clipon = &bike.CliponFit{Slot: slot, Tilt: free(0, plane.Rad(20))}
			m.hands = assembly.Contact{Name: bike.Pad, Angle: plane.Rad(c.wanted),
				At: m.b.BarAnchor.Add(part.Pad(0, 0).Turn(plane.Rad(c.wanted)))}
			set := setting(t, solvePosition(t, m, positionOf(m, nil)), "clipon.tilt")
			assert.InDelta(t, c.at, plane.Deg(set.Travel), 1e-9)
			assert.InDelta(t, c.hi, plane.Deg(set.Hi), 1e-9)
			assert.Equal(t, c.limit, set.Limit)
		})
	}
}

// Only a post, on steps, and the saddle wanted 30 mm further back: the step beside the post's mark is not
// what holds it.
func TestWhatNothingMovesIsHeldByNothing(t *testing.T) {
	for _, c := range []struct {
		name       string
		back, high float64
		held       []string
	}{
		{"wanted further back", 30, 52, []string{}},
		{"wanted between two steps", 0, 52, []string{"post"}},
		{"wanted above the last step", 0, 130, []string{"post"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := racked(nil, nil, -c.back)
			m.b.Adjusters[0].Step = 5
			m.sit.At.Y += c.high - 50
			pos := positionOf(m, nil)
			pos.Posture.Weights.Extension = 1 // else a post serves the leg of a saddle too far forward
			s := solvePosition(t, m, pos)
			require.NotEmpty(t, s.Settings[0].Limit)
			assert.Equal(t, c.held, s.HeldBy(s.Contacts[0]))
		})
	}
}

// A stem without an angle is the same stem turned over.
func TestALevelStemIsNotTurnedOver(t *testing.T) {
	open := bike.Slot[cockpit.Stem]{Open: true, Options: []bike.Option[cockpit.Stem]{
		{ID: "level", Part: &cockpit.Stem{Length: 100}}, {ID: "rising", Part: &cockpit.Stem{Length: 100, Angle: plane.Rad(6)}}}}
	fit := bike.StemFit{Slot: open}
	assert.Equal(t, []bool{false}, fit.Ways(0))
	assert.Equal(t, []bool{false, true}, fit.Ways(1))
	flipped := true
	fit.Flip = &flipped
	assert.Equal(t, []bool{true}, fit.Ways(0), "as the file says")

	head, top := plane.Rad(73), plane.Point{X: 372, Y: 571}
	m := hooded(rand.New(rand.NewPCG(5, 0)))
	m.b.Frame.HeadAngle, m.b.Frame.SteererTop = &head, &top
	m.b.Adjusters = nil
	m.b.Stem = &bike.StemFit{Slot: open}
	s, err := handHalf(m.b, positionOf(m, nil).Posture)
	require.NoError(t, err)
	assert.Len(t, s.Bases, 3)
}

func TestCarriedIsTwoMillimetresAndOneDegree(t *testing.T) {
	deg := math.Pi / 180
	for _, c := range []struct {
		miss, angle float64
		want        bool
	}{{0, 0, true}, {2, deg, true}, {2, -deg, true}, {2.0001, 0, false}, {0, 1.0001 * deg, false}, {0, -1.0001 * deg, false}, {2 + 1e-12, 0,
		true}} {
		assert.Equal(t, c.want, Carries(c.miss, c.angle), "%g mm, %g", c.miss, c.angle)
	}
}
