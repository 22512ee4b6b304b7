package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// largeCatalogue writes 200 stems, 300 bars and 50 levers drawn from a seed, and a bike open to all of them.
func largeCatalogue(t *testing.T) (parts, bike string) {
	t.Helper()
	dir := t.TempDir()
	parts, bike = filepath.Join(dir, "parts"), filepath.Join(dir, "open.toml")
	require.NoError(t, os.Mkdir(parts, 0o755))
	r := rand.New(rand.NewPCG(48_000_000, 9))
	write := func(kind, id, shape string) {
		text := fmt.Sprintf("schema = 1\nkind = %q\nid = %q\nname = \"Invented\"\n%s", kind, id, shape)
		require.NoError(t, os.WriteFile(filepath.Join(parts, id+".toml"), []byte(text), 0o644))
	}
	for i := range 200 {
		write("stem", fmt.Sprintf("drawn-stem-%d", i), fmt.Sprintf("length = %.1f\nangle = %.1f\nheight = 40.0\n", 60+80*r.Float64(),
			30*r.Float64()))
	}
	for i := range 300 {
		bend := 35 + 40*r.Float64()
		write("bar", fmt.Sprintf("drawn-bar-%d", i),
			fmt.Sprintf("reach = %.1f\ndrop = %.1f\nbend = %.1f\nwidth = 420.0\nflare = 0.0\nclamp = 31.8\n", bend+5+25*r.Float64(),
				115+35*r.Float64(), bend))
	}
	for i := range 50 {
		write("lever", fmt.Sprintf("drawn-lever-%d", i), fmt.Sprintf("hollow = [%.1f, %.1f]\nangle = %.1f\n", 30+25*r.Float64(),
			12+18*r.Float64(), 15*r.Float64()))
	}
	require.NoError(t, os.WriteFile(bike, []byte(`schema = 1
name = "Open to everything"

[frame]
head_angle = 73.0
stack = 562.0
reach = 330.0

[feet]
crank = 172.5
sole_height = 24.0

[saddle]
parts = ["*"]
clamp_at = [90.0, 190.0]
tilt = [-5.0, 5.0]

[bar]
parts = ["drawn-*"]
levers = ["drawn-*"]
lever_at = 4.0
rotation = [-12.0, 12.0]

[stem]
parts = ["drawn-*"]
spacers = { max = 35.0, step = 5.0 }

[anchor]
saddle_clamp = [-126.0, 562.0]

[[adjuster]]
name = "seatpost"
moves = "saddle"
angle = 107.0
unit = 1.0
range = [0.0, 200.0]
`), 0o644))
	return parts, bike
}

// TestInterruptedItEndsWithTheBestSoFar interrupts a search. Whether the search is over by then depends on the
// machine; either way the command ends by itself with a whole answer that says whether it is proven.
func TestInterruptedItEndsWithTheBestSoFar(t *testing.T) {
	parts, bike := largeCatalogue(t)
	cmd := exec.Command("carryover", "--catalog", parts, "carry", "example:road", bike, "--prefer", "fitted", "--json")
	var out, problems bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &problems
	require.NoError(t, cmd.Start())
	time.Sleep(300 * time.Millisecond) // long enough for the command to be up
	err := cmd.Process.Signal(os.Interrupt)
	over := errors.Is(err, os.ErrProcessDone)
	if !over {
		require.NoError(t, err)
	}
	var exit *exec.ExitError
	if err := cmd.Wait(); errors.As(err, &exit) {
		require.Equal(t, 3, exit.ExitCode(), "%s", problems.String())
	} else {
		require.NoError(t, err)
	}
	var answer struct {
		Results []struct {
			Proven       *bool
			Combinations float64
			Settings     []any
			Prefer       struct{ Proven bool }
		}
	}
	require.NoError(t, json.Unmarshal(out.Bytes(), &answer))
	require.Len(t, answer.Results, 1)
	got := answer.Results[0]
	require.NotNil(t, got.Proven)
	assert.NotEmpty(t, got.Settings)
	assert.Positive(t, got.Combinations)
	if *got.Proven && got.Prefer.Proven { // a stopped answer speaks only for the parts it had come to
		assert.GreaterOrEqual(t, got.Combinations, 48e6)
	}
	if over {
		assert.True(t, *got.Proven && got.Prefer.Proven)
	}
	t.Logf("proven: %v, and of the trade: %v", *got.Proven, got.Prefer.Proven)
}
