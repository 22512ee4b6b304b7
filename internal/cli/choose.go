package cli

import (
	"context"
	"fmt"
	"slices"

	"github.com/spf13/pflag"

	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/cockpit"
	"carryover/internal/locate"
	"carryover/internal/partfile"
	"carryover/internal/report"
)

// choiceOptions are the flags about open slots.
type choiceOptions struct {
	alternatives int
	prefer       string
}

func (c *choiceOptions) flags(f *pflag.FlagSet) {
	f.IntVar(&c.alternatives, "alternatives", 0, "also list the `N` next best combinations of parts")
	f.StringVar(&c.prefer, "prefer", "", "in open slots, keep the fitted parts (first of each list) or take the `WAY` cheapest: fitted or cheapest, within tolerance")
}

func (c choiceOptions) check() error {
	if c.alternatives < 0 || c.alternatives > 1000 {
		return usageError{fmt.Errorf("--alternatives is 0 to 1000, not %d", c.alternatives)}
	}
	switch c.prefer {
	case "", "fitted", "cheapest":
		return nil
	}
	return usageError{fmt.Errorf("--prefer is fitted or cheapest, not %q", c.prefer)}
}

// decides reports whether the flags can decide anything on a target: without a price in an open slot nothing is cheapest.
func (c choiceOptions) decides(target *bike.Bike) error {
	if c.prefer != "cheapest" || priced(target.Saddle.Slot) || priced(target.Bar.Slot) || priced(target.Bar.Lever) ||
		target.Stem != nil && priced(target.Stem.Slot) || target.Clipon != nil && priced(target.Clipon.Slot) {
		return nil
	}
	return usageError{fmt.Errorf("--prefer cheapest: no part in an open slot of %s has a price, so nothing is cheapest", target.File)}
}

// priced reports whether an open slot has a part with a price.
func priced[T any](s bike.Slot[T]) bool {
	return s.Open && slices.ContainsFunc(s.Options, func(o bike.Option[T]) bool { return o.Price != nil })
}

// solveChoice carries a position and applies the flags about open slots.
func solveChoice(ctx context.Context, target *bike.Bike, source bike.Feet, pos *locate.Position, o carry.Options, c choiceOptions) (*carry.Solution, *report.Choice, error) {
	s, err := carry.Solve(ctx, target, source, pos, o)
	if err != nil {
		return nil, nil, err
	}
	return choose(ctx, s, target, source, pos, o, c)
}

// choose applies the flags about open slots to the solution s of least E: it returns the solution to set
// up and what else could be fitted, nil when nobody asked.
func choose(ctx context.Context, s *carry.Solution, target *bike.Bike, source bike.Feet, pos *locate.Position, o carry.Options, c choiceOptions) (*carry.Solution, *report.Choice, error) {
	if c.alternatives == 0 && c.prefer == "" {
		return s, nil, nil
	}
	choice := &report.Choice{}
	if c.alternatives > 0 {
		list, proven, err := carry.Alternatives(ctx, target, source, pos, o, c.alternatives+1)
		if err != nil {
			return nil, nil, err
		}
		choice.Alternatives, choice.AlternativesProven = report.NewAlternatives(list), &proven
	}
	best := s
	switch c.prefer {
	case "fitted":
		f, err := carry.PreferFitted(ctx, target, source, pos, o)
		if err != nil {
			return nil, nil, err
		}
		choice.Prefer, s = report.NewFront(f), f.Preferred.Solution
	case "cheapest":
		b, err := carry.PreferCheapest(ctx, target, source, pos, o)
		if err != nil {
			return nil, nil, err
		}
		choice.Prefer, s = report.NewBargain(b, best), b.Solution
	}
	return s, choice, nil
}

// pads is what the side view does not show of a position on pads.
func (a *app) pads(ctx context.Context, s *carry.Solution, source *bike.Bike) (*report.Pads, error) {
	if s.Position.Posture.Hands != bike.Pad {
		return nil, nil
	}
	lib, err := a.library()
	if err != nil {
		return nil, err
	}
	parts, err := lib.List(partfile.Clipon)
	if err != nil {
		return nil, err
	}
	var mounts []bike.Option[cockpit.Clipon]
	for _, p := range parts {
		mounts = append(mounts, bike.Option[cockpit.Clipon]{ID: p.ID, Name: p.Name, Price: p.Price, Part: p.Clipon})
	}
	spacing := s.Spacing(source)
	gap, err := s.GapAdvice(ctx, spacing, mounts)
	if err != nil {
		return nil, err
	}
	return report.NewPads(s, source, spacing, gap), nil
}
