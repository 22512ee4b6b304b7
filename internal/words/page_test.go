package words_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"carryover/internal/words"
)

func TestFold(t *testing.T) {
	for _, c := range []struct{ name, lead, text, want string }{
		{"short", "  ", "a few", "  a few"},
		{"exactly as wide", "", "0123456789", "0123456789"},
		{"between words", "", "one two three four", "one two|three four"},
		{"under the lead", "a. ", "one two three", "a. one two|   three"},
		{"a word too wide is cut", "  ", "0123456789012", "  0123456…"},
		{"letters of several bytes", "", "äöü äöü äöü", "äöü äöü|äöü"},
		{"letters two columns wide", "", "日本 日本語", "日本|日本語"},
		{"a number stays with its unit", "", "it is 12\u00a0mm long", "it is|12\u00a0mm long"},
		{"nothing", "x ", "", "x "},
	} {
		assert.Equal(t, c.want, strings.Join(words.Fold(c.lead, c.text, 10), "|"), c.name)
	}
}

func TestReflow(t *testing.T) {
	assert.Equal(t, "one two\nthree\n\nfour five", words.Reflow("one\ntwo three\n\nfour\nfive", 10))
	assert.Equal(t, "list:\n  one\n  two", words.Reflow("list:\n  one\n  two", 20), "what is set in keeps its lines")
	assert.Equal(t, "  a  one two\n     three\n  b  four", words.Reflow("  a  one two three\n  b  four", 12), "a hanging indent is kept")
}

func TestPageIsFoldedToItsWidth(t *testing.T) {
	p := words.Page{Width: 40}
	p.Space()
	p.Para("", "Set the saddle post to 16.1, between 16 and 17.")
	p.Heading("Steps")
	p.Table("rll", []string{"1", "saddle post", "floor to mid-saddle 1026 mm"}, []string{"10", "tilt"})
	p.Danger("Out of reach by 30 mm: do not set this bike up like this.")
	assert.Equal(t, strings.Join([]string{
		"Set the saddle post to 16.1, between 16", "and 17.", "", "Steps",
		"   1  saddle post", "        floor to mid-saddle 1026 mm", "  10  tilt",
		"!! Out of reach by 30 mm: do not set", "   this bike up like this.", ""}, "\n"), p.String())
	q := words.Page{Width: 40}
	q.Table("rlr", []string{"1", "saddle post", "16.1"}, []string{"10", "tilt", "-1.5°"})
	q.Table("rll", []string{"1", "post", "floor to mid-saddle, laser level"}, []string{"10", "a longer name", "x"})
	assert.Equal(t, strings.Join([]string{"   1  saddle post   16.1", "  10  tilt         -1.5°",
		"   1  post", "        floor to mid-saddle, laser level", "  10  a longer name", "        x", ""}, "\n"), q.String())
}
