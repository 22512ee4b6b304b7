package assembly

import (
	"math"

	"carryover/internal/bike"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Fault is a way in which the numbers of a part, or the support, may be off: one error for all widths of a saddle, one
// for all heights of its top, one each for x and y of what a bar, a lever (along and out) or a clip-on gives.
type Fault int

// The faults, in mm. Of the support it is the width, or the station where the posture gives that.
const (
	SaddleWidths Fault = iota
	SaddleHeights
	Support
	BarX
	BarY
	LeverX
	LeverY
	CliponX
	CliponY
	Faults
)

// Moved is how far a place moves in the frame of its body per mm of a fault.
func (l *Layout) Moved(p bike.Place, f Fault) plane.Point {
	unit := [2]plane.Point{{X: 1}, {Y: 1}}
	switch p.Kind {
	case bike.AtSaddle:
		return l.slid(p.Ref, f)
	case bike.AtHood:
		if l.Hood.Body != Bar {
			break
		}
		switch {
		case f == BarX || f == BarY:
			return unit[f-BarX]
		case (f == LeverX || f == LeverY) && l.BarShape.Hood == nil:
			_, down := l.BarShape.Mount(l.LeverAt)
			return unit[f-LeverX].Turn(-down)
		}
	case bike.AtDrop:
		if l.Drop.Body == Bar && (f == BarX || f == BarY) {
			return unit[f-BarX]
		}
	case bike.AtPad, bike.AtPadRear, bike.AtPadFront, bike.AtGrip:
		if l.Clipon != nil && (f == CliponX || f == CliponY) && (p.Kind != bike.AtGrip || l.Grip.Body == Pads) {
			return unit[f-CliponX]
		}
	}
	return plane.Point{}
}

// slid is how far a reference moves on the saddle: with s the station at which the width w reaches W,
// ds = (dW - dw)/w'(s), and the point (-s, top(s)) moves by (-1, top'(s))·ds. Where the saddle is too narrow, or too wide
// at its very nose, the station is held; where the outline is level, w' is what it widens by over the last mm of W.
func (l *Layout) slid(r saddle.Reference, f Fault) plane.Point {
	if l.Shape == nil {
		return plane.Point{}
	}
	if f == SaddleHeights {
		return plane.Point{Y: 1}
	}
	at := l.SitAt != nil && r.Kind == saddle.Sit
	if f == Support && at {
		return along(l.Shape, *l.SitAt)
	}
	w := r.MM
	if r.Kind == saddle.Sit {
		w = l.SitWidth
	}
	if at || r.Kind != saddle.Sit && r.Kind != saddle.ByWidth || f == Support && r.Kind != saddle.Sit || f > Support {
		return plane.Point{}
	}
	station, fit := l.Shape.WidthStation(w)
	if fit != saddle.Reached {
		return plane.Point{}
	}
	widening := l.Shape.Widening(station)
	if math.Abs(widening) < 1e-9 {
		before, _ := l.Shape.WidthStation(w - 1)
		if before == station {
			return plane.Point{}
		}
		widening = 1 / (station - before)
	}
	if f == SaddleWidths {
		widening = -widening
	}
	return along(l.Shape, station).Scale(1 / widening)
}

// along is how a point of the surface moves per mm of station.
func along(s *saddle.Shape, station float64) plane.Point {
	return plane.Point{X: -1, Y: s.Slope(station)}
}

// WidthMoved is how far the width that carries the rider, as another saddle is asked for it, moves per mm of a fault: a
// support at a station is as wide there as this saddle is.
func (l *Layout) WidthMoved(f Fault) float64 {
	switch {
	case l.SitAt == nil && f == Support, l.SitAt != nil && l.Shape != nil && f == SaddleWidths:
		return 1
	case l.SitAt != nil && l.Shape != nil && f == Support:
		return l.Shape.Widening(*l.SitAt)
	}
	return 0
}

// Uncertain is the standard uncertainty of a fault on a bike as it is fitted, mm, and which part has it; 0: none.
func Uncertain(b *bike.Bike, p bike.Posture, f Fault) (sigma float64, part string) {
	switch f {
	case SaddleWidths, SaddleHeights:
		return first(b.Saddle.Slot)
	case Support:
		return p.SupportSigma, ""
	case BarX, BarY:
		return first(b.Bar.Slot)
	case LeverX, LeverY:
		return first(b.Bar.Lever)
	}
	if b.Clipon != nil {
		return first(b.Clipon.Slot)
	}
	return 0, ""
}

func first[T any](s bike.Slot[T]) (sigma float64, part string) {
	if s.Empty() {
		return 0, ""
	}
	return s.Options[0].Sigma, s.Options[0].ID
}
