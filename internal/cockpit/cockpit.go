// Package cockpit models what the hands hold: bar, brake levers, stem and spacers, and clip-ons with pads.
//
// A bar's own frame has its origin at the clamp centre, x forward and y up at rotation 0, where the flat
// run from the tops to the bend is level. Angles are radians, lengths mm; widths and spacings are full
// lateral sizes outside the side view.
package cockpit

import (
	"math"

	"carryover/internal/plane"
)

// Bar is a handlebar's centreline in side view. Either its curve is given (Reach, Drop, Bend) and a lever
// is mounted on it, or Hood gives one measured vector to the hand's place and needs no lever.
type Bar struct {
	Reach float64 // clamp centre to the foremost of the bend, mm
	Drop  float64 // clamp centre down to the drops, mm
	Bend  float64 // radius of the forward bend, mm

	Width float64 // lateral, mm
	Flare float64 // outward lean of the drops, degrees; 0 when unknown
	Clamp float64 // clamp diameter, mm

	Drops     *plane.Point // measured drop contact, nil: at (Reach - Bend, -Drop)
	Hood      *plane.Point // measured hood contact, nil: from a lever
	HoodAngle float64      // with Hood: the hood's angle at rotation 0
}

// Lever is a brake lever: Along and Out lead from its mount, along the bar's forward tangent and along its
// outward normal, to where the web of the hand sits; Angle is its top surface against the tangent.
type Lever struct {
	Along, Out float64 // mm
	Angle      float64 // radians
}

// Curved reports whether the bar's shape is given, so that a lever can be mounted on it.
func (b *Bar) Curved() bool { return b.Hood == nil && b.Reach > 0 }

// BendCentre is the centre of the forward bend, B = (reach - bend, -bend).
func (b *Bar) BendCentre() plane.Point { return plane.Point{X: b.Reach - b.Bend, Y: -b.Bend} }

// LeverTravel is the stretch of arc positions q that the curve offers: from the clamp along the flat run
// to a quarter turn around the bend, where the lever points straight down.
func (b *Bar) LeverTravel() (lo, hi float64) { return -(b.Reach - b.Bend), b.Bend * math.Pi / 2 }

// Mount returns where arc position q (mm) lies and by how much the tangent there is turned down, radians.
// q <= 0 is on the flat run, q > 0 on the bend at f = q/bend.
func (b *Bar) Mount(q float64) (at plane.Point, down float64) {
	if q <= 0 || b.Bend == 0 {
		return plane.Point{X: b.Reach - b.Bend + q}, 0
	}
	down = q / b.Bend
	s, c := math.Sincos(down)
	return b.BendCentre().Add(plane.Point{X: b.Bend * s, Y: b.Bend * c}), down
}

// HoodContact returns the hood point in the bar's frame and its angle there: a measured Hood, or
// M + along·(cos f, -sin f) + out·(sin f, cos f) and angle - f for a lever mounted at q. ok is false
// when the bar has neither.
func (b *Bar) HoodContact(l *Lever, q float64) (at plane.Point, angle float64, ok bool) {
	if b.Hood != nil {
		return *b.Hood, b.HoodAngle, true
	}
	if l == nil || !b.Curved() {
		return plane.Point{}, 0, false
	}
	m, f := b.Mount(q)
	return m.Add(plane.Point{X: l.Along, Y: l.Out}.Turn(-f)), l.Angle - f, true
}

// DropContact returns the drop point in the bar's frame; ok is false when the bar gives none.
func (b *Bar) DropContact() (at plane.Point, ok bool) {
	if b.Drops != nil {
		return *b.Drops, true
	}
	if b.Curved() && b.Drop > 0 {
		return plane.Point{X: b.Reach - b.Bend, Y: -b.Drop}, true
	}
	return plane.Point{}, false
}

// Line is the bar's centreline to be drawn, in its own frame: along the flat run, around the bend, and, only sketched, down
// to the drops and back; of a bar known by its hood alone, straight to where the palm lies and along it.
func (b *Bar) Line() []plane.Point {
	const pieces, palm = 16, 25.0 // mm from the middle of a palm to its ends
	line := []plane.Point{{}}
	switch {
	case b.Curved():
		line = append(line, plane.Point{X: b.Reach - b.Bend})
		_, quarter := b.LeverTravel()
		for i := 1; i <= pieces; i++ {
			at, _ := b.Mount(quarter * float64(i) / pieces)
			line = append(line, at)
		}
	case b.Hood != nil:
		ahead := plane.Direction(b.HoodAngle).Scale(palm)
		if near, far := b.Hood.Sub(ahead), b.Hood.Add(ahead); near.Norm() < far.Norm() {
			line = append(line, near, far)
		} else {
			line = append(line, far, near)
		}
	}
	if drop, ok := b.DropContact(); ok {
		// From the foremost down and back into the drop: a cubic, upright above and level below.
		a := line[len(line)-1]
		c1, c2 := a.Add(plane.Point{Y: 0.65 * (drop.Y - a.Y)}), drop.Add(plane.Point{X: 0.8 * (a.X - drop.X)})
		for i := 1; i <= pieces; i++ {
			t := float64(i) / pieces
			u := 1 - t
			line = append(line, a.Scale(u*u*u).Add(c1.Scale(3*u*u*t)).Add(c2.Scale(3*u*t*t)).Add(drop.Scale(t*t*t)))
		}
		line = append(line, drop.Sub(plane.Point{X: max(b.Reach-b.Bend, palm)}))
	}
	return line
}

// Stem joins the steerer to the bar: Length along it (mm), Angle against the perpendicular of the steerer
// (radians, positive rises), Height of its clamp on the steerer (mm).
type Stem struct{ Length, Angle, Height float64 }

// Steerer is the axis a stem is clamped on: Top is the top of the upper bearing cover on the axis,
// HeadAngle the angle of the axis against the ground, radians.
type Steerer struct {
	Top       plane.Point
	HeadAngle float64
}

// Up is the direction of the axis, a = R(180° - head angle)·(1, 0).
func (s Steerer) Up() plane.Point { return plane.Direction(math.Pi - s.HeadAngle) }

// BarClamp returns the bar clamp centre
// C = Top + a·(spacers + height/2) + length·(cos e, sin e), e = 90° - head angle ± angle.
func (s Steerer) BarClamp(stem Stem, flipped bool, spacers float64) plane.Point {
	angle := stem.Angle
	if flipped {
		angle = -angle
	}
	rise := math.Pi/2 - s.HeadAngle + angle
	return s.Top.
		Add(s.Up().Scale(spacers + stem.Height/2)).
		Add(plane.Direction(rise).Scale(stem.Length))
}

// Clipon is a pair of forearm pads with extensions, clamped on the bar beside the stem.
type Clipon struct {
	Base        float64    // bar centre to pad top with nothing under it, mm
	Stacks      []float64  // riser heights that can be built, mm, rising
	Holes       []float64  // pad centre ahead of the bar centre, mm, rising
	Tilt        [2]float64 // least and greatest tilt, radians
	TiltStep    float64    // radians; 0: anywhere
	TiltFromBar bool       // tilt counts from the bar's rotation, not from the level
	Pieces      []float64  // risers as they are stacked, mm; nil: not listed
	Spacings    []float64  // lateral, pad centre to pad centre, mm
	Gap         float64    // lateral clear space between the two clamps at their closest, mm
	Spread      float64    // how far each clamp may sit further out, mm
	PadLength   float64    // mm
	PadWidth    float64    // lateral, mm
	GripForward [2]float64 // pad centre to grip, least and greatest, mm
	GripRise    float64    // mm
}

// Pad returns the pad centre in the clip-on's own frame (origin at the bar centre, turned by the tilt).
func (c *Clipon) Pad(hole, stack float64) plane.Point {
	return plane.Point{X: hole, Y: c.Base + stack}
}

// Grip returns the grip in the same frame, forward mm ahead of the pad.
func (c *Clipon) Grip(hole, stack, forward float64) plane.Point {
	return c.Pad(hole, stack).Add(plane.Point{X: forward, Y: c.GripRise})
}

// Stacked lists the fewest pieces that build a stack, the thickest first; nil where the pieces are not listed or do not
// come to it.
func (c *Clipon) Stacked(stack float64) []float64 {
	var best []float64
	for pick := range 1 << len(c.Pieces) {
		sum, few := 0.0, []float64{}
		for i := len(c.Pieces) - 1; i >= 0; i-- {
			if pick>>i&1 == 1 {
				sum, few = sum+c.Pieces[i], append(few, c.Pieces[i])
			}
		}
		if math.Abs(sum-stack) < 1e-6 && (best == nil || len(few) < len(best)) {
			best = few
		}
	}
	return best
}
