package tomltree

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// syntaxErrors show the whole message for each kind of mistake in the writing.
var syntaxErrors = []struct{ text, want string }{
	{"a = 1\ntilt = 27,5\n", `
f.toml:2:10: error: the line should end here, but has ','
    2 | tilt = 27,5
      |          ^
      = use a decimal point: 27.5`},
	{"a = 172.5 mm\n", `
f.toml:1:11: error: the line should end here, but has 'm'
    1 | a = 172.5 mm
      |           ^
      = write the number alone; lengths are in mm, angles in degrees`},
	{"part = classic-280\n", `
f.toml:1:8: error: expected a value, found "classic"
    1 | part = classic-280
      |        ^^^^^^^
      = put text in quotes: "classic-280"`},
	{"flip = True", `
f.toml:1:8: error: expected a value, found "True"
    1 | flip = True
      |        ^^^^
      = write true`},
	{"flip = yes\n", `
f.toml:1:8: error: expected a value, found "yes"
    1 | flip = yes
      |        ^^^
      = write true`},
	{"a =\nb = 1\n", `
f.toml:1:4: error: a value is missing
    1 | a =
      |    ^
      = write it behind the = on the same line`},
	{"a =", `
f.toml:1:3: error: a value is missing
    1 | a =
      |   ^`},
	{"a = .5\n", `
f.toml:1:5: error: a number must start with a digit
    1 | a = .5
      |     ^
      = write 0.5, not .5`},
	{"a = 5.\n", `
f.toml:1:5: error: 5. lacks a digit behind its point
    1 | a = 5.
      |     ^^
      = write 5.0 or 5, not 5.`},
	{"a = 007\n", `
f.toml:1:5: error: 007 starts with a needless 0
    1 | a = 007
      |     ^^^
      = remove the leading zeros`},
	{"a = 99999999999999999999\n", `
f.toml:1:5: error: the number 99999999999999999999 is too large
    1 | a = 99999999999999999999
      |     ^^^^^^^^^^^^^^^^^^^^`},
	{"a = 1e999\n", `
f.toml:1:5: error: the number 1e999 is too large
    1 | a = 1e999
      |     ^^^^^`},
	{"a = 12-3\n", `
f.toml:1:5: error: 12-3 is neither a number nor a date
    1 | a = 12-3
      |     ^^^^`},
	{"a: 1\n", `
f.toml:1:2: error: expected = behind the key, found ':'
    1 | a: 1
      |  ^
      = write key = value`},
	{"a = { b = -717,0 }\n", `
f.toml:1:18: error: expected = behind the key, found '}'
    1 | a = { b = -717,0 }
      |                  ^
      = use a decimal point: -717.0`},
	{"bottom bracket = 1\n", `
f.toml:1:8: error: expected = behind the key, found 'b'
    1 | bottom bracket = 1
      |        ^
      = a key with spaces needs quotes: "bottom bracket"`},
	{"= 1\n", `
f.toml:1:1: error: a key is missing in front of the =
    1 | = 1
      | ^`},
	{"[saddle\na = 1\n", `
f.toml:1:8: error: expected ] at the end of the header, found the end of the line
    1 | [saddle
      |        ^`},
	{"[]\n", `
f.toml:1:2: error: the name in a [header] is missing
    1 | []
      |  ^`},
	{"[[a]\n", `
f.toml:1:5: error: expected ] at the end of the header, found the end of the line
    1 | [[a]
      |     ^`},
	{"a = \"open\nb = 1\n", `
f.toml:1:10: error: a text is not closed on its line
    1 | a = "open
      |          ^
      = add the closing quote`},
	{"a = \"open", `
f.toml:1:9: error: a text is not closed
    1 | a = "open
      |         ^
      = add '"' at its end`},
	{"a = \"\"\"open\n\n", `
f.toml:2:1: error: a text is not closed
      = add '"""' at its end`},
	{"a = [1 2]\n", `
f.toml:1:8: error: expected , or ] in the list, found '2'
    1 | a = [1 2]
      |        ^`},
	{"a = [1,\n\nb = 2\n", `
f.toml:3:1: error: expected a value, found "b"
    3 | b = 2
      | ^
      = close the list above with ]`},
	{"a = {b = 1 c = 2}\n", `
f.toml:1:12: error: expected , or } in the table, found 'c'
    1 | a = {b = 1 c = 2}
      |            ^`},
	{"a = [1,,2]\n", `
f.toml:1:8: error: there is a comma too many
    1 | a = [1,,2]
      |        ^`},
	{"a = \"C:\\path\"\n", `
f.toml:1:6: error: \p means nothing inside "quotes"
    1 | a = "C:\path"
      |      ^^^^
      = write \\ for a backslash, or use 'single quotes'`},
	{"[saddle]\ntilt = 1\n# c\ntilt = 2\n", `
f.toml:4:1: error: saddle.tilt is given twice
    4 | tilt = 2
      | ^^^^
      = keep one of the two
f.toml:2:1: note: first given here
    2 | tilt = 1
      | ^^^^`},
	{"[saddle]\n[bar]\n[saddle]\n", `
f.toml:3:2: error: saddle is given twice
    3 | [saddle]
      |  ^^^^^^
      = keep one of the two
f.toml:1:2: note: first given here
    1 | [saddle]
      |  ^^^^^^`},
	{"[[p]]\na = 1\n[[p]]\na = 1\na = 2\n", `
f.toml:5:1: error: p.a is given twice
    5 | a = 2
      | ^
      = keep one of the two
f.toml:4:1: note: first given here
    4 | a = 1
      | ^`},
	{"a = 1\n[[a]]\n", `
f.toml:2:3: error: a is given twice
    2 | [[a]]
      |   ^
      = keep one of the two
f.toml:1:1: note: first given here
    1 | a = 1
      | ^`},
	{"a = 1\na.b = 2\n", `
f.toml:2:1: error: a is given twice
    2 | a.b = 2
      | ^
      = keep one of the two
f.toml:1:1: note: first given here
    1 | a = 1
      | ^`},
	{"a.b = 1\na = 2\n", `
f.toml:2:1: error: a is given twice
    2 | a = 2
      | ^
      = keep one of the two
f.toml:1:1: note: first given here
    1 | a.b = 1
      | ^`},
	{"é = 1\n", `
f.toml:1:1: error: expected = behind the key, found 'é'
    1 | é = 1
      | ^
      = letters other than a to z need quotes around the key`},
	{"a = \"\xff\"\n", `
f.toml:1:6: error: byte \xff is not UTF-8
    1 | a = "�"
      |      ^
      = save the file as UTF-8`},
	{"\xff\xfea\x00", `
f.toml: error: the file is UTF-16
      = save it as UTF-8`},
	{"b = 1\na = \"\x1b[31m\"\n", `
f.toml:2:6: error: control character \x1b
    2 | a = "\x1b[31m"
      |      ^^^^
      = remove it, or write it as an escape in quotes`},
	{"a = 1\rb = 2\n", `
f.toml:1:6: error: a carriage return stands alone
    1 | a = 1\x0db = 2
      |      ^^^^
      = end lines with LF or CRLF`},
}

func TestSyntaxMessages(t *testing.T) {
	for _, c := range syntaxErrors {
		root, problems := Parse("f.toml", []byte(c.text))
		assert.Nil(t, root)
		assert.Equal(t, strings.TrimPrefix(c.want, "\n"), problems.Error(), "%q", c.text)
	}
}

func TestNestingIsLimited(t *testing.T) {
	nest := func(open, shut string, n int) string { return strings.Repeat(open, n) + strings.Repeat(shut, n) }
	for name, c := range map[string]struct {
		text string
		ok   bool
	}{
		"lists, most":            {"a = " + nest("[", "]", MaxDepth), true},
		"lists":                  {"a = " + nest("[", "]", MaxDepth+1), false},
		"lists, absurd":          {"a = " + nest("[", "]", 500_000), false},
		"open lists":             {"a = " + strings.Repeat("[", 1_000_000), false},
		"open tables":            {"a = " + strings.Repeat("{a=", 300_000), false},
		"dotted key, most":       {strings.Repeat("a.", MaxDepth) + "a = 1", true},
		"dotted key":             {strings.Repeat("a.", MaxDepth+1) + "a = 1", false},
		"dotted key, absurd":     {strings.Repeat("a.", 500_000) + "a = 1", false},
		"header":                 {"[" + strings.Repeat("a.", MaxDepth+1) + "a]", false},
		"list header":            {"[[" + strings.Repeat("a.", MaxDepth+1) + "a]]", false},
		"header and key":         {"[" + strings.Repeat("a.", 40) + "a]\n" + strings.Repeat("a.", 40) + "a = 1", true},
		"tables in long keys":    {"x = " + strings.Repeat("{c = 1, "+strings.Repeat("b.", 60)+"b = ", 60) + "1" + strings.Repeat("}", 60), true},
		"inline keys":            {"x = {" + strings.Repeat("a.", 40) + "a = {" + strings.Repeat("a.", 40) + "a = 1}}", false},
		"headers one by one":     {strings.Repeat("[a.b.c]\n", 1) + strings.Repeat("[[d.e.f]]\nx.y = 1\n", 100), true},
		"many lists":             {strings.Repeat("a = 1\n", 0) + "a = [" + strings.Repeat("[1.5, 2.5],", 500) + "]", true},
		"keys in inline tables":  {"a = [" + strings.Repeat("{b.c = 1.5, d.e = 2.5},", 500) + "]", true},
		"brackets in texts":      {"a = \"" + strings.Repeat("[", 100) + "\"", true},
		"brackets in literals":   {"a = '" + strings.Repeat("[", 100) + "\\'", true},
		"brackets in long texts": {"a = \"\"\"\n" + strings.Repeat("[\n\"", 100) + "\\\"\"\"\"", true},
		"brackets in comments":   {"# " + strings.Repeat("[", 100) + "\na = 1", true},
		"points in quoted keys":  {"'" + strings.Repeat("a.", 100) + "' = 1", true},
	} {
		t.Run(name, func(t *testing.T) {
			root, problems := Parse("f.toml", []byte(c.text))
			assert.Equal(t, c.ok, root != nil)
			if !c.ok {
				assert.Contains(t, problems.Error(), "nested more than 64 deep")
			} else {
				assert.Empty(t, problems)
			}
		})
	}
	_, problems := Parse("f.toml", make([]byte, MaxBytes+1))
	assert.Equal(t, "f.toml: error: the file holds 1048577 bytes; at most 1048576 are read", problems.Error())
}
