package locate

import (
	"carryover/internal/assembly"
	"carryover/internal/plane"
)

// Travel is where adjuster i stands as adjusted, mm or radians, and how sure that is; ok is false when it
// moves nothing that is in use.
func (a *Adjustment) Travel(i int) (travel, sigma float64, ok bool) {
	u := a.model.travel[i]
	if u < 0 {
		return 0, 0, false
	}
	row := make([]float64, len(a.model.unknowns))
	row[u] = 1
	return a.solution().X[u], a.solution().Propagate(row), true
}

// ClampStation is the station of the saddle that its clamp holds; ok is false when the saddle hangs on no clamp.
func (a *Adjustment) ClampStation() (station float64, ok bool) {
	c := &a.model.chains[assembly.Saddle]
	if !c.used || !c.via {
		return 0, false
	}
	return c.station(a.solution().X), true
}

// Uses reports whether a body has a place in the adjustment.
func (a *Adjustment) Uses(b assembly.Body) bool { return a.model.chains[b].used }

// Anchor is where the clamp that a body hangs on is as adjusted, mm, with Options.AnchorSigma above 0; ok is
// false when the body hangs on no anchor, or on one taken as exact.
func (a *Adjustment) Anchor(b assembly.Body) (at plane.Point, ok bool) {
	x := a.solution().X
	for _, k := range a.model.anchors {
		if k.body == b {
			return plane.Point{X: x[k.unknown[0]], Y: x[k.unknown[1]]}, true
		}
	}
	return at, false
}
