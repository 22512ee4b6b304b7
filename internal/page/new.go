package page

import (
	"errors"
	"fmt"
	"html/template"
	"io/fs"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"carryover/internal/bikefile"
	"carryover/internal/format"
	"carryover/internal/interview"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/words"
)

// draft is a bike in the making: the questions of the interview's short way with what has been answered, one a screen.
type draft struct {
	asked   []interview.Asked // the name last
	scales  map[string]string // of the interview's adjusters
	subject interview.Subject
	result  interview.Result
}

// draft reads the answers in a query or a form.
func (v *visit) draft(values url.Values) (*draft, error) {
	lib, err := v.files.Library()
	if err != nil {
		return nil, err
	}
	answers, d := map[string]string{}, &draft{scales: map[string]string{}}
	for name := range values {
		answers[name] = strings.TrimSpace(values.Get(name))
	}
	for _, a := range interview.Adjusters {
		if scale := answers[a.Name]; slices.Contains(interview.Scales, scale) {
			d.scales[a.Name] = scale
		}
	}
	d.subject = interview.Subject{File: "this bike", Folder: bikefile.Folder{FS: &Memory{}}, Lib: lib}
	d.asked, d.result = interview.Short(d.subject, answers)
	return d, nil
}

// value is the number of an answer, by the kind of reading or the key it is.
func (d *draft) value(kind string) (float64, bool) {
	for _, a := range d.asked {
		if a.Value != nil && kindOf(a.Name) == kind {
			return *a.Value, true
		}
	}
	return 0, false
}

// kindOf is the kind of reading that a question asks for; the name itself where it asks for something else.
func kindOf(question string) string {
	kind, _, _ := strings.Cut(strings.TrimPrefix(question, "reading "), " ")
	return kind
}

// screen leads to a question with the answers there are, one of them another.
func (v *visit) screen(d *draft, no int, name, answer string) string {
	query := url.Values{"q": {strconv.Itoa(no)}}
	for _, f := range d.kept(name) {
		query.Set(f.Name, f.Value)
	}
	if name != "" {
		query.Set(name, answer)
	}
	return v.base + at("/new", query)
}

// field is an answer that is carried along.
type field struct{ Name, Value string }

// kept are the answers to all questions but one.
func (d *draft) kept(but string) []field {
	var list []field
	for _, a := range d.asked {
		if a.Name != but && a.Answer != "" {
			list = append(list, field{a.Name, a.Answer})
		}
	}
	for _, a := range interview.Adjusters {
		if scale := d.scales[a.Name]; but != moves && scale != "" {
			list = append(list, field{a.Name, scale})
		}
	}
	return list
}

const moves = "moves" // the screen of all adjusters

// screens are the names of the questions in their order.
func (d *draft) screens() []string {
	var list []string
	for _, a := range d.asked[:len(d.asked)-1] {
		list = append(list, a.Name)
	}
	return append(list, moves)
}

// slug is a file name for a bike's name.
func slug(name string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(name) {
		switch {
		case unicode.IsLetter(r) || unicode.IsDigit(r):
			b.WriteRune(r)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
		if b.Len() > 60 {
			break
		}
	}
	if s := strings.Trim(b.String(), "-"); s != "" {
		return s
	}
	return "bike"
}

// questionPage is one question.
type questionPage struct {
	interview.Asked
	Mark               string // of a number: its unit
	No, Of, Next, Back int
	Doubt, Leaves      string
	Mend, MendLink     string
	Picture            template.HTML
	Kept               []field // the answers to all other questions
	Moves              []move
	Gauge              bool // a card to cut out helps
}

type move struct {
	Name   string
	Scales []choice
}

type choice struct {
	Value, Called string
	Chosen        bool
}

func (v *visit) newBike() Response {
	q := v.req.Query
	if skip := v.get("skip"); skip != "" { // "I don't know"
		q.Del(skip)
	}
	d, err := v.draft(q)
	if err != nil {
		return v.problem(StatusFailed, "The catalogue cannot be read", err)
	}
	screens := d.screens()
	no := 1
	for _, key := range []string{"q", "then", "go"} { // the screen that was shown, where its answer leads, the button that was pressed
		if n, err := strconv.Atoi(v.get(key)); err == nil {
			no = n
		}
	}
	if v.get("skip") != "" {
		no++
	}
	no = max(no, 1)
	if no > len(screens) {
		return v.summary(StatusOK, d, nil)
	}
	p := questionPage{No: no, Of: len(screens), Next: no + 1, Back: no - 1, Kept: d.kept(screens[no-1]), Picture: sketch(d, screens[no-1])}
	if no == len(screens) {
		p.Asked = interview.Asked{Name: moves, Text: interview.MovesText, How: interview.MovesHow}
		for _, a := range interview.Adjusters {
			m := move{a.Name, []choice{{"", "it does not slide", d.scales[a.Name] == ""}}}
			for _, s := range interview.Scales {
				m.Scales = append(m.Scales, choice{s, s, s == d.scales[a.Name]})
			}
			p.Moves = append(p.Moves, m)
		}
	} else {
		p.Asked = d.asked[no-1]
		p.Doubt, p.Mend = p.Asked.Doubt()
		p.MendLink = v.screen(d, no, p.Name, p.Mend)
		p.Leaves, p.Gauge = said(p.Asked.Leaves()), p.Name == "support"
		p.Mark = map[format.Unit]string{format.MM: "mm", format.Deg: "°"}[p.Unit]
	}
	p.How, p.Doubt = said(p.How), said(p.Doubt)
	return v.show(StatusOK, "new", p.Text, p)
}

// said is a remark as a sentence; "" stays nothing.
func said(text string) string {
	if text == "" {
		return ""
	}
	return words.Sentence(text)
}

// summaryPage is all answers before they are kept.
type summaryPage struct {
	Name           interview.Asked
	Rows           []row
	Kept           []field
	Picture        template.HTML
	Missing, Surer []string
	Where          []string
	Wrong          *trouble
	Text           string
}

// row is an answer to correct before it is kept.
type row struct{ Ask, Answer, Doubt, Link string }

// summary shows all answers, what is missing, and what would make the answer surer.
func (v *visit) summary(status int, d *draft, wrong *trouble) Response {
	last := len(d.asked) - 1
	p := summaryPage{Name: d.asked[last], Picture: sketch(d, ""), Kept: d.kept("name"), Text: string(d.result.Source), Wrong: wrong}
	for i, name := range d.screens() {
		r := row{Link: v.screen(d, i+1, "", "")}
		if name == moves {
			r.Ask, r.Answer = interview.MovesText, d.moved()
		} else {
			a := d.asked[i]
			r.Ask, r.Answer = a.Text, a.Answer
			r.Doubt, _ = a.Doubt()
			if r.Answer == "" {
				r.Answer = "not known"
				if len(a.Words) > 0 {
					r.Answer = a.Words[0]
				}
			}
		}
		p.Rows = append(p.Rows, r)
	}
	p.judge(d)
	return v.show(status, "summary", "Is this right?", p)
}

func (d *draft) moved() string {
	var list []string
	for _, a := range interview.Adjusters {
		if scale := d.scales[a.Name]; scale != "" {
			list = append(list, a.Name+" ("+scale+")")
		}
	}
	if len(list) == 0 {
		return "nothing"
	}
	return strings.Join(list, ", ")
}

// judge says where the contacts are by what is known, what is missing, and what would make them surer.
func (p *summaryPage) judge(d *draft) {
	for _, name := range d.result.Missing {
		p.Missing = append(p.Missing, words.Sentence("Still missing: "+name))
	}
	b, problems := bikefile.ReadBike(d.subject.File, d.result.Source, d.subject.Folder, d.subject.Lib)
	if b == nil || problems.HasErrors() {
		if len(p.Missing) == 0 {
			p.Wrong = newTrouble("This bike cannot be used yet", problems)
		}
		return
	}
	for _, open := range d.result.Open {
		p.Missing = append(p.Missing, words.Sentence("Still open: "+open))
	}
	a, err := locate.Adjust(b, nil, locate.Options{})
	if err != nil || a.Err() != nil {
		return // that is what is open
	}
	pos, err := a.Position(b.Postures[0])
	if err != nil {
		p.Wrong = newTrouble("This bike cannot be used yet", err)
		return
	}
	sit, hands := pos.Sit, pos.Hands
	p.Where = append([]string{
		fmt.Sprintf("Your seat is %s behind and %s above the axle, the saddle %s.", words.MM(-sit.At.X), words.MM(sit.At.Y),
			words.Tilted(plane.Angle(sit.Angle), "nose")),
		fmt.Sprintf("Your hands are %s ahead of and %s above it.", words.MM(hands.At.X), words.MM(hands.At.Y)),
	}, words.Doubts(a)...)
	if outputs, err := a.ContactOutputs(b.Postures[0]); err == nil {
		p.Surer = words.Surer(a.Plan(outputs, 3))
	}
}

// saveNew writes the new bike's file, under the first name that is free.
func (v *visit) saveNew() Response {
	d, err := v.draft(v.req.Form)
	if err != nil {
		return v.problem(StatusFailed, "The catalogue cannot be read", err)
	}
	name := slug(d.asked[len(d.asked)-1].Answer)
	for n := 1; n < 100; n++ {
		file := name + ".toml"
		if n > 1 {
			file = fmt.Sprintf("%s-%d.toml", name, n)
		}
		if _, err := v.store.ReadFile(file); !errors.Is(err, fs.ErrNotExist) {
			continue
		}
		switch err := v.store.Save(file, d.result.Source, ""); {
		case errors.Is(err, ErrChanged):
			continue
		case err != nil:
			return v.summary(StatusUnprocessed, d, newTrouble("Nothing was written", err))
		}
		return Response{Status: StatusSeeOther, Location: at("/bike", url.Values{"file": {file}})}
	}
	return v.summary(StatusConflict, d, newTrouble("There are a hundred bikes of that name already", nil))
}
