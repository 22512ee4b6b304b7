package draw_test

import (
	"regexp"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"carryover/internal/biketest"
	"carryover/internal/draw/drawtest"
	"carryover/internal/job"
)

// pairs are carries with all that pictures have to show: adjusters, open slots, pads, one bike onto itself.
var pairs = []struct{ source, target, posture string }{
	{"road", "studio", "road"},
	{"road", "outdoor", "road"},
	{"tri", "tri-target", "aero"},
	{"tri", "studio", "horns"},
	{"weekend", "trainer", "road"},
	{"aero", "aero-trainer", "aero"},
	{"aero", "studio", "aero"},
	{"road", "resaddled", "road"},
	{"road", "studio-set", "road"},
	{"road", "tri", "road"},
	{"tri", "road", "horns"},
	{"tri", "outdoor", "horns"},
	{"tri", "aero-trainer", "aero"},
	{"aero", "tri", "aero"},
}

func pair(t testing.TB, i int) *job.Result {
	t.Helper()
	p := pairs[i]
	target := "example:" + p.target
	if p.target == "tri-target" {
		target = triTarget
	}
	return drawtest.Carried(t, "example:"+p.source, target, p.posture).Results[0]
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

var lengths = regexp.MustCompile(`(value|saddle_clamp|bar_clamp|bb_height) += +[^\n#]+`)

// scaled is an example with its clamps and distances so many times as large, its parts and angles as they are.
func scaled(t testing.TB, name string, by float64) string {
	t.Helper()
	src := biketest.Text(t, name)
	return lengths.ReplaceAllStringFunc(src, func(line string) string {
		return regexp.MustCompile(`-?[0-9]{2,}\.[0-9]+`).ReplaceAllStringFunc(line, func(n string) string {
			v, err := strconv.ParseFloat(n, 64)
			require.NoError(t, err)
			return strconv.FormatFloat(v*by, 'f', 1, 64)
		})
	})
}

// unshaped is an invented bike of which only the mark on the saddle and the hood were read.
const unshaped = `
schema = 1
name = "Bike without shapes"
[frame]
bb_height = 270.0
[feet]
crank = 170.0
[saddle]
[bar]
[posture.road]
hands = "hood"
support = 120.0
[[reading]]
kind = "saddle-height"
at = "sit"
value = 740.0
[[reading]]
kind = "setback"
at = "sit"
value = 200.0
[[reading]]
kind = "saddle-tilt"
value = 0.0
[[reading]]
kind = "reach"
at = "sit"
value = 750.0
[[reading]]
kind = "drop"
at = "sit"
value = 60.0
[[reading]]
kind = "hood-angle"
value = 5.0
`
