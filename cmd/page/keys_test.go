package main

import (
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"
)

// keys work a page without a pointer: Tab until something has the focus, then a key.
func (r *rider) keys(selector string, keys ...string) {
	r.t.Helper()
	do(r.t, r.tab, until(fmt.Sprintf("document.querySelector(%q)", selector)))
	for range 200 {
		if of[bool](r.t, r.tab, fmt.Sprintf("document.activeElement.matches(%q)", selector)) {
			for _, k := range keys {
				do(r.t, r.tab, chromedp.KeyEvent(k))
			}
			return
		}
		do(r.t, r.tab, chromedp.KeyEvent(kb.Tab))
	}
	require.Fail(r.t, "no key leads to "+selector)
}

// By keyboard only, from the first visit to a carried position with a step done.
func TestKeyboardOnly(t *testing.T) {
	served := homes(t, t.TempDir())[0]
	tab := newTab(t)
	do(t, tab, chromedp.Navigate(served.at("/")), until(`document.querySelector("main h2")`))
	r := &rider{t: t, tab: tab}
	for name, numbers := range map[string][7]string{"Blue": blue, "Red": red} {
		r.keys(`main a[href$="/new"]`, kb.Enter)
		r.asked(1)
		r.write(numbers[0] + kb.Enter)
		r.asked(2)
		r.keys("button[value=hood]", kb.Enter)
		r.asked(3)
		r.keys("button[name=skip]", kb.Enter)
		for i, x := range numbers[1:] {
			r.asked(4 + i)
			r.write(x + kb.Enter)
		}
		r.asked(10)
		r.keys(`select[name="saddle post"]`, kb.ArrowDown)
		r.keys(`select[name="bar slide"]`, kb.ArrowDown)
		r.keys("button[name=go]", kb.Enter)
		do(t, tab, until(`document.querySelector("main h1").innerText === "Is this right?"`))
		r.write(name + kb.Enter)
		do(t, tab, until(fmt.Sprintf(`document.querySelector("main h1").innerText === %q`, name)))
	}
	r.keys(`main a[href*="carry?to="]`, kb.Enter)
	do(t, tab, until(`document.querySelector(".verdict")`))
	r.keys("#t1", "1000")
	do(t, tab, until(`document.querySelector("#a1").textContent.length > 3`))
	r.keys("#d1", " ")
	do(t, tab, until(`document.querySelector("#step-1.done") && document.querySelector("#step-2.current details[open]")`))
}

// dragging moves the support of two saddles with the pointer, and with its keys.
func dragging(r *rider, h home) {
	t, tab := r.t, r.tab
	do(t, tab, chromedp.Navigate(h.at("/saddles?a=classic-280&b=short-250&at=180")),
		until(`document.querySelector("#at")?.value === "180"`))
	was := of[string](t, tab, `document.querySelector("[aria-live]").innerText`)
	box := of[[]float64](t, tab, `(() => { const d = document.querySelector("svg[data-drag]");
		d.scrollIntoView({block: "center"}); const r = d.getBoundingClientRect();
		return [r.left + r.width / 2, r.top + r.height / 2, r.width] })()`)
	do(t, tab, chromedp.MouseEvent("mousePressed", box[0], box[1], chromedp.ButtonLeft),
		chromedp.MouseEvent("mouseMoved", box[0]+box[2]/8, box[1], chromedp.ButtonLeft),
		chromedp.MouseEvent("mouseReleased", box[0]+box[2]/8, box[1], chromedp.ButtonLeft),
		until(fmt.Sprintf(`document.querySelector("[aria-live]").innerText !== %q`, was)))
	at := of[string](t, tab, `document.querySelector("#at").value`)
	require.NotEqual(t, "180", at)
	do(t, tab, evaluate(`document.querySelector("#at").focus()`), chromedp.KeyEvent(kb.ArrowRight),
		until(fmt.Sprintf(`+document.querySelector("#at").value === %s + 1 && location.href.includes("at=" + (%[1]s + 1))`, at)))
}

// downloads are the sheet, drawings, template and file, handed out whole.
func downloads(r *rider, h home) {
	t, tab := r.t, r.tab
	for path, want := range map[string][]string{ // what the first leads to, then name and beginning of each
		"/carry?from=example:road&to=example:studio":     {"/sheet?", "-sheet.html: <!DOCTYPE html>", "-drawings.svg: <?xml"},
		"/saddles?a=classic-280":                         {"/template?saddle=", ".html: <!doctype html>", ".html: <!doctype html>"},
		"/bike?file=example:road":                        {"/file?", "road.toml: # An invented"},
		"/new?q=3&feet.crank=170&hands=hood&support=122": {"/template?width=122", "gauge-122.html: <!doctype html>"},
	} {
		do(t, tab, chromedp.Navigate(h.at(path)), until(fmt.Sprintf(`document.querySelector("main a[download][href*='%s']")`, want[0])))
		want = want[1:]
		got, err := chromedp.Run(tab, chromedp.Evaluate[[]string](`(async () => {
			const list = [], create = URL.createObjectURL;
			for (const a of document.querySelectorAll("main a[download]")) {
				if (a.getAttribute("href").startsWith("/")) {
					const r = await fetch(a.href);
					list.push(decodeURIComponent(r.headers.get("Content-Disposition").split("filename=")[1]) + ": " + await r.text());
					continue;
				}
				list.push(await new Promise((done) => {
					const click = HTMLAnchorElement.prototype.click;
					let blob;
					URL.createObjectURL = (b) => { blob = b; return create(b); };
					HTMLAnchorElement.prototype.click = function () {
						HTMLAnchorElement.prototype.click = click;
						blob.text().then((text) => done(this.download + ": " + text));
					};
					a.dispatchEvent(new MouseEvent("click", { bubbles: true, cancelable: true }));
				}));
				URL.createObjectURL = create;
			}
			return list;
		})()`, chromedp.EvalAwaitPromise))
		require.NoError(t, err)
		require.Len(t, got, len(want), path)
		for i, w := range want {
			name, begins, _ := strings.Cut(w, ": ")
			file, text, _ := strings.Cut(got[i], ": ")
			require.True(t, strings.HasSuffix(file, name), "%s is called %s", path, file)
			require.True(t, strings.HasPrefix(text, begins), "%.80s", text)
		}
	}
}
