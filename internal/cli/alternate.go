package cli

import (
	"context"
	"errors"
	"strings"

	"github.com/spf13/cobra"

	"carryover/internal/job"
	"carryover/internal/words"
)

func (a *app) alternateCommand() *cobra.Command {
	var o shared
	var moves int
	cmd := &cobra.Command{
		Use:   "alternate FROM... TO",
		Short: "Set TO up for several positions, with the fewest moves between",
		Long: `Two or more positions share one bike. For every number of moved settings, from none to all,
this finds the best shared setting and what each posture then misses, and prints what to move
to go from one to the next. FROM is a bike with all its postures, or BIKE:POSTURE for one.

The best is what leaves the postures nearest to where they were, all together, proven to 0.001 mm:
angles first, then leg extension, setback and the hands. Parts, the crank, the levers' place on the bar,
spacers, holes and risers are the same for all. A further move is recommended where it brings all of them
nearer by a millimetre, until every posture is carried. Where no number of moves carries, it says what holds
which posture back, and what would cure it. A posture for which TO has no place is left out.

Exit codes: 0 every posture is carried; 3 one is not, or is left out.`,
		Example: `  carryover alternate road.toml tri.toml:aero studio.toml
  carryover alternate example:road example:tri:horns example:studio --moves 2`,
		Args: atLeast(2),
		RunE: func(cmd *cobra.Command, args []string) error { return a.alternate(cmd.Context(), args, o, moves) },
	}
	cmd.Flags().IntVar(&moves, "moves", -1, "print the changeover for `N` moved settings (default: those recommended)")
	o.flags(cmd.Flags(), has{rider: "for sit-bone spacing", more: "the readings that check each posture", follow: true, json: true})
	return cmd
}

// splitPosture takes BIKE:POSTURE apart; example:NAME alone names a bike.
func splitPosture(arg string) (path, posture string) {
	i := strings.LastIndexByte(arg, ':')
	if i < 0 || arg[:i]+":" == job.ExamplePrefix || strings.ContainsAny(arg[i:], `/\`) {
		return arg, ""
	}
	return arg[:i], arg[i+1:]
}

func (a *app) alternate(ctx context.Context, args []string, o shared, moves int) error {
	last := len(args) - 1
	o.to = args[last]
	q, err := a.asked(o)
	if err != nil {
		return err
	}
	var list []job.Position
	for _, arg := range args[:last] {
		path, posture := splitPosture(arg)
		list = append(list, job.Position{Path: path, Posture: posture})
	}
	step, stop := a.counting("sharing settings", "%d of at most %d sets (Ctrl-C: the best so far)")
	r, err := a.files.Alternate(ctx, list, q, moves, step)
	stop()
	var few *job.FewPosturesError
	switch {
	case errors.As(err, &few):
		return usageError{err}
	case err != nil:
		return err
	case moves >= len(r.Rows):
		return usagef("--moves is at most %d here: %s", len(r.Rows)-1, strings.Join(r.Movable, ", "))
	}
	return a.answer(o.json, r, func(p *words.Page) { p.Alternate(r, o.more) }, unless(r.Carried()))
}
