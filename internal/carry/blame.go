package carry

import (
	"math"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// SettingSpread is how sure one setting is, mm or radians: what the source's readings leave open, what
// the place of the target's anchor does, and how finely the adjuster itself can be set.
type SettingSpread struct {
	Name                      string
	Turns                     bool
	Readings, Anchor, Setting float64
}

// ContactSpread is how sure one contact of the target is once it is set up.
type ContactSpread struct {
	Name bike.Contact
	// What the source's readings leave open in the wanted place, and in the miss that remains.
	WantX, WantY, WantAngle float64
	Miss, MissAngle         float64
	// What anchor and adjusters of the target leave open in the place reached.
	PlaceX, PlaceY, PlaceAngle float64
}

// Uncertainty lists how sure an answer is, the target's part apart from the source's.
type Uncertainty struct {
	AnchorSigma float64 // what was taken for the target's anchors, mm in x and in y
	Settings    []SettingSpread
	Contacts    []ContactSpread
}

// Uncertain works out how sure everything is to first order. anchorSigma is the standard uncertainty of
// the target's anchors in x and in y, mm; it does not count for a bar that hangs on a stem.
func (s *Solution) Uncertain(anchorSigma float64) (*Uncertainty, error) {
	u := &Uncertainty{AnchorSigma: anchorSigma}
	contacts := func(k *Solution) []float64 {
		var v []float64
		for i := range k.Contacts {
			c := &k.Contacts[i]
			v = append(v, c.Want.At.X, c.Want.At.Y, c.Want.Angle, c.Away.X, c.Away.Y, c.MissAngle)
		}
		return v
	}
	outputs := func(k *Solution) []float64 { return append(k.travels(), contacts(k)...) }
	jac, err := s.Jacobian(outputs)
	if err != nil {
		return nil, err
	}
	sigma := func(k int) float64 { return Spread(jac[k], &s.Position.Cov) }
	anchor := s.byAnchor()
	for i, set := range s.Settings {
		sp := SettingSpread{Name: set.Name, Turns: set.Turns(), Readings: sigma(i), Anchor: anchorSigma * anchor[i]}
		if set.Adjuster >= 0 {
			sp.Setting = s.Target.Adjusters[set.Adjuster].Sigma
		}
		u.Settings = append(u.Settings, sp)
	}
	for i := range s.Contacts {
		c, at := &s.Contacts[i], len(s.Settings)+6*i
		sp := ContactSpread{Name: c.Want.Name, WantX: sigma(at), WantY: sigma(at + 1), WantAngle: sigma(at + 2), MissAngle: sigma(at + 5)}
		if c.Miss > 0 { // along the miss: what changes its length
			var along [locate.Coordinates]float64
			for j := range along {
				along[j] = (c.Away.X*jac[at+3][j] + c.Away.Y*jac[at+4][j]) / c.Miss
			}
			sp.Miss = Spread(along, &s.Position.Cov)
		}
		s.placed(&sp, i, anchorSigma)
		u.Contacts = append(u.Contacts, sp)
	}
	return u, nil
}

// placed fills in what anchor and adjusters leave open in the place of contact i.
func (s *Solution) placed(sp *ContactSpread, i int, anchorSigma float64) {
	moves, half, h := bike.MovesBar, &s.hands, s.handHalf
	if i == 0 {
		moves, half, h = bike.MovesSaddle, &s.saddle, s.saddleHalf
	}
	var xx, yy float64
	if half.base.stem < 0 {
		xx, yy = anchorSigma*anchorSigma, anchorSigma*anchorSigma
	}
	for _, k := range s.Target.Moving(moves) {
		a := &s.Target.Adjusters[k]
		d := a.Direction().Scale(a.Sigma)
		xx, yy = xx+d.X*d.X, yy+d.Y*d.Y
	}
	if h.turnBy >= 0 {
		turn := s.Target.Adjusters[h.turnBy].Sigma
		d := s.Contacts[i].Got.At.Sub(half.clamp).Perp().Scale(turn)
		xx, yy, sp.PlaceAngle = xx+d.X*d.X, yy+d.Y*d.Y, turn
	}
	sp.PlaceX, sp.PlaceY = math.Sqrt(xx), math.Sqrt(yy)
}

// byAnchor returns how far each setting moves per mm of uncertainty in x and in y of its anchor. A part
// that stands d further on is as one whose contacts are wanted d less far on.
func (s *Solution) byAnchor() []float64 {
	out := make([]float64, len(s.Settings))
	shifted := func(d plane.Point) []float64 {
		w := s.asked
		move := func(c *assembly.Contact) { c.At = c.At.Sub(d) }
		move(&w.Sit)
		if s.hands.base.stem < 0 {
			move(&w.Hands)
			if w.Second != nil {
				second := *w.Second
				move(&second)
				w.Second = &second
			}
		}
		return s.toward(w).travels()
	}
	for _, axis := range [2]plane.Point{{X: stepMM}, {Y: stepMM}} {
		up, down := shifted(axis), shifted(axis.Scale(-1))
		for i := range out {
			out[i] = math.Hypot(out[i], (up[i]-down[i])/(2*stepMM))
		}
	}
	return out
}

// SettingRows returns the derivatives of the settings by the unknowns of the source's adjustment, for a plan
// of further readings: mm, and for what turns the mm that its angle is worth.
func (s *Solution) SettingRows(source *locate.Adjustment) ([][]float64, error) {
	jac, err := s.Jacobian((*Solution).travels)
	if err != nil {
		return nil, err
	}
	rows, err := source.Rows(s.Position.Posture)
	if err != nil {
		return nil, err
	}
	out := make([][]float64, len(jac))
	for k := range jac {
		worth := 1.0
		if s.Settings[k].Turns() {
			worth = plane.Deg(bike.DegreeCost) // mm per radian
		}
		out[k] = make([]float64, len(rows[0]))
		for c, row := range rows {
			for j, v := range row {
				out[k][j] += worth * jac[k][c] * v
			}
		}
	}
	return out, nil
}
