package job

import (
	"context"
	"errors"
	"fmt"
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
	Failed       []Posture         `json:"-"`
	Source       *Source           `json:"-"`
	Set          *confirm.Standing `json:"-"` // TO as it stands
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
	asked, err := source.Every(q.Posture)
	if err != nil {
		return nil, err
	}
	var chosen []bike.Posture
	for _, p := range asked {
		chosen = append(chosen, p.Position.Posture)
	}
	c := &Confirm{Schema: 1, From: q.From, To: q.To, Keep: keep, Tolerance: Tolerance{carry.CarriedMM, carry.CarriedRad},
		Source: source}
	c.Set, err = confirm.Stand(target, q.Rider, chosen)
	c.Unread = unread(target, q.Rider, chosen)
	c.Inside = len(c.Unread) == 0
	if err != nil {
		if missing := (*locate.MissingError)(nil); errors.As(err, &missing) && !c.Inside {
			err = fmt.Errorf("nothing was read on %s yet: tape %s first\n%w", target.File, strings.Join(c.Unread, ", "), err)
		}
		return nil, err
	}
	c.Versions = append(source.Bike.Versions(nil), target.Versions(nil)...)
	base := c.Set
	if keep {
		if base, err = confirm.Stand(source.Bike, q.Rider, chosen); err != nil {
			return nil, err
		}
	}
	c.FromSuspects, c.ToSuspects = source.Adjusted.Findings(), c.Set.Adjusted.Findings()
	c.Assumptions = append(append([]string{}, source.Adjusted.Trusted()...), c.Set.Adjusted.Trusted()...)
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
		c.Stuck = c.Stuck || !r.Cured && len(r.Kept) == 0 || len(c.Unread) > 0
	}
	return c, nil
}

// unread is what to tape on a bike on which nothing was read yet, whatever its marks say.
func unread(b *bike.Bike, rider *bike.Rider, postures []bike.Posture) []string {
	if len(b.Readings) > 0 {
		return []string{}
	}
	c := *b
	c.Postures, c.Adjusters, c.Marks, c.SaddleAnchor, c.BarAnchor = postures, nil, nil, nil, nil
	a, err := locate.Adjust(&c, rider, locate.Options{})
	if err != nil {
		return nil
	}
	return a.Shortest()
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
