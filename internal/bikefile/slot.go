package bikefile

import (
	"errors"
	"fmt"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/catalog"
	"carryover/internal/diag"
	"carryover/internal/partfile"
	"carryover/internal/tomltree"
)

const filePrefix = "file:"

// option is one part of a slot with what the file calls it.
type option struct {
	id   string
	part *partfile.Part
}

// slot reads the part under the key one, or the several to choose from under the key many. missing parts have been
// reported; given tells whether either key is there.
func (r *reader) slot(t *tomltree.Table, kind partfile.Kind, one, many string) (options []option, open, given bool) {
	n, list := t.Node(one), t.Node(many)
	if n != nil && list != nil {
		t.Errorf(many, "part-twice", fmt.Sprintf("write %s for what is fitted, %s for a choice", one, many),
			"%s gives both %s and %s", t.Name(), one, many)
		return nil, false, true
	}
	if list != nil {
		return r.choice(t, kind, many), true, true
	}
	if n == nil {
		return nil, false, false
	}
	switch n.Kind {
	case tomltree.KindTable:
		if inline, ok := t.Table(one); ok {
			return []option{{"inline", partfile.Inline(kind, inline)}}, false, true
		}
	case tomltree.KindArray:
		t.Errorf(one, "wrong-type", fmt.Sprintf("write %s = [...] for a choice", many),
			"%s in %s is one part, not a list", one, t.Name())
	default:
		id, ok := t.String(one)
		if !ok {
			break
		}
		if catalog.IsPattern(id) && !strings.HasPrefix(id, filePrefix) {
			t.Errorf(one, "part-pattern", fmt.Sprintf("write %s = [%q] for a choice", many, id),
				"%s in %s is one part, %q stands for several", one, t.Name(), id)
			break
		}
		if p := r.part(t, n, kind, id); p != nil {
			return []option{{id, p}}, false, true
		}
	}
	return nil, false, true
}

// choice reads a list of ids, patterns and file: paths, without repeats, patterns in the order of the ids.
func (r *reader) choice(t *tomltree.Table, kind partfile.Kind, key string) []option {
	ids, nodes, ok := t.Strings(key)
	if ok && len(ids) == 0 {
		t.Errorf(key, "empty-list", "list at least one part", "%s in %s is empty", key, t.Name())
	}
	var options []option
	seen := map[string]bool{}
	take := func(n *tomltree.Node, id string) {
		if seen[id] {
			return
		}
		seen[id] = true
		if p := r.part(t, n, kind, id); p != nil {
			options = append(options, option{id, p})
		}
	}
	for i, id := range ids {
		if strings.HasPrefix(id, filePrefix) || !catalog.IsPattern(id) {
			take(nodes[i], id)
			continue
		}
		matches := r.lib.Glob(kind, id)
		if len(matches) == 0 {
			t.ErrorAtf(nodes[i], "part-missing", "`carryover catalog list` shows the ids",
				"no %s in the catalogue matches %q", kind, id)
		}
		for _, m := range matches {
			take(nodes[i], m)
		}
	}
	return options
}

// part finds a part by id or file: path; nil when it has been reported.
func (r *reader) part(t *tomltree.Table, n *tomltree.Node, kind partfile.Kind, id string) *partfile.Part {
	name, isFile := strings.CutPrefix(id, filePrefix)
	if !isFile {
		p, err := r.lib.Lookup(kind, id)
		var missing *catalog.MissingError
		switch {
		case errors.As(err, &missing):
			t.ErrorAtf(n, "part-missing", missing.Hint, "%v", err)
		case err != nil:
			t.ErrorAtf(n, "part-broken", "", "part %q cannot be used: %v", id, err)
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
	note := diag.Note{Span: n.Span, Line: n.Line, Text: "the part is used here"}
	for _, d := range problems {
		d.Related = append(d.Related, note)
		*r.problems = append(*r.problems, d)
	}
	if p != nil && p.Kind != kind {
		t.ErrorAtf(n, "part-kind", fmt.Sprintf("put a part file of kind = %q here", kind.String()),
			"%s is a %s, and this is the place of a %s", shown, p.Kind, kind)
		return nil
	}
	return p
}

// fill turns options into a slot; parts that could not be read, reported already, are left out.
func fill[T any](options []option, open bool, shape func(*partfile.Part) *T) bike.Slot[T] {
	s := bike.Slot[T]{Open: open}
	for _, o := range options {
		if p := shape(o.part); p != nil {
			name := o.part.Name
			if name == "" {
				name = o.id
			}
			s.Options = append(s.Options, bike.Option[T]{ID: o.id, Name: name, Price: o.part.Price, Sigma: o.part.Sigma, Part: p})
		}
	}
	return s
}

// single is the one part of a slot that is not open, nil otherwise.
func single[T any](s bike.Slot[T]) *T {
	if s.Open {
		return nil
	}
	return s.Only()
}
