package calibrate

import (
	"fmt"
	"math"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/diag"
	"carryover/internal/locate"
	"carryover/internal/lsq"
	"carryover/internal/plane"
)

// unknown is a number that the adjustment of all entries finds. at is its index among the unknowns, -1
// while it is held at value.
type unknown struct {
	at    int
	value float64
	scale float64
}

// model is all entries of a machine as one adjustment:
//
//	clamp of entry e = anchor + Σ travel_ie·(cos angle_i, sin angle_i)
//	travel_ie        = unit_i·mark_ie (+ bend_i·4u(1-u), u the mark between the least and greatest entered)
//
// The travels are unknowns of their own: a mark is an observation of one, with the adjuster's uncertainty.
// Tilts and rotations that no adjuster sets are common to all entries.
type model struct {
	b       *bike.Bike
	layout  *assembly.Layout
	used    [assembly.Bodies]bool
	anchor  [2][2]unknown // saddle, bar; x, y
	angle   []unknown     // of each adjuster
	unit    []unknown
	bend    []unknown
	ends    [][2]float64 // least and greatest mark entered
	travel  [][]unknown  // [entry][adjuster]
	turn    [3]unknown   // saddle tilt, bar rotation, clip-on tilt, where no adjuster sets them
	station float64      // held by the saddle's clamp
	count   int
	rows    []row
}

// row is one observation: a reading of an entry, the mark of an adjuster in it (reading nil), or a turn
// that is stated or assumed (entry -1).
type row struct {
	entry    int
	reading  *bike.Reading
	adjuster int
	mark     float64
	turn     int
	value    float64
	sigma    float64
}

const (
	onSaddle = 0
	onBar    = 1
)

// half is which anchor a body hangs on.
func half(b assembly.Body) int {
	if b == assembly.Saddle {
		return onSaddle
	}
	return onBar
}

// newModel sets up the entries of a bike; nothing is fitted yet.
func newModel(b *bike.Bike) (*model, error) {
	m := &model{b: b, layout: assembly.New(b, bike.Posture{})}
	var problems diag.List
	bad := func(r *bike.Reading, text string) {
		where := r.Where
		problems = append(problems, diag.Diagnostic{Code: "reading", Severity: diag.Error, Summary: text, Span: &where, Line: r.Source})
	}
	for e := range b.Calibrations {
		c := &b.Calibrations[e]
		for i := range c.Readings {
			r := &c.Readings[i]
			t, err := m.layout.Tape(*r)
			if err != nil {
				bad(r, err.Error())
				continue
			}
			for body, n := range t.Needs() {
				loose := n && assembly.Body(body) != assembly.Saddle && assembly.Body(body) != assembly.Bar &&
					(assembly.Body(body) != assembly.Pads || m.layout.Clipon == nil)
				if loose {
					bad(r, fmt.Sprintf("%s goes to a place that hangs on no part of this file: give the bar with its lever, or the clip-on with its hole and stack", r.Written))
				}
				m.used[body] = m.used[body] || n
			}
			m.rows = append(m.rows, row{entry: e, reading: r, adjuster: -1, turn: -1, value: r.Value, sigma: r.Sigma})
		}
	}
	if problems.HasErrors() {
		return nil, problems
	}
	if m.used[assembly.Saddle] && b.SaddleAnchor == nil || m.bars() && b.BarAnchor == nil && b.Stem == nil {
		return nil, fmt.Errorf("%s: give a rough [anchor] for what is to be calibrated, a place to start from", b.File)
	}
	m.start()
	return m, nil
}

// bars reports whether any reading sees what hangs on the bar's clamp.
func (m *model) bars() bool { return m.used[assembly.Bar] || m.used[assembly.Pads] }

// sees reports whether any reading sees what an adjuster moves.
func (m *model) sees(i int) bool {
	switch m.b.Adjusters[i].Moves {
	case bike.MovesSaddle, bike.MovesSaddleTilt:
		return m.used[assembly.Saddle]
	case bike.MovesBarRotation:
		return m.used[assembly.Bar]
	}
	return m.bars()
}

// start gives every number its value in the file and lists the observations that are no readings.
func (m *model) start() {
	b := m.b
	held := func(v, scale float64) unknown { return unknown{-1, v, scale} }
	anchor := func(p *plane.Point) [2]unknown {
		if p == nil {
			p = &plane.Point{}
		}
		return [2]unknown{held(p.X, 100), held(p.Y, 100)}
	}
	m.anchor[onSaddle], m.anchor[onBar] = anchor(b.SaddleAnchor), anchor(b.BarAnchor)
	if b.Stem != nil {
		if steerer, ok := b.Steerer(); ok && b.Stem.Only() != nil {
			at := steerer.BarClamp(*b.Stem.Only(), b.Stem.Flip != nil && *b.Stem.Flip, b.Stem.Spacers.Fixed)
			m.anchor[onBar] = anchor(&at)
		}
	}
	for i := range b.Adjusters {
		a := &b.Adjusters[i]
		m.angle = append(m.angle, held(a.Angle, math.Pi/18))
		m.unit = append(m.unit, held(a.Unit, math.Abs(a.Unit)))
		m.bend = append(m.bend, held(0, 10))
		ends := [2]float64{math.Inf(1), math.Inf(-1)}
		for _, c := range b.Calibrations {
			if mark, ok := c.Marks[a.Name]; ok {
				ends[0], ends[1] = math.Min(ends[0], mark), math.Max(ends[1], mark)
			}
		}
		m.ends = append(m.ends, ends)
	}
	if s := m.layout.Shape; s != nil {
		m.station = (s.Rail.From + s.Rail.To) / 2
		if b.Saddle.ClampAt.Given {
			m.station = b.Saddle.ClampAt.Mid()
		}
	}
	for e, c := range b.Calibrations {
		var t []unknown
		for i := range b.Adjusters {
			a := &b.Adjusters[i]
			mark, ok := c.Marks[a.Name]
			if !ok {
				mark = a.Lo + (a.Hi-a.Lo)/2
			}
			scale := 100.0
			if a.Moves.Turns() {
				scale = math.Pi / 18
			}
			u := held(a.Travel(mark), scale)
			if m.sees(i) {
				u.at = m.next()
				if ok {
					m.rows = append(m.rows, row{entry: e, adjuster: i, mark: mark, turn: -1, sigma: a.Sigma})
				}
			}
			t = append(t, u)
		}
		m.travel = append(m.travel, t)
	}
	m.turns()
}

func (m *model) next() int {
	m.count++
	return m.count - 1
}

// turns sets up the turns that no adjuster sets.
func (m *model) turns() {
	b := m.b
	read := [3]bool{}
	for _, r := range m.rows {
		if r.reading != nil && r.reading.Kind == bike.Angle {
			switch m.layout.AngledBody(r.reading.Of) {
			case assembly.Saddle:
				read[0] = true
			case assembly.Bar:
				read[1] = true
			case assembly.Pads:
				read[2] = true
			}
		}
	}
	for k := range m.turn {
		m.turn[k].at = -1
	}
	set := func(k int, body assembly.Body, in bool, s bike.Setting) {
		m.turn[k] = unknown{-1, s.Mid(), math.Pi / 18}
		if !in || !m.turnsMatter(body) {
			return
		}
		m.turn[k].at = m.next()
		switch {
		case s.Given && !s.Free:
			m.rows = append(m.rows, row{entry: -1, adjuster: -1, turn: k, value: s.Lo, sigma: locate.StatedSigma})
		case !read[k]:
			m.rows = append(m.rows, row{entry: -1, adjuster: -1, turn: k, value: plane.Clamp(0, s.Lo, s.Hi), sigma: locate.AssumedSigma})
		}
	}
	set(0, assembly.Saddle, m.used[assembly.Saddle] && len(b.Moving(bike.MovesSaddleTilt)) == 0, b.Saddle.Tilt)
	set(1, assembly.Bar, m.used[assembly.Bar] && len(b.Moving(bike.MovesBarRotation)) == 0, b.Bar.Rotation)
	if b.Clipon != nil {
		set(2, assembly.Pads, m.used[assembly.Pads], b.Clipon.Tilt)
	}
}

// turnsMatter reports whether any reading changes when a body turns about its clamp.
func (m *model) turnsMatter(body assembly.Body) bool {
	if body == assembly.Saddle {
		return true // its clamp is under it, never where a tape goes
	}
	s, x := &assembly.Stance{Layout: m.layout}, m.problem().Start
	for _, r := range m.rows {
		if r.reading == nil {
			continue
		}
		m.stand(r.entry, x, s)
		if _, g, err := s.Measure(*r.reading); err == nil && g[body].Turn != 0 {
			return true
		}
	}
	return false
}

// of is the value of an unknown.
func (u unknown) of(x []float64) float64 {
	if u.at >= 0 {
		return x[u.at]
	}
	return u.value
}

// turner is what gives a body its turn: the travel of an adjuster in an entry, or a common one.
func (m *model) turner(e int, body assembly.Body) *unknown {
	moves, common := bike.MovesSaddleTilt, &m.turn[0]
	switch body {
	case assembly.Bar:
		moves, common = bike.MovesBarRotation, &m.turn[1]
	case assembly.Pads:
		return &m.turn[2]
	}
	if on := m.b.Moving(moves); len(on) > 0 {
		return &m.travel[e][on[0]]
	}
	return common
}

// moving are the adjusters that shift a body.
func (m *model) moving(body assembly.Body) []int {
	if body == assembly.Saddle {
		return m.b.Moving(bike.MovesSaddle)
	}
	return m.b.Moving(bike.MovesBar)
}

// stand sets up entry e for values x of the unknowns.
func (m *model) stand(e int, x []float64, s *assembly.Stance) {
	for _, body := range [3]assembly.Body{assembly.Saddle, assembly.Bar, assembly.Pads} {
		if !m.used[body] {
			continue
		}
		anchor := m.anchor[half(body)]
		p := plane.Pose{Origin: plane.Point{X: anchor[0].of(x), Y: anchor[1].of(x)}, Turn: m.turner(e, body).of(x)}
		for _, i := range m.moving(body) {
			p.Origin = p.Origin.Add(plane.Direction(m.angle[i].of(x)).Scale(m.travel[e][i].of(x)))
		}
		if body == assembly.Saddle {
			p.Origin = p.Origin.Add(m.rail().Turn(p.Turn))
		}
		s.Poses[body] = p
	}
}

// rail is from the clamp to the straightedge above the nose, in the saddle's frame.
func (m *model) rail() plane.Point { return plane.Point{X: m.station, Y: m.layout.Shape.Rail.Height} }

// spread adds what a reading with gradient g in entry e changes by, per unknown, to row.
func (m *model) spread(e int, g assembly.Gradient, x, row []float64) {
	put := func(u unknown, v float64) {
		if u.at >= 0 {
			row[u.at] += v
		}
	}
	for _, body := range [3]assembly.Body{assembly.Saddle, assembly.Bar, assembly.Pads} {
		k := g[body]
		if k == (assembly.Motion{}) {
			continue
		}
		anchor := m.anchor[half(body)]
		put(anchor[0], k.By.X)
		put(anchor[1], k.By.Y)
		for _, i := range m.moving(body) {
			d := plane.Direction(m.angle[i].of(x))
			put(m.travel[e][i], k.By.Dot(d))
			put(m.angle[i], k.By.Dot(d.Perp())*m.travel[e][i].of(x))
		}
		t := m.turner(e, body)
		put(*t, k.Turn)
		if body == assembly.Saddle {
			put(*t, k.By.Dot(m.rail().Turn(t.of(x)).Perp()))
		}
	}
}

// hump is how far a bent scale is off at a mark, for a bend of 1: nothing at the ends, all in the middle.
func (m *model) hump(i int, mark float64) float64 {
	ends := m.ends[i]
	if ends[1] <= ends[0] {
		return 0
	}
	u := (mark - ends[0]) / (ends[1] - ends[0])
	return 4 * u * (1 - u)
}

// problem puts all entries to the adjustment.
func (m *model) problem() lsq.Problem {
	p := lsq.Problem{Start: make([]float64, m.count), Scale: make([]float64, m.count)}
	each := func(u unknown) {
		if u.at >= 0 {
			p.Start[u.at], p.Scale[u.at] = u.value, u.scale
		}
	}
	for _, a := range m.anchor {
		each(a[0])
		each(a[1])
	}
	for i := range m.angle {
		each(m.angle[i])
		each(m.unit[i])
		each(m.bend[i])
		for e := range m.travel {
			each(m.travel[e][i])
		}
	}
	for _, t := range m.turn {
		each(t)
	}
	for _, r := range m.rows {
		p.Values, p.Sigmas = append(p.Values, r.value), append(p.Sigmas, r.sigma)
	}
	stand := make([]*assembly.Stance, len(m.travel))
	for e := range stand {
		stand[e] = &assembly.Stance{Layout: m.layout}
	}
	p.Model = func(x, f, jac []float64) {
		for e := range stand {
			m.stand(e, x, stand[e])
		}
		put := func(row []float64, u unknown, v float64) {
			if u.at >= 0 {
				row[u.at] += v
			}
		}
		for k, r := range m.rows {
			row := jac[k*m.count : (k+1)*m.count]
			switch {
			case r.reading != nil:
				v, g, err := stand[r.entry].Measure(*r.reading)
				if err != nil { // newModel has refused such readings
					v = math.NaN()
				}
				f[k] = v
				m.spread(r.entry, g, x, row)
			case r.turn >= 0:
				f[k] = m.turn[r.turn].of(x)
				put(row, m.turn[r.turn], 1)
			default: // travel - unit·mark - bend = 0
				i, t := r.adjuster, m.travel[r.entry][r.adjuster]
				f[k] = t.of(x) - m.unit[i].of(x)*r.mark - m.bend[i].of(x)*m.hump(i, r.mark)
				put(row, t, 1)
				put(row, m.unit[i], -r.mark)
				put(row, m.bend[i], -m.hump(i, r.mark))
			}
		}
	}
	return p
}
