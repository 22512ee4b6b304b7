package cli

import (
	"context"
	"encoding/csv"
	"io"

	"github.com/spf13/cobra"

	"carryover/internal/body"
	"carryover/internal/job"
	"carryover/internal/sheet"
	"carryover/internal/words"
)

type compareOptions struct {
	shared
	page, date string
	csv        bool
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
			switch {
			case o.csv && o.json:
				return usagef("--csv and --json exclude each other")
			case o.date != "" && o.page == "":
				return usagef("--date belongs to --page")
			case o.many.source == "" && (o.page != "" || o.csv):
				return a.compareOther(args, o)
			}
			return answers(cmd.Context(), a, args, o.shared, about[*job.Comparison]{
				answer: func(_ context.Context, w shared) (*job.Comparison, error) { return a.compare(w) },
				text:   func(p *words.Page, c *job.Comparison) { p.Compare(c, o.more) },
				rows:   words.CompareCells,
				end:    func(*job.Comparison) error { return nil },
			})
		},
	}
	f := cmd.Flags()
	o.flags(f, has{posture: "only posture `NAME` (default: every posture that both have)", rider: "for what the joints do",
		more: "readings, places on the saddles and scales", many: "a, b, rider and posture", json: true})
	f.StringVar(&o.page, "page", "", "write a page to print to `FILE.html`")
	f.StringVar(&o.date, "date", "", "with --page: the `DAY` on it, like 2030-05-14")
	f.BoolVar(&o.csv, "csv", false, "print CSV")
	return cmd
}

func (a *app) compare(o shared) (*job.Comparison, error) {
	if o.to == "" {
		return nil, errNoPair
	}
	q, err := a.asked(o)
	if err != nil {
		return nil, err
	}
	return a.files.Compare(q, body.UsualHabits())
}

// compareOther writes a comparison as a page to print, or as CSV.
func (a *app) compareOther(args []string, o compareOptions) error {
	o.from, o.to = args[0], args[1]
	c, err := a.compare(o.shared)
	if err != nil {
		return err
	}
	if o.page != "" {
		return a.comparisonPage(c, o)
	}
	return csv.NewWriter(a.Out).WriteAll(append([][]string{words.ChangeColumns}, words.ChangeRows(c)...))
}

// comparisonPage writes the page to print.
func (a *app) comparisonPage(c *job.Comparison, o compareOptions) error {
	if err := wantPage("--page", o.page, "compare.html", o.from, o.to, o.rider); err != nil {
		return err
	}
	date, err := day(o.date)
	if err != nil {
		return err
	}
	inputs := []sheet.Input{{Name: "A", Value: named(o.from, c.A.Bike.Name)}, {Name: "B", Value: named(o.to, c.B.Bike.Name)}}
	if o.rider != "" {
		inputs = append(inputs, sheet.Input{Name: "Rider", Value: o.rider})
	}
	return a.output(o.page, func(w io.Writer) error { return sheet.Compared(w, c, date, inputs) })
}
