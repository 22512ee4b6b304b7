package carry

import (
	"fmt"

	"carryover/internal/saddle"
)

// warnings lists what the rider should know about the fit of rider, saddles and cockpit.
func (s *Solution) warnings() []Warning {
	var list []Warning
	p := s.Position.Posture
	fit := func(on string, f saddle.Meeting) {
		switch f {
		case saddle.TooNarrow:
			list = append(list, Warning{"saddle-narrow", fmt.Sprintf(
				"%s saddle is nowhere %.0f mm wide; the rider is taken to sit at its widest", on, p.Support)})
		case saddle.AtNose:
			list = append(list, Warning{"support-at-nose", fmt.Sprintf(
				"%s saddle is wider than %.0f mm at its very nose; the rider is taken to sit there", on, p.Support)})
		}
	}
	fit("your", s.Position.SitFit)
	fit("the other bike's", s.saddle.arm.fit)
	if part := s.clipon(); part != nil && s.GapShort > 0 {
		list = append(list, Warning{"clipon-gap", fmt.Sprintf(
			"the clip-on leaves %.1f mm between its clamps as far out as they go, %.1f mm less than what the bar is clamped in: "+
				"it does not fit", part.Gap+2*part.Spread, s.GapShort)})
	}
	return list
}
