package locate

import (
	"errors"
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

// Origin is where an observation comes from.
type Origin int

// Observations are readings of the file, marks on scales, values the file states, assumptions, and the
// coordinates of anchors.
const (
	FromReading Origin = iota
	FromMark
	FromStated
	FromAssumption
	FromAnchor
)

// Observation is one row of the adjustment.
type Observation struct {
	Origin  Origin
	Reading *bike.Reading // FromReading
	Unknown int           // the others observe one unknown directly; -1 for a reading
	Name    string        // of the adjuster, or of what is stated or assumed; how a reading was written
	Turns   bool          // radians rather than mm
	Value   float64
	Sigma   float64
}

// DefaultSignificance is the risk taken, per reading, of calling a good one wrong.
const DefaultSignificance = 0.001

// Options of an adjustment.
type Options struct {
	Significance float64 // 0: DefaultSignificance
	// OneByOne sets suspects aside one at a time instead of looking for several at once, which names two
	// wrong readings more often and good ones no more often (TestTwoBlundersAtOnce, TestFalseAlarmsOfSimulatedTapes).
	OneByOne bool
	// AnchorSigma is how well the file's anchors are known, x and y, mm; 0: exactly.
	AnchorSigma float64
}

// Adjustment is a bike with the place of everything the observations fix.
type Adjustment struct {
	Stance       *assembly.Stance // as adjusted, without the suspects
	Observations []Observation
	Search       *lsq.Search
	Significance float64 // at which suspects were looked for
	// Missing names the unknowns that nothing fixes although a posture needs them.
	Missing []Gap
	model   *model
	work    *lsq.Workspace
}

// Adjust adjusts a bike's readings. rider may be nil when nothing depends on one. The errors are
// diagnostics at the place in the file that cannot be used; what nothing fixes is not an error here but
// listed in Missing, so that a caller can say all of it.
func Adjust(b *bike.Bike, rider *bike.Rider, o Options) (*Adjustment, error) {
	if b.Saddle.Open || b.Bar.Open || b.Bar.Lever.Open || b.Stem != nil && b.Stem.Open || b.Clipon != nil && b.Clipon.Open {
		return nil, fmt.Errorf("%s has an open slot (parts = [...]); a bike to carry from has one part in each", b.File)
	}
	layout := assembly.New(b, rider)
	used, problems := inUse(layout)
	if problems.HasErrors() {
		return nil, problems
	}
	a := &Adjustment{model: newModel(layout, used, o.AnchorSigma > 0), work: &lsq.Workspace{}}
	a.observe(used, o.AnchorSigma)
	if len(a.Observations) == 0 {
		a.Missing = a.everythingMissing()
		return a, nil
	}
	alpha := o.Significance
	if alpha == 0 {
		alpha = DefaultSignificance
	}
	a.Significance = alpha
	find := lsq.Robust
	if o.OneByOne {
		find = lsq.FindBlunders
	}
	p := a.problem()
	candidates := make([]bool, len(a.Observations))
	for i, ob := range a.Observations {
		candidates[i] = ob.Origin != FromAssumption
	}
	search, err := find(p, candidates, alpha, a.work)
	if err != nil {
		var input *lsq.InputError
		if errors.As(err, &input) {
			return nil, fmt.Errorf("%s: the readings cannot be adjusted: %w", b.File, err)
		}
		return nil, fmt.Errorf("%s: the readings lead nowhere: %w", b.File, err)
	}
	a.Search = search
	if err := a.keepTwins(p); err != nil {
		return nil, fmt.Errorf("%s: %w", b.File, err)
	}
	if list := a.contradicted(p); len(list) > 0 {
		return nil, &ContradictionError{File: b.File, Observations: list}
	}
	a.Stance = a.standing(search.Final.X)
	a.Missing = a.gaps()
	return a, nil
}

// keepTwins adjusts again with those suspects left in of which the observations cannot tell which one of
// several is wrong: setting an arbitrary one aside would pick a side without a reason.
func (a *Adjustment) keepTwins(p lsq.Problem) error {
	kept := slices.ContainsFunc(a.Search.Suspects, func(s lsq.Suspect) bool { return !a.SetsAside(s) })
	if !kept {
		return nil
	}
	p.Aside = a.aside()
	final, err := lsq.Solve(p, a.work)
	if err == nil {
		a.Search.Final = final
	}
	return err
}

// SetsAside reports whether the answer rests on the observations without a suspect. It does when it has no
// twins, and when it and they are all marks and anchors: whichever is wrong, what stands there is the same.
func (a *Adjustment) SetsAside(s lsq.Suspect) bool {
	scale := func(i int) bool {
		return a.Observations[i].Origin == FromMark || a.Observations[i].Origin == FromAnchor
	}
	return len(s.Twins) == 0 || scale(s.Index) && !slices.ContainsFunc(s.Twins, func(t int) bool { return !scale(t) })
}

// aside says which observations the answer rests on without.
func (a *Adjustment) aside() []bool {
	out := make([]bool, len(a.Observations))
	for _, s := range a.Search.Suspects {
		out[s.Index] = a.SetsAside(s)
	}
	return out
}

// inUse says which bodies readings, marks or postures involve.
func inUse(l *assembly.Layout) (used [assembly.Bodies]bool, problems diag.List) {
	b := l.Bike
	join := func(n [assembly.Bodies]bool) {
		for i := range n {
			used[i] = used[i] || n[i]
		}
	}
	for i := range b.Readings {
		r := &b.Readings[i]
		n, err := l.Needs(*r)
		if err != nil {
			where := r.Where
			problems = append(problems, diag.Diagnostic{Code: "reading", Severity: diag.Error,
				Summary: err.Error(), Span: &where, Line: r.Source})
			continue
		}
		join(n)
	}
	used[assembly.Saddle] = used[assembly.Saddle] || l.Shape != nil
	for _, p := range b.Postures {
		m := l.HandMount(p.Hands)
		used[m.Body] = true
	}
	// A bar held by its marks or a stem has a place even when no posture asks for it.
	if l.BarShape != nil && (b.BarAnchor != nil || b.Stem != nil) {
		used[assembly.Bar] = true
	}
	if used[assembly.Saddle] && l.Shape == nil {
		problems = append(problems, diag.Diagnostic{Code: "saddle", Severity: diag.Error,
			Summary: fmt.Sprintf("%s has no [saddle] part, so nothing says where on it the rider sits", b.File)})
	}
	return used, problems
}

// observe lists the observations: readings in file order, then marks, stated values and assumptions.
func (a *Adjustment) observe(used [assembly.Bodies]bool, anchorSigma float64) {
	m, b := a.model, a.model.layout.Bike
	read := map[int]bool{} // turns that a reading measures directly
	for i := range b.Readings {
		r := &b.Readings[i]
		a.Observations = append(a.Observations, Observation{Origin: FromReading, Reading: r, Unknown: -1,
			Name: r.Written, Turns: r.Kind == bike.Angle, Value: r.Value, Sigma: r.Sigma})
		if r.Kind == bike.Angle {
			read[m.chains[m.layout.AngledBody(r.Of)].turn] = true
		}
	}
	for i := range b.Adjusters {
		adj := &b.Adjusters[i]
		if mark, ok := b.Marks[adj.Name]; ok && m.travel[i] >= 0 {
			a.Observations = append(a.Observations, Observation{Origin: FromMark, Unknown: m.travel[i],
				Name: adj.Name, Turns: adj.Moves.Turns(), Value: adj.Travel(mark), Sigma: adj.Sigma})
			read[m.travel[i]] = true
		}
	}
	for _, k := range m.anchors {
		for i, axis := range [2]string{"x", "y"} {
			a.Observations = append(a.Observations, Observation{Origin: FromAnchor, Unknown: k.unknown[i],
				Name: k.name + " " + axis, Value: k.at[i], Sigma: anchorSigma})
		}
	}
	stated := func(body assembly.Body, name string, s bike.Setting) {
		u := m.chains[body].turn
		if u < 0 {
			return
		}
		ob := Observation{Origin: FromStated, Unknown: u, Name: name, Turns: true, Value: s.Lo, Sigma: StatedSigma}
		if !s.Given || s.Free {
			if read[u] || !s.Given && body == assembly.Hood {
				return
			}
			ob.Origin, ob.Value, ob.Sigma = FromAssumption, 0, AssumedSigma
			if s.Free {
				ob.Value = plane.Clamp(0, s.Lo, s.Hi)
			}
		}
		a.Observations = append(a.Observations, ob)
	}
	stated(assembly.Saddle, "saddle.tilt", b.Saddle.Tilt)
	if used[assembly.Bar] {
		stated(assembly.Bar, "bar.rotation", b.Bar.Rotation)
	}
	if used[assembly.Pads] {
		if m.layout.Clipon != nil {
			stated(assembly.Pads, "clipon.tilt", b.Clipon.Tilt)
		} else {
			stated(assembly.Pads, "pad.tilt", bike.Setting{})
		}
	}
}

// problem puts the observations to the adjustment.
func (a *Adjustment) problem() lsq.Problem {
	m := a.model
	p := lsq.Problem{Scale: m.scales()}
	for _, u := range m.unknowns {
		p.Start = append(p.Start, u.Start)
	}
	for _, o := range a.Observations {
		p.Values = append(p.Values, o.Value)
		p.Sigmas = append(p.Sigmas, o.Sigma)
	}
	n := len(m.unknowns)
	at := &assembly.Stance{Layout: m.layout}
	p.Model = func(x, f, jac []float64) {
		m.stand(x, at)
		for i, o := range a.Observations {
			row := jac[i*n : (i+1)*n]
			if o.Unknown >= 0 {
				f[i], row[o.Unknown] = x[o.Unknown], 1
				continue
			}
			v, g, err := at.Measure(*o.Reading)
			if err != nil { // Needs has refused such readings before
				v = math.NaN()
			}
			f[i] = v
			m.row(g, x, row)
		}
	}
	return p
}

// standing is the bike for values x of the unknowns.
func (a *Adjustment) standing(x []float64) *assembly.Stance {
	s := &assembly.Stance{Layout: a.model.layout}
	a.model.stand(x, s)
	return s
}

// Assumptions lists in words what was assumed.
func (a *Adjustment) Assumptions() []string {
	words := append([]string(nil), a.model.layout.Bike.Assumed...)
	for _, o := range a.Observations {
		if o.Origin == FromAssumption {
			words = append(words, fmt.Sprintf("%s: neither stated nor read, taken as %.1f° ± %.1f°",
				o.Name, plane.Deg(o.Value), plane.Deg(o.Sigma)))
		}
	}
	return words
}

// Suspects are the observations that the others contradict, as indexes into Observations.
func (a *Adjustment) Suspects() []int {
	var s []int
	if a.Search != nil {
		for _, k := range a.Search.Suspects {
			s = append(s, k.Index)
		}
	}
	return s
}
