package cli

import (
	"fmt"
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
	return usageError{fmt.Errorf("%s has no command %q%s", cmd.CommandPath(), args[0], hint)}
}

// atLeast wants n arguments or more, as a usage error.
func atLeast(n int) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) < n {
			return usageError{fmt.Errorf("%s: wants at least %s, has %d", cmd.UseLine(), words.Counted(n, "argument"), len(args))}
		}
		return nil
	}
}

// atMost wants n arguments or fewer, as a usage error.
func atMost(n int) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) > n {
			return usageError{fmt.Errorf("%s: wants at most %s, has %d", cmd.UseLine(), words.Counted(n, "argument"), len(args))}
		}
		return nil
	}
}

// oneOf refuses an argument that is none of the words, as a usage error.
func oneOf(what, got string, words []string) error {
	for _, w := range words {
		if w == got {
			return nil
		}
	}
	return usageError{fmt.Errorf("%s is one of %s, not %q", what, strings.Join(words, ", "), got)}
}
