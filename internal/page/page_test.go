package page_test

import (
	"context"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"carryover/internal/biketest"
	"carryover/internal/job"
	"carryover/internal/page"
	"carryover/internal/words"
)

func newPage(t testing.TB) *page.Page {
	p, err := page.New("", func() time.Time { return time.Date(2030, 5, 14, 0, 0, 0, 0, time.UTC) })
	require.NoError(t, err)
	return p
}

func get(t testing.TB, p *page.Page, store page.Store, address string) page.Response {
	u, err := url.Parse(address)
	require.NoError(t, err)
	return p.Answer(t.Context(), store, page.Request{Path: u.Path, Query: u.Query()})
}

func post(t testing.TB, p *page.Page, store page.Store, path string, form url.Values) page.Response {
	return p.Answer(t.Context(), store, page.Request{Post: true, Path: path, Form: form})
}

// six are the readings of the short path.
const six = "feet.crank=172.5&support=122&reading+saddle-height+sit=738&reading+setback+sit=202&reading+saddle-tilt=-1.5&" +
	"reading+reach+sit=750&reading+drop+sit=57&reading+hood-angle=3.5"

func TestPagesOpen(t *testing.T) {
	p := newPage(t)
	for address, shows := range map[string]string{
		"/": "Ten questions", "/carry": "choose", "/carry?from=example:road&to=example:studio": "CARRIED", "/bike?file=example:tri": "clipon",
		"/new": "Question 1 of 10", "/new?q=11&" + six: "Your seat is 202", "/new?q=11": "Still missing: crank",
	} {
		r := get(t, p, &page.Memory{}, address)
		require.Equal(t, page.StatusOK, r.Status, "%s\n%s", address, r.Body)
		require.Contains(t, string(r.Body), shows, address)
	}
	require.Equal(t, page.StatusNotFound, get(t, p, &page.Memory{}, "/nosuch").Status)
	require.Equal(t, page.StatusNotFound, get(t, p, &page.Memory{}, "/bike?file=nosuch.toml").Status)
	require.Equal(t, page.StatusNotFound, get(t, p, &page.Memory{}, "/save").Status, "what changes a file is a POST")
	require.Equal(t, page.StatusUnprocessed, get(t, p, &page.Memory{}, "/carry?from=example:studio&to=nosuch.toml").Status)
}

// Every example opens; one that is carried from says what further readings would buy.
func TestEveryExampleOpens(t *testing.T) {
	p := newPage(t)
	for _, name := range job.Examples() {
		r := get(t, p, &page.Memory{}, "/bike?file=example:"+name)
		require.Equal(t, page.StatusOK, r.Status, name)
		measured := slices.Contains([]string{"aero", "road", "tri", "weekend"}, name)
		require.Equal(t, measured, strings.Contains(string(r.Body), "mm in all becomes"), name)
	}
}

func TestShortPathMakesABike(t *testing.T) {
	p, store := newPage(t), &page.Memory{}
	form, err := url.ParseQuery("name=Blue+%22one%22&saddle+post=cm&" + six)
	require.NoError(t, err)
	r := post(t, p, store, "/new", form)
	require.Equal(t, page.StatusSeeOther, r.Status, "%s", r.Body)
	require.Equal(t, "/bike?file=blue-one.toml", r.Location)
	require.Equal(t, "/bike?file=blue-one-2.toml", post(t, p, store, "/new", form).Location, "nothing is written over")
	files := job.Files{FS: store}
	s, err := files.Bike("blue-one.toml")
	require.NoError(t, err)
	require.Equal(t, `Blue "one"`, s.Name)
	require.Len(t, s.Readings, 6)
	require.Len(t, s.Adjusters, 1)
	require.LessOrEqual(t, strings.Count(store.Files["blue-one.toml"], "\n"), 60)
}

// A bike of which nothing is said opens too, and says so where something is asked of it.
func TestABareBike(t *testing.T) {
	p := newPage(t)
	store := &page.Memory{Files: map[string]string{"a.toml": "schema = 1\nfeet.crank = 170.0\nsaddle = {}\nbar = {}\n"}}
	for _, address := range []string{"/", "/bike?file=a.toml"} {
		require.Equal(t, page.StatusOK, get(t, p, store, address).Status, address)
	}
	for _, address := range []string{"/carry?from=a.toml&to=a.toml", "/felt?from=a.toml&to=example:studio"} {
		r := get(t, p, store, address)
		require.Equal(t, page.StatusUnprocessed, r.Status, "%s", r.Body)
	}
}

// Whatever is not known is left out, and the file can still be kept and read.
func TestNothingKnownIsABikeToo(t *testing.T) {
	p, store := newPage(t), &page.Memory{}
	r := post(t, p, store, "/new", url.Values{})
	require.Equal(t, "/bike?file=bike.toml", r.Location)
	r = get(t, p, store, r.Location)
	require.Equal(t, page.StatusOK, r.Status)
	require.Contains(t, string(r.Body), "Still missing: crank", "%s", r.Body)
}

func TestOddAnswersAreQuestioned(t *testing.T) {
	p := newPage(t)
	for address, says := range map[string]string{
		"/new?q=4&reading+saddle-height+sit=74,3":               `>743 mm</a>`,
		"/new?q=4&reading+saddle-height+sit=29.25+in":           ">743 mm</text>",
		"/new?q=4&reading+saddle-height+sit=tall":               "is not a number",
		"/new?q=6&reading+saddle-tilt=16.5":                     "16.5 is unusual",
		"/new?q=5&feet.crank=170&reading+saddle-height+sit=738": "That leaves",
	} {
		r := get(t, p, &page.Memory{}, strings.ReplaceAll(address, " ", "+"))
		require.Contains(t, string(r.Body), says, address)
	}
}

func TestSaveNeverWritesOverWhatNobodySaw(t *testing.T) {
	p := newPage(t)
	store := &page.Memory{Files: map[string]string{"a.toml": "schema = 1\n"}}
	seen := page.Version([]byte("schema = 1\n"))
	store.Files["a.toml"] = "schema = 1 # changed on disk\n"
	r := post(t, p, store, "/save", url.Values{"file": {"a.toml"}, "text": {"schema = 1 # mine\n"}, "was": {seen}})
	require.Equal(t, page.StatusConflict, r.Status)
	require.Contains(t, string(r.Body), "changed on disk", "what is there now is shown")
	require.Contains(t, string(r.Body), "# mine", "and what was typed is kept")
	require.Empty(t, store.Written)
	// Asked, the person keeps theirs.
	was := value(t, string(r.Body), "was")
	require.Equal(t, page.StatusSeeOther, post(t, p, store, "/save", url.Values{"file": {"a.toml"}, "text": {"schema = 1 # mine\n"},
		"was": {was}}).Status)
	require.Equal(t, "schema = 1 # mine\n", store.Files["a.toml"])
	// A new file never replaces one.
	require.Equal(t, page.StatusConflict, post(t, p, store, "/save", url.Values{"file": {"a.toml"}, "text": {"schema = 1 # new\n"}}).Status)
	for _, name := range []string{"", "../a.toml", "/etc/a.toml", ".a.toml", "a/b.toml", `a\b.toml`, "a.txt/", "a\x00.toml", "c:a.toml",
		strings.Repeat("a", 200) + ".toml"} {
		r := post(t, p, store, "/save", url.Values{"file": {name}, "text": {"schema = 1\n"}})
		require.Equal(t, page.StatusUnprocessed, r.Status, "%q", name)
	}
	require.Len(t, store.Files, 1)
}

// value is the value of a field of a page.
func value(t testing.TB, text, name string) string {
	root, err := html.Parse(strings.NewReader(text))
	require.NoError(t, err)
	found := ""
	for n := range root.Descendants() {
		attrs := map[string]string{}
		for _, a := range n.Attr {
			attrs[a.Key] = a.Val
		}
		if n.Data == "input" && attrs["name"] == name {
			found = attrs["value"]
		}
	}
	return found
}

// hostile is what a name may hold to get out of where it stands.
const hostile = `<script>alert(1)</script><img src=x onerror=alert(1)>"'` + "`" + `{{.}}</title></textarea></svg>javascript:alert(1)`

// Names, texts and addresses of strangers never become elements, attributes or addresses of the page.
func TestHostileNamesAreText(t *testing.T) {
	p := newPage(t)
	bikeText := "schema = 1\nname = '''" + hostile + "'''\n[feet]\ncrank = 170.0\n[saddle]\n[bar]\n[posture.'" +
		strings.ReplaceAll(hostile, "'", "") + "']\nhands = \"hood\"\nsupport = 122.0\n" +
		"[[adjuster]]\nname = '''" + hostile + "'''\nmoves = \"saddle\"\nangle = 107.0\nunit = 10.0\n"
	store := &page.Memory{Files: map[string]string{"a.toml": bikeText, "<img src=x onerror=alert(1)>.toml": bikeText, "broken.toml": hostile}}
	q := url.QueryEscape(hostile)
	for _, address := range []string{"/", "/bike?file=a.toml", "/bike?file=broken.toml", "/bike?file=" + q,
		"/carry?from=a.toml&to=example:studio", "/carry?from=example:road&to=a.toml",
		"/carry?from=" + q + "&to=" + q + "&posture=" + q, "/new?name=" + q + "&q=1",
		"/new?name=" + q + "&reading+saddle-height+sit=" + q + "&q=4", "/new?name=" + q + "&reading+setback+sit=" + q + "&q=11", "/" + q,
		"/carry?from=example:road&to=example:studio&t1=" + q} {
		r := get(t, p, store, address)
		root, err := html.Parse(strings.NewReader(string(r.Body)))
		require.NoError(t, err)
		for n := range root.Descendants() {
			if n.Type != html.ElementNode {
				continue
			}
			src := ""
			for _, a := range n.Attr {
				require.False(t, strings.HasPrefix(a.Key, "on"), "%s: <%s %s>", address, n.Data, a.Key)
				if a.Key == "href" || a.Key == "action" || a.Key == "src" {
					require.True(t, strings.HasPrefix(a.Val, "/") || strings.HasPrefix(a.Val, "#"), "%s: %s=%s", address, a.Key, a.Val)
				}
				if a.Key == "src" {
					src = a.Val
				}
			}
			require.NotEqual(t, "img", n.Data, address)
			require.True(t, n.Data != "script" || src == "/page.js", address)
		}
	}
}

// Nothing of the page's own leads to another host: no address in its script, its style or its pages.
func TestNoThirdParty(t *testing.T) {
	p := newPage(t)
	said := page.Script + page.Style
	for _, address := range []string{"/", "/new", "/new?q=11", "/carry?from=example:road&to=example:studio", "/saddles",
		"/felt?from=example:road&to=example:studio&m1=3", "/bike?file=example:road"} {
		said += string(get(t, p, &page.Memory{}, address).Body)
	}
	require.NotRegexp(t, `https?:|@import|\burl\(|(src|href|action)=["']?//`, said)
}

// A carry whose time is over ends with the best so far, and says that it is no more than that.
func TestNoAnswerWithoutTime(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	r := newPage(t).Answer(ctx, &page.Memory{}, page.Request{Path: "/carry",
		Query: url.Values{"from": {"example:tri"}, "to": {"example:outdoor"}}})
	require.Contains(t, string(r.Body), "stopped early")
}

// Any address is answered by a page, whatever stands in it.
func FuzzAnswer(f *testing.F) {
	p := newPage(f)
	for _, seed := range []string{"/new?q=4&reading+saddle-height+sit=74,3", "/carry?from=example:road&to=example:studio&t1=170&d1=1",
		"/bike?file=example:road", "/new?q=99999999999&reading+saddle-height+sit=1e308&reading+setback+sit=-1", "/file?file=.."} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, address string) {
		u, err := url.Parse(address)
		if err != nil {
			return
		}
		r := p.Answer(t.Context(), &page.Memory{}, page.Request{Path: u.Path, Query: u.Query()})
		require.NotEqual(t, page.StatusFailed, r.Status, "%s\n%s", address, r.Body)
		if asked := u.Path + u.Query().Encode(); !strings.Contains(asked, "NaN") { // a page may show again what was asked
			require.NotContains(t, string(r.Body), "NaN")
		}
	})
}

// A felt change on the page is what `carryover felt` prints, in its words and with its ±.
func TestFeltChange(t *testing.T) {
	p := newPage(t)
	const at = "/felt?from=example:road&to=example:studio"
	r := get(t, p, &page.Memory{}, at+"&m1=-5&m2=1.5")
	require.Equal(t, page.StatusOK, r.Status)
	text := html.UnescapeString(string(r.Body))
	files := job.Files{}
	f, err := files.Felt(t.Context(), job.Asked{From: "example:studio", To: "example:road"},
		[]string{"saddle slide=5 mm back", "bar post=1.5 mm up"})
	require.NoError(t, err)
	rows := append(words.FeltMoves(f), words.FeltReadings(f)...)
	require.Greater(t, len(rows), 6)
	for _, row := range rows {
		for _, cell := range row {
			require.Contains(t, text, ">"+cell+"<")
		}
	}
	require.Contains(t, text, " ± ")
	none := html.UnescapeString(string(get(t, p, &page.Memory{}, at).Body))
	require.Contains(t, none, "nothing moves")
	require.NotContains(t, none, "<th scope=\"row\">", "nothing moved, nothing changed")
}

// Two saddles laid together where both are as wide: at the same place of the same saddle they are one.
func TestTwoSaddles(t *testing.T) {
	p := newPage(t)
	text := string(get(t, p, &page.Memory{}, "/saddles?a=classic-280&b=classic-280&at=190").Body)
	require.Contains(t, text, "equally far ahead")
	require.Contains(t, text, "you sit equally high for the same saddle height")
	text = string(get(t, p, &page.Memory{}, "/saddles?a=classic-280&b=short-250&at=190").Body)
	require.Contains(t, text, "further back: with the same setback at the nose you would sit that much too far forward")
}

func TestDownloads(t *testing.T) {
	p := newPage(t)
	for address, holds := range map[string]string{
		"/sheet?from=example:road&to=example:studio":   "2030",
		"/drawing?from=example:road&to=example:studio": "<svg",
		"/template?saddle=classic-280&width=122":       "size:210mm 297mm",
		"/template?width=122&paper=letter":             "size:215.9mm 279.4mm",
		"/file?file=example:road":                      "schema = 1",
	} {
		r := get(t, p, &page.Memory{}, address)
		require.Equal(t, page.StatusOK, r.Status, "%s\n%s", address, r.Body)
		require.NotEmpty(t, r.Name, address)
		require.Contains(t, string(r.Body), holds, address)
	}
	require.Equal(t, page.StatusUnprocessed, get(t, p, &page.Memory{}, "/template?saddle=classic-280&width=900").Status)
	require.Equal(t, page.StatusUnprocessed, get(t, p, &page.Memory{}, "/template?saddle=nosuch").Status)
}

// What was typed beside a step is answered in the words of the command line, and stands there again after a reload.
func TestStepsAnswer(t *testing.T) {
	p := newPage(t)
	text := string(get(t, p, &page.Memory{}, "/carry?from=example:road&to=example:studio&d1=1&t3=1030.2&t4=nonsense").Body)
	require.Contains(t, text, "1 of 7 steps done")
	require.Contains(t, text, "4\u00a0mm down: to 15.6.")
	require.Contains(t, text, `value="1030.2"`)
	require.Contains(t, text, "is not a number")
}

// A second correction counts from the mark that the first one ended at, and the old reading is gone.
func TestSecondCorrection(t *testing.T) {
	p := newPage(t)
	const at = "/carry?from=example:road&to=example:studio&t3=1030.2"
	moved := regexp.MustCompile(`name="moved" value="(3 \d+ 15\.6)"`).FindStringSubmatch(string(get(t, p, &page.Memory{}, at).Body))
	require.Len(t, moved, 2)
	text := string(get(t, p, &page.Memory{}, at+"&moved="+url.QueryEscape(moved[1])).Body)
	require.Contains(t, text, "moved to <strong>15.6")
	require.Empty(t, value(t, text, "t3"))
	mark := "m" + strings.Fields(moved[1])[1]
	require.Equal(t, "15.6", value(t, text, mark))
	text = string(get(t, p, &page.Memory{}, "/carry?from=example:road&to=example:studio&t3=1028.2&"+mark+"=15.6").Body)
	require.Contains(t, text, "2\u00a0mm down: to 15.4.")
	for _, hostile := range []string{"&m0=1e300", "&m99=1", "&m6=NaN", "&moved=1+1", "&moved=a+b+c", "&m4=3&m6=3"} {
		require.Equal(t, page.StatusOK, get(t, p, &page.Memory{}, at+hostile).Status, hostile)
	}
}

// Every posture is told as the command line tells it; one of them is worked through.
func TestPostures(t *testing.T) {
	p := newPage(t)
	files := job.Files{}
	c, err := files.Carry(t.Context(), job.Asked{From: "example:tri", To: "example:studio"})
	require.NoError(t, err)
	require.Greater(t, len(c.Results), 1)
	all := html.UnescapeString(string(get(t, p, &page.Memory{}, "/carry?from=example:tri&to=example:studio").Body))
	for _, r := range c.Results {
		told := []string{words.PostureVerdict(r), words.Finished(r)}
		for _, said := range slices.Concat(told, words.Dangers(r), words.Cures(r), words.Minds(r)) {
			require.Contains(t, all, said)
		}
		name := r.Position.Posture.Name
		one := html.UnescapeString(string(get(t, p, &page.Memory{}, "/carry?from=example:tri&to=example:studio&posture="+name).Body))
		require.Contains(t, one, words.PostureVerdict(r))
		require.Contains(t, one, `id="step-1"`)
	}
	require.NotContains(t, all, `id="step-1"`)
	gone := get(t, p, &page.Memory{}, "/carry?from=example:road&to=example:studio&posture=aero")
	require.Contains(t, string(gone.Body), "Posture road is CARRIED", "the posture of a bike chosen before is forgotten")
}

// What the flags of `carryover carry` choose is chosen here: the rider, what a crank keeps, the hands.
func TestChoices(t *testing.T) {
	p := newPage(t)
	rider, err := job.Example("rider")
	require.NoError(t, err)
	store := &page.Memory{Files: map[string]string{"me.toml": string(rider)}}
	require.Regexp(t, `(?s)<summary>Riders.*me\.toml`, string(get(t, p, store, "/").Body))
	require.Contains(t, string(get(t, p, store, "/bike?file=me.toml").Body), "A rider")
	const at = "/carry?from=example:road&to=example:studio"
	text := string(get(t, p, store, at+"&rider=me.toml").Body)
	require.Regexp(t, "Your body: |Knees, hips and torso", text)
	require.NotRegexp(t, "Your body: |Knees, hips and torso", string(get(t, p, store, at).Body))
	require.Contains(t, string(get(t, p, store, at+"&hands=fixed").Body), "the hands stay.")
	require.NotEqual(t, string(get(t, p, store, at).Body), string(get(t, p, store, at+"&policy=knee").Body))
	require.Equal(t, page.StatusUnprocessed, get(t, p, store, at+"&rider=nosuch.toml").Status)
}

// A file is deleted once the person was asked, and only as they saw it.
func TestDelete(t *testing.T) {
	p := newPage(t)
	store := &page.Memory{Files: map[string]string{"a.toml": "schema = 1\n", "b.toml": "schema = 1\n"}}
	asked := get(t, p, store, "/delete?file=a.toml")
	require.Contains(t, string(asked.Body), "Delete a?")
	require.Len(t, store.Files, 2, "asking deletes nothing")
	was := value(t, string(asked.Body), "was")
	store.Files["a.toml"] = "schema = 1 # changed\n"
	r := post(t, p, store, "/delete", url.Values{"file": {"a.toml"}, "was": {was}})
	require.Equal(t, page.StatusConflict, r.Status)
	require.Len(t, store.Files, 2)
	was = value(t, string(r.Body), "was")
	require.Equal(t, "/", post(t, p, store, "/delete", url.Values{"file": {"a.toml"}, "was": {was}}).Location)
	require.Equal(t, []string{"a.toml"}, store.Removed)
	require.Contains(t, store.Files, "b.toml")
	for _, file := range []string{"", "nosuch.toml", "../b.toml", "example:road"} {
		require.GreaterOrEqual(t, post(t, p, store, "/delete", url.Values{"file": {file}, "was": {was}}).Status, 400, file)
		require.Equal(t, page.StatusNotFound, get(t, p, store, "/delete?file="+file).Status, file)
	}
}

// Readings that contradict one another are told as `carryover locate` tells them; ones that agree are not.
func TestStepsDisagree(t *testing.T) {
	p := newPage(t)
	const good = "/carry?from=example:road&to=example:studio&t2=-1.5&t3=1026&t4=6.6&t5=3.6&t6=971&t7="
	require.NotContains(t, string(get(t, p, &page.Memory{}, good+"547&c4=553.5").Body), "does not fit the others")
	text := string(get(t, p, &page.Memory{}, good+"574&c4=553.5").Body)
	require.Contains(t, text, "Reading 7 (hood ahead of the BB), 574\u00a0mm, does not fit the others")
	require.Contains(t, text, "two digits swapped: 574 for 547")
	require.Contains(t, text, "reading 11 (reach to the hoods)")
	require.Contains(t, text, "11. reach to the hoods")
}

// A slider goes as far as the scale does: a saddle slide at 2.5 of -8 to 4, 10 mm a mark, has 15 mm ahead of it and the 40 mm behind
// that are the most a change by feel is.
func TestSlidersEndAtTheStops(t *testing.T) {
	p := newPage(t)
	text := strings.Replace(biketest.Text(t, "studio-set"), "range = [-8.0, 8.0]", "range = [-8.0, 4.0]", 1)
	body := string(get(t, p, &page.Memory{Files: map[string]string{"set.toml": text}}, "/felt?from=example:road&to=set.toml").Body)
	require.Contains(t, body, `min="-40" max="15"`)
	require.Contains(t, body, `min="-40" max="40"`, "what has room")
}
