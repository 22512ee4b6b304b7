package format

import (
	"bytes"

	"carryover/internal/diag"
	"carryover/internal/tomltree"
)

// Document reads a file of a sort: Open on what is parsed, but a file of another sort, or no TOML at all, is told in one
// sentence. The table is nil when nothing of the file can be used.
func Document(name string, src []byte, k *Key, problems *diag.List, odd bool) *Table {
	root, list := tomltree.Parse(name, src)
	expected := "; " + k.About + " file is expected"
	if root == nil {
		p := &list[0]
		switch {
		case bytes.IndexByte(src, 0) >= 0:
			p.Summary, p.Detail = "this is no text"+expected, ""
		case len(src) <= tomltree.MaxBytes && !bytes.Contains(src, []byte("=")):
			p.Summary, p.Detail = "this is no TOML, which says key = value line by line"+expected, ""
		}
		*problems = append(*problems, list...)
		return nil
	}
	if other, n := another(root, k); n != nil {
		*problems = append(*problems, diag.Diagnostic{Code: "file-type", Severity: diag.Error, Span: &n.Span, Line: n.Line,
			Summary: "this is " + other.About + " file" + expected, Detail: other.How})
		return nil
	}
	return Open(root, k, problems, odd)
}

// another is the sort that a document is of instead, with what gives it away; nil: it may be of this sort.
func another(root *tomltree.Node, k *Key) (*Key, *tomltree.Node) {
	if own(root, k) != nil {
		return nil, nil
	}
	for _, other := range []*Key{&Bike, &Part, &Rider} {
		if n := own(root, other); n != nil {
			return other, n
		}
	}
	return nil, nil
}

// Is reports whether a text may be meant as a file of a sort: one that is plainly of another is not.
func Is(k *Key, src []byte) bool {
	root, _ := tomltree.Parse("", src)
	if root == nil {
		return true
	}
	_, n := another(root, k)
	return n == nil
}

// own is the first value of a document under a key that only this sort of file has; nil when there is none.
func own(root *tomltree.Node, k *Key) *tomltree.Node {
	for _, key := range k.Keys[len(record()):] {
		if n := root.Get(key.Name); n != nil {
			return n
		}
	}
	return nil
}
