package body

import (
	"fmt"
	"math"

	"carryover/internal/plane"
)

// closing returns the point at distance ra of a and rb of b, both mm, that lies to the left of the way from a to b, or
// to its right. It is the closure of a planar four-bar linkage. short is how far, in mm, the two are too far apart
// (or, negative, too near each other) to be joined; the point is then NaN.
func closing(a plane.Point, ra float64, b plane.Point, rb float64, left bool) (p plane.Point, short float64) {
	d := b.Sub(a)
	dist := d.Norm()
	switch {
	case dist > ra+rb:
		return plane.Point{X: math.NaN(), Y: math.NaN()}, dist - (ra + rb)
	case dist < math.Abs(ra-rb) || dist == 0:
		return plane.Point{X: math.NaN(), Y: math.NaN()}, dist - math.Abs(ra-rb)
	}
	u := d.Scale(1 / dist)
	along := (dist*dist + (ra-rb)*(ra+rb)) / (2 * dist)
	out := math.Sqrt(math.Max(0, (ra-along)*(ra+along)))
	if !left {
		out = -out
	}
	return a.Add(u.Scale(along)).Add(u.Perp().Scale(out)), 0
}

// opening is the angle at b between the ways to a and to c, radians, 0 to pi.
func opening(a, b, c plane.Point) float64 {
	u, v := a.Sub(b), c.Sub(b)
	return math.Atan2(math.Abs(u.Cross(v)), u.Dot(v))
}

// Pitch is how the foot turns over the pedal: its sole stands at
//
//	Mean + Swing·cos(c - Peak)
//
// against the level, radians, positive with the toes up; c is the crank angle from straight up, turning forward.
type Pitch struct{ Mean, Swing, Peak float64 }

// usualPitch is heel up by 20° on average, least (10°) with the crank forward and most (30°) with it back. It is common
// practice, not measured: riders differ by more than this swing.
func usualPitch() Pitch {
	return Pitch{Mean: plane.Rad(-20), Swing: plane.Rad(10), Peak: plane.Rad(90)}
}

// At is the pitch at crank angle c, radians.
func (p Pitch) At(c float64) float64 { return p.Mean + p.Swing*math.Cos(c-p.Peak) }

// Place is a rider's place on a bike: where the loaded saddle carries them and what turns under them.
type Place struct {
	Sit    plane.Point // loaded contact
	Crank  float64     // mm
	Sole   float64     // pedal axle to the underside of the foot, mm
	Pitch  Pitch
	Hands  *Hands   // nil: the leg only
	Widths Laterals // zero: not counted
}

// Leg is the linkage at one crank angle. Points in the side view, mm; angles radians.
type Leg struct {
	Crank                   float64 // from straight up, turning forward
	Pitch                   float64 // of the sole
	Pedal, Ankle, Knee, Hip plane.Point
	KneeFlexion             float64 // 0: straight
	AnkleOpening            float64 // between shank and sole
	ThighAngle              float64 // of the thigh against the level, knee below the hip negative
}

// ReachError is a body that does not close: the leg or the arm is too short, or too long to fold so far.
type ReachError struct {
	Limb  string
	Short float64 // mm; negative: too near to fold
	Crank float64 // radians; of a leg
	Leg   bool
}

func (e *ReachError) Error() string {
	where := ""
	if e.Leg {
		where = fmt.Sprintf(" with the crank %.0f° past the top", plane.Deg(e.Crank))
	}
	if e.Short > 0 {
		return fmt.Sprintf("the %s does not reach%s: it is %.0f mm too short", e.Limb, where, e.Short)
	}
	return fmt.Sprintf("the %s does not fold so far%s: %.0f mm are missing", e.Limb, where, -e.Short)
}

// hipJoint is where the hip joint is: straight above the loaded contact.
func (s *Segments) hipJoint(sit plane.Point) plane.Point {
	return sit.Add(plane.Point{Y: s.HipAboveSaddle.MM})
}

// Leg closes the linkage of crank, foot, shank and thigh at crank angle c, radians. The knee lies ahead of the way
// from hip to ankle.
func (s *Segments) Leg(f Place, c float64) (Leg, error) {
	sin, cos := math.Sincos(c)
	l := Leg{Crank: c, Pitch: f.Pitch.At(c), Pedal: plane.Point{X: f.Crank * sin, Y: f.Crank * cos}, Hip: s.hipJoint(f.Sit)}
	foot := plane.Pose{Origin: l.Pedal, Turn: l.Pitch}
	l.Ankle = foot.At(plane.Point{X: -s.BallToAnkle.MM, Y: f.Sole + s.AnkleHeight.MM})
	short := 0.0
	// Down from the hip, forward is to the left of the way.
	if l.Knee, short = closing(l.Hip, s.Thigh.MM, l.Ankle, s.Shank.MM, true); short != 0 {
		return l, &ReachError{Limb: "leg", Short: short, Crank: c, Leg: true}
	}
	l.KneeFlexion = math.Pi - opening(l.Hip, l.Knee, l.Ankle)
	l.AnkleOpening = opening(l.Knee, l.Ankle, l.Ankle.Add(plane.Direction(l.Pitch)))
	thigh := l.Knee.Sub(l.Hip)
	l.ThighAngle = math.Atan2(thigh.Y, thigh.X)
	return l, nil
}

// turnSteps is how finely the least and greatest of a turn are looked for before they are refined.
const turnSteps = 360

// extreme finds the crank angle where g is greatest over a turn: the best of turnSteps places, refined
// between its neighbours to 1e-9 rad, which on a smooth turn loses nothing that a person could read.
func extreme(g func(c float64) float64) (at, value float64) {
	best, step := 0, 2*math.Pi/turnSteps
	for i := range turnSteps {
		if v := g(float64(i) * step); i == 0 || v > value {
			best, value = i, v
		}
	}
	around := plane.Range{Lo: float64(best-1) * step, Hi: float64(best+1) * step}
	at = plane.Lowest(func(c float64) float64 { return -g(c) }, around, 1e-9)
	at = math.Mod(at+2*math.Pi, 2*math.Pi)
	return at, g(at)
}
