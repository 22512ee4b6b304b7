// Package diag is the one shape of everything a user can mend: what is wrong, how to mend it, and the exact place
// in the file. It renders such findings so that no file content can write to the terminal.
package diag

import (
	"cmp"
	"encoding/json"
	"slices"
	"strings"
)

// Severity says whether a finding stops the work. The zero value is invalid.
type Severity int

// The two severities.
const (
	Error Severity = iota + 1
	Warning
)

// String is the word printed in front of the summary.
func (s Severity) String() string {
	switch s {
	case Error:
		return "error"
	case Warning:
		return "warning"
	}
	return "invalid severity"
}

// Pos is a place in a file. Line and Col count from 1; Col counts characters (runes), not bytes. The zero Pos
// means that only the file is known.
type Pos struct{ Line, Col int }

// Span is a stretch of a file. End is exclusive and may lie on a later line than Start.
type Span struct {
	File       string
	Start, End Pos
}

// Note is another place that took part in a finding.
type Note struct {
	Span Span
	Line string // the source line at Span.Start, "" if unknown
	Text string // one line, lower case, no full stop
}

// Diagnostic is one finding.
type Diagnostic struct {
	Code     string // stable, kebab-case: "unknown-key"
	Severity Severity
	Summary  string // one line, lower case, no full stop
	Detail   string // how to mend it, one line, lower case; may be empty
	Span     *Span  // nil when the cause lies in no file
	Line     string // the source line at Span.Start, "" if unknown
	Related  []Note
}

// MarshalJSON writes a finding. Line and column count from 1; 0: the file as a whole.
func (d Diagnostic) MarshalJSON() ([]byte, error) {
	at := d.span()
	return json.Marshal(struct {
		Severity string `json:"severity"`
		Code     string `json:"code"`
		File     string `json:"file"`
		Line     int    `json:"line"`
		Column   int    `json:"column"`
		Text     string `json:"text"`
		Mend     string `json:"mend"`
	}{d.Severity.String(), d.Code, at.File, at.Start.Line, at.Start.Col, d.Summary, d.Detail})
}

// List collects findings. It is an error; use Err to get a nil error when there are none.
type List []Diagnostic

// maxInError is how many findings Error and the default of Render print.
const maxInError = 20

// Error is the plain text of at most 20 findings, without colour and without a final newline.
func (l List) Error() string {
	var b strings.Builder
	_ = Render(&b, l, Options{}) // a strings.Builder takes every write
	return strings.TrimSuffix(b.String(), "\n")
}

// HasErrors reports whether any finding is an Error.
func (l List) HasErrors() bool {
	return slices.ContainsFunc(l, func(d Diagnostic) bool { return d.Severity == Error })
}

// Err is the list as an error, warnings included, or nil when it holds no Error.
func (l List) Err() error {
	if !l.HasErrors() {
		return nil
	}
	return l
}

// Sort orders the list by file, line, column, code and text, and drops repeats. Findings without a file come first.
func (l *List) Sort() {
	slices.SortStableFunc(*l, compare)
	*l = slices.CompactFunc(*l, func(a, b Diagnostic) bool {
		return compare(a, b) == 0 && a.Severity == b.Severity
	})
}

func compare(a, b Diagnostic) int {
	sa, sb := a.span(), b.span()
	return cmp.Or(
		strings.Compare(sa.File, sb.File),
		cmp.Compare(sa.Start.Line, sb.Start.Line),
		cmp.Compare(sa.Start.Col, sb.Start.Col),
		strings.Compare(a.Code, b.Code),
		strings.Compare(a.Summary, b.Summary),
		strings.Compare(a.Detail, b.Detail),
	)
}

func (d Diagnostic) span() Span {
	if d.Span == nil {
		return Span{}
	}
	return *d.Span
}
