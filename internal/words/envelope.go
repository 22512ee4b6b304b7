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
		p.Para("", "With the first of its open parts: "+diag.Visible(f)+".")
	}
	if len(e.Unbound) > 0 {
		p.Para("", "No stop is known of "+List(settingsNamed(e.Unbound))+": what hangs on that goes only so far as anyone would.")
	}
	if e.Source != nil {
		p.Danger(Doubts(e.Source.Adjusted)...)
	}
	rows := [][]string{{"", "from", "to"}}
	for _, x := range e.Extremes {
		rows = append(rows, []string{extreme(x), Bare(plane.Length(x.Least)), Bare(plane.Length(x.Greatest))})
	}
	p.Table("lrr", rows...)
	p.Para("", "Each for itself: not all of them can be had together.")
	for _, a := range e.For {
		p.Heading(fmt.Sprintf("%s, posture %s, on it with cranks of %s mm", Bike(e.Source.Bike), diag.Shorten(a.Posture, 22),
			Trimmed(a.Crank, 1)))
		for _, c := range a.Missing {
			p.Danger(fmt.Sprintf("No place for the %s: nothing is fitted that gives them one.", Hands(c)))
		}
		for _, r := range a.Rooms {
			p.room(r, all)
		}
	}
	if e.Source != nil {
		p.Space()
		p.Para("", Assumed(e.Source.Adjusted)...)
	}
	p.versions(all, e.Versions)
}

// extreme is what a measure is called.
func extreme(x envelope.Extreme) string {
	if t := Trade(x.Reading); t != "" {
		return t
	}
	return Reading(x.Reading, 1)
}

// Room says how much room is left around a contact, nearest first.
func Room(r envelope.Room) string {
	where := "the " + Hands(r.Contact)
	if r.Contact == bike.Sit {
		where = "the seat"
	}
	if !r.Inside {
		why := ""
		if len(r.HeldBy) > 0 {
			why = ", held back by " + List(settingsNamed(r.HeldBy))
		}
		return fmt.Sprintf("OUT OF REACH by %s: %s can only be had %s%s.", MM(-r.Nearest), where, towards(r), why)
	}
	side := func(a, b string, k, l int) string {
		return fmt.Sprintf("%s %s and %s %s", MM(r.Along[k]), a, MM(r.Along[l]), b)
	}
	return Capital(fmt.Sprintf("%s can go %s, %s; the nearest end is %s %s.", where, side("forward", "back", 0, 4),
		side("up", "down", 2, 6), MM(r.Nearest), towards(r)))
}

// settingsNamed are what a person calls some settings.
func settingsNamed(names []string) []string {
	var list []string
	for _, n := range names {
		list = append(list, "the "+Setting(n))
	}
	return list
}

// towards names the direction of the nearest border.
func towards(r envelope.Room) string {
	if r.Toward == (plane.Point{}) {
		return "away"
	}
	return envelope.Compass[int(math.Round(math.Atan2(r.Toward.Y, r.Toward.X)/(math.Pi/4))+8)%8]
}

func (p *Page) room(r envelope.Room, all bool) {
	if r.Inside {
		p.Para("  ", Room(r))
	} else {
		p.Danger(Room(r))
	}
	end := "front"
	if r.Contact == bike.Sit {
		end = "nose"
	}
	text := fmt.Sprintf("From the angle you have it turns %s further %s down and %s up.", turnRoom(r.TurnDown), end, turnRoom(r.TurnUp))
	if r.Region.Stepped() {
		text += " It stands on steps only; those between the ends are not counted."
	}
	p.Para("  ", text)
	if !all {
		return
	}
	var list []string
	for k, name := range envelope.Compass {
		if v := r.Along[k]; math.IsNaN(v) {
			list = append(list, name+" none")
		} else {
			list = append(list, name+" "+Num(v, 1))
		}
	}
	p.Para("    ", fmt.Sprintf("Wanted at %s, %s from the BB, turned %s; mm to the end: %s.", Num(r.Want.X, 1), Num(r.Want.Y, 1),
		Degrees(plane.Angle(r.Region.Turn)), strings.Join(list, ", ")))
}

func turnRoom(a float64) string {
	if a < 0 {
		return Degrees(plane.Angle(a)) + " (it does not come so far)"
	}
	return Degrees(plane.Angle(a))
}
