package page

import (
	"errors"
	"fmt"
	"html/template"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/diag"
	"carryover/internal/job"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/words"
)

// card is a bike among the bikes.
type card struct {
	File, Name string
	Postures   []string
	Picture    template.HTML
	Wrong      *trouble // why it cannot be used
	Example    bool
	Rider      bool // it is a rider, not a bike
}

// Shown is a card's second line.
func (c card) Shown() string {
	list := []string{c.File}
	for _, p := range c.Postures {
		list = append(list, diag.Shorten(p, 22))
	}
	return strings.Join(list, " · ")
}

// listed are the files of the store and the examples.
type listed struct{ own, examples, riders []card }

func (v *visit) list() (l listed, err error) {
	names, err := v.store.Names()
	if err != nil {
		return l, err
	}
	for _, name := range job.Examples() {
		names = append(names, job.ExamplePrefix+name)
	}
	for _, name := range names {
		switch c := v.card(name); {
		case c.Rider:
			l.riders = append(l.riders, c)
		case c.Example:
			l.examples = append(l.examples, c)
		default:
			l.own = append(l.own, c)
		}
	}
	return l, nil
}

// card describes a file. What a text says is worked out once.
func (v *visit) card(file string) card {
	text, err := v.text(file)
	if err != nil {
		return card{File: file, Name: file, Wrong: newTrouble("This file cannot be read", err)}
	}
	key := file + " " + Version(text)
	if c, ok := v.cards[key]; ok {
		return c
	}
	const most = 500
	if len(v.cards) >= most { // somebody has many versions of many bikes
		clear(v.cards)
	}
	c := v.describe(file, "side-"+Version([]byte(key)))
	c.Example = strings.HasPrefix(file, job.ExamplePrefix)
	if c.Wrong == nil { // what is wrong may be mended in a part's file
		v.cards[key] = c
	}
	return c
}

func (v *visit) describe(file, id string) card {
	c := card{File: file, Name: file}
	b, err := v.files.Bike(file)
	if err != nil {
		if r, noRider := v.files.Rider(file); noRider == nil {
			c.Rider = true
			if r.Name != "" {
				c.Name = diag.Shorten(r.Name, 60)
			}
			return c
		}
		c.Wrong = newTrouble("This file cannot be used as it is", err)
		return c
	}
	c.Name = words.Bike(b)
	for _, p := range b.Postures {
		c.Postures = append(c.Postures, p.Name)
	}
	c.Picture = v.side(b, id)
	return c
}

// side is where a bike is touched, to scale; "" where too little of it is known.
func (v *visit) side(b *bike.Bike, id string) template.HTML {
	posture := bike.Posture{Name: "as it stands", Hands: bike.Hood, Support: 120}
	if len(b.Postures) > 0 {
		posture = b.Postures[0]
	}
	a, err := locate.Adjust(b, nil, locate.Options{})
	if err != nil || a.Err() != nil {
		return ""
	}
	pos, err := a.Position(posture)
	if err != nil {
		return ""
	}
	sit, hands := pos.Sit, pos.Hands
	f := figure{crank: b.Feet.Crank, tilt: plane.Deg(sit.Angle), hold: plane.Deg(hands.Angle), mark: sit.At, hands: hands.At,
		onPads: posture.Hands == bike.Pad, cranked: true, seat: true, level: true, held: true, turned: true}
	f.begin(fmt.Sprintf("The seat %s behind and %s above the axle, the hands %s ahead of and %s above it.", words.MM(-sit.At.X),
		words.MM(sit.At.Y), words.MM(hands.At.X), words.MM(hands.At.Y)))
	f.draw()
	return template.HTML(f.Inline(id))
}

func (v *visit) home() Response {
	l, err := v.list()
	if err != nil {
		return v.problem(StatusFailed, "The folder cannot be read", err)
	}
	return v.show(StatusOK, "home", "My bikes", map[string]any{"Own": l.own, "Examples": l.examples, "Riders": l.riders})
}

// bikePage is one bike.
type bikePage struct {
	card
	Text, Was string
	Lines     []string // what speaks against its readings, as `carryover locate` says it
	Surer     []string // what further readings would buy
	Odd       string
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
	p.card = v.card(file)
	if p.Wrong == nil && !p.Rider {
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
	if len(s.Bike.Postures) == 0 {
		return
	}
	if outputs, err := s.Adjusted.ContactOutputs(s.Bike.Postures[0]); err == nil {
		p.Surer = words.Surer(s.Adjusted.Plan(outputs, 3))
	}
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

// deletePage asks before a file is deleted.
type deletePage struct {
	card
	Was     string
	Changed bool
}

func (v *visit) askDelete() Response {
	return v.askedDelete(StatusOK, v.get("file"), false)
}

func (v *visit) askedDelete(status int, file string, changed bool) Response {
	text, err := v.store.ReadFile(file)
	if err != nil {
		return v.problem(StatusNotFound, "There is no such file", err)
	}
	return v.show(status, "delete", "Delete", deletePage{v.card(file), Version(text), changed})
}

// remove deletes a file, as it was when the person was asked.
func (v *visit) remove() Response {
	file := v.req.Form.Get("file")
	err := v.store.Remove(file, v.req.Form.Get("was"))
	switch {
	case errors.Is(err, ErrChanged):
		return v.askedDelete(StatusConflict, file, true)
	case err != nil:
		return v.problem(StatusUnprocessed, "Nothing was deleted", err)
	}
	return Response{Status: StatusSeeOther, Location: "/"}
}
