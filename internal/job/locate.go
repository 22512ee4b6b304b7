package job

import (
	"context"

	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/locate"
)

// Located is what a bike's readings say of it, with a plan where one was asked for.
type Located struct {
	*locate.Account
	Source *Source    `json:"-"`
	Target *bike.Bike `json:"-"` // whose settings the plan makes surer; nil: it is the contacts
}

// Locate says where everything is on q.From. Where next is positive it plans up to so many readings to take next: those that make
// the contacts of the posture asked for surest, or with q.To the settings of that bike.
func (f *Files) Locate(ctx context.Context, q Asked, o locate.Options, next int) (*Located, error) {
	s, err := f.Source(q.From, q.Rider, o)
	if err != nil {
		return nil, err
	}
	l := &Located{Source: s}
	if l.Account, err = s.Adjusted.Account(); err == nil && next > 0 {
		err = l.plan(ctx, f, q, next)
	}
	return l, err
}

func (l *Located) plan(ctx context.Context, f *Files, q Asked, next int) error {
	asked, err := l.Source.Every(q.Posture)
	if err != nil {
		return err
	}
	l.Plan = &locate.Plan{Of: "contacts", To: q.To}
	if q.To != "" {
		if l.Target, err = f.Bike(q.To); err != nil {
			return err
		}
		l.Plan.Of, l.Target = "settings", l.Target.SetByTape()
	}
	var outputs [][]float64
	for _, k := range asked {
		var rows [][]float64
		if l.Target == nil {
			rows, err = l.Source.Adjusted.ContactOutputs(k.Posture)
		} else {
			var s *carry.Solution
			if s, err = carry.Solve(ctx, l.Target, l.Source.Bike, k.Position, q.Options); err == nil {
				rows, err = s.SettingRows(l.Source.Adjusted)
			}
		}
		if err != nil {
			return err
		}
		outputs = append(outputs, rows...)
	}
	l.Plan.Now, l.Plan.Steps = l.Source.Adjusted.Plan(outputs, next)
	return nil
}
