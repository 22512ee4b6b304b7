// Package questions asks a person for what they know about a bike, a rider or a part, in their order and words, checks
// each answer with the reader of the finished file, says what the readings so far leave open, and writes it all down
// as a commented file. It neither prints nor reads: the caller passes lines to and fro.
package questions

import (
	"fmt"
	"slices"
	"strings"

	"carryover/internal/bikefile"
	"carryover/internal/catalog"
	"carryover/internal/diag"
	"carryover/internal/partfile"
)

// Kinds are the kinds of files that can be asked for.
var Kinds = []string{"bike", "rider", "part"}

// Conversation is how questions and answers pass.
type Conversation struct {
	// Ask puts a question and returns the answer; ok is false when there will be no more answers.
	Ask func(question string) (answer string, ok bool)
	Say func(text string)
}

// Result is a file written from answers.
type Result struct {
	Source   []byte   // TOML, valid as far as it goes
	Answered int      // how many questions were answered
	Missing  []string // needed and not answered: the reader refuses the file until they are filled in
	Open     []string // what the readings leave open: the file can be read, but not carried from
}

// interview asks for one file.
type interview struct {
	Conversation
	draft    draft
	file     string
	folder   bikefile.Folder
	lib      *catalog.Library
	kind     string
	answered int
	ended    bool

	judged string // the draft that found is about
	found  diag.List
}

// Run asks for a file of a kind. file and folder are what the file will be called and where it will lie, for
// messages and for parts named by path. When the answers end early what was answered is kept.
func Run(kind, file string, folder bikefile.Folder, lib *catalog.Library, c Conversation) Result {
	in := &interview{Conversation: c, file: file, folder: folder, lib: lib, kind: kind}
	in.Say("An empty answer leaves a question out, ? says more. Lengths in mm; 74 cm and 29 in do as well.\n")
	top := in.draft.begin("", "")
	top.set("schema", "1", "")
	var open []string
	switch kind {
	case "bike":
		open = in.bike(top)
	case "rider":
		in.rider(top)
	case "part":
		in.part(top)
	}
	r := Result{Answered: in.answered, Missing: in.draft.missing(), Open: open}
	in.draft.head = head(kind, r)
	r.Source = []byte(in.draft.source(false))
	return r
}

func head(kind string, r Result) string {
	var b strings.Builder
	fmt.Fprintf(&b, "# Written by `carryover new %s`.\n", kind)
	if len(r.Missing) > 0 {
		fmt.Fprintf(&b, "# Still missing: %s.\n", strings.Join(r.Missing, ", "))
	}
	if len(r.Open) > 0 {
		fmt.Fprintf(&b, "# The readings leave open: %s.\n", strings.Join(r.Open, ", "))
	}
	return b.String()
}

// question is one question about one key.
type question struct {
	text    string // "Crank length"
	how     string // where to look or to hold the tape; the comment behind the value as well
	more    func() string
	form    form
	needed  bool
	usual   string   // TOML taken for an empty answer
	standIn string   // TOML to judge the rest with while this is unanswered
	pending []string // codes of problems that later answers will settle
}

// ask asks for a key until the answer can be used, and returns its TOML: "" when it was left out.
func (in *interview) ask(t *table, name string, q question) string {
	k := t.add(&key{name: name, note: q.how, needed: q.needed, standIn: q.standIn})
	return in.fill(q, func(toml string) { k.value = toml })
}

// fill asks until set leaves no new problem, and returns the TOML of the answer: "" when it is left out. set is called
// with "" to take a refused answer back; without set there is nothing to judge.
func (in *interview) fill(q question, set func(toml string)) string {
	if in.ended {
		return ""
	}
	check := func(string) (diag.Diagnostic, bool) { return diag.Diagnostic{}, false }
	if set != nil {
		before := in.problems()
		check = func(toml string) (diag.Diagnostic, bool) {
			set(toml)
			return in.fresh(before, q.pending)
		}
	}
	prompt := q.text
	if q.usual != "" {
		prompt += " [" + unquoted(q.usual) + "]"
	}
	if q.how != "" {
		in.Say("  " + q.how)
	}
	for {
		answer, ok := in.Ask(prompt + ": ")
		answer = strings.TrimSpace(answer)
		switch {
		case !ok:
			in.ended = true
			return ""
		case answer == "?":
			in.explain(q)
			continue
		case answer == "" && q.usual != "":
			check(q.usual)
			return q.usual
		case answer == "" && q.needed:
			in.Say("  left open: the file is not complete without it")
			return ""
		case answer == "":
			return ""
		}
		toml, err := q.form(answer)
		if err != nil {
			in.Say("  " + diag.Visible(err.Error()))
			continue
		}
		if d, found := check(toml); found {
			set("")
			in.Say("  " + diag.Visible(d.Summary))
			if d.Detail != "" {
				in.Say("  " + diag.Visible(d.Detail))
			}
			continue
		}
		in.answered++
		return toml
	}
}

func (in *interview) explain(q question) {
	switch {
	case q.more != nil:
		in.Say(q.more())
	case q.how != "":
		in.Say("  " + q.how)
	default:
		in.Say("  there is no more to say; an empty answer leaves it out")
	}
}

// choose asks for a word that no key holds; the first word stands for an empty answer.
func (in *interview) choose(prompt, how string, words ...string) string {
	first, _ := text(words[0])
	answer := in.fill(question{text: prompt + " (" + strings.Join(words, ", ") + ")", how: how, form: oneOf(words...), usual: first}, nil)
	if answer == "" {
		return words[0]
	}
	return unquoted(answer)
}

// problems are what the reader of the file finds wrong with the draft as it stands, less what is missing.
func (in *interview) problems() diag.List {
	text := in.draft.source(true)
	if text == in.judged { // the answer before has been judged and nothing was written since
		return in.found
	}
	src := []byte(text)
	var found diag.List
	switch in.kind {
	case "bike":
		_, found = bikefile.ReadBike(in.file, src, in.folder, in.lib)
	case "rider":
		_, found = bikefile.ReadRider(in.file, src)
	case "part":
		_, found = partfile.Read(in.file, src)
	}
	in.judged = text
	in.found = slices.DeleteFunc(found, func(d diag.Diagnostic) bool { return d.Code == "missing-key" })
	return in.found
}

// fresh is a problem that was not there before, errors first.
func (in *interview) fresh(before diag.List, pending []string) (diag.Diagnostic, bool) {
	for _, d := range in.problems() {
		old := slices.ContainsFunc(before, func(o diag.Diagnostic) bool { return o.Code == d.Code && o.Summary == d.Summary })
		if d.Severity == diag.Error && !old && !slices.Contains(pending, d.Code) {
			return d, true
		}
	}
	return diag.Diagnostic{}, false
}
