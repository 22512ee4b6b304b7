package confirm

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

// Bikes without shapes, anchors or marks, ridden at a pitch: truth first. The position wanted is the true one moved by a known
// way; what is said to be off is that way, and the moves told take the true contacts there.
func TestABikeWithoutShapesOrAnchorsIsConfirmed(t *testing.T) {
	const seed = 7
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	cured := 0
	n := 300
	if testing.Short() {
		n = 60
	}
	for trial := range n {
		hands := []bike.Contact{bike.Hood, bike.Hood, bike.Pad}[r.IntN(3)]
		truth := biketest.Bike(r, hands)

		truth.Read(bike.Line, biketest.BB, biketest.Sit)
		truth.Read(bike.Level, biketest.Sit, biketest.BB)
		truth.Level(bike.SaddleBody)
		to := map[bike.Contact]bike.PlaceKind{bike.Hood: bike.AtHood, bike.Pad: bike.AtPad}[hands]
		truth.Read(bike.Level, biketest.Sit, biketest.At(to))
		truth.Read(bike.Plumb, biketest.At(to), biketest.Sit)
		truth.Level(map[bike.Contact]bike.Body{bike.Hood: bike.HoodBody, bike.Pad: bike.PadBody}[hands])
		if r.IntN(2) == 0 {
			truth.Unshaped(r.IntN(2) == 0, true)
		}
		b := truth.Bike
		for _, a := range b.Adjusters {
			if r.IntN(3) == 0 {
				truth.Lose(a.Name)
			}
		}
		if b.Bar.Empty() || r.IntN(2) == 0 {
			b.SaddleAnchor, b.BarAnchor = nil, nil
		}
		pitch := float64(r.IntN(3)-1) * plane.Rad(1.2)
		b.Frame.Pitch = pitch
		sit, grip := truth.Contacts()
		way9 := func() float64 { return biketest.Between(r, -9, 9) }
		off := [2]plane.Point{{X: way9(), Y: way9()}, {X: way9(), Y: way9()}}
		pos := locate.Position{Posture: truth.Posture, Sit: sit, Hands: grip} // as the bike is read
		pos.Sit.At, pos.Hands.At = sit.At.Add(off[0]), grip.At.Add(off[1])
		pos = pos.Turned(pitch)

		stand, err := Stand(b, nil, []bike.Posture{truth.Posture})
		require.NoError(t, err, "trial %d", trial)
		feet := b.Feet
		k, err := Check(context.Background(), stand, From{Feet: feet, Position: &pos}, carry.Options{})
		require.NoError(t, err, "trial %d", trial)
		if k.Followed { // the hands keep their place from the saddle that can be had
			off[1] = off[1].Sub(k.After[0].Away)
		}
		for i := range off {
			assert.InDelta(t, off[i].X, k.Contacts[i].Away.X, 0.02, "trial %d", trial)
			assert.InDelta(t, off[i].Y, k.Contacts[i].Away.Y, 0.02, "trial %d", trial)
			assert.InDelta(t, 0, k.Contacts[i].MissAngle, 1e-4, "trial %d", trial)
		}
		require.Len(t, k.Readings, len(b.Readings))
		turns := false
		var way [2]plane.Point
		for _, c := range k.Corrections {
			turns = turns || c.Turns()
			half := 1
			if c.Sets.OnSaddle() {
				half = 0
			}
			way[half] = way[half].Add(c.Heading.Scale(c.Travel().Value()))
			if c.Adjuster < len(b.Adjusters) && c.Scale {
				assert.InDelta(t, b.Marks[c.Name], c.From, 1e-9, "trial %d", trial)
			}
		}
		if k.Cured && !turns {
			cured++
			for i := range off {
				assert.LessOrEqual(t, off[i].Sub(way[i]).Norm(), carry.CarriedMM+0.05, "trial %d", trial)
			}
		}
	}
	t.Logf("%d of %d cured by travels alone", cured, n)
	assert.Greater(t, cured, n/3)
}
