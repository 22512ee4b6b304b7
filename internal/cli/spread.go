package cli

import (
	"context"
	"fmt"
	"time"

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
		return usageError{fmt.Errorf("--draws is a number from 2 to %d, not %d", montecarlo.MaxDraws, o.draws)}
	case o.given("seed") && o.draws == 0:
		return usageError{fmt.Errorf("--seed belongs to --draws")}
	}
	return nil
}

// spread works out how sure a result is, when a flag asks for it.
func (a *app) spread(ctx context.Context, r *job.Result, o spreadOptions) error {
	if o.blame {
		r.Blame = r.Solution.Blame()
	}
	var err error
	if o.draws > 0 {
		progress, done := a.progress("draws", o.draws)
		r.Draws, err = r.Draw(ctx, r.Source.Adjusted, carry.DrawPlan{Draws: o.draws, Seed: o.seed, Progress: progress})
		done()
		if err != nil {
			return err
		}
	}
	return err
}

// quietFor is how long a person waits before wondering what is going on.
const quietFor = 500 * time.Millisecond

// progress returns a function that shows on a terminal how far a long run is, and one that wipes that away.
func (a *app) progress(what string, total int) (step func(int), done func()) {
	if a.quiet || !a.ErrTerminal {
		return nil, func() {}
	}
	start := time.Now()
	last, shown := start, false
	step = func(n int) {
		now := time.Now()
		if now.Sub(start) < quietFor || now.Sub(last) < quietFor/5 {
			return
		}
		last, shown = now, true
		fmt.Fprintf(a.Err, "\r%d of %d %s (%d %%)", n, total, what, int64(n)*100/int64(total))
	}
	return step, func() {
		if shown {
			fmt.Fprint(a.Err, "\r\x1b[K")
		}
	}
}
