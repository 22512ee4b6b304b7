package convert

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"carryover/internal/assembly"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// resting is the point of a saddle, in its own frame, at which it carries the rider.
func resting(s *saddle.Shape, station float64, loaded bool) plane.Point {
	if loaded {
		return s.Loaded(station)
	}
	return s.Point(station)
}

// Swap is another saddle in the place of a located one, so that the same support width rests at the same place. With p, p'
// the resting points of the two in their own frames, N, N' the points of their straightedge lines above the noses and t, t'
// their tilts
//
//	N' = N + R(t)·p - R(t')·p'
type Swap struct {
	To     string        `json:"to"`
	Name   string        `json:"name"`
	Shape  *saddle.Shape `json:"-"`
	Loaded bool          `json:"loaded"`
	// Support is the width that rests where it was.
	Support float64     `json:"support"`
	Tilt    plane.Angle `json:"tilt"`
	// Forward and Up are R(-t)·(N' - N), mm: how far the point of the straightedge line above the nose moves.
	Forward float64 `json:"line_forward"`
	Up      float64 `json:"line_up"`
	// References pairs each reference that both saddles have; a stated station is no such thing.
	References []SwapReference `json:"references"`
	SeatTube   *Estimate       `json:"seat_tube,omitempty"`
	// Spread is the greatest distance between where two references would put the other saddle, mm: what the
	// choice of the reference to keep leaves open.
	Spread    float64             `json:"spread"`
	Post      *Post               `json:"post,omitempty"` // nil without a seat angle
	Placement *assembly.Placement `json:"-"`
}

// SwapReference is a reference on the other saddle. The errors say how far forward and up the support would land from where
// it was, mm, if the other saddle were set up with this reference where it was on the first, and its tilt.
type SwapReference struct {
	Reference
	ErrorForward float64   `json:"error_forward"`
	ErrorUp      float64   `json:"error_up"`
	From         Reference `json:"-"`
}

// Post is how the seatpost and its clamp follow the other saddle.
type Post struct {
	Up   float64 `json:"up"`         // along the seat tube, mm
	From float64 `json:"clamp_from"` // station that the clamp holds on the located saddle, mm
	To   float64 `json:"clamp_to"`   // and on the other
}

// Put puts the support of the request at the same place on another saddle, counting how far each surface gives under the
// rider if loaded.
func (l *Located) Put(to Saddle, loaded bool) (*Swap, error) {
	q := &l.request
	width := q.SupportWidth()
	if width == 0 {
		return nil, errors.New("a swap needs the width that carries the rider: a support in mm, or the sit-bone spacing")
	}
	at, was := q.rest(to.Shape), l.pose()
	contact := was.At(resting(l.Shape, l.at.support, loaded))
	h := hung{pose: plane.Pose{Turn: was.Turn}}
	if q.ToTilt != nil {
		arm := contact.Sub(was.Origin).Perp()
		h.pose.Turn, h.arm = *q.ToTilt, &arm
	}
	h.pose.Origin = contact.Sub(resting(to.Shape, at.support, loaded).Turn(h.pose.Turn))
	offset := was.Local(h.pose.Origin)
	s := &Swap{To: to.ID, Name: to.Name, Shape: to.Shape, Loaded: loaded, Support: width,
		Tilt: plane.Angle(h.pose.Turn), Forward: offset.X, Up: offset.Y}
	other := l.references(to.Shape, at, h)
	s.References = make([]SwapReference, 0, len(other))
	for _, f := range l.References {
		if f.Ref.Kind == saddle.ByStation {
			continue
		}
		if i := slices.IndexFunc(other, func(t Reference) bool { return t.Ref == f.Ref }); i >= 0 {
			off := f.At().Sub(other[i].At())
			s.References = append(s.References, SwapReference{other[i], off.X, off.Y, f})
		}
	}
	for i, a := range s.References {
		for _, b := range s.References[:i] {
			s.Spread = math.Max(s.Spread, math.Hypot(a.ErrorForward-b.ErrorForward, a.ErrorUp-b.ErrorUp))
		}
	}
	layout := *l.Placement.Layout
	layout.Shape = to.Shape
	s.Placement = &assembly.Placement{Layout: &layout, Poses: l.Placement.Poses}
	s.Placement.Poses[assembly.Saddle] = h.pose
	if l.SeatTube != nil {
		s.SeatTube = l.seatTube(h, s.Placement)
	}
	l.Swap = s
	l.warn(to.ID, at.meets)
	l.follow(s)
	return s, nil
}

// follow works out how the post follows. The clamp's centre C holds the rails of the located saddle at station c and moves
// by u along the seat tube until it lies on those of the other, whose centre line starts at S above the nose and runs back
// along r:
//
//	C + up·u = S + c'·r,   up = (S - C)×r / u×r,   c' = (C + up·u - S)·r
func (l *Located) follow(s *Swap) {
	q := &l.request
	if q.SeatAngle == nil || l.Shape.Rail.Height <= 0 || s.Shape.Rail.Height <= 0 {
		return
	}
	c := l.Shape.Rail.Mid()
	if q.ClampAt != nil {
		c = *q.ClampAt
	} else {
		l.Assumptions = append(l.Assumptions, fmt.Sprintf("the clamp holds %s in the middle of its rails' stretch, %.1f mm behind the nose",
			l.ID, c))
	}
	from := l.pose().At(l.Shape.RailPoint(c))
	pose := s.Placement.Poses[assembly.Saddle]
	start, back := pose.At(s.Shape.RailPoint(0)), plane.Direction(math.Pi+pose.Turn)
	along := plane.Direction(math.Pi - *q.SeatAngle)
	up := start.Sub(from).Cross(back) / along.Cross(back)
	s.Post = &Post{Up: up, From: c, To: from.Add(along.Scale(up)).Sub(start).Dot(back)}
	if r := s.Shape.Rail; s.Post.To < r.From || s.Post.To > r.To {
		l.Warnings = append(l.Warnings, locate.Warning{Code: "rail-stretch", Text: fmt.Sprintf(
			"on this post the clamp would hold %s %.1f mm behind its nose; its rails can be held from %.1f to %.1f mm", s.To, s.Post.To, r.From,
			r.To)})
	}
}

// Table is every swap between two lists of saddles: Rows[i].Cells[j] is what going from saddle i to saddle j moves.
type Table struct {
	Schema  int         `json:"schema"`
	Support float64     `json:"support"`
	Tilt    plane.Angle `json:"tilt"` // of both
	Loaded  bool        `json:"loaded"`
	To      []string    `json:"to"`
	Rows    []TableRow  `json:"rows"`
}

// TableRow is one saddle that is left.
type TableRow struct {
	From  string `json:"from"`
	Cells []Cell `json:"cells"`
}

// Cell is one swap of a table, mm: how far the nose moves forward, counted along the level, and the straightedge up, counted
// across itself. Narrow: one of the two does not reach the support, so the swap rests on its widest place or its nose.
type Cell struct {
	Nose   float64 `json:"nose_forward"`
	Top    float64 `json:"top_up"`
	Narrow bool    `json:"narrow"`
}

// NewTable works out every swap between two lists of saddles at a common tilt.
func NewTable(from, to []Saddle, support float64, tilt plane.Angle, loaded bool) Table {
	t := Table{Schema: 1, Support: support, Tilt: tilt, Loaded: loaded, To: make([]string, len(to)), Rows: make([]TableRow, len(from))}
	for j, o := range to {
		t.To[j] = o.ID
	}
	for i, f := range from {
		t.Rows[i] = TableRow{From: f.ID, Cells: make([]Cell, len(to))}
		a, meets := f.Shape.WidthStation(support)
		for j, o := range to {
			b, met := o.Shape.WidthStation(support)
			moved := resting(f.Shape, a, loaded).Sub(resting(o.Shape, b, loaded))
			nose := moved.Add(o.Shape.Point(0)).Sub(f.Shape.Point(0)).Turn(float64(tilt))
			t.Rows[i].Cells[j] = Cell{Nose: nose.X, Top: moved.Y, Narrow: meets != saddle.Reached || met != saddle.Reached}
		}
	}
	return t
}
