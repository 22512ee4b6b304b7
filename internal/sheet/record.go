package sheet

import (
	"math"
	"slices"
	"strings"

	"carryover/internal/carry"
	"carryover/internal/draw"
	"carryover/internal/job"
	"carryover/internal/plane"
	"carryover/internal/words"
)

// recorded is one posture as it stands: the customary numbers, and where everything is set.
func (v *view) recorded(s *job.Source, p job.Posture, first bool) posture {
	out := posture{ID: v.next(), Name: shown(p.Name), Carried: true, Verdict: "As measured.", Fresh: !first}
	if words.Disagree(s.Adjusted) {
		out.Verdict, out.Carried = "From readings that disagree: mend them first.", false
	}
	for _, r := range carry.CheckReadings(s.Bike, p.Hands) {
		if v, _, err := s.Adjusted.Placement.ReadingOf(r); err == nil && !math.IsNaN(v) {
			out.Checks = append(out.Checks, checked(r, v, 0))
		}
	}
	for i := range s.Bike.Adjusters {
		a := &s.Bike.Adjusters[i]
		if m, ok := s.Bike.Marks[a.Name]; ok {
			out.Checks = append(out.Checks, check{Name: words.Setting(a.Name), How: "its mark", Value: words.Mark(a, m)})
		}
	}
	out.Heading = words.TouchesHeading
	rows := words.Touches(s.Adjusted, p.Position, false)
	if p.Name == "" { // nobody rides it
		out.Verdict, rows = "As it stands: its file names no posture, so where a rider touches it is not known.", nil
	}
	for _, row := range rows {
		if sure := &row[len(row)-1]; *sure != "" {
			*sure = "could be " + *sure + " out"
		}
		row = slices.DeleteFunc(row, func(s string) bool { return s == "" })
		out.Minds = append(out.Minds, row[0]+": "+strings.Join(row[1:], ", "))
	}
	scene := draw.Alone(s.Adjusted, p.Position)
	scene.Date = v.Date
	text := v.height(&out, first)
	out.add("top", "", scene.Top(draw.Sheet{Width: 90, Height: 60, Plain: true})).Beside = true
	room := plane.Clamp(letter-text-heading-v.foot(true), 100, 200)
	out.add("side", "", scene.Side(draw.Sheet{Width: 190, Height: room, Plain: true}))
	return out
}
