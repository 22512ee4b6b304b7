// Package schema describes the files of carryover as JSON Schema (draft 2020-12), so that an editor can complete and
// check them while they are written. A schema knows each key, its type and its limits; what takes more than one
// place to judge (that a mark belongs to an adjuster, that a part is in the catalogue, that a range does not run
// backwards) is left to the strict reader. The tests hold the two against each other.
package schema

// Names are the kinds of files, as `carryover schema` calls them.
var Names = []string{"bike", "part", "rider"}

// For is the schema of a kind of file, ready for encoding/json; ok is false when there is no such kind.
func For(name string) (schema map[string]any, ok bool) {
	switch name {
	case "bike":
		return bikeFile(), true
	case "part":
		return partFile(), true
	case "rider":
		return riderFile(), true
	}
	return nil, false
}

// node is a schema or a part of one.
type node = map[string]any

// document completes the schema of a whole file.
func document(title string, body node) node {
	body["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	body["title"] = title
	return body
}

// table is a table with exactly these keys.
func table(about string, properties node, required ...string) node {
	n := node{"type": "object", "description": about, "properties": properties, "additionalProperties": false}
	if len(required) > 0 {
		n["required"] = required
	}
	return n
}

// version is the key every file begins with.
func version() node {
	return node{"type": "integer", "const": 1, "description": "version of the file format"}
}

// record adds what a file says of itself.
func record(properties node) node {
	properties["date"] = date()
	properties["fitter"] = text("who did the work")
	properties["notes"] = text("anything worth keeping")
	return properties
}

func date() node {
	return node{"type": "string", "description": "year-month-day", "pattern": `^\d{4}-\d{2}-\d{2}(T.*)?$`}
}

func text(about string) node { return node{"type": "string", "description": about} }

func oneOf(about string, words ...string) node {
	return node{"type": "string", "description": about, "enum": words}
}

func flag(about string) node { return node{"type": "boolean", "description": about} }

// number is a number from lo to hi, both allowed.
func number(about string, lo, hi float64) node {
	return node{"type": "number", "description": about, "minimum": lo, "maximum": hi}
}

// least is a number of at least lo.
func least(about string, lo float64) node {
	return node{"type": "number", "description": about, "minimum": lo}
}

// above is a number above lo and at most hi.
func above(about string, lo, hi float64) node {
	return node{"type": "number", "description": about, "exclusiveMinimum": lo, "maximum": hi}
}

// list is a list of at least one of the items.
func list(about string, item node) node {
	return node{"type": "array", "description": about, "items": item, "minItems": 1}
}

// tables is a [[list]] of tables, which may be empty.
func tables(about string, item node) node {
	return node{"type": "array", "description": about, "items": item}
}

func atMost(n int, list node) node {
	list["maxItems"] = n
	return list
}

// pair is a list of two.
func pair(about string, first, second node) node {
	return node{"type": "array", "description": about, "prefixItems": []node{first, second}, "minItems": 2, "maxItems": 2}
}

// point is [x, y] of at most limit mm to either side.
func point(about string, limit float64) node {
	return pair(about, number("x", -limit, limit), number("y", -limit, limit))
}

// setting is a value or [min, max], both from lo to hi.
func setting(about string, lo, hi float64) node {
	return node{"description": about, "anyOf": []node{
		number("fixed", lo, hi), pair("free from min to max", number("min", lo, hi), number("max", lo, hi)),
	}}
}

func ref(name string) node { return node{"$ref": "#/$defs/" + name} }

// exactlyOne wants one of two keys.
func exactlyOne(a, b string) []node {
	return []node{{"required": []string{a}}, {"required": []string{b}}}
}
