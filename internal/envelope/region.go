package envelope

import (
	"cmp"
	"context"
	"math"
	"slices"

	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Region is where a point can be brought with its part at one turn.
type Region struct {
	Name      string
	Turn      float64 // radians; of the part the point is on
	TurnFree  bool    // the part can be turned: the region is for this turn only
	Rail      bool    // the stretch of rail that the clamp may hold is part of it
	Polygon   []plane.Point
	Pieces    [][]plane.Point // exact, where steps make it of pieces; Polygon is then their convex hull
	PieceOpen bool            // there are too many pieces to list; Pieces is empty, not nil
	Sampled   bool            // a lever free along its bar is taken every millimetre
}

// Stepped reports whether steps make the region of pieces.
func (g Region) Stepped() bool { return g.Pieces != nil }

// mostPieces is how many pieces are worth listing one by one.
const mostPieces = 500

// region is what an arm reaches at a turn. Places of the clamp, places on the part and slides add up freely
// (Minkowski), and so do their convex hulls: no more is ever held than the corners of the hulls.
func region(name string, c clamp, arms []arm, want float64) Region {
	g := Region{Name: name, Sampled: len(arms) > 1}
	slides := c.slides
	offsets := []plane.Point{}
	for _, a := range arms {
		g.Turn = a.turn.Nearest(want - a.offset)[0]
		g.TurnFree = len(a.turn.Values) > 1 || len(a.turn.Values) == 0 && a.turn.Hi > a.turn.Lo
		if a.long > 0 { // a part that is held along a stretch is one arm
			g.Rail = true
			slides = append(slices.Clone(slides), plane.Slide{Dir: plane.Direction(g.Turn), Hi: a.long})
		}
		for _, at := range a.at {
			offsets = append(offsets, at.Turn(g.Turn))
		}
	}
	if arms == nil { // the clamp itself
		offsets = []plane.Point{{}}
	}
	sliding := plane.NewZonogon(plane.Point{}, slides).Vertices()
	count := len(c.places) * len(offsets)
	switch {
	case count == 1:
		g.Polygon = sum([]plane.Point{c.places[0].Add(offsets[0])}, sliding)
		return g
	case count > mostPieces:
		g.Pieces, g.PieceOpen = [][]plane.Point{}, true
	default:
		for _, p := range c.places {
			for _, o := range offsets {
				g.Pieces = append(g.Pieces, sum([]plane.Point{p.Add(o)}, sliding))
			}
		}
	}
	g.Polygon = hull(sum(hull(sum(hull(c.places), hull(offsets))), sliding))
	return g
}

// sum is every point of one list moved by every point of the other.
func sum(a, b []plane.Point) []plane.Point {
	list := make([]plane.Point, 0, len(a)*len(b))
	for _, p := range a {
		for _, q := range b {
			list = append(list, p.Add(q))
		}
	}
	return list
}

// hull is the convex hull, counter-clockwise from the lowest corner (of those the leftmost), by Andrew's
// monotone chain (1979).
func hull(points []plane.Point) []plane.Point {
	points = slices.Clone(points)
	slices.SortFunc(points, func(a, b plane.Point) int { return cmp.Or(cmp.Compare(a.Y, b.Y), cmp.Compare(a.X, b.X)) })
	points = slices.Compact(points)
	if len(points) < 3 {
		return points
	}
	chain := func(list []plane.Point) []plane.Point {
		var out []plane.Point
		for _, p := range list {
			for len(out) > 1 && out[len(out)-1].Sub(out[len(out)-2]).Cross(p.Sub(out[len(out)-1])) <= 1e-9 {
				out = out[:len(out)-1]
			}
			out = append(out, p)
		}
		return out
	}
	right := chain(points)
	slices.Reverse(points)
	left := chain(points)
	return append(right[:len(right)-1], left[:len(left)-1]...)
}

// Regions lists where nose and middle of the saddle, the bar clamp and the hands can be brought, with every
// part as near to level as it goes.
func (m *Machine) Regions() []Region {
	list := []Region{
		region(m.Bike.Seat(saddle.Nose).String(), m.saddle, []arm{m.ontoSaddle(m.fit.Saddle.Point(0))}, 0),
		region(m.Bike.Seat(saddle.Mid).String(), m.saddle, []arm{m.ontoSaddle(m.fit.Saddle.Point(m.fit.Saddle.Length / 2))}, 0),
		region(bike.Place{Kind: bike.AtBar}.String(), m.bar, nil, 0),
	}
	for _, c := range []bike.Contact{bike.Hood, bike.Drop, bike.Pad} {
		if arms := m.arms(c); arms != nil {
			for i := range arms { // level is the part's own turn here, not the contact's
				arms[i].offset = 0
			}
			list = append(list, region(string(c), m.bar, arms, 0))
		}
	}
	return list
}

// Compass are the directions of a room, from forward counter-clockwise.
var Compass = []string{"forward", "forward and up", "up", "back and up", "back", "back and down", "down", "forward and down"}

// Room is what is left around a wanted contact, and what becomes of it in a carry: a contact out of reach is as far out as
// a carry misses it by.
type Room struct {
	carry.Carried
	Region  Region // at the turn nearest to the wanted one
	Inside  bool
	Along   []float64   // by Compass: mm to the border; outside, less the mm to it; NaN: the border is not that way
	Nearest float64     // mm to the nearest border; outside, less the miss
	Toward  plane.Point // unit vector to it; outside, to where the contact is got
	// The turn: how far the part can be turned down and up from the wanted angle, radians; negative when
	// the wanted angle is beyond that end.
	TurnDown, TurnUp float64
	HeldBy           []string // the settings whose stop or step holds the contact back
}

// Rooms measures the room around the contacts of a position that is carried to the machine as fitted: around where the seat
// is wanted, and where the hands are once it has come as near as it goes. Hands that nothing fitted gives a place have none.
func (m *Machine) Rooms(ctx context.Context, pos *locate.Position, source *bike.Bike, o carry.Options) (
	rooms []Room, crank float64, err error) {
	b, arms := *m.Bike, m.arms(pos.Posture.Hands)
	if arms == nil { // the seat alone: the hands may be anywhere
		b.Bar, b.Clipon = bike.BarFit{Arms: map[bike.Contact]bike.Arm{pos.Posture.Hands: {}}}, nil
	}
	s, err := carry.Solve(ctx, &b, source, pos, o)
	if err != nil {
		return nil, 0, err
	}
	station, _ := m.fit.Saddle.WidthStation(pos.Posture.Support)
	rooms = append(rooms, room(s.Contacts[0], m.saddle, []arm{m.ontoSaddle(m.fit.Saddle.Loaded(station))}))
	if arms != nil {
		rooms = append(rooms, room(s.Contacts[1], m.bar, arms))
	}
	for i := range rooms {
		rooms[i].HeldBy = s.HeldBy(rooms[i].Carried)
	}
	return rooms, s.Want.Crank, nil
}

func room(k carry.Carried, c clamp, arms []arm) Room {
	want, angle := k.Want.At, k.Want.Angle
	r := Room{Carried: k, Region: region(string(k.Want.Name), c, arms, angle)}
	least, greatest := math.Inf(1), math.Inf(-1)
	for _, a := range arms {
		for _, e := range ends(a.turn) {
			least, greatest = math.Min(least, e.Lo+a.offset), math.Max(greatest, e.Hi+a.offset)
		}
	}
	r.TurnDown, r.TurnUp = angle-least, greatest-angle
	poly := r.Region.Polygon
	r.Inside = inside(poly, want)
	near, distance := border(poly, want)
	if r.Nearest = distance; !r.Inside {
		near, distance, r.Nearest = k.Got.At, k.Miss, -k.Miss
	}
	if distance > 0 {
		r.Toward = near.Sub(want).Scale(1 / distance)
	}
	for k := range Compass {
		r.Along = append(r.Along, toBorder(poly, want, plane.Direction(float64(k)*math.Pi/4), r.Inside))
	}
	return r
}

// onBorder is the distance, mm, within which a place counts as on a border: rounding in coordinates of a metre.
const onBorder = 1e-9

// inside reports whether p lies in a convex polygon with counter-clockwise corners, its border included.
func inside(poly []plane.Point, p plane.Point) bool {
	if _, d := border(poly, p); d <= onBorder {
		return true
	}
	if len(poly) < 3 {
		return false
	}
	for i, a := range poly {
		if poly[(i+1)%len(poly)].Sub(a).Cross(p.Sub(a)) < 0 {
			return false
		}
	}
	return true
}

// border is the place of the border nearest to p.
func border(poly []plane.Point, p plane.Point) (near plane.Point, distance float64) {
	distance = math.Inf(1)
	for i, a := range poly {
		e := poly[(i+1)%len(poly)].Sub(a)
		q := a
		if n := e.Dot(e); n > 0 {
			q = a.Add(e.Scale(plane.Clamp(e.Dot(p.Sub(a))/n, 0, 1)))
		}
		if d := q.Distance(p); d < distance {
			near, distance = q, d
		}
	}
	return near, distance
}

// toBorder is how far it is from p along d to the border: out of it from inside; into it, negative, from outside.
func toBorder(poly []plane.Point, p, d plane.Point, in bool) float64 {
	least, greatest := math.Inf(1), math.Inf(-1)
	for i, a := range poly {
		e := poly[(i+1)%len(poly)].Sub(a)
		r := a.Sub(p)
		across := d.Cross(e)
		if math.Abs(across) <= 1e-12*e.Norm() {
			if math.Abs(d.Cross(r)) <= onBorder { // the ray runs along this edge
				for _, v := range []plane.Point{r, r.Add(e)} {
					least, greatest = math.Min(least, d.Dot(v)), math.Max(greatest, d.Dot(v))
				}
			}
			continue
		}
		// p + s·d = a + u·e
		s, u := r.Cross(e)/across, r.Cross(d)/across
		if u >= -1e-12 && u <= 1+1e-12 {
			least, greatest = math.Min(least, s), math.Max(greatest, s)
		}
	}
	switch {
	case in:
		return math.Max(0, greatest)
	case least < 0 || math.IsInf(least, 1):
		return math.NaN()
	}
	return -least
}
