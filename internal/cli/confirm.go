package cli

import (
	"context"

	"github.com/spf13/cobra"

	"carryover/internal/words"
)

type confirmOptions struct {
	followOptions
	posture, rider   string
	keep, more, json bool
	anchor           anchorOption
}

func (a *app) confirmCommand() *cobra.Command {
	var o confirmOptions
	cmd := &cobra.Command{
		Use:   "confirm FROM TO",
		Short: "Check TO once it is set up, and say what to correct",
		Long: `Check a bike that has been set up. TO's file holds its [marks] as they now stand and the
[[reading]]s taken after setting it up; both go into one adjustment. The answer says where each
contact really is, which are inside tolerance (2 mm and 1°) as far as that can be told, the fewest
things to move so that all are, what each reading should be, and which reading or mark does not fit
the rest. Where it may be either of several, no move is given that would differ between them.

With --keep the position on TO, tuned by feel, is the one to keep: what to change on FROM.

Exit codes: 0 every contact is inside; 3 one is not, or nothing was read on TO, so that only its
marks say so; with --keep 3 only when FROM's scales cannot bring it there, or nothing was read.`,
		Example: `  carryover confirm example:road example:studio-set
  carryover confirm --keep road.toml studio-set.toml`,
		Args: exactly(2),
		RunE: func(cmd *cobra.Command, args []string) error { return a.confirm(cmd.Context(), args, o) },
	}
	f := cmd.Flags()
	f.StringVar(&o.posture, "posture", "", "confirm only posture `NAME` (default: every posture of FROM)")
	f.StringVar(&o.rider, "rider", "", "take the rider from `FILE`, for sit-bone spacing")
	o.followOptions.flags(f)
	f.BoolVar(&o.keep, "keep", false, "keep the position on TO: say what to change on FROM")
	o.anchor.flags(f)
	f.BoolVar(&o.more, "more", false, "also how sure each number is")
	f.BoolVar(&o.json, "json", false, "print JSON")
	return cmd
}

func (a *app) confirm(ctx context.Context, args []string, o confirmOptions) error {
	q, err := a.asked(args[0], args[1], o.posture, o.rider, o.followOptions)
	if err != nil {
		return err
	}
	if q.AnchorSigma, err = o.anchor.sigma(); err != nil {
		return err
	}
	c, err := a.files.Confirm(ctx, q, o.keep)
	if err != nil {
		return err
	}
	well := c.Inside
	if o.keep {
		well = !c.Stuck
	}
	return a.answer(o.json, c, func(p *words.Page) { p.Confirm(c, o.more) }, unless(well))
}
