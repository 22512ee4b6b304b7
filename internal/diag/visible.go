package diag

import (
	"fmt"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

const (
	lineWidth  = 100 // columns of a source line shown
	leftWidth  = 40  // of these, columns kept ahead of the caret in a long line
	tabSpaces  = "    "
	cutMark    = "…"
	markLength = 1
	maxRunes   = 4 * lineWidth // to each side: combining marks take no columns, however many there are
)

// Visible is s with everything that could steer a terminal (control characters, escape sequences, direction marks,
// invisible and odd spaces, bytes that are not UTF-8) written out as an escape or U+FFFD.
func Visible(s string) string {
	var b strings.Builder
	for _, r := range s {
		text, _ := cell(r)
		b.WriteString(text)
	}
	return b.String()
}

// cell is how one rune is printed, and in how many terminal columns.
func cell(r rune) (text string, width int) {
	switch {
	case r == '\t':
		return tabSpaces, len(tabSpaces)
	case strconv.IsPrint(r):
		return string(r), runeWidth(r)
	case r < 0x100:
		text = fmt.Sprintf(`\x%02x`, r)
	case r < 0x10000:
		text = fmt.Sprintf(`\u%04x`, r)
	default:
		text = fmt.Sprintf(`\U%08x`, r)
	}
	return text, len(text)
}

// wide are the blocks that terminals draw two columns wide: the bulk of East Asian Width W and F in Unicode
// Standard Annex 11, written down from memory. A gap costs a misplaced caret and nothing else.
var wide = &unicode.RangeTable{
	R16: []unicode.Range16{
		{Lo: 0x1100, Hi: 0x115f, Stride: 1}, // Hangul Jamo, leading
		{Lo: 0x2e80, Hi: 0x303e, Stride: 1}, // CJK radicals and punctuation
		{Lo: 0x3041, Hi: 0x33ff, Stride: 1}, // kana, compatibility
		{Lo: 0x3400, Hi: 0x4dbf, Stride: 1},
		{Lo: 0x4e00, Hi: 0x9fff, Stride: 1},
		{Lo: 0xa000, Hi: 0xa4cf, Stride: 1}, // Yi
		{Lo: 0xa960, Hi: 0xa97f, Stride: 1},
		{Lo: 0xac00, Hi: 0xd7a3, Stride: 1}, // Hangul syllables
		{Lo: 0xf900, Hi: 0xfaff, Stride: 1},
		{Lo: 0xfe30, Hi: 0xfe6f, Stride: 1},
		{Lo: 0xff01, Hi: 0xff60, Stride: 1}, // full-width forms
		{Lo: 0xffe0, Hi: 0xffe6, Stride: 1},
	},
	R32: []unicode.Range32{
		{Lo: 0x1f300, Hi: 0x1f64f, Stride: 1}, // pictographs
		{Lo: 0x1f680, Hi: 0x1f6ff, Stride: 1},
		{Lo: 0x1f900, Hi: 0x1f9ff, Stride: 1},
		{Lo: 0x20000, Hi: 0x3fffd, Stride: 1},
	},
}

func runeWidth(r rune) int {
	switch {
	case unicode.In(r, unicode.Mn, unicode.Me):
		return 0
	case unicode.Is(wide, r):
		return 2
	}
	return 1
}

// window is the visible form of the line, cut to about 100 columns around the caret when it is longer, with the
// columns to indent the carets by and their number (at least 1). from and to are character columns from 1; a
// negative to reaches to the end of the line.
func window(line string, from, to int) (text string, indent, carets int) {
	at := byteOffset(line, from)
	rest := restWidth(line[at:], lineWidth)
	begin, left := back(line, at, lineWidth-min(rest, lineWidth))
	if begin > 0 && rest > lineWidth-leftWidth { // cut on both sides
		begin, left = back(line, at, leftWidth)
	} else if begin > 0 {
		begin, left = back(line, at, lineWidth-rest-markLength)
	}
	var b strings.Builder
	if begin > 0 {
		b.WriteString(cutMark)
		left += markLength
	}
	b.WriteString(Visible(line[begin:at]))
	indent = left

	used, col := left, from
	for _, r := range line[at:] {
		s, w := cell(r)
		if used+w > lineWidth || col-from > maxRunes {
			b.WriteString(cutMark)
			break
		}
		b.WriteString(s)
		used += w
		if to < 0 || col < to {
			carets += w
		}
		col++
	}
	return b.String(), indent, max(carets, 1)
}

// byteOffset is where character column col (from 1) starts, at most the length of the line.
func byteOffset(line string, col int) int {
	n := 1
	for i := range line {
		if n >= col {
			return i
		}
		n++
	}
	return len(line)
}

// back walks left from byte at over at most width columns.
func back(line string, at, width int) (begin, used int) {
	begin = at
	for n := 0; begin > 0 && n < maxRunes; n++ {
		r, size := utf8.DecodeLastRuneInString(line[:begin])
		_, w := cell(r)
		if used+w > width {
			break
		}
		used += w
		begin -= size
	}
	return begin, used
}

// restWidth is the width of s, counted no further than just beyond limit.
func restWidth(s string, limit int) int {
	used := 0
	for _, r := range s {
		_, w := cell(r)
		used += w
		if used > limit {
			break
		}
	}
	return used
}
