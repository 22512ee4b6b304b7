package report

import (
	"math"

	"carryover/internal/carry"
	"carryover/internal/plane"
)

// Alternative is one combination of parts with its best settings, as JSON.
type Alternative struct {
	Parts    []Part    `json:"parts"`
	Error    float64   `json:"error"`
	Carried  bool      `json:"carried"`
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
	By      string  `json:"by"` // fitted or cheapest
	Proven  bool    `json:"proven"`
	Carried bool    `json:"carried"`
	Trades  []Trade `json:"trades,omitempty"`
	Chosen  Trade   `json:"chosen"`
}

// Place is where a setting stands, without its uncertainty: mark in scale units, travel in mm or degrees.
type Place struct {
	Adjuster string   `json:"adjuster"`
	Mark     *float64 `json:"mark"`
	Travel   float64  `json:"travel"`
	Limit    string   `json:"limit"`
}

func settingsOf(s *carry.Solution) []Place {
	list := []Place{}
	for _, set := range s.Settings {
		travel := set.Travel
		if set.Turns() {
			travel = plane.Deg(travel)
		}
		list = append(list, Place{set.Name, markOf(set), travel, set.Limit})
	}
	return list
}

// NewAlternative compares a solution with the best one.
func NewAlternative(s, best *carry.Solution) Alternative {
	a := Alternative{Parts: []Part{}, Error: s.E, Carried: s.Carried(), Settings: settingsOf(s), GivesUp: []GivesUp{}}
	for _, p := range s.Parts {
		a.Parts = append(a.Parts, Part{p.Slot, p.ID, p.Flip})
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

// Choice is what else could be fitted, beside a result; nil when nobody asked.
type Choice struct {
	Alternatives       []Alternative `json:"alternatives,omitempty"`
	AlternativesProven *bool         `json:"alternatives_proven,omitempty"`
	Prefer             *Prefer       `json:"prefer,omitempty"`
}
