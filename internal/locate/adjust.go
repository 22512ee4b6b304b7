// Package locate works out, from tape readings, marks and stated values, where a bike's parts are and so
// where the rider touches it, and how sure that is.
//
// Every reading is an observation with a standard uncertainty; so are a mark (what is really set differs
// from what the scale says), a stated tilt, an anchor's coordinates where there are readings, and an assumption. They are
// adjusted together by weighted nonlinear least squares (package lsq). Part shapes are exact. A bike as it stands is the
// calibration of a machine with one entry: Entries adjusts several with the same model.
package locate

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/diag"
	"carryover/internal/lsq"
	"carryover/internal/plane"
)

// Standard uncertainties of what is not read with a tape, radians: a stated tilt or rotation, and one that
// is neither stated nor read and so assumed to be 0.
const (
	StatedSigma  = 0.5 * math.Pi / 180
	AssumedSigma = 1.5 * math.Pi / 180
)

// railClamp is what a person calls the station that a saddle's clamp holds.
const railClamp = "the place of the rail clamp"

// exactSigma is what a number that counts as exact is given so that it can be found to be mistaken: small enough to move
// nothing that a tape shows, large enough for its redundancy to be seen, mm.
const exactSigma = 0.005

// Origin is where an observation comes from.
type Origin int

// Observations are readings of the file, values it states, marks on scales, the coordinates of anchors, how the pads of a
// clip-on are screwed, and assumptions.
const (
	FromReading Origin = iota
	FromStated
	FromMark
	FromAnchor
	FromClipon
	FromAssumption
)

// Observation is one row of the adjustment.
type Observation struct {
	Origin   Origin
	Entry    int           // of a reading or mark: index into the standings of the bike
	Reading  *bike.Reading // FromReading
	Unknown  int           // the others observe one unknown directly; -1 for a reading
	Adjuster int           // FromMark
	Mark     float64       // FromMark
	Name     string        // of the adjuster, or of what is stated or assumed; how a reading was written
	Called   string        // of what is stated or assumed: what a person calls it
	Value    plane.Quantity
	Sigma    float64 // mm or radians
	Zero     float64 // what the file writes where Value is 0
	hump     float64 // FromMark: by how much a scale with a bend of 1 is off there
}

// DefaultSignificance is the risk taken, per reading, of calling a good one wrong.
const DefaultSignificance = 0.001

// Options of an adjustment.
type Options struct {
	Significance float64 // 0: DefaultSignificance
	// Posture is the one that readings to saddle.sit belong to; nil: the bike's first.
	Posture *bike.Posture
}

// Adjustment is a bike with the place of everything the observations fix.
type Adjustment struct {
	Placement    *assembly.Placement // as adjusted, without the suspects
	Observations []Observation
	Search       *lsq.Search
	Significance float64 // at which suspects were looked for
	// Missing names the unknowns that nothing fixes although a posture needs them.
	Missing []Gap
	found   []Finding
	model   *model
	// The bodies that have a place, and those that a posture needs.
	used, need [assembly.Bodies]bool
	spans      []assembly.Span // of the readings, which come first among the observations
	work       *lsq.Workspace
}

// Adjust adjusts a bike's readings. rider may be nil when nothing depends on one. The errors are
// diagnostics at the place in the file that cannot be used; what nothing fixes is not an error here but
// listed in Missing, so that a caller can say all of it.
func Adjust(b *bike.Bike, rider *bike.Rider, o Options) (*Adjustment, error) {
	if b.Opens() {
		return nil, fmt.Errorf("%s has an open slot (parts = [...]); a bike to carry from has one part in each", b.File)
	}
	a := asItStands(b, carriedBy(b, rider, o.Posture))
	problems := a.read()
	l, used := a.model.layout, &a.used
	used[assembly.Saddle] = used[assembly.Saddle] || l.Shape != nil
	for _, p := range b.Postures {
		used[l.HandMount(p.Hands).Body] = true
		a.need[l.HandMount(p.Hands).Body] = true
		a.need[assembly.Saddle] = true
	}
	// A bar held by its marks or a stem has a place even when no posture asks for it.
	used[assembly.Bar] = used[assembly.Bar] || l.BarShape != nil && (b.BarAnchor != nil || b.Stem != nil)
	if len(b.Postures) == 0 {
		a.need = *used
	}
	if (used[assembly.Saddle] || a.need[assembly.Saddle]) && b.Saddle.Empty() && !slices.ContainsFunc(b.Readings, sits) {
		problems = append(problems, diag.Diagnostic{Code: "saddle", Severity: diag.Error,
			Summary: fmt.Sprintf("%s has no [saddle] part, so nothing says where on it the rider sits: give the part, or read a mark put there "+
				`(saddle-height with at = "sit", setback with at = "sit")`, b.File)})
	}
	if problems.HasErrors() {
		return nil, problems
	}
	return a, a.adjust(o.Significance)
}

// asItStands is a bike that was read in the standing its marks say.
func asItStands(b *bike.Bike, p bike.Posture) *Adjustment {
	return &Adjustment{model: &model{layout: assembly.New(b, p), entries: []bike.Calibration{{Marks: b.Marks, Readings: b.Readings}}}}
}

// sits reports whether a reading goes to where the rider sits.
func sits(r bike.Reading) bool { return r.From.Sits() || r.To.Sits() }

// carriedBy is the posture that readings to saddle.sit belong to, its support filled in.
func carriedBy(b *bike.Bike, rider *bike.Rider, chosen *bike.Posture) bike.Posture {
	var p bike.Posture
	switch {
	case chosen != nil:
		p = *chosen
	case len(b.Postures) > 0:
		p = b.Postures[0]
	default:
		p.SitBones = true
	}
	if p.SitBones && p.Support == 0 {
		p.Support = rider.SitWidth()
	}
	return p
}

// For is the adjustment for one posture: readings to saddle.sit go to where that one is carried.
func (a *Adjustment) For(p bike.Posture) (*Adjustment, error) {
	l := a.model.layout
	same := p.At == nil && l.SitAt == nil && p.Support == l.SitWidth || p.At != nil && l.SitAt != nil && *p.At == *l.SitAt
	if same || l.Shape == nil || !slices.ContainsFunc(l.Bike.Readings, sits) {
		return a, nil
	}
	return Adjust(l.Bike, nil, Options{Significance: a.Significance, Posture: &p})
}

// read finds the places of the readings and the bodies they involve. Readings that the bike cannot have are problems.
func (a *Adjustment) read() (problems diag.List) {
	n := 0
	for _, c := range a.model.entries {
		n += len(c.Readings)
	}
	a.spans = make([]assembly.Span, 0, n)
	a.Observations = make([]Observation, 0, n+8)
	for e, c := range a.model.entries {
		for i := range c.Readings {
			r := &c.Readings[i]
			t, err := a.model.layout.Span(*r)
			if err != nil {
				problems = append(problems, unusable(r, err.Error()))
				continue
			}
			for b, n := range t.Needs() {
				a.used[b] = a.used[b] || n
			}
			a.spans = append(a.spans, t)
			a.Observations = append(a.Observations, Observation{Origin: FromReading, Entry: e, Reading: r, Unknown: -1,
				Name: r.Written, Value: r.Quantity(), Sigma: r.Sigma})
		}
	}
	return problems
}

func unusable(r *bike.Reading, why string) diag.Diagnostic {
	where := r.Where
	return diag.Diagnostic{Code: "reading", Severity: diag.Error, Summary: why, Span: &where, Line: r.Source}
}

// adjust adjusts the readings together with everything else that is known of the bodies in use.
func (a *Adjustment) adjust(significance float64) error {
	b := a.model.layout.Bike
	var anchors []Number
	if b.AnchorSigma > 0 && len(b.Readings) > 0 {
		anchors = a.model.anchors()
	}
	a.model = newModel(a.model.layout, a.used, a.model.entries, anchors)
	a.work = &lsq.Workspace{}
	a.observe(anchors)
	if len(a.Observations) == 0 {
		return nil // nothing is in use: whatever is, is assumed at least
	}
	a.Significance = cmp.Or(significance, DefaultSignificance)
	p := a.problem()
	candidates := make([]bool, len(a.Observations))
	for i, ob := range a.Observations {
		candidates[i] = ob.Origin != FromAssumption
	}
	search, err := lsq.Robust(p, candidates, a.Significance, a.work)
	if err != nil {
		return fmt.Errorf("%s: the readings cannot be adjusted: %w", b.File, err)
	}
	a.Search = search
	if err := a.weigh(p); err != nil {
		return fmt.Errorf("%s: %w", b.File, err)
	}
	if list := a.contradicted(p); len(list) > 0 {
		return &ContradictionError{a, list}
	}
	a.Placement = a.standing(search.Final.X)
	a.Missing = a.gaps()
	return nil
}

// aside says which observations the answer rests on without.
func (a *Adjustment) aside() []bool {
	out := make([]bool, len(a.Observations))
	for _, f := range a.found {
		out[f.Observation] = f.Aside
	}
	return out
}

// observe lists what is known beside the readings: marks, anchors as far as the file is to be believed, stated values and
// assumptions.
func (a *Adjustment) observe(anchors []Number) {
	m, b := a.model, a.model.layout.Bike
	read := map[int]bool{} // turns that a reading or mark measures directly
	for _, o := range a.Observations {
		if o.Reading.Kind == bike.Angle {
			read[m.turnOf(o.Entry, m.layout.AngledBody(o.Reading.Of))] = true
		}
	}
	add := func(o Observation) { a.Observations = append(a.Observations, o) }
	for e, c := range m.entries {
		for i := range b.Adjusters {
			adj, u := &b.Adjusters[i], m.travel[e][i].Unknown
			if mark, ok := c.Marks[adj.Name]; ok && u >= 0 {
				add(Observation{Origin: FromMark, Entry: e, Unknown: u, Adjuster: i, Mark: mark, Name: adj.Name,
					Value: m.starts[u].Of(adj.Travel(mark)), Sigma: adj.Sigma, hump: m.hump(i, mark)})
				read[u] = true
			}
		}
	}
	for _, n := range anchors {
		if u := a.Unknown(n); u >= 0 {
			add(Observation{Origin: FromAnchor, Unknown: u, Name: n.Clamp() + [...]string{" x", " y"}[n.Kind], Value: m.starts[u],
				Sigma: b.AnchorSigma})
		}
	}
	for i, u := range m.clipon {
		if u >= 0 {
			set := [2]bike.Sets{bike.SetsHole, bike.SetsRisers}[i]
			add(Observation{Origin: FromClipon, Unknown: u, Name: set.Key(), Called: "the " + set.Called(), Sigma: exactSigma,
				Zero: [2]float64{m.layout.Hole, m.layout.Stack}[i]})
		}
	}
	if s := b.Saddle.ClampAt; m.station >= 0 && !s.Given {
		add(Observation{Origin: FromAssumption, Unknown: m.station, Name: bike.SetsRails.Key(), Called: railClamp, Value: m.starts[m.station],
			Sigma: m.layout.Shape.Rail.Sigma()})
	}
	for _, body := range [...]assembly.Body{assembly.Saddle, assembly.Bar, assembly.Pads} {
		u, o := m.turnOf(0, body), Observation{Name: m.turnKey(body), Called: "the " + bodies[body].turnCalled}
		switch s := m.stated(body); {
		case u < 0 || len(m.entries) > 1 && m.turning(body) >= 0: // of several standings each says by itself how far it is turned
		case s.Given && !s.Free:
			o.Origin, o.Unknown, o.Value, o.Sigma = FromStated, u, plane.Turning(plane.Angle(s.Lo)), StatedSigma
			add(o)
		case body == assembly.Bar && m.layout.BarShape == nil && m.layout.Clipon == nil: // its angle says nothing
		case !read[u]:
			o.Origin, o.Unknown, o.Value, o.Sigma = FromAssumption, u, plane.Turning(plane.Angle(plane.Clamp(0, s.Lo, s.Hi))), AssumedSigma
			add(o)
		}
	}
}

// problem puts the observations to the adjustment.
func (a *Adjustment) problem() lsq.Problem {
	m, observations := a.model, a.Observations
	p := lsq.Problem{Scale: m.scales, Start: m.start()}
	for _, o := range observations {
		p.Values, p.Sigmas = append(p.Values, o.Value.Value()), append(p.Sigmas, o.Sigma)
	}
	n := len(m.starts)
	at := make([]assembly.Placement, len(m.entries))
	for e := range at {
		at[e].Layout = m.layout
	}
	p.Model = func(x, f, jac []float64) {
		for e := range at {
			m.chains[e].Stand(x, &at[e])
		}
		for i := range observations {
			o, row := &observations[i], jac[i*n:(i+1)*n]
			switch {
			case o.Unknown < 0:
				v, g := at[o.Entry].Read(&a.spans[i])
				f[i] = v
				m.chains[o.Entry].Row(&g, &at[o.Entry], x, row)
			case o.Origin == FromMark: // the travel, less what a learnt scale makes of the mark beyond what the file's does
				unit, bend := m.unit[o.Adjuster], m.bend[o.Adjuster]
				f[i], row[o.Unknown] = x[o.Unknown]-(unit.Of(x)-unit.Value)*o.Mark-bend.Of(x)*o.hump, 1
				unit.Add(row, -o.Mark)
				bend.Add(row, -o.hump)
			default:
				f[i], row[o.Unknown] = x[o.Unknown], 1
			}
		}
	}
	return p
}

// standing is the bike for values x of the unknowns.
func (a *Adjustment) standing(x []float64) *assembly.Placement {
	s := &assembly.Placement{Layout: a.model.layout}
	a.model.chains[0].Stand(x, s)
	return s
}

// Uses reports whether a body has a place in the adjustment.
func (a *Adjustment) Uses(b assembly.Body) bool { return a.model.chains[0].Uses(b) }

// row is the derivatives by the unknowns of something with gradient g, on the bike as adjusted.
func (a *Adjustment) row(g assembly.Gradient) []float64 {
	x := a.solution().X
	row := make([]float64, len(x))
	a.model.chains[0].Row(&g, a.Placement, x, row)
	return row
}

// Assumptions lists in words what was assumed.
func (a *Adjustment) Assumptions() []string {
	words := append([]string(nil), a.model.layout.Bike.Assumed...)
	for _, o := range a.Observations {
		if o.Origin == FromAssumption {
			words = append(words, o.Assumed())
		}
	}
	if l := a.model.layout; a.Search != nil && a.Uses(assembly.Hood) && a.noAngle(l.Hood) {
		words = append(words, "the hood angle is neither stated nor read, so the hoods are carried by their place alone: read hood-angle")
	}
	return words
}

// Trusted are the assumptions, and that the readings are right where none checks another.
func (a *Adjustment) Trusted() []string {
	list := a.Assumptions()
	if a.Measured() && a.WithAll().Global().DOF == 0 {
		list = append(list, "the readings are right, as none checks another")
	}
	return list
}

// Measured reports whether any reading was taken: not all is what marks and the file say.
func (a *Adjustment) Measured() bool {
	return slices.ContainsFunc(a.Observations, func(o Observation) bool { return o.Origin == FromReading })
}

// Assumed is what an assumption says, in words.
func (o *Observation) Assumed() string {
	if o.Value.Turns() {
		return fmt.Sprintf("%s is neither stated nor read: taken as %.1f° ± %.1f°", o.Called, o.Value.Shown(), plane.Deg(o.Sigma))
	}
	return fmt.Sprintf("%s is not stated: taken as %.0f ± %.0f mm", o.Called, o.Value.Value(), o.Sigma)
}

// Suspects are the observations that the others contradict, as indexes into Observations.
func (a *Adjustment) Suspects() []int {
	var s []int
	for _, f := range a.found {
		s = append(s, f.Observation)
	}
	return s
}
