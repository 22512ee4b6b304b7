package job

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/confirm"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// Confirm is a bike as it has been set up against a position. Lengths mm, angles degrees.
type Confirm struct {
	Schema    int               `json:"schema"`
	From      string            `json:"from"`
	To        string            `json:"to"`
	Keep      bool              `json:"keep"` // what to change on FROM to match TO, rather than to correct on TO
	Inside    bool              `json:"inside"`
	Unread    []string          `json:"unread"` // nothing was read on TO: what to tape first
	Tolerance Tolerance         `json:"tolerance"`
	Results   []*confirm.Result `json:"results"`
	// Suspects of either bike, with the file they are in.
	FromSuspects []locate.Finding  `json:"from_suspects"`
	ToSuspects   []locate.Finding  `json:"to_suspects"`
	Assumptions  []string          `json:"assumptions"`
	Versions     []bike.Version    `json:"versions"`
	Failed       failures          `json:"failed,omitempty"`
	Source       *Source           `json:"-"`
	Target       *bike.Bike        `json:"-"`
	Set          *confirm.Standing `json:"-"` // TO as it stands; nil: its marks alone do not say, and nothing was read
	Stuck        bool              `json:"-"` // with Keep: FROM's scales cannot bring it there
}

// Tolerance is how far a contact may be off.
type Tolerance struct {
	MM      float64     `json:"mm"`
	Degrees plane.Angle `json:"degrees"`
}

// Confirm checks q.To, as it has been set up, against q.From. With keep the position on q.To is the one to keep.
func (f *Files) Confirm(ctx context.Context, q Asked, keep bool) (*Confirm, error) {
	source, target, err := f.pair(q)
	if err != nil {
		return nil, err
	}
	asked, err := source.Postures(q.Posture)
	if err != nil {
		return nil, err
	}
	c := &Confirm{Schema: 1, From: q.From, To: q.To, Keep: keep, Tolerance: Tolerance{carry.CarriedMM, carry.CarriedRad},
		Unread: []string{}, Source: source, Target: target, Results: []*confirm.Result{},
		FromSuspects: source.Adjusted.Findings(), ToSuspects: []locate.Finding{}, Assumptions: append([]string{}, source.Adjusted.Trusted()...)}
	if asked, err = c.stand(asked); err != nil {
		return nil, err
	}
	c.Inside = len(c.Unread)+len(c.Failed) == 0
	c.Stuck = !c.Inside
	c.Versions = append(source.Bike.Versions(nil), target.Versions(nil)...)
	if c.Set == nil {
		return c, nil
	}
	base, chosen := c.Set, plain(asked)
	if keep {
		if base, err = confirm.Stand(source.Bike, q.Rider, chosen); err != nil {
			return nil, err
		}
	}
	c.ToSuspects, c.Assumptions = c.Set.Adjusted.Findings(), append(c.Assumptions, c.Set.Adjusted.Trusted()...)
	kept := source
	if keep {
		kept = &Source{Bike: c.Set.Bike, Rider: q.Rider, Adjusted: c.Set.Adjusted}
	}
	for i, p := range chosen {
		if !keep {
			p = asked[i].Posture
		}
		from, err := position(kept, p)
		if err != nil {
			return nil, err
		}
		r, err := confirm.Check(ctx, base, from, q.Options)
		if err != nil {
			return nil, err
		}
		if keep {
			r.Kept = r.Readings
		}
		c.Results = append(c.Results, r)
		c.Inside = c.Inside && r.Inside()
		c.Stuck = c.Stuck || !r.Cured && len(r.Kept) == 0
	}
	return c, nil
}

// stand finds how TO stands for the postures that it can be confirmed in, and returns these; the others fail, each with why. It
// fails when none is left, except on a bike on which nothing was read: that its marks do not say is then what is told.
func (c *Confirm) stand(asked []Posture) (able []Posture, err error) {
	var fails []error
	bare, unsaid := len(c.Target.Readings) == 0, false
	for _, p := range asked {
		if p.Err == nil {
			var set *confirm.Standing
			if set, p.Err = confirm.Stand(c.Target, c.Source.Rider, plain([]Posture{p})); p.Err == nil {
				c.Set, able = set, append(able, p)
				continue
			}
		}
		if missing := (*locate.MissingError)(nil); bare && p.Position != nil && errors.As(p.Err, &missing) {
			unsaid = true
			var means []string
			for _, g := range missing.Gaps {
				means = append(means, g.Means())
			}
			p.Err = fmt.Errorf("the marks of %s alone do not tell %s", c.Target.File, strings.Join(means, ", nor "))
		}
		c.Failed, fails = append(c.Failed, p), append(fails, p.Err)
	}
	if len(able) == 0 && !unsaid {
		return nil, all(fails)
	}
	if bare { // what carry foretells, of the postures that can be confirmed; of all where the marks say nothing
		told := able
		if c.Set == nil {
			told = asked
		}
		for _, p := range told {
			for _, r := range carry.CheckReadings(c.Target, p.Hands) {
				if !slices.Contains(c.Unread, r.Written) {
					c.Unread = append(c.Unread, r.Written)
				}
			}
		}
	}
	if len(able) > 1 {
		c.Set, err = confirm.Stand(c.Target, c.Source.Rider, plain(able))
	}
	return able, err
}

// plain are postures as files have them, carried where they are on FROM.
func plain(list []Posture) (out []bike.Posture) {
	for _, p := range list {
		out = append(out, p.Position.Posture)
	}
	return out
}

// position is where the rider touches a bike in a posture, and where if another of its readings is the wrong one.
func position(s *Source, p bike.Posture) (from confirm.From, err error) {
	from.Feet = s.Bike.Feet
	all := []*locate.Adjustment{s.Adjusted}
	for _, b := range confirm.Doubtful(s.Bike, s.Rider, s.Adjusted) {
		a, err := locate.Adjust(b, s.Rider, locate.Options{})
		if err != nil {
			return from, err
		}
		all = append(all, a)
	}
	for i, a := range all {
		of, err := a.For(p)
		if err != nil {
			return from, err
		}
		pos, err := of.Position(p)
		if err != nil {
			return from, err
		}
		if i == 0 {
			if from.Effects, err = of.Effects(p); err != nil {
				return from, err
			}
			from.Position = &pos
		} else {
			from.Others = append(from.Others, &pos)
		}
	}
	return from, nil
}
