package format

// Parts are the kinds of parts.
var Parts = []string{"saddle", "bar", "lever", "stem", "clipon"}

// Part is a part file.
var Part = Key{Kind: Section, About: "a part", How: `name it in a bike file: part = "file:PATH"`, By: "kind", Keys: append(record(
	word("kind", "what the part is", Parts...).needed(),
	Key{Name: "id", Kind: Text, Form: &partName, About: "what bike files call it, like my-saddle"}.needed(),
), common...), Sorts: shapes}

// common is what every part may say besides.
var common = Keys{
	{Name: "sigma", Kind: Number, Unit: MM, Hi: 50, About: "standard uncertainty of the part's numbers",
		Else: 1}, // measured with care by its owner
}

// Shape is the keys of a part of that kind by itself, without its name.
func Shape(kind string) Keys { return shapes[kind] }

// shape is the keys of a part of that kind in an inline table.
func shape(kind string) Keys {
	return append(append(Keys{text("name", "what a person calls it")}, common...), shapes[kind]...)
}

var saddleLength = mm("length", 100, 400, "length, nose to tail").usual(225, 310).
	how("straightedge lengthwise on the saddle; a square from it at the tip of the nose and at the very tail, and measure between")

var sag = mm("sag", 0, 40, "how far the surface gives under the seated rider").
	how("height of the saddle above the floor empty, less the same with you on it; alone: press the padding with both thumbs")

var shapes = map[string]Keys{
	"saddle": {
		saddleLength.needed(),
		Key{Name: "width", Kind: Curve, About: "[[station, full width], ...] from the nose, station 0, to the tail", Needed: true,
			Unit: MM, Hi: 300, Above: true,
			Mend: "give the full width there, side to side, in mm"}.
			how("mark the place along the straightedge, then callipers across the saddle there, over the padding, not pressing"),
		Key{Name: "top", Kind: Curve, About: "[[station, height], ...] against the straightedge", Needed: true, Unit: MM, Lo: -150,
			Mend: "measure down from the straightedge: heights are 0 where it touches, else negative"}.
			how("straightedge along the middle of the saddle; a thin ruler straight down from it to the surface, beside a cut-out if there is one"),
		sag.usual(0, 20).needed().empty("6"),
		table("rail", "the straight stretch of the rails",
			mm("height", 0, 150, "straightedge down to the middle of the rails").usual(30, 65).needed().
				how("ruler straight down beside the saddle, at the straight stretch, to half their thickness"),
			mm("from", 0, inf, "where the straight stretch of the rails begins, behind the nose").needed().
				how("square from the straightedge to where the rails stop bending"),
			mm("to", 0, inf, "where it ends, behind the nose").needed().how("the same at its rear end")).needed(),
	},
	"bar": {
		mm("reach", 20, 250, "reach").usual(60, 115).how("clamp centre forward to the middle of the bar where it bends down").unless("hood"),
		mm("drop", 20, 300, "drop").usual(100, 165).how("clamp centre down to the middle of the bar in the drops").unless("hood"),
		mm("bend", 5, 150, "radius of the forward bend").usual(20, 60).how("a coin or a can that fits into it").unless("hood"),
		mm("width", 200, 1200, "width").usual(340, 820).how("between the middles of its ends"),
		Key{Name: "flare", Kind: Number, Lo: -20, Hi: 60, About: "how far the drops lean out, degrees"}.usual(0, 30),
		mm("clamp", 15, 60, "diameter where the stem holds it").usual(22, 36).how("calliper"),
		point("drops", 500, "where the hand sits in the drops, from the clamp centre"),
		point("hood", 500, "hand place ahead of and above the clamp centre").
			how("to where the web of the hand sits, with the bar at rotation 0").with("hood_angle"),
		deg("hood_angle", -90, 90, "angle of the surface under that hand").usual(-30, 45).how("level on it, with the bar at rotation 0").
			with("hood"),
	},
	"lever": {
		point("hollow", 200, "from its mount along the bar and out from it").needed().how("to where the web of the hand sits"),
		deg("angle", -90, 90, "angle of its top surface against the bar there").usual(-5, 30).needed().
			how("level on the top, less the angle of the bar"),
	},
	"stem": {
		mm("length", 20, 250, "length").usual(30, 150).needed().how("steerer axis to bar centre, along the stem"),
		deg("angle", -75, 75, "angle").usual(-45, 45).needed().
			how("as stamped on it, against the perpendicular of the steerer, positive rises"),
		mm("height", 10, 150, "height of its clamp on the steerer").usual(28, 55).needed().how("calliper along the steerer"),
	},
	"clipon": {
		mm("base", -100, 300, "bar centre up to the pad's top, nothing under the pad").usual(0, 100).needed().
			how("along the perpendicular of the pad"),
		mm("stacks", 0, 300, "riser heights that can be built").as(Numbers).needed().how("with 0 for none"),
		mm("pieces", 0, 300, "risers as they are stacked").above().as(Numbers).how("every riser of one side that there is"),
		mm("holes", -300, 300, "where the pads can sit ahead of the bar centre").as(Numbers).needed().
			how("one number per hole, negative behind"),
		deg("tilt", -60, 90, "tilt of the pads").as(Span).needed().
			how("from and to; one number when it is fixed; the whole clip-on turns about the bar"),
		Key{Name: "tilt_step", Kind: Number, Unit: Deg, Hi: inf, Least: 0.01, About: "step of the tilt; 0: anywhere"}.how("0 for anywhere"),
		word("tilt_from", "what the tilt counts from", "level", "bar"),
		mm("spacing", 30, 600, "pad centre to pad centre, the choices").as(Numbers).needed().how("across"),
		mm("gap", 0, 400, "clear space between the two clamps at their closest").usual(40, 130).needed().how("across, on the bar"),
		mm("spread", 0, 100, "how far each of the two clamps may sit further out"),
		table("pad", "the pads", mm("length", 15, 400, "length of one pad").usual(60, 160).needed(),
			mm("width", 15, 300, "width of one pad").usual(60, 140).needed()).needed(),
		table("grip", "where the hands hold on",
			mm("forward", 0, 800, "pad centre to grip, shortest and longest").as(Span).needed().how("along the extensions"),
			mm("rise", -300, 400, "grip above the pad's plane").usual(-60, 150).needed().how("square to the pad")).needed(),
	},
}
