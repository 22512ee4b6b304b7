package locate

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/bike"
	"carryover/internal/biketest"
)

// Two people read one bike, one of them 9 mm long in whatever she reads: who is off against whom is told, in what both read.
func TestPeopleAreToldApart(t *testing.T) {
	truth := bareTarget(bike.Hood)
	read := func(by string, longer float64) {
		from := len(truth.Bike.Readings)
		truth.Read(bike.Line, biketest.BB, biketest.Mid)
		truth.Read(bike.Level, biketest.BB, biketest.Nose)
		truth.Level(bike.SaddleBody)
		for i := from; i < len(truth.Bike.Readings); i++ {
			r := &truth.Bike.Readings[i]
			if r.By = by; r.Kind != bike.Angle {
				r.Value += longer * map[bool]float64{true: 1, false: -1}[r.Value > 0]
			}
		}
	}
	read("Ana", 0)
	truth.Read(bike.Line, biketest.BB, biketest.Tail)
	read("Ben", 9)
	a, err := Adjust(truth.Bike, nil, Options{})
	require.NoError(t, err)
	pairs := a.People()
	require.Len(t, pairs, 1, "nobody's reading is of what nobody else read")
	p := pairs[0]
	assert.Equal(t, [2]string{"Ana", "Ben"}, [2]string{p.First, p.Second})
	assert.Equal(t, [2]int{3, 3}, p.Taken)
	assert.InDelta(t, 9, p.Longer, 1e-9)
	assert.InDelta(t, 2, p.Sigma, 1e-9, "two lengths of 2 mm, each read by both")
	assert.True(t, p.Apart)
	require.Len(t, p.Both, 3)
	for _, k := range p.Both {
		assert.Equal(t, !k.First.Turns(), k.Apart, "%+v", k)
	}
	for i := range truth.Bike.Readings {
		truth.Bike.Readings[i].By = "Ana"
	}
	assert.Empty(t, a.People())
}
