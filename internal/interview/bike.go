package interview

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"carryover/internal/diag"
	"carryover/internal/format"
	"carryover/internal/partfile"
	"carryover/internal/plane"
	"carryover/internal/tomltree"
	"carryover/internal/written"
)

// bike asks for a bike: first what it is for and how much is to be measured.
func (f *form) bike() {
	f.fillIn(&f.top, "name", question{name: "name", text: "What do you call this bike", read: text})
	use := f.askWord("use", "Will a position be carried from this bike, to it, or both", "", "from", "to", "both")
	way := f.askWord("way", "The short way, ten minutes: a mark on the saddle and six readings; or the long one: shapes, scales, checks",
		"the short way needs no part of any catalogue; both can be carried to and from either", "short", "long")
	if way == "long" {
		f.long(use != "to", use != "from")
	} else {
		f.short(use != "to", use != "from")
	}
	f.pitch()
	if f.pending != nil {
		return
	}
	open, _, short := f.standing()
	if len(open) > 0 && len(short) > 0 {
		open = append(open, "the fewest readings that tell it: "+strings.Join(short, ", "))
	}
	if !f.begun("reading") && !f.begun("[anchor]") {
		open = append(open, "where saddle and hands are: nothing was read")
	}
	f.open = open
	f.record()
}

// record asks for what stands on a sheet beside the numbers.
func (f *form) record() {
	for _, name := range []string{"fitter", "date", "notes"} {
		f.key(&f.top, "", bikeKey(name))
	}
}

func bikeKey(path string) *format.Key { return format.Bike.Keys.Find(path) }

// in asks for keys of a table of the bike file.
func (f *form) in(table string, keys ...string) {
	t := f.begin("[" + table + "]")
	t.written = table == "feet" // no bike goes without a crank
	for _, k := range keys {
		f.key(t, table+".", bikeKey(table+"."+k))
	}
}

const markHow = "A mark where the saddle is as wide as it carries you. Sit on corrugated cardboard on a hard stool, " +
	"back rounded as you ride: " +
	"from the middle of one dent to that of the other, and 20 mm more (less when you sit far forward). Cut a slot of that width into card, " +
	"push it back from the nose until both its edges touch, and put a strip of tape there. `carryover template --gauge 122` prints the card."

const markPicture = `
       nose
        /\          ______________
       |  |        |   card       |
       |  |        |__        ____|    the slot is as wide as you sit;
      /    \          |      |         where both its edges touch,
    -/--mark\-        | 122  |         the mark goes across the saddle
    /        \`

// short asks what a practised rider can measure in ten minutes: no shapes, no anchors.
func (f *form) short(from, to bool) {
	f.in("feet", "crank")
	hands := f.askWord("hands", "Where are the hands", "on the hoods, in the drops, or the forearms on pads", "hood", "drop", "pad")
	if f.pending != nil {
		return
	}
	t := f.begin("[saddle]")
	t.written, t.about = true, "no shape: readings go to a mark where it is as wide as the rider sits"
	if from {
		p := f.begin("[posture." + ride(hands) + "]")
		p.set("hands", tomltree.Quote(hands), "")
		f.fillIn(p, "support", question{name: "support", short: "support", text: "How wide the saddle is at the mark, mm", how: markHow,
			picture: markPicture, read: support, key: &bikeKey("posture.support").Kinds[0]})
		p.keys[len(p.keys)-1].note = "the saddle's width at the mark"
	}
	for _, r := range saddleAndHands("sit", []string{hands}) {
		f.reading(r)
	}
	if to {
		f.adjusters(false)
	}
}

// ride is what a posture is called.
func ride(hands string) string {
	return map[string]string{"hood": "road", "drop": "drops", "pad": "aero"}[hands]
}

// support reads a width, the rider's bones, or a place behind the nose.
func support(answer string) (string, error) {
	if v, err := written.Length(answer); err == nil {
		return tomltree.Float(v), nil
	}
	return text(strings.ToLower(answer))
}

// long asks for shapes, scales and checks.
func (f *form) long(from, to bool) {
	f.in("frame", "bb_height")
	keys := []string{"crank", "sole_height", "q_factor"}
	if to {
		keys = []string{"crank", "cranks", "sole_height", "q_factor"}
	}
	f.in("feet", keys...)
	shaped := f.saddlePart()
	if to && shaped {
		f.in("saddle", "clamp_at", "tilt")
	}
	hands := f.hands(to)
	anchored := false
	if to {
		anchored = f.machine()
	}
	if from {
		hands = f.postures(hands)
	} else {
		hands = hands[:min(1, len(hands))]
	}
	if from || !anchored {
		at := "sit"
		if shaped {
			at = f.carrying()
		}
		for _, r := range saddleAndHands(at, hands) {
			f.reading(r)
		}
		for _, r := range f.checks(hands, shaped) {
			f.reading(r)
		}
	}
}

// saddlePart asks for the saddle; it is false when nothing is known of its shape.
func (f *form) saddlePart() bool {
	t := f.begin("[saddle]")
	t.written = true
	id := f.part1(t, "part", partfile.Saddle, "or its length x width, or none",
		"the nearest by shape; 280 x 142 fits the nearest shape to that size; none: readings go to a mark on it")
	if id == "" {
		t.about = "no shape: readings go to a mark where it is as wide as the rider sits"
	}
	return id != ""
}

// part1 asks for a part of the catalogue, by id or file:PATH; a saddle's size will do, the nearest shape is then fitted to it.
func (f *form) part1(t *table, name string, kind partfile.Kind, or, how string) string {
	q := question{name: kind.String() + " part", text: "Which " + kind.String() + ": id or file:PATH, " + or, how: how,
		more: func() string { return f.catalogue(kind) }}
	stretch := ""
	q.read = func(answer string) (string, error) {
		var length, width float64
		answer = strings.ReplaceAll(answer, "×", "x")
		switch n, _ := fmt.Sscanf(strings.ReplaceAll(answer, " ", ""), "%fx%f", &length, &width); {
		case strings.EqualFold(answer, "none"):
			return "", nil
		case n == 2 && kind == partfile.Saddle:
			near := f.nearest(length, width)
			if near == nil {
				return "", fmt.Errorf("the catalogue has no saddle")
			}
			stretch = fmt.Sprintf("{ length = %s, width = %s }", tomltree.Float(length), tomltree.Float(width))
			return tomltree.Quote(near.ID), nil
		}
		return text(answer)
	}
	id := f.fillIn(t, name, q)
	if p, err := f.Lib.Lookup(kind, unquoted(id)); err == nil && id != "" {
		t.keys[len(t.keys)-1].note = diag.Visible(p.Name) // more use in the file than how it was chosen
	}
	if stretch != "" {
		t.set("stretch", stretch, "its own size, along the straightedge and at the widest place")
	}
	return unquoted(id)
}

// catalogue is every part of a kind, one a line.
func (f *form) catalogue(kind partfile.Kind) string {
	parts, err := f.Lib.List(kind)
	if err != nil {
		return "  " + err.Error()
	}
	var b strings.Builder
	for _, p := range parts {
		fmt.Fprintf(&b, "  %-20s %s\n", p.ID, p.Name)
	}
	return strings.TrimSuffix(b.String(), "\n")
}

// hands asks for what the hands hold, and returns where they can be.
func (f *form) hands(to bool) []string {
	where := []string{"hood"}
	t := f.begin("[bar]")
	if id := f.part1(t, "part", partfile.Bar, "or none",
		"the nearest by reach and drop; ? lists them; none: the tape says where the hands are"); id != "" {
		if p, err := f.Lib.Lookup(partfile.Bar, id); err != nil || p.Bar.Hood == nil { // a measured hand place takes no lever
			where = append(where, "drop")
			if f.part1(t, "lever", partfile.Lever, "or none", "the nearest by shape; ? lists them") != "" {
				f.in("bar", "lever_at")
			}
		}
		if to {
			f.in("bar", "rotation")
		}
	}
	switch f.askWord("pads", "Forearm pads on it: none, clamped on, or built into the cockpit",
		"a built-in cockpit needs no parts list: the tape says where the pads are",
		"none", "clamped", "built-in") {
	case "clamped":
		f.in("bar", "clamp_width")
		f.pads(to)
		where = append(where, "pad")
	case "built-in":
		where = []string{"pad"}
		if f.begun("[bar]") {
			where = []string{"hood", "pad"}
		}
	}
	return where
}

func (f *form) pads(to bool) {
	t := f.begin("[clipon]")
	if f.part1(t, "part", partfile.Clipon, "or none", "the nearest by height and length; ? lists them") == "" || to {
		return // on a bike to be set up: anything the part offers
	}
	f.in("clipon", "tilt", "hole", "stack", "spacing", "extension")
}

// machine asks for what can be set; it is true when the places of the clamps are known.
func (f *form) machine() bool {
	stem := f.askWord("front", "Does the bar slide, or hang on a stem that is to be chosen", "", "slides", "stem") == "stem"
	if stem {
		f.stem()
	}
	anchored := f.askWord("anchors", "Do you know where the clamps are with every mark at 0",
		"if not, the bike is taped as it stands, which does as well; "+
			"or `carryover calibrate` learns it from a few standings, eight readings each", "no", "yes") == "yes"
	if anchored {
		keys := []string{"saddle_clamp", "bar_clamp"}
		f.in("anchor", keys[:map[bool]int{true: 1, false: 2}[stem]]...)
	}
	f.adjusters(anchored)
	return anchored
}

func (f *form) stem() {
	f.in("frame", "head_angle", "stack", "reach", "cover")
	frame := f.begin("[frame]")
	if f.pending != nil || !frame.has("head_angle") || !frame.has("stack") || !frame.has("reach") {
		return // without them a stem hangs on nothing
	}
	t := f.begin("[stem]")
	t.set("parts", `["stem-*"]`, "any of the catalogue; list the ones you have")
	most, step := *bikeKey("stem.spacers.max"), *bikeKey("stem.spacers.step")
	most.Name, step.Name, most.Needed = "spacers.max", "spacers.step", false
	if f.key(t, "stem.", &most) != "" {
		f.key(t, "stem.", &step)
	}
}

// mark is where an adjuster stands on its scale, which may be anywhere.
var mark = format.Key{Name: "mark", Kind: format.Number, Lo: math.Inf(-1), Hi: math.Inf(1), About: "where its mark stands now",
	How: "empty when it cannot be read: it then counts from where it stands"}

// adjusters asks for each thing that moves, and where its mark stands. With anchors the marks count.
func (f *form) adjusters(anchored bool) {
	marks := f.begin("[marks]")
	for i := 1; f.pending == nil; i++ {
		at := fmt.Sprintf("adjuster %d ", i)
		t := f.item("adjuster")
		ask := func(name string, needed bool) string {
			k := *bikeKey("adjuster." + name)
			k.Needed = needed
			return f.key(t, at, &k)
		}
		name := ask("name", false)
		if name == "" {
			t.keys = nil
			return
		}
		moves := ask("moves", true)
		body, turned, turns := strings.Cut(unquoted(moves), "-")
		if turns {
			f.begin("[" + body + "]").drop(turned) // its mark says it
		} else if moves != "" {
			ask("angle", true)
		}
		unit := *bikeKey("adjuster.unit")
		if turns {
			unit.Usual = "degrees"
		}
		f.key(t, at, &unit)
		if strings.EqualFold(f.answers[at+"unit"], "none") {
			t.set("marked", "false", "")
			t.about = "no scale on it: it is set with the tape"
			if !anchored {
				continue
			}
		}
		stands := f.ask(question{name: at + mark.Name, text: mark.Asked(), how: mark.How, read: reads(&mark)})
		ends := ""
		if stands != "" || anchored {
			ends = ask("range", stands != "")
		}
		ask("step", false)
		if stands != "" && ends != "" {
			marks.set(name, stands, "")
		}
	}
}

// postures asks for the ways to ride the bike, in each of which the hands are somewhere else, and returns where.
func (f *form) postures(where []string) []string {
	var used []string
	for i := 0; f.pending == nil && len(where) > 0; i++ {
		if i > 0 && f.askWord(fmt.Sprintf("another %d", i), "Another way to ride it", "", "no", "yes") != "yes" {
			break
		}
		hands := where[0]
		if len(where) > 1 {
			hands = f.askWord(fmt.Sprintf("hands %d", i+1), "Where are the hands in the position to keep", "", where...)
		}
		if f.pending != nil {
			break
		}
		t := f.begin("[posture." + ride(hands) + "]")
		t.set("hands", tomltree.Quote(hands), "")
		f.fillIn(t, "support", question{name: "support " + hands,
			text: "Saddle width that carries you there, mm, or sit-bones, or at:45 for a place behind the nose",
			how:  markHow, picture: markPicture, needed: f.begin("[saddle]").has("part"), read: support})
		t.keys[len(t.keys)-1].note = "the saddle's width where it carries the rider"
		used = append(used, hands)
		where = slices.DeleteFunc(slices.Clone(where), func(w string) bool { return w == hands })
	}
	return used
}

// carrying is the reference of the place that carries the rider in the first posture, "" when that takes a rider file. Readings
// to it hardly depend on the saddle's shape.
func (f *form) carrying() string {
	for _, t := range f.tables {
		if !strings.HasPrefix(t.header, "[posture.") {
			continue
		}
		switch support := t.keys[len(t.keys)-1].value; {
		case strings.HasPrefix(support, `"at:`):
			return unquoted(support)
		case support != "" && support != tomltree.Quote(format.SitBones):
			return "width:" + support
		}
		return ""
	}
	return ""
}

// pitch asks whether the bike stands as it is ridden.
func (f *form) pitch() {
	const how = "half a degree is 6 mm of setback. level: lay one on the same tube twice, " +
		"as it stands and as it is ridden; axles: heights of the axles and the wheelbase"
	from := func(n int, want string, read func(string) (float64, error), of func([]float64) float64) func(string) (string, error) {
		return func(answer string) (string, error) {
			v, err := several(answer, n, n, want, read)
			if err != nil {
				return "", err
			}
			return tomltree.Float(math.Round(of(v)*100) / 100), nil
		}
	}
	var q question
	switch f.askWord("pitch", "Does it stand now as it is ridden? If not, a level or the heights of its axles tell by how much", how, "same",
		"level", "axles") {
	case "level":
		q = question{name: "pitch by level", text: "The tube as it stands now and as it is ridden, two numbers, degrees",
			how:  "a level on the same tube, now and ridden; positive rises to the front",
			read: from(2, "two numbers with a blank between them", written.Degrees, func(v []float64) float64 { return v[1] - v[0] })}
	case "axles":
		q = question{name: "pitch by axles",
			text: "How much higher the front axle is than the rear one now, the same as ridden, and the wheelbase, three numbers, mm",
			read: from(3, "three numbers with blanks between them", written.Length,
				func(v []float64) float64 { return plane.Deg(math.Atan2(v[1]-v[0], v[2])) })}
	default:
		return
	}
	f.fillIn(f.begin("[frame]"), "pitch", q)
}
