package cli

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"carryover/internal/convert"
	"carryover/internal/diag"
	"carryover/internal/job"
	"carryover/internal/words"
)

// manyOptions ask for the same over many bikes.
type manyOptions struct{ source, out string }

func (o *manyOptions) flags(f *pflag.FlagSet, columns string) {
	f.StringVar(&o.source, "many", "", "do this for every bike of a folder, or every row of a CSV with the columns "+columns+
		": `PATH`; print one CSV")
	f.StringVarP(&o.out, "output", "o", stdoutName, "with --many: write the CSV to `FILE`")
}

// args are a command's own, or with --many up to n for what the rows leave open.
func (o *manyOptions) args(n int, own cobra.PositionalArgs) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		switch {
		case o.source == "" && o.out != stdoutName:
			return usagef("-o belongs to --many")
		case o.source == "":
			return own(cmd, args)
		}
		if err := wantOutput(o.out, "clients.csv", o.source); err != nil {
			return err
		}
		if json := cmd.Flags().Lookup("json"); json != nil && json.Changed {
			return usagef("--many prints CSV, not JSON")
		}
		return atMost(n)(cmd, args)
	}
}

// client is one of many: whose bikes, and what its row had.
type client struct {
	from, to, rider, posture string
	kept                     []string
	err                      error
}

// about is a command that may be asked about many bikes: how it answers about one, and what is said of the answer. end comes after
// it was told; its error leaves it as it is.
type about[R any] struct {
	answer func(ctx context.Context, o shared) (R, error)
	text   func(*words.Page, R)
	rows   func(R) [][]words.Cell
	end    func(R) error
}

// answers answers about the bikes of a command line, or with --many about those of every row.
func answers[R any](ctx context.Context, a *app, args []string, o shared, c about[R]) error {
	if o.many.source != "" {
		o.to = strings.Join(args, "")
		return a.many(ctx, o, func(o shared) ([][]words.Cell, error) {
			r, err := c.answer(ctx, o)
			if err != nil {
				return nil, err
			}
			return c.rows(r), c.end(r)
		})
	}
	o.from, o.to = args[0], strings.Join(args[1:], "")
	r, err := c.answer(ctx, o)
	if err != nil {
		return err
	}
	if err := a.print(o.json, r, func(p *words.Page) { c.text(p, r) }); err != nil {
		return err
	}
	return c.end(r)
}

// many answers every client in its place: one that cannot be answered is a row with the reason. What the rows leave open, a second
// bike or a rider, is as on the command line.
func (a *app) many(ctx context.Context, o shared, answer func(o shared) ([][]words.Cell, error)) error {
	table, list, err := clients(o.many.source)
	if err != nil {
		return err
	}
	step, done := a.counting("bikes", "%d of %d")
	var keys [][]string
	var rows [][]words.Cell
	failed, missed := 0, false
	for i, c := range list {
		if ctx.Err() != nil {
			break // what is done is kept
		}
		w := o
		w.from, w.to, w.rider, w.posture = c.from, cmp.Or(c.to, o.to), cmp.Or(c.rider, o.rider), cmp.Or(c.posture, o.posture)
		lines, err := [][]words.Cell(nil), c.err
		if err == nil {
			lines, err = answer(w)
		}
		switch {
		case errors.Is(err, errMissed):
			missed = true
		case errors.Is(err, errReported): // its rows say what is wrong
			failed++
		case err != nil:
			failed++
			lines = append(lines, []words.Cell{{Column: "problem", Value: reason(err)}})
		}
		for _, line := range lines {
			keys, rows = append(keys, c.kept), append(rows, line)
		}
		step(i+1, len(list))
	}
	done()
	write := func(w io.Writer) error {
		return table.Write(w, words.Collected(table.Header, keys, rows, table.Number))
	}
	if err := a.output(o.many.out, write); err != nil {
		return err
	}
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case failed > 0:
		if !a.quiet {
			fmt.Fprintf(a.Err, "%d answered, %s not: see the column problem\n", len(list)-failed, words.Counted(failed, "bike"))
		}
		return errReported
	case missed:
		return errMissed
	}
	return nil
}

// cannot are rows for the postures of a bike that cannot be carried; nil: nothing was.
func cannot(k *job.Carry) (rows [][]words.Cell) {
	if k == nil {
		return nil
	}
	for _, f := range k.Failed {
		rows = append(rows, []words.Cell{{Column: "posture", Value: f.Name}, {Column: "answer", Value: "cannot be carried"},
			{Column: "problem", Value: reason(f.Err)}})
	}
	return rows
}

// carried is errMissed where a contact is not; nil: nothing was to be.
func carried(k *job.Carry) error {
	return unless(k == nil || k.Carried())
}

// errNoPair is a row that names one bike where two are wanted.
var errNoPair = errors.New("names one bike: the other stands in the column to, or behind the flag")

// reason is an error in a line.
func reason(err error) string {
	var list diag.List
	if errors.As(err, &list) {
		for _, d := range list {
			if d.Severity == diag.Error {
				switch {
				case d.Span == nil:
					return d.Summary
				case d.Span.Start.Line == 0:
					return d.Span.File + ": " + d.Summary
				}
				return fmt.Sprintf("%s:%d: %s", d.Span.File, d.Span.Start.Line, d.Summary)
			}
		}
	}
	lines := strings.FieldsFunc(words.Failure(err), func(r rune) bool { return r == '\n' })
	for i, l := range lines {
		lines[i] = strings.Join(strings.Fields(l), " ")
	}
	return strings.Join(lines, "; ")
}

// clients are those of a folder, or of a spreadsheet's rows, whose paths are seen from where it lies.
func clients(source string) (*convert.Rows, []client, error) {
	info, err := os.Stat(source)
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %w", source, plainPathError(err))
	}
	if info.IsDir() {
		return ofFolder(source)
	}
	file, err := os.Open(source)
	if err != nil {
		return nil, nil, err
	}
	defer file.Close()
	table, err := convert.ReadRows(file)
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %w; --many takes a folder of bikes, or a spreadsheet saved as CSV", source, err)
	}
	columns := map[string]int{}
	for i, name := range table.Header {
		columns[strings.ToLower(strings.TrimSpace(name))] = i
	}
	cell := func(row []string, names ...string) string {
		for _, n := range names {
			if i, ok := columns[n]; ok && i < len(row) {
				return strings.TrimSpace(row[i])
			}
		}
		return ""
	}
	path := func(name string) string {
		if name == "" || strings.HasPrefix(name, job.ExamplePrefix) || filepath.IsAbs(name) {
			return name
		}
		return filepath.Join(filepath.Dir(source), name)
	}
	var list []client
	for _, row := range table.Cells {
		c := client{from: path(cell(row, "from", "a", "bike")), to: path(cell(row, "to", "b")), rider: path(cell(row, "rider")),
			posture: cell(row, "posture"), kept: row}
		if c.from == "" {
			c.err = errors.New("names no bike")
		}
		list = append(list, c)
	}
	if _, ok := columns["posture"]; ok { // the answer's own column would stand beside it
		table.Header[columns["posture"]] = "posture asked"
	}
	return table, list, nil
}

// ofFolder are the bikes of a folder and those in it; riders and parts among them are none.
func ofFolder(dir string) (*convert.Rows, []client, error) {
	table := &convert.Rows{Header: []string{"bike"}}
	files, err := job.InFolders([]string{dir})
	var list []client
	for _, path := range files {
		name, _ := filepath.Rel(dir, path) // path lies in dir
		list = append(list, client{from: path, kept: []string{filepath.ToSlash(name)}})
	}
	if err == nil && len(list) == 0 {
		err = fmt.Errorf("%s holds no bike", dir)
	}
	return table, list, err
}
