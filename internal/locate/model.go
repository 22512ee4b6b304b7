package locate

import (
	"math"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/plane"
)

// Unknown is one number the adjustment finds: mm, or radians where it turns.
type Unknown struct {
	Name  string
	Start plane.Quantity
}

// model is the unknowns of a bike and how its bodies hang on them.
type model struct {
	layout   *assembly.Layout
	unknowns []Unknown
	joints   assembly.Joints
	chains   *assembly.Chains
	anchors  []anchor
	clipon   [2]int // unknowns: how much further ahead and higher the pads are than hole, base and stack say; -1: exact
	station  int    // unknown: what the saddle's clamp holds; -1: held
}

// anchor is a clamp that is not known exactly: the two unknowns of where it is, and where the file says, mm.
type anchor struct {
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

// markSpread is how far a mark on a saddle without a shape is looked for behind its nose, mm.
const markSpread = 130

// body names a body and its turn as unknowns are called.
var bodyNames = [assembly.Bodies]struct{ body, turn string }{
	assembly.Saddle: {"saddle", bike.SetsSaddleTilt.Key()},
	assembly.Bar:    {"bar", bike.SetsRotation.Key()},
	assembly.Hood:   {"hood", "hood.angle"},
	assembly.Drop:   {"drop", ""},
	assembly.Pads:   {"pad", "pad.tilt"},
	assembly.Grip:   {"grip", ""},
}

func (m *model) add(name string, start plane.Quantity) assembly.Number {
	m.unknowns = append(m.unknowns, Unknown{name, start})
	return assembly.Number{Unknown: len(m.unknowns) - 1, Value: start.Value()}
}

// newModel sets up the unknowns of the bodies in use; loose makes anchors unknowns too.
func newModel(l *assembly.Layout, used [assembly.Bodies]bool, loose bool) *model {
	m := &model{layout: l, clipon: [2]int{-1, -1}, station: -1}
	b := l.Bike
	m.joints.Travel = make([]assembly.Number, len(b.Adjusters))
	m.joints.Angle = make([]assembly.Number, len(b.Adjusters))
	for i := range b.Adjusters {
		m.joints.Travel[i], m.joints.Angle[i] = assembly.Held(0), assembly.Held(b.Adjusters[i].Angle)
	}
	for body := range m.joints.At {
		held := [2]assembly.Number{assembly.Held(0), assembly.Held(0)}
		m.joints.At[body], m.joints.Arm[body], m.joints.Turn[body] = held, held, assembly.Held(0)
	}
	pads := used[assembly.Pads] && l.Clipon != nil
	rotates := used[assembly.Bar] || pads && l.Clipon.TiltFromBar
	used[assembly.Bar] = used[assembly.Bar] || pads
	for body := range assembly.Bodies {
		if !used[body] || body == assembly.Pads && pads {
			continue
		}
		if at, ok, exact := m.clamp(body); ok {
			m.hang(body, at, loose && !exact)
		} else {
			m.free(body)
		}
		if body == assembly.Bar && !rotates {
			continue // pads alone do not see it turn
		}
		m.turn(body)
	}
	if pads {
		m.joints.At[assembly.Pads], m.joints.Hung[assembly.Pads] = m.joints.At[assembly.Bar], m.joints.Hung[assembly.Bar]
		m.joints.Turn[assembly.Pads] = m.add(bike.SetsPadTilt.Key(), turning(b.Clipon.Tilt))
		if len(b.Readings) > 0 {
			for i, name := range [2]string{bike.SetsHole.Key(), bike.SetsRisers.Key()} {
				m.joints.Arm[assembly.Pads][i] = m.add(name, plane.Length(0))
				m.clipon[i] = m.joints.Arm[assembly.Pads][i].Unknown
			}
		}
	}
	m.chains = l.Chains(&m.joints, used)
	return m
}

func turning(s bike.Setting) plane.Quantity {
	if !s.Given {
		return plane.Turning(0)
	}
	return plane.Turning(plane.Angle(s.Mid()))
}

// clamp is where the clamp of a body is with every travel at 0, when the bike says so; exact is a stem's.
func (m *model) clamp(body assembly.Body) (at plane.Point, ok, exact bool) {
	b := m.layout.Bike
	switch {
	case body == assembly.Saddle && m.layout.Shape != nil && b.SaddleAnchor != nil:
		return *b.SaddleAnchor, true, false
	case body != assembly.Bar:
	case b.Stem != nil && b.Stem.Only() != nil:
		at, ok = b.OnStem()
		return at, ok, ok
	case b.BarAnchor != nil:
		return *b.BarAnchor, true, false
	}
	return at, false, false
}

// free lets a body be anywhere.
func (m *model) free(body assembly.Body) {
	at, name := starts[body], bodyNames[body].body
	if body == assembly.Saddle && m.layout.Shape == nil {
		at.X -= markSpread
	}
	m.joints.At[body] = [2]assembly.Number{m.add(name+".x", plane.Length(at.X)), m.add(name+".y", plane.Length(at.Y))}
}

// hang puts a body on its clamp and on the adjusters that move it.
func (m *model) hang(body assembly.Body, at plane.Point, loose bool) {
	b, moves, name := m.layout.Bike, bike.MovesBar, "bar_clamp"
	if body == assembly.Saddle {
		moves, name = bike.MovesSaddle, "saddle_clamp"
		m.hold()
	}
	m.joints.Hung[body] = true
	m.joints.At[body] = [2]assembly.Number{assembly.Held(at.X), assembly.Held(at.Y)}
	for _, i := range b.Moving(moves) {
		a := &b.Adjusters[i]
		mark, ok := b.Marks[a.Name]
		if !ok {
			mark = a.Lo + (a.Hi-a.Lo)/2
		}
		m.joints.Travel[i] = m.add(a.Name, plane.Length(a.Travel(mark)))
	}
	if !loose {
		return
	}
	k := anchor{name: name, at: [2]float64{at.X, at.Y}}
	for i := range k.at {
		m.joints.At[body][i] = m.add(name, plane.Length(k.at[i]))
		k.unknown[i] = m.joints.At[body][i].Unknown
	}
	m.anchors = append(m.anchors, k)
}

// hold puts the saddle's rails into their clamp: N = C + R(tilt)·(station, rail height). A station that the file leaves
// out or open is an unknown.
func (m *model) hold() {
	s := m.layout.Bike.Saddle.ClampAt
	rail := m.layout.Shape.Rail
	arm := &m.joints.Arm[assembly.Saddle]
	arm[1] = assembly.Held(rail.Height)
	if s.Given && !s.Free {
		arm[0] = assembly.Held(s.Lo)
		return
	}
	start := s.Mid()
	if !s.Given {
		start = rail.From + (rail.To-rail.From)/2
	}
	arm[0] = m.add(bike.SetsRails.Key(), plane.Length(start))
	m.station = arm[0].Unknown
}

// turn gives a body its turn: an adjuster's, or an unknown of its own. A drop or grip of its own has none.
func (m *model) turn(body assembly.Body) {
	b, name := m.layout.Bike, bodyNames[body].turn
	var stated bike.Setting
	adjusters := []int(nil)
	switch body {
	case assembly.Saddle:
		stated, adjusters = b.Saddle.Tilt, b.Moving(bike.MovesSaddleTilt)
	case assembly.Bar:
		stated, adjusters = b.Bar.Rotation, b.Moving(bike.MovesBarRotation)
	case assembly.Drop, assembly.Grip:
		return
	}
	if len(adjusters) == 0 {
		m.joints.Turn[body] = m.add(name, turning(stated))
		return
	}
	a, start := &b.Adjusters[adjusters[0]], 0.0
	if mark, ok := b.Marks[a.Name]; ok {
		start = a.Travel(mark)
	}
	if a.FromHere {
		m.joints.Turn[body] = assembly.Held(stated.Mid())
	}
	m.joints.Travel[adjusters[0]] = m.add(name, plane.Turning(plane.Angle(start)))
}

// turnOf is the unknown that gives a body its turn, -1: none.
func (m *model) turnOf(body assembly.Body) int {
	on := []int(nil)
	switch body {
	case assembly.Saddle:
		on = m.layout.Bike.Moving(bike.MovesSaddleTilt)
	case assembly.Bar:
		on = m.layout.Bike.Moving(bike.MovesBarRotation)
	}
	if len(on) > 0 {
		return m.joints.Travel[on[0]].Unknown
	}
	return m.joints.Turn[body].Unknown
}

// scales are typical sizes of the unknowns: 100 mm, or an angle that moves a hand as far.
func (m *model) scales() []float64 {
	s := make([]float64, len(m.unknowns))
	for i, u := range m.unknowns {
		s[i] = 100
		if u.Start.Turns() {
			s[i] = math.Pi / 18
		}
	}
	return s
}

// row returns the derivatives by the unknowns of something with gradient g on a bike that stands as s for values x.
func (m *model) row(g assembly.Gradient, s *assembly.Stance, x []float64) []float64 {
	row := make([]float64, len(m.unknowns))
	m.chains.Row(&g, s, x, row)
	return row
}
