package cli

import (
	"context"

	"github.com/spf13/cobra"

	"carryover/internal/words"
)

func (a *app) confirmCommand() *cobra.Command {
	var o shared
	keep := false
	cmd := &cobra.Command{
		Use:   "confirm FROM TO",
		Short: "Check TO once it is set up, and say what to correct",
		Long: `Check a bike that has been set up. TO's file holds its [marks] as they now stand and the
[[reading]]s taken after setting it up; both go into one adjustment. The answer says where each
contact really is, which are inside tolerance (2 mm and 1°) as far as that can be told, the fewest
things to move so that all are, what each reading should be, and which reading or mark does not fit
the rest. Where it may be either of several, no move is given that would differ between them.

With --keep the position on TO, tuned by feel, is the one to keep: what to change on FROM.

A posture that cannot stand on TO is told with why; the others are confirmed.

Exit codes: 0 every contact is inside; 3 one is not, a posture cannot be confirmed, or nothing was read
on TO, so that only its marks say so; with --keep a contact that is off is 3 only when FROM's scales
cannot bring it there.`,
		Example: `  carryover confirm example:road example:studio-set
  carryover confirm --keep road.toml studio-set.toml`,
		Args: exactly(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.from, o.to = args[0], args[1]
			return a.confirm(cmd.Context(), o, keep)
		},
	}
	o.flags(cmd.Flags(), has{posture: "confirm only posture `NAME` (default: every posture of FROM)", rider: "for sit-bone spacing",
		more: "how sure each number is", follow: true, anchor: true, json: true})
	cmd.Flags().BoolVar(&keep, "keep", false, "keep the position on TO: say what to change on FROM")
	return cmd
}

func (a *app) confirm(ctx context.Context, o shared, keep bool) error {
	q, err := a.asked(o)
	if err != nil {
		return err
	}
	c, err := a.files.Confirm(ctx, q, keep)
	if err != nil {
		return err
	}
	well := c.Inside
	if keep {
		well = !c.Stuck
	}
	return a.answer(o.json, c, func(p *words.Page) { p.Confirm(c, o.more) }, unless(well))
}
