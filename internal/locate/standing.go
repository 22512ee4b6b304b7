package locate

import (
	"carryover/internal/assembly"
	"carryover/internal/plane"
)

// Travel is where adjuster i stands as adjusted, mm or radians, and how sure that is; ok is false when it
// moves nothing that is in use.
func (a *Adjustment) Travel(i int) (travel, sigma float64, ok bool) {
	u := a.model.joints.Travel[i].Unknown
	if u < 0 {
		return 0, 0, false
	}
	row := make([]float64, len(a.model.unknowns))
	row[u] = 1
	return a.solution().X[u], a.solution().Propagate(row), true
}

// ClampStation is the station of the saddle that its clamp holds; ok is false when the saddle hangs on no clamp.
func (a *Adjustment) ClampStation() (station float64, ok bool) {
	j := &a.model.joints
	if !j.Hung[assembly.Saddle] {
		return 0, false
	}
	return j.Arm[assembly.Saddle][0].Of(a.solution().X), true
}

// Uses reports whether a body has a place in the adjustment.
func (a *Adjustment) Uses(b assembly.Body) bool { return a.model.chains.Uses(b) }

// Anchor is where the clamp that a body hangs on is as adjusted, mm; ok is false when the body hangs on no anchor, or on
// one taken as exact.
func (a *Adjustment) Anchor(b assembly.Body) (at plane.Point, ok bool) {
	k, x := a.model.joints.At[b], a.solution().X
	return plane.Point{X: k[0].Of(x), Y: k[1].Of(x)}, a.model.joints.Hung[b] && k[0].Unknown >= 0
}

// row is the derivatives by the unknowns of something with gradient g.
func (a *Adjustment) row(g assembly.Gradient) []float64 {
	s, x := a.Stance, a.start()
	if a.Search == nil {
		s = a.standing(x)
	}
	return a.model.row(g, s, x)
}
