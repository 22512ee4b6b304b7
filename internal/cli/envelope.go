package cli

import (
	"context"

	"github.com/spf13/cobra"

	"carryover/internal/words"
)

type envelopeOptions struct {
	followOptions
	source, posture, rider string
	more, json             bool
}

func (a *app) envelopeCommand() *cobra.Command {
	var o envelopeOptions
	cmd := &cobra.Command{
		Use:   "envelope BIKE",
		Short: "Say what a bike can be set to, and the room left around a position",
		Long: `The least and greatest saddle height, setback, reach, drop, bar and pad height of BIKE with its
parts as fitted, and (in JSON) the regions its points reach as polygons. With --for FROM, the
room left around that bike's position in every direction; what is out of reach is as far out as carry says.`,
		Example: `  carryover envelope example:studio
  carryover envelope studio.toml --for road.toml --posture road --json`,
		Args: exactly(1),
		RunE: func(cmd *cobra.Command, args []string) error { return a.envelope(cmd.Context(), args[0], o) },
	}
	f := cmd.Flags()
	f.StringVar(&o.source, "for", "", "also measure the room around the position of `FROM`")
	f.StringVar(&o.posture, "posture", "", "with --for: only posture `NAME` (default: all)")
	f.StringVar(&o.rider, "rider", "", "take the rider from `FILE`, for sit-bone spacing")
	o.followOptions.flags(f)
	f.BoolVar(&o.more, "more", false, "also the room in every direction")
	f.BoolVar(&o.json, "json", false, "print JSON")
	return cmd
}

func (a *app) envelope(ctx context.Context, path string, o envelopeOptions) error {
	if o.source == "" && (o.posture != "" || o.rider != "") {
		return usagef("--posture and --rider belong to --for")
	}
	q, err := a.asked(o.source, path, o.posture, o.rider, o.followOptions)
	if err != nil {
		return err
	}
	stop := a.working("measuring (Ctrl-C: the best so far)", nil)
	e, err := a.files.Envelope(ctx, q)
	stop()
	if err != nil {
		return err
	}
	return a.print(o.json, e, func(p *words.Page) { p.Envelope(e, o.more) })
}
