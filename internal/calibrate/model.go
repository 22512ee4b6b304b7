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

// model is all entries of a machine as one adjustment, each a bike on joints of which anchors, directions and the turns
// that no adjuster sets are common to all:
//
//	clamp of entry e = anchor + Σ travel_ie·(cos angle_i, sin angle_i)
//	travel_ie        = unit_i·mark_ie (+ bend_i·4u(1-u), u the mark between the least and greatest entered)
//
// The travels are unknowns of their own: a mark is an observation of one, with the adjuster's uncertainty.
type model struct {
	b       *bike.Bike
	layout  *assembly.Layout
	used    [assembly.Bodies]bool
	anchor  [2][2]number // saddle, bar; x, y
	angle   []number     // of each adjuster
	unit    []number
	bend    []number
	ends    [][2]float64 // least and greatest mark entered
	travel  [][]number   // [entry][adjuster]
	turn    [assembly.Bodies]number
	station float64 // held by the saddle's clamp
	count   int
	rows    []row
}

// number is a number of the joints with its typical size.
type number struct {
	assembly.Number
	scale float64
}

// row is one observation: a reading of an entry, the mark of an adjuster in it (reading nil), or a turn
// that is stated or assumed (entry -1).
type row struct {
	entry    int
	reading  *bike.Reading
	tape     assembly.Tape
	adjuster int
	mark     float64
	turn     assembly.Body
	value    float64
	sigma    float64
}

const (
	onSaddle = 0
	onBar    = 1
)

const tenDegrees = math.Pi / 18

// newModel sets up the entries of a bike; nothing is fitted yet.
func newModel(b *bike.Bike) (*model, error) {
	m := &model{b: b, layout: assembly.New(b, bike.Posture{})}
	var problems diag.List
	bad := func(r *bike.Reading, text string) {
		where := r.Where
		problems = append(problems, diag.Diagnostic{Code: "reading", Severity: diag.Error, Summary: text, Span: &where, Line: r.Source})
	}
	for e := range b.Calibrations {
		for i := range b.Calibrations[e].Readings {
			r := &b.Calibrations[e].Readings[i]
			t, err := m.layout.Tape(*r)
			if err != nil {
				bad(r, err.Error())
				continue
			}
			for body, n := range t.Needs() {
				body := assembly.Body(body)
				hung := body == assembly.Saddle || body == assembly.Bar || body == assembly.Pads && m.layout.Clipon != nil
				if n && !hung {
					bad(r, fmt.Sprintf("%s goes to a place that hangs on no part of this file: give the bar with its lever, "+
						"or the clip-on with its hole and stack", r.Written))
				}
				m.used[body] = m.used[body] || n
			}
			m.rows = append(m.rows, row{entry: e, reading: r, tape: t, adjuster: -1, value: r.Value, sigma: r.Sigma})
		}
	}
	if problems.HasErrors() {
		return nil, problems
	}
	if c := m.layout.Clipon; c != nil && c.TiltFromBar && m.used[assembly.Pads] {
		m.used[assembly.Bar] = true
	}
	if m.used[assembly.Saddle] && m.layout.Shape == nil {
		return nil, fmt.Errorf("%s: to calibrate the saddle's adjusters its part is needed: give it in [saddle]", b.File)
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

func held(v, scale float64) number { return number{assembly.Held(v), scale} }

// start gives every number its value in the file and lists the observations that are no readings.
func (m *model) start() {
	b := m.b
	anchor := func(p *plane.Point) [2]number {
		if p == nil {
			p = &plane.Point{}
		}
		return [2]number{held(p.X, 100), held(p.Y, 100)}
	}
	m.anchor[onSaddle], m.anchor[onBar] = anchor(b.SaddleAnchor), anchor(b.BarAnchor)
	if at, ok := b.OnStem(); ok {
		m.anchor[onBar] = anchor(&at)
	}
	for i := range b.Adjusters {
		a := &b.Adjusters[i]
		m.angle, m.unit = append(m.angle, held(a.Angle, tenDegrees)), append(m.unit, held(a.Unit, math.Abs(a.Unit)))
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
		var t []number
		for i := range b.Adjusters {
			a := &b.Adjusters[i]
			mark, ok := c.Marks[a.Name]
			if !ok {
				mark = a.Lo + (a.Hi-a.Lo)/2
			}
			u := held(a.Travel(mark), 100)
			if a.Moves.Turns() {
				u.scale = tenDegrees
			}
			if m.sees(i) {
				u.Unknown = m.next()
				if ok {
					m.rows = append(m.rows, row{entry: e, adjuster: i, mark: mark, sigma: a.Sigma})
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
	read := map[assembly.Body]bool{}
	for _, r := range m.rows {
		if r.reading != nil && r.reading.Kind == bike.Angle {
			read[m.layout.AngledBody(r.reading.Of)] = true
		}
	}
	set := func(body assembly.Body, moves bike.Moves, s bike.Setting) {
		m.turn[body] = held(s.Mid(), tenDegrees)
		if !m.used[body] || body != assembly.Pads && len(b.Moving(moves)) > 0 || !m.turnsMatter(body) {
			return
		}
		m.turn[body].Unknown = m.next()
		switch {
		case s.Given && !s.Free:
			m.rows = append(m.rows, row{entry: -1, adjuster: -1, turn: body, value: s.Lo, sigma: locate.StatedSigma})
		case !read[body]:
			m.rows = append(m.rows, row{entry: -1, adjuster: -1, turn: body, value: plane.Clamp(0, s.Lo, s.Hi), sigma: locate.AssumedSigma})
		}
	}
	for body := range m.turn {
		m.turn[body] = held(0, tenDegrees)
	}
	set(assembly.Saddle, bike.MovesSaddleTilt, b.Saddle.Tilt)
	set(assembly.Bar, bike.MovesBarRotation, b.Bar.Rotation)
	if b.Clipon != nil {
		set(assembly.Pads, 0, b.Clipon.Tilt)
	}
}

// turnsMatter reports whether any reading changes when a body turns about its clamp.
func (m *model) turnsMatter(body assembly.Body) bool {
	if body == assembly.Saddle {
		return true // its clamp is under it, never where a tape goes
	}
	chains, s, x := m.chains(), &assembly.Stance{Layout: m.layout}, m.problem().Start
	for i := range m.rows {
		r := &m.rows[i]
		if r.reading == nil {
			continue
		}
		chains[r.entry].Stand(x, s)
		if _, g := s.Read(&r.tape); g[body].Turn != 0 {
			return true
		}
	}
	return false
}

// chains hang the parts of every entry on its joints.
func (m *model) chains() []*assembly.Chains {
	j := assembly.Joints{Travel: make([]assembly.Number, len(m.angle)), Angle: make([]assembly.Number, len(m.angle))}
	for body := range j.At {
		half := onBar
		if assembly.Body(body) == assembly.Saddle {
			half = onSaddle
		}
		j.At[body] = [2]assembly.Number{m.anchor[half][0].Number, m.anchor[half][1].Number}
		j.Hung[body], j.Turn[body] = true, m.turn[body].Number
		j.Arm[body] = [2]assembly.Number{assembly.Held(0), assembly.Held(0)}
	}
	if s := m.layout.Shape; s != nil {
		j.Arm[assembly.Saddle] = [2]assembly.Number{assembly.Held(m.station), assembly.Held(s.Rail.Height)}
	}
	for i := range m.angle {
		j.Angle[i] = m.angle[i].Number
	}
	var all []*assembly.Chains
	for e := range m.travel {
		for i := range m.travel[e] {
			j.Travel[i] = m.travel[e][i].Number
		}
		all = append(all, m.layout.Chains(&j, m.used))
	}
	return all
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

// each calls f with every number of the model.
func (m *model) each(f func(*number)) {
	for k := range m.anchor {
		f(&m.anchor[k][0])
		f(&m.anchor[k][1])
	}
	for i := range m.angle {
		f(&m.angle[i])
		f(&m.unit[i])
		f(&m.bend[i])
		for e := range m.travel {
			f(&m.travel[e][i])
		}
	}
	for k := range m.turn {
		f(&m.turn[k])
	}
}

// problem puts all entries to the adjustment.
func (m *model) problem() lsq.Problem {
	p := lsq.Problem{Start: make([]float64, m.count), Scale: make([]float64, m.count)}
	m.each(func(n *number) {
		if n.Unknown >= 0 {
			p.Start[n.Unknown], p.Scale[n.Unknown] = n.Value, n.scale
		}
	})
	for _, r := range m.rows {
		p.Values, p.Sigmas = append(p.Values, r.value), append(p.Sigmas, r.sigma)
	}
	chains := m.chains()
	stand := make([]assembly.Stance, len(chains))
	for e := range stand {
		stand[e].Layout = m.layout
	}
	p.Model = func(x, f, jac []float64) {
		for e := range stand {
			chains[e].Stand(x, &stand[e])
		}
		for k := range m.rows {
			r, row := &m.rows[k], jac[k*m.count:(k+1)*m.count]
			switch {
			case r.reading != nil:
				v, g := stand[r.entry].Read(&r.tape)
				f[k] = v
				chains[r.entry].Row(&g, &stand[r.entry], x, row)
			case r.entry < 0:
				f[k] = m.turn[r.turn].Of(x)
				m.turn[r.turn].Add(row, 1)
			default: // travel - unit·mark - bend = 0
				i, t := r.adjuster, m.travel[r.entry][r.adjuster]
				f[k] = t.Of(x) - m.unit[i].Of(x)*r.mark - m.bend[i].Of(x)*m.hump(i, r.mark)
				t.Add(row, 1)
				m.unit[i].Add(row, -r.mark)
				m.bend[i].Add(row, -m.hump(i, r.mark))
			}
		}
	}
	return p
}
