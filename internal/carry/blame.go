package carry

import (
	"math"

	"carryover/internal/bike"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// ContactSpread is how sure one contact of the target is once it is set up.
type ContactSpread struct {
	Name bike.Contact
	// What the source's readings leave open in the wanted place, and in the miss that remains.
	WantX, WantY, WantAngle float64
	Miss, MissAngle         float64
	// What anchor and adjusters of the target leave open in the place reached.
	PlaceX, PlaceY, PlaceAngle float64
}

// Uncertain works out how sure the contacts are to first order. That the target's anchors may be off does not count for a bar
// that hangs on a stem.
func (s *Solution) Uncertain() (list []ContactSpread) {
	jac := s.Jacobian(func(k *Solution) (v []float64) {
		for i := range k.Contacts {
			c := &k.Contacts[i]
			v = append(v, c.Want.At.X, c.Want.At.Y, c.Want.Angle, c.Away.X, c.Away.Y, c.MissAngle)
		}
		return v
	})
	sigma := func(k int) float64 { return Spread(jac[k], &s.Position.Cov) }
	for i := range s.Contacts {
		c, at := &s.Contacts[i], 6*i
		sp := ContactSpread{Name: c.Want.Name, WantX: sigma(at), WantY: sigma(at + 1), WantAngle: sigma(at + 2), MissAngle: sigma(at + 5)}
		if c.Miss > 0 { // along the miss: what changes its length
			var along [locate.Coordinates]float64
			for j := range along {
				along[j] = (c.Away.X*jac[at+3][j] + c.Away.Y*jac[at+4][j]) / c.Miss
			}
			sp.Miss = Spread(along, &s.Position.Cov)
		}
		s.placed(&sp, i)
		list = append(list, sp)
	}
	return list
}

// placed fills in what anchor and adjusters leave open in the place of contact i.
func (s *Solution) placed(sp *ContactSpread, i int) {
	h, half := s.half(i == 0)
	moves := bike.MovesBar
	if i == 0 {
		moves = bike.MovesSaddle
	}
	add := func(x, y float64) { sp.PlaceX, sp.PlaceY = math.Hypot(sp.PlaceX, x), math.Hypot(sp.PlaceY, y) }
	if half.base.stem == nil {
		add(s.Target.AnchorSigma, s.Target.AnchorSigma)
	}
	for _, k := range s.Target.Moving(moves) {
		a := &s.Target.Adjusters[k]
		d := a.Direction().Scale(a.Sigma)
		add(d.X, d.Y)
	}
	if h.turnBy >= 0 {
		sp.PlaceAngle = s.Target.Adjusters[h.turnBy].Sigma
		d := s.Contacts[i].Got.At.Sub(half.clamp).Perp().Scale(sp.PlaceAngle)
		add(d.X, d.Y)
	}
}

// ByAnchors is what the target's anchors leave open in a setting, mm or radians. Total must have been called.
func (s *Solution) ByAnchors(setting int) (sigma float64) {
	for _, c := range s.Causes {
		if c.Kind == locate.ByAnchor {
			sigma = math.Hypot(sigma, c.Moves[setting]*c.Sigma)
		}
	}
	return sigma
}

// SettingRows returns the derivatives of the settings by the unknowns of the source's adjustment, for a plan
// of further readings: mm, and for what turns the mm that its angle is worth.
func (s *Solution) SettingRows(source *locate.Adjustment) ([][]float64, error) {
	jac := s.Jacobian((*Solution).travels)
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
