// Package interview asks a person for what they know about a bike, a rider or a part, in the order of the work and in their
// words, checks each answer with the reader of the finished file, says what the readings so far leave open, and writes it
// all down as a commented file. It neither prints nor reads: the caller passes lines to and fro, and keeps the answers.
//
// What is asked follows from what was answered: the whole list is gone through again after each answer, and stops at the
// first question without one. So going back, changing an answer and going on another day are all the same.
package interview

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"carryover/internal/bikefile"
	"carryover/internal/catalog"
	"carryover/internal/diag"
	"carryover/internal/format"
	"carryover/internal/partfile"
	"carryover/internal/written"
)

// Kinds are the kinds of files that can be asked for.
var Kinds = []string{"bike", "rider", "part"}

// Subject is the file that is to be made.
type Subject struct {
	Kind   string
	File   string          // what it will be called, for messages
	Folder bikefile.Folder // where it will lie, for parts named by path
	Lib    *catalog.Library
	Answer map[string]string // what is known before, and not asked: by the question's name
}

// Answer is one question that was answered, "" when it was left out.
type Answer struct {
	Ask  string `json:"ask"`
	Text string `json:"answer"`
}

// Conversation is how questions and answers pass.
type Conversation struct {
	// Ask puts a question and returns the answer; ok is false when there will be no more answers.
	Ask  func(question string) (answer string, ok bool)
	Say  func(text string)
	Keep func([]Answer) // told all answers after each; nil: they are not kept
}

// Result is a file written from answers.
type Result struct {
	Source   []byte   // TOML, valid as far as it goes
	Answered int      // how many questions were answered
	Stopped  bool     // the answers ended before the questions
	Missing  []string // needed and left out: the reader refuses the file until they are filled in
	Open     []string // what the readings leave open: the file can be read, but not carried from
}

const greeting = "An empty answer leaves a question out, ? says more, < goes back. Lengths in mm; " +
	"74,3 cm, 29 1/4 in and 5 ft 10 do as well.\n"

// Run asks for a file. former are the answers of an interview that was stopped.
func Run(s Subject, former []Answer, c Conversation) Result {
	in := &interview{Subject: s, Conversation: c, answers: map[string]string{}, before: map[string]string{}}
	for _, a := range former {
		in.answers[a.Ask] = a.Text
	}
	in.Say(greeting)
	if len(former) > 0 {
		in.Say(fmt.Sprintf("%s of before are kept; going on from there.\n", written.Counted(len(former), "answer")))
	}
	stopped := false
	for {
		f := in.fill()
		if f.pending == nil {
			if in.summary(f) {
				break
			}
			continue
		}
		if stopped = !in.put(f); stopped {
			break
		}
	}
	f := in.fill()
	r := Result{Stopped: stopped, Missing: f.draft.missing(), Open: f.open}
	for _, g := range f.trail {
		if g.answer != "" {
			r.Answered++
		}
	}
	r.Source = []byte(f.written(r))
	return r
}

// interview is what has been answered so far.
type interview struct {
	Subject
	Conversation
	answers map[string]string // by the question's name
	before  map[string]string // taken back: offered again
	told    string            // the last hint, not to be repeated
	doubted string            // an odd answer that was questioned: the same again keeps it
	whole   bool              // what is not answered, or not to be read, is left out
}

// question is one question.
type question struct {
	name    string // of the answer
	short   string // in a few words, where neither name nor key has them
	text    string // "Crank length, mm"
	how     string // where to look or to hold the tape
	picture string
	words   []string // the answers that are words
	more    func() string
	read    func(answer string) (toml string, err error)
	key     *format.Key // of a number: what is usual
	small   bool        // it may be as small in mm as others are in centimetres
	usual   string      // taken for an empty answer
	needed  bool
	after   func(f *form) []string // what to say once it is answered
}

// given is a question with its answer.
type given struct {
	question
	answer string
}

// form is one passage through the questions with the answers there are.
type form struct {
	*interview
	draft
	trail   []given
	pending *question // the first without an answer
	open    []string
	saddle  *Saddle // being measured; nil: none
}

func (in *interview) fill() *form {
	f := &form{interview: in}
	f.top.set("schema", "1", "")
	switch in.Kind {
	case "bike":
		f.bike()
	case "rider":
		f.rider()
	case "part":
		f.part()
	}
	return f
}

// ask is the TOML of the answer, "" when it was left out or is still to come.
func (f *form) ask(q question) string {
	if f.pending != nil {
		return ""
	}
	answer, known := f.Answer[q.name]
	if !known {
		if answer, known = f.answers[q.name]; !known && !f.whole {
			f.pending = &q
			return ""
		}
		f.trail = append(f.trail, given{q, answer})
	}
	if answer == "" {
		answer = q.usual
	}
	if answer == "" {
		return ""
	}
	toml, err := q.read(answer)
	switch {
	case err == nil:
		return toml
	case f.whole && q.usual != "":
		toml, _ = q.read(q.usual)
		return toml
	case !f.whole: // kept from another version of the questions
		f.trail, f.pending = f.trail[:max(0, len(f.trail)-1)], &q
	}
	return ""
}

// askWord asks for a word that no key holds; the first word stands for an empty answer.
func (f *form) askWord(name, prompt, how string, words ...string) string {
	return unquoted(f.ask(question{name: name, text: prompt, how: how, read: oneOf(words...), usual: words[0], words: words}))
}

// put asks the pending question until the answer can be used; it is false when there are no more answers.
func (in *interview) put(f *form) bool {
	q := f.pending
	prompt, usual := q.text, q.usual
	if len(q.words) > 0 {
		prompt += " (" + strings.Join(q.words, ", ") + ")"
	}
	if old := in.before[q.name]; old != "" {
		usual = old
	}
	if usual != "" {
		prompt += " [" + usual + "]"
	}
	mark := prompt + ":"
	if q.how != "" && q.how != in.told {
		in.Say(prompt + "\n  " + q.how)
		mark, in.told = ">", q.how
	}
	for {
		answer, ok := in.Ask(mark + " ")
		mark = prompt + ":"
		answer = strings.TrimSpace(answer)
		switch {
		case !ok:
			return false
		case answer == "?":
			in.explain(q)
			continue
		case answer == "<":
			in.back(f, len(f.trail)-1)
			return true
		case answer == "-":
			answer = ""
		case answer == "" && usual != "":
			answer = usual
		}
		switch {
		case answer != "":
		case q.needed:
			in.Say("  left open: the file is not complete without it")
		case q.key != nil && q.key.LeftOut() != "":
			in.Say("  left out it counts as " + q.key.LeftOut())
		}
		if answer != "" {
			if problem := in.refuse(q, answer); problem != "" {
				in.Say(problem)
				continue
			}
		}
		in.accept(q, answer)
		return true
	}
}

func (in *interview) accept(q *question, answer string) {
	in.answers[q.name], in.doubted = answer, ""
	f := in.fill()
	if in.Keep != nil {
		var all []Answer
		for _, g := range f.trail {
			all = append(all, Answer{g.name, g.answer})
		}
		for name, text := range in.answers { // of a way not taken any more: kept all the same
			if !slices.ContainsFunc(all, func(a Answer) bool { return a.Ask == name }) {
				all = append(all, Answer{name, text})
			}
		}
		slices.SortStableFunc(all[len(f.trail):], func(a, b Answer) int { return strings.Compare(a.Ask, b.Ask) })
		in.Keep(all)
	}
	if q.after != nil && answer != "" {
		for _, line := range q.after(f) {
			in.Say(line)
		}
	}
}

// back takes an answer back; it will be offered again.
func (in *interview) back(f *form, i int) {
	in.told = ""
	if i < 0 {
		in.Say("  this is the first question")
		return
	}
	name := f.trail[i].name
	in.before[name] = in.answers[name]
	delete(in.answers, name)
}

// refuse says what is wrong with an answer, or odd; "" when nothing is. The same odd answer again is taken.
func (in *interview) refuse(q *question, answer string) string {
	text, wrong := in.doubt(q, answer)
	switch {
	case text == "" || !wrong && in.doubted == answer:
		return ""
	case !wrong:
		in.doubted = answer
		text += "\nthe same again keeps it"
	}
	return "  " + strings.ReplaceAll(text, "\n", "\n  ")
}

// doubt says what is wrong with an answer, or only odd; "" when nothing is.
func (in *interview) doubt(q *question, answer string) (text string, wrong bool) {
	toml, err := q.read(answer)
	if err != nil {
		return diag.Visible(err.Error()), true
	}
	if odd := q.odd(toml); odd != "" && in.doubted != answer {
		return odd, false
	}
	with := maps.Clone(in.answers)
	delete(with, q.name)
	without := *in
	without.answers = with
	known := without.fill().problems()
	then := *in
	then.answers = maps.Clone(with)
	then.answers[q.name] = answer
	found := then.fill().problems()
	for _, severity := range []diag.Severity{diag.Error, diag.Warning} {
		for _, d := range found {
			old := slices.ContainsFunc(known, func(o diag.Diagnostic) bool { return o.Code == d.Code && o.Summary == d.Summary })
			if d.Severity != severity || old || d.Code == "unusual-size" {
				continue
			}
			text := diag.Visible(d.Summary)
			if d.Detail != "" {
				text += "\n" + diag.Visible(d.Detail)
			}
			return text, severity == diag.Error
		}
	}
	return "", false
}

func (in *interview) explain(q *question) {
	var all []string
	if q.picture != "" {
		all = append(all, q.picture)
	}
	if q.how != "" {
		all = append(all, "  "+q.how)
	}
	if q.more != nil {
		all = append(all, q.more())
	}
	if all == nil {
		all = []string{"  there is no more to say; an empty answer leaves it out"}
	}
	in.Say(strings.Join(all, "\n"))
}

// summary shows what was answered; it is true when the file is to be written.
func (in *interview) summary(f *form) bool {
	lines := []string{"\nThis is what you said:"}
	wide := 0
	for _, g := range f.trail {
		wide = max(wide, diag.Columns(g.called()))
	}
	for i, g := range f.trail {
		name := g.called()
		lines = append(lines, fmt.Sprintf("%4d  %s%s  %s", i+1, name, strings.Repeat(" ", wide-diag.Columns(name)), g.said()))
	}
	in.Say(strings.Join(lines, "\n"))
	for _, line := range f.doubts() {
		in.Say(line)
	}
	for {
		answer, ok := in.Ask("Write it, or change the answer of a number: ")
		switch answer = strings.ToLower(strings.TrimSpace(answer)); {
		case !ok, answer == "", answer == "yes", answer == "y", answer == "write":
			return true
		case answer == "<":
			in.back(f, len(f.trail)-1)
			return false
		}
		if i, err := strconv.Atoi(answer); err == nil && 1 <= i && i <= len(f.trail) {
			in.back(f, i-1)
			return false
		}
		in.Say("  an empty answer writes the file, a number from the list changes that answer")
	}
}

// called is a question in a few words.
func (q *question) called() string {
	if q.key != nil {
		return cmp.Or(q.short, q.key.About)
	}
	return q.name
}

// said is an answer as it was understood, with its unit.
func (g *given) said() string {
	if g.answer == "" {
		return "-"
	}
	toml, err := g.read(g.answer)
	if v, number := strconv.ParseFloat(toml, 64); err == nil && number == nil && g.key != nil {
		return g.key.Unit.Of(v)
	}
	return diag.Visible(g.answer)
}

// doubts are the warnings of the finished file that were not questioned when they came up.
func (f *form) doubts() []string {
	var all []string
	for _, d := range f.problems() {
		if d.Severity == diag.Warning {
			all = append(all, "  mind: "+diag.Visible(d.Summary))
		}
	}
	return all
}

// problems are what the reader of the file finds wrong with the draft as it stands, less what is missing.
func (f *form) problems() diag.List {
	src, skip := []byte(f.String()), []string{"missing-key", "missing-anchor"} // readings may come instead
	var found diag.List
	switch f.Kind {
	case "bike":
		_, found = bikefile.ReadBike(f.File, src, f.Folder, f.Lib)
	case "rider":
		_, found = bikefile.ReadRider(f.File, src)
	case "part":
		found = catalog.Lint(f.File, src)
		skip = append(skip, "part-file-name", "stations-apart")
	}
	return slices.DeleteFunc(found, func(d diag.Diagnostic) bool { return slices.Contains(skip, d.Code) })
}

// nearest is the catalogue's saddle nearest in length and greatest width; nil: it has none.
func (f *form) nearest(length, width float64) *partfile.Part {
	parts, err := f.Lib.List(partfile.Saddle)
	if err != nil || len(parts) == 0 {
		return nil
	}
	away := func(p *partfile.Part) float64 {
		_, wide := p.Saddle.Widest()
		return math.Hypot(p.Saddle.Length-length, wide-width)
	}
	return slices.MinFunc(parts, func(a, b *partfile.Part) int { return cmp.Compare(away(a), away(b)) })
}
