package bike

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/cockpit"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// A version is that of the numbers: every one of them counts, what is left out does not, and nothing else does.
func TestAVersionIsOfTheNumbers(t *testing.T) {
	shape := func(length, nose, dip, sag, rail float64) string {
		s, err := saddle.New(length, [][2]float64{{0, nose}, {length, 140}}, [][2]float64{{0, 0}, {100, dip}, {length, 0}}, sag,
			saddle.Rail{Height: rail, From: 100, To: 160})
		require.NoError(t, err)
		return VersionOf(s)
	}
	seen := map[string]bool{}
	for _, v := range []string{shape(250, 40, -3, 5, 45), shape(251, 40, -3, 5, 45), shape(250, 41, -3, 5, 45), shape(250, 40, -4, 5, 45),
		shape(250, 40, -3, 6, 45), shape(250, 40, -3, 5, 46), VersionOf(&cockpit.Bar{Reach: 80}), VersionOf(&cockpit.Bar{Drop: 80}),
		VersionOf(&cockpit.Bar{Hood: &plane.Point{X: 80}}), VersionOf(&cockpit.Clipon{Stacks: []float64{0, 10}}),
		VersionOf(&cockpit.Clipon{Stacks: []float64{0, 1}}), VersionOf(&cockpit.Clipon{TiltFromBar: true})} {
		assert.Len(t, v, 8)
		assert.False(t, seen[v], v)
		seen[v] = true
	}
	assert.Equal(t, shape(250, 40, -3, 5, 45), shape(250, 40, -3, 5, 45))
	assert.Equal(t, "9f4225c5", VersionOf(&cockpit.Stem{Length: 100, Angle: -0.1, Height: 40}), "the same next year, on any machine")

	b := Bike{File: "a.toml"}
	b.Bar.Slot = Slot[cockpit.Bar]{Options: []Option[cockpit.Bar]{{ID: "x", Part: &cockpit.Bar{Reach: 80}}}}
	b.Bar.Lever = Slot[cockpit.Lever]{Open: true, Options: []Option[cockpit.Lever]{{ID: "a", Part: &cockpit.Lever{}}, {ID: "b",
		Part: &cockpit.Lever{Along: 1}}}}
	assert.Equal(t, []Version{{"a.toml", "bar", "x", VersionOf(&cockpit.Bar{Reach: 80})}}, b.Versions(nil))
	assert.Equal(t, Version{"a.toml", "lever", "b", VersionOf(&cockpit.Lever{Along: 1})}, b.Versions(map[string]string{"lever": "b"})[1])
}
