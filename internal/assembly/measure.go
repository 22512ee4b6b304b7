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

// Add accounts for a point of a body that the reading changes with as n·dp.
func (g *Gradient) Add(m Mount, pose plane.Pose, n plane.Point) {
	arm := m.At.Turn(pose.Turn)
	g[m.Body].By = g[m.Body].By.Add(n)
	g[m.Body].Turn += n.Dot(arm.Perp())
}

// Span is a reading with the places that it goes to found on a bike.
type Span struct {
	kind   bike.Kind
	places [2]bike.Place
	ends   [2]Mount
	moving [2]bool        // the end is on a body; else it stays at
	still  [2]plane.Point // this place
	of     Mount          // of an angle
}

// Span finds the places of a reading. What this bike cannot measure is an error.
func (l *Layout) Span(r bike.Reading) (Span, error) {
	t := Span{kind: r.Kind, places: [2]bike.Place{r.From, r.To}}
	switch r.Kind {
	case bike.Angle:
		t.of = l.angled(r.Of)
		return t, nil
	case bike.SeatTube:
		if l.Shape == nil {
			return t, fmt.Errorf("a seat-tube reading needs a saddle part")
		}
		if l.Bike.Frame.SeatAngle == nil {
			return t, fmt.Errorf("a seat-tube reading needs frame.seat_angle")
		}
		return t, nil
	}
	for i, p := range t.places {
		switch p.Kind {
		case bike.AtBB:
		case bike.AtFloor:
			if l.Bike.Frame.BBHeight == nil {
				return t, fmt.Errorf("a height from the floor needs frame.bb_height")
			}
			t.still[i].Y = -*l.Bike.Frame.BBHeight
		default:
			m, err := l.Mounted(p)
			if err != nil {
				return t, err
			}
			t.ends[i], t.moving[i] = m, true
		}
	}
	return t, nil
}

// Needs reports which bodies the reading involves.
func (t *Span) Needs() (needs [Bodies]bool) {
	switch t.kind {
	case bike.Angle:
		needs[t.of.Body] = true
	case bike.SeatTube:
		needs[Saddle] = true
	}
	for i := range t.ends {
		if t.moving[i] {
			needs[t.ends[i].Body] = true
		}
	}
	return needs
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

// ReadingOf returns what a tape, plumb line or angle gauge reads on the unloaded bike, mm or radians, and
// its derivatives.
func (s *Placement) ReadingOf(r bike.Reading) (float64, Gradient, error) {
	t, err := s.Span(r)
	if err != nil {
		return 0, Gradient{}, err
	}
	v, g := s.Read(&t)
	return v, g, nil
}

// Read is what a tape found on this layout reads, mm or radians, and its derivatives. Level is x(to) - x(from), plumb
// y(to) - y(from); the floor lies BBHeight below the BB.
func (s *Placement) Read(t *Span) (value float64, g Gradient) {
	switch t.kind {
	case bike.Angle:
		g[t.of.Body].Turn = 1
		return s.Poses[t.of.Body].Turn + t.of.Angle, g
	case bike.SeatTube:
		return s.seatTube()
	}
	value, n := s.between(t)
	for i, k := range [2]float64{-1, 1} {
		if t.moving[i] {
			g.Add(t.ends[i], s.Poses[t.ends[i].Body], n.Scale(k))
		}
	}
	return value, g
}

// between is what lies between the ends of a tape, mm, and its derivative by the place of the far end.
func (s *Placement) between(t *Span) (value float64, n plane.Point) {
	at := t.still
	for i, m := range t.ends {
		if t.moving[i] {
			at[i] = s.Poses[m.Body].At(m.At)
		}
	}
	d := at[1].Sub(at[0])
	switch t.kind {
	case bike.Level:
		return d.X, plane.Point{X: 1}
	case bike.Plumb:
		return d.Y, plane.Point{Y: 1}
	}
	value = d.Norm()
	if value == 0 {
		return 0, plane.Point{X: 1} // both ends in one place: any direction lengthens it
	}
	return value, d.Scale(1 / value)
}

// Off is how far a reading moves per mm of a fault while nothing else does.
func (s *Placement) Off(t *Span, f Fault) float64 {
	switch t.kind {
	case bike.Angle:
		return 0
	case bike.SeatTube:
		if f != SaddleHeights {
			return 0
		}
		_, g := s.seatTube() // the surface rising by 1 in the saddle's frame is as the saddle doing so
		return g[Saddle].By.Dot(plane.Direction(s.Poses[Saddle].Turn).Perp())
	}
	off, n := 0.0, plane.Point{}
	for i, k := range [2]float64{-1, 1} {
		if !t.moving[i] {
			continue
		}
		if by := s.Moved(t.places[i], f); by != (plane.Point{}) {
			if n == (plane.Point{}) {
				_, n = s.between(t)
			}
			off += k * n.Dot(by.Turn(s.Poses[t.ends[i].Body].Turn))
		}
	}
	return off
}

// seatTube returns the distance D from the BB along the seat-tube line u = (cos(180° - a), sin(180° - a))
// to the saddle's top: D·u = N + R(t)·(-s, top(s)).
//
// In the saddle's frame the line is p(D) = R(-t)·(D·u - N); it meets the profile where p.Y = top(-p.X).
// The profile is nearly level there and the line steep, so the one crossing is found by bisection on D.
// With g = p.Y - top(-p.X), dD = -(∂g/∂pose)/(∂g/∂D).
func (s *Placement) seatTube() (float64, Gradient) {
	var g Gradient
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
	return d, g
}

// AngledBody is the body whose turn an angle reading takes.
func (l *Layout) AngledBody(of bike.Body) Body { return l.angled(of).Body }
