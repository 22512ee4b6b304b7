package job

import (
	"carryover/internal/carry"
	"carryover/internal/locate"
)

// Told is what speaks against a bike's readings, and what was assumed of it: part of every result that rests on them.
type Told struct {
	Suspects    []locate.Finding `json:"suspects"`
	Assumptions []string         `json:"assumptions"`
	Warnings    []carry.Warning  `json:"warnings"`
}

// Told is what is told of the source.
func (s *Source) Told() Told {
	t := Told{Suspects: s.Adjusted.Findings(), Assumptions: append([]string{}, s.Adjusted.Trusted()...), Warnings: []carry.Warning{}}
	for _, text := range s.Adjusted.Implausible() {
		t.Warnings = append(t.Warnings, carry.Warning{Code: locate.ImplausibleCode, Text: text})
	}
	return t
}

// nothingTold is what a result tells that rests on no readings.
func nothingTold() Told {
	return Told{Suspects: []locate.Finding{}, Assumptions: []string{}, Warnings: []carry.Warning{}}
}
