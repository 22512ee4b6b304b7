package locate

import (
	"encoding/json"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"carryover/internal/bike"
	"carryover/internal/lsq"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Plan is which readings to take next.
type Plan struct {
	Of    string  `json:"of"` // settings or contacts
	To    string  `json:"to,omitempty"`
	Now   float64 `json:"now"` // root of the summed variances of the outputs, mm
	Steps []Step  `json:"steps"`
}

// Step is one reading worth taking next.
type Step struct {
	Reading bike.Reading
	Again   bool // the file has this reading already: take it once more, afresh
	// Spread is the root of the summed variances of the outputs after it, Gain how much smaller than
	// before it, mm.
	Spread, Gain float64
}

// MarshalJSON writes the reading as a file would have it.
func (s Step) MarshalJSON() ([]byte, error) {
	r := &s.Reading
	return json.Marshal(struct {
		Reading string `json:"reading"`
		bike.Keys
		Again bool           `json:"again"`
		Sigma plane.Quantity `json:"sigma"`
		After float64        `json:"after"`
		Gain  float64        `json:"gain"`
	}{r.Written, r.Keys(), s.Again, r.Quantity().Of(r.Sigma), s.Spread, s.Gain})
}

// Worthwhile is the least gain, mm, for which a reading is proposed: less does not show on any scale.
const Worthwhile = 0.05

// Plan proposes up to n further readings that most reduce the uncertainty of some outputs, in order: each
// is the one that gains most once those before it are taken. outputs holds the derivatives of each output
// by the unknowns, in mm (angles turned into mm by the caller); the first number returned is the root of
// their summed variances now.
func (a *Adjustment) Plan(outputs [][]float64, n int) (now float64, steps []Step) {
	cov := a.solution().Cov
	total := func(c []float64) float64 {
		v := 0.0
		for _, row := range outputs {
			v += lsq.Bilinear(c, row, row)
		}
		return math.Sqrt(math.Max(0, v))
	}
	candidates := a.Candidates()
	now = total(cov)
	spread := now
	for range n {
		best, least := -1, spread-Worthwhile
		for i, c := range candidates {
			if !a.solution().Estimable(c.Row) {
				continue // it would first have to fix something else
			}
			if v := total(after(cov, c.Row, c.Reading.Sigma)); v < least-1e-9 {
				best, least = i, v
			}
		}
		if best < 0 {
			break
		}
		c := candidates[best]
		again := a.taken(c.Reading) || slices.ContainsFunc(steps, func(s Step) bool { return same(s.Reading, c.Reading) })
		steps = append(steps, Step{Reading: c.Reading, Again: again, Spread: least, Gain: spread - least})
		cov, spread = after(cov, c.Row, c.Reading.Sigma), least
	}
	return now, steps
}

// after is what a reading with derivatives h and uncertainty s makes of the covariance C of the unknowns (the update of recursive
// least squares):
//
//	C - C h (s² + h'C h)⁻¹ h'C
func after(cov, h []float64, sigma float64) []float64 {
	n := len(h)
	ch := make([]float64, n)
	for i := range ch {
		ch[i] = floats.Dot(cov[i*n:(i+1)*n], h)
	}
	s := sigma*sigma + floats.Dot(h, ch)
	next := slices.Clone(cov)
	for i, c := range ch {
		floats.AddScaled(next[i*n:(i+1)*n], -c/s, ch)
	}
	return next
}

// same reports whether two readings measure the same thing, from whichever end.
func same(a, b bike.Reading) bool {
	return a.Kind == b.Kind && a.Of == b.Of && (a.From == b.From && a.To == b.To || a.From == b.To && a.To == b.From)
}

func (a *Adjustment) taken(r bike.Reading) bool {
	return slices.ContainsFunc(a.model.entries[0].Readings, func(o bike.Reading) bool { return same(o, r) })
}

// takenAlike is taken wherever on the saddle the reading goes: a second one beside it says little more.
func (a *Adjustment) takenAlike(r bike.Reading) bool {
	anywhere := func(r bike.Reading) bike.Reading {
		r.From.Ref, r.To.Ref = saddle.Reference{}, saddle.Reference{}
		return r
	}
	return slices.ContainsFunc(a.model.entries[0].Readings, func(o bike.Reading) bool { return same(anywhere(o), anywhere(r)) })
}

// ContactOutputs are the coordinates of a posture's contacts as outputs of a plan: place in mm, and each
// angle by what the posture weighs a degree of it against a mm.
func (a *Adjustment) ContactOutputs(p bike.Posture) ([][]float64, error) {
	rows, err := a.Rows(p)
	if err != nil {
		return nil, err
	}
	weights := [6]float64{1, 1, p.Weights.Angle, 1, 1, p.Weights.Angle}
	var out [][]float64
	for i, w := range weights {
		row := make([]float64, len(rows[i]))
		for j, v := range rows[i] {
			row[j] = w * v
		}
		out = append(out, row)
	}
	return out, nil
}
