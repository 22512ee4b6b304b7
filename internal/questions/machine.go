package questions

import (
	"fmt"
	"slices"
	"strings"

	"carryover/internal/bike"
)

// machine asks for what can be set: scales, or a stem to be chosen.
func (in *interview) machine(frame *table) {
	if in.choose("Does the bar slide on scales, or hang on a stem that is to be chosen", "", "scales", "stem") == "stem" {
		in.stem(frame)
	}
	anchor := in.draft.begin("[anchor]", "Where things are with every mark at 0: forward of and above the middle of the bottom bracket.")
	movable := []string{}
	ask := func(key, what string) {
		if in.ask(anchor, key, question{text: what + " with every mark at 0: forward of and above the bottom bracket, two numbers, mm",
			how: "plumb line and level line from the bottom bracket; behind it is negative", form: count(2, floats)}) != "" {
			movable = append(movable, strings.TrimSuffix(key, "_clamp"))
		}
	}
	ask("saddle_clamp", "Middle of the saddle's rail clamp")
	if !in.has("[stem]") {
		ask("bar_clamp", "Middle of the bar's clamp")
	}
	in.adjusters(append(movable, "saddle-tilt", "bar-rotation"))
}

func (in *interview) has(header string) bool {
	return slices.ContainsFunc(in.draft.tables, func(t *table) bool { return t.header == header })
}

func (in *interview) stem(frame *table) {
	complete := true
	for _, q := range []struct {
		key, text, how string
		needed         bool
	}{
		{"head_angle", "Head angle, degrees", "from the frame's drawing", true},
		{"stack", "Stack, mm", "from the frame's drawing: bottom bracket up to the top of the head tube", true},
		{"reach", "Reach, mm", "from the frame's drawing: bottom bracket forward to the top of the head tube", true},
		{"cover", "Height of the upper bearing cover, mm", "calliper along the steerer", false},
	} {
		answer := in.ask(frame, q.key, question{text: q.text, how: q.how, form: number})
		complete = complete && (answer != "" || !q.needed)
	}
	if !complete {
		const left = "[stem] is left out: it needs head_angle, stack and reach in [frame]."
		if !in.ended {
			in.Say("  " + left)
		}
		in.draft.begin("", left)
		return
	}
	t := in.draft.begin("[stem]", "The solver chooses among these.")
	t.set("parts", `["stem-*"]`, "")
	in.ask(t, "spacers", question{text: "Spacers that fit under the stem: most, and their step, two numbers, mm",
		how: "most of the steerer that may be covered, and the thinnest spacer", form: count(2, func(v []float64) string {
			return fmt.Sprintf("{ max = %s, step = %s }", float(v[0]), float(v[1]))
		})})
}

// adjusters asks for each thing that moves on a scale, and then for where the marks stand.
func (in *interview) adjusters(movable []string) {
	var names []string
	for !in.ended {
		t := in.draft.begin("[[adjuster]]", "")
		name := in.ask(t, "name", question{text: "Something that slides or turns on a scale: what is written on it (empty: no more)", form: text})
		if name == "" {
			in.draft.drop(t)
			break
		}
		moves := in.ask(t, "moves", question{text: "What does it move (" + strings.Join(movable, ", ") + ")", form: oneOf(movable...),
			needed: true, pending: []string{"adjuster-name"}})
		if !slices.Contains([]string{bike.MovesSaddleTilt.String(), bike.MovesBarRotation.String()}, unquoted(moves)) {
			in.ask(t, "angle", question{text: "Direction as the mark rises, degrees", needed: true, form: number,
				how: "0 is level forward, 90 straight up, 107 along a steep seat tube; digital level along it"})
		}
		in.ask(t, "unit", question{text: "How many mm (or degrees) is 1 on its scale", how: "10 when the scale counts centimetres", form: number, needed: true})
		in.ask(t, "range", question{text: "Least and greatest mark, two numbers", how: "as they stand on the scale", form: count(2, floats), needed: true})
		in.ask(t, "step", question{text: "Marks between two stops", how: "only when it clicks or has holes", form: number})
		if in.choose("Is there a scale to read", "", "yes", "no") == "no" {
			t.set("marked", "false", "no scale on it: it is set with the tape")
		}
		names = append(names, name)
	}
	if len(names) == 0 {
		return
	}
	t := in.draft.begin("[marks]", "Where the adjusters stand now.")
	for _, name := range names {
		in.ask(t, name, question{text: "Where does " + unquoted(name) + " stand now", form: number})
	}
}
