package words_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/job"
	"carryover/internal/plane"
	"carryover/internal/words"
)

// What a tape says after a step is answered by the move that makes it right: the bike with that move made reads, by the same
// placement that every reading comes from, what the step asks for.
func TestTapedAndMended(t *testing.T) {
	files := &job.Files{}
	c, err := files.Carry(context.Background(), job.Asked{From: "example:road", To: "example:studio"})
	require.NoError(t, err)
	r := c.Results[0]
	mended := 0
	for _, step := range r.Steps {
		if step.Gauge.Own != "" {
			continue
		}
		const off = 4.0 // mm, or 4°
		wrong := off
		if step.Gauge.Reading.Kind == bike.Angle {
			wrong = plane.Rad(off)
		}
		i, by, ok := r.Mend(step, step.Value.Value()+wrong)
		require.True(t, ok)
		list, travels := make([]bike.Settable, len(r.Settings)), make([]float64, len(r.Settings))
		for k, set := range r.Settings {
			list[k], travels[k] = set.Settable, set.Travel
		}
		reads := func() float64 { // on the bike held where the settings are
			s, err := carry.Solve(context.Background(), r.Target.Held(list, travels), r.Solution.Source, r.Position, r.Options)
			require.NoError(t, err)
			v, _, err := s.Placement.ReadingOf(step.Gauge.Reading)
			require.NoError(t, err)
			return v
		}
		before := reads()
		travels[i] += by
		after := reads()
		require.InDelta(t, -wrong, after-before, 0.03*wrong, "%s: linear to a few hundredths", r.Settings[i].Name)
		mended++
		// In words: good within a millimetre, else which way.
		shown := math.Abs(step.Value.Value())
		if step.Gauge.Reading.Kind == bike.Angle {
			shown = plane.Deg(step.Value.Value())
		}
		answer := words.Taped(r, step, nil, shown)
		require.True(t, answer.Good, answer.Text)
		answer = words.Taped(r, step, nil, shown+2)
		require.False(t, answer.Good, answer.Text)
		require.Contains(t, answer.Text, r.Settings[i].Towards(math.Copysign(by, by)))
	}
	require.GreaterOrEqual(t, mended, 5)
	// 4 mm too high on a scale in centimetres: 0.4 of a mark down.
	require.Equal(t, "4"+words.NoBreak+"mm down: to 15.6.", words.Taped(r, r.Steps[2], nil, 1030.2).Text)
	// A second correction counts from the mark that it was moved to.
	first := words.Taped(r, r.Steps[2], nil, 1030.2)
	require.Equal(t, "15.6", first.To)
	second := words.Taped(r, r.Steps[2], map[int]float64{first.Setting: 15.6}, 1028.2)
	require.Equal(t, "2"+words.NoBreak+"mm down: to 15.4.", second.Text)
	// Centimetres typed, or a slip of a hundred: nobody is sent 100 mm away without a second look.
	answer := words.Taped(r, r.Steps[2], nil, 926)
	require.False(t, answer.Good)
	require.Contains(t, answer.Text, "measure it again")
}

func TestChecked(t *testing.T) {
	c := carry.Check{Reading: bike.Reading{Kind: bike.Level, From: bike.Place{Kind: bike.AtBB}, To: bike.Place{Kind: bike.AtHood}},
		Foretold: carry.Foretold{Value: plane.Length(-40), Sigma: 0.5}}
	for _, k := range []struct {
		read   float64
		answer string
		good   bool
	}{{40, "Good.", true}, {41, "Good.", true}, {43, "3" + words.NoBreak + "mm more than it should be.", false}, {30, "10" +
		words.NoBreak + "mm less than it should be.", false}} {
		answer, good := words.Checked(c, k.read)
		require.Equal(t, k.answer, answer)
		require.Equal(t, k.good, good)
	}
	require.Equal(t, -43.0, words.Typed(c.Reading, c.Value, 43, 1).Value, "the words say which way")
	turned := words.Typed(bike.Reading{Kind: bike.Angle}, plane.Turning(plane.Angle(plane.Rad(-2))), -3, 1)
	require.InDelta(t, plane.Rad(-3), turned.Value, 1e-12)
}
