package sheet_test

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/bike"
	"carryover/internal/biketest"
	"carryover/internal/body"
	"carryover/internal/draw"
	"carryover/internal/draw/drawtest"
	"carryover/internal/job"
	"carryover/internal/sheet"
)

// saved writes a page into a file for the browser.
func saved(t testing.TB, page []byte) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "sheet.html")
	require.NoError(t, os.WriteFile(file, page, 0o600))
	return file
}

// quiet checks that the browser had nothing to complain about and asked nobody for anything.
func quiet(t *testing.T, p *tab) {
	t.Helper()
	assert.Empty(t, p.seen("Runtime.exceptionThrown"))
	assert.Empty(t, p.seen("Runtime.consoleAPICalled"))
	assert.Empty(t, p.seen("Log.entryAdded"))
	for _, e := range p.seen("Network.requestWillBeSent") {
		url := fmt.Sprint(e.Params["request"].(map[string]any)["url"])
		if strings.HasPrefix(url, "data:font/woff;") { // in the page itself
			continue
		}
		assert.True(t, strings.HasPrefix(url, "file://") && strings.HasSuffix(url, "sheet.html") || url == "about:blank", "asked for %s", url)
	}
}

func TestPageInABrowser(t *testing.T) {
	c := carried(t, "road", "studio", nil)
	file := saved(t, written(t, c))
	p := browse(t, file)

	t.Run("fits every width", func(t *testing.T) {
		for _, px := range []int{320, 768, 1280} {
			p.width(px)
			var over []string
			p.eval(`(() => {
				const wide = document.documentElement.clientWidth, out = [];
				if (document.documentElement.scrollWidth > wide) out.push("the page itself");
				for (const e of document.querySelectorAll("body *")) {
					if (e.closest(".scroll") || e.closest(".skip") || e.closest("[hidden]")) continue; // pictures scroll by themselves
					const b = e.getBoundingClientRect();
					if (b.width > 0 && (b.right > wide + 0.5 || b.left < -0.5))
						out.push(e.tagName + "." + e.className + ": " + e.textContent.slice(0, 30));
				}
				return out;
			})()`, &over)
			assert.Empty(t, over, "%d px", px)
		}
	})

	t.Run("pictures lie where the solver says", func(t *testing.T) {
		p.width(1280)
		type place struct {
			Name, Layer string
			X, Y        float64
		}
		var got []place
		p.eval(`(() => {
			const svg = document.querySelector("#r1-side"), back = svg.getScreenCTM().inverse();
			const scale = +svg.dataset.scale, origin = svg.dataset.origin.split(" ").map(Number), out = [];
			for (const e of svg.querySelectorAll("[data-name^='contact '], [data-name='bb'], [data-name='bar clamp']")) {
				if (e.tagName !== "path") continue;
				const b = e.getBoundingClientRect();
				const q = new DOMPoint(b.left + b.width / 2, b.top + b.height / 2).matrixTransform(back);
				const g = e.closest("g");
				out.push({Name: e.dataset.name, Layer: g ? g.getAttribute("class") : "", X: (q.x - origin[0]) * scale, Y: (origin[1] - q.y) * scale});
			}
			return out;
		})()`, &got)
		k := c.Results[0]
		found := 0
		first := map[string]bool{}
		for _, q := range got {
			if first[q.Name+q.Layer] {
				continue // the magnified details show the same contacts again, elsewhere
			}
			first[q.Name+q.Layer] = true
			for _, c := range k.Contacts {
				if q.Layer == "to" && q.Name == "contact "+string(c.Got.Name) {
					found++
					// A hundredth of a pixel of the screen is about 0.03 mm of bike.
					assert.InDelta(t, c.Got.At.X, q.X, 0.1, q.Name)
					assert.InDelta(t, c.Got.At.Y, q.Y, 0.1, q.Name)
				}
			}
			if q.Layer == "from" && q.Name == "contact sit" {
				found++
				assert.InDelta(t, k.Position.Sit.At.X, q.X, 0.1)
				assert.InDelta(t, k.Position.Sit.At.Y, q.Y, 0.1)
			}
			if q.Name == "bb" {
				found++
				assert.InDelta(t, 0, q.X, 0.1)
				assert.InDelta(t, 0, q.Y, 0.1)
			}
		}
		assert.Equal(t, len(k.Contacts)+2, found, "%v", got)
	})

	t.Run("ticks are kept and cleared", func(t *testing.T) {
		ticks := func() (list []bool) {
			p.eval(`[...document.querySelectorAll(".work input")].map(b => b.checked)`, &list)
			return list
		}
		none := make([]bool, len(ticks()))
		require.NotEmpty(t, none)
		assert.Equal(t, none, ticks())
		var ok bool
		p.eval(`(document.querySelector("label[for=r1-s2]").click(), true)`, &ok)
		want := make([]bool, len(none))
		want[1] = true
		assert.Equal(t, want, ticks(), "a click on the words ticks the box")
		p.open(file)
		assert.Equal(t, want, ticks(), "ticks outlive the page")
		p.call("Page.bringToFront", nil) // keys go to the window that has the focus
		p.eval(`(document.querySelector("#r1-s2").focus(), true)`, &ok)
		p.call("Input.dispatchKeyEvent", map[string]any{"type": "keyDown", "key": " ", "code": "Space", "text": " ", "windowsVirtualKeyCode": 32})
		p.call("Input.dispatchKeyEvent", map[string]any{"type": "keyUp", "key": " ", "code": "Space", "windowsVirtualKeyCode": 32})
		for n := 0; n < 50 && !slices.Equal(none, ticks()); n++ { // a browser under load takes a moment
			time.Sleep(20 * time.Millisecond)
		}
		assert.Equal(t, none, ticks(), "the space bar unticks")
		p.eval(`(document.querySelector("label[for=r1-s1]").click(), document.querySelector("#clear").click(), true)`, &ok)
		assert.Equal(t, none, ticks(), "and all can be cleared")
	})

	t.Run("text is as wide as it was measured", func(t *testing.T) {
		p.width(1280)
		styles := map[string]draw.Style{"label": draw.Label, "minor": draw.Minor, "bold": draw.Bold, "alert": draw.Alert}
		p.letters()
		var list []struct {
			Text, Style string
			Wide        float64
		}
		p.eval(`[...document.querySelectorAll("#r1-scales text, #r1-side text")].map(e =>
			({Text: e.textContent, Style: e.getAttribute("class"), Wide: e.getComputedTextLength()}))`, &list)
		require.NotEmpty(t, list)
		for _, l := range list {
			assert.InDelta(t, draw.TextWidth(l.Text, styles[l.Style]), l.Wide, 0.15, l.Text)
		}
	})

	t.Run("text in pictures is large enough on a phone", func(t *testing.T) {
		p.width(390)
		var small []string
		p.eval(`[...document.querySelectorAll(".scroll text")].filter(e =>
			e.getClientRects().length && parseFloat(getComputedStyle(e).fontSize) * e.ownerSVGElement.getScreenCTM().a < 10.99)
			.map(e => e.textContent)`, &small)
		assert.Empty(t, small)
		var scrolls []string // what is worked by is seen whole
		p.eval(`[...document.querySelectorAll(".scroll")].filter(e => e.scrollWidth > e.clientWidth).map(e => e.firstElementChild.id)`, &scrolls)
		assert.Equal(t, []string{"r1-side", "r1-alone"}, scrolls)
	})

	t.Run("what the tape says is kept", func(t *testing.T) {
		var ok bool
		p.eval(`(() => { const f = document.querySelector(".blank input"); f.value = "736";
			f.dispatchEvent(new Event("input", {bubbles: true})); return true; })()`, &ok)
		said := ""
		for n := 0; n < 50 && said == ""; n++ { // a browser under load stores it a little later
			p.open(file)
			p.eval(`document.querySelector(".blank input").value`, &said)
		}
		assert.Equal(t, "736", said)
	})

	t.Run("every letter has a glyph", func(t *testing.T) {
		// The last resort of a font stack is a box; Chromium names the fonts it really used.
		p.call("DOM.getDocument", map[string]any{"depth": 1})
		root := p.call("DOM.getDocument", nil)["root"].(map[string]any)["nodeId"]
		texts := map[string]any{"nodeId": root, "selector": "p, li, td, th, h1, h2, h3, label, dd, dt, text"}
		nodes := p.call("DOM.querySelectorAll", texts)["nodeIds"].([]any)
		require.NotEmpty(t, nodes)
		for _, n := range nodes {
			fonts, _ := p.call("CSS.getPlatformFontsForNode", map[string]any{"nodeId": n})["fonts"].([]any)
			for _, f := range fonts {
				name := fmt.Sprint(f.(map[string]any)["familyName"])
				assert.NotContains(t, strings.ToLower(name), "last resort")
				assert.NotContains(t, strings.ToLower(name), "tofu")
			}
		}
		// And none is drawn as the box that stands for what no font has.
		var missing []string
		p.eval(`(() => {
			const c = document.createElement("canvas").getContext("2d", {willReadFrequently: true});
			const shot = s => { c.canvas.width = 40; c.canvas.height = 40;
				c.font = "24px " + getComputedStyle(document.body).fontFamily; c.fillText(s, 4, 30);
				return c.getImageData(0, 0, 40, 40).data.join(); };
			const box = shot("\uFFFE");
			const seen = new Set(document.body.innerText + [...document.querySelectorAll("svg text")].map(e => e.textContent).join(""));
			return [...seen].filter(ch => ch.trim() && shot(ch) === box);
		})()`, &missing)
		assert.Empty(t, missing)
	})

	t.Run("reads well against its ground", func(t *testing.T) {
		// WCAG 2.2, 1.4.3: at least 4.5 to 1.
		var faint []string
		p.eval(`(() => {
			const part = v => { v /= 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; };
			const lum = c => { const [r, g, b] = c.match(/[\d.]+/g).map(Number).map(part); return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
			const out = [];
			for (const e of document.querySelectorAll("body *:not(svg):not(path):not(g):not(script)")) {
				if (![...e.childNodes].some(n => n.nodeType === 3 && n.data.trim())) continue;
				const style = getComputedStyle(e), col = e.tagName === "text" ? style.fill : style.color;
				let ground = "rgb(255, 255, 255)";
				for (let a = e; a && a.nodeType === 1; a = a.parentElement) {
					const g = getComputedStyle(a).backgroundColor;
					if (g !== "rgba(0, 0, 0, 0)") { ground = g; break; }
				}
				const a = lum(col), b = lum(ground), ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
				if (ratio < 4.5) out.push(e.textContent.slice(0, 30) + ": " + ratio.toFixed(2));
			}
			return out;
		})()`, &faint)
		assert.Empty(t, faint)
	})

	t.Run("is reached by keyboard", func(t *testing.T) {
		var odd []string
		p.eval(`[...document.querySelectorAll("a, button, input, summary, .scroll")]
			.filter(e => e.tabIndex < 0).map(e => e.outerHTML.slice(0, 60))`, &odd)
		assert.Empty(t, odd)
	})

	quiet(t, p)
}

func TestPageIsWholeWithoutScript(t *testing.T) {
	out := written(t, carried(t, "road", "studio", nil))
	p := browse(t, saved(t, out))
	with := ""
	p.eval(`document.querySelector("main").innerText`, &with)
	p.call("Emulation.setScriptExecutionDisabled", map[string]any{"value": true})
	p.open(saved(t, out))
	without := ""
	p.eval(`document.querySelector("main").innerText`, &without)
	assert.Equal(t, strings.Fields(with), strings.Fields(without), "nothing that is read needs the script")
}

func TestHostileNamesInABrowser(t *testing.T) {
	each := func(c *job.Carry) {
		named(hostile[0])(c) // and every other somewhere
		c.Bike.Name, c.Target.Name, c.Rider.Name = hostile[1], hostile[2], hostile[3]
		c.Bike.Record = bike.Record{Date: hostile[4], Fitter: hostile[1], Notes: hostile[2]}
	}
	p := browse(t, "")
	for _, rename := range []func(*job.Carry){each, named(hostile[5])} {
		p.open(saved(t, written(t, carried(t, "road", "studio", rename))))
		for _, px := range []int{320, 1280} {
			p.width(px)
			var wide bool
			p.eval(`document.documentElement.scrollWidth > document.documentElement.clientWidth`, &wide)
			assert.False(t, wide, "names make the page wider than %d px", px)
		}
	}
	quiet(t, p)
}

// axe-core finds nothing on any kind of page, at a desk and on a phone. It is no part of the project: AXE names its file, as
// .ci/run installs it.
func TestAxe(t *testing.T) {
	file := os.Getenv("AXE")
	if file == "" {
		t.Skip("axe-core is missing: npm install axe-core into some folder, and set AXE to its axe.min.js")
	}
	axe, err := os.ReadFile(file)
	require.NoError(t, err)
	pages := map[string][]byte{"carried": written(t, carried(t, "road", "studio", nil)),
		"postures": written(t, carried(t, "tri", "studio", nil)),
		"missed":   written(t, carried(t, "tri", "outdoor", nil)), "moves": written(t, carried(t, "weekend", "trainer", nil))}
	for _, bike := range []string{"road", "tri", "studio-set"} {
		pages["record of "+bike], _ = recorded(t, bike)
	}
	var files job.Files
	stems, err := files.Carry(t.Context(), job.Asked{From: "example:road", To: "example:outdoor", Stems: true})
	require.NoError(t, err)
	compared, err := files.Compare(job.Asked{From: "example:road", To: "example:tri"}, body.UsualHabits())
	require.NoError(t, err)
	for name, write := range map[string]func(io.Writer) error{
		"stems":    func(w io.Writer) error { return sheet.Stems(w, stems, day, nil) },
		"compared": func(w io.Writer) error { return sheet.Compared(w, compared, day, nil) },
	} {
		var b bytes.Buffer
		require.NoError(t, write(&b))
		pages[name] = b.Bytes()
	}
	p := browse(t, saved(t, pages["carried"]))
	for name, html := range pages {
		p.open(saved(t, html))
		for _, px := range []int{390, 1280} {
			p.width(px)
			p.call("Runtime.evaluate", map[string]any{"expression": string(axe)})
			r := p.call("Runtime.evaluate", map[string]any{"awaitPromise": true, "returnByValue": true, "expression": `axe.run({
				runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] }).then((r) => [r.passes.length > 9,
				...r.violations.flatMap((v) => v.nodes.map((n) => v.id + ": " + n.html.slice(0, 160) + " " + n.failureSummary))])`})
			assert.Equal(t, []any{true}, r["result"].(map[string]any)["value"], "%s, %d px", name, px)
		}
	}
}

// pairs are the pairs of examples that sheets are made of.
var pairs = [][2]string{{"tri", "studio"}, {"road", "studio"}, {"road", "outdoor"}, {"road", "resaddled"}, {"weekend", "trainer"},
	{"aero", "aero-trainer"}, {"aero", "studio"}, {"road", "tri"}, {"tri", "outdoor"}, {"tri", "aero-trainer"}, {"road", "studio-set"}}

// pageTag and wordTag are what pdftotext says of the height of a page, and of where a word on it ends.
var pageTag, wordTag = regexp.MustCompile(`<page width="[\d.]+" height="([\d.]+)">`), regexp.MustCompile(`yMax="([\d.]+)"`)

// lowest are how far down the words of each page of a PDF go, as parts of its height.
func lowest(t *testing.T, pdf []byte) (list []float64) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "a.pdf")
	require.NoError(t, os.WriteFile(file, pdf, 0o600))
	out, err := exec.Command("pdftotext", "-bbox", file, "-").Output()
	require.NoError(t, err)
	number := func(text string) float64 {
		v, err := strconv.ParseFloat(text, 64)
		require.NoError(t, err)
		return v
	}
	for _, text := range strings.SplitAfter(string(out), "</page>") {
		if m := pageTag.FindStringSubmatch(text); m != nil {
			down := 0.0
			for _, w := range wordTag.FindAllStringSubmatch(text, -1) {
				down = max(down, number(w[1]))
			}
			list = append(list, down/number(m[1]))
		}
	}
	return list
}

// Printed, a posture takes two pages, and none of them is half empty. The paper is as wide as the narrower of A4 and Letter and
// as high as the lower: what stands on it stands on both.
func TestPrintsOnTwoPages(t *testing.T) {
	if _, err := exec.LookPath("pdftotext"); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("pdftotext is missing: apt-get install poppler-utils")
		}
		t.Skip("pdftotext is missing: apt-get install poppler-utils")
	}
	wrong := strings.Replace(biketest.Text(t, "road"), "value = 591.0", "value = 519.0", 1)
	type printed struct {
		html   []byte
		sheets int
	}
	pages := map[string]printed{"readings that disagree": {written(t, drawtest.Carried(t, wrong, "example:studio", "")), 2}}
	pairs := pairs
	if testing.Short() {
		pairs = pairs[:1]
	}
	for _, pair := range pairs {
		c := carried(t, pair[0], pair[1], nil)
		pages[pair[0]+" to "+pair[1]] = printed{written(t, c), 2 * len(c.Results)}
	}
	for _, bike := range []string{"road", "tri", "weekend", "aero", "trainer", "studio-set"} {
		out, postures := recorded(t, bike)
		pages["record of "+bike] = printed{out, postures}
	}
	p := browse(t, "")
	for name, c := range pages {
		p.open(saved(t, c.html))
		r := p.call("Page.printToPDF", map[string]any{"paperWidth": 210 / 25.4, "paperHeight": 11, "preferCSSPageSize": true,
			"printBackground": false, "generateTaggedPDF": false})
		pdf, err := base64.StdEncoding.DecodeString(r["data"].(string))
		require.NoError(t, err)
		sheets := lowest(t, pdf)
		assert.Len(t, sheets, c.sheets, name)
		for i, down := range sheets {
			assert.Greater(t, down, 0.58, "%s: page %d is half empty", name, i+1) // 0.55 of A4
		}
	}
}
