package cli

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/job"
	"carryover/internal/locate"
	"carryover/internal/report"
)

// planned is how many readings a plan proposes at most.
const planned = 6

type locateOptions struct {
	rider, to, posture string
	significance       float64
	plan, json         bool
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
		Args: exactly(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.locate(cmd.Context(), args[0], o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.rider, "rider", "", "rider `FILE`, for sit-bone spacing")
	f.Float64Var(&o.significance, "significance", locate.DefaultSignificance, "`RISK`, per reading, of calling a good one wrong")
	f.BoolVar(&o.plan, "plan", false, "say which readings to take next")
	f.StringVar(&o.to, "to", "", "with --plan: for the settings of `TARGET`")
	f.StringVar(&o.posture, "posture", "", "with --plan: for posture `NAME` only")
	f.BoolVar(&o.json, "json", false, "print JSON")
	return cmd
}

func (o locateOptions) check() error {
	switch {
	case !(o.significance > 0 && o.significance < 0.5):
		return usageError{fmt.Errorf("--significance is a risk between 0 and 0.5, like 0.001, not %g", o.significance)}
	case o.to != "" && !o.plan:
		return usageError{fmt.Errorf("--to belongs to --plan")}
	case o.posture != "" && !o.plan:
		return usageError{fmt.Errorf("--posture belongs to --plan; without it every posture is located")}
	}
	return nil
}

func (a *app) locate(ctx context.Context, path string, o locateOptions) error {
	if err := o.check(); err != nil {
		return err
	}
	rider, err := a.files.Rider(o.rider)
	if err != nil {
		return err
	}
	source, err := a.files.Source(path, rider, locate.Options{Significance: o.significance})
	if err != nil {
		return err
	}
	l, err := report.NewLocate(source.Bike, source.Adjusted)
	if err != nil {
		return err
	}
	if o.plan {
		if l.Plan, err = a.planReadings(ctx, source, o); err != nil {
			return err
		}
	}
	if o.json {
		return report.Write(a.Out, l)
	}
	return report.LocateText(a.Out, l, a.colored(a.OutTerminal))
}

// planReadings proposes the readings to take next.
func (a *app) planReadings(ctx context.Context, source *job.Source, o locateOptions) (*report.Plan, error) {
	asked, err := source.Postures(o.posture)
	if err != nil {
		return nil, err
	}
	of := "contacts"
	var target *bike.Bike
	if o.to != "" {
		of = "settings"
		if target, err = a.files.Bike(o.to); err != nil {
			return nil, err
		}
		target = target.SetByTape()
	}
	var outputs [][]float64
	for _, p := range asked {
		var rows [][]float64
		err := p.Err
		switch {
		case err != nil:
		case target == nil:
			rows, err = source.Adjusted.ContactOutputs(p.Posture)
		default:
			rows, err = settingRows(ctx, target, source, p)
		}
		if err != nil {
			return nil, err
		}
		outputs = append(outputs, rows...)
	}
	now, steps := source.Adjusted.Plan(outputs, planned)
	return report.NewPlan(of, o.to, now, steps), nil
}

func settingRows(ctx context.Context, target *bike.Bike, source *job.Source, p job.Posture) ([][]float64, error) {
	s, err := carry.Solve(ctx, target, source.Bike.Feet, p.Position, carry.Options{})
	if err != nil {
		return nil, err
	}
	return s.SettingRows(source.Adjusted)
}
