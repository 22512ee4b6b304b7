package carry

import (
	"encoding/json"

	"carryover/internal/bike"
	"carryover/internal/plane"
)

// MarshalJSON writes a check reading, mm or degrees; its name is what the trade calls it.
func (c Check) MarshalJSON() ([]byte, error) {
	keys := map[string]any{"kind": c.Reading.Kind.String(), "value": c.Value, "sigma": c.Sigma}
	switch c.Reading.Kind {
	case bike.Angle:
		keys["of"], keys["value"], keys["sigma"] = c.Reading.Of.String(), plane.Angle(c.Value), plane.Angle(c.Sigma)
	case bike.SeatTube:
	default:
		keys["from"], keys["to"] = c.Reading.From, c.Reading.To
	}
	if c.Reading.Written != "" {
		keys["name"] = c.Reading.Written
	}
	return json.Marshal(keys)
}

// MarshalJSON writes a contact with what became of it; of a second contact no angle is wanted.
func (c Carried) MarshalJSON() ([]byte, error) {
	want, got := c.Want, c.Got
	if !c.Primary {
		want, got = want.Placed(), got.Placed()
	}
	return json.Marshal(map[string]any{"contact": c.Want.Name, "primary": c.Primary, "want": want, "got": got, "miss": c.Miss,
		"miss_angle": plane.Angle(c.MissAngle), "miss_sigma": 0.0, "miss_angle_sigma": 0.0, "carried": c.Carried})
}

// MarshalJSON writes the part chosen for an open slot.
func (p Part) MarshalJSON() ([]byte, error) {
	return json.Marshal(map[string]any{"slot": p.Slot, "part": p.ID, "flip": p.Flip})
}
