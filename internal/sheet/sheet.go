// Package sheet makes the page a person has at the bike: one HTML file with everything in it, that loads nothing,
// is whole without its script, and prints in black and white.
package sheet

import (
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"html/template"
	"io"
	"math"
	"strings"
	"time"

	"carryover/internal/carry"
	"carryover/internal/diag"
	"carryover/internal/draw"
	"carryover/internal/locate"
	"carryover/internal/report"
)

//go:embed page.html page.css page.js
var files embed.FS

// page parses the template when a page is wanted: every other command would pay for it at its start.
func page() (*template.Template, error) {
	return template.New("page.html").Funcs(template.FuncMap{
		"inc": func(i int) int { return i + 1 },
	}).ParseFS(files, "page.html")
}

// Sheet is what goes on a page.
type Sheet struct {
	Carry    report.Carry
	Pictures []Pictures // one for each result
	Inputs   []Input
	Date     time.Time // printed as a date
}

// Pictures are the drawings of one result.
type Pictures struct{ Side, Top, Scales, Why *draw.Picture }

// Input is something the result rests on, for the foot of the page.
type Input struct{ Name, Value string }

// Draw makes the pictures of one result, in sizes that leave it on two pages of A4 or Letter.
func Draw(source *locate.Adjustment, s *carry.Solution) (Pictures, error) {
	steps, err := s.Order()
	if err != nil {
		return Pictures{}, err
	}
	side := draw.Sheet{Width: 190, Height: 135, Plain: true}
	if more := len(steps) - 7; more > 0 { // each takes a line or two from the page
		side.Height -= 9 * math.Min(float64(more), 5)
	}
	wide := draw.Sheet{Width: 190, Height: 250, Plain: true}
	scene, why := draw.NewScene(source, s), s.Why(source)
	return Pictures{
		Side: scene.Side(side), Top: scene.Top(draw.Sheet{Width: 104, Height: 72, Plain: true}),
		Scales: draw.Scales(s, draw.InOrder(s, steps), wide), Why: draw.Why(&why, s.Position.Posture.Name, wide),
	}, nil
}

// nameLength is how much of a name the heading shows; the whole is among the inputs.
const nameLength = 60

// Write writes the page.
func Write(w io.Writer, s Sheet) error {
	if len(s.Pictures) != len(s.Carry.Results) {
		return fmt.Errorf("sheet: %d results with %d pictures", len(s.Carry.Results), len(s.Pictures))
	}
	css, js, err := assets()
	if err != nil {
		return err
	}
	sum := sha256.Sum256([]byte(js))
	v := view{
		From: called(s.Carry.FromName, s.Carry.From), To: called(s.Carry.ToName, s.Carry.To),
		CSS: template.CSS(css + draw.CSS()), JS: template.JS(js),
		Policy: "default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'; base-uri 'none'; form-action 'none'",
		Date:   s.Date.Format(time.DateOnly), Suspects: report.SuspectWords(s.Carry.Suspects), Cautions: report.Cautions(),
	}
	for _, in := range s.Inputs {
		v.Inputs = append(v.Inputs, Input{in.Name, diag.Visible(in.Value)})
	}
	key := sha256.New()
	for i := range s.Carry.Results {
		r := &s.Carry.Results[i]
		p := s.Pictures[i]
		id := fmt.Sprintf("r%d", i+1)
		words := report.NewWords(r)
		typeset(&words)
		for _, st := range words.Steps {
			fmt.Fprintln(key, v.From, v.To, r.Posture, st.Do, st.Value)
		}
		v.Results = append(v.Results, result{ID: id, Posture: diag.Shorten(r.Posture, nameLength), Carried: r.Carried, Words: words,
			Side: inline(p.Side, id+"-side"), Top: inline(p.Top, id+"-top"), Scales: inline(p.Scales, id+"-scales"), Why: inline(p.Why, id+"-why"),
			Changes: changes(r)})
	}
	v.Key = hex.EncodeToString(key.Sum(nil)[:12])
	t, err := page()
	if err != nil {
		return err
	}
	return t.Execute(w, v)
}

// view is what the template shows.
type view struct {
	From, To, Date, Policy, Key string
	CSS                         template.CSS
	JS                          template.JS
	Results                     []result
	Suspects, Cautions          []string
	Inputs                      []Input
}

type result struct {
	ID, Posture string
	Carried     bool
	report.Words
	Side, Top, Scales, Why template.HTML
	Changes                table
}

// typeset sets minus signs in readings, as the pictures have them.
func typeset(w *report.Words) {
	minus := func(s string) string {
		if strings.HasPrefix(s, "-") {
			s = "−" + s[1:]
		}
		for d := '0'; d <= '9'; d++ {
			s = strings.ReplaceAll(s, " -"+string(d), " −"+string(d))
		}
		return s
	}
	for i := range w.Steps {
		s := &w.Steps[i]
		s.Do, s.Value, s.Later = minus(s.Do), minus(s.Value), minus(s.Later)
	}
	for i := range w.Checks {
		w.Checks[i].Value = minus(w.Checks[i].Value)
	}
}

// inline is a picture as HTML; draw escapes every name in it.
func inline(p *draw.Picture, id string) template.HTML {
	if p == nil {
		return ""
	}
	return template.HTML(p.Inline(id))
}

func assets() (css, js string, err error) {
	a, err := files.ReadFile("page.css")
	if err != nil {
		return "", "", err
	}
	b, err := files.ReadFile("page.js")
	return string(a), string(b), err
}

// called is what a bike is called on the page.
func called(name, file string) string {
	if strings.TrimSpace(name) == "" {
		name = file
	}
	return diag.Shorten(name, nameLength)
}

// table is the waterfall's numbers for who would rather read them.
type table struct {
	Heads []string
	Rows  []row
}

type row struct {
	Name  string
	Cells []string
	Sum   bool
}

// changes tells in numbers what the waterfall shows.
func changes(r *report.Result) table {
	var t table
	known := r.Why.Source.List()
	for m, v := range known {
		if v != nil {
			t.Heads = append(t.Heads, strings.ReplaceAll(carry.MeasureNames[m], "-", " "))
		}
	}
	cells := func(s report.MeasureSet, text func(float64, int) string) (list []string, some bool) {
		for m, v := range s.List() {
			if known[m] == nil {
				continue
			}
			word := "–"
			if v != nil {
				word = text(*v, 1)
				some = some || strings.Trim(word, "0.−+") != ""
			}
			list = append(list, word)
		}
		return list, some
	}
	from, _ := cells(r.Why.Source, draw.Fixed)
	t.Rows = append(t.Rows, row{"source", from, true})
	for _, s := range r.Why.Swaps {
		if list, some := cells(s.MeasureSet, draw.Signed); some {
			t.Rows = append(t.Rows, row{s.Cause, list, false})
		}
	}
	to, _ := cells(r.Why.Target, draw.Fixed)
	t.Rows = append(t.Rows, row{"target", to, true})
	return t
}
