package cli

import (
	"context"

	"github.com/spf13/cobra"

	"carryover/internal/words"
)

type feltOptions struct {
	moved          []string
	posture, rider string
	json           bool
}

func (a *app) feltCommand() *cobra.Command {
	var o feltOptions
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
		RunE: func(cmd *cobra.Command, args []string) error { return a.felt(cmd.Context(), args, o) },
	}
	f := cmd.Flags()
	f.StringArrayVar(&o.moved, "moved", nil, "`NAME=MARK` of what was moved on FROM, or NAME=LENGTH and the way")
	f.StringVar(&o.posture, "posture", "", "the posture of TO (default: its first)")
	f.StringVar(&o.rider, "rider", "", "rider `FILE`, for sit-bone spacing")
	f.BoolVar(&o.json, "json", false, "print JSON")
	return cmd
}

func (a *app) felt(ctx context.Context, args []string, o feltOptions) error {
	if len(o.moved) == 0 {
		return usagef(`say what was moved on FROM, as in --moved "saddle slide=3.0"`)
	}
	q, err := a.asked(args[0], args[1], o.posture, o.rider, followOptions{policy: "extension", hands: "fixed"})
	if err != nil {
		return err
	}
	r, err := a.files.Felt(ctx, q, o.moved)
	if err != nil {
		return err
	}
	return a.answer(o.json, r, func(p *words.Page) { p.Felt(r) }, unless(r.Carried))
}
