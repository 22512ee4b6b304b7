package cli

import (
	"context"

	"github.com/spf13/cobra"

	"carryover/internal/locate"
	"carryover/internal/report"
)

type carryOptions struct {
	followOptions
	posture, rider string
	json           bool
	choice         choiceOptions
	spread         spreadOptions
}

func (a *app) carryCommand() *cobra.Command {
	var o carryOptions
	cmd := &cobra.Command{
		Use:   "carry FROM TO",
		Short: "Find the settings of TO that put every contact where it is on FROM",
		Example: `  carryover carry example:road example:studio
  carryover carry road.toml studio.toml --posture road --json`,
		Args: exactly(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.carry(cmd.Context(), args[0], args[1], o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.posture, "posture", "", "carry only posture `NAME` (default: every posture of FROM)")
	f.StringVar(&o.rider, "rider", "", "rider `FILE`, for sit-bone spacing and body lengths")
	o.followOptions.flags(f)
	f.BoolVar(&o.json, "json", false, "print JSON")
	o.choice.flags(f)
	o.spread.flags(f)
	return cmd
}

func (a *app) carry(ctx context.Context, from, to string, o carryOptions) error {
	opts, err := o.solve()
	if err != nil {
		return err
	}
	if err := o.choice.check(); err != nil {
		return err
	}
	if err := o.spread.check(); err != nil {
		return err
	}
	rider, err := a.rider(o.rider)
	if err != nil {
		return err
	}
	source, adjusted, err := a.source(from, rider, locate.Options{})
	if err != nil {
		return err
	}
	target, err := a.target(to)
	if err != nil {
		return err
	}
	if err := o.choice.decides(target); err != nil {
		return err
	}
	chosen, err := postures(source, o.posture)
	if err != nil {
		return err
	}
	out := report.Carry{Schema: 1, From: from, To: to, FromName: source.Name, ToName: target.Name, Suspects: report.NewSuspects(adjusted)}
	carried := true
	for _, p := range chosen {
		pos, err := adjusted.Position(p)
		if err != nil {
			return err
		}
		stop := a.working("searching", nil)
		s, choice, err := solveChoice(ctx, target, source.Feet, &pos, opts, o.choice)
		stop()
		if err != nil {
			return err
		}
		if err := s.AddSigmas(); err != nil {
			return err
		}
		carried = carried && s.Carried()
		r, err := report.NewResult(s, adjusted)
		if err != nil {
			return err
		}
		r.Choice = choice
		if r.Pads, err = a.pads(ctx, s, source); err != nil {
			return err
		}
		if r.Spread, err = a.spread(ctx, s, adjusted, o.spread); err != nil {
			return err
		}
		if r.Body, err = shortBody(rider, adjusted, &pos, s); err != nil {
			return err
		}
		out.Results = append(out.Results, r)
	}
	write := func() error { return report.Text(a.Out, out, a.colored(a.OutTerminal)) }
	if o.json {
		write = func() error { return report.Write(a.Out, out) }
	}
	if err := write(); err != nil {
		return err
	}
	if !carried {
		return errMissed
	}
	return nil
}
