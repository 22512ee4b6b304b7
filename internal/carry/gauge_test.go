package carry

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/bike"
	"carryover/internal/cockpit"
	"carryover/internal/plane"
)

// A turn that two share is divided so that both stay near home: between stops each takes half of what is over, and what one
// cannot take the other does; steps are counted, not passed over.
func TestDividingATurn(t *testing.T) {
	free := func(lo, hi float64) bike.Turns { return bike.Turns{Range: plane.Range{Lo: lo, Hi: hi}} }
	steps := func(v ...float64) bike.Turns { return bike.Turns{Values: v} }
	for _, c := range []struct {
		why          string
		turn         float64
		a            bike.Turns
		homeA        float64
		b            bike.Turns
		homeB, share float64
	}{
		{"half of what is over", 0.5, free(-1, 1), 0.1, free(-1, 1), 0, 0.3},
		{"the first at its stop", 0.5, free(-1, 0.2), 0, free(-1, 1), 0, 0.2},
		{"the second at its stop", 0.5, free(-1, 1), 0, free(-1, 0.1), 0, 0.4},
		{"the second at its other stop", -0.5, free(-1, 1), 0, free(-0.1, 1), 0, -0.4},
		{"steps of the first", 0.5, steps(0, 0.2, 0.4), 0, free(-1, 1), 0, 0.2},
		{"steps of the second", 0.5, free(-1, 1), 0, steps(0, 0.2, 0.4), 0, 0.3},
		{"steps of the second, its home far", 0.5, free(-1, 1), 0, steps(0, 0.2, 0.4), 0.6, 0.1},
		{"steps of the second out of reach of the first", 0.5, free(0.35, 1), 0, steps(0, 0.2, 0.4), 0, 0.5},
		{"steps of both", 0.5, steps(0, 0.1, 0.3, 0.5), 0, steps(0, 0.2, 0.4), 0, 0.3},
		{"steps of both, the second's home far", 0.5, steps(0, 0.1, 0.3, 0.5), 0, steps(0, 0.2, 0.4), 0.5, 0.1},
	} {
		assert.InDelta(t, c.share, divide(c.turn, c.a, c.homeA, c.b, c.homeB), 1e-9, c.why)
	}
}

// Once every step is done, the gauge of each shows what the finished bike reads, as sure as that is; it moves
// nearly as much as any with what is set; and none that comes before it in its list, or that later work disturbs less, would have done.
func TestTheGaugeOfAStep(t *testing.T) {
	for _, c := range []struct {
		from, to string
		posture  int
	}{{"road", "studio", 0}, {"road", "outdoor", 0}, {"tri", "studio", 0}} {
		s, a := carriedExample(t, c.from, c.to, c.posture)
		require.NoError(t, s.Total(a, nil))
		steps := s.Order()
		tasks, starts := s.tasks(), s.starts()
		at := func(i int) int { // of the task that a step does
			return slices.IndexFunc(tasks, func(j *task) bool {
				return slices.Equal(j.settings, steps[i].Settings) && slices.Equal(j.parts, steps[i].Parts)
			})
		}
		for i, step := range steps {
			sure := s.foretell([]Gauge{step.Gauge}, []*Solution{s}, func(k *Solution) []float64 {
				v, _ := k.read(step.Gauge)
				return []float64{v}
			})
			assert.InDelta(t, sure[0].Value.Value(), step.Final.Value.Value(), 1e-9, "%s to %s, step %d", c.from, c.to, i+1)
			assert.InDelta(t, sure[0].Sigma, step.Final.Sigma, 1e-9, "%s to %s, step %d", c.from, c.to, i+1)
			assert.InDelta(t, sure[0].SigmaTotal, step.Final.SigmaTotal, 1e-9, "%s to %s, step %d", c.from, c.to, i+1)

			disturbed := func(g Gauge) (worst float64) {
				for later := i + 1; later < len(steps); later++ {
					worst = max(worst, s.disturbance(g, tasks[at(later)], starts)-UndoneMM)
				}
				return worst
			}
			for _, g := range tasks[at(i)].candidates {
				if _, ok := s.read(g); ok && len(step.Settings) > 0 {
					_, chosen := s.answers(step.Gauge, step.Settings)
					_, other := s.answers(g, step.Settings)
					assert.GreaterOrEqual(t, math.Abs(chosen), 0.8*math.Abs(other), "%s to %s, step %d", c.from, c.to, i+1)
				}
			}
			mine, before := disturbed(step.Gauge), true
			for _, g := range s.sure(s.direct(tasks[at(i)])) {
				if before = before && g != step.Gauge; before {
					assert.Greater(t, disturbed(g), mine, "%s to %s, step %d: %+v comes first", c.from, c.to, i+1, g)
				}
				assert.GreaterOrEqual(t, disturbed(g), mine, "%s to %s, step %d", c.from, c.to, i+1)
			}
		}
	}
}

// An open stem is either way up: one turned over is another choice.
func TestWordsOfAnOpenStem(t *testing.T) {
	b := &bike.Bike{Stem: &bike.StemFit{}}
	b.Stem.Open, b.Stem.Options = true, []bike.Option[cockpit.Stem]{{ID: "short"}, {ID: "long"}}
	for i, want := range []string{"short", "short flipped", "long", "long flipped"} {
		k := &Solution{Target: b, saddle: settled{base: anchored}}
		k.saddle.arm.picks, k.hands.arm.picks = nothingBolted.Picks, nothingBolted.Picks
		k.hands.base.pick, k.hands.base.flip = i/2, i%2 == 1
		assert.Equal(t, want, k.decisions()["stem"])
	}
}
