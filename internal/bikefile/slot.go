package bikefile

import (
	"cmp"
	"errors"
	"fmt"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/catalog"
	"carryover/internal/diag"
	"carryover/internal/format"
	"carryover/internal/partfile"
	"carryover/internal/tomltree"
)

// slot reads the part under the key one, or the several to choose from under the key many. given tells whether either key
// is there; parts that cannot be had have been reported, and are left out.
func slot[T any](r *reader, t *format.Table, kind partfile.Kind, one, many string) (s bike.Slot[T], given bool) {
	add := func(id string, p *partfile.Part) {
		if p == nil {
			return
		}
		if shape, _ := p.Shape().(*T); shape != nil {
			s.Options = append(s.Options, bike.Option[T]{ID: id, Name: cmp.Or(p.Name, id), Sigma: p.Sigma, Part: shape})
		}
	}
	switch {
	case t.Has(one) && t.Has(many):
		t.Errorf(many, "part-twice", fmt.Sprintf("write %s for what is fitted, %s for a choice", one, many),
			"%s gives both %s and %s", t.Name(), one, many)
		return s, true
	case t.Has(many):
		s.Open = true
		r.choice(t, kind, many, add)
		return s, true
	}
	if inline, ok := t.Table(one); ok {
		add("inline", partfile.Inline(kind, inline))
	} else if id := t.String(one); id != "" || t.Is(one) {
		add(id, r.part(t, t.Node(one), kind, id))
	}
	return s, t.Has(one)
}

// needPart reports a table that gives no part.
func needPart(t *format.Table, given bool) {
	if !given {
		t.Errorf("", "missing-key", `give a catalogue id, "file:PATH" or an inline table`, "missing key %q in %s", "part", t.Name())
	}
}

// choice reads a list of ids, patterns and file: paths, without repeats, patterns in the order of the ids.
func (r *reader) choice(t *format.Table, kind partfile.Kind, key string, add func(id string, p *partfile.Part)) {
	seen := map[string]bool{}
	take := func(n *tomltree.Node, id string) {
		if !seen[id] {
			seen[id] = true
			add(id, r.part(t, n, kind, id))
		}
	}
	for _, n := range t.Texts(key) {
		if strings.HasPrefix(n.Str, format.FilePrefix) || !format.IsPattern(n.Str) {
			take(n, n.Str)
			continue
		}
		matches := r.lib.Glob(kind, n.Str)
		if len(matches) == 0 {
			t.ErrorAtf(n, "part-missing", "`carryover catalog list` shows the ids",
				"no %s in the catalogue matches %q", kind, n.Str)
		}
		for _, m := range matches {
			take(n, m)
		}
	}
}

// part finds a part by id or file: path; nil when it has been reported.
func (r *reader) part(t *format.Table, n *tomltree.Node, kind partfile.Kind, id string) *partfile.Part {
	if r.folder.Instead != nil {
		if p := r.folder.Instead(kind, id); p != nil {
			return p
		}
	}
	name, isFile := strings.CutPrefix(id, format.FilePrefix)
	if !isFile {
		p, err := r.lib.Lookup(kind, id)
		var missing *catalog.MissingError
		var broken diag.List
		if errors.As(err, &missing) {
			t.ErrorAtf(n, "part-missing", missing.Hint, "%v", err)
		} else if errors.As(err, &broken) {
			r.ofPart(n, broken)
		}
		return p
	}
	if strings.TrimSpace(name) == "" {
		t.ErrorAtf(n, "part-missing", `write a path behind it, like "file:my-saddle.toml"`, "%q names no file", id)
		return nil
	}
	src, shown, problems := r.folder.read(name)
	if problems != nil { // the file cannot be read at all, which is a matter of the line that names it
		t.ErrorAtf(n, problems[0].Code, "file: paths start from the folder of the bike file",
			"part file %q: %s", shown, problems[0].Summary)
		return nil
	}
	p, problems := partfile.Read(shown, src)
	r.ofPart(n, problems)
	if p != nil && p.Kind != kind {
		t.ErrorAtf(n, "part-kind", fmt.Sprintf("put a part file of kind = %q here", kind.String()),
			"%s is a %s, and this is the place of a %s", shown, p.Kind, kind)
		return nil
	}
	return p
}

// ofPart reports what is wrong with a part that is named at n.
func (r *reader) ofPart(n *tomltree.Node, problems diag.List) {
	note := diag.Note{Span: n.Span, Line: n.Line, Text: "the part is used here"}
	for _, d := range problems {
		d.Related = append(d.Related, note)
		*r.problems = append(*r.problems, d)
	}
}

// single is the one part of a slot that is not open, nil otherwise.
func single[T any](s bike.Slot[T]) *T {
	if s.Open {
		return nil
	}
	return s.Only()
}
