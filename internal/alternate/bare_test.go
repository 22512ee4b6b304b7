package alternate

import (
	"context"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/bike"
	"carryover/internal/biketest"
	"carryover/internal/carry"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// A target without shapes, as it stands: what every posture wants is where it is, moved by a known way, and everything
// moved carries it there; the way shared is in the middle.
func TestATargetWithoutShapesIsSharedAsItStands(t *testing.T) {
	r := rand.New(rand.NewPCG(seed, 8))
	shared := 0
	for trial := range runs(80) {
		truth := biketest.Bike(r, bike.Hood)
		truth.Read(bike.Line, biketest.BB, biketest.Sit)
		truth.Read(bike.Level, biketest.Sit, biketest.BB)
		truth.Level(bike.SaddleBody)
		truth.Read(bike.Level, biketest.Sit, biketest.At(bike.AtHood))
		truth.Read(bike.Plumb, biketest.At(bike.AtHood), biketest.Sit)
		truth.Level(bike.HoodBody)
		truth.Unshaped(true, true)
		for _, a := range truth.Bike.Adjusters {
			truth.Lose(a.Name)
		}
		truth.Bike.SaddleAnchor, truth.Bike.BarAnchor = nil, nil
		stand, err := locate.Stand(truth.Bike, nil, truth.Posture)
		require.NoError(t, err)
		sit, hands := truth.Contacts()
		d := plane.Point{X: biketest.Between(r, 3, 20)}
		list := make([]Source, 2)
		for i := range list {
			pos := locate.Position{Posture: truth.Posture, Sit: sit, Hands: hands}
			pos.Posture.Weights.Extension = 1
			way := d.Scale(float64(i) - 0.5)
			pos.Sit.At, pos.Hands.At = sit.At.Add(way), hands.At.Add(way)
			list[i] = Source{Label: "p", Feet: truth.Bike.Feet, Position: &pos}
		}
		k, err := Solve(context.Background(), stand.Bike, list, carry.Options{}, nil)
		require.NoError(t, err)
		last := k.Rows[len(k.Rows)-1]
		assert.InDelta(t, 0, last.E, 2*Tolerance, "trial %d", trial)
		assert.True(t, last.Carried())
		// Shared, each misses by half the way between them, and the hands go with the saddle.
		for _, o := range k.Rows[0].Outcomes {
			assert.InDelta(t, d.X/2, o.Contacts[0].Miss, 0.01, "trial %d", trial)
			assert.InDelta(t, 0, o.Contacts[1].Miss, 0.01, "trial %d: they are as far from the saddle in both", trial)
		}
		for _, v := range last.Outcomes[0].Values {
			if v.Moved {
				shared++
			}
		}
	}
	assert.Positive(t, shared)
}
