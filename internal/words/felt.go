package words

import (
	"fmt"
	"math"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/confirm"
	"carryover/internal/job"
	"carryover/internal/plane"
)

// Felt lays out what was moved on one bike and what that is on the other.
func (p *Page) Felt(f *job.Felt) {
	on, other := Names(f.On, f.Other)
	for _, d := range Doubts(f.Standing.Adjusted) {
		p.Danger(other + ": " + d)
	}
	var moved []string
	for _, m := range f.Moved {
		moved = append(moved, Setting(m.Name)+" "+went(m))
	}
	p.Strong("Moved on " + on + ": " + List(moved) + ".")
	for _, s := range f.Shifts {
		p.Para("  "+Left(Touched(s.Contact), 6), shifted(s))
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
		rows = append(rows, []string{Setting(m.Name), went(m)})
	}
	return rows
}

// FeltReadings are what a tape reads on the other bike before and after, under a heading.
func FeltReadings(f *job.Felt) [][]string {
	_, other := Names(f.On, f.Other)
	rows := [][]string{{"A tape on " + other + " reads", "now", "then", "change"}}
	for _, r := range f.Readings {
		if change := finely(reads(r.Reading, r.By()), r.Sigma); change != "" {
			rows = append(rows, []string{Called(r.Reading), Amount(reads(r.Reading, r.Before)), Amount(reads(r.Reading, r.After)), change})
		}
	}
	return rows
}

// finely is a difference to a tenth with how sure it is; "" where there is none.
func finely(q plane.Quantity, sigma float64) string {
	text := Signed(q.Shown(), 1)
	if text == "0.0" {
		return ""
	}
	if s := Num(q.Of(sigma).Shown(), 1); s != "0.0" {
		text += NoBreak + "±" + NoBreak + s
	}
	return text
}

// went is how far a setting goes: "5.0 ± 0.7 mm back, from 3.5 to 3".
func went(m confirm.Move) string {
	by := plane.Length(math.Abs(m.Travel()))
	unit := NoBreak + "mm"
	if m.Turns() {
		by, unit = plane.Turning(plane.Angle(math.Abs(m.Travel()))), "°"
	}
	text := Num(by.Shown(), 1)
	if s := Num(by.Of(m.Sigma).Shown(), 1); s != "0.0" {
		text += NoBreak + "±" + NoBreak + s
	}
	text += unit + " " + m.Toward
	if m.Scale {
		text += fmt.Sprintf(", from %s to %s", Trimmed(m.From, 2), Trimmed(m.To, 2))
	}
	return text
}

// shifted is how a contact moved.
func shifted(s confirm.Shift) string {
	text := Miss(carry.Carried{Want: assembly.Contact{Name: s.Contact}, Away: s.By.Scale(-1), MissAngle: s.Turn, Primary: true})
	switch {
	case text == "" && s.Contact == bike.Sit:
		return "where it was"
	case text == "":
		return "where they were"
	}
	return text
}
