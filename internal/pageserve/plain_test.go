package pageserve

import (
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"
)

// plain is a browser without a script: it follows links and sends forms as they stand.
type plain struct {
	*served
	at   string
	root *html.Node
}

func (b *plain) open(address string) {
	b.t.Helper()
	r := b.do(http.MethodGet, address, nil, nil)
	require.Equal(b.t, 200, r.StatusCode, address)
	b.at = address
	var err error
	b.root, err = html.Parse(r.Body)
	require.NoError(b.t, err)
}

func attr(n *html.Node, key string) string {
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val
		}
	}
	return ""
}

func has(n *html.Node, key string) bool {
	for _, a := range n.Attr {
		if a.Key == key {
			return true
		}
	}
	return false
}

// find is the first element of the page that fits.
func (b *plain) find(in *html.Node, fits func(n *html.Node) bool) *html.Node {
	for n := range in.Descendants() {
		if n.Type == html.ElementNode && fits(n) {
			return n
		}
	}
	return nil
}

func words(n *html.Node) string {
	var s strings.Builder
	for k := range n.Descendants() {
		if k.Type == html.TextNode {
			s.WriteString(k.Data)
		}
	}
	return strings.Join(strings.Fields(s.String()), " ")
}

// follow opens the link whose address begins so.
func (b *plain) follow(prefix string) {
	b.t.Helper()
	main := b.find(b.root, func(n *html.Node) bool { return n.Data == "main" })
	a := b.find(main, func(n *html.Node) bool { return n.Data == "a" && strings.HasPrefix(attr(n, "href"), prefix) })
	require.NotNil(b.t, a, "%s has no link to %s", b.at, prefix)
	b.open(attr(a, "href"))
}

// send fills the form of an action and presses the button that says so.
func (b *plain) send(action, press string, fill map[string]string) {
	b.t.Helper()
	form := b.find(b.root, func(n *html.Node) bool { return n.Data == "form" && attr(n, "action") == action })
	require.NotNil(b.t, form, "%s has no form for %s", b.at, action)
	fields, filled := url.Values{}, 0
	for n := range form.Descendants() {
		name, value := attr(n, "name"), attr(n, "value")
		if n.Type != html.ElementNode || name == "" {
			continue
		}
		text, mine := fill[name]
		switch {
		case n.Data == "button" || attr(n, "type") == "file":
			continue
		case mine:
			filled, value = filled+1, text
		case attr(n, "type") == "checkbox" && !has(n, "checked"):
			continue
		case n.Data == "textarea":
			value = n.FirstChild.Data
		case n.Data == "select":
			if chosen := b.find(n, func(o *html.Node) bool { return has(o, "selected") }); chosen != nil {
				value = attr(chosen, "value")
			}
		}
		fields.Add(name, value)
	}
	require.Equal(b.t, len(fill), filled, "%s has not every field of %v", b.at, fill)
	button := b.find(form, func(n *html.Node) bool { return n.Data == "button" && attr(n, "type") != "button" && words(n) == press })
	require.NotNil(b.t, button, "%s has no button %q", b.at, press)
	if attr(button, "name") != "" {
		fields.Add(attr(button, "name"), attr(button, "value"))
	}
	if attr(form, "method") == "post" {
		r := b.form(action, fields, nil)
		require.Equal(b.t, 303, r.StatusCode, "%s", text(b.t, r))
		b.open(r.Header.Get("Location"))
		return
	}
	b.open(action + "?" + fields.Encode())
}

// Without the script everything works as plain forms: two bikes from nothing, a carry with its steps, a felt change, two saddles,
// a file changed, one brought, one deleted.
func TestPlainForms(t *testing.T) {
	b := &plain{served: serve(t)}
	for name, numbers := range map[string][]string{"Blue": {"172.5", "738", "202", "-1.5", "750", "57", "3.5"},
		"Red": {"170", "70 cm", "180", "-1.5", "700", "30", "3.5"}} {
		b.open("/")
		b.follow("/new")
		b.send("/new", "Next", map[string]string{"feet.crank": numbers[0]})
		b.send("/new", "hood", nil)
		b.send("/new", "I don't know", nil)
		for i, field := range []string{"saddle-height sit", "setback sit", "saddle-tilt", "reach sit", "drop sit", "hood-angle"} {
			b.send("/new", "Next", map[string]string{"reading " + field: numbers[1+i]})
		}
		b.send("/new", "Back", nil)
		b.send("/new", "Next", nil)
		b.send("/new", "Next", map[string]string{"saddle post": "cm", "saddle slide": "mm", "bar post": "cm", "bar slide": "none"})
		require.Contains(t, words(b.root), "Is this right?")
		b.send("/new", "Keep this bike", map[string]string{"name": name})
		require.FileExists(t, filepath.Join(b.dir, strings.ToLower(name)+".toml"))
	}
	b.open("/bike?file=red.toml")
	b.follow("/carry?to=")
	require.Contains(t, words(b.root), "is CARRIED")
	b.send("/carry", "Show", map[string]string{"t1": "1000", "d2": "1"})
	require.Contains(t, words(b.root), "mm down.")
	require.Contains(t, words(b.root), "1 of 4 steps done;")
	b.follow("/felt?")
	b.send("/felt", "Show", map[string]string{"m1": "-5"})
	require.Contains(t, words(b.root), "back")
	b.open("/saddles")
	b.send("/saddles", "Show", map[string]string{"at": "100"})
	require.Contains(t, words(b.root), "100 mm behind the nose of")
	// Files are changed, copied and deleted.
	b.open("/bike?file=blue.toml")
	b.send("/save", "Keep it", map[string]string{"text": "schema = 1\nname = \"Green\"\nfeet.crank = 170.0\n[saddle]\n[bar]\n"})
	require.Contains(t, words(b.root), "Green")
	b.open("/bike?file=example:road")
	b.send("/save", "Keep it", map[string]string{"file": "mine"})
	require.FileExists(t, filepath.Join(b.dir, "mine.toml"))
	b.follow("/delete?")
	b.send("/delete", "Delete it", nil)
	entries, err := os.ReadDir(b.dir)
	require.NoError(t, err)
	require.Len(t, entries, 2)
}
