// Package bike is a bike as its file describes it, with every part found and every number in its unit:
// what is fitted, what can be moved, where the marks stand, how the rider uses it and what was measured.
// It holds no geometry of its own and reads no files.
package bike

import (
	"slices"

	"math"

	"carryover/internal/cockpit"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Bike is one machine, outdoor or adjustable, as source or as target. Lengths mm, angles radians.
type Bike struct {
	File string // what the user called it: a path, or example:NAME
	Name string

	Record Record

	Frame  Frame
	Feet   Feet
	Saddle SaddleFit
	Bar    BarFit
	Stem   *StemFit   // nil: the bar hangs on its anchor
	Clipon *CliponFit // nil: none

	SaddleAnchor, BarAnchor *plane.Point // clamp with every mark at 0; nil: not given
	AnchorSigma             float64      // standard uncertainty of each number of an anchor, mm
	Adjusters               []Adjuster
	Marks                   map[string]float64 // adjuster name to mark
	Postures                []Posture
	Readings                []Reading
	Calibrations            []Calibration
	Assumed                 []string // what the file left out and was filled in, in words
}

// Record is what a file says of itself.
type Record struct {
	Date          string // YYYY-MM-DD
	Fitter, Notes string
}

// Frame is what does not move. A nil pointer is a number the file does not give.
type Frame struct {
	BBHeight                        *float64 // floor to BB centre, mm
	SeatAngle, HeadAngle            *float64 // radians
	Stack, Reach, Cover, FrontAxleX *float64 // mm
	SteererTop                      *plane.Point
	Pitch                           float64 // how much higher the front stands ridden than read, radians
}

// Feet is the drive side's share of the position.
type Feet struct {
	Crank      float64   // fitted length, mm
	Cranks     []float64 // lengths it can be set to; empty: only the fitted one
	SoleHeight float64   // pedal axle to the underside of the foot, mm
	NoSole     bool      // sole_height is left out: SoleHeight says nothing
	QFactor    *float64  // lateral, mm
}

// Setting is something with a place but no scale: fixed at Lo (= Hi), or free from Lo to Hi.
type Setting struct {
	Given  bool // the file names it
	Free   bool
	Lo, Hi float64
}

// Mid is the middle of the stretch, and the value itself when fixed.
func (s Setting) Mid() float64 { return s.Lo + (s.Hi-s.Lo)/2 }

// Fixed returns a setting that stands at v.
func Fixed(v float64) Setting { return Setting{Given: true, Lo: v, Hi: v} }

// Slot is where a part goes: one part, or with Open several to choose from.
type Slot[T any] struct {
	Open    bool
	Options []Option[T]
}

// Empty reports whether nothing is fitted.
func (s Slot[T]) Empty() bool { return len(s.Options) == 0 }

// Only returns the single part of a slot that is not open, nil when the slot is empty.
func (s Slot[T]) Only() *T {
	if s.Empty() {
		return nil
	}
	return s.Options[0].Part
}

// Option is one part that a slot may hold.
type Option[T any] struct {
	ID    string  // catalogue id, "file:PATH", or "inline"
	Name  string  // what a person calls it
	Sigma float64 // standard uncertainty of the part's numbers, mm
	Part  *T
}

// SaddleFit is the saddle and how its rails are held.
type SaddleFit struct {
	Slot[saddle.Shape]
	Stretch Stretch  // what the file fits the part to
	ClampAt Setting  // station the clamp holds, mm; not given: the middle of each saddle's rail stretch
	Tilt    Setting  // radians; not given: 0 for a target, assumed for a source
	Sag     *float64 // of a saddle without a part, mm; nil: not given
	Arm     *Arm     // of a saddle without a part that stands somewhere
}

// Stretch is the length and the greatest width that a saddle's shape is fitted to, mm; 0: as its part has it.
type Stretch struct{ Length, Width float64 }

// BarFit is the bar with its levers.
type BarFit struct {
	Slot[cockpit.Bar]
	Lever      Slot[cockpit.Lever]
	LeverAt    Setting         // arc position q, mm
	Rotation   Setting         // radians
	ClampWidth *float64        // lateral width of what holds the bar, mm
	Arms       map[Contact]Arm // of what no part gives, where it stands somewhere
}

// Arm is a contact of a body without a shape, seen from the clamp that holds the body, in the body's frame: the contact
// lies at clamp + R(turn)·At.
type Arm struct {
	At    plane.Point // mm
	Angle float64     // of the contact against the body, radians
	Sigma plane.Point // standard uncertainty of At, along and across the body, mm
	Taken bool        // the clamp was not read: its place is taken to be a usual one

	NoAngle bool // Angle is not known, or has no meaning
	NoTurn  bool // nothing says where the clamp is, not even by the usual: the body cannot be turned
}

// StemFit is the stem with its spacers.
type StemFit struct {
	Slot[cockpit.Stem]
	Flip    *bool // nil: either way up in an open slot, upright otherwise
	Spacers Spacers
}

// Spacers is the height of the spacers under the stem, mm: free from 0 to Max in Steps when Free, else Fixed.
type Spacers struct {
	Given, Free      bool
	Fixed, Max, Step float64
}

// CliponFit is the clip-on and how its pads are set. A setting not given is, on a target, anything the part offers.
type CliponFit struct {
	Slot[cockpit.Clipon]
	Tilt      Setting // radians
	Hole      Setting // mm
	Stack     Setting // mm
	Extension Setting // mm
	Spacing   Setting // lateral, mm
}

// Moves says what an adjuster moves.
type Moves int

// What adjusters move.
const (
	MovesSaddle Moves = iota
	MovesBar
	MovesSaddleTilt
	MovesBarRotation
)

// MovesNames are the words of the file, in the order of the constants.
var MovesNames = []string{"saddle", "bar", "saddle-tilt", "bar-rotation"}

func (m Moves) String() string { return MovesNames[m] }

// Turns reports whether the adjuster turns something, its travel being an angle.
func (m Moves) Turns() bool { return m == MovesSaddleTilt || m == MovesBarRotation }

// Adjuster moves something along its direction (or turns it) and carries a scale.
type Adjuster struct {
	Name     string
	Moves    Moves
	Angle    float64 // direction of travel as the mark rises, radians
	Unit     float64 // mm, or radians, per 1.0 of the scale; may be negative
	Lo, Hi   float64 // range, marks, Lo <= Hi
	Step     float64 // marks; 0: anywhere, else only Lo + k·Step
	Sigma    float64 // standard uncertainty of setting it, mm or radians
	NoScale  bool    // marked = false: it has a range but no scale to read
	ByTape   bool    // no part of the file: only a tape says where it is, its travel says nothing
	NoRange  bool    // range is left out: no stop is known, Lo and Hi say nothing
	FromHere bool    // it has no mark: travel counts from where it stands, of one that turns from Saddle.Tilt or Bar.Rotation
}

// Direction is the unit vector of travel for a rising mark.
func (a *Adjuster) Direction() plane.Point { return plane.Direction(a.Angle) }

// Travel turns a mark into mm or radians.
func (a *Adjuster) Travel(mark float64) float64 { return mark * a.Unit }

// Indexed reports whether the adjuster stands only on steps.
func (a *Adjuster) Indexed() bool { return a.Step > 0 && (a.unbound() || a.Hi > a.Lo) }

// Steps is how many steps fit into the range of an indexed adjuster; rounding in a step like 0.1 must not
// lose the last.
func (a *Adjuster) Steps() int {
	if a.unbound() {
		_, way := a.Stops()
		return 2*int(math.Round(way/math.Abs(a.Travel(a.Step)))) + 1
	}
	return int(math.Floor((a.Hi-a.Lo)/a.Step+1e-9)) + 1
}

// Posture is a named way to ride the bike. Its support is a width, the rider's sit bones (SitBones, the width then
// filled in from the rider) or a station of this bike's own saddle (At).
type Posture struct {
	Name         string
	Hands        Contact
	SitBones     bool
	At           *float64 // station, mm; Support is then this saddle's width there
	Support      float64  // support width, mm
	SupportSigma float64  // standard uncertainty of Support, or of At where that is given, mm
	Weights      Weights
}

// Weights are what a miss costs: leg extension, setback and hands per mm, angles in mm per radian.
type Weights struct{ Extension, Setback, Hands, Angle float64 }

// DegreeCost is the usual weight of an angle: 1.75 mm per degree, which is 1° over 100 mm.
const DegreeCost = 1.75

// DefaultWeights counts leg extension three times (common practice: height before setback) and angles at DegreeCost.
func DefaultWeights() Weights {
	return Weights{Extension: 3, Setback: 1, Hands: 1, Angle: plane.Deg(DegreeCost)} // mm per degree to mm per radian
}

// Contact is a place where rider and bike touch.
type Contact string

// The contacts of the side view; the feet follow from the crank.
const (
	Sit  Contact = "sit"
	Hood Contact = "hood"
	Drop Contact = "drop"
	Pad  Contact = "pad"
	Grip Contact = "grip"
)

// Posture returns the posture of that name.
func (b *Bike) Posture(name string) (Posture, bool) {
	for _, p := range b.Postures {
		if p.Name == name {
			return p, true
		}
	}
	return Posture{}, false
}

// Moving returns the indexes of the adjusters that move m, in file order.
func (b *Bike) Moving(m Moves) []int {
	var found []int
	for i := range b.Adjusters {
		if b.Adjusters[i].Moves == m {
			found = append(found, i)
		}
	}
	return found
}

// Scaled reports whether something that moves m has a scale.
func (b *Bike) Scaled(m Moves) bool {
	return slices.ContainsFunc(b.Adjusters, func(a Adjuster) bool { return a.Moves == m && !a.NoScale })
}

// Opens reports whether a slot of the bike is open: parts to choose from in place of the one that is fitted.
func (b *Bike) Opens() bool {
	return b.Saddle.Open || b.Bar.Open || b.Bar.Lever.Open || b.Stem != nil && b.Stem.Open || b.Clipon != nil && b.Clipon.Open
}

// OnStem is where the bar's clamp is held by the one stem that is fitted; ok is false when the bike does not say.
func (b *Bike) OnStem() (clamp plane.Point, ok bool) {
	if b.Stem == nil || b.Stem.Only() == nil {
		return clamp, false
	}
	steerer, ok := b.Steerer()
	if !ok {
		return clamp, false
	}
	return steerer.BarClamp(*b.Stem.Only(), b.Stem.Flipped(), b.Stem.Spacers.Fixed), true
}

// Steerer returns the steerer axis, from the measured top or from frame stack, reach and cover; ok is
// false when the frame does not give it.
func (b *Bike) Steerer() (s cockpit.Steerer, ok bool) {
	f := b.Frame
	if f.HeadAngle == nil {
		return s, false
	}
	s.HeadAngle = *f.HeadAngle
	switch {
	case f.SteererTop != nil:
		s.Top = *f.SteererTop
	case f.Stack != nil && f.Reach != nil:
		cover := 0.0
		if f.Cover != nil {
			cover = *f.Cover
		}
		s.Top = plane.Point{X: *f.Reach, Y: *f.Stack}.Add(s.Up().Scale(cover))
	default:
		return s, false
	}
	return s, true
}

// Flipped says that the stem is fitted upside down; one of which nothing is said is upright.
func (s *StemFit) Flipped() bool { return s.Flip != nil && *s.Flip }

// Ways lists how the stem of an option may be turned: as it is said to be, in an open slot that does not say both ways where that
// makes a difference.
func (s *StemFit) Ways(option int) []bool {
	if s.Flip == nil && s.Open && s.Options[option].Part.Angle != 0 {
		return []bool{false, true}
	}
	return []bool{s.Flipped()}
}

// Heights lists the stacks of spacers that can be built, mm: the fixed one, or 0 to Max in steps.
func (s Spacers) Heights() []float64 {
	if !s.Free {
		return []float64{s.Fixed}
	}
	var all []float64
	for j := 0; ; j++ {
		h := float64(j) * s.Step
		if h > s.Max+1e-9 {
			return all
		}
		all = append(all, h)
		if s.Step <= 0 {
			return all
		}
	}
}
