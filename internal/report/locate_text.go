package report

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/diag"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// Finding is a suspect with what the others say it should be, and the slips that would explain it.
type Finding struct {
	Index      int      `json:"index"` // of the reading; 0 for a mark or a stated value
	Name       string   `json:"name"`
	Unit       string   `json:"unit"` // mm or deg
	Value      float64  `json:"value"`
	Others     float64  `json:"others"`
	Sigma      float64  `json:"sigma"` // of what the others say
	Normalized float64  `json:"normalized"`
	Aside      bool     `json:"aside"` // taken out of the answer
	Twins      []string `json:"twins"`
	Rivals     []string `json:"rivals"`
	Slip       *Slip    `json:"slip"`     // the one that explains it; null when none does, or several
	Possible   []Slip   `json:"possible"` // the likeliest first
	leads      bool     // the first is likelier than the next
	Anchor     bool     `json:"anchor"` // it, a twin or a rival is where an anchor is
}

// Slip is a usual way to go wrong.
type Slip struct {
	Of    string  `json:"of"` // what went wrong: the suspect, or one of its twins and rivals
	Code  string  `json:"code"`
	Value float64 `json:"value"` // what it should have been
	Text  string  `json:"text"`
	own   bool    // of the suspect itself
}

// Unchecked is a reading that nothing else checks.
type Unchecked struct {
	Index      int     `json:"index"`
	Name       string  `json:"name"`
	Redundancy float64 `json:"redundancy"`
}

// GlobalTest is the chi-square test of all readings together, and again without the suspects.
type GlobalTest struct {
	Significance float64 `json:"significance"`
	P            float64 `json:"p"`
	Passed       bool    `json:"passed"`
	PAside       float64 `json:"p_aside"`
	PassedAside  bool    `json:"passed_aside"`
}

// Plan is which readings to take next.
type Plan struct {
	Of    string     `json:"of"` // settings or contacts
	To    string     `json:"to,omitempty"`
	Now   float64    `json:"now"` // root of the summed variances, mm
	Steps []PlanStep `json:"steps"`
}

// PlanStep is one reading to take; gain is how much smaller it makes the uncertainty, mm.
type PlanStep struct {
	Reading string  `json:"reading"`
	Kind    string  `json:"kind"`
	From    string  `json:"from,omitempty"`
	To      string  `json:"to,omitempty"`
	Of      string  `json:"of,omitempty"`
	Again   bool    `json:"again"`
	Sigma   float64 `json:"sigma"`
	After   float64 `json:"after"`
	Gain    float64 `json:"gain"`
}

func observedAs(a *locate.Adjustment, i int) string {
	o := a.Observations[i]
	switch o.Origin {
	case locate.FromReading:
		return fmt.Sprintf("reading %d, %s", o.Reading.Index, o.Name)
	case locate.FromMark:
		return "the mark of " + o.Name
	case locate.FromAnchor:
		return "the anchor " + o.Name
	case locate.FromStated:
		return o.Name + " as stated"
	}
	return o.Name + " as assumed"
}

// NewFindings explains the suspects of an adjustment.
func NewFindings(a *locate.Adjustment) []Finding {
	out := []Finding{}
	for _, f := range a.Findings() {
		o := a.Observations[f.Observation]
		unit, show := "mm", func(v float64) float64 { return v }
		if o.Turns {
			unit, show = "deg", plane.Deg
		}
		j := Finding{Name: o.Name, Unit: unit, Value: show(o.Value), Others: show(f.Others), Sigma: show(f.Sigma),
			Normalized: f.Normalized, Aside: f.Aside, leads: f.Leads, Twins: []string{}, Rivals: []string{}, Possible: []Slip{}}
		if o.Reading != nil {
			j.Index = o.Reading.Index
		}
		if o.Origin == locate.FromAnchor {
			j.Name = "anchor " + o.Name
		}
		for _, k := range slices.Concat([]int{f.Observation}, f.Twins, f.Rivals) {
			j.Anchor = j.Anchor || a.Observations[k].Origin == locate.FromAnchor
		}
		for _, t := range f.Twins {
			j.Twins = append(j.Twins, observedAs(a, t))
		}
		for _, t := range f.Rivals {
			j.Rivals = append(j.Rivals, observedAs(a, t))
		}
		for _, s := range f.Slips {
			j.Possible = append(j.Possible, newSlip(a, s, f.Observation))
		}
		if len(j.Possible) == 1 {
			j.Slip = &j.Possible[0]
		}
		out = append(out, j)
	}
	return out
}

func newSlip(a *locate.Adjustment, s locate.Slip, suspect int) Slip {
	v := s.Value
	if a.Observations[s.Observation].Turns {
		v = plane.Deg(v)
	}
	return Slip{observedAs(a, s.Observation), s.Code, v, s.Words, s.Observation == suspect}
}

// explanation names the one slip that explains a finding best; none when nothing tells them apart.
func (f *Finding) explanation() string {
	switch {
	case f.Slip != nil:
		return f.Slip.looksLike()
	case len(f.Possible) > 1 && f.leads:
		return strings.TrimSuffix(f.Possible[0].looksLike(), ".") + ", though another slip would explain it too."
	case len(f.Possible) > 1:
		return " Several slips would explain it alike, so none is named."
	}
	return ""
}

// looksLike says which slip it is likely to be.
func (s *Slip) looksLike() string {
	if s.own {
		return " It looks like " + s.Text + "."
	}
	return " It looks like " + diag.Shorten(s.Of, 50) + ": " + s.Text + "."
}

// NewUnchecked lists the readings that nothing else checks.
func NewUnchecked(a *locate.Adjustment) []Unchecked {
	out := []Unchecked{}
	judged := a.Judged()
	for _, i := range a.Unchecked() {
		o := a.Observations[i]
		out = append(out, Unchecked{o.Reading.Index, o.Name, judged[i].Redundancy})
	}
	return out
}

// NewPlan is a plan as JSON.
func NewPlan(of, to string, now float64, steps []locate.Step) *Plan {
	p := &Plan{Of: of, To: to, Now: now, Steps: []PlanStep{}}
	for _, s := range steps {
		c := NewCheck(carry.Check{Reading: s.Reading, Sigma: s.Reading.Sigma})
		p.Steps = append(p.Steps, PlanStep{Reading: s.Reading.Written, Kind: c.Kind, From: c.From, To: c.To, Of: c.Of,
			Again: s.Again, Sigma: c.Sigma, After: s.Spread, Gain: s.Gain})
	}
	return p
}

// LocateText writes an adjustment for a person, in 80 columns.
func LocateText(w io.Writer, l Locate, bold bool) error {
	p := &page{bold: bold}
	p.para("", diag.Shorten(l.Bike, 60)+": where its parts and contacts are, in mm from the BB (x forward, y up) and degrees. "+
		"± is one standard uncertainty: two times in three the truth is nearer than that.")
	if slices.ContainsFunc(l.Findings, func(f Finding) bool { return !f.Aside }) {
		p.line("")
		p.strong("LOCATED FROM READINGS THAT DISAGREE: mend them first.")
	}
	p.findings(l)
	p.readings(l)
	unknowns, contacts := l.Unknowns, l.Contacts
	if l.Aside != nil {
		unknowns, contacts = l.Aside.Unknowns, l.Aside.Contacts
	}
	if len(contacts) > 0 {
		p.heading("Contacts")
		p.line("  posture     contact          x              y            angle")
		for _, c := range contacts {
			angle := num(c.Angle, 1) + " ± " + num(c.SigmaAngle, 1) + "°"
			if c.Contact == string(bike.Drop) && c.SigmaAngle == 0 || c.Contact == string(bike.Grip) {
				angle = ""
			}
			p.line("  " + name(c.Posture, 12) + left(c.Contact, 8) + right(num(c.X, 1), 8) + left(" ± "+num(c.SigmaX, 1), 8) +
				right(num(c.Y, 1), 7) + left(" ± "+num(c.SigmaY, 1), 8) + right(angle, 14))
		}
	}
	p.heading("Parts")
	for _, u := range unknowns {
		unit := " mm"
		if isTurn(u.Name) {
			unit = "°"
		}
		p.line("  " + name(u.Name, 20) + right(num(u.Value, 1), 9) + " ± " + num(u.Sigma, 1) + unit)
	}
	for _, a := range l.Assumptions {
		p.para("? ", diag.Visible("assumed: "+a))
	}
	if l.Plan != nil {
		p.plan(*l.Plan)
	}
	_, err := io.WriteString(w, p.b.String())
	return err
}

// isTurn tells the unknowns that are angles by their names, which are fixed.
func isTurn(n string) bool {
	return strings.HasSuffix(n, ".tilt") || strings.HasSuffix(n, ".rotation") || strings.HasSuffix(n, ".angle")
}

func (p *page) findings(l Locate) {
	for _, f := range l.Findings {
		what := diag.Shorten(f.Name, 40)
		if f.Index > 0 {
			what = fmt.Sprintf("reading %d, %s", f.Index, what)
		}
		text := fmt.Sprintf("%s = %s does not fit the others, which say %s ± %s.", what, amount(f.Value, f.Unit),
			amount(f.Others, f.Unit), num(f.Sigma, 1))
		text += f.explanation()
		var also []string
		for _, t := range append(append([]string{}, f.Twins...), f.Rivals...) {
			also = append(also, diag.Shorten(t, 50))
		}
		switch {
		case !f.Aside:
			text += " It may as well be " + strings.Join(also, " or ") + " that is wrong: nothing is set aside; measure these again."
		case len(also) > 0:
			text += " It is set aside; hardly less likely is that " + strings.Join(also, " or ") + " is wrong. Measure these again."
		default:
			text += " It is set aside; measure it again."
		}
		p.line("")
		p.para("! ", text)
	}
	if t := l.GlobalTest; !t.PassedAside {
		stands := "No single one stands out; the ± may be too small, or a part may have another shape."
		if slices.ContainsFunc(l.Findings, func(f Finding) bool { return !f.Aside }) {
			stands = "Where the parts lie, below, is no more than a compromise between them."
		}
		p.line("")
		p.para("! ", fmt.Sprintf("Taken together the readings disagree by more than their ± allows: that happens by chance %s. %s", onceIn(t.PAside), stands))
	}
	for _, w := range l.Warnings {
		if w.Code == locate.ImplausibleCode {
			p.line("")
			p.para("! ", diag.Visible(sentence(w.Text)))
		}
	}
}

// onceIn says how rarely something of probability v happens.
func onceIn(v float64) string {
	const most = 1e9
	if v < 1/most {
		return "less than once in " + num(most, 0) + " times"
	}
	return "once in " + num(1/v, 0) + " times"
}

func (p *page) readings(l Locate) {
	p.heading("Readings")
	p.line("   no  what                             read      fits     off    ±")
	unchecked := map[int]bool{}
	for _, u := range l.Unchecked {
		unchecked[u.Index] = true
	}
	suspects, lonely := false, false
	readings := l.Readings
	if l.Aside != nil { // what remains beside the answer, not beside what a wrong reading made of it
		readings = l.Aside.Readings
	}
	for _, r := range readings {
		unit := ""
		if r.Of != "" {
			unit = "°"
		}
		mark := ""
		if r.Suspect {
			mark, suspects = "  !", true
		} else if unchecked[r.Index] {
			mark, lonely = "  (unchecked)", true
		}
		p.line(fmt.Sprintf("  %3d  ", r.Index) + name(r.Name, 27) + right(num(r.Value, 1)+unit, 10) + right(num(r.Fitted, 1)+unit, 10) +
			right(signed(r.Residual, 1), 8) + right(num(r.Sigma, 1), 5) + mark)
	}
	if suspects {
		p.para("  ! ", "does not fit the others")
	}
	if lonely {
		p.para("  ", "(unchecked): no other reading would show an error in it; take one more that sees the same thing, or this one twice")
	}
	t := l.GlobalTest
	verdict := "they agree within their ±"
	switch {
	case l.Fit.DOF == 0:
		p.para("  ", "All together: no reading checks another, so nothing tells whether they are right.")
		return
	case !t.Passed:
		verdict = "with every reading in they do not agree within their ±"
	}
	p.para("  ", fmt.Sprintf("All together: %s (chi-square %s with %d to spare, p = %.2g, tested at %g).", verdict, num(l.Fit.Chi2, 1), l.Fit.DOF, t.P, t.Significance))
}

func (p *page) plan(plan Plan) {
	p.heading("What to measure next")
	of := "of the contacts"
	if plan.To != "" {
		of = "of the settings of " + diag.Shorten(plan.To, 30)
	}
	if len(plan.Steps) == 0 {
		p.para("  ", "Nothing: the uncertainty "+of+" is "+num(plan.Now, 1)+" mm in all, and no usual reading would make it noticeably smaller.")
		return
	}
	p.para("  ", "The uncertainty "+of+", all added up as squares, is "+num(plan.Now, 1)+" mm. In this order each reading takes off most:")
	p.line("      reading                                       takes off   leaves")
	for i, s := range plan.Steps {
		what := s.Reading
		if s.Again {
			what += " (once more)"
		}
		p.line(fmt.Sprintf("  %2d  ", i+1) + name(what, 44) + right(num(s.Gain, 2)+" mm", 11) + right(num(s.After, 2)+" mm", 11))
	}
}
