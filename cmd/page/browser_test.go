package main

import (
	"context"
	"encoding/base64"
	"errors"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"carryover/internal/page"
	"carryover/internal/pageserve"
)

// browser is one headless chromium for all tests, with a profile of its own.
var browser = sync.OnceValues(func() (context.Context, error) {
	program, err := exec.LookPath("chromium")
	if err != nil {
		return nil, errors.New("chromium is missing, so nothing looks at the page: apt-get install chromium")
	}
	profile, err := os.MkdirTemp("", "carryover-profile-")
	if err != nil {
		return nil, err
	}
	o := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(program), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.UserDataDir(profile), chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true),
		chromedp.Flag("disable-sync", true), chromedp.Flag("disable-dev-shm-usage", true))
	ctx, stop := chromedp.NewExecAllocator(context.Background(), o...)
	tab, closeTab := chromedp.NewContext(ctx)
	closers = append(closers, func() { closeTab(); stop(); _ = os.RemoveAll(profile) })
	return tab, chromedp.Do(tab)
})

// closers end what the tests share.
var closers []func()

// newTab opens the browser anew, as one that has kept nothing, with a time to be done in. Without a browser the test is skipped,
// but not where everything must run.
func newTab(t testing.TB) context.Context {
	t.Helper()
	b, err := browser()
	if err != nil && os.Getenv("CI") != "true" {
		t.Skip(err)
	}
	require.NoError(t, err)
	ctx, stop := chromedp.NewContext(b, chromedp.WithNewBrowserContext())
	timed, cancel := context.WithTimeout(ctx, 4*time.Minute)
	t.Cleanup(func() { cancel(); stop() })
	return timed
}

// packed is the file, built once.
var packed = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp("", "carryover-file-")
	if err != nil {
		return "", err
	}
	closers = append(closers, func() { _ = os.RemoveAll(dir) })
	out := filepath.Join(dir, "carryover.html")
	return out, write(context.Background(), out)
})

func TestMain(m *testing.M) {
	code := m.Run()
	for _, end := range closers {
		end()
	}
	os.Exit(code)
}

// The program is no larger than 4 MB, packed as it travels.
func TestSize(t *testing.T) {
	file, err := packed()
	require.NoError(t, err)
	whole, err := os.ReadFile(file)
	require.NoError(t, err)
	_, rest, found := strings.Cut(string(whole), `id="program">`)
	require.True(t, found)
	program, _, _ := strings.Cut(rest, "<")
	size := base64.StdEncoding.DecodedLen(len(program))
	t.Logf("%d bytes compressed, %d in the file", size, len(whole))
	require.Less(t, size, 4_000_000)
}

// home is a way to have the page: at returns the address of a path in it.
type home struct {
	name string
	at   func(path string) string
}

// homes are both, each empty: a server on a new folder, and the file.
func homes(t testing.TB, dir string) []home {
	p, err := page.New("", time.Now)
	require.NoError(t, err)
	folder, err := pageserve.OpenFolder(dir)
	require.NoError(t, err)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	s := pageserve.New(p, folder, l.Addr())
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- s.Serve(ctx, l) }()
	t.Cleanup(func() { stop(); require.NoError(t, <-done); require.NoError(t, folder.Close()) })
	file, err := packed()
	require.NoError(t, err)
	key := s.Addresses()[0]
	return []home{{"served", func(path string) string {
		if path == "/" {
			return key
		}
		return "http://" + l.Addr().String() + path
	}}, {"file", func(path string) string { return "file://" + file + "#" + path }}}
}

// until waits for an expression to be true, also while one page follows another.
func until(expression string) chromedp.Action[chromedp.Void] {
	return func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
		for {
			if ok, err := chromedp.Evaluate[bool]("Boolean("+expression+")")(ctx, t); ok && err == nil {
				return chromedp.Void{}, nil
			}
			select {
			case <-ctx.Done():
				return chromedp.Void{}, fmt.Errorf("never true: %s", expression)
			case <-time.After(10 * time.Millisecond):
			}
		}
	}
}

// do runs steps in a tab.
func do(t testing.TB, tab context.Context, steps ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	require.NoError(t, chromedp.Do(tab, steps...))
}

// of evaluates an expression in a tab.
func of[T any](t testing.TB, tab context.Context, expression string) T {
	t.Helper()
	v, err := chromedp.Run(tab, chromedp.Evaluate[T](expression))
	require.NoError(t, err, expression)
	return v
}

// rider works a page as a person does, and counts.
type rider struct {
	t             testing.TB
	tab           context.Context
	taps, numbers int
}

// tap clicks what a selector finds, once it is there.
func (r *rider) tap(selector string) {
	r.t.Helper()
	r.taps++
	do(r.t, r.tab, until(fmt.Sprintf("document.querySelector(%q)", selector)), evaluate(fmt.Sprintf("document.querySelector(%q).click()",
		selector)))
}

// write types into the field that has the focus.
func (r *rider) write(text string) {
	r.t.Helper()
	do(r.t, r.tab, until(`document.activeElement && document.activeElement.matches("input")`), chromedp.KeyEvent(text))
}

// number answers the question with a number and goes on.
func (r *rider) number(of int, text string) {
	r.t.Helper()
	r.numbers++
	r.asked(of)
	r.write(text)
	r.tap("button[name=go]")
}

// asked waits for a question by its number.
func (r *rider) asked(no int) {
	r.t.Helper()
	do(r.t, r.tab, until(fmt.Sprintf(`document.querySelector("main").innerText.startsWith("Question %d ")`, no)))
}

// evaluate does what an expression does.
func evaluate(expression string) chromedp.Action[chromedp.Void] { return run("void " + expression) }

// run runs a script.
func run(script string) chromedp.Action[chromedp.Void] {
	return func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
		_, err := chromedp.Evaluate[bool](script+"\n;true")(ctx, t)
		return chromedp.Void{}, err
	}
}

// choose picks an option of a select.
func (r *rider) choose(id, value string) {
	r.t.Helper()
	r.taps++
	do(r.t, r.tab, until(fmt.Sprintf(`document.getElementById(%q)`, id)), evaluate(fmt.Sprintf(
		`(e => { e.value = %q; e.dispatchEvent(new Event("input", {bubbles: true})) })(document.getElementById(%q))`, value, id)))
}

// What is read on two bikes: crank, saddle height, setback, tilt, reach, drop, angle of the hood.
var (
	blue = [7]string{"172.5", "738", "202", "-1.5", "750", "57", "3.5"}
	red  = [7]string{"170", "70 cm", "180", "-1.5", "700", "30", "3.5"}
)

// describe goes through the ten questions of the short path.
func (r *rider) describe(name string, numbers [7]string, moves bool) {
	r.t.Helper()
	r.tap(`main a[href$="/new"]`)
	r.number(1, numbers[0])
	r.asked(2)
	r.tap("button[value=hood]")
	r.asked(3) // the width: not known
	r.tap("button[name=skip]")
	for i, x := range numbers[1:] {
		r.number(4+i, x)
	}
	r.asked(10)
	if moves {
		for _, name := range []string{"saddle post", "saddle slide", "bar post", "bar slide"} {
			r.choose(name, "cm")
		}
	}
	r.tap("button[name=go]")
	do(r.t, r.tab, until(`document.querySelector("main h1").innerText === "Is this right?"`))
	r.write(name)
	r.tap("main form[method=post] button")
	do(r.t, r.tab, until(fmt.Sprintf(`document.querySelector("main h1").innerText === %q`, name)))
}

// In both homes, on a phone, in one window that begins with nothing and with no network in the file: two bikes without shapes
// are described, carried and set up step by step; they are kept; a second window changes one of them; the supports of two saddles are
// dragged; and everything is handed out. A part that fails ends the home's visit: the next would begin elsewhere.
func TestAVisit(t *testing.T) {
	parts := []struct {
		name string
		does func(r *rider, h home)
	}{{"from nothing to a carried position", carried}, {"a second window", secondWindow}, {"dragging the support", dragging},
		{"downloads", downloads}}
	for _, h := range homes(t, t.TempDir()) {
		t.Run(h.name, func(t *testing.T) {
			r := &rider{tab: newTab(t)}
			if h.name == "file" {
				offline(t, r.tab)
			}
			start := time.Now()
			do(t, r.tab, chromedp.EmulateViewport(390, 844), chromedp.Navigate(h.at("/")), until(`document.querySelector("main h2")`))
			t.Logf("first answer after %v", time.Since(start).Round(time.Millisecond))
			for _, p := range parts {
				if !t.Run(p.name, func(t *testing.T) { r.t = t; p.does(r, h); r.fits() }) {
					return
				}
			}
		})
	}
}

// fits fails where something is wider than the screen.
func (r *rider) fits() {
	r.t.Helper()
	require.False(r.t, of[bool](r.t, r.tab, `document.documentElement.scrollWidth > document.documentElement.clientWidth`),
		"nothing is wider than the phone")
}

// carried is the first visit: two bikes from nothing, carried, each step typed and ticked, and all of it kept.
func carried(r *rider, _ home) {
	t, tab := r.t, r.tab
	r.describe("Blue", blue, false)
	require.LessOrEqual(t, r.numbers, 7)
	r.describe("Red", red, true)
	r.tap(`main a[href*="carry?to="]`)
	do(t, tab, until(`document.querySelector(".verdict.good")`))
	t.Logf("%d taps, %d numbers", r.taps, r.numbers)
	require.LessOrEqual(t, r.taps, 30)
	require.LessOrEqual(t, r.numbers, 14)
	// Every step: type what it asks for, then 4 mm too much; tick it.
	steps := of[int](t, tab, `document.querySelectorAll(".step").length`)
	require.GreaterOrEqual(t, steps, 4)
	do(t, tab, evaluate(`(() => { const f = document.querySelector("#t2"); f.value = "1000";
		f.dispatchEvent(new Event("input", {bubbles: true})) })()`),
		until(`document.querySelector("#a2").textContent.length > 3`))
	require.NotContains(t, of[string](t, tab, `document.querySelector("#a2").textContent`), "Good")
	r.tap("#d1")
	do(t, tab, until(`document.querySelector("#step-1.done")`), chromedp.Reload(), until(`document.querySelector("#step-1.done")`))
	require.Equal(t, "1000", of[string](t, tab, `document.querySelector("#t2").value`), "what was typed is kept")
}

// secondWindow changes a bike in two windows: the later one is asked. What is under way is offered again on the first page.
func secondWindow(r *rider, h home) {
	t, tab := r.t, r.tab
	second, shut := chromedp.NewContext(tab)
	t.Cleanup(shut)
	edit := func(tab context.Context, to string) {
		do(t, tab, evaluate(fmt.Sprintf(`(() => { const f = document.querySelector("#text");
			f.value = f.value.replace('name = "Blue"', 'name = %q'); f.form.requestSubmit() })()`, to)))
	}
	blue, shows := h.at("/bike?file=blue.toml"), func(name string) chromedp.Action[chromedp.Void] {
		return until(fmt.Sprintf(`document.querySelector("main h1")?.innerText === %q`, name))
	}
	do(t, tab, chromedp.Navigate(blue), shows("Blue"))
	do(t, second, chromedp.Navigate(h.at("/")), until(`document.querySelector("main")?.innerText.includes("Blue")`),
		chromedp.Navigate(blue), until(`document.querySelector("#text")`))
	edit(second, "Second")
	do(t, second, shows("Second"))
	edit(tab, "First")
	do(t, tab, until(`document.querySelector("main [role=alert]")?.innerText.includes("Second")`))
	require.Contains(t, of[string](t, tab, `document.querySelector("#text").value`), `name = "First"`)
	do(t, tab, evaluate(`document.querySelector("#text").form.requestSubmit()`), shows("First"))
	do(t, tab, chromedp.Navigate(h.at("/new?q=5&name=Green&feet.crank=170")), until(`document.querySelector("#answer")`),
		chromedp.Navigate(h.at("/")),
		until(`document.querySelector("[data-go-on]:not([hidden]) a")?.getAttribute("href").includes("name=Green")`))
}

// A changed number shows its consequence at once: the median of 50, and the slowest.
func BenchmarkAChangedNumber(b *testing.B) {
	for _, h := range homes(b, b.TempDir()) {
		b.Run(h.name, func(b *testing.B) {
			tab := newTab(b)
			do(b, tab, chromedp.Navigate(h.at("/")), until(`document.querySelector("main h2")`),
				chromedp.Navigate(h.at("/carry?from=example:road&to=example:studio&d1=1&d2=1")), until(`document.querySelector("#a3")`))
			for b.Loop() {
				took, err := chromedp.Run(tab, chromedp.Evaluate[[]float64](`(async () => {
					const took = [];
					for (let i = 0; i < 50; i++) {
						const field = document.querySelector("#t3"), was = document.querySelector("#a3").innerText, start = performance.now();
						field.value = 1030 + i;
						field.dispatchEvent(new Event("input", { bubbles: true }));
						while (document.querySelector("#a3").innerText === was) await new Promise((done) => {
							const c = new MessageChannel(); c.port1.onmessage = done; c.port2.postMessage(0); });
						took.push(performance.now() - start);
					}
					return took.sort((a, b) => a - b);
				})()`, chromedp.EvalAwaitPromise))
				require.NoError(b, err)
				b.ReportMetric(took[25], "ms-median")
				b.ReportMetric(took[49], "ms-slowest")
			}
		})
	}
}

// axe-core finds nothing. It is no part of the project: AXE names its file, as .ci/run installs it.
func TestAxe(t *testing.T) {
	file := os.Getenv("AXE")
	if file == "" {
		t.Skip("axe-core is missing: npm install axe-core into some folder, and set AXE to its axe.min.js")
	}
	axe, err := os.ReadFile(file)
	require.NoError(t, err)
	for _, h := range homes(t, t.TempDir()) {
		tab := newTab(t)
		do(t, tab, chromedp.Navigate(h.at("/")), until(`document.querySelector("main h2")`))
		for name, path := range views {
			for _, scheme := range []string{"light", "dark"} {
				visit(t, tab, h, path, scheme)
				do(t, tab, run(string(axe)))
				found, err := chromedp.Run(tab, chromedp.Evaluate[[]string](`axe.run({
					runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] }).then(
					(r) => r.violations.flatMap((v) => v.nodes.map((n) =>
						v.id + ": " + n.html.slice(0, 160) + " " + n.failureSummary)))`, chromedp.EvalAwaitPromise))
				require.NoError(t, err)
				require.Empty(t, found, "%s %s %s", h.name, name, scheme)
			}
		}
	}
}

// visit opens a page in light or dark, by way of one that there is not, so that the page before is never taken for it.
func visit(t testing.TB, tab context.Context, h home, path, scheme string) {
	t.Helper()
	do(t, tab, scheming(scheme), chromedp.Navigate(h.at("/nosuch")),
		until(`document.querySelector("main h1")?.innerText.startsWith("There is no")`),
		chromedp.Navigate(h.at(path)), until(`document.querySelector("main h1") &&
			!document.querySelector("main h1").innerText.startsWith("There is no")`))
}

// scheming makes a browser prefer light or dark.
func scheming(scheme string) chromedp.Action[chromedp.Void] {
	return func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
		_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia,
			emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
		return chromedp.Void{}, err
	}
}

// views are the pages that are looked at.
var views = map[string]string{
	"home": "/", "carry": "/carry?from=example:road&to=example:studio&d1=1&d2=1&t3=1030", "bike": "/bike?file=example:road",
	"saddles": "/saddles",
	"felt":    "/felt?from=example:road&to=example:studio&m1=-5",
	"new": "/new?q=6&feet.crank=172.5&support=122&reading+saddle-height+sit=738&reading+setback+sit=202&" +
		"reading+saddle-tilt=-1.5",
	"moves": "/new?q=10",
	"last": "/new?q=11&name=x&feet.crank=172.5&support=122&reading+saddle-height+sit=738&reading+setback+sit=202&" +
		"reading+saddle-tilt=-1.5&reading+reach+sit=750&reading+drop+sit=5.7&reading+hood-angle=3&saddle+post=cm",
	"missed": "/carry?from=example:tri&to=example:outdoor", "postures": "/carry?from=example:tri&to=example:studio&rider=example:rider",
	"hands": "/new?q=2&feet.crank=170",
}

// offline cuts a tab's network.
func offline(t testing.TB, tab context.Context) {
	do(t, tab, func(ctx context.Context, target *chromedp.Target) (chromedp.Void, error) {
		_, err := cdp.Call(ctx, target, network.EmulateNetworkConditionsByRule, network.EmulateNetworkConditionsByRuleParams{
			MatchedNetworkConditions: []*network.Conditions{{Offline: true}}})
		return chromedp.Void{}, err
	})
}

// TestLook takes pictures of every page, for a person: SHOTS=FOLDER go test ./cmd/page -run TestLook
func TestLook(t *testing.T) {
	shots := os.Getenv("SHOTS")
	if shots == "" {
		t.Skip("pictures for a person: set SHOTS to a folder")
	}
	served := homes(t, t.TempDir())[0]
	for size, pixels := range map[string][2]int64{"phone": {390, 844}, "desk": {1280, 800}} {
		tab := newTab(t)
		do(t, tab, chromedp.EmulateViewport(pixels[0], pixels[1]), chromedp.Navigate(served.at("/")), until(`document.querySelector("main h2")`))
		for _, scheme := range []string{"light", "dark"} {
			for name, path := range views {
				visit(t, tab, served, path, scheme)
				shot, err := chromedp.Run(tab, chromedp.FullScreenshot(100))
				require.NoError(t, err)
				require.NoError(t, os.WriteFile(filepath.Join(shots, name+"-"+size+"-"+scheme+".png"), shot, 0o644))
			}
		}
	}
}
