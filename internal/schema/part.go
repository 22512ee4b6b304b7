package schema

import (
	"maps"

	"carryover/internal/partfile"
)

// shape is the keys of one kind of part beside its name, and what they must keep together.
type shape struct {
	about      string
	properties node
	required   []string
	together   node
}

func shapes() map[partfile.Kind]shape {
	return map[partfile.Kind]shape{
		partfile.Saddle: {"a saddle", saddleKeys(), []string{"length", "width", "top", "sag", "rail"}, nil},
		partfile.Bar:    {"a bar: its curve, or one measured hand place", barKeys(), nil, barForms()},
		partfile.Lever: {"a lever", node{
			"hollow": point("from the mount along the bar and out from it, to where the web of the hand sits, mm", 200),
			"angle":  number("its top surface against the bar there, degrees", -90, 90),
		}, []string{"hollow", "angle"}, nil},
		partfile.Stem: {"a stem", node{
			"length": number("along the stem, steerer axis to bar centre, mm", 20, 250),
			"angle":  number("against the perpendicular of the steerer, positive rises, degrees", -75, 75),
			"height": number("height of its clamp on the steerer, mm", 10, 150),
		}, []string{"length", "angle", "height"}, nil},
		partfile.Clipon: {"a clip-on", cliponKeys(),
			[]string{"base", "stacks", "holes", "tilt", "spacing", "gap", "pad", "grip"}, nil},
	}
}

func saddleKeys() node {
	curve := func(about string, value node) node {
		station := least("station: mm behind the nose", 0)
		return node{"type": "array", "description": about, "minItems": 2,
			"prefixItems": []node{pair("at the nose", node{"const": 0, "description": "station 0: the nose"}, value)},
			"items":       pair("further back", station, value)}
	}
	return node{
		"length": number("nose to tail along the straightedge, mm", 100, 400),
		"width":  curve("[[station, full width], ...] from the nose, station 0, to the tail, station = length", above("full width, mm", 0, 300)),
		"top":    curve("[[station, height], ...] against the straightedge: 0 where it touches, negative below", number("height, mm", -150, 0)),
		"sag":    number("how far the surface gives under the seated rider, mm", 0, 40),
		"rail": table("the straight stretch of the rails", node{
			"height": number("rail centre below the straightedge, mm", 0, 150),
			"from":   least("station where a clamp may begin to hold, mm", 0),
			"to":     least("station where it must end, mm", 0),
		}, "height", "from", "to"),
	}
}

func barKeys() node {
	return node{
		"reach":      number("bar centre to the foremost point of the bend, mm", 20, 250),
		"drop":       number("bar centre down to the drops, mm", 20, 300),
		"bend":       number("radius of the forward bend, mm", 5, 150),
		"width":      number("between the ends, mm", 200, 1200),
		"flare":      number("how far the drops lean out, degrees", -20, 60),
		"clamp":      number("diameter where the stem holds it, mm", 15, 60),
		"drops":      point("where the hand sits in the drops, from the clamp centre, mm", 500),
		"hood":       point("where the web of the hand sits, from the clamp centre, mm", 500),
		"hood_angle": number("angle of the surface under that hand, degrees", -90, 90),
	}
}

func barForms() node {
	return node{"anyOf": []node{
		{"required": []string{"reach", "drop", "bend"}, "properties": node{"hood": false, "hood_angle": false}},
		{"required": []string{"hood", "hood_angle"}},
	}}
}

func cliponKeys() node {
	return node{
		"tilt_from": oneOf("what the tilt counts from", "level", "bar"),
		"spread":    number("how far each of the two clamps may sit further out, mm", 0, 100),
		"pieces":    node{"type": "array", "description": "risers as they are stacked, mm", "items": above("mm", 0, 300)},
		"base":      number("bar centre to pad top, nothing under the pad, mm", -100, 300),
		"stacks":    list("riser heights that can be built, mm", number("mm", 0, 300)),
		"holes":     list("pad centre ahead of the bar centre, the choices, mm", number("mm", -300, 300)),
		"tilt":      setting("tilt of the pads, degrees", -60, 90),
		"tilt_step": node{"description": "step of the tilt, degrees; 0: anywhere", "type": "number",
			"anyOf": []node{{"const": 0}, {"minimum": 0.01}}},
		"spacing": list("pad centre to pad centre, the choices, mm", number("mm", 30, 600)),
		"gap":     number("clear space between the two clamps at their closest, mm", 0, 400),
		"pad": table("the pads", node{
			"length": number("mm", 15, 400), "width": number("mm", 15, 300),
		}, "length", "width"),
		"grip": table("where the hands hold on", node{
			"forward": setting("pad centre to grip, mm", 0, 800), "rise": number("grip above the pad's plane, mm", -300, 400),
		}, "forward", "rise"),
	}
}

// of is the schema of a table of the kind that holds these keys besides.
func (s shape) of(extra node, required ...string) node {
	keys := node{"price": least("in your money", 0), "sigma": number("standard uncertainty of the part's numbers, mm", 0, 50)}
	maps.Copy(keys, extra)
	maps.Copy(keys, s.properties)
	n := table(s.about, keys, append(required, s.required...)...)
	maps.Copy(n, s.together)
	return n
}

// partFile is the schema of a part file.
func partFile() node {
	var kinds []node
	for k, word := range partfile.KindNames {
		kinds = append(kinds, shapes()[partfile.Kind(k)].of(record(node{
			"schema": version(),
			"kind":   node{"type": "string", "const": word, "description": "what the part is"},
			"id": node{"type": "string", "description": "what bike files call it: letters, digits and hyphens",
				"pattern": `^[^\x00-\x20*?\[\]/\\:]+$`},
			"name": text("what a person calls it"),
		}), "schema", "kind", "id", "name"))
	}
	return document("a part of a bike", node{"type": "object", "oneOf": kinds,
		"required": []string{"kind"}, "properties": node{"kind": oneOf("what the part is", partfile.KindNames...)}})
}

// inlineParts are the definitions of parts written into a bike file.
func inlineParts() node {
	defs := node{}
	for k, word := range partfile.KindNames {
		defs[word] = shapes()[partfile.Kind(k)].of(node{"name": text("what a person calls it")})
	}
	return defs
}
