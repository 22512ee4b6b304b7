package locate

import (
	"math/rand/v2"
	"testing"

	"carryover/internal/bike"
	"carryover/internal/biketest"
)

// What a carry asks of both bikes: where the contacts of the source are, the target as it stands, and what both depend on.
func BenchmarkBothBikesOfACarry(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 1))
	source, target := biketest.Bike(r, bike.Hood), biketest.Bike(r, bike.Hood)
	for _, t := range []*biketest.Truth{source, target} {
		taped(r, t, false, false)
		t.Bike.SaddleAnchor, t.Bike.BarAnchor = nil, nil
	}
	b.ReportAllocs()
	for b.Loop() {
		a, err := Adjust(source.Bike, nil, Options{})
		if err != nil {
			b.Fatal(err)
		}
		pos, err := a.Position(source.Posture)
		if err != nil {
			b.Fatal(err)
		}
		s, err := Stand(target.Bike, nil, pos.Posture)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := a.Effects(source.Posture); err != nil || len(s.Shifts()) == 0 {
			b.Fatal(err)
		}
	}
}
