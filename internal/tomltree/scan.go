package tomltree

import (
	"strings"
	"unicode/utf8"

	"github.com/BurntSushi/toml"

	"carryover/internal/diag"
)

// scanner walks a document that is known to be valid and notes where things stand.
type scanner struct {
	file      string
	text      string
	off       int // byte offset of pos
	lineStart int // byte offset of pos's line
	lineEnd   int // of the line last asked for; searching anew for every value of a huge line would take seconds
	pos       diag.Pos
	repeated  diag.List // the first key given twice that the decoder let pass; it drops one of the values
}

func newScanner(file, text string) *scanner {
	return &scanner{file: file, text: text, pos: diag.Pos{Line: 1, Col: 1}}
}

// advance moves over n bytes, which must be whole characters.
func (s *scanner) advance(n int) {
	end := min(s.off+n, len(s.text))
	for s.off < end {
		_, size := utf8.DecodeRuneInString(s.text[s.off:])
		s.off += size
		s.pos.Col++
		if s.text[s.off-size] == '\n' {
			s.pos = diag.Pos{Line: s.pos.Line + 1, Col: 1}
			s.lineStart = s.off
		}
	}
}

// line is the current source line without its end.
func (s *scanner) line() string {
	if s.lineEnd <= s.lineStart || s.lineEnd < s.off {
		s.lineEnd = len(s.text)
		if i := strings.IndexByte(s.text[s.lineStart:], '\n'); i >= 0 {
			s.lineEnd = s.lineStart + i
		}
	}
	return strings.TrimSuffix(s.text[s.lineStart:s.lineEnd], "\r")
}

func (s *scanner) peek() byte {
	if s.off >= len(s.text) {
		return 0
	}
	return s.text[s.off]
}

func (s *scanner) spanFrom(start diag.Pos) diag.Span {
	return diag.Span{File: s.file, Start: start, End: s.pos}
}

// spaces skips blanks on the line, blanksAndComments line ends and comments too.
func (s *scanner) spaces() {
	for s.peek() == ' ' || s.peek() == '\t' {
		s.advance(1)
	}
}

func (s *scanner) blanksAndComments() {
	for {
		switch s.peek() {
		case ' ', '\t', '\r', '\n':
			s.advance(1)
		case '#':
			n := strings.IndexByte(s.text[s.off:], '\n')
			if n < 0 {
				n = len(s.text) - s.off
			}
			s.advance(n)
		default:
			return
		}
	}
}

// document scans everything.
func (s *scanner) document() *Node {
	root := &Node{Kind: KindTable, Span: s.spanFrom(s.pos), Line: s.line()}
	current := root
	for s.blanksAndComments(); s.off < len(s.text) && s.repeated == nil; s.blanksAndComments() {
		if s.peek() == '[' {
			current = s.header(root)
		} else {
			s.keyValue(current)
		}
	}
	return root
}

// header scans [a.b] or [[a.b]] and is the table that the following keys belong to.
func (s *scanner) header(root *Node) *Node {
	start, line := s.pos, s.line()
	repeated := strings.HasPrefix(s.text[s.off:], "[[")
	brackets := 1
	if repeated {
		brackets = 2
	}
	s.advance(brackets)
	parts := s.keyParts()
	s.advance(brackets)
	span := s.spanFrom(start)

	parent := s.descend(root, parts[:len(parts)-1], span, line)
	last := parts[len(parts)-1]
	old := parent.Get(last.key)
	switch {
	case repeated:
		if old == nil {
			old = &Node{Kind: KindArray, Key: last.key, KeySpan: last.span, Span: span, Line: line, headers: true}
			parent.add(old)
		}
		element := &Node{Kind: KindTable, Span: span, Line: line}
		if !old.headers {
			s.twice(last.key, span, line, old)
		}
		old.Children = append(old.Children, element)
		return element
	case old == nil:
		old = &Node{Kind: KindTable, Key: last.key}
		parent.add(old)
	case !old.implicit:
		s.twice(last.key, span, line, old)
	}
	old.KeySpan, old.Span, old.Line, old.implicit = last.span, span, line, false
	return old
}

// keyValue scans key = value into the table.
func (s *scanner) keyValue(table *Node) {
	line := s.line()
	parts := s.keyParts()
	s.advance(1) // the equals sign
	s.spaces()
	last := parts[len(parts)-1]
	parent := s.descend(table, parts[:len(parts)-1], last.span, line)
	n := s.value()
	n.Key, n.KeySpan = last.key, last.span
	if old := parent.Get(n.Key); old != nil {
		s.twice(n.Key, n.KeySpan, line, old)
	}
	parent.add(n)
}

// descend follows the parts from table, making implicit tables where there are none.
func (s *scanner) descend(table *Node, parts []keyPart, span diag.Span, line string) *Node {
	for _, part := range parts {
		next := table.Get(part.key)
		if next == nil {
			next = &Node{
				Kind: KindTable, Key: part.key, KeySpan: part.span, Span: span, Line: line, implicit: true,
			}
			table.add(next)
		}
		if next.headers {
			next = next.Children[len(next.Children)-1]
		}
		if next.Kind != KindTable {
			s.twice(part.key, part.span, line, next)
			next = &Node{Kind: KindTable}
		}
		table = next
	}
	return table
}

// twice keeps the first repetition found.
func (s *scanner) twice(key string, span diag.Span, line string, first *Node) {
	if s.repeated == nil {
		s.repeated = givenTwice(ShowKey(key), span, line, first)
	}
}

// givenTwice is the complaint about a repeated key; first may be nil when it is not known.
func givenTwice(what string, span diag.Span, line string, first *Node) diag.List {
	d := diag.Diagnostic{
		Code: "toml-duplicate", Severity: diag.Error, Span: &span, Line: line,
		Summary: what + " is given twice", Detail: "keep one of the two",
	}
	if first != nil {
		note := diag.Note{Span: first.Span, Line: first.Line, Text: "first given here"}
		if first.KeySpan.File != "" {
			note.Span = first.KeySpan
		}
		d.Related = []diag.Note{note}
	}
	return diag.List{d}
}

type keyPart struct {
	key  string
	span diag.Span
}

// keyParts scans a possibly dotted key and the blanks behind it.
func (s *scanner) keyParts() []keyPart {
	var parts []keyPart
	for {
		s.spaces()
		start, from := s.pos, s.off
		if c := s.peek(); c == '"' || c == '\'' {
			s.advance(skipString(s.text, s.off) - s.off)
		} else {
			for isBare(rune(s.peek())) {
				s.advance(1)
			}
		}
		parts = append(parts, keyPart{unquote(s.text[from:s.off]), s.spanFrom(start)})
		s.spaces()
		if s.peek() != '.' {
			return parts
		}
		s.advance(1)
	}
}

// unquote decodes one part of a key.
func unquote(literal string) string {
	switch {
	case !strings.HasPrefix(literal, `"`) && !strings.HasPrefix(literal, "'"):
		return literal
	case !strings.Contains(literal, `\`):
		return literal[1 : len(literal)-1]
	}
	var v struct{ K string }
	_, _ = toml.Decode("K = "+literal, &v) // the literal has been decoded once already
	return v.K
}

// value scans a value of any kind.
func (s *scanner) value() *Node {
	start, from := s.pos, s.off
	n := &Node{Line: s.line()}
	switch s.peek() {
	case '"', '\'':
		n.Kind = KindString
		s.advance(skipString(s.text, s.off) - s.off)
	case '[':
		n.Kind = KindArray
		s.advance(1)
		for s.more(']') {
			n.Children = append(n.Children, s.value())
		}
	case '{':
		n.Kind = KindTable
		s.advance(1)
		for s.more('}') {
			s.keyValue(n)
		}
	default:
		length := strings.IndexAny(s.text[s.off:], ",]}#\r\n")
		if length < 0 {
			length = len(s.text) - s.off
		}
		n.Str = strings.TrimRight(s.text[s.off:s.off+length], " \t")
		s.advance(len(n.Str))
	}
	if s.off == from { // never in a valid document; without it a fault would loop
		s.advance(1)
	}
	n.Span = s.spanFrom(start)
	return n
}

// more moves to the next element and reports whether there is one; otherwise it takes the closing bracket.
func (s *scanner) more(closing byte) bool {
	s.blanksAndComments()
	if s.peek() == ',' {
		s.advance(1)
		s.blanksAndComments()
	}
	if s.peek() == closing || s.off >= len(s.text) {
		s.advance(1)
		return false
	}
	return true
}
