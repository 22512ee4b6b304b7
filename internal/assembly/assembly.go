// Package assembly is a bike as it stands: where each rigid part of it is in the side view, so that any
// point a tape can go to, any reading and any contact has a place.
//
// A bike is at most six rigid bodies. Points of parts are mounted on them: a hood on the bar when a lever
// gives it, or a body of its own when only measured.
package assembly

import (
	"fmt"
	"math"

	"carryover/internal/bike"
	"carryover/internal/cockpit"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Body is one rigid part, with a pose.
type Body int

// The bodies. Saddle: origin N on the straightedge above the nose, or on the mark of a saddle without a shape,
// turn = saddle tilt. Bar: origin at the
// clamp centre, turn = rotation. Pads: origin at the bar's clamp centre and turned by the pad tilt when a
// clip-on gives them, else at the pad centre. Hood, Drop, Grip: points of their own where only measured.
const (
	Saddle Body = iota
	Bar
	Hood
	Drop
	Pads
	Grip
	Bodies
)

// Mount is a point of a body in that body's own frame, with its angle against it (radians).
type Mount struct {
	Body  Body
	At    plane.Point
	Angle float64
	Known bool // false: the bike does not have or does not give it
}

// Layout says which parts a bike stands with and how its contacts hang on them. It has no poses yet.
type Layout struct {
	Bike     *bike.Bike
	Shape    *saddle.Shape // nil: nothing is known of the saddle but a mark put where the rider sits
	SitWidth float64       // where the rider sits: the support width, mm; 0: not known
	SitAt    *float64      // or the station, mm
	BarShape *cockpit.Bar
	Lever    *cockpit.Lever
	LeverAt  float64
	Clipon   *cockpit.Clipon
	// How the pads are set, mm; used with Clipon.
	Hole, Stack, Extension float64

	Hood, Drop, Pad, Grip Mount
	PadLength             float64 // mm, 0: unknown
}

// Placement is a layout with poses.
type Placement struct {
	*Layout
	Poses [Bodies]plane.Pose
}

// New lays out a bike as it is fitted, with the rider where a posture carries them: with its single parts, and
// bodies of their own for what no part gives.
func New(b *bike.Bike, p bike.Posture) *Layout {
	l := &Layout{Bike: b, Shape: b.Saddle.Only(), SitWidth: p.Support, SitAt: p.At,
		BarShape: b.Bar.Only(), Lever: b.Bar.Lever.Only(), LeverAt: b.Bar.LeverAt.Mid()}
	if c := b.Clipon; c != nil {
		shape := c.Only()
		hole, okHole := settled(c.Hole, shape.Holes)
		stack, okStack := settled(c.Stack, shape.Stacks)
		if okHole && okStack {
			l.Clipon, l.Hole, l.Stack = shape, hole, stack
			if e := c.Extension; e.Given && !e.Free {
				l.Extension = e.Lo
			} else {
				l.Extension = math.NaN()
			}
		}
		l.PadLength = shape.PadLength
	}
	l.Hang()
	return l
}

// settled is the value a setting has: its own, or the only one offered.
func settled(s bike.Setting, offered []float64) (float64, bool) {
	if s.Given && !s.Free {
		return s.Lo, true
	}
	if len(offered) == 1 {
		return offered[0], true
	}
	return 0, false
}

// Hang mounts the contacts on the parts as they are now set.
func (l *Layout) Hang() {
	l.Hood = Mount{Body: Hood, Known: true}
	l.Drop = Mount{Body: Drop, Known: true}
	l.Pad = Mount{Body: Pads, Known: true}
	l.Grip = Mount{Body: Grip, Known: true}
	if l.BarShape != nil {
		if at, angle, ok := l.BarShape.HoodContact(l.Lever, l.LeverAt); ok {
			l.Hood = Mount{Bar, at, angle, true}
		}
		if at, ok := l.BarShape.DropContact(); ok {
			l.Drop = Mount{Body: Bar, At: at, Known: true}
		}
	}
	if l.Clipon != nil {
		l.Pad.At = l.Clipon.Pad(l.Hole, l.Stack)
		if !math.IsNaN(l.Extension) {
			l.Grip = Mount{Body: Pads, At: l.Clipon.Grip(l.Hole, l.Stack, l.Extension), Known: true}
		}
	}
}

// Mounted returns the body and the place on it that a point belongs to.
func (l *Layout) Mounted(p bike.Place) (Mount, error) {
	switch p.Kind {
	case bike.AtSaddle:
		station, err := l.station(p.Ref)
		if err != nil {
			return Mount{}, err
		}
		m := Mount{Body: Saddle, Known: true}
		if l.Shape != nil {
			m.At = l.Shape.Point(station)
		}
		return m, nil
	case bike.AtBar:
		return Mount{Body: Bar, Known: true}, nil
	case bike.AtHood:
		return l.Hood, nil
	case bike.AtDrop:
		return l.Drop, nil
	case bike.AtPad:
		return l.Pad, nil
	case bike.AtGrip:
		return l.Grip, nil
	case bike.AtPadRear, bike.AtPadFront:
		if l.PadLength == 0 {
			return Mount{}, fmt.Errorf("%s needs the length of the pads: give the clip-on", p)
		}
		m := l.Pad
		half := l.PadLength / 2
		if p.Kind == bike.AtPadRear {
			half = -half
		}
		m.At.X += half
		return m, nil
	}
	return Mount{}, fmt.Errorf("%s does not hang on any part", p)
}

// station is where a reference lies on the saddle, mm behind its nose; 0 for the mark on a saddle without a shape.
func (l *Layout) station(r saddle.Reference) (float64, error) {
	switch {
	case l.Shape == nil && r.Kind == saddle.Sit:
		return 0, nil
	case l.Shape == nil:
		return 0, fmt.Errorf("this bike has no saddle part, so saddle.%s has no place: of its saddle only the mark saddle.sit can be read", r)
	case l.SitAt != nil && r.Kind == saddle.Sit:
		return *l.SitAt, nil
	}
	return l.Shape.Station(r, l.SitWidth)
}

// Where returns the place of a point of the bike. The floor has only a height and is not a point.
func (s *Placement) Where(p bike.Place) (plane.Point, error) {
	if p.Kind == bike.AtBB {
		return plane.Point{}, nil
	}
	m, err := s.Mounted(p)
	if err != nil {
		return plane.Point{}, err
	}
	return s.Poses[m.Body].At(m.At), nil
}

// SitMount is the loaded contact of a support width w.
func (l *Layout) SitMount(w float64) (Mount, saddle.Meeting) {
	if l.Shape == nil {
		return l.loaded(0), saddle.Reached
	}
	station, fit := l.Shape.WidthStation(w)
	return l.loaded(station), fit
}

// Seat is the loaded contact of a posture on a bike of its own, where its support may be a station.
func (l *Layout) Seat(p bike.Posture) (Mount, saddle.Meeting, error) {
	switch {
	case l.Shape == nil:
		return l.loaded(0), saddle.Reached, nil
	case p.At != nil:
		if *p.At < 0 || *p.At > l.Shape.Length {
			return Mount{}, 0, fmt.Errorf("%s: posture %q is supported %g mm behind the nose, the saddle is %g mm long",
				l.Bike.File, p.Name, *p.At, l.Shape.Length)
		}
		return l.loaded(*p.At), saddle.Reached, nil
	case p.Support <= 0:
		return Mount{}, 0, fmt.Errorf("%s: posture %q is supported at the sit bones: give --rider FILE with sit_bones, or a width in mm",
			l.Bike.File, p.Name)
	}
	m, fit := l.SitMount(p.Support)
	return m, fit, nil
}

// loaded is the contact at a station, or on the mark of a saddle without a shape.
func (l *Layout) loaded(station float64) Mount {
	m := Mount{Body: Saddle, Known: true}
	switch {
	case l.Shape != nil:
		m.At = l.Shape.Loaded(station)
	case l.Bike.Saddle.Sag != nil:
		m.At.Y = -*l.Bike.Saddle.Sag
	}
	return m
}

// HandMount is the contact of the hands; its angle is against its body.
func (l *Layout) HandMount(c bike.Contact) Mount {
	m, _ := l.Mounted(c.Place())
	return m
}

// Contact is a place where the rider touches, with its angle in radians.
type Contact struct {
	Name  bike.Contact
	At    plane.Point
	Angle float64
}

// At returns a mounted contact.
func (s *Placement) At(name bike.Contact, m Mount) Contact {
	p := s.Poses[m.Body]
	return Contact{name, p.At(m.At), p.Turn + m.Angle}
}
