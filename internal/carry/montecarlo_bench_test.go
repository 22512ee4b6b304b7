package carry

import (
	"context"
	"testing"

	"carryover/internal/biketest"
	"carryover/internal/locate"

	"github.com/stretchr/testify/require"
)

// carriedExample carries one posture of an example to another.
func carriedExample(t testing.TB, from, to string, posture int) (*Solution, *locate.Adjustment) {
	t.Helper()
	source, target := biketest.Example(t, from), biketest.Example(t, to)
	a, err := locate.Adjust(source, nil, locate.Options{})
	require.NoError(t, err)
	pos, err := a.Position(source.Postures[posture])
	require.NoError(t, err)
	s, err := Solve(context.Background(), target, source, &pos, Options{})
	require.NoError(t, err)
	return s, a
}

// One draw is an adjustment and a full solve; 100000 of them on two cores are the time of 50000 of these.
func BenchmarkDraw(b *testing.B) {
	s, a := carriedExample(b, "road", "studio", 0)
	b.ReportAllocs()
	b.ResetTimer()
	_, err := s.Draw(context.Background(), a, DrawPlan{Draws: max(2, b.N), Seed: 1, Workers: 1})
	require.NoError(b, err)
}

func BenchmarkAdjustExample(b *testing.B) {
	source := biketest.Example(b, "road")
	b.ReportAllocs()
	for b.Loop() {
		if _, err := locate.Adjust(source, nil, locate.Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
