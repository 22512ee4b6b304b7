package main_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/cli"
)

// clients invents so many home bikes with a truth, six readings each to the millimetre and crank lengths of their own, and the machine
// that they all go to. Every fiftieth file is broken, every fiftieth lacks a reading.
func clients(t testing.TB, count int) (dir, machine string, truth map[string][4]float64) {
	t.Helper()
	const seed = 20261127
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	between := func(lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }
	reading := func(kind, at string, v float64) string {
		return fmt.Sprintf("[[reading]]\nkind = %q\n%svalue = %.1f\n", kind, at, math.Round(v))
	}
	readings := func(seatX, seatY, hoodX, hoodY float64) string {
		sit := "at = \"sit\"\n"
		return reading("saddle-height", sit, math.Hypot(seatX, seatY)) + reading("setback", sit, -seatX) +
			"[[reading]]\nkind = \"saddle-tilt\"\nvalue = -1.0\n" + reading("reach", sit, hoodX-seatX) + reading("drop", sit, seatY-hoodY) +
			"[[reading]]\nkind = \"hood-angle\"\nvalue = 4.0\n"
	}
	dir, truth = t.TempDir(), map[string][4]float64{}
	for i := range count {
		x, y, hx, hy := between(-230, -150), between(640, 760), between(470, 580), between(570, 720)
		name := fmt.Sprintf("client-%03d.toml", i)
		text := fmt.Sprintf("schema = 1\nname = \"Client %d\"\nfeet.crank = 170.0\nsaddle = {}\nposture.road = { hands = \"hood\", support = 120.0 }\n", i) +
			readings(x, y, hx, hy)
		switch i % 50 {
		case 7:
			text += "value = = 3\n"
		case 9:
			text = text[:strings.Index(text, "[[reading]]\nkind = \"reach\"")]
		default:
			truth[name] = [4]float64{x, y, hx, hy}
		}
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600))
	}
	require.NoError(t, os.WriteFile(filepath.Join(dir, "rider.toml"), []byte("schema = 1\nname = \"No bike\"\nsit_bones = 110.0\n"), 0o600))
	machine = filepath.Join(t.TempDir(), "machine.toml")
	text := "schema = 1\nname = \"Machine\"\nfeet.crank = 170.0\nsaddle = {}\n" + readings(-190, 700, 530, 640)
	for _, a := range [][3]string{{"saddle post", "saddle", "90"}, {"saddle slide", "saddle", "0"}, {"bar post", "bar", "90"}, {"bar slide", "bar", "0"}} {
		text += fmt.Sprintf("[[adjuster]]\nname = %q\nmoves = %q\nangle = %s.0\nunit = 10.0\n", a[0], a[1], a[2])
	}
	require.NoError(t, os.WriteFile(machine, []byte(text), 0o600))
	return dir, machine, truth
}

// run is one command in this process.
func run(t testing.TB, args ...string) (out string, code int) {
	t.Helper()
	var stdout, stderr bytes.Buffer
	code = cli.Main(context.Background(), args, cli.Streams{In: strings.NewReader(""), Out: &stdout, Err: &stderr})
	return stdout.String(), code
}

// Two hundred clients go to one machine at once: each answer is its truth but for the tape's rounding, a broken file is a row with the
// reason in its place, and what is no bike is no row.
func TestTwoHundredClientsAtOnce(t *testing.T) {
	count := 200
	if testing.Short() {
		count = 60
	}
	dir, machine, truth := clients(t, count)
	out, code := run(t, "carry", "-q", "--many", dir, machine)
	require.Equal(t, cli.ExitFailure, code, "some files are broken")
	rows, err := csv.NewReader(strings.NewReader(out)).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, count+1)
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	for i, row := range rows[1:] {
		name := fmt.Sprintf("client-%03d.toml", i)
		require.Equal(t, name, row[column["bike"]])
		want, good := truth[name]
		if !good {
			require.NotEmpty(t, row[column["problem"]], name)
			continue
		}
		require.Equal(t, "carried", row[column["answer"]], name)
		number := func(what string) float64 {
			v, err := strconv.ParseFloat(row[column[what]], 64)
			require.NoError(t, err, "%s: %s", name, what)
			return v
		}
		// A reading is rounded to 1 mm, an answer to 0.5 mm: a height over a straight line and a level takes up both.
		assert.InDelta(t, -want[0], number("sit mark behind the BB (mm)"), 0.76, name)
		assert.InDelta(t, want[2]-want[0], number("hood ahead of the sit mark (mm)"), 0.76, name)
		assert.InDelta(t, want[1]-want[3], number("sit mark above the hood (mm)"), 0.76, name)
		assert.InDelta(t, math.Hypot(want[0], want[1]), number("BB to sit mark (mm)"), 0.76, name)
	}
}

// BenchmarkTwoHundredCarries is as many clients in one process as a fitter has.
func BenchmarkTwoHundredCarries(b *testing.B) {
	dir, machine, _ := clients(b, 200)
	b.ReportAllocs()
	for b.Loop() {
		run(b, "carry", "-q", "--many", dir, machine)
	}
}
