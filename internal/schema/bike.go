package schema

import (
	"maps"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/saddle"
)

// bikeFile is the schema of a bike file.
func bikeFile() node {
	defs := inlineParts()
	maps.Copy(defs, node{
		"point":      points(bike.PlaceNames),
		"off-floor":  points(bike.PlaceNames[1:]),
		"reference":  node{"type": "string", "description": "a reference of the saddle", "pattern": `^(saddle\.)?` + references() + "$"},
		"marks":      node{"type": "object", "description": "adjuster name = mark on its scale", "additionalProperties": node{"type": "number"}},
		"reading":    reading(),
		"adjuster":   adjuster(),
		"part-id":    partID(),
		"part-ids":   list("the solver chooses among these; * stands for anything", node{"type": "string"}),
		"sigma":      number("standard uncertainty of the reading, mm or degrees", 0.001, 1000),
		"angle-read": number("degrees, positive turns the front upward", -60, 60),
	})
	root := table("", record(node{
		"schema":  version(),
		"name":    text("what a person calls the bike"),
		"frame":   frame(),
		"steerer": table("top of the steerer, measured", node{"top": point("top of the upper bearing cover on the axis, from the BB, mm", 5000)}, "top"),
		"feet": table("the drive side's share of the position", node{
			"crank":       number("length fitted, mm", 50, 300),
			"cranks":      list("lengths it can be set to, mm", number("mm", 50, 300)),
			"sole_height": number("pedal axle to the underside of the foot, mm", 0, 100),
			"q_factor":    number("between the outer faces of the crank arms, mm", 50, 400),
		}, "crank"),
		"saddle": slot("the saddle and how it is held", "saddle", node{
			"sag": number("how far the surface of a saddle without a part gives, mm", 0, 40),
			"stretch": node{"type": "object", "description": "fits the part to a measured size", "additionalProperties": false, "minProperties": 1,
				"properties": node{"length": number("mm", 100, 400), "width": number("greatest, mm", 50, 300)}},
			"clamp_at": setting("station that the clamp holds, mm behind the nose", 0, 400),
			"tilt":     setting("angle of the straightedge laid along it, degrees, positive is nose up", -60, 60),
		}),
		"bar":    bar(),
		"stem":   stem(),
		"clipon": clipon(),
		"posture": node{"type": "object", "description": "named ways to ride the bike",
			"additionalProperties": posture()},
		"anchor": table("where things are with every mark at 0, from the BB, mm", node{
			"saddle_clamp": point("[x, y] of the rail clamp's centre", 5000),
			"bar_clamp":    point("[x, y] of the bar clamp's centre", 5000),
			"sigma":        number("standard uncertainty of each of these numbers, mm", 0.001, 100),
		}),
		"adjuster": atMost(32, tables("something that moves and carries a scale", ref("adjuster"))),
		"marks":    ref("marks"),
		"reading":  tables("a measurement", ref("reading")),
		"calibration": tables("readings taken with the marks at stated places", table("", node{
			"name": text("what a person calls it"), "marks": ref("marks"), "reading": tables("a measurement", ref("reading")),
		}, "marks")),
	}), "schema", "feet", "saddle")
	root["$defs"] = defs
	root["dependentSchemas"] = node{"stem": onFrame()}
	root["if"] = node{"properties": node{"saddle": node{"anyOf": exactlyOne("part", "parts")}}}
	root["then"] = node{"properties": node{"posture": node{"additionalProperties": node{"required": []string{"support"}}}}}
	delete(root, "description")
	return document("a bike", root)
}

func frame() node {
	return table("what does not move", node{
		"bb_height":  number("floor to BB centre, mm", 100, 500),
		"seat_angle": number("angle of the seat tube, degrees", 40, 90),
		"head_angle": number("angle of the steerer, degrees", 40, 90),
		"stack":      number("BB up to the top of the head tube, mm", 200, 1000),
		"reach":      number("BB forward to the top of the head tube, mm", 100, 800),
		"cover":      number("height of the upper bearing cover, mm", 0, 150),
		"pitch":      number("how much higher the front stands ridden than when the readings were taken, degrees", -10, 10),
		"front_axle": number("BB forward to the front axle, mm", 200, 1500),
	})
}

// onFrame is what a stem needs elsewhere in the file.
func onFrame() node {
	return node{
		"required": []string{"frame"},
		"properties": node{
			"frame":  node{"required": []string{"head_angle"}},
			"anchor": node{"properties": node{"bar_clamp": false}},
		},
		"anyOf": []node{
			{"required": []string{"steerer"}},
			{"properties": node{"frame": node{"required": []string{"stack", "reach"}}}},
		},
	}
}

// slot is a table that holds a part, or several to choose from under the key in the plural.
func slot(about, part string, properties node) node {
	maps.Copy(properties, node{"part": partOf(part), "parts": ref("part-ids")})
	n := table(about, properties)
	switch part {
	case "saddle", "bar": // without one, readings place its contact
		n["not"] = node{"required": []string{"part", "parts"}}
	default:
		n["oneOf"] = exactlyOne("part", "parts")
	}
	return n
}

func partID() node {
	return node{"type": "string", "description": `catalogue id, or "file:PATH" from the folder of this file`,
		"pattern": `^(file:.*|[^*?\[]*)$`}
}

func partOf(kind string) node {
	return node{"description": "catalogue id, \"file:PATH\", or the part itself as an inline table",
		"anyOf": []node{ref("part-id"), ref(kind)}}
}

func bar() node {
	n := slot("the bar with its levers", "bar", node{
		"lever":       partOf("lever"),
		"levers":      ref("part-ids"),
		"lever_at":    setting("where the lever sits: mm along the bar from where the flat run meets the bend, positive around the bend", -500, 500),
		"rotation":    setting("rotation of the bar, degrees, positive turns the front upward", -90, 90),
		"clamp_width": number("width of what holds the bar, mm", 0, 300),
	})
	delete(n, "not")
	n["allOf"] = []node{{"not": node{"required": []string{"part", "parts"}}}, {"not": node{"required": []string{"lever", "levers"}}}}
	return n
}

func stem() node {
	return slot("the stem with its spacers", "stem", node{
		"flip": flag("turned over; left out in an open slot: either way"),
		"spacers": node{"description": "height of the spacers under the stem, mm, or what they can be", "anyOf": []node{
			number("mm", 0, 300),
			table("from 0 to max in steps", node{"max": number("mm", 0, 300), "step": number("mm", 0.1, 300)}, "max", "step"),
		}},
	})
}

func clipon() node {
	return slot("the clip-on and how its pads are set", "clipon", node{
		"tilt":      setting("tilt of the pads, degrees", -90, 90),
		"hole":      setting("pad centre ahead of the bar centre, mm", -300, 300),
		"stack":     setting("riser height under the pads, mm", 0, 300),
		"extension": setting("pad centre to grip, mm", 0, 800),
		"spacing":   setting("pad centre to pad centre, mm", 30, 600),
	})
}

func posture() node {
	weight := func(about string) node { return above(about, 0, 100) }
	return table("a way to ride the bike", node{
		"hands": oneOf("which contact the hands are on", string(bike.Hood), string(bike.Drop), string(bike.Pad)),
		"support": node{"description": "saddle width that carries the rider, mm, or \"sit-bones\" of the rider file",
			"anyOf": []node{number("mm", 20, 300), {"const": "sit-bones"}, {"type": "string", "pattern": "^at:.+"}}},
		"support_sigma": number("standard uncertainty of support, mm", 0, 100),
		"weights": table("what a miss costs: per mm, and for angle per degree", node{
			"extension": weight("of leg extension"), "setback": weight("across the leg"),
			"hands": weight("of the hands' place"), "angle": weight("of saddle tilt and hand angle"),
		}),
	}, "hands")
}

// settings are the names that adjusters may not have: what the program calls settings that are on no scale.
var settings = []string{
	"saddle.clamp_at", "saddle.tilt", "bar.rotation", "bar.lever_at", "stem.spacers",
	"clipon.tilt", "clipon.hole", "clipon.stack", "clipon.extension", "clipon.spacing", "feet.crank",
}

func adjuster() node {
	n := table("something that moves and carries a scale", node{
		"name": node{"type": "string", "description": "as it is written on the machine", "minLength": 1,
			"not": node{"enum": settings}},
		"moves": oneOf("what it moves", bike.MovesNames...),
		"angle": number("direction of travel as the mark rises, degrees: 0 is level forward, 90 straight up", -360, 360),
		"unit": node{"type": "number", "description": "mm (or degrees) per 1.0 of the scale", "minimum": -1000, "maximum": 1000,
			"not": node{"const": 0}},
		"range":  pair("least and greatest mark", node{"type": "number"}, node{"type": "number"}),
		"step":   least("marks between stops; 0: anywhere", 0),
		"sigma":  number("standard uncertainty of setting it, mm or degrees", 0.001, 100),
		"marked": flag("false: it has no scale to read"),
	}, "name", "moves", "unit")
	n["if"] = node{"properties": node{"moves": node{"enum": []string{"saddle", "bar"}}}, "required": []string{"moves"}}
	n["then"] = node{"required": []string{"angle"}}
	n["else"] = node{"properties": node{"angle": false}}
	return n
}

// references is the pattern of what may stand behind "saddle.".
func references() string {
	var plain []string
	for _, name := range saddle.ReferenceNames {
		if word, _, measured := strings.Cut(name, ":"); measured {
			name = word + ":.+"
		}
		plain = append(plain, name)
	}
	return "(" + strings.Join(plain, "|") + ")"
}

// points is a point that a tape can go to, out of these places.
func points(places []string) node {
	var plain []string
	for _, p := range places {
		if p != "saddle" {
			plain = append(plain, p)
		}
	}
	return node{"description": "a point that a tape can go to", "anyOf": []node{
		{"enum": plain}, {"type": "string", "pattern": `^saddle\.` + references() + "$"},
	}}
}

// reading is one measurement: which keys belong to it depends on its kind.
func reading() node {
	saddleHeight := number("mm", 200, 1300)
	offset := number("mm", -3000, 3000)
	at, to, anywhere := ref("reference"), ref("off-floor"), ref("point")
	line := kinds("straight distance between two points", node{"from": to, "to": to, "value": above("mm", 0, 3000)}, []string{"from", "to"}, "line")
	onSaddle := node{"pattern": `^saddle\.`}
	ends := func(from, to node) node {
		return node{"properties": node{"from": from, "to": to}, "required": []string{"from", "to"}}
	}
	line["if"] = node{"anyOf": []node{ends(node{"const": "bb"}, onSaddle), ends(onSaddle, node{"const": "bb"})}}
	line["then"] = node{"properties": node{"value": saddleHeight}}
	return node{"type": "object", "description": "a measurement", "oneOf": []node{
		line,
		kinds("x(to) - x(from), positive when `to` is ahead of `from`", node{"from": to, "to": to, "value": offset}, []string{"from", "to"}, "level"),
		kinds("y(to) - y(from), positive when `to` is above `from`", node{"from": anywhere, "to": anywhere, "value": offset}, []string{"from", "to"}, "plumb"),
		kinds("an angle", node{"of": oneOf("of what", bike.BodyNames...), "value": ref("angle-read")}, []string{"of"}, "angle"),
		kinds("from the BB along the seat tube to the saddle's top", node{"value": saddleHeight}, nil, "seat-tube"),
		kinds("straight from the BB to the saddle", node{"at": at, "value": saddleHeight}, nil, "saddle-height"),
		kinds("how far the saddle's nose is behind the BB", node{"at": at, "value": offset}, nil, "setback"),
		kinds("saddle nose straight to the bar's centre", node{"value": number("mm", 150, 1200)}, nil, "nose-to-bar"),
		kinds("level distance from the saddle's nose forward to the hands", node{"at": at, "to": to, "value": offset}, nil, "reach"),
		kinds("how far the hands are below the saddle", node{"at": at, "to": anywhere, "value": offset}, nil, "drop"),
		kinds("height above the floor", node{"to": anywhere, "value": number("mm", 100, 2500)}, []string{"to"}, "floor-height"),
		kinds("an angle", node{"value": ref("angle-read")}, nil, "saddle-tilt", "bar-rotation", "hood-angle", "pad-tilt"),
	}}
}

// kinds is a reading of one of these kinds.
func kinds(about string, keys node, required []string, words ...string) node {
	maps.Copy(keys, node{"kind": oneOf("what is measured", words...), "sigma": ref("sigma"), "by": text("who took it"), "date": date()})
	return table(about, keys, append([]string{"kind", "value"}, required...)...)
}
