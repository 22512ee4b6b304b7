package report

import (
	"fmt"
	"io"
	"math"
	"strings"

	"carryover/internal/carry"
	"carryover/internal/diag"
	"carryover/internal/plane"
)

// Alternative is one combination of parts with its best settings, as JSON.
type Alternative struct {
	Parts    []Part    `json:"parts"`
	Error    float64   `json:"error"`
	Carried  bool      `json:"carried"`
	Price    float64   `json:"price"`    // of the parts that have one
	Unpriced []string  `json:"unpriced"` // parts without a price
	Settings []Place   `json:"settings"`
	GivesUp  []GivesUp `json:"gives_up"`
}

// GivesUp is what a contact misses, and by how much that is more than with the best parts, mm and degrees.
type GivesUp struct {
	Contact   string  `json:"contact"`
	Miss      float64 `json:"miss"`
	MissAngle float64 `json:"miss_angle"`
	More      float64 `json:"more"`
	MoreAngle float64 `json:"more_angle"`
}

// Trade is the least miss for some number of changed parts, as JSON.
type Trade struct {
	Changes int          `json:"changes"`
	Changed []PartChange `json:"changed"`
	Alternative
}

// PartChange is one part in place of the fitted one.
type PartChange struct {
	Slot string `json:"slot"`
	From string `json:"from"`
	To   string `json:"to"`
}

// Prefer is the choice that --prefer makes, as JSON.
type Prefer struct {
	By       string   `json:"by"` // fitted or cheapest
	Proven   bool     `json:"proven"`
	Carried  bool     `json:"carried"`
	Trades   []Trade  `json:"trades,omitempty"`
	Chosen   Trade    `json:"chosen"`
	Unpriced []string `json:"unpriced,omitempty"` // left out, having no price
	Free     []string `json:"unpriced_slots,omitempty"`
}

// Place is where a setting stands, without its uncertainty: mark in scale units, travel in mm or degrees.
type Place struct {
	Adjuster string  `json:"adjuster"`
	Mark     float64 `json:"mark"`
	Travel   float64 `json:"travel"`
	Limit    string  `json:"limit"`
}

func settingsOf(s *carry.Solution) []Place {
	list := []Place{}
	for _, set := range s.Settings {
		travel := set.Travel
		if set.Turns {
			travel = plane.Deg(travel)
		}
		list = append(list, Place{set.Name, set.Mark, travel, set.Limit})
	}
	return list
}

// NewAlternative compares a solution with the best one.
func NewAlternative(s, best *carry.Solution) Alternative {
	sum, unpriced := s.Price()
	a := Alternative{Parts: []Part{}, Error: s.E, Carried: s.Carried(), Price: sum, Unpriced: append([]string{}, unpriced...),
		Settings: settingsOf(s), GivesUp: []GivesUp{}}
	for _, p := range s.Parts {
		a.Parts = append(a.Parts, Part{p.Slot, p.ID, p.Flip, p.Price})
	}
	for i, c := range s.Contacts {
		if i >= len(best.Contacts) || best.Contacts[i].Want.Name != c.Want.Name {
			continue
		}
		b := best.Contacts[i]
		a.GivesUp = append(a.GivesUp, GivesUp{string(c.Want.Name), c.Miss, plane.Deg(c.MissAngle), c.Miss - b.Miss,
			plane.Deg(math.Abs(c.MissAngle) - math.Abs(b.MissAngle))})
	}
	return a
}

// NewAlternatives are all but the first of a list, compared with the first.
func NewAlternatives(list []*carry.Solution) []Alternative {
	others := []Alternative{}
	for _, s := range list[1:] {
		others = append(others, NewAlternative(s, list[0]))
	}
	return others
}

func newTrade(t carry.Trade, best *carry.Solution) Trade {
	j := Trade{Changes: t.Changes, Changed: []PartChange{}, Alternative: NewAlternative(t.Solution, best)}
	for _, c := range t.Changed {
		j.Changed = append(j.Changed, PartChange(c))
	}
	return j
}

// NewFront is the trade between changed parts and misses, compared with the least miss.
func NewFront(f *carry.Front) *Prefer {
	best := f.Trades[len(f.Trades)-1].Solution
	p := &Prefer{By: "fitted", Proven: f.Proven, Carried: f.Preferred.Solution.Carried(), Chosen: newTrade(f.Preferred, best)}
	for _, t := range f.Trades {
		p.Trades = append(p.Trades, newTrade(t, best))
	}
	return p
}

// NewChoice is what else could be fitted, nil where it was not asked for.
func NewChoice(others []*carry.Solution, proven bool, front *carry.Front) *Choice {
	c := &Choice{}
	if others != nil {
		c.Alternatives, c.AlternativesProven = NewAlternatives(others), &proven
	}
	if front != nil {
		c.Prefer = NewFront(front)
	}
	return c
}

// partsText lists parts in words.
func partsText(parts []Part) string {
	var words []string
	for _, p := range parts {
		w := p.Slot + " " + diag.Visible(p.Part)
		if p.Flip {
			w += " turned over"
		}
		words = append(words, w)
	}
	if len(words) == 0 {
		return "no open slot"
	}
	return strings.Join(words, ", ")
}

// missText is what the contacts of an alternative miss by.
func missText(a Alternative) string {
	var words []string
	for _, g := range a.GivesUp {
		words = append(words, fmt.Sprintf("%s misses %.1f mm %.1f° (%+.1f mm %+.1f°)", g.Contact, g.Miss, math.Abs(g.MissAngle), clean(g.More), clean(g.MoreAngle)))
	}
	return strings.Join(words, "; ")
}

// clean keeps rounding from printing -0.0.
func clean(v float64) float64 {
	if math.Abs(v) < 0.05 {
		return 0
	}
	return v
}

// priceText is what the parts cost, empty when none has a price.
func priceText(a Alternative) string {
	if len(a.Parts) == len(a.Unpriced) {
		return ""
	}
	text := fmt.Sprintf("costs %.2f", a.Price)
	if len(a.Unpriced) > 0 {
		text += ", without a price: " + diag.Visible(strings.Join(a.Unpriced, ", "))
	}
	return text
}

// proof says whether a search saw everything.
func proof(proven bool) string {
	if proven {
		return "proven"
	}
	return "stopped early: best so far, not proven"
}

// heading begins a section.
func heading(w io.Writer, text string) {
	fmt.Fprintln(w)
	lines(w, "", text)
}

// lines prints text folded to 80 columns, each line indented.
func lines(w io.Writer, indent, text string) {
	const width = 80
	line := ""
	for _, word := range strings.Fields(text) {
		switch {
		case line == "":
			line = indent + word
		case len([]rune(line))+1+len([]rune(word)) > width:
			fmt.Fprintln(w, line)
			line = indent + word
		default:
			line += " " + word
		}
	}
	if line != "" {
		fmt.Fprintln(w, line)
	}
}

func (a Alternative) write(w io.Writer, indent string) {
	if text := missText(a); text != "" {
		lines(w, indent, text)
	}
	if text := priceText(a); text != "" {
		lines(w, indent, text)
	}
	if !a.Carried {
		lines(w, indent, "not carried")
	}
}

// WriteAlternatives prints the next best parts for a person.
func WriteAlternatives(w io.Writer, list []Alternative, proven bool) {
	heading(w, fmt.Sprintf("Other parts, best first (%s; in brackets: more than the best parts)", proof(proven)))
	if len(list) == 0 {
		fmt.Fprintln(w, "  none: there is nothing else to choose from")
	}
	for i, a := range list {
		lines(w, "  ", fmt.Sprintf("%d. E %.2f mm: %s", i+1, a.Error, partsText(a.Parts)))
		a.write(w, "     ")
	}
}

// WritePrefer prints what --prefer chose for a person.
func WritePrefer(w io.Writer, p *Prefer) {
	if p.By == "cheapest" {
		heading(w, fmt.Sprintf("Cheapest parts that carry the position (%s)", proof(p.Proven)))
		if !p.Carried {
			fmt.Fprintln(w, "  none carry it; this is the least miss")
		}
		lines(w, "  ", fmt.Sprintf("E %.2f mm: %s", p.Chosen.Error, partsText(p.Chosen.Parts)))
		p.Chosen.write(w, "    ")
		if len(p.Unpriced) > 0 {
			lines(w, "  ", "left out, having no price: "+diag.Visible(strings.Join(p.Unpriced, ", ")))
		}
		if len(p.Free) > 0 {
			lines(w, "  ", "no part has a price, so cost decides nothing: "+strings.Join(p.Free, ", "))
		}
		return
	}
	heading(w, fmt.Sprintf("Parts changed against miss (%s; fitted = the first of each list)", proof(p.Proven)))
	fmt.Fprintf(w, "  %-7s  %8s  %-7s  %s\n", "changes", "E mm", "carried", "instead of the fitted part")
	for _, t := range p.Trades {
		fmt.Fprintf(w, "  %7d  %8.2f  %-7s  ", t.Changes, t.Error, yes(t.Carried))
		hanging(w, changedText(t.Changed), 30)
	}
	word := "Fewest changes that carry the position"
	if !p.Carried {
		word = "No parts carry the position; the least miss"
	}
	lines(w, "  ", fmt.Sprintf("%s: %d, E %.2f mm: %s", word, p.Chosen.Changes, p.Chosen.Error, changedText(p.Chosen.Changed)))
	p.Chosen.write(w, "    ")
}

func yes(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

func changedText(list []PartChange) string {
	if len(list) == 0 {
		return "nothing"
	}
	var words []string
	for _, c := range list {
		words = append(words, diag.Visible(c.Slot+" "+c.To))
	}
	return strings.Join(words, ", ")
}

// Choice is what else could be fitted, beside a result; nil when nobody asked.
type Choice struct {
	Alternatives       []Alternative `json:"alternatives,omitempty"`
	AlternativesProven *bool         `json:"alternatives_proven,omitempty"`
	Prefer             *Prefer       `json:"prefer,omitempty"`
}

// Write prints the choice for a person; a nil choice prints nothing.
func (c *Choice) Write(w io.Writer) {
	if c == nil {
		return
	}
	if c.Prefer != nil {
		WritePrefer(w, c.Prefer)
	}
	if c.AlternativesProven != nil {
		WriteAlternatives(w, c.Alternatives, *c.AlternativesProven)
	}
}
