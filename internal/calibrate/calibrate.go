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
	"carryover/internal/plane"
	"carryover/internal/written"
)

// Kind is what a parameter is.
type Kind int

// The parameters of a machine: x and y of an anchor, the direction an adjuster travels in, and its unit.
const (
	AnchorX Kind = iota
	AnchorY
	Angle
	Unit
)

// Parameter is one number of the machine, mm or radians (per mark).
type Parameter struct {
	Kind     Kind
	Saddle   bool // of an anchor: the saddle's, else the bar's
	Adjuster int  // of an angle or unit, -1 for an anchor
	Before   float64
	Value    float64
	Sigma    float64
	Fitted   bool
	Kept     bool // a unit that stays as in the file: what the entries say, ± Sigma, does not contradict it
	// Doubt says why it is not fit to be relied upon, when it is fitted; "" else.
	Doubt string
	// Needs says which entry would tell it, when it was to be fitted and the entries cannot tell, or tell it
	// badly; "" else.
	Needs string
}

// Reading is what the calibration says of one reading or mark of an entry.
type Reading struct {
	Entry                  int // index into the bike's calibrations
	Reading                *bike.Reading
	Adjuster               int     // of a mark, -1 for a reading
	Mark, FittedMark       float64 // as the scale shows it, of a mark
	Value, Fitted, Sigma   float64
	Normalized, Redundancy float64
	Suspect                bool
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

// Learn says what to learn of one adjuster.
type Learn struct{ Angle, Unit bool }

// Options of a calibration.
type Options struct {
	// Adjusters to fit by name, and which anchors; nil and false for both: everything the entries can tell.
	Adjusters    map[string]Learn
	SaddleAnchor bool
	BarAnchor    bool
	Significance float64 // the risk taken of calling a good reading wrong or a straight scale bent, 0: locate.DefaultSignificance
	chosen       bool
}

// everything reports whether nothing was chosen to be fitted.
func (o *Options) everything() bool {
	return !o.chosen && o.Adjusters == nil && !o.SaddleAnchor && !o.BarAnchor
}

// ParseLearn reads what to learn: "NAME", "NAME=angle,unit", "saddle_clamp" or "bar_clamp".
func (o *Options) ParseLearn(b *bike.Bike, text string) error {
	o.chosen = true
	switch text {
	case "saddle_clamp":
		o.SaddleAnchor = true
		return nil
	case "bar_clamp":
		o.BarAnchor = true
		return nil
	}
	name, what, some := text, "angle,unit", false
	if i := strings.LastIndex(text, "="); i >= 0 {
		name, what, some = text[:i], text[i+1:], true
	}
	k := slices.IndexFunc(b.Adjusters, func(a bike.Adjuster) bool { return a.Name == name })
	if k < 0 {
		names := []string{"saddle_clamp", "bar_clamp"}
		for _, a := range b.Adjusters {
			names = append(names, a.Name)
		}
		return fmt.Errorf("nothing to fit is called %q; there are %s", name, strings.Join(names, ", "))
	}
	var f Learn
	for _, w := range strings.Split(what, ",") {
		switch strings.TrimSpace(w) {
		case "angle":
			if b.Adjusters[k].Moves.Turns() && some {
				return fmt.Errorf("%q turns something and has no direction of travel: only its unit can be fitted", name)
			}
			f.Angle = true
		case "unit":
			f.Unit = true
		default:
			return fmt.Errorf("of an adjuster angle and unit can be fitted, not %q", strings.TrimSpace(w))
		}
	}
	if o.Adjusters == nil {
		o.Adjusters = map[string]Learn{}
	}
	o.Adjusters[name] = f
	return nil
}

// parameter is one that is fitted or to be fitted.
type parameter struct {
	Parameter
	u *number
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
	alpha := cmp.Or(o.Significance, locate.DefaultSignificance)
	m, err := newModel(b)
	if err != nil {
		return nil, err
	}
	params := m.parameters(o)
	var ws lsq.Workspace
	if err := m.holdUndetermined(params, &ws); err != nil {
		return nil, err
	}
	search, err := m.search(params, alpha, o, &ws)
	if err != nil {
		return nil, fmt.Errorf("%s: the calibration cannot be adjusted: %w", b.File, err)
	}
	if search.Final.Status != lsq.Converged {
		return nil, fmt.Errorf("%s: the calibration leads nowhere (%s): start from anchors, directions and units that are roughly right",
			b.File, search.Final.Status)
	}
	r := &Result{Bike: b, Chi2: search.Final.Chi2, DOF: search.Final.DOF, P: search.Final.PValue(), Assumptions: m.assumptions()}
	for _, k := range params {
		out := k.Parameter
		out.Value = k.u.Of(search.Final.X)
		if k.u.Unknown >= 0 {
			out.Fitted, out.Sigma = true, search.Final.Sigma(k.u.Unknown)
			if out.Doubt = m.doubt(k, search.Final); out.Doubt != "" {
				out.Needs = m.helps(k.Parameter, out.Doubt)
			}
		}
		r.Parameters = append(r.Parameters, out)
	}
	r.Readings = m.judged(search)
	r.Linear, err = m.linear(alpha, len(search.Suspects) > 0, &ws)
	return r, err
}

// search adjusts the entries and looks for what is wrong in them. With everything to be fitted, a unit of the
// file that lies within the ± of the fitted one stays, and the rest is adjusted to it: scales are made to plain units.
func (m *model) search(params []*parameter, alpha float64, o Options, ws *lsq.Workspace) (*lsq.Search, error) {
	s, err := lsq.Robust(m.problem(), m.candidates(), alpha, ws)
	if err != nil || !o.everything() {
		return s, err
	}
	var stay []*parameter
	for _, p := range params {
		if p.Kind == Unit && p.u.Unknown >= 0 {
			off, sigma := p.u.Of(s.Final.X)-p.Before, s.Final.Sigma(p.u.Unknown)
			if math.Abs(off) <= sigma {
				p.Kept, p.Sigma = true, sigma
				stay = append(stay, p)
			}
		}
	}
	if len(stay) == 0 {
		return s, nil
	}
	for _, p := range stay {
		m.hold(p)
	}
	return lsq.Robust(m.problem(), m.candidates(), alpha, ws)
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
func (m *model) doubt(p *parameter, s *lsq.Solution) string {
	sigma, limit, unit := s.Sigma(p.u.Unknown), float64(worstMM), " mm"
	turns := p.Kind == Angle || p.Kind == Unit && m.b.Adjusters[p.Adjuster].Moves.Turns()
	if turns {
		limit, unit = worstRad, "°"
	}
	where := ""
	if p.Kind == Unit {
		a := &m.b.Adjusters[p.Adjuster]
		sigma *= math.Max(math.Abs(a.Lo), math.Abs(a.Hi))
		where = " at the end of its scale"
	}
	if sigma > limit {
		return fmt.Sprintf("known to ± %.1f%s only%s", plane.Measured(turns, sigma).Shown(), unit, where)
	}
	r := s.Redundancy()
	for i := range m.rows {
		if r[i] > checked && math.Abs(s.Influence(i)[p.u.Unknown])*m.rows[i].sigma > shapes*s.Sigma(p.u.Unknown) {
			return ""
		}
	}
	return unchecked
}

const unchecked = "checked by no other reading"

// candidates are the observations that may be wrong: readings and marks.
func (m *model) candidates() []bool {
	out := make([]bool, len(m.rows))
	for i, r := range m.rows {
		out[i] = r.entry >= 0
	}
	return out
}

// parameters lists the machine's numbers, those to be fitted with an index among the unknowns.
func (m *model) parameters(o Options) []*parameter {
	var list []*parameter
	everything := o.everything()
	add := func(p Parameter, u *number, fit bool) {
		p.Before = u.Value
		if fit {
			u.Unknown = m.next()
		}
		list = append(list, &parameter{p, u})
	}
	saddle := m.used[assembly.Saddle]
	if m.b.SaddleAnchor != nil {
		fit := saddle && (everything || o.SaddleAnchor)
		add(Parameter{Kind: AnchorX, Saddle: true, Adjuster: -1}, &m.anchor[onSaddle][0], fit)
		add(Parameter{Kind: AnchorY, Saddle: true, Adjuster: -1}, &m.anchor[onSaddle][1], fit)
	}
	if m.b.BarAnchor != nil && m.b.Stem == nil {
		fit := m.bars() && (everything || o.BarAnchor)
		add(Parameter{Kind: AnchorX, Adjuster: -1}, &m.anchor[onBar][0], fit)
		add(Parameter{Kind: AnchorY, Adjuster: -1}, &m.anchor[onBar][1], fit)
	}
	for i := range m.b.Adjusters {
		a := &m.b.Adjusters[i]
		want := o.Adjusters[a.Name]
		if everything { // without a scale the marks are a tape's, from the stop: their unit is known
			want = Learn{Angle: true, Unit: !a.NoScale}
		}
		if !a.Moves.Turns() {
			add(Parameter{Kind: Angle, Adjuster: i}, &m.angle[i], want.Angle && m.sees(i))
		}
		add(Parameter{Kind: Unit, Adjuster: i}, &m.unit[i], want.Unit && m.sees(i))
		for _, p := range list {
			if p.Adjuster == i && (want.Angle && p.Kind == Angle || want.Unit && p.Kind == Unit) && !m.sees(i) {
				p.Needs = "a reading that sees what it moves, in every entry"
			}
		}
	}
	return list
}

// undetermined is the share of a parameter along free directions from which on it counts as not told.
const undetermined = 1e-6

// holdUndetermined holds parameters that the entries cannot tell at their value in the file, one by one:
// directions and units of adjusters with the fewest different marks first, anchors last.
func (m *model) holdUndetermined(params []*parameter, ws *lsq.Workspace) error {
	for {
		s, err := lsq.Solve(m.problem(), ws)
		if err != nil {
			return fmt.Errorf("%s: the calibration cannot be adjusted: %w", m.b.File, err)
		}
		var worst *parameter
		rank := func(p *parameter) int {
			if p.Adjuster < 0 {
				return 1 << 20
			}
			// The unit of a scale is what the person knows best: it is held before the direction.
			k := 2 * m.points(p.Adjuster)
			if p.Kind == Angle {
				k++
			}
			return k
		}
		for _, p := range params {
			if p.u.Unknown >= 0 && s.FreeShare(p.u.Unknown) > undetermined && (worst == nil || rank(p) < rank(worst)) {
				worst = p
			}
		}
		if worst == nil {
			return nil
		}
		m.hold(worst)
		worst.Needs = m.needs(worst.Parameter)
	}
}

// hold takes a parameter out of the unknowns.
func (m *model) hold(p *parameter) {
	gone := p.u.Unknown
	p.u.Unknown = -1
	m.count--
	m.each(func(n *number) {
		if n.Unknown > gone {
			n.Unknown--
		}
	})
}

// points counts the different marks entered for an adjuster.
func (m *model) points(i int) int {
	var seen []float64
	for _, c := range m.b.Calibrations {
		if mark, ok := c.Marks[m.b.Adjusters[i].Name]; ok && !slices.Contains(seen, mark) {
			seen = append(seen, mark)
		}
	}
	return len(seen)
}

// helps says in words what would make a fitted parameter fit to be relied upon.
func (m *model) helps(p Parameter, doubt string) string {
	saddle := p.Saddle
	if p.Adjuster >= 0 {
		saddle = m.b.Adjusters[p.Adjuster].Moves == bike.MovesSaddle || m.b.Adjusters[p.Adjuster].Moves == bike.MovesSaddleTilt
	}
	if doubt != unchecked {
		if p.Adjuster < 0 && m.readBothWays(saddle) {
			return "entries with the marks of what moves it nearer to 0, or further apart"
		}
		return m.needs(p)
	}
	part, checks := "saddle", []check{
		{"saddle-height", bike.Line, bike.AtSaddle}, {"setback", bike.Level, bike.AtSaddle},
		{"floor-height of the saddle", bike.Plumb, bike.AtSaddle},
	}
	if !saddle {
		part, checks = "bar", []check{
			{"reach to the bar", bike.Level, bike.AtBar}, {"drop to the bar", bike.Plumb, bike.AtBar}, {"nose-to-bar", bike.Line, bike.AtBar},
		}
	}
	for _, c := range checks {
		if !m.has(c) {
			return fmt.Sprintf("a check: %s beside the readings that are there, in every entry", c.name)
		}
	}
	return fmt.Sprintf("a check: one more entry at other marks, with the same readings of the %s", part)
}

// check is a reading that would check others.
type check struct {
	name string
	kind bike.Kind
	at   bike.PlaceKind
}

// has reports whether an entry holds such a reading.
func (m *model) has(c check) bool {
	return slices.ContainsFunc(m.rows, func(r row) bool {
		return r.reading != nil && r.reading.Kind == c.kind && (r.reading.From.Kind == c.at || r.reading.To.Kind == c.at)
	})
}

// readBothWays reports whether the readings of a half show how far forward and how high it is.
func (m *model) readBothWays(saddle bool) bool {
	at := bike.AtBar
	if saddle {
		at = bike.AtSaddle
	}
	n := 0
	for _, k := range []bike.Kind{bike.Line, bike.Level, bike.Plumb} {
		if m.has(check{kind: k, at: at}) {
			n++
		}
	}
	return n > 1
}

// needs says in words which entry would tell a parameter.
func (m *model) needs(p Parameter) string {
	if p.Adjuster < 0 {
		return "readings in one entry that fix the part both ways, such as saddle-height and setback, or reach and drop"
	}
	name := m.b.Adjusters[p.Adjuster].Name
	switch m.points(p.Adjuster) {
	case 0:
		return fmt.Sprintf("entries that say the mark of %q, at both ends of its scale", name)
	case 1:
		return fmt.Sprintf("an entry with %q at another mark than %s, the rest left alone", name, written.Short(m.ends[p.Adjuster][0]))
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

// assumptions lists in words what no entry says.
func (m *model) assumptions() []string {
	names := map[assembly.Body]string{assembly.Saddle: bike.SetsSaddleTilt.Key(), assembly.Bar: bike.SetsRotation.Key(),
		assembly.Pads: bike.SetsPadTilt.Key()}
	var list []string
	for _, r := range m.rows {
		if r.entry < 0 && r.sigma == locate.AssumedSigma {
			list = append(list, fmt.Sprintf("%s is neither stated nor read: taken as %.1f° ± %.1f° in every entry",
				locate.Stated(names[r.turn]), plane.Deg(r.value), plane.Deg(r.sigma)))
		}
	}
	if m.used[assembly.Saddle] && m.b.Saddle.ClampAt.Free {
		list = append(list, fmt.Sprintf("the place of the rail clamp is left open: taken as %s mm in every entry", written.Short(m.station)))
	}
	return list
}

// judged lists what the calibration says of every reading and mark.
func (m *model) judged(s *lsq.Search) []Reading {
	w, red := s.Final.Normalized(), s.Final.Redundancy()
	suspect := map[int]bool{}
	for _, k := range s.Suspects {
		suspect[k.Index] = true
	}
	var list []Reading
	for i, r := range m.rows {
		if r.entry < 0 {
			continue
		}
		k := Reading{Entry: r.entry, Reading: r.reading, Adjuster: r.adjuster, Value: r.value, Fitted: s.Final.Fitted[i], Sigma: r.sigma,
			Normalized: w[i], Redundancy: red[i], Suspect: suspect[i]}
		if r.reading == nil { // the row is travel - unit·mark: show it as the travel that the mark says
			unit := m.unit[r.adjuster].Of(s.Final.X)
			k.Value = unit * r.mark
			k.Fitted += k.Value
			k.Mark, k.FittedMark = r.mark, k.Fitted/unit
		}
		list = append(list, k)
	}
	return list
}

// linear tests every scale with three or more marks: a bend is fitted beside everything else. Where something
// was found to be wrong, it is looked for anew with the bend in: a bent scale makes good readings look wrong, and
// a wrong reading a straight scale bent.
func (m *model) linear(alpha float64, wrong bool, ws *lsq.Workspace) ([]Linear, error) {
	var list []Linear
	for i := range m.b.Adjusters {
		l := Linear{Adjuster: i, Points: m.points(i), Straight: true}
		if l.Points >= 3 && m.sees(i) {
			m.bend[i].Unknown = m.next()
			s, err := m.bentFit(alpha, wrong, ws)
			if err != nil {
				return nil, fmt.Errorf("%s: the scale of %q cannot be tested: %w", m.b.File, m.b.Adjusters[i].Name, err)
			}
			at := m.bend[i].Unknown
			if s.FreeShare(at) <= undetermined && s.Status == lsq.Converged {
				l.Tested, l.Bend, l.Sigma = true, s.X[at], s.Sigma(at)
				l.Straight = math.Abs(l.Bend) <= lsq.CriticalW(alpha)*l.Sigma
			}
			m.bend[i].Unknown = -1
			m.count--
		}
		list = append(list, l)
	}
	return list, nil
}

// bentFit adjusts with a bend among the unknowns, and without what is wrong all the same.
func (m *model) bentFit(alpha float64, wrong bool, ws *lsq.Workspace) (*lsq.Solution, error) {
	if !wrong {
		return lsq.Solve(m.problem(), ws)
	}
	s, err := lsq.Robust(m.problem(), m.candidates(), alpha, ws)
	if err != nil {
		return nil, err
	}
	return s.Final, nil
}
