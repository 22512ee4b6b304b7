package body

import (
	"context"
	"io/fs"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/catalogs"
	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/bikefile"
	"carryover/internal/biketest"
	"carryover/internal/carry"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// carried follows the road bike's rider to a target.
func carried(t *testing.T, target *bike.Bike) (*Segments, []Stage) {
	t.Helper()
	src, err := fs.ReadFile(catalogs.Examples, "rider.toml")
	require.NoError(t, err)
	rider, problems := bikefile.ReadRider("rider", src)
	require.NoError(t, problems.Err())
	s, err := NewSegments(rider)
	require.NoError(t, err)
	source := biketest.Example(t, "road")
	a, err := locate.Adjust(source, rider, locate.Options{})
	require.NoError(t, err)
	pos, err := a.Position(source.Postures[0])
	require.NoError(t, err)
	c, err := carry.Solve(context.Background(), target, source, &pos, carry.Options{})
	require.NoError(t, err)
	return s, s.Carried(s.On(&pos, a.Placement.Layout, UsualHabits()), c, 0, UsualHabits())
}

func causes(stages []Stage) string {
	var all []string
	for _, s := range stages[1:] {
		all = append(all, s.Cause)
	}
	return strings.Join(all, "; ")
}

// The target as it stands is the last stage, and the stages' changes add up to the whole.
func TestStagesLeadFromSourceToTarget(t *testing.T) {
	_, stages := carried(t, biketest.Example(t, "studio"))
	assert.Equal(t, "crank 170 instead of 172.5 mm, pedal axle to foot 26.5 instead of 24 mm, Q-factor 155 instead of 146 mm", causes(stages))
	last := stages[len(stages)-1].Place
	assert.Equal(t, 170.0, last.Crank)
	assert.Equal(t, 26.5, last.Sole)

	// What the target does not say is no difference.
	silent := biketest.Example(t, "studio")
	silent.Feet.QFactor = nil
	_, stages = carried(t, silent)
	assert.NotContains(t, causes(stages), "Q-factor")

	// A saddle post that ends 40 mm too soon leaves the saddle low, and the knee more bent for it.
	low := biketest.Example(t, "studio")
	for i := range low.Adjusters {
		if low.Adjusters[i].Name == "saddle post" {
			low.Adjusters[i].Hi = 12
		}
	}
	_, stages = carried(t, low)
	require.Len(t, stages, 3)
	assert.Contains(t, stages[2].Cause, "the saddle is left")
	assert.Less(t, stages[2].Place.Sit.Y, stages[1].Place.Sit.Y-20)
	assert.Greater(t, stages[2].Numbers.KneeLowest, stages[1].Numbers.KneeLowest+5*0.0174)
	assert.Less(t, stages[2].Numbers.HipLeast, stages[1].Numbers.HipLeast, "knees nearer the chest")
}

// Where nothing differs there is one stage that says so, and none without a cause.
func TestNothingDiffers(t *testing.T) {
	same := biketest.Example(t, "studio")
	road := biketest.Example(t, "road")
	same.Feet, same.Bar.Only().Width = road.Feet, road.Bar.Only().Width
	same.Feet.Cranks = nil
	_, stages := carried(t, same)
	require.Len(t, stages, 2)
	assert.Equal(t, "nothing differs", stages[1].Cause)
	assert.True(t, Posture{Stages: stages}.Closes())
	assert.Empty(t, stages[1].Impossible())
	assert.False(t, Posture{Stages: []Stage{{Err: &ReachError{Limb: "leg"}}}}.Closes())
	assert.Len(t, Stage{Numbers: &Numbers{UpperError: &ReachError{Limb: "arm"}}}.Impossible(), 1)
}

// Pads are as far apart as their spacing says, and nobody knows where it is free.
func TestWidthOverPads(t *testing.T) {
	tri := biketest.Example(t, "tri")
	tri.Clipon.Spacing = bike.Fixed(190)
	assert.Equal(t, 190.0, widths(assembly.New(tri, bike.Posture{}), bike.Pad).Hands)
	tri.Clipon.Spacing.Free = true
	assert.Zero(t, widths(assembly.New(tri, bike.Posture{}), bike.Pad).Hands)
}

// Wider hands and another spacing of the drops are a step of their own, since the shoulders' width is known.
func TestWiderBarIsAStage(t *testing.T) {
	wide := biketest.Example(t, "studio")
	wide.Bar.Only().Width, wide.Bar.Only().Flare = 480, 10
	_, stages := carried(t, wide)
	last := stages[len(stages)-1]
	assert.Equal(t, "hands 480 instead of 420 mm apart", last.Cause)
	before := stages[len(stages)-2]
	assert.Greater(t, last.Numbers.Upper.ArmLost, before.Numbers.Upper.ArmLost)
	assert.Less(t, last.Numbers.Upper.Trunk, before.Numbers.Upper.Trunk)
	assert.InDelta(t, before.Numbers.KneeLowest, last.Numbers.KneeLowest, 1e-12)
	bar := wide.Bar.Only()
	drops := 480 + 2*bar.Drop*math.Tan(plane.Rad(10))
	assert.InDelta(t, drops, last.Place.Widths.Drops, 1e-9, "flare")
	assert.InDelta(t, drops, widths(assembly.New(wide, bike.Posture{}), bike.Drop).Hands, 1e-9, "hands in the drops are as far apart")
	bar.Width = 0
	_, stages = carried(t, wide)
	assert.NotContains(t, causes(stages), "apart", "a width that nobody knows is no other width")
	assert.Zero(t, widths(assembly.New(wide, bike.Posture{}), bike.Drop).Drops, "a bar without a width has none to add flare to")
}
