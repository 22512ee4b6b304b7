// Package page is carryover as pages for a browser: one handler from a request to a whole HTML page or a file, made from the
// same results and sentences as the command line. It knows no network and no browser, so that it serves both homes: a folder
// of this machine (pageserve) and, compiled to WebAssembly, a single file (cmd/page). What a person has typed stands in the
// address until it is saved: reloading or coming back later loses nothing, and only a POST changes a file.
package page

import (
	"context"
	"embed"
	"errors"
	"fmt"
	"html/template"
	"io/fs"
	"net/url"
	"strings"
	"time"

	"carryover/internal/diag"
	"carryover/internal/draw"
	"carryover/internal/job"
	"carryover/internal/words"
)

//go:embed templates/*.html
var templateFiles embed.FS

// Style is the style sheet, Script what sends forms and swaps pieces of the page in both homes.
var (
	//go:embed page.css
	style string
	Style = style + draw.CSS()
	//go:embed page.js
	Script string
)

// Request is what a browser asks for.
type Request struct {
	Post  bool
	Path  string
	Query url.Values
	Form  url.Values // of a POST
}

// Response is the answer: a page, a file to keep (Name), or another place to go (Location, a path with its query).
type Response struct {
	Status   int
	Type     string
	Name     string
	Location string
	Body     []byte
}

// Statuses of a Response, as HTTP has them.
const (
	StatusOK          = 200
	StatusSeeOther    = 303
	StatusBadRequest  = 400
	StatusNotFound    = 404
	StatusConflict    = 409
	StatusUnprocessed = 422
	StatusFailed      = 500
)

const typeHTML, typeTOML = "text/html; charset=utf-8", "text/plain; charset=utf-8"

// Page answers requests. It is used by one request at a time.
type Page struct {
	base  string // before every path in a link: "" where a server answers, "#" in the file
	now   func() time.Time
	files job.Files // with the catalogue read
	pages *template.Template
	cards map[string]card // by file and version
}

// New makes a Page; base stands before every path in a link.
func New(base string, now func() time.Time) (*Page, error) {
	p := &Page{base: base, now: now, cards: map[string]card{}}
	if _, err := p.files.Library(); err != nil {
		return nil, err
	}
	var err error
	p.pages, err = template.New("").Funcs(template.FuncMap{"link": p.link, "to": p.to}).ParseFS(templateFiles, "templates/*.html")
	return p, err
}

// link is an address within the page: a path, then names and values.
func (p *Page) link(path string, query ...string) string {
	v := url.Values{}
	for i := 0; i+1 < len(query); i += 2 {
		v.Add(query[i], query[i+1])
	}
	return p.base + at(path, v)
}

// to is an address within the page.
func (p *Page) to(path string, query url.Values) string { return p.base + at(path, query) }

// at is a path with its query.
func at(path string, v url.Values) string {
	if len(v) == 0 {
		return path
	}
	return path + "?" + v.Encode()
}

// visit is one request being answered.
type visit struct {
	*Page
	ctx   context.Context
	store Store
	files job.Files
	req   Request
	odd   diag.List // what is odd about files that can be used
}

// Answer answers a request on the files of a store. It never panics: what a hostile file may do to a solver ends as a page.
func (p *Page) Answer(ctx context.Context, store Store, req Request) (resp Response) {
	v := &visit{Page: p, ctx: ctx, store: store, files: p.files, req: req}
	v.files.FS = store
	v.files.Warn = func(l diag.List) { v.odd = append(v.odd, l...) }
	defer func() {
		if r := recover(); r != nil {
			resp = v.problem(StatusFailed, "This went wrong inside the program", fmt.Errorf("%v", r))
		}
	}()
	if req.Query == nil {
		v.req.Query = url.Values{}
	}
	routes := map[string]func() Response{"/": v.home, "/bike": v.bike, "/file": v.file, "/carry": v.carry, "/new": v.newBike,
		"/felt": v.felt, "/saddles": v.saddles,
		"/sheet": v.sheet, "/drawing": v.drawing, "/template": v.template, "/not-kept": v.notKept, "/delete": v.askDelete}
	if req.Post {
		routes = map[string]func() Response{"/save": v.save, "/new": v.saveNew, "/delete": v.remove}
	}
	answer := routes[req.Path]
	if answer == nil {
		return v.problem(StatusNotFound, "There is no such page", nil)
	}
	return answer()
}

// frame is what stands around every page.
type frame struct {
	Title, Here      string
	Head, Body, Foot template.HTML
	Cautions         []string
}

// served is the head of a page whose style and script a server hands out.
const served = template.HTML(`<link rel="stylesheet" href="/page.css"><script src="/page.js" defer></script>`)

// Frame is an empty page, for a home that has everything in one file: head stands in its head, foot at its end.
func (p *Page) Frame(head, foot template.HTML) ([]byte, error) {
	var b strings.Builder
	err := p.pages.ExecuteTemplate(&b, "layout", frame{Title: "Starting", Head: head, Foot: foot, Cautions: words.Cautions(),
		Body: "<h1>Starting…</h1><noscript><p>This file needs its script: allow it in the browser.</p></noscript>"})
	return []byte(b.String()), err
}

// show renders a page of the templates.
func (v *visit) show(status int, name, title string, data any) Response {
	var body, whole strings.Builder
	err := v.pages.ExecuteTemplate(&body, name, data)
	if err == nil {
		err = v.pages.ExecuteTemplate(&whole, "layout", frame{Title: title, Here: v.req.Path, Head: served,
			Body: template.HTML(body.String()), Cautions: words.Cautions()})
	}
	if err != nil {
		return Response{Status: StatusFailed, Type: typeTOML, Body: []byte("this page cannot be shown: " + err.Error())}
	}
	return Response{Status: status, Type: typeHTML, Body: []byte(whole.String())}
}

// trouble is something that went wrong, for a person.
type trouble struct {
	What string
	Said string // by the program that could not go on, as the command line shows it
}

func (v *visit) problem(status int, what string, err error) Response {
	return v.show(status, "problem", what, newTrouble(what, err))
}

// notKept is the answer of a browser that could not keep what was written.
func (v *visit) notKept() Response {
	return v.problem(StatusFailed, "Nothing was kept: the browser's storage is full or closed. Download what you need", nil)
}

func newTrouble(what string, err error) *trouble {
	t := &trouble{What: what}
	var list diag.List
	switch {
	case err == nil:
	case errors.As(err, &list):
		t.Said = told(list)
	default:
		for line := range strings.Lines(words.Failure(err)) {
			t.Said += diag.Visible(strings.TrimSuffix(line, "\n")) + "\n"
		}
	}
	return t
}

// told are the findings about a file as the command line shows them.
func told(l diag.List) string {
	var b strings.Builder
	_ = diag.Render(&b, l, diag.Options{}) // writing to a Builder cannot fail
	return b.String()
}

// get is a value of the query, without the room around it.
func (v *visit) get(name string) string { return strings.TrimSpace(v.req.Query.Get(name)) }

func missing(err error) bool { return errors.Is(err, fs.ErrNotExist) }
