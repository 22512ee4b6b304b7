package job

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/body"
	"carryover/internal/carry"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Group is what sort of number a difference is of.
type Group string

// The groups, in their order: what a tape would read on either bike, where the rider touches it, what the joints do, the readings as
// they were taken, the places on the saddles, marks, and what lies under the foot.
const (
	Measures   Group = "measures"
	Contacts   Group = "contacts"
	Angles     Group = "body"
	Readings   Group = "readings"
	References Group = "references"
	Marks      Group = "marks"
	Feet       Group = "feet"
)

// The keys of Feet.
const (
	Crank      = "crank"
	SoleHeight = "sole_height"
)

// Difference is one number on two bikes; of Marks it is the scale's own, in no unit.
type Difference struct {
	Group   Group
	Posture string        // "" where it is of the bike
	Key     string        // its name in JSON and CSV
	Reading *bike.Reading // of Measures, Readings and References
	Contact bike.Contact  // of Contacts, and which of its coordinates: how far ahead, how far up, its angle
	Axis    int
	Figure  *body.Figure // of Angles
	A, B    plane.Quantity
	// Standard uncertainties: of each, and of B - A, where the same part on both bikes errs alike. 0: nothing says.
	SigmaA, SigmaB, Sigma plane.Quantity
}

// By is the change, B - A.
func (d *Difference) By() plane.Quantity { return d.B.Of(d.B.Value() - d.A.Value()) }

// Surely reports a change that its readings could hardly make of nothing: more than twice its standard uncertainty.
func (d *Difference) Surely() bool { return math.Abs(d.By().Value()) > 2*d.Sigma.Value() }

// Exchanged is a slot that holds another part, or another shape of the same name; nothing is fitted where the part is "".
type Exchanged struct {
	Slot string
	A, B bike.Version
}

// MarshalJSON writes each part with its version.
func (e Exchanged) MarshalJSON() ([]byte, error) {
	named := func(v bike.Version) string { return strings.TrimSpace(v.Part + " " + v.Version) }
	return json.Marshal(carry.Keys{"kind": e.Slot, "a": named(e.A), "b": named(e.B)})
}

// Comparison is two bikes, or two dates of one, number by number. It holds no verdict.
type Comparison struct {
	A, B         *Source
	Differences  []Difference
	Parts        []Exchanged
	OnlyA, OnlyB []bike.Reading // taken on one of them alone
	Elsewhere    []bike.Reading // usual readings that go to other places on the one than on the other
	Notes        []string       // what could not be compared, in words
}

// Compare compares the bikes q.From and q.To in the posture asked for, else in all that both have; with a rider also what the
// joints do.
func (f *Files) Compare(q Asked, h body.Habits) (*Comparison, error) {
	c := &Comparison{}
	for i, to := range [2]**Source{&c.A, &c.B} {
		s, err := f.Source([2]string{q.From, q.To}[i], q.Rider, locate.Options{})
		if err != nil {
			return nil, err
		}
		if q.Posture != "" && len(s.Bike.Postures) > 0 {
			if _, err := s.Postures(q.Posture); err != nil {
				return nil, err
			}
		}
		*to = s
	}
	c.parts()
	hands, support := bike.Hood, 0.0
	for i, p := range c.shared(q.Posture) {
		if i == 0 {
			hands, support = p[0].Hands, p[0].Support
		}
		if err := c.posture(p, q.Rider, h); err != nil {
			return nil, err
		}
	}
	if !slices.ContainsFunc(c.Differences, func(d Difference) bool { return d.Group == Measures }) {
		c.measures("", hands)
	}
	c.readings()
	c.references(support)
	c.marks()
	return c, nil
}

// shared are the postures that both bikes have with the hands on the same place. A bike that has none, a machine as it is set up, is
// taken to be ridden in those of the other.
func (c *Comparison) shared(name string) (list [][2]bike.Posture) {
	ridden := func(b, other *bike.Bike) *bike.Bike {
		if len(b.Postures) == 0 {
			return other
		}
		return b
	}
	a, b := ridden(c.A.Bike, c.B.Bike), ridden(c.B.Bike, c.A.Bike)
	for _, p := range a.Postures {
		if name != "" && p.Name != name {
			continue
		}
		o, ok := b.Posture(p.Name)
		switch {
		case !ok:
			c.Notes = append(c.Notes, fmt.Sprintf("%s has no posture %s", c.B.Bike.File, p.Name))
		case o.Hands != p.Hands:
			c.Notes = append(c.Notes, fmt.Sprintf("Posture %s holds other places: %s on %s, %s on %s", p.Name, p.Hands, c.A.Bike.File, o.Hands,
				c.B.Bike.File))
		default:
			list = append(list, [2]bike.Posture{p, o})
		}
	}
	return list
}

func (c *Comparison) add(d Difference) {
	if d.Sigma.Value() == 0 {
		d.Sigma = d.A.Of(math.Hypot(d.SigmaA.Value(), d.SigmaB.Value()))
	}
	c.Differences = append(c.Differences, d)
}

// parts names what is fitted otherwise.
func (c *Comparison) parts() {
	slots := map[string][2]bike.Version{}
	var order []string
	for i, s := range [2]*Source{c.A, c.B} {
		for _, v := range s.Bike.Versions(nil) {
			pair, ok := slots[v.Slot]
			if !ok {
				order = append(order, v.Slot)
			}
			pair[i] = v
			slots[v.Slot] = pair
		}
	}
	for _, slot := range order {
		if p := slots[slot]; p[0].Part != p[1].Part || p[0].Version != p[1].Version {
			c.Parts = append(c.Parts, Exchanged{slot, p[0], p[1]})
		}
	}
}

// posture adds what a posture comes to on both.
func (c *Comparison) posture(p [2]bike.Posture, rider *bike.Rider, h body.Habits) error {
	c.measures(p[0].Name, p[0].Hands)
	var at [2]locate.Position
	var effects [2][]locate.Effect
	for i, s := range [2]*Source{c.A, c.B} {
		var err error
		if at[i], err = s.Adjusted.Position(p[i]); err != nil {
			c.Notes = append(c.Notes, err.Error())
			return nil
		}
		if effects[i], err = s.Adjusted.Effects(p[i]); err != nil {
			return err
		}
	}
	apart := locate.Apart(effects[1], effects[0])
	for k := range 6 {
		if k == 5 && (at[0].NoAngle || at[1].NoAngle) {
			continue
		}
		contact, axis := [2]bike.Contact{bike.Sit, p[0].Hands}[k/3], k%3
		of := plane.QuantityOf(axis == 2, 0).Of
		c.add(Difference{Group: Contacts, Posture: p[0].Name, Key: string(contact) + [...]string{".x", ".y", ".angle"}[axis],
			Contact: contact, Axis: axis, A: of(at[0].Coordinate(k)), B: of(at[1].Coordinate(k)),
			SigmaA: of(locate.Total(effects[0], k)), SigmaB: of(locate.Total(effects[1], k)), Sigma: of(math.Sqrt(apart[k][k]))})
	}
	if rider == nil {
		return nil
	}
	segments, err := body.NewSegments(rider)
	if err != nil {
		return err
	}
	var on [2]body.Stage
	for i, s := range [2]*Source{c.A, c.B} {
		on[i] = segments.On(&at[i], s.Adjusted.Placement.Layout, h)
		for _, text := range on[i].Impossible() {
			c.Notes = append(c.Notes, s.Bike.File+": "+text)
		}
	}
	for i := range body.Figures {
		f := &body.Figures[i]
		if on[0].Numbers == nil || on[1].Numbers == nil {
			break
		}
		a, okA := f.Of(on[0].Numbers)
		b, okB := f.Of(on[1].Numbers)
		if okA && okB {
			c.add(Difference{Group: Angles, Posture: p[0].Name, Key: f.Key, Figure: f, A: a, B: b})
		}
	}
	return nil
}

// measures adds what the usual readings would show on both.
func (c *Comparison) measures(posture string, hands bike.Contact) {
	there := carry.CheckReadings(c.B.Bike, hands)
	for _, r := range carry.CheckReadings(c.A.Bike, hands) {
		i := slices.IndexFunc(there, func(o bike.Reading) bool { return o.Written == r.Written })
		if i >= 0 && there[i] != r {
			c.Elsewhere = append(c.Elsewhere, r)
		}
		if i >= 0 && there[i] == r {
			c.read(Measures, posture, r.Written, r)
		}
	}
}

// read adds what a reading would show on both, where both fix it.
func (c *Comparison) read(g Group, posture, key string, r bike.Reading) {
	a, sigmaA, okA := c.A.Adjusted.Reads(r)
	b, sigmaB, okB := c.B.Adjusted.Reads(r)
	if okA && okB {
		of := r.Quantity().Of
		c.add(Difference{Group: g, Posture: posture, Key: key, Reading: &r, A: of(a), B: of(b), SigmaA: of(sigmaA), SigmaB: of(sigmaB)})
	}
}

// readings adds those taken on both, as they were read.
func (c *Comparison) readings() {
	c.OnlyB = slices.Clone(c.B.Bike.Readings)
	for _, r := range c.A.Bike.Readings {
		i := slices.IndexFunc(c.OnlyB, func(o bike.Reading) bool {
			return o.Kind == r.Kind && o.From == r.From && o.To == r.To && o.Of == r.Of
		})
		if i < 0 {
			c.OnlyA = append(c.OnlyA, r)
			continue
		}
		o := c.OnlyB[i]
		c.OnlyB = slices.Delete(c.OnlyB, i, i+1)
		of := r.Quantity().Of
		c.add(Difference{Group: Readings, Key: r.Written, Reading: &r, A: r.Quantity(), B: o.Quantity(), SigmaA: of(r.Sigma),
			SigmaB: of(o.Sigma)})
	}
}

// references adds the places on the saddles.
func (c *Comparison) references(support float64) {
	if c.A.Bike.Saddle.Empty() || c.B.Bike.Saddle.Empty() {
		return
	}
	bb := bike.Place{Kind: bike.AtBB}
	places := []saddle.Reference{{Kind: saddle.Nose}, {Kind: saddle.Mid}, {Kind: saddle.Widest}, {Kind: saddle.Tail}}
	if support > 0 {
		places = append(places, saddle.Reference{Kind: saddle.ByWidth, MM: support})
	}
	for _, ref := range places {
		at := bike.Place{Kind: bike.AtSaddle, Ref: ref}
		c.read(References, "", "setback@"+ref.String(), bike.Reading{Kind: bike.Level, From: at, To: bb})
		c.read(References, "", "vertical-height@"+ref.String(), bike.Reading{Kind: bike.Plumb, From: bb, To: at})
		c.read(References, "", "saddle-height@"+ref.String(), bike.Reading{Kind: bike.Line, From: bb, To: at})
	}
}

// marks adds where the scales of the same name stand, and what lies under the foot.
func (c *Comparison) marks() {
	for _, a := range c.A.Bike.Adjusters {
		from, okA := c.A.Bike.Marks[a.Name]
		to, okB := c.B.Bike.Marks[a.Name]
		if okA && okB {
			c.add(Difference{Group: Marks, Key: a.Name, A: plane.Length(from), B: plane.Length(to)})
		}
	}
	a, b := c.A.Bike.Feet, c.B.Bike.Feet
	c.add(Difference{Group: Feet, Key: Crank, A: plane.Length(a.Crank), B: plane.Length(b.Crank)})
	if !a.NoSole && !b.NoSole {
		c.add(Difference{Group: Feet, Key: SoleHeight, A: plane.Length(a.SoleHeight), B: plane.Length(b.SoleHeight)})
	}
}

// MarshalJSON writes a comparison: mm and degrees, marks in their scale's own unit.
func (c *Comparison) MarshalJSON() ([]byte, error) {
	list := []carry.Keys{}
	for _, d := range c.Differences {
		k := carry.Keys{"group": d.Group, "posture": d.Posture, "name": d.Key, "unit": d.A.Unit(), "a": d.A, "b": d.B, "change": d.By(),
			"a_sigma": d.SigmaA, "b_sigma": d.SigmaB, "sigma": d.Sigma}
		if d.Group == Marks {
			k["unit"] = "mark"
		}
		list = append(list, k)
	}
	names := func(readings []bike.Reading) []string {
		list := []string{}
		for _, r := range readings {
			list = append(list, r.Written)
		}
		return list
	}
	a, b := c.A.Bike, c.B.Bike
	return json.Marshal(carry.Keys{"schema": 1, "a": a.File, "b": b.File, "a_name": a.Name, "b_name": b.Name, "a_date": a.Record.Date,
		"b_date": b.Record.Date, "differences": list, "parts": append([]Exchanged{}, c.Parts...), "only_a": names(c.OnlyA),
		"only_b": names(c.OnlyB), "elsewhere": names(c.Elsewhere), "notes": append([]string{}, c.Notes...),
		"a_suspects": c.A.Adjusted.Findings(), "b_suspects": c.B.Adjusted.Findings(),
		"versions": append(a.Versions(nil), b.Versions(nil)...)})
}
