// Package convert turns readings of one saddle into every reference of that saddle, and into the readings
// that put the same support at the same place on another one.
//
// The readings are adjusted together (package locate), so that more of them than needed check one another and
// every number carries the uncertainty that they leave.
package convert

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Saddle is a saddle with what a person calls it.
type Saddle struct {
	ID    string        `json:"saddle"`
	Name  string        `json:"name"`
	Shape *saddle.Shape `json:"-"`
}

// Request is what is known of one saddle, and what is asked about it and about another.
type Request struct {
	Saddle    Saddle
	Readings  []bike.Reading
	SeatAngle *float64 // radians, for readings along the seat tube and for the way of the post
	BBHeight  *float64 // mm, for readings from the floor
	SitWidth  float64  // width that carries the sit bones, mm; 0: unknown
	Support   float64  // width that carries the rider, mm; 0: not asked
	Also      []saddle.Reference
	ToTilt    *float64 // of the other saddle, radians; nil: as the located one stands
	ClampAt   *float64 // station that the post's clamp holds, mm; nil: the middle of the rails' stretch
}

// Located is a saddle with its place, and another in its place once Put has been called. As JSON its lengths are mm and its
// angles degrees.
type Located struct {
	Schema int `json:"schema"`
	Saddle
	Tilt        plane.Angle      `json:"tilt"`
	SigmaTilt   plane.Angle      `json:"sigma_tilt"`
	References  []Reference      `json:"references"`
	SeatTube    *Estimate        `json:"seat_tube,omitempty"`
	BBHeight    *float64         `json:"bb_height,omitempty"`
	Swap        *Swap            `json:"swap,omitempty"`
	Assumptions []string         `json:"assumptions"`
	Warnings    []locate.Warning `json:"warnings"`

	Adjustment *locate.Adjustment  `json:"-"`
	Placement  *assembly.Placement `json:"-"`

	request Request
	at      rest
}

// Estimate is a number with its standard uncertainty, mm.
type Estimate struct {
	Value float64 `json:"value"`
	Sigma float64 `json:"sigma"`
}

// MarshalJSON adds what the adjustment says of the readings, and the versions of the saddles.
func (l *Located) MarshalJSON() ([]byte, error) {
	type plain Located
	versions := []bike.Version{{Slot: "saddle", Part: l.ID, Version: bike.VersionOf(l.Shape)}}
	if s := l.Swap; s != nil {
		versions = append(versions, bike.Version{Slot: "saddle", Part: s.To, Version: bike.VersionOf(s.Shape)})
	}
	return json.Marshal(struct {
		*plain
		Readings []locate.ReadingSaid `json:"readings"`
		Suspects []locate.Finding     `json:"suspects"`
		Versions []bike.Version       `json:"versions"`
	}{(*plain)(l), l.Adjustment.Said(), l.Adjustment.Findings(), versions})
}

// Locate adjusts the readings of a request. What they do not fix is a *locate.MissingError.
func Locate(q Request) (*Located, error) {
	b := &bike.Bike{File: q.Saddle.ID, Readings: q.Readings}
	b.Frame.SeatAngle, b.Frame.BBHeight = q.SeatAngle, q.BBHeight
	b.Saddle.Slot = bike.Slot[saddle.Shape]{Options: []bike.Option[saddle.Shape]{{ID: q.Saddle.ID, Part: q.Saddle.Shape}}}
	for i := range b.Readings {
		b.Readings[i].Index = i + 1
		if err := q.usable(b.Readings[i]); err != nil {
			return nil, fmt.Errorf("%s: %w", b.Readings[i].Written, err)
		}
	}
	var rider *bike.Rider
	if w := q.sitWidth(); w > 0 {
		rider = &bike.Rider{SitBones: w}
	}
	a, err := locate.Adjust(b, rider, locate.Options{})
	if err != nil {
		return nil, err
	}
	if err := a.Err(); err != nil {
		return nil, err
	}
	l := &Located{Schema: 1, Saddle: q.Saddle, BBHeight: q.BBHeight, Adjustment: a, Placement: a.Placement, request: q}
	// A saddle that hangs on nothing has three unknowns of its own: x, y and tilt, in this order.
	if n := len(a.Search.Final.X); n != 3 {
		return nil, fmt.Errorf("%s: %d unknowns where a lone saddle has 3", q.Saddle.ID, n)
	}
	l.Tilt, l.SigmaTilt = plane.Angle(l.pose().Turn), plane.Angle(l.propagate([3]float64{2: 1}))
	l.at = q.rest(q.Saddle.Shape)
	l.References = l.references(q.Saddle.Shape, l.at, hung{pose: l.pose()})
	l.SeatTube = l.seatTube(hung{pose: l.pose()}, l.Placement)
	l.Assumptions = append([]string{}, a.Assumptions()...)
	l.Warnings = []locate.Warning{}
	for _, text := range a.Implausible() {
		l.Warnings = append(l.Warnings, locate.Warning{Code: locate.ImplausibleCode, Text: text})
	}
	if q.SupportWidth() > 0 {
		l.warn(q.Saddle.ID, l.at.meets)
	}
	for _, ref := range q.Also {
		if _, err := q.Saddle.Shape.Station(ref, q.sitWidth()); err != nil {
			l.Warnings = append(l.Warnings, locate.Warning{Code: "no-reference", Text: fmt.Sprintf("%s on %s: %v", ref, q.Saddle.ID, err)})
		}
	}
	return l, nil
}

// warn says that a saddle does not reach the support.
func (l *Located) warn(id string, m saddle.Meeting) {
	var w locate.Warning
	switch m {
	case saddle.Reached:
		return
	case saddle.TooNarrow:
		w = locate.Warning{Code: "saddle-narrow", Text: id + " is nowhere as wide as the support and carries at its widest"}
	case saddle.AtNose:
		w = locate.Warning{Code: "support-at-nose", Text: id + " is wider than the support at its very nose and carries there"}
	}
	if !slices.Contains(l.Warnings, w) {
		l.Warnings = append(l.Warnings, w)
	}
}

// usable refuses what the adjustment could not place.
func (q *Request) usable(r bike.Reading) error {
	if r.Kind == bike.SeatTube && q.SeatAngle == nil {
		return errors.New("a reading along the seat tube needs the seat angle")
	}
	for _, p := range [2]bike.Place{r.From, r.To} {
		switch p.Kind {
		case bike.AtFloor:
			if r.Kind == bike.Plumb && q.BBHeight == nil {
				return errors.New("a reading from the floor needs the height of the BB above it")
			}
		case bike.AtSaddle:
			if _, err := q.Saddle.Shape.Station(p.Ref, q.sitWidth()); err != nil {
				return err
			}
		}
	}
	return nil
}

// Reference is one reference of a saddle in the side view, from the BB, mm.
type Reference struct {
	Ref            saddle.Reference `json:"reference"`
	Station        float64          `json:"station"`
	Setback        float64          `json:"setback"` // behind the BB
	SigmaSetback   float64          `json:"sigma_setback"`
	VerticalHeight float64          `json:"height"` // upright above the BB
	SigmaVertical  float64          `json:"sigma_height"`
	SaddleHeight   float64          `json:"line"` // straight from the BB
	SigmaHeight    float64          `json:"sigma_line"`
}

// At is where the reference lies.
func (r Reference) At() plane.Point { return plane.Point{X: -r.Setback, Y: r.VerticalHeight} }

// hung is a body that hangs on the located saddle: its pose, and how its points move per radian of that saddle's tilt. Without
// an arm the body turns with the saddle around the saddle's origin; with one it keeps its angle and all of it moves alike.
type hung struct {
	pose plane.Pose
	arm  *plane.Point
}

// moves is how the point p of the body moves per radian of tilt.
func (l *Located) moves(h hung, p plane.Point) plane.Point {
	if h.arm != nil {
		return *h.arm
	}
	return p.Sub(l.pose().Origin).Perp()
}

// propagate is the standard uncertainty of a number with the gradient g over x, y and tilt of the located saddle.
func (l *Located) propagate(g [3]float64) float64 { return l.Adjustment.Search.Final.Propagate(g[:]) }

// pose is that of the located saddle.
func (l *Located) pose() plane.Pose { return l.Placement.Poses[assembly.Saddle] }

// SupportWidth is the width that carries the rider, mm: the support, or the sit width; 0 when neither is known.
func (q *Request) SupportWidth() float64 { return cmp.Or(q.Support, q.SitWidth) }

// sitWidth is the width at the sit reference, mm: where the sit bones rest, or else the support does; 0 when neither is known.
func (q *Request) sitWidth() float64 { return cmp.Or(q.SitWidth, q.Support) }

// rest is where on a saddle a rider rests.
type rest struct {
	support, sit float64 // stations, mm
	meets        saddle.Meeting
}

func (q *Request) rest(shape *saddle.Shape) (at rest) {
	if q.Support > 0 {
		at.support, at.meets = shape.WidthStation(q.Support)
	}
	if q.SitWidth > 0 {
		var meets saddle.Meeting
		at.sit, meets = shape.WidthStation(q.SitWidth)
		if q.Support == 0 {
			at.support, at.meets = at.sit, meets
		}
	}
	return at
}

// references are those of a shape that hangs on the located saddle: nose, mid, tail, widest, sit and the support where they
// are known, those asked for, and those that the readings went to.
func (l *Located) references(shape *saddle.Shape, at rest, h hung) []Reference {
	q := &l.request
	list := make([]Reference, 0, 8)
	add := func(ref saddle.Reference, station float64) {
		p := h.pose.At(shape.Point(station))
		moves := l.moves(h, p)
		sigma := func(n plane.Point) float64 { return l.propagate([3]float64{n.X, n.Y, n.Dot(moves)}) }
		r := Reference{Ref: ref, Station: station, Setback: -p.X, VerticalHeight: p.Y, SaddleHeight: p.Norm(),
			SigmaSetback: sigma(plane.Point{X: 1}), SigmaVertical: sigma(plane.Point{Y: 1})}
		if r.SaddleHeight > 0 {
			r.SigmaHeight = sigma(p.Scale(1 / r.SaddleHeight))
		}
		list = append(list, r)
	}
	widest, _ := shape.Widest()
	add(saddle.Reference{Kind: saddle.Nose}, 0)
	add(saddle.Reference{Kind: saddle.Mid}, shape.Length/2)
	add(saddle.Reference{Kind: saddle.Tail}, shape.Length)
	add(saddle.Reference{Kind: saddle.Widest}, widest)
	if q.SitWidth > 0 {
		add(saddle.Reference{Kind: saddle.Sit}, at.sit)
	}
	if q.Support > 0 {
		add(saddle.Reference{Kind: saddle.ByWidth, MM: q.Support}, at.support)
	}
	more := func(ref saddle.Reference) {
		if slices.ContainsFunc(list, func(r Reference) bool { return r.Ref == ref }) {
			return
		}
		if station, err := shape.Station(ref, q.sitWidth()); err == nil { // else this saddle has no such place
			add(ref, station)
		}
	}
	for _, ref := range q.Also {
		more(ref)
	}
	for _, r := range q.Readings {
		for _, p := range [2]bike.Place{r.From, r.To} {
			if p.Kind == bike.AtSaddle {
				more(p.Ref)
			}
		}
	}
	return list
}

// seatTube is the distance from the BB along the seat-tube line to the top of a saddle that hangs on the located one; nil
// without a seat angle, or where the line passes the saddle by.
func (l *Located) seatTube(h hung, s *assembly.Placement) *Estimate {
	if l.request.SeatAngle == nil {
		return nil
	}
	v, g, err := s.ReadingOf(bike.Reading{Kind: bike.SeatTube})
	if err != nil {
		return nil
	}
	m := g[assembly.Saddle]
	turn := m.By.Dot(l.moves(h, h.pose.Origin))
	if h.arm == nil {
		turn += m.Turn
	}
	return &Estimate{v, l.propagate([3]float64{m.By.X, m.By.Y, turn})}
}
