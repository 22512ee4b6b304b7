package cli

import (
	"context"
	"fmt"
	"strings"
	"sync/atomic"

	"github.com/spf13/cobra"

	"carryover/internal/alternate"
	"carryover/internal/job"
	"carryover/internal/locate"
	"carryover/internal/report"
)

type alternateOptions struct {
	carryOptions
	moves int
}

func (a *app) alternateCommand() *cobra.Command {
	var o alternateOptions
	cmd := &cobra.Command{
		Use:   "alternate FROM... TO",
		Short: "Set TO up for several positions, with the fewest moves between",
		Long: `Two or more positions share one bike. For every number of moved settings, from none to all,
this finds the best shared setting and what each posture then misses, and prints what to move
to go from one to the next. FROM is a bike with all its postures, or BIKE:POSTURE for one.

The best is the least root of the sum over the postures of E², proven to 0.001 mm. Parts, the
crank and the levers' place on the bar are the same for all.`,
		Example: `  carryover alternate road.toml tri.toml:aero studio.toml
  carryover alternate example:road example:tri:horns example:studio --moves 2`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) < 2 {
				return usageError{fmt.Errorf("%s: wants at least 2 arguments, has %d", cmd.UseLine(), len(args))}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.alternate(cmd.Context(), args[:len(args)-1], args[len(args)-1], o)
		},
	}
	f := cmd.Flags()
	f.IntVar(&o.moves, "moves", -1, "print the changeover for `N` moved settings (default: the fewest that carry)")
	f.StringVar(&o.rider, "rider", "", "rider `FILE`, for sit-bone spacing")
	o.followOptions.flags(f)
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

func (a *app) alternate(ctx context.Context, from []string, to string, o alternateOptions) error {
	opts, err := o.solve()
	if err != nil {
		return err
	}
	rider, err := a.files.Rider(o.rider)
	if err != nil {
		return err
	}
	target, err := a.files.Bike(to)
	if err != nil {
		return err
	}
	target = target.SetByTape()
	var sources []alternate.Source
	for _, arg := range from {
		path, name := splitPosture(arg)
		source, err := a.files.Source(path, rider, locate.Options{})
		if err != nil {
			return err
		}
		asked, err := source.Postures(name)
		if err != nil {
			return err
		}
		for _, p := range asked {
			if p.Err != nil {
				return p.Err
			}
			sources = append(sources, alternate.Source{Label: path + ":" + p.Name, Feet: source.Bike.Feet, Position: p.Position})
		}
	}
	if len(sources) < 2 {
		return usageError{fmt.Errorf("alternating takes at least two postures; %s has one", from[0])}
	}
	var done, total atomic.Int64
	stop := a.working("sharing settings", func() string {
		return fmt.Sprintf("%d of at most %d sets", done.Load(), total.Load())
	})
	r, err := alternate.Solve(ctx, target, sources, opts, func(d, t int) {
		done.Store(int64(d))
		total.Store(int64(t))
	})
	stop()
	if err != nil {
		return err
	}
	if o.moves >= len(r.Rows) {
		return usageError{fmt.Errorf("--moves is at most %d here: %s", len(r.Rows)-1, strings.Join(r.Movable, ", "))}
	}
	out := report.NewAlternate(target, to, sources, r, o.moves)
	if o.json {
		err = report.Write(a.Out, out)
	} else {
		out.Write(a.Out)
	}
	if err != nil {
		return err
	}
	if !out.Rows[out.Chosen].Carried {
		return errMissed
	}
	return nil
}
