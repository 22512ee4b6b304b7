package cli

import (
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"carryover/catalogs"
	"carryover/internal/bikefile"
	"carryover/internal/diag"
	"carryover/internal/job"
	"carryover/internal/report"
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
	var files []report.ExampleFile
	lib, err := a.library()
	if err != nil {
		return err
	}
	for _, name := range job.Examples() {
		src, err := job.Example(name)
		if err != nil {
			return err
		}
		f := report.ExampleFile{Name: job.ExamplePrefix + name, Kind: "bike"}
		if b, problems := bikefile.ReadBike(name, src, bikefile.Folder{FS: catalogs.Examples}, lib); !problems.HasErrors() {
			f.Title, f.Readings, f.Adjusters, f.Calibrations = b.Name, len(b.Readings), len(b.Adjusters), len(b.Calibrations)
			for _, p := range b.Postures {
				f.Postures = append(f.Postures, p.Name)
			}
		} else if r, problems := bikefile.ReadRider(name, src); !problems.HasErrors() {
			f.Title, f.Kind = r.Name, "rider"
		} else {
			return problems
		}
		files = append(files, f)
	}
	if asJSON {
		return report.Write(a.Out, report.Examples{Schema: 1, Examples: files})
	}
	return report.WriteExamples(a.Out, files)
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
	put := newFile
	if force {
		put = replaceFile
	}
	for _, name := range names {
		src, err := job.Example(name)
		if err != nil {
			return err
		}
		path := filepath.Join(dir, name+".toml")
		if err := put(path, src); err != nil {
			return fmt.Errorf("cannot write %s: %w", path, plainPathError(err))
		}
		fmt.Fprintf(a.Out, "wrote %s\n", diag.Visible(path))
	}
	return nil
}
