package cli

import (
	"strings"

	"github.com/spf13/cobra"
)

// helpColumns is how wide help is.
const helpColumns = 80

// narrowHelp makes the help of a command and of those below it fit the columns.
func narrowHelp(root *cobra.Command) {
	root.SetUsageTemplate(strings.ReplaceAll(root.UsageTemplate(), "Flags.FlagUsages ", "Flags.FlagUsagesWrapped 80 "))
	var visit func(*cobra.Command)
	visit = func(c *cobra.Command) {
		c.Long = reflowed(c.Long, helpColumns)
		for _, child := range c.Commands() {
			visit(child)
		}
	}
	visit(root)
}

// reflowed fills the paragraphs of a text anew. A paragraph with a line that is set in keeps its lines.
func reflowed(text string, columns int) string {
	paragraphs := strings.Split(text, "\n\n")
	for i, p := range paragraphs {
		if !strings.HasPrefix(p, " ") && !strings.Contains(p, "\n ") {
			p = strings.ReplaceAll(p, "\n", " ")
		}
		paragraphs[i] = wrapped(p, columns)
	}
	return strings.Join(paragraphs, "\n\n")
}
