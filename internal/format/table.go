package format

import (
	"fmt"

	"carryover/internal/diag"
	"carryover/internal/plane"
	"carryover/internal/tomltree"
)

// Table is a view of a table that has been checked. What it gives is right, or absent: whatever was wrong has been reported.
// Angles come in radians.
type Table struct {
	node   *tomltree.Node
	keys   Keys
	name   string
	inList bool
	file   *file
	right  bool // nothing was found wrong with it and what is in it
}

// Name is how messages call the table: "[saddle]", "[[adjuster]] 2", "rail in [[adjuster]] 2", "the file".
func (t *Table) Name() string {
	switch {
	case t.name == "":
		return "the file"
	case t.inList:
		return t.name
	}
	return "[" + t.name + "]"
}

// below is the name of a table in this one.
func (t *Table) below(key string) string {
	switch key = tomltree.ShowKey(key); {
	case t.inList:
		return key + " in " + t.name
	case t.name != "":
		return t.name + "." + key
	}
	return key
}

// listed is the name of a list of tables in this one.
func (t *Table) listed(key string) string {
	if t.inList {
		return t.below(key)
	}
	return "[[" + t.below(key) + "]]"
}

// of is a view of a table whose keys are the user's own names.
func (t *Table) of(n *tomltree.Node, key string) *Table {
	if t.file.tables[n] == nil {
		t.file.tables[n] = &Table{node: n, name: t.below(key), inList: t.inList, file: t.file}
	}
	return t.file.tables[n]
}

// where names the key for a message: "tilt in [saddle]".
func (t *Table) where(key string) string {
	if t.name == "" {
		return tomltree.ShowKey(key)
	}
	return tomltree.ShowKey(key) + " in " + t.Name()
}

// Has reports whether the key is there, right or wrong. Through tables, "saddle.part".
func (t *Table) Has(key string) bool { return t.Node(key) != nil }

// Node is the value of the key, right or wrong, nil when it is absent. "saddle.part" is a key in a table of this one.
func (t *Table) Node(path string) *tomltree.Node { return t.node.Find(path) }

// value is the value of the key when it is right, and what it was found to be.
func (t *Table) value(key string) (*tomltree.Node, *Key) {
	n := t.node.Get(key)
	return n, t.file.right[n]
}

// Float is a number.
func (t *Table) Float(key string) (v float64, ok bool) {
	n, k := t.value(key)
	if k == nil || k.Kind != Number {
		return 0, false
	}
	return k.inside(n.Float), true
}

// inside is a number as the program counts it.
func (k *Key) inside(v float64) float64 {
	if k.Unit == Deg {
		return plane.Rad(v)
	}
	return v
}

// Number is a number; where the file gives none, what the table of keys has it be.
func (t *Table) Number(key string) float64 {
	k := t.keys.Find(key)
	return t.Or(key, k.inside(k.Else))
}

// Or is a number, usual when the file gives none.
func (t *Table) Or(key string, usual float64) float64 {
	if v, ok := t.Float(key); ok {
		return v
	}
	return usual
}

// Optional is a number that may be left out: nil then.
func (t *Table) Optional(key string) *float64 {
	if v, ok := t.Float(key); ok {
		return &v
	}
	return nil
}

// String is a text, "" when there is none; a Day as YYYY-MM-DD.
func (t *Table) String(key string) string {
	n, k := t.value(key)
	switch {
	case k == nil:
		return ""
	case k.Kind == Day:
		return day(n)
	case k.Kind != Text:
		return ""
	}
	return n.Str
}

// Bool is a flag.
func (t *Table) Bool(key string) (v, ok bool) {
	if n, k := t.value(key); k != nil {
		return n.Bool, true
	}
	return false, false
}

// Floats is a list of numbers.
func (t *Table) Floats(key string) ([]float64, bool) {
	n, k := t.value(key)
	if k == nil {
		return nil, false
	}
	values := make([]float64, len(n.Children))
	for i, c := range n.Children {
		values[i] = k.inside(c.Float)
	}
	return values, true
}

// Point is [x, y], nil when there is none.
func (t *Table) Point(key string) *plane.Point {
	if v, ok := t.Floats(key); ok {
		return &plane.Point{X: v[0], Y: v[1]}
	}
	return nil
}

// Span is a value (lo = hi, isRange false) or [min, max].
func (t *Table) Span(key string) (lo, hi float64, isRange, ok bool) {
	n, k := t.value(key)
	if k == nil {
		return 0, 0, false, false
	}
	if n.Kind != tomltree.KindArray {
		v := k.inside(n.Float)
		return v, v, false, true
	}
	return k.inside(n.Children[0].Float), k.inside(n.Children[1].Float), true, true
}

// Curve is [station, value] pairs, with the node of each.
func (t *Table) Curve(key string) ([][2]float64, []*tomltree.Node, bool) {
	n, k := t.value(key)
	if k == nil {
		return nil, nil, false
	}
	pairs := make([][2]float64, len(n.Children))
	for i, c := range n.Children {
		pairs[i] = [2]float64{c.Children[0].Float, c.Children[1].Float}
	}
	return pairs, n.Children, true
}

// Values are what the table says behind some keys, mm and degrees, but for curves; a step that is left out is 0.
func (t *Table) Values(keys Keys) map[string]any {
	all := map[string]any{}
	for _, k := range keys {
		n, right := t.value(k.Name)
		if k.Least > 0 {
			all[k.Name] = 0.0
		}
		if right == nil {
			continue
		}
		switch k.Kind {
		case Number:
			all[k.Name] = n.Float
		case Numbers, Span:
			var list []float64
			for _, c := range n.Children {
				list = append(list, c.Float)
			}
			if list == nil {
				list = []float64{n.Float, n.Float}
			}
			all[k.Name] = list
		case Text:
			all[k.Name] = n.Str
		case Section:
			all[k.Name] = t.file.tables[n].Values(k.Keys)
		}
	}
	return all
}

// Table is the table under the key.
func (t *Table) Table(key string) (*Table, bool) {
	sub := t.file.tables[t.node.Get(key)]
	return sub, sub != nil
}

// Tables are the tables of a list, or of a table with the user's own names; ok is false when an entry is no table.
func (t *Table) Tables(key string) (tables []*Table, ok bool) {
	n, k := t.value(key)
	if n == nil {
		return nil, true
	}
	for _, c := range n.Children {
		if sub := t.file.tables[c]; sub != nil {
			tables = append(tables, sub)
		}
	}
	return tables, k != nil
}

// Key is the name under which the file has this table, "" for one in a list.
func (t *Table) Key() string { return t.node.Key }

// Marks are the entries of a table of numbers, in file order.
func (t *Table) Marks(key string) []*tomltree.Node {
	var entries []*tomltree.Node
	if n, k := t.value(key); k != nil {
		for _, c := range n.Children {
			if t.file.right[c] != nil {
				entries = append(entries, c)
			}
		}
	}
	return entries
}

// Errorf reports an error at the value of the key, or at the table's header when the key is absent or "".
func (t *Table) Errorf(key, code, mend, format string, args ...any) {
	t.ErrorAtf(t.node.Get(key), code, mend, format, args...)
}

// Warnf is Errorf for a warning.
func (t *Table) Warnf(key, code, mend, format string, args ...any) {
	t.WarnAtf(t.node.Get(key), code, mend, format, args...)
}

// Unused warns of keys that are there and say nothing.
func (t *Table) Unused(why string, keys ...string) {
	for _, key := range keys {
		if t.Has(key) {
			t.Warnf(key, "unused-key", "leave it out", "%s is not used %s", key, why)
		}
	}
}

// ErrorAtf reports an error at a node of the document, an element of a list, say.
func (t *Table) ErrorAtf(n *tomltree.Node, code, mend, format string, args ...any) {
	t.report(n, diag.Error, code, mend, fmt.Sprintf(format, args...))
}

// WarnAtf is ErrorAtf for a warning.
func (t *Table) WarnAtf(n *tomltree.Node, code, mend, format string, args ...any) {
	t.report(n, diag.Warning, code, mend, fmt.Sprintf(format, args...))
}

func (t *Table) report(n *tomltree.Node, severity diag.Severity, code, mend, summary string) {
	if n == nil {
		n = t.node
	}
	if severity == diag.Error {
		t.file.errors++
	}
	span := n.Span
	*t.file.problems = append(*t.file.problems, diag.Diagnostic{
		Code: code, Severity: severity, Summary: summary, Detail: mend, Span: &span, Line: n.Line,
	})
}

// Right reports whether nothing was found wrong with the table and what is in it, nor missing from it.
func (t *Table) Right() bool { return t.right }

// Is reports whether the value of the key is there and right.
func (t *Table) Is(key string) bool { _, k := t.value(key); return k != nil }

// Texts are the elements of a list of texts.
func (t *Table) Texts(key string) []*tomltree.Node {
	if n, k := t.value(key); k != nil {
		return n.Children
	}
	return nil
}
