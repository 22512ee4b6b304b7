package carry

import (
	"math"

	"carryover/internal/plane"
	"carryover/internal/reach"
	"carryover/internal/stance"
	"carryover/internal/tape"
)

// nudge returns a position with coordinate i (as in tape.Position.Cov) moved by d, mm or radians.
func nudge(p tape.Position, i int, d float64) tape.Position {
	if p.Second != nil {
		second := *p.Second
		p.Second = &second
	}
	switch i {
	case 0:
		p.Sit.At.X += d
	case 1:
		p.Sit.At.Y += d
	case 2:
		p.Sit.Angle += d
	case 3:
		p.Hands.At.X += d
	case 4:
		p.Hands.At.Y += d
	case 5:
		p.Hands.Angle += d
	case 6:
		p.Second.At.X += d
	case 7:
		p.Second.At.Y += d
	}
	return p
}

// frozen is one half reduced to the discrete choices of a candidate: only what is continuous still moves.
func (s *side) frozen(c reach.Candidate, wish stance.Contact) *side {
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
func (s *Solution) Again(pos tape.Position) (*Solution, error) {
	want, err := Want(&pos, s.Source, s.Target.Feet, s.Options)
	if err != nil {
		return nil, err
	}
	return s.toward(pos, want), nil
}

// toward brings the contacts of a position to other wanted places, with the same discrete choices.
func (s *Solution) toward(pos tape.Position, want Wanted) *Solution {
	n := &Solution{Target: s.Target, Position: &pos, Source: s.Source, Options: s.Options, Want: want,
		Combinations: s.Combinations, Proven: s.Proven}
	n.saddleSide, n.handSide = s.saddleSide.frozen(s.saddlePick, want.Sit), s.handSide.frozen(s.handsPick, want.Hands)
	settle := func(sd *side, second *stance.Contact) settled {
		set := plane.NewZonogon(sd.fixed(reach.Candidate{Steps: make([]int, len(sd.Racks))}), sd.Slides)
		t, f, square := reach.Best(sd.Wish, &sd.Arms[0], set, math.Inf(1))
		c := reach.Candidate{Steps: make([]int, len(sd.Racks)), Turn: t, Around: f, Square: square}
		return sd.settle(s.Target, pos.Posture, c, second)
	}
	n.saddle, n.hands = settle(n.saddleSide, nil), settle(n.handSide, want.Second)
	n.complete()
	return n
}

// steps of the central differences: large against rounding in the solve, small against its curvature.
const (
	stepMM  = 1e-2
	stepRad = 1e-4
)

// Jacobian returns the derivatives of some outputs of the solution by the coordinates of the source's
// position, [output][coordinate], with discrete choices held (implicit differentiation by central
// differences of the exact solve; a setting that a stop holds does not move).
func (s *Solution) Jacobian(outputs func(*Solution) []float64) ([][tape.Coordinates]float64, error) {
	n := len(outputs(s))
	jac := make([][tape.Coordinates]float64, n)
	for i := range tape.Coordinates {
		if i >= 6 && s.Position.Second == nil {
			continue
		}
		d := stepMM
		if i == 2 || i == 5 {
			d = stepRad
		}
		up, err := s.Again(nudge(*s.Position, i, d))
		if err != nil {
			return nil, err
		}
		down, err := s.Again(nudge(*s.Position, i, -d))
		if err != nil {
			return nil, err
		}
		a, b := outputs(up), outputs(down)
		for k := range jac {
			jac[k][i] = (a[k] - b[k]) / (2 * d)
		}
	}
	return jac, nil
}

// Spread is the standard uncertainty of an output with derivatives j, from the source's covariance.
func Spread(j [tape.Coordinates]float64, cov *[tape.Coordinates][tape.Coordinates]float64) float64 {
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
