package carry

import (
	"math"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/plane"
	"carryover/internal/reach"
)

// settled is one half of the target with every setting decided.
type settled struct {
	base    baseChoice
	arm     armChoice
	travels []float64   // of the adjusters that move this half, mm, by index into the bike's list; 0 for the others
	turn    float64     // radians
	clamp   plane.Point // where the clamp stands
	slideAt float64     // contact's x in the turning frame, mm
	leverAt float64
	extend  float64 // grip ahead of the pad, mm

	got    assembly.Contact
	miss   plane.Point // from got to wanted
	square float64     // E², mm²
	second *assembly.Contact
	short  float64 // by how much the second contact misses, mm
	strayS float64 // Σ (travel - home)², degrees counted as bike.DegreeCost mm
}

// Home is where an adjuster stands now, or the middle of its range, as travel (mm or radians).
func Home(b *bike.Bike, i int) float64 {
	a := &b.Adjusters[i]
	if m, ok := b.Marks[a.Name]; ok {
		return a.Travel(m)
	}
	return a.Travel(a.Lo + (a.Hi-a.Lo)/2)
}

// untouched is where an adjuster stays that moves nothing in a posture: where it stands now, or on the step
// nearest to the middle of its range.
func untouched(b *bike.Bike, i int) float64 {
	a := &b.Adjusters[i]
	if _, ok := b.Marks[a.Name]; ok || !a.Indexed() {
		return Home(b, i)
	}
	middle := math.Round((a.Hi - a.Lo) / 2 / a.Step)
	return a.Travel(a.Lo + math.Min(middle, float64(a.Steps()-1))*a.Step)
}

// stray is the squared distance of a turn from its home, in the mm that angles are compared in.
func stray(turn, home float64) float64 {
	d := plane.Deg(turn-home) * bike.DegreeCost
	return d * d
}

// settle decides every setting of a candidate: its discrete choices and turn are given, the clamp place
// that is best for them is unique, and what brings the clamp there is shared so that first the second
// contact (wantSecond, may be nil) and then the way from the marks comes out best.
func (s *side) settle(b *bike.Bike, p bike.Posture, c reach.Candidate, wantSecond *assembly.Contact) settled {
	arm := &s.Arms[c.Arm]
	if arm.Bend != nil {
		return s.settleOnBend(b, p, c, wantSecond)
	}
	return s.settleAt(b, p, c, *arm, wantSecond)
}

// fixed is the clamp place with the racks of a candidate on their steps and every slide at 0.
func (s *side) fixed(c reach.Candidate) plane.Point {
	at := s.Bases[c.Base]
	for k, j := range c.Steps {
		r := s.Racks[k]
		at = at.Add(r.Dir.Scale(r.First + float64(j)*r.Step))
	}
	return at
}

func (s *side) settleAt(b *bike.Bike, p bike.Posture, c reach.Candidate, arm reach.Arm, wantSecond *assembly.Contact) settled {
	out := settled{base: s.bases[c.Base], arm: s.arms[c.Arm], turn: c.Turn, travels: make([]float64, len(b.Adjusters))}
	out.leverAt = out.arm.leverAt
	base := s.fixed(c)
	along := plane.Direction(c.Turn)
	up := along.Perp().Scale(arm.Y)

	travels := make([]reach.Travel, 0, len(s.slides)+1)
	for k, i := range s.slides {
		travels = append(travels, reach.Travel{Slide: s.Slides[k], Home: Home(b, i)})
	}
	own := ownTravel(arm.X, out.arm, along)
	set := plane.NewZonogon(base.Add(up), s.Slides)
	set.Add(own.Slide)
	got := set.Nearest(s.Wish.Place)

	x := own.Lo
	if own.Hi > own.Lo {
		all := reach.Share(got.Sub(base).Sub(up), append(travels, own))
		x = all[len(travels)]
		if wantSecond != nil && p.Hands == bike.Hood {
			x = s.slideForDrop(b, out.arm, c.Turn, base, got, arm, x, wantSecond)
		}
	}
	out.slideAt = x
	out.leverAt += x - own.Lo // along the flat; 0 for what cannot slide
	out.clamp = got.Sub(up).Sub(along.Scale(x))
	for k, v := range reach.Share(out.clamp.Sub(base), travels) {
		out.travels[s.slides[k]] = v
	}
	for k, j := range c.Steps {
		out.travels[s.racks[k]] = s.Racks[k].First + float64(j)*s.Racks[k].Step
	}
	out.got = assembly.Contact{At: got, Angle: c.Turn + arm.Offset}
	s.finish(b, p, &out, wantSecond)
	if own.Hi > own.Lo {
		out.strayS += (x - own.Home) * (x - own.Home)
	}
	return out
}

// ownTravel is what an arm can slide along itself.
func ownTravel(x reach.Range, c armChoice, along plane.Point) reach.Travel {
	own := reach.Travel{Slide: plane.Slide{Dir: along, Lo: x.Lo, Hi: x.Hi}, Home: (x.Lo + x.Hi) / 2}
	if c.lever >= 0 { // its travel may go on around the bend
		own.Home = own.Lo + c.leverHome - c.leverAt
	}
	return own
}

// slideForDrop returns where a lever free on the flat brings the drop contact nearest to its place while
// the hood stays: the hood fixes the bar but for a shift along itself, x, and the clamp must stay
// reachable. Reachable shifts form an interval.
func (s *side) slideForDrop(b *bike.Bike, choice armChoice, turn float64, base, got plane.Point, arm reach.Arm, known float64, want *assembly.Contact) float64 {
	drop, ok := b.Bar.Options[choice.bar].Part.DropContact()
	if !ok {
		return known
	}
	// drop = got + R(turn)·(drop - (x, y)): its distance from want is least where the x parts agree.
	best := plane.Clamp(drop.X-want.At.Sub(got).Turn(-turn).X, arm.X.Lo, arm.X.Hi)
	// The clamp stands at got - R(turn)·(x, y): every strip of where it can stand leaves a stretch of x.
	clamps := plane.NewZonogon(base, s.Slides)
	at, along := got.Sub(plane.Point{Y: arm.Y}.Turn(turn)).Sub(clamps.Centre), plane.Direction(turn)
	lo, hi := arm.X.Lo, arm.X.Hi
	for _, strip := range clamps.Strips() {
		slope, off := strip.Normal.Dot(along), strip.Normal.Dot(at)
		if math.Abs(slope) <= reach.Nought/(1+arm.X.Hi-arm.X.Lo) {
			continue // x does not matter to it
		}
		a, b := (off-strip.Half)/slope, (off+strip.Half)/slope
		lo, hi = math.Max(lo, math.Min(a, b)), math.Min(hi, math.Max(a, b))
	}
	if lo > hi { // one x only, but for rounding
		return known
	}
	return plane.Clamp(best, lo, hi)
}

// finish judges a settled half: what it misses by, where the second contact ends up, how far from home it is.
func (s *side) finish(b *bike.Bike, p bike.Posture, out *settled, wantSecond *assembly.Contact) {
	out.miss = s.Wish.Place.Sub(out.got.At)
	off := s.Wish.Weight * (out.got.Angle - s.Wish.Angle)
	out.square = out.miss.Dot(out.miss) + off*off
	for _, list := range [2][]int{s.slides, s.racks} {
		for _, i := range list {
			d := out.travels[i] - Home(b, i)
			out.strayS += d * d
		}
	}
	s.finishPart(b, p, out, wantSecond)
}

// finishPart is what of finish does not depend on the travels: where the second contact ends up, and how
// far turn, spacers and clip-on are from home.
func (s *side) finishPart(b *bike.Bike, p bike.Posture, out *settled, wantSecond *assembly.Contact) {
	out.strayS += s.turnStray(b, *out)
	out.strayS += spacerStray(b, out.base)
	if out.arm.clipon >= 0 {
		s.extendGrip(b, out, wantSecond)
	} else if p.Hands == bike.Hood && out.arm.bar >= 0 {
		if drop, ok := b.Bar.Options[out.arm.bar].Part.DropContact(); ok {
			out.second = &assembly.Contact{Name: bike.Drop, At: plane.Pose{Origin: out.clamp, Turn: out.turn}.At(drop)}
		}
	}
	if wantSecond != nil && out.second != nil {
		out.short = out.second.At.Distance(wantSecond.At)
	}
}

// spacerStray is how far free spacers are from the middle of what they may be, mm².
func spacerStray(b *bike.Bike, c baseChoice) float64 {
	if c.stem < 0 || !b.Stem.Spacers.Free {
		return 0
	}
	d := c.spacers - b.Stem.Spacers.Max/2
	return d * d
}

// turnStray is how far the turn is from where it stands now, or from the middle of what it may be.
func (s *side) turnStray(b *bike.Bike, out settled) float64 {
	switch {
	case s.turnBy >= 0:
		return stray(out.turn, Home(b, s.turnBy))
	case out.arm.saddle >= 0:
		return stray(out.turn, b.Saddle.Tilt.Mid())
	case out.arm.clipon >= 0:
		c := b.Clipon
		part := c.Options[out.arm.clipon].Part
		lo, hi := Within(c.Tilt, part.Tilt)
		holeLo, holeHi := Within(c.Hole, ends(part.Holes))
		stackLo, stackHi := Within(c.Stack, ends(part.Stacks))
		hole, stack := out.arm.hole-(holeLo+holeHi)/2, out.arm.stack-(stackLo+stackHi)/2
		return stray(out.turn, (lo+hi)/2) + hole*hole + stack*stack
	}
	return stray(out.turn, b.Bar.Rotation.Mid())
}

// extendGrip sets the extension: as near to the wanted grip as it goes, else to the middle of its travel.
func (s *side) extendGrip(b *bike.Bike, out *settled, want *assembly.Contact) {
	part := b.Clipon.Options[out.arm.clipon].Part
	lo, hi := Within(b.Clipon.Extension, part.GripForward)
	pose := plane.Pose{Origin: out.clamp, Turn: out.turn}
	pad := part.Pad(out.arm.hole, out.arm.stack)
	out.extend = (lo + hi) / 2
	if want != nil {
		out.extend = plane.Clamp(pose.Local(want.At).X-pad.X, lo, hi)
	}
	off := out.extend - (lo+hi)/2
	out.strayS += off * off
	out.second = &assembly.Contact{Name: bike.Grip, At: pose.At(part.Grip(out.arm.hole, out.arm.stack, out.extend))}
}

// Within is the stretch that a setting leaves of what a part offers. A setting that lies outside leaves the
// nearest end; a stated value is taken as it stands.
func Within(s bike.Setting, offers [2]float64) (lo, hi float64) {
	switch {
	case !s.Given:
		return offers[0], offers[1]
	case !s.Free:
		return s.Lo, s.Lo
	}
	return plane.Clamp(s.Lo, offers[0], offers[1]), plane.Clamp(s.Hi, offers[0], offers[1])
}

// ends are the least and the greatest of rising values.
func ends(rising []float64) [2]float64 { return [2]float64{rising[0], rising[len(rising)-1]} }
