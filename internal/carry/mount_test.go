package carry

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/bike"
)

// A machine with its parts chosen has its contacts where its mounts say: each mount moved by every setting's travel.
func TestContactsHangOnTheirMounts(t *testing.T) {
	r := rand.New(rand.NewPCG(2029, 0))
	for range 200 {
		m := newMachine(r)
		m.b.Bar.LeverAt = bike.Fixed(0)
		s := solvePosition(t, m, positionOf(m, nil))
		b := s.Target.Narrowed(s.picks())
		if b.Stem != nil {
			b.Stem.Flip = &s.hands.base.flip
		}
		for i, seat := range []bool{true, false} {
			hang, err := MountOf(b, s.Position.Posture, seat)
			require.NoError(t, err)
			turn, at := 0.0, hang.Clamp
			for sets, turns := range hang.Turns {
				if !slices.ContainsFunc(s.Settings, func(set Setting) bool { return set.Sets == sets }) {
					turn += turns.Ends().Lo
				}
			}
			for _, set := range s.Settings {
				switch _, turns := hang.Turns[set.Sets]; {
				case set.Sets.OnSaddle() != seat:
				case turns:
					turn += set.Travel + set.Zero
				case set.Sets == bike.SetsSaddle, set.Sets == bike.SetsBar:
					at = at.Add(set.Heading.Scale(set.Travel))
				case set.Sets == bike.SetsSpacers:
					steerer, _ := b.Steerer()
					at = at.Add(steerer.Up().Scale(set.Travel))
				case set.Sets == bike.SetsRails, set.Sets == bike.SetsHole:
					hang.At.X += set.Travel - set.Lo
				case set.Sets == bike.SetsRisers:
					hang.At.Y += set.Travel - set.Lo
				}
			}
			got := s.Contacts[i].Got
			assert.InDelta(t, 0, at.Add(hang.At.Turn(turn)).Distance(got.At), 1e-6)
			assert.InDelta(t, got.Angle, turn+hang.Offset, 1e-9)
		}
	}
}
