package report

import (
	"fmt"
	"strings"

	"carryover/internal/carry"
	"carryover/internal/diag"
)

// Words is a result in words, for a page that lays it out itself. Names in it are visible and shortened as in the
// text, and a no-break space keeps a number with its unit.
type Words struct {
	Verdict  string
	Contacts []ContactWords
	Steps    []StepWords
	Asides   []string // what to mind when a setting is changed later
	Checks   []CheckWords
	Feet     string // what crank and pedals did; "" when nothing
	Doubts   []string
	Assumed  []string
}

// ContactWords is what became of one contact.
type ContactWords struct {
	Name, Text     string
	Primary, Right bool
}

// StepWords is one step of the work, the reading that confirms it, and what a later step does to that.
type StepWords struct{ Do, Check, Value, Later string }

// CheckWords is one reading of the finished bike.
type CheckWords struct{ Trade, Phrase, Value string }

// NewWords tells one result of a carry in words.
func NewWords(r *Result) Words {
	w := Words{Verdict: "Carried: every contact is where it was, within 2 mm and 1°."}
	if !r.Carried {
		w.Verdict = "Not carried: as near as this bike comes."
	}
	contacts := &page{}
	contacts.contacts(r)
	for i, c := range r.Contacts {
		w.Contacts = append(w.Contacts, ContactWords{c.Contact, contacts.item(i, c.Contact), c.Primary, c.Carried || !c.Primary})
	}
	for _, o := range r.Order {
		s := StepWords{Do: stepText(r, o)}
		if o.Check != nil {
			s.Check, s.Value = checkPhrase(*o.Check), checkValue(*o.Check)
		}
		if len(o.Disturbed) > 0 && o.Check != nil {
			final := *o.Check
			final.Value = o.Final
			s.Later = fmt.Sprintf("step %s takes it to %s", joined(o.Disturbed), checkAmount(final))
		}
		w.Steps = append(w.Steps, s)
	}
	for _, c := range r.Couplings {
		w.Asides = append(w.Asides, couplingText(r, c))
	}
	for _, c := range r.Checks {
		trade, _, _ := strings.Cut(c.Name, " ")
		w.Checks = append(w.Checks, CheckWords{trade, checkPhrase(c), checkValue(c)})
	}
	feet := &page{}
	feet.feet(r)
	w.Feet = strings.Join(strings.Fields(feet.b.String()), " ")
	for _, k := range r.Warnings {
		if k.Code != "crank" { // told with the feet
			w.Doubts = append(w.Doubts, diag.Visible(sentence(k.Text)))
		}
	}
	for _, a := range r.Assumptions {
		w.Assumed = append(w.Assumed, diag.Visible(sentence(a)))
	}
	return w
}

// item is entry i of a list on the page, unfolded and without its label.
func (p *page) item(i int, label string) string {
	n := -1
	var words []string
	for _, line := range strings.Split(p.b.String(), "\n") {
		if strings.HasPrefix(line, "  ") && !strings.HasPrefix(line, "   ") {
			n++
		}
		if n == i && strings.HasPrefix(line, " ") {
			words = append(words, strings.Fields(line)...)
		}
	}
	return strings.TrimPrefix(strings.Join(words, " "), label+" ")
}

func joined(steps []int) string {
	var words []string
	for _, k := range steps {
		words = append(words, fmt.Sprint(k))
	}
	return strings.Join(words, " and ")
}

// Cautions is what to heed before riding.
func Cautions() []string { return append([]string(nil), cautionText...) }

// List gives the measures in the order of carry.MeasureNames; nil: not known on both bikes.
func (m MeasureSet) List() [carry.Measures]*float64 { return m.list() }

// SettingName is what a person calls a setting, whole: an adjuster by its name, the others in words.
func SettingName(n string) string {
	if w, ok := settingWords[n]; ok {
		return w
	}
	return diag.Visible(n)
}
