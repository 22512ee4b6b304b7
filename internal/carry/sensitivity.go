package carry

import (
	"context"
	"math"
	"slices"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/search"
)

// frozen is one half reduced to the discrete choices that were made: only what is continuous still moves.
func (h *half) frozen(out *settled) *half {
	c := out.from
	f := h.copied()
	f.bases, f.Bases, f.Racks = h.bases[c.Base:c.Base+1], h.Bases[c.Base:c.Base+1], nil
	arm := out.arm
	held := func(t bike.Turns, at float64) bike.Turns {
		if len(t.Values) > 0 {
			t = bike.Turns{Range: plane.Range{Lo: at, Hi: at}}
		}
		return t
	}
	if arm.rotation != nil {
		rotation := held(*arm.rotation, out.rotation)
		arm.turns, arm.rotation = held(arm.turns, out.turn-out.rotation), &rotation
	} else {
		arm.turns = held(arm.turns, out.turn)
	}
	f.arms = []armChoice{arm}
	for k, j := range c.Steps {
		r := h.Racks[k]
		r.First, r.Count = r.Travel(j), 1
		f.Racks = append(f.Racks, r)
	}
	return f
}

// again settles a half with the same discrete choices for something else that is wanted, its misses counted by m.
func (h *half) again(out *settled, want assembly.Contact, second *assembly.Contact, m plane.Metric) (*half, settled) {
	f := h.frozen(out)
	f.aim(want, second, m)
	best, _, _ := f.Best(context.Background())
	return f, f.settle(best)
}

// toward brings the contacts to other wanted places, the hands following the saddle that is got, with the same discrete
// choices: the derivative of the answer at a stop or on a step is that of what can still move. A half whose contacts are
// wanted where they were stays as it is.
func (s *Solution) toward(want Wanted) *Solution {
	return s.towardBy(want, SeatMetric(want.Sit.At, s.Position.Posture.Weights))
}

// towardBy is toward with the misses of the seat counted by m.
func (s *Solution) towardBy(want Wanted, m plane.Metric) *Solution {
	n := *s
	n.asked, n.nearby, n.Settings = want, nil, slices.Clone(s.Settings)
	if want.Sit != s.asked.Sit {
		n.saddleHalf, n.saddle = s.saddleHalf.again(&s.saddle, want.Sit, nil, m)
	}
	n.Want = want.After(n.saddle.got.At)
	if n.Want.Hands != s.Want.Hands || !same(n.Want.Second, s.Want.Second) {
		n.handHalf, n.hands = s.handHalf.again(&s.hands, n.Want.Hands, n.Want.Second, s.handHalf.Wish.Metric)
	}
	n.settle()
	n.set()
	n.Placement = n.stand()
	return &n
}

func same(a, b *assembly.Contact) bool { return a == b || a != nil && b != nil && *a == *b }

// steps of the central differences: large against rounding in the solve, small against its curvature.
const (
	stepMM  = 1e-2
	stepRad = 1e-4
)

// step is how far coordinate i is moved for a difference.
func step(i int) float64 {
	if i == 2 || i == 5 {
		return stepRad
	}
	return stepMM
}

// coordinates are the places and angles wanted, as numbers in the order of locate.Position.Cov.
func (w *Wanted) coordinates() (v [locate.Coordinates]float64) {
	v = [locate.Coordinates]float64{w.Sit.At.X, w.Sit.At.Y, w.Sit.Angle, w.Hands.At.X, w.Hands.At.Y, w.Hands.Angle}
	if w.Second != nil {
		v[6], v[7] = w.Second.At.X, w.Second.At.Y
	}
	return v
}

// moved is what is wanted with coordinate i moved by d.
func (w Wanted) moved(i int, d float64) Wanted {
	p := locate.Position{Sit: w.Sit, Hands: w.Hands, Second: w.Second}.Moved(i, d)
	w.Sit, w.Hands, w.Second = p.Sit, p.Hands, p.Second
	return w
}

// beside returns the solutions a step up and a step down every coordinate of what is asked for, nil for those it does
// not have. They are worked out once.
func (s *Solution) beside() *[locate.Coordinates][2]*Solution {
	if s.nearby != nil {
		return s.nearby
	}
	var all [locate.Coordinates][2]*Solution
	for i := range all {
		if i >= 6 && s.asked.Second == nil {
			continue
		}
		for k, d := range [2]float64{step(i), -step(i)} {
			all[i][k] = s.toward(s.asked.moved(i, d))
		}
	}
	s.nearby = &all
	return s.nearby
}

// responses are the derivatives of some outputs of the solution by the coordinates of what is asked for, [output]
// [coordinate], with discrete choices held: central differences of the exact solve.
func (s *Solution) responses(outputs func(*Solution) []float64) [][locate.Coordinates]float64 {
	jac := make([][locate.Coordinates]float64, len(outputs(s)))
	for i, pair := range s.beside() {
		if pair[0] == nil {
			continue
		}
		up, down := outputs(pair[0]), outputs(pair[1])
		for k := range jac {
			jac[k][i] = (up[k] - down[k]) / (2 * step(i))
		}
	}
	return jac
}

// heldResponses are responses to a displacement of the target's own contacts, by the coordinates of what would be asked
// for instead: the line that leg extension counts along stays. Only a seat that is out of reach tells the two apart.
func (s *Solution) heldResponses(by [][locate.Coordinates]float64, outputs func(*Solution) []float64) [][locate.Coordinates]float64 {
	if s.saddle.miss.Norm() < search.Nought {
		return by
	}
	held := slices.Clone(by)
	for i := range 2 { // the seat's place
		up := outputs(s.towardBy(s.asked.moved(i, stepMM), s.saddleHalf.Wish.Metric))
		down := outputs(s.towardBy(s.asked.moved(i, -stepMM), s.saddleHalf.Wish.Metric))
		for k := range held {
			held[k][i] = (up[k] - down[k]) / (2 * stepMM)
		}
	}
	return held
}

// Wants are the derivatives of what Want asks for by the coordinates of the position: central differences, which are exact
// enough for so smooth a map.
func Wants(of *locate.Position, source bike.Feet, target *bike.Bike, o Options) (d [locate.Coordinates][locate.Coordinates]float64,
	err error) {
	for j := range locate.Coordinates {
		if j >= 6 && of.Second == nil {
			continue
		}
		var v [2][locate.Coordinates]float64
		for k, by := range [2]float64{step(j), -step(j)} {
			pos := of.Moved(j, by)
			w, err := Want(&pos, source, target, o)
			if err != nil {
				return d, err
			}
			v[k] = w.coordinates()
		}
		for i := range d {
			d[i][j] = (v[0][i] - v[1][i]) / (2 * step(j))
		}
	}
	return d, nil
}

// Jacobian returns the derivatives of some outputs of the solution by the coordinates of the source's position,
// [output][coordinate], with discrete choices held; a setting that a stop holds does not move.
func (s *Solution) Jacobian(outputs func(*Solution) []float64) [][locate.Coordinates]float64 {
	return s.bySource(s.responses(outputs))
}

// bySource are derivatives by the coordinates of the source's position, from those by what is asked for.
func (s *Solution) bySource(by [][locate.Coordinates]float64) [][locate.Coordinates]float64 {
	jac := make([][locate.Coordinates]float64, len(by))
	for k := range by {
		for i, r := range by[k] {
			if r == 0 {
				continue
			}
			for j := range jac[k] {
				jac[k][j] += r * s.wants[i][j]
			}
		}
	}
	return jac
}

// Spread is the standard uncertainty of an output with derivatives j, from the source's covariance.
func Spread(j [locate.Coordinates]float64, cov *[locate.Coordinates][locate.Coordinates]float64) float64 {
	v := 0.0
	for a := range j {
		for b := range j {
			v += j[a] * cov[a][b] * j[b]
		}
	}
	return math.Sqrt(math.Max(0, v))
}
