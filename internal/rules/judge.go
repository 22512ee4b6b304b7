package rules

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Found is a measure of a bike.
type Found struct {
	Value float64 `json:"-"`
	Sigma float64 `json:"sigma"` // standard uncertainty
	Known bool    `json:"-"`
	// AtLeast: the value is only a lower bound of what the rule measures, so that it can fail but not pass.
	AtLeast bool   `json:"at_least"`
	Absent  bool   `json:"-"` // the bike has no such part, so the rule does not apply
	Note    string `json:"-"`
}

// Verdict is what becomes of a rule.
type Verdict string

// The verdicts. Uncertain: the limit lies within two standard uncertainties of the value, within the officials' measuring
// margin, or the value is only a lower bound. Unconfirmed: the rule or the exemption is known from memory only.
// Unknown: the bike file does not give the measure.
const (
	Pass          Verdict = "pass"
	Fail          Verdict = "fail"
	Uncertain     Verdict = "uncertain"
	Unconfirmed   Verdict = "unconfirmed"
	Unknown       Verdict = "not found"
	NotApplicable Verdict = "does not apply"
)

// Worse orders verdicts of a whole bike: a pass before what is open, and a failure last.
func (v Verdict) Worse(than Verdict) int {
	order := []Verdict{Pass, Uncertain, Fail}
	return slices.Index(order, v) - slices.Index(order, than)
}

// Judged is one rule with its verdict.
type Judged struct {
	Rule
	Found
	Unit     string   `json:"unit"`
	Value    *float64 `json:"value"` // nil: not known
	Min      *float64 `json:"min"`   // of the rider's height class
	Max      *float64 `json:"max"`
	Verdict  Verdict  `json:"verdict"`
	Exempted string   `json:"exemption,omitempty"` // the exemption that makes it pass, "" when none is needed
	Reasons  []string `json:"reasons"`
}

// Note is what a judgement is worth.
const Note = "The event's current text and its officials decide; rules change, and this is a help for setting up, not a scrutineer."

// Judgement is an event's rules held against a bike.
type Judgement struct {
	*Event
	Bike    string   `json:"bike"` // its file
	Class   int      `json:"-"`    // height class
	Height  *float64 `json:"rider_height"`
	Rules   []Judged `json:"rules"`
	Verdict Verdict  `json:"verdict"` // Fail when a rule fails, Uncertain when one is uncertain or not found, else Pass
	Note    string   `json:"note"`
}

// coverage is how many standard uncertainties a value is given, about 95 %.
const coverage = 2

// Range is what limits allow: "50 or more", "240 to 300"; at least one is given.
func Range(lo, hi *float64) string {
	switch {
	case hi == nil:
		return fmt.Sprintf("%g or more", *lo)
	case lo == nil:
		return fmt.Sprintf("%g or less", *hi)
	}
	return fmt.Sprintf("%g to %g", *lo, *hi)
}

// against compares a value with limits, called so, first the plain comparison, then its reason when it is no plain pass.
func against(f Found, lo, hi *float64, margin float64, called string) (Verdict, string) {
	over := math.Inf(-1)
	if lo != nil {
		over = math.Max(over, *lo-f.Value)
	}
	if hi != nil {
		over = math.Max(over, f.Value-*hi)
	}
	around := coverage * f.Sigma
	const rounding = 1e-9
	switch {
	case over > margin+around+rounding:
		return Fail, ""
	case f.AtLeast:
		return Uncertain, ""
	case over <= -around+rounding:
		return Pass, ""
	case over > around+rounding:
		return Uncertain, fmt.Sprintf("over %s, but inside the measuring margin of %g", called, margin)
	}
	return Uncertain, "too near " + called + " to tell"
}

func pointers(lo, hi Limit, class int) (a, b *float64) {
	if v, ok := lo.of(class); ok {
		a = &v
	}
	if v, ok := hi.of(class); ok {
		b = &v
	}
	return a, b
}

// Judge holds the measures found against the rules of an event. height is the rider's standing height, mm, 0 when
// unknown. Of the event's exemptions at most Event.Exemptions may be used together: where more are needed, each of the
// rules that need one fails.
func Judge(e *Event, found map[string]Found, height float64) Judgement {
	j := Judgement{Event: e, Class: e.Class(height), Verdict: Pass, Note: Note}
	if height > 0 {
		j.Height = &height
	}
	var needing []int // rules that only an exemption can pass
	for _, r := range e.Rules {
		f := found[r.About]
		d := Judged{Rule: r, Found: f, Unit: units[r.About], Reasons: []string{}}
		if f.Known {
			d.Value = &f.Value
		}
		d.Min, d.Max = pointers(r.Min, r.Max, j.Class)
		if f.Note != "" {
			d.Reasons = append(d.Reasons, f.Note)
		}
		if r.Note != "" {
			d.Reasons = append(d.Reasons, r.Note)
		}
		switch {
		case f.Absent:
			d.Verdict = NotApplicable
		case !f.Known:
			d.Verdict = Unknown
			if key, ok := givenBy[r.About]; ok {
				d.Reasons = append(d.Reasons, "the bike file does not say: give "+key)
			}
		default:
			var why string
			d.Verdict, why = against(f, d.Min, d.Max, r.Margin, "the limit")
			if why != "" {
				d.Reasons = append(d.Reasons, why)
			}
			if d.Verdict == Fail && r.Exemption != nil {
				needing = append(needing, len(j.Rules))
			} else if r.Known == Memory {
				d.unconfirmed()
			}
		}
		j.Rules = append(j.Rules, d)
	}
	j.exempt(needing)
	for _, d := range j.Rules {
		switch {
		case d.Verdict == Fail:
			j.Verdict = Fail
		case (d.Verdict == Uncertain || d.Verdict == Unknown) && j.Verdict == Pass:
			j.Verdict = Uncertain
		}
	}
	return j
}

// unconfirmed replaces a verdict that rests on memory.
func (d *Judged) unconfirmed() {
	text := string(d.Verdict)
	if d.Exempted != "" {
		text += ", but only with the exemption for " + d.Exempted
	}
	d.Reasons = append(d.Reasons, "by this text: "+text+"; known from memory only, it never fails a bike")
	d.Verdict = Unconfirmed
}

// exempt judges the rules that need an exemption.
func (j *Judgement) exempt(needing []int) {
	var names []string
	for _, i := range needing {
		names = append(names, j.Rules[i].Rule.Exemption.Name)
	}
	for _, i := range needing {
		d := &j.Rules[i]
		x, memory := d.Rule.Exemption, d.Rule.Known == Memory
		if len(needing) > j.Event.Exemptions {
			d.Reasons = append(d.Reasons, fmt.Sprintf("would need %d exemptions (%s), where %d may be used",
				len(needing), strings.Join(names, "; "), j.Event.Exemptions))
		} else {
			lo, hi := pointers(x.Min, x.Max, j.Class)
			allows := " (" + Range(lo, hi) + ")"
			verdict, why := against(d.Found, lo, hi, d.Rule.Margin, "the exemption's limit"+allows)
			memory = memory || known(x.Known, j.Class) == Memory
			if why != "" {
				d.Reasons = append(d.Reasons, why)
			}
			d.Verdict, d.Exempted = verdict, x.Name
			switch {
			case verdict == Fail:
				d.Exempted = ""
				d.Reasons = append(d.Reasons, "also over the limit of the exemption for "+x.Name+allows)
			case !memory: // else told with what is known
				d.Reasons = append(d.Reasons, "needs the exemption for "+x.Name+allows)
			}
		}
		if memory {
			d.unconfirmed()
		}
	}
}
