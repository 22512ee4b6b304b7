package search

import (
	"context"
	"flag"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/plane"
)

var update = flag.Bool("update", false, "record anew what is visited")

// ranked is a review that keeps the one of least second miss and of those the nearest to home, as a carry does.
func ranked(s *Side) Review {
	second, way := math.Inf(1), math.Inf(1)
	return Review{
		Beaten: func(b, stray float64) bool { return b > second+1e-4 || b > second-1e-4 && stray > way+1e-6 },
		Offer: func(c Candidate) bool {
			if k, w := s.Arms[c.Arm].Second, s.way(c); k < second || k == second && w < way {
				second, way = k, w
			}
			return true
		}}
}

// level is a side with a shop of parts in which much is reached and much ties: slides that cross, racks of many steps.
func level(r *rand.Rand) *Side {
	s := half(r)
	s.Wish.Place = point(r, 20)
	for range 2 {
		s.Slides = append(s.Slides, Travel{plane.Slide{Dir: plane.Direction(between(r, 0, 7)), Lo: -50, Hi: 50}, between(r, -20, 20)})
	}
	s.Arms = nil
	for range 12 {
		a := Arm{At: point(r, 40), Stray: between(r, 0, 400), Second: []float64{0, 3, 7.5}[r.IntN(3)]}
		if r.IntN(2) == 0 {
			a.Own = Travel{plane.Slide{Dir: plane.Direction(between(r, 0, 7)), Hi: between(r, 0, 20)}, between(r, 0, 20)}
		}
		s.Arms = append(s.Arms, a)
	}
	for range 8 {
		s.Bases = append(s.Bases, Base{At: point(r, 40), Stray: between(r, 0, 400)})
	}
	s.Racks = append(s.Racks, Rack{Dir: plane.Direction(between(r, 0, 7)), First: -20, Step: between(r, 0.5, 8), Count: 8,
		Home: between(r, -10, 10)})
	return s
}

// swinging is a side whose every arm swings.
func swinging(r *rand.Rand) *Side {
	s := half(r)
	s.Wish.Metric.Across = s.Wish.Metric.Along
	for i := range s.Arms {
		t := between(r, -2, 2)
		s.Arms[i].Own, s.Arms[i].Bend = Travel{}, &Bend{Centre: point(r, 60), Turn: plane.Range{Lo: t, Hi: t + between(r, 0, 2.5)}}
	}
	return s
}

// stiff is a level side that nothing slides, out of reach: the best few of many choices are told apart by bounds alone.
func stiff(r *rand.Rand) *Side {
	s := level(r)
	s.Slides = s.Slides[:1]
	s.Wish.Place = point(r, 20).Add(plane.Point{X: 160})
	return s
}

// long is a side of two long racks and a few bases and arms.
func long(r *rand.Rand) *Side {
	s := half(r)
	s.Slides, s.Racks = nil, nil
	for range 2 {
		s.Racks = append(s.Racks, Rack{Dir: plane.Direction(between(r, 0, 7)), First: -40, Step: between(r, 0.3, 3), Count: 10 + r.IntN(60)})
	}
	return s
}

// A bound that holds less finds the same answer after more nodes: so many are visited over fixed problems, and no more.
func TestNoMoreIsVisitedThanBefore(t *testing.T) {
	ctx := context.Background()
	everything := func(Candidate) bool { return true }
	best := func(c *search) { c.best(ctx) }
	ties := func(c *search) {
		if k, ok, _ := newSearch(c.side).best(ctx); ok {
			c.ties(ctx, k.Square, ranked(c.side))
		}
	}
	kinds := []struct {
		name string
		of   func(r *rand.Rand) *Side
		run  func(c *search)
	}{
		{"best of few", half, best}, {"best of a level shop", level, best}, {"best of a stiff shop", stiff, best},
		{"best of what swings", swinging, best},
		{"best of a wide shop", func(r *rand.Rand) *Side { return wide(r.IntN(24)) }, best},
		{"best on long racks", long, best},
		{"groups", half, func(c *search) { c.groups(ctx, everything) }},
		{"groups of a shop", level, func(c *search) { c.groups(ctx, everything) }},
		{"ties of few", half, ties}, {"ties of a level shop", level, ties}, {"ties of a stiff shop", stiff, ties},
		{"ties of what swings", swinging, ties},
	}
	file := filepath.Join("testdata", "visited.txt")
	var was []string
	if text, err := os.ReadFile(file); err == nil {
		was = strings.Split(strings.TrimSpace(string(text)), "\n")
	} else {
		require.True(t, *update, err)
	}
	var now []string
	for i, k := range kinds {
		looked := 0
		for n := range 60 {
			c := newSearch(k.of(rand.New(rand.NewPCG(uint64(n), uint64(i)))))
			k.run(c)
			looked += c.looked
		}
		now = append(now, strconv.Itoa(looked)+"\t"+k.name)
		if *update || i >= len(was) {
			continue
		}
		count, name, _ := strings.Cut(was[i], "\t")
		require.Equal(t, k.name, name)
		most, err := strconv.Atoi(count)
		require.NoError(t, err)
		assert.LessOrEqual(t, looked, most+most/100, k.name) // rounding differs between machines
	}
	if *update {
		require.NoError(t, os.WriteFile(file, []byte(strings.Join(now, "\n")+"\n"), 0o666))
	}
	require.True(t, *update || len(now) == len(was))
}
