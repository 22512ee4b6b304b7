package cli

import (
	"bytes"
	"context"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/job"
	"carryover/internal/words"
)

// printed is what a command prints on a terminal so wide.
func printed(columns int, args ...string) (out, errs string, code int) {
	var o, e bytes.Buffer
	code = Main(context.Background(), args, Streams{In: strings.NewReader(""), Out: &o, Err: &e, Columns: columns})
	return o.String(), e.String(), code
}

// What is printed without being asked for more is what a person needs at the bike: on every pair of examples no longer than the issue
// "Short, plain and beautiful" allows (carry of one posture 45 lines, of three 75; all else 40), and no wider than the page.
func TestEveryExampleIsToldInFewLines(t *testing.T) {
	examples, err := (&job.Files{}).ListExamples()
	require.NoError(t, err)
	answered := map[string]int{}
	short := func(most int, args ...string) {
		out, errs, code := printed(0, args...)
		if code != ExitOK && code != ExitMissed {
			assert.Truef(t, errs != "" || strings.Contains(out, "!! "), "%v ends with %d and says nothing", args, code)
		} else {
			answered[args[0]]++
		}
		lines := strings.Split(strings.TrimSuffix(out, "\n"), "\n")
		assert.LessOrEqual(t, len(lines), most, "%v", args)
		for _, l := range lines {
			assert.LessOrEqual(t, words.Columns(l), words.Usual, "%v: %s", args, l)
		}
	}
	for _, from := range examples {
		if from.Kind != "bike" {
			continue
		}
		short(40, "locate", from.Name)
		short(40, "envelope", from.Name)
		short(40, "body", from.Name, "--rider", "example:rider")
		for _, to := range examples {
			if to.Kind != "bike" || to.Name == from.Name || len(from.Postures) == 0 {
				continue
			}
			short(45+15*(len(from.Postures)-1), "carry", from.Name, to.Name)
			short(40, "confirm", from.Name, to.Name)
			short(40, "envelope", to.Name, "--for", from.Name)
			short(40, "body", from.Name, to.Name, "--rider", "example:rider")
			short(40, "alternate", from.Name, to.Name)
		}
	}
	for command, least := range map[string]int{"carry": 15, "locate": 7, "confirm": 3, "envelope": 12, "body": 12, "alternate": 2} {
		assert.GreaterOrEqual(t, answered[command], least, command)
	}
}

// Help follows the terminal between 60 and 100 columns, and what hangs under a name goes on under it.
func TestHelpFollowsTheTerminal(t *testing.T) {
	for _, columns := range []int{0, 40, 72, 160} {
		most := min(max(columns, 60), 100)
		if columns == 0 {
			most = 80
		}
		widest := 0
		for _, c := range append([]string{""}, commands()...) {
			out, _, code := printed(columns, append([]string{"help"}, strings.Fields(c)...)...)
			require.Equal(t, ExitOK, code, c)
			_, examples, _ := strings.Cut(out, "\nExamples:\n")
			examples, _, _ = strings.Cut(examples, "\n\n") // lines to be copied stay whole
			for _, l := range strings.Split(strings.Replace(out, examples, "", 1), "\n") {
				if strings.HasPrefix(l, "  carryover ") && strings.HasSuffix(l, " [flags]") {
					continue // of the usage
				}
				assert.LessOrEqual(t, words.Columns(l), most, "help %s at %d: %s", c, columns, l)
				widest = max(widest, words.Columns(l))
			}
		}
		assert.Greater(t, widest, most-8, "at %d", columns)
	}
	out, _, _ := printed(60, "help", "readings")
	assert.Contains(t, out, "\n  saddle-height   Saddle height: bottom bracket straight to\n                  the saddle.")
}

// commands are the names of all commands and topics, with those below: "catalog", "catalog list".
func commands() (names []string) {
	var below func(c *cobra.Command)
	below = func(c *cobra.Command) {
		for _, child := range c.Commands() {
			names = append(names, strings.TrimPrefix(child.CommandPath(), "carryover "))
			below(child)
		}
	}
	below((&app{}).root())
	return names
}

// Every command refuses a flag that it does not know, a word for a command that it does not have, and to go without its argument.
func TestWrongUsageOfEveryCommand(t *testing.T) {
	for _, name := range commands() {
		c, _, err := (&app{}).root().Find(strings.Fields(name))
		require.NoError(t, err)
		if !c.Runnable() {
			continue // a topic
		}
		wrong := [][]string{{"--no-such-flag"}, {"--color", "red"}}
		if words := strings.Fields(c.Use); len(words) > 1 && !strings.ContainsAny(words[1], "[-") {
			wrong = append(wrong, nil) // without its first argument
		}
		if c.HasSubCommands() {
			wrong = append(wrong, []string{"no-such-command"})
		}
		for _, args := range wrong {
			args = append(strings.Fields(name), args...)
			out, errs, code := printed(0, args...)
			assert.Equal(t, ExitUsage, code, "%v: %s", args, errs)
			assert.Empty(t, out, "%v", args)
			assert.Contains(t, errs, "see: carryover", "%v", args)
		}
	}
}
