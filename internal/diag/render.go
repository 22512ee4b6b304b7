package diag

import (
	"fmt"
	"io"
	"strings"
)

// Options of Render.
type Options struct {
	Color bool // ANSI colours; the caller knows whether a terminal listens
	Max   int  // print at most this many, then "and N more"; 0 means 20, negative means all
}

const (
	bold   = "\x1b[1m"
	red    = "\x1b[1;31m"
	yellow = "\x1b[1;33m"
	blue   = "\x1b[34m"
	reset  = "\x1b[0m"
)

// Render writes the findings in the order of the list. Every text that may come from a file is made visible first,
// so nothing but Render's own colours reaches the terminal as a control sequence.
func Render(w io.Writer, l List, opts Options) error {
	limit := opts.Max
	if limit == 0 {
		limit = maxInError
	}
	if limit < 0 || limit > len(l) {
		limit = len(l)
	}
	p := painter{color: opts.Color}
	for _, d := range l[:limit] {
		p.diagnostic(d)
	}
	if rest := len(l) - limit; rest > 0 {
		fmt.Fprintf(&p.b, "and %d more\n", rest)
	}
	_, err := io.WriteString(w, p.b.String())
	return err
}

type painter struct {
	b     strings.Builder
	color bool
}

func (p *painter) paint(code, s string) string {
	if !p.color {
		return s
	}
	return code + s + reset
}

func (p *painter) diagnostic(d Diagnostic) {
	tone := red
	if d.Severity == Warning {
		tone = yellow
	}
	p.headline(d.span(), p.paint(tone, d.Severity.String()+":"), d.Summary)
	p.excerpt(d.span(), d.Line, tone)
	if d.Detail != "" {
		fmt.Fprintf(&p.b, "      %s %s\n", p.paint(blue, "="), Visible(d.Detail))
	}
	for _, n := range d.Related {
		p.headline(n.Span, p.paint(blue, "note:"), n.Text)
		p.excerpt(n.Span, n.Line, blue)
	}
}

func (p *painter) headline(s Span, label, text string) {
	place := Visible(s.File)
	if s.Start.Line > 0 {
		place += fmt.Sprintf(":%d:%d", s.Start.Line, s.Start.Col)
	}
	if place != "" {
		p.b.WriteString(p.paint(bold, strings.TrimPrefix(place, ":")+":") + " ")
	}
	p.b.WriteString(label + " " + Visible(text) + "\n")
}

func (p *painter) excerpt(s Span, line, tone string) {
	if line == "" || s.Start.Line <= 0 {
		return
	}
	to := s.End.Col
	if s.End.Line != s.Start.Line {
		to = -1
	}
	text, indent, carets := window(line, s.Start.Col, to)
	fmt.Fprintf(&p.b, "%5d %s %s\n", s.Start.Line, p.paint(blue, "|"), text)
	fmt.Fprintf(&p.b, "      %s %s%s\n", p.paint(blue, "|"), strings.Repeat(" ", indent),
		p.paint(tone, strings.Repeat("^", carets)))
}
