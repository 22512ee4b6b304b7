package tomltree

import (
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Float writes a number as the files do, with a decimal.
func Float(v float64) string {
	s := strconv.FormatFloat(v, 'f', -1, 64)
	if !strings.Contains(s, ".") {
		s += ".0"
	}
	return s
}

// Quote writes text as a basic string of TOML (TOML v1.0.0, String): quotes, backslashes and control characters
// escaped. What is not UTF-8 becomes U+FFFD, as TOML has no bytes.
func Quote(text string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range strings.ToValidUTF8(text, string(utf8.RuneError)) {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\n':
			b.WriteString(`\n`)
		case r == '\t':
			b.WriteString(`\t`)
		case r < 0x20 || r >= 0x7f && r < 0xa0:
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
