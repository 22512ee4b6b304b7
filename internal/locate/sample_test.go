package locate

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/biketest"
	"carryover/internal/lsq"
)

// A draw whose adjustment does not settle is told apart from a fault: it has no answer, the next may.
func TestADrawThatDoesNotSettle(t *testing.T) {
	const seed = 3
	t.Logf("seed %d", seed)
	b := biketest.Example(t, "road")
	a, err := Adjust(b, nil, Options{})
	require.NoError(t, err)
	s, err := a.Sampler(b.Postures[0])
	require.NoError(t, err)
	s.problem.MaxIterations = 1
	for i := range s.problem.Sigmas {
		s.problem.Sigmas[i] *= 1000
	}
	r := rand.New(rand.NewPCG(seed, 0))
	_, err = s.Draw(r)
	assert.ErrorIs(t, err, ErrNoFit)
	assert.ErrorContains(t, err, lsq.MaxIterations.String())
}
