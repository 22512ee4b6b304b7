package carry

import (
	"context"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/cockpit"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

var growth = flag.Bool("growth", false, "measure how the search grows with the catalogue and rewrite testdata/growth.md")

// catalogueSeed makes the large catalogue; it is generated, never stored.
const catalogueSeed = 48_000_000

// shop is how many parts of each kind a catalogue has.
type shop struct{ saddles, stems, spacers, bars, levers int }

// whole has 200 stems, two ways up, on 8 stacks of spacers, 300 bars and 50 levers: 48 million cockpits;
// and 1000 saddles.
var whole = shop{saddles: 1000, stems: 200, spacers: 8, bars: 300, levers: 50}

// cockpits is how many combinations the hands' half has.
func (s shop) cockpits() int { return s.stems * 2 * s.spacers * s.bars * s.levers }

// catalogue is an outdoor bike with every slot open over parts drawn from the seed.
func catalogue(s shop, seed uint64) *bike.Bike {
	r := rand.New(rand.NewPCG(seed, 7))
	between := func(lo, hi float64) float64 { return lo + r.Float64()*(hi-lo) }
	head, top, anchor := plane.Rad(73), plane.Point{X: 372, Y: 571}, plane.Point{X: -126, Y: 562}
	b := &bike.Bike{File: "generated", SaddleAnchor: &anchor, Marks: map[string]float64{},
		Frame: bike.Frame{HeadAngle: &head, SteererTop: &top}, Feet: bike.Feet{Crank: 172.5, SoleHeight: 24},
		Adjusters: []bike.Adjuster{{Name: "seatpost", Moves: bike.MovesSaddle, Angle: plane.Rad(107), Unit: 1, Hi: 200}}}
	b.Saddle.Open, b.Bar.Open, b.Bar.Lever.Open = true, true, true
	b.Saddle.ClampAt = bike.Setting{Given: true, Free: true, Lo: 80, Hi: 200}
	b.Saddle.Tilt = bike.Setting{Given: true, Free: true, Lo: plane.Rad(-5), Hi: plane.Rad(5)}
	b.Bar.Rotation = bike.Setting{Given: true, Free: true, Lo: plane.Rad(-12), Hi: plane.Rad(12)}
	b.Bar.LeverAt = bike.Fixed(4)
	for i := range s.saddles {
		length := between(240, 285)
		shape, err := saddle.New(length,
			[][2]float64{{0, between(35, 50)}, {length * 0.5, between(60, 90)}, {length * 0.85, between(130, 150)}, {length, between(110, 130)}},
			[][2]float64{{0, -between(2, 8)}, {length * 0.4, -between(1, 6)}, {length * 0.7, -between(0, 4)}, {length, 0}},
			between(1, 6), saddle.Rail{Height: between(44, 54), From: length/2 - 35, To: length/2 + 35})
		if err != nil {
			panic(err)
		}
		b.Saddle.Options = append(b.Saddle.Options, bike.Option[saddle.Shape]{ID: fmt.Sprintf("saddle-%d", i), Part: shape})
	}
	stem := &bike.StemFit{Spacers: bike.Spacers{Given: true, Free: true, Max: float64(s.spacers-1) * 5, Step: 5}}
	stem.Open = true
	for i := range s.stems {
		stem.Options = append(stem.Options, bike.Option[cockpit.Stem]{ID: fmt.Sprintf("stem-%d", i),
			Part: &cockpit.Stem{Length: between(60, 140), Angle: plane.Rad(between(0, 30)), Height: between(36, 44)}})
	}
	b.Stem = stem
	for i := range s.bars {
		bend := between(35, 75)
		b.Bar.Options = append(b.Bar.Options, bike.Option[cockpit.Bar]{ID: fmt.Sprintf("bar-%d", i),
			Part: &cockpit.Bar{Reach: bend + between(5, 30), Drop: between(115, 150), Bend: bend, Width: 420, Clamp: 31.8}})
	}
	for i := range s.levers {
		b.Bar.Lever.Options = append(b.Bar.Lever.Options, bike.Option[cockpit.Lever]{ID: fmt.Sprintf("lever-%d", i),
			Part: &cockpit.Lever{Along: between(30, 55), Out: between(12, 30), Angle: plane.Rad(between(0, 15))}})
	}
	return b
}

// wish is a position within what an outdoor bike reaches, or with wide a little outside it.
func wish(r *rand.Rand, wide bool) *locate.Position {
	spread := 1.0
	if wide {
		spread = 6
	}
	return &locate.Position{Posture: bike.Posture{Name: "road", Hands: bike.Hood, Support: 120, Weights: bike.DefaultWeights()},
		Sit: assembly.Contact{Name: bike.Sit, At: plane.Point{X: -200 + r.NormFloat64()*10*spread, Y: 715 + r.NormFloat64()*15*spread},
			Angle: plane.Rad(r.NormFloat64() * 1.5)},
		Hands: assembly.Contact{Name: bike.Hood, At: plane.Point{X: 535 + r.NormFloat64()*25*spread, Y: 655 + r.NormFloat64()*25*spread},
			Angle: plane.Rad(r.NormFloat64() * 4)}}
}

func BenchmarkBestOf48MillionCockpitsAnd1000Saddles(b *testing.B) {
	target := catalogue(whole, catalogueSeed)
	r := rand.New(rand.NewPCG(catalogueSeed, 1))
	b.ReportAllocs()
	for b.Loop() {
		s, err := Solve(context.Background(), target, target, wish(r, false), Options{})
		if err != nil || !s.Proven {
			b.Fatal(err)
		}
	}
}

func BenchmarkTenAlternativesOf48MillionCockpits(b *testing.B) {
	target := catalogue(whole, catalogueSeed)
	r := rand.New(rand.NewPCG(catalogueSeed, 2))
	b.ReportAllocs()
	for b.Loop() {
		if _, proven, err := Alternatives(context.Background(), target, target, wish(r, false), Options{}, 11); err != nil || !proven {
			b.Fatal(err)
		}
	}
}

func TestTheLargeCatalogueHas48MillionCockpits(t *testing.T) {
	assert.Equal(t, 48_000_000, whole.cockpits())
	target := catalogue(whole, catalogueSeed)
	s, err := Solve(context.Background(), target, target, wish(rand.New(rand.NewPCG(catalogueSeed, 3)), false), Options{})
	require.NoError(t, err)
	assert.True(t, s.Proven)
	assert.InDelta(t, 48e6*1000, s.Combinations, 0.5)
}

func TestTheLargeCatalogueIsTheSameFromTheSameSeed(t *testing.T) {
	small := shop{saddles: 3, stems: 3, spacers: 2, bars: 3, levers: 3}
	assert.Equal(t, catalogue(small, 5).Stem, catalogue(small, 5).Stem)
	assert.Equal(t, catalogue(small, 5).Bar, catalogue(small, 5).Bar)
	assert.NotEqual(t, catalogue(small, 5).Bar, catalogue(small, 6).Bar)
}

// TestGrowth measures the search over a thousandth, a hundredth, a tenth and all of the large catalogue:
//
//	go test ./internal/carry -run TestGrowth -growth
func TestGrowth(t *testing.T) {
	if !*growth {
		t.Skip("measures times, which are no matter of right or wrong: go test ./internal/carry -run TestGrowth -growth")
	}
	const rounds = 21
	var table strings.Builder
	fmt.Fprintf(&table, `# How the proven search grows with the catalogue

Made by `+"`go test ./internal/carry -run TestGrowth -growth`"+` (%s, %s/%s, %d cores). Each catalogue is drawn from the
same seed: stems, either way up, on 8 stacks of spacers, bars and levers, with the bar free to turn; and saddles on
free rails, free to tilt. Times are for one whole position, both halves, the median and the slowest of %d positions:
first within what the bike reaches, where the answer is often exact, then spread six times as wide, where mostly it
is not. "10 more" adds the ten next best combinations of parts. Every answer is proven.

| cockpits | saddles | reached: median | slowest | wide: median | slowest | 10 more: median | slowest |
| ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |
`, runtime.Version(), runtime.GOOS, runtime.GOARCH, runtime.NumCPU(), rounds)
	for _, thousandth := range []float64{1, 10, 100, 1000} {
		f := math.Cbrt(thousandth / 1000)
		part := func(n int) int { return int(math.Round(float64(n) * f)) }
		s := shop{saddles: int(thousandth), stems: part(whole.stems), spacers: whole.spacers, bars: part(whole.bars), levers: part(whole.levers)}
		target := catalogue(s, catalogueSeed)
		measure := func(run func(p *locate.Position), wide bool) (median, slowest time.Duration) {
			r := rand.New(rand.NewPCG(catalogueSeed, 4))
			var times []time.Duration
			for range rounds {
				p := wish(r, wide)
				start := time.Now()
				run(p)
				times = append(times, time.Since(start))
			}
			slices.Sort(times)
			return times[rounds/2], times[rounds-1]
		}
		solve := func(p *locate.Position) {
			k, err := Solve(context.Background(), target, target, p, Options{})
			require.NoError(t, err)
			require.True(t, k.Proven)
		}
		others := func(p *locate.Position) {
			_, proven, err := Alternatives(context.Background(), target, target, p, Options{}, 11)
			require.NoError(t, err)
			require.True(t, proven)
		}
		a, b := measure(solve, false)
		c, d := measure(solve, true)
		e, g := measure(others, false)
		ms := func(d time.Duration) string { return fmt.Sprintf("%.1f ms", float64(d.Microseconds())/1000) }
		fmt.Fprintf(&table, "| %d | %d | %s | %s | %s | %s | %s | %s |\n", s.cockpits(), s.saddles, ms(a), ms(b), ms(c), ms(d), ms(e), ms(g))
	}
	file := filepath.Join("..", "..", "testdata", "growth.md")
	require.NoError(t, os.MkdirAll(filepath.Dir(file), 0o755))
	require.NoError(t, os.WriteFile(file, []byte(table.String()), 0o644))
}
