package carry

import (
	"fmt"

	"carryover/internal/saddle"
)

// A support is worth a place rather than a width where so many mm of width move the seat by more than that many mm.
const flatBy, flatMoves = 5.0, 10.0

// warnings lists what the rider should know about the fit of rider, saddles and cockpit.
func (s *Solution) warnings() []Warning {
	var list []Warning
	p := s.Position.Posture
	sits := func(on string, f saddle.Meeting) {
		switch f {
		case saddle.TooNarrow:
			list = append(list, Warning{"saddle-narrow", fmt.Sprintf(
				"%s saddle is nowhere %.0f mm wide; the rider is taken to sit at its widest, and no ± counts by how much that is wrong", on,
				p.Support)})
		case saddle.AtNose:
			list = append(list, Warning{"support-at-nose", fmt.Sprintf(
				"%s saddle is wider than %.0f mm at its very nose; the rider is taken to sit there, and no ± counts by how much that is wrong",
				on, p.Support)})
		}
	}
	sits("your", s.Position.Meets)
	sits("the other bike's", s.saddle.arm.meets)
	if shape := s.Source.Saddle.Only(); shape != nil && p.At == nil && s.Position.Meets == saddle.Reached {
		from, _ := shape.WidthStation(p.Support - flatBy/2)
		if to, _ := shape.WidthStation(p.Support + flatBy/2); to-from > flatMoves {
			at, _ := shape.WidthStation(p.Support)
			list = append(list, Warning{"support-flat", fmt.Sprintf(
				"around %.0f mm your saddle widens so slowly that %g mm of support moves the seat by %.0f mm: say where you sit "+
					"instead, as in support = \"at:%.0f\"", p.Support, flatBy, to-from, at)})
		}
	}
	if part := s.hands.arm.Clipon; part != nil && s.GapShort > 0 {
		list = append(list, Warning{"clipon-gap", fmt.Sprintf(
			"the clip-on leaves %.1f mm between its clamps as far out as they go, %.1f mm less than what the bar is clamped in: "+
				"it does not fit", part.Gap+2*part.Spread, s.GapShort)})
	}
	return list
}
