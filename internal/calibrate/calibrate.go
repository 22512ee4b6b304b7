// Package calibrate learns a machine from entries: each a standing with its marks and the readings taken
// there. It fits where the clamps are with every mark at 0, in which direction each adjuster travels and how
// far per mark, says how sure that is, whether a scale is straight, and what the entries cannot tell.
package calibrate

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/locate"
	"carryover/internal/lsq"
	"carryover/internal/written"
)

// Parameter is one number of the machine, mm or radians (per mark).
type Parameter struct {
	locate.Number
	Before float64
	Value  float64
	Sigma  float64
	Fitted bool
	Kept   bool // a unit that stays as in the file: what the entries say, ± Sigma, does not contradict it
	// Doubt says why it is not fit to be relied upon, when it is fitted; "" else.
	Doubt string
	// Needs says which entry would tell it, when it was to be fitted and the entries cannot tell, or tell it
	// badly; "" else.
	Needs string
}

// Reading is what the calibration says of one reading or mark of an entry. The value of a mark is the travel that it says on the
// scale as fitted.
type Reading struct {
	locate.Observation
	locate.Judgement
	FittedMark float64 // of a mark: where it should be, as the scale shows it
	Suspect    bool
}

// Linear is the test of one scale for straightness.
type Linear struct {
	Adjuster    int
	Points      int // different marks entered
	Tested      bool
	Bend, Sigma float64 // how far the middle is off the straight line through the ends, mm or radians
	Straight    bool    // not contradicted at the significance
}

// Result is a machine calibrated.
type Result struct {
	Bike       *bike.Bike
	Parameters []Parameter
	Readings   []Reading
	Linear     []Linear
	Chi2, P    float64
	DOF        int
	// Assumptions in words.
	Assumptions []string
	// Written is the file that the numbers were put into, Kept where the original is; "" when neither was.
	Written, Kept string
}

// Options of a calibration.
type Options struct {
	Only         []locate.Number // what to fit; nil: everything that the entries can tell
	Significance float64         // the risk taken of calling a good reading wrong or a straight scale bent, 0: locate.DefaultSignificance
}

// ParseNumbers reads what to fit: "NAME", "NAME=angle,unit", "saddle_clamp" or "bar_clamp".
func ParseNumbers(b *bike.Bike, text string) (list []locate.Number, err error) {
	name, keys := text, []string(nil)
	if i := strings.LastIndex(text, "="); i >= 0 {
		name, keys = text[:i], strings.Split(text[i+1:], ",")
	}
	var of []locate.Number
	var names []string
	for _, n := range locate.Numbers(b) {
		called := n.Clamp()
		if n.Adjuster >= 0 {
			called = b.Adjusters[n.Adjuster].Name
		}
		if names = append(names, called); called == name {
			of = append(of, n)
		}
	}
	if len(of) == 0 {
		return nil, fmt.Errorf("nothing to fit is called %q; there are %s", name, strings.Join(slices.Compact(names), ", "))
	}
	for _, key := range keys {
		key = strings.TrimSpace(key)
		i := slices.IndexFunc(of, func(n locate.Number) bool { return n.Adjuster >= 0 && (Parameter{Number: n}).Name() == key })
		switch {
		case i >= 0:
			list = append(list, of[i])
		case key == "angle" && of[0].Adjuster >= 0:
			return nil, fmt.Errorf("%q turns something and has no direction of travel: only its unit can be fitted", name)
		default:
			return nil, fmt.Errorf("of an adjuster angle and unit can be fitted, not %q", key)
		}
	}
	if keys == nil {
		return of, nil
	}
	return list, nil
}

// learner is a bike with its entries, and which of its numbers are to be learnt.
type learner struct {
	b          *bike.Bike
	entries    *locate.Adjustment
	parameters []Parameter
	learn      []locate.Number
	alpha      float64
	work       lsq.Workspace
}

// Calibrate fits a bike's calibration entries.
func Calibrate(b *bike.Bike, o Options) (*Result, error) {
	if len(b.Calibrations) == 0 {
		return nil, fmt.Errorf("%s has no [[calibration]]: add entries with marks and readings, "+
			"for each adjuster one at either end and one between", b.File)
	}
	if b.Opens() {
		return nil, fmt.Errorf("%s has an open slot (parts = [...]): to calibrate, say which part is fitted", b.File)
	}
	entries, err := locate.Entries(b)
	if err != nil {
		return nil, err
	}
	m := &learner{b: b, entries: entries, alpha: cmp.Or(o.Significance, locate.DefaultSignificance)}
	m.listNumbers(o)
	if err := m.holdUndetermined(); err != nil {
		return nil, err
	}
	search, err := m.search(o)
	if err != nil {
		return nil, fmt.Errorf("%s: the calibration cannot be adjusted: %w", b.File, err)
	}
	s := search.Final
	if s.Status != lsq.Converged {
		return nil, fmt.Errorf("%s: the calibration leads nowhere (%s): start from anchors, directions and units that are roughly right",
			b.File, s.Status)
	}
	r := &Result{Bike: b, Parameters: m.parameters, Readings: m.judged(search), Chi2: s.Chi2, DOF: s.DOF, P: s.PValue(),
		Assumptions: m.assumptions(s)}
	for i := range r.Parameters {
		p := &r.Parameters[i]
		if u := entries.Unknown(p.Number); u >= 0 {
			p.Value, p.Fitted, p.Sigma = s.X[u], true, s.Sigma(u)
			if p.Doubt = m.doubt(p, s); p.Doubt != "" {
				p.Needs = m.helps(p)
			}
		}
	}
	r.Linear, err = m.linear(len(search.Suspects) > 0)
	return r, err
}

// search adjusts the entries and looks for what is wrong in them. With everything to be fitted, a unit of the
// file that lies within the ± of the fitted one stays, and the rest is adjusted to it: scales are made to plain units.
func (m *learner) search(o Options) (*lsq.Search, error) {
	s, err := m.robust(m.learn)
	if err != nil || o.Only != nil {
		return s, err
	}
	all := len(m.learn)
	for i := range m.parameters {
		p := &m.parameters[i]
		if u := m.entries.Unknown(p.Number); p.Kind == locate.Unit && u >= 0 && math.Abs(s.Final.X[u]-p.Before) <= s.Final.Sigma(u) {
			p.Kept, p.Sigma = true, s.Final.Sigma(u)
			m.hold(p)
		}
	}
	if len(m.learn) == all {
		return s, nil
	}
	return m.robust(m.learn)
}

// robust adjusts with some numbers unknown and looks for what is wrong among readings and marks.
func (m *learner) robust(learn []locate.Number) (*lsq.Search, error) {
	p := m.entries.Learn(learn)
	candidates := make([]bool, len(p.Values))
	for i, o := range m.entries.Observations {
		candidates[i] = entered(&o)
	}
	return lsq.Robust(p, candidates, m.alpha, &m.work)
}

// entered reports whether an observation is of an entry, a reading or a mark.
func entered(o *locate.Observation) bool {
	return o.Origin == locate.FromReading || o.Origin == locate.FromMark
}

// Doubtful are the fitted parameters that are not fit to be relied upon.
func (r *Result) Doubtful() (list []Parameter) {
	for _, p := range r.Parameters {
		if p.Doubt != "" {
			list = append(list, p)
		}
	}
	return list
}

// Worse than this a fitted number does not improve what a tape along the machine gives; for a unit it is
// counted at the far end of its scale.
const (
	worstMM  = 10
	worstRad = 2 * math.Pi / 180
)

// An observation shapes a parameter when its own uncertainty makes up this share of the parameter's, and is
// checked when others would show this share of an error in it.
const (
	shapes  = 0.1
	checked = 0.01
)

// doubt says why a fitted parameter is not to be relied upon, "" when it is.
func (m *learner) doubt(p *Parameter, s *lsq.Solution) string {
	u := m.entries.Unknown(p.Number)
	sigma, limit, unit, where := s.Sigma(u), float64(worstMM), " mm", ""
	of := p.On(m.b)
	if of.Turns() {
		limit, unit = worstRad, "°"
	}
	if p.Kind == locate.Unit {
		a := &m.b.Adjusters[p.Adjuster]
		sigma *= math.Max(math.Abs(a.Lo), math.Abs(a.Hi))
		where = " at the end of its scale"
	}
	if sigma > limit {
		return fmt.Sprintf("known to ± %.1f%s only%s", of.Of(sigma).Shown(), unit, where)
	}
	r := s.Redundancy()
	for i := range r {
		if r[i] > checked && math.Abs(s.Influence(i)[u])*m.entries.Observations[i].Sigma > shapes*s.Sigma(u) {
			return ""
		}
	}
	return unchecked
}

const unchecked = "checked by no other reading"

// listNumbers lists the machine's numbers, and which of them to learn.
func (m *learner) listNumbers(o Options) {
	for _, n := range locate.Numbers(m.b) {
		before := n.On(m.b).Value()
		p := Parameter{Number: n, Before: before, Value: before}
		wanted := slices.Contains(o.Only, n)
		if o.Only == nil { // without a scale the marks are a tape's, from the stop: their unit is known
			wanted = n.Kind != locate.Unit || !m.b.Adjusters[n.Adjuster].NoScale
		}
		switch sees := m.entries.Sees(n); {
		case wanted && sees:
			m.learn = append(m.learn, n)
		case wanted && n.Adjuster >= 0:
			p.Needs = "a reading that sees what it moves, in every entry"
		}
		m.parameters = append(m.parameters, p)
	}
}

// undetermined is the share of a parameter along free directions from which on it counts as not told.
const undetermined = 1e-6

// holdUndetermined holds parameters that the entries cannot tell at their value in the file, one by one:
// directions and units of adjusters with the fewest different marks first, anchors last.
func (m *learner) holdUndetermined() error {
	rank := func(p *Parameter) int {
		if p.Adjuster < 0 {
			return 1 << 20
		}
		// The unit of a scale is what the person knows best: it is held before the direction.
		k := 2 * len(m.entries.Entered(p.Adjuster))
		if p.Kind == locate.Direction {
			k++
		}
		return k
	}
	for {
		s, err := lsq.Solve(m.entries.Learn(m.learn), &m.work)
		if err != nil {
			return fmt.Errorf("%s: the calibration cannot be adjusted: %w", m.b.File, err)
		}
		var worst *Parameter
		for i := range m.parameters {
			p := &m.parameters[i]
			if u := m.entries.Unknown(p.Number); u >= 0 && s.FreeShare(u) > undetermined && (worst == nil || rank(p) < rank(worst)) {
				worst = p
			}
		}
		if worst == nil {
			return nil
		}
		m.hold(worst)
		worst.Needs = m.needs(worst)
	}
}

// hold takes a parameter out of what is learnt.
func (m *learner) hold(p *Parameter) {
	m.learn = slices.DeleteFunc(m.learn, func(n locate.Number) bool { return n == p.Number })
}

// helps says in words what would make a fitted parameter fit to be relied upon.
func (m *learner) helps(p *Parameter) string {
	on := p.Saddle
	if p.Adjuster >= 0 {
		moves := m.b.Adjusters[p.Adjuster].Moves
		on = moves == bike.MovesSaddle || moves == bike.MovesSaddleTilt
	}
	type check struct {
		name string
		kind bike.Kind
	}
	part, at, checks := "bar", bike.AtBar, [...]check{{"reach to the bar", bike.Level}, {"drop to the bar", bike.Plumb}, {"nose-to-bar",
		bike.Line}}
	if on {
		part, at = "saddle", bike.AtSaddle
		checks = [...]check{{"saddle-height", bike.Line}, {"setback", bike.Level}, {"floor-height of the saddle", bike.Plumb}}
	}
	var lacking []string
	for _, c := range checks {
		if !slices.ContainsFunc(m.entries.Observations, func(o locate.Observation) bool {
			r := o.Reading
			return r != nil && r.Kind == c.kind && (r.From.Kind == at || r.To.Kind == at)
		}) {
			lacking = append(lacking, c.name)
		}
	}
	switch {
	case p.Doubt != unchecked && p.Adjuster < 0 && len(lacking) < 2: // two fix it both ways
		return "entries with the marks of what moves it nearer to 0, or further apart"
	case p.Doubt != unchecked:
		return m.needs(p)
	case len(lacking) > 0:
		return fmt.Sprintf("a check: %s beside the readings that are there, in every entry", lacking[0])
	}
	return fmt.Sprintf("a check: one more entry at other marks, with the same readings of the %s", part)
}

// needs says in words which entry would tell a parameter.
func (m *learner) needs(p *Parameter) string {
	if p.Adjuster < 0 {
		return "readings in one entry that fix the part both ways, such as saddle-height and setback, or reach and drop"
	}
	name := m.b.Adjusters[p.Adjuster].Name
	switch marks := m.entries.Entered(p.Adjuster); len(marks) {
	case 0:
		return fmt.Sprintf("entries that say the mark of %q, at both ends of its scale", name)
	case 1:
		return fmt.Sprintf("an entry with %q at another mark than %s, the rest left alone", name, written.Short(marks[0]))
	}
	// Something else that moves the same part hides it where its mark is not said.
	for k := range m.b.Adjusters {
		other := &m.b.Adjusters[k]
		if k == p.Adjuster || other.Moves != m.b.Adjusters[p.Adjuster].Moves {
			continue
		}
		for _, c := range m.b.Calibrations {
			if _, ok := c.Marks[other.Name]; !ok {
				where := "whose mark is entered too"
				if other.NoScale {
					where = "at its stop, which is mark 0"
				}
				return fmt.Sprintf("an entry with %q at another mark and %q %s", name, other.Name, where)
			}
		}
	}
	return fmt.Sprintf("an entry with %q at another mark in which readings fix what it moves both ways", name)
}

// assumptions lists in words what no entry says and some reading sees.
func (m *learner) assumptions(s *lsq.Solution) (list []string) {
	for _, o := range m.entries.Observations {
		if o.Origin != locate.FromAssumption {
			continue
		}
		for i := range m.entries.Observations {
			if m.entries.Observations[i].Reading != nil && s.Row(i)[o.Unknown] != 0 {
				list = append(list, o.Assumed()+" in every entry")
				break
			}
		}
	}
	if m.entries.Uses(assembly.Saddle) && m.b.Saddle.ClampAt.Free {
		list = append(list, fmt.Sprintf("the place of the rail clamp is left open: taken as %s mm in every entry",
			written.Short(m.b.Saddle.ClampAt.Mid())))
	}
	return list
}

// judged lists what the calibration says of every reading and mark.
func (m *learner) judged(s *lsq.Search) (list []Reading) {
	m.entries.Search = s
	judged := m.entries.Judged()
	for i, o := range m.entries.Observations {
		if !entered(&o) {
			continue
		}
		k := Reading{Observation: o, Judgement: judged[i], Suspect: s.Suspected(i)}
		if o.Origin == locate.FromMark {
			unit := m.b.Adjusters[o.Adjuster].Unit
			if u := m.entries.Unknown(locate.Number{Kind: locate.Unit, Adjuster: o.Adjuster}); u >= 0 {
				unit = s.Final.X[u]
			}
			k.Value = o.Value.Of(unit * o.Mark)
			k.Fitted = k.Value.Value() + k.Residual
			k.FittedMark = k.Fitted / unit
		}
		list = append(list, k)
	}
	return list
}

// linear tests every scale with three or more marks: a bend is fitted beside everything else. Where something
// was found to be wrong, it is looked for anew with the bend in: a bent scale makes good readings look wrong, and
// a wrong reading a straight scale bent.
func (m *learner) linear(wrong bool) (list []Linear, err error) {
	for i := range m.b.Adjusters {
		l := Linear{Adjuster: i, Points: len(m.entries.Entered(i)), Straight: true}
		if bend := (locate.Number{Kind: locate.Bend, Adjuster: i}); l.Points >= 3 && m.entries.Sees(bend) {
			s, err := m.bent(bend, wrong)
			if err != nil {
				return nil, fmt.Errorf("%s: the scale of %q cannot be tested: %w", m.b.File, m.b.Adjusters[i].Name, err)
			}
			at := m.entries.Unknown(bend)
			if s.FreeShare(at) <= undetermined && s.Status == lsq.Converged {
				l.Tested, l.Bend, l.Sigma = true, s.X[at], s.Sigma(at)
				l.Straight = math.Abs(l.Bend) <= lsq.CriticalW(m.alpha)*l.Sigma
			}
		}
		list = append(list, l)
	}
	return list, nil
}

// bent adjusts with a bend among the unknowns, and without what is wrong all the same.
func (m *learner) bent(bend locate.Number, wrong bool) (*lsq.Solution, error) {
	learn := append(slices.Clip(m.learn), bend)
	if !wrong {
		return lsq.Solve(m.entries.Learn(learn), &m.work)
	}
	s, err := m.robust(learn)
	if err != nil {
		return nil, err
	}
	return s.Final, nil
}
