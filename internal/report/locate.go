package report

import (
	"math"
	"slices"

	"carryover/internal/bike"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// Locate is the outcome of `carryover locate`, as JSON. Lengths mm, angles degrees.
type Locate struct {
	Schema      int              `json:"schema"`
	Bike        string           `json:"bike"`
	Unknowns    []Unknown        `json:"unknowns"`
	Points      []Point          `json:"points"`
	Readings    []Reading        `json:"readings"`
	Contacts    []LocatedContact `json:"contacts"`
	Fit         Fit              `json:"fit"`
	Aside       *Aside           `json:"aside,omitempty"`
	Findings    []Finding        `json:"slips"`
	Unchecked   []Unchecked      `json:"unchecked"`
	GlobalTest  GlobalTest       `json:"global_test"`
	Plan        *Plan            `json:"plan,omitempty"`
	Assumptions []string         `json:"assumptions"`
	Warnings    []Warning        `json:"warnings"`
}

// Aside is the same bike without its suspects, which is what a carry rests on.
type Aside struct {
	Unknowns []Unknown        `json:"unknowns"`
	Readings []Reading        `json:"readings"`
	Points   []Point          `json:"points"`
	Contacts []LocatedContact `json:"contacts"`
	Fit      Fit              `json:"fit"`
}

// Unknown is one number the adjustment found.
type Unknown struct {
	Name  string  `json:"name"`
	Value float64 `json:"value"`
	Sigma float64 `json:"sigma"`
}

// Point is where a point of the bike lies.
type Point struct {
	Point  string  `json:"point"`
	X      float64 `json:"x"`
	Y      float64 `json:"y"`
	SigmaX float64 `json:"sigma_x"`
	SigmaY float64 `json:"sigma_y"`
}

// Reading is one reading of the file with its place in the adjustment; residual = fitted - value.
type Reading struct {
	Index      int     `json:"index"`
	Name       string  `json:"name"`
	Kind       string  `json:"kind"`
	From       string  `json:"from,omitempty"`
	To         string  `json:"to,omitempty"`
	Of         string  `json:"of,omitempty"`
	Value      float64 `json:"value"`
	Fitted     float64 `json:"fitted"`
	Sigma      float64 `json:"sigma"`
	Residual   float64 `json:"residual"`
	Normalized float64 `json:"normalized"`
	Redundancy float64 `json:"redundancy"`
	Suspect    bool    `json:"suspect"`
}

// LocatedContact is where the rider touches.
type LocatedContact struct {
	Posture    string  `json:"posture"`
	Contact    string  `json:"contact"`
	X          float64 `json:"x"`
	Y          float64 `json:"y"`
	Angle      float64 `json:"angle"`
	SigmaX     float64 `json:"sigma_x"`
	SigmaY     float64 `json:"sigma_y"`
	SigmaAngle float64 `json:"sigma_angle"`
}

// Fit is the global test of the adjustment.
type Fit struct {
	Chi2 float64 `json:"chi2"`
	DOF  int     `json:"dof"`
}

// NewLocate is an adjustment as JSON: the one with every reading, and beside it the one without suspects.
func NewLocate(b *bike.Bike, a *locate.Adjustment) (Locate, error) {
	l := Locate{Schema: 1, Bike: b.File, Readings: []Reading{}, Assumptions: append([]string{}, a.Assumptions()...), Warnings: []Warning{}}
	all := a.WithAll()
	part, err := located(all)
	if err != nil {
		return l, err
	}
	l.Unknowns, l.Points, l.Contacts, l.Fit = part.Unknowns, part.Points, part.Contacts, part.Fit
	if len(a.Suspects()) > 0 {
		without, err := located(a)
		if err != nil {
			return l, err
		}
		l.Aside = &without
	}
	l.Findings, l.Unchecked = NewFindings(a), NewUnchecked(a)
	whole, rest := all.Global(), a.Global()
	l.GlobalTest = GlobalTest{a.Significance, whole.P, whole.Passed, rest.P, rest.Passed}
	l.Readings = Readings(all, a.Suspects())
	if l.Aside != nil {
		l.Aside.Readings = Readings(a, a.Suspects())
	}
	for _, i := range a.Suspects() {
		l.Warnings = append(l.Warnings, Warning{"suspect", "the others contradict " + a.Observations[i].Name})
	}
	for _, text := range append(a.Implausible(), a.Unsupported()...) {
		l.Warnings = append(l.Warnings, Warning{locate.ImplausibleCode, text})
	}
	return l, nil
}

// Readings lists the readings of a file with their places in an adjustment.
func Readings(a *locate.Adjustment, suspects []int) []Reading {
	list := []Reading{}
	judged := a.Judged()
	for i, o := range a.Observations {
		if o.Origin != locate.FromReading {
			continue
		}
		j := judged[i]
		r := Reading{Index: o.Reading.Index, Name: o.Name, Kind: o.Reading.Kind.String(), Value: o.Value, Fitted: j.Fitted, Sigma: o.Sigma,
			Residual: j.Residual, Normalized: j.Normalized, Redundancy: j.Redundancy, Suspect: slices.Contains(suspects, i)}
		switch o.Reading.Kind {
		case bike.Angle:
			r.Of = o.Reading.Of.String()
			r.Value, r.Fitted, r.Sigma, r.Residual = plane.Deg(r.Value), plane.Deg(r.Fitted), plane.Deg(r.Sigma), plane.Deg(r.Residual)
		case bike.SeatTube:
		default:
			r.From, r.To = o.Reading.From.String(), o.Reading.To.String()
		}
		list = append(list, r)
	}
	return list
}

// located is the places of one adjustment.
func located(a *locate.Adjustment) (Aside, error) {
	var p Aside
	for _, v := range a.Values() {
		u := Unknown{v.Name, v.Value, v.Sigma}
		if v.Turns {
			u.Value, u.Sigma = plane.Deg(u.Value), plane.Deg(u.Sigma)
		}
		p.Unknowns = append(p.Unknowns, u)
	}
	p.Points, p.Contacts = []Point{}, []LocatedContact{}
	for _, q := range a.Points() {
		p.Points = append(p.Points, Point{q.Name, q.At.X, q.At.Y, q.SigmaX, q.SigmaY})
	}
	for _, posture := range a.Stance.Bike.Postures {
		if posture.Support <= 0 {
			continue
		}
		pos, err := a.Position(posture)
		if err != nil {
			return p, err
		}
		add := func(name bike.Contact, at plane.Point, angle, sx, sy, sa float64) {
			p.Contacts = append(p.Contacts, LocatedContact{posture.Name, string(name), at.X, at.Y, plane.Deg(angle), sx, sy, plane.Deg(sa)})
		}
		add(pos.Sit.Name, pos.Sit.At, pos.Sit.Angle, pos.Sigma(0), pos.Sigma(1), pos.Sigma(2))
		add(pos.Hands.Name, pos.Hands.At, pos.Hands.Angle, pos.Sigma(3), pos.Sigma(4), pos.Sigma(5))
		if pos.Second != nil {
			add(pos.Second.Name, pos.Second.At, 0, pos.Sigma(6), pos.Sigma(7), 0)
		}
	}
	p.Fit = Fit{math.Max(0, a.Search.Final.Chi2), a.Search.Final.DOF}
	return p, nil
}
