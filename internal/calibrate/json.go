package calibrate

import (
	"encoding/json"

	"carryover/internal/locate"
	"carryover/internal/plane"
)

type keys map[string]any

// Quantity is a parameter's number: mm or degrees, of a unit per mark.
func (r *Result) Quantity(p Parameter, v float64) plane.Quantity { return p.On(r.Bike).Of(v) }

// Bent is how far the middle of a scale is off the line through its ends, with the standard uncertainty of that.
func (r *Result) Bent(l Linear) (bend, sigma plane.Quantity) {
	bend = plane.QuantityOf(r.Bike.Adjusters[l.Adjuster].Moves.Turns(), l.Bend)
	return bend, bend.Of(l.Sigma)
}

// Name is what a parameter is called in the file: anchor.saddle_clamp.x, or angle or unit of its adjuster.
func (p Parameter) Name() string {
	switch p.Kind {
	case locate.Direction:
		return "angle"
	case locate.Unit:
		return "unit"
	case locate.AnchorX:
		return "anchor." + p.Clamp() + ".x"
	}
	return "anchor." + p.Clamp() + ".y"
}

// MarshalJSON writes a calibration; a mark is given as the travel it stands for, and as its scale shows it.
func (r *Result) MarshalJSON() ([]byte, error) {
	parameters, readings, linear := []keys{}, []keys{}, []keys{}
	for _, p := range r.Parameters {
		q := r.Quantity(p, p.Value)
		k := keys{"name": p.Name(), "before": q.Of(p.Before), "value": q, "sigma": q.Of(p.Sigma), "unit": q.Unit(), "fitted": p.Fitted}
		if p.Kept {
			k["kept"] = true
		}
		if p.Adjuster >= 0 {
			k["adjuster"] = r.Bike.Adjusters[p.Adjuster].Name
		}
		for key, text := range map[string]string{"doubt": p.Doubt, "needs": p.Needs} {
			if text != "" {
				k[key] = text
			}
		}
		parameters = append(parameters, k)
	}
	for _, o := range r.Readings {
		k := keys{"entry": o.Entry + 1, "index": 0, "value": o.Value, "fitted": o.Value.Of(o.Fitted), "residual": o.Value.Of(o.Residual),
			"sigma": o.Value.Of(o.Sigma), "normalized": o.Normalized, "redundancy": o.Redundancy, "unit": o.Value.Unit(), "suspect": o.Suspect}
		if o.Reading != nil {
			k["name"], k["index"] = o.Reading.Written, o.Reading.Index
		} else {
			k["name"], k["mark"], k["fitted_mark"] = "mark of "+r.Bike.Adjusters[o.Adjuster].Name, o.Mark, o.FittedMark
		}
		readings = append(readings, k)
	}
	for _, l := range r.Linear {
		bend, sigma := r.Bent(l)
		linear = append(linear, keys{"adjuster": r.Bike.Adjusters[l.Adjuster].Name, "points": l.Points, "tested": l.Tested,
			"straight": l.Straight, "bend": bend, "sigma": sigma, "unit": bend.Unit()})
	}
	k := keys{"schema": 1, "bike": r.Bike.File, "parameters": parameters, "readings": readings, "linear": linear,
		"fit": keys{"chi2": r.Chi2, "dof": r.DOF}, "p": r.P, "fragment": r.Fragment(), "assumptions": append([]string{}, r.Assumptions...),
		"versions": r.Bike.Versions(nil)}
	if r.Written != "" {
		k["written"], k["kept"] = r.Written, r.Kept
	}
	return json.Marshal(k)
}
