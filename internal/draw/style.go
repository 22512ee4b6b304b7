package draw

import (
	"fmt"
	"image/color"
	"strings"
)

// Style is a kind of line, area or text. Bikes are told apart by dashes and weight, never by colour alone: the first
// is dashed and thin, the second solid and heavy, and the one colour only stresses what to do.
type Style int

// The styles: lines, then areas, then text.
const (
	Heavy   Style = iota // parts of the bike that is set up
	Dashed               // parts of the first bike
	Machine              // posts, sliders and what is only sketched
	Faint                // the same of the first bike
	Thin                 // leaders, ticks, dimension lines
	Hair                 // grids, extension lines
	Chain                // centre lines and straightedges
	Strong               // what to do, in the accent colour
	Cut                  // dashed in the accent colour: from where a contact is to where it should be

	Solid    // filled black
	Open     // paper with a black edge
	Dotted   // paper with a dashed edge: where the first bike's contact is, or a mark stood
	Tint     // light grey area
	Accent   // filled accent
	Paper    // a patch of paper
	Body     // a part seen from above: tint with a heavy edge
	Carriage // a slider's clamp: paper with a grey edge

	Label // text beside a mark
	Minor // smaller, grey
	Bold  // a value that matters
	Head  // the title
	Alert // a value in the accent colour
	styles
)

type look struct {
	name   string
	stroke color.RGBA // alpha 0: none
	fill   color.RGBA
	width  float64   // mm
	dash   []float64 // mm on, off
	size   float64   // of text, mm from base line to base line / 1.2
	bold   bool
}

var (
	black  = color.RGBA{0x1d, 0x1b, 0x18, 0xff}
	grey   = color.RGBA{0x5c, 0x58, 0x51, 0xff}
	steel  = color.RGBA{0x86, 0x81, 0x77, 0xff}
	pale   = color.RGBA{0xb8, 0xb2, 0xa6, 0xff}
	tint   = color.RGBA{0xec, 0xe8, 0xdf, 0xff}
	paper  = color.RGBA{0xff, 0xff, 0xff, 0xff}
	accent = color.RGBA{0x9e, 0x2f, 0x12, 0xff} // 7.3:1 on white, and as dark as grey in black and white
)

// looks is the one table that all three formats are written from.
var looks = [styles]look{
	Heavy:    {name: "heavy", stroke: black, width: 0.55},
	Dashed:   {name: "dashed", stroke: black, width: 0.3, dash: []float64{1.5, 0.9}},
	Machine:  {name: "machine", stroke: steel, width: 0.3},
	Faint:    {name: "faint", stroke: steel, width: 0.22, dash: []float64{1.5, 0.9}},
	Thin:     {name: "thin", stroke: black, width: 0.18},
	Hair:     {name: "hair", stroke: pale, width: 0.18},
	Chain:    {name: "chain", stroke: grey, width: 0.18, dash: []float64{3, 0.8, 0.5, 0.8}},
	Strong:   {name: "strong", stroke: accent, width: 0.5},
	Cut:      {name: "cut", stroke: accent, width: 0.35, dash: []float64{1.0, 0.7}},
	Solid:    {name: "solid", fill: black},
	Open:     {name: "open", stroke: black, fill: paper, width: 0.3},
	Dotted:   {name: "dotted", stroke: black, fill: paper, width: 0.25, dash: []float64{0.7, 0.5}},
	Tint:     {name: "tint", fill: tint},
	Accent:   {name: "accent", fill: accent},
	Paper:    {name: "paper", fill: paper},
	Body:     {name: "body", stroke: black, fill: tint, width: 0.5},
	Carriage: {name: "carriage", stroke: steel, fill: paper, width: 0.35},
	Label:    {name: "label", fill: black, size: 3.1},
	Minor:    {name: "minor", fill: grey, size: 2.8},
	Bold:     {name: "bold", fill: black, size: 3.3, bold: true},
	Head:     {name: "head", fill: black, size: 4.2, bold: true},
	Alert:    {name: "alert", fill: accent, size: 3.3, bold: true},
}

func (k Style) look() look { return looks[k] }

// Size is the height of the style's text, mm.
func (k Style) Size() float64 { return k.look().size }

// Drawn reports whether a line or an area of the style is seen, so that text may not lie on it.
func (k Style) Drawn() bool { return k.look().stroke.A > 0 || k == Solid || k == Accent }

// hex is a colour as CSS writes it.
func hex(c color.RGBA) string {
	if c.A == 0 {
		return "none"
	}
	return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B)
}

// family is the font of pictures and pages, which they carry with them.
const family = "carryover"

// Fonts is the value of font-family: letters that ours lacks come from the reader's own.
const Fonts = family + `, "Go", "Helvetica Neue", "Liberation Sans", Arial, sans-serif`

// CSS is the style sheet of the SVG: every rule is under the class "drawing". A font-size in px is one in the units of
// the viewBox, which are mm.
func CSS() string {
	var b strings.Builder
	b.WriteString(".drawing{font-family:" + Fonts + "}\n")
	for k := Heavy; k < styles; k++ {
		l := k.look()
		fmt.Fprintf(&b, ".drawing .%s{fill:%s;stroke:%s", l.name, hex(l.fill), hex(l.stroke))
		if l.width > 0 {
			fmt.Fprintf(&b, ";stroke-width:%g;stroke-linejoin:round", l.width)
		}
		if len(l.dash) > 0 {
			fmt.Fprintf(&b, ";stroke-dasharray:%s", strings.Trim(fmt.Sprint(l.dash), "[]"))
		}
		if l.size > 0 {
			fmt.Fprintf(&b, ";font-size:%gpx", l.size)
		}
		if l.bold {
			b.WriteString(";font-weight:700")
		}
		b.WriteString("}\n")
	}
	return b.String()
}
