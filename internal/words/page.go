// Package words tells results to people: sentences are functions that return strings, used by the terminal and the sheet
// alike; a Page lays them out, folded to its width last.
package words

import (
	"strings"
	"unicode"

	"carryover/internal/diag"
)

// NoBreak is a space at which no line is broken, so that a number stays with its unit. diag.Visible writes the ones in
// names out, so it never comes from a file.
const NoBreak = "\u00a0"

// Plain is a text that is not folded any more, with spaces alone.
func Plain(text string) string { return strings.ReplaceAll(text, NoBreak, " ") }

// Widths of a page, columns.
const (
	Narrowest, Usual, Widest = 60, 80, 100
)

// Page collects the lines of a text for a person.
type Page struct {
	Width int  // columns
	Bold  bool // the reader's terminal shows what stands out
	space bool // an empty line is due before the next
	b     strings.Builder
}

func (p *Page) String() string { return p.b.String() }

// Line adds a line as it is.
func (p *Page) Line(text string) {
	if p.space && p.b.Len() > 0 {
		p.b.WriteString("\n")
	}
	p.space = false
	p.b.WriteString(strings.TrimRight(Plain(text), " ") + "\n")
}

// Space sets what follows apart by an empty line.
func (p *Page) Space() { p.space = true }

// Strong adds a paragraph that stands out.
func (p *Page) Strong(text string) {
	for _, l := range Fold("", text, p.Width) {
		p.Line(p.strong(l))
	}
}

// strong is a line that stands out, where the terminal shows it.
func (p *Page) strong(line string) string { return either(p.Bold, "\x1b[1m"+line+"\x1b[0m", line) }

// Heading opens a section.
func (p *Page) Heading(title string) {
	p.Space()
	p.Strong(title)
}

// Para adds the paragraphs that there are: the first line of each behind lead, the others set in as far.
func (p *Page) Para(lead string, texts ...string) {
	for _, t := range some(texts...) {
		for _, l := range Fold(lead, t, p.Width) {
			p.Line(l)
		}
	}
}

// Danger adds paragraphs about what can go wrong, marked by signs and not by weight alone.
func (p *Page) Danger(texts ...string) {
	for _, t := range texts {
		for i, l := range Fold("!! ", t, p.Width) {
			p.Line(either(i == 0, p.strong(l), l))
		}
	}
}

// Table adds rows of cells in columns as wide as they need, set in by two; align has l or r for each column. The last cell
// is folded within itself, or goes onto lines of its own where it would be left too little room; of a row that ends early it
// runs on over the columns that follow.
func (p *Page) Table(align string, rows ...[]string) {
	const gap, least = 2, 24
	widths := make([]int, len(align))
	for _, r := range rows {
		for i, c := range r {
			if i < len(r)-1 || len(r) == len(align) {
				widths[i] = max(widths[i], Columns(c))
			}
		}
	}
	for _, r := range rows {
		last := len(r) - 1
		lead := strings.Repeat(" ", gap)
		for i, c := range r[:last] {
			lead += pad(c, widths[i], align[i]) + strings.Repeat(" ", gap)
		}
		switch {
		case r[last] == "":
			p.Line(lead)
		case align[last] == 'r':
			p.Line(lead + pad(r[last], widths[last], 'r'))
		case p.Width-Columns(lead) < min(least, max(widths[last], Columns(r[last]))):
			p.Line(lead)
			p.Para("        ", r[last])
		default:
			p.Para(lead, r[last])
		}
	}
}

func pad(s string, n int, align byte) string {
	if align == 'r' {
		return Right(s, n)
	}
	return Left(s, n)
}

// Left and Right fill a cell up to n columns; what is longer stays as it is.
func Left(s string, n int) string { return s + strings.Repeat(" ", max(0, n-Columns(s))) }

// Right fills up on the left.
func Right(s string, n int) string { return strings.Repeat(" ", max(0, n-Columns(s))) + s }

// Columns is how many columns a text takes once printed.
func Columns(s string) int { return diag.Columns(Plain(s)) }

// Fold breaks a text between words into lines of at most so many columns, the first behind lead and the others set in as
// far. A word that is wider than a line is cut.
func Fold(lead, text string, columns int) []string {
	indent := Columns(lead)
	room := max(columns-indent, 1)
	var lines []string
	line, used := "", 0
	for _, word := range strings.FieldsFunc(text, func(r rune) bool { return unicode.IsSpace(r) && string(r) != NoBreak }) {
		w := Columns(word)
		if w > room {
			word = diag.Shorten(Plain(word), room)
			w = Columns(word)
		}
		switch {
		case used == 0:
			line, used = word, w
		case used+1+w > room:
			lines = append(lines, line)
			line, used = word, w
		default:
			line, used = line+" "+word, used+1+w
		}
	}
	lines = append(lines, line)
	for i := range lines {
		lines[i] = either(i == 0, lead, strings.Repeat(" ", indent)) + lines[i]
	}
	return lines
}

// Wrap folds every line of a text for itself; what is set in goes on under what stands behind its first gap.
func Wrap(text string, columns int) string {
	var lines []string
	for _, l := range strings.Split(text, "\n") {
		at := hang(l)
		lines = append(lines, Fold(l[:at], l[at:], columns)...)
	}
	return strings.Join(lines, "\n")
}

// Reflow is Wrap with paragraphs filled anew, except those that have lines set in.
func Reflow(text string, columns int) string {
	paragraphs := strings.Split(text, "\n\n")
	for i, p := range paragraphs {
		if !strings.HasPrefix(p, " ") && !strings.Contains(p, "\n ") {
			p = strings.ReplaceAll(p, "\n", " ")
		}
		paragraphs[i] = Wrap(p, columns)
	}
	return strings.Join(paragraphs, "\n\n")
}

// hang is where a line set in, like "  term   what it is", begins for good.
func hang(line string) int {
	at := len(line) - len(strings.TrimLeft(line, " "))
	if at == 0 {
		return 0
	}
	if i := strings.Index(line[at:], "  "); i > 0 {
		at += i
		at += len(line[at:]) - len(strings.TrimLeft(line[at:], " "))
	}
	return at
}
