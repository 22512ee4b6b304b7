package cli

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/confirm"
	"carryover/internal/locate"
	"carryover/internal/report"
)

type confirmOptions struct {
	carryOptions
	keep        bool
	anchorSigma float64
}

func (a *app) confirmCommand() *cobra.Command {
	var o confirmOptions
	cmd := &cobra.Command{
		Use:   "confirm FROM TO",
		Short: "Check TO once it is set up, and say what to correct",
		Long: `Check a bike that has been set up. TO's file holds its [marks] as they now stand and the
[[reading]]s taken after setting it up; both go into one adjustment. The answer says where each
contact really is, which are inside tolerance (2 mm and 1°), the fewest things to move so that all
are, and which reading or mark does not fit the rest.

With --keep the position on TO, tuned by feel, is the one to keep: what to change on FROM.

Exit codes: 0 every contact is inside; 3 one is not; with --keep 3 only when FROM's scales cannot
bring it there.`,
		Example: `  carryover confirm example:road example:studio-set
  carryover confirm --keep road.toml studio-set.toml`,
		Args: exactly(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.confirm(cmd.Context(), args, o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.posture, "posture", "", "confirm only posture `NAME` (default: every posture of FROM)")
	f.StringVar(&o.rider, "rider", "", "rider `FILE`, for sit-bone spacing")
	o.followOptions.flags(f)
	f.BoolVar(&o.keep, "keep", false, "keep the position on TO: say what to change on FROM")
	f.Float64Var(&o.anchorSigma, "anchor-sigma", 2, "how well the anchors of the machine are known, `MM`")
	f.BoolVar(&o.json, "json", false, "print JSON")
	return cmd
}

func (a *app) confirm(ctx context.Context, args []string, o confirmOptions) error {
	opts, err := o.solve()
	if err != nil {
		return err
	}
	if !(o.anchorSigma >= 0 && o.anchorSigma <= 100) {
		return usageError{fmt.Errorf("--anchor-sigma is from 0 to 100 mm, not %g", o.anchorSigma)}
	}
	rider, err := a.files.Rider(o.rider)
	if err != nil {
		return err
	}
	from, err := a.files.Source(args[0], rider, locate.Options{})
	if err != nil {
		return err
	}
	target, err := a.files.Bike(args[1])
	if err != nil {
		return err
	}
	asked, err := from.Postures(o.posture)
	if err != nil {
		return err
	}
	var chosen []bike.Posture
	for _, p := range asked {
		if p.Err != nil {
			return p.Err
		}
		chosen = append(chosen, p.Posture)
	}
	target.AnchorSigma = o.anchorSigma
	source, adjusted := from.Bike, from.Adjusted
	set, err := confirm.Stand(target, rider, chosen, locate.Options{})
	if err != nil {
		return err
	}
	out := report.Confirm{Schema: 1, From: args[0], To: args[1], Keep: o.keep, Inside: true, Tolerance: report.NewTolerance(),
		FromSuspects: report.NewFindings(adjusted), ToSuspects: report.NewFindings(set.Adjusted),
		Assumptions: append(append([]string{}, adjusted.Assumptions()...), set.Adjusted.Assumptions()...)}
	stuck := false
	base := set
	if o.keep {
		if base, err = confirm.Stand(source, rider, chosen, locate.Options{}); err != nil {
			return err
		}
	}
	for _, p := range chosen {
		var r *confirm.Result
		var changes []confirm.Change
		if o.keep {
			r, changes, err = keepOn(ctx, base, set, target.Feet, p, opts)
		} else {
			var pos locate.Position
			if pos, err = adjusted.Position(p); err == nil {
				r, err = confirm.Check(ctx, set, source.Feet, &pos, opts)
			}
		}
		if err != nil {
			return err
		}
		out.Results = append(out.Results, report.NewConfirmed(r, changes))
		out.Inside = out.Inside && r.Inside()
		stuck = stuck || !r.Cured && len(changes) == 0
	}
	write := func() error { return report.ConfirmText(a.Out, out, a.colored(a.OutTerminal)) }
	if o.json {
		write = func() error { return report.Write(a.Out, out) }
	}
	if err := write(); err != nil {
		return err
	}
	if o.keep && stuck || !o.keep && !out.Inside {
		return errMissed
	}
	return nil
}

// keepOn says what to change on the bike that stands as base so that it matches the one that stands as felt.
func keepOn(ctx context.Context, base, felt *confirm.Standing, feet bike.Feet, p bike.Posture, o carry.Options) (*confirm.Result, []confirm.Change, error) {
	feet.Cranks = nil
	pos, err := felt.Adjusted.Position(p)
	if err != nil {
		return nil, nil, err
	}
	r, err := confirm.Check(ctx, base, feet, &pos, o)
	if err != nil {
		return nil, nil, err
	}
	return r, base.Changes(r), nil
}
