package words

import (
	"fmt"
	"slices"
	"strings"

	"carryover/internal/diag"
	"carryover/internal/job"
	"carryover/internal/plane"
	"carryover/internal/rules"
)

// knownWords say how well a rule's text is known.
var knownWords = map[string]string{
	rules.Primary:   "read in the document",
	rules.Secondary: "from texts that quote it",
	rules.Memory:    "from memory, unconfirmed",
}

// Event is what an event is called.
func Event(e *rules.Event) string {
	if e.History {
		return e.Name + " (a later text has replaced it)"
	}
	return e.Name
}

// Rules lays out a bike held against an event: what it comes to, what is broken or open and why, and what is kept; all adds
// the texts of the others.
func (p *Page) Rules(j *job.Judged, all bool) {
	if j.Carry == nil {
		p.Strong(fmt.Sprintf("%s, by the rules of %s", Bike(j.Source.Bike), Event(j.Event)))
	} else {
		from, to := Names(j.Source.Bike, j.Carry.Target)
		p.Strong(fmt.Sprintf("%s set up as %s, by the rules of %s", to, from, Event(j.Event)))
	}
	p.Danger(AllDoubts(j.Told)...)
	if j.Carry != nil {
		p.failed("CARRIED", j.Carry.Failed)
		for _, k := range j.Postures {
			if k.Carried {
				p.Para("", PostureVerdict(k.Result))
			} else {
				p.Danger(PostureVerdict(k.Result))
				p.Para("   ", Consequences(k.Result)...)
			}
			if len(j.Postures) > 1 {
				p.kept(&k.Judgement)
			}
		}
		if len(j.Postures) > 1 {
			p.Space()
			p.Para("", "In full, posture "+diag.Shorten(j.Least().Posture, 22)+", which keeps least:")
		}
	}
	if len(j.Postures) <= 1 {
		p.kept(&j.Judgement)
	}
	p.Para("", fmt.Sprintf("%s, %s, edition %s.", j.Authority, j.Document, j.Edition))
	if j.EditionNote != "" {
		p.Para("", Sentence(j.EditionNote))
	}
	if len(j.HeightClasses) > 1 {
		p.Para("", heightClass(&j.Judgement))
	}
	var rest [][]string
	for _, d := range j.Rules {
		quiet := d.Verdict == rules.Pass && d.Exempted == "" || d.Verdict == rules.NotApplicable
		if quiet && !all {
			rest = append(rest, []string{string(d.Verdict), d.Rule.Name, found(d)})
			continue
		}
		p.Space()
		verdict := strings.ToUpper(string(d.Verdict))
		if d.Exempted != "" && d.Verdict == rules.Pass {
			verdict += " (exempted)"
		}
		p.Line(strings.TrimRight(Left(verdict, 16)+Left(d.Rule.Name, 22)+found(d), " "))
		p.Para("  ", Sentence(d.Text)+" "+Sentence(d.Article+"; "+knownWords[d.Rule.Known]))
		for _, why := range d.Reasons {
			p.Para("  - ", Sentence(why))
		}
	}
	if len(rest) > 0 {
		p.Space()
		p.Table("lll", rest...)
	}
	if len(j.Unmeasured) > 0 && all {
		p.Heading("Not measured here")
		for _, t := range j.Unmeasured {
			p.Para("- ", fmt.Sprintf("%s %s; %s.", Sentence(t.Text), t.Article, knownWords[t.Known]))
		}
	}
	p.Space()
	p.Para("", AllAssumed(j.Told)...)
	if n := len(j.Unmeasured); n > 0 && !all {
		p.Para("", fmt.Sprintf("The event has %s more that cannot be measured here: --more.", Counted(n, "rule")))
	}
	if slices.ContainsFunc(j.Rules, func(d rules.Judged) bool { return d.Sigma > 0 }) {
		p.Para("", Meaning)
	}
	p.Para("", j.Note)
	p.versions(all, j.Versions)
}

// kept says what it comes to: which rules fail, are kept by an exemption alone, or are still open.
func (p *Page) kept(j *rules.Judgement) {
	var failed, exempted, open []string
	for _, d := range j.Rules {
		switch {
		case d.Verdict == rules.Fail:
			failed = append(failed, d.Rule.Name)
		case d.Verdict == rules.Pass && d.Exempted != "":
			exempted = append(exempted, d.Rule.Name)
		case d.Verdict == rules.Uncertain || d.Verdict == rules.Unknown || d.Verdict == rules.Unconfirmed:
			open = append(open, d.Rule.Name)
		}
	}
	if len(failed) > 0 {
		p.Danger("FAILS: " + strings.Join(failed, ", "))
		return
	}
	text := either(len(open) > 0, "No rule fails; still open: "+strings.Join(open, ", "), "Every rule that is measured here is kept")
	p.Para("", text+either(len(exempted) > 0, "; only by exemption: "+strings.Join(exempted, ", "), "")+".")
}

// found is a value with its uncertainty and limits.
func found(d rules.Judged) string {
	if d.Value == nil || d.Verdict == rules.NotApplicable {
		return ""
	}
	turns, text := d.Unit == "°", ""
	within := func(v float64) float64 { return either(turns, plane.Rad(v), v) }
	switch q := plane.QuantityOf(turns, within(*d.Value)); {
	case d.Unit == "":
		text = either(*d.Value == 0, "none", "fitted")
	case d.Sigma > 0: // a reading, as carry tells it
		text = Sure(q, within(d.Sigma))
	default:
		text = Num(*d.Value, 1) + unit(q)
	}
	if d.AtLeast {
		text = "at least " + text
	}
	if d.Unit != "" {
		text += "   (" + rules.Range(d.Min, d.Max) + ")"
	}
	return text
}

func heightClass(j *rules.Judgement) string {
	classes := j.HeightClasses
	text := fmt.Sprintf("Rider class: %s mm and over", Trimmed(classes[j.Class], 0))
	if j.Class == 0 {
		text = fmt.Sprintf("Rider class: under %s mm", Trimmed(classes[1], 0))
	}
	if j.Height == nil {
		return text + ", since no standing height is given (--rider FILE with height, or --height MM)."
	}
	return text + fmt.Sprintf(" (standing height %s mm).", Trimmed(*j.Height, 0))
}
