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

// card describes a file; ok is false when it is no bike. What a text says is worked out once.
func (v *visit) card(file string) (card, bool) {
	text, err := v.text(file)
	if err != nil {
		return card{File: file, Name: file, Wrong: newTrouble("This file cannot be read", err)}, true
	}
	key := file + " " + Version(text)
	if c, ok := v.cards[key]; ok {
		return c, c.File != ""
	}
	const most = 500
	if len(v.cards) >= most { // somebody has many versions of many bikes
		clear(v.cards)
	}
	c, ok := v.describe(file)
	if !ok {
		c = card{}
	}
	if c.Wrong == nil { // what is wrong may be mended in a part's file
		v.cards[key] = c
	}
	return c, ok
}

func (v *visit) describe(file string) (card, bool) {
	c := card{File: file, Name: file}
	b, err := v.files.Bike(file)
	if err != nil {
		if _, notRider := v.files.Rider(file); notRider == nil {
			return c, false
		}
		c.Wrong = newTrouble("This file cannot be used as it is", err)
		return c, true
	}
	c.Name = words.Bike(b)
	for _, p := range b.Postures {
		c.Postures = append(c.Postures, diag.Shorten(p.Name, 22))
	}
	c.Picture = v.side(b)
	return c, true
}

// side is where a bike is touched, to scale; "" where too little of it is known.
func (v *visit) side(b *bike.Bike) template.HTML {
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
	s := &sketcher{}
	s.figure(figure{crank: b.Feet.Crank, tilt: plane.Deg(pos.Sit.Angle), hold: plane.Deg(pos.Hands.Angle), mark: pos.Sit.At,
		hands:  pos.Hands.At,
		onPads: posture.Hands == bike.Pad, cranked: true, seat: true, level: true, held: true, turned: true})
	return s.svg(pos.Sit.At, pos.Hands.At, fmt.Sprintf("Side view: the seat %s behind and %s above the axle, the hands %s ahead of and "+
		"%s above it",
		words.MM(-pos.Sit.At.X), words.MM(pos.Sit.At.Y), words.MM(pos.Hands.At.X), words.MM(pos.Hands.At.Y)))
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
