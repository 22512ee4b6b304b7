package cli

import (
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"carryover/internal/bike"
	"carryover/internal/job"
	"carryover/internal/partfile"
)

var shells = []string{"bash", "zsh", "fish", "powershell"}

func (a *app) completionCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "completion SHELL",
		Short: "Print a completion script for bash, zsh, fish or powershell",
		Long: `Prints a script that lets the shell complete commands, flags, catalogue ids, example:NAMEs, postures and
adjusters. To use it:

  bash        carryover completion bash > /etc/bash_completion.d/carryover
  zsh         carryover completion zsh > "${fpath[1]}/_carryover"
  fish        carryover completion fish > ~/.config/fish/completions/carryover.fish
  powershell  carryover completion powershell | Out-String | Invoke-Expression`,
		Example:   "  carryover completion bash",
		Args:      exactly(1),
		ValidArgs: shells,
		RunE: func(cmd *cobra.Command, args []string) error {
			root := cmd.Root()
			switch args[0] {
			case "bash":
				return root.GenBashCompletionV2(a.Out, true)
			case "zsh":
				return root.GenZshCompletion(a.Out)
			case "fish":
				return root.GenFishCompletion(a.Out, true)
			case "powershell":
				return root.GenPowerShellCompletionWithDesc(a.Out)
			}
			return oneOf("SHELL", args[0], shells)
		},
	}
}

// complete is what may stand for a word of a command line; args are the words before it.
type complete func(cmd *cobra.Command, args []string, word string) ([]string, cobra.ShellCompDirective)

// choices completes to a fixed list.
func choices(list ...string) complete {
	return func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		return list, cobra.ShellCompDirectiveNoFileComp
	}
}

// completions gives every command below the completion of its arguments, told by how its Use line calls them, and of
// its flags, told by their names or by what their usage says they take. A command that has completions of its own keeps them.
func (a *app) completions(cmd *cobra.Command) {
	for _, child := range cmd.Commands() {
		a.completions(child)
	}
	if names := argumentNames(cmd.Use); len(names) > 0 && cmd.ValidArgsFunction == nil && len(cmd.ValidArgs) == 0 {
		cmd.ValidArgsFunction = func(cmd *cobra.Command, args []string, word string) ([]string, cobra.ShellCompDirective) {
			several := strings.Contains(cmd.Use, "...")
			if len(args) >= len(names) && !several {
				return nil, cobra.ShellCompDirectiveNoFileComp
			}
			return a.argument(names[min(len(args), len(names)-1)])(cmd, args, word)
		}
	}
	byName := map[string]complete{"posture": a.postureNames, "fit": a.adjusterNames, "rider": a.exampleFiles}
	cmd.LocalFlags().VisitAll(func(f *pflag.Flag) {
		c, known := byName[f.Name]
		if words, is := f.Value.(choice); is {
			c, known = choices(words.words...), true
		}
		if takes, _ := pflag.UnquoteUsage(f); !known && takes == strings.ToUpper(takes) && takes != "" && takes != "NAME" {
			c, known = a.argument(takes), true
		}
		if _, has := cmd.GetFlagCompletionFunc(f.Name); known && !has && f.Value.Type() != "bool" {
			_ = cmd.RegisterFlagCompletionFunc(f.Name, c) // fails only for a flag that is not there
		}
	})
}

// argumentNames are the words of a Use line behind the command's name: "FROM", "FILE...", without brackets.
func argumentNames(use string) []string {
	var names []string
	ofFlag := false // the word behind -o is the flag's
	for _, w := range strings.Fields(use)[1:] {
		w = strings.Trim(w, "[]")
		if !ofFlag && w != "" && w == strings.ToUpper(w) && w[0] != '-' {
			names = append(names, w)
		}
		ofFlag = strings.HasPrefix(w, "-")
	}
	return names
}

// argument completes an argument by the name that Use lines give it.
func (a *app) argument(name string) complete {
	switch strings.TrimSuffix(name, "...") {
	case "FROM", "TO", "BIKE", "TARGET":
		return a.exampleFiles
	case "NAME":
		return choices(job.Examples()...)
	case "PART":
		return a.catalogIDs()
	case "SADDLE":
		return a.catalogIDs(partfile.Saddle)
	case "DIR":
		return func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return nil, cobra.ShellCompDirectiveFilterDirs
		}
	}
	return func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		return nil, cobra.ShellCompDirectiveDefault // files
	}
}

// exampleFiles completes to example:NAME where that is begun; paths are left to the shell.
func (a *app) exampleFiles(_ *cobra.Command, _ []string, word string) ([]string, cobra.ShellCompDirective) {
	var names []string
	for _, name := range job.Examples() {
		if strings.HasPrefix(job.ExamplePrefix+name, word) {
			names = append(names, job.ExamplePrefix+name)
		}
	}
	return names, cobra.ShellCompDirectiveDefault
}

// catalogIDs completes to the ids of these kinds, of every kind when none is named.
func (a *app) catalogIDs(kinds ...partfile.Kind) complete {
	return func(_ *cobra.Command, _ []string, word string) ([]string, cobra.ShellCompDirective) {
		lib, err := a.files.Library()
		if err != nil {
			return nil, cobra.ShellCompDirectiveError
		}
		if len(kinds) == 0 {
			for k := range partfile.KindNames {
				kinds = append(kinds, partfile.Kind(k))
			}
		}
		var ids []string
		for _, k := range kinds {
			ids = append(ids, lib.IDs(k)...)
		}
		slices.Sort(ids)
		return slices.DeleteFunc(ids, func(id string) bool { return !strings.HasPrefix(id, word) }), cobra.ShellCompDirectiveDefault
	}
}

// postureNames completes to the postures of the first bike on the line.
func (a *app) postureNames(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
	return a.fromBikes(args, func(i int, b *bike.Bike) (names []string) {
		if i > 0 {
			return nil
		}
		for _, p := range b.Postures {
			names = append(names, p.Name)
		}
		return names
	})
}

// adjusterNames completes to the adjusters of the bikes on the line.
func (a *app) adjusterNames(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
	return a.fromBikes(args, func(_ int, b *bike.Bike) (names []string) {
		for _, adj := range b.Adjusters {
			names = append(names, adj.Name)
		}
		return names
	})
}

// fromBikes collects names from the bikes on the line; a file that cannot be read has none.
func (a *app) fromBikes(args []string, names func(i int, b *bike.Bike) []string) ([]string, cobra.ShellCompDirective) {
	quiet := a.quiet
	a.quiet = true // a completion must not write between the words
	defer func() { a.quiet = quiet }()
	var all []string
	for i, path := range args {
		if b, err := a.files.Bike(path); err == nil {
			all = append(all, names(i, b)...)
		}
	}
	slices.Sort(all)
	return slices.Compact(all), cobra.ShellCompDirectiveNoFileComp
}
