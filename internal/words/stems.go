package words

import (
	"cmp"
	"fmt"

	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/job"
	"carryover/internal/plane"
)

// Stems says to a client, in two sentences, which stem the bike wants.
func Stems(r *job.Result) string {
	from, to := Names(r.Source.Bike, r.Target)
	text := fmt.Sprintf("For your hands to be on %s where they are on %s, these stems come nearest.", to, from)
	best := r.Stems[0]
	switch {
	case !best.Carried():
		text += fmt.Sprintf(" None brings them all the way; the first leaves %s.", distance(best.Contacts[1]))
	case len(r.Stems) == 1:
		text += " There is no other in the catalogue."
	default:
		text += " Take the next where the first is not to be had."
	}
	return text + either(r.StemsProven, "", " The search was stopped early.")
}

// Stem is one stem as a shop would say it, what it is built with, and how near it brings the hands.
func Stem(s *carry.Solution) (what, how, near string) {
	for _, p := range s.Parts {
		what = cmp.Or(what, stemOf(s, p))
	}
	for _, set := range s.Settings {
		switch set.Sets {
		case bike.SetsSpacers:
			how = either(None(quantityOf(set, set.Travel)), "no spacers", Amount(quantityOf(set, set.Travel))+" of spacers") + how
		case bike.SetsRotation:
			how += ", the bar turned " + Tilted(plane.Angle(set.Zero+set.Travel), "front")
		}
	}
	hands := s.Contacts[1]
	return what, how, "the hands " + cmp.Or(Miss(hands), "where they were") + either(hands.Carried, "", ", which is not near enough")
}

// stems is the advice to a client in text.
func (p *Page) stems(r *job.Result) {
	if r.Stems == nil {
		return
	}
	p.Heading("Stems to buy")
	p.Para("", Stems(r))
	var rows [][]string
	for i, s := range r.Stems {
		what, how, near := Stem(s)
		rows = append(rows, []string{fmt.Sprint(i + 1), what, how, near})
	}
	p.Table("rlll", rows...)
}
