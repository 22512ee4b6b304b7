package words

import (
	"fmt"
	"math"
	"strings"

	"carryover/internal/body"
	"carryover/internal/diag"
	"carryover/internal/job"
	"carryover/internal/plane"
)

// measured is a measure on two bikes and what has changed; "" where it is not known on both.
func measured(m body.Figure, first, last *body.Numbers) (was, is, changed string) {
	a, okA := m.Of(first)
	if !okA {
		return "", "", ""
	}
	was = Amount(a)
	if last == nil {
		return was, "", ""
	}
	if b, ok := m.Of(last); ok {
		is, changed = Amount(b), difference(a, b)+unit(b)
		if was == is {
			changed = "same"
		}
	}
	return was, is, changed
}

// Joints tells in a sentence what a carry does to a rider's joints; "" where no rider's lengths are known.
func Joints(p *body.Posture) string {
	if p == nil {
		return ""
	}
	first, last := p.Stages[0].Numbers, p.Stages[len(p.Stages)-1].Numbers
	if first == nil || last == nil {
		return ""
	}
	list := joints(first, last, func(name, was, is, _ string) string { return name + " " + is + " instead of " + was })
	return either(len(list) == 0, "Knees, hips and torso bend as they did.", "Your body: "+strings.Join(list, "; ")+".")
}

// joints tells the angles that change from one bike to another.
func joints(was, is *body.Numbers, tell func(name, was, is, changed string) string) (list []string) {
	for _, m := range body.Figures[:body.Short] {
		if a, b, changed := measured(m, was, is); b != "" && changed != "same" {
			list = append(list, tell(m.Name, a, b, changed))
		}
	}
	return list
}

// Impossible says which body does not close.
func Impossible(b *body.Posture) (list []string) {
	if b == nil {
		return nil
	}
	said := map[string]bool{} // what does not fit on the first bike does not on the others
	for i, st := range b.Stages {
		for _, why := range st.Impossible() {
			where := "this body does not fit the bike"
			if i > 0 {
				where = "this body does not fit (" + st.Cause + ")"
			}
			if !said[why] {
				list = append(list, Sentence(where+": "+diag.Visible(why)))
			}
			said[why] = true
		}
	}
	return list
}

// Ride lays out what a rider's joints do; all adds the lengths, every number and the whole turn.
func (p *Page) Ride(r *job.Ride, all bool) {
	p.Para("Rider  ", diag.Shorten(r.Rider, 60))
	p.Para("Bike   ", Titled(r.Source.Bike))
	if r.Carry != nil {
		p.Para("To     ", Titled(r.Carry.Target))
	}
	p.Danger(AllDoubts(r.Told)...)
	if r.Carry != nil {
		p.failed("CARRIED", r.Carry.Failed)
	}
	for i, b := range r.Postures {
		p.Heading("Posture " + diag.Shorten(b.Posture, 40))
		if r.Carry != nil && !r.Carry.Results[i].Carried() {
			p.Danger(Consequences(r.Carry.Results[i])...)
		}
		p.Danger(Impossible(&b)...)
		p.joints(r, b, all)
	}
	p.Space()
	p.Para("", AllAssumed(r.Told)...)
	if !all {
		if r.Closes() {
			p.Para("", "Ahead of the pedal: of its axle, the crank level; minus is behind. "+Guessed(r.Lengths))
		}
		p.Para("", "Geometry, no medical claim. Real ankles give way, so real knees change about half as much "+
			"(Ferrer-Roca et al. 2014). --more: every joint, the lengths, the whole turn.")
		return
	}
	p.lengths(r)
	p.Space()
	p.Para("", r.Notes...)
	p.Para("", "Across the bike a limb whose ends lie w apart sideways shows sqrt(limb² - w²) in the side view. For the arms w is "+
		"half of hands' less shoulders' width; "+
		"for the legs half the Q-factor and 55 mm to the middle of the foot, less half the hips' width. Arms count when shoulder_width is given.")
	p.versions(all, r.Versions)
}

func (p *Page) joints(r *job.Ride, b body.Posture, all bool) {
	first, last := b.Stages[0], b.Stages[len(b.Stages)-1]
	if first.Numbers == nil {
		return
	}
	compare := len(b.Stages) > 1 && last.Numbers != nil
	var rows [][]string
	align := "lr"
	if compare {
		from, to := Names(r.Source.Bike, r.Carry.Target)
		rows = append(rows, []string{"", diag.Shorten(from, 13), diag.Shorten(to, 13), "change"})
		align = "lrrr"
	}
	figures, other := body.Figures, last.Numbers
	if !all {
		figures = figures[:8] // what a fitter looks at
	}
	if !compare {
		other = nil
	}
	for _, m := range figures {
		if was, is, changed := measured(m, first.Numbers, other); was != "" {
			rows = append(rows, []string{m.Name, was, is, changed}[:len(align)])
		}
	}
	p.Table(align, rows...)
	if u := first.Numbers.Upper; u != nil && u.ElbowAssumed {
		p.Para("  ", fmt.Sprintf("The elbow's %s is assumed.", Degrees(r.Elbow)))
	}
	for i := 1; i < len(b.Stages); i++ {
		was := b.Stages[i-1].Numbers
		if len(b.Stages) == 2 { // the table says what it does
			was = nil
		}
		p.Para("- ", stage(was, b.Stages[i]))
	}
	if all {
		p.turn(first, last, compare)
	}
}

// stage says what differs, and what that makes of the joints where it is not the only thing.
func stage(was *body.Numbers, st body.Stage) string {
	text := "What differs: " + st.Cause
	if was == nil || st.Numbers == nil {
		return text + "."
	}
	list := joints(was, st.Numbers, func(name, _, _, changed string) string { return name + " " + changed })
	return text + either(len(list) == 0, ", which changes no joint", " ("+strings.Join(list, "; ")+")") + "."
}

func (p *Page) turn(first, last body.Stage, compare bool) {
	if len(first.Turn) == 0 {
		return
	}
	p.Heading("The turn, crank from the top")
	align, head := "rrrrr", []string{"crank", "foot", "ankle", "knee", "hip"}
	if compare {
		align, head = align+"rrr", append(head, "then: ankle", "knee", "hip")
	}
	leg := func(st body.Stage, l body.Leg) []string {
		hip := ""
		if v := st.Numbers.HipAt(l); !math.IsNaN(v) {
			hip = Num(plane.Deg(v), 1)
		}
		return []string{Num(plane.Deg(l.AnkleOpening), 1), Num(plane.Deg(l.KneeFlexion), 1), hip}
	}
	rows := [][]string{head}
	for i, l := range first.Turn {
		row := append([]string{Num(plane.Deg(l.Crank), 0) + "°", Num(plane.Deg(l.Pitch), 1)}, leg(first, l)...)
		if compare && i < len(last.Turn) {
			row = append(row, leg(last, last.Turn[i])...)
		}
		rows = append(rows, row)
	}
	p.Table(align, rows...)
}

// Guessed says which lengths of a body nobody has measured.
func Guessed(lengths []body.Length) string {
	var list []string
	var of [body.Assumed + 1][]string
	for _, l := range lengths {
		of[l.Origin] = append(of[l.Origin], l.Name)
	}
	if names := of[body.Estimated]; len(names) > 0 {
		list = append(list, "Estimated from the rider's height: "+List(names)+".")
	}
	if names := of[body.Assumed]; len(names) > 0 {
		list = append(list, "Assumed, as on most riders: "+List(names)+".")
	}
	return strings.Join(list, " ")
}

func (p *Page) lengths(r *job.Ride) {
	p.Heading("Lengths of the body")
	var rows [][]string
	for _, l := range r.Lengths {
		source := l.Origin.String()
		if l.Source != "" {
			source += ": " + l.Source
		}
		rows = append(rows, []string{l.Name, Num(l.MM, 0) + NoBreak + "mm", source})
	}
	p.Table("lrl", rows...)
	p.Para("", fmt.Sprintf("The sole is taken to stand at %s° + %s°·cos(crank - %s°) against the level, toes up positive "+
		"(common practice).",
		Num(plane.Deg(r.Foot.Mean), 1), Num(plane.Deg(r.Foot.Swing), 1), Num(plane.Deg(r.Foot.Peak), 0)))
}
