package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"carryover/internal/diag"
	"carryover/internal/measure"
)

type measureOptions struct {
	out, csv, id, name string
	force              bool
	values             map[string]*[]string
}

func (a *app) catalogMeasureCommand() *cobra.Command {
	o := measureOptions{values: map[string]*[]string{}}
	cmd := &cobra.Command{
		Use:   "measure -o FILE",
		Short: "Make a part file of your own saddle from calliper readings",
		Long: `Asks for the handful of readings that describe a saddle - length, widths, dips below a straightedge,
rails - saying each time where to hold the tape, draws the outline as it grows, warns of shapes that
are hardly a saddle's, and writes a part file. It takes about five minutes.

With readings as flags or from a CSV file nothing is asked. The CSV has lines reading,station,value:
length,,270 and width,0,42 and dip,40,0 and so on, with sag, rail-height, rail-from, rail-to, id, name.
Everything in mm; stations are counted from the nose back along the straightedge.`,
		Example: `  carryover catalog measure -o mine.toml
  carryover catalog measure --csv readings.csv --id mine -o mine.toml`,
		Args: exactly(0),
		RunE: func(cmd *cobra.Command, _ []string) error { return a.measure(cmd.Context(), o) },
	}
	f := cmd.Flags()
	f.StringVarP(&o.out, "output", "o", "", "`FILE` to write, or - for standard output")
	f.BoolVar(&o.force, "force", false, "replace FILE when it is there already")
	f.StringVar(&o.csv, "csv", "", "read the readings from `FILE`, or - for standard input")
	f.StringVar(&o.id, "id", "", "what bike files call the saddle: letters, digits, hyphens")
	f.StringVar(&o.name, "name", "", "what a person calls it")
	for _, key := range measure.Keys {
		usage := "`MM`"
		if key == "width" || key == "dip" {
			usage = "`STATION:MM`, as often as needed"
		}
		o.values[key] = f.StringSlice(key, nil, usage)
	}
	return cmd
}

func (a *app) measure(ctx context.Context, o measureOptions) error {
	if err := wantOutput(o.out, "my-saddle.toml", o.csv); err != nil {
		return err
	}
	put := a.output
	if !o.force && o.out != stdoutName {
		if err := taken(o.out, "nothing was asked or written (--force replaces it)"); err != nil {
			return err
		}
		put = a.outputNew
	}
	r := &measure.Readings{}
	given := o.csv != ""
	if o.csv != "" {
		if err := a.measureCSV(r, o.csv); err != nil {
			return fmt.Errorf("%s: %w", o.csv, err)
		}
	}
	for _, key := range measure.Keys {
		for _, text := range *o.values[key] {
			given = true
			at, value, found := strings.Cut(text, ":")
			if !found {
				at, value = "", text
			}
			if err := r.PutText(key, at, value); err != nil {
				return usageError{fmt.Errorf("--%s %s: %w", key, text, err)}
			}
		}
	}
	if o.id != "" {
		r.ID = o.id
	}
	if o.name != "" {
		r.Name = o.name
	}
	if !given {
		if err := a.interview(ctx, r); err != nil {
			return err
		}
	}
	if missing := r.Missing(); len(missing) > 0 {
		return fmt.Errorf("still needed: %s", strings.Join(missing, "; "))
	}
	src, problems := r.PartFile()
	if problems.HasErrors() {
		return problems
	}
	a.warn(problems)
	if given && !a.quiet {
		a.doubts(r, nil)
		fmt.Fprint(a.Err, r.Outline())
	}
	return put(o.out, func(w io.Writer) error {
		_, err := w.Write(src)
		return err
	})
}

func (a *app) measureCSV(r *measure.Readings, path string) error {
	if path == stdoutName {
		return r.ReadCSV(a.In)
	}
	f, err := os.Open(path)
	if err != nil {
		return plainPathError(err)
	}
	defer f.Close()
	return r.ReadCSV(f)
}

// doubts prints what is implausible and has not been said before.
func (a *app) doubts(r *measure.Readings, said map[string]bool) {
	for _, text := range r.Implausible() {
		if !said[text] {
			fmt.Fprintf(a.Err, "warning: %s\n", text)
		}
		if said != nil {
			said[text] = true
		}
	}
}

// maxWrong is how many answers in a row may be refused, so that a pipe with the wrong text comes to an end.
const maxWrong = 5

// interview asks for every reading on standard error and reads the answers from standard input.
func (a *app) interview(ctx context.Context, r *measure.Readings) error {
	lines := readLines(ctx, a.In)
	ask := func(prompt string, take func(string) error) error {
		for range maxWrong {
			fmt.Fprintf(a.Err, "%s ", prompt)
			answer, more := "", false
			select {
			case answer, more = <-lines:
			case <-ctx.Done():
			}
			if !a.InTerminal || ctx.Err() != nil { // nobody has pressed the key that ends the line
				fmt.Fprintln(a.Err)
			}
			if !more {
				return errors.New("the answers ended before the last reading; nothing is written")
			}
			if err := take(strings.TrimSpace(answer)); err != nil {
				fmt.Fprintf(a.Err, "  %s\n", diag.Visible(err.Error()))
				continue
			}
			return nil
		}
		return errors.New("too many answers that are no reading; nothing is written")
	}
	fmt.Fprintln(a.Err, "All in mm. An answer of - leaves a reading out where the others can do without it.")
	if r.ID == "" {
		if err := ask("id of the saddle, like my-saddle:", func(s string) error {
			if s == "" || strings.ContainsAny(s, " \t*?[]/\\:") {
				return errors.New("use letters, digits and hyphens")
			}
			r.ID = s
			return nil
		}); err != nil {
			return err
		}
	}
	said := map[string]bool{}
	told := ""
	question := func(q measure.Question) error {
		if q.How != told {
			fmt.Fprintf(a.Err, "\n%s\n", folded80(q.How))
			told = q.How
		}
		prompt := q.Ask + ":"
		if q.Usual != "" {
			prompt = fmt.Sprintf("%s [%s]:", q.Ask, q.Usual)
		}
		err := ask(prompt, func(s string) error {
			if s == "-" && q.Optional(r.Length) {
				return nil
			}
			return r.Set(q, s)
		})
		if err == nil && q.Key == "width" {
			fmt.Fprint(a.Err, r.Outline())
		}
		a.doubts(r, said)
		return err
	}
	if err := question(measure.First()); err != nil {
		return err
	}
	for _, q := range measure.Questions(r.Length) {
		if err := question(q); err != nil {
			return err
		}
	}
	return nil
}

// folded80 breaks a sentence into lines of at most 80 columns.
func folded80(text string) string {
	var b strings.Builder
	used := 0
	for i, word := range strings.Fields(text) {
		switch {
		case i == 0:
		case used+1+len(word) > 80:
			b.WriteByte('\n')
			used = 0
		default:
			b.WriteByte(' ')
			used++
		}
		b.WriteString(word)
		used += len(word)
	}
	return b.String()
}
