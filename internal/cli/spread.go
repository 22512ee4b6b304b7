package cli

import (
	"context"

	"github.com/spf13/pflag"

	"carryover/internal/carry"
	"carryover/internal/job"
	"carryover/internal/montecarlo"
)

// spreadOptions are the flags about how sure an answer is.
type spreadOptions struct {
	draws int
	seed  uint64
	blame bool
	given func(string) bool
}

func (o *spreadOptions) flags(f *pflag.FlagSet) {
	f.IntVar(&o.draws, "draws", 0, "draw the readings `N` times and carry each: how the answer spreads")
	f.Uint64Var(&o.seed, "seed", 1, "with --draws: start the random numbers at `SEED`")
	f.BoolVar(&o.blame, "blame", false, "say which readings each setting's uncertainty comes from")
	o.given = f.Changed
}

func (o *spreadOptions) check() error {
	switch {
	case o.given("draws") && (o.draws < 2 || o.draws > montecarlo.MaxDraws):
		return usagef("--draws is a number from 2 to %d, not %d", montecarlo.MaxDraws, o.draws)
	case o.given("seed") && o.draws == 0:
		return usagef("--seed belongs to --draws")
	}
	return nil
}

// spread works out how sure a result is, when a flag asks for it.
func (a *app) spread(ctx context.Context, r *job.Result, o spreadOptions) error {
	if o.blame {
		r.Blame = r.Solution.Blame()
	}
	if o.draws == 0 {
		return nil
	}
	var err error
	step, done := a.counting("drawing", o.draws)
	r.Draws, err = r.Draw(ctx, r.Source.Adjusted, carry.DrawPlan{Draws: o.draws, Seed: o.seed, Progress: step})
	done()
	return err
}
