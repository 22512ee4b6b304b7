package carry

import (
	"math"

	"carryover/internal/bike"
)

// PadSpacing is how far apart the pads come to stand; lateral, and so outside the side view. mm, pad centre
// to pad centre.
type PadSpacing struct {
	Source  *float64 // nil: the source does not say
	Target  float64
	Fixed   bool // the target's file fixes it
	Choices []float64
}

// Outward is how much further out each pad is than on the source, mm; ok is false when the source does not say.
func (p *PadSpacing) Outward() (each float64, ok bool) {
	if p.Source == nil {
		return 0, false
	}
	return (p.Target - *p.Source) / 2, true
}

// Spacing is the pad spacing of a solution on pads, nil for other hands: the one that the target's file fixes, else of those the clip-on
// offers (its clamps as far out as the bar's clamp asks) the one nearest to the source's, the narrower of two equally near; where the
// source does not say, the narrowest.
func (s *Solution) Spacing(source *bike.Bike) *PadSpacing {
	part := s.hands.arm.Clipon
	if part == nil {
		return nil
	}
	p := &PadSpacing{Choices: s.Target.Spacings(part)}
	if c := source.Clipon; c != nil && c.Spacing.Given && !c.Spacing.Free {
		at := c.Spacing.Lo
		p.Source = &at
	} else if c != nil && len(c.Only().Spacings) == 1 {
		p.Source = &c.Only().Spacings[0]
	}
	p.Fixed = s.Target.Clipon.Spacing.Given && !s.Target.Clipon.Spacing.Free
	if len(p.Choices) == 0 {
		return nil
	}
	want := math.Inf(-1)
	if p.Source != nil {
		want = *p.Source
	}
	p.Target = p.Choices[0]
	for _, c := range p.Choices[1:] {
		if math.Abs(c-want) < math.Abs(p.Target-want) {
			p.Target = c
		}
	}
	return p
}
