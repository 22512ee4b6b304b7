package carry

import (
	"math"

	"carryover/internal/bike"
	"carryover/internal/saddle"
)

// Measure names the customary numbers of a position.
type Measure int

// Setback of the saddle's nose behind the BB; BB to the middle of the saddle, straight; nose to hands,
// level; middle of the saddle down to the hands; nose to bar centre, straight; floor to the middle of the
// saddle.
const (
	Setback Measure = iota
	SaddleHeight
	Reach
	Drop
	NoseToBar
	FloorHeight
	Measures
)

// MeasureNames are the trade's words for them, in the order of the constants.
var MeasureNames = [Measures]string{"setback", "saddle-height", "reach", "drop", "nose-to-bar", "floor-height"}

func (m Measure) String() string { return MeasureNames[m] }

// Reading is the measure as a reading on a bike, for hands at a contact.
func (m Measure) Reading(b *bike.Bike, hands bike.Contact) bike.Reading {
	nose, mid := b.Seat(saddle.Nose), b.Seat(saddle.Mid)
	switch m {
	case Setback:
		return bike.Reading{Kind: bike.Level, From: nose, To: placed(bike.AtBB)}
	case SaddleHeight:
		return bike.Reading{Kind: bike.Line, From: placed(bike.AtBB), To: mid}
	case Reach:
		return bike.Reading{Kind: bike.Level, From: nose, To: hands.Place()}
	case Drop:
		return bike.Reading{Kind: bike.Plumb, From: hands.Place(), To: mid}
	case NoseToBar:
		return bike.Reading{Kind: bike.Line, From: nose, To: b.Front(hands)}
	}
	return bike.Reading{Kind: bike.Plumb, From: placed(bike.AtFloor), To: mid}
}

// Coupling is how moving one setting disturbs a measure that another setting makes good again.
type Coupling struct {
	By         int     // setting moved
	Amount     float64 // its travel, mm or radians, forward or up
	Measure    Measure
	Change     float64 // of the measure, mm
	Mend       int     // setting that makes it good
	MendTravel float64
}

// Amounts that couplings are told for, and the least change worth telling.
const (
	couplingMM  = 10.0
	couplingRad = math.Pi / 180
	worthMM     = 0.2
)

// Couplings tells, from the geometry of the target as set up, how the settings of the saddle disturb one
// another, and those of the cockpit.
func (s *Solution) Couplings() []Coupling {
	var list []Coupling
	for _, m := range [...]Measure{SaddleHeight, Setback, Reach, Drop} {
		onSaddle := m == SaddleHeight || m == Setback
		g := Gauge{Reading: m.Reading(s.Target, s.Position.Posture.Hands)}
		mend, slope := s.mender(g, onSaddle)
		if mend < 0 {
			continue
		}
		base, ok := s.read(g)
		if !ok {
			continue
		}
		for i, set := range s.Settings {
			if i == mend || set.Sets.Built() || set.Fixed() || s.Idle(set.Settable) || set.Sets.OnSaddle() != onSaddle {
				continue
			}
			amount := couplingMM
			if set.Turns() {
				amount = couplingRad
			}
			if d := set.Heading; d.Y < -math.Abs(d.X) || d.X < -math.Abs(d.Y) {
				amount = -amount
			}
			v := s.travels()
			v[i] += amount
			moved, ok := s.at(v).read(g)
			if change := moved - base; ok && math.Abs(change) >= worthMM {
				list = append(list, Coupling{By: i, Amount: amount, Measure: m, Change: change, Mend: mend, MendTravel: -change / slope})
			}
		}
	}
	return list
}

// mender is the setting that a gauge answers most directly, by sliding; -1 when none does.
func (s *Solution) mender(g Gauge, onSaddle bool) (best int, slope float64) {
	const direct = 0.5 // mm per mm
	var slides []int
	for i, set := range s.Settings {
		// What is too coarse, or has its own angle, mends nothing.
		if !set.Sets.Built() && set.Sets != bike.SetsLever && !set.Turns() && !set.Fixed() && !s.Idle(set.Settable) &&
			set.Sets.OnSaddle() == onSaddle {
			slides = append(slides, i)
		}
	}
	if best, slope = s.answers(g, slides); math.Abs(slope) < direct {
		return -1, 0
	}
	return best, slope
}

// Towards says in a word or two where a setting goes when its travel changes by d.
func (set *Setting) Towards(d float64) string {
	words := [2]string{"forward", "back"}
	switch h := set.Heading; {
	case set.Sets == bike.SetsSaddleTilt:
		words = [2]string{"nose up", "nose down"}
	case set.Turns():
		words = [2]string{"front up", "front down"}
	case set.Sets == bike.SetsLever:
		words = [2]string{"towards the drops", "towards the tops"}
	case set.Sets.Sideways():
		words = [2]string{"apart", "together"}
	case math.Abs(h.Y) > math.Abs(h.X):
		words = [2]string{"up", "down"}
		if h.Y < 0 {
			d = -d
		}
	case h.X < 0:
		d = -d
	}
	if d < 0 {
		return words[1]
	}
	return words[0]
}
