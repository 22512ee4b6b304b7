package draw

import (
	"strings"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"

	"carryover/internal/diag"
)

// face is one of the Go fonts (BSD licence), which cover Latin, Greek and Cyrillic.
type face struct {
	font *sfnt.Font
	unit fixed.Int26_6 // units per em, as pixels, so that outlines come in font units
}

// The fonts are parsed once, when the first picture needs them.
var regular, bold = sync.OnceValue(parse(goregular.TTF)), sync.OnceValue(parse(gobold.TTF))

func parse(ttf []byte) func() face {
	return func() face {
		f, err := sfnt.Parse(ttf)
		if err != nil {
			panic("draw: a font compiled in is broken: " + err.Error())
		}
		return face{f, fixed.I(int(f.UnitsPerEm()))}
	}
}

func faceOf(k Ink) face {
	if k.look().bold {
		return bold()
	}
	return regular()
}

// Measure is the width of text, mm.
func Measure(text string, k Ink) float64 {
	f := faceOf(k)
	var buf sfnt.Buffer
	var sum fixed.Int26_6
	for _, r := range text {
		g, err := f.font.GlyphIndex(&buf, r)
		if err != nil {
			continue
		}
		a, err := f.font.GlyphAdvance(&buf, g, f.unit, font.HintingNone)
		if err == nil {
			sum += a
		}
	}
	return float64(sum) / float64(f.unit) * k.look().size
}

// printable is text with what the font cannot show written as an escape, so that nothing vanishes.
func printable(text string) string {
	f := regular().font
	var buf sfnt.Buffer
	var b strings.Builder
	for _, r := range diag.Visible(text) {
		if g, err := f.GlyphIndex(&buf, r); err != nil || g == 0 {
			b.WriteString(escape(r))
			continue
		}
		b.WriteRune(r)
	}
	return b.String()
}

func escape(r rune) string {
	const digits = "0123456789abcdef"
	out, width := []byte{'\\', 'u'}, 12
	if r > 0xffff {
		out[1], width = 'U', 28
	}
	for ; width >= 0; width -= 4 {
		out = append(out, digits[r>>width&0xf])
	}
	return string(out)
}

// Fit makes a name from a file fit into width mm: visible, on one line, and cut with an ellipsis when too long.
func Fit(name string, k Ink, width float64) string {
	const most = 400 // runes looked at: more never fit on a page
	short := []rune(name)
	cut := len(short) > most
	if cut {
		short = short[:most]
	}
	shown := []rune(diag.Visible(string(short)))
	if !cut && Measure(string(shown), k) <= width {
		return string(shown)
	}
	for len(shown) > 0 && Measure(string(shown)+"…", k) > width {
		shown = shown[:len(shown)-1]
	}
	return string(shown) + "…"
}
