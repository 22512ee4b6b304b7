package cli

import (
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"carryover/internal/catalog"
	"carryover/internal/diag"
	"carryover/internal/partfile"
	"carryover/internal/report"
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
		Use:     "show ID",
		Short:   "Show a part: sizes, a saddle's curve, an outline to scale",
		Example: "  carryover catalog show classic-280",
		Args:    exactly(1),
		RunE:    func(_ *cobra.Command, args []string) error { return a.showPart(args[0], asJSON) },
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
	return group("catalog", "List, show, check and measure parts", "  carryover catalog list saddle", list, show, lint, a.catalogMeasureCommand())
}

func (a *app) listParts(kinds []string, asJSON bool) error {
	lib, err := a.library()
	if err != nil {
		return err
	}
	var lines []report.PartLine
	for _, word := range kinds {
		parts, err := lib.List(partfile.Kind(slices.Index(partfile.KindNames, word)))
		if err != nil {
			return err
		}
		for _, p := range parts {
			lines = append(lines, report.NewPartLine(p))
		}
	}
	if asJSON {
		return report.Write(a.Out, report.Catalog{Schema: 1, Parts: lines})
	}
	return report.WriteCatalog(a.Out, lines)
}

func (a *app) showPart(id string, asJSON bool) error {
	lib, err := a.library()
	if err != nil {
		return err
	}
	p, err := lib.Find(id)
	if err != nil {
		return err
	}
	if asJSON {
		return report.Write(a.Out, report.NewPartSheet(p))
	}
	return report.WritePart(a.Out, p)
}

// lintParts prints the findings as the result, since they are what was asked for.
func (a *app) lintParts(files []string, asJSON bool) error {
	found := catalog.LintAll(files)
	out := report.NewLint(len(files), found)
	if asJSON {
		if err := report.Write(a.Out, out); err != nil {
			return err
		}
	} else if err := a.lintText(found, out); err != nil {
		return err
	}
	if out.Errors > 0 {
		return errReported
	}
	return nil
}

func (a *app) lintText(found diag.List, out report.Lint) error {
	if err := diag.Render(a.Out, found, diag.Options{Color: a.colored(a.OutTerminal), Max: -1}); err != nil {
		return err
	}
	_, err := fmt.Fprintf(a.Out, "%s: %s, %s\n", counted(out.Files, "file"), counted(out.Errors, "error"), counted(out.Warnings, "warning"))
	return err
}

// counted is "1 file", "2 files".
func counted(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}
