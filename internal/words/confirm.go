package words

import (
	"fmt"
	"math"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/confirm"
	"carryover/internal/diag"
	"carryover/internal/job"
	"carryover/internal/plane"
)

// Confirm lays out how a bike that has been set up compares with a position, and what to move; all adds how sure that is.
func (p *Page) Confirm(c *job.Confirm, all bool) {
	from, to := Names(c.Source.Bike, c.Set.Bike)
	on, like := to, from
	if c.Keep {
		on, like = from, to
	}
	for _, d := range Doubts(c.Source.Adjusted) {
		p.Danger(from + ": " + d)
	}
	for _, d := range Doubts(c.Set.Adjusted) {
		p.Danger(to + ": " + d)
	}
	for _, r := range c.Results {
		p.Space()
		verdict := fmt.Sprintf("Posture %s: %s fits like %s, within 2 mm and 1°.", diag.Shorten(r.Posture.Name, 22), on, like)
		if r.Inside() {
			p.Strong(verdict)
		} else {
			p.Danger(fmt.Sprintf("Posture %s: %s does NOT fit like %s.", diag.Shorten(r.Posture.Name, 22), on, like))
		}
		for _, k := range r.Contacts {
			p.Para("  "+Left(touched(k.Want.Name), 6), offText(k, all))
		}
		p.corrections(r, on, c.Keep)
	}
	p.Space()
	for _, t := range append(Assumed(c.Source.Adjusted), Assumed(c.Set.Adjusted)...) {
		p.Para("", t)
	}
	if all {
		p.Para("", Meaning)
	}
}

// offText is where a contact is against where it should be, and how far that may be out.
func offText(k confirm.Contact, all bool) string {
	text := Miss(carry.Carried{Want: k.Want, Away: k.Away.Scale(-1), MissAngle: k.MissAngle, Primary: k.Primary})
	if text == "" {
		text = "where it was"
	}
	switch {
	case k.Primary && k.Inside:
		text = "right: " + text
	case k.Primary:
		text = "OFF: " + text
	}
	if !all {
		return text + fmt.Sprintf(" (could be %s out)", MM(2*k.SigmaMiss))
	}
	text += fmt.Sprintf(" (off by %s ± %s mm", Num(k.Miss, 1), Num(k.SigmaMiss, 1))
	if k.Primary {
		text += fmt.Sprintf(" and %s ± %s°", Signed(plane.Deg(k.MissAngle), 1), Num(plane.Deg(k.SigmaAngle), 1))
	}
	return text + ")"
}

func (p *Page) corrections(r *confirm.Result, on string, keep bool) {
	if !r.Inside() {
		switch {
		case len(r.Corrections) == 0 && len(r.Kept) > 0:
			p.Para("", on+" has no scales for this: change it until the tape reads as below.")
		case len(r.Corrections) == 0:
			p.Danger("Nothing on " + on + " that can be moved brings it nearer.")
		case r.Cured:
			p.Para("", "The fewest things to move on "+on+":")
		default:
			p.Danger("As near as " + on + " comes, which is not near enough:")
		}
		var rows [][]string
		for _, k := range r.Corrections {
			rows = append(rows, correction(k))
		}
		if len(rows) > 0 {
			p.Table("ll", rows...)
			var after []string
			for _, k := range r.After {
				text := touched(k.Want.Name) + " " + MM(k.Miss)
				if a := math.Abs(k.MissAngle); !None(plane.Turning(plane.Angle(a))) {
					text += " and " + Degrees(plane.Angle(a))
				}
				after = append(after, text)
			}
			p.Para("", "Then off by: "+strings.Join(after, ", ")+".")
		}
	}
	if len(r.Kept) > 0 {
		p.Space()
		rows := [][]string{{"What a tape reads there", "now", "then", "change"}}
		for _, k := range r.Kept {
			now, then := reads(k.Reading, k.Before), reads(k.Reading, k.After)
			rows = append(rows, []string{Called(k.Reading), Amount(now), Amount(then), Signed(settable(then)-settable(now), 1)})
		}
		p.Table("lrrr", rows...)
	}
}

// reads is a value of a reading with its sign.
func reads(r bike.Reading, v float64) plane.Quantity {
	if r.Kind == bike.Angle {
		return plane.Turning(plane.Angle(v))
	}
	return plane.Length(v)
}

// Called is what a reading is called, however it is written.
func Called(r bike.Reading) string {
	if t := Trade(r); t != "" {
		return t
	}
	return Reading(r, 1)
}

// correction is what to move: from where its scale stands to where it should, or what a tape says instead.
func correction(k confirm.Correction) []string {
	by := plane.Length(math.Abs(k.Travel))
	if k.Turns {
		by = plane.Turning(plane.Angle(math.Abs(k.Travel)))
	}
	move := Amount(by) + " " + k.Toward
	switch {
	case k.Tape != nil:
		before, after := quantity(k.Tape.Reading, k.Tape.Before), quantity(k.Tape.Reading, k.Tape.After)
		return []string{Setting(k.Name), fmt.Sprintf("%s, until %s reads %s instead of %s", move, Reading(k.Tape.Reading, k.Tape.After),
			Amount(after), Amount(before))}
	case k.Scale:
		return []string{Setting(k.Name), fmt.Sprintf("%s: from %s to %s", move, Trimmed(k.From, 2), Trimmed(k.To, 2))}
	}
	unit := either(k.Turns, "°", NoBreak+"mm")
	return []string{Setting(k.Name), fmt.Sprintf("%s: from %s to %s", move, Trimmed(k.From, 1), Trimmed(k.To, 1)+unit)}
}
