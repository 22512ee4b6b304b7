package cli

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"carryover/internal/bike"
	"carryover/internal/catalog"
	"carryover/internal/convert"
	"carryover/internal/diag"
	"carryover/internal/format"
	"carryover/internal/partfile"
	"carryover/internal/plane"
	"carryover/internal/saddle"
	"carryover/internal/words"
)

// stdinName is the file that means standard input.
const stdinName = "-"

type convertOptions struct {
	asked            convert.Question
	readings         map[string][]bike.Reading // by word, in the order given
	to, also         []string
	loaded, unloaded bool
	table            bool
	batch            string // a file, - for standard input, "" for none
	csv, json        bool
}

const convertLong = `Works out every reference of a saddle from readings of it, and with --to the readings that put the
same support at the same place on another saddle.

A reading is VALUE, VALUE@PLACE or VALUE@PLACE~SIGMA: --saddle-height 742@mid, --setback 55@nose~1,
--line 760@tail, --plumb 12@nose,tail, --saddle-height 29.2in. Places are nose, tail, mid, widest,
sit, width:W and at:S. Each may be given several times: more readings than needed check one
another. A tilt that is not read is taken as 0 ± 1.5°.

Saddle height is straight from the BB to a place on the saddle, vertical height upright above the
BB. --also names further places to answer for, and seat-tube.

SADDLE is an id of the catalogue, or the path of a part file.

With --table, the saddles named (patterns like 'short-*' too) against one another, or against those
of --to: how far nose and top move for each pair.

With --batch, requests are read from a spreadsheet's CSV, one a row, and answered as CSV in the same
dialect (commas, semicolons or tabs; decimal points or commas). The first row names the columns: id,
saddle, to, to-tilt, clamp-at, support, sit-bones, margin, seat-angle, bb-height, and the readings
saddle-height, vertical-height, setback, tilt, seat-tube, floor-height, line, level, plumb, which
may repeat and may name their place: setback@width:80. Other columns are given back as they are. A
cell holds what the flag of that name would; an empty cell is no reading. What is given as a flag or
as SADDLE stands for cells that are empty. Every row keeps its place: one that cannot be answered
holds the reason in the column problem while the others go on, and the exit code is 1 at the end.`

// convertUsage are what the readings and numbers of a request take.
var convertUsage = map[string]string{
	"saddle-height":   "straight from the BB to a place on the saddle: `MM[@PLACE]` (mid)",
	"vertical-height": "a place on the saddle above the BB, upright: `MM[@PLACE]` (mid)",
	"setback":         "place on the saddle behind the BB, horizontally: `MM[@PLACE]` (nose)",
	"tilt":            "a straightedge along the saddle, `DEGREES`, nose up positive",
	"seat-tube":       "from the BB along the seat tube to the top, `MM`; needs --seat-angle",
	"floor-height":    "floor to a place on the saddle: `MM[@PLACE]` (mid); needs --bb-height",
	"line":            "straight distance: `MM@PLACE` from the BB, or MM@FROM,TO",
	"level":           "how far ahead: `MM@PLACE` of the BB, or MM@FROM,TO",
	"plumb":           "how far above: `MM@PLACE` the BB, or MM@FROM,TO",
	"seat-angle":      "seat tube against the ground, `DEGREES`",
	"bb-height":       "from the floor to the BB, `MM`",
	"to-tilt":         "tilt of the other saddle, `DEGREES`, where it shall not stand as the first",
	"clamp-at":        "where the post's clamp holds SADDLE, `MM` behind the nose (middle of its rails)",
	"support":         "saddle `WIDTH` that carries the rider, or sit-bones",
	"sit-bones":       "spacing of the sit bones, `MM`",
	"margin":          "what the saddle wants to be wider than the sit bones, `MM` (20: common practice)",
}

func (a *app) convertCommand() *cobra.Command {
	o := convertOptions{readings: map[string][]bike.Reading{}, asked: convert.Question{Margin: 20}}
	oldHeight := false
	cmd := &cobra.Command{
		Use:   "convert SADDLE...",
		Short: "Turn readings of a saddle into every reference, and another saddle",
		Long:  convertLong,
		Example: `  carryover convert classic-280 --saddle-height 742@mid --setback 55@nose --tilt -1
  carryover convert classic-280 --saddle-height 742 --setback 55 --to short-245 --support 122
  carryover convert classic-280 --saddle-height 742 --setback 55 --also width:80,seat-tube --seat-angle 73
  carryover convert --table 'short-*' --to classic-280 --support 122
  carryover convert --batch requests.csv > answers.csv`,
		RunE: func(cmd *cobra.Command, args []string) error {
			if oldHeight && !a.quiet {
				fmt.Fprintln(a.Err, "note: --"+convert.OldHeightNote)
			}
			return a.convert(cmd.Context(), args, o)
		},
	}
	f := cmd.Flags()
	for _, word := range convert.Words {
		f.Func(word, convertUsage[word], func(text string) error {
			r, err := convert.ParseReading(word, text)
			o.readings[word] = append(o.readings[word], r)
			return wrong("--%w", err)
		})
	}
	for _, name := range convert.Numbers() {
		f.Func(name, convertUsage[name], func(text string) error { return wrong("--%w", o.asked.Set(name, text)) })
	}
	f.SetNormalizeFunc(func(_ *pflag.FlagSet, name string) pflag.NormalizedName {
		if name == convert.OldHeight {
			oldHeight = true
		}
		return pflag.NormalizedName(convert.Word(name)) // the words of the bike file too
	})
	f.StringSliceVar(&o.also, "also", nil, "further `PLACES` to answer for, like width:80,sit,seat-tube")
	f.StringArrayVar(&o.to, "to", nil, "the other `SADDLE`; with --table several or patterns")
	f.BoolVar(&o.loaded, "loaded", false, "count how far each saddle gives under the rider (the default)")
	f.BoolVar(&o.unloaded, "unloaded", false, "compare the surfaces as they are with nobody on them")
	f.BoolVar(&o.table, "table", false, "a matrix over many saddles")
	f.StringVar(&o.batch, "batch", "", "read requests as CSV from `FILE`, or from standard input")
	f.Lookup("batch").NoOptDefVal = stdinName
	f.BoolVar(&o.csv, "csv", false, "print CSV")
	f.BoolVar(&o.json, "json", false, "print JSON")
	_ = cmd.RegisterFlagCompletionFunc("to", a.catalogIDs(partfile.Saddle)) // the flag was just defined
	return cmd
}

// findSaddle finds a saddle by id or in a part file.
func (a *app) findSaddle(what string) (convert.Saddle, error) {
	p, _, err := a.files.Part(partfile.Saddle, what)
	if err != nil {
		return convert.Saddle{}, err
	}
	return convert.Saddle{ID: p.ID, Name: p.Name, Shape: p.Saddle}, nil
}

func (a *app) findSaddles(lib *catalog.Library, names []string) ([]convert.Saddle, error) {
	var all []convert.Saddle
	for _, n := range names {
		ids := []string{n}
		if format.IsPattern(n) {
			if ids = lib.Glob(partfile.Saddle, n); len(ids) == 0 {
				return nil, fmt.Errorf("no saddle of the catalogue matches %q", n)
			}
		}
		for _, id := range ids {
			s, err := a.findSaddle(id)
			if err != nil {
				return nil, err
			}
			all = append(all, s)
		}
	}
	return all, nil
}

// request is what the flags that do not name a saddle ask.
func (o *convertOptions) request() (q convert.Request, err error) {
	switch {
	case o.loaded && o.unloaded:
		return q, usagef("--loaded and --unloaded exclude each other")
	case o.csv && o.json:
		return q, usagef("--csv and --json exclude each other")
	}
	o.asked.Settle()
	q = o.asked.Request
	var tube bool
	if q.Also, tube, err = also(o.also); err != nil {
		return q, err
	}
	if tube && q.SeatAngle == nil && o.batch == "" {
		return q, usagef("--also seat-tube needs --seat-angle DEGREES")
	}
	for _, word := range convert.Words { // in this order, whatever that of the flags
		q.Readings = append(q.Readings, o.readings[word]...)
	}
	return q, nil
}

// also reads what --also names: places on a saddle, and the way along the seat tube.
func also(names []string) (list []saddle.Reference, seatTube bool, err error) {
	for _, name := range names {
		if name == "seat-tube" {
			seatTube = true
			continue
		}
		ref, err := saddle.ParseReference(name)
		if err != nil {
			return nil, false, usagef("--also %w, or seat-tube", err)
		}
		list = append(list, ref)
	}
	return list, seatTube, nil
}

func (a *app) convert(ctx context.Context, args []string, o convertOptions) error {
	if o.batch == stdinName {
		args = slices.DeleteFunc(args, func(arg string) bool { // --batch FILE, whose value stands apart from the flag
			isFile := o.batch == stdinName && requestFile(arg)
			if isFile {
				o.batch = arg
			}
			return isFile
		})
	}
	q, err := o.request()
	if err != nil {
		return err
	}
	lib, err := a.files.Library()
	if err != nil {
		return err
	}
	if o.table {
		return a.convertTable(lib, args, q, o)
	}
	if len(o.to) > 1 {
		return usagef("--to names one saddle; several go with --table")
	}
	switch {
	case o.batch != "" && len(args) > 1, o.batch == "" && len(args) != 1:
		return usagef("convert wants one SADDLE, has %d; for many use --table or --batch", len(args))
	}
	var to *convert.Saddle
	if len(o.to) == 1 {
		s, err := a.findSaddle(o.to[0])
		if err != nil {
			return err
		}
		to = &s
	}
	if len(args) == 1 {
		if q.Saddle, err = a.findSaddle(args[0]); err != nil {
			return err
		}
	}
	if o.batch != "" {
		return a.convertBatch(ctx, q, to, o)
	}
	if to != nil && q.SupportWidth() == 0 {
		return usagef("--to needs the width that carries the rider: --support MM, or --sit-bones MM")
	}
	if len(q.Readings) == 0 {
		return usagef("there is no reading: give two or more, like --saddle-height 742@mid --setback 55@nose")
	}
	l, err := convert.Locate(q)
	if err != nil {
		return err
	}
	if to != nil {
		if _, err := l.Put(*to, !o.unloaded); err != nil {
			return err
		}
	}
	if o.csv {
		return csv.NewWriter(a.Out).WriteAll(l.CSV())
	}
	return a.print(o.json, l, func(p *words.Page) { p.Convert(l) })
}

// requestFile reports whether an argument is a file of requests rather than a saddle.
func requestFile(arg string) bool {
	if arg == stdinName || slices.Contains([]string{".csv", ".tsv", ".txt"}, strings.ToLower(filepath.Ext(arg))) {
		return true
	}
	info, err := os.Stat(arg)
	return err == nil && !info.IsDir() && filepath.Ext(arg) != ".toml"
}

func (a *app) convertTable(lib *catalog.Library, args []string, q convert.Request, o convertOptions) error {
	if o.batch != "" {
		return usagef("--table and --batch exclude each other")
	}
	tilt := 0.0
	for _, r := range q.Readings {
		if r.Kind != bike.Angle {
			return usagef("--table compares saddles at one place: of the readings only --tilt goes with it")
		}
		tilt = r.Value
	}
	if q.SupportWidth() == 0 {
		return usagef("--table needs the width that carries the rider: --support MM, or --sit-bones MM")
	}
	from, err := a.findSaddles(lib, args)
	if err != nil {
		return err
	}
	to := from
	if len(o.to) > 0 {
		if to, err = a.findSaddles(lib, o.to); err != nil {
			return err
		}
	}
	if len(from) == 0 {
		return usagef("--table wants saddles: name some, or a pattern like 'short-*'")
	}
	t := convert.NewTable(from, to, q.SupportWidth(), plane.Angle(tilt), !o.unloaded)
	if o.csv {
		return csv.NewWriter(a.Out).WriteAll(t.CSV())
	}
	return a.print(o.json, t, func(p *words.Page) { p.Saddles(t) })
}

func (a *app) convertBatch(ctx context.Context, q convert.Request, to *convert.Saddle, o convertOptions) error {
	switch {
	case o.json:
		return usagef("--batch prints CSV, not JSON")
	case len(q.Readings) > 0:
		return usagef("with --batch the readings stand in the CSV, not in flags")
	}
	silent := app{files: a.files} // many goroutines must not print warnings of part files at once
	silent.files.Warn = nil
	b := convert.Batch{Defaults: q, To: to, Margin: o.asked.Margin, Loaded: !o.unloaded, SeatTube: slices.Contains(o.also, "seat-tube"),
		Find: silent.findSaddle,
		Why:  reason,
		Bad:  func(row int, why string) { fmt.Fprintf(a.Err, "row %d: %s\n", row, diag.Visible(why)) },
		Note: func(text string) {
			if !a.quiet {
				fmt.Fprintf(a.Err, "note: %s\n", diag.Visible(text))
			}
		}}
	in := a.In
	if o.batch != stdinName {
		file, err := os.Open(o.batch)
		if err != nil {
			return err
		}
		defer file.Close()
		in = file
	}
	good, bad, err := b.Run(ctx, in, a.Out)
	if errors.Is(err, context.Canceled) {
		return fmt.Errorf("interrupted: %s answered", words.Counted(good, "row"))
	}
	if err != nil {
		return fmt.Errorf("batch: %w", err)
	}
	if bad > 0 {
		if !a.quiet {
			fmt.Fprintf(a.Err, "%d answered, %s not\n", good, words.Counted(bad, "row"))
		}
		return errReported
	}
	return nil
}
