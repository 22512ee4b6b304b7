package convert

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/diag"
	"carryover/internal/format"
	"carryover/internal/saddle"
	"carryover/internal/written"
)

// columnKind is what a column of a batch holds.
type columnKind int

const (
	carried  columnKind = iota // nothing that is known here: given back untouched
	answered                   // an earlier answer, worked out anew
	reading
	idColumn
	saddleColumn
	toColumn
	supportColumn
	numberColumn
)

// Question is what a row asks, or a line of flags.
type Question struct {
	Request
	To               *Saddle
	SitBones, Margin float64 // mm
}

// requests are the columns a batch may have besides the readings of Words, in the order in which people are told of them, with
// what the number of one can be and where it goes, in mm or radians.
var requests = []struct {
	name string
	kind columnKind
	key  *format.Key
	put  func(*Question, float64)
}{
	{"id", idColumn, nil, nil},
	{"saddle", saddleColumn, nil, nil},
	{"to", toColumn, nil, nil},
	{"to-tilt", numberColumn, format.Reading("saddle-tilt"), func(q *Question, v float64) { q.ToTilt = &v }},
	{"clamp-at", numberColumn, format.Bike.Keys.Find(bike.SetsRails.Key()), func(q *Question, v float64) { q.ClampAt = &v }},
	{"support", supportColumn, &format.Bike.Keys.Find("posture.support").Kinds[0], func(q *Question, v float64) { q.Support = v }},
	{"sit-bones", numberColumn, format.Rider.Keys.Find("sit_bones"), func(q *Question, v float64) { q.SitBones = v }},
	{"margin", numberColumn, format.Rider.Keys.Find("margin"), func(q *Question, v float64) { q.Margin = v }},
	{"seat-angle", numberColumn, format.Bike.Keys.Find("frame.seat_angle"), func(q *Question, v float64) { q.SeatAngle = &v }},
	{"bb-height", numberColumn, format.Bike.Keys.Find("frame.bb_height"), func(q *Question, v float64) { q.BBHeight = &v }},
}

// Numbers are the requests that hold one.
func Numbers() (names []string) {
	for _, r := range requests {
		if r.put != nil {
			names = append(names, r.name)
		}
	}
	return names
}

// Set puts into the question what the flag of a number's name holds.
func (q *Question) Set(name, text string) error {
	c, err := parseColumn(name)
	if err == nil {
		err = c.set(q, text)
	}
	return err
}

// set puts a number into the question, or that the sit bones' width carries the rider.
func (c column) set(q *Question, text string) error {
	if c.kind == supportColumn && text == format.SitBones {
		q.Support = 0 // the sit width carries
		return nil
	}
	v, err := inside(c.key, text)
	if err != nil {
		return fmt.Errorf("%s: %w", c.name, err)
	}
	c.put(q, v)
	return nil
}

// Settle works out the width that carries the sit bones.
func (q *Question) Settle() {
	if q.SitBones > 0 {
		q.SitWidth = q.SitBones + q.Margin
	}
}

// column is one column of a batch.
type column struct {
	header string // as it stands in the file
	name   string // as it is called here
	kind   columnKind
	key    *format.Key // of what is no reading and holds a number
	put    func(*Question, float64)
	unit   string // of its numbers, where the header says it in brackets
	old    bool   // by a name that is not used any more
}

// kept reports whether a column is given back as it is.
func (c column) kept() bool { return c.kind == carried || c.kind == idColumn }

// parseColumn reads the name of a column: case, blanks and underscores do not count, and brackets may hold a unit. A reading may
// say where it goes: "setback@width:80". What names a reading and no place on a saddle is an error.
func parseColumn(header string) (column, error) {
	c := column{header: header}
	text, place, hasPlace := strings.Cut(strings.ToLower(header), "@")
	text = strings.TrimSpace(text)
	if i := strings.IndexAny(text, "(["); i >= 0 {
		unit := strings.Trim(text[i:], "()[] ")
		if _, err := written.Quantity("1" + unit); err == nil {
			c.unit = unit
		}
		text = text[:i]
	}
	c.name = strings.Join(strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(" \t\n\r_-\u00a0", r) }), "-")
	for _, r := range requests {
		if r.name == c.name {
			c.kind, c.key, c.put = r.kind, r.key, r.put
			return c, nil
		}
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

// measured is a cell whose bare numbers have the column's unit.
func (c column) measured(cell string) string {
	if c.unit == "" {
		return cell
	}
	return numbers(cell, func(number string) string {
		number = strings.TrimSpace(number)
		if last := len(number) - 1; last >= 0 && number[last] >= '0' && number[last] <= '9' {
			return number + c.unit
		}
		return number
	})
}

// oldAnswers are what the answers of a batch were called once, behind the name of a reference, and what reads the same.
var oldAnswers = map[string]string{"setback": "setback", "height": "vertical-height", "line": "saddle-height"}

// answers are columns of an answer that are no request, or whose reading needs what an answer does not hold.
var answers = []string{"row", "line", "tilt-sigma", "setback-sigma", "height-sigma", "vertical-height-sigma", "seat-tube",
	"spread", "post-up", "warning", "noted", "problem"}

// header settles what each column holds.
func (b *Batch) header(cells []string) error {
	var known []string
	near, words := "", slices.Concat(Words, []string{OldHeight})
	for _, r := range requests {
		words = append(words, r.name)
	}
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
			if word, ok := diag.Suggest(c.name, words); ok {
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
		if !slices.Contains(always, ref.Kind) {
			b.extra = append(b.extra, ref)
		}
	}
	b.seatTube = b.SeatTube || b.Defaults.SeatAngle != nil || slices.Contains(known, "seat-angle")
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

// always are the references that every answer has columns for.
var always = []saddle.RefKind{saddle.Nose, saddle.Mid, saddle.Tail, saddle.Widest}

// line is an answer between what is given back and its problem; without one, the names of its columns.
func (b *Batch) line(l *Located) []string {
	names := l == nil
	if names {
		l = &Located{}
	}
	out := make([]string, 0, 64)
	text := func(name, cell string) {
		if names {
			cell = name
		}
		out = append(out, cell)
	}
	number := func(name string, v float64, known bool) {
		cell := ""
		if known {
			cell = b.dialect.number(v)
		}
		text(name, cell)
	}
	places := func(prefix string, refs []Reference, tube *Estimate) {
		place := func(name string, ref saddle.Reference) {
			i := slices.IndexFunc(refs, func(r Reference) bool { return r.Ref == ref })
			known, r := i >= 0, Reference{}
			if known {
				r = refs[i]
			}
			number(prefix+"setback@"+name, r.Setback, known)
			number(prefix+"vertical-height@"+name, r.VerticalHeight, known)
			number(prefix+"saddle-height@"+name, r.SaddleHeight, known)
		}
		for _, k := range always {
			place(saddle.ReferenceNames[k], saddle.Reference{Kind: k})
		}
		if w := l.request.Support; w > 0 {
			place(supportName, saddle.Reference{Kind: saddle.ByWidth, MM: w})
		} else {
			place(supportName, saddle.Reference{Kind: saddle.Sit})
		}
		for _, ref := range b.extra {
			place(strings.TrimSuffix(ref.String(), ".0"), ref)
		}
		if b.seatTube {
			along := cmp.Or(tube, &Estimate{})
			number(prefix+"seat-tube", along.Value, tube != nil)
		}
	}
	nose := Reference{}
	if !names {
		nose = l.References[0]
	}
	text("saddle", l.ID)
	number("tilt", l.Tilt.Degrees(), true)
	number("tilt-sigma", l.SigmaTilt.Degrees(), true)
	number("setback-sigma", nose.SigmaSetback, true)
	number("vertical-height-sigma", nose.SigmaVertical, true)
	places("", l.References, l.SeatTube)
	if b.swaps {
		s := cmp.Or(l.Swap, &Swap{})
		var refs []Reference
		for _, r := range s.References {
			refs = append(refs, r.Reference)
		}
		text("to", s.To)
		places("to-", refs, s.SeatTube)
		number("spread", s.Spread, l.Swap != nil)
		if b.seatTube {
			post := cmp.Or(s.Post, &Post{})
			number("post-up", post.Up, s.Post != nil)
			number("to-clamp-at", post.To, s.Post != nil)
		}
	}
	var warnings []string
	for _, w := range l.Warnings {
		warnings = append(warnings, w.Code+": "+w.Text)
	}
	if !names {
		for _, i := range l.Adjustment.Suspects() {
			warnings = append(warnings, "suspect: the others contradict "+l.Adjustment.Observations[i].Name)
		}
	}
	text("warning", strings.Join(warnings, "; "))
	text("noted", strings.Join(l.Assumptions, "; "))
	return out
}
