package format

import (
	"fmt"
	"math"
	"slices"

	"carryover/internal/bike"
	"carryover/internal/saddle"
)

// Lengths and angles that several tables share. What is usual is common practice.
var (
	anywhere = mm("value", -3000, 3000, "mm")
	distance = mm("value", 0, 3000, "mm").above()
	turned   = deg("value", -60, 60, "degrees, positive turns the front upward")
	setting  = Key{Name: "sigma", Kind: Number, Lo: 0.001, Hi: 100, About: "standard uncertainty of setting it, mm or degrees"}

	// ToSaddle is the distance from the BB to a place on the saddle, however the reading is written.
	ToSaddle = mm("value", 200, 1300, "mm").usual(bike.LeastHeight, bike.MostHeight)
)

// record is the keys that every file has, and some of its own.
func record(keys ...Key) Keys {
	return append(Keys{
		{Name: "schema", Kind: Version, Needed: true, About: "version of the file format"},
		text("name", "what a person calls it"),
		{Name: "date", Kind: Day, About: "day of measuring or setting, YYYY-MM-DD"},
		text("fitter", "who did the work"),
		text("notes", "anything worth keeping"),
	}, keys...)
}

// Bike is a bike file.
var Bike = Key{Kind: Section, About: "a bike", How: "`carryover locate` reads it", Keys: record(
	table("frame", "what does not move",
		mm("bb_height", 100, 500, "floor to the middle of the bottom bracket").usual(220, 350).
			how("ruler upright beside the chainring, floor to the middle of the axle; readings from the floor need it"),
		deg("seat_angle", 40, 90, "angle of the seat tube").usual(65, 82).how("from the frame's drawing, or a level along the seat tube"),
		deg("head_angle", 40, 90, "head angle").usual(60, 76).how("from the frame's drawing"),
		mm("stack", 200, 1000, "stack").usual(400, 720).how("from the frame's drawing: bottom bracket up to the top of the head tube"),
		mm("reach", 100, 800, "reach").usual(320, 520).how("from the frame's drawing: bottom bracket forward to the top of the head tube"),
		mm("cover", 0, 150, "height of the upper bearing cover").usual(0, 45).
			how("calliper along the steerer, from the head tube to the lowest spacer"),
		mm("front_axle", 200, 1500, "bottom bracket forward to the front axle").how("plumb lines off both, level between them"),
		deg("pitch", -10, 10, "how much higher the front stands ridden than when the readings were taken").usual(-3, 3).
			how("a level laid on the same tube twice, as read and as ridden; half a degree is 6 mm of setback"),
	),
	table("steerer", "top of the steerer, measured",
		point("top", 5000, "top of the upper bearing cover on the axis, from the bottom bracket").needed()),
	table("feet", "the drive side's share of the position",
		mm("crank", 50, 300, "crank length").usual(140, 195).needed().how("stamped on the back of the arm, near the pedal"),
		mm("cranks", 50, 300, "lengths the crank can be set to").as(Numbers).how("only when the crank has several holes"),
		mm("sole_height", 0, 100, "pedal axle to the underside of the foot").usual(8, 60).
			how("calliper, shoe on the pedal: pedal, cleat and sole added up").left("the same where both bikes leave it out"),
		mm("q_factor", 50, 400, "between the outer faces of the crank arms").usual(120, 230).how("calliper or ruler across, at the pedals"),
	).needed(),
	table("saddle", "the saddle and how it is held", slices.Concat(slot("saddle"), Keys{
		mm("clamp_at", 0, 400, "station that the clamp holds").as(Span).how("tape from the nose back to the middle of the clamp").
			left("the middle of the rails, ± 20 mm"),
		deg("tilt", -60, 60, "saddle tilt").as(Span).usual(-12, 12).how("level on a straightedge laid along the saddle; positive is nose up"),
		sag.about("how far the surface of a saddle without a part gives", sag.How),
		table("stretch", "fits the part to a measured size",
			saddleLength, mm("width", 50, 300, "greatest width")),
	})...).needed(),
	table("bar", "the bar with its levers", slices.Concat(slot("bar"), Keys{
		partOf("lever", "lever", "levers"), partsOf("levers"),
		mm("lever_at", -500, 500, "where the lever sits on the bar").as(Span).
			how("tape along the bar from where the flat run meets the bend to the lever's clamp; negative on the flat run"),
		deg("rotation", -90, 90, "rotation of the bar").as(Span).usual(-20, 20).
			how("0 when the flat run is level; positive turns the front upward"),
		mm("clamp_width", 0, 300, "width of what holds the bar").usual(20, 100).
			how("calliper across the stem's face plate; clip-ons must pass it"),
	})...),
	table("stem", "the stem with its spacers", slices.Concat(slot("stem"), Keys{
		{Name: "flip", Kind: Flag, About: "turned over; left out in an open slot: either way"},
		either("spacers", "height of the spacers under the stem, or what they can be", "write a number, or { max = 30.0, step = 5.0 }",
			mm("", 0, 300, "mm"),
			table("", "from 0 to max in steps",
				mm("max", 0, 300, "height of all spacers that may go under the stem").usual(5, 60).needed().
					how("most of the steerer that may be covered"),
				mm("step", 0.1, 300, "thinnest of the spacers").usual(1, 30).needed().empty("5"))),
	})...),
	table("clipon", "the clip-on and how its pads are set", slices.Concat(slot("clipon"), Keys{
		deg("tilt", -90, 90, "tilt of the pads").as(Span).usual(-15, 45).
			how("level along the pad, or the notch it stands in; it turns the whole clip-on about the bar"),
		mm("hole", -300, 300, "pad centre ahead of the bar centre").as(Span).how("as the part's list of holes has it"),
		mm("stack", 0, 300, "risers under the pads").as(Span).how("all of one side added up"),
		mm("extension", 0, 800, "pad centre to the grip").as(Span).how("tape along the extension"),
		mm("spacing", 30, 600, "pad centre to pad centre").as(Span).how("tape across"),
	})...),
	Key{Name: "posture", Kind: Named, About: "named ways to ride the bike", Keys: Keys{
		word("hands", "where the hands are", string(bike.Hood), string(bike.Drop), string(bike.Pad)).needed(),
		either("support", `saddle width that carries the rider, "sit-bones" of the rider file, or "at:45", a place behind the nose`, "",
			mm("", 20, 300, "mm"), Key{Kind: Text, Form: &support}).
			how("sit-bone spacing and 20 mm more; less when you sit far forward"),
		{Name: "support_sigma", Kind: Number, Unit: MM, Lo: 0, Hi: 100, About: "standard uncertainty of support"},
		table("weights", "what a miss costs: per mm, and for angle per degree", weight("extension", "of leg extension"),
			weight("setback", "across the leg"), weight("hands", "of the hands' place"), weight("angle", "of saddle tilt and hand angle")),
	}},
	table("anchor", "where things are with every mark at 0, forward of and above the bottom bracket",
		point("saddle_clamp", 5000, "the middle of the rail clamp").
			how("plumb line and level line from the bottom bracket; behind it is negative"),
		point("bar_clamp", 5000, "the middle of the bar clamp").how("plumb line and level line from the bottom bracket"),
		Key{Name: "sigma", Kind: Number, Lo: 0.001, Hi: 100, About: "standard uncertainty of each of these numbers, mm",
			Else: 1}), // plumb line and level line
	Key{Name: "adjuster", Kind: Sections, About: "something that moves and carries a scale", Limit: MaxAdjusters,
		Except: "adjusters-many", Mend: "leave out what is never moved", Keys: Keys{
			Key{Name: "name", Kind: Text, Form: &adjusterName, About: "what it is called, as it is written on the machine"}.needed().
				ask("something that slides or turns: what is it called (empty: no more)").
				how("as it is written on the machine: saddle post, bar slide, ..."),
			word("moves", "what it moves", bike.MovesNames...).needed(),
			Key{Name: "angle", Kind: Number, Unit: Deg, Lo: -360, Hi: 360, About: "direction as the mark rises"}.
				said(Said{"up", 90}, Said{"down", 270}, Said{"forward", 0}, Said{"back", 180}, Said{"seat tube", 107}, Said{"post", 107}).
				how("0 is level forward, 90 straight up, 107 up along a usual seat tube, 180 level back; by eye, or a digital level along it"),
			Key{Name: "unit", Kind: Number, Lo: -1000, Hi: 1000, Nonzero: true, About: "mm (or degrees) per 1.0 of the scale"}.needed().
				said(Said{"mm", 1}, Said{"cm", 10}, Said{"inch", 25.4}, Said{"degrees", 1}, Said{"none", 1}).ask("what its scale counts").empty("mm").
				how("10 when the scale counts centimetres, negative when the mark falls as it moves that way"),
			Key{Name: "range", Kind: Rising, Lo: math.Inf(-1), Hi: math.Inf(1), About: "least and greatest mark",
				Mend: "; a scale that counts down has a negative unit"}.how("as they stand on the scale"),
			Key{Name: "step", Kind: Number, Hi: math.Inf(1), About: "marks between stops; 0: anywhere"}.how("only when it clicks or has holes"),
			setting,
			{Name: "marked", Kind: Flag, About: "false: it has no scale to read"},
		}},
	Key{Name: "marks", Kind: Marks, About: "where the adjusters stand: name = mark"},
	reading,
	Key{Name: "calibration", Kind: Sections, About: "readings taken with the marks at stated places", Keys: Keys{
		text("name", "what a person calls it"),
		Key{Name: "marks", Kind: Marks, About: "where the adjusters stood: name = mark"}.needed(),
		reading,
	}},
)}

// MaxAdjusters is how many a bike may have: the search for what moves with what grows with their cube.
const MaxAdjusters = 32

func weight(name, about string) Key {
	return Key{Name: name, Kind: Number, Hi: 100, Above: true, About: about}
}

// slot is the keys of a table that holds a part, or several to choose from.
func slot(kind string) Keys { return Keys{partOf("part", kind, "parts"), partsOf("parts")} }

func partOf(key, kind, many string) Key {
	return either(key, `catalogue id, "file:PATH", or the part itself as an inline table`, "write "+many+" = [...] for a choice",
		Key{Kind: Text, Form: partID(many)}, table("", "a "+kind, shape(kind)...))
}

func partsOf(key string) Key {
	return Key{Name: key, Kind: Texts, About: "the solver chooses among these; * stands for anything"}
}

// reading is one measurement: which keys belong to it depends on its kind.
var reading = Key{Name: "reading", Kind: Sections, About: "a measurement", By: "kind", Keys: Keys{
	word("kind", "what is measured", slices.Concat(bike.KindNames, Shorthands)...).needed(),
	{Name: "sigma", Kind: Number, Lo: 0.001, Hi: 1000, About: "standard uncertainty of the reading, mm or degrees"},
	text("by", "who took it"),
	{Name: "date", Kind: Day, About: "when it was taken"},
}, Sorts: map[string]Keys{
	"line":      {tapePoint("from", &above).needed(), tapePoint("to", &above).needed(), value(distance)},
	"level":     {tapePoint("from", &above).needed(), tapePoint("to", &above).needed(), value(anywhere)},
	"plumb":     {tapePoint("from", &place).needed(), tapePoint("to", &place).needed(), value(anywhere)},
	"angle":     {word("of", "of what", bike.BodyNames...).needed(), value(turned)},
	"seat-tube": {value(ToSaddle)},
	"saddle-height": {at, value(ToSaddle).between("saddle height: bottom bracket straight to %[1]s", "",
		"tape from the middle of the axle, straight")},
	"setback": {at, value(anywhere.usual(-150, 450)).between("setback: how far %[1]s is behind the bottom bracket", "",
		"plumb line off it, level to the axle; negative: ahead of the axle")},
	"nose-to-bar": {value(mm("", 150, 1200, "").usual(250, 800)).about("saddle nose straight to the middle of the bar",
		"tape from the very tip to the bar's middle at its clamp")},
	"reach": {at, tapePoint("to", &above), value(anywhere.usual(250, 1100)).between("reach: from %[1]s level forward to %[2]s", "the hands",
		"plumb lines off both, level between them")},
	"drop": {at, tapePoint("to", &place), value(anywhere.usual(-250, 350)).between("drop: from %[1]s down to %[2]s", "the hands",
		"level line from the saddle, tape down; negative: the hands are higher")},
	"floor-height": {tapePoint("to", &place).needed(), value(mm("", 100, 2500, "").usual(500, 1400)).between("floor up to %[2]s", "the place",
		"tape upright from the floor")},
	"saddle-tilt":  {value(turned.usual(-12, 12)).about("saddle tilt", "level on a straightedge along the saddle; positive is nose up")},
	"bar-rotation": {value(turned.usual(-20, 20)).about("rotation of the bar", "level on its flat run; positive turns the front upward")},
	"hood-angle":   {value(turned.usual(-25, 50)).about("angle of the top of the hood", "level on top of it; positive rises to the front")},
	"pad-tilt":     {value(turned.usual(-15, 45)).about("tilt of the pads", "level along the pad; positive rises to the front")},
}}

// Shorthands are the trade's words for a reading.
var Shorthands = []string{
	"saddle-height", "setback", "nose-to-bar", "reach", "drop", "floor-height", "saddle-tilt", "bar-rotation", "hood-angle", "pad-tilt",
}

var at = Key{Name: "at", Kind: Text, Form: &reference, About: "where on the saddle"}

func tapePoint(name string, form *Form) Key {
	return Key{Name: name, Kind: Text, Form: form, About: "a point that a tape can go to"}
}

func value(k Key) Key { k.Name, k.Needed = "value", true; return k }

func (k Key) about(what, how string) Key { k.About, k.How = what, how; return k }

// between is about a reading that goes from or to a place on the saddle, %[1]s, and perhaps to another, %[2]s.
func (k Key) between(what, to, how string) Key {
	k.slots = what
	return k.about(fmt.Sprintf(what, "the saddle", to), how)
}

// Rider is a rider file.
var Rider = Key{Kind: Section, About: "a rider", How: "name it behind --rider", Keys: record(
	mm("sit_bones", 50, 200, "sit-bone spacing").
		how("sit on corrugated cardboard on a hard stool, back rounded as on the bike; between the middles of the two dents"),
	mm("margin", 0, 80, "how much wider than that the saddle should be, both sides together").orElse(20), // common practice
	mm("height", 1000, 2500, "height without shoes").how("heels to a wall, a book level on the head"),
	mm("inseam", 400, 1300, "inseam").how("a level between the legs, pressed up as hard as a saddle would; floor to its upper edge; "+
		"kept with the rider, nothing is worked out from it"),
	mm("thigh", 200, 700, "thigh").how("hip joint (the bony point at the side) to the middle of the knee joint"),
	mm("shank", 200, 700, "lower leg").how("middle of the knee joint to the ankle bone"),
	mm("foot_length", 150, 400, "foot").how("heel to the longest toe"),
	mm("ankle_height", 30, 200, "ankle above the sole").how("floor to the ankle bone, barefoot"),
	mm("ball_to_ankle", 50, 300, "ball of the foot to ankle").how("along the sole, from the pedal axle's place to below the ankle bone"),
	mm("trunk", 250, 900, "trunk").how("hip joint to the shoulder joint, sitting upright"),
	mm("upper_arm", 150, 500, "upper arm").how("shoulder joint to elbow"),
	mm("forearm", 150, 600, "forearm").how("elbow to wrist"),
	mm("shoulder_width", 200, 700, "between the shoulder joints").how("from behind, arms hanging"),
	mm("hip_above_saddle", 0, 250, "hip joint above the saddle").how("on the bike, from the loaded saddle up to the hip joint"),
)}

// Setback is the value of a reading of how far that place on a saddle is behind the BB.
func Setback(place saddle.Reference) *Key {
	k := Reading("setback").usual(bike.LeastBehind, bike.MostBehind)
	if place.Kind == saddle.Nose || place.Kind == saddle.ByStation {
		k = k.usual(place.MM-100, place.MM+160)
	}
	return &k
}

// Reading is the value of a reading of that kind: what it can be, what is usual, where to hold the tape.
func Reading(kind string) *Key {
	return reading.Sorts[kind].Find("value")
}
