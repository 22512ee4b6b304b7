package tomltree

import (
	"errors"
	"fmt"
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/BurntSushi/toml"

	"carryover/internal/diag"
)

// syntaxProblem says in plain words, and with its place, why the decoder refused the text.
func syntaxProblem(file, text string, err error) diag.List {
	var parse toml.ParseError
	if !errors.As(err, &parse) {
		return wholeFile(file, "toml-syntax", err.Error(), "")
	}
	from := max(0, min(parse.Position.Start, len(text)))
	to := max(from, min(from+parse.Position.Len, len(text)))
	if m := regexp.MustCompile(duplicate).FindStringSubmatch(parse.Message); m != nil {
		return duplicateProblem(file, text, from, to, m[1])
	}
	for _, rule := range rewordings {
		m := regexp.MustCompile(rule.message).FindStringSubmatch(parse.Message)
		if m == nil {
			continue
		}
		summary := rule.summary
		if len(m) > 1 {
			summary = strings.ReplaceAll(summary, "$1", Shorten(m[1]))
		}
		summary = strings.NewReplacer(`'\n'`, "the end of the line", `'\r'`, "the end of the line",
			`'\x00'`, "the end of the file", "'\\''", `"'"`).Replace(summary)
		if rule.atEnd {
			from = lastRune(text, from, to)
		}
		detail := rule.detail
		if len(m) > 1 {
			detail = strings.ReplaceAll(detail, "$1", m[1])
		}
		if rule.mend != nil {
			detail = rule.mend(lineUpTo(text, from), restOfLine(text, from))
		}
		return at(file, text, from, to, "toml-syntax", summary, detail)
	}
	message := strings.TrimSuffix(parse.Message, ".")
	return at(file, text, from, to, "toml-syntax", strings.ToLower(message[:1])+message[1:], "")
}

const duplicate = `^Key '(.*)' (?:has already been defined|was already created)`

// duplicateProblem also points at the first of the two, found by reading the lines above on their own.
func duplicateProblem(file, text string, from, to int, key string) diag.List {
	above := text[:strings.LastIndexByte(text[:from], '\n')+1]
	n, _ := Parse(file, []byte(above))
	for _, part := range newScanner(file, key).keyParts() {
		for n != nil && n.Kind == KindArray && len(n.Children) > 0 {
			n = n.Children[len(n.Children)-1]
		}
		if n != nil {
			n = n.Get(part.key)
		}
	}
	span, line := place(file, text, from, to)
	return givenTwice(Shorten(key), span, line, n)
}

// rewording turns one message of the decoder into the rider's language.
type rewording struct {
	message string // a pattern
	summary string // $1 is what the message quotes
	detail  string
	atEnd   bool                             // the culprit is the last character of the reported stretch
	mend    func(before, rest string) string // instead of detail, from the line on both sides of the culprit
}

var rewordings = []rewording{
	{message: `^expected a top-level item to end .* but got (.+) instead$`,
		summary: "the line should end here, but has $1", atEnd: true, mend: mendTrailing},
	{message: `^expected value but found '\\[rn]' instead$`,
		summary: "a value is missing", detail: "write it behind the = on the same line"},
	{message: `^expected value but found (".*") instead$`,
		summary: "expected a value, found $1", mend: mendBareWord},
	{message: `^expected value but found (.+) instead$`,
		summary: "expected a value, found $1", atEnd: true},
	{message: `^unexpected EOF; expected value$`, summary: "a value is missing"},
	{message: `^unexpected EOF; expected (.+)$`,
		summary: "a text is not closed", detail: "add $1 at its end"},
	{message: `^strings cannot contain newlines$`,
		summary: "a text is not closed on its line", detail: "add the closing quote"},
	{message: `^floats must start with a digit`,
		summary: "a number must start with a digit", detail: "write 0.5, not .5"},
	{message: `^Invalid float "(.*)": '\.' must be followed`,
		summary: "$1 lacks a digit behind its point", detail: "write 5.0 or 5, not 5."},
	{message: `^Invalid (?:integer|float) "(.*)": cannot have leading zeroes$`,
		summary: "$1 starts with a needless 0", detail: "remove the leading zeros"},
	{message: `^Invalid (?:integer|float)(?: value)?:? "(.*?)"`, summary: "$1 is not a number"},
	{message: `^invalid datetime: "(.*)"$`, summary: "$1 is neither a number nor a date"},
	{message: `^(\S+) is out of range for`, summary: "the number $1 is too large"},
	{message: `^unexpected '=': key name appears blank$`, summary: "a key is missing in front of the ="},
	{message: `^unexpected '\.': keys cannot start with a '\.'$`,
		summary: "a key cannot start with a point"},
	{message: `^expected '\.' or '=', but got (.+) instead$`,
		summary: "expected = behind the key, found $1", atEnd: true, mend: mendKey},
	{message: `^unexpected (?:end of table name|table separator)`,
		summary: "the name in a [header] is missing"},
	{message: `^expected (?:'\.' or '\]' to end table name|end of table array name delimiter '\]'), but got (.+) instead$`,
		summary: "expected ] at the end of the header, found $1", atEnd: true},
	{message: `^expected a comma \(','\) or array terminator \('\]'\), but got (.+)$`,
		summary: "expected , or ] in the list, found $1", atEnd: true},
	{message: `^expected a comma or an inline table terminator '\}', but got (.+) instead$`,
		summary: "expected , or } in the table, found $1", atEnd: true},
	{message: `^unexpected comma$`, summary: "there is a comma too many", atEnd: true},
	{message: `^invalid escape(?: in string)?:? '(\\.)'$`,
		summary: `$1 means nothing inside "quotes"`, detail: `write \\ for a backslash, or use 'single quotes'`},
}

// Patterns of what is written by mistake; none is compiled before there is one.
const (
	unitBehind   = `^(?:mm|cm|m|in|inch|inches|deg|degrees|°|"|″)\s*(?:#.*)?$`
	numberBehind = `[-+]?\d[\d_]*(?:\.\d+)?\s*$`
	leadDigits   = `^,(\d+)`
	decimalComma = `=\s*([-+]?\d+),(\d+)\s*$` // between braces: 717,0 begins a key called 0
)

// mendTrailing knows the commonest things written behind a complete value.
func mendTrailing(before, rest string) string {
	number := strings.TrimSpace(regexp.MustCompile(numberBehind).FindString(before))
	if number == "" {
		return ""
	}
	if m := regexp.MustCompile(leadDigits).FindStringSubmatch(rest); m != nil {
		return fmt.Sprintf("use a decimal point: %s.%s", Shorten(number), Shorten(m[1]))
	}
	if regexp.MustCompile(unitBehind).MatchString(rest) {
		return "write the number alone; lengths are in mm, angles in degrees"
	}
	return ""
}

func mendBareWord(_, rest string) string {
	word := rest
	if i := strings.IndexFunc(rest, func(r rune) bool { return !unicode.IsLetter(r) && !isBare(r) }); i >= 0 {
		word = rest[:i]
	}
	if strings.HasPrefix(strings.TrimSpace(rest[len(word):]), "=") {
		return "close the list above with ]"
	}
	switch strings.ToLower(word) {
	case "":
		return ""
	case "true", "yes", "on":
		return "write true"
	case "false", "no", "off":
		return "write false"
	}
	return fmt.Sprintf("put text in quotes: %q", Shorten(word))
}

func mendKey(before, rest string) string {
	if m := regexp.MustCompile(decimalComma).FindStringSubmatch(before); m != nil {
		return fmt.Sprintf("use a decimal point: %s.%s", Shorten(m[1]), Shorten(m[2]))
	}
	key := strings.TrimSpace(before)
	if strings.HasPrefix(rest, ":") {
		return "write key = value"
	}
	if r, _ := utf8.DecodeRuneInString(rest); unicode.IsLetter(r) && !isBare(r) {
		return "letters other than a to z need quotes around the key"
	}
	if name, _, found := strings.Cut(rest, "="); found && key != "" && !strings.ContainsAny(key+name, `"'.`) {
		return fmt.Sprintf("a key with spaces needs quotes: %q", Shorten(key+" "+strings.TrimSpace(name)))
	}
	return ""
}

// lastRune is the offset of the last character of text[from:to], or from if there is none.
func lastRune(text string, from, to int) int {
	_, size := utf8.DecodeLastRuneInString(text[from:to])
	return to - size
}

func lineUpTo(text string, off int) string {
	return text[strings.LastIndexByte(text[:off], '\n')+1 : off]
}

func restOfLine(text string, off int) string {
	rest, _, _ := strings.Cut(text[off:], "\n")
	return strings.TrimSuffix(rest, "\r")
}
