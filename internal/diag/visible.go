package diag

import (
	"fmt"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/width"
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

// runeWidth is how many columns terminals give a printable rune: two for East Asian Width W and F (Unicode Standard Annex
// 11), none for marks that combine with the rune before.
func runeWidth(r rune) int {
	if unicode.In(r, unicode.Mn, unicode.Me) {
		return 0
	}
	switch width.LookupRune(r).Kind() {
	case width.EastAsianWide, width.EastAsianFullwidth:
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
	if begin > 0 {
		begin, left = back(line, at, max(leftWidth, lineWidth-rest-markLength))
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
