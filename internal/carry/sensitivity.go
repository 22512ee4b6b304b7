package carry

import (
	"math"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/reach"
)

// frozen is one half reduced to the discrete choices of a candidate: only what is continuous still moves.
func (s *side) frozen(c reach.Candidate, wish assembly.Contact) *side {
	f := &side{bases: s.bases[c.Base : c.Base+1], arms: s.arms[c.Arm : c.Arm+1], slides: s.slides, racks: s.racks, turnBy: s.turnBy}
	f.Bases, f.Slides = s.Bases[c.Base:c.Base+1], s.Slides
	arm := s.Arms[c.Arm]
	if len(arm.Turn.Values) > 0 {
		arm.Turn = reach.Turn{Range: reach.Range{Lo: c.Turn, Hi: c.Turn}}
	}
	f.Arms = []reach.Arm{arm}
	for k, j := range c.Steps {
		r := s.Racks[k]
		f.Racks = append(f.Racks, reach.Rack{Dir: r.Dir, First: r.First + float64(j)*r.Step, Step: r.Step, Count: 1})
	}
	f.Wish = reach.Wish{Place: wish.At, Angle: wish.Angle, Weight: s.Wish.Weight}
	return f
}

// Again solves for another position with the same discrete choices: the derivative of the answer at a stop
// or on a step is that of what can still move.
func (s *Solution) Again(pos locate.Position) (*Solution, error) {
	want, err := Want(&pos, s.Source, s.Target.Feet, s.Options)
	if err != nil {
		return nil, err
	}
	return s.toward(pos, want), nil
}

// toward brings the contacts of a position to other wanted places, with the same discrete choices. A half
// whose contacts are wanted where they were stays as it is.
func (s *Solution) toward(pos locate.Position, want Wanted) *Solution {
	n := &Solution{Target: s.Target, Position: &pos, Source: s.Source, Options: s.Options, Want: want,
		Combinations: s.Combinations, Proven: s.Proven, Parts: s.Parts, Warnings: s.Warnings,
		saddle: s.saddle, hands: s.hands, saddleSide: s.saddleSide, handSide: s.handSide}
	if want.Sit != s.Want.Sit {
		n.saddleSide = s.saddleSide.frozen(s.saddlePick, want.Sit)
		n.saddle = n.saddleSide.alone(s.Target, pos.Posture, nil)
	}
	if want.Hands != s.Want.Hands || !same(want.Second, s.Want.Second) {
		n.handSide = s.handSide.frozen(s.handsPick, want.Hands)
		n.hands = n.handSide.alone(s.Target, pos.Posture, want.Second)
	}
	n.settle()
	n.Stance = n.stand()
	return n
}

func same(a, b *assembly.Contact) bool { return a == b || a != nil && b != nil && *a == *b }

// alone settles a half that has one discrete choice only.
func (s *side) alone(b *bike.Bike, p bike.Posture, second *assembly.Contact) settled {
	c := reach.Candidate{Steps: make([]int, len(s.Racks))}
	c.Turn, c.Around, c.Square = reach.Best(s.Wish, &s.Arms[0], plane.NewZonogon(s.fixed(c), s.Slides), math.Inf(1))
	return s.settle(b, p, c, second)
}

// steps of the central differences: large against rounding in the solve, small against its curvature.
const (
	stepMM  = 1e-2
	stepRad = 1e-4
)

// beside returns the solutions a step up and a step down every coordinate of the source's position, nil for
// those it does not have. They are worked out once.
func (s *Solution) beside() (*[locate.Coordinates][2]*Solution, error) {
	if s.nearby != nil {
		return s.nearby, nil
	}
	var all [locate.Coordinates][2]*Solution
	for i := range all {
		if i >= 6 && s.Position.Second == nil {
			continue
		}
		for k, d := range [2]float64{step(i), -step(i)} {
			near, err := s.Again(s.Position.Moved(i, d))
			if err != nil {
				return nil, err
			}
			all[i][k] = near
		}
	}
	s.nearby = &all
	return s.nearby, nil
}

// step is how far coordinate i is moved for a difference.
func step(i int) float64 {
	if i == 2 || i == 5 {
		return stepRad
	}
	return stepMM
}

// Jacobian returns the derivatives of some outputs of the solution by the coordinates of the source's
// position, [output][coordinate], with discrete choices held (implicit differentiation by central
// differences of the exact solve; a setting that a stop holds does not move).
func (s *Solution) Jacobian(outputs func(*Solution) []float64) ([][locate.Coordinates]float64, error) {
	near, err := s.beside()
	if err != nil {
		return nil, err
	}
	jac := make([][locate.Coordinates]float64, len(outputs(s)))
	for i, pair := range near {
		if pair[0] == nil {
			continue
		}
		up, down := outputs(pair[0]), outputs(pair[1])
		for k := range jac {
			jac[k][i] = (up[k] - down[k]) / (2 * step(i))
		}
	}
	return jac, nil
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

// AddSigmas fills in what the source's readings leave open in every setting.
func (s *Solution) AddSigmas() error {
	jac, err := s.Jacobian(travels)
	if err != nil {
		return err
	}
	for i := range s.Settings {
		s.Settings[i].Sigma = Spread(jac[i], &s.Position.Cov)
	}
	return nil
}
