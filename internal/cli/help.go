package cli

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"carryover/internal/words"
)

// narrowHelp makes the help of a command and of those below it fit the terminal.
func narrowHelp(root *cobra.Command, columns int) {
	root.SetUsageTemplate(strings.ReplaceAll(root.UsageTemplate(), "Flags.FlagUsages ", fmt.Sprintf("Flags.FlagUsagesWrapped %d ", columns)))
	var visit func(*cobra.Command)
	visit = func(c *cobra.Command) {
		c.Long = words.Reflow(c.Long, columns)
		for _, child := range c.Commands() {
			visit(child)
		}
	}
	visit(root)
}

// narrowed folds lines to a width, but for the command lines below "Usage:" and "Examples:", which are to be copied.
func narrowed(text string, columns int) string {
	lines, whole := strings.Split(text, "\n"), false
	for i, l := range lines {
		if whole = l == "Usage:" || l == "Examples:" || whole && l != ""; !whole {
			lines[i] = words.Wrap(l, columns)
		}
	}
	return strings.Join(lines, "\n")
}
