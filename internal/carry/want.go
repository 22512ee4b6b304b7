// Package carry takes a position from one bike to another: what the target's contacts should be, the
// settings that bring them there, how sure that is, and why the numbers change.
package carry

import (
	"fmt"
	"math"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Policy says what a change of crank length keeps.
type Policy int

// KeepExtension keeps the direction from BB to saddle and the leg extension at the lowest pedal; KeepKnee
// keeps the knee where it is over the forward pedal, moving the saddle back by the crank's difference.
const (
	KeepExtension Policy = iota
	KeepKnee
)

// Options of a carry.
type Options struct {
	Policy     Policy
	HandsFixed bool // hands stay where they were although the saddle moves with the crank
	// Also are further saddle references to tell of, beside those that every saddle has.
	Also     []saddle.Reference
	SeatTube bool // tell of the way along the seat tube too
}

// Wanted is where the target's contacts should be, in the frame of the target as described.
type Wanted struct {
	Sit, Hands assembly.Contact
	Second     *assembly.Contact
	Crank      float64     // the target's crank, mm
	Shift      plane.Point // S' - S: how far crank and foot stack move the saddle
	Followed   bool        // the hands keep their place from the saddle
}

// NearestCrank returns the crank of the target nearest to the source's; of two equally near the fitted one, else the
// shorter.
func NearestCrank(target bike.Feet, source float64) float64 {
	if len(target.Cranks) == 0 {
		return target.Crank
	}
	best := target.Cranks[0]
	for _, c := range target.Cranks[1:] {
		d, b := math.Abs(c-source), math.Abs(best-source)
		if d < b || d == b && best != target.Crank && (c == target.Crank || c < best) {
			best = c
		}
	}
	return best
}

// Want works out the target's contacts, in the frame of riding. With r = |S| and lengths of crank L and foot stack F,
//
//	r' = r + (L_source - L_target) + (F_target - F_source)
//	extension: S' = S·r'/r        knee: S'.x = S.x + L_target - L_source, |S'| = r'
//
// and every hand contact moves by S' - S, until the saddle is known that was got: see After. Then everything is turned
// back by the pitch at which the target is ridden.
func Want(pos *locate.Position, source bike.Feet, target *bike.Bike, o Options) (Wanted, error) {
	s := pos.Sit.At
	w := Wanted{Sit: pos.Sit, Hands: pos.Hands, Second: pos.Second, Crank: NearestCrank(target.Feet, source.Crank), Followed: !o.HandsFixed}
	r := s.Norm()
	longer := r + (source.Crank - w.Crank) + (target.Feet.SoleHeight - source.SoleHeight)
	if r == 0 || longer <= 0 {
		return w, fmt.Errorf("the saddle of the source lies %.0f mm from the BB: with the target's crank and pedals no leg is left", r)
	}
	switch o.Policy {
	case KeepExtension:
		w.Sit.At = s.Scale(longer / r)
	case KeepKnee:
		x := s.X + w.Crank - source.Crank
		if math.Abs(x) > longer {
			return w, fmt.Errorf("keeping the knee over the pedal asks for a saddle %.0f mm behind the BB, further than the leg's %.0f mm", -x,
				longer)
		}
		w.Sit.At = plane.Point{X: x, Y: math.Sqrt(longer*longer - x*x)}
	}
	w.Shift = w.Sit.At.Sub(s)
	if w.Followed {
		w.shift(w.Shift)
	}
	w.turn(-target.Frame.Pitch)
	return w, nil
}

// onHands changes what is wanted of the hands.
func (w *Wanted) onHands(change func(*assembly.Contact)) {
	change(&w.Hands)
	if w.Second != nil {
		second := *w.Second
		change(&second)
		w.Second = &second
	}
}

// shift moves what is wanted of the hands.
func (w *Wanted) shift(d plane.Point) {
	w.onHands(func(c *assembly.Contact) { c.At = c.At.Add(d) })
}

// turn turns everything around the BB.
func (w *Wanted) turn(a float64) {
	if a == 0 {
		return
	}
	turn := func(c *assembly.Contact) { c.At, c.Angle = c.At.Turn(a), c.Angle+a }
	turn(&w.Sit)
	w.onHands(turn)
	w.Shift = w.Shift.Turn(a)
}

// After is what is wanted once the saddle has been got: hands that follow keep their place from it.
func (w Wanted) After(sit plane.Point) Wanted {
	if w.Followed {
		w.shift(sit.Sub(w.Sit.At))
	}
	return w
}
