package carry

import (
	"math"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Check is a reading to take on the target once it is set up, on unloaded surfaces as a tape meets them.
type Check struct {
	Reading bike.Reading
	Foretold
}

// Foretold is what a tape or a level will show, and in its unit how sure that is.
type Foretold struct {
	Value      plane.Quantity
	Sigma      float64 // what the source's readings leave open
	SigmaTotal float64 // what everything leaves open, once Total was called
}

// sitting is the place on a saddle where the rider sits.
var sitting = saddle.Reference{Kind: saddle.Sit}

// CheckReadings are the readings that together confirm a target: saddle height and setback, tilts, and
// where the hands are, from the BB and from the saddle.
func CheckReadings(b *bike.Bike, hands bike.Contact) []bike.Reading {
	var list []bike.Reading
	add := func(r bike.Reading, written string) {
		r.Written = written
		list = append(list, r)
	}
	add(SaddleHeight.Reading(b, hands), "saddle-height")
	add(Setback.Reading(b, hands), "setback")
	add(bike.Reading{Kind: bike.Angle, Of: bike.SaddleBody}, "saddle-tilt")
	add(Reach.Reading(b, hands), "reach to "+string(hands))
	add(Drop.Reading(b, hands), "drop to "+string(hands))
	switch {
	case hands == bike.Hood:
		add(bike.Reading{Kind: bike.Angle, Of: bike.HoodBody}, "hood-angle")
	case hands == bike.Pad:
		add(bike.Reading{Kind: bike.Angle, Of: bike.PadBody}, "pad-tilt")
	case !b.Bar.Empty():
		add(bike.Reading{Kind: bike.Angle, Of: bike.BarBody}, "bar-rotation")
	}
	if !b.Bar.Empty() {
		add(NoseToBar.Reading(b, hands), "nose-to-bar")
	}
	if b.Frame.BBHeight != nil {
		add(FloorHeight.Reading(b, hands), "floor-height of "+b.Seat(saddle.Mid).String())
		add(bike.Reading{Kind: bike.Plumb, From: placed(bike.AtFloor), To: hands.Place()}, "floor-height of "+string(hands))
	}
	return list
}

// surer is how much smaller the uncertainty of a reading is than that of a handier one for it to be told.
const surer = 0.7

// contacts are readings to where the rider touches the bike, which depend on the shapes of the parts less than those to nose and bar
// do, each with the written name of the handier one.
func (s *Solution) contacts() map[string]bike.Reading {
	hands, bb := s.Position.Posture.Hands, placed(bike.AtBB)
	list := map[string]bike.Reading{}
	if !s.Target.Saddle.Empty() {
		list["setback"] = bike.Reading{Kind: bike.Level, From: s.Target.Seat(saddle.Sit), To: bb, Written: "setback of saddle.sit"}
		list["reach to "+string(hands)] = bike.Reading{Kind: bike.Level, From: bb, To: hands.Place(), Written: "level of " + string(hands)}
	}
	return list
}

// Checks returns the readings that confirm the target, with how sure each is; those to the contacts where they are surer.
func (s *Solution) Checks() ([]Check, error) {
	var readings []bike.Reading
	contacts := s.contacts()
	for _, r := range CheckReadings(s.Target, s.Position.Posture.Hands) {
		readings = append(readings, r)
		if c, ok := contacts[r.Written]; ok {
			readings = append(readings, c)
		}
	}
	for _, r := range readings {
		if _, err := s.Placement.Span(r); err != nil {
			return nil, err
		}
	}
	sure := s.foretold(readings)
	var told []Check
	for i := range sure {
		if i > 0 && readings[i] == contacts[readings[i-1].Written] && sure[i].SigmaTotal >= surer*sure[i-1].SigmaTotal {
			continue
		}
		told = append(told, Check{readings[i], sure[i]})
	}
	return told, nil
}

// foretold is what readings will show once the target is set up.
func (s *Solution) foretold(readings []bike.Reading) []Foretold {
	gauges, at := make([]Gauge, len(readings)), make([]*Solution, len(readings))
	for i, r := range readings {
		gauges[i], at[i] = Gauge{Reading: r}, s
	}
	return s.foretell(gauges, at, func(k *Solution) []float64 {
		v := make([]float64, len(readings))
		for i, r := range readings {
			v[i], _, _ = k.Placement.ReadingOf(r)
		}
		return v
	})
}

// Reads is what a reading will show once the target is set up, mm or radians, with what everything leaves open of it; ok is false where
// the settings do not say.
func (s *Solution) Reads(r bike.Reading) (value, sigma float64, ok bool) {
	tape, err := s.Placement.Span(r)
	for b, needed := range tape.Needs() {
		if err != nil || needed && !s.sets(assembly.Body(b)) {
			return 0, 0, false
		}
	}
	f := s.foretold([]bike.Reading{r})[0]
	return f.Value.Value(), f.SigmaTotal, !math.IsNaN(f.Value.Value())
}

// sets reports whether the settings say where a body is.
func (s *Solution) sets(b assembly.Body) bool {
	switch b {
	case assembly.Saddle, assembly.Bar:
		return true
	case assembly.Pads:
		if s.hands.arm.Clipon != nil {
			return true
		}
	}
	for c := range s.Target.Bar.Arms {
		if s.Placement.Layout.HandMount(c).Body == b {
			return true
		}
	}
	return false
}

// foretell works out what gauges will show, and how sure that is. values is what they show on a solution; at[gauge] is the target as it
// stands when the gauge is read.
func (s *Solution) foretell(gauges []Gauge, at []*Solution, values func(*Solution) []float64) []Foretold {
	list := make([]Foretold, len(gauges))
	for i, v := range values(s) {
		list[i].Value = plane.QuantityOf(gauges[i].Turns(), v)
	}
	if s.Position.Cov == ([locate.Coordinates][locate.Coordinates]float64{}) {
		return list
	}
	by := s.responses(values)
	jac := s.bySource(by)
	for i, total := range s.totals(gauges, at, by, values) {
		list[i].Sigma, list[i].SigmaTotal = Spread(jac[i], &s.Position.Cov), total
	}
	return list
}
