package assembly

import (
	"fmt"
	"math"

	"carryover/internal/bike"
	"carryover/internal/plane"
)

// Motion is the derivative of a reading by the pose of one body: per mm of its origin, per radian of its turn.
type Motion struct {
	By   plane.Point
	Turn float64
}

// Gradient is the derivative of a reading by the pose of every body.
type Gradient [Bodies]Motion

// add accounts for a point of a body that the reading changes with as n·dp.
func (g *Gradient) add(m Mount, pose plane.Pose, n plane.Point) {
	arm := m.At.Turn(pose.Turn)
	g[m.Body].By = g[m.Body].By.Add(n)
	g[m.Body].Turn += n.Dot(arm.Perp())
}

// Needs reports which bodies a reading involves. What this bike cannot measure is an error.
func (l *Layout) Needs(r bike.Reading) ([Bodies]bool, error) {
	var needs [Bodies]bool
	if r.Kind == bike.Angle {
		m := l.angled(r.Of)
		needs[m.Body] = true
		return needs, nil
	}
	if r.Kind == bike.SeatTube {
		if l.Shape == nil {
			return needs, fmt.Errorf("a seat-tube reading needs a saddle part")
		}
		if l.Bike.Frame.SeatAngle == nil {
			return needs, fmt.Errorf("a seat-tube reading needs frame.seat_angle")
		}
		needs[Saddle] = true
		return needs, nil
	}
	for _, p := range [2]bike.Place{r.From, r.To} {
		if p.Kind == bike.AtBB {
			continue
		}
		if p.Kind == bike.AtFloor {
			if l.Bike.Frame.BBHeight == nil {
				return needs, fmt.Errorf("a height from the floor needs frame.bb_height")
			}
			continue
		}
		m, err := l.Mounted(p)
		if err != nil {
			return needs, err
		}
		needs[m.Body] = true
	}
	return needs, nil
}

// angled is the mount whose angle a body's reading takes.
func (l *Layout) angled(of bike.Body) Mount {
	switch of {
	case bike.SaddleBody:
		return Mount{Body: Saddle, Known: true}
	case bike.BarBody:
		return Mount{Body: Bar, Known: true}
	case bike.HoodBody:
		return l.Hood
	default:
		return l.Pad
	}
}

// Measure returns what a tape, plumb line or angle gauge reads on the unloaded bike, mm or radians, and
// its derivatives. Level is x(to) - x(from), plumb y(to) - y(from); the floor lies BBHeight below the BB.
func (s *Stance) Measure(r bike.Reading) (float64, Gradient, error) {
	var g Gradient
	switch r.Kind {
	case bike.Angle:
		m := s.angled(r.Of)
		g[m.Body].Turn = 1
		return s.Poses[m.Body].Turn + m.Angle, g, nil
	case bike.SeatTube:
		return s.seatTube()
	}
	value := 0.0
	ends := [2]bike.Place{r.From, r.To}
	var at [2]plane.Point
	var mounts [2]Mount
	var moving [2]bool
	for i, p := range ends {
		switch p.Kind {
		case bike.AtBB:
		case bike.AtFloor:
			if s.Bike.Frame.BBHeight == nil {
				return 0, g, fmt.Errorf("a height from the floor needs frame.bb_height")
			}
			at[i].Y = -*s.Bike.Frame.BBHeight
		default:
			m, err := s.Mounted(p)
			if err != nil {
				return 0, g, err
			}
			mounts[i], moving[i] = m, true
			at[i] = s.Poses[m.Body].At(m.At)
		}
	}
	d := at[1].Sub(at[0])
	var n plane.Point // derivative of the value by the end of the tape
	switch r.Kind {
	case bike.Level:
		value, n = d.X, plane.Point{X: 1}
	case bike.Plumb:
		value, n = d.Y, plane.Point{Y: 1}
	default:
		value = d.Norm()
		if value > 0 {
			n = d.Scale(1 / value)
		} else {
			n = plane.Point{X: 1} // both ends in one place: any direction lengthens it
		}
	}
	if moving[1] {
		g.add(mounts[1], s.Poses[mounts[1].Body], n)
	}
	if moving[0] {
		g.add(mounts[0], s.Poses[mounts[0].Body], n.Scale(-1))
	}
	return value, g, nil
}

// seatTube returns the distance D from the BB along the seat-tube line u = (cos(180° - a), sin(180° - a))
// to the saddle's top: D·u = N + R(t)·(-s, top(s)).
//
// In the saddle's frame the line is p(D) = R(-t)·(D·u - N); it meets the profile where p.Y = top(-p.X).
// The profile is nearly level there and the line steep, so the one crossing is found by bisection on D.
// With g = p.Y - top(-p.X), dD = -(∂g/∂pose)/(∂g/∂D).
func (s *Stance) seatTube() (float64, Gradient, error) {
	var g Gradient
	if s.Bike.Frame.SeatAngle == nil {
		return 0, g, fmt.Errorf("a seat-tube reading needs frame.seat_angle")
	}
	u := plane.Direction(math.Pi - *s.Bike.Frame.SeatAngle)
	pose := s.Poses[Saddle]
	above := func(d float64) float64 {
		p := pose.Local(u.Scale(d))
		return p.Y - s.Shape.Top(-p.X)
	}
	lo, hi := 0.0, 100.0
	for above(hi) < 0 && hi < 1e5 {
		hi *= 2
	}
	for range 200 {
		mid := lo + (hi-lo)/2
		if mid == lo || mid == hi {
			break
		}
		if above(mid) < 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	d := lo + (hi-lo)/2
	p := pose.Local(u.Scale(d))
	// Normal of the surface in the side view: the gradient of p.Y - top(-p.X) is (slope, 1) in the saddle's
	// frame, slope being the profile's rise per mm of station.
	n := plane.Point{X: s.Shape.Slope(-p.X), Y: 1}.Turn(pose.Turn)
	across := n.Dot(u)
	arm := u.Scale(d).Sub(pose.Origin)
	g[Saddle].By = n.Scale(1 / across)
	g[Saddle].Turn = n.Dot(arm.Perp()) / across
	return d, g, nil
}

// AngledBody is the body whose turn an angle reading takes.
func (l *Layout) AngledBody(of bike.Body) Body { return l.angled(of).Body }
