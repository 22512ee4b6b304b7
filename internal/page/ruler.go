package page

import (
	"html/template"
	"strconv"

	"carryover/internal/carry"
	"carryover/internal/draw"
	"carryover/internal/job"
)

// ruler is the picture of a step's scale around the mark to set, with the one it stands at; "" where the step has no scale. What was
// moved since is to be where marks say.
func ruler(r *job.Result, step carry.Step, marks map[int]float64) template.HTML {
	for _, i := range step.Settings {
		set := r.Settings[i]
		if !set.Scale {
			continue
		}
		if m, moved := marks[i]; moved {
			set.Travel = m * set.Unit
		}
		return template.HTML(draw.Scale(r.Target, set, wide).Inline("scale-" + strconv.Itoa(i)))
	}
	return ""
}
