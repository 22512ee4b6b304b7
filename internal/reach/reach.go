// Package reach brings one contact as near as possible to where it is wanted, over everything that can
// be moved, and proves that nothing comes nearer.
//
// One side of a bike (the saddle's or the hands') is a clamp and a part that turns in it:
//
//	contact = base + Σ travel_i·dir_i + R(t)·(x, y)
//
// base is fixed or one of many (stems, spacers), travels are free within stops or stand on steps, t is the
// turn (saddle tilt, bar rotation, pad tilt), and x may slide in the part's own frame (rails in their
// clamp, a lever on the flat of the bar). The cost is
//
//	E² = |contact - want|² + (k·(t - angle))²   mm²
//
// For a given turn the reachable places form a zonogon and the best one is a projection. The turn is the
// one nonlinear unknown; its optimum is proven by branch and bound (see turn.go). Steps are enumerated
// within a radius that the best answer so far leaves open (see search.go).
package reach

import (
	"math"

	"carryover/internal/plane"
)

// Wish is where a contact should be.
type Wish struct {
	Place  plane.Point
	Angle  float64 // of the contact, radians
	Weight float64 // k: mm of place that one radian of angle is worth, more than 0
}

// Range is what a turn or slide may be, Lo to Hi.
type Range struct{ Lo, Hi float64 }

// Turn is what a part may be turned to, radians: one of Values when there are any, else anything in the range.
type Turn struct {
	Range
	Values []float64
}

// Arm is the part between clamp and contact, seen in the frame that turns.
type Arm struct {
	X      Range   // along the part, mm; Lo = Hi when it cannot slide
	Y      float64 // mm
	Offset float64 // angle of the contact when the part's turn is 0, radians
	Turn   Turn
	Bend   *Bend // not nil: a lever free on the bend of a bar, X and Y unused
	Goes   bool  // goes on where the arm before it ends: another stretch of it, not a choice of its own
}

// Bend is a lever mounted anywhere along the forward bend of a bar. At angle f around the bend,
//
//	contact - clamp = R(t)·Centre + R(t - f)·Hand,   contact angle = Offset + t - f.
type Bend struct {
	Centre plane.Point // of the bend, from the clamp, mm
	Hand   plane.Point // from the bend's centre to the hand at f = 0, mm
	F      Range       // radians around the bend
}

// Rack is an adjuster that stands only on steps: travel = First + j·Step along Dir, 0 <= j < Count, mm.
type Rack struct {
	Dir         plane.Point
	First, Step float64
	Count       int
}

// Slide is the rack with its steps forgotten: a relaxation.
func (r Rack) Slide() plane.Slide {
	last := r.First + float64(r.Count-1)*r.Step
	return plane.Slide{Dir: r.Dir, Lo: math.Min(r.First, last), Hi: math.Max(r.First, last)}
}

// at is the displacement of step j.
func (r Rack) at(j int) plane.Point { return r.Dir.Scale(r.First + float64(j)*r.Step) }

// Side is everything that can be moved to bring one contact into place.
type Side struct {
	Bases  []plane.Point // clamp positions with every travel at 0
	Slides []plane.Slide
	Racks  []Rack
	Arms   []Arm
	Wish   Wish
}

// Combinations is the number of discrete ways the side can be built and set.
func (s *Side) Combinations() float64 {
	n := float64(len(s.Bases))
	for _, r := range s.Racks {
		n *= float64(r.Count)
	}
	arms := 0.0
	for _, a := range s.Arms {
		if !a.Goes {
			arms += float64(max(1, len(a.Turn.Values)))
		}
	}
	return n * arms
}

// Candidate is one discrete choice with its best turn.
type Candidate struct {
	Base, Arm int
	Steps     []int   // of the racks
	Turn      float64 // t, radians
	Around    float64 // f around the bend, radians, for an arm on the bend
	Square    float64 // E², mm²
}

// Nought is the distance, mm, below which a contact counts as reached: three orders below the 1e-6 mm that
// settings are compared to, four above rounding in coordinates of a metre.
const Nought = 1e-9

// limb is one arm over one continuous set of clamp places, with room to work in.
type limb struct {
	wish  Wish
	arm   *Arm
	set   plane.Zonogon // clamp places; its last half is the arm's own slide
	slide int           // index of that half in set.Half, -1 without
	clamp plane.Point   // centre of the clamp places
}

func newLimb(w Wish, a *Arm, clamps plane.Zonogon) limb {
	l := limb{wish: w, arm: a, slide: -1, clamp: clamps.Centre}
	l.set.Half = append(make([]plane.Point, 0, len(clamps.Half)+1), clamps.Half...)
	if a.Bend == nil && a.X.Hi > a.X.Lo {
		l.slide = len(l.set.Half)
		l.set.Half = append(l.set.Half, plane.Point{})
	}
	return l
}

// wanted is the turn that would give the contact its angle.
func (l *limb) wanted() float64 { return l.wish.Angle - l.arm.Offset }

// miss returns the vector from the nearest place the contact can have at turn t to where it is wanted.
func (l *limb) miss(t float64) plane.Point {
	mid := l.arm.X.Lo + (l.arm.X.Hi-l.arm.X.Lo)/2
	along := plane.Direction(t)
	if l.slide >= 0 {
		l.set.Half[l.slide] = along.Scale((l.arm.X.Hi - l.arm.X.Lo) / 2)
	}
	l.set.Centre = l.clamp.Add(along.Scale(mid)).Add(along.Perp().Scale(l.arm.Y))
	return l.wish.Place.Sub(l.set.Nearest(l.wish.Place))
}

// square is E² at turn t.
func (l *limb) square(t float64) float64 {
	m := l.miss(t)
	a := l.wish.Weight * (t - l.wanted())
	return m.Dot(m) + a*a
}

// longest is the greatest distance of the contact from the clamp: how fast it can move per radian, mm.
func (a *Arm) longest() float64 {
	if a.Bend != nil {
		return a.Bend.Centre.Norm() + a.Bend.Hand.Norm()
	}
	return math.Hypot(math.Max(math.Abs(a.X.Lo), math.Abs(a.X.Hi)), a.Y)
}

// Best returns the turn t (and f, for an arm on the bend) of least E² for one arm with its clamp anywhere
// in clamps, and that E², mm². It gives up early, returning +Inf, once E² is proven to be at least cutoff.
func Best(w Wish, a *Arm, clamps plane.Zonogon, cutoff float64) (t, f, square float64) {
	if len(a.Turn.Values) > 0 {
		square = math.Inf(1)
		for _, v := range a.Turn.Values {
			one := *a
			one.Turn = Turn{Range: Range{v, v}}
			if vt, vf, s := Best(w, &one, clamps, math.Min(cutoff, square)); s < square {
				t, f, square = vt, vf, s
			}
		}
		return t, f, square
	}
	if a.Bend != nil {
		return bestOnBend(w, a, clamps, cutoff)
	}
	l := newLimb(w, a, clamps)
	t, square = l.bestTurn(a.Turn.Range, cutoff)
	return t, 0, square
}
