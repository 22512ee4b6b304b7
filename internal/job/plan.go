package job

import (
	"context"

	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/locate"
)

// Plan is which readings to take next to make the contacts of a source, or the settings of a target, surer.
type Plan struct {
	Target *bike.Bike // nil: the contacts
	Now    float64    // root of the summed variances, mm
	Steps  []locate.Step
}

// Plan proposes up to n readings of the source, for the postures asked for with q.Posture; with q.To for its settings.
func (f *Files) Plan(ctx context.Context, source *Source, q Asked, n int) (*Plan, error) {
	asked, err := source.Every(q.Posture)
	if err != nil {
		return nil, err
	}
	p := &Plan{}
	if q.To != "" {
		if p.Target, err = f.Bike(q.To); err != nil {
			return nil, err
		}
		p.Target = p.Target.SetByTape()
	}
	var outputs [][]float64
	for _, k := range asked {
		var rows [][]float64
		if p.Target == nil {
			rows, err = source.Adjusted.ContactOutputs(k.Posture)
		} else {
			var s *carry.Solution
			if s, err = carry.Solve(ctx, p.Target, source.Bike, k.Position, q.Options); err == nil {
				rows, err = s.SettingRows(source.Adjusted)
			}
		}
		if err != nil {
			return nil, err
		}
		outputs = append(outputs, rows...)
	}
	p.Now, p.Steps = source.Adjusted.Plan(outputs, n)
	return p, nil
}
