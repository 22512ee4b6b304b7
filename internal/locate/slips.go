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

// Finding is an observation that the others contradict: what it is, what they say of it, which others may be the wrong ones
// instead, and the likely slips. Values are in mm or radians.
type Finding struct {
	Observation int
	// Others is what the others say it should read, with the standard uncertainty of that.
	Others, Sigma float64
	Normalized    float64 // |w| of the suspect
	// Twins and Rivals are observations that may be the wrong one instead: the readings cannot tell at all, or hardly.
	Twins, Rivals []int
	// Aside tells whether the answer rests on the rest without it: nothing is set aside where another may as well be wrong.
	Aside bool
	// Slips are the usual slips, in it or in one of those, that explain the disagreement, the likeliest first: the
	// one that does so clearly best, or all.
	Slips []Slip
	// BBHeight is what [frame] bb_height may have to be instead, mm: a usual slip in it would put every reading to the floor
	// right; 0: it is not in question.
	BBHeight float64
	of       *Adjustment
}

// Blamed are the observations of which one is wrong, the likeliest first.
func (f *Finding) Blamed() []int { return slices.Concat([]int{f.Observation}, f.Twins, f.Rivals) }

// Likely is the slip to be named as a good guess: the only one, or one that leads the others; nil: there is none.
func (f *Finding) Likely() *Slip {
	if n := len(f.Slips); n == 0 || n > 1 && f.Slips[0].cost+ahead >= f.Slips[1].cost {
		return nil
	}
	return &f.Slips[0]
}

// Slip is a usual way to go wrong that would explain a suspect.
type Slip struct {
	Code  string  // digits, ten, hundred, centimetres, inches, reference, floor, sign
	Value float64 // what should have been written, or read to the place that was meant; mm or radians
	Words string  // what happened, for a person
	// Observation is the one that went wrong, cost how unlikely what was read is then.
	Observation int
	cost        float64
}

// explained is how far (in standard uncertainties of the difference) a slip may leave a reading from what
// the others say: the central 99 % of a normal distribution.
const explained = 2.576

// How much less an explanation must cost than the next one to be the only one named, a likelihood ratio of 20, and to be
// named first, one of 1.3: nearer than that they are alike.
var clearer, ahead = 2 * math.Log(20), 2 * math.Log(1.3)

// Costs are -2 log of the likelihood of what was read if it is wrong, against its being right. It may be wrong by one of
// the usual slips, each of which takes slipShare of such cases (centimetres, told by a number no bike has, more), or in
// any way, anywhere within anyMM or anyRad. A scale that slipped or an anchor is off by less, scaleMM, and in any way.
const (
	slipShare, plainShare, anyShare = 0.07, 0.15, 0.3
	anyMM, anyRad                   = 600, 40 * math.Pi / 180
	scaleMM, scaleShare             = 60, 0.9
	usualMM                         = 2 // standard uncertainty of a tape
	// mostAngle is by how much an angle can be misread without a slip (common practice: a level laid on a curve), radians;
	// one that would have to be off by more is not what a distance is wrong by.
	mostAngle = 4 * math.Pi / 180
)

// Findings explains every suspect.
func (a *Adjustment) Findings() []Finding { return append([]Finding{}, a.found...) }

// blame is one observation held to be the wrong one.
type blame struct {
	observation   int
	cost          float64
	others, sigma float64
	slips         []Slip
	twin          bool
}

// weigh settles for every suspect which observations may be the wrong one: itself, or one that would explain the
// disagreement as well or nearly so; a usual slip in one of them speaks for it. What is blamed alone is set aside, and so is
// one of several marks and anchors: whichever of those is wrong, what stands there is the same.
func (a *Adjustment) weigh(p lsq.Problem) error {
	if len(a.Search.Suspects) == 0 {
		return nil
	}
	p.Aside = make([]bool, len(a.Observations))
	for _, s := range a.Search.Suspects {
		p.Aside[s.Index] = true
	}
	before := slices.Clone(p.Aside)
	var freed []int // suspects in whose place another is blamed
	worst := func(a, b lsq.Suspect) int { return cmp.Compare(math.Abs(b.W), math.Abs(a.W)) }
	for _, s := range slices.SortedStableFunc(slices.Values(a.Search.Suspects), worst) {
		list := a.blamed(p, s, freed)
		f := Finding{Observation: list[0].observation, Others: list[0].others, Sigma: list[0].sigma, Normalized: s.W, of: a}
		f.Aside = len(list) == 1 || !slices.ContainsFunc(list, func(b blame) bool { return !a.onScale(b.observation) })
		for i, b := range list {
			f.Slips = append(f.Slips, b.slips...)
			switch {
			case i == 0:
				continue
			case b.twin && list[0].twin:
				f.Twins = append(f.Twins, b.observation)
			default:
				f.Rivals = append(f.Rivals, b.observation)
			}
		}
		if f.BBHeight = a.floorInstead(p, s.Index); f.BBHeight > 0 {
			f.Aside = false
		}
		if f.Observation != s.Index { // the others are judged without it
			p.Aside[s.Index], p.Aside[f.Observation] = false, true
			freed = append(freed, s.Index)
		}
		slices.SortStableFunc(f.Slips, func(a, b Slip) int { return cmp.Compare(a.cost, b.cost) })
		if len(f.Slips) > 1 && f.Slips[0].cost+clearer < f.Slips[1].cost {
			f.Slips = f.Slips[:1]
		}
		a.found = append(a.found, f)
	}
	p.Aside = a.aside()
	if slices.Equal(p.Aside, before) {
		return nil
	}
	final, err := lsq.Solve(p, a.work)
	if err == nil {
		a.Search.Final = final
	}
	return err
}

// floorInstead is the BB height that would put a suspect right together with all readings to the floor, mm: at least two of those
// agree on it, it is a usual slip away from the file's, and the rest then agrees; 0: none.
func (a *Adjustment) floorInstead(p lsq.Problem, suspect int) float64 {
	const near = 4 // mm: what a floor reading leaves open
	given := a.model.layout.Bike.Frame.BBHeight
	p.Start, p.Aside = a.solution().X, slices.Clone(p.Aside)
	p.Aside[suspect] = false
	var floor []int
	for i, o := range a.Observations {
		r := o.Reading
		if r != nil && r.Kind == bike.Plumb && (r.From.Kind == bike.AtFloor || r.To.Kind == bike.AtFloor) && !p.Aside[i] {
			floor, p.Aside[i] = append(floor, i), true
		}
	}
	if len(floor) < 2 || p.Aside[suspect] {
		return 0
	}
	s, err := lsq.Solve(p, nil)
	if err != nil || s.PValue() < a.Significance {
		return 0
	}
	for _, bb := range slices.Concat(swapped(*given), []float64{*given - 10, *given + 10, *given - 100, *given + 100}) {
		if !slices.ContainsFunc(floor, func(i int) bool { return math.Abs(*given-s.Residuals[i]-bb) > near }) {
			return bb
		}
	}
	return 0
}

// onScale reports whether an observation is a mark or an anchor's coordinate.
func (a *Adjustment) onScale(i int) bool {
	return a.Observations[i].Origin == FromMark || a.Observations[i].Origin == FromAnchor
}

// blamed lists what may be wrong where a suspect was found, the likeliest first, as far as 20 times less likely.
func (a *Adjustment) blamed(p lsq.Problem, s lsq.Suspect, freed []int) []blame {
	var list []blame
	for _, i := range slices.Concat([]int{s.Index}, s.Twins, s.Rivals, freed) {
		if i != s.Index && p.Aside[i] {
			continue // it explains another disagreement already
		}
		instead := a.without(p, s.Index, i)
		if instead == nil {
			continue
		}
		others, sigma, ok := instead.solution().Others(i)
		if !ok {
			continue
		}
		o := a.Observations[i]
		b := blame{observation: i, others: others, sigma: sigma, slips: instead.slips(i, others, sigma)}
		b.twin = i == s.Index || slices.Contains(s.Twins, i)
		width, most, spread := float64(anyMM), math.Inf(1), o.Sigma
		switch {
		case o.Value.Turns():
			width, most = anyRad, mostAngle
		case a.onScale(i):
			width, most = scaleMM/scaleShare*anyShare, scaleMM
		case o.Origin == FromClipon: // as likely as a tape misread, where the part offers what the others say
			spread = usualMM
			if !a.offers(o, others, explained*math.Hypot(sigma, usualMM)) {
				most = 0
			}
		}
		b.cost = instead.solution().Chi2 + 2*math.Log(width/(anyShare*spread*math.Sqrt(2*math.Pi)))
		if math.Abs(others-o.Value.Value()) > most {
			b.cost = math.Inf(1)
		}
		list = append(list, b)
	}
	scales := slices.ContainsFunc(list, func(b blame) bool { return a.onScale(b.observation) && !math.IsInf(b.cost, 1) })
	for i := range list {
		if scales { // wrong in any way, which explains as well as a slip does
			list[i].slips = nil
		}
		for _, k := range list[i].slips {
			list[i].cost = math.Min(list[i].cost, k.cost)
		}
	}
	if len(list) == 0 { // nothing says what it should be
		return []blame{{observation: s.Index, twin: true}}
	}
	slices.SortStableFunc(list, func(x, y blame) int {
		if math.Abs(x.cost-y.cost) > 1e-6 {
			return cmp.Compare(x.cost, y.cost)
		}
		return cmp.Compare(a.Observations[x.observation].Origin, a.Observations[y.observation].Origin)
	})
	least := list[0].cost
	return slices.DeleteFunc(list, func(b blame) bool { return b.cost > least+clearer })
}

// offers reports whether the clip-on can be screwed together otherwise so that the number of an observation is as the others say,
// within so many mm.
func (a *Adjustment) offers(o Observation, others, within float64) bool {
	part := a.model.layout.Clipon
	all := part.Holes
	if o.Name == bike.SetsRisers.Key() {
		all = part.Stacks
	}
	return slices.ContainsFunc(all, func(v float64) bool { return v != o.Zero && math.Abs(v-o.Zero-others) <= within })
}

// without is the adjustment with observation wrong set aside in place of a suspect; nil when it leads nowhere.
func (a *Adjustment) without(p lsq.Problem, suspect, wrong int) *Adjustment {
	p.Start, p.Aside = a.solution().X, slices.Clone(p.Aside)
	p.Aside[suspect], p.Aside[wrong] = false, true
	s, err := lsq.Solve(p, nil)
	if err != nil {
		return nil
	}
	return a.resting(s)
}

// slips lists the usual slips that explain an observation that is set aside, of which the others say a value.
func (a *Adjustment) slips(i int, others, sigmaOthers float64) (list []Slip) {
	o := a.Observations[i]
	if o.Origin != FromReading && o.Origin != FromStated {
		return nil // a mark's slips depend on how its scale is read
	}
	// explains offers a slip after which what was read is normal around a prediction, from which it is off. A wide prediction fits
	// many readings by chance, and costs for it.
	explains := func(code string, meant, off, spread float64, words string) {
		share := slipShare
		if code == "centimetres" {
			share = plainShare
		}
		if off = math.Abs(off) / spread; off <= explained {
			list = append(list, Slip{code, meant, words, i, a.solution().Chi2 + off*off + 2*math.Log(spread/(o.Sigma*share))})
		}
	}
	read, spread := o.Value.Shown(), math.Hypot(o.Sigma, sigmaOthers)
	// instead offers that another number was meant, mm or degrees, which is written only so far as to rough mm.
	instead := func(code string, meant, rough float64, words string) {
		v := meant
		if o.Value.Turns() {
			v = plane.Rad(meant)
		}
		explains(code, v, v-others, math.Hypot(spread, rough), words)
	}
	for _, v := range swapped(read) {
		instead("digits", v, 0, fmt.Sprintf("two digits swapped: %s for %s", number(read), number(v)))
	}
	if !o.Value.Turns() {
		for _, off := range []float64{10, -10, 100, -100} {
			code := map[float64]string{10: "ten", 100: "hundred"}[math.Abs(off)]
			instead(code, read+off, 0, fmt.Sprintf("%s off: %s for %s", number(math.Abs(off)), number(read), number(read+off)))
		}
		instead("centimetres", read*10, 5, fmt.Sprintf("centimetres for millimetres: %s cm is %s mm", number(read), number(read*10)))
		instead("inches", read*25.4, 3, fmt.Sprintf("inches for millimetres: %s in is %s mm", number(read),
			number(math.Round(read*254)/10)))
	}
	if read != 0 && (o.Origin != FromReading || o.Reading.Kind != bike.Line) {
		instead("sign", -read, 0, "the wrong sign: "+number(read)+" for "+number(-read))
	}
	if o.Origin == FromReading {
		for _, other := range otherPlaces(*o.Reading) {
			if v, sigma, ok := a.Reads(other.reading); ok {
				explains(other.code, others, o.Value.Value()-v, math.Hypot(o.Sigma, sigma), other.words)
			}
		}
	}
	return list
}

// otherPlace is a reading that may have been taken by mistake.
type otherPlace struct {
	code    string
	reading bike.Reading
	words   string
}

// otherPlaces lists what may have been measured instead of r: another reference of the saddle, or from the
// floor instead of the BB and the other way about.
func otherPlaces(r bike.Reading) []otherPlace {
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
				*end(&other) = on(k)
				list = append(list, otherPlace{"reference", other,
					fmt.Sprintf("another place on the saddle: its %s for its %s", on(k).Ref, p.Ref)})
			}
		case bike.AtBB, bike.AtFloor:
			if r.Kind == bike.Level {
				continue
			}
			other, is, words := r, bike.AtFloor, "from the floor instead of the BB" // which a bike without a BB height does not have
			if p.Kind == bike.AtFloor {
				is, words = bike.AtBB, "from the BB instead of the floor"
			}
			other.Kind, end(&other).Kind = bike.Plumb, is
			list = append(list, otherPlace{"floor", other, words})
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
	Chi2   float64 `json:"chi2"`
	DOF    int     `json:"dof"`
	P      float64 `json:"-"` // the chance of so large a chi-square with nothing wrong
	Passed bool    `json:"-"` // P is not below the significance
}

// Global tests the observations the answer rests on.
func (a *Adjustment) Global() GlobalTest {
	s := a.solution()
	p := s.PValue()
	return GlobalTest{max(0, s.Chi2), s.DOF, p, p >= a.Significance}
}
