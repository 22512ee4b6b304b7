package alternate

import (
	"math"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// stand is the target as it stands in one posture, with the parts of the two halves.
func stand(target *bike.Bike, seat, hands *build, values []Value, support float64) *assembly.Stance {
	// A setting that the posture does not feel stands where the file has it.
	of := func(name string, otherwise float64) float64 {
		for _, v := range values {
			if v.Name == name {
				return v.Travel
			}
		}
		return otherwise
	}
	travelled := func(m bike.Moves) plane.Point {
		var sum plane.Point
		for _, i := range target.Moving(m) {
			a := &target.Adjusters[i]
			sum = sum.Add(a.Direction().Scale(of(a.Name, target.Home(i))))
		}
		return sum
	}
	turned := func(m bike.Moves, name string, set bike.Setting) float64 {
		if on := target.Moving(m); len(on) > 0 {
			return of(target.Adjusters[on[0]].Name, target.Home(on[0]))
		}
		return of(name, set.Mid())
	}
	l := &assembly.Layout{Bike: target, Shape: target.Saddle.Options[seat.pick["saddle"]].Part, SitWidth: support, Extension: math.NaN()}
	st := &assembly.Stance{Layout: l}
	clamp, _ := target.Saddle.ClampAt.OnRails(l.Shape.Rail) // a build's saddle can be held
	rail := plane.Point{X: of("saddle.clamp_at", clamp.Lo), Y: l.Shape.Rail.Height}
	tilt := turned(bike.MovesSaddleTilt, "saddle.tilt", target.Saddle.Tilt)
	st.Poses[assembly.Saddle] = plane.Pose{Origin: target.SaddleAnchor.Add(travelled(bike.MovesSaddle)).Add(rail.Turn(tilt)), Turn: tilt}

	var at plane.Point
	if i, ok := hands.pick["stem"]; ok {
		steerer, _ := target.Steerer() // a build with a stem has one
		at = steerer.BarClamp(*target.Stem.Options[i].Part, hands.flip, of("stem.spacers", target.Stem.Spacers.Fixed))
	} else {
		at = *target.BarAnchor
	}
	at = at.Add(travelled(bike.MovesBar))
	st.Poses[assembly.Bar] = plane.Pose{Origin: at, Turn: turned(bike.MovesBarRotation, "bar.rotation", target.Bar.Rotation)}
	if i, ok := hands.pick["bar"]; ok {
		l.BarShape = target.Bar.Options[i].Part
	}
	if i, ok := hands.pick["lever"]; ok {
		l.Lever, l.LeverAt = target.Bar.Lever.Options[i].Part, of("bar.lever_at", target.Bar.LeverAt.Lo)
	}
	if i, ok := hands.pick["clipon"]; ok {
		c := target.Clipon
		l.Clipon = c.Options[i].Part
		l.PadLength = l.Clipon.PadLength
		only := func(offered []float64) float64 {
			if len(offered) == 1 { // else it is one of the values
				return offered[0]
			}
			return math.NaN()
		}
		l.Hole = of("clipon.hole", only(c.Hole.Offered(l.Clipon.Holes)))
		l.Stack = of("clipon.stack", only(c.Stack.Offered(l.Clipon.Stacks)))
		tilt := math.NaN()
		if r, ok := c.Tilt.Tilts(l.Clipon); ok {
			tilt = r.Lo
			if len(r.Values) > 0 {
				tilt = r.Values[0]
			}
		}
		st.Poses[assembly.Pads] = plane.Pose{Origin: at, Turn: of("clipon.tilt", tilt)}
	}
	l.Hang()
	return st
}

// checks are the readings that confirm a posture, and give each value without a scale the one to set it by.
func checks(st *assembly.Stance, hands bike.Contact, values []Value) ([]carry.Check, error) {
	var list []carry.Check
	for _, r := range carry.CheckReadings(st.Bike, hands) {
		v, _, err := st.Measure(r)
		if err != nil {
			return nil, err
		}
		list = append(list, carry.Check{Reading: r, Value: v})
	}
	for i := range values {
		v := &values[i]
		if v.Adjuster < 0 || !st.Bike.Adjusters[v.Adjuster].NoScale {
			continue
		}
		r := gauge(st.Bike, &st.Bike.Adjusters[v.Adjuster], hands)
		got, _, err := st.Measure(r)
		if err != nil {
			return nil, err
		}
		v.Tape = &carry.Check{Reading: r, Value: got}
	}
	return list, nil
}

// gauge is the reading that an adjuster without a scale is set by: the one along its travel, which hangs on nothing
// that is set after it.
func gauge(b *bike.Bike, a *bike.Adjuster, hands bike.Contact) bike.Reading {
	bb, bar := bike.Place{Kind: bike.AtBB}, bike.Place{Kind: bike.AtBar}
	onSaddle := func(k saddle.RefKind) bike.Place {
		return bike.Place{Kind: bike.AtSaddle, Ref: saddle.Reference{Kind: k}}
	}
	steep := math.Abs(a.Direction().Y) > math.Sqrt2/2
	switch {
	case a.Moves == bike.MovesSaddleTilt:
		return bike.Reading{Kind: bike.Angle, Of: bike.SaddleBody}
	case a.Moves == bike.MovesBarRotation && hands == bike.Hood:
		return bike.Reading{Kind: bike.Angle, Of: bike.HoodBody}
	case a.Moves == bike.MovesBarRotation:
		return bike.Reading{Kind: bike.Angle, Of: bike.BarBody}
	case a.Moves == bike.MovesSaddle && steep:
		return bike.Reading{Kind: bike.Line, From: bb, To: onSaddle(saddle.Mid)}
	case a.Moves == bike.MovesSaddle:
		return bike.Reading{Kind: bike.Level, From: onSaddle(saddle.Nose), To: bb}
	case !steep:
		return bike.Reading{Kind: bike.Line, From: onSaddle(saddle.Nose), To: bar}
	case b.Frame.BBHeight != nil:
		return bike.Reading{Kind: bike.Plumb, From: bike.Place{Kind: bike.AtFloor}, To: bar}
	}
	return bike.Reading{Kind: bike.Plumb, From: bb, To: bar}
}
