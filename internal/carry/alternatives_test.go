package carry

import (
	"cmp"
	"context"
	"math"
	"math/bits"
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
	seat, square             float64 // E² of the saddle's half, and of the whole
	carried, clear           bool    // clear: not on the edge of being carried
	changes                  uint    // set of slots with another part than the fitted one
}

// within2 is the place of a·u + b·v nearest to a point by a metric, a and b between their ends, by going through the
// inside, the four edges and the four corners.
func within2(m plane.Metric, to, u, v plane.Point, aLo, aHi, bLo, bHi float64) plane.Point {
	if det := u.Cross(v); math.Abs(det) > 1e-9 {
		a, b := to.Cross(v)/det, u.Cross(to)/det
		if a >= aLo && a <= aHi && b >= bLo && b <= bHi {
			return to
		}
	}
	best, least := plane.Point{}, math.Inf(1)
	along := func(from, dir plane.Point, lo, hi float64) {
		f, r := m.Flat(dir), m.Flat(to.Sub(from))
		p := from.Add(dir.Scale(plane.Clamp(r.Dot(f)/f.Dot(f), lo, hi)))
		if d := m.Flat(p.Sub(to)).Norm(); d < least {
			best, least = p, d
		}
	}
	for _, a := range []float64{aLo, aHi} {
		along(u.Scale(a), v, bLo, bHi)
	}
	for _, b := range []float64{bLo, bHi} {
		along(v.Scale(b), u, aLo, aHi)
	}
	return best
}

// enumerate tries every part on every other, either way up, on every stack of spacers, the angles as near as they go and
// the hands following the saddle that was got.
func enumerate(b *bike.Bike, p *locate.Position) []combo {
	k := plane.Deg(bike.DegreeCost)
	clear := func(miss, angle float64) bool {
		return math.Abs(miss-CarriedMM) > 1e-3 && math.Abs(math.Abs(angle)-CarriedRad) > 1e-5
	}
	steerer, _ := b.Steerer()
	var all []combo
	for s, o := range b.Saddle.Options {
		station, _ := o.Part.WidthStation(p.Posture.Support)
		turn := plane.Clamp(p.Sit.Angle, b.Saddle.Tilt.Lo, b.Saddle.Tilt.Hi)
		foot := b.SaddleAnchor.Add(plane.Point{X: -station, Y: o.Part.Rail.Height + o.Part.Loaded(station).Y}.Turn(turn))
		metric := plane.Metric{Line: p.Sit.At.Scale(1 / p.Sit.At.Norm()), Along: 3, Across: 1}
		got := foot.Add(within2(metric, p.Sit.At.Sub(foot), plane.Direction(b.Adjusters[0].Angle), plane.Direction(turn),
			b.Adjusters[0].Lo, b.Adjusters[0].Hi, math.Max(b.Saddle.ClampAt.Lo, o.Part.Rail.From), math.Min(b.Saddle.ClampAt.Hi, o.Part.Rail.To)))
		off := turn - p.Sit.Angle
		seat := math.Pow(metric.Flat(got.Sub(p.Sit.At)).Norm(), 2) + k*k*off*off
		carried, sure := Carries(got.Distance(p.Sit.At), off), clear(got.Distance(p.Sit.At), off)
		want := p.Hands.At.Add(got.Sub(p.Sit.At))
		for i, stem := range b.Stem.Options {
			for j, bar := range b.Bar.Options {
				for l, lever := range b.Bar.Lever.Options {
					at, angle, _ := bar.Part.HoodContact(lever.Part, b.Bar.LeverAt.Lo)
					turn := plane.Clamp(p.Hands.Angle-angle, b.Bar.Rotation.Lo, b.Bar.Rotation.Hi)
					off := turn + angle - p.Hands.Angle
					miss := math.Inf(1)
					for _, flip := range []bool{false, true} {
						for _, spacers := range b.Stem.Spacers.Heights() {
							miss = math.Min(miss, want.Distance(steerer.BarClamp(*stem.Part, flip, spacers).Add(at.Turn(turn))))
						}
					}
					c := combo{saddle: s, stem: i, bar: j, lever: l, seat: seat, square: seat + miss*miss + k*k*off*off,
						carried: carried && Carries(miss, off), clear: sure && clear(miss, off)}
					for slot, i := range []int{s, i, j, l} {
						if i != fitted {
							c.changes |= 1 << slot
						}
					}
					all = append(all, c)
				}
			}
		}
	}
	return all
}

// first is the combination that counts as best among some: least E of the saddle's half, then of the hands'.
func first(all []combo) combo {
	return slices.MinFunc(all, func(a, b combo) int {
		if math.Abs(a.seat-b.seat) > 1e-9 {
			return cmp.Compare(a.seat, b.seat)
		}
		return cmp.Compare(a.square, b.square)
	})
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
// such as are well out of search.
func cases(t *testing.T, n int, check func(t *testing.T, b *bike.Bike, p *locate.Position, all []combo)) {
	r := rand.New(rand.NewPCG(alternativesSeed, 1))
	for i := range n {
		b := catalogue(shop{saddles: 1 + r.IntN(3), stems: 1 + r.IntN(4), spacers: 1 + r.IntN(3), bars: 1 + r.IntN(3), levers: 1 + r.IntN(3)},
			r.Uint64())
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

func TestTheBestPartsAreThoseOfEnumeration(t *testing.T) {
	cases(t, tenth(2000), func(t *testing.T, b *bike.Bike, p *locate.Position, all []combo) {
		s, err := Solve(context.Background(), b, b, p, Options{})
		require.NoError(t, err)
		require.True(t, s.Proven)
		best := first(all)
		if slices.ContainsFunc(all, func(c combo) bool { return c.saddle != best.saddle && math.Abs(c.seat-best.seat) < 1e-4 }) {
			return // saddles that tie: which of them is another test's
		}
		assert.InDelta(t, math.Sqrt(best.square), s.E, 1e-5)
		twin := func(c combo) bool {
			return c != best && c.saddle == best.saddle && math.Abs(math.Sqrt(c.square)-math.Sqrt(best.square)) < 1e-4
		}
		if !slices.ContainsFunc(all, twin) {
			assert.Equal(t, b.Stem.Options[best.stem].ID, partOf(s, "stem"))
			assert.Equal(t, b.Saddle.Options[best.saddle].ID, partOf(s, "saddle"))
			assert.Equal(t, b.Bar.Options[best.bar].ID, partOf(s, "bar"))
			assert.Equal(t, b.Bar.Lever.Options[best.lever].ID, partOf(s, "lever"))
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
		list, proven, err := Alternatives(context.Background(), b, b, p, Options{}, n)
		require.NoError(t, err)
		require.True(t, proven)
		require.Len(t, list, min(n, len(all)))
		best, err := Solve(context.Background(), b, b, p, Options{})
		require.NoError(t, err)
		assert.Equal(t, best.Parts, list[0].Parts, "the answer comes first")
		var squares []float64
		for _, c := range all {
			if b.Saddle.Options[c.saddle].ID+b.Stem.Options[c.stem].ID+b.Bar.Options[c.bar].ID+b.Bar.Lever.Options[c.lever].ID != keyOf(best) {
				squares = append(squares, c.square)
			}
		}
		slices.Sort(squares)
		seen := map[string]bool{}
		for i, s := range list {
			if i > 0 {
				assert.InDelta(t, math.Sqrt(squares[i-1]), s.E, 1e-5, "alternative %d", i)
			}
			assert.False(t, seen[keyOf(s)], "%s twice", keyOf(s))
			seen[keyOf(s)] = true
		}
	})
}

func keyOf(s *Solution) string {
	return partOf(s, "saddle") + partOf(s, "stem") + partOf(s, "bar") + partOf(s, "lever")
}

func TestTheFrontIsTheBestOfEveryNumberOfChanges(t *testing.T) {
	cases(t, 150, func(t *testing.T, b *bike.Bike, p *locate.Position, all []combo) {
		f, err := PreferFitted(context.Background(), b, b, p, Options{})
		require.NoError(t, err)
		require.True(t, f.Proven)
		least, clear := math.MaxInt, true
		for _, c := range all {
			clear = clear && c.clear
			if c.carried {
				least = min(least, bits.OnesCount(c.changes))
			}
		}
		for i, trade := range f.Trades {
			best := math.Inf(1) // over every set of slots of that size, the best with only those changed
			for set := range uint(16) {
				if bits.OnesCount(set) > len(trade.Changed) {
					continue
				}
				some := slices.DeleteFunc(slices.Clone(all), func(c combo) bool { return c.changes&^set != 0 })
				best = math.Min(best, first(some).square)
			}
			assert.InDelta(t, math.Sqrt(best), trade.Solution.E, 1e-5, "%v", trade.Changed)
			if i > 0 {
				assert.Less(t, trade.Solution.E, f.Trades[i-1].Solution.E)
			}
		}
		if clear && least < math.MaxInt {
			assert.Equal(t, least, len(f.Preferred.Changed))
			assert.True(t, f.Preferred.Solution.Carried())
		}
		if clear && least == math.MaxInt {
			assert.False(t, f.Preferred.Solution.Carried())
		}
	})
}
