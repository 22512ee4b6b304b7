// Package partfile reads part files: one saddle, bar, lever, stem or clip-on each, strictly and with all problems
// of a file at once. The same shape keys are read from an inline table of a bike file.
package partfile

import (
	"strings"
	"time"

	"carryover/internal/bike"
	"carryover/internal/cockpit"
	"carryover/internal/diag"
	"carryover/internal/saddle"
	"carryover/internal/tomltree"
)

// Kind is what a part is.
type Kind int

// The kinds of parts.
const (
	Saddle Kind = iota
	Bar
	Lever
	Stem
	Clipon
)

// KindNames are the words of the file, in the order of the constants.
var KindNames = []string{"saddle", "bar", "lever", "stem", "clipon"}

func (k Kind) String() string { return KindNames[k] }

// Part is one part. Exactly the pointer of its Kind is set.
type Part struct {
	Kind  Kind
	ID    string   // "" for an inline table
	Name  string   // what a person calls it; the ID where the file gives none
	Price *float64 // in the user's money; nil: none given
	Sigma float64  // standard uncertainty of its numbers, mm
	File  string   // where it was read

	Saddle *saddle.Shape
	Bar    *cockpit.Bar
	Lever  *cockpit.Lever
	Stem   *cockpit.Stem
	Clipon *cockpit.Clipon
}

// Load reads a part file. The part is nil exactly when the list holds an error.
func Load(path string) (*Part, diag.List) {
	src, problems := tomltree.ReadFile(path)
	if problems != nil {
		return nil, problems
	}
	return Read(path, src)
}

// Read reads a part from the text of a file; file is only for messages. The part is nil exactly when the list holds
// an error.
func Read(file string, src []byte) (*Part, diag.List) {
	root, problems := tomltree.Parse(file, src)
	if root == nil {
		return nil, problems
	}
	t := tomltree.NewTable(root, &problems)
	CheckSchema(t)
	t.Require("kind", "id", "name")
	ReadRecord(t)
	id := readID(t)
	p := &Part{ID: id}
	if word, ok := t.OneOf("kind", KindNames...); ok {
		for k, name := range KindNames {
			if name == word {
				p.Kind = Kind(k)
			}
		}
		p.readShape(t)
		t.Finish()
	} // without a kind every shape key would count as unknown
	p.File = file
	problems.Sort()
	if problems.HasErrors() {
		return nil, problems
	}
	return p, problems
}

// Inline reads a part of the kind from a table that holds its shape keys, and perhaps a name and a price. Problems
// go to the list of the table, which the caller finishes.
func Inline(kind Kind, t *tomltree.Table) *Part {
	p := &Part{Kind: kind}
	p.readShape(t)
	return p
}

// ownSigma is how far the numbers of a part are off where its file does not say, mm: measured with care by its owner.
const ownSigma = 1

// ReadRecord reads what a file says of itself.
func ReadRecord(t *tomltree.Table) bike.Record {
	r := bike.Record{Date: Date(t)}
	r.Fitter, _ = t.String("fitter")
	r.Notes, _ = t.String("notes")
	return r
}

// Date reads the key date, a TOML date or a text, as YYYY-MM-DD; "" when absent or wrong.
func Date(t *tomltree.Table) string {
	n := t.Node("date")
	if n == nil {
		return ""
	}
	if n.Kind != tomltree.KindString && n.Kind != tomltree.KindDatetime {
		t.Errorf("date", "wrong-type", "write date = 2026-11-27", "date must be a day")
		return ""
	}
	day, _, _ := strings.Cut(n.Str, "T")
	if _, err := time.Parse(time.DateOnly, day); err != nil {
		t.Errorf("date", "date", "write it as year-month-day: 2026-11-27", "date %q is no day", n.Str)
		return ""
	}
	return day
}

// CheckSchema reads the key schema, which every file begins with: 1 is the only one there is.
func CheckSchema(t *tomltree.Table) {
	if !t.Require("schema") {
		return
	}
	if v, ok := t.Int("schema"); ok && v != 1 {
		t.Errorf("schema", "schema", "write schema = 1", "schema %d is not known to this program", v)
	}
}

func readID(t *tomltree.Table) string {
	id, ok := t.String("id")
	switch {
	case !ok:
	case id == "":
		t.Errorf("id", "part-id", "", "id is empty")
	case strings.ContainsAny(id, "*?[]/\\:") || strings.ContainsFunc(id, func(r rune) bool { return r <= ' ' }):
		t.Errorf("id", "part-id", "use letters, digits and hyphens", "id %q holds a blank or one of * ? [ ] / \\ :", id)
	}
	return id
}

func (p *Part) readShape(t *tomltree.Table) {
	p.Name, _ = t.String("name")
	if p.Name == "" {
		p.Name = p.ID
	}
	p.Price = Optional(t, "price", tomltree.Min(0))
	p.Sigma = ownSigma
	if v, ok := t.Float("sigma", tomltree.Between(0, 50)); ok {
		p.Sigma = v
	}
	switch p.Kind {
	case Saddle:
		p.Saddle = readSaddle(t)
	case Bar:
		p.Bar = readBar(t)
	case Lever:
		p.Lever = readLever(t)
	case Stem:
		p.Stem = readStem(t)
	case Clipon:
		p.Clipon = readClipon(t)
	}
}

// Optional is a number that may be left out: nil then.
func Optional(t *tomltree.Table, key string, rules ...tomltree.Rule) *float64 {
	if v, ok := t.Float(key, rules...); ok {
		return &v
	}
	return nil
}
