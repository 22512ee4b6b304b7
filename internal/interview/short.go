package interview

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"carryover/internal/format"
	"carryover/internal/written"
)

// Asked is a question of the short way with its answer, for one who shows each by itself.
type Asked struct {
	Name, Text, How string
	Unit            format.Unit // of a number; what is none has none
	Signed          bool        // may be below zero
	Words           []string    // one of these, the first is usual; nil: a number or a text
	Answer          string
	Value           *float64 // of a number that can be read
	question        question
	form            *form
}

// Short goes the short way about a bike with whatever is answered, by the questions' names; all else is left out. The answers of
// Adjusters stand by their names. The bike's own name is asked last, where it is kept.
func Short(s Subject, answers map[string]string) ([]Asked, Result) {
	s.Kind, s.Answer = "bike", map[string]string{"use": "both", "way": "short", "pitch": "same", "fitter": "", "date": "", "notes": ""}
	in := &interview{Subject: s, whole: true, answers: maps.Clone(answers)}
	n := 0
	for _, a := range Adjusters {
		if scale := answers[a.Name]; slices.Contains(Scales, scale) {
			n++
			for name, text := range map[string]string{"name": a.Name, "moves": a.moves, "angle": a.way, "unit": scale} {
				in.answers[fmt.Sprintf("adjuster %d %s", n, name)] = text
			}
		}
	}
	f := in.fill()
	var list []Asked
	for _, g := range append(f.trail[1:], f.trail[0]) {
		if strings.HasPrefix(g.name, "adjuster ") {
			continue
		}
		a := Asked{Name: g.name, Text: g.text, How: g.how, Words: g.words,
			Answer: g.answer, question: g.question, form: f}
		if k := g.key; k != nil {
			a.Unit, a.Signed = k.Unit, k.Lo < 0
			if toml, err := g.read(g.answer); err == nil && g.answer != "" {
				if v, err := strconv.ParseFloat(toml, 64); err == nil {
					a.Value = &v
				}
			}
		}
		list = append(list, a)
	}
	r := Result{Missing: f.draft.missing(), Open: f.open}
	r.Source = []byte(f.written(r))
	return list, r
}

// Adjusters are what most bikes can be moved by; the lean of a post is common practice.
var Adjusters = []struct{ Name, moves, way string }{
	{"saddle post", "saddle", "post"}, {"saddle slide", "saddle", "forward"}, {"bar post", "bar", "post"}, {"bar slide", "bar", "forward"},
}

// Scales are what the scale of one of them may count.
var Scales = []string{"cm", "mm", "inch", "none"}

// MovesText and MovesHow ask which of the Adjusters a bike has.
const (
	MovesText = "What slides on it, and what does its scale count"
	MovesHow  = "only what is set when a position is carried to this bike; it counts from where it stands now"
)

// Doubt says what is wrong with the answer, or odd, "" when nothing is; mend is what it may have meant: read in centimetres or inches.
func (a *Asked) Doubt() (text, mend string) {
	if a.Answer == "" {
		return "", ""
	}
	text, _ = a.form.doubt(&a.question, a.Answer)
	v, err := written.Length(a.Answer)
	fits := func(v float64) bool {
		return a.question.key.Judge(v, format.Num(v)) == nil && a.question.odd(format.Num(v)) == ""
	}
	if err != nil || a.Unit != format.MM || fits(v) {
		return text, ""
	}
	for _, by := range [...]float64{10, 25.4} {
		if mm := math.Round(v*by*10) / 10; fits(mm) {
			return text, format.Num(mm)
		}
	}
	return text, ""
}

// Leaves says what the readings so far leave open, or how they agree; "" while there are none.
func (a *Asked) Leaves() string { return strings.TrimSpace(strings.Join(a.form.leaves(), "\n")) }
