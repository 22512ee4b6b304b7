package words

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/confirm"
	"carryover/internal/diag"
	"carryover/internal/job"
	"carryover/internal/plane"
)

// Confirm lays out how a bike that has been set up compares with a position, and what to move; all adds how sure that is.
func (p *Page) Confirm(c *job.Confirm, all bool) {
	from, to := Names(c.Source.Bike, c.Target)
	on, like, machine := to, from, c.Target
	if c.Keep {
		on, like, machine = from, to, c.Source.Bike
	}
	p.Danger(of(from, Doubts(c.Source.Adjusted))...)
	var assumed []string
	if c.Set != nil {
		p.Danger(of(to, Doubts(c.Set.Adjusted))...)
		assumed = Assumed(c.Set.Adjusted)
	}
	if len(c.Unread) > 0 {
		p.Danger("Nothing was read on " + to + " yet: tape " + List(c.Unread) + " first." +
			either(c.Set != nil, " This is what its marks alone say.", ""))
	}
	p.failed("CONFIRMED", c.Failed)
	for _, r := range c.Results {
		p.Space()
		if verdict, fits := fitVerdict(c, r, on, like); fits {
			p.Strong(verdict)
		} else {
			p.Danger(verdict)
		}
		for _, k := range r.Contacts {
			p.Para("  "+Left(Touched(k.Want.Name), 6), offText(k, all))
		}
		if r.Followed {
			p.Para("  ", "The seat does not come all the way: the hands are told from where it can be.")
		}
		p.corrections(r, machine, on)
		if c.Keep {
			p.changes(r)
		} else {
			p.tapes(r, to)
		}
	}
	p.Space()
	p.Para("", once(Assumed(c.Source.Adjusted), assumed)...)
	if all {
		p.Para("", Meaning)
	}
	p.versions(all, c.Versions)
}

// fitVerdict says in a sentence how a bike compares. One whose readings disagree is not said to fit.
func fitVerdict(c *job.Confirm, r *confirm.Result, on, like string) (text string, fits bool) {
	off := slices.ContainsFunc(r.Contacts, func(k confirm.Contact) bool { return k.Primary && !k.Inside() && !k.Unsure })
	agree := !compromise(c.Source.Adjusted) && !compromise(c.Set.Adjusted)
	does, why := "fits", ", within 2 mm and 1°"
	switch {
	case off:
		does, why = "does NOT fit", ""
	case !agree:
		does, why = "cannot be told to fit", ": the readings disagree"
	case !r.Inside():
		does, why = "probably does NOT fit", ": the readings cannot tell for sure"
	case len(c.Unread) > 0:
		does, why = "is not known to fit", ": by its marks it should"
	case !r.Sure():
		does, why = "fits", ", as far as the readings can tell"
	}
	return fmt.Sprintf("Posture %s: %s %s like %s%s.", diag.Shorten(r.Posture.Name, 22), on, does, like, why), does == "fits"
}

// offText is where a contact is against where it should be, and how far that may be out.
func offText(k confirm.Contact, all bool) string {
	text := cmp.Or(Miss(k.Carried), "where it was")
	if k.Primary {
		text = either(k.Unsure, "probably ", "") + either(k.Inside(), "right: ", "OFF: ") + text
	}
	if !all {
		return text + fmt.Sprintf(" (give or take %s)", MM(2*k.SigmaMiss))
	}
	text += fmt.Sprintf(" (off by %s ± %s mm", Num(k.Miss, 1), Num(k.SigmaMiss, 1))
	if k.Primary {
		text += fmt.Sprintf(" and %s ± %s°", Signed(plane.Deg(k.MissAngle), 1), Num(plane.Deg(k.SigmaAngle), 1))
	}
	return text + ")"
}

// corrections says what to move, and what nothing can be said of.
func (p *Page) corrections(r *confirm.Result, machine *bike.Bike, on string) {
	if len(r.Doubted) > 0 {
		p.Danger("The tape contradicts the scale of " + List(settings("", r.Doubted)) + ". The tape counts here; read both again.")
	}
	if len(r.Withheld) > 0 {
		p.Danger("No move is given for " + List(settings("", r.Withheld)) + ": it would be another for each reading that may be the wrong one.")
	}
	if r.Inside() {
		return
	}
	var rows [][]string
	for _, k := range r.Corrections {
		if !None(k.Travel()) {
			rows = append(rows, correction(machine, k))
		}
	}
	switch {
	case len(r.Corrections) == 0 && len(r.Withheld) > 0:
		return
	case len(rows) == 0 && len(r.Corrections) > 0:
		p.Danger(on + " is as near as it comes, which is not near enough.")
	case len(r.Corrections) == 0 && r.ByTape && len(r.Kept)+len(r.Readings) > 0:
		p.Para("", "Nothing on "+on+" carries a scale for this: move it until the tape reads as below.")
	case len(r.Corrections) == 0:
		p.Danger("Nothing on " + on + " that can be moved brings it nearer.")
	case len(r.Withheld) > 0:
		p.Para("", "What can be moved on "+on+" all the same:")
	case r.Cured:
		p.Para("", "The fewest things to move on "+on+":")
	default:
		p.Danger("As near as " + on + " comes, which is not near enough:")
	}
	if len(rows) == 0 {
		return
	}
	p.Table("ll", rows...)
	if len(r.Withheld) > 0 {
		return
	}
	var after []string
	for _, k := range r.After {
		if w := Miss(k.Carried); w != "" {
			after = append(after, Touched(k.Want.Name)+" "+w)
		}
	}
	p.Para("", either(len(after) == 0, "Then all is where it should be.", "What is left then: "+strings.Join(after, "; ")+"."))
}

// changed is a reading from one value to another, and the difference with its ±.
func changed(r bike.Reading, from, to, sigma float64) []string {
	a, b := reads(r, from), reads(r, to)
	return []string{Called(r), Amount(a), Amount(b), difference(a, b) + give(a.Of(sigma))}
}

// changes is what a tape reads on the bike that is to be made to feel like another.
func (p *Page) changes(r *confirm.Result) {
	p.Space()
	rows := [][]string{{"What a tape reads there", "now", "then", "change"}}
	for _, k := range r.Kept {
		rows = append(rows, changed(k.Reading, k.Before, k.After, 0))
	}
	p.Table("lrrr", rows...)
}

// tapes is the table of what was read once the bike had been set up, against what it should be.
func (p *Page) tapes(r *confirm.Result, to string) {
	if len(r.Readings) == 0 {
		return
	}
	p.Space()
	rows := [][]string{{"Readings of " + to, "should be", "is", "off"}}
	for _, k := range r.Readings {
		rows = append(rows, changed(k.Reading, k.After, k.Reading.Value, 0))
	}
	p.Table("lrrr", rows...)
}

// correction is what to move: from where its scale stands to where it should, or what a tape says instead.
func correction(on *bike.Bike, k confirm.Move) []string {
	text := moved(on, k.Settable, Size(k.Travel())+" "+k.Toward, k.From, k.To)
	if t := k.Tape; t != nil {
		text += fmt.Sprintf(", until %s reads %s instead of %s", Reading(t.Reading, t.After), Amount(quantity(t.Reading, t.After)),
			Amount(quantity(t.Reading, t.Before)))
	}
	return []string{Setting(k.Name), text}
}

// moved is how far a setting goes, from where it shows that it stood to where it then does.
func moved(on *bike.Bike, set bike.Settable, far string, from, to float64) string {
	switch {
	case set.Scale:
		a := &on.Adjusters[set.Adjuster]
		return fmt.Sprintf("%s: from %s to %s", far, Mark(a, from), Mark(a, to))
	case set.Adjuster >= 0:
		return far
	}
	return fmt.Sprintf("%s: from %s to %s", far, Trimmed(from, 1), Trimmed(to, 1)+either(set.Turns(), "°", NoBreak+"mm"))
}
