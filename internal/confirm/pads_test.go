package confirm

import (
	"fmt"
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

// Bar and clip-on are clamped to one another: whichever the hands are on, a tape to the other moves along with it.
func TestPadsAndBarMoveTogether(t *testing.T) {
	tri := biketest.Example(t, "tri")
	stand, err := Stand(tri, nil, tri.Postures)
	require.NoError(t, err)
	for _, kind := range []bike.Kind{bike.Level, bike.Plumb} {
		r := bike.Reading{Kind: kind, From: biketest.BB, To: biketest.At(bike.AtBar), Sigma: 2}
		r.Value, _, err = stand.Adjusted.Placement.ReadingOf(r)
		require.NoError(t, err)
		tri.Readings = append(tri.Readings, r)
	}
	for _, p := range tri.Postures {
		stand, err := Stand(tri, nil, []bike.Posture{p})
		require.NoError(t, err)
		pos, _, err := stand.Position(p)
		require.NoError(t, err)
		by, hands := plane.Point{X: 12, Y: -5}, pos.Hands
		hands.At = hands.At.Add(by)
		r := &Result{Posture: p, Contacts: make([]Contact, 2)}
		r.Contacts[0].Want, r.Contacts[1].Want = pos.Sit, hands
		changes := stand.changes(r)
		onFront := func(place bike.Place) bool { return place.Kind == bike.AtBar || place.Kind == bike.AtPad }
		seen := map[bike.PlaceKind]bool{}
		for _, c := range changes {
			want := 0.0
			switch r := c.Reading; {
			case r.Kind != bike.Level && r.Kind != bike.Plumb:
				continue
			case onFront(r.To):
				want, seen[r.To.Kind] = []float64{bike.Level: by.X, bike.Plumb: by.Y}[r.Kind], true
			case onFront(r.From):
				want, seen[r.From.Kind] = -[]float64{bike.Level: by.X, bike.Plumb: by.Y}[r.Kind], true
			}
			assert.InDelta(t, want, c.By(), 1e-4, "%s, %s", p.Name, c.Reading.Written)
		}
		assert.Equal(t, map[bike.PlaceKind]bool{bike.AtBar: true, bike.AtPad: true}, seen)
	}
}

// What a clip-on leaves open is asked for: a hole or a stack that is not said, or only said to lie between two.
func TestWhatAClipOnLeavesOpenIsListed(t *testing.T) {
	for _, open := range []bike.Setting{{}, {Given: true, Free: true, Lo: -20, Hi: 20}} {
		for what, set := range map[string]func(*bike.CliponFit){
			"where the pads are screwed": func(c *bike.CliponFit) { c.Hole = open },
			"the risers under the pads":  func(c *bike.CliponFit) { c.Stack = open },
		} {
			tri := biketest.Example(t, "tri")
			clipon := *tri.Clipon
			tri.Clipon = &clipon
			set(tri.Clipon)
			_, err := Stand(tri, nil, tri.Postures)
			assert.ErrorContains(t, err, what)
			_, err = Stand(tri, nil, tri.Postures[1:])
			assert.NotContains(t, fmt.Sprint(err), what, "the hands are on the hoods")
		}
	}
}

// What was moved by feel stands on its scale: to the very stop, not beyond.
func TestNothingIsMovedOffItsScale(t *testing.T) {
	s := set(t)
	s.read(t)
	k, err := standingFor(s.frame, nil, s.source.Postures[0])
	require.NoError(t, err)
	for i, a := range s.frame.Adjusters[:2] { // the bar post and slide are bounded alike
		for _, stop := range []float64{a.Lo, a.Hi} {
			m, err := k.moved(fmt.Sprintf("%s=%g", a.Name, stop))
			require.NoError(t, err, "adjuster %d", i)
			assert.InDelta(t, stop, m.To, 1e-9)
		}
		for _, off := range []float64{a.Lo - 0.1, a.Hi + 0.1} {
			_, err := k.moved(fmt.Sprintf("%s=%g", a.Name, off))
			assert.ErrorContains(t, err, fmt.Sprintf("off the scale of %s, which runs from %g to %g", a.Name, a.Lo, a.Hi))
		}
	}
}

// A tilt that counts from the bar is told as it is set, against the bar; one that does not, against the level.
func TestAPadTiltIsToldFromWhatItCountsFrom(t *testing.T) {
	for fromBar, want := range map[bool]float64{true: 6, false: 10} {
		tri := biketest.Example(t, "tri")
		clipon, part := *tri.Clipon, *tri.Clipon.Options[0].Part
		part.TiltFromBar = fromBar
		clipon.Options = []bike.Option[cockpit.Clipon]{{ID: "clip", Part: &part}}
		clipon.Tilt = bike.Setting{Given: true, Free: true, Lo: plane.Rad(-10), Hi: plane.Rad(20)}
		tri.Clipon = &clipon
		for i := range tri.Readings {
			if k := &tri.Readings[i]; k.Kind == bike.Angle && k.Of == bike.BarBody {
				k.Value = plane.Rad(4)
			}
		}
		stand, err := Stand(tri, nil, tri.Postures[:1])
		require.NoError(t, err)
		k, err := stand.rig(tri.Postures[0])
		require.NoError(t, err)
		i := slices.IndexFunc(k.all, func(m movable) bool { return m.Sets == bike.SetsPadTilt })
		require.GreaterOrEqual(t, i, 0)
		assert.InDelta(t, want, plane.Deg(k.all[i].now), 0.5)
	}
}

// A saddle that nothing moves is not told to be moved by tape, though the bar could be.
func TestWhatNothingMovesIsNotMovedByTape(t *testing.T) {
	s := set(t)
	s.truth.Poses[assembly.Saddle].Origin.Y -= 9
	s.read(t)
	for _, a := range s.frame.Adjusters[:2] {
		at := s.frame.SaddleAnchor.Add(a.Direction().Scale(a.Travel(s.frame.Marks[a.Name])))
		s.frame.SaddleAnchor = &at
		delete(s.frame.Marks, a.Name)
	}
	s.frame.Adjusters = s.frame.Adjusters[2:]
	s.frame.Saddle.Tilt = bike.Fixed(s.truth.Poses[assembly.Saddle].Turn)
	low := s.frame.SaddleAnchor.Add(plane.Point{Y: -9})
	s.frame.SaddleAnchor = &low
	_, r := s.check(t)
	assert.False(t, r.Contacts[0].Inside())
	assert.Empty(t, r.Corrections)
	assert.False(t, r.Cured)
	assert.False(t, r.ByTape)
}
