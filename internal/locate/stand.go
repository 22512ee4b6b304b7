package locate

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/plane"
)

// Where the clamp of a body without a shape is taken to lie, seen from the contact in the frame of the body, and the
// standard uncertainty of each coordinate, mm.
var (
	clampUnderMark, clampUnderMarkSigma = plane.Point{X: 0, Y: -50}, plane.Point{X: 40, Y: 15}
	clampFromHood, clampFromHoodSigma   = plane.Point{X: -80, Y: -30}, plane.Point{X: 20, Y: 15}
)

// Standing is a target as it stands: a bike whose anchors, angles and arms say where everything is now.
type Standing struct {
	Bike *bike.Bike
	// Adjusted holds what was read on it; nil when nothing was, or when nothing of it could be used.
	Adjusted *Adjustment
	// Assumptions in words, beyond those of the bike and of the adjustment.
	Assumptions []string
	// ClampSigma is how unsure it is, mm, which station the clamp of a saddle holds that nothing was read of; 0: that is stated.
	ClampSigma float64

	saddle, bar half
	pads        lean // clipon.tilt where it is stated
	// The arms of the rider's seat, of the hands and of what goes along with them, where no part gives them.
	sit, hands, second arm
}

// half is what an adjustment says of one half; without derivatives where the half is as described.
type half struct {
	clamp spot
	angle lean        // where it is not a mark's, and not free
	body  float64     // the angle at which the body lies now
	taken plane.Point // uncertainty of a clamp that is taken to be a usual one, along and across the body; 0: not taken
	filed bool        // the clamp is where the file's anchor says
}

// arm is a contact seen from its clamp, in the frame of its body.
type arm struct {
	at    spot
	angle lean
}

// Stand is a target as it stands (design.md, sections 5 and 9). Readings, marks, anchors and stated angles are adjusted
// together; the clamps that follow, less the travel that their marks say, are its anchors. In the copy that it returns
//
//   - a stated tilt or rotation stands at its adjusted value, and so does one left out where its half was read; a free
//     one stays free;
//   - an adjuster without a mark has FromHere: its travel counts from where it stands (a turning one's from Saddle.Tilt
//     or Bar.Rotation, which hold that angle), its stops are not known (NoRange), Lo and Hi are as far as its range lets it
//     go at most, in whole steps where it has steps;
//   - contacts that no part gives have arms: contact = clamp + R(turn)·arm. A half without a shape that nothing moves
//     gets one travel up and one forward.
//
// A half that is not read is as described; a shaped one with neither anchor nor adjusters is set by tape. posture is the
// one to be carried: readings to saddle.sit go to where its support is.
func Stand(b *bike.Bike, rider *bike.Rider, posture bike.Posture) (*Standing, error) {
	c := *b
	c.Adjusters = slices.Clone(b.Adjusters)
	s := &Standing{Bike: &c}
	s.saddle.filed, s.bar.filed = b.SaddleAnchor != nil, b.BarAnchor != nil
	posture = carriedBy(b, rider, &posture)
	posture.At = nil // a station is one of the source's saddle
	used, err := s.adjust(posture)
	if err != nil {
		return nil, err
	}
	if used[assembly.Saddle] {
		if err := s.standSaddle(); err != nil {
			return nil, err
		}
	} else if shape := b.Saddle.Only(); shape != nil && b.Scaled(bike.MovesSaddle) && !b.Saddle.ClampAt.Given {
		s.ClampSigma = shape.Rail.Sigma()
		s.assume("%s is not stated: taken as %.0f ± %.0f mm; set by its scales the saddle is off by as much, which the ± of the settings "+
			"do not count: trust the tape, or state clamp_at in [saddle]", railClamp, shape.Rail.Mid(), s.ClampSigma)
	}
	if used[assembly.Bar] || used[assembly.Hood] || used[assembly.Drop] || used[assembly.Pads] {
		if err := s.standBar(posture.Hands); err != nil {
			return nil, err
		}
	}
	if err := s.unread(posture); err != nil {
		return nil, err
	}
	s.Bike = s.Bike.SetByTape()
	return s, nil
}

// adjust adjusts the readings, and returns the bodies that they involve. What hangs on parts that are still to be chosen
// is taken to be a body of its own, which says nothing of the others.
func (s *Standing) adjust(p bike.Posture) (used [assembly.Bodies]bool, err error) {
	b := *s.Bike
	if b.Bar.Open {
		b.Bar.Slot.Options = nil
	}
	if b.Bar.Open || b.Bar.Lever.Open || b.Bar.LeverAt.Free {
		b.Bar.Lever.Options = nil
	}
	if b.Clipon != nil && b.Clipon.Open {
		b.Clipon = nil
	}
	if st := b.Stem; st != nil && (st.Open || st.Spacers.Free) {
		b.Stem, b.BarAnchor = nil, nil
	}
	if b.Saddle.Open {
		b.Readings = slices.DeleteFunc(slices.Clone(b.Readings), onSaddle)
	}
	unused := map[string]int{}
	for _, r := range s.Bike.Readings {
		unused[unsaid(s.Bike, r)]++
	}
	delete(unused, "")
	for _, part := range slices.Sorted(maps.Keys(unused)) {
		s.assume("which %s %s has now is not said, so %d of its readings are left out", part, b.File, unused[part])
	}
	if len(b.Readings) == 0 {
		return used, nil
	}
	a := asItStands(&b, p)
	if problems := a.read(); problems.HasErrors() {
		return used, problems
	}
	// What is only measured on a bar that hangs somewhere is seen from there.
	hands := a.used[assembly.Hood] || a.used[assembly.Drop] || a.used[assembly.Pads]
	a.used[assembly.Bar] = a.used[assembly.Bar] || hands && (b.BarAnchor != nil || b.Stem != nil)
	s.Adjusted = a
	return a.used, a.adjust(0)
}

// Assumed lists in words all that was assumed of the bike.
func (s *Standing) Assumed() []string {
	list := s.Bike.Assumed
	if s.Adjusted != nil {
		list = s.Adjusted.Trusted()
	}
	return slices.Concat(list, s.Assumptions)
}

func (s *Standing) assume(format string, args ...any) {
	s.Assumptions = append(s.Assumptions, fmt.Sprintf(format, args...))
}

// unsaid is the part that a reading hangs on and that is still to be chosen, so that nothing follows from it; else "".
func unsaid(b *bike.Bike, r bike.Reading) string {
	to := func(places ...bike.PlaceKind) bool {
		return r.Kind != bike.Angle && (slices.Contains(places, r.From.Kind) || slices.Contains(places, r.To.Kind))
	}
	angle := func(of bike.Body) bool { return r.Kind == bike.Angle && r.Of == of }
	hood, pads := to(bike.AtHood) || angle(bike.HoodBody), to(bike.AtPad, bike.AtPadRear, bike.AtPadFront, bike.AtGrip)
	switch {
	case b.Saddle.Open && onSaddle(r):
		return "saddle"
	case b.Stem != nil && (b.Stem.Open || b.Stem.Spacers.Free) && (to(bike.AtBar, bike.AtHood, bike.AtDrop) || pads):
		return "stem and spacers"
	case b.Bar.Open && (hood || to(bike.AtDrop)):
		return "bar"
	case hood && (b.Bar.Lever.Open || b.Bar.LeverAt.Free):
		return "place of the lever"
	case b.Clipon != nil && b.Clipon.Open && (pads || angle(bike.PadBody)):
		return "clip-on"
	}
	return ""
}

// onSaddle reports whether a reading goes to the saddle.
func onSaddle(r bike.Reading) bool {
	if r.Kind == bike.Angle {
		return r.Of == bike.SaddleBody
	}
	return r.From.Kind == bike.AtSaddle || r.To.Kind == bike.AtSaddle || r.Kind == bike.SeatTube
}

// standSaddle makes the saddle's half stand as read.
func (s *Standing) standSaddle() error {
	b, a := s.Bike, s.Adjusted
	shape, moving := a.Placement.Shape, len(b.Moving(bike.MovesSaddle)) > 0
	if shape != nil && b.SaddleAnchor == nil && !moving {
		return nil // by tape
	}
	if fixed, err := s.fixed(assembly.Saddle, b.SaddleAnchor); !fixed {
		return err
	}
	mark, tilt := a.spot(assembly.Mount{Body: assembly.Saddle})
	h := &s.saddle
	h.body, h.filed = tilt.at, false
	if shape != nil {
		if turns := b.Saddle.Tilt.Free || len(b.Moving(bike.MovesSaddleTilt)) > 0; turns && b.SaddleAnchor == nil && !b.Saddle.ClampAt.Given {
			s.assume("%s is not stated: taken as %.0f ± %.0f mm; each degree that the saddle is turned makes its height ± %.1f mm less sure, "+
				"which the ± of the settings do not count: turn it first, or state clamp_at in [saddle]",
				railClamp, shape.Rail.Mid(), shape.Rail.Sigma(), plane.Rad(1)*shape.Rail.Sigma())
		}
		h.clamp, _ = a.spot(assembly.Mount{Body: assembly.Saddle, At: shape.RailPoint(clamped(b.Saddle.ClampAt, shape.Rail))})
	} else {
		out := bike.Arm{Sigma: clampUnderMarkSigma, Taken: true, NoAngle: true}
		if at, ok := s.anchored(b.SaddleAnchor, bike.MovesSaddle); ok {
			h.clamp, h.filed, out.Taken, out.Sigma = spot{at: at}, true, false, plane.Point{X: b.AnchorSigma, Y: b.AnchorSigma}
		} else {
			h.clamp, h.taken = mark.plus(1, spot{at: clampUnderMark}.turned(1, tilt)), clampUnderMarkSigma
		}
		s.sit.at = mark.plus(-1, h.clamp).turned(-1, tilt)
		out.At = s.sit.at.at
		if sag := b.Saddle.Sag; sag != nil {
			out.At.Y -= *sag
		}
		b.Saddle.Arm = &out
	}
	anchor := h.clamp.at.Sub(s.marked(bike.MovesSaddle))
	b.SaddleAnchor = &anchor
	h.angle = s.stated(&b.Saddle.Tilt, bike.MovesSaddleTilt, tilt)
	s.loosen(bike.MovesSaddle)
	if !moving && shape == nil {
		b.ByEye(bike.MovesSaddle)
	}
	return nil
}

// fixed reports whether the observations fix the place of a body. Where they do not, and no anchor says where it is, the
// error names what is missing.
func (s *Standing) fixed(body assembly.Body, anchor *plane.Point) (bool, error) {
	a := s.Adjusted
	a.need = [assembly.Bodies]bool{}
	a.need[body] = true
	if a.Missing = a.gaps(); len(a.Missing) == 0 {
		return true, nil
	}
	if anchor == nil {
		return false, a.Err()
	}
	a.Missing = nil
	s.assume("the readings do not say where the %s of %s stands, so its anchor is taken as the file has it",
		bike.PlaceNames[bodies[body].place], s.Bike.File)
	return false, nil
}

// anchored is where a clamp stands that has an anchor and whose adjusters all have marks.
func (s *Standing) anchored(anchor *plane.Point, moves bike.Moves) (at plane.Point, ok bool) {
	if anchor == nil || slices.ContainsFunc(s.Bike.Moving(moves), func(i int) bool { return !s.hasMark(i) }) {
		return at, false
	}
	return anchor.Add(s.marked(moves)), true
}

func (s *Standing) hasMark(i int) bool {
	_, ok := s.Bike.Marks[s.Bike.Adjusters[i].Name]
	return ok
}

// marked is the travel that the marks of a half say.
func (s *Standing) marked(moves bike.Moves) (sum plane.Point) {
	for _, i := range s.Bike.Moving(moves) {
		if a := &s.Bike.Adjusters[i]; s.hasMark(i) {
			sum = sum.Add(a.Direction().Scale(a.Travel(s.Bike.Marks[a.Name])))
		}
	}
	return sum
}

// stated makes an angle stand at its adjusted value and its adjuster count from there, unless a mark or a wish sets it.
func (s *Standing) stated(setting *bike.Setting, moves bike.Moves, now lean) lean {
	on := s.Bike.Moving(moves)
	if len(on) > 0 && s.hasMark(on[0]) || len(on) == 0 && setting.Free {
		return lean{}
	}
	s.loosen(moves)
	*setting = bike.Fixed(now.at)
	return now
}

// loosen makes the adjusters that have no mark count from where they stand.
func (s *Standing) loosen(moves bike.Moves) {
	for _, i := range s.Bike.Moving(moves) {
		if a := &s.Bike.Adjusters[i]; !s.hasMark(i) {
			span := 0.0
			if !a.NoRange {
				span = a.Hi - a.Lo
			}
			if a.Step > 0 {
				span = a.Step * math.Floor(span/a.Step+1e-9)
			}
			a.FromHere, a.NoRange, a.Lo, a.Hi = true, true, -span, span
		}
	}
}

// standBar makes the half of the hands stand as read.
func (s *Standing) standBar(hands bike.Contact) error {
	b, a := s.Bike, s.Adjusted
	l, moving := a.Placement.Layout, len(b.Moving(bike.MovesBar)) > 0
	shaped := l.BarShape != nil || b.Bar.Open
	own := s.own()
	if b.Stem == nil && b.BarAnchor == nil && !moving && shaped && len(own) == 0 {
		return nil // by tape
	}
	known := a.fixes(assembly.Mount{Body: assembly.Bar})
	if !known && (len(own) == 0 || own[bike.Hood].Body != assembly.Hood && shaped) && b.Stem == nil {
		if _, err := s.fixed(assembly.Bar, b.BarAnchor); err != nil || len(own) == 0 {
			return err
		}
	}
	h := &s.bar
	body, said := s.lies(own)
	h.body, h.filed = body.at, false
	hood, ownHood := own[bike.Hood]
	switch {
	case known:
		h.clamp, _ = a.spot(assembly.Mount{Body: assembly.Bar})
	case ownHood:
		at, _ := a.spot(hood)
		h.clamp, h.taken = at.plus(1, spot{at: clampFromHood}.turned(1, body)), clampFromHoodSigma
	default: // a pad or drop of its own is its own clamp: it can be shifted, not turned
		for _, c := range []bike.Contact{hands, bike.Pad, bike.Drop, bike.Grip} {
			if m, ok := own[c]; ok {
				h.clamp, _ = a.spot(m)
				break
			}
		}
	}
	if b.Stem == nil {
		anchor := h.clamp.at.Sub(s.marked(bike.MovesBar))
		b.BarAnchor = &anchor
		s.loosen(bike.MovesBar)
		if !moving && !shaped {
			b.ByEye(bike.MovesBar)
		}
	}
	s.arms(own, hands, body, known, ownHood)
	if said || len(own) > 0 {
		h.angle = s.stated(&b.Bar.Rotation, bike.MovesBarRotation, body)
	}
	// Pads whose tilt has steps stand on the one that is stated.
	if t := a.model.joints.Turn[assembly.Pads]; a.Uses(assembly.Pads) && l.Clipon != nil && l.Clipon.TiltStep == 0 &&
		b.Clipon.Tilt.Given && !b.Clipon.Tilt.Free {
		s.pads = lean{t.Of(a.solution().X), make([]float64, len(a.model.starts))}
		t.Add(s.pads.row, 1)
		clipon := *b.Clipon
		clipon.Tilt = bike.Fixed(s.pads.at)
		b.Clipon = &clipon
	}
	return nil
}

// own are the contacts of the hands that no part of the bike gives and that the readings fix.
func (s *Standing) own() map[bike.Contact]assembly.Mount {
	b, l := s.Bike, s.Adjusted.Placement.Layout
	own := map[bike.Contact]assembly.Mount{}
	add := func(c bike.Contact, given bool) {
		if m := l.HandMount(c); !given && s.Adjusted.fixes(m) {
			own[c] = m
		}
	}
	hoods, drops := false, false
	if !b.Bar.Empty() {
		part := b.Bar.Options[0].Part
		hoods = part.Hood != nil || !b.Bar.Lever.Empty()
		_, drops = part.DropContact()
	}
	add(bike.Hood, hoods)
	add(bike.Drop, drops)
	add(bike.Pad, b.Clipon != nil)
	add(bike.Grip, b.Clipon != nil)
	return own
}

// lies is the angle at which the bar lies: its rotation where that is stated, read or marked, else the angle of the hoods;
// said is false where neither is known.
func (s *Standing) lies(own map[bike.Contact]assembly.Mount) (body lean, said bool) {
	b, a := s.Bike, s.Adjusted
	on := b.Moving(bike.MovesBarRotation)
	marked := len(on) > 0 && s.hasMark(on[0])
	read := slices.ContainsFunc(a.Observations, func(o Observation) bool {
		return o.Origin == FromReading && o.Reading.Kind == bike.Angle && o.Reading.Of == bike.BarBody
	})
	stated := len(on) == 0 && b.Bar.Rotation.Given && !b.Bar.Rotation.Free
	hood, ownHood := own[bike.Hood]
	switch {
	case a.Uses(assembly.Bar) && (read || marked || stated || a.Placement.BarShape != nil):
		_, body = a.spot(assembly.Mount{Body: assembly.Bar})
		return body, a.model.turnOf(0, assembly.Bar) >= 0
	case marked:
		return lean{at: b.Adjusters[on[0]].Travel(b.Marks[b.Adjusters[on[0]].Name])}, true
	case stated:
		return lean{at: b.Bar.Rotation.Lo}, true
	case ownHood && !a.noAngle(hood):
		_, body = a.spot(hood)
		return body, true
	}
	return lean{at: b.Bar.Rotation.Mid()}, false
}

// arms hangs the contacts of their own on the bar's clamp, at whose angle the body lies.
func (s *Standing) arms(own map[bike.Contact]assembly.Mount, hands bike.Contact, body lean, known, ownHood bool) {
	a := s.Adjusted
	second, _ := secondOf(hands)
	for c, m := range own {
		at, angle := a.spot(m)
		k := arm{at.plus(-1, s.bar.clamp).turned(-1, body), lean{angle.at - body.at, sum(1, angle.row, -1, body.row)}}
		out := bike.Arm{At: k.at.at, Angle: k.angle.at, Sigma: s.bar.taken,
			Taken: !known && ownHood, NoTurn: !known && !ownHood, NoAngle: a.noAngle(m)}
		if out.NoAngle {
			out.Angle, k.angle = 0, lean{}
		}
		if s.Bike.Bar.Arms == nil {
			s.Bike.Bar.Arms = map[bike.Contact]bike.Arm{}
		}
		s.Bike.Bar.Arms[c] = out
		switch c {
		case hands:
			s.hands = k
		case second:
			s.second = k
		}
	}
}

// unread refuses bodies without a shape of which nothing was read: nothing can be set by.
func (s *Standing) unread(p bike.Posture) error {
	b := s.Bike
	if b.Saddle.Empty() && b.Saddle.Arm == nil {
		return fmt.Errorf("%s has no saddle part, and no readings to a mark where the rider sits: give the part, or read "+
			`saddle-height at = "sit", setback at = "sit" and saddle-tilt`, b.File)
	}
	_, stands := b.Bar.Arms[p.Hands]
	if !b.Bar.Empty() || stands || p.Hands == bike.Pad && b.Clipon != nil {
		return nil
	}
	angle := map[bike.Contact]string{bike.Hood: " and hood-angle", bike.Pad: " and pad-tilt"}[p.Hands]
	return fmt.Errorf(`%s has no bar part, and no readings to its %s: give the part, or read reach and drop to = "%[2]s"%[3]s`,
		b.File, p.Hands, angle)
}
