package job

import (
	"cmp"
	"context"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/cockpit"
)

// The three stems named are the nearest of every stem of the catalogue, either way up, on every stack of spacers.
func TestStemsAreTheNearestOfAll(t *testing.T) {
	f, ctx := &Files{}, context.Background()
	c, err := f.Carry(ctx, Asked{From: "example:road", To: "example:outdoor", Stems: true})
	require.NoError(t, err)
	r := c.Results[0]
	require.Len(t, r.Stems, 3)
	assert.True(t, r.StemsProven)
	shop, err := f.shop()
	require.NoError(t, err)
	type stem struct {
		id string
		e  float64
	}
	var all []stem
	for _, o := range shop.Stems {
		best := stem{o.ID, math.Inf(1)}
		for _, flip := range []bool{false, true} {
			for spacers := 0.0; spacers <= 30; spacers += 5 { // what its file offers
				b := *r.Target
				b.Stem = &bike.StemFit{Slot: bike.Slot[cockpit.Stem]{Options: []bike.Option[cockpit.Stem]{o}}, Flip: &flip,
					Spacers: bike.Spacers{Given: true, Fixed: spacers}}
				s, err := carry.Solve(ctx, &b, c.Bike, r.Position, r.Options)
				require.NoError(t, err)
				best.e = min(best.e, s.E)
			}
		}
		all = append(all, best)
	}
	slices.SortFunc(all, func(a, b stem) int { return cmp.Compare(a.e, b.e) })
	for i, s := range r.Stems {
		at := slices.IndexFunc(s.Parts, func(p carry.Part) bool { return p.Slot == "stem" })
		assert.Equal(t, all[i].id, s.Parts[at].ID)
		assert.InDelta(t, all[i].e, s.E, 1e-9)
	}
	_, err = f.Carry(ctx, Asked{From: "example:road", To: "example:studio", Stems: true})
	assert.ErrorContains(t, err, "has no [stem]")
}
