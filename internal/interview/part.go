package interview

import (
	"strings"

	"carryover/internal/format"
)

// part asks for a part.
func (f *form) part() {
	for _, name := range []string{"kind", "id", "name"} {
		f.key(&f.top, "", format.Part.Keys.Find(name))
	}
	kind := ""
	for _, k := range f.top.keys {
		if k.name == "kind" {
			kind = unquoted(k.value)
		}
	}
	switch kind {
	case "saddle":
		f.measured()
		return
	case "bar":
		f.barPart()
		return
	}
	for _, k := range format.Shape(kind) {
		if k.Kind != format.Section {
			f.key(&f.top, "", &k)
		}
		for _, part := range k.Keys {
			part.Name = k.Name + "." + part.Name
			f.key(&f.top, "", &part)
		}
	}
}

// barPart asks for a bar's curve, or for one measured hand place instead.
func (f *form) barPart() {
	keys := []string{"reach", "drop", "bend", "flare"}
	if f.askWord("form", "A drop bar with levers, or one whose hand place you measure", "", "drop", "measured") == "measured" {
		keys = []string{"hood", "hood_angle"}
	}
	for _, name := range append(keys, "width", "clamp") {
		k := *format.Shape("bar").Find(name)
		f.key(&f.top, "", &k)
		last := f.top.keys[len(f.top.keys)-1]
		last.needed = k.Unless != "" || k.With != ""
	}
}

// rider asks for a rider: what carries them on a saddle first, lengths of the body after it.
func (f *form) rider() {
	f.key(&f.top, "", format.Rider.Keys.Find("name"))
	for i := range format.Rider.Keys {
		k := &format.Rider.Keys[i]
		if k.Kind != format.Number {
			continue
		}
		if k.Name == "thigh" {
			if f.askWord("body", "Lengths of the body as well", "only the body view needs them; a second person holds the tape", "no",
				"yes") != "yes" {
				return
			}
		}
		f.key(&f.top, "", k)
	}
}

// measured asks for a saddle, place by place.
func (f *form) measured() {
	f.saddle = &Saddle{}
	if f.place(first()) {
		for _, p := range placesOn(f.saddle.number("length")) {
			f.place(p)
		}
	}
	f.saddle.put(&f.top)
}

// place asks for one place of the saddle; it is false when it was left out.
func (f *form) place(p Place) bool {
	length := f.saddle.number("length")
	q := question{name: strings.TrimSpace(p.Key + " " + p.Name), text: p.Ask, how: p.How, needed: p.Needed, usual: p.Usual,
		read: func(answer string) (string, error) { _, _, err := p.read(length, answer); return answer, err }}
	if p.Key == "width" {
		q.after = func(f *form) []string { return []string{strings.TrimSuffix(f.saddle.Outline(), "\n")} }
	}
	answer := f.ask(q)
	if answer == "" {
		return false
	}
	station, v, err := p.read(length, answer)
	return err == nil && f.saddle.Put(p.Key, station, v) == nil
}
