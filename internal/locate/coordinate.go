package locate

import (
	"math"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/plane"
)

// Coordinate is one of the numbers that say where a body is.
type Coordinate struct {
	Name string        `json:"name"` // as saddle.x or bar.rotation
	Body assembly.Body `json:"-"`
	axis axis
}

// axis is which of the three numbers of a body.
type axis int

const (
	inX axis = iota
	inY
	inTurn
)

// meaning is what a coordinate is in a rider's words, and the readings that a person would take for it, the usual first, as
// sensible calls them.
type meaning struct {
	means string
	usual []string
}

// bodies are the bodies as they are told: the place that each is called after in JSON, what lies at its origin, its turn by its
// key and in words (none of a drop or grip of its own), and what its coordinates are. near is where it is looked for first, mm:
// behind and above the BB for a saddle, ahead for the hands. Distances alone cannot tell left from right or up from down;
// these settle it as on every bike.
var bodies = [assembly.Bodies]struct {
	place            bike.PlaceKind
	origin           string
	turn, turnCalled string
	near             plane.Point
	numbers          [3]meaning
}{
	assembly.Saddle: {bike.AtSaddle, "saddle nose", bike.SetsSaddleTilt.Key(), bike.SetsSaddleTilt.Called(), plane.Point{X: -50, Y: 720},
		[3]meaning{{"how far the saddle is behind or ahead of the BB", []string{"setback", "saddle-height", "nose-to-bar"}},
			{"how high the saddle is", []string{"saddle-height", "floor-height", "seat-tube"}},
			{"how far the saddle's nose points up or down", []string{"saddle-tilt"}}}},
	assembly.Bar: {bike.AtBar, "bar centre", bike.SetsRotation.Key(), bike.SetsRotation.Called(), plane.Point{X: 420, Y: 650},
		[3]meaning{{"how far forward the bar is", []string{"nose-to-bar", "reach to bar"}},
			{"how high the bar is", []string{"drop to bar", "floor-height of bar"}},
			{"how far the bar is turned in its clamp", []string{"bar-rotation", "hood-angle"}}}},
	assembly.Hood: {bike.AtHood, "hood", "hood.angle", "hood angle", plane.Point{X: 480, Y: 680},
		[3]meaning{{"how far forward the hoods are", []string{"reach to hood", "line from bb to hood"}},
			{"how high the hoods are", []string{"drop to hood", "floor-height of hood"}},
			{"how far the hoods point up", nil}}},
	assembly.Drop: {bike.AtDrop, "drop", "", "", plane.Point{X: 440, Y: 530},
		[3]meaning{{"how far forward the drops are", []string{"reach to drop"}},
			{"how high the drops are", []string{"drop to drop"}}}},
	assembly.Pads: {bike.AtPad, "pad centre", "pad.tilt", bike.SetsPadTilt.Called(), plane.Point{X: 420, Y: 680},
		[3]meaning{{"how far forward the pads are", []string{"reach to pad"}},
			{"how high the pads are", []string{"drop to pad", "floor-height of pad"}},
			{"how far the pads point up", []string{"pad-tilt"}}}},
	assembly.Grip: {bike.AtGrip, "grip", "", "", plane.Point{X: 700, Y: 720},
		[3]meaning{{"how far forward the grips are", []string{"reach to grip"}},
			{"how high the grips are", []string{"drop to grip"}}}},
}

// Called is what a person calls the coordinate.
func (c Coordinate) Called() string {
	switch b := &bodies[c.Body]; c.axis {
	case inX:
		return b.origin + ", ahead"
	case inY:
		return b.origin + ", up"
	default:
		return b.turnCalled
	}
}

// short is the coordinate in as few words as tell it from the others.
func (c Coordinate) short() string {
	if c.axis == inTurn {
		return bodies[c.Body].turnCalled
	}
	return bike.PlaceNames[bodies[c.Body].place] + [...]string{inX: " x", inY: " y"}[c.axis]
}

// Means is what the coordinate is in a rider's words.
func (c Coordinate) Means() string { return c.meaning().means }

func (c Coordinate) meaning() meaning { return bodies[c.Body].numbers[c.axis] }

// turnKey is what JSON calls the turn of a body: pads on a clip-on are turned by its setting.
func (m *model) turnKey(body assembly.Body) string {
	if body == assembly.Pads && m.layout.Clipon != nil {
		return bike.SetsPadTilt.Key()
	}
	return bodies[body].turn
}

// coordinates lists the coordinates of the bodies in use, in their fixed order. Pads on a clip-on are where the bar is.
func (m *model) coordinates() (all []Coordinate) {
	for b := range assembly.Bodies {
		if !m.chains[0].Uses(b) {
			continue
		}
		if name := bike.PlaceNames[bodies[b].place]; b != assembly.Pads || m.layout.Clipon == nil {
			all = append(all, Coordinate{name + ".x", b, inX}, Coordinate{name + ".y", b, inY})
		}
		if key := m.turnKey(b); key != "" && m.turnOf(0, b) >= 0 {
			all = append(all, Coordinate{key, b, inTurn})
		}
	}
	return all
}

// gradient is the coordinate's own derivative by the poses.
func (c Coordinate) gradient() (g assembly.Gradient) {
	g[c.Body] = [...]assembly.Motion{inX: {By: plane.Point{X: 1}}, inY: {By: plane.Point{Y: 1}}, inTurn: {Turn: 1}}[c.axis]
	return g
}

// of is the coordinate of a body that stands so.
func (c Coordinate) of(p plane.Pose) plane.Quantity {
	switch c.axis {
	case inX:
		return plane.Length(p.Origin.X)
	case inY:
		return plane.Length(p.Origin.Y)
	default:
		return plane.Turning(plane.Angle(p.Turn))
	}
}

// What is known no better than this is not fixed: no bike is set by it.
const (
	looseMM  = 100
	looseRad = 20 * math.Pi / 180
)

// loose is that limit of the coordinate, mm or radians.
func (c Coordinate) loose() float64 {
	if c.axis == inTurn {
		return looseRad
	}
	return looseMM
}

// Gap is a coordinate that a posture needs and nothing fixes.
type Gap struct {
	Coordinate
	// Sigma is how badly the readings fix it all the same; 0: not at all.
	Sigma    plane.Quantity
	Readings []string // any one of these helps to fix it, the usual first
}
