package carry

import (
	"fmt"
	"math"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/cockpit"
	"carryover/internal/plane"
	"carryover/internal/reach"
	"carryover/internal/saddle"
)

// side is one half of the target (saddle or hands) as a search, with what each of its choices means. The
// halves share nothing, so the best bike is the best of each.
type side struct {
	reach.Side
	bases  []baseChoice
	arms   []armChoice
	slides []int // adjuster of each slide
	racks  []int // adjuster of each rack
	turnBy int   // adjuster that turns the part, -1: a setting
	wasted []string
}

// baseChoice is a stem with its spacers; stem -1: the anchor.
type baseChoice struct {
	stem    int
	flip    bool
	spacers float64
}

// armChoice is the parts and settings of one arm, as indexes into the slots' options, -1: none.
type armChoice struct {
	saddle     int
	station    float64 // of the support
	fit        saddle.Fit
	bar, lever int
	clipon     int
	hole       float64
	stack      float64
	leverAt    float64 // of a fixed lever, and of X.Lo on the flat
	leverHome  float64 // middle of where a lever may stand
}

// travels sets up what the adjusters of one side can do.
func (s *side) travels(b *bike.Bike, moves, turns bike.Moves) {
	for _, i := range b.Moving(moves) {
		a := &b.Adjusters[i]
		if a.Indexed() {
			s.racks = append(s.racks, i)
			s.Racks = append(s.Racks, reach.Rack{Dir: a.Direction(), First: a.Travel(a.Lo),
				Step: a.Travel(a.Step), Count: a.Steps()})
			continue
		}
		s.slides = append(s.slides, i)
		lo, hi := a.Travel(a.Lo), a.Travel(a.Hi)
		s.Slides = append(s.Slides, plane.Slide{Dir: a.Direction(), Lo: math.Min(lo, hi), Hi: math.Max(lo, hi)})
	}
	s.turnBy = -1
	if on := b.Moving(turns); len(on) > 0 {
		s.turnBy = on[0]
	}
}

// turn is what a part may be turned to: by an adjuster, or by a setting without a scale.
func (s *side) turn(b *bike.Bike, set bike.Setting) reach.Turn {
	if s.turnBy >= 0 {
		a := &b.Adjusters[s.turnBy]
		if a.Indexed() {
			var t reach.Turn
			for j := range a.Steps() {
				t.Values = append(t.Values, a.Travel(a.Lo+float64(j)*a.Step))
			}
			return t
		}
		lo, hi := a.Travel(a.Lo), a.Travel(a.Hi)
		return reach.Turn{Range: reach.Range{Lo: math.Min(lo, hi), Hi: math.Max(lo, hi)}}
	}
	return reach.Turn{Range: reach.Range{Lo: set.Lo, Hi: set.Hi}}
}

// ClampRange is the stretch of stations a saddle's clamp may hold, mm: the setting within the rails; ok is
// false when there is none.
func ClampRange(s bike.Setting, r saddle.Rail) (reach.Range, bool) {
	switch {
	case !s.Given:
		mid := (r.From + r.To) / 2
		return reach.Range{Lo: mid, Hi: mid}, true
	case s.Free:
		lo, hi := math.Max(s.Lo, r.From), math.Min(s.Hi, r.To)
		return reach.Range{Lo: lo, Hi: hi}, lo <= hi
	}
	return reach.Range{Lo: s.Lo, Hi: s.Lo}, s.Lo >= r.From-1e-9 && s.Lo <= r.To+1e-9
}

// saddleSide sets up the saddle half.
func saddleSide(b *bike.Bike, p bike.Posture, want assembly.Contact) (*side, error) {
	if b.Saddle.Empty() {
		return nil, fmt.Errorf("%s has no saddle: give [saddle] part = \"...\"", b.File)
	}
	if b.SaddleAnchor == nil {
		return nil, fmt.Errorf("%s does not say where its saddle clamp is: give [anchor] saddle_clamp = [x, y]", b.File)
	}
	s := &side{bases: []baseChoice{{stem: -1}}}
	s.Bases = []plane.Point{*b.SaddleAnchor}
	s.travels(b, bike.MovesSaddle, bike.MovesSaddleTilt)
	s.Wish = reach.Wish{Place: want.At, Angle: want.Angle, Weight: p.Weights.Angle}
	turn := s.turn(b, b.Saddle.Tilt)
	for i, o := range b.Saddle.Options {
		clamp, ok := ClampRange(b.Saddle.ClampAt, o.Part.Rail)
		if !ok {
			s.wasted = append(s.wasted, fmt.Sprintf("%s: the clamp cannot hold its rails, which may be held from %g to %g", o.Name, o.Part.Rail.From, o.Part.Rail.To))
			continue
		}
		station, fit := o.Part.WidthStation(p.Support)
		s.arms = append(s.arms, armChoice{saddle: i, station: station, fit: fit, bar: -1, lever: -1, clipon: -1})
		// contact = C + R(t)·(c - station, rail height + top - sag)
		s.Arms = append(s.Arms, reach.Arm{X: reach.Range{Lo: clamp.Lo - station, Hi: clamp.Hi - station},
			Y: o.Part.Rail.Height + o.Part.Loaded(station).Y, Turn: turn})
	}
	if len(s.Arms) == 0 {
		return nil, fmt.Errorf("%s: no saddle can be held: %s", b.File, s.wasted[0])
	}
	return s, nil
}

// handSide sets up the hands' half.
func handSide(b *bike.Bike, p bike.Posture, want assembly.Contact) (*side, error) {
	s := &side{}
	s.travels(b, bike.MovesBar, bike.MovesBarRotation)
	s.Wish = reach.Wish{Place: want.At, Angle: want.Angle, Weight: p.Weights.Angle}
	if err := s.clamps(b); err != nil {
		return nil, err
	}
	var err error
	switch p.Hands {
	case bike.Pad:
		err = s.padArms(b)
	default:
		err = s.barArms(b, p.Hands)
	}
	if err != nil {
		return nil, err
	}
	if len(s.Arms) == 0 {
		return nil, fmt.Errorf("%s: nothing fitted gives a place for the %s", b.File, p.Hands)
	}
	return s, nil
}

// clamps lists where the bar can be clamped: every stem, either way up, on every stack of spacers.
func (s *side) clamps(b *bike.Bike) error {
	if b.Stem == nil {
		if b.BarAnchor == nil {
			return fmt.Errorf("%s does not say where its bar is: give [anchor] bar_clamp = [x, y] or a [stem] on a frame with stack and reach", b.File)
		}
		s.Bases, s.bases = []plane.Point{*b.BarAnchor}, []baseChoice{{stem: -1}}
		return nil
	}
	steerer, ok := b.Steerer()
	if !ok {
		return fmt.Errorf("%s has a stem but no steerer: give frame head_angle with stack and reach, or [steerer] top = [x, y]", b.File)
	}
	for i, o := range b.Stem.Options {
		for _, flip := range b.Stem.Ways(i) {
			for _, h := range b.Stem.Spacers.Heights() {
				s.Bases = append(s.Bases, steerer.BarClamp(*o.Part, flip, h))
				s.bases = append(s.bases, baseChoice{i, flip, h})
			}
		}
	}
	return nil
}

// barArms lists the bars, with each lever where the hands are on the hoods.
func (s *side) barArms(b *bike.Bike, hands bike.Contact) error {
	if b.Bar.Empty() {
		return fmt.Errorf("%s has no bar: give [bar] part = \"...\"", b.File)
	}
	turn := s.turn(b, b.Bar.Rotation)
	for i, o := range b.Bar.Options {
		choice := armChoice{saddle: -1, bar: i, lever: -1, clipon: -1}
		if hands == bike.Drop {
			if at, ok := o.Part.DropContact(); ok {
				s.add(choice, reach.Arm{X: reach.Range{Lo: at.X, Hi: at.X}, Y: at.Y, Turn: turn})
			}
			continue
		}
		if o.Part.Hood != nil {
			at := *o.Part.Hood
			s.add(choice, reach.Arm{X: reach.Range{Lo: at.X, Hi: at.X}, Y: at.Y, Offset: o.Part.HoodAngle, Turn: turn})
			continue
		}
		for j, lever := range b.Bar.Lever.Options {
			choice.lever = j
			s.leverArms(o.Part, lever.Part, b.Bar.LeverAt, choice, turn)
		}
	}
	if hands == bike.Hood && len(s.Arms) == 0 && b.Bar.Lever.Empty() {
		return fmt.Errorf("%s has no levers on its bar: give [bar] lever = \"...\", or a bar with hood = [x, y]", b.File)
	}
	return nil
}

func (s *side) add(c armChoice, a reach.Arm) {
	s.arms = append(s.arms, c)
	s.Arms = append(s.Arms, a)
}

// leverArms adds a lever where it stands, or the flat run and the bend along which it may slide.
func (s *side) leverArms(bar *cockpit.Bar, lever *cockpit.Lever, at bike.Setting, c armChoice, turn reach.Turn) {
	if !at.Free {
		p, angle, ok := bar.HoodContact(lever, at.Lo)
		if !ok {
			return
		}
		c.leverAt = at.Lo
		s.add(c, reach.Arm{X: reach.Range{Lo: p.X, Hi: p.X}, Y: p.Y, Offset: angle, Turn: turn})
		return
	}
	if !bar.Curved() {
		return
	}
	first, last := bar.LeverTravel()
	lo, hi := math.Max(at.Lo, first), math.Min(at.Hi, last)
	if lo > hi {
		s.wasted = append(s.wasted, fmt.Sprintf("the lever cannot stand from %g to %g on this bar", at.Lo, at.Hi))
		return
	}
	c.leverHome = (lo + hi) / 2
	if lo <= 0 {
		from, _, _ := bar.HoodContact(lever, lo)
		to, _, _ := bar.HoodContact(lever, math.Min(hi, 0))
		c.leverAt = lo
		s.add(c, reach.Arm{X: reach.Range{Lo: from.X, Hi: to.X}, Y: from.Y, Offset: lever.Angle, Turn: turn})
	}
	if hi > 0 {
		c.leverAt = math.Max(lo, 0)
		s.add(c, reach.Arm{Offset: lever.Angle, Turn: turn, Goes: lo <= 0, Bend: &reach.Bend{
			Centre: bar.BendCentre(),
			Hand:   plane.Point{X: lever.Along, Y: bar.Bend + lever.Out},
			F:      reach.Range{Lo: math.Max(lo, 0) / bar.Bend, Hi: hi / bar.Bend},
		}})
	}
}

// padArms lists the clip-ons with every hole, riser and tilt that is allowed.
func (s *side) padArms(b *bike.Bike) error {
	if b.Clipon == nil {
		return fmt.Errorf("%s has no clip-on for the pads: give [clipon] part = \"...\"", b.File)
	}
	s.turnBy = -1
	c := b.Clipon
	for i, o := range c.Options {
		turn, ok := Tilts(o.Part, c.Tilt)
		holes, stacks := Offered(o.Part.Holes, c.Hole), Offered(o.Part.Stacks, c.Stack)
		if !ok || len(holes) == 0 || len(stacks) == 0 {
			s.wasted = append(s.wasted, fmt.Sprintf("%s offers no tilt, hole or riser within what [clipon] allows", o.Name))
			continue
		}
		for _, hole := range holes {
			for _, stack := range stacks {
				at := o.Part.Pad(hole, stack)
				s.add(armChoice{saddle: -1, bar: -1, lever: -1, clipon: i, hole: hole, stack: stack},
					reach.Arm{X: reach.Range{Lo: at.X, Hi: at.X}, Y: at.Y, Turn: turn})
			}
		}
	}
	if len(s.Arms) == 0 {
		return fmt.Errorf("%s: %s", b.File, s.wasted[0])
	}
	return nil
}

// inReach forgives what decimals in a file cannot express.
const inReach = 1e-6

// Offered lists what a part offers of a setting: all of it when the file does not say, a stated value as it
// stands, and of a stretch what lies in it.
func Offered(all []float64, s bike.Setting) []float64 {
	if !s.Given {
		return all
	}
	if !s.Free {
		return []float64{s.Lo}
	}
	var some []float64
	for _, v := range all {
		if v >= s.Lo-inReach && v <= s.Hi+inReach {
			some = append(some, v)
		}
	}
	return some
}

// Tilts are the tilts a clip-on can have within a setting; ok is false when there is none.
func Tilts(c *cockpit.Clipon, s bike.Setting) (t reach.Turn, ok bool) {
	if s.Given && !s.Free {
		return reach.Turn{Range: reach.Range{Lo: s.Lo, Hi: s.Lo}}, true
	}
	lo, hi := c.Tilt[0], c.Tilt[1]
	from, to := lo, hi
	if s.Given {
		from, to = math.Max(lo, s.Lo), math.Min(hi, s.Hi)
	}
	if c.TiltStep <= 0 {
		return reach.Turn{Range: reach.Range{Lo: from, Hi: to}}, from <= to
	}
	for j := 0; ; j++ {
		v := lo + float64(j)*c.TiltStep
		if v > hi+1e-9 {
			break
		}
		if v >= from-1e-9 && v <= to+1e-9 {
			t.Values = append(t.Values, v)
		}
	}
	return t, len(t.Values) > 0
}
