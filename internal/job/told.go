package job

import (
	"slices"

	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/locate"
)

// Read is a bike that a result rests on, with what its readings say.
type Read struct {
	Bike     *bike.Bike
	Adjusted *locate.Adjustment // nil: nothing was read on it
	Assumed  []string
	Other    bool // the one that a position goes to
}

// Told is what speaks against the readings of the bikes that a result rests on, and what was assumed of them: part of every such
// result.
type Told struct {
	Suspects    []locate.Finding `json:"suspects"`
	ToSuspects  []locate.Finding `json:"to_suspects,omitzero"` // of the bike that a position goes to; nil: it goes to none
	Assumptions []string         `json:"assumptions"`
	Warnings    []carry.Warning  `json:"warnings"`
	On          []Read           `json:"-"`
}

// tell gathers what is told of bikes; what is told of several, or of one in several postures, is told once.
func tell(on ...Read) Told {
	t := Told{Suspects: []locate.Finding{}, Assumptions: []string{}, Warnings: []carry.Warning{}, On: on}
	said := map[string]bool{}
	for _, r := range on {
		suspects, name := &t.Suspects, ""
		if r.Other {
			suspects, name = &t.ToSuspects, r.Bike.Name+": "
			t.ToSuspects = append([]locate.Finding{}, t.ToSuspects...)
		}
		for _, text := range r.Assumed {
			if !slices.Contains(t.Assumptions, text) {
				t.Assumptions = append(t.Assumptions, text)
			}
		}
		if r.Adjusted == nil {
			continue
		}
		for _, f := range r.Adjusted.Findings() {
			if called := r.Bike.File + ": " + r.Adjusted.Called(f.Observation); !said[called] {
				*suspects, said[called] = append(*suspects, f), true
			}
		}
		for _, text := range r.Adjusted.Implausible() {
			if w := (carry.Warning{Code: locate.ImplausibleCode, Text: name + text}); !slices.Contains(t.Warnings, w) {
				t.Warnings = append(t.Warnings, w)
			}
		}
	}
	return t
}

// read is the source as it was read.
func (s *Source) read() Read {
	return Read{Bike: s.Bike, Adjusted: s.Adjusted, Assumed: s.Adjusted.Trusted()}
}

// stood is a bike as it stands.
func stood(b *bike.Bike, s *locate.Standing, other bool) Read {
	return Read{b, s.Adjusted, s.Assumed(), other}
}

// Told is what is told of both bikes.
func (c *Carry) Told() Told {
	on := []Read{c.Source.read()}
	for _, r := range c.Results {
		on = append(on, stood(c.Target, r.Standing, true))
	}
	return tell(on...)
}
