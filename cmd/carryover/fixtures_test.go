package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// addFixtures adds to a folder of example files what the examples of the commands name besides.
func addFixtures(t *testing.T, dir string) {
	t.Helper()
	read := func(name string) string {
		src, err := os.ReadFile(filepath.Join(dir, name))
		require.NoError(t, err)
		return string(src)
	}
	road := read("road.toml")
	for name, text := range map[string]string{
		"studio.toml":         read("studio.toml") + calibration(),
		"my-saddle.toml":      mySaddle,
		"readings.csv":        myReadings,
		"studio-as-set.toml":  road, // any bike with readings
		"studio-by-feel.toml": road,
		"requests.csv":        "saddle,height,setback,tilt\nclassic-280,742,55,-1\n",
	} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666))
	}
}

// typed is what a person answers to a command that asks; other commands do not read it.
func typed(t *testing.T, command string) string {
	t.Helper()
	if command == "carryover catalog measure" {
		return myAnswers
	}
	name := map[string]string{"carryover new bike": "bike_measure", "carryover new rider": "rider", "carryover new part": "part_saddle"}[command]
	if name == "" {
		return ""
	}
	src, err := os.ReadFile("../../internal/questions/testdata/" + name + ".answers")
	require.NoError(t, err)
	return string(src)
}

// myReadings and myAnswers are the same saddle, measured: as a CSV and as answers.
const (
	myReadings = `reading,station,value
length,,270
width,0,42
width,100,70
width,225,145
width,270,70
dip,0,4
dip,45,0
dip,130,6
dip,240,0
dip,270,3
sag,,6
rail-height,,45
rail-from,,95
rail-to,,165
`
	myAnswers = "mine\n270\n42\n55\n60\n72\n105\n130\n225:145\n70\n45:0\n240:0\n4\n-\n6\n5\n3\n\n45\n95\n165\n"
)

// mySaddle is the part file that examples call my-saddle.toml.
const mySaddle = `schema = 1
kind = "saddle"
id = "my-saddle"
name = "My own saddle"
length = 250.0
width = [[0.0, 40.0], [50.0, 55.0], [100.0, 65.0], [150.0, 95.0], [210.0, 140.0], [250.0, 60.0]]
top = [[0.0, -3.0], [60.0, 0.0], [110.0, -3.0], [170.0, -3.0], [230.0, 0.0], [250.0, -2.0]]
sag = 5.0
rail = { height = 45.0, from = 90.0, to = 160.0 }
`

// calibration is what the tape reads on the example studio frame, to the millimetre, with each of its scales at either
// end and in between: the clamp at anchor + mark * unit along the direction of travel, the saddle's nose 145 mm ahead
// of it and 40 mm above.
func calibration() string {
	var b strings.Builder
	for _, at := range []struct{ post, slide, barPost float64 }{{0, 0, 0}, {30, -8, 15}, {15, 8, 30}, {15, 0, 15}, {30, 8, 0}} {
		along := func(mark, degrees float64) (x, y float64) {
			sin, cos := math.Sincos(degrees * math.Pi / 180)
			return 10 * mark * cos, 10 * mark * sin
		}
		x, y := along(at.post, 106)
		barX, barY := along(at.barPost, 102)
		fmt.Fprintf(&b, "\n[[calibration]]\nmarks = { \"saddle post\" = %.1f, \"saddle slide\" = %.1f, \"bar post\" = %.1f }\n", at.post, at.slide, at.barPost)
		for _, r := range []struct {
			kind, to string
			value    float64
		}{
			{"level", "saddle.nose", -128 + x + 10*at.slide + 145}, {"plumb", "saddle.nose", 527 + y + 40},
			{"level", "bar", 392 + barX}, {"plumb", "bar", 486 + barY},
		} {
			fmt.Fprintf(&b, "[[calibration.reading]]\nkind = %q\nfrom = \"bb\"\nto = %q\nvalue = %.1f\n", r.kind, r.to, math.Round(r.value))
		}
		fmt.Fprintf(&b, "[[calibration.reading]]\nkind = \"saddle-tilt\"\nvalue = 0.0\n")
	}
	return b.String()
}
