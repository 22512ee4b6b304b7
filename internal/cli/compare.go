package cli

import (
	"context"
	"encoding/csv"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"carryover/internal/body"
	"carryover/internal/job"
	"carryover/internal/sheet"
	"carryover/internal/words"
)

type compareOptions struct {
	posture, rider, page, date string
	more, csv, json            bool
	many                       manyOptions
}

func (a *app) compareCommand() *cobra.Command {
	var o compareOptions
	cmd := &cobra.Command{
		Use:   "compare A B",
		Short: "Two bikes, or two dates of one, number by number",
		Long: `Puts two bikes that were read beside one another, or one bike before and after: what a tape reads, where the rider
touches it, with a rider what the joints do, and what changed by how much, with its ±. --more adds the readings as they were
taken, the places on the saddles and where the scales stand. It says nothing of what is better.

--page writes the same as a page to print.`,
		Example: `  carryover compare example:road example:studio-set
  carryover compare road.toml studio-set.toml --rider rider.toml --page compare.html`,
		Args: o.many.args(1, exactly(2)),
		RunE: func(cmd *cobra.Command, args []string) error {
			if o.many.source != "" {
				return a.many(cmd.Context(), o.many, strings.Join(args, ""), o.rider, o.posture, a.compareRow)
			}
			return a.compare(args, o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.posture, "posture", "", "only posture `NAME` (default: every posture that both have)")
	f.StringVar(&o.rider, "rider", "", "take the rider from `FILE`, for what the joints do")
	f.StringVar(&o.page, "page", "", "write a page to print to `FILE.html`")
	f.StringVar(&o.date, "date", "", "with --page: the `DAY` on it, like 2030-05-14")
	f.BoolVar(&o.more, "more", false, "also readings, places on the saddles and scales")
	f.BoolVar(&o.csv, "csv", false, "print CSV")
	f.BoolVar(&o.json, "json", false, "print JSON")
	o.many.flags(f, "a, b, rider and posture")
	return cmd
}

func (a *app) compare(args []string, o compareOptions) error {
	switch {
	case o.csv && o.json:
		return usagef("--csv and --json exclude each other")
	case o.date != "" && o.page == "":
		return usagef("--date belongs to --page")
	}
	c, err := a.compared(client{from: args[0], to: args[1], posture: o.posture, rider: o.rider})
	if err != nil {
		return err
	}
	if o.page != "" {
		return a.comparisonPage(c, args, o)
	}
	if o.csv {
		return csv.NewWriter(a.Out).WriteAll(append([][]string{words.ChangeColumns}, words.ChangeRows(c)...))
	}
	return a.print(o.json, c, func(p *words.Page) { p.Compare(c, o.more) })
}

func (a *app) compared(c client) (*job.Comparison, error) {
	rider, err := a.files.Rider(c.rider)
	if err != nil {
		return nil, err
	}
	return a.files.Compare(job.Asked{From: c.from, To: c.to, Posture: c.posture, Rider: rider}, body.UsualHabits())
}

func (a *app) compareRow(_ context.Context, c client) ([][]words.Cell, error) {
	if c.to == "" {
		return nil, errNoPair
	}
	k, err := a.compared(c)
	if err != nil {
		return nil, err
	}
	return words.CompareCells(k), nil
}

// comparisonPage writes the page to print.
func (a *app) comparisonPage(c *job.Comparison, args []string, o compareOptions) error {
	if err := wantPage("--page", o.page, "compare.html", append(args, o.rider)...); err != nil {
		return err
	}
	date, err := day(o.date)
	if err != nil {
		return err
	}
	inputs := []sheet.Input{{Name: "A", Value: named(args[0], c.A.Bike.Name)}, {Name: "B", Value: named(args[1], c.B.Bike.Name)}}
	if o.rider != "" {
		inputs = append(inputs, sheet.Input{Name: "Rider", Value: o.rider})
	}
	return a.output(o.page, func(w io.Writer) error { return sheet.Compared(w, c, date, inputs) })
}
