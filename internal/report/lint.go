package report

import "carryover/internal/diag"

// Lint is the outcome of `carryover catalog lint`, as JSON.
type Lint struct {
	Schema   int           `json:"schema"`
	Files    int           `json:"files"`
	Errors   int           `json:"errors"`
	Warnings int           `json:"warnings"`
	Findings []LintFinding `json:"findings"`
}

// LintFinding is one thing to mend in a file. Line and column count from 1, columns in characters; 0: the file as a whole.
type LintFinding struct {
	Severity string `json:"severity"`
	Code     string `json:"code"`
	File     string `json:"file"`
	Line     int    `json:"line"`
	Column   int    `json:"column"`
	Text     string `json:"text"`
	Mend     string `json:"mend"`
}

// NewLint counts and lists what was found in so many files.
func NewLint(files int, found diag.List) Lint {
	l := Lint{Schema: 1, Files: files, Findings: []LintFinding{}}
	for _, d := range found {
		if d.Severity == diag.Error {
			l.Errors++
		} else {
			l.Warnings++
		}
		f := LintFinding{Severity: d.Severity.String(), Code: d.Code, Text: d.Summary, Mend: d.Detail}
		if d.Span != nil {
			f.File, f.Line, f.Column = d.Span.File, d.Span.Start.Line, d.Span.Start.Col
		}
		l.Findings = append(l.Findings, f)
	}
	return l
}
