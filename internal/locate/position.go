package locate

import (
	"fmt"
	"math"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/lsq"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Position is how a rider touches a bike in one posture, with the covariance of all of it.
type Position struct {
	Posture bike.Posture
	Sit     assembly.Contact
	SitFit  saddle.Fit
	Hands   assembly.Contact
	Second  *assembly.Contact // drop beside hood, grip beside pad; nil when the bike does not give it
	// Cov is the covariance (mm, radians) of sit x, y, angle; hands x, y, angle; second x, y, in that order.
	Cov [Coordinates][Coordinates]float64
}

// Coordinates counts the numbers of a Position.
const Coordinates = 8

// secondOf is the contact that goes along with a hands contact.
func secondOf(c bike.Contact) (bike.Contact, bool) {
	switch c {
	case bike.Hood:
		return bike.Drop, true
	case bike.Pad:
		return bike.Grip, true
	}
	return "", false
}

// contactRows returns the derivatives of a mounted contact's x, y and angle by the unknowns.
func (a *Adjustment) contactRows(m assembly.Mount) (rows [3][]float64) {
	x := a.solution().X
	arm := m.At.Turn(a.Stance.Poses[m.Body].Turn).Perp()
	for i, motion := range [3]assembly.Motion{
		{By: plane.Point{X: 1}, Turn: arm.X}, {By: plane.Point{Y: 1}, Turn: arm.Y}, {Turn: 1},
	} {
		var g assembly.Gradient
		g[m.Body] = motion
		rows[i] = a.model.gradientOf(g, x)
	}
	return rows
}

// solution is the adjustment the answer rests on.
func (a *Adjustment) solution() *lsq.Solution { return a.Search.Final }

// touch is where on its bodies a posture touches the bike.
type touch struct {
	sit, hands, second assembly.Mount
	fit                saddle.Fit
	secondName         bike.Contact
	hasSecond          bool
}

// touched returns the mounts of a posture. It fails when something it needs is not fixed.
func (a *Adjustment) touched(p bike.Posture) (touch, error) {
	var t touch
	if err := a.Err(); err != nil {
		return t, err
	}
	if p.Support <= 0 {
		return t, fmt.Errorf("%s: posture %q is supported at the sit bones: give --rider FILE with sit_bones, or a width in mm",
			a.model.layout.Bike.File, p.Name)
	}
	t.sit, t.fit = a.Stance.SitMount(p.Support)
	t.hands = a.Stance.HandMount(p.Hands)
	if name, ok := secondOf(p.Hands); ok {
		m := a.Stance.HandMount(name)
		if m.Known && a.model.chains[m.Body].used {
			r := a.contactRows(m)
			if a.solution().Estimable(r[0]) && a.solution().Estimable(r[1]) {
				t.second, t.secondName, t.hasSecond = m, name, true
			}
		}
	}
	return t, nil
}

// place is the position of a bike standing as s; its covariance is left at 0.
func (t *touch) place(s *assembly.Stance, p bike.Posture) Position {
	pos := Position{Posture: p, SitFit: t.fit, Sit: s.At(bike.Sit, t.sit), Hands: s.At(p.Hands, t.hands)}
	if t.hasSecond {
		c := s.At(t.secondName, t.second)
		c.Angle = 0 // carried by its place only
		pos.Second = &c
	}
	return pos
}

// rows are the derivatives of the coordinates of a position by the unknowns; nil where there is no second.
func (a *Adjustment) rows(t touch) (rows [Coordinates][]float64) {
	for i, r := range a.contactRows(t.sit) {
		rows[i] = r
	}
	for i, r := range a.contactRows(t.hands) {
		rows[3+i] = r
	}
	if t.hasSecond {
		r := a.contactRows(t.second)
		rows[6], rows[7] = r[0], r[1]
	}
	return rows
}

// Position returns the contacts of one posture. It fails when something it needs is not fixed.
func (a *Adjustment) Position(p bike.Posture) (Position, error) {
	t, err := a.touched(p)
	if err != nil {
		return Position{}, err
	}
	pos, rows := t.place(a.Stance, p), a.rows(t)
	for i := range rows {
		for j := range i + 1 {
			if rows[i] == nil || rows[j] == nil {
				continue
			}
			v := a.solution().Covariance(rows[i], rows[j])
			pos.Cov[i][j], pos.Cov[j][i] = v, v
		}
	}
	return pos, nil
}

// Sigma is the standard uncertainty of coordinate i of a position.
func (p *Position) Sigma(i int) float64 { return math.Sqrt(math.Max(0, p.Cov[i][i])) }

// Moved is the position with coordinate i, as in Cov, moved by d, mm or radians.
func (p Position) Moved(i int, d float64) Position {
	if p.Second != nil {
		second := *p.Second
		p.Second = &second
	}
	switch i {
	case 0:
		p.Sit.At.X += d
	case 1:
		p.Sit.At.Y += d
	case 2:
		p.Sit.Angle += d
	case 3:
		p.Hands.At.X += d
	case 4:
		p.Hands.At.Y += d
	case 5:
		p.Hands.Angle += d
	case 6:
		p.Second.At.X += d
	case 7:
		p.Second.At.Y += d
	}
	return p
}
