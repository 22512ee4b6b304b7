package words

import (
	"fmt"
	"slices"
	"strings"

	"carryover/internal/alternate"
	"carryover/internal/diag"
	"carryover/internal/job"
	"carryover/internal/locate"
)

// label is what a posture is called beside the others: by its bike too where they are of several.
func label(a *job.Alternate, i int) string {
	of, name := a.Sources[i].Bike, ""
	for _, s := range a.Sources {
		if s.Bike.File != of.File && name != of.File {
			name, _ = Names(of, s.Bike)
		}
	}
	return strings.Join(some(name, diag.Shorten(a.Alone[i].Position.Posture.Name, 22)), ", ")
}

// stands is what a setting is set to in one posture: a mark, a length or angle, or the reading that shows it.
func stands(a *job.Alternate, v alternate.Value) string {
	if v.Tape != nil {
		return Reading(v.Tape.Reading, v.Tape.Value.Value()) + " " + Amount(quantity(v.Tape.Reading, v.Tape.Value.Value()))
	}
	return Value(a.Target, v.Setting)
}

// Alternate lays out one set-up for several positions: what to move between them; all adds the other trades and the checks.
func (p *Page) Alternate(a *job.Alternate, all bool) {
	row := a.Row()
	p.Danger(told(a, Doubts)...)
	for _, f := range a.Failed {
		p.Danger(diag.Shorten(f.Name, 40) + " CANNOT BE CARRIED, and is left out:")
		p.Lines("   ", Failure(f.Err))
	}
	every := either(len(a.Failed) == 0, "every posture", "every other posture")
	shared, own := carded(a, row)
	what := some(append([]string{either(len(shared) > 0, Counted(len(shared), "setting"), "")}, settings("the ", own)...)...)
	verdict := fmt.Sprintf("%s for %s: %s to move between them.", Bike(a.Target), Counted(len(a.Sources), "posture"),
		either(len(what) == 0, "nothing", List(what)))
	switch {
	case row.Carried() && doubtful(a):
		p.Danger(verdict + " " + Capital(every) + " is carried; from readings that disagree: mend them first.")
	case row.Carried():
		p.Strong(verdict + " " + Capital(every) + " is carried.")
	default:
		p.Danger(verdict + " NOT " + every + " is carried:")
		for i, o := range row.Outcomes {
			for _, c := range o.Contacts {
				if c.Primary && !c.Carried {
					p.Danger(fmt.Sprintf("%s: %s %s.", label(a, i), Touched(c.Want.Name), Miss(c)))
				}
			}
		}
	}
	p.Para("", further(a)...)
	p.Para("", keeps(a)...)
	if !a.Proven() {
		p.Para("", "The search was stopped early: these are the best it had found.")
	}
	once := fmt.Sprintf("Set once: cranks %s mm", Trimmed(a.Crank, 1))
	for _, part := range row.Parts {
		once += ", " + slot(part) + " " + diag.Shorten(part.ID, 32) + flipped(part.Flip)
	}
	p.Para("", strings.Join(append([]string{once}, setOnce(a)...), "; ")+".")
	p.changeovers(a)
	p.trade(a)
	if all {
		for _, n := range a.Cranks {
			p.Para("", diag.Visible(n)+".")
		}
		for i, o := range row.Outcomes {
			p.Heading("Check " + label(a, i) + ", with nobody on it")
			var rows [][]string
			for _, c := range o.Checks {
				name, how, shows := Check(c.Reading, c.Value.Value(), 0)
				rows = append(rows, []string{name, how, shows})
			}
			p.Table("lll", rows...)
		}
	}
	p.Space()
	p.Para("", told(a, Assumed)...)
	p.versions(all, a.Versions())
}

// doubtful reports whether the readings of a bike contradict one another.
func doubtful(a *job.Alternate) bool {
	return Disagree(a.Stand.Adjusted) ||
		slices.ContainsFunc(a.Sources, func(s *job.Source) bool { return Disagree(s.Adjusted) })
}

// told is what is told of the readings of each bike, under its name.
func told(a *job.Alternate, what func(*locate.Adjustment) []string) []string {
	var lists [][]string
	for _, s := range a.Sources {
		lists = append(lists, of(Bike(s.Bike), what(s.Adjusted)))
	}
	if a.Stand.Adjusted != nil {
		lists = append(lists, of(Bike(a.Target), what(a.Stand.Adjusted)))
	}
	return once(lists...)
}

// further says what more moves than those of the row would carry, where it does not.
func further(a *job.Alternate) []string {
	row, next := a.Row(), alternate.Carrying(a.Rows)
	if next == nil || next.Moves <= row.Moves {
		return nil
	}
	more := next.Moves - row.Moves
	return []string{fmt.Sprintf("%s more, %s in all, would carry every posture: the furthest off would be %s instead of %s.",
		Capital(Counted(more, "move")), names(a, next), furthest(next), furthest(row))}
}

// names are the settings that a row moves.
func names(a *job.Alternate, r *alternate.Row) string {
	shared, _ := carded(a, r)
	return orNothing(settings("", shared))
}

// carded are the settings on the cards of a row: those that it moves, and those that every posture has for itself whatever is moved.
func carded(a *job.Alternate, r *alternate.Row) (shared, own []string) {
	seen := map[string]bool{}
	for _, k := range a.Rounds() {
		for _, s := range moves(a, r, k) {
			if name := s.Before.Name; !seen[name] && !slices.Contains(r.Moved, name) {
				own = append(own, name)
			}
			seen[s.Before.Name] = true
		}
	}
	for _, name := range r.Moved {
		if seen[name] {
			shared = append(shared, name)
		}
	}
	return shared, own
}

// keeps says what keeps every number of moves from carrying, with what would cure it, and why a posture is not built as it
// would be by itself.
func keeps(a *job.Alternate) (list []string) {
	last := &a.Rows[len(a.Rows)-1] // what can be carried at all is carried in it
	for i := range a.Alone {
		s := &a.Alone[i]
		who := Capital(label(a, i))
		if s.GapShort > 0 {
			list = append(list, fmt.Sprintf("%s: the clip-on lacks %s between its clamps, by itself too.", who, MM(s.GapShort)))
		}
		for _, c := range s.Contacts {
			if !c.Primary || c.Carried {
				continue
			}
			text := fmt.Sprintf("%s is not carried by itself either: your %s would be %s", who, Touched(c.Want.Name), Miss(c))
			if h := held(s.Solution, c); h != "" {
				text += ", since " + h
			}
			list = append(list, text+".")
		}
		lost := s.Carried() && !last.Outcomes[i].Carried()
		cures := cures(a.Cures[i], func(posture string) string { return label(a, slices.Index(a.Labels, posture)) })
		if !lost {
			list = append(list, cures...)
		}
		if own := otherwise(a, i); own != "" {
			list = append(list, who+either(lost, " would be carried by itself with ", " by itself would be built with ")+own)
		} else if lost {
			list = append(list, who+" would be carried by itself: what is built once cannot serve every posture.")
		}
		if lost && len(cures) > 0 {
			list = append(list, "It could be rebuilt between rides. "+strings.Join(cures, " "))
		}
	}
	return list
}

// otherwise is what a posture by itself would be built with, and is not, and what that would cost the postures together; ""
// when it is built as it would be.
func otherwise(a *job.Alternate, i int) string {
	s, row := &a.Alone[i], a.Row()
	parts, sets := row.Otherwise(i, s.Solution)
	var list []string
	for _, p := range parts {
		list = append(list, part(s.Solution, p))
	}
	for _, set := range sets {
		list = append(list, built(s.Solution, set))
	}
	if len(list) == 0 {
		return ""
	}
	text := List(list)
	if len(s.Rows) == 0 {
		return text + ", which gives another posture no place."
	}
	own := &s.Rows[min(row.Moves, len(s.Rows)-1)]
	if next := alternate.Carrying(s.Rows); row.Carried() && !own.Carried() {
		if next == nil {
			return text + "; so built, no number of moves carries every posture."
		}
		return text + fmt.Sprintf("; so built, it takes %s to carry every posture.", Counted(next.Moves, "move"))
	}
	if own.E-row.E < alternate.Worthwhile {
		return text + "; so built, as many moves would lose less than 1 mm: build it so where that is handier."
	}
	return text + "; so built, as many moves would leave more off in all."
}

// moves are the moves of a row's changeover that can be seen at all.
func moves(a *job.Alternate, r *alternate.Row, k [2]int) []alternate.Step {
	var list []alternate.Step
	for _, s := range r.Changeover(k[0], k[1]) {
		if !None(s.By()) && stands(a, s.Before) != stands(a, s.After) {
			list = append(list, s)
		}
	}
	return list
}

// setOnce is what is set once: whatever no changeover moves. What is set for one posture alone is never in the way of another.
func setOnce(a *job.Alternate) []string {
	seen := map[string]bool{}
	shared, own := carded(a, a.Row())
	for _, name := range slices.Concat(shared, own) {
		seen[name] = true
	}
	var list []string
	for i, o := range a.Row().Outcomes {
		for _, v := range o.Values {
			if seen[v.Name] {
				continue
			}
			seen[v.Name] = true
			text := Setting(v.Name) + " " + stands(a, v)
			if v.Tape != nil { // the reading goes with the saddle, which may move
				text = Setting(v.Name) + " by tape, " + stands(a, v) + " in " + label(a, i)
			}
			list = append(list, text)
		}
	}
	return list
}

// changeovers are the cards at the bike: what to move to go from one posture to another, in order, there and back.
func (p *Page) changeovers(a *job.Alternate) {
	for _, k := range a.Rounds() {
		p.Heading(fmt.Sprintf("%s ⇄ %s", label(a, k[0]), label(a, k[1])))
		list := moves(a, a.Row(), k)
		if len(list) == 0 {
			p.Line("  nothing moves")
		}
		var rows [][]string
		for i, s := range list {
			before, after := stands(a, s.Before), stands(a, s.After)
			if s.After.Tape != nil { // the same reading on both sides
				after = Amount(quantity(s.After.Tape.Reading, s.After.Tape.Value.Value()))
			}
			rows = append(rows, append([]string{fmt.Sprint(i + 1), Setting(s.Before.Name), before + " ⇄ " + after}, some(by(a, s))...))
		}
		p.Table("rlll", rows...)
	}
}

// by is how far a step goes, there; "" where the values say so themselves.
func by(a *job.Alternate, s alternate.Step) string {
	adj := scaled(a.Target, s.After.Setting)
	if adj == nil {
		return ""
	}
	d := rounded(adj, s.After.Mark()) - rounded(adj, s.Before.Mark())
	return Size(s.By().Of(d)) + " " + s.After.Towards(d) + " →"
}

// furthest is how far the contact is off that is furthest off in its place, and in its angle.
func furthest(r *alternate.Row) string {
	mm, turn := r.Worst()
	return MM(mm) + either(turn.Degrees() >= byLevel, ", "+Num(turn.Degrees(), 1)+"°", "")
}

// trade is what each number of moved settings would come to.
func (p *Page) trade(a *job.Alternate) {
	p.Heading("Moving more or fewer settings, all else built and set once for all postures")
	rows := [][]string{{"moves", "furthest off", "together", "carried", "which"}}
	for i := range a.Rows {
		r := &a.Rows[i]
		if i > 0 && (slices.Equal(r.Moved, a.Rows[i-1].Moved) ||
			i != a.Chosen && r.Carried() == a.Rows[i-1].Carried() && r.E > a.Rows[i-1].E-byTape/2) {
			continue // leave to move more, and nothing to gain by it
		}
		rows = append(rows, []string{fmt.Sprint(len(r.Moved)), furthest(r), Num(r.E, 1), either(r.Carried(), "yes", "no"), names(a, r)})
	}
	p.Table("rrrll", rows...)
	p.Para("", "Together: all that is off, weighted, as one number that no tape shows; one more move must take off 1.")
	if _, own := carded(a, a.Row()); len(own) > 0 {
		p.Para("", fmt.Sprintf("Every posture has its own %s, whatever is moved.", List(settings("", own))))
	}
}
