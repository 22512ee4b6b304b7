package locate

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/plane"
)

// Cause is something that may be off, by a standard uncertainty of Sigma: one observation, one fault of a part or of the
// support, or the clamp of a body without a shape that is taken to be a usual one.
type Cause struct {
	Kind        CauseKind
	Observation int            // ByObservation: index into the adjustment's observations
	Fault       assembly.Fault // ByFault
	Part        string         // of the fault: the same catalogue id or file on both bikes errs alike
	Body        assembly.Body  // ByClamp, ByAnchor: Saddle or Bar
	Across      bool           // ByClamp: across the body, else along it; ByAnchor: y, else x
	Sigma       float64        // mm or radians
}

// CauseKind is what a cause is.
type CauseKind int

// The kinds of cause.
const (
	ByObservation CauseKind = iota
	ByFault
	ByClamp
	ByAnchor // of a half that was not read
)

// Effect is how far a position moves per mm (or radian) of a cause.
type Effect struct {
	Cause
	At    [Coordinates]float64 // as Position.Cov
	Width float64              // of the support, as the target is asked for it
}

// Shift is how far what a Standing hands out moves per mm (or radian) of a cause.
type Shift struct {
	Cause
	// Of the anchors of saddle and bar, mm, and of the angle where Bike.Saddle.Tilt or Bike.Bar.Rotation holds one.
	Saddle, Bar plane.Pose
	Pads        float64 // of Bike.Clipon.Tilt
	// Of the arms of saddle, hands and what goes along with them, in the frame of the body, and of their angle against it.
	Sit, Hands, Second plane.Pose
}

// faults are the faults of a bike as it is fitted that have an uncertainty.
func faults(b *bike.Bike, p bike.Posture) (list []Cause) {
	for f := range assembly.Faults {
		if sigma, part := assembly.Uncertain(b, p, f); sigma > 0 {
			list = append(list, Cause{Kind: ByFault, Fault: f, Part: part, Sigma: sigma})
		}
	}
	return list
}

// influence is how far functions of the unknowns with derivatives rows (nil: none) move per mm or radian of each
// observation's value, [observation][function]: rows·C·J'·σ⁻² in the linear model, 0 for what is set aside.
func (a *Adjustment) influence(rows [][]float64) [][]float64 {
	all := make([][]float64, len(a.Observations))
	for i := range all {
		all[i] = make([]float64, len(rows))
		by := a.solution().Influence(i)
		for k, row := range rows {
			if row != nil {
				all[i][k] = floats.Dot(row, by)
			}
		}
	}
	return all
}

// carried is how far the same functions move because readings are off by a fault: -Σ influence·∂reading/∂fault.
func (a *Adjustment) carried(influence [][]float64, f assembly.Fault, s *assembly.Placement) []float64 {
	out := make([]float64, len(influence[0]))
	for i := range a.spans {
		if off := s.Off(&a.spans[i], f); off != 0 {
			for k, v := range influence[i] {
				out[k] -= off * v
			}
		}
	}
	return out
}

// observed are the observations as causes.
func (a *Adjustment) observed(i int) Cause {
	return Cause{Kind: ByObservation, Observation: i, Sigma: a.Observations[i].Sigma}
}

// Effects lists what a position depends on and how: every observation, the shapes of the parts and the support. The
// variance of a coordinate is Σ (effect·sigma)². A position is where it is per unit of a fault once the adjustment has
// moved by -influence·∂f/∂fault and the contact on its body by its own.
func (a *Adjustment) Effects(p bike.Posture) ([]Effect, error) {
	t, err := a.touched(p)
	if err != nil {
		return nil, err
	}
	rows := a.rows(t)
	influence := a.influence(rows[:])
	list := make([]Effect, 0, len(influence)+int(assembly.Faults))
	for i, by := range influence {
		e := Effect{Cause: a.observed(i)}
		copy(e.At[:], by)
		list = append(list, e)
	}
	l := *a.Placement.Layout
	l.SitWidth, l.SitAt = p.Support, p.At
	s := &assembly.Placement{Layout: &l, Poses: a.Placement.Poses}
	for _, c := range faults(l.Bike, p) {
		e := Effect{Cause: c, Width: l.WidthMoved(c.Fault)}
		copy(e.At[:], a.carried(influence, c.Fault, s))
		for i, h := range t.held { // how far it moves on its body
			by := s.Moved(h.place, c.Fault).Turn(s.Poses[h.mount.Body].Turn + l.Bike.Frame.Pitch)
			e.At[3*i] += by.X
			e.At[3*i+1] += by.Y
		}
		list = append(list, e)
	}
	return list, nil
}

// What a Standing hands out, in this order: anchors x, y and angle, pads, then the arms x, y and angle.
const (
	ofSaddle = 0
	ofBar    = 3
	ofPads   = 6
	ofSit    = 7
	ofHands  = 10
	ofSecond = 13
	handed   = 16
)

func (s *Standing) rows() [][]float64 {
	rows := make([][]float64, handed)
	put := func(k int, at spot, angle lean) { rows[k], rows[k+1], rows[k+2] = at.x, at.y, angle.row }
	put(ofSaddle, s.saddle.clamp, s.saddle.angle)
	put(ofBar, s.bar.clamp, s.bar.angle)
	rows[ofPads] = s.pads.row
	put(ofSit, s.sit.at, lean{})
	put(ofHands, s.hands.at, s.hands.angle)
	put(ofSecond, s.second.at, s.second.angle)
	return rows
}

func shift(c Cause, v []float64) Shift {
	at := func(k int) plane.Pose { return plane.Pose{Origin: plane.Point{X: v[k], Y: v[k+1]}, Turn: v[k+2]} }
	return Shift{Cause: c, Saddle: at(ofSaddle), Bar: at(ofBar), Pads: v[ofPads], Sit: at(ofSit), Hands: at(ofHands), Second: at(ofSecond)}
}

// Shifts lists what the anchors, angles and arms of a target as it stands depend on, and how. How far the contacts
// themselves move on parts that may be off is for assembly.Layout.Moved to say of the parts chosen; the support's
// fault is per mm of the width that the target is asked for, and its sigma is not set: it is the source's.
func (s *Standing) Shifts() []Shift {
	var list []Shift
	if a := s.Adjusted; a != nil && a.Search != nil {
		influence := a.influence(s.rows())
		for i, by := range influence {
			list = append(list, shift(a.observed(i), by))
		}
		for _, c := range faults(a.Placement.Bike, bike.Posture{SupportSigma: 1}) {
			if c.Fault == assembly.Support {
				c.Sigma = 0
			}
			list = append(list, shift(c, a.carried(influence, c.Fault, a.Placement)))
		}
	}
	for i, d := range [2]plane.Point{{X: 1}, {Y: 1}} {
		for _, h := range [2]*half{&s.saddle, &s.bar} {
			k := Shift{Cause: Cause{Kind: ByAnchor, Across: i == 1, Sigma: s.Bike.AnchorSigma}}
			anchor, arm := plane.Pose{Origin: d}, plane.Pose{}
			switch sigma := [2]float64{h.taken.X, h.taken.Y}[i]; {
			case sigma > 0:
				// A clamp that lies further on by d in the frame of the body is that much nearer to its contacts.
				k.Kind, k.Sigma = ByClamp, sigma
				anchor, arm = plane.Pose{Origin: d.Turn(h.body)}, plane.Pose{Origin: d.Scale(-1)}
			case !h.filed || k.Sigma == 0:
				continue
			case h.clamp.at != (plane.Point{}): // the mark on the saddle was read, its clamp was not
				arm.Origin = d.Turn(-h.body).Scale(-1)
			}
			if k.Body = assembly.Saddle; h == &s.bar {
				k.Body, k.Bar, k.Hands, k.Second = assembly.Bar, anchor, arm, arm
			} else {
				k.Saddle, k.Sit = anchor, arm
			}
			list = append(list, k)
		}
	}
	return list
}

// alike reports whether two bikes' effects have one cause: a fault of the same part, or of the rider's own support.
func alike(a, b Effect) bool {
	return a.Kind == ByFault && b.Kind == ByFault && a.Fault == b.Fault && a.Part == b.Part && a.Part != "inline"
}

// Turned are the effects with the bike turned about the BB by an angle, radians.
func Turned(effects []Effect, angle float64) []Effect {
	out := slices.Clone(effects)
	for i := range out {
		out[i].At = turnedBy(out[i].At, angle)
	}
	return out
}

// Apart is the covariance of one position less another, as Position.Cov, from everything that either depends on: Σ σ²·d·d' over the
// causes, d the effect on the one less that on the other where both have the cause.
func Apart(of, from []Effect) (cov [Coordinates][Coordinates]float64) {
	add := func(d [Coordinates]float64, sigma float64) {
		for i := range d {
			for j := range d {
				cov[i][j] += d[i] * d[j] * sigma * sigma
			}
		}
	}
	both := make([]bool, len(of))
	for _, e := range from {
		d := e.At
		for k, o := range of {
			if alike(e, o) {
				both[k] = true
				for i, v := range o.At {
					d[i] -= v
				}
			}
		}
		add(d, e.Sigma)
	}
	for k, o := range of {
		if !both[k] {
			add(o.At, o.Sigma)
		}
	}
	return cov
}

// Total is the standard uncertainty of coordinate i of a position from everything that it depends on.
func Total(effects []Effect, i int) float64 {
	v := 0.0
	for _, e := range effects {
		v += e.At[i] * e.At[i] * e.Sigma * e.Sigma
	}
	return math.Sqrt(v)
}
