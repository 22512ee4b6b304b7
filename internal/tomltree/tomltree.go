// Package tomltree reads TOML strictly and remembers where everything stands, so that any later complaint can point
// at the very characters. BurntSushi/toml decides what is valid and decodes every value; the scanner here adds only
// the places. On top of the tree, Table reads keys by type and collects all problems instead of the first.
package tomltree

import (
	"fmt"
	"strings"
	"time"

	"github.com/BurntSushi/toml"

	"carryover/internal/diag"
)

// Kind is the type of a TOML value. The zero value is invalid.
type Kind int

// The kinds of TOML values.
const (
	KindTable Kind = iota + 1
	KindArray
	KindString
	KindInteger
	KindFloat
	KindBool
	KindDatetime
)

// Node is one value of the document.
type Node struct {
	Kind    Kind
	Key     string    // "" for the root and for elements of arrays
	KeySpan diag.Span // of the key that introduced it; zero for the root and for elements of arrays
	Span    diag.Span // of the value; of the [header] for tables that have one
	Line    string    // the source line on which Span starts

	Str   string  // the decoded text of a String, the literal as written of every other scalar
	Float float64 // of an integer too
	Bool  bool

	Children []*Node // of a Table in file order, of an Array its elements

	index    map[string]*Node // of a Table
	implicit bool             // a table that exists only because a dotted key or header runs through it
	headers  bool             // an Array made of [[headers]]
}

// Get is the child of a table with exactly this key, or nil.
func (n *Node) Get(key string) *Node { return n.index[key] }

// Find is the value at a path like "saddle.part", or nil.
func (n *Node) Find(path string) *Node {
	for _, key := range strings.Split(path, ".") {
		if n = n.Get(key); n == nil {
			return nil
		}
	}
	return n
}

// Headers reports whether the value is a list made of [[headers]].
func (n *Node) Headers() bool { return n.headers }

func (n *Node) add(child *Node) {
	if n.index == nil {
		n.index = make(map[string]*Node)
	}
	n.index[child.Key] = child
	n.Children = append(n.Children, child)
}

// Limits that keep hostile files cheap.
const (
	MaxBytes = 1 << 20 // size of a file
	MaxDepth = 64      // brackets inside brackets, or parts of a dotted key
)

// Parse reads a document. file is only for messages. The result is nil exactly when the list holds an error. A UTF-8
// byte order mark and CRLF line ends are accepted; columns count from after the mark.
func Parse(file string, src []byte) (*Node, diag.List) {
	if len(src) > MaxBytes {
		return nil, tooLarge(file, int64(len(src)))
	}
	text := strings.TrimPrefix(string(src), "\ufeff")
	if problems := checkBytes(file, text); problems != nil {
		return nil, problems
	}
	if problems := checkDepth(file, text); problems != nil {
		return nil, problems
	}
	values, err := decode(text)
	if err != nil {
		return nil, syntaxProblem(file, text, err)
	}
	s := newScanner(file, text)
	root := s.document()
	if s.repeated != nil {
		return nil, s.repeated
	}
	if !fill(root, values) {
		return nil, wholeFile(file, "toml-shape", "the file gives a key in two ways that do not fit together", "")
	}
	return root, nil
}

// decode turns a panic of the decoder, which it reserves for its own faults, into an error.
func decode(text string) (values map[string]any, err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("the decoder gave up: %v", r)
		}
	}()
	_, err = toml.Decode(text, &values)
	return values, err
}

// fill copies the decoded values into the scanned tree and reports whether the two have the same shape.
func fill(n *Node, value any) bool {
	switch v := value.(type) {
	case map[string]any:
		if n.Kind != KindTable || len(v) != len(n.Children) {
			return false
		}
		for _, c := range n.Children {
			child, ok := v[c.Key]
			if !ok || !fill(c, child) {
				return false
			}
		}
		return true
	case []map[string]any:
		return fillElements(n, v)
	case []any:
		return fillElements(n, v)
	case string:
		n.Str = v
		return n.Kind == KindString
	}
	if n.Kind != 0 { // the scanner leaves the kind of every other scalar open
		return false
	}
	switch v := value.(type) {
	case int64:
		n.Kind, n.Float = KindInteger, float64(v)
	case float64:
		n.Kind, n.Float = KindFloat, v
	case bool:
		n.Kind, n.Bool = KindBool, v
	case time.Time:
		n.Kind = KindDatetime
	default:
		return false
	}
	return true
}

func fillElements[T any](n *Node, values []T) bool {
	if n.Kind != KindArray || len(values) != len(n.Children) {
		return false
	}
	for i, v := range values {
		if !fill(n.Children[i], v) {
			return false
		}
	}
	return true
}

// ShowKey is a key as it is written in a message: bare where TOML allows that.
func ShowKey(key string) string {
	if bare(key) {
		return Shorten(key)
	}
	return fmt.Sprintf("%q", Shorten(key))
}

// bare reports whether a key needs no quotes.
func bare(key string) bool {
	return key != "" && !strings.ContainsFunc(key, func(r rune) bool { return !isBare(r) })
}

func isBare(r rune) bool {
	return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '_' || r == '-'
}

// Shorten keeps texts from a file from flooding a message.
func Shorten(s string) string {
	const most = 60
	n := 0
	for i := range s {
		if n == most {
			return s[:i] + "…"
		}
		n++
	}
	return s
}
