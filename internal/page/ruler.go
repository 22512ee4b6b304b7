package page

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"carryover/internal/carry"
	"carryover/internal/job"
	"carryover/internal/words"
)

// ruler is the picture of a step's scale around the mark to set, with the one it stands at; "" where the step has no scale. What was
// moved since is to be where marks say.
func ruler(r *job.Result, step carry.Step, marks map[int]float64) template.HTML {
	for _, i := range step.Settings {
		set := r.Settings[i]
		if !set.Scale || set.Adjuster < 0 || set.Turns() {
			continue
		}
		a := &r.Target.Adjusters[set.Adjuster]
		mark, moved := marks[i]
		if !moved {
			mark = set.Mark()
		}
		from, known := r.Target.Marks[a.Name]
		if !known {
			from = mark
		}
		return scalePicture(mark, from, known, a.Unit, words.Mark(a, mark), words.Trimmed(from, 2))
	}
	return ""
}

// scalePicture draws a scale: a tick each tenth of its numbers, the pointer at the mark to set, a ring where it stands.
func scalePicture(mark, from float64, known bool, unit float64, to, was string) template.HTML {
	const width, around = 600.0, 30.0 // of the picture; mm of travel to each side
	pad := math.Max(around/math.Abs(unit), math.Abs(mark-from)*0.2)
	lo, hi := math.Min(mark, from)-pad, math.Max(mark, from)+pad
	x := func(m float64) float64 { return (m - lo) / (hi - lo) * width }
	major := math.Pow(10, math.Ceil(math.Log10((hi-lo)/12)))
	for _, part := range [...]float64{0.2, 0.5} {
		if (hi-lo)/(major*part) <= 12 {
			major *= part
			break
		}
	}
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="ruler" viewBox="0 0 %.0f 118" role="img" aria-label="Scale: set it to %s">`, width,
		template.HTMLEscapeString(to))
	fmt.Fprintf(&b, `<rect x="0" y="52" width="%.0f" height="40" class="tape"/>`, width)
	for k := math.Ceil(lo / (major / 10)); k*major/10 <= hi; k++ {
		at, long := k*major/10, 8.0
		switch math.Mod(math.Abs(k), 10) {
		case 0:
			long = 20
			if px := x(at); px > 12 && px < width-12 {
				fmt.Fprintf(&b, `<text x="%.1f" y="90" class="number" text-anchor="middle">%s</text>`, px, words.Trimmed(at, 4))
			}
		case 5:
			long = 13
		}
		fmt.Fprintf(&b, `<line x1="%.1f" x2="%.1f" y1="52" y2="%.0f" class="tick"/>`, x(at), x(at), 52+long)
	}
	if known && math.Abs(x(from)-x(mark)) > 30 {
		way := math.Copysign(1, mark-from)
		fmt.Fprintf(&b, `<circle cx="%.1f" cy="40" r="7" class="was"/>`+
			`<text x="%.1f" y="112" class="was" text-anchor="middle">stands at %s</text>`, x(from), x(from), template.HTMLEscapeString(was))
		fmt.Fprintf(&b, `<line x1="%.1f" x2="%.1f" y1="40" y2="40" class="way"/>`, x(from)+way*9, x(mark)-way*14)
	}
	fmt.Fprintf(&b, `<path class="to" d="M%.1f 52l-11 -22h22z"/><text x="%.1f" y="24" class="to" text-anchor="middle">%s</text></svg>`,
		x(mark), x(mark), template.HTMLEscapeString(to))
	return template.HTML(b.String())
}
