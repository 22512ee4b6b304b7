package words

import (
	"cmp"
	"math"

	"carryover/internal/bike"
	"carryover/internal/confirm"
	"carryover/internal/job"
)

// Felt lays out what was moved on one bike and what that is on the other.
func (p *Page) Felt(f *job.Felt) {
	on, _ := Names(f.On, f.Other)
	p.Danger(FeltDoubts(f)...)
	var moved []string
	for _, m := range f.Moved {
		moved = append(moved, Setting(m.Name)+" "+went(f.On, m))
	}
	p.Strong("Moved on " + on + ": " + List(moved) + ".")
	for _, s := range f.Shifts {
		p.Para("  "+Left(Touched(s.Contact), 6), felt(s))
	}
	p.Space()
	if text, ok := FeltVerdict(f); ok {
		p.Strong(text)
	} else {
		p.Danger(text)
	}
	if rows := FeltMoves(f); len(rows) > 0 {
		p.Table("ll", rows...)
	}
	if rows := FeltReadings(f); len(rows) > 1 {
		p.Space()
		p.Table("lrrr", rows...)
	}
	p.Space()
	p.Para("", FeltMeaning)
	p.Para("", Assumed(f.Standing.Adjusted)...)
}

// FeltDoubts are what speaks against the readings of the other bike, under its name.
func FeltDoubts(f *job.Felt) []string {
	_, other := Names(f.On, f.Other)
	return of(other, Doubts(f.Standing.Adjusted))
}

// FeltMeaning says what stays, and what ± counts.
const FeltMeaning = "What did not move stays where it is. ± is that of the difference: two times in three the truth is nearer than that."

// FeltVerdict says whether the other bike can follow a change.
func FeltVerdict(f *job.Felt) (text string, ok bool) {
	_, other := Names(f.On, f.Other)
	switch {
	case !f.Carried:
		return other + " does not go so far. As near as it comes:", false
	case len(f.Moves()) == 0 && len(FeltReadings(f)) == 1:
		return "On " + other + " nothing moves.", true
	}
	return "The same on " + other + ":", true
}

// FeltMoves are what moves on the other bike, and how far.
func FeltMoves(f *job.Felt) [][]string {
	var rows [][]string
	for _, m := range f.Moves() {
		rows = append(rows, []string{Setting(m.Name), went(f.Other, m)})
	}
	return rows
}

// FeltReadings are what a tape reads on the other bike before and after, under a heading.
func FeltReadings(f *job.Felt) [][]string {
	_, other := Names(f.On, f.Other)
	rows := [][]string{{"A tape on " + other + " reads", "now", "then", "change"}}
	for _, r := range f.Readings {
		if by := reads(r.Reading, r.By()); !None(by) {
			rows = append(rows, changed(r.Reading, r.Before, r.After, r.Sigma))
		}
	}
	return rows
}

// went is how far a setting goes: "5 ± 0.5 mm back: from 3.5 to 3".
func went(on *bike.Bike, m confirm.Move) string {
	travel := m.Travel()
	far := Sure(travel.Of(math.Abs(travel.Value())), m.Sigma) + " " + m.Toward
	if !m.Scale {
		return far
	}
	return moved(on, m.Settable, far, m.From, m.To)
}

// felt is how a contact moved.
func felt(s confirm.Shift) string {
	return cmp.Or(astray(s.Contact, s.By, s.Turn), either(s.Contact == bike.Sit, "where it was", "where they were"))
}
