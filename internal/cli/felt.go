package cli

import (
	"context"

	"github.com/spf13/cobra"

	"carryover/internal/words"
)

func (a *app) feltCommand() *cobra.Command {
	var o shared
	var moved []string
	cmd := &cobra.Command{
		Use:   "felt FROM TO --moved NAME=MARK",
		Short: "What was moved by feel on FROM, as a change on TO",
		Long: `Something was moved on FROM, say the saddle of the trainer, and it is better: what is that on TO,
the road bike? Only the difference is taken over: what did not move stays where it is on TO, and
the ± is that of the difference, whatever either bike's readings are off by.

--moved says what was moved on FROM, once for each thing. FROM's file has its [marks] as they
stood before, TO's its readings, or anchors and marks, as it stands.

  "saddle slide=3.0"          the mark that its scale shows now
  "saddle slide=5mm back"     how far it went, and which way: where there is no scale, or no mark
  "saddle tilt=1° nose down"  the same for an angle, on a scale or fixed by a bolt
  "pad hole=20"               what it is set to now; so rail clamp and risers, where FROM's file states them

Exit codes: 0 done; 3 TO does not go so far.`,
		Example: `  carryover felt example:studio-set example:road --moved "saddle slide=3.0"
  carryover felt trainer.toml road.toml --moved "saddle slide=5mm back" --moved "bar post=4mm up"`,
		Args: exactly(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.from, o.to = args[0], args[1]
			return a.felt(cmd.Context(), o, moved)
		},
	}
	cmd.Flags().StringArrayVar(&moved, "moved", nil, "`NAME=MARK` of what was moved on FROM, or NAME=LENGTH and the way")
	o.flags(cmd.Flags(), has{posture: "the posture of TO: `NAME` (default: its first)", rider: "for sit-bone spacing", json: true})
	return cmd
}

func (a *app) felt(ctx context.Context, o shared, moved []string) error {
	if len(moved) == 0 {
		return usagef(`say what was moved on FROM, as in --moved "saddle slide=3.0"`)
	}
	q, err := a.asked(o)
	if err != nil {
		return err
	}
	r, err := a.files.Felt(ctx, q, moved)
	if err != nil {
		return err
	}
	return a.answer(o.json, r, func(p *words.Page) { p.Felt(r) }, unless(r.Carried))
}
