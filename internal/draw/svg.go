package draw

import (
	"encoding/xml"
	"io"
	"strconv"
	"strings"

	"carryover/internal/diag"
	"carryover/internal/plane"
	"carryover/internal/words"
)

// SVG writes the picture as a file of its own, exact in mm.
func (p *Picture) SVG(w io.Writer) error {
	_, err := io.WriteString(w, `<?xml version="1.0" encoding="UTF-8"?>`+"\n"+p.svg("drawing", true)+"\n")
	return err
}

// Inline is the picture as an SVG element of a page that has CSS() in its style sheet; id starts the ids in it, and attributes
// are more of the element's.
func (p *Picture) Inline(id string, attributes ...string) string {
	return p.svg(id, false, attributes...)
}

func (p *Picture) svg(id string, alone bool, attributes ...string) string {
	var b strings.Builder
	b.WriteString("<svg")
	if alone { // HTML has no need of it
		b.WriteString(` xmlns="http://www.w3.org/2000/svg"`)
	}
	b.WriteString(` class="drawing" role="img" id="` + id + `"`)
	for _, a := range attributes {
		b.WriteString(" " + a)
	}
	b.WriteString(` aria-labelledby="` + id + `-title ` + id + `-desc" width="` +
		num(p.Width) + `mm" height="` + num(p.Height) + `mm" viewBox="0 0 ` + num(p.Width) + ` ` + num(p.Height) + `"`)
	if p.Scale > 0 {
		b.WriteString(` data-scale="` + num(p.Scale) + `" data-origin="` + num(p.Origin.X) + ` ` + num(p.Origin.Y) + `"`)
	}
	b.WriteString(">\n<title id=\"" + id + "-title\">" + escaped(p.heading()) + "</title>\n")
	b.WriteString("<desc id=\"" + id + "-desc\">" + escaped(words.Plain(p.Text)) + "</desc>\n")
	if alone {
		b.WriteString("<style>\n" + FontCSS(p.letters()) + CSS() + "</style>\n")
		b.WriteString(`<rect class="paper" width="` + num(p.Width) + `" height="` + num(p.Height) + "\"/>\n")
	}
	layer := Both
	for _, m := range p.Marks {
		if m.Layer != layer {
			if layer != Both {
				b.WriteString("</g>\n")
			}
			if m.Layer != Both {
				b.WriteString(`<g class="` + string(m.Layer) + "\">\n")
			}
			layer = m.Layer
		}
		m.svg(&b)
	}
	if layer != Both {
		b.WriteString("</g>\n")
	}
	b.WriteString("</svg>")
	return b.String()
}

// letters are all that the picture's text is written with.
func (p *Picture) letters() string {
	var b strings.Builder
	for _, m := range p.Marks {
		b.WriteString(diag.Visible(m.Text))
	}
	return b.String()
}

func (m *Mark) svg(b *strings.Builder) {
	name := ""
	if m.Name != "" {
		name = ` data-name="` + escaped(m.Name) + `"`
	}
	class := ` class="` + m.Style.look().name + `"`
	if m.Text != "" {
		b.WriteString("<text" + class + name + ` x="` + num(m.At.X) + `" y="` + num(m.At.Y) + `"`)
		switch m.Side {
		case Middle:
			b.WriteString(` text-anchor="middle"`)
		case End:
			b.WriteString(` text-anchor="end"`)
		}
		if m.Turn != 0 {
			b.WriteString(` transform="rotate(` + num(-plane.Deg(m.Turn)) + ` ` + num(m.At.X) + ` ` + num(m.At.Y) + `)"`)
		}
		if strings.ContainsFunc(diag.Visible(m.Text), func(r rune) bool { return !has(r) }) {
			// The reader's font is another: it is made to take the room that was measured.
			b.WriteString(` textLength="` + num(TextWidth(m.Text, m.Style)) + `" lengthAdjust="spacingAndGlyphs"`)
		}
		b.WriteString(">" + escaped(m.Text) + "</text>\n")
		return
	}
	b.WriteString("<path" + class + name + ` d="`)
	for i, q := range m.Line {
		switch i {
		case 0:
			b.WriteByte('M')
		case 1:
			b.WriteByte('L')
		default:
			b.WriteByte(' ')
		}
		b.WriteString(num(q.X) + " " + num(q.Y))
	}
	if m.Closed {
		b.WriteByte('Z')
	}
	b.WriteString("\"/>\n")
}

// num writes a coordinate with at most three decimals: a thousandth of a mm of paper.
func num(v float64) string {
	s := strconv.FormatFloat(v, 'f', 3, 64)
	s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	if s == "-0" {
		return "0"
	}
	return s
}

// escaped is text for XML and for HTML alike, with what would steer its reader (direction marks, control characters)
// written out.
func escaped(s string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(diag.Visible(s))) // writing to a Builder cannot fail
	return b.String()
}
