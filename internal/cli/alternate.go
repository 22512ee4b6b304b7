package cli

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync/atomic"

	"github.com/spf13/cobra"

	"carryover/internal/job"
	"carryover/internal/words"
)

type alternateOptions struct {
	followOptions
	rider      string
	more, json bool
	moves      int
}

func (a *app) alternateCommand() *cobra.Command {
	var o alternateOptions
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
which posture back, and what would cure it.`,
		Example: `  carryover alternate road.toml tri.toml:aero studio.toml
  carryover alternate example:road example:tri:horns example:studio --moves 2`,
		Args: atLeast(2),
		RunE: func(cmd *cobra.Command, args []string) error { return a.alternate(cmd.Context(), args, o) },
	}
	f := cmd.Flags()
	f.IntVar(&o.moves, "moves", -1, "print the changeover for `N` moved settings (default: those recommended)")
	f.StringVar(&o.rider, "rider", "", "take the rider from `FILE`, for sit-bone spacing")
	o.followOptions.flags(f)
	f.BoolVar(&o.more, "more", false, "also the readings that check each posture")
	f.BoolVar(&o.json, "json", false, "print JSON")
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

func (a *app) alternate(ctx context.Context, args []string, o alternateOptions) error {
	last := len(args) - 1
	q, err := a.asked("", args[last], "", o.rider, o.followOptions)
	if err != nil {
		return err
	}
	var list []job.Position
	for _, arg := range args[:last] {
		path, posture := splitPosture(arg)
		list = append(list, job.Position{Path: path, Posture: posture})
	}
	var done, total atomic.Int64
	stop := a.working("sharing settings", func() string {
		return fmt.Sprintf("%d of at most %d sets (Ctrl-C: the best so far)", done.Load(), total.Load())
	})
	r, err := a.files.Alternate(ctx, list, q, o.moves, func(d, t int) {
		done.Store(int64(d))
		total.Store(int64(t))
	})
	stop()
	var few *job.FewPosturesError
	switch {
	case errors.As(err, &few):
		return usageError{err}
	case err != nil:
		return err
	case o.moves >= len(r.Rows):
		return usagef("--moves is at most %d here: %s", len(r.Rows)-1, strings.Join(r.Movable, ", "))
	}
	return a.answer(o.json, r, func(p *words.Page) { p.Alternate(r, o.more) }, unless(r.Row().Carried()))
}
