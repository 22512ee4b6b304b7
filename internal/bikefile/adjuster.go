package bikefile

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/diag"
	"carryover/internal/format"
	"carryover/internal/plane"
	"carryover/internal/tomltree"
	"carryover/internal/written"
)

// Bounds of plausible travel and the usual uncertainty of setting an adjuster.
const (
	maxTravelMM, maxTravelDeg   = 10000, 360
	maxSteps                    = 100_000
	usualSigmaMM, usualSigmaDeg = 0.5, 0.3
)

func (r *reader) adjusters() {
	list, ok := r.root.Tables("adjuster")
	r.badAdjuster = !ok
	named := map[string]bool{}
	for _, t := range list {
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

func (r *reader) adjuster(t *format.Table) (bike.Adjuster, bool) {
	marked, given := t.Bool("marked")
	a := bike.Adjuster{Name: t.String("name"), NoScale: given && !marked, NoRange: !t.Has("range"), Step: t.Number("step")}
	if !t.Is("moves") {
		return a, false
	}
	a.Moves = bike.Moves(slices.Index(bike.MovesNames, t.String("moves")))
	ok := r.direction(t, &a) && t.Is("name") && t.Is("unit") && (a.NoRange || t.Is("range"))
	toTravel, most, usual, word := func(v float64) float64 { return v }, float64(maxTravelMM), usualSigmaMM, "mm"
	if a.Moves.Turns() {
		toTravel, most, usual, word = plane.Rad, maxTravelDeg, usualSigmaDeg, "degrees"
	}
	unit := t.Number("unit")
	a.Unit, a.Sigma = toTravel(unit), toTravel(t.Or("sigma", usual))
	ends, ranged := t.Floats("range")
	if !ranged {
		return a, ok
	}
	a.Lo, a.Hi = ends[0], ends[1]
	switch {
	case math.Max(math.Abs(a.Lo*unit), math.Abs(a.Hi*unit)) > most:
		t.Errorf("range", "implausible", "range is in marks of the scale, unit in "+word+" per mark",
			"range [%s, %s] times unit %s goes beyond %s %s", format.Num(a.Lo), format.Num(a.Hi), format.Num(unit), format.Num(most), word)
		return a, false
	case a.Step > 0 && a.Lo == a.Hi:
		t.Errorf("step", "step-empty-range", "write step = 0.0, or a range from least to greatest mark",
			"step %s has nothing to step through: the range is just %s", format.Num(a.Step), format.Num(a.Lo))
		return a, false
	case a.Step > 0 && (a.Hi-a.Lo)/a.Step > maxSteps:
		t.Errorf("step", "step-tiny", "write step = 0.0 for anywhere within the range",
			"step %s makes more than %d steps of the range", format.Num(a.Step), maxSteps)
		return a, false
	}
	return a, ok
}

// direction reads the angle of an adjuster that shifts something; one that turns something has none.
func (r *reader) direction(t *format.Table, a *bike.Adjuster) bool {
	deg := 0.0
	if n := t.Node("angle"); n != nil {
		a.Angle = t.Number("angle")
		deg = plane.Deg(a.Angle)
	}
	switch line := math.Mod(deg+360, 180); {
	case a.Moves.Turns() && t.Has("angle"):
		t.Errorf("angle", "unknown-key", "leave angle out: it is the direction in which a clamp travels",
			"angle does not belong to an adjuster that moves %s", a.Moves)
		return false
	case a.Moves.Turns():
	case !t.Has("angle"):
		t.Errorf("", "missing-key", "0 is level forward, 90 straight up, 107 along a steep seat tube",
			"missing key %q in %s: the direction of travel as the mark rises", "angle", t.Name())
		return false
	case a.Moves == bike.MovesSaddle && 60 <= line && line <= 85:
		t.Warnf("angle", "travel-forward", fmt.Sprintf("a seat post goes up and back: 180 - %s = %s is the usual one", written.Short(line),
			written.Short(180-line)),
			"angle %s moves the saddle up and forward", written.Short(deg))
	}
	return true
}

// movable reports an adjuster that has nothing to start from, or that shares what it turns with something else.
func (r *reader) movable(t *format.Table, a bike.Adjuster) {
	body, anchor, tape := "saddle", "saddle_clamp", "saddle-height, setback and saddle-tilt"
	if a.Moves == bike.MovesBar {
		body, anchor, tape = "bar", "bar_clamp", "reach and drop"
	}
	switch {
	case !a.Moves.Turns() && !r.root.Has("anchor."+anchor) && !r.root.Has("reading") && !(body == "bar" && r.root.Has("stem")):
		t.Errorf("moves", "missing-anchor", fmt.Sprintf("tape %s, and write a [[reading]] for each; or give %s = [x, y] in [anchor], the clamp "+
			"with every mark at 0", tape, anchor),
			"adjuster %q moves the %s, but nothing was read on the bike yet and anchor.%s is missing", a.Name, body, anchor)
	case a.Moves.Turns():
		section, key, _ := strings.Cut(a.Moves.String(), "-")
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
func (r *reader) marks(t *format.Table) map[string]float64 {
	marks := map[string]float64{}
	for _, n := range t.Marks("marks") {
		if v := n.Float; r.mark(t, n, v) {
			marks[n.Key] = v
		}
	}
	return marks
}

func (r *reader) mark(t *format.Table, n *tomltree.Node, v float64) bool {
	i := slices.IndexFunc(r.b.Adjusters, func(a bike.Adjuster) bool { return a.Name == n.Key })
	if i < 0 {
		if !r.badAdjuster { // else it may be the mark of one that has been reported
			t.ErrorAtf(n, "mark-unknown", r.markHint(n.Key), "no adjuster is called %q", n.Key)
		}
		return false
	}
	const slack = 1e-9
	a := &r.b.Adjusters[i]
	if a.NoRange {
		if t == r.root {
			t.ErrorAtf(n, "mark-range", "give its adjuster a range, or leave the mark out",
				"%q has a mark but no range on its scale", a.Name)
		}
		return t != r.root
	}
	room := slack * math.Max(1, math.Max(math.Abs(a.Lo), math.Abs(a.Hi)))
	if v < a.Lo-room || v > a.Hi+room {
		t.ErrorAtf(n, "mark-range", "correct the mark, or the adjuster's range",
			"mark %s is outside the range of %q, %s to %s", format.Num(v), a.Name, format.Num(a.Lo), format.Num(a.Hi))
		return false
	}
	if a.Step > 0 {
		k := math.Round((v - a.Lo) / a.Step)
		if nearest := a.Lo + k*a.Step; math.Abs(v-nearest) > 1e-3*a.Step {
			t.WarnAtf(n, "mark-step", "the nearest step is "+format.Num(math.Round(nearest*1e6)/1e6),
				"mark %s of %q lies between two of its steps", format.Num(v), a.Name)
		}
	}
	return true
}

func (r *reader) markHint(name string) string {
	if slices.Contains(format.Settings, name) {
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
