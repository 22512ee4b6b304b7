// Package sheet makes the page a person has at the bike: one HTML file with everything in it, that loads nothing,
// is whole without its script, and prints in black and white.
package sheet

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"html"
	"html/template"
	"io"
	"math"
	"regexp"
	"strings"
	"time"

	"carryover/internal/bike"
	"carryover/internal/diag"
	"carryover/internal/draw"
	"carryover/internal/job"
	"carryover/internal/plane"
	"carryover/internal/words"
)

//go:embed page.html page.css page.js
var files embed.FS

// Input is something the result rests on, for the foot of the page.
type Input struct{ Name, Value string }

// view is what the template shows.
type view struct {
	Kind, Title, Lead, Date string
	Policy, Key             string
	CSS                     template.CSS
	JS                      template.JS
	Bikes                   []machine
	Facts                   []Input // rider, fitter, notes
	Doubts, Assumed         []string
	Meaning                 string
	Postures                []posture
	Says                    []string // of a comparison, over its tables
	Tables                  []words.Table
	Cautions                []string
	Inputs                  []Input
}

// machine is a bike with every part named.
type machine struct{ Name, Parts string }

// posture is what is told of one posture.
type posture struct {
	ID, Name, Verdict string
	Carried, OutOf    bool // OutOf reach: nobody is to set it up like this
	Dangers, Minds    []string
	Heading           string // over the minds
	Work, Below       string // over the steps, and under them
	Steps             []step
	Checks            []check
	Fresh             bool // begins a page
	Pictures          []picture
}

type step struct {
	Rows  []words.Row
	Check string
}

type check struct{ Name, How, Value string }

// picture is a drawing, or several side by side, with its heading.
type picture struct {
	ID, Of, Title, Because string // Of is the posture's id
	SVG                    []template.HTML
	Width                  float64 // mm, of each
	// On paper: Fresh begins a page, Opens and Closes bound those that stand side by side, Beside stands beside the readings.
	// Aside is hidden until asked for.
	Fresh, Opens, Closes, Beside, Aside bool
}

// nameLength is how much of a name the heading shows; the whole is among the inputs.
const nameLength = 60

// Set writes the page for setting up a bike.
func Set(w io.Writer, c *job.Carry, date time.Time, inputs []Input) error {
	from, to := words.Names(c.Bike, c.Target)
	told := c.Told()
	v := view{Kind: "Set-up sheet", Title: to, Lead: words.Promise(c), Date: date.Format(time.DateOnly),
		Meaning: words.Meaning, Doubts: words.AllDoubts(told), Assumed: words.AllAssumed(told), Cautions: words.Cautions(),
		Inputs: versioned(inputs, c.Versions())}
	v.Bikes = []machine{{from, parts(c.Bike, nil)}, {to, parts(c.Target, c.Results[0])}}
	v.Facts = facts(c.Rider, c.Target.Record, c.Bike.Record, from)
	for _, f := range c.Failed {
		v.Postures = append(v.Postures, posture{ID: v.next(), Name: shown(f.Name), OutOf: true,
			Verdict: "CANNOT BE CARRIED: " + diag.Visible(words.Failure(f.Err))})
	}
	for i, r := range c.Results {
		v.Postures = append(v.Postures, v.carried(r, i == 0, i+1 == len(c.Results)))
	}
	return v.write(w)
}

// Record writes the page that holds a position on one bike.
func Record(w io.Writer, s *job.Source, asked []job.Posture, date time.Time, inputs []Input) error {
	name := words.Bike(s.Bike)
	v := view{Kind: "Position record", Title: name, Lead: "where you sit and hold", Date: date.Format(time.DateOnly),
		Inputs: versioned(inputs, s.Bike.Versions(nil)), Doubts: words.Doubts(s.Adjusted), Assumed: words.Assumed(s.Adjusted)}
	v.Bikes = []machine{{name, parts(s.Bike, nil)}}
	if len(s.Bike.Postures) == 0 {
		v.Kind, v.Lead = "Bike record", "as it stands"
	}
	v.Facts = facts(s.Rider, s.Bike.Record, bike.Record{}, "")
	for i, p := range asked {
		v.Postures = append(v.Postures, v.recorded(s, p, i == 0))
	}
	return v.write(w)
}

// versioned adds to what a page rests on the parts with the versions of their shapes.
func versioned(inputs []Input, list []bike.Version) []Input {
	if text := words.Versions(list); text != "" {
		inputs = append(inputs, Input{"Parts", text})
	}
	return inputs
}

func shown(name string) string { return diag.Shorten(name, nameLength) }

// parts names what is on a bike; on one that is set up, what was chosen for it.
func parts(b *bike.Bike, r *job.Result) string {
	list := append(option(b.Saddle.Slot), append(option(b.Bar.Slot), option(b.Bar.Lever)...)...)
	if b.Stem != nil {
		list = append(list, option(b.Stem.Slot)...)
	}
	if b.Clipon != nil {
		list = append(list, option(b.Clipon.Slot)...)
	}
	crank := b.Feet.Crank
	if r != nil {
		crank = r.Want.Crank
		for _, p := range r.Parts {
			name := shown(p.Name)
			if p.Flip {
				name += ", flipped"
			}
			list = append(list, name)
		}
	}
	return strings.Join(append(list, "crank "+words.MM(crank)), "; ")
}

// option is what a slot holds, by its name; an open one says nothing.
func option[T any](s bike.Slot[T]) []string {
	if s.Empty() || s.Open {
		return nil
	}
	o := s.Options[0]
	if o.Name == "" {
		o.Name = o.ID
	}
	return []string{shown(o.Name)}
}

// facts are who it was made for and by, and what was noted, each when a file gives it; of the second bike with its name.
func facts(rider *bike.Rider, own bike.Record, other bike.Record, name string) []Input {
	var list []Input
	add := func(name, value string) {
		if strings.TrimSpace(value) != "" {
			list = append(list, Input{name, diag.Shorten(value, 400)})
		}
	}
	if rider != nil {
		add("Rider", shown(rider.Name))
	}
	for _, f := range [][3]string{{"Fitter", own.Fitter, other.Fitter}, {"Measured", own.Date, other.Date}, {"Notes", own.Notes,
		other.Notes}} {
		add(f[0], f[1])
		if f[2] != f[1] {
			add(f[0]+", "+name, f[2])
		}
	}
	return list
}

// carried is one posture on the bike that is set up; first, last: of those on the page.
func (v *view) carried(r *job.Result, first, last bool) posture {
	p := posture{ID: v.next(), Name: shown(r.Position.Posture.Name), Verdict: words.Verdict(r), Heading: "Mind", OutOf: r.E > words.OutOfReach,
		Carried: words.Sound(r), Dangers: append(words.Dangers(r), words.Cures(r)...), Minds: words.Minds(r),
		Work: words.Work(r), Below: "Below each: the reading that confirms it, in mm.", Fresh: !first}
	for _, row := range words.Rows(r) {
		if row.Step > 0 {
			p.Steps = append(p.Steps, step{})
		}
		last := &p.Steps[len(p.Steps)-1]
		last.Rows = append(last.Rows, row)
		if row.Check != "" {
			last.Check = row.Check
		}
	}
	for _, c := range r.Checks {
		p.Checks = append(p.Checks, checked(c.Reading, c.Value.Value(), c.SigmaTotal))
	}
	from, _ := words.Names(r.Source.Bike, r.Target)
	scene, before := draw.NewScene(r), draw.Alone(r.Source.Adjusted, r.Position)
	scene.Date, before.Date = v.Date, v.Date
	// Page 1 is the work and, where there is room, the scales, page 2 the drawing over a chart and what is seen from above, on A4
	// and Letter.
	narrow := draw.Sheet{Width: 90, Height: 72, Plain: true}
	if r.Spacing != nil {
		narrow.Height = 56 // the pads stand below the saddles
	}
	why, top, pads := scene.Why(narrow), scene.Top(narrow), scene.Pads(narrow)
	because := words.Because(r)
	// The drawing takes what the others leave of its page.
	below := math.Max(tall(top), tall(pads)) // side by side
	if why != nil {
		below = math.Max(tall(why)+lines(because, narrow.Width), tall(top)+tall(pads))
	}
	wide := draw.Sheet{Width: 190, Height: plane.Clamp(letter-heading-below-v.foot(last), 110, 200), Plain: true}
	if !p.OutOf {
		room := letter - v.height(&p, first) - heading
		scales := scene.Scales(draw.Sheet{Width: 90, Height: room, Plain: true}, 2)
		none := len(scales) > 0 && scales[0].Height > room
		if none { // they have a page of their own
			scales = scene.Scales(draw.Sheet{Width: 90, Height: letter - heading, Plain: true}, 2)
		}
		p.add("scales", "", scales...).Fresh = none
	}
	of := ""
	if !first || !last { // pages may come apart
		of = ": " + p.Name
	}
	p.add("side", of, scene.Side(wide)).Fresh = true
	p.add("alone", " of "+from+" alone", before.Side(wide)).Aside = true
	begin := len(p.Pictures)
	p.add("why", "", why).Because = because
	p.add("top", "", top)
	p.add("pads", "", pads)
	if begin < len(p.Pictures) {
		p.Pictures[begin].Opens, p.Pictures[len(p.Pictures)-1].Closes = true, true
	}
	return p
}

// next is the id of the posture that is told next.
func (v *view) next() string { return fmt.Sprintf("r%d", len(v.Postures)+1) }

// checked is one reading of the finished bike.
func checked(r bike.Reading, value, sigma float64) check {
	name, how, reads := words.Check(r, value, sigma)
	return check{name, how, reads}
}

// add adds pictures under a heading that says what they are of, where there are any.
func (p *posture) add(id, of string, list ...*draw.Picture) *picture {
	made := picture{ID: p.ID + "-" + id, Of: p.ID}
	for i, d := range list {
		if d != nil {
			made.Title, made.Width = d.Title+of, d.Width
			made.SVG = append(made.SVG, template.HTML(d.Inline(made.ID+[]string{"", "-2"}[i])))
		}
	}
	if made.SVG == nil {
		return &made
	}
	p.Pictures = append(p.Pictures, made)
	return &p.Pictures[len(p.Pictures)-1]
}

// negative is a number below 0 in a text.
var negative = regexp.MustCompile(`(^|[\s\x{a0}(])-(\d)`)

// typeset sets minus signs, as the pictures have them.
func typeset(s string) string { return negative.ReplaceAllString(s, "$1−$2") }

// write fills in the page, with the letters it is set in.
func (v view) write(w io.Writer) error {
	css, err := files.ReadFile("page.css")
	if err != nil {
		return err
	}
	js, err := files.ReadFile("page.js")
	if err != nil {
		return err
	}
	sum := sha256.Sum256(js)
	v.Policy = "default-src 'none'; style-src 'unsafe-inline'; font-src data:; script-src 'sha256-" +
		base64.StdEncoding.EncodeToString(sum[:]) +
		"'; base-uri 'none'; form-action 'none'"
	v.JS = template.JS(js)
	for i := range v.Inputs {
		v.Inputs[i].Value = diag.Visible(v.Inputs[i].Value)
	}
	key := sha256.New()
	for _, p := range v.Postures {
		fmt.Fprintln(key, v.Lead, v.Title, p.Name, p.Steps, p.Checks)
	}
	v.Key = hex.EncodeToString(key.Sum(nil)[:12])
	inc := func(i int) int { return i + 1 }
	t, err := template.New("page.html").Funcs(template.FuncMap{"inc": inc, "set": typeset}).ParseFS(files, "page.html")
	if err != nil {
		return err
	}
	// Once without fonts, to see which letters there are.
	var text bytes.Buffer
	if err := t.Execute(&text, v); err != nil {
		return err
	}
	fonts := draw.FontCSS(html.UnescapeString(text.String())) + "html{font-family:" + draw.Fonts + "}\n"
	v.CSS = template.CSS(fonts + draw.CSS() + string(css))
	return t.Execute(w, v)
}
