package confirm

import (
	"encoding/json"
	"math"

	"carryover/internal/carry"
	"carryover/internal/plane"
)

// MarshalJSON writes a contact against where it should be: off is got - want.
func (c Contact) MarshalJSON() ([]byte, error) {
	want, got := c.Want, c.Got
	if !c.Primary {
		want, got = want.Placed(), got.Placed()
	}
	return json.Marshal(map[string]any{"contact": c.Want.Name, "primary": c.Primary, "want": want, "got": got, "off_x": 0 - c.Away.X,
		"off_y": 0 - c.Away.Y, "sigma_x": c.SigmaX, "sigma_y": c.SigmaY, "miss": c.Miss, "sigma_miss": c.SigmaMiss,
		"miss_angle":  plane.Angle(c.MissAngle),
		"sigma_angle": plane.Angle(c.SigmaAngle), "inside": c.Inside(), "unsure": c.Unsure})
}

// MarshalJSON writes a move from mark to mark, without a scale in mm or degrees; sigma is null where it is not worked out.
func (m Move) MarshalJSON() ([]byte, error) {
	travel := m.Travel()
	keys := map[string]any{"adjuster": m.Name, "scale": m.Scale, "from": m.From, "to": m.To, "travel": travel, "unit": travel.Unit(),
		"toward": m.Toward, "sigma": known(travel, m.Sigma)}
	if m.Tape != nil {
		shows := func(v float64) carry.Check {
			return carry.Check{Reading: m.Tape.Reading, Foretold: carry.Foretold{Value: m.Tape.Reading.Quantity().Of(v)}}
		}
		keys["tape"] = map[string]any{"before": shows(m.Tape.Before), "after": shows(m.Tape.After)}
	}
	return json.Marshal(keys)
}

// MarshalJSON writes what a reading shows now and then; sigma is null where it is not worked out.
func (c Change) MarshalJSON() ([]byte, error) {
	before := c.Reading.Quantity().Of(c.Before)
	return json.Marshal(map[string]any{"reading": c.Reading.Written, "read": before.Of(c.Reading.Value), "before": before,
		"after": before.Of(c.After), "change": before.Of(c.By()), "sigma": known(before, c.Sigma), "unit": before.Unit()})
}

// known is an uncertainty in the unit of another number, nil where it is not worked out.
func known(like plane.Quantity, sigma float64) any {
	if math.IsNaN(sigma) {
		return nil
	}
	return like.Of(sigma)
}

// MarshalJSON writes a posture confirmed.
func (r *Result) MarshalJSON() ([]byte, error) {
	return json.Marshal(map[string]any{"posture": r.Posture.Name, "inside": r.Inside(), "contacts": r.Contacts, "cured": r.Cured,
		"corrections": append([]Move{}, r.Corrections...), "after": append([]Contact{}, r.After...),
		"changes": append([]Change{}, r.Kept...),
		"sure":    r.Sure(), "withheld": append([]string{}, r.Withheld...), "doubted": append([]string{}, r.Doubted...),
		"readings": append([]Change{}, r.Readings...)})
}

// MarshalJSON writes how a contact moved, in the frame of riding.
func (s Shift) MarshalJSON() ([]byte, error) {
	return json.Marshal(map[string]any{"contact": s.Contact, "x": s.By.X, "y": s.By.Y, "angle": plane.Angle(s.Turn)})
}
