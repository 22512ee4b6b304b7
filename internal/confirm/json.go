package confirm

import (
	"encoding/json"

	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/plane"
)

// MarshalJSON writes a contact against where it should be: off is got - want.
func (c Contact) MarshalJSON() ([]byte, error) {
	want, got := c.Want, c.Got
	if !c.Primary {
		want, got = want.Placed(), got.Placed()
	}
	return json.Marshal(map[string]any{"contact": c.Want.Name, "primary": c.Primary, "want": want, "got": got, "off_x": c.Away.X,
		"off_y":   c.Away.Y,
		"sigma_x": c.SigmaX, "sigma_y": c.SigmaY, "miss": c.Miss, "sigma_miss": c.SigmaMiss, "miss_angle": plane.Angle(c.MissAngle),
		"sigma_angle": plane.Angle(c.SigmaAngle), "inside": c.Inside, "unsure": c.Unsure})
}

// keys are those of a move from mark to mark, without a scale in mm or degrees.
func (m *Move) keys() map[string]any {
	travel := plane.QuantityOf(m.Turns(), m.Travel())
	return map[string]any{"adjuster": m.Name, "scale": m.Scale, "from": m.From, "to": m.To, "travel": travel, "unit": travel.Unit(),
		"toward": m.Toward}
}

// MarshalJSON writes a correction.
func (c Correction) MarshalJSON() ([]byte, error) {
	keys := c.keys()
	if c.Tape != nil {
		shows := func(v float64) carry.Check {
			return carry.Check{Reading: c.Tape.Reading, Foretold: carry.Foretold{Value: v}}
		}
		keys["tape"] = map[string]any{"before": shows(c.Tape.Before), "after": shows(c.Tape.After)}
	}
	return json.Marshal(keys)
}

// MarshalJSON writes what a reading shows now and then.
func (c Change) MarshalJSON() ([]byte, error) {
	before := plane.QuantityOf(c.Reading.Kind == bike.Angle, c.Before)
	return json.Marshal(map[string]any{"reading": c.Reading.Written, "read": before.Of(c.Reading.Value), "before": before,
		"after": before.Of(c.After),
		"unit":  before.Unit()})
}

// MarshalJSON writes a posture confirmed.
func (r *Result) MarshalJSON() ([]byte, error) {
	return json.Marshal(map[string]any{"posture": r.Posture.Name, "inside": r.Inside(), "contacts": r.Contacts, "cured": r.Cured,
		"corrections": append([]Correction{}, r.Corrections...), "after": append([]Contact{}, r.After...),
		"changes": append([]Change{}, r.Kept...),
		"sure":    r.Sure(), "withheld": append([]string{}, r.Withheld...), "readings": append([]Change{}, r.Readings...)})
}

// MarshalJSON writes a setting that moves, or was moved.
func (m Move) MarshalJSON() ([]byte, error) {
	keys := m.keys()
	keys["sigma"] = plane.QuantityOf(m.Turns(), m.Sigma)
	return json.Marshal(keys)
}

// MarshalJSON writes a change that a tape shows.
func (c SureChange) MarshalJSON() ([]byte, error) {
	before := plane.QuantityOf(c.Reading.Kind == bike.Angle, c.Before)
	return json.Marshal(map[string]any{"reading": c.Reading.Written, "before": before, "after": before.Of(c.After),
		"change": before.Of(c.By()), "sigma": before.Of(c.Sigma), "unit": before.Unit()})
}

// MarshalJSON writes how a contact moved, in the frame of riding.
func (s Shift) MarshalJSON() ([]byte, error) {
	return json.Marshal(map[string]any{"contact": s.Contact, "x": s.By.X, "y": s.By.Y, "angle": plane.Angle(s.Turn)})
}
