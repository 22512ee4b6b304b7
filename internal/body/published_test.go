package body

import (
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/bike"
	"carryover/internal/plane"
)

// ruled is a rider known by the inseam alone, on a saddle at the height of the rule. The stature behind the estimated
// lengths is inseam / share; the seat tube stands at 73.5°, the saddle gives 7 mm.
func ruled(t *testing.T, inseam, share float64, pitch Pitch) (*Segments, Place) {
	t.Helper()
	stature := inseam / share
	s, err := NewSegments(&bike.Rider{Body: bike.BodySizes{Height: &stature}})
	require.NoError(t, err)
	// Crank and height: where the two rules of LeMond and of Hamley and Thomas meet, 1.09 - 0.883 = 0.207 of the inseam.
	f := Place{Crank: (1.09 - 0.883) * inseam, Sole: 24, Pitch: pitch}
	f.Sit = plane.Direction(plane.Rad(180 - 73.5)).Scale(0.883 * inseam).Add(plane.Point{Y: -7})
	return s, f
}

// TestKneeAtThePublishedSaddleHeight: at 0.883 of the inseam from the BB (LeMond; with the pedal lowest 1.09 of it, Hamley
// and Thomas 1967, J Physiol 191:55P; both as used by Peveler et al. 2005, JEPonline 8(1):51) the knee bends within the
// bands that are published for the pedal at its lowest: 25° to 35° measured standing still (Holmes, Pruitt and Whalen
// 1994, Clin Sports Med 13:187), 30° to 40° measured while riding (Ferrer-Roca et al. 2012, J Strength Cond Res
// 26:3025). This leg gives 29.4° at an inseam of 750 mm to 34.8° at 900 mm.
//
// It says less than it seems to. An inseam of 0.47 of the stature is common, from memory, and with it all lengths are
// estimates: a hundredth more or less of that share moves the knee by 8° to 14°. So does the foot: the bands are met with the
// heel up as assumed here, while with the sole level the shortest of these legs would not reach the pedal at all. The rule's
// landmark is the crotch and this leg's the hip joint, 90 mm above the saddle by common practice. Ferrer-Roca et al. found
// half of the riders who keep to such rules outside the band.
func TestKneeAtThePublishedSaddleHeight(t *testing.T) {
	const usual, least, most = 0.47, 25, 40
	for inseam := 750.0; inseam <= 900; inseam += 10 {
		knee := func(share float64) float64 {
			s, f := ruled(t, inseam, share, usualPitch())
			l, err := s.Leg(f, math.Pi)
			require.NoError(t, err)
			return plane.Deg(l.KneeFlexion)
		}
		k := knee(usual)
		assert.GreaterOrEqual(t, k, float64(least), "inseam %g", inseam)
		assert.LessOrEqual(t, k, float64(most), "inseam %g", inseam)
		assert.InDelta(t, 32.1, k, 2.8, "inseam %g: what this leg gives", inseam)
		for _, share := range []float64{usual - 0.01, usual + 0.01} {
			moved := math.Abs(knee(share) - k)
			assert.Greater(t, moved, 7.5, "inseam %g, share %g", inseam, share)
			assert.Less(t, moved, 14.5, "inseam %g, share %g", inseam, share)
		}
	}
	s, f := ruled(t, 750, usual, Pitch{})
	_, err := s.Leg(f, math.Pi)
	var reach *ReachError
	require.True(t, errors.As(err, &reach), "with the sole level it does not reach")
	assert.InDelta(t, 6, reach.Short, 1)
}
