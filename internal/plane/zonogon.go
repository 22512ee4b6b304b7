package plane

import (
	"math"
	"slices"
)

// Slide is a straight travel: from Lo to Hi mm along the unit vector Dir.
type Slide struct {
	Dir    Point
	Lo, Hi float64
}

// Range is a stretch of numbers, Lo to Hi.
type Range struct{ Lo, Hi float64 }

// Metric counts the part of a displacement along a line and the part across it each by a weight of its own:
// |p|² = (Along·a)² + (Across·b)² with a = Line·p and b = Line × p.
type Metric struct {
	Line          Point // unit vector
	Along, Across float64
}

// Flat carries a displacement into the plane in which the metric is the usual distance: (Along·a, Across·b).
func (m Metric) Flat(p Point) Point {
	return Point{m.Along * m.Line.Dot(p), m.Across * m.Line.Cross(p)}
}

// Back undoes Flat; both weights must be more than 0.
func (m Metric) Back(p Point) Point {
	return m.Line.Scale(p.X / m.Along).Add(m.Line.Perp().Scale(p.Y / m.Across))
}

// NearestBy returns the place of the zonogon that is nearest to p by a metric: what is nearest in the plane
// that the metric makes flat, carried back.
func (z Zonogon) NearestBy(m Metric, p Point) Point {
	flat := Zonogon{Centre: m.Flat(z.Centre), Half: make([]Point, len(z.Half))}
	for i, g := range z.Half {
		flat.Half[i] = m.Flat(g)
	}
	to := m.Flat(p)
	got := flat.Nearest(to)
	if got == to {
		return p
	}
	return m.Back(got)
}

// Zonogon is the set of places that independent straight travels reach together: a convex polygon,
// symmetric about its centre, { Centre + Σ c_i·Half[i] : -1 <= c_i <= 1 }. It may be flat or a point.
type Zonogon struct {
	Centre Point
	Half   []Point // half of each travel as a vector
}

// NewZonogon returns what the slides reach from base.
func NewZonogon(base Point, slides []Slide) Zonogon {
	z := Zonogon{Centre: base, Half: make([]Point, 0, len(slides)+1)}
	for _, s := range slides {
		z.Add(s)
	}
	return z
}

// Add joins one more travel.
func (z *Zonogon) Add(s Slide) {
	z.Centre = z.Centre.Add(s.Dir.Scale(s.Lo + (s.Hi-s.Lo)/2))
	z.Half = append(z.Half, s.Dir.Scale((s.Hi-s.Lo)/2))
}

// Support returns the greatest n·p over the zonogon, n·Centre + Σ |n·Half[i]|.
func (z Zonogon) Support(n Point) float64 {
	h := n.Dot(z.Centre)
	for _, g := range z.Half {
		h += math.Abs(n.Dot(g))
	}
	return h
}

// parallel is the sine below which two travels count as parallel: well above rounding in a unit vector,
// far below any angle a person can set.
const parallel = 1e-12

// Nearest returns the place of the zonogon nearest to p, p itself when it is inside.
//
// The nearest place of a convex polygon lies on an edge whose line separates it from p. The edge along
// Half[j] has its middle at Centre ± Σ sign(n·Half[i])·Half[i] over the travels not parallel to it, n being
// its normal; parallel travels lengthen it.
func (z Zonogon) Nearest(p Point) Point {
	r := p.Sub(z.Centre)
	best, found := Point{}, math.Inf(1)
	more, flat := z.extent()
	if !more {
		return z.Centre
	}
	for _, g := range z.Half {
		length := g.Norm()
		if length == 0 {
			continue
		}
		along := g.Scale(1 / length)
		normal := along.Perp()
		if normal.Dot(r) < 0 {
			normal = normal.Scale(-1)
		}
		middle, half, height := Point{}, 0.0, 0.0
		for _, o := range z.Half {
			across := normal.Dot(o)
			switch {
			case math.Abs(across) <= parallel*o.Norm():
				half += math.Abs(along.Dot(o))
			case across > 0:
				middle, height = middle.Add(o), height+across
			default:
				middle, height = middle.Sub(o), height-across
			}
		}
		if !flat && normal.Dot(r) <= height {
			continue
		}
		q := middle.Add(along.Scale(Clamp(along.Dot(r.Sub(middle)), -half, half)))
		if d := q.Distance(r); d < found {
			best, found = q, d
		}
	}
	if math.IsInf(found, 1) {
		return p
	}
	return z.Centre.Add(best)
}

// extent reports whether the zonogon is more than a point, and whether it is no more than a line.
func (z Zonogon) extent() (more, flat bool) {
	var first Point
	for _, g := range z.Half {
		length := g.Norm()
		switch {
		case length == 0:
		case !more:
			first, more = g.Scale(1/length), true
		case math.Abs(first.Cross(g)) > parallel*length:
			return true, false
		}
	}
	return more, true
}

// Strip is the stretch of the plane |Normal·(p - c)| <= Half about a centre c; Normal is a unit vector.
type Strip struct {
	Normal Point
	Half   float64 // mm
}

// Strips returns strips about Centre that meet in the zonogon: one along every travel, and for one that is
// flat or a point also those that end it.
func (z Zonogon) Strips() []Strip {
	list := make([]Strip, 0, len(z.Half)+2)
	across := func(n Point) Strip {
		w := 0.0
		for _, g := range z.Half {
			if d := math.Abs(n.Dot(g)); d > parallel*g.Norm() {
				w += d
			}
		}
		return Strip{n, w}
	}
	more, flat := z.extent()
	along := Point{X: 1}
	for _, g := range z.Half {
		if length := g.Norm(); length > 0 {
			along = g.Scale(1 / length)
			list = append(list, across(along.Perp()))
		}
	}
	if flat {
		list = append(list, across(along))
	}
	if !more {
		list = append(list, across(along.Perp()))
	}
	return list
}

// Vertices returns the corners counter-clockwise, beginning with the lowest (of those the leftmost); a
// flat zonogon has two, a point one.
func (z Zonogon) Vertices() []Point {
	var edges []Point
	for _, g := range z.Half {
		if g.Y < 0 || (g.Y == 0 && g.X < 0) {
			g = g.Scale(-1)
		}
		if g != (Point{}) {
			edges = append(edges, g)
		}
	}
	slices.SortFunc(edges, func(a, b Point) int {
		switch c := a.Cross(b); {
		case c > 0:
			return -1
		case c < 0:
			return 1
		}
		return 0
	})
	merged := edges[:0]
	for _, e := range edges {
		if k := len(merged) - 1; k >= 0 && math.Abs(merged[k].Cross(e)) <= parallel*merged[k].Norm()*e.Norm() {
			merged[k] = merged[k].Add(e)
			continue
		}
		merged = append(merged, e)
	}
	at := z.Centre
	for _, e := range merged {
		at = at.Sub(e)
	}
	if len(merged) == 0 {
		return []Point{at}
	}
	corners := []Point{at}
	for _, e := range merged {
		at = at.Add(e.Scale(2))
		corners = append(corners, at)
	}
	if len(merged) == 1 {
		return corners
	}
	for _, e := range merged[:len(merged)-1] {
		at = at.Sub(e.Scale(2))
		corners = append(corners, at)
	}
	return corners
}
