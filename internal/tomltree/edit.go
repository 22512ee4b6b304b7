package tomltree

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"carryover/internal/diag"
)

// Edit changes the text of a document key by key; what is not changed, comments and order included, stays byte for byte.
type Edit struct {
	Root    *Node
	src     string
	lines   []int // byte offsets at which lines begin
	ending  string
	changes []change
	braces  []*braces       // inline tables that have got or lost a key
	above   map[*Node]*Node // the table or list that holds a value
	added   []*section      // tables that the document does not have
	gone    map[*Node]bool  // what was taken out
}

// change replaces a stretch of the text.
type change struct {
	from, to int
	text     string
}

// braces are what becomes of an inline table.
type braces struct {
	table *Node
	added []string
}

// section is a table that is added at the end.
type section struct {
	header string
	lines  []string
}

// NewEdit reads the document that is to be changed. It is nil exactly when the list holds an error.
func NewEdit(file string, src []byte) (*Edit, diag.List) {
	root, problems := Parse(file, src)
	if root == nil {
		return nil, problems
	}
	e := &Edit{Root: root, src: string(src), ending: "\n", above: map[*Node]*Node{}, gone: map[*Node]bool{}}
	e.hold(root)
	first := 0
	if strings.HasPrefix(e.src, "\ufeff") {
		first = len("\ufeff")
	}
	e.lines = []int{first}
	for i, c := range src {
		if c == '\n' {
			e.lines = append(e.lines, i+1)
		}
	}
	if strings.Contains(e.src, "\r\n") {
		e.ending = "\r\n"
	}
	return e, nil
}

func (e *Edit) hold(n *Node) {
	for _, c := range n.Children {
		e.above[c] = n
		e.hold(c)
	}
}

// offset is the byte offset of a place; columns count characters.
func (e *Edit) offset(p diag.Pos) int {
	at := e.lines[p.Line-1]
	for range p.Col - 1 {
		_, n := utf8.DecodeRuneInString(e.src[at:])
		at += n
	}
	return at
}

func (e *Edit) put(from, to int, text string) { e.changes = append(e.changes, change{from, to, text}) }

// Replace writes another value in the place of one.
func (e *Edit) Replace(n *Node, value string) {
	e.put(e.offset(n.Span.Start), e.offset(n.Span.End), value)
}

// Text is a value as it is written.
func (e *Edit) Text(n *Node) string { return e.src[e.offset(n.Span.Start):e.offset(n.Span.End)] }

// Rename gives a value another key.
func (e *Edit) Rename(n *Node, key string) {
	e.put(e.offset(n.KeySpan.Start), e.offset(n.KeySpan.End), key)
}

// Note puts a comment behind a value, before the one that stands there; inside of other brackets there is no room for it.
func (e *Edit) Note(n *Node, note string) {
	at := e.offset(n.Span.End)
	switch rest := e.src[at:e.lineEnd(at)]; {
	case strings.TrimSpace(rest) == "":
		e.put(at, at, " # "+note)
	case strings.HasPrefix(strings.TrimSpace(rest), "#"):
		at += strings.IndexByte(rest, '#')
		e.put(at, at+len("#"), "# "+note+";")
	}
}

// lineEnd is where the line of a place ends, before its line break.
func (e *Edit) lineEnd(at int) int {
	line, _, _ := strings.Cut(e.src[at:], "\n")
	return at + len(strings.TrimSuffix(line, "\r"))
}

// Set writes a key of the table at a path, or of the document itself, whether it is there or not; note is a comment behind it.
// What is there as an inline table or under a header of its own is replaced whole.
func (e *Edit) Set(key, value, note string, path ...string) {
	t := e.Root
	for _, name := range path {
		if t != nil {
			t = t.Get(name)
		}
	}
	line := bareOrQuoted(key) + " = " + value
	if t != nil && t.Get(key) != nil && !e.gone[t.Get(key)] {
		switch n := t.Get(key); {
		case n.implicit && !e.Headed(n.Children[0]): // stem.spacers.max = 30
			if t.implicit {
				line = headerOf(path) + "." + line
			}
			first := n.Children[0]
			e.put(e.lines[first.KeySpan.Start.Line-1], e.offset(first.Span.End), line)
			for _, c := range n.Children[1:] {
				e.Remove(c)
			}
			return
		case !n.implicit && !e.Headed(n):
			e.Replace(n, value)
			if note != "" {
				e.Note(n, note)
			}
			return
		default:
			e.Remove(n)
		}
	}
	if t != nil && e.braced(t) {
		b := e.within(t)
		b.added = append(b.added, line)
		return
	}
	if note != "" {
		line = fmt.Sprintf("%-24s # %s", line, note)
	}
	after, prefix := e.last(t), ""
	switch {
	case t == e.Root:
		after = cmp.Or(t.Get("name"), t.Get("schema"))
	case t == nil, after == nil && t.implicit:
		e.append(path, line)
		return
	case t.implicit: // feet.crank = 170
		prefix = headerOf(path) + "."
	case after == nil:
		after = t // its header
	}
	at := e.lineEnd(e.offset(after.Span.End))
	e.put(at, at, e.ending+prefix+line)
}

// headerOf is the path as a header or a dotted key has it.
func headerOf(path []string) string {
	parts := make([]string, len(path))
	for i, name := range path {
		parts[i] = bareOrQuoted(name)
	}
	return strings.Join(parts, ".")
}

func bareOrQuoted(key string) string {
	if bare(key) {
		return key
	}
	return Quote(key)
}

// within is what becomes of an inline table.
func (e *Edit) within(t *Node) *braces {
	i := slices.IndexFunc(e.braces, func(b *braces) bool { return b.table == t })
	if i < 0 {
		i, e.braces = len(e.braces), append(e.braces, &braces{table: t})
	}
	return e.braces[i]
}

// write changes an inline table: what is gone goes with the comma before it, or behind it where nothing is left before it.
func (b *braces) write(e *Edit) {
	var kept *Node
	for i, n := range b.table.Children {
		switch {
		case !e.gone[n]:
			kept = n
		case kept != nil:
			e.put(e.end(b.table.Children[i-1]), e.end(n), "")
		case i+1 < len(b.table.Children):
			e.put(e.offset(n.KeySpan.Start), e.offset(b.table.Children[i+1].KeySpan.Start), "")
		}
	}
	line := strings.Join(b.added, ", ")
	switch {
	case kept == nil && line == "":
		e.put(e.offset(b.table.Span.Start), e.offset(b.table.Span.End), "{}")
	case kept == nil:
		e.put(e.offset(b.table.Span.Start), e.offset(b.table.Span.End), "{ "+line+" }")
	case line != "":
		e.put(e.end(kept), e.end(kept), ", "+line)
	}
}

// end is where a value ends, that of a dotted key with the last of its values.
func (e *Edit) end(n *Node) int {
	for n.implicit {
		n = n.Children[len(n.Children)-1]
	}
	return e.offset(n.Span.End)
}

// last is the value of a table that stands last among those that no header of their own begins; nil: there is none.
func (e *Edit) last(t *Node) (last *Node) {
	if t == nil {
		return nil
	}
	for _, n := range t.Children {
		for n.implicit && len(n.Children) > 0 {
			n = n.Children[len(n.Children)-1]
		}
		if e.Headed(n) || e.gone[n] {
			continue
		}
		if last == nil || e.offset(n.Span.End) > e.offset(last.Span.End) {
			last = n
		}
	}
	return last
}

// Headed reports whether a value is begun by a [header], braced whether it is an inline table.
func (e *Edit) Headed(n *Node) bool { return n.headers || n.Kind == KindTable && e.opens(n, '[') }
func (e *Edit) braced(n *Node) bool { return n.Kind == KindTable && n != e.Root && e.opens(n, '{') }

func (e *Edit) opens(n *Node, bracket byte) bool {
	return !n.implicit && e.src[e.offset(n.Span.Start)] == bracket
}

func (e *Edit) append(path []string, line string) {
	header := "[" + headerOf(path) + "]"
	for _, s := range e.added {
		if s.header == header {
			s.lines = append(s.lines, line)
			return
		}
	}
	e.added = append(e.added, &section{header, []string{line}})
}

// Remove takes a key and its value out, with the lines that they stand on, and from above a header the comment that touches it;
// of an inline table only what stands between its commas.
func (e *Edit) Remove(n *Node) {
	e.gone[n] = true
	switch {
	case e.above[n] != nil && e.braced(e.above[n]):
		e.within(e.above[n])
	case n.headers, n.implicit:
		for _, c := range n.Children {
			e.Remove(c)
		}
	case e.Headed(n):
		from := e.lines[n.Span.Start.Line-1]
		for from > e.lines[0] {
			above := e.lines[e.lineOf(from)-1]
			if !strings.HasPrefix(strings.TrimSpace(e.src[above:from]), "#") {
				break
			}
			from = above
		}
		to := n
		if last := e.last(n); last != nil {
			to = last
		}
		e.lift(from, e.nextLine(e.offset(to.Span.End)))
		for _, c := range n.Children {
			if e.Headed(c) {
				e.Remove(c)
			}
		}
	default:
		e.lift(e.lines[n.KeySpan.Start.Line-1], e.nextLine(e.offset(n.Span.End)))
	}
}

// lift takes whole lines out, and one empty line behind them.
func (e *Edit) lift(from, to int) {
	if end := e.nextLine(to); to < len(e.src) && strings.TrimSpace(e.src[to:end]) == "" {
		to = end
	}
	e.put(from, to, "")
}

func (e *Edit) nextLine(at int) int {
	if i := strings.IndexByte(e.src[at:], '\n'); i >= 0 {
		return at + i + 1
	}
	return len(e.src)
}

// lineOf counts the lines before a place.
func (e *Edit) lineOf(at int) int {
	i, _ := slices.BinarySearch(e.lines, at)
	return i
}

// Bytes is the text with all changes made, and with more at its end: tables that were not there, then lines of the caller's own.
func (e *Edit) Bytes(more ...string) []byte {
	for _, b := range e.braces {
		b.write(e)
	}
	line := func(c change) int { return strings.Count(c.text[:min(len(e.ending), len(c.text))], "\n") }
	slices.SortStableFunc(e.changes, func(a, b change) int { // a comment goes behind its value, before a line that is put in there
		return cmp.Or(a.from-b.from, line(a)-line(b))
	})
	var out strings.Builder
	at := 0
	for _, c := range e.changes {
		if c.from < at { // within lines that were taken out: a line of its own takes their place
			if line, own := strings.CutPrefix(c.text, e.ending); own && c.from == c.to {
				out.WriteString(line + e.ending)
			}
			continue
		}
		out.WriteString(e.src[at:c.from] + c.text)
		at = c.to
	}
	text := out.String() + e.src[at:]
	if len(e.added)+len(more) > 0 {
		text = strings.TrimRight(text, "\r\n") + e.ending
	}
	for _, s := range e.added {
		text += e.ending + s.header + e.ending + strings.Join(s.lines, e.ending) + e.ending
	}
	for _, line := range more {
		text += line + e.ending
	}
	return []byte(text)
}
