package alternate

import (
	"context"
	"math"
	"math/bits"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/biketest"
	"carryover/internal/carry"
	"carryover/internal/plane"
)

// small is the studio frame with three steps on every post and slide, and angles with little room.
func small(t *testing.T, r *rand.Rand) *bike.Bike {
	b := *oneCrank(biketest.Example(t, "studio"), 170)
	b.Clipon = nil
	b.Adjusters = slices.Clone(b.Adjusters)
	middle := map[string]float64{"saddle post": 16.5, "saddle slide": 2.5, "bar post": 15, "bar slide": 90}
	for i := range b.Adjusters {
		a := &b.Adjusters[i]
		a.Step = (3 + 9*r.Float64()) / a.Unit
		a.Lo = middle[a.Name] - a.Step*(0.5+r.Float64())
		a.Hi = a.Lo + 2*a.Step
	}
	tilt, rotation := plane.Rad(-3+3*r.Float64()), plane.Rad(6*r.Float64())
	b.Saddle.Tilt = bike.Setting{Given: true, Free: true, Lo: tilt, Hi: tilt + plane.Rad(2*r.Float64())}
	b.Bar.Rotation = bike.Setting{Given: true, Free: true, Lo: rotation, Hi: rotation + plane.Rad(3*r.Float64())}
	return &b
}

// rung is one half of a small target: its angle, and where the contact is for each.
type rung struct {
	turns  plane.Range
	offset float64 // of the contact's angle against the turn
	at     func(p int, turn float64, steps [2]int) plane.Point
}

// least is, for a set of the half's three settings (two adjusters, then the angle), the least sum of E² over everything,
// and where the contacts then are.
func (g *rung) least(wants []assembly.Contact, set uint, sits bool) (best float64, got []plane.Point) {
	turns := make([]float64, len(wants))
	mean := 0.0
	for p, w := range wants {
		turns[p] = plane.Clamp(w.Angle-g.offset, g.turns.Lo, g.turns.Hi)
		mean += (w.Angle - g.offset) / float64(len(wants))
	}
	if set>>2&1 == 0 {
		for p := range turns {
			turns[p] = plane.Clamp(mean, g.turns.Lo, g.turns.Hi)
		}
	}
	best = math.Inf(1)
	for n := range 81 {
		first, second := [2]int{n % 3, n / 3 % 3}, [2]int{n / 9 % 3, n / 27}
		if set&1 == 0 && first[0] != second[0] || set>>1&1 == 0 && first[1] != second[1] {
			continue
		}
		sum, at := 0.0, []plane.Point{}
		for p, steps := range [][2]int{first, second} {
			c := assembly.Contact{At: g.at(p, turns[p], steps), Angle: turns[p] + g.offset}
			sum += squareOf(wants[p], c, sits)
			at = append(at, c.At)
		}
		if sum < best {
			best, got = sum, at
		}
	}
	return best, got
}

// best is the least for every number of moved settings, no more moved than gains anything.
func (g *rung) best(wants []assembly.Contact, sits bool) (best [4]float64, got [4][]plane.Point) {
	for k := range best {
		best[k] = math.Inf(1)
	}
	for set := range uint(8) {
		k := bits.OnesCount(set)
		if e, at := g.least(wants, set, sits); e < best[k] {
			best[k], got[k] = e, at
		}
	}
	for k := 1; k < len(best); k++ {
		if math.Sqrt(best[k-1]) <= math.Sqrt(best[k])+Tolerance {
			best[k], got[k] = best[k-1], got[k-1]
		}
	}
	return best, got
}

// TestRowsAgreeWithEnumeration goes through everything that a small target can be set to in both postures: where each setting
// puts a contact comes from a carry with everything fixed, what it is worth from design.md.
func TestRowsAgreeWithEnumeration(t *testing.T) {
	r := rand.New(rand.NewPCG(seed, 5))
	t.Logf("seed %d", seed)
	road := source(t, "road", "road")[0]
	for trial := range runs(240) {
		b := small(t, r)
		var list []Source
		for range 2 {
			pos := *road.Position
			pos.Second = nil
			between := func(far float64) float64 { return far * (2*r.Float64() - 1) }
			for i, far := range []float64{12, 12, plane.Rad(2), 14, 14, plane.Rad(2)} {
				pos = pos.Moved(i, between(far))
			}
			list = append(list, Source{Label: "p", Feet: b.Feet, Position: &pos})
		}
		found, err := Solve(context.Background(), b, list, carry.Options{}, nil)
		require.NoError(t, err)
		require.True(t, found.Proven())

		contacts := func(p int, tilt, rotation float64, steps [4]int) []carry.Carried {
			all := b.Settables(b.Chosen(), bike.Hood)
			var at []float64
			for _, s := range all {
				switch s.Sets {
				case bike.SetsSaddleTilt:
					at = append(at, tilt)
				case bike.SetsRotation:
					at = append(at, rotation)
				default:
					a := &b.Adjusters[s.Adjuster]
					at = append(at, a.Travel(a.Lo+a.Step*float64(steps[s.Adjuster])))
				}
			}
			k, err := carry.Solve(context.Background(), b.Held(all, at), &bike.Bike{Feet: b.Feet}, list[p].Position, carry.Options{})
			require.NoError(t, err)
			return k.Contacts
		}
		seat := rung{turns: plane.Range{Lo: b.Saddle.Tilt.Lo, Hi: b.Saddle.Tilt.Hi}}
		seat.at = func(p int, turn float64, s [2]int) plane.Point {
			return contacts(p, turn, b.Bar.Rotation.Lo, [4]int{s[0], s[1]})[0].Got.At
		}
		hands := rung{turns: plane.Range{Lo: b.Bar.Rotation.Lo, Hi: b.Bar.Rotation.Hi}}
		hands.offset = contacts(0, b.Saddle.Tilt.Lo, 0, [4]int{})[1].Got.Angle
		hands.at = func(p int, turn float64, s [2]int) plane.Point {
			return contacts(p, b.Saddle.Tilt.Lo, turn, [4]int{0, 0, s[0], s[1]})[1].Got.At
		}
		remember(&seat)
		remember(&hands)
		sits := []assembly.Contact{list[0].Position.Sit, list[1].Position.Sit}
		saddles, got := seat.best(sits, true)
		want := slices.Repeat([]float64{math.Inf(1)}, 7)
		for k := range saddles {
			var grips []assembly.Contact
			for p := range list {
				c := list[p].Position.Hands
				c.At = c.At.Add(got[k][p].Sub(sits[p].At)) // they follow the saddle
				grips = append(grips, c)
			}
			best, _ := hands.best(grips, false)
			for n := range best {
				want[k+n] = math.Min(want[k+n], saddles[k]+best[n])
			}
		}
		require.Len(t, found.Rows, len(want))
		for n, row := range found.Rows {
			assert.InDelta(t, math.Sqrt(want[n]), row.E, 2*Tolerance, "seed %d, trial %d, %d moves", seed, trial, n)
		}
	}
}

// remember keeps what has been worked out.
func remember(g *rung) {
	type place struct {
		p     int
		turn  float64
		steps [2]int
	}
	known := map[place]plane.Point{}
	at := g.at
	g.at = func(p int, turn float64, steps [2]int) plane.Point {
		k := place{p, turn, steps}
		if _, ok := known[k]; !ok {
			known[k] = at(p, turn, steps)
		}
		return known[k]
	}
}
