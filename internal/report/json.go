// Package report turns results into what is read: text for a person, JSON for a program.
package report

import (
	"encoding/json"
	"io"
	"math"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// Carry is the outcome of `carryover carry`, as JSON. Lengths mm, angles degrees.
type Carry struct {
	Schema int    `json:"schema"`
	From   string `json:"from"`
	To     string `json:"to"`
	// FromName and ToName are what the files call the bikes.
	FromName string           `json:"from_name"`
	ToName   string           `json:"to_name"`
	Suspects []locate.Finding `json:"suspects"`
	Results  []Result         `json:"results"`
	Failed   []Failed         `json:"failed,omitempty"`
}

// NewCarry is a carry without results yet.
func NewCarry(from, to string, source, target *bike.Bike, a *locate.Adjustment) Carry {
	return Carry{Schema: 1, From: from, To: to, FromName: source.Name, ToName: target.Name, Suspects: a.Found(), Results: []Result{}}
}

// Result is one posture carried.
type Result struct {
	Posture      string      `json:"posture"`
	Carried      bool        `json:"carried"`
	Combinations float64     `json:"combinations"`
	Proven       bool        `json:"proven"`
	Crank        float64     `json:"crank"`
	Error        float64     `json:"error"`
	SecondError  *float64    `json:"second_error"`
	Settings     []Placed    `json:"settings"`
	Parts        []Part      `json:"parts"`
	Contacts     []Contact   `json:"contacts"`
	Checks       []Check     `json:"checks"`
	References   []Reference `json:"references"`
	Assumptions  []string    `json:"assumptions"`
	Warnings     []Warning   `json:"warnings"`
	Explained
	Pads    *Pads   `json:"pads,omitempty"`
	*Choice         // what else could be fitted, when asked for
	Spread  *Spread `json:"spread,omitempty"` // asked for with --draws or --blame
	Body    any     `json:"body,omitempty"`   // when the rider file gives lengths
}

// Failed is a posture that cannot be carried, with why.
type Failed struct {
	Posture string `json:"posture"`
	Why     string `json:"why"`
}

// Setting is one number to set; mark in scale units, travel and sigma in mm or degrees.
type Setting struct {
	Adjuster string   `json:"adjuster"`
	Mark     *float64 `json:"mark"` // nil: nothing to read it on
	Travel   float64  `json:"travel"`
	Sigma    float64  `json:"sigma"`
	// SigmaTotal is what everything leaves open.
	SigmaTotal float64 `json:"sigma_total"`
	Limit      string  `json:"limit"`
}

// shown is the mark where there is one, else the travel.
func (s Setting) shown() float64 {
	if s.Mark == nil {
		return s.Travel
	}
	return *s.Mark
}

// markOf is what the scale of a setting shows; a setting without an adjuster counts in mm or degrees itself.
func markOf(set carry.Setting) *float64 {
	if set.Adjuster >= 0 && !set.Scale {
		return nil
	}
	m := set.Mark()
	return &m
}

// Part is what was chosen for an open slot.
type Part struct {
	Slot string `json:"slot"`
	Part string `json:"part"`
	Flip bool   `json:"flip"`
}

// Pose is a place and an angle.
type Pose struct {
	X     float64 `json:"x"`
	Y     float64 `json:"y"`
	Angle float64 `json:"angle"`
}

// Contact is one contact, wanted and got; primary ones decide whether the position is carried.
type Contact struct {
	Contact   string  `json:"contact"`
	Primary   bool    `json:"primary"`
	Want      Pose    `json:"want"`
	Got       Pose    `json:"got"`
	Miss      float64 `json:"miss"`
	MissAngle float64 `json:"miss_angle"`
	// What the source's readings leave open in the miss; 0 where the settings follow whatever they say.
	MissSigma      float64 `json:"miss_sigma"`
	MissAngleSigma float64 `json:"miss_angle_sigma"`
	Carried        bool    `json:"carried"`
}

// Check is a tape reading to take on the bike once set up; Name is what the trade calls it.
type Check struct {
	Name  string  `json:"name,omitempty"`
	Kind  string  `json:"kind"`
	From  string  `json:"from,omitempty"`
	To    string  `json:"to,omitempty"`
	Of    string  `json:"of,omitempty"`
	Value float64 `json:"value"`
	Sigma float64 `json:"sigma"`
}

// Reference is one reference of the saddle on both bikes.
type Reference struct {
	Reference string       `json:"reference"`
	Source    ReferenceRow `json:"source"`
	Target    ReferenceRow `json:"target"`
	// Away is how far from the wanted place one would sit with the setback kept at this reference (forward)
	// and with the height above the BB kept at it (up).
	Away Shift `json:"away"`
}

// ReferenceRow is a reference's distance behind the BB, height above it and straight distance from it.
type ReferenceRow struct {
	Setback float64 `json:"setback"`
	Height  float64 `json:"height"`
	Line    float64 `json:"line"`
}

// Warning is something the rider should know.
type Warning struct {
	Code string `json:"code"`
	Text string `json:"text"`
}

// Write prints a result as indented JSON. encoding/json refuses NaN and infinities: they never get out.
func Write(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	return e.Encode(v)
}

// pose converts a contact; the angle of a second contact is no part of it and is given as 0.
func pose(c assembly.Contact, primary bool) Pose {
	p := Pose{X: c.At.X, Y: c.At.Y}
	if primary {
		p.Angle = plane.Deg(c.Angle)
	}
	return p
}

// NewResult is a solution as JSON.
func NewResult(s *carry.Solution, source *locate.Adjustment) (Result, error) {
	r := Result{Posture: s.Position.Posture.Name, Carried: s.Carried(), Combinations: s.Combinations, Proven: s.Proven,
		Crank: s.Want.Crank, Error: s.E, Parts: []Part{}, Assumptions: []string{}, Warnings: []Warning{}}
	if !math.IsNaN(s.Second) {
		second := s.Second
		r.SecondError = &second
	}
	steps, err := s.Order()
	if err != nil {
		return r, err
	}
	r.Settings = placed(s, steps)
	r.Explained = explain(s, steps, source)
	for _, p := range s.Parts {
		r.Parts = append(r.Parts, Part{p.Slot, p.ID, p.Flip})
	}
	sure, err := s.Uncertain(0)
	if err != nil {
		return r, err
	}
	for i, c := range s.Contacts {
		open := sure.Contacts[i]
		r.Contacts = append(r.Contacts, Contact{string(c.Want.Name), c.Primary, pose(c.Want, c.Primary),
			pose(c.Got, c.Primary), c.Miss, plane.Deg(c.MissAngle), open.Miss, plane.Deg(open.MissAngle), c.Carried})
	}
	checks, err := s.Checks()
	if err != nil {
		return r, err
	}
	for _, c := range checks {
		r.Checks = append(r.Checks, NewCheck(c))
	}
	rows, amb := s.References(source.Stance)
	for _, row := range rows {
		r.References = append(r.References, Reference{row.Name, referenceRow(row.Source), referenceRow(row.Target), Shift{row.Away.X, row.Away.Y}})
	}
	r.Ambiguity = Ambiguity{Level: amb.Level, Plumb: amb.Plumb}
	if amb.UsualOK {
		r.Ambiguity.Usual = &Shift{amb.Usual.X, amb.Usual.Y}
	}
	r.Assumptions = append(r.Assumptions, source.Assumptions()...)
	for _, w := range s.Warnings {
		r.Warnings = append(r.Warnings, Warning(w))
	}
	for _, text := range source.Implausible() {
		r.Warnings = append(r.Warnings, Warning{locate.ImplausibleCode, text})
	}
	return r, nil
}

func referenceRow(p plane.Point) ReferenceRow {
	return ReferenceRow{Setback: -p.X, Height: p.Y, Line: p.Norm()}
}

// NewCheck is a check reading as JSON.
func NewCheck(c carry.Check) Check {
	v, sigma := c.Value, c.Sigma
	if c.Reading.Kind == bike.Angle {
		return Check{Name: c.Reading.Written, Kind: c.Reading.Kind.String(), Of: c.Reading.Of.String(), Value: plane.Deg(v), Sigma: plane.Deg(sigma)}
	}
	out := Check{Name: c.Reading.Written, Kind: c.Reading.Kind.String(), Value: v, Sigma: sigma}
	if c.Reading.Kind != bike.SeatTube {
		out.From, out.To = c.Reading.From.String(), c.Reading.To.String()
	}
	return out
}
