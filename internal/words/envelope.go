package words

import (
	"fmt"
	"math"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/diag"
	"carryover/internal/envelope"
	"carryover/internal/job"
	"carryover/internal/plane"
)

// Envelope lays out what a machine can be; all adds what one measure after the other leaves of the others: every direction.
func (p *Page) Envelope(e *job.Envelope, all bool) {
	p.Strong(fmt.Sprintf("What %s can be set to, mm", Bike(e.Machine)))
	for _, f := range e.Fitted {
		p.Para("", "Its file leaves a part open; the first is taken: "+diag.Visible(f)+".")
	}
	if len(e.Unbound) > 0 {
		p.Para("", "No stop is known of "+List(settings("the ", e.Unbound))+": what hangs on that goes only so far as anyone would.")
	}
	p.Danger(AllDoubts(e.Told)...)
	rows, note := [][]string{{"", "least", "most"}}, "Each for itself: not all of them can be had together."
	below := false
	for _, x := range e.Extremes {
		rows = append(rows, []string{Called(x.Reading), Bare(plane.Length(x.Least)), Bare(plane.Length(x.Greatest))})
		below = below || x.Least < 0
	}
	p.Table("lrr", rows...)
	p.Para("", note+either(below, " Below 0: the nose ahead of the BB, the hands above the saddle.", ""))
	for _, a := range e.For {
		p.Heading(fmt.Sprintf("Room for %s, posture %s, with cranks of %s mm", Bike(e.Source.Bike), diag.Shorten(a.Posture, 22),
			Trimmed(a.Crank, 1)))
		for _, c := range a.Missing {
			p.Danger(fmt.Sprintf("No place for the %s: nothing is fitted that gives them one.", Hands(c)))
		}
		for _, r := range a.Rooms {
			p.room(r, all)
		}
	}
	if list := AllAssumed(e.Told); len(list) > 0 {
		p.Space()
		p.Para("", list...)
	}
	p.versions(all, e.Versions)
}

// Room says how much room is left around a contact, or how far it is out of reach, in the words of a carry.
func Room(r envelope.Room) string {
	where, miss := "the "+Touched(r.Want.Name), Miss(r.Carried)
	if !r.Inside {
		return fmt.Sprintf("OUT OF REACH: %s can only be had %s%s.", where, miss, either(len(r.HeldBy) == 0, "",
			"; held back by "+List(settings("the ", r.HeldBy))))
	}
	side := func(a, b string, k, l int) string {
		return fmt.Sprintf("%s %s and %s %s", MM(r.Along[k]), a, MM(r.Along[l]), b)
	}
	room := Capital(fmt.Sprintf("%s can go %s, %s.", where, side("forward", "back", 0, 4), side("up", "down", 2, 6)))
	if miss != "" {
		room += fmt.Sprintf(" As it can be set it ends up %s.", miss)
	}
	return room
}

func (p *Page) room(r envelope.Room, all bool) {
	if r.Inside && r.Carried.Carried {
		p.Para("  ", Room(r))
	} else {
		p.Danger(Room(r))
	}
	what, end := "the "+Touched(r.Want.Name)+" turn", "front"
	if r.Want.Name == bike.Sit {
		what, end = "the saddle turns", "nose"
	}
	text := fmt.Sprintf("From your angle %s %s down at the %s and %s up.", what, turnRoom(r.TurnDown), end, turnRoom(r.TurnUp))
	if r.Region.Stepped() {
		text += " Its settings come in steps: not every place between can be had."
	}
	p.Para("  ", text)
	if !all {
		return
	}
	var list []string
	for k, name := range envelope.Compass {
		list = append(list, name+" "+either(math.IsNaN(r.Along[k]), "none", Num(r.Along[k], 1)))
	}
	p.Para("    ", fmt.Sprintf("Wanted at %s, %s from the BB, turned %s; mm to the end: %s.", Num(r.Want.At.X, 1), Num(r.Want.At.Y, 1),
		Degrees(plane.Angle(r.Region.Turn)), strings.Join(list, ", ")))
}

func turnRoom(a float64) string {
	return Degrees(plane.Angle(a)) + either(a < 0, " (it does not come so far)", "")
}
