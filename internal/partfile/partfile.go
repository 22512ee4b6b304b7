// Package partfile reads part files: one saddle, bar, lever, stem or clip-on each, strictly and with all problems
// of a file at once. The same shape keys are read from an inline table of a bike file.
package partfile

import (
	"slices"

	"carryover/internal/cockpit"
	"carryover/internal/diag"
	"carryover/internal/format"
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
var KindNames = format.Parts

func (k Kind) String() string { return KindNames[k] }

// Called is what a person calls a part of the kind.
func (k Kind) Called() string {
	if k == Clipon {
		return "clip-on"
	}
	return k.String()
}

// Part is one part. Exactly the pointer of its Kind is set.
type Part struct {
	Kind   Kind
	ID     string         // "" for an inline table
	Name   string         // what a person calls it; the ID where the file gives none
	Sigma  float64        // standard uncertainty of its numbers, mm
	File   string         // where it was read
	Stated map[string]any // its shape as the file has it, mm and degrees, but for the curves of a saddle

	Saddle *saddle.Shape
	Bar    *cockpit.Bar
	Lever  *cockpit.Lever
	Stem   *cockpit.Stem
	Clipon *cockpit.Clipon
}

// Shape is the pointer that is set.
func (p *Part) Shape() any {
	return [...]any{Saddle: p.Saddle, Bar: p.Bar, Lever: p.Lever, Stem: p.Stem, Clipon: p.Clipon}[p.Kind]
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
func Read(file string, src []byte) (*Part, diag.List) { return read(file, src, false, nil) }

// Judge is what there is to say about a file: what Read finds, every number that is right but unusual, and what more says of a
// part that reads well.
func Judge(file string, src []byte, more func(*Part, *format.Table)) diag.List {
	_, problems := read(file, src, true, more)
	return problems
}

func read(file string, src []byte, odd bool, more func(*Part, *format.Table)) (*Part, diag.List) {
	var problems diag.List
	t := format.Document(file, src, &format.Part, &problems, odd)
	if t == nil {
		return nil, problems
	}
	kind := max(0, slices.Index(KindNames, t.String("kind")))
	p := fill(Kind(kind), t)
	p.ID, p.File = t.String("id"), file
	if p.Name == "" {
		p.Name = p.ID
	}
	if more != nil && !problems.HasErrors() {
		more(p, t)
	}
	problems.Sort()
	if problems.HasErrors() {
		return nil, problems
	}
	return p, problems
}

// Inline reads a part of the kind from a table that holds its shape keys. Its shape is nil when a problem has been reported.
func Inline(kind Kind, t *format.Table) *Part { return fill(kind, t) }

func fill(kind Kind, t *format.Table) *Part {
	p := &Part{Kind: kind, Name: t.String("name"), Sigma: t.Number("sigma"),
		Stated: t.Values(format.Shape(kind.String()))}
	if kind == Bar && t.Has("hood") { // said whatever else is wrong
		t.Unused("beside a measured hood", "reach", "drop", "bend")
	}
	if kind == Saddle {
		p.Saddle = saddleShape(t)
		return p
	}
	if !t.Right() {
		return p
	}
	switch kind {
	case Bar:
		p.Bar = barShape(t)
	case Lever:
		hollow := t.Point("hollow")
		p.Lever = &cockpit.Lever{Along: hollow.X, Out: hollow.Y, Angle: t.Number("angle")}
	case Stem:
		p.Stem = &cockpit.Stem{Length: t.Number("length"), Angle: t.Number("angle"), Height: t.Number("height")}
	case Clipon:
		p.Clipon = clipon(t)
	}
	return p
}
