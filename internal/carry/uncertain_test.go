package carry

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/bike"
	"carryover/internal/biketest"
	"carryover/internal/cockpit"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

func drawn(t *testing.T, s *Solution, a *locate.Adjustment, draws int) *Draws {
	t.Helper()
	const seed = 20
	t.Logf("seed %d, %d draws", seed, draws)
	d, err := s.Draw(context.Background(), a, DrawPlan{Draws: draws, Seed: seed})
	require.NoError(t, err)
	return d
}

// The readings of the example bend the answer so little that first order and drawing must agree: the mean
// within five of its own standard uncertainties, the spread within five of its own (sigma/√(2N)) and 1 %.
func TestDrawsAgreeWithFirstOrder(t *testing.T) {
	s, a := carriedExample(t, "road", "studio", 0)
	require.NoError(t, s.Total(a, nil))
	const draws = 20_000
	d := drawn(t, s, a, draws)
	require.Equal(t, draws, d.N)
	require.Len(t, d.Settings, len(s.Settings))
	for i, got := range d.Settings {
		set := s.Settings[i]
		t.Logf("%-14s %9.4f ± %.4f drawn %9.4f ± %.4f [%.4f, %.4f]", set.Name, set.Travel, set.Sigma, got.Mean.Value(), got.Sigma.Value(),
			got.Lo.Value(), got.Hi.Value())
		assert.Greater(t, set.Sigma, 0.0, set.Name)
		assert.InDelta(t, set.Travel, got.Mean.Value(), 5*set.Sigma/math.Sqrt(draws)+0.02*set.Sigma, set.Name)
		assert.InEpsilon(t, set.Sigma, got.Sigma.Value(), 5/math.Sqrt(2*draws)+0.01, set.Name)
		assert.InDelta(t, 1.96*2*set.Sigma, got.Hi.Value()-got.Lo.Value(), 0.05*4*set.Sigma, set.Name)
	}
	assert.Equal(t, 1.0, d.Carried)
	require.NotEmpty(t, d.Choices)
	assert.Equal(t, Choice{Name: "crank", Chosen: "170"}, d.Choices[0], "no reading says anything of the crank")
}

// The derivative of the whole way from one reading's value to the settings, by adjusting and solving anew.
func TestBlameIsTheDerivativeOfTheWholeWay(t *testing.T) {
	for _, c := range []struct {
		from, to string
		posture  int
	}{{"road", "studio", 0}, {"road", "outdoor", 0}} {
		s, a := carriedExample(t, c.from, c.to, c.posture)
		require.NoError(t, s.Total(a, nil))
		blame := s.Blame()
		require.Len(t, blame, len(s.Settings))
		for k, set := range s.Settings {
			shares, variance := 0.0, 0.0
			for _, b := range blame[k] {
				shares += b.Share
				assert.InDelta(t, set.SigmaTotal*set.SigmaTotal-b.Sigma*b.Sigma, b.Without*b.Without, 1e-12, "what is left once it is known")
				variance += b.Sigma * b.Sigma
			}
			if set.SigmaTotal == 0 { // on a step, which it keeps
				assert.Empty(t, blame[k], set.Name)
				continue
			}
			assert.InDelta(t, 1, shares, 1e-4, set.Name)
			assert.InEpsilon(t, set.SigmaTotal, math.Sqrt(variance), 1e-3, "%s: the contributions add up to the whole", set.Name)
		}
		for i, ob := range a.Observations {
			if ob.Origin != locate.FromReading {
				continue
			}
			h := 0.05 * ob.Sigma
			at := func(d float64) *Solution {
				b := biketest.Example(t, c.from)
				b.Readings[ob.Reading.Index-1].Value += d
				moved, err := locate.Adjust(b, nil, locate.Options{})
				require.NoError(t, err)
				pos, err := moved.Position(b.Postures[c.posture])
				require.NoError(t, err)
				k, err := Solve(context.Background(), s.Target, b, &pos, s.Options)
				require.NoError(t, err)
				return k
			}
			up, down := at(h), at(-h)
			for k, set := range s.Settings {
				want := (up.Settings[k].Travel - down.Settings[k].Travel) / (2 * h)
				got := 0.0
				for _, b := range blame[k] {
					if b.Kind == locate.ByObservation && b.Of == OfSource && b.Observation == i {
						got = b.Moves[k]
					}
				}
				// The linear model leaves out the curvature times the residuals, of the order of 1 %.
				unit := s.Settings[k].Sigma / ob.Sigma
				assert.InDelta(t, want, got, 0.02*unit+1e-6, "%s by %s", set.Name, ob.Name)
			}
		}
	}
}

// A stop takes up nothing: the setting it holds does not move with the readings, and what it leaves is a miss.
func TestASettingAtItsStopHasNoSpreadAndTheMissHas(t *testing.T) {
	target := biketest.Example(t, "studio")
	post := &target.Adjusters[0]
	require.Equal(t, "saddle post", post.Name)
	post.Hi = 10 // 60 mm too short
	source := biketest.Example(t, "road")
	a, err := locate.Adjust(source, nil, locate.Options{})
	require.NoError(t, err)
	pos, err := a.Position(source.Postures[0])
	require.NoError(t, err)
	target.Marks["saddle post"] = 9
	s, err := Solve(context.Background(), target, source, &pos, Options{})
	require.NoError(t, err)
	require.NoError(t, s.Total(a, nil))
	sure := s.Uncertain()
	assert.Equal(t, "max", s.Settings[0].Limit)
	assert.Zero(t, s.Settings[0].Sigma)
	sit := sure[0]
	assert.Greater(t, sit.Miss, 0.5)

	d := drawn(t, s, a, 20_000)
	t.Logf("miss %.3f ± %.3f, drawn %.3f ± %.3f", s.Contacts[0].Miss, sit.Miss, d.Misses[0].Mean.Value(), d.Misses[0].Sigma.Value())
	assert.InDelta(t, 0, d.Settings[0].Sigma.Value(), 1e-9)
	assert.InEpsilon(t, sit.Miss, d.Misses[0].Sigma.Value(), 0.05)
	assert.InDelta(t, s.Contacts[0].Miss, d.Misses[0].Mean.Value(), 0.1)
	assert.Zero(t, d.Carried)
}

// With steps of 5 mm the wanted mark falls between two steps, and which is nearer depends on the readings.
func TestHowOftenAStepWouldBeAnother(t *testing.T) {
	target := biketest.Example(t, "studio")
	for i := range target.Adjusters {
		if target.Adjusters[i].Moves == bike.MovesSaddle {
			target.Adjusters[i].Step = 0.5
		}
	}
	target.Marks = map[string]float64{}
	source := biketest.Example(t, "road")
	a, err := locate.Adjust(source, nil, locate.Options{})
	require.NoError(t, err)
	pos, err := a.Position(source.Postures[0])
	require.NoError(t, err)
	s, err := Solve(context.Background(), target, source, &pos, Options{})
	require.NoError(t, err)
	d := drawn(t, s, a, 4000)
	for _, c := range d.Choices {
		t.Logf("%+v", c)
		if c.Name == "saddle post" {
			assert.Greater(t, c.Other, 0.01)
			assert.Less(t, c.Other, 0.9)
			assert.NotEmpty(t, c.Next)
			assert.NotEqual(t, c.Chosen, c.Next)
			assert.LessOrEqual(t, c.NextIn, c.Other)
		}
	}
}

// One mm of anchor is one mm of contact: settings that can follow freely move so that it is undone.
func TestTheAnchorMovesTheSettingsAgainstItself(t *testing.T) {
	s, a := carriedExample(t, "road", "studio", 0)
	stand, err := locate.Stand(s.Target, nil, s.Position.Posture)
	require.NoError(t, err)
	s.Target.AnchorSigma = 1
	require.NoError(t, s.Total(a, stand))
	sure := s.Uncertain()
	post, slide := s.Target.Adjusters[0].Direction(), s.Target.Adjusters[1].Direction()
	// x = post·p + slide·q solved for p and q, for the two axes in turn.
	det := post.Cross(slide)
	p := math.Hypot(slide.Y/det, slide.X/det)
	q := math.Hypot(post.Y/det, post.X/det)
	assert.InDelta(t, p, s.ByAnchors(0), 1e-4)
	assert.InDelta(t, q, s.ByAnchors(1), 1e-4)
	sit := sure[0]
	want := math.Sqrt(1 + math.Pow(0.5*post.X, 2) + math.Pow(0.5*slide.X, 2))
	assert.InDelta(t, want, sit.PlaceX, 1e-9)
	assert.Zero(t, sit.Miss, "reached: whatever the readings say, the settings follow")
}

// A dial that is set to so many degrees moves the seat about its clamp by so much, across the way from one to the other.
func TestADialLeavesThePlaceOpenToo(t *testing.T) {
	source, target := biketest.Example(t, "road"), biketest.Example(t, "studio")
	sigma := plane.Rad(0.5)
	target.Adjusters = append(target.Adjusters, bike.Adjuster{Name: "dial", Moves: bike.MovesSaddleTilt, Unit: plane.Rad(1), Lo: -8, Hi: 8,
		Sigma: sigma})
	target.AnchorSigma, target.Adjusters[0].Sigma, target.Adjusters[1].Sigma = 0, 0, 0
	a, err := locate.Adjust(source, nil, locate.Options{})
	require.NoError(t, err)
	pos, err := a.Position(source.Postures[0])
	require.NoError(t, err)
	s, err := Solve(context.Background(), target, source, &pos, Options{})
	require.NoError(t, err)
	sure := s.Uncertain()
	arm := s.Contacts[0].Got.At.Sub(s.saddle.clamp)
	assert.InDelta(t, math.Abs(arm.Y)*sigma, sure[0].PlaceX, 1e-9)
	assert.InDelta(t, math.Abs(arm.X)*sigma, sure[0].PlaceY, 1e-9)
	assert.InDelta(t, sigma, sure[0].PlaceAngle, 1e-12)
}

// The seed alone decides, whatever the number of workers.
func TestDrawsRepeat(t *testing.T) {
	s, a := carriedExample(t, "road", "studio", 0)
	one, err := s.Draw(context.Background(), a, DrawPlan{Draws: 3000, Seed: 9, Workers: 1})
	require.NoError(t, err)
	two, err := s.Draw(context.Background(), a, DrawPlan{Draws: 3000, Seed: 9, Workers: 2})
	require.NoError(t, err)
	assert.Equal(t, one, two)
}

// The hood of one bar follows its lever, that of the other is measured and a hair from it: the draws take
// now one, now the other, and a lever's place is known from those that have one.
func TestDrawsComeOutWithOtherParts(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 0))
	m := newMachine(r)
	for m.hands.Name != bike.Hood || m.b.Stem != nil {
		m = newMachine(r)
	}
	m.b.Bar.LeverAt, m.b.Bar.Rotation = free(-25, 20), free(-0.2, 0.2)
	m.b.Adjusters = slices.DeleteFunc(m.b.Adjusters, func(a bike.Adjuster) bool {
		return a.Moves == bike.MovesBarRotation || a.Moves == bike.MovesBar
	})
	source, p := m.source(r, Options{})
	a, err := locate.Adjust(source, nil, locate.Options{})
	require.NoError(t, err)
	pos, err := a.Position(p)
	require.NoError(t, err)
	want, err := Want(&pos, source.Feet, m.b, Options{})
	require.NoError(t, err)
	hood, angle, _ := m.b.Bar.Only().HoodContact(m.b.Bar.Lever.Only(), 5)
	anchor := want.Hands.At.Sub(hood.Turn(want.Hands.Angle - angle))
	m.b.BarAnchor, m.b.Bar.Rotation, m.b.Bar.Open = &anchor, free(-1.5, 1.5), true
	m.b.Bar.Options = append(m.b.Bar.Options, bike.Option[cockpit.Bar]{ID: "own-hood",
		Part: &cockpit.Bar{Hood: &plane.Point{X: hood.X + 0.0001, Y: hood.Y}, HoodAngle: angle}})
	s, err := Solve(context.Background(), m.b, source, &pos, Options{})
	require.NoError(t, err)
	require.NotNil(t, s.hands.arm.Lever)
	d, err := s.Draw(context.Background(), a, DrawPlan{Draws: 1000, Seed: 1})
	require.NoError(t, err)
	share := map[string]float64{}
	for _, k := range d.Settings {
		share[k.Name] = k.In
		assert.False(t, math.IsNaN(k.Mean.Value()+k.Sigma.Value()+k.Lo.Value()+k.Hi.Value()), k.Name)
	}
	t.Logf("seed 1: a lever in %.3f of the draws", share["bar.lever_at"])
	assert.Equal(t, 1.0, share["bar.rotation"])
	assert.Greater(t, share["bar.lever_at"], 0.05)
	assert.Less(t, share["bar.lever_at"], 0.999)
	for _, c := range d.Choices {
		if c.Name == "lever" {
			assert.InDelta(t, 1-share["bar.lever_at"], c.NextIn, 1e-12)
			assert.Equal(t, "none", c.Next)
		}
	}
}
