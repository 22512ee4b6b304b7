package assembly

import (
	"carryover/internal/bike"
	"carryover/internal/plane"
)

// Number is a number that poses depend on: an unknown of an adjustment, or held at a value.
type Number struct {
	Unknown int // index, -1: held
	Value   float64
}

// Held is a number that does not move.
func Held(v float64) Number { return Number{-1, v} }

// Of is the number for values x of the unknowns.
func (n Number) Of(x []float64) float64 {
	if n.Unknown >= 0 {
		return x[n.Unknown]
	}
	return n.Value
}

// Add adds v to the number's place among derivatives by the unknowns.
func (n Number) Add(row []float64, v float64) {
	if n.Unknown >= 0 {
		row[n.Unknown] += v
	}
}

// Joints are the numbers that the poses of a bike depend on.
type Joints struct {
	At     [Bodies][2]Number // the clamp that a body hangs on with every travel at 0; else where the body itself is
	Hung   [Bodies]bool      // on a clamp, which adjusters move
	Turn   [Bodies]Number    // of the body itself, where no adjuster gives it
	Arm    [Bodies][2]Number // from the clamp to the body's origin, along the body and across it
	Travel []Number          // of each adjuster, mm or radians
	Angle  []Number          // its direction, radians
}

// chain gives the pose of one body:
//
//	Turn = Σ turns,  Origin = at + Σ travel·(cos angle, sin angle) + R(Turn)·arm
type chain struct {
	used  bool
	at    [2]Number
	moves [][2]Number // travel, angle
	turns []Number
	arm   [2]Number
}

// Chains are the poses of a bike's bodies as functions of the unknowns.
type Chains [Bodies]chain

// Chains hangs the bodies in use on the joints. Pads on a clip-on hang on the bar's clamp, and where their tilt counts
// from the bar turn with it.
func (l *Layout) Chains(j *Joints, used [Bodies]bool) *Chains {
	var all Chains
	for b := range all {
		c := &all[b]
		c.used, c.at, c.arm = used[b], j.At[b], j.Arm[b]
		if !c.used {
			continue
		}
		shifts, turns, adjustable := bike.MovesBar, bike.MovesBarRotation, Body(b) == Bar
		if Body(b) == Saddle {
			shifts, turns, adjustable = bike.MovesSaddle, bike.MovesSaddleTilt, true
		}
		if j.Hung[b] {
			for _, i := range l.Bike.Moving(shifts) {
				c.moves = append(c.moves, [2]Number{j.Travel[i], j.Angle[i]})
			}
		}
		c.turns = []Number{j.Turn[b]}
		if on := l.Bike.Moving(turns); adjustable && len(on) > 0 {
			c.turns[0] = j.Travel[on[0]]
		}
	}
	if l.Clipon != nil && l.Clipon.TiltFromBar && used[Pads] && used[Bar] {
		all[Pads].turns = append(all[Pads].turns, all[Bar].turns...)
	}
	return &all
}

func (c *chain) pose(x []float64) plane.Pose {
	p := plane.Pose{Origin: plane.Point{X: c.at[0].Of(x), Y: c.at[1].Of(x)}}
	for _, n := range c.turns {
		p.Turn += n.Of(x)
	}
	for _, m := range c.moves {
		p.Origin = p.Origin.Add(plane.Direction(m[1].Of(x)).Scale(m[0].Of(x)))
	}
	if arm := c.armAt(x); arm != (plane.Point{}) {
		p.Origin = p.Origin.Add(arm.Turn(p.Turn))
	}
	return p
}

// armAt is how far out a body hangs, in its own frame.
func (c *chain) armAt(x []float64) plane.Point {
	return plane.Point{X: c.arm[0].Of(x), Y: c.arm[1].Of(x)}
}

// spread adds the derivative m of something by this body, which stands at pose p, to its derivatives by the unknowns.
func (c *chain) spread(m Motion, p plane.Pose, x, row []float64) {
	c.at[0].Add(row, m.By.X)
	c.at[1].Add(row, m.By.Y)
	for _, k := range c.moves {
		d := plane.Direction(k[1].Of(x))
		k[0].Add(row, m.By.Dot(d))
		k[1].Add(row, m.By.Dot(d.Perp())*k[0].Of(x))
	}
	turn := m.Turn
	if arm := c.armAt(x); arm != (plane.Point{}) {
		turn += m.By.Dot(arm.Turn(p.Turn).Perp())
	}
	for _, n := range c.turns {
		n.Add(row, turn)
	}
	if c.arm[0].Unknown >= 0 || c.arm[1].Unknown >= 0 {
		d := plane.Direction(p.Turn)
		c.arm[0].Add(row, m.By.Dot(d))
		c.arm[1].Add(row, m.By.Dot(d.Perp()))
	}
}

// Stand fills in the poses for values x of the unknowns.
func (c *Chains) Stand(x []float64, s *Placement) {
	for b := range c {
		if c[b].used {
			s.Poses[b] = c[b].pose(x)
		}
	}
}

// Row adds the derivatives by the unknowns of something with gradient g, on a bike that stands as s, to row.
func (c *Chains) Row(g *Gradient, s *Placement, x, row []float64) {
	for b := range c {
		if c[b].used && g[b] != (Motion{}) {
			c[b].spread(g[b], s.Poses[b], x, row)
		}
	}
}

// Uses reports whether a body has a place.
func (c *Chains) Uses(b Body) bool { return c[b].used }
