package report

import (
	"fmt"
	"slices"

	"carryover/internal/carry"
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
	Anchor     bool     `json:"anchor"`   // it, a twin or a rival is where an anchor is
}

// Slip is a usual way to go wrong.
type Slip struct {
	Of    string  `json:"of"` // what went wrong: the suspect, or one of its twins and rivals
	Code  string  `json:"code"`
	Value float64 `json:"value"` // what it should have been
	Text  string  `json:"text"`
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
			Normalized: f.Normalized, Aside: f.Aside, Twins: []string{}, Rivals: []string{}, Possible: []Slip{}}
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
			j.Possible = append(j.Possible, newSlip(a, s))
		}
		if len(j.Possible) == 1 {
			j.Slip = &j.Possible[0]
		}
		out = append(out, j)
	}
	return out
}

func newSlip(a *locate.Adjustment, s locate.Slip) Slip {
	v := s.Value
	if a.Observations[s.Observation].Turns {
		v = plane.Deg(v)
	}
	return Slip{observedAs(a, s.Observation), s.Code, v, s.Words}
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
