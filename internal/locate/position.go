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

// Position is how a rider touches a bike in one posture, with the covariance of all of it. It is in the frame of riding:
// a bike that is ridden with its front higher by a pitch than it was read is turned by that around its BB.
type Position struct {
	Posture bike.Posture // its support is a width, also where the bike says a station; 0: nobody knows how wide
	Sit     assembly.Contact
	Meets   saddle.Meeting // how the support meets the saddle
	Hands   assembly.Contact
	NoAngle bool              // the angle of the hands is not known, or has no meaning: none is wanted
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

// on is a place on the saddle that a tape goes to.
func on(k saddle.RefKind) bike.Place {
	return bike.Place{Kind: bike.AtSaddle, Ref: saddle.Reference{Kind: k}}
}

// turned are the derivatives by the unknowns of a point's x and y and of a body's turn.
type turned [3][]float64

// contactRows returns the derivatives of a mounted contact's x, y and angle by the unknowns.
func (a *Adjustment) contactRows(m assembly.Mount) (rows turned) {
	for i, n := range [2]plane.Point{{X: 1}, {Y: 1}} {
		var g assembly.Gradient
		g.Add(m, a.Placement.Poses[m.Body], n)
		rows[i] = a.row(g)
	}
	var g assembly.Gradient
	g[m.Body].Turn = 1
	rows[2] = a.row(g)
	return rows
}

// fixes reports whether the observations fix the place of a mounted point.
func (a *Adjustment) fixes(m assembly.Mount) bool {
	if a.Search == nil || !a.Uses(m.Body) {
		return false
	}
	r := a.contactRows(m)
	return a.solution().Estimable(r[0]) && a.solution().Estimable(r[1])
}

// solution is the adjustment the answer rests on.
func (a *Adjustment) solution() *lsq.Solution { return a.Search.Final }

// touch is where on its bodies a posture touches the bike.
type touch struct {
	posture bike.Posture
	meets   saddle.Meeting
	noAngle bool
	held    []held // the seat, the hands, and what goes along with them where the bike gives it
}

// held is a contact on its body, and the place that a tape to it goes to.
type held struct {
	name  bike.Contact
	place bike.Place
	mount assembly.Mount
}

// touched returns the mounts of a posture. It fails when something it needs is not fixed.
func (a *Adjustment) touched(p bike.Posture) (t touch, err error) {
	if err := a.Err(); err != nil {
		return t, err
	}
	l := a.model.layout
	seat, meets, err := l.Seat(p)
	if err != nil {
		return t, err
	}
	t.posture, t.meets = p, meets
	if p.At != nil && l.Shape != nil {
		t.posture.Support = l.Shape.Width(*p.At)
	}
	hands := l.HandMount(p.Hands)
	if !a.fixes(hands) {
		return t, fmt.Errorf("%s: nothing says where the %s of posture %q is", l.Bike.File, p.Hands, p.Name)
	}
	t.noAngle = a.noAngle(hands)
	t.held = []held{{bike.Sit, on(saddle.Sit), seat}, {p.Hands, p.Hands.Place(), hands}}
	if name, ok := secondOf(p.Hands); ok {
		if m := l.HandMount(name); m.Known && a.fixes(m) {
			t.held = append(t.held, held{name, name.Place(), m})
		}
	}
	return t, nil
}

// noAngle reports whether a contact has no angle that anyone knows: a drop of its own has none, and a hood of its own
// only where it is read.
func (a *Adjustment) noAngle(m assembly.Mount) bool {
	switch m.Body {
	case assembly.Drop, assembly.Grip:
		return true
	case assembly.Hood:
		return !a.solution().Estimable(a.contactRows(m)[2])
	}
	return false
}

// place is the position of a bike standing as s; its covariance is left at 0.
func (t *touch) place(s *assembly.Placement) Position {
	pos := Position{Posture: t.posture, Meets: t.meets, NoAngle: t.noAngle}
	for i, h := range t.held {
		c, pitch := s.At(h.name, h.mount), s.Bike.Frame.Pitch
		c.At, c.Angle = c.At.Turn(pitch), c.Angle+pitch
		if i == 2 || i == 1 && t.noAngle {
			c.Angle = 0 // carried by its place only
		}
		switch i {
		case 0:
			pos.Sit = c
		case 1:
			pos.Hands = c
		default:
			second := c
			pos.Second = &second
		}
	}
	return pos
}

// rows are the derivatives of the coordinates of a position by the unknowns; nil where there is no second.
func (a *Adjustment) rows(t touch) (rows [Coordinates][]float64) {
	pitch := a.model.layout.Bike.Frame.Pitch
	for i, h := range t.held {
		r := a.contactRows(h.mount)
		if pitch != 0 {
			for j := range r[0] {
				p := plane.Point{X: r[0][j], Y: r[1][j]}.Turn(pitch)
				r[0][j], r[1][j] = p.X, p.Y
			}
		}
		copy(rows[3*i:], r[:])
	}
	if t.noAngle {
		rows[5] = make([]float64, len(rows[3]))
	}
	return rows
}

// Rows returns the derivatives of the coordinates of a position (in the order of Position.Cov) by the
// unknowns of the adjustment, nil where there is no second contact.
func (a *Adjustment) Rows(p bike.Posture) ([Coordinates][]float64, error) {
	t, err := a.touched(p)
	if err != nil {
		return [Coordinates][]float64{}, err
	}
	return a.rows(t), nil
}

// Position returns the contacts of one posture. It fails when something it needs is not fixed.
func (a *Adjustment) Position(p bike.Posture) (Position, error) {
	t, err := a.touched(p)
	if err != nil {
		return Position{}, err
	}
	pos, rows := t.place(a.Placement), a.rows(t)
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

// Turned is the position turned about the BB, with its covariance.
func (p Position) Turned(a float64) Position {
	if a == 0 {
		return p
	}
	turn := func(c assembly.Contact) assembly.Contact {
		c.At, c.Angle = c.At.Turn(a), c.Angle+a
		return c
	}
	p.Sit, p.Hands = turn(p.Sit), turn(p.Hands)
	if p.Second != nil {
		second := turn(*p.Second)
		p.Second = &second
	}
	for range 2 { // the rows of the covariance, then its columns
		var across [Coordinates][Coordinates]float64
		for i, row := range p.Cov {
			for j, v := range turnedBy(row, a) {
				across[j][i] = v
			}
		}
		p.Cov = across
	}
	return p
}

// turnedBy are numbers in the order of Position.Cov with their places turned about the BB by an angle, radians.
func turnedBy(v [Coordinates]float64, a float64) [Coordinates]float64 {
	for _, k := range [...]int{0, 3, 6} {
		p := plane.Point{X: v[k], Y: v[k+1]}.Turn(a)
		v[k], v[k+1] = p.X, p.Y
	}
	return v
}

// Sigma is the standard uncertainty of coordinate i of a position.
func (p *Position) Sigma(i int) float64 { return math.Sqrt(math.Max(0, p.Cov[i][i])) }

// at is coordinate i of a position, as in Cov; nil where there is none.
func (p *Position) at(i int) *float64 {
	c := [...]*assembly.Contact{&p.Sit, &p.Hands, p.Second}[i/3]
	if c == nil {
		return nil
	}
	return [...]*float64{&c.At.X, &c.At.Y, &c.Angle}[i%3]
}

// Coordinate is coordinate i of a position, as in Cov, mm or radians; 0 where there is none.
func (p *Position) Coordinate(i int) float64 {
	if v := p.at(i); v != nil {
		return *v
	}
	return 0
}

// Moved is the position with coordinate i, as in Cov, moved by d, mm or radians.
func (p Position) Moved(i int, d float64) Position {
	if p.Second != nil {
		second := *p.Second
		p.Second = &second
	}
	*p.at(i) += d
	return p
}
