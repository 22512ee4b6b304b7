package body

import (
	"errors"
	"math"

	"carryover/internal/bike"
	"carryover/internal/plane"
	"carryover/internal/written"
)

// Hands is what the hands or forearms hold.
type Hands struct {
	Contact bike.Contact
	At      plane.Point
	Angle   float64 // of the pads, radians
	// ElbowBehind is how far the elbow lies behind the pad contact along the pad, mm; used for pads.
	ElbowBehind float64
	// Elbow is the opening of the elbow that is assumed for hoods and drops, radians: hip and hand alone leave it open.
	Elbow float64
}

// usualElbow is a slightly bent elbow, 150° between upper arm and forearm. Common practice.
var usualElbow = plane.Rad(150)

// Upper is the rider's upper body. Points in the side view, mm; angles radians.
type Upper struct {
	Shoulder, Elbow plane.Point
	Trunk           float64 // of hip to shoulder against the level
	ShoulderOpening float64 // between trunk and upper arm
	ElbowOpening    float64
	ElbowAssumed    bool
	Arm             float64 // length of what reaches across: shoulder to hold, or to the elbow over pads, mm
	// ArmLost is what leaning the arms in or out takes from the reach, mm.
	ArmLost float64 // NaN where a width is not known
}

// Numbers is what a turn comes to. Angles radians, lengths mm.
type Numbers struct {
	KneeLowest, KneeHighest float64 // flexion with the pedal lowest and highest
	KneeLeast, KneeMost     float64 // least and greatest flexion of the turn
	HipLeast, HipLeastAt    float64 // least angle between trunk and thigh; NaN without an upper body
	ThighMost               float64 // greatest rise of the thigh against the level
	AnkleLeast, AnkleMost   float64
	KneeAhead               float64 // knee joint ahead of the pedal axle with the crank level and forward, mm
	KneecapAhead            float64 // the same from the front of the kneecap, as a plumb line from it shows
	Upper                   *Upper  // nil: not asked for or not known
	Widths                  Laterals
	DropsLost               float64 // as Upper.ArmLost, with the hands in the drops
	// LegLost is how much longer than in the side view the way from hip to ankle is across the bike, mm, at the lowest
	// pedal; KneeAcross is KneeLowest along that way: the knee bends less than the side view shows. NaN without widths.
	LegLost, KneeAcross float64
	UpperError          error // why Upper is nil though hands are given
}

// upper closes trunk and arms. Over pads the elbow rests on the pad and trunk and upper arm close the triangle; with
// hands on the bar the arm acts as one link of the length its assumed elbow leaves, and the elbow hangs below it.
func (s *Segments) upper(f Place) (*Upper, error) {
	if ok, missing := s.Upper(); !ok {
		return nil, errors.New("trunk and arms need " + written.And(missing) + ": give them, or height to estimate them from")
	}
	h, hip := f.Hands, s.hipJoint(f.Sit)
	u := &Upper{Arm: s.UpperArm.MM, Elbow: plane.Pose{Origin: h.At, Turn: h.Angle}.At(plane.Point{X: -h.ElbowBehind})}
	limb, to, forearm := "upper arm", u.Elbow, s.Forearm.MM+s.Hand.MM
	if h.Contact != bike.Pad {
		u.ElbowAssumed, u.ElbowOpening = true, h.Elbow
		limb, to, u.Arm = "arm", h.At, math.Sqrt(u.Arm*u.Arm+forearm*forearm-2*u.Arm*forearm*math.Cos(h.Elbow))
	}
	half := f.Widths.armOffset(s)
	seen, ok := side(u.Arm, half)
	if !ok {
		return nil, &ReachError{Limb: limb, Short: math.Abs(half) - u.Arm}
	}
	u.ArmLost = u.Arm - seen
	short := 0.0
	if u.Shoulder, short = closing(hip, s.Trunk.MM, to, seen, true); short != 0 {
		return nil, &ReachError{Limb: "upper body", Short: short}
	}
	if h.Contact == bike.Pad {
		u.ElbowOpening = opening(u.Shoulder, u.Elbow, u.Elbow.Add(plane.Direction(h.Angle)))
	} else {
		// The arm as seen from the side is shorter by the same share along its whole length.
		share := seen / u.Arm
		u.Elbow, short = closing(u.Shoulder, s.UpperArm.MM*share, h.At, forearm*share, false)
		if short != 0 { // a straight elbow can miss by a rounding
			u.Elbow = u.Shoulder.Add(h.At.Sub(u.Shoulder).Scale(s.UpperArm.MM / (s.UpperArm.MM + forearm)))
		}
	}
	trunk := u.Shoulder.Sub(hip)
	u.Trunk = math.Atan2(trunk.Y, trunk.X)
	u.ShoulderOpening = opening(hip, u.Shoulder, u.Elbow)
	return u, nil
}

// Turn works out the whole turn. The error is a *ReachError when the leg does not close everywhere; an upper body
// that does not close leaves Upper nil and says why in UpperError.
func (s *Segments) Turn(f Place) (*Numbers, error) {
	if short := s.shortest(f); short != nil {
		return nil, short
	}
	nan := math.NaN()
	n := &Numbers{HipLeast: nan, HipLeastAt: nan, DropsLost: nan, LegLost: nan, KneeAcross: nan, Widths: f.Widths}
	at := func(c float64) Leg { // the turn closes, as just seen
		l, _ := s.Leg(f, c)
		return l
	}
	low, forward, high := at(math.Pi), at(math.Pi/2), at(0)
	n.KneeLowest, n.KneeHighest = low.KneeFlexion, high.KneeFlexion
	n.KneeAhead = forward.Knee.X - forward.Pedal.X
	n.KneecapAhead = s.kneecap(forward).X - forward.Pedal.X
	ends := func(of func(Leg) float64) (least, most float64) {
		_, most = extreme(func(c float64) float64 { return of(at(c)) })
		_, least = extreme(func(c float64) float64 { return -of(at(c)) })
		return -least, most
	}
	n.KneeLeast, n.KneeMost = ends(func(l Leg) float64 { return l.KneeFlexion })
	n.AnkleLeast, n.AnkleMost = ends(func(l Leg) float64 { return l.AnkleOpening })
	var thighAt float64
	thighAt, n.ThighMost = extreme(func(c float64) float64 { return at(c).ThighAngle })
	if f.Hands != nil {
		n.Upper, n.UpperError = s.upper(f)
		if n.Upper != nil {
			n.HipLeast, n.HipLeastAt = n.Upper.Trunk-n.ThighMost, thighAt
			if s.Shoulders.MM == 0 || f.Widths.Hands == 0 {
				n.Upper.ArmLost = nan
			}
			if s.Shoulders.MM > 0 && f.Widths.Drops > 0 {
				n.DropsLost = reachLost(n.Upper.Arm, f.Widths.Drops, s.Shoulders.MM)
			}
		}
	}
	if f.Widths.QFactor > 0 && s.Hips.MM > 0 {
		reach := low.Hip.Distance(low.Ankle)
		across := math.Hypot(reach, f.Widths.legOffset(s))
		n.LegLost, n.KneeAcross = across-reach, flexion(s.Thigh.MM, s.Shank.MM, across)
	}
	return n, nil
}

// kneecap is the front of a knee: it faces forward across the mean direction of thigh and shank, so that it halves the angle
// between them.
func (s *Segments) kneecap(l Leg) plane.Point {
	u, v := l.Knee.Sub(l.Hip), l.Ankle.Sub(l.Knee)
	down := u.Scale(1 / u.Norm()).Add(v.Scale(1 / v.Norm()))
	return l.Knee.Add(down.Perp().Scale(s.Kneecap.MM / down.Norm()))
}

// flexion is how far the joint between two links bends, radians, when their ends are d apart; 0 when d is as long as both.
func flexion(a, b, d float64) float64 {
	return math.Pi - math.Acos(plane.Clamp((a*a+b*b-d*d)/(2*a*b), -1, 1))
}

// shortest is where on the turn the leg is furthest from closing; nil: it closes everywhere.
func (s *Segments) shortest(f Place) (worst *ReachError) {
	for i := range turnSteps {
		var e *ReachError
		if _, err := s.Leg(f, 2*math.Pi*float64(i)/turnSteps); errors.As(err, &e) && (worst == nil || math.Abs(e.Short) > math.Abs(worst.Short)) {
			worst = e
		}
	}
	return worst
}

// HipAt is the angle between trunk and thigh at one place of the turn, radians.
func (n *Numbers) HipAt(l Leg) float64 {
	if n.Upper == nil {
		return math.NaN()
	}
	return n.Upper.Trunk - l.ThighAngle
}
