package cli

import "github.com/spf13/cobra"

// Command is the command tree, for what documents it.
func Command() *cobra.Command { return (&app{}).root() }
