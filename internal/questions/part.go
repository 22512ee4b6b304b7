package questions

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"carryover/internal/partfile"
)

// part asks for a part.
func (in *interview) part(top *table) {
	kind := in.ask(top, "kind", question{text: "What is it (" + strings.Join(partfile.KindNames, ", ") + ")",
		form: oneOf(partfile.KindNames...), needed: true})
	in.ask(top, "id", question{text: "A short name for it, which bike files use, like my-saddle",
		form: text, needed: true, standIn: `"own"`})
	in.ask(top, "name", question{text: "What is it called in full", form: text, needed: true, standIn: `"own"`})
	switch unquoted(kind) {
	case "saddle":
		in.saddlePart(top)
	case "bar":
		in.barPart(top)
	case "lever":
		in.ask(top, "hollow", question{text: "From its mount, along the bar and out from it, two numbers, mm", needed: true,
			how: "to where the web of the hand sits", form: count(2, floats)})
		in.ask(top, "angle", question{text: "Angle of its top surface against the bar there, degrees", needed: true,
			how: "level on the top, less the angle of the bar", form: number})
	case "stem":
		in.ask(top, "length", question{text: "Length, mm", how: "steerer axis to bar centre, along the stem", form: number, needed: true})
		in.ask(top, "angle", question{text: "Angle, degrees", how: "as stamped on it, against the perpendicular of the steerer, positive rises", form: number, needed: true})
		in.ask(top, "height", question{text: "Height of its clamp on the steerer, mm", how: "calliper along the steerer", form: number, needed: true})
	case "clipon":
		in.cliponPart(top)
	}
	in.ask(top, "price", question{text: "Price", how: "only if parts are to be chosen by it", form: number})
}

func (in *interview) saddlePart(top *table) {
	length := in.ask(top, "length", question{text: "Length, mm", needed: true, form: number,
		how: "straightedge laid lengthwise on it, nose to tail along the straightedge"})
	for _, c := range []struct{ key, text, how string }{
		{"width", "Full width %s, mm", "side to side, square to the straightedge"},
		{"top", "How far below the straightedge %s, mm", "ruler down from the straightedge; 0 where it touches"},
	} {
		k := top.add(&key{name: c.key, note: c.how, needed: true})
		if length != "" {
			end, _ := parseNumber(length)
			in.curve(k, end, c.text, c.how)
		}
	}
	in.ask(top, "sag", question{text: "How far it gives under you, mm", needed: true, form: number,
		how: "height of the saddle above the floor empty, less the same with you on it"})
	in.ask(top, "rail", question{text: "Rails: how far below the straightedge, and the straight stretch from and to, three numbers, mm", needed: true,
		how: "rail centre below the straightedge; stations behind the nose where a clamp may hold",
		form: count(3, func(v []float64) string {
			return fmt.Sprintf("{ height = %s, from = %s, to = %s }", float(v[0]), float(v[1]), float(v[2]))
		})})
}

// curve asks for [[station, value], ...], one station after the other; those left out in between are passed over.
func (in *interview) curve(k *key, length float64, prompt, how string) {
	const apart = 40
	var pairs [][2]float64
	for station, done := 0.0, false; !done && !in.ended; station += apart {
		where := fmt.Sprintf("%g mm behind the nose", station)
		switch {
		case station == 0:
			where = "at the nose"
		case length-station < apart/2:
			station, done, where = length, true, "at the tail"
		}
		q := question{text: fmt.Sprintf(prompt, where), form: number, needed: station == 0 || done,
			pending: []string{"straightedge"}}
		if station == 0 {
			q.how = how
		}
		known := pairs
		answer := in.fill(q, func(toml string) {
			pairs = known
			if toml != "" {
				v, _ := parseNumber(toml)
				if k.name == "top" {
					v = -math.Abs(v) // a person measures down
				}
				pairs = append(known[:len(known):len(known)], [2]float64{station, v})
				k.value = curve(upTo(length, pairs))
			}
		})
		if q.needed && answer == "" {
			k.value, k.part = "", curve(pairs)
			return
		}
	}
	if in.ended {
		k.value, k.part = "", curve(pairs)
		return
	}
	k.value = curve(pairs)
	if k.name == "top" {
		k.value = curve(touching(pairs))
	}
}

// upTo is a curve that is not complete with its last value kept up to the length, so that it can be judged.
func upTo(length float64, pairs [][2]float64) [][2]float64 {
	last := pairs[len(pairs)-1]
	if last[0] == length {
		return pairs
	}
	return append(slices.Clone(pairs), [2]float64{length, last[1]})
}

// curve writes stations with their values; nothing for none.
func curve(pairs [][2]float64) string {
	var words []string
	for _, p := range pairs {
		words = append(words, floats(p[:]))
	}
	if len(words) == 0 {
		return ""
	}
	return "[" + strings.Join(words, ", ") + "]"
}

// touching lifts heights that were measured from a straightedge held clear of the saddle until the highest is 0.
func touching(pairs [][2]float64) [][2]float64 {
	highest := math.Inf(-1)
	for _, p := range pairs {
		highest = math.Max(highest, p[1])
	}
	lifted := slices.Clone(pairs)
	for i := range lifted {
		lifted[i][1] = math.Min(0, math.Round((lifted[i][1]-highest)*1e6)/1e6)
	}
	return lifted
}

func (in *interview) barPart(top *table) {
	if in.choose("A drop bar with levers, or one whose hand place you measure", "", "drop", "measured") == "measured" {
		in.ask(top, "hood", question{text: "Hand place ahead of and above the clamp centre, two numbers, mm", needed: true,
			how: "to where the web of the hand sits, with the bar at rotation 0", form: count(2, floats), pending: []string{"bar-hood"}})
		in.ask(top, "hood_angle", question{text: "Angle of the surface under that hand, degrees", needed: true,
			how: "level on it, with the bar at rotation 0", form: number})
	} else {
		in.ask(top, "reach", question{text: "Reach, mm", how: "clamp centre forward to the middle of the bar where it bends down", form: number, needed: true})
		in.ask(top, "drop", question{text: "Drop, mm", how: "clamp centre down to the middle of the bar in the drops", form: number, needed: true})
		in.ask(top, "bend", question{text: "Radius of the forward bend, mm", how: "a coin or a can that fits into it", form: number, needed: true})
		in.ask(top, "flare", question{text: "How far the drops lean out, degrees", form: number})
	}
	in.ask(top, "width", question{text: "Width, mm", how: "between the middles of its ends", form: number})
	in.ask(top, "clamp", question{text: "Diameter where the stem holds it, mm", how: "calliper", form: number})
}

func (in *interview) cliponPart(top *table) {
	for _, q := range []struct {
		key, text, how string
		form           form
	}{
		{"base", "Bar centre up to the pad's top, nothing under the pad, mm", "along the perpendicular of the pad", number},
		{"stacks", "Riser heights that can be built, mm", "with 0 for none", numbers},
		{"holes", "Where the pads can sit ahead of the bar centre, mm", "one number per hole, negative behind", numbers},
		{"tilt", "Tilt of the pads, from and to, degrees", "one number when it is fixed", valueOrRange},
		{"tilt_step", "Step of the tilt, degrees", "0 for anywhere", number},
		{"spacing", "Pad centre to pad centre, the choices, mm", "across", numbers},
		{"gap", "Clear space between the two clamps at their closest, mm", "across, on the bar", number},
		{"pad", "Pad length and width, two numbers, mm", "of one pad", count(2, func(v []float64) string {
			return fmt.Sprintf("{ length = %s, width = %s }", float(v[0]), float(v[1]))
		})},
		{"grip", "Pad centre to grip, shortest and longest, and grip above the pad, three numbers, mm", "along the extensions, and square to them",
			count(3, func(v []float64) string {
				return fmt.Sprintf("{ forward = %s, rise = %s }", floats(v[:2]), float(v[2]))
			})},
	} {
		in.ask(top, q.key, question{text: q.text, how: q.how, form: q.form, needed: q.key != "tilt_step"})
	}
}
