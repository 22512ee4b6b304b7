package locate

import (
	"math"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/lsq"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Value is one coordinate of the bike as adjusted, with its standard uncertainty.
type Value struct {
	Coordinate
	Value plane.Quantity `json:"value"`
	Sigma plane.Quantity `json:"sigma"`
}

// Values lists the adjusted coordinates that the observations fix: saddle.x and .y are the straightedge
// line above the nose.
func (a *Adjustment) Values() []Value {
	list := []Value{}
	for _, c := range a.model.coordinates() {
		row, v := a.row(c.gradient()), c.of(a.Placement.Poses[c.Body])
		if c.Body == assembly.Pads && a.model.layout.Clipon != nil { // counts from where its part says
			tilt := a.model.joints.Turn[c.Body]
			clear(row)
			tilt.Add(row, 1)
			v = v.Of(tilt.Of(a.solution().X))
		}
		if a.solution().Estimable(row) {
			list = append(list, Value{c, v, v.Of(a.solution().Propagate(row))})
		}
	}
	return list
}

// PointValue is where a point of the bike lies, mm, with standard uncertainties.
type PointValue struct {
	Name   string  `json:"point"`
	X      float64 `json:"x"`
	Y      float64 `json:"y"`
	SigmaX float64 `json:"sigma_x"`
	SigmaY float64 `json:"sigma_y"`
}

// Points lists the points of the bike that the observations fix.
func (a *Adjustment) Points() []PointValue {
	places := []bike.Place{}
	for _, k := range []saddle.RefKind{saddle.Nose, saddle.Tail, saddle.Mid, saddle.Widest} {
		places = append(places, on(k))
	}
	for k := bike.AtBar; k <= bike.AtGrip; k++ {
		places = append(places, bike.Place{Kind: k})
	}
	list := []PointValue{}
	for _, p := range places {
		m, err := a.Placement.Mounted(p)
		if err != nil || !a.fixes(m) {
			continue
		}
		at, rows := a.Placement.Poses[m.Body].At(m.At), a.contactRows(m)
		list = append(list, PointValue{p.String(), at.X, at.Y, a.solution().Propagate(rows[0]), a.solution().Propagate(rows[1])})
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
	all := a.resting(a.Search.All)
	all.found = nil
	return all
}

// resting is the same adjustment resting on another of its solutions.
func (a *Adjustment) resting(on *lsq.Solution) *Adjustment {
	b, search := *a, *a.Search
	search.Final = on
	b.Search, b.Placement = &search, a.standing(on.X)
	return &b
}

// reading is what a reading shows on the adjusted bike, mm or radians, with its derivatives by the unknowns; ok is false where this
// bike cannot have it, or it goes to a body that has no place.
func (a *Adjustment) reading(r bike.Reading) (value float64, row []float64, ok bool) {
	t, err := a.Placement.Span(r)
	if err != nil {
		return 0, nil, false
	}
	for b, needed := range t.Needs() {
		if needed && !a.Uses(assembly.Body(b)) {
			return 0, nil, false
		}
	}
	value, g := a.Placement.Read(&t)
	return value, a.row(g), !math.IsNaN(value)
}

// Reads is what a reading would show on the adjusted bike, mm or radians, with its standard uncertainty; ok is false where the
// observations do not fix it.
func (a *Adjustment) Reads(r bike.Reading) (value, sigma float64, ok bool) {
	value, row, ok := a.reading(r)
	if !ok || !a.solution().Estimable(row) {
		return 0, 0, false
	}
	return value, a.solution().Propagate(row), true
}

// Travel is where adjuster i stands as adjusted, mm or radians, and how sure that is; ok is false when it
// moves nothing that is in use.
func (a *Adjustment) Travel(i int) (travel, sigma float64, ok bool) {
	u := a.model.travel[0][i].Unknown
	if u < 0 {
		return 0, 0, false
	}
	return a.solution().X[u], a.solution().Sigma(u), true
}
