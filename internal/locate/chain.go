// Package locate works out, from tape readings, marks and stated values, where a bike's parts are and so
// where the rider touches it, and how sure that is.
//
// Every reading is an observation with a standard uncertainty; so are a mark (what is really set differs
// from what the scale says), a stated tilt, and an assumption. They are adjusted together by weighted
// nonlinear least squares (package lsq). Part shapes are exact.
package locate

import (
	"math"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/plane"
)

// Unknown is one number the adjustment finds.
type Unknown struct {
	Name  string
	Turns bool // radians rather than mm
	Start float64
}

// term moves a body's origin along Dir with one unknown.
type term struct {
	unknown int
	dir     plane.Point
}

// chain gives the pose of one body from the unknowns:
//
//	Turn = unknown (or fixed),  Origin = base + Σ x·dir + R(Turn)·(along, up)
//
// along is the station held by the saddle clamp, itself an unknown when the file leaves it open.
type chain struct {
	used      bool
	base      plane.Point
	terms     []term
	turn      int // unknown; -1: fixedTurn
	fixedTurn float64
	along, up float64
	alongBy   int  // unknown; -1: along
	via       bool // through adjusters or a stem rather than free in the plane
}

func (c *chain) pose(x []float64) plane.Pose {
	p := plane.Pose{Origin: c.base, Turn: c.fixedTurn}
	if c.turn >= 0 {
		p.Turn = x[c.turn]
	}
	for _, t := range c.terms {
		p.Origin = p.Origin.Add(t.dir.Scale(x[t.unknown]))
	}
	if c.offset() {
		p.Origin = p.Origin.Add(plane.Point{X: c.station(x), Y: c.up}.Turn(p.Turn))
	}
	return p
}

func (c *chain) offset() bool { return c.alongBy >= 0 || c.along != 0 || c.up != 0 }

func (c *chain) station(x []float64) float64 {
	if c.alongBy >= 0 {
		return x[c.alongBy]
	}
	return c.along
}

// spread adds the derivative m of something by this body's pose to its derivatives by the unknowns.
func (c *chain) spread(m assembly.Motion, x, row []float64) {
	for _, t := range c.terms {
		row[t.unknown] += m.By.Dot(t.dir)
	}
	turn := c.fixedTurn
	if c.turn >= 0 {
		turn = x[c.turn]
	}
	if c.turn >= 0 {
		row[c.turn] += m.Turn
		if c.offset() {
			row[c.turn] += m.By.Dot(plane.Point{X: c.station(x), Y: c.up}.Turn(turn).Perp())
		}
	}
	if c.alongBy >= 0 {
		row[c.alongBy] += m.By.Dot(plane.Direction(turn))
	}
}

// model is the unknowns of a bike and how its bodies hang on them.
type model struct {
	layout   *assembly.Layout
	unknowns []Unknown
	chains   [assembly.Bodies]chain
	travel   []int // unknown of each adjuster, -1: none
	anchors  []anchor
}

// anchor is a clamp that is not known exactly: the two unknowns of where it is, and where the file says, mm.
type anchor struct {
	body    assembly.Body
	name    string
	unknown [2]int
	at      [2]float64
}

// Where a body is looked for at first: behind and above the BB for a saddle, ahead for the hands. Distances
// alone cannot tell left from right or up from down; these settle it as on every bike.
var starts = [assembly.Bodies]plane.Point{
	assembly.Saddle: {X: -50, Y: 720},
	assembly.Bar:    {X: 420, Y: 650},
	assembly.Hood:   {X: 480, Y: 680},
	assembly.Drop:   {X: 440, Y: 530},
	assembly.Pads:   {X: 420, Y: 680},
	assembly.Grip:   {X: 700, Y: 720},
}

func (m *model) add(u Unknown) int {
	m.unknowns = append(m.unknowns, u)
	return len(m.unknowns) - 1
}

// free lets a body be anywhere.
func (m *model) free(b assembly.Body, name string) {
	at := starts[b]
	m.chains[b].terms = []term{
		{m.add(Unknown{Name: name + ".x", Start: at.X}), plane.Point{X: 1}},
		{m.add(Unknown{Name: name + ".y", Start: at.Y}), plane.Point{Y: 1}},
	}
}

// through hangs a body on the adjusters that move it.
func (m *model) through(b assembly.Body, anchor plane.Point, moves bike.Moves) {
	c := &m.chains[b]
	c.base, c.via = anchor, true
	for _, i := range m.layout.Bike.Moving(moves) {
		a := &m.layout.Bike.Adjusters[i]
		mark, ok := m.layout.Bike.Marks[a.Name]
		if !ok {
			mark = a.Lo + (a.Hi-a.Lo)/2
		}
		m.travel[i] = m.add(Unknown{Name: a.Name, Start: a.Travel(mark)})
		c.terms = append(c.terms, term{m.travel[i], a.Direction()})
	}
}

// loosen makes the anchor that a body hangs on an unknown.
func (m *model) loosen(b assembly.Body, name string) {
	c := &m.chains[b]
	k := anchor{body: b, name: name, at: [2]float64{c.base.X, c.base.Y}}
	for i, dir := range [2]plane.Point{{X: 1}, {Y: 1}} {
		k.unknown[i] = m.add(Unknown{Name: name, Start: k.at[i]})
		c.terms = append(c.terms, term{k.unknown[i], dir})
	}
	c.base = plane.Point{}
	m.anchors = append(m.anchors, k)
}

// turned gives a body its turn: an adjuster's, or an unknown of its own.
func (m *model) turned(b assembly.Body, name string, stated bike.Setting, moves bike.Moves, adjustable bool) {
	if adjustable {
		if on := m.layout.Bike.Moving(moves); len(on) > 0 {
			a := &m.layout.Bike.Adjusters[on[0]]
			start := 0.0
			if mark, ok := m.layout.Bike.Marks[a.Name]; ok {
				start = a.Travel(mark)
			}
			m.travel[on[0]] = m.add(Unknown{Name: name, Turns: true, Start: start})
			m.chains[b].turn = m.travel[on[0]]
			return
		}
	}
	start := 0.0
	if stated.Given {
		start = stated.Mid()
	}
	m.chains[b].turn = m.add(Unknown{Name: name, Turns: true, Start: start})
}

// newModel sets up the unknowns of the bodies in use; loose makes anchors unknowns too.
func newModel(l *assembly.Layout, used [assembly.Bodies]bool, loose bool) *model {
	m := &model{layout: l, travel: make([]int, len(l.Bike.Adjusters))}
	for i := range m.travel {
		m.travel[i] = -1
	}
	for b := range m.chains {
		m.chains[b].turn, m.chains[b].alongBy = -1, -1
		m.chains[b].used = used[b]
	}
	b := l.Bike
	if used[assembly.Saddle] {
		c := &m.chains[assembly.Saddle]
		if b.SaddleAnchor != nil {
			m.through(assembly.Saddle, *b.SaddleAnchor, bike.MovesSaddle)
			if loose {
				m.loosen(assembly.Saddle, "saddle_clamp")
			}
			c.up = l.Shape.Rail.Height
			switch s := b.Saddle.ClampAt; {
			case !s.Given:
				c.along = (l.Shape.Rail.From + l.Shape.Rail.To) / 2
			case s.Free:
				c.alongBy = m.add(Unknown{Name: "saddle.clamp_at", Start: s.Mid()})
			default:
				c.along = s.Lo
			}
		} else {
			m.free(assembly.Saddle, "saddle")
		}
		m.turned(assembly.Saddle, "saddle.tilt", b.Saddle.Tilt, bike.MovesSaddleTilt, true)
	}
	if used[assembly.Bar] || used[assembly.Pads] && l.Clipon != nil {
		m.hangBar(loose)
		m.chains[assembly.Bar].used = true
		if used[assembly.Bar] {
			m.turned(assembly.Bar, "bar.rotation", b.Bar.Rotation, bike.MovesBarRotation, true)
		}
	}
	if used[assembly.Hood] {
		m.free(assembly.Hood, "hood")
		m.turned(assembly.Hood, "hood.angle", bike.Setting{}, 0, false)
	}
	if used[assembly.Drop] {
		m.free(assembly.Drop, "drop")
		m.chains[assembly.Drop].fixedTurn = b.Bar.Rotation.Mid()
	}
	if used[assembly.Pads] {
		if l.Clipon != nil {
			m.chains[assembly.Pads] = m.chains[assembly.Bar]
			m.chains[assembly.Pads].turn = -1
			m.turned(assembly.Pads, "clipon.tilt", b.Clipon.Tilt, 0, false)
		} else {
			m.free(assembly.Pads, "pad")
			m.turned(assembly.Pads, "pad.tilt", bike.Setting{}, 0, false)
		}
	}
	if used[assembly.Grip] {
		m.free(assembly.Grip, "grip")
	}
	return m
}

// hangBar places the bar's clamp: on the stem, on its anchor, or free.
func (m *model) hangBar(loose bool) {
	b := m.layout.Bike
	switch {
	case b.Stem != nil && b.Stem.Only() != nil:
		steerer, ok := b.Steerer()
		if !ok {
			m.free(assembly.Bar, "bar")
			return
		}
		flip := b.Stem.Flip != nil && *b.Stem.Flip
		m.through(assembly.Bar, steerer.BarClamp(*b.Stem.Only(), flip, b.Stem.Spacers.Fixed), bike.MovesBar)
	case b.BarAnchor != nil:
		m.through(assembly.Bar, *b.BarAnchor, bike.MovesBar)
		if loose {
			m.loosen(assembly.Bar, "bar_clamp")
		}
	default:
		m.free(assembly.Bar, "bar")
	}
}

// stand fills in the poses for values x of the unknowns.
func (m *model) stand(x []float64, s *assembly.Stance) {
	for b := range m.chains {
		if m.chains[b].used {
			s.Poses[b] = m.chains[b].pose(x)
		}
	}
}

// row writes the derivatives by the unknowns of something with gradient g into row.
func (m *model) row(g assembly.Gradient, x, row []float64) {
	for b := range m.chains {
		if m.chains[b].used && g[b] != (assembly.Motion{}) {
			m.chains[b].spread(g[b], x, row)
		}
	}
}

// gradientOf returns the derivatives by the unknowns of something with gradient g.
func (m *model) gradientOf(g assembly.Gradient, x []float64) []float64 {
	row := make([]float64, len(m.unknowns))
	m.row(g, x, row)
	return row
}

// scales are typical sizes of the unknowns: 100 mm, or an angle that moves a hand as far.
func (m *model) scales() []float64 {
	s := make([]float64, len(m.unknowns))
	for i, u := range m.unknowns {
		s[i] = 100
		if u.Turns {
			s[i] = math.Pi / 18
		}
	}
	return s
}
