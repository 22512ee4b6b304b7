package locate

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/lsq"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Finding is what the other observations say of a suspect, mm or radians.
type Finding struct {
	Observation int
	// Others is what the others say it should read, with the standard uncertainty of that.
	Others, Sigma float64
	Normalized    float64 // |w| of the suspect
	// Twins and Rivals are observations of which one may be the wrong one instead: the readings cannot tell
	// at all, or hardly.
	Twins, Rivals []int
	Aside         bool // whether it is set aside
	// Slips are the usual slips, in it or in one of those, that explain the disagreement, the likeliest first: the
	// one that does so clearly best, or all. One alone is a good guess; of several the first is one when Leads.
	Slips []Slip
	Leads bool
}

// Slip is a usual way to go wrong that would explain a suspect.
type Slip struct {
	Code  string  // digits, ten, hundred, centimetres, inches, reference, floor, sign
	Value float64 // what should have been written, or read to the place that was meant; mm or radians
	Words string  // what happened, for a person
	// Observation is the one that went wrong, cost how unlikely what was read is then: -2 log of its density.
	Observation int
	cost        float64
}

// explained is how far (in standard uncertainties of the difference) a slip may leave a reading from what
// the others say: the central 99 % of a normal distribution.
const explained = 2.576

// How much less a slip must cost than the next one to be the only one named, a likelihood ratio of 20, and to be
// named first, one of 1.3: nearer than that they are alike.
var clearer, ahead = 2 * math.Log(20), 2 * math.Log(1.3)

// Findings explains every suspect, in the order of Suspects.
func (a *Adjustment) Findings() []Finding {
	if a.Search == nil {
		return nil
	}
	var out []Finding
	for _, s := range a.Search.Suspects {
		f := Finding{Observation: s.Index, Normalized: s.W, Twins: s.Twins, Rivals: s.Rivals, Aside: a.SetsAside(s)}
		f.Others, f.Sigma, _ = a.solution().Others(s.Index)
		candidates := slices.Concat([]int{s.Index}, s.Twins, s.Rivals)
		if slices.ContainsFunc(candidates, func(k int) bool { return a.Observations[k].Origin != FromReading }) {
			candidates = nil // a mark or an anchor may be wrong in any way, which explains as well as a slip does
		}
		for _, k := range candidates {
			if instead := a.without(s.Index, k); instead != nil {
				f.Slips = append(f.Slips, instead.slips(k)...)
			}
		}
		slices.SortStableFunc(f.Slips, func(a, b Slip) int { return cmp.Compare(a.cost, b.cost) })
		if len(f.Slips) > 1 && f.Slips[0].cost+clearer < f.Slips[1].cost {
			f.Slips = f.Slips[:1]
		}
		f.Leads = len(f.Slips) == 1 || len(f.Slips) > 1 && f.Slips[0].cost+ahead < f.Slips[1].cost
		out = append(out, f)
	}
	return out
}

// without is the adjustment with observation wrong set aside in place of a suspect; nil when it leads nowhere.
func (a *Adjustment) without(suspect, wrong int) *Adjustment {
	p := a.problem()
	p.Start, p.Aside = a.solution().X, a.aside()
	p.Aside[suspect], p.Aside[wrong] = false, true
	s, err := lsq.Solve(p, nil)
	if err != nil {
		return nil
	}
	b := *a
	b.Search = &lsq.Search{Suspects: a.Search.Suspects, All: a.Search.All, Final: s, Limit: a.Search.Limit}
	b.Stance = b.standing(s.X)
	return &b
}

// slips lists the usual slips that explain an observation that is set aside.
func (a *Adjustment) slips(i int) []Slip {
	others, sigmaOthers, ok := a.solution().Others(i)
	if !ok {
		return nil
	}
	o := a.Observations[i]
	show := func(v float64) float64 { return v }
	back := show
	if o.Turns {
		show, back = plane.Deg, plane.Rad
	}
	written := show(o.Value)
	if o.Origin == FromMark || o.Origin == FromAnchor {
		return nil // a mark's slips depend on how its scale is read
	}
	var list []Slip
	spread := math.Hypot(o.Sigma, sigmaOthers)
	// What is read after a slip is normal around its prediction: -2 log of that density, beside the chi-square of
	// the others. A wide prediction fits many readings by chance, and costs for it.
	cost := func(off, spread float64) float64 { return a.solution().Chi2 + off*off + 2*math.Log(spread) }
	// try offers a slip after which value would have been read where the others say predicted.
	try := func(code string, value, predicted, spread float64, words string) {
		if off := math.Abs(value-predicted) / spread; off <= explained {
			list = append(list, Slip{code, value, words, i, cost(off, spread)})
		}
	}
	for _, v := range swapped(written) {
		try("digits", back(v), others, spread, fmt.Sprintf("two digits swapped: %s for %s", number(written), number(v)))
	}
	if !o.Turns {
		for _, off := range []float64{10, -10, 100, -100} {
			code := "ten"
			if math.Abs(off) == 100 {
				code = "hundred"
			}
			try(code, o.Value+off, others, spread,
				fmt.Sprintf("%s off: %s for %s", number(math.Abs(off)), number(written), number(written+off)))
		}
		try("centimetres", o.Value*10, others, math.Hypot(spread, 5), "centimetres for millimetres: "+number(written)+" cm is "+number(written*10)+" mm")
		try("inches", o.Value*25.4, others, math.Hypot(spread, 3), "inches for millimetres: "+number(written)+" in is "+number(math.Round(written*254)/10)+" mm")
	}
	if written != 0 && o.Origin == FromReading && o.Reading.Kind != bike.Line {
		try("sign", -o.Value, others, spread, "the wrong sign: "+number(written)+" for "+number(-written))
	}
	if o.Origin == FromReading {
		for _, other := range a.otherPlaces(*o.Reading) {
			v, g, err := a.Stance.Measure(other.reading)
			if err != nil {
				continue
			}
			row := a.row(g)
			if !a.solution().Estimable(row) {
				continue
			}
			sigma := math.Hypot(o.Sigma, a.solution().Propagate(row))
			if off := math.Abs(o.Value-v) / sigma; off <= explained {
				list = append(list, Slip{other.code, others, other.words, i, cost(off, sigma)})
			}
		}
	}
	return list
}

// place is a reading that may have been taken by mistake.
type otherPlace struct {
	code    string
	reading bike.Reading
	words   string
}

// otherPlaces lists what may have been measured instead of r: another reference of the saddle, or from the
// floor instead of the BB and the other way about.
func (a *Adjustment) otherPlaces(r bike.Reading) []otherPlace {
	if r.Kind == bike.Angle || r.Kind == bike.SeatTube {
		return nil
	}
	var list []otherPlace
	for _, end := range []func(*bike.Reading) *bike.Place{
		func(r *bike.Reading) *bike.Place { return &r.From }, func(r *bike.Reading) *bike.Place { return &r.To },
	} {
		p := *end(&r)
		switch p.Kind {
		case bike.AtSaddle:
			for _, k := range []saddle.RefKind{saddle.Nose, saddle.Mid, saddle.Tail, saddle.Widest} {
				if k == p.Ref.Kind {
					continue
				}
				other := r
				ref := saddle.Reference{Kind: k}
				end(&other).Ref = ref
				list = append(list, otherPlace{"reference", other,
					fmt.Sprintf("another place on the saddle: its %s for its %s", ref, p.Ref)})
			}
		case bike.AtBB, bike.AtFloor:
			if a.model.layout.Bike.Frame.BBHeight == nil || r.Kind == bike.Level {
				continue
			}
			other := r
			other.Kind = bike.Plumb
			if p.Kind == bike.AtBB {
				end(&other).Kind = bike.AtFloor
				list = append(list, otherPlace{"floor", other, "from the floor instead of the BB"})
				continue
			}
			end(&other).Kind = bike.AtBB
			list = append(list, otherPlace{"floor", other, "from the BB instead of the floor"})
		}
	}
	return list
}

// swapped lists the numbers that swapping two neighbouring digits of v makes, as it is written.
func swapped(v float64) []float64 {
	text := number(math.Abs(v))
	whole, decimals, _ := strings.Cut(text, ".")
	digits := whole + decimals
	var out []float64
	for i := range len(digits) - 1 {
		if digits[i] == digits[i+1] {
			continue
		}
		d := []byte(digits)
		d[i], d[i+1] = d[i+1], d[i]
		w := string(d)
		if decimals != "" {
			w = w[:len(whole)] + "." + w[len(whole):]
		}
		n, err := strconv.ParseFloat(w, 64)
		if err == nil && !slices.Contains(out, n) {
			out = append(out, math.Copysign(n, v))
		}
	}
	return out
}

func number(v float64) string { return strconv.FormatFloat(math.Round(v*1e6)/1e6, 'f', -1, 64) }

// UncheckedBelow is the redundancy under which a reading counts as checked by nothing: less than this
// share of an error in it would show.
const UncheckedBelow = 0.1

// Unchecked lists the readings still in use that nothing else checks, as indexes into Observations.
func (a *Adjustment) Unchecked() []int {
	if a.Search == nil {
		return nil
	}
	aside, r := a.aside(), a.solution().Redundancy()
	var out []int
	for i, o := range a.Observations {
		if o.Origin == FromReading && !aside[i] && r[i] < UncheckedBelow {
			out = append(out, i)
		}
	}
	return out
}

// GlobalTest is the chi-square test of all observations together.
type GlobalTest struct {
	Chi2, P float64 // P: the chance of so large a chi-square with nothing wrong
	DOF     int
	Passed  bool // P is not below the significance
}

// Global tests the observations the answer rests on.
func (a *Adjustment) Global() GlobalTest {
	s := a.solution()
	p := s.PValue()
	return GlobalTest{Chi2: s.Chi2, DOF: s.DOF, P: p, Passed: p >= a.Significance}
}
