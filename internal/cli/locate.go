package cli

import (
	"context"

	"github.com/spf13/cobra"

	"carryover/internal/job"
	"carryover/internal/locate"
	"carryover/internal/words"
)

// planned is how many readings a plan proposes at most.
const planned = 6

type locateOptions struct {
	shared
	significance float64
	target       string
	plan         bool
}

func (a *app) locateCommand() *cobra.Command {
	var o locateOptions
	cmd := &cobra.Command{
		Use:   "locate BIKE",
		Short: "Where a bike's parts and contacts are, and which reading is wrong",
		Long: `Work out from tape readings, marks and stated values where a bike's parts are and where the
rider touches it, how sure that is, and which reading does not fit the others.

With --plan it says which readings to take next: those that make the contacts most certain, or
with --to TARGET the settings of that bike.`,
		Example: `  carryover locate example:road
  carryover locate example:road --plan --to example:studio`,
		Args: o.many.args(0, exactly(1)),
		RunE: func(cmd *cobra.Command, args []string) error {
			return answers(cmd.Context(), a, args, o.shared, about[*job.Located]{
				answer: func(ctx context.Context, w shared) (*job.Located, error) { return a.locate(ctx, w, o) },
				text:   func(p *words.Page, l *job.Located) { p.Locate(l, o.more) },
				rows:   func(l *job.Located) [][]words.Cell { return words.LocateCells(l.Source) },
				end:    func(*job.Located) error { return nil },
			})
		},
	}
	f := cmd.Flags()
	o.flags(f, has{posture: "with --plan: for posture `NAME` only", rider: "for sit-bone spacing", many: "bike and rider",
		more: "every ±, and where the parts are", json: true})
	f.Float64Var(&o.significance, "significance", locate.DefaultSignificance,
		"how great a `RISK`, per reading, to take of calling a good one wrong")
	f.BoolVar(&o.plan, "plan", false, "say which readings to take next")
	f.StringVar(&o.target, "to", "", "with --plan: for the settings of `TARGET`")
	return cmd
}

func (o locateOptions) check() error {
	switch {
	case o.target != "" && !o.plan:
		return usagef("--to belongs to --plan")
	case o.posture != "" && !o.plan:
		return usagef("--posture belongs to --plan; without it every posture is located")
	}
	return significance(o.significance)
}

// significance refuses a risk that is none.
func significance(risk float64) error {
	if !(risk > 0 && risk < 0.5) {
		return usagef("--significance is a risk between 0 and 0.5, like 0.001, not %g", risk)
	}
	return nil
}

// locate says where everything is on a bike, and with --plan what to measure next.
func (a *app) locate(ctx context.Context, w shared, o locateOptions) (*job.Located, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	w.to = o.target
	q, err := a.asked(w)
	if err != nil {
		return nil, err
	}
	readings := 0
	if o.plan {
		readings = planned
	}
	return a.files.Locate(ctx, q, locate.Options{Significance: o.significance}, readings)
}
