package diag

import (
	"errors"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func span(line, from, to int) *Span {
	return &Span{File: "road.toml", Start: Pos{line, from}, End: Pos{line, to}}
}

func TestRender(t *testing.T) {
	long := strings.Repeat("a", 150) + "!" + strings.Repeat("b", 150)
	for name, c := range map[string]struct {
		d    Diagnostic
		want string
	}{
		"key with a mend": {
			Diagnostic{Severity: Error, Span: span(12, 1, 10), Line: "clamp_att = 150",
				Summary: `unknown key "clamp_att" in [saddle]`, Detail: `did you mean "clamp_at"?`}, `
road.toml:12:1: error: unknown key "clamp_att" in [saddle]
   12 | clamp_att = 150
      | ^^^^^^^^^
      = did you mean "clamp_at"?
`},
		"warning and related places": {
			Diagnostic{Severity: Warning, Span: span(100, 9, 12), Line: "value = 742", Summary: "this disagrees",
				Related: []Note{{Span: *span(7, 1, 6), Line: "value = 700", Text: "with this"}}}, `
road.toml:100:9: warning: this disagrees
  100 | value = 742
      |         ^^^
road.toml:7:1: note: with this
    7 | value = 700
      | ^^^^^
`},
		"no place": {Diagnostic{Severity: Error, Summary: "no bike given"}, `
error: no bike given
`},
		"file only": {Diagnostic{Severity: Error, Summary: "no such file", Span: &Span{File: "x.toml"}, Line: "x"}, `
x.toml: error: no such file
`},
		"place without a file name": {Diagnostic{Severity: Error, Summary: "s", Span: &Span{Start: Pos{1, 2}}}, `
1:2: error: s
`},
		"source line unknown": {Diagnostic{Severity: Error, Summary: "s", Span: span(3, 4, 5)}, `
road.toml:3:4: error: s
`},
		"tabs": {Diagnostic{Severity: Error, Summary: "s", Span: span(1, 3, 5), Line: "\ta\tb = 1"}, `
road.toml:1:3: error: s
    1 |     a    b = 1
      |      ^^^^^
`},
		"wide and combining characters": {
			Diagnostic{Severity: Error, Summary: "s", Span: span(1, 7, 9), Line: "日本 e\u0301 価 x"}, `
road.toml:1:7: error: s
    1 | ` + "日本 e\u0301 価 x" + `
      |        ^^^
`},
		"caret on a combining mark": {
			Diagnostic{Severity: Error, Summary: "s", Span: span(1, 2, 3), Line: "e\u0301"}, `
road.toml:1:2: error: s
    1 | ` + "e\u0301" + `
      |  ^
`},
		"escape sequences, direction marks and broken bytes": {
			Diagnostic{Severity: Error, Summary: "a\x1b]0;t\x07\nb", Detail: "\u202ex", Line: "\x1b[2J\u202e\xff\u00a0\r!",
				Span: &Span{File: "\x1b[31m.toml", Start: Pos{1, 9}, End: Pos{1, 10}}}, `
\x1b[31m.toml:1:9: error: a\x1b]0;t\x07\x0ab
    1 | \x1b[2J\u202e` + "\ufffd" + `\xa0\x0d!
      |                       ^
      = \u202ex
`},
		"stretch over several lines": {
			Diagnostic{Severity: Error, Summary: "s", Line: "a = [1,",
				Span: &Span{File: "f", Start: Pos{1, 5}, End: Pos{3, 2}}}, `
f:1:5: error: s
    1 | a = [1,
      |     ^^^
`},
		"caret behind the end": {Diagnostic{Severity: Error, Summary: "s", Span: span(1, 4, 4), Line: "a ="}, `
road.toml:1:4: error: s
    1 | a =
      |    ^
`},
		"long line, middle": {Diagnostic{Severity: Error, Summary: "s", Span: span(1, 151, 152), Line: long}, `
road.toml:1:151: error: s
    1 | …` + strings.Repeat("a", 40) + "!" + strings.Repeat("b", 58) + `…
      | ` + strings.Repeat(" ", 41) + `^
`},
		"long line, start": {Diagnostic{Severity: Error, Summary: "s", Span: span(1, 2, 302), Line: long}, `
road.toml:1:2: error: s
    1 | ` + strings.Repeat("a", 100) + `…
      |  ` + strings.Repeat("^", 99) + `
`},
		"long line, end": {Diagnostic{Severity: Error, Summary: "s", Span: span(1, 301, 302), Line: long}, `
road.toml:1:301: error: s
    1 | …` + strings.Repeat("b", 99) + `
      | ` + strings.Repeat(" ", 99) + `^
`},
		"line that just fits": {
			Diagnostic{Severity: Error, Summary: "s", Span: span(1, 100, 101), Line: long[:100]}, `
road.toml:1:100: error: s
    1 | ` + long[:100] + `
      | ` + strings.Repeat(" ", 99) + `^
`},
	} {
		t.Run(name, func(t *testing.T) {
			var b strings.Builder
			require.NoError(t, Render(&b, List{c.d}, Options{}))
			assert.Equal(t, strings.TrimPrefix(c.want, "\n"), b.String())
		})
	}
}

func TestColourIsTheOnlyControl(t *testing.T) {
	d := Diagnostic{Severity: Error, Summary: "\x1bs", Span: span(1, 1, 2), Line: "a\x1b", Detail: "\x1bd",
		Related: []Note{{Span: *span(2, 1, 2), Line: "\x1b", Text: "\x1bt"}}}
	var b strings.Builder
	require.NoError(t, Render(&b, List{d}, Options{Color: true}))
	plain := b.String()
	for _, code := range []string{bold, red, blue, reset} {
		assert.Contains(t, plain, code)
		plain = strings.ReplaceAll(plain, code, "")
	}
	assert.Equal(t, List{d}.Error()+"\n", plain)
	assert.NotContains(t, plain, "\x1b")
}

func TestHugeLinesStayShort(t *testing.T) {
	for _, line := range []string{strings.Repeat("\u0301", 100_000), strings.Repeat("x", 100_000)} {
		d := Diagnostic{Severity: Error, Summary: "s", Span: span(1, 50_000, 50_001), Line: line}
		assert.Less(t, len(List{d}.Error()), 4000)
	}
}

func TestListSortsAndDropsRepeats(t *testing.T) {
	at := func(file string, line, col int, code string) Diagnostic {
		return Diagnostic{Code: code, Severity: Error, Span: &Span{File: file, Start: Pos{line, col}}}
	}
	l := List{at("b", 1, 1, "x"), at("a", 10, 1, "x"), at("a", 2, 5, "x"), at("a", 2, 5, "c"), at("a", 2, 5, "x"),
		{Code: "no place", Severity: Warning}, at("a", 2, 3, "x")}
	l.Sort()
	want := List{{Code: "no place", Severity: Warning}, at("a", 2, 3, "x"), at("a", 2, 5, "c"), at("a", 2, 5, "x"),
		at("a", 10, 1, "x"), at("b", 1, 1, "x")}
	assert.Equal(t, want, l)
}

func TestListIsAnErrorOnlyWithErrors(t *testing.T) {
	assert.NoError(t, List(nil).Err())
	assert.NoError(t, List{{Severity: Warning}}.Err())
	err := List{{Severity: Warning, Summary: "w"}, {Severity: Error, Summary: "e"}}.Err()
	require.EqualError(t, err, "warning: w\nerror: e")
	var list List
	require.True(t, errors.As(err, &list))
	assert.Len(t, list, 2)
}

func TestRenderCapsTheList(t *testing.T) {
	l := make(List, 23)
	for i := range l {
		l[i] = Diagnostic{Severity: Error, Summary: "s"}
	}
	for limit, want := range map[int]string{
		0:  strings.Repeat("error: s\n", 20) + "and 3 more\n",
		2:  strings.Repeat("error: s\n", 2) + "and 21 more\n",
		23: strings.Repeat("error: s\n", 23),
		-1: strings.Repeat("error: s\n", 23),
	} {
		var b strings.Builder
		require.NoError(t, Render(&b, l, Options{Max: limit}))
		assert.Equal(t, want, b.String(), "max %d", limit)
	}
	assert.True(t, strings.HasSuffix(l.Error(), "error: s\nand 3 more"))
}

func TestRenderReportsTheWriter(t *testing.T) {
	assert.ErrorIs(t, Render(brokenWriter{}, List{{Severity: Error}}, Options{}), errBroken)
}

var errBroken = errors.New("broken")

type brokenWriter struct{}

func (brokenWriter) Write([]byte) (int, error) { return 0, errBroken }

func TestSuggest(t *testing.T) {
	keys := []string{"part", "clamp_at", "tilt", "to", "sag", "Width"}
	for word, want := range map[string]string{
		"clamp_att": "clamp_at", // one letter too many
		"calmp_at":  "clamp_at", // neighbours swapped: one edit
		"calmp_ta":  "clamp_at", // twice
		"clampat":   "clamp_at",
		"Clamp_At":  "clamp_at", // case does not count
		"width":     "Width",
		"tolt":      "tilt",
		"parts":     "part",
		"tiltxyz":   "", // three edits
		"ot":        "to",
		"x":         "", // too short to guess from
		"":          "",
		"xy":        "",
		"sat":       "sag",
	} {
		got, ok := Suggest(word, keys)
		assert.Equal(t, want, got, word)
		assert.Equal(t, want != "", ok, word)
	}
	got, _ := Suggest("bac", []string{"bat", "bar"})
	assert.Equal(t, "bat", got, "the first of equals")
}

// Edit distances that can be counted by hand; "kitten" and "sitting" is the usual textbook pair, and "ca" and "abc"
// tells the optimal string alignment form (3) from the unrestricted one (2).
func TestDistance(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{{"", "", 0}, {"", "abc", 3}, {"abc", "", 3}, {"kitten", "sitting", 3}, {"ab", "ba", 1}, {"ca", "abc", 3}, {"é", "e", 1}} {
		assert.Equal(t, c.want, distance([]rune(c.a), []rune(c.b)), "%s %s", c.a, c.b)
	}
}
