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
	Pictures          []picture
}

type step struct {
	Rows  []words.Row
	Check string
}

type check struct{ Name, How, Value string }

// picture is a drawing with its heading.
type picture struct {
	ID, Of, Title, Because string // Of is the posture's id
	SVG                    template.HTML
	Width                  float64 // mm
	// On paper: Fresh begins a page, Opens and Closes bound those that stand side by side, Beside stands beside the readings.
	// Aside is hidden until asked for.
	Fresh, Opens, Closes, Beside, Aside bool
}

// nameLength is how much of a name the heading shows; the whole is among the inputs.
const nameLength = 60

// Set writes the page for setting up a bike.
func Set(w io.Writer, c *job.Carry, date time.Time, inputs []Input) error {
	from, to := words.Names(c.Bike, c.Target)
	v := view{Kind: "Set-up sheet", Title: to, Lead: "so that you sit and hold as on " + from, Meaning: words.Meaning,
		Doubts: words.PairDoubts(c), Assumed: words.PairAssumed(c), Cautions: words.Cautions(), Inputs: versioned(inputs, c.Versions())}
	v.Bikes = []machine{{from, parts(c.Bike, nil)}, {to, parts(c.Target, c.Results[0])}}
	v.Facts = facts(c.Rider, c.Target.Record, c.Bike.Record)
	for _, f := range c.Failed {
		v.Postures = append(v.Postures, posture{Name: shown(f.Name), Verdict: "CANNOT BE CARRIED: " + diag.Visible(f.Err.Error()), OutOf: true})
	}
	for _, r := range c.Results {
		v.Postures = append(v.Postures, v.carried(r))
	}
	return v.write(w, date)
}

// Record writes the page that holds a position on one bike.
func Record(w io.Writer, s *job.Source, asked []job.Posture, date time.Time, inputs []Input) error {
	name := words.Bike(s.Bike)
	v := view{Kind: "Position record", Title: name, Lead: "where you sit and hold", Inputs: versioned(inputs, s.Bike.Versions(nil)),
		Doubts: words.Doubts(s.Adjusted), Assumed: words.Assumed(s.Adjusted)}
	v.Bikes = []machine{{name, parts(s.Bike, nil)}}
	if len(s.Bike.Postures) == 0 {
		v.Kind, v.Lead = "Bike record", "as it stands"
	}
	v.Facts = facts(s.Rider, s.Bike.Record, bike.Record{})
	for _, p := range asked {
		v.Postures = append(v.Postures, recorded(s, p))
	}
	return v.write(w, date)
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

// facts are who it was made for and by, and what was noted, each when a file gives it.
func facts(rider *bike.Rider, records ...bike.Record) []Input {
	var list []Input
	if rider != nil && rider.Name != "" {
		list = append(list, Input{"Rider", shown(rider.Name)})
	}
	for _, r := range records {
		for _, f := range []Input{{"Fitter", r.Fitter}, {"Measured", r.Date}, {"Notes", r.Notes}} {
			if strings.TrimSpace(f.Value) != "" {
				list = append(list, Input{f.Name, diag.Shorten(f.Value, 400)})
			}
		}
	}
	return list
}

// carried is one posture on the bike that is set up.
func (v *view) carried(r *job.Result) posture {
	p := posture{Name: shown(r.Position.Posture.Name), Verdict: words.Verdict(r), Heading: "Mind", OutOf: r.E > words.OutOfReach,
		Carried: words.Sound(r), Dangers: append(words.Dangers(r), words.Cures(r)...), Minds: words.Minds(r),
		Work: "Set in this order", Below: "Below each: the reading that confirms it, in mm."}
	if p.OutOf {
		p.Work = "As near as it comes: not to be set up"
	}
	for _, row := range words.Rows(r) {
		row.To = typeset(row.To)
		if row.Step > 0 {
			p.Steps = append(p.Steps, step{})
		}
		last := &p.Steps[len(p.Steps)-1]
		last.Rows = append(last.Rows, row)
		if row.Check != "" {
			last.Check = typeset(row.Check)
		}
	}
	for _, c := range r.Checks {
		p.Checks = append(p.Checks, checked(c.Reading, c.Value, c.SigmaTotal))
	}
	from, _ := words.Names(r.Source.Bike, r.Target)
	scene, before := draw.NewScene(r), draw.Alone(r.Source.Adjusted, r.Position)
	// Page 1 is the work and the scales, page 2 the drawing over a chart and what is seen from above, on A4 and Letter.
	wide, narrow := draw.Sheet{Width: 190, Height: 130, Plain: true}, draw.Sheet{Width: 92, Height: 72, Plain: true}
	if r.Spacing != nil {
		narrow.Height = 56 // the pads stand below the saddles
	}
	why, top, pads := scene.Why(narrow), scene.Top(narrow), scene.Pads(narrow)
	// The drawing takes what the others leave of its page, below its heading and above the foot.
	const sentence, headAndFoot = 8, 16
	below := math.Max(tall(why)+sentence, tall(top)+tall(pads))
	wide.Height = plane.Clamp(letter-headAndFoot-below, wide.Height, 200)
	text := v.height(&p)
	if scales := scene.Scales(draw.Sheet{Width: 190, Height: letter - text, Plain: true}); !p.OutOf {
		p.add("scales", "Scales and settings", scales).Aside = text+scales.Height > letter
	}
	p.add("side", "Side view", scene.Side(wide)).Fresh = true
	p.add("alone", "Side view of "+from+" alone", before.Side(wide)).Aside = true
	first := len(p.Pictures)
	p.add("why", "Why the numbers changed", why).Because = words.Because(r)
	p.add("top", "Saddles from above", top)
	p.add("pads", "Pads from above", pads)
	if first < len(p.Pictures) {
		p.Pictures[first].Opens, p.Pictures[len(p.Pictures)-1].Closes = true, true
	}
	return p
}

// tall is the height of a picture with its heading, mm; 0 where there is none.
func tall(p *draw.Picture) float64 {
	if p == nil {
		return 0
	}
	return p.Height + 7
}

// letter is the height of a page of Letter within its margins, mm; A4 has more.
const letter = 262.0

// height is about what a posture's text takes on paper above its pictures, mm, from the letters of its lines.
func (v *view) height(p *posture) float64 {
	const line, wide, narrow = 3.75, 115, 52
	lines := func(letters int, list ...string) (n float64) {
		for _, s := range list {
			n += math.Ceil(float64(len([]rune(s))) / float64(letters))
		}
		return n
	}
	n := lines(wide, p.Verdict) + lines(wide, p.Dangers...) + lines(wide, p.Minds...) + lines(wide, v.Assumed...)
	if len(v.Postures) == 0 { // the first has the heading over it, and the cautions
		n += 9 + lines(wide, v.Doubts...) + lines(wide, v.Cautions...)
		for _, b := range v.Bikes {
			n += lines(90, b.Parts)
		}
		for _, f := range v.Facts {
			n += lines(90, f.Value)
		}
	}
	var steps, checks float64
	for _, s := range p.Steps {
		steps += 0.5 + lines(narrow, s.Check)
		for _, r := range s.Rows {
			steps += lines(narrow, r.What+" "+r.To)
		}
	}
	for _, c := range p.Checks {
		checks += 0.5 + lines(38, c.Name+" "+c.How)
	}
	return line * (n + math.Max(steps, checks+2) + 8) // 8: headings and the space around them
}

// checked is one reading of the finished bike.
func checked(r bike.Reading, value, sigma float64) check {
	q := plane.Length(math.Abs(value))
	if r.Kind == bike.Angle {
		q = plane.Turning(plane.Angle(value))
	}
	c := check{words.Trade(r), words.Reading(r, value), typeset(words.Sure(q, sigma))}
	if strings.HasPrefix(c.How, c.Name) { // the name says it all, or there is none
		c.Name, c.How = c.How, ""
	}
	return c
}

// add adds a picture, where there is one.
func (p *posture) add(id, title string, d *draw.Picture) *picture {
	if d == nil {
		return &picture{}
	}
	p.Pictures = append(p.Pictures, picture{ID: id, Title: title, SVG: template.HTML(d.Inline("PICTURE")), Width: d.Width})
	return &p.Pictures[len(p.Pictures)-1]
}

var negative = regexp.MustCompile(`(^|[\s\x{a0}(])-(\d)`)

// typeset sets minus signs, as the pictures have them.
func typeset(s string) string { return negative.ReplaceAllString(s, "$1−$2") }

// write fills in the page, with the letters it is set in.
func (v view) write(w io.Writer, date time.Time) error {
	css, err := files.ReadFile("page.css")
	if err != nil {
		return err
	}
	js, err := files.ReadFile("page.js")
	if err != nil {
		return err
	}
	v.Date = date.Format(time.DateOnly)
	sum := sha256.Sum256(js)
	v.Policy = "default-src 'none'; style-src 'unsafe-inline'; font-src data:; script-src 'sha256-" +
		base64.StdEncoding.EncodeToString(sum[:]) +
		"'; base-uri 'none'; form-action 'none'"
	v.JS = template.JS(js)
	for i := range v.Inputs {
		v.Inputs[i].Value = diag.Visible(v.Inputs[i].Value)
	}
	key := sha256.New()
	for i := range v.Postures {
		p := &v.Postures[i]
		p.ID = fmt.Sprintf("r%d", i+1)
		for k := range p.Pictures {
			s := &p.Pictures[k]
			s.ID, s.Of = p.ID+"-"+s.ID, p.ID
			s.SVG = template.HTML(strings.ReplaceAll(string(s.SVG), "PICTURE", s.ID))
		}
		fmt.Fprintln(key, v.Lead, v.Title, p.Name, p.Steps, p.Checks)
	}
	v.Key = hex.EncodeToString(key.Sum(nil)[:12])
	t, err := template.New("page.html").Funcs(template.FuncMap{"inc": func(i int) int { return i + 1 }}).ParseFS(files, "page.html")
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
