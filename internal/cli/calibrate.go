package cli

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"carryover/internal/bikefile"
	"carryover/internal/calibrate"
	"carryover/internal/job"
	"carryover/internal/locate"
	"carryover/internal/words"
)

type calibrateOptions struct {
	fit          []string
	significance float64
	write, json  bool
	force, more  bool
}

func (a *app) calibrateCommand() *cobra.Command {
	var o calibrateOptions
	cmd := &cobra.Command{
		Use:   "calibrate BIKE",
		Short: "Learn a machine's anchors, directions and units from readings",
		Long: `Learn a machine whose scales are unknown. Each [[calibration]] entry of the file has the marks at
which the machine stood and the readings taken there: for every adjuster one at either end of its
scale and one between is the usual set. The file's own anchors, directions and units are where the
search starts; roughly right is enough. An adjuster with marked = false has no scale: its zero is a
stop.

It fits everything the entries can tell, or only what --fit names, and says what they cannot tell
and which entry would. It tests whether each scale is straight, which takes three points.

With --write it refuses, with exit code 1 and nothing changed, to put numbers into the file that are
known to no better than 10 mm or 2°, or that no other reading checks; --force writes them too.`,
		Example: `  carryover calibrate example:studio-calibrate
  carryover calibrate studio-calibrate.toml --fit saddle_clamp --fit "saddle post=angle,unit"
  carryover calibrate studio-calibrate.toml --write`,
		Args: exactly(1),
		RunE: func(_ *cobra.Command, args []string) error { return a.calibrate(args[0], o) },
	}
	f := cmd.Flags()
	f.StringArrayVar(&o.fit, "fit", nil, "fit only `WHAT`: an adjuster, \"NAME=angle\" or \"NAME=unit\" of it, "+
		"saddle_clamp or bar_clamp; may be repeated")
	f.Float64Var(&o.significance, "significance", locate.DefaultSignificance,
		"how great a `RISK` to take of calling a good reading wrong or a straight scale bent")
	f.BoolVar(&o.write, "write", false, "write the numbers into BIKE; the original is kept beside it")
	f.BoolVar(&o.force, "force", false, "with --write: also numbers that the entries hardly fix or do not check")
	f.BoolVar(&o.more, "more", false, "also the readings that are off most, and the lines for the file")
	f.BoolVar(&o.json, "json", false, "print JSON")
	return cmd
}

func (a *app) calibrate(path string, o calibrateOptions) error {
	if err := significance(o.significance); err != nil {
		return err
	}
	if o.force && !o.write {
		return usagef("--force belongs to --write")
	}
	if o.write && strings.HasPrefix(path, job.ExamplePrefix) {
		return usagef("--write needs a file; %s is compiled in", path)
	}
	b, err := a.files.Bike(path)
	if err != nil {
		return err
	}
	options := calibrate.Options{Significance: o.significance}
	for _, f := range o.fit {
		only, err := calibrate.ParseNumbers(b, f)
		if err != nil {
			return usagef("--fit: %w", err)
		}
		options.Only = append(options.Only, only...)
	}
	r, err := calibrate.Calibrate(b, options)
	if err != nil {
		return err
	}
	if o.write {
		if len(r.Doubtful()) > 0 && !o.force {
			return doubted(path, r)
		}
		if r.Kept, err = a.rewrite(path, r); err != nil {
			return err
		}
		r.Written = path
	}
	return a.print(o.json, r, func(p *words.Page) { p.Calibrate(r, o.more) })
}

// doubted is the refusal to write numbers that are not fit to be relied upon.
func doubted(path string, r *calibrate.Result) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s is left as it is: the entries hardly fix what would be written", path)
	for _, p := range r.Parameters {
		if p.Doubt != "" {
			fmt.Fprintf(&b, "\n  %s: %s;\n    it takes %s", words.Parameter(r, p), p.Doubt, p.Needs)
		}
	}
	b.WriteString("\nto write only some of it name that with --fit; --force writes all")
	return errors.New(b.String())
}

// rewrite puts the fitted numbers into the file and returns where the original is kept.
func (a *app) rewrite(path string, r *calibrate.Result) (kept string, err error) {
	fail := func(err error) error { return fmt.Errorf("cannot write %s: %w", path, plainPathError(err)) }
	resolved, err := filepath.EvalSymlinks(path) // a link goes on pointing at the file
	if err != nil {
		return "", fail(err)
	}
	info, err := os.Stat(resolved)
	if err != nil {
		return "", fail(err)
	}
	src, err := os.ReadFile(resolved)
	if err != nil {
		return "", fail(err)
	}
	text, err := r.Rewrite(path, src)
	if err != nil {
		return "", err
	}
	lib, err := a.files.Library()
	if err != nil {
		return "", err
	}
	if _, problems := bikefile.ReadBike(path, text, bikefile.Folder{Dir: filepath.Dir(path)}, lib); problems.HasErrors() {
		return "", fmt.Errorf("%s is left as it is; with the fitted numbers it would not be a valid bike: %w", path, problems)
	}
	if kept, err = keepBeside(resolved, src, info.Mode().Perm()); err != nil {
		return "", fail(err)
	}
	if err := putFile(resolved, text, true); err != nil {
		return "", fail(err)
	}
	return kept, nil
}

// mostKept bounds the originals kept beside a file.
const mostKept = 1000

// keepBeside writes a copy under the first name of FILE.bak, FILE.bak2 and so on that is not taken.
func keepBeside(path string, src []byte, mode fs.FileMode) (string, error) {
	for i := 1; i <= mostKept; i++ {
		name := path + ".bak"
		if i > 1 {
			name += fmt.Sprint(i)
		}
		f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
		if errors.Is(err, fs.ErrExist) {
			continue
		}
		if err != nil {
			return "", err
		}
		_, err = f.Write(src)
		return name, errors.Join(err, f.Sync(), f.Close())
	}
	return "", fmt.Errorf("%s.bak and %d more are all taken", path, mostKept-1)
}
