package convert

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"carryover/internal/assembly"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Shift is what another saddle asks for so that the same support width rests at the same place, with the
// straightedges parallel: with stations s, s' of the support and heights h, h' of the (loaded) surface,
//
//	Forward = s' - s,   Up = h - h'
//
// along and across the straightedge, mm: how far the point of the straightedge line above the nose moves.
type Shift struct {
	Forward, Up float64
	From, To    saddle.Fit // how the support meets each saddle
}

// ShiftBetween returns the shift from one saddle to another for a support width, mm. Loaded counts how far
// each surface gives under the rider.
func ShiftBetween(from, to *saddle.Shape, support float64, loaded bool) Shift {
	var a, b rest
	a.support, a.fit = from.WidthStation(support)
	b.support, b.fit = to.WidthStation(support)
	return shift(from, to, a, b, loaded)
}

func shift(from, to *saddle.Shape, a, b rest, loaded bool) Shift {
	pa, pb := from.Point(a.support), to.Point(b.support)
	if loaded {
		pa, pb = from.Loaded(a.support), to.Loaded(b.support)
	}
	return Shift{Forward: pa.X - pb.X, Up: pa.Y - pb.Y, From: a.fit, To: b.fit}
}

// Swap is another saddle in the place of a located one.
type Swap struct {
	To    Saddle
	Shift Shift
	// References pairs each reference that both saddles have; a stated station is no such thing.
	References []SwapReference
	SeatTube   *Pair // nil without a seat angle
	// Spread is the greatest distance between where two references would put the other saddle, mm: what the
	// choice of the reference to keep leaves open.
	Spread float64
	Stance *assembly.Stance
}

// Pair is one number on both saddles, mm.
type Pair struct{ From, To, Sigma float64 }

// SwapReference is a reference on both saddles. Error is how far the support would land from where it was,
// mm, if the other saddle were set up with this reference where it was and the same tilt.
type SwapReference struct {
	From, To Reference
	Error    plane.Point
}

// Swap puts the support of the request at the same place on another saddle.
func (l *Located) Swap(to Saddle, loaded bool) (*Swap, error) {
	if _, ok := l.supportWidth(); !ok {
		return nil, errors.New("a swap needs the width that carries the rider: a support in mm, or the sit-bone spacing")
	}
	from := l.References()
	resting := l.rest(to.Shape)
	s := &Swap{To: to, Shift: shift(l.Saddle.Shape, to.Shape, l.at, resting, loaded)}
	offset := plane.Point{X: s.Shift.Forward, Y: s.Shift.Up}
	other := l.references(to.Shape, resting, offset)
	s.References = make([]SwapReference, 0, len(from))
	for _, f := range from {
		if f.Ref.Kind == saddle.ByStation {
			continue
		}
		if i := slices.IndexFunc(other, func(t Reference) bool { return t.Ref == f.Ref }); i >= 0 {
			s.References = append(s.References, SwapReference{f, other[i], f.At.Sub(other[i].At)})
		}
	}
	for i, a := range s.References {
		for _, b := range s.References[:i] {
			s.Spread = math.Max(s.Spread, a.Error.Distance(b.Error))
		}
	}
	layout := *l.Stance.Layout
	layout.Shape = to.Shape
	s.Stance = &assembly.Stance{Layout: &layout, Poses: l.Stance.Poses}
	pose := &s.Stance.Poses[assembly.Saddle]
	pose.Origin = pose.At(offset)
	if was, _, ok := l.SeatTube(); ok {
		now, sigma, _ := l.seatTube(s.Stance, offset)
		s.SeatTube = &Pair{was, now, sigma}
	}
	return s, nil
}

// Warnings say in words where a saddle does not reach the support.
func (s *Swap) Warnings(from Saddle) []string {
	var all []string
	for _, side := range []struct {
		id  string
		fit saddle.Fit
	}{{from.ID, s.Shift.From}, {s.To.ID, s.Shift.To}} {
		if text := FitWarning(side.id, side.fit); text != "" {
			all = append(all, text)
		}
	}
	return all
}

// FitWarning says in words that a saddle does not reach the support; "" when it does.
func FitWarning(id string, f saddle.Fit) string {
	switch f {
	case saddle.TooNarrow:
		return fmt.Sprintf("saddle-narrow: %s is nowhere as wide as the support and carries at its widest", id)
	case saddle.AtNose:
		return fmt.Sprintf("support-at-nose: %s is wider than the support at its very nose and carries there", id)
	}
	return ""
}

// Cell is one swap of a table: how far nose and top of the saddle move, mm.
type Cell struct {
	Nose, Top float64 // forward; up
	Narrow    bool    // a saddle does not reach the support
}

// Table is every swap between two lists of saddles. At a common tilt the nose moves Nose forward, counted
// along the level, and the straightedge Top up, counted across itself.
func Table(from, to []Saddle, support, tilt float64, loaded bool) [][]Cell {
	rows := make([][]Cell, len(from))
	for i, f := range from {
		rows[i] = make([]Cell, len(to))
		for j, t := range to {
			s := ShiftBetween(f.Shape, t.Shape, support, loaded)
			nose := plane.Point{X: s.Forward, Y: s.Up}.Add(t.Shape.Point(0)).Sub(f.Shape.Point(0)).Turn(tilt)
			rows[i][j] = Cell{Nose: nose.X, Top: s.Up, Narrow: s.From != saddle.Reached || s.To != saddle.Reached}
		}
	}
	return rows
}
