package main

import (
	"bytes"
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/cli"
)

// eachCommand visits every command a person can call.
func eachCommand(c *cobra.Command, visit func(*cobra.Command)) {
	visit(c)
	for _, child := range c.Commands() {
		if child.IsAvailableCommand() {
			eachCommand(child, visit)
		}
	}
}

func TestEveryCommandExplainsItself(t *testing.T) {
	eachCommand(cli.Command(), func(c *cobra.Command) {
		path := c.CommandPath()
		assert.NotEmpty(t, c.Short, path)
		assert.LessOrEqual(t, len(c.Short), 66, "%s: a line of 80 columns in the list of commands", path)
		assert.False(t, strings.HasSuffix(c.Short, "."), "%s: %s", path, c.Short)
		for _, line := range exampleLines(c) {
			assert.Contains(t, line, c.CommandPath(), "%s: the example is of this command", path)
		}
		assert.NotEmpty(t, exampleLines(c), path)
	})
}

// exampleLines are the command lines of a command's examples; a line that ends in a backslash goes on in the next.
func exampleLines(c *cobra.Command) []string {
	var lines []string
	for _, line := range strings.Split(strings.ReplaceAll(c.Example, "\\\n", " "), "\n") {
		if line = strings.TrimSpace(line); line != "" && !strings.HasPrefix(line, "#") {
			lines = append(lines, line)
		}
	}
	return lines
}

// TestEveryExampleRuns runs each line of every command's examples through a shell, in a folder that holds the example
// files and a part of one's own.
func TestEveryExampleRuns(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("the examples are written for a POSIX shell")
	}
	examples := t.TempDir()
	out, err := exec.Command("carryover", "example", "write", examples).CombinedOutput()
	require.NoError(t, err, "%s", out)
	addFixtures(t, examples)
	root := cli.Command()
	eachCommand(root, func(c *cobra.Command) {
		if c == root || c.HasSubCommands() {
			return // what a group shows is an example of a command in it
		}
		if c.CommandPath() == "carryover serve" {
			return // it goes on until it is stopped
		}
		for _, line := range exampleLines(c) {
			t.Run(line, func(t *testing.T) {
				t.Parallel()
				dir := t.TempDir()
				require.NoError(t, os.CopyFS(dir, os.DirFS(examples)))
				cmd := exec.Command("sh", "-c", line)
				cmd.Dir = dir
				cmd.Stdin = strings.NewReader(typed(t, c.CommandPath()))
				out, err := cmd.CombinedOutput()
				var exit *exec.ExitError
				if errors.As(err, &exit) && exit.ExitCode() == cli.ExitMissed {
					err = nil // solved, and the answer says what is not carried
				}
				assert.NoError(t, err, "%s\n%s", line, out)
			})
		}
	})
}

// TestClosedPipeIsNoCrash reads one byte of a long output and goes away, as head does.
func TestClosedPipeIsNoCrash(t *testing.T) {
	for _, args := range [][]string{{"completion", "powershell"}, {"schema", "bike"}, {"catalog", "list", "--json"}, {"carry",
		"example:road", "example:studio", "--json"}} {
		r, w, err := os.Pipe()
		require.NoError(t, err)
		require.NoError(t, r.Close()) // nobody listens from the start
		var stderr bytes.Buffer
		cmd := exec.Command("carryover", args...)
		cmd.Stdout, cmd.Stderr = w, &stderr
		require.NoError(t, cmd.Start())
		require.NoError(t, w.Close())
		assert.Error(t, cmd.Wait(), "%v: it did not get its output out", args)
		assert.NotContains(t, stderr.String(), "goroutine", "%v", args)
		assert.NotContains(t, stderr.String(), "panic", "%v", args)
	}
}

// TestInterruptKeepsWhatWasAnswered presses Ctrl-C in the middle of the questions.
func TestInterruptKeepsWhatWasAnswered(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("interrupts cannot be sent there")
	}
	path := filepath.Join(t.TempDir(), "bike.toml")
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute) // a hang ends as a failure
	defer cancel()
	cmd := exec.CommandContext(ctx, "carryover", "new", "bike", path)
	in, err := cmd.StdinPipe()
	require.NoError(t, err)
	questions, err := cmd.StderrPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	_, err = in.Write([]byte("Half a bike\nfrom\nlong\n272\n172.5\n"))
	require.NoError(t, err)
	said, piece := "", make([]byte, 4096)
	for !strings.Contains(said, "underside of the foot, mm") { // the question after the last answer
		n, err := questions.Read(piece)
		require.NoError(t, err, said)
		said += string(piece[:n])
	}
	require.NoError(t, cmd.Process.Signal(os.Interrupt))
	rest := new(bytes.Buffer)
	_, err = rest.ReadFrom(questions)
	require.NoError(t, err)
	var exit *exec.ExitError
	require.ErrorAs(t, cmd.Wait(), &exit)
	assert.Equal(t, cli.ExitFailure, exit.ExitCode())
	assert.NoFileExists(t, path)
	kept, err := os.ReadFile(path + ".answers")
	require.NoError(t, err)
	assert.Contains(t, string(kept), `"answer": "Half a bike"`)
	assert.Contains(t, string(kept), `"answer": "172.5"`)
	assert.Contains(t, rest.String(), "5 answers kept in")
}

// TestVersionCanBeSetWhenLinking asks the command, which is built as a release is.
func TestVersionCanBeSetWhenLinking(t *testing.T) {
	out, err := exec.Command("carryover", "--version").CombinedOutput()
	require.NoError(t, err, "%s", out)
	assert.True(t, strings.HasPrefix(string(out), "carryover "+release+"\n"), "%s", out)
}

// TestBashCompletes sources the script into a bash and completes a line there. The two functions that the script takes
// from the bash-completion package are stood in for.
func TestBashCompletes(t *testing.T) {
	if _, err := exec.LookPath("bash"); err != nil {
		t.Skip("there is no bash")
	}
	const script = `
_get_comp_words_by_ref() { cur=${COMP_WORDS[COMP_CWORD]}; prev=${COMP_WORDS[COMP_CWORD-1]}; words=("${COMP_WORDS[@]}"); cword=$COMP_CWORD; }
__ltrim_colon_completions() { :; }
source <(carryover completion bash)
COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); COMP_LINE="$*"; COMP_POINT=${#COMP_LINE}
__start_carryover
printf '%s\n' "${COMPREPLY[@]}"`
	for _, c := range []struct {
		words []string
		want  []string
	}{
		{[]string{"carryover", "catalog", "show", "stem-100-1"}, []string{"stem-100-10", "stem-100-17"}},
		{[]string{"carryover", "locate", "example:t"}, []string{"trainer", "tri"}}, // bash keeps what is before a colon
		{[]string{"carryover", "carry", "example:tri", "example:studio", "--posture", "a"}, []string{"aero"}},
	} {
		out, err := exec.Command("bash", append([]string{"-c", script, "bash"}, c.words...)...).Output()
		require.NoError(t, err)
		assert.Equal(t, c.want, strings.Fields(string(out)), "%v", c.words)
	}
}
