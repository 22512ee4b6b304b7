package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// fence is a fenced block of the README: its language, its text and where the text stands.
type fence struct {
	lang       string
	start, end int
}

func fences(t *testing.T, text string) []fence {
	var list []fence
	for _, m := range regexp.MustCompile("(?ms)^```(\\w*)\n(.*?)^```$").FindAllStringSubmatchIndex(text, -1) {
		list = append(list, fence{text[m[2]:m[3]], m[4], m[5]})
	}
	require.NotEmpty(t, list)
	return list
}

// TestREADMEShowsWhatHappens runs every "$ carryover …" line of the README's console blocks, in one
// folder from top to bottom, and compares what it prints. With -update the README is mended instead.
func TestREADMEShowsWhatHappens(t *testing.T) {
	path := filepath.Join("..", "..", "README.md")
	raw, err := os.ReadFile(path)
	require.NoError(t, err)
	text := string(raw)
	dir := t.TempDir()
	mended, at, ran := &strings.Builder{}, 0, 0
	for _, f := range fences(t, text) {
		if f.lang != "console" {
			continue
		}
		mended.WriteString(text[at:f.start])
		for _, step := range regexp.MustCompile(`(?m)^\$ `).Split(text[f.start:f.end], -1)[1:] {
			command, want, _ := strings.Cut(step, "\n")
			args := strings.Fields(command)
			require.Equal(t, "carryover", args[0], "console blocks run carryover: %s", command)
			cmd := exec.Command(args[0], args[1:]...) // TestMain has put it on the path
			cmd.Dir = dir
			cmd.Env = append(os.Environ(), "NO_COLOR=1")
			var out bytes.Buffer
			cmd.Stdout, cmd.Stderr = &out, &out
			err := cmd.Run()
			if err != nil {
				require.ErrorAs(t, err, new(*exec.ExitError))
			}
			got := out.String()
			mended.WriteString("$ " + command + "\n" + got)
			if !*update {
				assert.Equal(t, want, got, command)
			}
			ran++
		}
		at = f.end
	}
	mended.WriteString(text[at:])
	assert.Positive(t, ran)
	if *update {
		require.NoError(t, os.WriteFile(path, []byte(mended.String()), 0o644))
	}
}

// TestREADMECommandsAreRunInCI: what the README tells a newcomer to type in a shell block, CI types too.
func TestREADMECommandsAreRunInCI(t *testing.T) {
	raw, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	require.NoError(t, err)
	ci, err := os.ReadFile(filepath.Join("..", "..", ".ci", "run"))
	require.NoError(t, err)
	lines := strings.Split(string(ci), "\n")
	for _, f := range fences(t, string(raw)) {
		if f.lang != "sh" {
			continue
		}
		for _, line := range strings.Split(strings.TrimSpace(string(raw)[f.start:f.end]), "\n") {
			assert.Contains(t, lines, line)
		}
	}
}
