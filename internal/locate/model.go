package locate

import (
	"math"
	"slices"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// model is the unknowns of a bike and how its bodies hang on them. A bike may be read in several standings, the entries of its
// calibration; one that is read as it stands has one entry. Anchors, directions and the turns that no adjuster sets are common
// to all of them:
//
//	clamp of entry e = anchor + Σ travel_ie·(cos angle_i, sin angle_i)
//	travel_ie        = unit_i·mark_ie (+ bend_i·4u(1-u), u the mark between the least and greatest entered)
//
// The travels are unknowns of their own: a mark is an observation of one, with the adjuster's uncertainty.
type model struct {
	layout     *assembly.Layout
	entries    []bike.Calibration
	learn      []Number            // the numbers of the machine itself that are unknown
	starts     []plane.Quantity    // where each unknown is looked for first
	scales     []float64           // its typical size, mm or radians
	joints     assembly.Joints     // but for the travels
	travel     [][]assembly.Number // of each entry and adjuster, mm or radians
	unit, bend []assembly.Number   // of each adjuster
	chains     []*assembly.Chains  // of each entry
	clipon     [2]int              // unknowns: how much further ahead and higher the pads are than hole, base and stack say; -1: exact
	station    int                 // unknown: what the saddle's clamp holds; -1: held
}

// markSpread is how far a mark on a saddle without a shape is looked for behind its nose, mm.
const markSpread = 130

func (m *model) add(start plane.Quantity) assembly.Number {
	scale := 100.0
	if start.Turns() { // moves a hand as far
		scale = math.Pi / 18
	}
	m.starts, m.scales = append(m.starts, start), append(m.scales, scale)
	return assembly.Number{Unknown: len(m.starts) - 1, Value: start.Value()}
}

// newModel sets up the unknowns of the bodies in use, and those of the machine that are to be learnt.
func newModel(l *assembly.Layout, used [assembly.Bodies]bool, entries []bike.Calibration, learn []Number) *model {
	m := &model{layout: l, entries: entries, learn: learn, clipon: [2]int{-1, -1}, station: -1}
	b, n := l.Bike, len(l.Bike.Adjusters)
	m.joints.Angle, m.unit, m.bend = make([]assembly.Number, n), make([]assembly.Number, n), make([]assembly.Number, n)
	m.travel = make([][]assembly.Number, len(entries))
	for e := range entries {
		m.travel[e] = slices.Repeat([]assembly.Number{assembly.Held(0)}, n)
	}
	for i := range b.Adjusters {
		m.joints.Angle[i] = m.number(Number{Kind: Direction, Adjuster: i})
		m.unit[i] = m.number(Number{Kind: Unit, Adjuster: i})
		m.bend[i] = m.number(Number{Kind: Bend, Adjuster: i})
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
		if at, ok := m.clamp(body); ok {
			m.hang(body, at)
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
		m.joints.Turn[assembly.Pads] = m.add(plane.Turning(plane.Angle(b.Clipon.Tilt.Mid())))
		if slices.ContainsFunc(entries, func(c bike.Calibration) bool { return len(c.Readings) > 0 }) {
			for i := range m.clipon {
				m.joints.Arm[assembly.Pads][i] = m.add(plane.Length(0))
				m.clipon[i] = m.joints.Arm[assembly.Pads][i].Unknown
			}
		}
	}
	m.chains = make([]*assembly.Chains, len(entries))
	for e := range entries {
		m.joints.Travel = m.travel[e]
		m.chains[e] = l.Chains(&m.joints, used)
	}
	return m
}

// number is a number of the machine itself: an unknown where it is to be learnt, else held.
func (m *model) number(n Number) assembly.Number {
	before := n.On(m.layout.Bike)
	if !slices.Contains(m.learn, n) {
		return assembly.Held(before.Value())
	}
	k := m.add(before)
	if n.Kind == Unit {
		m.scales[k.Unknown] = math.Abs(before.Value())
	}
	return k
}

// anchors are the numbers of the clamps that the file gives.
func (m *model) anchors() []Number {
	return slices.DeleteFunc(Numbers(m.layout.Bike), func(n Number) bool {
		return n.Adjuster >= 0 || n.Saddle && m.layout.Shape == nil // a mark on a saddle without a shape has no clamp
	})
}

// clamp is where the clamp of a body is with every travel at 0, when the bike says so.
func (m *model) clamp(body assembly.Body) (at plane.Point, ok bool) {
	b := m.layout.Bike
	switch {
	case body == assembly.Saddle && m.layout.Shape != nil && b.SaddleAnchor != nil:
		return *b.SaddleAnchor, true
	case body != assembly.Bar:
	case b.Stem != nil && b.Stem.Only() != nil:
		return b.OnStem()
	case b.BarAnchor != nil:
		return *b.BarAnchor, true
	}
	return at, false
}

// free lets a body be anywhere.
func (m *model) free(body assembly.Body) {
	at := bodies[body].near
	if body == assembly.Saddle && m.layout.Shape == nil {
		at.X -= markSpread
	}
	m.joints.At[body] = [2]assembly.Number{m.add(plane.Length(at.X)), m.add(plane.Length(at.Y))}
}

// hang puts a body on its clamp and on the adjusters that move it.
func (m *model) hang(body assembly.Body, at plane.Point) {
	moves := bike.MovesBar
	if body == assembly.Saddle {
		moves = bike.MovesSaddle
		m.hold()
	}
	m.joints.Hung[body] = true
	for _, i := range m.layout.Bike.Moving(moves) {
		m.travels(i)
	}
	m.joints.At[body] = [2]assembly.Number{m.number(anchor(AnchorX, body)), m.number(anchor(AnchorY, body))}
	if body == assembly.Bar && m.layout.Bike.Stem != nil {
		m.joints.At[body] = [2]assembly.Number{assembly.Held(at.X), assembly.Held(at.Y)}
	}
}

// travels lets an adjuster stand anywhere in every entry, looked for first where its mark says, or in the middle.
func (m *model) travels(i int) {
	a := &m.layout.Bike.Adjusters[i]
	for e := range m.entries {
		mark, ok := m.entries[e].Marks[a.Name]
		if !ok {
			mark = a.Lo + (a.Hi-a.Lo)/2
		}
		m.travel[e][i] = m.add(plane.QuantityOf(a.Moves.Turns(), a.Travel(mark)))
	}
}

// hold puts the saddle's rails into their clamp: N = C + R(tilt)·(station, rail height). A station that the file leaves
// out or open is an unknown.
func (m *model) hold() {
	s, rail := m.layout.Bike.Saddle.ClampAt, m.layout.Shape.Rail
	arm := &m.joints.Arm[assembly.Saddle]
	arm[0], arm[1] = assembly.Held(clamped(s, rail)), assembly.Held(rail.Height)
	if !s.Given || s.Free {
		arm[0] = m.add(plane.Length(arm[0].Value))
		m.station = arm[0].Unknown
	}
}

// clamped is the station that a saddle's clamp holds, as far as the file says: the middle of what it leaves open.
func clamped(s bike.Setting, rail saddle.Rail) float64 {
	if !s.Given {
		return rail.Mid()
	}
	return s.Mid()
}

// turn gives a body its turn: an adjuster's, or an unknown of its own. A drop or grip of its own has none.
func (m *model) turn(body assembly.Body) {
	switch on := m.turning(body); {
	case body == assembly.Drop || body == assembly.Grip:
	case on < 0:
		m.joints.Turn[body] = m.add(plane.Turning(plane.Angle(m.stated(body).Mid())))
	default:
		m.travels(on)
	}
}

// stated is what the file says of a body's turn.
func (m *model) stated(body assembly.Body) bike.Setting {
	b := m.layout.Bike
	switch {
	case body == assembly.Saddle:
		return b.Saddle.Tilt
	case body == assembly.Bar:
		return b.Bar.Rotation
	case body == assembly.Pads && m.layout.Clipon != nil:
		return b.Clipon.Tilt
	}
	return bike.Setting{}
}

// turning is the adjuster that turns a body, -1: none.
func (m *model) turning(body assembly.Body) int {
	on := []int(nil)
	switch body {
	case assembly.Saddle:
		on = m.layout.Bike.Moving(bike.MovesSaddleTilt)
	case assembly.Bar:
		on = m.layout.Bike.Moving(bike.MovesBarRotation)
	}
	if len(on) == 0 {
		return -1
	}
	return on[0]
}

// turnOf is the unknown that gives a body its turn in an entry, -1: none.
func (m *model) turnOf(e int, body assembly.Body) int {
	if on := m.turning(body); on >= 0 {
		return m.travel[e][on].Unknown
	}
	return m.joints.Turn[body].Unknown
}

// start is where the unknowns are looked for first, mm or radians.
func (m *model) start() []float64 {
	x := make([]float64, len(m.starts))
	for i, q := range m.starts {
		x[i] = q.Value()
	}
	return x
}
