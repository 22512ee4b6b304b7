package catalogs_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/catalogs"
	"carryover/internal/catalog"
	"carryover/internal/partfile"
)

// TestSigmaIsNoLessThanTheSpread: who takes a generic shape takes the one nearest to their own, which is then off by about
// as much as that one is from its neighbour. So the sigma of a part is at least the median, over its family, of how far
// the nearest other member is; a part without a family is no better known than the worst family of its sort.
func TestSigmaIsNoLessThanTheSpread(t *testing.T) {
	sorts := map[string]map[string][]*partfile.Part{}
	for _, kind := range []partfile.Kind{partfile.Saddle, partfile.Bar, partfile.Lever, partfile.Clipon} {
		parts, err := catalog.New(catalogs.Files).List(kind)
		require.NoError(t, err)
		for _, p := range parts {
			sort := kind.String()
			if kind == partfile.Bar && !p.Bar.Curved() {
				sort = "bar that is one hand place"
			}
			if sorts[sort] == nil {
				sorts[sort] = map[string][]*partfile.Part{}
			}
			family, _, _ := strings.Cut(p.ID, "-")
			sorts[sort][family] = append(sorts[sort][family], p)
		}
	}
	for sort, families := range sorts {
		worst := 0.0
		for _, members := range families {
			if len(members) > 1 {
				worst = math.Max(worst, spread(members))
			}
		}
		for name, members := range families {
			least := worst
			if len(members) > 1 {
				least = spread(members)
			}
			t.Logf("%s, %s (%d): the nearest other is %.1f mm off, sigma is %.1f", sort, name, len(members), least, members[0].Sigma)
			for _, p := range members {
				assert.GreaterOrEqual(t, p.Sigma, least, p.ID)
				assert.Less(t, p.Sigma, 10.0, p.ID)
			}
		}
	}
}

// spread is the median distance to the nearest other member.
func spread(members []*partfile.Part) float64 {
	var all []float64
	for i, p := range members {
		nearest := math.Inf(1)
		for j, other := range members {
			if i != j {
				nearest = math.Min(nearest, apart(p, other))
			}
		}
		all = append(all, nearest)
	}
	slices.Sort(all)
	return all[len(all)/2]
}

// apart is how far two parts of a kind differ in the numbers that sigma speaks of, mm, the larger of its two errors: a saddle's
// widths and heights once both are fitted to one length and width, x and y of what the others give.
func apart(a, b *partfile.Part) float64 {
	first, second := numbers(a), numbers(b)
	var worst float64
	for axis := range first {
		sum := 0.0
		for i, v := range first[axis] {
			sum += (v - second[axis][i]) * (v - second[axis][i])
		}
		worst = math.Max(worst, math.Sqrt(sum/float64(len(first[axis]))))
	}
	return worst
}

func numbers(p *partfile.Part) (axes [2][]float64) {
	take := func(x, y float64) { axes[0], axes[1] = append(axes[0], x), append(axes[1], y) }
	switch p.Kind {
	case partfile.Saddle:
		s, err := p.Saddle.Stretched(270, 145)
		if err != nil {
			panic(err)
		}
		for station := 54.0; station <= 216; station += 4.5 { // where people sit
			take(s.Width(station), s.Top(station))
		}
	case partfile.Bar:
		if p.Bar.Hood != nil {
			take(p.Bar.Hood.X, p.Bar.Hood.Y)
			break
		}
		mount, _ := p.Bar.Mount(10)
		drop, _ := p.Bar.DropContact()
		take(mount.X, mount.Y)
		take(drop.X, drop.Y)
	case partfile.Lever:
		take(p.Lever.Along, p.Lever.Out)
	case partfile.Clipon:
		take(0, p.Clipon.Base) // holes are a choice, and counted from the same bar
	}
	return axes
}
