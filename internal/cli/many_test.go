package cli

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

	"carryover/catalogs"
	"carryover/internal/catalog"
	"carryover/internal/partfile"
	"carryover/internal/plane"
)

// truth is where an invented client sits and holds, mm from the BB and radians.
type truth struct {
	sit, hands  plane.Point
	tilt, angle float64
}

// invented is a client on short-250, by plain geometry, and what a tape reads without a mistake. Crank and sole are as on the studio
// frame with cranks of 170, so that nothing shifts when carried there; lower is by how much the hands are, mm.
func invented(t *testing.T, rng *rand.Rand, lower float64) (truth, string) {
	t.Helper()
	p, err := catalog.New(catalogs.Files).Lookup(partfile.Saddle, "short-250")
	require.NoError(t, err)
	in := func(lo, hi float64) float64 { return lo + (hi-lo)*rng.Float64() }
	nose, tilt, support := plane.Point{X: -in(20, 60), Y: in(680, 740)}, plane.Rad(in(-3, 2)), in(110, 135)
	c := truth{hands: plane.Point{X: in(500, 580), Y: in(600, 670) - lower}, tilt: tilt, angle: plane.Rad(in(-1, 8))}
	at := func(station, height float64) plane.Point { // N + R(t)·(-s, h), design.md section 3
		sin, cos := math.Sincos(tilt)
		return plane.Point{X: nose.X - station*cos - height*sin, Y: nose.Y - station*sin + height*cos}
	}
	station := 0.0
	for _, step := range [2]float64{1, 0.001} { // to the most forward place that is as wide
		for p.Saddle.Width(station+step) < support {
			station += step
		}
	}
	c.sit = at(station, p.Saddle.Top(station)-p.Saddle.Sag)
	tip, mid := at(0, p.Saddle.Top(0)), at(p.Saddle.Length/2, p.Saddle.Top(p.Saddle.Length/2))
	text := fmt.Sprintf(`schema = 1
name = "Client"
feet = { crank = 170.0, sole_height = 26.5 }
saddle = { part = "short-250" }
bar = { part = "compact-420", lever = "lever-mid", lever_at = 4.0 }
posture.road = { hands = "hood", support = %.4f }
reading = [{ kind = "saddle-height", value = %.4f }, { kind = "setback", value = %.4f }, { kind = "saddle-tilt", value = %.4f },
           { kind = "reach", value = %.4f }, { kind = "drop", value = %.4f }, { kind = "hood-angle", value = %.4f }]
`, support, mid.Norm(), -tip.X, plane.Deg(tilt), c.hands.X-tip.X, mid.Y-c.hands.Y, plane.Deg(c.angle))
	return c, text
}

// ran is the CSV that a command line writes, as a map from column to cell for each row, and its exit code.
func ran(t *testing.T, comma rune, args ...string) (rows []map[string]string, code int) {
	t.Helper()
	var out, errs bytes.Buffer
	code = Main(context.Background(), args, Streams{In: strings.NewReader(""), Out: &out, Err: &errs})
	text, marked := strings.CutPrefix(out.String(), "\ufeff")
	assert.Equal(t, comma == ';', marked, "a byte order mark where the spreadsheet wrote one")
	r := csv.NewReader(strings.NewReader(text))
	r.Comma = comma
	all, err := r.ReadAll()
	require.NoError(t, err)
	require.NotEmpty(t, all, errs.String())
	for _, line := range all[1:] {
		row := map[string]string{}
		for i, cell := range line {
			row[all[0][i]] = cell
		}
		rows = append(rows, row)
	}
	return rows, code
}

// Two hundred clients whose truths are written down first: located as a folder, carried by the rows of a spreadsheet with decimal
// commas. What is rounded to half a millimetre is the truth to a quarter; what is broken or out of reach is a row in its place.
func TestManyClientsWithTruths(t *testing.T) {
	clients := 200
	if testing.Short() {
		clients = 40
	}
	dir := t.TempDir()
	write := func(name, text string) {
		path := filepath.Join(dir, name)
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o700))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	}
	const half = 0.25 + 1e-3 // mm; readings are written to 0.0001
	const tenth = 0.05 + 1e-3
	rng := rand.New(rand.NewPCG(13, 2))
	truths := map[string]truth{}
	pairs := "\ufeffClient;from;to\r\n"
	for i := range clients {
		name := fmt.Sprintf("bikes/%c/%03d.toml", 'a'+rune(i%3), i)
		lower := 0.0
		if i%40 == 9 {
			lower = 250 // under what the studio frame's bar post reaches
		}
		c, text := invented(t, rng, lower)
		truths[strings.TrimPrefix(name, "bikes/")] = c
		if i%40 == 7 {
			text = strings.Replace(text, "crank = 170.0", "crank = 170.0.0", 1)
		}
		write(name, text)
		pairs += fmt.Sprintf("\"Ann; %d\";%s;example:studio\r\n", i, name)
	}
	write("pairs.csv", pairs)
	write("bikes/rider.toml", "schema = 1\nsit_bones = 110.0\n")
	near := func(want float64, within float64, row map[string]string, column string) {
		t.Helper()
		require.Contains(t, row, column)
		got, err := strconv.ParseFloat(strings.Replace(row[column], ",", ".", 1), 64)
		require.NoError(t, err, "%s: %v", column, row)
		assert.InDelta(t, want, got, within, "%s: %v", column, row)
	}

	rows, code := ran(t, ',', "locate", "--many", filepath.Join(dir, "bikes"), "--quiet")
	assert.Equal(t, ExitFailure, code)
	require.Len(t, rows, clients)
	broken := 0
	for _, row := range rows {
		if row["problem"] != "" {
			broken++
			continue
		}
		c := truths[row["bike"]]
		near(c.sit.X, half, row, "seat ahead (mm)")
		near(c.sit.Y, half, row, "seat up (mm)")
		near(plane.Deg(c.tilt), tenth, row, "seat angle (°)")
		near(c.hands.X, half, row, "hoods ahead (mm)")
		near(c.hands.Y, half, row, "hoods up (mm)")
	}
	assert.Equal(t, clients/40, broken)

	rows, code = ran(t, ';', "carry", "--many", filepath.Join(dir, "pairs.csv"), "--quiet")
	assert.Equal(t, ExitFailure, code)
	require.Len(t, rows, clients, "one posture each, so one row each")
	for i, row := range rows {
		require.Equal(t, fmt.Sprintf("Ann; %d", i), row["Client"])
		switch c := truths[strings.TrimPrefix(row["from"], "bikes/")]; i % 40 {
		case 7:
			assert.NotEmpty(t, row["problem"])
		case 9:
			assert.Equal(t, "not carried", row["answer"])
			assert.Contains(t, row["problem"], "Seen from the seat your hoods are")
		default:
			require.Equal(t, "carried", row["answer"], row)
			assert.Empty(t, row["problem"])
			near(plane.Deg(c.tilt), tenth, row, "saddle tilt (°)")
			near(plane.Deg(c.angle), tenth, row, "hood angle (°)")
			near(c.hands.X, half, row, "hood ahead of the BB (mm)")
			near(c.hands.Y+305, half, row, "floor to hood (mm)") // the studio frame's BB is 305 above the floor
		}
	}
}

// What is done when a person stops it is kept: nothing yet, so the header alone, and the exit code of what was stopped.
func TestManyStopped(t *testing.T) {
	dir := t.TempDir()
	_, text := invented(t, rand.New(rand.NewPCG(1, 1)), 0)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "a.toml"), []byte(text), 0o600))
	ctx, stop := context.WithCancel(context.Background())
	stop()
	var out, errs bytes.Buffer
	code := Main(ctx, []string{"locate", "--many", dir}, Streams{In: strings.NewReader(""), Out: &out, Err: &errs})
	assert.Equal(t, ExitFailure, code)
	assert.Equal(t, "bike,problem\n", out.String())
	assert.Contains(t, errs.String(), "stopped")
}
