package draw

import (
	"math"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/plane"
)

// piece is a line of a machine in the side view, mm.
type piece struct {
	name   string
	line   []plane.Point
	closed bool
}

// spot is where a name belongs, and on which side of it.
type spot struct {
	at     plane.Point
	toward float64
}

// tube is the outline of a straight tube of some width from a to b.
func tube(name string, a, b plane.Point, width float64) piece {
	d := b.Sub(a)
	n := d.Norm()
	if n == 0 {
		return piece{name: name, line: []plane.Point{a, b}}
	}
	side := d.Perp().Scale(width / 2 / n)
	return piece{name, []plane.Point{a.Add(side), b.Add(side), b.Sub(side), a.Sub(side)}, true}
}

// Sizes of what is only sketched, mm: usual ones (common practice).
const (
	postWidth, railWidth, tubeWidth = 27.0, 13.0, 34.0
	carriageLength, carriageWidth   = 46.0, 24.0
	headTube                        = 120.0
)

// clamped is where a half's clamp is, from the parts on it, and whether there is one.
func (s *standing) clamped(m bike.Moves) (plane.Point, bool) {
	if m == bike.MovesBar {
		return s.Poses[assembly.Bar].Origin, s.BarShape != nil || s.Bike.BarAnchor != nil
	}
	if s.Shape == nil { // usual: see the model, without shapes
		return s.contacts[0].At.Sub(plane.Point{Y: 50}), true
	}
	return s.Poses[assembly.Saddle].At(s.Shape.RailPoint(s.Shape.Rail.Mid())), true
}

// carrier draws what carries one clamp: posts and sliders at their travel, each from the end of the one before, and
// returns the foot of it, where the frame begins. found is false where nothing is known to carry it.
func (s *standing) carrier(m bike.Moves, anchor *plane.Point) (list []piece, labels map[int]spot, foot plane.Point, found bool) {
	labels = map[int]spot{}
	if anchor == nil || *anchor == (plane.Point{}) {
		return nil, labels, foot, false
	}
	at := *anchor
	foot = at
	for _, i := range s.Bike.Moving(m) {
		a := &s.Bike.Adjusters[i]
		u, travel := a.Direction(), 0.0
		if i < len(s.travels) && !math.IsNaN(s.travels[i]) {
			travel = s.travels[i]
		}
		lo, hi := travel, travel
		if !a.NoRange && !a.FromHere {
			lo, hi = math.Min(a.Travel(a.Lo), a.Travel(a.Hi)), math.Max(a.Travel(a.Lo), a.Travel(a.Hi))
		}
		next := at.Add(u.Scale(travel))
		if math.Abs(u.Y) > 0.6 { // stands: the sleeve as high as the lowest setting, the post out of it
			if u.Y < 0 {
				u, lo = u.Scale(-1), -hi
			}
			low := at.Add(u.Scale(lo - 30))
			base := low.Sub(u.Scale(math.Max(0.35*math.Abs(low.Y), 60)))
			list = append(list, tube(a.Name, low, next.Sub(u.Scale(12)), postWidth), tube("", base, low, postWidth+10))
			labels[i] = spot{low.Add(next).Scale(0.5), math.Pi}
			foot = base
		} else { // lies
			list = append(list, tube("", at.Add(u.Scale(lo-carriageLength/2)), at.Add(u.Scale(hi+carriageLength/2)), railWidth))
			list = append(list, tube(a.Name, next.Sub(u.Scale(carriageLength/2)), next.Add(u.Scale(carriageLength/2)), carriageWidth))
			labels[i] = spot{next.Add(plane.Point{Y: -carriageWidth / 2}), -math.Pi / 2}
		}
		at, found = next, true
	}
	return list, labels, foot, found
}

// machine sketches what holds the parts, so that the bike is recognised: posts and sliders as described, and a frame
// between their feet that nobody measured. labels are where each adjuster's name belongs.
func (s *standing) machine() (list []piece, labels map[int]spot) {
	b := s.Bike
	var bb plane.Point
	posts, labels, seat, ok := s.carrier(bike.MovesSaddle, b.SaddleAnchor)
	if !ok {
		if top, has := s.clamped(bike.MovesSaddle); has {
			u := top.Scale(1 / math.Max(top.Norm(), 1))
			if b.Frame.SeatAngle != nil {
				u = plane.Direction(math.Pi - *b.Frame.SeatAngle)
			}
			seat = top.Sub(u.Scale(0.28 * top.Norm()))
			posts, ok = []piece{tube("", seat, top.Sub(u.Scale(12)), postWidth)}, true
		}
	}
	list = posts
	var low, high plane.Point // of the head tube
	front, more, foot, held := s.carrier(bike.MovesBar, b.BarAnchor)
	for i, q := range more {
		labels[i] = q
	}
	list = append(list, front...)
	if held {
		high, low = foot, foot
	} else if steerer, has := b.Steerer(); has {
		high, low, held = steerer.Top, steerer.Top.Sub(steerer.Up().Scale(headTube)), true
		list = append(list, tube("", low, high, tubeWidth))
	} else if at, has := s.clamped(bike.MovesBar); has {
		u := plane.Direction(plane.Rad(107)) // a usual head angle of 73°
		high = at.Sub(u.Scale(45))
		low, held = high.Sub(u.Scale(headTube)), true
		list = append(list, tube("", low, high, tubeWidth))
	}
	if ok {
		list = append(list, piece{line: []plane.Point{bb, seat}})
	}
	if held {
		list = append(list, piece{line: []plane.Point{bb, low}})
	}
	if ok && held {
		list = append(list, piece{line: []plane.Point{seat, high}})
	}
	return list, labels
}
