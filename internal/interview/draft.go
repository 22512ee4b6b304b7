package interview

import (
	"fmt"
	"slices"
	"strings"
)

// draft is a file in the making: keys of its own, lists of inline tables, then tables, each in the order it was begun.
type draft struct {
	top    table
	lists  []*list
	tables []*table
}

// list is a list of inline tables, one a line.
type list struct {
	name  string
	items []*table
}

// table is one table of the file.
type table struct {
	header  string // "[feet]"
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
}

// begin is the table of that header, begun where it is not there yet.
func (d *draft) begin(header string) *table {
	for _, t := range d.tables {
		if t.header == header {
			return t
		}
	}
	t := &table{header: header}
	d.tables = append(d.tables, t)
	return t
}

// item adds an inline table to a list.
func (d *draft) item(name string) *table {
	t := &table{header: name}
	for _, l := range d.lists {
		if l.name == name {
			l.items = append(l.items, t)
			return t
		}
	}
	d.lists = append(d.lists, &list{name: name, items: []*table{t}})
	return t
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
	for _, k := range t.keys {
		if k.name == name && k.value != "" {
			return true
		}
	}
	return false
}

func (t *table) empty() bool {
	for _, k := range t.keys {
		if k.value != "" {
			return false
		}
	}
	return !t.written
}

// missing lists what is needed and not there.
func (f *form) missing() []string {
	all := f.draft.missing()
	if f.saddle != nil {
		all = append(all, f.saddle.Missing()...)
	}
	return all
}

// missing lists the needed keys without a value, as "crank in [feet]".
func (d *draft) missing() []string {
	var all []string
	note := func(t *table, where string) {
		for _, k := range t.keys {
			if k.needed && k.value == "" {
				all = append(all, k.name+where)
			}
		}
	}
	note(&d.top, "")
	for _, l := range d.lists {
		for i, t := range l.items {
			if !t.empty() {
				note(t, fmt.Sprintf(" in %s %d", l.name, i+1))
			}
		}
	}
	for _, t := range d.tables {
		if !t.empty() {
			note(t, " in "+t.header)
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
	for _, l := range d.lists {
		d.writeList(&b, l)
	}
	for _, t := range d.tables {
		if t.empty() {
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

func (d *draft) writeList(b *strings.Builder, l *list) {
	var rows [][2]string
	for _, t := range l.items {
		if t.empty() {
			continue
		}
		var keys []string
		for _, k := range t.keys {
			if k.value != "" {
				keys = append(keys, k.name+" = "+k.value)
			}
		}
		rows = append(rows, [2]string{"  { " + strings.Join(keys, ", ") + " },", t.about})
	}
	if len(rows) == 0 {
		return
	}
	b.WriteString("\n" + l.name + " = [\n")
	wide := 0
	for _, r := range rows {
		if len(r[0]) < 70 {
			wide = max(wide, len(r[0]))
		}
	}
	for _, r := range rows {
		if r[1] != "" {
			r[0] = fmt.Sprintf("%-*s", wide, r[0])
		}
		line(b, r[0], r[1])
	}
	b.WriteString("]\n")
}

func (k *key) write(b *strings.Builder) {
	switch {
	case k.value != "":
		line(b, k.name+" = "+k.value, k.note)
	case k.needed:
		fmt.Fprintf(b, "# still missing: %s =\n", k.name)
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

// source is the file as it stands.
func (f *form) source() string {
	if f.saddle == nil {
		return f.draft.String()
	}
	return f.draft.String() + f.saddle.shape()
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
	return b.String() + f.source()
}
