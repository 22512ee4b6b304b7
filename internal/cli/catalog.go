package cli

import (
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"carryover/internal/catalog"
	"carryover/internal/diag"
	"carryover/internal/partfile"
	"carryover/internal/words"
)

func (a *app) catalogCommand() *cobra.Command {
	var asJSON bool
	list := &cobra.Command{
		Use:   "list [KIND]",
		Short: "List the parts, or those of one kind",
		Long:  "Lists the parts with their main sizes, or those of one kind: saddle, bar, lever, stem or clipon.",
		Example: `  carryover catalog list
  carryover catalog list saddle --json`,
		Args:      atMost(1),
		ValidArgs: partfile.KindNames,
		RunE: func(_ *cobra.Command, args []string) error {
			kinds := partfile.KindNames
			if len(args) > 0 {
				if err := oneOf("KIND", args[0], partfile.KindNames); err != nil {
					return err
				}
				kinds = args
			}
			return a.listParts(kinds, asJSON)
		},
	}
	list.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	show := &cobra.Command{
		Use:   "show PART",
		Short: "Show a part: sizes, a saddle's curve, an outline to scale",
		Long:  "Shows a part: its sizes, a saddle's curve and an outline to scale. PART is a catalogue id or the path of a part file.",
		Example: `  carryover catalog show classic-280
  carryover catalog show my-saddle.toml`,
		Args: exactly(1),
		RunE: func(_ *cobra.Command, args []string) error { return a.showPart(args[0], asJSON) },
	}
	show.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	lint := &cobra.Command{
		Use:   "lint FILE...",
		Short: "Check part files: what is wrong, and what is unusual",
		Long: `Checks part files of your own. Errors are what no command would accept; warnings are sizes that
are right as far as the file goes but unusual for what is sold. Exit code 1 when there is an error.`,
		Example: "  carryover catalog lint my-saddle.toml",
		Args:    atLeast(1),
		RunE:    func(_ *cobra.Command, args []string) error { return a.lintParts(args, asJSON) },
	}
	lint.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return group("catalog", "List, show, check and measure parts", "  carryover catalog list saddle", list, show, lint, a.catalogWhoCommand(),
		a.catalogMeasureCommand())
}

func (a *app) listParts(kinds []string, asJSON bool) error {
	lib, err := a.files.Library()
	if err != nil {
		return err
	}
	var lines []catalog.Line
	for _, word := range kinds {
		parts, err := lib.List(partfile.Kind(slices.Index(partfile.KindNames, word)))
		if err != nil {
			return err
		}
		for _, p := range parts {
			lines = append(lines, catalog.NewLine(p))
		}
	}
	return a.print(asJSON, map[string]any{"schema": 1, "parts": lines}, func(p *words.Page) { p.Catalog(lines) })
}

func (a *app) showPart(name string, asJSON bool) error {
	p, _, err := a.files.AnyPart(name)
	if err != nil {
		return err
	}
	return a.print(asJSON, catalog.NewSheet(p), func(page *words.Page) { page.Part(p) })
}

// lintParts prints the findings as the result, since they are what was asked for.
func (a *app) lintParts(files []string, asJSON bool) error {
	found := catalog.LintAll(files)
	out := catalog.NewLinted(len(files), found)
	var err error
	if asJSON {
		err = a.print(true, out, nil)
	} else if err = diag.Render(a.Out, found, diag.Options{Color: a.colored(a.OutTerminal), Max: -1}); err == nil {
		_, err = fmt.Fprintf(a.Out, "%s: %s, %s\n", words.Counted(out.Files, "file"), words.Counted(out.Errors, "error"),
			words.Counted(out.Warnings, "warning"))
	}
	if err == nil && out.Errors > 0 {
		return errReported
	}
	return err
}
