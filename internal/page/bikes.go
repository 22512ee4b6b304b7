package page

import (
	"errors"
	"html/template"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/diag"
	"carryover/internal/job"
	"carryover/internal/locate"
	"carryover/internal/words"
)

// card is a bike among the bikes.
type card struct {
	File, Name string
	Postures   []string
	Picture    template.HTML
	Wrong      *trouble // why it cannot be used
	Example    bool
}

// bikes are the bikes of the store, or the examples where it has none; riders are left out.
func (v *visit) bikes() (own, examples []card, err error) {
	names, err := v.store.Names()
	if err != nil {
		return nil, nil, err
	}
	for _, name := range names {
		if c, ok := v.card(name); ok {
			own = append(own, c)
		}
	}
	for _, name := range job.Examples() {
		if c, ok := v.card(job.ExamplePrefix + name); ok {
			c.Example = true
			examples = append(examples, c)
		}
	}
	return own, examples, nil
}

// card describes a file; ok is false when it is no bike.
func (v *visit) card(file string) (card, bool) {
	c := card{File: file, Name: file}
	b, err := v.files.Bike(file)
	if err != nil {
		if _, rider := v.files.Rider(file); rider == nil {
			return c, false
		}
		c.Wrong = newTrouble("This file cannot be used as it is", err)
		return c, true
	}
	c.Name = words.Bike(b)
	for _, p := range b.Postures {
		c.Postures = append(c.Postures, diag.Shorten(p.Name, 22))
	}
	return c, true
}

func (v *visit) home() Response {
	own, examples, err := v.bikes()
	if err != nil {
		return v.problem(StatusFailed, "The folder cannot be read", err)
	}
	return v.show(StatusOK, "home", "My bikes", map[string]any{"Own": own, "Examples": examples})
}

// bikePage is one bike.
type bikePage struct {
	card
	Text, Was string
	Lines     []string // where everything is, as `carryover locate` says it
	Odd       []string
	Conflict  string // what stands in the file now, where that is not what was seen
}

func (v *visit) bike() Response {
	file := v.get("file")
	text, err := v.text(file)
	switch {
	case missing(err):
		return v.problem(StatusNotFound, "There is no such bike", err)
	case err != nil:
		return v.problem(StatusBadRequest, "This file cannot be read", err)
	}
	return v.bikeAs(StatusOK, bikePage{Text: string(text), Was: Version(text)}, file)
}

func (v *visit) bikeAs(status int, p bikePage, file string) Response {
	p.card, _ = v.card(file)
	p.Example = strings.HasPrefix(file, job.ExamplePrefix)
	if p.Wrong == nil {
		p.locate(v)
	}
	if len(v.odd) > 0 {
		p.Odd = told(v.odd)
	}
	return v.show(status, "bike", p.Name, p)
}

// locate says where everything on the bike is.
func (p *bikePage) locate(v *visit) {
	s, err := v.files.Source(p.File, &bike.Rider{}, locate.Options{})
	if err != nil {
		return // a machine that is only carried onto has no readings
	}
	p.Lines = words.Doubts(s.Adjusted)
}

// text is the text of a file or an example.
func (v *visit) text(file string) ([]byte, error) {
	if name, ok := strings.CutPrefix(file, job.ExamplePrefix); ok {
		return job.Example(name)
	}
	return v.store.ReadFile(file)
}

// file hands a file out.
func (v *visit) file() Response {
	file := v.get("file")
	text, err := v.text(file)
	if err != nil {
		return v.problem(StatusNotFound, "There is no such file", err)
	}
	name := file
	if example, ok := strings.CutPrefix(file, job.ExamplePrefix); ok {
		name = example + ".toml"
	}
	return Response{Status: StatusOK, Type: typeTOML, Name: name, Body: text}
}

// save writes a file that a person has edited or brought.
func (v *visit) save() Response {
	file := strings.TrimSpace(v.req.Form.Get("file"))
	if !strings.HasSuffix(file, ".toml") && file != "" {
		file += ".toml"
	}
	text, was := strings.ReplaceAll(v.req.Form.Get("text"), "\r\n", "\n"), v.req.Form.Get("was")
	err := v.store.Save(file, []byte(text), was)
	switch {
	case errors.Is(err, ErrChanged):
		now, _ := v.store.ReadFile(file)
		return v.bikeAs(StatusConflict, bikePage{Text: text, Was: Version(now), Conflict: string(now)}, file)
	case err != nil:
		return v.problem(StatusUnprocessed, "Nothing was written", err)
	}
	return Response{Status: StatusSeeOther, Location: at("/bike", map[string][]string{"file": {file}})}
}
