// Package body is a rider in the side view: how long the parts of the body are, the closed linkage of crank,
// foot, shank and thigh through a whole turn, and trunk and arms over it. It says how joints open on a given
// bike. The numbers describe geometry; they are no medical claim.
package body

import (
	"fmt"

	"carryover/internal/bike"
	"carryover/internal/written"
)

// Origin says how well a length is known.
type Origin int

// A length is measured on the rider, estimated from the stature by a published ratio, or assumed.
const (
	Measured Origin = iota
	Estimated
	Assumed
)

func (o Origin) String() string { return [...]string{"measured", "estimated", "assumed"}[o] }

// Length is one length of the body, mm.
type Length struct {
	Key    string  `json:"name"` // as in a rider file where it has a key there
	Name   string  `json:"-"`    // what a person calls it
	MM     float64 `json:"length"`
	Origin Origin  `json:"origin"`
	Source string  `json:"source,omitempty"` // of an estimate or an assumption
}

// Segments are the lengths the linkage is made of, mm, joint to joint.
type Segments struct {
	Thigh, Shank             Length
	AnkleHeight, BallToAnkle Length // ankle above the sole; pedal axle back to below the ankle
	Trunk                    Length // hip joint to shoulder joint
	UpperArm, Forearm, Hand  Length // hand: wrist to where it rests on the bar
	HipAboveSaddle           Length // hip joint above the loaded saddle contact
	Shoulders                Length // lateral, joint to joint
	Hips                     Length // lateral, joint to joint
	Kneecap                  Length // front of the kneecap ahead of the knee joint
	missing                  []string
}

const (
	drillis       = "Drillis & Contini 1966, in Winter 2009, fig. 4.1"
	drillisMemory = drillis + " (from memory)"
)

// Ratios of stature by Drillis and Contini 1966, as drawn in Winter, Biomechanics and Motor Control of Human
// Movement, 4th ed. 2009, fig. 4.1. One source only: another study's landmarks differ, and mixing two costs 12 mm
// in the thigh for every metre of stature. Trunk is shoulder height 0.818 less hip height 0.530.
const (
	thighRatio    = 0.245
	shankRatio    = 0.246
	ankleRatio    = 0.039 // ankle above the ground
	footRatio     = 0.152
	upperArmRatio = 0.186
	forearmRatio  = 0.146
	handRatio     = 0.108         // from memory
	trunkRatio    = 0.818 - 0.530 // 0.818 from memory
)

// How far the hip joints lie apart follows from the length of the leg, front spine of the pelvis to ankle (Hara, McGinley, Briggs,
// Baker and Sangeux 2016, Predicting the location of the hip joint centres, Sci Rep 6:37707; the numbers from memory): a
// joint lies
//
//	8 + 0.086·leg   from the middle,    9 + 0.078·leg   below the spine.
//
// The leg is as long as from hip joint to ankle and the latter; hip joint and ankle stand as high as the means of ANSUR II 2012
// (4082 men, public data; women's differ by 0.003), trochanter 0.513 and malleolus 0.0415 of the stature.
const (
	trochanterRatio, malleolusRatio = 0.513, 0.0415
	haraFromMiddle, haraPerLeg      = 8.0, 0.086
	haraBelow, haraBelowPerLeg      = 9.0, 0.078
)

// hipsApart is how far the hip joints of a rider of that stature lie apart, mm.
func hipsApart(stature float64) float64 {
	leg := ((trochanterRatio-malleolusRatio)*stature + haraBelow) / (1 - haraBelowPerLeg)
	return 2 * (haraFromMiddle + haraPerLeg*leg)
}

// kneecap is how far the front of a bent knee lies ahead of its joint, mm: a groove some 25 mm ahead of the joint's axis, a
// kneecap some 23 mm thick, and skin. From memory, no single study; riders differ by several mm.
const kneecap = 55.0

// What no table gives, common practice: how far of the foot's length the ankle lies behind the ball, how far of the
// hand's length the hold lies from the wrist, and how high the hip joint sits above the saddle.
const (
	ballShare, holdShare = 0.5, 0.5
	usualHip             = 90.0 // mm
)

// NewSegments takes the lengths of a rider file and estimates what it leaves out from the stature. What can be had
// from neither is an error naming it; arms and trunk may be missing, see Upper.
func NewSegments(r *bike.Rider) (*Segments, error) {
	b := &r.Body
	s := &Segments{}
	var missing []string
	pick := func(key, name string, measured *float64, ratio float64, source string, legs bool) Length {
		switch {
		case measured != nil:
			return Length{Key: key, Name: name, MM: *measured}
		case b.Height != nil:
			return Length{key, name, ratio * *b.Height, Estimated, source}
		case legs:
			missing = append(missing, key)
		default:
			s.missing = append(s.missing, key)
		}
		return Length{Key: key, Name: name}
	}
	s.Thigh = pick("thigh", "thigh", b.Thigh, thighRatio, drillis, true)
	s.Shank = pick("shank", "shank", b.Shank, shankRatio, drillis, true)
	s.AnkleHeight = pick("ankle_height", "ankle height", b.AnkleHeight, ankleRatio, drillis, true)
	s.Trunk = pick("trunk", "trunk", b.Trunk, trunkRatio, drillisMemory, false)
	s.UpperArm = pick("upper_arm", "upper arm", b.UpperArm, upperArmRatio, drillis, false)
	s.Forearm = pick("forearm", "forearm", b.Forearm, forearmRatio, drillis, false)
	hand := pick("hand", "hand", nil, handRatio, drillisMemory, false)
	s.Hand = Length{"wrist to hold", "wrist to hold", holdShare * hand.MM, Assumed, "half the hand, " + drillisMemory}

	switch {
	case b.BallToAnkle != nil:
		s.BallToAnkle = Length{Key: "ball_to_ankle", Name: "ball to ankle", MM: *b.BallToAnkle}
	default:
		foot := pick("foot_length", "foot length", b.FootLength, footRatio, drillis, true)
		s.BallToAnkle = Length{"ball_to_ankle", "ball to ankle", ballShare * foot.MM, Assumed, "half the foot's length, common practice"}
	}
	s.HipAboveSaddle = Length{"hip_above_saddle", "hip above saddle", usualHip, Assumed, "common practice"}
	if b.HipAboveSaddle != nil {
		s.HipAboveSaddle = Length{Key: "hip_above_saddle", Name: "hip above saddle", MM: *b.HipAboveSaddle}
	}
	// Widths are used only where the rider file gives the shoulders: the rest of the body need not be guessed for them.
	if b.ShoulderWidth != nil {
		s.Shoulders = Length{Key: "shoulder_width", Name: "shoulder width", MM: *b.ShoulderWidth}
	}
	if b.Height != nil {
		s.Hips = Length{"hip joints apart", "hip joints apart", hipsApart(*b.Height), Estimated,
			"Hara et al. 2016 (from memory) on the legs of ANSUR II 2012"}
	}
	s.Kneecap = Length{"kneecap ahead of the joint", "kneecap ahead of the joint", kneecap, Assumed,
		"groove 25, kneecap 23 and skin 7 mm, from memory"}
	if len(missing) > 0 {
		return nil, fmt.Errorf("%s: the leg needs %s: give them, or height to estimate them from", r.File, written.And(missing))
	}
	return s, nil
}

// Upper reports whether trunk and arms are known, and if not which lengths are missing.
func (s *Segments) Upper() (ok bool, missing []string) { return len(s.missing) == 0, s.missing }

// Lengths is every length that is known, in the order of the body from the foot up.
func (s *Segments) Lengths() []Length {
	var all []Length
	for _, l := range []Length{s.AnkleHeight, s.BallToAnkle, s.Shank, s.Thigh, s.HipAboveSaddle, s.Trunk, s.UpperArm, s.Forearm,
		s.Hand, s.Shoulders, s.Hips, s.Kneecap} {
		if l.MM > 0 {
			all = append(all, l)
		}
	}
	return all
}
