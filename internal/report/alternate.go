package report

import (
	"fmt"
	"io"
	"math"
	"strings"

	"carryover/internal/alternate"
	"carryover/internal/bike"
	"carryover/internal/diag"
	"carryover/internal/plane"
)

// Alternate is the outcome of `carryover alternate`, as JSON. Lengths mm, angles degrees.
type Alternate struct {
	Schema    int            `json:"schema"`
	To        string         `json:"to"`
	Postures  []string       `json:"postures"`
	Crank     float64        `json:"crank"`
	Objective string         `json:"objective"`
	Proven    bool           `json:"proven"`
	Tolerance float64        `json:"tolerance"` // mm: nothing lies further below a row's error
	Movable   []string       `json:"movable"`
	Searched  int            `json:"searched"` // sets of moved settings solved
	Sets      int            `json:"sets"`     // sets there are; the others a bound rules out
	Rows      []AlternateRow `json:"rows"`
	Chosen    int            `json:"chosen"` // moves of the row that the changeover is for
	Changes   []Changeover   `json:"changeovers"`
	Notes     []string       `json:"notes"`
}

// AlternateRow is the best for one number of moved settings.
type AlternateRow struct {
	Moves      int              `json:"moves"`
	Moved      []string         `json:"moved"`
	Error      float64          `json:"error"`
	Worst      float64          `json:"worst"`
	WorstAngle float64          `json:"worst_angle"`
	Carried    bool             `json:"carried"`
	Proven     bool             `json:"proven"`
	Parts      []Part           `json:"parts"`
	Postures   []AlternateStand `json:"postures"`
}

// AlternateStand is the target set up for one posture.
type AlternateStand struct {
	Posture  string         `json:"posture"`
	Settings []AlternateSet `json:"settings"`
	Contacts []Contact      `json:"contacts"`
	Checks   []Check        `json:"checks"` // sigma is not worked out: 0
}

// AlternateSet is one setting; mark in scale units, travel in mm or degrees.
type AlternateSet struct {
	Adjuster string      `json:"adjuster"`
	Mark     float64     `json:"mark"`
	Travel   float64     `json:"travel"`
	Moved    bool        `json:"moved"`
	Unit     string      `json:"unit"`     // of travel: mm or deg
	PerMark  float64     `json:"per_mark"` // travel per 1.0 of the scale; 1 for what has no scale
	Scale    bool        `json:"scale"`    // false: set by tape or level
	Step     float64     `json:"step"`     // marks; 0: anywhere
	Between  *[2]float64 `json:"between,omitempty"`
	Tape     *Check      `json:"tape,omitempty"` // the reading to set it by, for an adjuster without a scale
}

// placed is the setting as a carry has it, to be told in the same words.
func (s AlternateSet) placed() Placed {
	return Placed{Setting: Setting{Adjuster: s.Adjuster, Mark: s.Mark, Travel: s.Travel}, Unit: s.Unit, PerMark: s.PerMark,
		Scale: s.Scale, Step: s.Step, Between: s.Between, Tape: s.Tape}
}

// text is what a setting is set to: a mark, a length or angle, or the reading that shows it.
func (s AlternateSet) text() string {
	if s.Tape != nil {
		return checkPhrase(*s.Tape) + " " + checkValue(*s.Tape)
	}
	return valueText(s.placed())
}

// inLine is text with what only explains it in brackets.
func (s AlternateSet) inLine() string {
	if before, after, ok := strings.Cut(s.text(), ", "); ok {
		return before + " (" + after + ")"
	}
	return s.text()
}

func newAlternateSet(target *bike.Bike, v alternate.Value) AlternateSet {
	s := AlternateSet{Adjuster: v.Name, Mark: v.Mark, Travel: inDegrees(v.Travel, v.Turns), Moved: v.Moved, Unit: "mm", PerMark: 1}
	if v.Turns {
		s.Unit = "deg"
	}
	if v.Adjuster >= 0 {
		a := &target.Adjusters[v.Adjuster]
		s.Scale, s.Step, s.PerMark = !a.NoScale, a.Step, inDegrees(a.Unit, v.Turns)
		if lo, hi := math.Floor(v.Mark), math.Ceil(v.Mark); s.Scale && a.Step == 0 && hi > lo {
			s.Between = &[2]float64{lo, hi}
		}
	}
	if v.Tape != nil {
		c := NewCheck(*v.Tape)
		s.Tape = &c
	}
	return s
}

// Changeover is what to move to go from one posture to another, in order.
type Changeover struct {
	From  string           `json:"from"`
	To    string           `json:"to"`
	Steps []ChangeoverStep `json:"steps"`
}

// ChangeoverStep is one setting to move; marks in scale units, by in mm or degrees.
type ChangeoverStep struct {
	Adjuster string       `json:"adjuster"`
	From     float64      `json:"from_mark"`
	To       float64      `json:"to_mark"`
	By       float64      `json:"by"`
	Turns    bool         `json:"turns"`
	Before   AlternateSet `json:"before"`
	After    AlternateSet `json:"after"`
}

// NewAlternate is a result as JSON; moves picks the row of the changeover card, -1 the fewest that carry.
func NewAlternate(target *bike.Bike, to string, sources []alternate.Source, r *alternate.Result, moves int) Alternate {
	a := Alternate{Schema: 1, To: to, Crank: r.Crank, Proven: r.Proven(), Tolerance: alternate.Tolerance, Movable: append([]string{}, r.Movable...),
		Searched: r.Searches, Sets: r.Sets, Notes: append([]string{}, r.Cranks...), Changes: []Changeover{},
		Objective: "least root of the sum over the postures of E²"}
	for _, s := range sources {
		a.Postures = append(a.Postures, s.Label)
	}
	for i := range r.Rows {
		a.Rows = append(a.Rows, newAlternateRow(target, &r.Rows[i]))
	}
	row := r.Best()
	if moves >= 0 {
		row = &r.Rows[min(moves, len(r.Rows)-1)]
	}
	a.Chosen = row.Moves
	last := len(sources) - 1
	for i := range last {
		a.Changes = append(a.Changes, newChangeover(target, row, i, i+1))
	}
	if last > 1 {
		a.Changes = append(a.Changes, newChangeover(target, row, last, 0))
	}
	return a
}

func newAlternateRow(target *bike.Bike, r *alternate.Row) AlternateRow {
	row := AlternateRow{Moves: r.Moves, Moved: append([]string{}, r.Moved...), Error: r.E, Worst: r.Worst(),
		WorstAngle: plane.Deg(r.WorstAngle()), Carried: r.Carried(), Proven: r.Proven, Parts: []Part{}}
	for _, p := range r.Parts {
		row.Parts = append(row.Parts, Part{p.Slot, p.ID, p.Flip, p.Price})
	}
	for _, o := range r.Outcomes {
		s := AlternateStand{Posture: o.Label}
		for _, v := range o.Values {
			s.Settings = append(s.Settings, newAlternateSet(target, v))
		}
		for _, c := range o.Contacts {
			s.Contacts = append(s.Contacts, Contact{Contact: string(c.Want.Name), Primary: c.Primary, Want: pose(c.Want, c.Primary),
				Got: pose(c.Got, c.Primary), Miss: c.Miss, MissAngle: plane.Deg(c.MissAngle), Carried: c.Carried})
		}
		for _, c := range o.Checks {
			s.Checks = append(s.Checks, NewCheck(c))
		}
		row.Postures = append(row.Postures, s)
	}
	return row
}

func newChangeover(target *bike.Bike, r *alternate.Row, from, to int) Changeover {
	c := Changeover{From: r.Outcomes[from].Label, To: r.Outcomes[to].Label, Steps: []ChangeoverStep{}}
	for _, s := range r.Changeover(from, to) {
		c.Steps = append(c.Steps, ChangeoverStep{s.Name, s.Before.Mark, s.After.Mark, inDegrees(s.By, s.Turns), s.Turns,
			newAlternateSet(target, s.Before), newAlternateSet(target, s.After)})
	}
	return c
}

// Write prints the trade and the changeover card for a person.
func (a *Alternate) Write(w io.Writer) {
	fmt.Fprintf(w, "One set-up of %s for %d postures, crank %g mm\n", diag.Visible(a.To), len(a.Postures), a.Crank)
	for _, n := range a.Notes {
		lines(w, "  ", "note: "+diag.Visible(n))
	}
	fmt.Fprintf(w, "\nMoved settings against misses: %s\n", a.Objective)
	fmt.Fprintf(w, "  %5s  %8s  %9s  %6s  %-7s  %s\n", "moves", "E mm", "worst mm", "and °", "carried", "move")
	for _, r := range a.Rows {
		var names []string
		for _, n := range r.Moved {
			names = append(names, settingName(n))
		}
		moved := strings.Join(names, ", ")
		if moved == "" {
			moved = "nothing"
		}
		mark := " "
		if r.Moves == a.Chosen {
			mark = "*"
		}
		fmt.Fprintf(w, "%s %5d  %8.2f  %9.1f  %6.2f  %-7s  ", mark, r.Moves, r.Error, r.Worst, r.WorstAngle, yes(r.Carried))
		hanging(w, moved, 45)
	}
	if a.Proven {
		lines(w, "  ", fmt.Sprintf("Proven: for each number of moves nothing lies more than %g mm below E (%d of %d sets of settings solved, the others ruled out by a bound).", a.Tolerance, a.Searched, a.Sets))
	} else {
		lines(w, "  ", "Stopped early: best so far, not proven.")
	}
	row := a.Rows[a.Chosen]
	fmt.Fprintf(w, "\nWith %d moved", row.Moves)
	if len(row.Parts) > 0 {
		fmt.Fprintf(w, " (%s)", partsText(row.Parts))
	}
	fmt.Fprintln(w, ", each posture misses")
	for _, p := range row.Postures {
		var words []string
		for _, c := range p.Contacts {
			words = append(words, fmt.Sprintf("%s %.1f mm %.1f°", c.Contact, c.Miss, math.Abs(c.MissAngle)))
		}
		lines(w, "  ", diag.Visible(p.Posture)+": "+strings.Join(words, ", "))
	}
	a.stays(w, &row)
	for _, c := range a.Changes {
		c.write(w)
	}
	for _, p := range row.Postures {
		fmt.Fprintln(w)
		fmt.Fprint(w, folded("", "Check "+diag.Visible(p.Posture)+" by tape (nobody on it, at the unloaded surface)"))
		for _, c := range p.Checks {
			trade, _, _ := strings.Cut(c.Name, " ")
			fmt.Fprintf(w, "  %-13s  %-41s  %s\n", trade, checkPhrase(c), strings.ReplaceAll(checkValue(c), noBreak, " "))
		}
	}
}

// stays lists what is set once. What is on a changeover card is told there; what is set for one posture alone is
// never in the way of another.
func (a *Alternate) stays(w io.Writer, row *AlternateRow) {
	fmt.Fprintln(w, "\nStays in every posture")
	seen := map[string]bool{}
	for _, c := range a.Changes {
		for _, s := range c.Steps {
			seen[s.Adjuster] = true
		}
	}
	for _, p := range row.Postures {
		for _, s := range p.Settings {
			if s.Moved || seen[s.Adjuster] {
				continue
			}
			seen[s.Adjuster] = true
			text := s.text()
			if s.Tape != nil { // the reading goes with the saddle, which may move
				text = "no scale: " + text + " in " + diag.Visible(p.Posture)
			}
			label := "  " + name(settingName(s.Adjuster), 17) + " "
			fmt.Fprint(w, folded(label, text))
		}
	}
}

func (c *Changeover) write(w io.Writer) {
	fmt.Fprintln(w)
	fmt.Fprint(w, folded("", fmt.Sprintf("Changeover: %s -> %s (the way back: in the same order)", diag.Visible(c.From), diag.Visible(c.To))))
	if len(c.Steps) == 0 {
		fmt.Fprintln(w, "  nothing moves")
		return
	}
	for i, s := range c.Steps {
		unit := noBreak + "mm"
		if s.Turns {
			unit = "°"
		}
		label := fmt.Sprintf("  %d. %s ", i+1, name(settingName(s.Adjuster), 17))
		before, after := s.Before.inLine(), s.After.inLine()
		if s.After.Tape != nil { // the same reading on both sides
			after = checkValue(*s.After.Tape) + " (no scale)"
		}
		fmt.Fprint(w, folded(label, fmt.Sprintf("%+.1f%s: %s <-> %s", s.By, unit, before, after)))
	}
}

// hanging ends a line with text, folded so that what follows stands under its beginning.
func hanging(w io.Writer, text string, indent int) {
	line := ""
	for _, word := range strings.Fields(text) {
		if line != "" && indent+len([]rune(line))+1+len([]rune(word)) > 80 {
			fmt.Fprintf(w, "%s\n%s", line, strings.Repeat(" ", indent))
			line = ""
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	fmt.Fprintln(w, line)
}
