package job

import (
	"encoding/json"

	"carryover/internal/report"
)

// MarshalJSON writes a carry: section 8 of the format.
func (c *Carry) MarshalJSON() ([]byte, error) {
	out := report.NewCarry(c.Bike.File, c.Target.File, c.Bike, c.Target, c.Adjusted)
	for _, r := range c.Results {
		k, err := report.NewResult(r.Solution, c.Adjusted)
		if err != nil {
			return nil, err
		}
		k.Pads = report.NewPads(r.Solution, c.Bike, r.Spacing, r.Gap)
		if r.Draws != nil || r.Blame != nil {
			k.Spread = report.NewSpread(r.Sure)
			if r.Draws != nil {
				k.Spread.Draws = report.NewDraws(r.Draws)
			}
			if r.Blame != nil {
				k.Spread.Blame = report.NewBlame(r.Solution, c.Adjusted, r.Standing, r.Blame)
			}
		}
		if r.Others != nil || r.Front != nil {
			k.Choice = report.NewChoice(r.Others, r.OthersProven, r.Front)
		}
		if r.Body != nil {
			k.Body = r.Body
		}
		out.Results = append(out.Results, k)
	}
	for _, f := range c.Failed {
		out.Failed = append(out.Failed, report.Failed{Posture: f.Name, Why: f.Err.Error()})
	}
	return json.Marshal(out)
}
