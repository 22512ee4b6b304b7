// Package rules holds a bike's measures against the published rules of an event. The rules are data (catalogs.Rules):
// each names its document, its article and edition, and how well its text is known. The event's current text and its
// officials decide.
package rules

import (
	"cmp"
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"github.com/BurntSushi/toml"

	"carryover/internal/diag"
)

// How well a rule's text is known. A rule known from memory only never fails a bike.
const (
	Primary   = "primary"   // read in the document itself
	Secondary = "secondary" // read where others quote it
	Memory    = "memory"    // not confirmed
)

// Event is the rules of one event in one edition.
type Event struct {
	Schema      int    `json:"schema"`
	Event       string `json:"event"` // its name
	Name        string `json:"name"`  // for a person
	Authority   string `json:"authority"`
	Document    string `json:"document"`
	Edition     string `json:"edition"` // the date the encoded text came into force, or what else is known of it
	EditionNote string `toml:"edition_note" json:"edition_note,omitempty"`
	History     bool   `json:"history"` // a later text has replaced it
	Exemptions  int    `json:"-"`       // how many exemptions one rider may use
	// HeightClasses are the least standing heights of the rider classes, mm, rising from 0; empty: one class.
	HeightClasses []float64 `toml:"height_classes" json:"-"`
	Rules         []Rule    `toml:"rule" json:"-"`
	Unmeasured    []Text    `toml:"unmeasured" json:"not_measured"`
}

// Rule is one limit that a bike can be held against: mm, degrees or a count.
type Rule struct {
	ID      string  `json:"rule"`
	Name    string  `json:"-"`                // for a person; the ID where the file gives none
	About   string  `json:"-" toml:"measure"` // of units
	Article string  `json:"article"`
	Text    string  `json:"text"`
	Min     Limit   `json:"-"`
	Max     Limit   `json:"-"`
	Margin  float64 `json:"margin"` // what the officials allow for their measuring
	Known   string  `json:"known"`
	Note    string  `json:"-"`
	// Exemption is another limit for riders who are granted it.
	Exemption *Exemption `json:"-"`
}

// Exemption replaces the limits of a rule; Known is one word for all height classes or one for each.
type Exemption struct {
	Name     string
	Min, Max Limit
	Known    []string
}

// Text is a rule that this program does not measure.
type Text struct {
	Article string `json:"article"`
	Text    string `json:"text"`
	Known   string `json:"known"`
}

// Limit is one number for every height class, or one for all; empty: none.
type Limit []float64

// UnmarshalTOML reads a number or a list of numbers.
func (l *Limit) UnmarshalTOML(v any) error {
	list, ok := v.([]any)
	if !ok {
		list = []any{v}
	}
	for _, n := range list {
		f, ok := n.(float64)
		if !ok {
			return fmt.Errorf("a limit is a number with a decimal point, or a list of them, not %v", n)
		}
		*l = append(*l, f)
	}
	return nil
}

// of is the limit of a height class; ok is false when there is none.
func (l Limit) of(class int) (v float64, ok bool) {
	switch len(l) {
	case 0:
		return 0, false
	case 1:
		return l[0], true
	}
	return l[class], true
}

func known(words []string, class int) string {
	if len(words) == 1 {
		return words[0]
	}
	return words[class]
}

// Class is the index of the height class of a rider of that standing height, mm; 0, unknown, is the first.
func (e *Event) Class(height float64) int {
	class := 0
	for i, from := range e.HeightClasses {
		if height >= from {
			class = i
		}
	}
	return class
}

// Read reads an event and checks that it can be used.
func Read(file string, src []byte) (*Event, error) {
	var e Event
	meta, err := toml.Decode(string(src), &e)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	if extra := meta.Undecoded(); len(extra) > 0 {
		return nil, fmt.Errorf("%s: unknown key %s", file, extra[0])
	}
	if err := e.check(); err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	if e.Unmeasured == nil {
		e.Unmeasured = []Text{}
	}
	return &e, nil
}

func (e *Event) check() error {
	if e.Schema != 1 {
		return fmt.Errorf("schema must be 1")
	}
	if slices.Contains([]string{e.Event, e.Name, e.Authority, e.Document, e.Edition}, "") {
		return fmt.Errorf("event, name, authority, document and edition are needed")
	}
	if len(e.Rules) == 0 {
		return fmt.Errorf("it has no rule")
	}
	classes := max(1, len(e.HeightClasses))
	if !slices.IsSorted(e.HeightClasses) || classes > 1 && e.HeightClasses[0] != 0 {
		return fmt.Errorf("height_classes must rise from 0")
	}
	for i := range e.Rules {
		r := &e.Rules[i]
		r.Name, r.Text = cmp.Or(r.Name, r.ID), strings.TrimSuffix(r.Text, ".") // whoever tells it closes it
		if wrong := r.check(classes); wrong != "" {
			return fmt.Errorf("rule %q: %s", r.ID, wrong)
		}
	}
	return nil
}

// check says what is wrong with a rule, "" when nothing is.
func (r *Rule) check(classes int) string {
	words, limits, x := []string{r.Known}, []Limit{r.Min, r.Max}, r.Exemption
	if x != nil {
		words, limits = append(words, x.Known...), append(limits, x.Min, x.Max)
	}
	levels := []string{Primary, Secondary, Memory}
	unheard := slices.IndexFunc(words, func(w string) bool { return !slices.Contains(levels, w) })
	_, measured := units[r.About]
	switch {
	case x != nil && len(x.Known) != 1 && len(x.Known) != classes:
		return fmt.Sprintf("the exemption's known needs 1 or %d words", classes)
	case x != nil && (len(x.Min)+len(x.Max) == 0 || x.Name == ""):
		return "the exemption needs a name and a limit"
	case r.ID == "" || r.Text == "" || r.Article == "":
		return "id, text and article are needed"
	case !measured:
		return fmt.Sprintf("no measure is called %q", r.About)
	case len(r.Min)+len(r.Max) == 0:
		return "it has no limit"
	case slices.ContainsFunc(limits, func(l Limit) bool { return len(l) > 1 && len(l) != classes }):
		return fmt.Sprintf("a limit needs 1 or %d numbers", classes)
	case unheard >= 0:
		return fmt.Sprintf("known is %s, not %q", strings.Join(levels, ", "), words[unheard])
	}
	return ""
}

// Events lists the names of the events in a folder, sorted.
func Events(files fs.FS) []string {
	entries, _ := fs.Glob(files, "*.toml") // the pattern is well formed
	for i, e := range entries {
		entries[i] = strings.TrimSuffix(e, ".toml")
	}
	slices.Sort(entries)
	return entries
}

// Find reads the event of that name from a folder.
func Find(files fs.FS, name string) (*Event, error) {
	all := Events(files)
	if !slices.Contains(all, name) {
		if near, ok := diag.Suggest(name, all); ok {
			return nil, fmt.Errorf("no event is called %q, did you mean %q?", name, near)
		}
		return nil, fmt.Errorf("no event is called %q; there are %s", name, strings.Join(all, ", "))
	}
	src, err := fs.ReadFile(files, name+".toml")
	if err != nil {
		return nil, err
	}
	return Read(name+".toml", src)
}
