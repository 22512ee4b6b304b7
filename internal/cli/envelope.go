package cli

import (
	"context"
	"errors"

	"github.com/spf13/cobra"

	"carryover/internal/carry"
	"carryover/internal/envelope"
	"carryover/internal/locate"
	"carryover/internal/report"
)

type envelopeOptions struct {
	carryOptions
	source string
}

func (a *app) envelopeCommand() *cobra.Command {
	var o envelopeOptions
	cmd := &cobra.Command{
		Use:   "envelope BIKE",
		Short: "Say what a bike can be set to, and the room left around a position",
		Long: `The least and greatest saddle height, setback, reach, drop, bar and pad height of BIKE with its
parts as fitted, and (in JSON) the regions its points reach as polygons. With --for FROM, the
room left around that bike's position in every direction; outside, the room is negative.`,
		Example: `  carryover envelope example:studio
  carryover envelope studio.toml --for road.toml --posture road --json`,
		Args: exactly(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.envelope(cmd.Context(), args[0], o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.source, "for", "", "also measure the room around the position of `FROM`")
	f.StringVar(&o.posture, "posture", "", "with --for: only posture `NAME` (default: all)")
	f.StringVar(&o.rider, "rider", "", "rider `FILE`, for sit-bone spacing")
	o.followOptions.flags(f)
	f.BoolVar(&o.json, "json", false, "print JSON")
	return cmd
}

func (a *app) envelope(ctx context.Context, path string, o envelopeOptions) error {
	opts, err := o.solve()
	if err != nil {
		return err
	}
	if o.source == "" && (o.posture != "" || o.rider != "") {
		return usageError{errors.New("--posture and --rider belong to --for")}
	}
	b, err := a.files.Bike(path)
	if err != nil {
		return err
	}
	m, err := envelope.New(b)
	if err != nil {
		return err
	}
	stop := a.working("measuring", nil)
	extremes, err := m.Extremes(ctx)
	stop()
	if err != nil {
		return err
	}
	out := report.NewEnvelope(path, m, extremes)
	if o.source != "" {
		rider, err := a.files.Rider(o.rider)
		if err != nil {
			return err
		}
		source, err := a.files.Source(o.source, rider, locate.Options{})
		if err != nil {
			return err
		}
		asked, err := source.Postures(o.posture)
		if err != nil {
			return err
		}
		for _, p := range asked {
			if p.Err != nil {
				return p.Err
			}
			want, err := carry.Want(p.Position, source.Bike.Feet, b.Feet, opts)
			if err != nil {
				return err
			}
			out.For = append(out.For, report.NewEnvelopeFor(o.source, p.Name, p.Hands, want.Crank, m.Rooms(want, p.Support)))
		}
	}
	if o.json {
		return report.Write(a.Out, out)
	}
	out.Write(a.Out)
	return nil
}
