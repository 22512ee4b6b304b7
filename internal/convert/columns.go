package convert

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"carryover/internal/diag"
	"carryover/internal/saddle"
)

// columnKind is what a column of a batch holds.
type columnKind int

const (
	carried  columnKind = iota // nothing that is known here: given back untouched
	answered                   // an earlier answer, worked out anew
	reading
	saddleColumn
	toColumn
	toTiltColumn
	clampAtColumn
	supportColumn
	sitBonesColumn
	marginColumn
	seatAngleColumn
	bbHeightColumn
	idColumn
)

var columnNames = map[string]columnKind{"id": idColumn, "saddle": saddleColumn, "to": toColumn, "to-tilt": toTiltColumn,
	"clamp-at": clampAtColumn, "support": supportColumn, "sit-bones": sitBonesColumn, "margin": marginColumn,
	"seat-angle": seatAngleColumn, "bb-height": bbHeightColumn}

// requests are the columns a batch may have besides the readings of Words, in the order in which people are told of them.
var requests = []string{"id", "saddle", "to", "to-tilt", "clamp-at", "support", "sit-bones", "margin", "seat-angle", "bb-height"}

// column is one column of a batch.
type column struct {
	header string // as it stands in the file
	name   string // as it is called here
	kind   columnKind
	unit   string // of its numbers, where the header says it in brackets
	old    bool   // by a name that is not used any more
}

// parseColumn reads the name of a column: case, blanks and underscores do not count, and brackets may hold a unit. A reading may
// say where it goes: "setback@width:80". What names a reading and no place on a saddle is an error.
func parseColumn(header string) (column, error) {
	c := column{header: header}
	text, place, hasPlace := strings.Cut(strings.ToLower(header), "@")
	text = strings.TrimSpace(text)
	if i := strings.IndexAny(text, "(["); i >= 0 {
		if unit := strings.Trim(text[i:], "()[] "); slices.Contains(headerUnits, unit) {
			c.unit = unit
		}
		text = text[:i]
	}
	c.name = strings.Join(strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(" \t\n\r_-\u00a0", r) }), "-")
	c.kind = columnNames[c.name]
	if c.kind != carried {
		return c, nil
	}
	if word := Word(c.name); slices.Contains(Words, word) {
		c.name, c.old, c.kind = word, c.name == OldHeight, reading
		if hasPlace {
			c.name += "@" + strings.Join(strings.Fields(place), "")
			for _, p := range strings.Split(place, ",") {
				if _, err := parsePlace(p); err != nil {
					return c, fmt.Errorf("column %q: %w", header, err)
				}
			}
		}
		return c, nil
	}
	ref, what, _ := strings.Cut(c.name, "-")
	if word, ok := oldAnswers[what]; ok && slices.Contains(saddle.ReferenceNames[:4], ref) {
		c.name, c.kind, c.old = word+"@"+ref, reading, true
	}
	return c, nil
}

// headerUnits are the units that a header may give to its column.
var headerUnits = []string{"mm", "cm", "m", "in", "inch", "inches", "°", "deg", "degrees"}

// measured is a cell whose bare numbers have the column's unit.
func (c column) measured(cell string) string {
	if c.unit == "" {
		return cell
	}
	with := func(number string) string {
		if last := len(number) - 1; last >= 0 && number[last] >= '0' && number[last] <= '9' {
			return number + c.unit
		}
		return number
	}
	value, sigma, hasSigma := strings.Cut(cell, "~")
	number, place, hasPlace := strings.Cut(value, "@")
	cell = with(strings.TrimSpace(number))
	if hasPlace {
		cell += "@" + place
	}
	if hasSigma {
		cell += "~" + with(strings.TrimSpace(sigma))
	}
	return cell
}

// oldAnswers are what the answers of a batch were called once, behind the name of a reference, and what reads the same.
var oldAnswers = map[string]string{"setback": "setback", "height": "vertical-height", "line": "saddle-height"}

// answers are columns of an answer that are no request, or whose reading needs what an answer does not hold.
var answers = []string{"row", "line", "tilt-sigma", "setback-sigma", "height-sigma", "vertical-height-sigma", "seat-tube",
	"spread", "post-up", "warning", "noted", "problem"}

// header settles what each column holds.
func (b *Batch) header(cells []string) error {
	var known []string
	near := ""
	named := func(names ...string) bool {
		return slices.ContainsFunc(cells, func(h string) bool { c, err := parseColumn(h); return err == nil && slices.Contains(names, c.name) })
	}
	answersBefore := named("tilt-sigma")
	swapAgain := b.Defaults.SupportWidth() > 0 || named("support", "sit-bones")
	for _, h := range cells {
		c, err := parseColumn(h)
		at, place, _ := strings.Cut(h, "@")
		if answersBefore && (slices.Contains(answers, c.name) || strings.HasPrefix(c.name, "to-") && c.kind == carried ||
			c.kind == toColumn && !swapAgain || strings.HasPrefix(c.name, "support-") || strings.TrimSpace(place) == supportName) {
			c, err = column{header: h, name: c.name, kind: answered}, nil
		}
		if err != nil {
			return err
		}
		switch c.kind {
		case carried:
			if word, ok := diag.Suggest(c.name, slices.Concat(requests, Words, []string{OldHeight})); ok {
				word = Word(word)
				b.note("no column is called %q, so it is given back as it is; did you mean %q?", strings.TrimSpace(at), word)
				near = fmt.Sprintf("; did you mean %q by %q?", word, strings.TrimSpace(at))
			}
		case reading, answered:
		default:
			if slices.Contains(known, c.name) {
				return fmt.Errorf("column %q is there twice; only readings may repeat", h)
			}
		}
		known = append(known, c.name)
		b.columns = append(b.columns, c)
	}
	b.noteOld()
	has := func(k columnKind) bool {
		return slices.ContainsFunc(b.columns, func(c column) bool { return c.kind == k })
	}
	if !has(reading) {
		return fmt.Errorf("no column holds a reading; there are %s%s", strings.Join(Words, ", "), near)
	}
	if b.Defaults.Saddle.Shape == nil && !has(saddleColumn) {
		return errors.New("no column is called saddle, and no saddle was given")
	}
	b.swaps = b.To != nil || has(toColumn)
	for _, ref := range b.Defaults.Also {
		if always := ref.Kind == saddle.Nose || ref.Kind == saddle.Mid || ref.Kind == saddle.Tail || ref.Kind == saddle.Widest; !always {
			b.extra = append(b.extra, ref)
		}
	}
	b.seatTube = b.SeatTube || b.Defaults.SeatAngle != nil || has(seatAngleColumn)
	return nil
}

// noteOld tells how old columns are understood.
func (b *Batch) noteOld() {
	var old, again []string
	for _, c := range b.columns {
		switch {
		case c.kind == answered:
			again = append(again, c.header)
		case c.old && c.name == Word(OldHeight):
			b.note("column %s: %s", c.header, OldHeightNote)
		case c.old:
			old = append(old, c.header+" as "+c.name)
		}
	}
	if len(old) > 0 {
		b.note("old columns are read by their clear names: %s", strings.Join(old, ", "))
	}
	if len(again) > 0 {
		b.note("answers in the file are left out and worked out anew: %s", strings.Join(again, ", "))
	}
}

func (b *Batch) note(format string, args ...any) {
	if b.Note != nil {
		b.Note(fmt.Sprintf(format, args...))
	}
}

// supportName is the reference that the support of a row is, in the columns of an answer.
const supportName = "support"

// places are the references that an answer has columns for: those every saddle has, the row's support, and those asked for.
func (b *Batch) places() []string {
	names := []string{"nose", "mid", "tail", "widest", supportName}
	for _, ref := range b.extra {
		names = append(names, strings.TrimSuffix(ref.String(), ".0"))
	}
	return names
}

// resultColumns are the columns of the answer: the row, what is given back, and what was worked out.
func (b *Batch) resultColumns() []string {
	names := []string{"row"}
	for _, c := range b.columns {
		if c.kind == carried || c.kind == idColumn {
			names = append(names, c.header)
		}
	}
	names = append(names, "saddle", "tilt", "tilt-sigma", "setback-sigma", "vertical-height-sigma")
	add := func(prefix string) {
		for _, p := range b.places() {
			names = append(names, prefix+"setback@"+p, prefix+"vertical-height@"+p, prefix+"saddle-height@"+p)
		}
		if b.seatTube {
			names = append(names, prefix+"seat-tube")
		}
	}
	add("")
	if b.swaps {
		names = append(names, "to")
		add("to-")
		names = append(names, "spread")
		if b.seatTube {
			names = append(names, "post-up", "to-clamp-at")
		}
	}
	return append(names, "warning", "noted", "problem")
}
