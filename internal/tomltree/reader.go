package tomltree

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"carryover/internal/diag"
)

// Table is a view on a table of the document that reads keys by type. It adds every problem to one list, remembers
// which keys were asked for, and at the end reports all others as unknown. Reading a key that is absent is silent
// (ok is false); Require reports it.
type Table struct {
	node     *Node
	name     string
	inList   bool // lies in an element of a [[list]]
	problems *diag.List
	asked    []string // in the order of asking
	tables   map[string][]*Table
}

// NewTable is a reader on the root of a document that adds its findings to problems.
func NewTable(root *Node, problems *diag.List) *Table {
	return &Table{node: root, problems: problems, tables: make(map[string][]*Table)}
}

// Name is how messages call the table: "[saddle]", "[[adjuster]] 2", "rail in [[adjuster]] 2", "the file".
func (t *Table) Name() string {
	if t.name == "" {
		return "the file"
	}
	if t.inList {
		return t.name
	}
	return "[" + t.name + "]"
}

// Has reports whether the key is present.
func (t *Table) Has(key string) bool { return t.Node(key) != nil }

// Node is the value of the key, or nil.
func (t *Table) Node(key string) *Node {
	if !slices.Contains(t.asked, key) {
		t.asked = append(t.asked, key)
	}
	return t.node.Get(key)
}

// Keys are the keys present, in file order. Asking for them does not make them known.
func (t *Table) Keys() []string {
	keys := make([]string, len(t.node.Children))
	for i, c := range t.node.Children {
		keys[i] = c.Key
	}
	return keys
}

// Require reports a missing key at the table's header, and whether the key is there.
func (t *Table) Require(keys ...string) bool {
	all := true
	for _, key := range keys {
		if !t.Has(key) {
			t.report(nil, diag.Error, "missing-key", "", "missing key %q in %s", shorten(key), t.Name())
			all = false
		}
	}
	return all
}

// Errorf reports an error at the value of the key, or at the table's header when the key is absent or "".
func (t *Table) Errorf(key, code, detail, format string, args ...any) {
	t.report(t.node.Get(key), diag.Error, code, detail, format, args...)
}

// Warnf is Errorf for a warning.
func (t *Table) Warnf(key, code, detail, format string, args ...any) {
	t.report(t.node.Get(key), diag.Warning, code, detail, format, args...)
}

// ErrorAtf reports an error at a node of this document, an element of a list, say.
func (t *Table) ErrorAtf(n *Node, code, detail, format string, args ...any) {
	t.report(n, diag.Error, code, detail, format, args...)
}

func (t *Table) report(n *Node, severity diag.Severity, code, detail, format string, args ...any) {
	if n == nil {
		n = t.node
	}
	t.add(n.Span, n.Line, severity, code, detail, fmt.Sprintf(format, args...))
}

func (t *Table) add(span diag.Span, line string, severity diag.Severity, code, detail, summary string) {
	*t.problems = append(*t.problems, diag.Diagnostic{
		Code: code, Severity: severity, Summary: summary, Detail: detail, Span: &span, Line: line,
	})
}

// where names the key for a message: "tilt in [saddle]".
func (t *Table) where(key string) string {
	if t.name == "" {
		return showKey(key)
	}
	return showKey(key) + " in " + t.Name()
}

func (t *Table) wrongType(n *Node, what, want, detail string) {
	t.report(n, diag.Error, "wrong-type", detail, "%s must be %s, is %s", what, want, describe(n))
}

// describe is the kind of a value, with the value where that is short.
func describe(n *Node) string {
	switch n.Kind {
	case KindString:
		return fmt.Sprintf("text %q", shorten(n.Str))
	case KindInteger, KindFloat:
		return "the number " + shorten(n.Str)
	case KindDatetime:
		return "the date or time " + shorten(n.Str)
	case KindBool:
		return n.Str
	}
	return n.Kind.String()
}

// Float is a number; whole numbers are numbers too. Numbers that are not finite and numbers that break a rule are
// reported and not ok.
func (t *Table) Float(key string, rules ...Rule) (float64, bool) {
	n := t.Node(key)
	if n == nil {
		return 0, false
	}
	return t.number(n, t.where(key), rules)
}

func (t *Table) number(n *Node, what string, rules []Rule) (float64, bool) {
	v := n.Float
	switch n.Kind {
	case KindInteger:
		v = float64(n.Int)
	case KindFloat:
	default:
		t.wrongType(n, what, "a number", mendNumber(n))
		return 0, false
	}
	if math.IsNaN(v) || math.IsInf(v, 0) {
		t.report(n, diag.Error, "not-finite", "", "%s must be an ordinary number, is %s", what, n.Str)
		return 0, false
	}
	for _, r := range rules {
		if !r.holds(v) {
			detail := ""
			if r.mend != nil {
				detail = r.mend(v, shorten(n.Str))
			}
			t.report(n, diag.Error, r.code, detail, "%s must be %s, is %s", what, r.want, shorten(n.Str))
			return 0, false
		}
	}
	return v, true
}

// mendNumber guesses the number that was meant by a text.
func mendNumber(n *Node) string {
	if n.Kind != KindString {
		return ""
	}
	text := strings.TrimSpace(strings.Replace(n.Str, ",", ".", 1))
	if _, err := strconv.ParseFloat(text, 64); err == nil && len(text) < 20 {
		return "write it without quotes: " + text
	}
	for _, unit := range []string{"mm", "°", "deg"} {
		bare := strings.TrimSpace(strings.TrimSuffix(text, unit))
		if _, err := strconv.ParseFloat(bare, 64); err == nil && len(bare) < 20 {
			return "write the number alone: " + bare
		}
	}
	return ""
}

// Int is a whole number.
func (t *Table) Int(key string, rules ...Rule) (int, bool) {
	n := t.Node(key)
	if n == nil {
		return 0, false
	}
	if n.Kind != KindInteger {
		detail := ""
		if n.Kind == KindFloat && n.Float == math.Trunc(n.Float) && math.Abs(n.Float) < 1e15 {
			detail = "write " + strconv.FormatFloat(n.Float, 'f', 0, 64)
		}
		t.wrongType(n, t.where(key), "a whole number", detail)
		return 0, false
	}
	if _, ok := t.number(n, t.where(key), rules); !ok {
		return 0, false
	}
	return int(n.Int), true
}

// String is a text.
func (t *Table) String(key string) (string, bool) {
	n := t.Node(key)
	if n == nil {
		return "", false
	}
	return t.text(n, t.where(key))
}

func (t *Table) text(n *Node, what string) (string, bool) {
	if n.Kind != KindString {
		detail := ""
		if n.Kind != KindArray && n.Kind != KindTable {
			detail = fmt.Sprintf("put it in quotes: %q", shorten(n.Str))
		}
		t.wrongType(n, what, "text", detail)
		return "", false
	}
	return n.Str, true
}

// OneOf is a text out of a few choices.
func (t *Table) OneOf(key string, choices ...string) (string, bool) {
	s, ok := t.String(key)
	if !ok || slices.Contains(choices, s) {
		return s, ok
	}
	detail := ""
	if near, found := diag.Suggest(s, choices); found {
		detail = fmt.Sprintf("did you mean %q?", near)
	}
	t.Errorf(key, "value-choice", detail, "%s must be %s, is %q", t.where(key), alternatives(choices), shorten(s))
	return "", false
}

// alternatives is `"a", "b" or "c"`.
func alternatives(choices []string) string {
	var b strings.Builder
	for i, c := range choices {
		switch {
		case i == 0:
		case i == len(choices)-1:
			b.WriteString(" or ")
		default:
			b.WriteString(", ")
		}
		b.WriteString(strconv.Quote(c))
	}
	return b.String()
}

// Bool is true or false.
func (t *Table) Bool(key string) (value, ok bool) {
	n := t.Node(key)
	if n == nil {
		return false, false
	}
	if n.Kind != KindBool {
		detail := ""
		if n.Kind == KindString && (n.Str == "true" || n.Str == "false") {
			detail = "write it without quotes: " + n.Str
		}
		t.wrongType(n, t.where(key), "true or false", detail)
		return false, false
	}
	return n.Bool, true
}

// Finish reports every key that was never asked for, here and in all tables read from here.
func (t *Table) Finish() {
	var absent []string
	for _, key := range t.asked {
		if t.node.Get(key) == nil {
			absent = append(absent, key)
		}
	}
	for _, c := range t.node.Children {
		if !slices.Contains(t.asked, c.Key) {
			t.unknown(c, absent)
			continue
		}
		for _, sub := range t.tables[c.Key] {
			sub.Finish()
		}
	}
}

func (t *Table) unknown(n *Node, absent []string) {
	const most = 16 // keys that still read as a list
	detail := ""
	if near, found := diag.Suggest(n.Key, absent); found {
		detail = fmt.Sprintf("did you mean %q?", near)
	} else if len(t.asked) > 0 && len(t.asked) <= most {
		detail = "known here: " + strings.Join(t.asked, ", ")
	}
	noun := "key"
	if n.Kind == KindTable || n.headers {
		noun = "table"
	}
	t.add(n.KeySpan, n.Line, diag.Error, "unknown-key", detail,
		fmt.Sprintf("unknown %s %q in %s", noun, shorten(n.Key), t.Name()))
}
