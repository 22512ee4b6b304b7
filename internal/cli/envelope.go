package cli

import (
	"context"

	"github.com/spf13/cobra"

	"carryover/internal/words"
)

func (a *app) envelopeCommand() *cobra.Command {
	var o shared
	cmd := &cobra.Command{
		Use:   "envelope BIKE",
		Short: "Say what a bike can be set to, and the room left around a position",
		Long: `The least and greatest saddle height, setback, reach, drop, bar and pad height of BIKE with its
parts as fitted, and (in JSON) the regions its points reach as polygons. With --for FROM, the
room left around that bike's position in every direction; what is out of reach is as far out as carry says.`,
		Example: `  carryover envelope example:studio
  carryover envelope studio.toml --for road.toml --posture road --json`,
		Args: exactly(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.to = args[0]
			return a.envelope(cmd.Context(), o)
		},
	}
	cmd.Flags().StringVar(&o.from, "for", "", "also measure the room around the position of `FROM`")
	o.flags(cmd.Flags(), has{posture: "with --for: only posture `NAME` (default: all)", rider: "for sit-bone spacing",
		more: "the room in every direction", follow: true, json: true})
	return cmd
}

func (a *app) envelope(ctx context.Context, o shared) error {
	if o.from == "" && (o.posture != "" || o.rider != "") {
		return usagef("--posture and --rider belong to --for")
	}
	q, err := a.asked(o)
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
