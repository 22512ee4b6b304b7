package carry

import (
	"carryover/internal/bike"
	"carryover/internal/locate"
	"carryover/internal/saddle"
)

// Check is a reading to take on the target once it is set up, on unloaded surfaces as a tape meets them.
type Check struct {
	Reading bike.Reading
	Value   float64 // mm or radians
	Sigma   float64 // what the source's readings leave open
}

// sitting is the place on a saddle where the rider sits.
var sitting = saddle.Reference{Kind: saddle.Sit}

// CheckReadings are the readings that together confirm a target: saddle height and setback, tilts, and
// where the hands are, from the BB and from the saddle.
func CheckReadings(b *bike.Bike, hands bike.Contact) []bike.Reading {
	bb, floor := bike.Place{Kind: bike.AtBB}, bike.Place{Kind: bike.AtFloor}
	nose, mid, to := b.Seat(saddle.Nose), b.Seat(saddle.Mid), hands.Place()
	list := []bike.Reading{
		{Kind: bike.Line, From: bb, To: mid, Written: "saddle-height"},
		{Kind: bike.Level, From: nose, To: bb, Written: "setback"},
		{Kind: bike.Angle, Of: bike.SaddleBody, Written: "saddle-tilt"},
		{Kind: bike.Level, From: nose, To: to, Written: "reach to " + string(hands)},
		{Kind: bike.Plumb, From: to, To: mid, Written: "drop to " + string(hands)},
	}
	switch hands {
	case bike.Hood:
		list = append(list, bike.Reading{Kind: bike.Angle, Of: bike.HoodBody, Written: "hood-angle"})
	case bike.Drop:
		if !b.Bar.Empty() {
			list = append(list, bike.Reading{Kind: bike.Angle, Of: bike.BarBody, Written: "bar-rotation"})
		}
	case bike.Pad:
		list = append(list, bike.Reading{Kind: bike.Angle, Of: bike.PadBody, Written: "pad-tilt"})
	}
	if !b.Bar.Empty() {
		list = append(list, bike.Reading{Kind: bike.Line, From: nose, To: b.Front(hands), Written: "nose-to-bar"})
	}
	if b.Frame.BBHeight != nil {
		list = append(list, bike.Reading{Kind: bike.Plumb, From: floor, To: mid, Written: "floor-height of " + mid.String()},
			bike.Reading{Kind: bike.Plumb, From: floor, To: to, Written: "floor-height of " + string(hands)})
	}
	return list
}

// Checks returns the readings that confirm the target, with how sure each is.
func (s *Solution) Checks() ([]Check, error) {
	readings := CheckReadings(s.Target, s.Position.Posture.Hands)
	values := func(k *Solution) []float64 {
		v := make([]float64, len(readings))
		for i, r := range readings {
			v[i], _, _ = k.Stance.Measure(r)
		}
		return v
	}
	var checks []Check
	for i, v := range values(s) {
		if _, _, err := s.Stance.Measure(readings[i]); err != nil {
			return nil, err
		}
		checks = append(checks, Check{Reading: readings[i], Value: v})
	}
	if s.Position.Cov == ([locate.Coordinates][locate.Coordinates]float64{}) {
		return checks, nil
	}
	jac, err := s.Jacobian(values)
	if err != nil {
		return nil, err
	}
	for i := range checks {
		checks[i].Sigma = Spread(jac[i], &s.Position.Cov)
	}
	return checks, nil
}
