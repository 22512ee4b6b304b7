package bikefile

import (
	"fmt"
	"math"
	"slices"

	"carryover/internal/bike"
	"carryover/internal/diag"
	"carryover/internal/plane"
	"carryover/internal/tomltree"
)

// settingNames are what the program calls the settings that are on no scale; an adjuster needs a name of its own.
var settingNames = []string{
	"saddle.clamp_at", "saddle.tilt", "bar.rotation", "bar.lever_at", "stem.spacers",
	"clipon.tilt", "clipon.hole", "clipon.stack", "clipon.extension", "clipon.spacing", "feet.crank",
}

// Bounds of plausible travel and the usual uncertainty of setting an adjuster.
const (
	maxTravelMM, maxTravelDeg   = 10000, 360
	maxSteps                    = 100_000
	usualSigmaMM, usualSigmaDeg = 0.5, 0.3
	maxAdjusters                = 32 // the search for what moves with what grows with their cube
)

func (r *reader) adjusters() {
	list, ok := r.root.Tables("adjuster")
	r.badAdjuster = r.root.Has("adjuster") && !ok
	named := map[string]bool{}
	for i, t := range list {
		if i == maxAdjusters {
			t.Errorf("", "adjusters-many", "leave out what is never moved",
				"there are %d adjusters; at most %d can be handled", len(list), maxAdjusters)
		}
		a, ok := r.adjuster(t)
		if a.Name != "" && named[a.Name] {
			t.Errorf("name", "adjuster-twice", "give each adjuster a name of its own", "two adjusters are called %q", a.Name)
			ok = false
		}
		named[a.Name] = true
		if !ok {
			r.badAdjuster = true
			continue
		}
		r.movable(t, a)
		r.b.Adjusters = append(r.b.Adjusters, a)
	}
}

func (r *reader) adjuster(t *tomltree.Table) (bike.Adjuster, bool) {
	var a bike.Adjuster
	ok := t.Require("name", "moves", "unit")
	a.Name, _ = t.String("name")
	if n := t.Node("name"); n != nil {
		a.Where = n.Span
		ok = r.checkName(t, a.Name) && ok
	}
	moves, movesOK := t.OneOf("moves", bike.MovesNames...)
	if movesOK {
		a.Moves = bike.Moves(slices.Index(bike.MovesNames, moves))
		ok = r.direction(t, &a) && ok
	} else {
		t.Node("angle") // known either way
	}

	toTravel, most, usual, word := func(v float64) float64 { return v }, float64(maxTravelMM), usualSigmaMM, "mm"
	if a.Moves.Turns() {
		toTravel, most, usual, word = plane.Rad, maxTravelDeg, usualSigmaDeg, "degrees"
	}
	unit, unitOK := t.Float("unit", tomltree.Between(-1000, 1000))
	if unitOK && unit == 0 {
		t.Errorf("unit", "value-range", "unit is the "+word+" per 1.0 of the scale", "unit 0 would move nothing")
		unitOK = false
	}
	lo, hi, rangeOK := markRange(t)
	if !t.Has("range") {
		a.NoRange, rangeOK = true, true
	}
	if unitOK && rangeOK && math.Max(math.Abs(lo*unit), math.Abs(hi*unit)) > most {
		t.Errorf("range", "implausible", "range is in marks of the scale, unit in "+word+" per mark",
			"range [%s, %s] times unit %s goes beyond %s %s", num(lo), num(hi), num(unit), num(most), word)
		rangeOK = false
	}
	step, stepOK := t.Float("step", tomltree.Min(0))
	switch {
	case !stepOK || !rangeOK || step == 0 || a.NoRange:
	case lo == hi:
		t.Errorf("step", "step-empty-range", "write step = 0.0, or a range from least to greatest mark",
			"step %s has nothing to step through: the range is just %s", num(step), num(lo))
		rangeOK = false
	case (hi-lo)/step > maxSteps:
		t.Errorf("step", "step-tiny", "write step = 0.0 for anywhere within the range",
			"step %s makes more than %d steps of the range", num(step), maxSteps)
		rangeOK = false
	}
	sigma, sigmaOK := t.Float("sigma", tomltree.Between(0.001, 100))
	if !sigmaOK {
		sigma = usual
	}
	if marked, good := t.Bool("marked"); good {
		a.NoScale = !marked
	}
	a.Unit, a.Lo, a.Hi, a.Step, a.Sigma = toTravel(unit), lo, hi, step, toTravel(sigma)
	return a, ok && movesOK && unitOK && rangeOK
}

func (r *reader) checkName(t *tomltree.Table, name string) bool {
	if name == "" && t.Node("name").Kind == tomltree.KindString {
		t.Errorf("name", "adjuster-name", "", "an adjuster needs a name")
		return false
	}
	if slices.Contains(settingNames, name) {
		t.Errorf("name", "adjuster-name", "give it a name of its own, as it is written on the machine",
			"%q is the name of a built-in setting", name)
		return false
	}
	return name != ""
}

// direction reads the angle of an adjuster that shifts something; one that turns something has none.
func (r *reader) direction(t *tomltree.Table, a *bike.Adjuster) bool {
	if a.Moves.Turns() {
		if t.Node("angle") == nil {
			return true
		}
		t.Errorf("angle", "unknown-key", "leave angle out: it is the direction in which a clamp travels",
			"angle does not belong to an adjuster that moves %s", a.Moves)
		return false
	}
	if !t.Has("angle") {
		t.Errorf("", "missing-key", "0 is level forward, 90 straight up, 107 along a steep seat tube",
			"missing key %q in %s: the direction of travel as the mark rises", "angle", t.Name())
		return false
	}
	deg, ok := t.Float("angle", tomltree.Between(-360, 360))
	a.Angle = plane.Rad(deg)
	if line := math.Mod(deg+360, 180); ok && a.Moves == bike.MovesSaddle && 60 <= line && line <= 85 {
		t.Warnf("angle", "travel-forward", fmt.Sprintf("a seat post goes up and back: 180 - %s = %s is the usual one", num(line), num(180-line)),
			"angle %s moves the saddle up and forward", num(deg))
	}
	return ok
}

func markRange(t *tomltree.Table) (lo, hi float64, ok bool) {
	ends, ok := t.Floats("range", 2)
	if !ok {
		return 0, 0, false
	}
	if ends[0] > ends[1] {
		t.Errorf("range", "reversed-range", fmt.Sprintf("write [%s, %s]; a scale that counts down has a negative unit",
			num(ends[1]), num(ends[0])), "range in %s runs from high to low", t.Name())
		return 0, 0, false
	}
	return ends[0], ends[1], true
}

// movable reports an adjuster that has nothing to start from, or that shares what it turns with something else.
func (r *reader) movable(t *tomltree.Table, a bike.Adjuster) {
	anchor, _ := r.root.Table("anchor")
	has := func(key string) bool { return anchor != nil && anchor.Has(key) }
	switch {
	case a.Moves == bike.MovesSaddle && !has("saddle_clamp") && !r.root.Has("reading"):
		t.Errorf("moves", "missing-anchor", "give saddle_clamp = [x, y] in [anchor], the clamp with every mark at 0, or readings of the bike as it stands",
			"adjuster %q moves the saddle, but anchor.saddle_clamp is missing", a.Name)
	case a.Moves == bike.MovesBar && !has("bar_clamp") && !r.root.Has("stem") && !r.root.Has("reading"):
		t.Errorf("moves", "missing-anchor", "give bar_clamp = [x, y] in [anchor], the clamp with every mark at 0, or readings of the bike as it stands",
			"adjuster %q moves the bar, but anchor.bar_clamp is missing", a.Name)
	case a.Moves.Turns():
		section, key := "saddle", "tilt"
		if a.Moves == bike.MovesBarRotation {
			section, key = "bar", "rotation"
		}
		if fit, ok := r.root.Table(section); ok && fit.Has(key) {
			fit.Errorf(key, "set-twice", "leave one of the two out: with an adjuster, its mark sets it",
				"%s.%s is given, and adjuster %q sets it too", section, key, a.Name)
		}
		if other := r.b.Moving(a.Moves); len(other) > 0 {
			t.Errorf("moves", "turned-twice", "carryover handles one; put both on one scale, or leave one out",
				"two adjusters move %s: %q and %q", a.Moves, r.b.Adjusters[other[0]].Name, a.Name)
		}
	}
}

// marks reads where the adjusters stand; never nil.
func (r *reader) marks(t *tomltree.Table) map[string]float64 {
	entries, _ := t.FloatMap("marks")
	marks := make(map[string]float64, len(entries))
	for _, e := range entries {
		if r.mark(t, e) {
			marks[e.Name] = e.Value
		}
	}
	return marks
}

func (r *reader) mark(t *tomltree.Table, e tomltree.Named) bool {
	i := slices.IndexFunc(r.b.Adjusters, func(a bike.Adjuster) bool { return a.Name == e.Name })
	if i < 0 {
		if !r.badAdjuster { // else it may be the mark of one that has been reported
			t.ErrorAtf(e.Node, "mark-unknown", r.markHint(e.Name), "no adjuster is called %q", e.Name)
		}
		return false
	}
	const slack = 1e-9
	a := &r.b.Adjusters[i]
	if a.NoRange {
		if t == r.root {
			t.ErrorAtf(e.Node, "mark-range", "give its adjuster a range, or leave the mark out",
				"%q has a mark but no range on its scale", a.Name)
		}
		return t != r.root
	}
	room := slack * math.Max(1, math.Max(math.Abs(a.Lo), math.Abs(a.Hi)))
	if e.Value < a.Lo-room || e.Value > a.Hi+room {
		t.ErrorAtf(e.Node, "mark-range", "correct the mark, or the adjuster's range",
			"mark %s is outside the range of %q, %s to %s", num(e.Value), a.Name, num(a.Lo), num(a.Hi))
		return false
	}
	if a.Step > 0 {
		k := math.Round((e.Value - a.Lo) / a.Step)
		if nearest := a.Lo + k*a.Step; math.Abs(e.Value-nearest) > 1e-3*a.Step {
			r.warn(e.Node, "mark-step", "the nearest step is "+num(math.Round(nearest*1e6)/1e6),
				fmt.Sprintf("mark %s of %q lies between two of its steps", num(e.Value), a.Name))
		}
	}
	return true
}

func (r *reader) markHint(name string) string {
	if slices.Contains(settingNames, name) {
		return "it is on no scale: write its value in the table of that name"
	}
	names := make([]string, len(r.b.Adjusters))
	for i := range names {
		names[i] = r.b.Adjusters[i].Name
	}
	if near, ok := diag.Suggest(name, names); ok {
		return fmt.Sprintf("did you mean %q?", near)
	}
	return ""
}

// warn reports a warning at a node, which Table does for keys only.
func (r *reader) warn(n *tomltree.Node, code, detail, summary string) {
	span := n.Span
	*r.problems = append(*r.problems, diag.Diagnostic{
		Code: code, Severity: diag.Warning, Summary: summary, Detail: detail, Span: &span, Line: n.Line,
	})
}
