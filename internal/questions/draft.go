package questions

import (
	"fmt"
	"strings"
)

// draft is a file in the making: its tables in the order they were begun.
type draft struct {
	head   string // comment lines
	tables []*table
}

// table is one table of the file; the first has no header.
type table struct {
	header  string // "[feet]", "[[reading]]"
	about   string // comment above the header
	keys    []*key
	missing bool // written although nothing in it is answered, since the file needs it
}

// key is one line of a table.
type key struct {
	name    string
	value   string // TOML; "" while unanswered
	note    string // comment behind it: where it was measured
	needed  bool
	standIn string // TOML; what the file is judged with while it is unanswered
	part    string // TOML of what was answered of a list, kept as a comment
}

func (d *draft) begin(header, about string) *table {
	t := &table{header: header, about: about}
	d.tables = append(d.tables, t)
	return t
}

// drop takes off a table that came to nothing.
func (d *draft) drop(t *table) {
	for i := range d.tables {
		if d.tables[i] == t {
			d.tables = append(d.tables[:i], d.tables[i+1:]...)
			return
		}
	}
}

func (t *table) add(k *key) *key {
	t.keys = append(t.keys, k)
	return k
}

// set adds a key that is answered already.
func (t *table) set(name, value, note string) { t.add(&key{name: name, value: value, note: note}) }

// written reports whether the table appears in the file.
func (t *table) written(standIns bool) bool {
	if t.header == "" || t.missing {
		return true
	}
	for _, k := range t.keys {
		if k.value != "" || k.part != "" || standIns && k.standIn != "" {
			return true
		}
	}
	return false
}

// missing lists the needed keys without a value, as "crank in [feet]".
func (d *draft) missing() []string {
	var all []string
	for _, t := range d.tables {
		for _, k := range t.keys {
			switch {
			case !k.needed || k.value != "" || !t.written(false):
			case t.header == "":
				all = append(all, k.name)
			default:
				all = append(all, k.name+" in "+t.header)
			}
		}
	}
	return all
}

// source is the file as TOML. What is missing stands in it as comments; with standIns, something plausible stands
// in its place instead, so that the rest can be judged.
func (d *draft) source(standIns bool) string {
	var b strings.Builder
	b.WriteString(d.head)
	for i, t := range d.tables {
		if !t.written(standIns) {
			continue
		}
		if i > 0 {
			b.WriteString("\n")
		}
		if t.about != "" {
			fmt.Fprintf(&b, "# %s\n", t.about)
		}
		if t.header != "" {
			b.WriteString(t.header + "\n")
		}
		for _, k := range t.keys {
			k.write(&b, standIns)
		}
	}
	return b.String()
}

func (k *key) write(b *strings.Builder, standIns bool) {
	value := k.value
	if value == "" && standIns {
		value = k.standIn
	}
	line := k.name + " = " + value
	switch {
	case value == "" && k.part != "":
		fmt.Fprintf(b, "# %s so far: %s\n", k.name, k.part)
		return
	case value == "" && k.needed:
		line = "# still missing: " + k.name + " ="
	case value == "":
		return
	}
	const columns = 100
	switch {
	case k.note == "":
		fmt.Fprintf(b, "%s\n", line)
	case len(line)+len(k.note)+3 > columns:
		fmt.Fprintf(b, "# %s\n%s\n", k.note, line)
	default:
		fmt.Fprintf(b, "%-24s # %s\n", line, k.note)
	}
}
