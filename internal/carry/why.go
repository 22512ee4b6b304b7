package carry

import (
	"slices"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/cockpit"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Swap is what one difference adds to every measure, mm.
type Swap struct {
	Cause string
	By    [Measures]float64
}

// Why tells how the customary numbers change from the source to the target as set up, and what makes them.
type Why struct {
	Known          [Measures]bool // measures that both bikes have
	Source, Target [Measures]float64
	Swaps          []Swap // one after the other; they add up to Target - Source
}

// measurable is a bike reduced to what the measures depend on. The contacts are what is carried, so the saddle
// and the bar hang on them and not the other way round.
type measurable struct {
	sit      plane.Point // loaded contact
	tilt     float64     // radians
	shape    *saddle.Shape
	support  float64 // width, mm
	sag      float64 // mm
	hands    plane.Point
	angle    float64     // of the hands' contact
	bar      plane.Point // bar centre from the hands, in the hands' frame (turned by angle)
	bbHeight float64
}

// measures are the customary numbers of a bike so reduced.
func (b measurable) measures() (v [Measures]float64) {
	station, _ := b.shape.WidthStation(b.support)
	loaded := b.shape.Point(station)
	loaded.Y -= b.sag
	pose := plane.Pose{Origin: b.sit.Sub(loaded.Turn(b.tilt)), Turn: b.tilt}
	nose, mid := pose.At(b.shape.Point(0)), pose.At(b.shape.Point(b.shape.Length/2))
	bar := plane.Pose{Origin: b.hands, Turn: b.angle}.At(b.bar)
	v[Setback] = -nose.X
	v[SaddleHeight] = mid.Norm()
	v[Reach] = b.hands.X - nose.X
	v[Drop] = mid.Y - b.hands.Y
	v[NoseToBar] = bar.Distance(nose)
	v[FloorHeight] = mid.Y + b.bbHeight
	return v
}

// barFrom is the bar's centre seen from the hands, in their frame.
func barFrom(st *assembly.Placement, hands assembly.Contact) plane.Point {
	return plane.Pose{Origin: hands.At, Turn: hands.Angle}.Local(st.Poses[assembly.Bar].Origin)
}

// hooked is the bar's centre seen from the hands on a bar with a lever; ok is false when the two give no
// hood.
func hooked(bar *cockpit.Bar, lever *cockpit.Lever, at float64) (plane.Point, bool) {
	if bar == nil {
		return plane.Point{}, false
	}
	hood, angle, ok := bar.HoodContact(lever, at)
	return plane.Pose{Origin: hood, Turn: angle}.Local(plane.Point{}), ok
}

// Why swaps one difference after another, starting from the source, until the target as set up stands
// there; what every swap changes is its share. Another order would share the same total differently: a
// saddle's shape and its tilt, say, act on one another.
func (s *Solution) Why(source *locate.Adjustment) Why {
	from, ridden := source.Placement, s.Source.Frame.Pitch
	pos := s.Position.Turned(-ridden) // as a tape finds it
	w := Why{}
	if from.Shape == nil || s.Placement.Shape == nil {
		return w // where a saddle has no shape, its nose and middle are nowhere
	}
	now := measurable{sit: pos.Sit.At, tilt: pos.Sit.Angle, shape: from.Shape, support: pos.Posture.Support, sag: from.Shape.Sag,
		hands: pos.Hands.At, angle: pos.Hands.Angle}
	for m := range Measures {
		w.Known[m] = true
	}
	w.Known[NoseToBar] = slices.ContainsFunc(source.Points(), func(p locate.PointValue) bool { return p.Name == placed(bike.AtBar).String() })
	if w.Known[NoseToBar] {
		now.bar = barFrom(from, pos.Hands)
	}
	a, b := from.Bike.Frame.BBHeight, s.Target.Frame.BBHeight
	w.Known[FloorHeight] = a != nil && b != nil
	if w.Known[FloorHeight] {
		now.bbHeight = *a
	}

	w.Source = now.measures()
	last := w.Source
	share := func(cause string) {
		next := now.measures()
		k := Swap{Cause: cause}
		for m := range Measures {
			if w.Known[m] {
				k.By[m] = next[m] - last[m]
			}
		}
		w.Swaps, last = append(w.Swaps, k), next
	}

	if d := ridden - s.Target.Frame.Pitch; d != 0 {
		now.sit, now.tilt, now.hands, now.angle = now.sit.Turn(d), now.tilt+d, now.hands.Turn(d), now.angle+d
		share("pitch")
	}
	// The feet: first the crank with the source's foot stack, then the stack.
	crankOnly := *s.Target
	crankOnly.Feet.SoleHeight = s.Source.Feet.SoleHeight
	cranked, err := Want(s.Position, s.Source.Feet, &crankOnly, s.Options)
	if err != nil {
		// The crank alone leaves no leg although crank and foot stack together do.
		cranked = s.Want
	}
	now.sit, now.hands = cranked.Sit.At, cranked.Hands.At
	share("crank")
	now.sit, now.hands = s.Want.Sit.At, s.Want.Hands.At
	if s.Want.Followed { // the saddle that was got is a leftover, and so is what follows it
		now.hands = now.hands.Sub(s.Contacts[0].Got.At.Sub(s.Want.Sit.At))
	}
	share("foot stack")

	to := s.Placement
	now.shape = to.Shape
	share("saddle shape")
	now.sag = to.Shape.Sag
	share("sag")
	now.tilt = s.Contacts[0].Got.Angle
	share("tilt")

	got := s.Contacts[1].Got
	rest := now.bar
	if w.Known[NoseToBar] {
		rest = barFrom(to, got)
	}
	hood := pos.Posture.Hands == bike.Hood
	if hood || pos.Posture.Hands == bike.Drop {
		now.bar = rest // a hood that was only measured belongs to its bar
	}
	if v, ok := hooked(to.BarShape, from.Lever, from.LeverAt); hood && ok && from.Hood.Body == assembly.Bar {
		now.bar = v
	}
	share("bar")
	if hood {
		now.bar = rest
	}
	share("lever")
	now.bar = rest
	share("clip-on")
	if w.Known[FloorHeight] {
		now.bbHeight = *b
	}
	share("BB height")
	now.sit, now.hands, now.angle = s.Contacts[0].Got.At, got.At, got.Angle
	share("leftover")
	w.Target = last
	for m := range Measures {
		if !w.Known[m] {
			w.Source[m], w.Target[m] = 0, 0
		}
	}
	return w
}
