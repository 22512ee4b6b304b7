package locate

import (
	"encoding/json"
	"fmt"
	"slices"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/plane"
)

// Account is all that a bike's readings say of it: the places with every reading in, beside them those without what is
// set aside, on which a carry rests, and what speaks against the readings.
type Account struct {
	Schema int    `json:"schema"`
	Bike   string `json:"bike"`
	Places
	Aside       *Places        `json:"aside,omitempty"`
	Findings    []Finding      `json:"slips"`
	Unchecked   []ReadingSaid  `json:"unchecked"`
	GlobalTest  GlobalTests    `json:"global_test"`
	People      []Pair         `json:"people,omitempty"`
	Plan        *Plan          `json:"plan,omitempty"`
	Versions    []bike.Version `json:"versions"`
	Assumptions []string       `json:"assumptions"`
	Warnings    []Warning      `json:"warnings"`
}

// Places is where everything is by one adjustment, as the bike is read.
type Places struct {
	Unknowns []Value       `json:"unknowns"`
	Readings []ReadingSaid `json:"readings"`
	Points   []PointValue  `json:"points"`
	Contacts []Touch       `json:"contacts"`
	Agree    GlobalTest    `json:"fit"`
}

// Touch is where the rider touches the bike in a posture, mm, with standard uncertainties.
type Touch struct {
	Posture    string      `json:"posture"`
	Contact    string      `json:"contact"`
	X          float64     `json:"x"`
	Y          float64     `json:"y"`
	Angle      plane.Angle `json:"angle"`
	SigmaX     float64     `json:"sigma_x"`
	SigmaY     float64     `json:"sigma_y"`
	SigmaAngle plane.Angle `json:"sigma_angle"`
}

// ReadingSaid is a reading with what an adjustment says of it.
type ReadingSaid struct {
	*bike.Reading
	Judgement
	Value   plane.Quantity
	Suspect bool // beyond the limit in this adjustment, or found to be wrong
}

// MarshalJSON writes the reading as the file has it.
func (r ReadingSaid) MarshalJSON() ([]byte, error) {
	return json.Marshal(struct {
		Index int    `json:"index"`
		Name  string `json:"name"`
		bike.Keys
		Value      plane.Quantity `json:"value"`
		Fitted     plane.Quantity `json:"fitted"`
		Sigma      plane.Quantity `json:"sigma"`
		Residual   plane.Quantity `json:"residual"`
		Normalized float64        `json:"normalized"`
		Redundancy float64        `json:"redundancy"`
		Suspect    bool           `json:"suspect"`
		By         string         `json:"by,omitempty"`
		Date       string         `json:"date,omitempty"`
	}{r.Index, r.Written, r.Keys(), r.Value, r.Value.Of(r.Fitted), r.Value.Of(r.Sigma), r.Value.Of(r.Residual),
		r.Normalized, r.Redundancy, r.Suspect, r.By, r.Date})
}

// GlobalTests are the tests of all observations together and of those that nothing is said against.
type GlobalTests struct {
	Significance float64 `json:"significance"`
	P            float64 `json:"p"`
	Passed       bool    `json:"passed"`
	PAside       float64 `json:"p_aside"`
	PassedAside  bool    `json:"passed_aside"`
}

// Warning is something that deserves a second look.
type Warning struct {
	Code string `json:"code"`
	Text string `json:"text"`
}

// Account tells everything of an adjustment. It fails when something a posture needs is not fixed.
func (a *Adjustment) Account() (*Account, error) {
	b := a.Placement.Bike
	all := a.WithAll()
	places, err := all.places()
	if err != nil {
		return nil, err
	}
	suspects := a.Suspects()
	for i := range places.Readings {
		r := &places.Readings[i]
		r.Suspect = slices.Contains(suspects, i) || r.Normalized > a.Search.Limit
	}
	whole, rest := places.Agree, a.Global()
	c := &Account{Schema: 1, Bike: b.File, Places: places, Findings: a.Findings(), Unchecked: []ReadingSaid{},
		GlobalTest: GlobalTests{a.Significance, whole.P, whole.Passed, rest.P, rest.Passed}, People: a.People(), Versions: b.Versions(nil),
		Assumptions: append([]string{}, a.Assumptions()...), Warnings: []Warning{}}
	if len(a.found) > 0 {
		without, err := a.places()
		if err != nil {
			return nil, err
		}
		c.Aside = &without
	}
	said := a.Said()
	for _, i := range a.Unchecked() {
		c.Unchecked = append(c.Unchecked, said[i])
	}
	for _, f := range a.found {
		c.Warnings = append(c.Warnings, Warning{"suspect", "the others contradict " + a.Observations[f.Observation].Name})
	}
	for _, text := range append(a.Implausible(), a.Unsupported()...) {
		c.Warnings = append(c.Warnings, Warning{ImplausibleCode, text})
	}
	return c, nil
}

// Said lists the readings with what the adjustment says of each.
func (a *Adjustment) Said() []ReadingSaid {
	judged, suspects := a.Judged(), a.Suspects()
	list := make([]ReadingSaid, 0, len(a.spans))
	for i, o := range a.Observations {
		if o.Origin != FromReading {
			break
		}
		list = append(list, ReadingSaid{o.Reading, judged[i], o.Value, slices.Contains(suspects, i)})
	}
	return list
}

func (a *Adjustment) places() (Places, error) {
	p := Places{Unknowns: a.Values(), Points: a.Points(), Readings: a.Said(), Contacts: []Touch{}, Agree: a.Global()}
	b := a.Placement.Bike
	for _, posture := range b.Postures {
		of, err := a.For(posture)
		if err != nil {
			return p, err
		}
		pos, err := of.Position(posture)
		switch {
		case err == nil:
			p.Contacts = append(p.Contacts, pos.Turned(-b.Frame.Pitch).touches()...)
		case posture.SitBones && posture.Support <= 0 && a.Err() == nil: // nobody has said how far apart they are
		default:
			return p, err
		}
	}
	return p, nil
}

// touches are the contacts of a position.
func (p Position) touches() (list []Touch) {
	for i, c := range []*assembly.Contact{&p.Sit, &p.Hands, p.Second} {
		if c == nil {
			continue
		}
		t := Touch{Posture: p.Posture.Name, Contact: string(c.Name), X: c.At.X, Y: c.At.Y, SigmaX: p.Sigma(3 * i), SigmaY: p.Sigma(3*i + 1)}
		if i == 0 || i == 1 && !p.NoAngle {
			t.Angle, t.SigmaAngle = plane.Angle(c.Angle), plane.Angle(p.Sigma(3*i+2))
		}
		list = append(list, t)
	}
	return list
}

// Called is an observation as a person knows it.
func (a *Adjustment) Called(i int) string {
	o := a.Observations[i]
	switch o.Origin {
	case FromReading:
		return fmt.Sprintf("reading %d, %s", o.Reading.Index, o.Name)
	case FromMark:
		return "the mark of " + o.Name
	case FromAnchor:
		return "the anchor " + o.Name
	case FromAssumption:
		return o.Name + " as assumed"
	}
	return o.Name + " as stated"
}

// MarshalJSON writes a finding with the names of all that may be wrong.
func (f Finding) MarshalJSON() ([]byte, error) {
	a := f.of
	o := a.Observations[f.Observation]
	type slip struct {
		Of    string         `json:"of"`
		Code  string         `json:"code"`
		Value plane.Quantity `json:"value"`
		Text  string         `json:"text"`
	}
	out := struct {
		Index      int            `json:"index"` // of the reading; 0 for a mark or a stated value
		Name       string         `json:"name"`
		Unit       string         `json:"unit"`
		Value      plane.Quantity `json:"value"`
		Others     plane.Quantity `json:"others"`
		Sigma      plane.Quantity `json:"sigma"`
		Normalized float64        `json:"normalized"`
		Aside      bool           `json:"aside"`
		Twins      []string       `json:"twins"`
		Rivals     []string       `json:"rivals"`
		Slip       *slip          `json:"slip"` // the likely one; null when none explains it, or several alike
		Possible   []slip         `json:"possible"`
		Anchor     bool           `json:"anchor"` // it, a twin or a rival is where an anchor is
		BBHeight   float64        `json:"bb_height,omitempty"`
	}{BBHeight: f.BBHeight, Name: o.Name, Unit: o.Value.Unit(), Value: o.Written(o.Value.Value()), Others: o.Written(f.Others),
		Sigma:      o.Value.Of(f.Sigma),
		Normalized: f.Normalized, Aside: f.Aside, Twins: []string{}, Rivals: []string{}, Possible: []slip{}}
	if o.Reading != nil {
		out.Index = o.Reading.Index
	} else if o.Origin == FromMark || o.Origin == FromAnchor {
		out.Name = a.Called(f.Observation)
	}
	for _, k := range f.Twins {
		out.Twins = append(out.Twins, a.Called(k))
	}
	for _, k := range f.Rivals {
		out.Rivals = append(out.Rivals, a.Called(k))
	}
	for _, s := range f.Slips {
		out.Possible = append(out.Possible, slip{a.Called(s.Observation), s.Code, a.Observations[s.Observation].Value.Of(s.Value), s.Words})
	}
	if f.Likely() != nil {
		out.Slip = &out.Possible[0]
	}
	for _, k := range f.Blamed() {
		out.Anchor = out.Anchor || a.Observations[k].Origin == FromAnchor
	}
	return json.Marshal(out)
}

// Written is a value of the observation as the file writes it.
func (o *Observation) Written(v float64) plane.Quantity { return o.Value.Of(v + o.Zero) }
