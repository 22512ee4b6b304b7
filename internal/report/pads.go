package report

import (
	"fmt"

	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/diag"
)

// Pads is what the side view does not show of hands on pads, as JSON. Lengths mm.
type Pads struct {
	Spacing *Spacing  `json:"spacing"` // null: the clip-on offers none
	Gap     *Gap      `json:"gap"`     // null: there is room
	Floor   *PadFloor `json:"floor"`   // null: a BB height is not given
}

// Spacing is from pad centre to pad centre.
type Spacing struct {
	Source  *float64  `json:"source"`
	Target  float64   `json:"target"`
	Outward *float64  `json:"outward"` // each pad, against the source
	Fixed   bool      `json:"fixed"`
	Choices []float64 `json:"choices"`
}

// Gap is what makes room for what the bar is clamped in.
type Gap struct {
	Gap     float64 `json:"gap"`
	Width   float64 `json:"width"`
	Short   float64 `json:"short"`
	Spacing float64 `json:"spacing"` // on offer, with the clamps further out; 0: none is wide enough
	Outward float64 `json:"outward"` // each pad at that spacing, against the one chosen
	Mounts  []Mount `json:"mounts"`
}

// Mount is another clip-on with room enough.
type Mount struct {
	Part    string  `json:"part"`
	Gap     float64 `json:"gap"`
	Error   float64 `json:"error"`
	Carried bool    `json:"carried"`
}

// PadFloor is the height of the pad centre above the floor.
type PadFloor struct {
	Source   float64 `json:"source"`
	Target   float64 `json:"target"`
	BBHigher float64 `json:"bb_higher"` // target's BB above the source's
}

// NewPads is nil for hands that are not on pads.
func NewPads(s *carry.Solution, source *bike.Bike, spacing *carry.PadSpacing, gap *carry.GapAdvice) *Pads {
	if s.Position.Posture.Hands != bike.Pad {
		return nil
	}
	p := &Pads{}
	if spacing != nil {
		p.Spacing = &Spacing{Source: spacing.Source, Target: spacing.Target, Fixed: spacing.Fixed, Choices: spacing.Choices}
		if each, ok := spacing.Outward(); ok {
			p.Spacing.Outward = &each
		}
	}
	if gap != nil {
		p.Gap = &Gap{Gap: gap.Gap, Width: gap.Width, Short: gap.Short, Spacing: gap.Spacing, Outward: gap.Outward, Mounts: []Mount{}}
		for _, m := range gap.Mounts {
			p.Gap.Mounts = append(p.Gap.Mounts, Mount{m.ID, m.Gap, m.E, m.Carried})
		}
	}
	if a, b := source.Frame.BBHeight, s.Target.Frame.BBHeight; a != nil && b != nil {
		p.Floor = &PadFloor{Source: s.Position.Hands.At.Y + *a, Target: s.Contacts[1].Got.At.Y + *b, BBHigher: *b - *a}
	}
	return p
}

// outwardText says where each pad goes.
func outwardText(each float64) string {
	switch {
	case each > 0:
		return fmt.Sprintf("each pad %.1f mm further out", each)
	case each < 0:
		return fmt.Sprintf("each pad %.1f mm further in", -each)
	}
	return "each pad where it was"
}

func (p *page) pads(r *Result) {
	pads := r.Pads
	if pads == nil || pads.Spacing == nil && pads.Gap == nil && pads.Floor == nil {
		return
	}
	p.heading("Pads")
	if s := pads.Spacing; s != nil {
		text := fmt.Sprintf("Spacing %g mm, pad centre to pad centre", s.Target)
		switch {
		case s.Source == nil:
			text += "; the source does not give its own, so check it by feel."
		case *s.Source == s.Target:
			text += ", as on the source."
		default:
			text += fmt.Sprintf(" where the source has %g mm: %s.", *s.Source, outwardText(*s.Outward))
		}
		p.para("  ", text)
	}
	if f := pads.Floor; f != nil {
		text := fmt.Sprintf("Pad centre %.1f mm above the floor on the source, %.1f mm here", f.Source, f.Target)
		switch {
		case f.BBHigher > 0:
			text += fmt.Sprintf(", where the BB is %.1f mm higher", f.BBHigher)
		case f.BBHigher < 0:
			text += fmt.Sprintf(", where the BB is %.1f mm lower", -f.BBHigher)
		}
		if f.BBHigher != 0 {
			text += ": heights from the floor do not carry over as they are"
		}
		p.para("  ", text+".")
	}
	if g := pads.Gap; g != nil {
		p.para("  ", fmt.Sprintf("The clamps leave %g mm clear, the bar is clamped in %g mm: %g mm too little. What would solve it:", g.Gap, g.Width, g.Short))
		for _, m := range g.Mounts {
			verdict := "carried"
			if !m.Carried {
				verdict = "not carried"
			}
			p.para("    - ", fmt.Sprintf("another mount: %s, gap %g mm, E %.1f mm, %s", diag.Visible(m.Part), m.Gap, m.Error, verdict))
		}
		if len(g.Mounts) == 0 {
			p.para("    - ", fmt.Sprintf("another mount with a gap of %g mm or more; the catalogue has none", g.Width))
		}
		if g.Spacing > 0 {
			p.para("    - ", fmt.Sprintf("wider spacing: %g mm with the clamps at least %g mm further out on each side; %s than now", g.Spacing, g.Short/2, outwardText(g.Outward)))
		}
		p.para("    - ", fmt.Sprintf("pads offset outward: each clamp and the pad on it %g mm further out", g.Short/2))
	}
}
