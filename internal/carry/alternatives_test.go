package carry

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/bike"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// combo is one combination of parts found by enumeration: least E² of each half, and what its contact misses.
type combo struct {
	saddle, stem, bar, lever int
	square                   float64
	carried, clear           bool // clear: not on the edge of being carried
	changes                  int
	price                    float64
}

// dense is the least of f over a dense scan of turns, refined around its best place: no bound, no branch.
func dense(f func(t float64) float64, lo, hi float64) (t, least float64) {
	const parts = 600
	least = math.Inf(1)
	for k := range parts + 1 {
		at := lo + (hi-lo)*float64(k)/parts
		if v := f(at); v < least {
			t, least = at, v
		}
	}
	for width := (hi - lo) / parts; width > 1e-10; width /= 3 {
		for _, at := range []float64{t - width, t - width/3, t + width/3, t + width} {
			if at >= lo && at <= hi {
				if v := f(at); v < least {
					t, least = at, v
				}
			}
		}
	}
	return t, least
}

// within2 is the least distance of to from a·u + b·v with a and b between their ends, by going through the
// inside, the four edges and the four corners.
func within2(to, u, v plane.Point, aLo, aHi, bLo, bHi float64) float64 {
	if det := u.Cross(v); math.Abs(det) > 1e-9 {
		a, b := to.Cross(v)/det, u.Cross(to)/det
		if a >= aLo && a <= aHi && b >= bLo && b <= bHi {
			return 0
		}
	}
	best := math.Inf(1)
	for _, a := range []float64{aLo, aHi} {
		r := to.Sub(u.Scale(a))
		best = math.Min(best, r.Distance(v.Scale(plane.Clamp(r.Dot(v), bLo, bHi))))
	}
	for _, b := range []float64{bLo, bHi} {
		r := to.Sub(v.Scale(b))
		best = math.Min(best, r.Distance(u.Scale(plane.Clamp(r.Dot(u), aLo, aHi))))
	}
	return best
}

// enumerate tries every part on every other, either way up, on every stack of spacers, over a dense scan of turns.
func enumerate(b *bike.Bike, p *locate.Position) []combo {
	type half struct {
		square         float64
		carried, clear bool
	}
	judge := func(square, miss, turn, want float64) half {
		a := math.Abs(turn - want)
		edge := math.Abs(miss-CarriedMM) < 1e-3 || math.Abs(a-CarriedRad) < 1e-5
		return half{square, miss <= CarriedMM && a <= CarriedRad, !edge}
	}
	k := plane.Deg(bike.DegreeCost)
	var saddles []half
	for _, o := range b.Saddle.Options {
		station, _ := o.Part.WidthStation(p.Posture.Support)
		h := o.Part.Rail.Height + o.Part.Loaded(station).Y
		miss := func(t float64) float64 {
			to := p.Sit.At.Sub(*b.SaddleAnchor).Sub(plane.Point{X: -station, Y: h}.Turn(t))
			return within2(to, plane.Direction(b.Adjusters[0].Angle), plane.Direction(t), b.Adjusters[0].Lo, b.Adjusters[0].Hi,
				math.Max(b.Saddle.ClampAt.Lo, o.Part.Rail.From), math.Min(b.Saddle.ClampAt.Hi, o.Part.Rail.To))
		}
		t, sq := dense(func(t float64) float64 {
			d, a := miss(t), k*(t-p.Sit.Angle)
			return d*d + a*a
		}, b.Saddle.Tilt.Lo, b.Saddle.Tilt.Hi)
		saddles = append(saddles, judge(sq, miss(t), t, p.Sit.Angle))
	}
	steerer, _ := b.Steerer()
	var all []combo
	for i, stem := range b.Stem.Options {
		for j, bar := range b.Bar.Options {
			for l, lever := range b.Bar.Lever.Options {
				at, angle, _ := bar.Part.HoodContact(lever.Part, b.Bar.LeverAt.Lo)
				best := half{square: math.Inf(1)}
				for _, flip := range []bool{false, true} {
					for _, spacers := range b.Stem.Spacers.Heights() {
						clamp := steerer.BarClamp(*stem.Part, flip, spacers)
						miss := func(t float64) float64 { return p.Hands.At.Distance(clamp.Add(at.Turn(t))) }
						t, sq := dense(func(t float64) float64 {
							d, a := miss(t), k*(t+angle-p.Hands.Angle)
							return d*d + a*a
						}, b.Bar.Rotation.Lo, b.Bar.Rotation.Hi)
						if sq < best.square {
							best = judge(sq, miss(t), t+angle, p.Hands.Angle)
						}
					}
				}
				for s, sad := range saddles {
					c := combo{saddle: s, stem: i, bar: j, lever: l, square: sad.square + best.square,
						carried: sad.carried && best.carried, clear: sad.clear && best.clear,
						price: *b.Saddle.Options[s].Price + *stem.Price + *bar.Price + *lever.Price}
					for _, i := range []int{s, i, j, l} {
						if i != fitted {
							c.changes++
						}
					}
					all = append(all, c)
				}
			}
		}
	}
	slices.SortFunc(all, func(a, b combo) int {
		switch {
		case a.square < b.square:
			return -1
		case a.square > b.square:
			return 1
		}
		return 0
	})
	return all
}

const alternativesSeed = 20260214

// nearby is a position that some parts of the catalogue have, or miss by a little.
func nearby(r *rand.Rand, b *bike.Bike) *locate.Position {
	p := wish(r, false)
	steerer, _ := b.Steerer()
	heights := b.Stem.Spacers.Heights()
	clamp := steerer.BarClamp(*b.Stem.Options[r.IntN(len(b.Stem.Options))].Part, r.IntN(2) == 0, heights[r.IntN(len(heights))])
	bar, lever := b.Bar.Options[r.IntN(len(b.Bar.Options))].Part, b.Bar.Lever.Options[r.IntN(len(b.Bar.Lever.Options))].Part
	at, angle, _ := bar.HoodContact(lever, b.Bar.LeverAt.Lo)
	turn := plane.Rad(r.Float64()*16 - 8)
	p.Hands.At = clamp.Add(at.Turn(turn)).Add(plane.Point{X: r.NormFloat64() * 1.5, Y: r.NormFloat64() * 1.5})
	p.Hands.Angle = turn + angle
	return p
}

// cases runs a check on random small catalogues: half on positions that carry or nearly do, a quarter on
// such as are well out of reach.
func cases(t *testing.T, n int, check func(t *testing.T, b *bike.Bike, p *locate.Position, all []combo)) {
	r := rand.New(rand.NewPCG(alternativesSeed, 1))
	for i := range n {
		b := catalogue(shop{saddles: 1 + r.IntN(3), stems: 1 + r.IntN(4), spacers: 1 + r.IntN(3), bars: 1 + r.IntN(3), levers: 1 + r.IntN(3)}, r.Uint64())
		p := wish(r, i%4 == 1)
		if i%2 == 0 {
			p = nearby(r, b)
		}
		check(t, b, p, enumerate(b, p))
		if t.Failed() {
			t.Fatalf("seed %d, case %d", alternativesSeed, i)
		}
	}
}

func TestTheBestPartsAreThoseOfEnumerationWithADenseScan(t *testing.T) {
	cases(t, tenth(2000), func(t *testing.T, b *bike.Bike, p *locate.Position, all []combo) {
		s, err := Solve(context.Background(), b, b.Feet, p, Options{})
		require.NoError(t, err)
		require.True(t, s.Proven)
		assert.InDelta(t, math.Sqrt(all[0].square), s.E, 1e-5)
		if len(all) > 1 && math.Sqrt(all[1].square)-math.Sqrt(all[0].square) > 1e-4 {
			assert.Equal(t, b.Stem.Options[all[0].stem].ID, partOf(s, "stem"))
			assert.Equal(t, b.Saddle.Options[all[0].saddle].ID, partOf(s, "saddle"))
			assert.Equal(t, b.Bar.Options[all[0].bar].ID, partOf(s, "bar"))
			assert.Equal(t, b.Bar.Lever.Options[all[0].lever].ID, partOf(s, "lever"))
		}
	})
}

func partOf(s *Solution, slot string) string {
	for _, p := range s.Parts {
		if p.Slot == slot {
			return p.ID
		}
	}
	return ""
}

func TestAlternativesAreTheNextOfEnumeration(t *testing.T) {
	cases(t, tenth(400), func(t *testing.T, b *bike.Bike, p *locate.Position, all []combo) {
		const n = 6
		list, proven, err := Alternatives(context.Background(), b, b.Feet, p, Options{}, n)
		require.NoError(t, err)
		require.True(t, proven)
		require.Len(t, list, min(n, len(all)))
		seen := map[string]bool{}
		for i, s := range list {
			assert.InDelta(t, math.Sqrt(all[i].square), s.E, 1e-5, "alternative %d", i)
			key := partOf(s, "saddle") + partOf(s, "stem") + partOf(s, "bar") + partOf(s, "lever")
			assert.False(t, seen[key], "%s twice", key)
			seen[key] = true
		}
	})
}

func TestTheFrontIsTheBestOfEveryNumberOfChanges(t *testing.T) {
	cases(t, tenth(300), func(t *testing.T, b *bike.Bike, p *locate.Position, all []combo) {
		f, err := PreferFitted(context.Background(), b, b.Feet, p, Options{})
		require.NoError(t, err)
		require.True(t, f.Proven)
		best := make([]float64, 5) // with at most so many changes
		for k := range best {
			best[k] = math.Inf(1)
			for _, c := range all {
				if c.changes <= k {
					best[k] = math.Min(best[k], math.Sqrt(c.square))
				}
			}
		}
		for i, trade := range f.Trades {
			assert.InDelta(t, best[trade.Changes], trade.Solution.E, 1e-5, "%d changes", trade.Changes)
			assert.Len(t, trade.Changed, trade.Changes)
			if i > 0 {
				assert.Less(t, trade.Solution.E, f.Trades[i-1].Solution.E)
			}
		}
		assert.InDelta(t, best[4], f.Trades[len(f.Trades)-1].Solution.E, 1e-5, "the front ends at the best")
		least, clear := math.MaxInt, true
		for _, c := range all {
			clear = clear && c.clear
			if c.carried {
				least = min(least, c.changes)
			}
		}
		if clear && least < math.MaxInt {
			assert.Equal(t, least, f.Preferred.Changes)
			assert.True(t, f.Preferred.Solution.Carried())
		}
		if clear && least == math.MaxInt {
			assert.False(t, f.Preferred.Solution.Carried())
		}
	})
}

func TestTheCheapestIsTheCheapestOfEnumeration(t *testing.T) {
	carried := 0
	cases(t, tenth(300), func(t *testing.T, b *bike.Bike, p *locate.Position, all []combo) {
		g, err := PreferCheapest(context.Background(), b, b.Feet, p, Options{})
		require.NoError(t, err)
		require.True(t, g.Proven)
		least, clear := math.Inf(1), true
		for _, c := range all {
			clear = clear && c.clear
			if c.carried {
				least = math.Min(least, c.price)
			}
		}
		if !clear {
			return
		}
		assert.Equal(t, !math.IsInf(least, 1), g.Carried)
		if g.Carried {
			carried++
			// A slot with a single part has nothing to choose and its price counts all the same.
			assert.InDelta(t, least, g.Sum, 1e-9)
			assert.True(t, g.Solution.Carried())
		} else {
			assert.InDelta(t, math.Sqrt(all[0].square), g.Solution.E, 1e-5)
		}
	})
	assert.Greater(t, carried, 10, "some of the cases have something to choose")
}

func TestPartsWithoutAPriceAreLeftOutAndNamed(t *testing.T) {
	r := rand.New(rand.NewPCG(alternativesSeed, 2))
	b := catalogue(shop{saddles: 2, stems: 6, spacers: 3, bars: 2, levers: 2}, 11)
	b.Stem.Options[1].Price = nil
	for i := range b.Bar.Lever.Options {
		b.Bar.Lever.Options[i].Price = nil
	}
	g, err := PreferCheapest(context.Background(), b, b.Feet, wish(r, false), Options{})
	require.NoError(t, err)
	assert.Equal(t, []string{"stem-1"}, g.Unpriced)
	assert.Equal(t, []string{"lever"}, g.Free)
}

func TestAStoppedSearchSaysThatItIsNotProven(t *testing.T) {
	target := catalogue(shop{saddles: 2, stems: 200, spacers: 8, bars: 300, levers: 50}, catalogueSeed)
	r := rand.New(rand.NewPCG(alternativesSeed, 3))
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	stopped := 0
	for range 5 {
		s, err := Solve(ctx, target, target.Feet, wish(r, true), Options{})
		require.NoError(t, err)
		assert.NotEmpty(t, s.Settings, "the best so far is a whole answer")
		if s.Proven { // it was over before anybody looked
			continue
		}
		stopped++
		list, proven, err := Alternatives(ctx, target, target.Feet, s.Position, Options{}, 3)
		require.NoError(t, err)
		assert.False(t, proven)
		assert.NotEmpty(t, list)
	}
	assert.Positive(t, stopped)
}
