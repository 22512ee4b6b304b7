package cli

import (
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
)

// unshapedClients invents home bikes with a truth, six readings each to the millimetre, and the machine
// that they all go to. Every fiftieth file is broken, every fiftieth lacks a reading.
func unshapedClients(t *testing.T) (dir, machine string, truth map[string][4]float64) {
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
	for i := range count() {
		x, y, hx, hy := between(-230, -150), between(640, 760), between(470, 580), between(570, 720)
		name := fmt.Sprintf("client-%03d.toml", i)
		text := fmt.Sprintf("schema = 1\nname = \"Client %d\"\nfeet.crank = 170.0\nsaddle = {}\n", i) +
			"posture.road = { hands = \"hood\", support = 120.0 }\n" + readings(x, y, hx, hy)
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
	for _, a := range [][3]string{{"saddle post", "saddle", "90"}, {"saddle slide", "saddle", "0"}, {"bar post", "bar", "90"}, {"bar slide",
		"bar", "0"}} {
		text += fmt.Sprintf("[[adjuster]]\nname = %q\nmoves = %q\nangle = %s.0\nunit = 10.0\n", a[0], a[1], a[2])
	}
	require.NoError(t, os.WriteFile(machine, []byte(text), 0o600))
	return dir, machine, truth
}

func number(t *testing.T, row map[string]string, what string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(row[what], 64)
	require.NoError(t, err, "%s in %v", what, row)
	return v
}

// count is how many clients there are.
func count() int {
	if testing.Short() {
		return 60
	}
	return 200
}

// rounding is what a reading to 1 mm and an answer to 0.5 mm leave open.
const rounding = 0.76

// Two hundred clients go to one machine at once: each answer is its truth but for the tape's rounding, a broken file is a row with the
// reason in its place, and what is no bike is no row.
func TestTwoHundredClientsAtOnce(t *testing.T) {
	dir, machine, truth := unshapedClients(t)
	rows, code := ran(t, ',', "carry", "-q", "--many", dir, machine)
	require.Equal(t, ExitFailure, code, "some files are broken")
	require.Len(t, rows, count())
	for i, row := range rows {
		name := fmt.Sprintf("client-%03d.toml", i)
		require.Equal(t, name, row["bike"])
		want, good := truth[name]
		if !good {
			require.NotEmpty(t, row["problem"], name)
			continue
		}
		require.Equal(t, "carried", row["answer"], name)
		assert.InDelta(t, -want[0], number(t, row, "sit mark behind the BB (mm)"), rounding, name)
		assert.InDelta(t, want[2]-want[0], number(t, row, "hood ahead of the sit mark (mm)"), rounding, name)
		assert.InDelta(t, want[1]-want[3], number(t, row, "sit mark above the hood (mm)"), rounding, name)
		assert.InDelta(t, math.Hypot(want[0], want[1]), number(t, row, "BB to sit mark (mm)"), rounding, name)
	}
}

// The same clients beside the machine as it stands: what differs is the difference of the two truths.
func TestTwoHundredClientsCompared(t *testing.T) {
	dir, machine, truth := unshapedClients(t)
	rows, code := ran(t, ',', "compare", "-q", "--many", dir, machine)
	require.Equal(t, ExitFailure, code, "some files are broken")
	require.Len(t, rows, count())
	for _, row := range rows {
		want, good := truth[row["bike"]]
		if !good {
			require.NotEmpty(t, row["problem"], row["bike"])
			continue
		}
		assert.InDelta(t, 190+want[0], number(t, row, "sit mark behind the BB change (mm)"), 2*rounding, row["bike"])
		assert.InDelta(t, 720-(want[2]-want[0]), number(t, row, "hood ahead of the sit mark change (mm)"), 2*rounding, row["bike"])
		assert.InDelta(t, 60-(want[1]-want[3]), number(t, row, "sit mark above the hood change (mm)"), 2*rounding, row["bike"])
	}
}

// Their saddles by the batch: a level saddle with a flat top, its nose where the truth has it; mid and tail follow by plane geometry.
func TestTwoHundredClientsConverted(t *testing.T) {
	dir := t.TempDir()
	saddle, batch := filepath.Join(dir, "flat.toml"), filepath.Join(dir, "clients.csv")
	require.NoError(t, os.WriteFile(saddle, []byte("schema = 1\nkind = \"saddle\"\nid = \"flat\"\nname = \"Flat\"\nlength = 280\nsag = 5\n"+
		"width = [[0, 40], [100, 60], [200, 140], [280, 110]]\ntop = [[0, 0], [280, 0]]\nrail = { height = 45, from = 90, to = 170 }\n"), 0o600))
	const seed = 77
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	text, truth := "client,id,saddle-height,setback,tilt\n", map[string][2]float64{}
	for i := range count() {
		nose, height := -20+100*r.Float64(), 640+120*r.Float64()
		id := fmt.Sprint(i)
		truth[id] = [2]float64{nose, height}
		text += fmt.Sprintf("\"Client, %d\",%s,%.6f,%.6f,0\n", i, id, math.Hypot(nose+140, height), nose)
	}
	require.NoError(t, os.WriteFile(batch, []byte(text), 0o600))
	rows, code := ran(t, ',', "convert", "-q", saddle, "--batch", batch, "--also", "tail")
	require.Equal(t, ExitOK, code)
	require.Len(t, rows, count())
	for _, row := range rows {
		want := truth[row["id"]]
		require.Equal(t, "Client, "+row["id"], row["client"])
		assert.InDelta(t, want[1], number(t, row, "vertical-height@mid"), 0.001)
		assert.InDelta(t, want[0]+280, number(t, row, "setback@tail"), 0.001)
		assert.InDelta(t, math.Hypot(want[0]+280, want[1]), number(t, row, "saddle-height@tail"), 0.001)
	}
}
