package draw

import (
	"strings"
	"sync"
	"unicode"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"

	"carryover/internal/diag"
	"carryover/internal/words"
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

func faceOf(k Style) face {
	if k.look().bold {
		return bold()
	}
	return regular()
}

// has reports whether the fonts have a letter; both have the same ones.
func has(r rune) bool {
	g, err := regular().font.GlyphIndex(nil, r)
	return err == nil && g != 0
}

// TextWidth is the width of text, mm. Letters that the font lacks count as wide as other fonts usually have them.
func TextWidth(text string, k Style) float64 {
	f := faceOf(k)
	var buf sfnt.Buffer
	em := 0.0
	for _, r := range text {
		g, err := f.font.GlyphIndex(&buf, r)
		if err == nil && g != 0 {
			if a, err := f.font.GlyphAdvance(&buf, g, f.unit, font.HintingNone); err == nil {
				em += float64(a) / float64(f.unit)
			}
			continue
		}
		switch {
		case unicode.In(r, unicode.Han, unicode.Hangul, unicode.Hiragana, unicode.Katakana):
			em++
		case !unicode.In(r, unicode.Mn, unicode.Me):
			em += 0.6
		}
	}
	return em * k.look().size
}

// emptyBox stands in PNG and PDF for a letter that the font lacks.
const emptyBox = '□'

// printable is text as PNG and PDF can show it.
func printable(text string) string {
	return strings.Map(func(r rune) rune {
		if has(r) {
			return r
		}
		return emptyBox
	}, diag.Visible(text))
}

// Missing lists the letters of pictures that their font lacks, each once: in PNG and PDF they are boxes.
func Missing(pictures ...*Picture) string {
	var b strings.Builder
	for _, p := range pictures {
		for _, m := range p.Marks {
			for _, r := range diag.Visible(m.Text) {
				if !has(r) && !strings.ContainsRune(b.String(), r) {
					b.WriteRune(r)
				}
			}
		}
	}
	return b.String()
}

// Shortened makes a name from a file fit into width mm: visible, on one line, and cut with an ellipsis when too long.
func Shortened(name string, k Style, width float64) string {
	const most = 400 // letters looked at: more never fit on a page
	short := []rune(words.Plain(name))
	cut := len(short) > most
	if cut {
		short = short[:most]
	}
	shown := []rune(diag.Visible(string(short)))
	if !cut && TextWidth(string(shown), k) <= width {
		return string(shown)
	}
	for len(shown) > 0 && TextWidth(string(shown)+"…", k) > width {
		shown = shown[:len(shown)-1]
	}
	return string(shown) + "…"
}
