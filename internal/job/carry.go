package job

import (
	"context"
	"errors"
	"fmt"

	"carryover/internal/bike"
	"carryover/internal/body"
	"carryover/internal/carry"
	"carryover/internal/locate"
	"carryover/internal/partfile"
)

// Asked is what to carry.
type Asked struct {
	From, To string
	Exchange Exchange // parts to fit on TO; with To "" on FROM itself
	Posture  string   // "": every posture of FROM
	Rider    *bike.Rider
	Options  carry.Options
	// AnchorSigma is how far TO's anchors may be off, mm, one ±; nil: as its file says.
	AnchorSigma *float64
	// Alternatives is how many other combinations of parts to list; Fitted changes as few of the fitted parts as carry.
	Alternatives int
	Stems        bool // also which stems to buy
	Fitted       bool
}

// Carry is a job done: the postures of one bike on another.
type Carry struct {
	*Source
	Target  *bike.Bike
	Results []*Result
	Failed  []Posture // those that cannot be carried, with why
}

// Result is one posture carried, with all that is told of it.
type Result struct {
	*carry.Solution
	Source    *Source
	Standing  *locate.Standing // the target as it stands for the posture
	Steps     []carry.Step
	Checks    []carry.Check
	Couplings []carry.Coupling
	Why       carry.Why
	Sure      []carry.ContactSpread
	Spacing   *carry.PadSpacing // nil: no pads, or they offer none
	Ails      []carry.Ailment   // what is not carried, or held at a stop, and what would cure it
	Body      *body.Posture     // nil: no rider whose file gives lengths
	// What was asked for: other combinations of parts, after the best; the trade between changed parts and misses; draws; where
	// the uncertainty comes from.
	Others       []*carry.Solution
	OthersProven bool
	Stems        []*carry.Solution // to buy, the nearest first
	StemsProven  bool
	Front        *carry.Front
	Draws        *carry.Draws
	Blame        [][]carry.Contribution
}

// Carry loads both bikes and carries every posture asked for; one that cannot be carried is held in the result with why.
// It fails when none can.
func (f *Files) Carry(ctx context.Context, q Asked) (*Carry, error) {
	source, target, err := f.pair(q)
	if err != nil {
		return nil, err
	}
	return source.Carry(ctx, target, q, f.shop)
}

// pair loads both bikes and adjusts the readings of the first.
func (f *Files) pair(q Asked) (source *Source, target *bike.Bike, err error) {
	from, err := f.Bike(q.From)
	if err != nil {
		return nil, nil, err
	}
	if target = from; q.To != "" {
		if target, err = f.Bike(q.To); err != nil {
			return nil, nil, err
		}
	}
	if len(q.Exchange) > 0 {
		if target, err = f.Exchanged(target, q.Rider, q.Exchange); err != nil {
			return nil, nil, err
		}
	}
	if q.AnchorSigma != nil {
		b := *target
		b.AnchorSigma, target = *q.AnchorSigma, &b
	}
	if from, target, err = alike(from, target); err != nil {
		return nil, nil, err
	}
	source, err = NewSource(from, q.Rider, locate.Options{})
	return source, target, err
}

// Carry carries the postures asked for to a target as it stands for each of them; shop is what could be bought, nil where no cures
// are asked for.
func (s *Source) Carry(ctx context.Context, target *bike.Bike, q Asked, shop func() (carry.Shop, error)) (*Carry, error) {
	postures, err := s.Postures(q.Posture)
	if err != nil {
		return nil, err
	}
	c := &Carry{Source: s, Target: target}
	var fails []error
	fail := func(p Posture, err error) {
		p.Err = err
		c.Failed, fails = append(c.Failed, p), append(fails, err)
	}
	var asked []carry.Asked
	var able []Posture
	var stands []*locate.Standing
	for _, p := range postures {
		if p.Err == nil {
			var stand *locate.Standing
			if stand, p.Err = locate.Stand(target, s.Rider, p.Position.Posture); p.Err == nil {
				able, stands = append(able, p), append(stands, stand)
				asked = append(asked, carry.Asked{Target: stand.Bike, Position: p.Position})
				continue
			}
		}
		fail(p, p.Err)
	}
	for i, o := range carry.SolveAll(ctx, s.Bike, asked, q.Options) {
		var r *Result
		err := o.Err
		if err == nil {
			r, err = c.result(ctx, o.Solution, stands[i], q, shop)
		}
		switch {
		case errors.Is(err, context.Canceled):
			return nil, err
		case err != nil:
			fail(able[i], err)
		default:
			c.Results = append(c.Results, r)
		}
	}
	if len(c.Results) == 0 {
		return nil, all(fails)
	}
	if shop == nil {
		return c, nil
	}
	solved := make([]*carry.Solution, len(c.Results))
	for i, r := range c.Results {
		solved[i] = r.Solution
	}
	ails, err := carry.Cures(ctx, solved, shop)
	for i := range ails {
		c.Results[i].Ails = ails[i]
	}
	return c, err
}

// stemsTold is between how many stems a client chooses.
const stemsTold = 3

// result is a solution with what was asked for beside it, and what is told of it.
func (c *Carry) result(ctx context.Context, s *carry.Solution, stand *locate.Standing, q Asked,
	shop func() (carry.Shop, error)) (*Result, error) {
	r := &Result{Solution: s, Source: c.Source, Standing: stand}
	var err error
	if q.Alternatives > 0 {
		if r.Others, r.OthersProven, err = carry.Alternatives(ctx, s.Target, c.Bike, s.Position, q.Options, q.Alternatives+1); err != nil {
			return nil, err
		}
	}
	if q.Stems {
		parts, err := shop()
		if err != nil {
			return nil, err
		}
		if r.Stems, r.StemsProven, err = s.Stems(ctx, parts, stemsTold); err != nil {
			return nil, err
		}
	}
	if q.Fitted {
		if r.Front, err = carry.PreferFitted(ctx, s.Target, c.Bike, s.Position, q.Options); err != nil {
			return nil, err
		}
		r.Solution = r.Front.Preferred.Solution
	}
	if err := r.explain(); err != nil {
		return nil, fmt.Errorf("posture %s: %w", s.Position.Posture.Name, err)
	}
	return r, nil
}

// explain works out what is told of a solution.
func (r *Result) explain() (err error) {
	if err := r.Total(r.Source.Adjusted, r.Standing); err != nil {
		return err
	}
	r.Steps, r.Sure = r.Order(), r.Uncertain()
	if r.Checks, err = r.Solution.Checks(); err != nil {
		return err
	}
	r.Couplings, r.Why = r.Solution.Couplings(), r.Solution.Why(r.Source.Adjusted)
	if r.Position.Posture.Hands == bike.Pad {
		r.Spacing = r.Solution.Spacing(r.Source.Bike)
	}
	if r.Source.Rider != nil {
		if segments, err := body.NewSegments(r.Source.Rider); err == nil { // else a rider file for the sit bones alone
			r.Body = &body.Posture{Posture: r.Position.Posture.Name, Stages: r.Stages(segments, body.UsualHabits())}
		}
	}
	return nil
}

// Stages are a rider on the source, and what each difference of the target makes of them.
func (r *Result) Stages(s *body.Segments, h body.Habits) []body.Stage {
	return s.Carried(s.On(r.Position, r.Source.Adjusted.Placement.Layout, h), r.Solution, r.PadsApart(), h)
}

// PadsApart is the pad spacing chosen on the target, mm; 0: there is none.
func (r *Result) PadsApart() float64 {
	if r.Spacing == nil {
		return 0
	}
	return r.Spacing.Target
}

// Carried reports whether every posture asked for is carried.
func (c *Carry) Carried() bool {
	for _, r := range c.Results {
		if !r.Solution.Carried() {
			return false
		}
	}
	return len(c.Failed) == 0
}

// Versions are the parts of both bikes, those that were chosen included.
func (c *Carry) Versions() []bike.Version {
	chosen := map[string]string{}
	for _, p := range c.Results[0].Parts {
		chosen[p.Slot] = p.ID
	}
	return append(c.Bike.Versions(nil), c.Target.Versions(chosen)...)
}

// shop is the parts of the catalogue.
func (f *Files) shop() (s carry.Shop, err error) {
	if f.bought != nil {
		return *f.bought, nil
	}
	lib, err := f.Library()
	if err != nil {
		return s, err
	}
	for kind := range partfile.KindNames {
		parts, err := lib.List(partfile.Kind(kind))
		if err != nil {
			return s, err
		}
		for _, p := range parts {
			switch p.Kind {
			case partfile.Saddle:
				s.Saddles = append(s.Saddles, option(p, p.Saddle))
			case partfile.Bar:
				s.Bars = append(s.Bars, option(p, p.Bar))
			case partfile.Lever:
				s.Levers = append(s.Levers, option(p, p.Lever))
			case partfile.Stem:
				s.Stems = append(s.Stems, option(p, p.Stem))
			case partfile.Clipon:
				s.Clipons = append(s.Clipons, option(p, p.Clipon))
			}
		}
	}
	f.bought = &s
	return s, nil
}

func option[T any](p *partfile.Part, shape *T) bike.Option[T] {
	return bike.Option[T]{ID: p.ID, Name: p.Name, Sigma: p.Sigma, Part: shape}
}
