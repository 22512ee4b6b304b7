package questions

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"carryover/internal/bikefile"
	"carryover/internal/locate"
)

// reading is one measurement to ask for.
type reading struct {
	kind, to  string // to: "" where the kind says it all
	text, how string
}

// toHands are the readings to where the hands are, by what the hands hold.
var toHands = map[string][]reading{
	"hood": {
		{"reach", "", "Reach: saddle nose forward to the hollow of the hood, mm", "plumb lines off the nose and off where the web of the hand sits; level between them"},
		{"drop", "", "Drop: how far that hollow is below the middle of the saddle, mm", "level line from the middle of the saddle, tape down to the hollow; negative when it is above"},
		{"hood-angle", "", "Angle of the top of the hood, degrees", "level on top of it; positive rises to the front"},
	},
	"drop": {
		{"reach", "drop", "Reach to the drops: saddle nose forward, mm", "plumb lines off the nose and off the middle of the bar in the drops"},
		{"drop", "drop", "How far the drops are below the middle of the saddle, mm", "level line from the middle of the saddle, tape down"},
	},
	"pad": {
		{"reach", "pad", "Saddle nose forward to the middle of the pads, mm", "plumb lines off the nose and off the middle of the pad; level between them"},
		{"drop", "pad", "How far the pads are below the middle of the saddle, mm", "level line from the middle of the saddle, tape down to the middle of the pad"},
		{"pad-tilt", "", "Tilt of the pads, degrees", "level along the pad; positive rises to the front"},
	},
}

// readings asks for the tape readings of the postures, and says after each what it leaves open.
func (in *interview) readings(floor bool) (open []string) {
	if !in.ended {
		in.Say("\nNow the tape. The bike stands upright and level; readings go to the unloaded surfaces.")
	}
	list := []reading{
		{"saddle-height", "", "Saddle height: bottom bracket straight to the middle of the saddle, mm", "tape from the middle of the axle to the top of the saddle, halfway along it"},
		{"setback", "", "Setback: how far the saddle's nose is behind the bottom bracket, mm", "plumb line off the nose, tape level from the line to the axle; negative when it is ahead"},
		{"saddle-tilt", "", "Saddle tilt, degrees", "level on a straightedge laid along the saddle; positive is nose up"},
	}
	hands := []string{}
	for _, t := range in.draft.tables {
		if strings.HasPrefix(t.header, "[posture.") {
			hands = append(hands, unquoted(t.keys[0].value))
		}
	}
	for _, h := range hands {
		list = append(list, toHands[h]...)
	}
	list = append(list, reading{"nose-to-bar", "", "Saddle nose straight to the middle of the bar, mm", "tape from the very tip to the bar's middle at its clamp; a check on the others"})
	if floor {
		list = append(list,
			reading{"floor-height", "saddle.mid", "Floor to the middle of the saddle, mm", "tape upright; a check on the others"},
			reading{"floor-height", "bar", "Floor to the middle of the bar, mm", "tape upright, at the clamp; a check on the others"})
	}
	if slices.Contains(hands, "drop") || len(hands) > 1 || !slices.Contains(hands, "pad") && in.has("[clipon]") {
		list = append(list, reading{"bar-rotation", "", "Rotation of the bar, degrees", "level on its flat run; positive turns the front upward"})
	}
	for _, r := range list {
		if in.ended {
			break
		}
		in.reading(r)
	}
	open, _, short := in.standing()
	if len(hands) == 0 {
		open = append(open, "where the hands are: there is no [posture] yet")
	}
	if len(short) > 0 && !in.ended {
		in.Say("\nThe shortest list that fixes everything: " + strings.Join(short, ", ") + ".")
	}
	return open
}

func (in *interview) reading(r reading) {
	t := in.draft.begin("[[reading]]", "")
	kind, _ := text(r.kind)
	t.set("kind", kind, "")
	if r.to != "" {
		to, _ := text(r.to)
		t.set("to", to, "")
	}
	if in.ask(t, "value", question{text: r.text, how: r.how, form: number}) == "" {
		in.draft.drop(t)
		return
	}
	if open, said, _ := in.standing(); len(open) > 0 {
		in.Say("  that leaves " + listed(open) + " open")
	} else if said != "" {
		in.Say("  " + said)
	}
}

// words are what a person calls the numbers of a bike.
var words = map[string]string{
	"saddle.x": "how far back the saddle is", "saddle.y": "the saddle height", "saddle.tilt": "the saddle tilt",
	"bar.x": "how far forward the bar is", "bar.y": "the bar height", "bar.rotation": "the rotation of the bar",
	"hood.x": "how far forward the hands are", "hood.y": "the height of the hands", "hood.angle": "the angle of the hoods",
	"drop.x": "how far forward the drops are", "drop.y": "the height of the drops",
	"pad.x": "how far forward the pads are", "pad.y": "the height of the pads", "pad.tilt": "the tilt of the pads",
	"clipon.tilt": "the tilt of the pads", "grip.x": "how far forward the grips are", "grip.y": "the height of the grips",
}

// standing says what the readings so far leave open and which would fix it, or, when nothing is open, how well they
// agree. It is silent while the bike cannot be judged.
func (in *interview) standing() (open []string, agree string, shortest []string) {
	b, problems := bikefile.ReadBike(in.file, []byte(in.draft.source(true)), in.folder, in.lib)
	if problems.HasErrors() {
		return nil, "", nil
	}
	adjusted, err := locate.Adjust(b, nil, locate.Options{})
	if err != nil {
		return nil, "", nil
	}
	if len(adjusted.Missing) > 0 {
		for _, gap := range adjusted.Missing {
			word, known := words[gap.Unknown]
			if !known {
				word = gap.Unknown
			}
			open = append(open, word)
		}
		return open, "", adjusted.Shortest()
	}
	return nil, agreement(adjusted), nil
}

// agreement says how well readings agree that leave nothing open.
func agreement(a *locate.Adjustment) string {
	all := a.WithAll()
	judged := all.Judged()
	if suspects := a.Suspects(); len(suspects) > 0 {
		i := suspects[0]
		o := a.Observations[i]
		off, unit := o.Value.Of(-judged[i].Residual), "mm"
		if off.Turns() {
			unit = "degrees"
		}
		return fmt.Sprintf("%s does not agree with the others, by about %.0f %s: read it again", o.Name, math.Abs(off.Shown()), unit)
	}
	checked := 0
	for i, o := range a.Observations {
		if o.Origin == locate.FromReading && judged[i].Redundancy > 0.05 {
			checked++
		}
	}
	if checked < 2 {
		return "nothing is open now; one more reading would check the others"
	}
	return fmt.Sprintf("nothing is open now, and %d of the readings check one another", checked)
}

// listed is "a", "a and b", "a, b and c".
func listed(all []string) string {
	if len(all) < 2 {
		return strings.Join(all, "")
	}
	return strings.Join(all[:len(all)-1], ", ") + " and " + all[len(all)-1]
}
