package cli

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"carryover/internal/words"
)

// group is a command that only holds others: alone it prints its help, and a word it does not know is wrong usage.
func group(use, short, example string, children ...*cobra.Command) *cobra.Command {
	cmd := &cobra.Command{Use: use, Short: short, Example: example, Args: noSuchCommand,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() }}
	cmd.AddCommand(children...)
	return cmd
}

// noSuchCommand refuses every argument, since a command's own words have been taken off before.
func noSuchCommand(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	hint := ""
	cmd.SuggestionsMinimumDistance = 2
	if near := cmd.SuggestionsFor(args[0]); len(near) > 0 {
		hint = fmt.Sprintf("; did you mean %q?", cmd.CommandPath()+" "+strings.Join(near, " or "))
	}
	return usagef("%s has no command %q%s", cmd.CommandPath(), args[0], hint)
}

// exactly wants n arguments, atLeast n or more, atMost n or fewer; each as a usage error.
func exactly(n int) cobra.PositionalArgs { return between(n, n, "") }
func atLeast(n int) cobra.PositionalArgs { return between(n, math.MaxInt, "at least ") }
func atMost(n int) cobra.PositionalArgs  { return between(0, n, "at most ") }

func between(least, most int, how string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if n := len(args); n < least || n > most {
			wanted := max(least, min(most, n)) // the bound that is not kept
			line := strings.TrimSuffix(strings.TrimPrefix(cmd.UseLine(), "carryover "), " [flags]")
			return usagef("%s: wants %s%s, has %d", line, how, words.Counted(wanted, "argument"), n)
		}
		return nil
	}
}

// oneOf refuses an argument that is none of the words, as a usage error.
func oneOf(what, got string, words []string) error {
	if slices.Contains(words, got) {
		return nil
	}
	return usagef("%s is one of %s, not %q", what, strings.Join(words, ", "), got)
}
