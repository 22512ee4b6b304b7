package interview

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"carryover/internal/bikefile"
	"carryover/internal/format"
	"carryover/internal/locate"
	"carryover/internal/saddle"
	"carryover/internal/tomltree"
	"carryover/internal/written"
)

// places are what a person calls where the tape goes.
var places = map[string]string{
	"sit": "the mark", "mid": "the middle of the saddle", "nose": "the saddle's nose", "hood": "the hollow of the hood",
	"drop": "the drops", "pad": "the middle of the pads", "bar": "the middle of the bar", "saddle.mid": "the middle of the saddle",
}

// toTake is one measurement to ask for: "" where the kind says it all.
type toTake struct{ kind, at, to string }

// ends are a person's words for where it goes; a place on the saddle that has none is the mark, whatever its name.
func (r toTake) ends() (at, to string) { return cmp.Or(places[r.at], places["sit"]), places[r.to] }

// short is a reading in a few words, with the places that its kind does not say.
func (r toTake) short() string {
	words := []string{strings.ReplaceAll(r.kind, "-", " ")}
	at, to := r.ends()
	if r.at != "" {
		words = append(words, at)
	}
	if r.to != "" {
		words = append(words, to)
	}
	return strings.Join(words, ", ")
}

var pictures = map[string]string{
	"saddle-height": `
      ___mark____
     (_____|_____>     the tape goes straight from the middle of the
           |           axle to the mark, not along the seat tube
          /
         /
       (o)  bottom bracket`,
	"setback": `
      ___mark____
     (_____|_____>     hang a plumb line off the mark; measure level
           |           from the line to the middle of the axle
           |<--->(o)
           '  plumb line`,
	"reach": `
      ___mark____
     (_____|_____>               ___
           |                    /   \     plumb lines off both,
           |<---- level ------>|     |    measure between them
           '                   '`,
	"drop": `
      ___mark____ - - level - - -.
     (__________>                |  drop: down to the hollow where
                              __ v  the web of the hand sits
                             /  \`,
	"hood-angle": `
            ____====____   phone or level
           /    hood     \  positive: it rises to the front`,
	"saddle-tilt": `
        =================   straightedge, level on top of it
       (________________>   positive: the nose is higher`,
}

// reading asks for one measurement and says what it leaves open.
func (f *form) reading(r toTake) {
	t := f.item("reading")
	t.set("kind", tomltree.Quote(r.kind), "")
	key := format.Reading(r.kind)
	at, to := bikefile.Usual(r.kind)
	full := toTake{r.kind, cmp.Or(r.at, at), cmp.Or(r.to, to)}
	if full.at != at {
		t.set("at", tomltree.Quote(full.at), "")
	}
	if full.to != to {
		t.set("to", tomltree.Quote(full.to), "")
	}
	t.about = key.How
	if place, err := saddle.ParseReference(full.at); err == nil && r.kind == "setback" {
		key = format.Setback(place)
	}
	q := question{name: strings.Trim("reading "+r.kind+" "+r.at+" "+r.to, " "), short: r.short(), text: key.Between(full.ends()), how: key.How,
		picture: pictures[r.kind], read: reads(key), key: key, small: key.Unit == format.MM && key.Lo < 0, after: (*form).leaves}
	if r.at != "" && r.kind == "saddle-height" {
		q.more = func() string { return markPicture + "\n  " + markHow }
	}
	value := f.ask(q)
	if value == "" {
		t.keys = nil
		return
	}
	t.set("value", value, "")
}

// leaves says what the readings so far leave open, or how they agree.
func (f *form) leaves() []string {
	open, agree, _ := f.standing()
	switch {
	case len(open) > 0:
		return []string{"  that leaves open " + written.And(open)}
	case agree != "":
		return []string{"  " + agree}
	}
	return nil
}

// standing says what the readings so far leave open and which would fix it, or, when nothing is open, how well they
// agree. It is silent while the bike cannot be judged.
func (f *form) standing() (open []string, agree string, shortest []string) {
	b, problems := bikefile.ReadBike(f.File, []byte(f.String()), f.Folder, f.Lib)
	if problems.HasErrors() || len(b.Readings) == 0 {
		return nil, "", nil
	}
	adjusted, err := locate.Adjust(b, nil, locate.Options{})
	if err != nil {
		return nil, "", nil
	}
	if len(adjusted.Missing) == 0 {
		return nil, agreement(adjusted), nil
	}
	for _, gap := range adjusted.Missing {
		open = append(open, gap.Means())
	}
	return open, "", adjusted.Shortest()
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

// saddleAndHands are the readings of a bike: to a mark on the saddle, or with none to its nose and middle.
func saddleAndHands(at string, hands []string) []toTake {
	list := []toTake{{"saddle-height", at, ""}, {"setback", at, ""}, {kind: "saddle-tilt"}}
	for _, h := range hands {
		to := h
		if h == "hood" {
			to = ""
		}
		list = append(list, toTake{"reach", at, to}, toTake{"drop", at, to})
		switch h {
		case "hood":
			list = append(list, toTake{kind: "hood-angle"})
		case "pad":
			list = append(list, toTake{kind: "pad-tilt"})
		}
	}
	return list
}

// checks are the readings that say whether the others are right.
func (f *form) checks(hands []string, shaped bool) []toTake {
	var list []toTake
	if shaped && f.carrying() != "" {
		list = append(list, toTake{"setback", "nose", ""})
	}
	if shaped && f.begun("[bar]") {
		list = append(list, toTake{kind: "nose-to-bar"})
	}
	if f.begun("[frame]") && shaped {
		list = append(list, toTake{"floor-height", "", "saddle.mid"})
	}
	if f.begun("[frame]") && f.begun("[bar]") {
		list = append(list, toTake{"floor-height", "", "bar"})
	}
	if slices.Contains(hands, "drop") || len(hands) > 1 || !slices.Contains(hands, "pad") && f.begun("[clipon]") {
		list = append(list, toTake{kind: "bar-rotation"})
	}
	return list
}
