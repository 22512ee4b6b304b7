package interview

import (
	"fmt"
	"slices"
	"strings"
)

// draft is a file in the making: keys of its own, lists of inline tables, then tables, each in the order it was begun.
type draft struct {
	top    table
	tables []*table
}

// table is one table of the file.
type table struct {
	header  string // "[feet]"; of an item the name of its list
	item    bool   // an inline table of a list
	about   string // comment behind the header, or behind the line of an item
	keys    []*key
	written bool // although nothing in it is answered
}

// key is one key of a table.
type key struct {
	name   string
	value  string // TOML; "" while unanswered
	note   string // comment behind it: where it was measured
	needed bool
	part   string // what there is of a value that is not whole yet
}

// begin is the table of that header, begun where it is not there yet.
func (d *draft) begin(header string) *table {
	for _, t := range d.tables {
		if t.header == header {
			return t
		}
	}
	return d.add(&table{header: header})
}

// item adds an inline table to a list.
func (d *draft) item(name string) *table { return d.add(&table{header: name, item: true}) }

func (d *draft) add(t *table) *table {
	d.tables = append(d.tables, t)
	return t
}

// begun reports whether anything is in a table, or in a list.
func (d *draft) begun(header string) bool {
	return slices.ContainsFunc(d.tables, func(t *table) bool { return t.header == header && !t.empty() })
}

// set adds a key; without a value it counts as missing when it is needed.
func (t *table) set(name, value, note string) *key {
	k := &key{name: name, value: value, note: note}
	t.keys = append(t.keys, k)
	return k
}

// drop leaves a key out after all.
func (t *table) drop(name string) {
	t.keys = slices.DeleteFunc(t.keys, func(k *key) bool { return k.name == name })
}

func (t *table) has(name string) bool {
	return slices.ContainsFunc(t.keys, func(k *key) bool { return k.name == name && k.value != "" })
}

func (t *table) empty() bool {
	return !t.written && !slices.ContainsFunc(t.keys, func(k *key) bool { return k.value != "" })
}

// missing lists the needed keys without a value, as "crank in [feet]".
func (d *draft) missing() []string {
	all, items := d.top.missing(""), map[string]int{}
	for _, t := range d.tables {
		where := " in " + t.header
		if t.item {
			items[t.header]++
			where += fmt.Sprintf(" %d", items[t.header])
		}
		if !t.empty() {
			all = append(all, t.missing(where)...)
		}
	}
	return all
}

func (t *table) missing(where string) (all []string) {
	for _, k := range t.keys {
		if k.needed && k.value == "" {
			all = append(all, k.name+where)
		}
	}
	return all
}

const columns = 140 // where comments move above their line

// String is the file as TOML. What is missing stands in it as comments.
func (d *draft) String() string {
	var b strings.Builder
	for _, k := range d.top.keys {
		k.write(&b)
	}
	lists := map[string][]*table{}
	var names []string
	for _, t := range d.tables {
		if t.item && !t.empty() {
			if lists[t.header] == nil {
				names = append(names, t.header)
			}
			lists[t.header] = append(lists[t.header], t)
		}
	}
	for _, name := range names {
		writeList(&b, name, lists[name])
	}
	for _, t := range d.tables {
		if t.item || t.empty() {
			continue
		}
		b.WriteString("\n")
		line(&b, t.header, t.about)
		for _, k := range t.keys {
			k.write(&b)
		}
	}
	return b.String()
}

// writeList writes a list of inline tables, one a line, with their comments in a column.
func writeList(b *strings.Builder, name string, items []*table) {
	rows, wide := make([]string, len(items)), 0
	for i, t := range items {
		var keys []string
		for _, k := range t.keys {
			if k.value != "" {
				keys = append(keys, k.name+" = "+k.value)
			}
		}
		rows[i] = "  { " + strings.Join(keys, ", ") + " },"
		if len(rows[i]) < 70 {
			wide = max(wide, len(rows[i]))
		}
	}
	b.WriteString("\n" + name + " = [\n")
	for i, t := range items {
		if t.about != "" {
			rows[i] = fmt.Sprintf("%-*s", wide, rows[i])
		}
		line(b, rows[i], t.about)
	}
	b.WriteString("]\n")
}

func (k *key) write(b *strings.Builder) {
	switch {
	case k.value != "":
		line(b, k.name+" = "+k.value, k.note)
	case k.needed:
		fmt.Fprintln(b, strings.TrimRight("# still missing: "+k.name+" = "+strings.ReplaceAll(k.part, "\n", "\n# "), " "))
	}
}

// line writes a line with a comment behind it, or above it where both are too long.
func line(b *strings.Builder, text, note string) {
	switch {
	case note == "":
		fmt.Fprintf(b, "%s\n", text)
	case max(len(text), 24)+len(note)+3 > columns:
		fmt.Fprintf(b, "%s# %s\n%s\n", text[:len(text)-len(strings.TrimLeft(text, " "))], note, strings.TrimRight(text, " "))
	default:
		fmt.Fprintf(b, "%-24s # %s\n", text, note)
	}
}

// written is the file with what is to be said of it above.
func (f *form) written(r Result) string {
	var b strings.Builder
	fmt.Fprintf(&b, "# Written by `carryover new %s`. Lengths in mm, angles in degrees; behind each number, how it was measured.\n", f.Kind)
	if len(r.Missing) > 0 {
		fmt.Fprintf(&b, "# Still missing: %s.\n", strings.Join(r.Missing, ", "))
	}
	if len(r.Open) > 0 {
		fmt.Fprintf(&b, "# The readings leave open: %s.\n", strings.Join(r.Open, ", "))
	}
	return b.String() + f.String()
}
