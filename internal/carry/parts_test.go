package carry

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/cockpit"
	"carryover/internal/plane"
)

// racked is a bike whose saddle stands on a post and on level racks, wanted total mm ahead of the racks'
// noughts; the marks are where they stand now.
func racked(racks []bike.Adjuster, marks []float64, total float64) *machine {
	m := newMachine(rand.New(rand.NewPCG(1, 0)))
	m.b.Adjusters = []bike.Adjuster{{Name: "post", Moves: bike.MovesSaddle, Angle: math.Pi / 2, Unit: 1, Hi: 100}}
	m.b.Marks = map[string]float64{}
	for i, a := range racks {
		a.Name, a.Moves, a.Unit = fmt.Sprintf("rack-%d", i), bike.MovesSaddle, 1
		m.b.Adjusters = append(m.b.Adjusters, a)
		m.b.Marks[a.Name] = marks[i]
	}
	m.b.Saddle.ClampAt, m.b.Saddle.Tilt = bike.Fixed(130), bike.Fixed(0)
	m.b.Bar = bike.BarFit{Slot: one(&cockpit.Bar{Hood: &plane.Point{X: 100, Y: 20}}), Rotation: bike.Fixed(0)}
	m.b.Stem, m.b.Clipon = nil, nil
	m.b.BarAnchor = &plane.Point{X: 400, Y: 600}
	m.hands = assembly.Contact{Name: bike.Hood, At: plane.Point{X: 500, Y: 620}}
	s := m.b.Saddle.Only()
	station, _ := s.WidthStation(support)
	clamp := m.b.SaddleAnchor.Add(plane.Point{X: total, Y: 50})
	m.sit = assembly.Contact{Name: bike.Sit, At: clamp.Add(plane.Point{X: 130 - station, Y: s.Rail.Height + s.Loaded(station).Y})}
	return m
}

// Racks that make up for one another reach the same place in far more ways than can be listed: the marks
// decide among all of them.
func TestTheMarksDecideAmongAllTies(t *testing.T) {
	fine, whole := bike.Adjuster{Hi: 100, Step: 0.01}, bike.Adjuster{Hi: 100, Step: 1}
	sixty := bike.Adjuster{Hi: 59, Step: 1}
	for _, c := range []struct {
		name        string
		racks       []bike.Adjuster
		marks, want []float64
		total       float64
	}{
		{"10 001 pairs, as they stand", []bike.Adjuster{fine, fine}, []float64{100, 0}, []float64{100, 0}, 100},
		{"10 001 pairs, half the way each", []bike.Adjuster{fine, fine}, []float64{40, 40}, []float64{50, 50}, 100},
		{"7651 triples, as they stand", []bike.Adjuster{whole, whole, whole}, []float64{100, 25, 25}, []float64{100, 25, 25}, 150},
		{"a third of the way each", []bike.Adjuster{whole, whole, whole}, []float64{10, 50, 0}, []float64{40, 80, 30}, 150},
		{"60⁵, a fifth of the way each", []bike.Adjuster{sixty, sixty, sixty, sixty, sixty}, []float64{0, 10, 20, 30, 40},
			[]float64{10, 20, 30, 40, 50}, 150},
		{"60⁵, one at its stop", []bike.Adjuster{sixty, sixty, sixty, sixty, sixty}, []float64{0, 10, 20, 30, 55},
			[]float64{9, 19, 29, 39, 59}, 155},
		// 152 is two steps more than ten each: two racks go one further, the first ones of the file stay behind.
		{"60⁵, not to be divided", []bike.Adjuster{sixty, sixty, sixty, sixty, sixty}, []float64{0, 10, 20, 30, 40},
			[]float64{10, 20, 30, 41, 51}, 152},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := racked(c.racks, c.marks, c.total)
			got := solvePosition(t, m, positionOf(m, nil))
			assert.True(t, got.Proven)
			assert.InDelta(t, 0, got.E, 1e-6)
			for i, want := range c.want {
				assert.InDelta(t, want, got.Settings[1+i].Travel, 1e-6, "rack %d", i)
			}
		})
	}
}

// A slide beside the racks takes what is left: every one of 60⁵ choices reaches. The bound is the division
// of the way among six, rounded; no choice of whole steps near it is better.
func TestASlideAmongRacksThatAllReach(t *testing.T) {
	sixty := bike.Adjuster{Hi: 59, Step: 1}
	racks := []bike.Adjuster{sixty, sixty, sixty, sixty, sixty, {Hi: 300, Lo: -300}}
	home := []float64{3.2, 11.7, 20.4, 28.9, 40.1, 0}
	m := racked(racks, home, 200)
	got := solvePosition(t, m, positionOf(m, nil))
	require.True(t, got.Proven)
	stray := func(v []float64) (sum float64) {
		for i := range v {
			sum += (v[i] - home[i]) * (v[i] - home[i])
		}
		return sum
	}
	best := make([]float64, 6)
	for i := range best {
		best[i] = got.Settings[1+i].Travel
	}
	least := stray(best)
	for code := range 7 * 7 * 7 * 7 * 7 {
		v, left := make([]float64, 6), 200.0
		for i := range 5 {
			v[i] = best[i] + float64(code%7-3)
			code /= 7
			left -= v[i]
		}
		v[5] = left
		require.GreaterOrEqual(t, stray(v), least-1e-9, "%v against %v", v, best)
	}
}

// Options within Tie of one another in turn, each a little worse in second miss and better in stray: a chain
// must not lead away from the least second miss.
func TestTheBallotDoesNotDrift(t *testing.T) {
	const seed = 12
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for range 200 {
		var all []settled
		for i := range 40 {
			k := settled{}
			k.short, k.strayS = 0.4e-6*float64(i), 100-float64(i/2)
			k.from.Base = r.IntN(40)
			all = append(all, k)
		}
		r.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
		v := ballot{half: &half{ways: make([]way, 1)}}
		for _, k := range all {
			v.offer(k)
		}
		k := v.best()
		require.LessOrEqual(t, k.short, 1e-6, "within Tie of the least second miss")
		require.Equal(t, 99.0, k.strayS, "and of those the least stray")
		require.Equal(t, 0.8e-6, k.short)
		for _, o := range all {
			if o.short == k.short {
				require.Equal(t, o.from, k.from)
			}
		}
	}
}

func TestTheFileDecidesAmongOptionsAlikeInEverything(t *testing.T) {
	for _, noise := range []float64{0, 1e-9, -1e-9} {
		v := ballot{half: &half{ways: make([]way, 1)}}
		for _, base := range []int{4, 2, 7, 3} {
			k := settled{short: 1 + noise*float64(base), strayS: 50 - noise*float64(base)}
			k.from.Base = base
			v.offer(k)
		}
		assert.Equal(t, 2, v.best().from.Base, "noise %g", noise)
	}
}
