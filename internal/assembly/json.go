package assembly

import (
	"encoding/json"

	"carryover/internal/plane"
)

// MarshalJSON writes a place and an angle.
func (c Contact) MarshalJSON() ([]byte, error) {
	return json.Marshal(struct {
		X     float64     `json:"x"`
		Y     float64     `json:"y"`
		Angle plane.Angle `json:"angle"`
	}{c.At.X, c.At.Y, plane.Angle(c.Angle)})
}

// Placed is the contact without its angle, for a second contact, of which none is wanted.
func (c Contact) Placed() Contact {
	c.Angle = 0
	return c
}
