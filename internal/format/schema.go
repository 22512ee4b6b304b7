package format

import (
	"maps"
	"math"
	"slices"
)

// SchemaNames are the kinds of files, as `carryover schema` calls them.
var SchemaNames = []string{"bike", "part", "rider"}

// Schema describes a kind of file as JSON Schema (draft 2020-12), so that an editor can complete and check it while it is
// written; ok is false when there is no such kind. The tests hold it against the strict reader.
func Schema(name string) (schema map[string]any, ok bool) {
	k, ok := map[string]*Key{"bike": &Bike, "part": &Part, "rider": &Rider}[name]
	if !ok {
		return nil, false
	}
	n := k.schema()
	n["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	n["title"] = k.About
	if name == "bike" {
		maps.Copy(n, across())
	}
	return n, true
}

type node = map[string]any

// schema is what a value of the key must be.
func (k *Key) schema() node {
	n := node{}
	switch k.Kind {
	case Number:
		n = k.numeric()
	case Version:
		n = node{"type": "integer", "const": 1}
	case Text:
		n = k.textual()
	case Flag:
		n = node{"type": "boolean"}
	case Day:
		n = node{"type": "string", "pattern": `^\d{4}-\d{2}-\d{2}(T.*)?$`}
	case Numbers:
		n = node{"type": "array", "items": k.numeric(), "minItems": max(1, k.Count)}
		if k.Count > 0 {
			n["maxItems"] = k.Count
		}
	case Rising:
		n = node{"type": "array", "items": k.numeric(), "minItems": 2, "maxItems": 2}
	case Span:
		n = node{"anyOf": []node{k.numeric(), {"type": "array", "items": k.numeric(), "minItems": 2, "maxItems": 2}}}
	case Curve:
		pair := func(station node) node {
			return node{"type": "array", "prefixItems": []node{station, k.numeric()}, "minItems": 2, "maxItems": 2}
		}
		n = node{"type": "array", "minItems": 2, "prefixItems": []node{pair(node{"const": 0})}, "items": pair(node{"type": "number",
			"exclusiveMinimum": 0})}
	case Texts:
		n = node{"type": "array", "items": node{"type": "string"}, "minItems": 1}
	case Section:
		n = k.section()
	case Sections:
		n = node{"type": "array", "items": k.section()}
		if k.Limit > 0 {
			n["maxItems"] = k.Limit
		}
	case Named:
		n = node{"type": "object", "additionalProperties": k.section()}
	case Marks:
		n = node{"type": "object", "additionalProperties": node{"type": "number"}}
	case Either:
		var kinds []node
		for i := range k.Kinds {
			kinds = append(kinds, k.Kinds[i].schema())
		}
		n = node{"anyOf": kinds}
	}
	if k.About != "" {
		n["description"] = k.described()
	}
	return n
}

// described is what a key is, with its unit.
func (k *Key) described() string {
	return k.About + map[Unit]string{MM: ", mm", Deg: ", degrees"}[k.Unit]
}

func (k *Key) numeric() node {
	n := node{"type": "number"}
	if !math.IsInf(k.Lo, -1) {
		n["minimum"] = k.Lo
	}
	if k.Above {
		delete(n, "minimum")
		n["exclusiveMinimum"] = k.Lo
	}
	if !math.IsInf(k.Hi, 1) {
		n["maximum"] = k.Hi
	}
	if k.Else != 0 {
		n["default"] = k.Else
	}
	switch {
	case k.Nonzero:
		n["not"] = node{"const": 0}
	case k.Least > 0:
		n["anyOf"] = []node{{"const": 0}, {"minimum": k.Least}}
	}
	return n
}

func (k *Key) textual() node {
	n := node{"type": "string"}
	if len(k.Words) > 0 {
		n["enum"] = k.Words
	}
	if k.Form != nil {
		n["pattern"] = k.Form.Pattern
		if len(k.Form.Taken) > 0 {
			n["not"] = node{"enum": k.Form.Taken}
		}
	}
	return n
}

// section is a table with exactly its keys. Where a word decides which they are, there is one schema for each word.
func (k *Key) section() node {
	if k.By == "" {
		return object(k.Keys)
	}
	var sorts []node
	for _, word := range k.Keys.Find(k.By).Words {
		keys := slices.Concat(k.Keys, k.Sorts[word])
		n := object(keys)
		n["properties"].(node)[k.By] = node{"const": word, "description": k.Keys.Find(k.By).About}
		sorts = append(sorts, n)
	}
	return node{"type": "object", "oneOf": sorts, "required": []string{k.By},
		"properties": node{k.By: k.Keys.Find(k.By).schema()}}
}

func object(keys Keys) node {
	properties, required, beside, unless := node{}, []string{}, map[string][]string{}, map[string][]string{}
	for i := range keys {
		properties[keys[i].Name] = keys[i].schema()
		switch k := keys[i]; {
		case k.Unless != "":
			unless[k.Unless] = append(unless[k.Unless], k.Name)
		case k.Needed:
			required = append(required, k.Name)
		case k.With != "":
			beside[k.Name] = []string{k.With}
		}
	}
	n := node{"type": "object", "properties": properties, "additionalProperties": false}
	if len(required) > 0 {
		n["required"] = required
	}
	if len(beside) > 0 {
		n["dependentRequired"] = beside
	}
	for other, names := range unless {
		n["anyOf"] = []node{{"required": []string{other}}, {"required": names}}
	}
	return n
}

// across is what keys of a bike file ask of one another, as far as a schema can tell.
func across() node {
	has := func(keys ...string) node { return node{"required": keys} }
	in := func(table string, n node) node { return node{"properties": node{table: n}} }
	one := func(a, b string) node { return node{"oneOf": []node{has(a), has(b)}} }
	both := func(a, b string) node { return node{"not": has(a, b)} }
	shift := in("moves", node{"enum": []string{"saddle", "bar"}})
	shift["required"] = []string{"moves"}
	return node{
		"allOf": []node{
			in("saddle", both("part", "parts")), in("bar", both("part", "parts")), in("bar", both("lever", "levers")),
			in("stem", one("part", "parts")), in("clipon", one("part", "parts")),
			in("adjuster", node{"items": node{"if": shift, "then": has("angle"), "else": in("angle", node{"not": node{}})}}),
			in("saddle", node{"properties": node{"stretch": node{"minProperties": 1}}}),
			{"if": in("saddle", node{"anyOf": []node{has("part"), has("parts")}}),
				"then": in("posture", node{"additionalProperties": has("support")})},
		},
		"dependentSchemas": node{"stem": node{
			"required":   []string{"frame"},
			"properties": node{"frame": has("head_angle"), "anchor": in("bar_clamp", node{"not": node{}})},
			"anyOf":      []node{has("steerer"), in("frame", has("stack", "reach"))},
		}},
	}
}
