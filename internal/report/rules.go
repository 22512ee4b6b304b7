package report

import (
	"fmt"
	"io"
	"strings"

	"carryover/internal/rules"
)

// Rules is the outcome of `carryover rules`, as JSON. Values in the unit of each rule.
type Rules struct {
	Schema      int        `json:"schema"`
	Bike        string     `json:"bike"`
	Event       string     `json:"event"`
	Name        string     `json:"name"`
	Authority   string     `json:"authority"`
	Document    string     `json:"document"`
	Edition     string     `json:"edition"`
	EditionNote string     `json:"edition_note,omitempty"`
	History     bool       `json:"history"`
	RiderHeight *float64   `json:"rider_height"`
	Verdict     string     `json:"verdict"`
	Rules       []RuleRow  `json:"rules"`
	Unmeasured  []RuleText `json:"not_measured"`
	Assumptions []string   `json:"assumptions"`
	Note        string     `json:"note"`
	judgement   *rules.Judgement
}

// RuleRow is one rule; verdict is pass, fail, uncertain, unconfirmed, not found or does not apply.
type RuleRow struct {
	Rule      string   `json:"rule"`
	Article   string   `json:"article"`
	Text      string   `json:"text"`
	Known     string   `json:"known"`
	Unit      string   `json:"unit"`
	Value     *float64 `json:"value"`
	Sigma     float64  `json:"sigma"`
	AtLeast   bool     `json:"at_least"`
	Min       *float64 `json:"min"`
	Max       *float64 `json:"max"`
	Margin    float64  `json:"margin"`
	Verdict   string   `json:"verdict"`
	Exemption string   `json:"exemption,omitempty"`
	Reasons   []string `json:"reasons"`
}

// RuleText is a rule that is not measured here.
type RuleText struct {
	Article string `json:"article"`
	Text    string `json:"text"`
	Known   string `json:"known"`
}

const rulesNote = "The event's current text and its officials decide; rules change, and this is a help for setting up, not a scrutineer."

// NewRules is a judgement as JSON.
func NewRules(bike string, j rules.Judgement, assumptions []string) Rules {
	e := j.Event
	r := Rules{Schema: 1, Bike: bike, Event: e.Event, Name: e.Name, Authority: e.Authority, Document: e.Document, Edition: e.Edition,
		EditionNote: e.EditionNote, History: e.History, Verdict: string(j.Verdict), Rules: []RuleRow{}, Unmeasured: []RuleText{},
		Assumptions: append([]string{}, assumptions...), Note: rulesNote, judgement: &j}
	if j.Height > 0 {
		h := j.Height
		r.RiderHeight = &h
	}
	for _, d := range j.Rules {
		row := RuleRow{Rule: d.Rule.ID, Article: d.Rule.Article, Text: d.Rule.Text, Known: d.Rule.Known, Unit: d.Unit, Sigma: d.Found.Sigma,
			AtLeast: d.Found.AtLeast, Min: d.Min, Max: d.Max, Margin: d.Rule.Margin, Verdict: string(d.Verdict), Exemption: d.Exempted,
			Reasons: append([]string{}, d.Reasons...)}
		if d.Found.Known {
			v := d.Found.Value
			row.Value = &v
		}
		r.Rules = append(r.Rules, row)
	}
	for _, t := range e.Unmeasured {
		r.Unmeasured = append(r.Unmeasured, RuleText(t))
	}
	return r
}

var knownWords = map[string]string{
	rules.Primary:   "read in the document",
	rules.Secondary: "from texts that quote it",
	rules.Memory:    "from memory, unconfirmed",
}

// RulesText writes a judgement for a person.
func RulesText(w io.Writer, r Rules, bold bool) error {
	p := &page{bold: bold}
	p.strong(r.Name)
	p.para("", fmt.Sprintf("%s, %s, edition %s", r.Authority, r.Document, r.Edition))
	if r.EditionNote != "" {
		p.para("", r.EditionNote)
	}
	if r.History {
		p.line("history: a later text has replaced this one")
	}
	if len(r.judgement.Event.HeightClasses) > 1 {
		p.para("", heightClass(r.judgement))
	}
	for _, d := range r.Rules {
		p.line("")
		value := ""
		if d.Value != nil && d.Verdict != string(rules.NotApplicable) {
			value = found(d)
		}
		verdict := strings.ToUpper(d.Verdict)
		if d.Exemption != "" && d.Verdict == string(rules.Pass) {
			verdict += " (exempted)"
		}
		p.strong(left(verdict, 16) + left(d.Rule, 22) + value)
		p.para("  ", d.Text)
		p.para("  ", fmt.Sprintf("%s; %s", d.Article, knownWords[d.Known]))
		for _, reason := range d.Reasons {
			p.para("  - ", reason)
		}
	}
	if len(r.Unmeasured) > 0 {
		p.heading("Not measured here")
		for _, t := range r.Unmeasured {
			p.para("- ", fmt.Sprintf("%s (%s; %s)", t.Text, t.Article, knownWords[t.Known]))
		}
	}
	if len(r.Assumptions) > 0 {
		p.line("")
		for _, t := range r.Assumptions {
			p.para("assumed: ", t)
		}
	}
	p.line("")
	p.strong(overall(r))
	p.para("", r.Note)
	_, err := io.WriteString(w, p.b.String())
	return err
}

// found is a value with its uncertainty and limits.
func found(d RuleRow) string {
	unit := d.Unit
	if unit == "mm" {
		unit = " mm"
	}
	text := num(*d.Value, 1) + unit
	if d.Unit == "" {
		text = map[bool]string{true: "none", false: "fitted"}[*d.Value == 0]
	}
	if d.AtLeast {
		text = "at least " + text
	}
	if d.Sigma > 0 {
		text += " ± " + num(d.Sigma, 1)
	}
	switch {
	case d.Unit == "":
	case d.Min != nil && d.Max != nil:
		text += fmt.Sprintf("   (%s to %s)", plainNumber(*d.Min), plainNumber(*d.Max))
	case d.Min != nil:
		text += fmt.Sprintf("   (%s or more)", plainNumber(*d.Min))
	case d.Max != nil:
		text += fmt.Sprintf("   (%s or less)", plainNumber(*d.Max))
	}
	return text
}

func heightClass(j *rules.Judgement) string {
	classes := j.Event.HeightClasses
	text := fmt.Sprintf("rider class: %s mm and over", plainNumber(classes[j.Class]))
	if j.Class == 0 {
		text = fmt.Sprintf("rider class: under %s mm", plainNumber(classes[1]))
	}
	if j.Height == 0 {
		return text + ", since no standing height is given (--rider FILE with height, or --height MM)"
	}
	return text + fmt.Sprintf(" (standing height %s mm)", plainNumber(j.Height))
}

func overall(r Rules) string {
	var failed, open []string
	for _, d := range r.Rules {
		switch d.Verdict {
		case string(rules.Fail):
			failed = append(failed, d.Rule)
		case string(rules.Uncertain), string(rules.Unknown), string(rules.Unconfirmed):
			open = append(open, d.Rule)
		}
	}
	switch {
	case len(failed) > 0:
		return strings.TrimRight(folded("FAIL  ", strings.Join(failed, ", ")), "\n")
	case len(open) > 0:
		return strings.TrimRight(folded("no rule fails; open: ", strings.Join(open, ", ")), "\n")
	}
	return "every rule that is measured here is kept"
}

// RuleEvents is the outcome of `carryover rules --list`, as JSON.
type RuleEvents struct {
	Schema int         `json:"schema"`
	Events []RuleEvent `json:"events"`
}

// RuleEvent is one event.
type RuleEvent struct {
	Event   string `json:"event"`
	Name    string `json:"name"`
	Edition string `json:"edition"`
	History bool   `json:"history"`
	Rules   int    `json:"rules"`
}

// NewRuleEvents lists events.
func NewRuleEvents(events []*rules.Event) RuleEvents {
	r := RuleEvents{Schema: 1, Events: []RuleEvent{}}
	for _, e := range events {
		r.Events = append(r.Events, RuleEvent{e.Event, e.Name, e.Edition, e.History, len(e.Rules)})
	}
	return r
}

// RuleEventsText writes the list for a person.
func RuleEventsText(w io.Writer, r RuleEvents) error {
	p := &page{}
	for _, e := range r.Events {
		text := left(e.Event, 24) + e.Name
		if e.History {
			text += " (history)"
		}
		p.line(text)
	}
	_, err := io.WriteString(w, p.b.String())
	return err
}
