package cli

import (
	"context"
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"carryover/internal/interview"
)

type measureOptions struct {
	out, csv, id, name string
	force              bool
	values             map[string]*[]string
}

// measureUsage are what the flags of interview.SaddleKeys take.
var measureUsage = map[string]string{"length": "nose to tail, `MM`", "width": "how wide it is: `STATION:MM`, as often as needed",
	"dip": "how far its middle lies below the straightedge: `STATION:MM`, as often as needed", "sag": "how far it gives under the rider, `MM`",
	"rail-height": "from the straightedge down to the rails, `MM`",
	"rail-from":   "where the rails' straight stretch begins, `MM` from the nose",
	"rail-to":     "where it ends, `MM` from the nose"}

func (a *app) catalogMeasureCommand() *cobra.Command {
	o := measureOptions{values: map[string]*[]string{}}
	cmd := &cobra.Command{
		Use:   "measure -o FILE",
		Short: "Make a part file of your own saddle from calliper readings",
		Long: `Asks for the handful of readings that describe a saddle - length, widths, dips below a straightedge,
rails - saying each time where to hold the tape, draws the outline as it grows, warns of shapes that
are hardly a saddle's, and writes a part file: the interview of "carryover new part" for a saddle.

With readings as flags or from a CSV file nothing is asked. The CSV has lines reading,station,value:
length,,270 and width,0,42 and dip,40,0 and so on, with sag, rail-height, rail-from, rail-to, id, name.
Stations are counted from the nose back along the straightedge; 27 cm and 10 5/8 in do as well as mm.`,
		Example: `  carryover catalog measure -o mine.toml
  carryover catalog measure --csv readings.csv --id mine -o mine.toml`,
		Args: exactly(0),
		RunE: func(cmd *cobra.Command, _ []string) error { return a.measure(cmd.Context(), o) },
	}
	f := cmd.Flags()
	f.StringVarP(&o.out, "output", "o", "", "write to `FILE`, or - for standard output")
	f.BoolVar(&o.force, "force", false, "replace FILE when it is there already")
	f.StringVar(&o.csv, "csv", "", "read the readings from `FILE`, or - for standard input")
	f.StringVar(&o.id, "id", "", "what bike files call the saddle: letters, digits, hyphens")
	f.StringVar(&o.name, "name", "", "what a person calls it")
	for _, key := range interview.SaddleKeys {
		o.values[key] = f.StringSlice(key, nil, measureUsage[key])
	}
	return cmd
}

func (a *app) measure(ctx context.Context, o measureOptions) error {
	if err := wantOutput(o.out, "my-saddle.toml", o.csv); err != nil {
		return err
	}
	if !o.force && o.out != stdoutName {
		if err := taken(o.out, "nothing was asked or written (--force replaces it)"); err != nil {
			return err
		}
	}
	s := &interview.Saddle{ID: o.id, Name: o.name}
	given := o.csv != ""
	if given {
		if err := a.measureCSV(s, o.csv); err != nil {
			return fmt.Errorf("%s: %w", o.csv, err)
		}
	}
	for _, key := range interview.SaddleKeys {
		for _, text := range *o.values[key] {
			given = true
			at, value, found := strings.Cut(text, ":")
			if !found {
				at, value = "", text
			}
			if err := s.PutText(key, at, value); err != nil {
				return usagef("--%s %s: %w", key, text, err)
			}
		}
	}
	if !given {
		known := map[string]string{"kind": "saddle"}
		for name, value := range map[string]string{"id": o.id, "name": o.name} {
			if value != "" {
				known[name] = value
			}
		}
		if o.out == stdoutName {
			return usagef("-o - takes readings as flags or from --csv; to be asked, name a file")
		}
		return a.askFile(ctx, o.out, interview.Subject{Kind: "part", Answer: known}, o.force)
	}
	if missing := s.Missing(); len(missing) > 0 {
		return fmt.Errorf("still needed: %s", strings.Join(missing, "; "))
	}
	src, problems := s.PartFile()
	if problems.HasErrors() {
		return problems
	}
	a.warn(problems)
	if !a.quiet {
		fmt.Fprint(a.Err, s.Outline())
	}
	return a.put(o.out, src, o.force)
}

func (a *app) measureCSV(s *interview.Saddle, path string) error {
	if path == stdoutName {
		return s.ReadCSV(a.In)
	}
	f, err := os.Open(path)
	if err != nil {
		return plainPathError(err)
	}
	defer f.Close()
	return s.ReadCSV(f)
}
