package carry

import (
	"cmp"
	"context"
	"math"
	"slices"

	"carryover/internal/bike"
	"carryover/internal/cockpit"
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

// clipon is the clip-on that a solution rests the pads on, nil for other hands.
func (s *Solution) clipon() *cockpit.Clipon {
	if s.hands.arm.clipon < 0 {
		return nil
	}
	return s.Target.Clipon.Options[s.hands.arm.clipon].Part
}

// Spacing is the pad spacing of a solution on pads, nil for other hands: the one that the target's file
// fixes, else of those the clip-on offers (its clamps as far out as the bar's clamp asks) the one nearest to the
// source's, the narrower of two equally
// near; where the source does not say, the narrowest.
func (s *Solution) Spacing(source *bike.Bike) *PadSpacing {
	part := s.clipon()
	if part == nil {
		return nil
	}
	p := &PadSpacing{}
	for _, c := range s.Target.Clipon.Spacing.Offered(part.Spacings) {
		p.Choices = append(p.Choices, c+s.Target.Widening(part))
	}
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

// GapAdvice is what to do when the clamps of a clip-on do not straddle what the bar is clamped in.
type GapAdvice struct {
	Gap, Width, Short float64 // mm; Short = Width - Gap
	// Spacing is the narrowest spacing on offer that makes room when the clamps go outward with the pads, 0
	// when none does; Outward is then how much further out each pad comes than at From.
	From, Spacing, Outward float64
	Mounts                 []Mount // other clip-ons that have the gap, best first
}

// Mount is another clip-on in place of the one that does not fit.
type Mount struct {
	ID      string
	Gap     float64
	E       float64 // of the whole bike, mm
	Carried bool
}

// mostMounts bounds how many other clip-ons are advised.
const mostMounts = 3

// GapAdvice returns what would make room for what the bar is clamped in, nil when there is room. A clip-on's
// gap is that of its clamps at their closest, with its narrowest spacing: clamps that go outward with their
// pads gain in gap what they gain in spacing. Each of the mounts with enough gap is fitted instead, with all
// it offers, and solved.
func (s *Solution) GapAdvice(ctx context.Context, spacing *PadSpacing, mounts []bike.Option[cockpit.Clipon]) (*GapAdvice, error) {
	part := s.clipon()
	if part == nil || !tooWide(s.Target, part) {
		return nil, nil
	}
	width := *s.Target.Bar.ClampWidth
	a := &GapAdvice{Gap: part.Gap, Width: width, Short: s.Target.Short(part)}
	if spacing != nil && len(part.Spacings) > 0 {
		a.From = spacing.Target
		for _, c := range part.Spacings {
			if c >= part.Spacings[0]+a.Short-1e-9 {
				a.Spacing, a.Outward = c, (c-spacing.Target)/2
				break
			}
		}
	}
	now := s.Target.Clipon.Options[s.hands.arm.clipon].ID
	for _, m := range mounts {
		if tooWide(s.Target, m.Part) || m.ID == now {
			continue
		}
		target := *s.Target
		target.Clipon = &bike.CliponFit{Slot: bike.Slot[cockpit.Clipon]{Options: []bike.Option[cockpit.Clipon]{m}}}
		n, err := Solve(ctx, &target, s.Source, s.Position, s.Options)
		if err != nil {
			return nil, err
		}
		a.Mounts = append(a.Mounts, Mount{m.ID, m.Part.Gap, n.E, n.Carried()})
	}
	slices.SortStableFunc(a.Mounts, func(x, y Mount) int { return cmp.Compare(x.E, y.E) })
	a.Mounts = a.Mounts[:min(len(a.Mounts), mostMounts)]
	return a, nil
}
