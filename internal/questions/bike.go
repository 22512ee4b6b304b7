package questions

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"carryover/internal/diag"
	"carryover/internal/partfile"
)

// bike asks for a bike and returns what its readings leave open.
func (in *interview) bike(top *table) (open []string) {
	in.ask(top, "name", question{text: "What do you call this bike", form: text})
	use := in.choose("Do you want to measure your position on it, set it up, or both", "", "measure", "set", "both")
	measured, set := use != "set", use != "measure"
	frame := in.draft.begin("[frame]", "")
	floor := in.ask(frame, "bb_height", question{text: "Floor to the middle of the bottom bracket, mm", form: number,
		how: "ruler upright beside the chainring; readings from the floor need it"}) != ""
	in.feet(set)
	in.saddle(set)
	hands := in.hands(set)
	if set {
		in.machine(frame)
	}
	if !measured {
		return nil
	}
	in.postures(hands)
	return in.readings(floor)
}

func (in *interview) feet(set bool) {
	t := in.draft.begin("[feet]", "")
	t.missing = true
	in.ask(t, "crank", question{text: "Crank length, mm", how: "stamped on the back of the arm, near the pedal", form: number,
		needed: true, standIn: "170.0"})
	if set {
		in.ask(t, "cranks", question{text: "Lengths it can be set to, mm", how: "only when the crank has several holes", form: numbers})
	}
	in.ask(t, "sole_height", question{text: "Pedal axle to the underside of the foot, mm", form: number, needed: true, standIn: "24.0",
		how: "calliper, shoe on the pedal: pedal, cleat and sole added up"})
	in.ask(t, "q_factor", question{text: "Between the outer faces of the two crank arms, mm", how: "calliper or ruler across, at the pedals", form: number})
}

func (in *interview) saddle(set bool) {
	t := in.draft.begin("[saddle]", "")
	t.missing = true
	in.askPart(t, "part", partfile.Saddle, true, "the nearest by shape and size; measure it and write a part file when none is near")
	if set {
		in.ask(t, "clamp_at", question{text: "Where the clamp may hold the rails, from and to, mm", form: valueOrRange,
			how: "tape from the nose back to the middle of the clamp; one number when it stays where it is"})
		in.ask(t, "tilt", question{text: "Saddle tilt, degrees, one number, or from and to when you can turn it", form: valueOrRange,
			how: "level on a straightedge laid along the saddle; positive is nose up"})
	}
}

// askPart asks for a part of the catalogue, by id or file:PATH; for a saddle its size will do to be told the ids.
func (in *interview) askPart(t *table, name string, kind partfile.Kind, needed bool, how string) string {
	standIn := ""
	if needed {
		standIn, _ = text(in.lib.IDs(kind)[0])
	}
	prompt := "Which " + kind.String() + ", id or file:PATH"
	if kind == partfile.Saddle {
		prompt += ", or its length x width"
	}
	id := in.ask(t, name, question{text: prompt, how: how, needed: needed, standIn: standIn,
		more: func() string { return in.catalogue(kind) },
		form: func(answer string) (string, error) {
			var length, width float64
			if n, _ := fmt.Sscanf(strings.ReplaceAll(answer, " ", ""), "%fx%f", &length, &width); n == 2 && kind == partfile.Saddle {
				return "", fmt.Errorf("the nearest are %s; answer with one of them", strings.Join(in.nearest(length, width), ", "))
			}
			return text(answer)
		}})
	if p, err := in.lib.Lookup(kind, unquoted(id)); err == nil && id != "" {
		t.keys[len(t.keys)-1].note = diag.Visible(p.Name) // more use in the file than how it was chosen
	}
	return id
}

// catalogue is every part of a kind, one a line.
func (in *interview) catalogue(kind partfile.Kind) string {
	parts, err := in.lib.List(kind)
	if err != nil {
		return "  " + err.Error()
	}
	var b strings.Builder
	for _, p := range parts {
		fmt.Fprintf(&b, "  %-20s %s\n", p.ID, p.Name)
	}
	return strings.TrimSuffix(b.String(), "\n")
}

// nearest are the ids of the three saddles nearest in length and greatest width.
func (in *interview) nearest(length, width float64) []string {
	parts, err := in.lib.List(partfile.Saddle)
	if err != nil {
		return nil
	}
	away := func(p *partfile.Part) float64 {
		_, wide := p.Saddle.Widest()
		return math.Hypot(p.Saddle.Length-length, wide-width)
	}
	slices.SortStableFunc(parts, func(a, b *partfile.Part) int {
		if away(a) < away(b) {
			return -1
		}
		return 1
	})
	var ids []string
	for _, p := range parts[:min(3, len(parts))] {
		ids = append(ids, p.ID)
	}
	return ids
}

// hands asks for what the hands hold, and returns where they can be.
func (in *interview) hands(set bool) []string {
	where := []string{"hood"}
	t := in.draft.begin("[bar]", "")
	id := in.askPart(t, "part", partfile.Bar, false, "the nearest by reach and drop; ? lists them")
	if id == "" {
		in.draft.drop(t)
	} else {
		where = in.barFit(t, unquoted(id), set)
	}
	if in.choose("Are there forearm pads on it", "", "no", "yes") == "yes" {
		in.pads(set)
		where = append(where, "pad")
	}
	return where
}

// barFit asks how the bar is fitted. A bar with a measured hand place takes no lever.
func (in *interview) barFit(t *table, id string, set bool) []string {
	where := []string{"hood"}
	fixed := "%s, mm"
	if set {
		fixed = "%s, mm, one number, or from and to when you can move it"
	}
	if p, err := in.lib.Lookup(partfile.Bar, id); err != nil || p.Bar.Hood == nil {
		where = append(where, "drop")
		if in.askPart(t, "lever", partfile.Lever, false, "the nearest by shape; ? lists them") != "" {
			in.ask(t, "lever_at", question{text: fmt.Sprintf(fixed, "Where the lever sits on the bar"), form: valueOrRange,
				how: "tape along the bar from where the flat run meets the bend to the lever's clamp; negative on the flat run"})
		}
	}
	if set {
		in.ask(t, "rotation", question{text: "Rotation of the bar, degrees, one number, or from and to when you can turn it",
			how: "0 when the flat run is level; positive turns the front upward", form: valueOrRange})
	}
	in.ask(t, "clamp_width", question{text: "Width of what holds the bar, mm", how: "calliper across the stem's face plate; clip-ons must pass it", form: number})
	return where
}

func (in *interview) pads(set bool) {
	t := in.draft.begin("[clipon]", "")
	if in.askPart(t, "part", partfile.Clipon, false, "the nearest by height and length; ? lists them") == "" {
		in.draft.drop(t)
		return
	}
	if set {
		return // anything the part offers
	}
	for _, q := range []struct{ key, text, how string }{
		{"tilt", "Tilt of the pads, degrees", "level along the pad, or the notch it stands in"},
		{"hole", "Which hole the pads sit in, mm ahead of the bar's centre", "as the part's list has it"},
		{"stack", "Risers under the pads, mm", "all of one side added up"},
		{"spacing", "Pad centre to pad centre, mm", "tape across"},
		{"extension", "Pad centre to the grip, mm", "tape along the extension"},
	} {
		in.ask(t, q.key, question{text: q.text, how: q.how, form: number})
	}
}

// postures asks for the ways to ride the bike, in each of which the hands are somewhere else.
func (in *interview) postures(where []string) {
	for first := true; !in.ended; first = false {
		if !first && in.choose("Another way to ride it", "", "no", "yes") != "yes" {
			return
		}
		hands := in.choose("Where are the hands in the position to keep", "", where...)
		if in.ended {
			return
		}
		name := map[string]string{"hood": "road", "drop": "drops", "pad": "aero"}[hands]
		t := in.draft.begin("[posture."+name+"]", "")
		value, _ := text(hands)
		t.set("hands", value, "")
		in.ask(t, "support", question{text: "Saddle width that carries you there, mm, or sit-bones", form: numberOr("sit-bones"),
			how: "sit-bone spacing and 20 mm more; less when you sit far forward", needed: true, standIn: "120.0"})
		if where = slices.DeleteFunc(where, func(w string) bool { return w == hands }); len(where) == 0 {
			return
		}
	}
}
