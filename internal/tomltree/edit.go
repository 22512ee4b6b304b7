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
	begun   map[*Node]int  // empty inline tables that have got a key: the change that fills them
	added   []*section     // tables that the document does not have
	gone    map[*Node]bool // what was taken out
}

// change replaces a stretch of the text.
type change struct {
	from, to int
	text     string
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
	e := &Edit{Root: root, src: string(src), ending: "\n", begun: map[*Node]int{}, gone: map[*Node]bool{}}
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
	i := strings.IndexByte(e.src[at:], '\n')
	if i < 0 {
		return len(e.src)
	}
	return at + len(strings.TrimSuffix(e.src[at:at+i], "\r"))
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
		e.intoBraces(t, line)
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
	for _, r := range key {
		if !isBare(r) {
			return Quote(key)
		}
	}
	return key
}

func (e *Edit) intoBraces(t *Node, line string) {
	if last := e.last(t); last != nil {
		at := e.offset(last.Span.End)
		e.put(at, at, ", "+line)
		return
	}
	i, begun := e.begun[t]
	if !begun {
		e.begun[t] = len(e.changes)
		e.Replace(t, "{ "+line+" }")
		return
	}
	e.changes[i].text = strings.TrimSuffix(e.changes[i].text, " }") + ", " + line + " }"
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

// Remove takes a key and its value out, with the lines that they stand on, and from above a header the comment that touches it.
func (e *Edit) Remove(n *Node) {
	e.gone[n] = true
	switch {
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
		from, to := e.offset(n.KeySpan.Start), e.offset(n.Span.End)
		line := e.lines[n.KeySpan.Start.Line-1]
		rest := strings.TrimSpace(e.src[to:e.lineEnd(to)])
		if lead := strings.TrimSpace(e.src[line:from]); !strings.ContainsAny(lead, "{,") && (rest == "" || rest[0] == '#') {
			e.lift(line, e.nextLine(to))
			return
		}
		if i := strings.LastIndexAny(e.src[:from], "{,"); e.src[i] == ',' { // with the comma before it, else the one behind
			from = i
		} else if strings.HasPrefix(rest, ",") {
			to += strings.IndexByte(e.src[to:], ',') + 1
		}
		e.put(from, to, "")
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
	slices.SortStableFunc(e.changes, func(a, b change) int { return a.from - b.from })
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
