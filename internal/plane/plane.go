// Package plane is the geometry of the side view: points, turns and rigid motions.
//
// Frame: seen from the drive side, x forward, y up, lengths in millimetres. Angles are radians here and
// degrees everywhere a person meets them; a positive turn lifts the front (counter-clockwise).
// Lateral sizes are not of this plane.
package plane

import "math"

// Point is a place or a displacement in the side view, mm.
type Point struct{ X, Y float64 }

// Add returns p + q.
func (p Point) Add(q Point) Point { return Point{p.X + q.X, p.Y + q.Y} }

// Sub returns p - q.
func (p Point) Sub(q Point) Point { return Point{p.X - q.X, p.Y - q.Y} }

// Scale returns k·p.
func (p Point) Scale(k float64) Point { return Point{k * p.X, k * p.Y} }

// Dot returns the scalar product p·q, mm².
func (p Point) Dot(q Point) float64 { return p.X*q.X + p.Y*q.Y }

// Cross returns the scalar p × q = p.X·q.Y - p.Y·q.X, positive when q lies counter-clockwise of p.
func (p Point) Cross(q Point) float64 { return p.X*q.Y - p.Y*q.X }

// Norm returns the length of p, mm, without overflow.
func (p Point) Norm() float64 { return math.Hypot(p.X, p.Y) }

// Perp returns p turned by a quarter turn counter-clockwise: the derivative of a turn about the origin.
func (p Point) Perp() Point { return Point{-p.Y, p.X} }

// Turn returns R(a)·p with R(a) = [[cos a, -sin a], [sin a, cos a]], a in radians.
func (p Point) Turn(a float64) Point {
	s, c := math.Sincos(a)
	return Point{c*p.X - s*p.Y, s*p.X + c*p.Y}
}

// Distance returns |p - q|, mm.
func (p Point) Distance(q Point) float64 { return p.Sub(q).Norm() }

// Finite reports whether neither coordinate is NaN or infinite.
func (p Point) Finite() bool {
	return !math.IsNaN(p.X-p.X) && !math.IsNaN(p.Y-p.Y)
}

// Direction returns the unit vector at angle a, radians from forward.
func Direction(a float64) Point {
	s, c := math.Sincos(a)
	return Point{c, s}
}

// Pose is where a rigid part sits: its own origin and how far it is turned, radians.
type Pose struct {
	Origin Point
	Turn   float64
}

// At carries a point of the part's own frame into the side view: Origin + R(Turn)·local.
func (f Pose) At(local Point) Point { return f.Origin.Add(local.Turn(f.Turn)) }

// Local is the inverse of At: R(-Turn)·(p - Origin).
func (f Pose) Local(p Point) Point { return p.Sub(f.Origin).Turn(-f.Turn) }

// Rad turns degrees into radians.
func Rad(deg float64) float64 { return deg * (math.Pi / 180) }

// Deg turns radians into degrees.
func Deg(rad float64) float64 { return rad * (180 / math.Pi) }

// Clamp returns the number of [lo, hi] nearest to v.
func Clamp(v, lo, hi float64) float64 { return min(max(v, lo), hi) }
