// Package convert turns readings of one saddle into every reference of that saddle, and into the readings
// that put the same support at the same place on another one.
//
// The readings are adjusted together (package locate), so that more of them than needed check one another and
// every number carries the uncertainty that they leave.
package convert

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Saddle is a saddle with what a person calls it.
type Saddle struct {
	ID, Name string
	Shape    *saddle.Shape
}

// Request is what is known of one saddle.
type Request struct {
	Saddle    Saddle
	Readings  []bike.Reading
	SeatAngle *float64 // radians, for readings along the seat tube
	BBHeight  *float64 // mm, for readings from the floor
	SitWidth  float64  // width that carries the sit bones, mm; 0: unknown
	Support   float64  // width that carries the rider, mm; 0: not asked

	widths widthCache // nil: none
}

// Located is a saddle with its place.
type Located struct {
	Request
	Adjustment *locate.Adjustment
	Stance     *assembly.Stance
	// Cov is the covariance of the straightedge line's point above the nose, x and y (mm), and of the tilt
	// (radians).
	Cov [3][3]float64

	found []Reference
	at    rest
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
	if q.SitWidth > 0 {
		rider = &bike.Rider{SitBones: q.SitWidth}
	}
	a, err := locate.Adjust(b, rider, locate.Options{})
	if err != nil {
		return nil, err
	}
	if err := a.Err(); err != nil {
		return nil, withoutBar(err)
	}
	l := &Located{Request: q, Adjustment: a, Stance: a.Stance}
	// A saddle that hangs on nothing has three unknowns of its own: x, y and tilt, in this order.
	s := a.Search.Final
	if len(s.X) != 3 {
		return nil, fmt.Errorf("%s: %d unknowns where a lone saddle has 3", q.Saddle.ID, len(s.X))
	}
	for i := range 3 {
		copy(l.Cov[i][:], s.Cov[i*3:i*3+3])
	}
	return l, nil
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
			if r.Kind == bike.Line || r.Kind == bike.Level || r.Kind == bike.Plumb {
				if _, err := q.Saddle.Shape.Station(p.Ref, q.SitWidth); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// withoutBar leaves readings to a bar out of what is proposed: there is none here.
func withoutBar(err error) error {
	var missing *locate.MissingError
	if !errors.As(err, &missing) {
		return err
	}
	m := *missing
	m.Gaps = slices.Clone(m.Gaps)
	for i, g := range m.Gaps {
		m.Gaps[i].Readings = slices.DeleteFunc(slices.Clone(g.Readings), func(r string) bool { return r == "nose-to-bar" })
	}
	return &m
}

// Reference is one reference of a saddle in the side view, mm.
type Reference struct {
	Ref     saddle.Reference
	Station float64
	At      plane.Point // from the BB
	Line    float64     // straight distance from the BB

	SigmaX, SigmaY, SigmaLine float64
}

// Setback is how far the reference lies behind the BB, mm.
func (r Reference) Setback() float64 { return -r.At.X }

// sigma is the standard uncertainty of a point of the located body, local in its frame, along n.
func (l *Located) sigma(local, n plane.Point) float64 {
	arm := local.Turn(l.Tilt()).Perp()
	return l.propagate([3]float64{n.X, n.Y, n.Dot(arm)})
}

func (l *Located) propagate(g [3]float64) float64 {
	v := 0.0
	for i := range 3 {
		for j := range 3 {
			v += g[i] * l.Cov[i][j] * g[j]
		}
	}
	return math.Sqrt(math.Max(0, v))
}

// Tilt is the adjusted tilt, radians.
func (l *Located) Tilt() float64 { return l.Stance.Poses[assembly.Saddle].Turn }

// SigmaTilt is its standard uncertainty, radians.
func (l *Located) SigmaTilt() float64 { return l.propagate([3]float64{2: 1}) }

// References lists every reference of the saddle: nose, mid, tail, widest, sit and the support where they
// are known, and those that the readings went to.
func (l *Located) References() []Reference {
	if l.found == nil {
		l.at = l.rest(l.Saddle.Shape)
		l.found = l.references(l.Saddle.Shape, l.at, plane.Point{})
	}
	return l.found
}

// supportWidth is the width that carries the rider, or the sit width when no support was asked for; ok
// is false when neither is known.
func (q *Request) supportWidth() (float64, bool) {
	if q.Support > 0 {
		return q.Support, true
	}
	return q.SitWidth, q.SitWidth > 0
}

// Fit says how the support meets the located saddle.
func (l *Located) Fit() saddle.Fit {
	l.References()
	return l.at.fit
}

// rest is where on a saddle a rider rests.
type rest struct {
	support, sit float64 // stations, mm
	fit          saddle.Fit
}

func (q *Request) rest(shape *saddle.Shape) (at rest) {
	if q.Support > 0 {
		at.support, at.fit = q.widths.station(shape, q.Support)
	}
	if q.SitWidth > 0 {
		var fit saddle.Fit
		at.sit, fit = q.widths.station(shape, q.SitWidth)
		if q.Support == 0 {
			at.support, at.fit = at.sit, fit
		}
	}
	return at
}

// widthCache remembers where saddles reach widths: a batch asks for the same few again and again.
type widthCache map[widthOn]widthAt

type widthOn struct {
	shape *saddle.Shape
	width float64
}

type widthAt struct {
	station float64
	fit     saddle.Fit
}

// maxWidths bounds a cache.
const maxWidths = 4096

func (c widthCache) station(shape *saddle.Shape, width float64) (float64, saddle.Fit) {
	on := widthOn{shape, width}
	at, ok := c[on]
	if !ok {
		at.station, at.fit = shape.WidthStation(width)
		if len(c) >= maxWidths {
			clear(c)
		}
		if c != nil {
			c[on] = at
		}
	}
	return at.station, at.fit
}

// references are those of a shape fixed to the located saddle with its nose at offset in that saddle's frame.
func (l *Located) references(shape *saddle.Shape, at rest, offset plane.Point) []Reference {
	list := make([]Reference, 0, 8)
	add := func(ref saddle.Reference, station float64) {
		local := offset.Add(shape.Point(station))
		p := l.Stance.Poses[assembly.Saddle].At(local)
		r := Reference{Ref: ref, Station: station, At: p, Line: p.Norm(),
			SigmaX: l.sigma(local, plane.Point{X: 1}), SigmaY: l.sigma(local, plane.Point{Y: 1})}
		if r.Line > 0 {
			r.SigmaLine = l.sigma(local, p.Scale(1/r.Line))
		}
		list = append(list, r)
	}
	widest, _ := shape.Widest()
	add(saddle.Reference{Kind: saddle.Nose}, 0)
	add(saddle.Reference{Kind: saddle.Mid}, shape.Length/2)
	add(saddle.Reference{Kind: saddle.Tail}, shape.Length)
	add(saddle.Reference{Kind: saddle.Widest}, widest)
	if l.SitWidth > 0 {
		add(saddle.Reference{Kind: saddle.Sit}, at.sit)
	}
	if l.Support > 0 {
		add(saddle.Reference{Kind: saddle.ByWidth, MM: l.Support}, at.support)
	}
	for _, r := range l.Readings {
		for _, p := range [2]bike.Place{r.From, r.To} {
			if p.Kind != bike.AtSaddle || slices.ContainsFunc(list, func(r Reference) bool { return r.Ref == p.Ref }) {
				continue
			}
			if station, err := shape.Station(p.Ref, l.SitWidth); err == nil { // else the other saddle has no such place
				add(p.Ref, station)
			}
		}
	}
	return list
}

// SeatTube is the distance from the BB along the seat-tube line to the saddle's top and its standard
// uncertainty, mm; ok is false without a seat angle.
func (l *Located) SeatTube() (value, sigma float64, ok bool) {
	return l.seatTube(l.Stance, plane.Point{})
}

func (l *Located) seatTube(s *assembly.Stance, offset plane.Point) (value, sigma float64, ok bool) {
	if l.SeatAngle == nil {
		return 0, 0, false
	}
	v, g, err := s.Measure(bike.Reading{Kind: bike.SeatTube})
	if err != nil {
		return 0, 0, false
	}
	m := g[assembly.Saddle]
	// The other saddle's origin hangs on the located one: it moves as N + R(t)·offset.
	arm := offset.Turn(l.Tilt()).Perp()
	return v, l.propagate([3]float64{m.By.X, m.By.Y, m.Turn + m.By.Dot(arm)}), true
}

// SupportWidth is the width that carries the rider, mm: the support, or the sit width; 0 when neither is known.
func (q *Request) SupportWidth() float64 {
	w, _ := q.supportWidth()
	return w
}
