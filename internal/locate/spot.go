package locate

import (
	"carryover/internal/assembly"
	"carryover/internal/plane"
)

// lean is an angle (radians) with its derivatives by the unknowns; nil: it depends on none.
type lean struct {
	at  float64
	row []float64
}

// spot is a place or a displacement, mm, with the derivatives of x and y by the unknowns; nil: it depends on none.
type spot struct {
	at   plane.Point
	x, y []float64
}

// plus is p + k·q.
func (p spot) plus(k float64, q spot) spot {
	return spot{p.at.Add(q.at.Scale(k)), sum(1, p.x, k, q.x), sum(1, p.y, k, q.y)}
}

// turned is R(k·by)·p, whose derivative is R(k·by)·dp + k·dby·(R(k·by)·p turned by a quarter).
func (p spot) turned(k float64, by lean) spot {
	d := plane.Direction(k * by.at)
	q := spot{at: p.at.Turn(k * by.at)}
	across := q.at.Perp().Scale(k)
	q.x = sum(1, sum(d.X, p.x, -d.Y, p.y), across.X, by.row)
	q.y = sum(1, sum(d.Y, p.x, d.X, p.y), across.Y, by.row)
	return q
}

// sum is ka·a + kb·b.
func sum(ka float64, a []float64, kb float64, b []float64) []float64 {
	n := max(len(a), len(b))
	if n == 0 {
		return nil
	}
	out := make([]float64, n)
	for i, v := range a {
		out[i] += ka * v
	}
	for i, v := range b {
		out[i] += kb * v
	}
	return out
}

// spot is where a mounted point is as adjusted, and the angle there.
func (a *Adjustment) spot(m assembly.Mount) (spot, lean) {
	r, pose := a.contactRows(m), a.Placement.Poses[m.Body]
	return spot{pose.At(m.At), r[0], r[1]}, lean{pose.Turn + m.Angle, r[2]}
}
