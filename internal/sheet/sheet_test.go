package sheet_test

import (
	"bytes"
	"context"
	"io/fs"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"carryover/catalogs"
	"carryover/internal/bike"
	"carryover/internal/bikefile"
	"carryover/internal/carry"
	"carryover/internal/catalog"
	"carryover/internal/locate"
	"carryover/internal/report"
	"carryover/internal/sheet"
)

// hostile are names that must stay text: markup, quotes, direction marks, and one far too long.
var hostile = []string{
	`<script>alert("pwned")</script>`,
	`"><img src=x onerror=alert(1)>`,
	"';alert(1);//</style></svg>",
	"left \u202eright\u202c \u200f\u2066mark",
	"{{.JS}} &amp; &lt;b&gt;",
	strings.Repeat("endless", 1429), // 10,003 characters
}

func example(t testing.TB, name string) *bike.Bike {
	t.Helper()
	src, err := fs.ReadFile(catalogs.Examples, name+".toml")
	require.NoError(t, err)
	b, problems := bikefile.ReadBike(name, src, bikefile.Folder{FS: catalogs.Examples}, catalog.New(catalogs.Files))
	require.False(t, problems.HasErrors(), "%v", problems)
	b.File = "example:" + name
	return b
}

// solved carries every posture of an example, the target named by rename.
func solved(t testing.TB, from, to string, rename func(source, target *bike.Bike)) (sheet.Sheet, []*carry.Solution) {
	t.Helper()
	source, target := example(t, from), example(t, to)
	if rename != nil {
		rename(source, target)
	}
	adjusted, err := locate.Adjust(source, nil, locate.Options{})
	require.NoError(t, err)
	s := sheet.Sheet{Date: time.Date(2030, 5, 14, 0, 0, 0, 0, time.UTC), Carry: report.Carry{Schema: 1, From: source.File, To: target.File,
		FromName: source.Name, ToName: target.Name, Suspects: report.NewSuspects(adjusted)},
		Inputs: []sheet.Input{{Name: "From", Value: source.File}, {Name: "To", Value: target.Name}}}
	var solutions []*carry.Solution
	for _, p := range source.Postures {
		pos, err := adjusted.Position(p)
		require.NoError(t, err)
		k, err := carry.Solve(context.Background(), target, source.Feet, &pos, carry.Options{})
		require.NoError(t, err)
		require.NoError(t, k.AddSigmas())
		r, err := report.NewResult(k, adjusted)
		require.NoError(t, err)
		pictures, err := sheet.Draw(adjusted, k)
		require.NoError(t, err)
		s.Carry.Results = append(s.Carry.Results, r)
		s.Pictures = append(s.Pictures, pictures)
		solutions = append(solutions, k)
	}
	return s, solutions
}

func written(t testing.TB, s sheet.Sheet) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, sheet.Write(&b, s))
	return b.Bytes()
}

// named gives every name that a file may choose to the same text.
func named(name string) func(source, target *bike.Bike) {
	return func(source, target *bike.Bike) {
		source.Name, target.Name = name, name
		for i := range source.Postures {
			source.Postures[i].Name = name
		}
		for i := range target.Adjusters {
			a := &target.Adjusters[i]
			if mark, ok := target.Marks[a.Name]; ok {
				delete(target.Marks, a.Name)
				target.Marks[name+a.Name] = mark
			}
			a.Name = name + a.Name
		}
	}
}

// walk visits every element of a page.
func walk(n *html.Node, visit func(*html.Node)) {
	if n.Type == html.ElementNode {
		visit(n)
	}
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		walk(c, visit)
	}
}

func attr(n *html.Node, key string) (string, bool) {
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val, true
		}
	}
	return "", false
}

func text(n *html.Node) string {
	if n.Type == html.TextNode {
		return n.Data
	}
	var b strings.Builder
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		b.WriteString(text(c))
	}
	return b.String()
}

func TestPageIsSound(t *testing.T) {
	for _, pair := range [][2]string{{"road", "studio"}, {"road", "outdoor"}, {"tri", "studio"}} {
		t.Run(pair[0]+" to "+pair[1], func(t *testing.T) {
			s, _ := solved(t, pair[0], pair[1], nil)
			out := written(t, s)
			assert.True(t, bytes.HasPrefix(out, []byte("<!DOCTYPE html>\n<html lang=\"en\">")))
			checkTags(t, out)
			doc, err := html.Parse(bytes.NewReader(out))
			require.NoError(t, err)

			ids := map[string]*html.Node{}
			var refs []string
			heading := 0
			walk(doc, func(n *html.Node) {
				if id, ok := attr(n, "id"); ok {
					assert.NotContains(t, ids, id, "an id is there once")
					ids[id] = n
				}
				for _, key := range []string{"aria-labelledby", "for"} {
					if v, ok := attr(n, key); ok {
						refs = append(refs, strings.Fields(v)...)
					}
				}
				for _, key := range []string{"src", "href", "data", "poster", "action", "srcset"} {
					if v, ok := attr(n, key); ok {
						assert.True(t, strings.HasPrefix(v, "#"), "%s=%q loads something", key, v)
					}
				}
				for _, a := range n.Attr {
					assert.False(t, strings.HasPrefix(a.Key, "on"), "an event handler in an attribute: %s", a.Key)
				}
				if len(n.Data) == 2 && n.Data[0] == 'h' && n.Data[1] >= '1' && n.Data[1] <= '6' {
					level := int(n.Data[1] - '0')
					assert.LessOrEqual(t, level, heading+1, "heading %q skips a level", text(n))
					assert.NotEmpty(t, strings.TrimSpace(text(n)))
					heading = level
				}
			})
			for _, r := range refs {
				assert.Contains(t, ids, r, "a label or name points nowhere")
			}
			walk(doc, func(n *html.Node) {
				switch n.Data {
				case "svg":
					v, _ := attr(n, "role")
					assert.Equal(t, "img", v)
					by, _ := attr(n, "aria-labelledby")
					words := ""
					for _, id := range strings.Fields(by) {
						words += text(ids[id]) + " "
					}
					assert.Greater(t, len(words), 60, "a picture is told in words")
				case "input":
					if kind, _ := attr(n, "type"); kind == "checkbox" {
						id, _ := attr(n, "id")
						assert.Contains(t, refs, id, "a box has a label")
					}
				case "th":
					_, ok := attr(n, "scope")
					assert.True(t, ok, "a table's heading says what it heads: %q", text(n))
				}
			})
			for i := range s.Carry.Results {
				steps, boxes := report.NewWords(&s.Carry.Results[i]).Steps, 0
				walk(doc, func(n *html.Node) {
					if id, _ := attr(n, "id"); n.Data == "input" && strings.HasPrefix(id, "r"+string(rune('1'+i))+"-s") {
						boxes++
					}
				})
				assert.Equal(t, len(steps), boxes, "each step has a box")
			}
			page := text(doc)
			for _, c := range report.Cautions() {
				assert.Contains(t, page, c)
			}
			assert.Contains(t, page, "2030-05-14")
		})
	}
}

// checkTags holds the page's own markup to what HTML5 asks beyond what its forgiving parser mends in silence: every
// element that is opened is closed, in order.
func checkTags(t *testing.T, page []byte) {
	t.Helper()
	empty := map[string]bool{"meta": true, "input": true, "br": true, "hr": true, "img": true, "link": true}
	z := html.NewTokenizer(bytes.NewReader(page))
	var open []string
	for {
		kind := z.Next()
		if kind == html.ErrorToken {
			break
		}
		tag, _ := z.TagName()
		name := string(tag)
		switch kind {
		case html.StartTagToken:
			if !empty[name] {
				open = append(open, name)
			}
		case html.EndTagToken:
			require.NotEmpty(t, open, "</%s> closes nothing", name)
			require.Equal(t, open[len(open)-1], name, "closed out of order")
			open = open[:len(open)-1]
		}
	}
	assert.Empty(t, open, "left open")
}

func TestNamesStayText(t *testing.T) {
	plain, _ := solved(t, "road", "studio", nil)
	want := elements(t, written(t, plain))
	for _, name := range hostile {
		s, _ := solved(t, "road", "studio", named(name))
		out := written(t, s)
		assert.Equal(t, want, elements(t, out), "the name %.30q changes the page's elements", name)
		checkTags(t, out)
		for _, r := range []string{"\u202e", "\u200f", "\u2066"} {
			assert.NotContains(t, string(out), r, "direction marks are written out")
		}
		doc, err := html.Parse(bytes.NewReader(out))
		require.NoError(t, err)
		var foot *html.Node
		walk(doc, func(n *html.Node) {
			if n.Data == "footer" {
				foot = n
			}
		})
		shown := name
		if strings.Contains(name, "\u202e") {
			shown = `left \u202eright\u202c \u200f\u2066mark`
		}
		assert.Contains(t, text(foot), shown, "the whole name is shown among the inputs")
	}
}

// elements counts the elements of a page but for what a name may add or take away honestly: boxes and lines of text.
func elements(t *testing.T, page []byte) map[string]int {
	t.Helper()
	doc, err := html.Parse(bytes.NewReader(page))
	require.NoError(t, err)
	count := map[string]int{}
	walk(doc, func(n *html.Node) {
		if n.Data != "path" && n.Data != "text" && n.Data != "g" {
			count[n.Data]++
		}
	})
	return count
}

func TestSameInputsSamePage(t *testing.T) {
	a, _ := solved(t, "road", "studio", nil)
	b, _ := solved(t, "road", "studio", nil)
	assert.True(t, bytes.Equal(written(t, a), written(t, b)))
	b.Date = b.Date.AddDate(0, 0, 1)
	changed := bytes.ReplaceAll(written(t, b), []byte("2030-05-15"), []byte("2030-05-14"))
	assert.True(t, bytes.Equal(written(t, a), changed), "the date stands in one place only")
}

func TestPicturesMustMatchResults(t *testing.T) {
	s, _ := solved(t, "road", "studio", nil)
	s.Pictures = nil
	assert.ErrorContains(t, sheet.Write(&bytes.Buffer{}, s), "pictures")
}
