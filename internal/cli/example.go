package cli

import (
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"carryover/internal/diag"
	"carryover/internal/job"
	"carryover/internal/words"
)

func (a *app) exampleCommand() *cobra.Command {
	var asJSON, force bool
	list := &cobra.Command{
		Use:     "list",
		Short:   "List the example files",
		Example: "  carryover example list",
		Args:    exactly(0),
		RunE:    func(*cobra.Command, []string) error { return a.listExamples(asJSON) },
	}
	list.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	show := &cobra.Command{
		Use:     "show NAME",
		Short:   "Print an example file as it is",
		Example: "  carryover example show road",
		Args:    exactly(1),
		RunE: func(_ *cobra.Command, args []string) error {
			src, err := job.Example(args[0])
			if err != nil {
				return err
			}
			_, err = a.Out.Write(src)
			return err
		},
	}
	write := &cobra.Command{
		Use:     "write DIR",
		Short:   "Write the example files into a directory, to start from",
		Example: "  carryover example write my-bikes",
		Args:    exactly(1),
		RunE:    func(_ *cobra.Command, args []string) error { return a.writeExamples(args[0], force) },
	}
	write.Flags().BoolVar(&force, "force", false, "replace files that are there already")
	return group("example", "List, show or write the example bikes and rider",
		"  carryover example list", list, show, write)
}

func (a *app) listExamples(asJSON bool) error {
	files, err := a.files.ListExamples()
	if err != nil {
		return err
	}
	return a.print(asJSON, map[string]any{"schema": 1, "examples": files}, func(p *words.Page) { p.Examples(files) })
}

// writeExamples writes every example as DIR/NAME.toml. Unless forced it looks for all of them first, so that it
// either writes all or nothing.
func (a *app) writeExamples(dir string, force bool) error {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return err
	}
	names := job.Examples()
	if !force {
		for _, name := range names {
			path := filepath.Join(dir, name+".toml")
			if err := taken(path, "nothing was written (--force replaces it)"); err != nil {
				return err
			}
		}
	}
	for _, name := range names {
		src, err := job.Example(name)
		if err != nil {
			return err
		}
		path := filepath.Join(dir, name+".toml")
		if err := putFile(path, src, force); err != nil {
			return fmt.Errorf("cannot write %s: %w", path, plainPathError(err))
		}
		fmt.Fprintf(a.Out, "wrote %s\n", diag.Visible(path))
	}
	return nil
}
