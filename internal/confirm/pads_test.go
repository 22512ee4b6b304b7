package confirm

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/bike"
	"carryover/internal/biketest"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// Bar and clip-on are clamped to one another: whichever the hands are on, a tape to the other moves along with it.
func TestPadsAndBarMoveTogether(t *testing.T) {
	tri := biketest.Example(t, "tri")
	stand, err := Stand(tri, nil, tri.Postures, locate.Options{})
	require.NoError(t, err)
	for _, kind := range []bike.Kind{bike.Level, bike.Plumb} {
		r := bike.Reading{Kind: kind, From: biketest.BB, To: biketest.At(bike.AtBar), Sigma: 2}
		r.Value, _, err = stand.Adjusted.Placement.ReadingOf(r)
		require.NoError(t, err)
		tri.Readings = append(tri.Readings, r)
	}
	for _, p := range tri.Postures {
		stand, err := Stand(tri, nil, []bike.Posture{p}, locate.Options{})
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
			_, err := Stand(tri, nil, tri.Postures, locate.Options{})
			assert.ErrorContains(t, err, what)
			_, err = Stand(tri, nil, tri.Postures[1:], locate.Options{})
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
