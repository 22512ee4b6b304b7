package carry

import (
	"context"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// lapsing is a context that has ended when it is looked at for one time, counted from 0, and at no other; or from then on.
type lapsing struct {
	context.Context
	ends, looks int
	lasts       bool
}

func (c *lapsing) Err() error {
	c.looks++
	if c.looks-1 == c.ends || c.lasts && c.looks > c.ends {
		return context.Canceled
	}
	return nil
}

// everyLook runs a search anew with its context ended at every look from one on, at that alone and from then on: it must not call its
// answer proven.
func everyLook(t *testing.T, from int, search func(ctx context.Context) (proven bool)) (looks int) {
	t.Helper()
	require.True(t, search(&lapsing{t.Context(), -1, 0, false}))
	for ends := from; ; ends++ {
		for _, lasts := range []bool{true, false} {
			ctx := &lapsing{t.Context(), ends, 0, lasts}
			proven := search(ctx)
			if ctx.looks <= ends {
				return ends
			}
			require.False(t, proven, "ended at look %d", ends)
		}
	}
}

// A search that is cut short, in whichever half, for whichever choice of parts, has a whole answer, and does not call it proven.
func TestASearchCutShortAnywhereIsNotProven(t *testing.T) {
	r := rand.New(rand.NewPCG(alternativesSeed, 4))
	for range 3 {
		b := catalogue(shop{saddles: 3, stems: 4, spacers: 3, bars: 3, levers: 2}, r.Uint64())
		b.Adjusters[0].Step = 2 // so that a seat by itself has something to look for
		p, q := wish(r, false), wish(r, false)
		alone := everyLook(t, 0, func(ctx context.Context) bool {
			s, err := Solve(ctx, b, b, p, Options{})
			require.NoError(t, err)
			require.NotEmpty(t, s.Settings)
			return s.Proven
		})
		assert.Greater(t, alone, 2, "both halves are looked at")
		everyLook(t, 0, func(ctx context.Context) bool {
			list, proven, err := Alternatives(ctx, b, b, p, Options{}, 4)
			require.NoError(t, err)
			require.NotEmpty(t, list)
			return proven
		})
		count := &lapsing{t.Context(), -1, 0, false} // what each is by itself is solved again
		for _, pos := range []Asked{{b, p}, {b, q}} {
			_, err := Solve(count, b, b, pos.Position, Options{})
			require.NoError(t, err)
		}
		both := everyLook(t, count.looks, func(ctx context.Context) bool {
			list := SolveAll(ctx, b, []Asked{{b, p}, {b, q}}, Options{})
			require.NoError(t, list[0].Err)
			require.Equal(t, list[0].Proven, list[1].Proven)
			return list[0].Proven
		})
		assert.Greater(t, both, count.looks+alone)
	}
}

// What --draws names beside what was chosen is what came out most often instead, of as many the first by name.
func TestWhatIsDrawnMostOftenInsteadIsNamed(t *testing.T) {
	s := &Solution{Target: newMachine(rand.New(rand.NewPCG(1, 0))).b, Want: Wanted{Crank: 170}}
	s.saddle.arm.picks, s.hands.arm.picks = nothingBolted.Picks, nothingBolted.Picks
	s.saddle.base, s.hands.base = anchored, anchored
	for next, counts := range map[string]map[string]int{
		"175":   {"170": 5, "165": 2, "175": 3},
		"165":   {"170": 5, "172.5": 2, "165": 2, "175": 1},
		"167.5": {"170": 1, "167.5": 5, "165": 4},
		"":      {"170": 10},
	} {
		for range 20 { // a map has no order
			k := (&tally{names: []string{"crank"}, counts: []map[string]int{counts}}).choices(s, 10)[0]
			require.Equal(t, [3]any{"170", next, float64(counts[next]) / 10}, [3]any{k.Chosen, k.Next, k.NextIn})
			require.InDelta(t, 1-float64(counts["170"])/10, k.Other, 1e-12)
		}
	}
}
