package cli

import (
	"context"
	"time"

	"github.com/spf13/cobra"

	"carryover/internal/carry"
	"carryover/internal/job"
	"carryover/internal/montecarlo"
	"carryover/internal/partfile"
	"carryover/internal/words"
)

type carryOptions struct {
	shared
	also         []string
	parts        job.Exchange
	why          bool
	alternatives int
	prefer       string
	stems        bool
	draws        int
	seed         uint64
	blame        bool
	write, date  string
	force        bool
}

func (a *app) carryCommand() *cobra.Command {
	o := carryOptions{parts: job.Exchange{}}
	cmd := &cobra.Command{
		Use:   "carry FROM [TO]",
		Short: "Find the settings of TO that put every contact where it is on FROM",
		Long: `Prints what is needed at the bike: what to set, in which order, and the reading that confirms each step. --why adds why
the numbers changed, --more what one setting does to another and how sure everything is.

With --write FILE the file of TO as it will stand is written: parts chosen, marks set, the position it carries, and the
readings it should show, to be taken: ready for "carryover confirm", and to be carried from next year.

With --saddle, --bar, --lever, --stem or --clipon TO is fitted with that part first; without TO it is FROM itself with
another part, and what is not exchanged stays where it is.`,
		Example: `  carryover carry example:road example:studio
  carryover carry example:road --saddle classic-280
  carryover carry example:road example:studio --write studio-road.toml
  carryover carry road.toml studio.toml --posture road --json`,
		Args: o.many.args(1, func(cmd *cobra.Command, args []string) error {
			err := exactly(2)(cmd, args)
			switch {
			case len(args) == 1 && len(o.parts) > 0:
				return nil
			case len(args) == 1:
				return usagef("%w; with one bike, name another part for it: --saddle PART", err)
			}
			return err
		}),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := o.check(cmd.Flags().Changed); err != nil {
				return err
			}
			date, err := o.dated(args)
			if err != nil {
				return err
			}
			var q job.Asked
			return answers(cmd.Context(), a, args, o.shared, about[*job.Carry]{
				answer: func(ctx context.Context, w shared) (c *job.Carry, err error) {
					c, q, err = a.carry(ctx, w, o)
					return c, err
				},
				text: func(p *words.Page, c *job.Carry) { p.Carry(c, words.More{Why: o.why, All: o.more}) },
				rows: func(c *job.Carry) (rows [][]words.Cell) {
					for _, r := range c.Results {
						rows = append(rows, words.CarryCells(c, r))
					}
					return append(rows, cannot(c)...)
				},
				end: func(c *job.Carry) error {
					if o.write != "" {
						text, err := a.files.Finished(c, q, date.Format(time.DateOnly), o.write)
						if err == nil {
							err = a.put(o.write, text, o.force)
						}
						if err != nil {
							return err
						}
					}
					return carried(c)
				},
			})
		},
	}
	f := cmd.Flags()
	o.flags(f, has{posture: "carry only posture `NAME` (default: every posture of FROM)", rider: "for sit-bone spacing and body lengths",
		more: "say what one setting does to another, and how sure everything is", many: "from, to, rider and posture",
		follow: true, anchor: true, json: true})
	f.BoolVar(&o.why, "why", false, "also say why the numbers changed, and where the saddle's references are")
	f.StringSliceVar(&o.also, "also", nil, "further `PLACES` on the saddles to tell of, like width:80,seat-tube")
	for i := range partfile.KindNames {
		kind := partfile.Kind(i)
		f.Func(kind.String(), "fit another "+kind.Called()+" first: `PART` is a catalogue id or the path of a file",
			func(name string) error { o.parts[kind] = name; return nil })
	}
	f.StringVar(&o.write, "write", "", "write TO as it will stand to `FILE`")
	f.BoolVar(&o.force, "force", false, "with --write: replace FILE when it is there already")
	f.StringVar(&o.date, "date", "", "with --write: the `DAY` it is set up, like 2030-05-14 (default: today)")
	f.IntVar(&o.alternatives, "alternatives", 0, "also list the `N` next best combinations of parts")
	f.BoolVar(&o.stems, "stems", false, "also name three stems to buy, with spacers and which way up")
	oneOfWords(f, &o.prefer, "prefer", "", "in open slots: fitted, to change as few parts (the first of each list) as will carry", "fitted")
	f.IntVar(&o.draws, "draws", 0, "draw the readings `N` times and carry each: how the answer spreads")
	f.Uint64Var(&o.seed, "seed", 1, "with --draws: start the random numbers at `SEED`")
	f.BoolVar(&o.blame, "blame", false, "say which readings each setting's uncertainty comes from")
	return cmd
}

// check refuses what cannot be asked for.
func (o *carryOptions) check(given func(flag string) bool) error {
	switch {
	case o.alternatives < 0 || o.alternatives > 1000:
		return usagef("--alternatives is 0 to 1000, not %d", o.alternatives)
	case given("draws") && (o.draws < 2 || o.draws > montecarlo.MaxDraws):
		return usagef("--draws is a number from 2 to %d, not %d", montecarlo.MaxDraws, o.draws)
	case given("seed") && o.draws == 0:
		return usagef("--seed belongs to --draws")
	case o.write == "" && (o.force || o.date != ""):
		return usagef("--force and --date belong to --write")
	case o.many.source != "" && (o.write != "" || o.draws > 0 || o.alternatives > 0 || o.stems):
		return usagef("--write, --draws, --alternatives and --stems belong to one carry, not to --many")
	}
	return nil
}

// carry carries one bike, and works out what was asked for beside.
func (a *app) carry(ctx context.Context, w shared, o carryOptions) (*job.Carry, job.Asked, error) {
	q, err := a.asked(w)
	if err != nil {
		return nil, q, err
	}
	if q.Exchange = o.parts; q.To == "" && len(q.Exchange) == 0 {
		return nil, q, errNoPair
	}
	if q.Options.Also, q.Options.SeatTube, err = also(o.also); err != nil {
		return nil, q, err
	}
	q.Alternatives, q.Fitted, q.Stems = o.alternatives, o.prefer != "", o.stems
	stop := func() {}
	if o.many.source == "" {
		stop = a.working("searching (Ctrl-C: the best so far)", nil)
	}
	c, err := a.files.Carry(ctx, q)
	stop()
	if err != nil {
		return nil, q, err
	}
	for _, r := range c.Results {
		if err := a.spread(ctx, r, o); err != nil {
			return nil, q, err
		}
	}
	return c, q, nil
}

// spread works out how sure a result is, when a flag asks for it.
func (a *app) spread(ctx context.Context, r *job.Result, o carryOptions) (err error) {
	if o.blame {
		r.Blame = r.Solution.Blame()
	}
	if o.draws > 0 {
		step, done := a.counting("drawing", "%d of %d")
		r.Draws, err = r.Draw(ctx, r.Source.Adjusted, carry.DrawPlan{Draws: o.draws, Seed: o.seed,
			Progress: func(n int) { step(n, o.draws) }})
		done()
	}
	return err
}

// dated is the day that the finished file says; it fails before anything is carried where the file cannot be written.
func (o *carryOptions) dated(args []string) (time.Time, error) {
	if o.write == "" {
		return time.Time{}, nil
	}
	if err := spared("--write", o.write, args[0], o.rider); err != nil {
		return time.Time{}, err
	}
	if !o.force {
		if err := taken(o.write, "nothing was carried or written (--force replaces it)"); err != nil {
			return time.Time{}, err
		}
	}
	return day(o.date)
}
