package report

import (
	"fmt"
	"io"
	"math"
	"strings"

	"carryover/internal/alternate"
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
}

// AlternateSet is one setting; mark in scale units, travel in mm or degrees.
type AlternateSet struct {
	Adjuster string  `json:"adjuster"`
	Mark     float64 `json:"mark"`
	Travel   float64 `json:"travel"`
	Moved    bool    `json:"moved"`
}

// Changeover is what to move to go from one posture to another, in order.
type Changeover struct {
	From  string           `json:"from"`
	To    string           `json:"to"`
	Steps []ChangeoverStep `json:"steps"`
}

// ChangeoverStep is one setting to move; marks in scale units, by in mm or degrees.
type ChangeoverStep struct {
	Adjuster string  `json:"adjuster"`
	From     float64 `json:"from_mark"`
	To       float64 `json:"to_mark"`
	By       float64 `json:"by"`
	Turns    bool    `json:"turns"`
}

// NewAlternate is a result as JSON; moves picks the row of the changeover card, -1 the fewest that carry.
func NewAlternate(to string, sources []alternate.Source, r *alternate.Result, moves int) Alternate {
	a := Alternate{Schema: 1, To: to, Crank: r.Crank, Proven: r.Proven(), Tolerance: alternate.Tolerance, Movable: append([]string{}, r.Movable...),
		Searched: r.Searches, Sets: r.Sets, Notes: append([]string{}, r.Cranks...), Changes: []Changeover{},
		Objective: "least root of the sum over the postures of E²"}
	for _, s := range sources {
		a.Postures = append(a.Postures, s.Label)
	}
	for i := range r.Rows {
		a.Rows = append(a.Rows, newAlternateRow(&r.Rows[i]))
	}
	row := r.Best()
	if moves >= 0 {
		row = &r.Rows[min(moves, len(r.Rows)-1)]
	}
	a.Chosen = row.Moves
	last := len(sources) - 1
	for i := range last {
		a.Changes = append(a.Changes, newChangeover(row, i, i+1))
	}
	if last > 1 {
		a.Changes = append(a.Changes, newChangeover(row, last, 0))
	}
	return a
}

func newAlternateRow(r *alternate.Row) AlternateRow {
	row := AlternateRow{Moves: r.Moves, Moved: append([]string{}, r.Moved...), Error: r.E, Worst: r.Worst(),
		WorstAngle: plane.Deg(r.WorstAngle()), Carried: r.Carried(), Proven: r.Proven, Parts: []Part{}}
	for _, p := range r.Parts {
		row.Parts = append(row.Parts, Part{p.Slot, p.ID, p.Flip, p.Price})
	}
	for _, o := range r.Outcomes {
		s := AlternateStand{Posture: o.Label}
		for _, v := range o.Values {
			travel := v.Travel
			if v.Turns {
				travel = plane.Deg(travel)
			}
			s.Settings = append(s.Settings, AlternateSet{v.Name, v.Mark, travel, v.Moved})
		}
		for _, c := range o.Contacts {
			s.Contacts = append(s.Contacts, Contact{Contact: string(c.Want.Name), Primary: c.Primary, Want: pose(c.Want, c.Primary),
				Got: pose(c.Got, c.Primary), Miss: c.Miss, MissAngle: plane.Deg(c.MissAngle), Carried: c.Carried})
		}
		row.Postures = append(row.Postures, s)
	}
	return row
}

func newChangeover(r *alternate.Row, from, to int) Changeover {
	c := Changeover{From: r.Outcomes[from].Label, To: r.Outcomes[to].Label, Steps: []ChangeoverStep{}}
	for _, s := range r.Changeover(from, to) {
		by := s.By
		if s.Turns {
			by = plane.Deg(by)
		}
		c.Steps = append(c.Steps, ChangeoverStep{s.Name, s.From, s.To, by, s.Turns})
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
		moved := diag.Visible(strings.Join(r.Moved, ", "))
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
	fmt.Fprintln(w, "\nStays in every posture")
	seen := map[string]bool{}
	for _, c := range a.Changes {
		for _, s := range c.Steps {
			seen[s.Adjuster] = true
		}
	}
	for _, p := range row.Postures {
		for _, s := range p.Settings {
			if !s.Moved && !seen[s.Adjuster] {
				seen[s.Adjuster] = true
				fmt.Fprintf(w, "  %-24s %8s\n", diag.Visible(s.Adjuster), mark(s.Mark))
			}
		}
	}
	for _, c := range a.Changes {
		fmt.Fprintf(w, "\nChangeover: %s -> %s (the way back: from the bottom up)\n", diag.Visible(c.From), diag.Visible(c.To))
		if len(c.Steps) == 0 {
			fmt.Fprintln(w, "  nothing moves")
			continue
		}
		fmt.Fprintf(w, "  %-27s %8s  -> %8s  %10s\n", "", "from", "to", "by")
		for i, s := range c.Steps {
			unit := "mm"
			if s.Turns {
				unit = "°"
			}
			fmt.Fprintf(w, "  %d. %-24s %8s <-> %8s  %+7.1f %s\n", i+1, diag.Visible(s.Adjuster), mark(s.From), mark(s.To), s.By, unit)
		}
	}
}

// mark is a reading of a scale: to a hundredth, which on a scale in centimetres is a tenth of a millimetre.
func mark(v float64) string {
	if math.Abs(v) < 0.005 {
		v = 0
	}
	return fmt.Sprintf("%.2f", v)
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
