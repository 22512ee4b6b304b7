package sheet_test

import (
	"bytes"
	"fmt"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"carryover/internal/bike"
	"carryover/internal/biketest"
	"carryover/internal/draw/drawtest"
	"carryover/internal/job"
	"carryover/internal/locate"
	"carryover/internal/sheet"
	"carryover/internal/words"
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

// carried carries every posture of an example, and changes names in the result.
func carried(t testing.TB, from, to string, rename func(c *job.Carry)) *job.Carry {
	t.Helper()
	c := drawtest.Carried(t, "example:"+from, "example:"+to, "")
	if rename != nil {
		rename(c)
	}
	return c
}

var day = time.Date(2030, 5, 14, 0, 0, 0, 0, time.UTC)

func written(t testing.TB, c *job.Carry) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, sheet.Set(&b, c, day, []sheet.Input{{Name: "From", Value: c.Bike.File}, {Name: "To", Value: c.Target.Name}}))
	return b.Bytes()
}

// named gives every name that a file may choose to the same text.
func named(name string) func(*job.Carry) {
	return func(c *job.Carry) {
		c.Bike.Name, c.Target.Name = name, name
		c.Bike.Record, c.Rider = bike.Record{Date: name, Fitter: name, Notes: name}, &bike.Rider{Name: name}
		for i := range c.Target.Adjusters {
			a := &c.Target.Adjusters[i]
			old := a.Name
			a.Name = name + a.Name
			if mark, ok := c.Target.Marks[old]; ok {
				delete(c.Target.Marks, old)
				c.Target.Marks[a.Name] = mark
			}
			for _, r := range c.Results {
				for k := range r.Settings {
					if r.Settings[k].Name == old {
						r.Settings[k].Name = a.Name
					}
				}
			}
		}
		for _, r := range c.Results {
			r.Position.Posture.Name = name
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

func attrIs(n *html.Node, key, want string) bool {
	v, _ := attr(n, key)
	return v == want
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
			c := carried(t, pair[0], pair[1], nil)
			out := written(t, c)
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
			for i, r := range c.Results {
				boxes, fields := 0, 0
				walk(doc, func(n *html.Node) {
					if id, _ := attr(n, "id"); n.Data == "input" && strings.HasPrefix(id, fmt.Sprintf("r%d-s", i+1)) {
						boxes++
					}
					if n.Data == "td" && attrIs(n, "class", "blank") {
						fields++
					}
				})
				assert.Equal(t, len(r.Steps), boxes, "each step has a box")
				assert.GreaterOrEqual(t, fields, len(r.Checks), "each reading has room for what the tape says")
			}
			page := text(doc)
			for _, c := range words.Cautions() {
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
	want := elements(t, written(t, carried(t, "road", "studio", named("plain"))))
	for _, name := range hostile {
		out := written(t, carried(t, "road", "studio", named(name)))
		got := elements(t, out)
		if len(name) > 1000 { // so long that page 1 has no room for the scales
			for _, e := range []string{"details", "summary", "section", "h3"} {
				got[e] = want[e]
			}
		}
		assert.Equal(t, want, got, "the name %.30q changes the page's elements", name)
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
	a, b := carried(t, "road", "studio", nil), carried(t, "road", "studio", nil)
	assert.True(t, bytes.Equal(written(t, a), written(t, b)))
}

// page is what a sheet says, spaces made plain.
func page(t testing.TB, out []byte) string {
	t.Helper()
	doc, err := html.Parse(bytes.NewReader(out))
	require.NoError(t, err)
	return strings.Join(strings.Fields(strings.ReplaceAll(text(doc), words.NoBreak, " ")), " ")
}

// The sheet says what carry says: the same work, the same dangers, what else to mind.
func TestSheetSaysWhatCarrySays(t *testing.T) {
	for _, pair := range [][2]string{{"road", "studio"}, {"road", "resaddled"}, {"tri", "studio"}} {
		c := carried(t, pair[0], pair[1], nil)
		got := page(t, written(t, c))
		plain := func(s string) string {
			s = strings.ReplaceAll(s, words.NoBreak, " ")
			return regexp.MustCompile(`(^|[\s(])-(\d)`).ReplaceAllString(s, "$1−$2")
		}
		for _, r := range c.Results {
			for _, row := range words.Rows(r) {
				assert.Contains(t, got, plain(row.To), "%s: %s", pair[1], row.What)
				assert.Contains(t, got, plain(row.Check), "%s: %s", pair[1], row.What)
			}
			for _, s := range append(append(words.Minds(r), words.Dangers(r)...), words.Verdict(r), words.Because(r)) {
				assert.Contains(t, got, plain(s))
			}
		}
	}
}

// A setting without a scale has no mark, neither in the steps nor in the pictures.
func TestNoMarkWithoutAScale(t *testing.T) {
	got := page(t, written(t, carried(t, "road", "resaddled", nil)))
	for _, wrong := range []string{"676.5", "−151.2", "set it here"} {
		assert.NotContains(t, got, wrong)
	}
	assert.Contains(t, got, "no scale: by tape")
}

// What cannot be reached, or rests on readings that disagree, is nowhere called carried, and has no boxes to tick.
func TestWhatIsWrongStandsFirst(t *testing.T) {
	src := biketest.Text(t, "studio")
	far := regexp.MustCompile(`saddle_clamp = .*`).ReplaceAllString(src, "saddle_clamp = [-133.0, 100.0]")
	out := written(t, drawtest.Carried(t, "example:road", far, ""))
	assert.Contains(t, page(t, out), "Do not set the bike up like this")
	assert.NotContains(t, string(out), `type="checkbox"`)
	assert.NotContains(t, string(out), "Tape says")
	assert.Contains(t, page(t, out), "it does not come to how you sit and hold on")
	assert.NotContains(t, page(t, out), "so that you sit")

	src = biketest.Text(t, "road")
	wrong := strings.Replace(src, "value = 591.0", "value = 519.0", 1)
	c := drawtest.Carried(t, wrong, "example:studio", "")
	require.True(t, words.Disagree(c.Adjusted))
	got := page(t, written(t, c))
	assert.NotContains(t, got, "so that you sit")
	assert.Contains(t, got, "Readings in doubt")
	assert.Contains(t, got, "from readings that disagree: mend them first")
	assert.Contains(t, got, "519 mm, does not fit the others", "told as it is everywhere else")
}

// One posture of two that cannot be carried is not promised by the heading, nor is what comes only near.
func TestTheLeadPromisesNoMoreThanIsCarried(t *testing.T) {
	assert.Contains(t, page(t, written(t, carried(t, "road", "studio", nil))), "so that you sit and hold as on Short-saddled road bike")
	near := page(t, written(t, carried(t, "tri", "outdoor", nil)))
	assert.Contains(t, near, "as near as it comes to how you sit and hold on Clip-on bike")
	assert.NotContains(t, near, "so that you sit")
}

// Of a record from readings that disagree nothing is promised of how far off it could be.
func TestARecordOfReadingsThatDisagree(t *testing.T) {
	for off, sure := range map[float64]bool{0: true, 72: false} {
		b := biketest.Example(t, "road")
		b.Readings[3].Value += off
		s, err := job.NewSource(b, nil, locate.Options{})
		require.NoError(t, err)
		asked, err := s.Postures("")
		require.NoError(t, err)
		var out bytes.Buffer
		require.NoError(t, sheet.Record(&out, s, asked, day, nil))
		assert.Equal(t, sure, strings.Contains(page(t, out.Bytes()), "could be"))
		assert.Equal(t, !sure, strings.Contains(page(t, out.Bytes()), "From readings that disagree"))
	}
}

// recorded is the record of an example, and for how many postures.
func recorded(t testing.TB, name string) (page []byte, sheets int) {
	t.Helper()
	var files job.Files
	source, err := files.Source("example:"+name, nil, locate.Options{})
	require.NoError(t, err)
	source.Bike.Record = bike.Record{Date: "2030-05-13", Fitter: "A fitter", Notes: "New cleats."}
	postures := source.Postures
	if len(source.Bike.Postures) == 0 {
		postures = source.AsItStands
	}
	asked, err := postures("")
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, sheet.Record(&b, source, asked, day, nil))
	return b.Bytes(), len(asked)
}

// What was noted of the two bikes is told apart; what is the same on both stands once.
func TestNotesSayOfWhichBike(t *testing.T) {
	c := carried(t, "road", "studio", func(c *job.Carry) {
		c.Bike.Record = bike.Record{Fitter: "A fitter", Notes: "New cleats."}
		c.Target.Record = bike.Record{Fitter: "A fitter", Notes: "A bolt is worn."}
	})
	got := page(t, written(t, c))
	assert.Contains(t, got, "FitterA fitter NotesA bolt is worn. Notes, Short-saddled road bikeNew cleats.")
}

// The page for the client who is to buy a stem: two sentences, three choices, and nothing to set up.
func TestStems(t *testing.T) {
	var files job.Files
	c, err := files.Carry(t.Context(), job.Asked{From: "example:road", To: "example:outdoor", Stems: true})
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, sheet.Stems(&b, c, day, nil))
	checkTags(t, b.Bytes())
	got := page(t, b.Bytes())
	for _, want := range []string{"Stems to buy", "these stems come nearest", "100 mm, 0°", "25 mm of spacers",
		"the bar turned 2.3° front up"} {
		assert.Contains(t, got, want)
	}
	assert.Equal(t, 3, strings.Count(b.String(), `type="checkbox"`))
	assert.NotContains(t, got, "Set in this order")
}

// A record of one bike names its parts, who made it, and reads what its readings say.
func TestRecord(t *testing.T) {
	out, _ := recorded(t, "road")
	checkTags(t, out)
	got := page(t, out)
	for _, want := range []string{"Short saddle, 250 x 150 mm", "crank 172.5 mm", "A fitter", "New cleats.", "2030-05-13", "738 mm", "43 mm",
		"seat: 202 mm behind", "saddle short-250 (112e87b9)"} {
		assert.Contains(t, got, want)
	}
}
