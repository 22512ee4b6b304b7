package draw_test

import (
	"context"
	"flag"
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"carryover/catalogs"
	"carryover/internal/bike"
	"carryover/internal/bikefile"
	"carryover/internal/carry"
	"carryover/internal/catalog"
	"carryover/internal/draw"
	"carryover/internal/locate"
)

var pictures = flag.String("pictures", "", "write every picture into this folder, for a person to look at")

func example(t testing.TB, name string) *bike.Bike {
	t.Helper()
	src, err := fs.ReadFile(catalogs.Examples, name+".toml")
	require.NoError(t, err)
	return read(t, string(src))
}

func read(t testing.TB, src string) *bike.Bike {
	t.Helper()
	b, problems := bikefile.ReadBike("bike.toml", []byte(src), bikefile.Folder{FS: catalogs.Examples}, catalog.New(catalogs.Files))
	require.False(t, problems.HasErrors(), "%v", problems)
	return b
}

// carried solves a posture of one bike on another.
func carried(t testing.TB, source, target *bike.Bike, posture string) (*locate.Adjustment, *carry.Solution) {
	t.Helper()
	adjusted, err := locate.Adjust(source, nil, locate.Options{})
	require.NoError(t, err)
	p, ok := source.Posture(posture)
	require.True(t, ok)
	pos, err := adjusted.Position(p)
	require.NoError(t, err)
	s, err := carry.Solve(context.Background(), target, source.Feet, &pos, carry.Options{})
	require.NoError(t, err)
	require.NoError(t, s.AddSigmas())
	return adjusted, s
}

// pairs are carries with all that pictures have to show: adjusters, open slots, pads, one bike onto itself.
var pairs = []struct{ source, target, posture string }{
	{"road", "studio", "road"},
	{"road", "outdoor", "road"},
	{"tri", "tri-target", "aero"},
	{"tri", "studio", "horns"},
}

func pair(t testing.TB, i int) (*locate.Adjustment, *carry.Solution) {
	t.Helper()
	p := pairs[i]
	if p.target == "tri-target" {
		return carried(t, example(t, p.source), read(t, triTarget), p.posture)
	}
	return carried(t, example(t, p.source), example(t, p.target), p.posture)
}

// triTarget is an invented clip-on bike to be fitted.
const triTarget = `
schema = 1
name = "Clip-on bike to be fitted"
[frame]
bb_height = 275.0
seat_angle = 77.0
[feet]
crank = 165.0
sole_height = 22.0
[saddle]
part = "split-nose-250"
clamp_at = [90.0, 190.0]
tilt = [-8.0, 8.0]
[bar]
part = "base-flat-400"
clamp_width = 44.0
[clipon]
part = "clip-low"
[anchor]
saddle_clamp = [-70.0, 560.0]
bar_clamp = [430.0, 570.0]
[[adjuster]]
name = "seatpost"
moves = "saddle"
angle = 103.0
unit = 1.0
range = [0.0, 200.0]
[[adjuster]]
name = "spacers"
moves = "bar"
angle = 106.0
unit = 1.0
range = [0.0, 40.0]
step = 5.0
[marks]
spacers = 20.0
`

func TestLook(t *testing.T) {
	if *pictures == "" {
		t.Skip("writes pictures with -pictures DIR")
	}
	for i, p := range pairs {
		source, s := pair(t, i)
		for _, view := range draw.Views {
			list, err := draw.View(source, s, view, draw.Both, 0)
			require.NoError(t, err)
			base := filepath.Join(*pictures, p.source+"-"+p.target+"-"+view)
			for ext, write := range map[string]func(*os.File) error{
				".svg": func(f *os.File) error { return list[0].SVG(f) },
				".png": func(f *os.File) error { return list[0].PNG(f, 150) },
				".pdf": func(f *os.File) error { return draw.PDF(f, list[0]) },
			} {
				f, err := os.Create(base + ext)
				require.NoError(t, err)
				require.NoError(t, write(f))
				require.NoError(t, f.Close())
			}
		}
	}
}
