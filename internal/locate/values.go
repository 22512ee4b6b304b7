package locate

import (
	"carryover/internal/bike"
	"carryover/internal/lsq"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Value is one coordinate of the bike as adjusted, mm or radians, with its standard uncertainty.
type Value struct {
	Name         string
	Turns        bool
	Value, Sigma float64
}

// Values lists the adjusted coordinates that the observations fix: saddle.x and .y are the straightedge
// line above the nose.
func (a *Adjustment) Values() []Value {
	var list []Value
	for _, c := range a.model.coordinates() {
		row := a.row(c.gradient())
		if !a.solution().Estimable(row) {
			continue
		}
		p := a.Stance.Poses[c.body]
		v := Value{Name: c.name, Sigma: a.solution().Propagate(row)}
		switch {
		case c.g.Turn != 0:
			v.Turns, v.Value = true, p.Turn
		case c.g.By.X != 0:
			v.Value = p.Origin.X
		default:
			v.Value = p.Origin.Y
		}
		list = append(list, v)
	}
	return list
}

// PointValue is where a point of the bike lies, mm, with standard uncertainties.
type PointValue struct {
	Name           string
	At             plane.Point
	SigmaX, SigmaY float64
}

// Points lists the points of the bike that the observations fix.
func (a *Adjustment) Points() []PointValue {
	places := []bike.Place{}
	for _, k := range []saddle.RefKind{saddle.Nose, saddle.Tail, saddle.Mid, saddle.Widest} {
		places = append(places, bike.Place{Kind: bike.AtSaddle, Ref: saddle.Reference{Kind: k}})
	}
	for k := bike.AtBar; k <= bike.AtGrip; k++ {
		places = append(places, bike.Place{Kind: k})
	}
	var list []PointValue
	for _, p := range places {
		m, err := a.Stance.Mounted(p)
		if err != nil || !a.Uses(m.Body) {
			continue
		}
		rows := a.contactRows(m)
		if !a.solution().Estimable(rows[0]) || !a.solution().Estimable(rows[1]) {
			continue
		}
		list = append(list, PointValue{p.String(), a.Stance.Poses[m.Body].At(m.At),
			a.solution().Propagate(rows[0]), a.solution().Propagate(rows[1])})
	}
	return list
}

// Judgement is what the adjustment says of one observation, mm or radians.
type Judgement struct {
	Fitted, Residual       float64 // residual = fitted - value
	Normalized, Redundancy float64
}

// Judged returns the judgement of every observation.
func (a *Adjustment) Judged() []Judgement {
	s := a.solution()
	w, r := s.Normalized(), s.Redundancy()
	list := make([]Judgement, len(a.Observations))
	for i := range list {
		list[i] = Judgement{s.Fitted[i], s.Residuals[i], w[i], r[i]}
	}
	return list
}

// WithAll is the same adjustment with no suspect set aside.
func (a *Adjustment) WithAll() *Adjustment {
	all := *a
	all.Search = &lsq.Search{Suspects: a.Search.Suspects, All: a.Search.All, Final: a.Search.All, Limit: a.Search.Limit}
	all.Stance = a.standing(all.Search.Final.X)
	return &all
}
