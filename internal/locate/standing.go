package locate

import (
	"carryover/internal/assembly"
)

// Travel is where adjuster i stands as adjusted, mm or radians, and how sure that is; ok is false when it
// moves nothing that is in use.
func (a *Adjustment) Travel(i int) (travel, sigma float64, ok bool) {
	u := a.model.travel[0][i].Unknown
	if u < 0 {
		return 0, 0, false
	}
	row := make([]float64, len(a.model.unknowns))
	row[u] = 1
	return a.solution().X[u], a.solution().Propagate(row), true
}

// Uses reports whether a body has a place in the adjustment.
func (a *Adjustment) Uses(b assembly.Body) bool { return a.model.chains[0].Uses(b) }

// row is the derivatives by the unknowns of something with gradient g.
func (a *Adjustment) row(g assembly.Gradient) []float64 {
	s, x := a.Stance, a.start()
	if a.Search == nil {
		s = a.standing(x)
	}
	return a.model.row(g, s, x)
}
