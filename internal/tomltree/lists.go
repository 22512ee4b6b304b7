package tomltree

import (
	"fmt"

	"carryover/internal/diag"
)

// Floats is a list of numbers that all keep the rules. n is how many there must be; a negative n takes any number.
func (t *Table) Floats(key string, n int, rules ...Rule) ([]float64, bool) {
	list := t.Node(key)
	if list == nil {
		return nil, false
	}
	return t.numbers(list, t.where(key), n, rules)
}

func (t *Table) numbers(list *Node, what string, n int, rules []Rule) ([]float64, bool) {
	if list.Kind != KindArray {
		t.wrongType(list, what, "a list of "+count(n, "number"), "")
		return nil, false
	}
	if n >= 0 && len(list.Children) != n {
		t.report(list, diag.Error, "wrong-count", "", "%s wants %s, has %d", what, count(n, "number"), len(list.Children))
		return nil, false
	}
	values, ok := make([]float64, len(list.Children)), true
	for i, c := range list.Children {
		v, good := t.number(c, fmt.Sprintf("number %d of %s", i+1, what), rules)
		values[i], ok = v, ok && good
	}
	if !ok {
		return nil, false
	}
	return values, true
}

// count is "2 numbers", "1 number", and "numbers" for a negative n.
func count(n int, noun string) string {
	switch {
	case n < 0:
		return noun + "s"
	case n == 1:
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// Strings is a list of texts, with the node of each.
func (t *Table) Strings(key string) ([]string, []*Node, bool) {
	list := t.Node(key)
	if list == nil {
		return nil, nil, false
	}
	if list.Kind != KindArray {
		t.wrongType(list, t.where(key), "a list of texts", "")
		return nil, nil, false
	}
	values, ok := make([]string, len(list.Children)), true
	for i, c := range list.Children {
		s, good := t.text(c, fmt.Sprintf("text %d of %s", i+1, t.where(key)))
		values[i], ok = s, ok && good
	}
	if !ok {
		return nil, nil, false
	}
	return values, list.Children, true
}

// Pairs is a list of pairs, [[a, b], …], with the node of each pair.
func (t *Table) Pairs(key string) ([][2]float64, []*Node, bool) {
	list := t.Node(key)
	if list == nil {
		return nil, nil, false
	}
	if list.Kind != KindArray {
		t.wrongType(list, t.where(key), "a list of pairs", "write it as [[1, 2], [3, 4]]")
		return nil, nil, false
	}
	pairs, ok := make([][2]float64, len(list.Children)), true
	for i, c := range list.Children {
		v, good := t.numbers(c, fmt.Sprintf("pair %d of %s", i+1, t.where(key)), 2, nil)
		if good {
			pairs[i] = [2]float64(v)
		}
		ok = ok && good
	}
	if !ok {
		return nil, nil, false
	}
	return pairs, list.Children, true
}

// Range is a value (lo = hi, isRange false) or [min, max] with min <= max. The rules bind both ends.
func (t *Table) Range(key string, rules ...Rule) (lo, hi float64, isRange, ok bool) {
	n := t.Node(key)
	if n == nil {
		return 0, 0, false, false
	}
	switch n.Kind {
	case KindInteger, KindFloat:
		v, ok := t.number(n, t.where(key), rules)
		return v, v, false, ok
	case KindArray:
		ends, ok := t.numbers(n, t.where(key), 2, rules)
		if !ok {
			return 0, 0, true, false
		}
		if ends[0] > ends[1] {
			t.report(n, diag.Error, "reversed-range",
				fmt.Sprintf("write [%s, %s]", shorten(n.Children[1].Str), shorten(n.Children[0].Str)),
				"%s is a range from high to low", t.where(key))
			return 0, 0, true, false
		}
		return ends[0], ends[1], true, true
	}
	t.wrongType(n, t.where(key), "a number or [min, max]", mendNumber(n))
	return 0, 0, false, false
}

// Named is one entry of a table of numbers.
type Named struct {
	Name  string
	Value float64
	Node  *Node
}

// FloatMap is a table from any name to a number, in file order. Its keys are all known.
func (t *Table) FloatMap(key string) ([]Named, bool) {
	sub, ok := t.Table(key)
	if !ok {
		return nil, false
	}
	var entries []Named
	for _, name := range sub.Keys() {
		v, good := sub.Float(name)
		if good {
			entries = append(entries, Named{name, v, sub.Node(name)})
		}
		ok = ok && good
	}
	if !ok {
		return nil, false
	}
	return entries, true
}

// Table is the table under the key. Asking twice gives the same reader.
func (t *Table) Table(key string) (*Table, bool) {
	n := t.Node(key)
	if n == nil {
		return nil, false
	}
	if n.Kind != KindTable {
		detail := ""
		if n.headers {
			detail = fmt.Sprintf("there is only one: write [%s]", showKey(key))
		}
		t.wrongType(n, t.where(key), "a table", detail)
		return nil, false
	}
	if old := t.tables[key]; len(old) == 1 {
		return old[0], true
	}
	name := showKey(key)
	switch {
	case t.inList:
		name += " in " + t.name
	case t.name != "":
		name = t.name + "." + name
	}
	sub := t.sub(n, name, t.inList)
	t.tables[key] = []*Table{sub}
	return sub, true
}

// Tables are the tables of a [[list]], or of a list of inline tables; the list may be empty.
func (t *Table) Tables(key string) ([]*Table, bool) {
	n := t.Node(key)
	if n == nil {
		return nil, false
	}
	if n.Kind != KindArray {
		detail := ""
		if n.Kind == KindTable {
			detail = fmt.Sprintf("there may be several: write [[%s]]", showKey(key))
		}
		t.wrongType(n, t.where(key), "a list of tables", detail)
		return nil, false
	}
	if old := t.tables[key]; old != nil {
		return old, true
	}
	name := "[[" + showKey(key) + "]]"
	switch {
	case t.inList:
		name = showKey(key) + " in " + t.name
	case t.name != "":
		name = "[[" + t.name + "." + showKey(key) + "]]"
	}
	ok := true
	for i, c := range n.Children {
		if c.Kind != KindTable {
			t.wrongType(c, fmt.Sprintf("entry %d of %s", i+1, t.where(key)), "a table", "")
			ok = false
			continue
		}
		t.tables[key] = append(t.tables[key], t.sub(c, fmt.Sprintf("%s %d", name, i+1), true))
	}
	return t.tables[key], ok
}

func (t *Table) sub(n *Node, name string, inList bool) *Table {
	return &Table{node: n, name: name, inList: inList, problems: t.problems, tables: make(map[string][]*Table)}
}
