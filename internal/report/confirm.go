package report

import (
	"fmt"
	"io"
	"math"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/confirm"
	"carryover/internal/diag"
	"carryover/internal/plane"
)

// Confirm is the outcome of `carryover confirm`, as JSON. Lengths mm, angles degrees.
type Confirm struct {
	Schema    int         `json:"schema"`
	From      string      `json:"from"`
	To        string      `json:"to"`
	Keep      bool        `json:"keep"` // what to change on FROM to match TO, rather than to correct on TO
	Inside    bool        `json:"inside"`
	Tolerance Tolerance   `json:"tolerance"`
	Results   []Confirmed `json:"results"`
	// Suspects of either bike, with the file they are in.
	FromSuspects []Finding `json:"from_suspects"`
	ToSuspects   []Finding `json:"to_suspects"`
	Assumptions  []string  `json:"assumptions"`
}

// Tolerance is how far a contact may be off.
type Tolerance struct {
	MM      float64 `json:"mm"`
	Degrees float64 `json:"degrees"`
}

// Confirmed is one posture.
type Confirmed struct {
	Posture     string             `json:"posture"`
	Inside      bool               `json:"inside"`
	Contacts    []ConfirmedContact `json:"contacts"`
	Corrections []Correction       `json:"corrections"`
	Cured       bool               `json:"cured"` // the corrections bring every primary contact inside
	After       []ConfirmedAfter   `json:"after"`
	Changes     []Change           `json:"changes"` // what a tape reads before and after, with keep
}

// ConfirmedContact is where a contact is against where it should be; off is got - want.
type ConfirmedContact struct {
	Contact    string  `json:"contact"`
	Primary    bool    `json:"primary"`
	Want       Pose    `json:"want"`
	Got        Pose    `json:"got"`
	OffX       float64 `json:"off_x"`
	OffY       float64 `json:"off_y"`
	SigmaX     float64 `json:"sigma_x"`
	SigmaY     float64 `json:"sigma_y"`
	Miss       float64 `json:"miss"`
	SigmaMiss  float64 `json:"sigma_miss"`
	MissAngle  float64 `json:"miss_angle"`
	SigmaAngle float64 `json:"sigma_angle"`
	Inside     bool    `json:"inside"`
}

// Correction is one thing to move, from mark to mark; without a scale in mm or degrees. Toward is where it goes,
// tape the reading to set it by where there is no scale.
type Correction struct {
	Adjuster string  `json:"adjuster"`
	Scale    bool    `json:"scale"`
	From     float64 `json:"from"`
	To       float64 `json:"to"`
	Travel   float64 `json:"travel"` // mm or degrees
	Unit     string  `json:"unit"`
	Toward   string  `json:"toward"`
	Tape     *Taped  `json:"tape,omitempty"`
}

// Taped is a reading before and once everything is corrected.
type Taped struct {
	Before Check `json:"before"`
	After  Check `json:"after"`
}

// ConfirmedAfter is what a primary contact misses by once the corrections are made.
type ConfirmedAfter struct {
	Contact   string  `json:"contact"`
	Miss      float64 `json:"miss"`
	MissAngle float64 `json:"miss_angle"`
	Inside    bool    `json:"inside"`
}

// Change is what a reading of the bike shows now and then.
type Change struct {
	Reading string  `json:"reading"`
	Before  float64 `json:"before"`
	After   float64 `json:"after"`
	Unit    string  `json:"unit"`
}

// NewTolerance is the tolerance of a carried contact.
func NewTolerance() Tolerance { return Tolerance{carry.CarriedMM, plane.Deg(carry.CarriedRad)} }

// NewConfirmed is a confirmed posture as JSON.
func NewConfirmed(r *confirm.Result, changes []confirm.Change) Confirmed {
	out := Confirmed{Posture: r.Posture.Name, Inside: r.Inside(), Cured: r.Cured, Contacts: []ConfirmedContact{},
		Corrections: []Correction{}, After: []ConfirmedAfter{}, Changes: []Change{}}
	for _, c := range r.Contacts {
		out.Contacts = append(out.Contacts, ConfirmedContact{string(c.Want.Name), c.Primary, pose(c.Want, c.Primary), pose(c.Got, c.Primary),
			c.Away.X, c.Away.Y, c.SigmaX, c.SigmaY, c.Miss, c.SigmaMiss, plane.Deg(c.MissAngle), plane.Deg(c.SigmaAngle), c.Inside})
	}
	for _, c := range r.Corrections {
		unit, show := unitOf(c.Turns)
		k := Correction{Adjuster: c.Name, Scale: c.Scale, From: c.From, To: c.To, Travel: show(c.Travel), Unit: unit, Toward: c.Toward}
		if c.Tape != nil {
			k.Tape = &Taped{NewCheck(carry.Check{Reading: c.Tape.Reading, Value: c.Tape.Before}), NewCheck(carry.Check{Reading: c.Tape.Reading, Value: c.Tape.After})}
		}
		out.Corrections = append(out.Corrections, k)
	}
	for _, c := range r.After {
		out.After = append(out.After, ConfirmedAfter{string(c.Want.Name), c.Miss, plane.Deg(c.MissAngle), c.Inside})
	}
	for _, c := range changes {
		unit, show := unitOf(c.Reading.Kind == bike.Angle)
		out.Changes = append(out.Changes, Change{c.Reading.Written, show(c.Before), show(c.After), unit})
	}
	return out
}

// ConfirmText writes a confirmation for a person, in 80 columns.
func ConfirmText(w io.Writer, c Confirm, bold bool) error {
	p := &page{bold: bold}
	to, from := diag.Shorten(c.To, 40), diag.Shorten(c.From, 40)
	if c.Keep {
		p.para("", fmt.Sprintf("What to change on %s so that it feels like %s. ± is one standard uncertainty.", from, to))
	} else {
		p.para("", fmt.Sprintf("%s as set up, against %s. ± is one standard uncertainty, from the readings of both bikes.", to, from))
	}
	p.suspicions(from, c.FromSuspects)
	p.suspicions(to, c.ToSuspects)
	for _, r := range c.Results {
		p.confirmed(r, c)
	}
	for _, a := range c.Assumptions {
		p.para("? ", diag.Visible("assumed: "+a))
	}
	_, err := io.WriteString(w, p.b.String())
	return err
}

// suspicions names what does not fit on one of the bikes.
func (p *page) suspicions(file string, list []Finding) {
	for _, f := range list {
		what := "the mark or value of " + diag.Shorten(f.Name, 40)
		switch {
		case strings.HasPrefix(f.Name, "anchor "):
			what = "the " + f.Name
		case f.Index > 0:
			what = fmt.Sprintf("reading %d, %s", f.Index, diag.Shorten(f.Name, 40))
		}
		text := fmt.Sprintf("%s: %s = %s does not fit the rest, which says %s ± %s.", file, what, amount(f.Value, f.Unit), amount(f.Others, f.Unit), num(f.Sigma, 1))
		text += f.explanation()
		var twins []string
		for _, t := range f.Twins {
			twins = append(twins, diag.Shorten(t, 50))
		}
		may := " It may as well be " + strings.Join(twins, " or ") + " that is wrong"
		switch {
		case len(twins) > 0 && f.Aside:
			text += may + ", which comes to the same: what the tape says holds."
		case len(twins) > 0:
			text += may + ": nothing is set aside."
		default:
			text += " It is set aside."
		}
		if f.Anchor {
			text += " If the marks and the tape are right, the anchor in the file is not: `carryover calibrate` learns it."
		}
		p.para("! ", text)
	}
}

func (p *page) confirmed(r Confirmed, c Confirm) {
	p.line("")
	verdict := "every contact is inside"
	if !r.Inside {
		verdict = "a contact is off"
	}
	p.strong(fmt.Sprintf("Posture %s: %s (tolerance %s mm and %s°)", diag.Shorten(r.Posture, 30), verdict, num(c.Tolerance.MM, 0), num(c.Tolerance.Degrees, 0)))
	for _, k := range r.Contacts {
		text := fmt.Sprintf("%s, %s", direction(k.OffX, "ahead", "behind"), direction(k.OffY, "too high", "too low"))
		text += fmt.Sprintf(" (off by %s ± %s mm", num(k.Miss, 1), num(k.SigmaMiss, 1))
		if k.Primary {
			text += fmt.Sprintf("; angle off by %s ± %s°", signed(k.MissAngle, 1), num(k.SigmaAngle, 1))
		}
		text += ")"
		state := "inside"
		switch {
		case !k.Inside && k.Primary:
			state = "OFF"
		case !k.Inside:
			state = "differs"
		}
		p.para("  "+left(k.Contact, 6)+left(state, 8), text)
	}
	on := c.To
	if c.Keep {
		on = c.From
	}
	p.corrections(r, diag.Shorten(on, 40))
	if len(r.Changes) > 0 {
		p.line("")
		p.line("  What a tape reads there             now       then    change")
		for _, k := range r.Changes {
			p.line("  " + name(k.Reading, 28) + right(amount(k.Before, k.Unit), 12) + right(amount(k.After, k.Unit), 11) + right(signed(k.After-k.Before, 1), 10))
		}
	}
}

func (p *page) corrections(r Confirmed, on string) {
	if r.Inside {
		return
	}
	p.line("")
	switch {
	case len(r.Corrections) == 0 && len(r.Changes) > 0:
		p.para("  ", on+" has no scales for this; change it until the tape reads as below.")
		return
	case len(r.Corrections) == 0:
		p.para("  ", "Nothing on "+on+" that can be moved brings it nearer.")
		return
	case r.Cured:
		p.para("  ", "The fewest things to move on "+on+":")
	default:
		p.para("  ", "As near as "+on+" comes, which is not inside:")
	}
	for _, k := range r.Corrections {
		p.correction(k)
	}
	var after []string
	for _, k := range r.After {
		after = append(after, fmt.Sprintf("%s %s mm and %s°", k.Contact, num(k.Miss, 1), num(math.Abs(k.MissAngle), 1)))
	}
	p.para("  ", "Then off by: "+strings.Join(after, ", ")+".")
}

// correction is one line: from where the scale stands to where it should, or what a tape says instead.
func (p *page) correction(k Correction) {
	unit := map[string]string{"mm": " mm", "deg": "°"}[k.Unit]
	move := num(math.Abs(k.Travel), 1) + unit + " " + k.Toward
	label := "    " + name(settingName(k.Adjuster), 24)
	switch {
	case k.Tape != nil:
		p.para(label, fmt.Sprintf("no scale: %s %s → %s (%s)", checkPhrase(k.Tape.After), checkValue(k.Tape.Before), checkValue(k.Tape.After), move))
	case k.Scale:
		p.line(label + right(num(k.From, 2), 8) + " → " + left(num(k.To, 2), 9) + "(" + move + ")")
	default:
		p.line(label + right(num(k.From, 1), 8) + " → " + left(num(k.To, 1)+unit, 9) + "(" + move + ")")
	}
}

// direction says in words which way something is off.
func direction(v float64, more, less string) string {
	word := more
	if v < 0 {
		word = less
	}
	return num(math.Abs(v), 1) + " mm " + word
}
