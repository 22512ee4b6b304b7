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
	rider, to, posture string
	significance       float64
	plan, more, json   bool
	many               manyOptions
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
			if o.many.source != "" {
				return a.many(cmd.Context(), o.many, "", o.rider, "", func(_ context.Context, c client) ([][]words.Cell, error) {
					source, err := a.source(c.from, c.rider, locate.Options{Significance: o.significance})
					if err != nil {
						return nil, err
					}
					return words.LocateCells(source), nil
				})
			}
			return a.locate(cmd.Context(), args[0], o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.rider, "rider", "", "take the rider from `FILE`, for sit-bone spacing")
	f.Float64Var(&o.significance, "significance", locate.DefaultSignificance,
		"how great a `RISK`, per reading, to take of calling a good one wrong")
	f.BoolVar(&o.plan, "plan", false, "say which readings to take next")
	f.StringVar(&o.to, "to", "", "with --plan: for the settings of `TARGET`")
	f.StringVar(&o.posture, "posture", "", "with --plan: for posture `NAME` only")
	f.BoolVar(&o.more, "more", false, "also every ±, and where the parts are")
	f.BoolVar(&o.json, "json", false, "print JSON")
	o.many.flags(f, "bike and rider")
	return cmd
}

// source loads a bike with readings, and its rider.
func (a *app) source(path, rider string, o locate.Options) (*job.Source, error) {
	r, err := a.files.Rider(rider)
	if err != nil {
		return nil, err
	}
	return a.files.Source(path, r, o)
}

func (o locateOptions) check() error {
	switch {
	case !(o.significance > 0 && o.significance < 0.5):
		return usagef("--significance is a risk between 0 and 0.5, like 0.001, not %g", o.significance)
	case o.to != "" && !o.plan:
		return usagef("--to belongs to --plan")
	case o.posture != "" && !o.plan:
		return usagef("--posture belongs to --plan; without it every posture is located")
	}
	return nil
}

func (a *app) locate(ctx context.Context, path string, o locateOptions) error {
	if err := o.check(); err != nil {
		return err
	}
	source, err := a.source(path, o.rider, locate.Options{Significance: o.significance})
	if err != nil {
		return err
	}
	var plan *job.Plan
	if o.plan {
		if plan, err = a.files.Plan(ctx, source, job.Asked{To: o.to, Posture: o.posture}, planned); err != nil {
			return err
		}
	}
	l, err := source.Adjusted.Account()
	if err != nil {
		return err
	}
	if plan != nil {
		l.Plan = &locate.Plan{Of: map[bool]string{true: "settings", false: "contacts"}[o.to != ""], To: o.to, Now: plan.Now, Steps: plan.Steps}
	}
	return a.print(o.json, l, func(p *words.Page) { p.Locate(source, plan, o.more) })
}
