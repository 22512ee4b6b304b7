package locate

import (
	"math"

	"carryover/internal/bike"
	"carryover/internal/plane"
)

// Pair is two people who took readings of one bike, and how far the second is off against the first in what both read.
type Pair struct {
	First  string `json:"first"`
	Second string `json:"second"`
	Taken  [2]int `json:"taken"` // how many readings each took
	Both   []Both `json:"both"`
	// Longer is by how much the second reads longer on average over all lengths, mm, with its standard uncertainty;
	// Apart tells whether that is more than chance.
	Longer float64 `json:"longer"`
	Sigma  float64 `json:"sigma"`
	Apart  bool    `json:"apart"`
}

// Both is one thing that two people read.
type Both struct {
	Reading    string         `json:"reading"`
	First      plane.Quantity `json:"first"`
	Second     plane.Quantity `json:"second"`
	Difference plane.Quantity `json:"difference"` // second - first
	Sigma      plane.Quantity `json:"sigma"`
	Apart      bool           `json:"apart"` // by more than chance
}

// People compares those who took the readings (by), two by two, in what both of them read. Readings without a name are
// one person's, if others have one.
func (a *Adjustment) People() []Pair {
	var names []string
	took := map[string][]*Observation{}
	for i := range a.Observations {
		if o := &a.Observations[i]; o.Origin == FromReading {
			by := o.Reading.By
			if took[by] == nil {
				names = append(names, by)
			}
			took[by] = append(took[by], o)
		}
	}
	var list []Pair
	for j, second := range names {
		for _, first := range names[:j] {
			if p := compared(took[first], took[second]); len(p.Both) > 0 {
				p.First, p.Second, p.Taken = first, second, [2]int{len(took[first]), len(took[second])}
				list = append(list, p)
			}
		}
	}
	return list
}

func compared(first, second []*Observation) Pair {
	var p Pair
	n, sum, variance := 0, 0.0, 0.0
	for _, f := range first {
		for _, s := range second {
			if !same(*f.Reading, *s.Reading) {
				continue
			}
			v := s.Value.Value()
			if s.Reading.From != f.Reading.From && s.Reading.Kind != bike.Line {
				v = -v // taken from the other end
			}
			d, sigma := v-f.Value.Value(), math.Hypot(f.Sigma, s.Sigma)
			p.Both = append(p.Both, Both{f.Name, f.Value, f.Value.Of(v), f.Value.Of(d), f.Value.Of(sigma), math.Abs(d) > explained*sigma})
			if !f.Value.Turns() {
				n, sum, variance = n+1, sum+math.Copysign(1, f.Value.Value())*d, variance+sigma*sigma
			}
		}
	}
	if n > 0 {
		p.Longer, p.Sigma = sum/float64(n), math.Sqrt(variance)/float64(n)
		p.Apart = math.Abs(p.Longer) > explained*p.Sigma
	}
	return p
}
