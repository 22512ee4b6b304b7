package bikefile

import (
	"fmt"
	"slices"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/diag"
	"carryover/internal/partfile"
	"carryover/internal/plane"
	"carryover/internal/saddle"
	"carryover/internal/tomltree"
)

// Default standard uncertainties (common practice with a steel tape, a plumb line and a digital level).
const (
	tapeSigma, floorSigma, seatTubeSigma = 2.0, 3.0, 3.0 // mm
	angleSigma                           = 0.5           // degrees
)

var (
	anyDistance  = []tomltree.Rule{tomltree.Positive(), tomltree.Max(3000)}
	anyOffset    = []tomltree.Rule{tomltree.Between(-3000, 3000)}
	saddleHeight = []tomltree.Rule{tomltree.Plausible(200, 1300)} // BB to any place on the saddle
)

// shorthand is a word of the trade that stands for one reading.
type shorthand struct {
	kind bike.Kind
	at   string // default saddle reference; "" when the word has no at
	to   string // default point, toNeeded when the file must give it; "" when the word has no to

	ends  func(at, to bike.Place) (from, end bike.Place)
	of    bike.Body
	rules []tomltree.Rule // what the value can be
}

// toNeeded marks a shorthand that has a to and no default for it.
const toNeeded = "?"

var shorthands = map[string]shorthand{
	"saddle-height": {kind: bike.Line, at: "mid", rules: saddleHeight,
		ends: func(at, _ bike.Place) (bike.Place, bike.Place) { return bike.Place{Kind: bike.AtBB}, at }},
	"setback": {kind: bike.Level, at: "nose", rules: anyOffset,
		ends: func(at, _ bike.Place) (bike.Place, bike.Place) { return at, bike.Place{Kind: bike.AtBB} }},
	"nose-to-bar": {kind: bike.Line, rules: []tomltree.Rule{tomltree.Plausible(150, 1200)},
		ends: func(_, _ bike.Place) (bike.Place, bike.Place) {
			return bike.Place{Kind: bike.AtSaddle}, bike.Place{Kind: bike.AtBar}
		}},
	"reach": {kind: bike.Level, at: "nose", to: "hood", rules: anyOffset,
		ends: func(at, to bike.Place) (bike.Place, bike.Place) { return at, to }},
	"drop": {kind: bike.Plumb, at: "mid", to: "hood", rules: anyOffset,
		ends: func(at, to bike.Place) (bike.Place, bike.Place) { return to, at }},
	"floor-height": {kind: bike.Plumb, to: toNeeded, rules: []tomltree.Rule{tomltree.Plausible(100, 2500)},
		ends: func(_, to bike.Place) (bike.Place, bike.Place) { return bike.Place{Kind: bike.AtFloor}, to }},
	"saddle-tilt":  {kind: bike.Angle, of: bike.SaddleBody},
	"bar-rotation": {kind: bike.Angle, of: bike.BarBody},
	"hood-angle":   {kind: bike.Angle, of: bike.HoodBody},
	"pad-tilt":     {kind: bike.Angle, of: bike.PadBody},
}

var shorthandNames = []string{
	"saddle-height", "setback", "nose-to-bar", "reach", "drop", "floor-height",
	"saddle-tilt", "bar-rotation", "hood-angle", "pad-tilt",
}

// readings reads the [[reading]] tables below t, numbered in file order.
func (r *reader) readings(t *tomltree.Table) []bike.Reading {
	tables, _ := t.Tables("reading")
	var all []bike.Reading
	for i, rt := range tables {
		if reading, ok := r.reading(rt); ok {
			reading.Index = i + 1
			all = append(all, reading)
		}
	}
	return all
}

// reading reads one; ok is false when a problem has been reported.
func (r *reader) reading(t *tomltree.Table) (rd bike.Reading, ok bool) {
	word := ""
	if t.Require("kind") {
		word, ok = t.OneOf("kind", slices.Concat(bike.KindNames, shorthandNames)...)
	}
	if !ok { // what belongs to it cannot be told
		for _, key := range []string{"from", "to", "at", "of", "value", "sigma", "by", "date"} {
			t.Node(key)
		}
		return rd, false
	}
	problems := len(*r.problems)
	rd.Written = word
	var rules []tomltree.Rule
	if s, isShort := shorthands[word]; isShort {
		rules = r.readShorthand(t, &rd, s)
	} else {
		rd.Kind = bike.Kind(slices.Index(bike.KindNames, word))
		rules = r.readPlain(t, &rd)
	}
	if len(*r.problems) == problems {
		r.checkReading(t, &rd)
	}
	r.readValue(t, &rd, rules)
	rd.By, _ = t.String("by")
	rd.Date = partfile.Date(t)
	return rd, len(*r.problems) == problems
}

func (r *reader) readShorthand(t *tomltree.Table, rd *bike.Reading, s shorthand) []tomltree.Rule {
	rd.Kind, rd.Of = s.kind, s.of
	if rd.Kind == bike.Angle {
		return nil
	}
	var at, to bike.Place
	if s.at != "" {
		at = r.reference(t, s.at)
		rd.Written += " at " + at.Ref.String()
	}
	if s.to == toNeeded {
		t.Require("to")
	}
	if s.to != "" {
		to = r.point(t, "to", s.to)
		rd.Written += " to " + to.String()
	}
	rd.From, rd.To = s.ends(at, to)
	return s.rules
}

func (r *reader) readPlain(t *tomltree.Table, rd *bike.Reading) []tomltree.Rule {
	switch rd.Kind {
	case bike.Angle:
		t.Require("of")
		if of, ok := t.OneOf("of", bike.BodyNames...); ok {
			rd.Of = bike.Body(slices.Index(bike.BodyNames, of))
			rd.Written += " of " + of
		}
		return nil
	case bike.SeatTube:
		return saddleHeight
	}
	t.Require("from", "to")
	rd.From, rd.To = r.point(t, "from", ""), r.point(t, "to", "")
	rd.Written += fmt.Sprintf(" %s to %s", rd.From, rd.To)
	switch {
	case rd.Kind != bike.Line:
		return anyOffset
	case rd.From.Kind == bike.AtBB && rd.To.Kind == bike.AtSaddle, rd.From.Kind == bike.AtSaddle && rd.To.Kind == bike.AtBB:
		return saddleHeight
	}
	return anyDistance
}

// readValue reads value and sigma, in radians for an angle, and where the value stands.
func (r *reader) readValue(t *tomltree.Table, rd *bike.Reading, rules []tomltree.Rule) {
	t.Require("value")
	if n := t.Node("value"); n != nil {
		rd.Where, rd.Source = n.Span, n.Line
	}
	toUnit := func(v float64) float64 { return v }
	switch {
	case rd.Kind == bike.Angle:
		toUnit, rules, rd.Sigma = plane.Rad, []tomltree.Rule{tomltree.Between(-60, 60)}, angleSigma
	case rd.Kind == bike.SeatTube:
		rd.Sigma = seatTubeSigma
	case rd.From.Kind == bike.AtFloor || rd.To.Kind == bike.AtFloor:
		rd.Sigma = floorSigma
	default:
		rd.Sigma = tapeSigma
	}
	if v, ok := t.Float("value", rules...); ok {
		rd.Value = toUnit(v)
	}
	if v, ok := t.Float("sigma", tomltree.Between(0.001, 1000)); ok {
		rd.Sigma = v
	}
	rd.Sigma = toUnit(rd.Sigma)
}

// point reads a point of the side view; usual is the default, "" when there is none.
func (r *reader) point(t *tomltree.Table, key, usual string) bike.Place {
	text := usual
	n := t.Node(key)
	if n != nil {
		var ok bool
		if text, ok = t.String(key); !ok {
			return bike.Place{}
		}
	}
	if n == nil && (text == "" || text == toNeeded) {
		return bike.Place{} // its absence has been reported
	}
	if i := slices.Index(bike.PlaceNames, text); i >= 0 && bike.PlaceKind(i) != bike.AtSaddle {
		p := bike.Place{Kind: bike.PlaceKind(i)}
		if (p.Kind == bike.AtPadRear || p.Kind == bike.AtPadFront) && !r.root.Has("clipon") {
			t.Errorf(key, "point-needs-part", "give the part in [clipon], or read to pad, its centre",
				"%s lies half the pad's length from its centre, and no clip-on says how long the pad is", text)
		}
		return p
	}
	name, isSaddle := strings.CutPrefix(text, "saddle.")
	if !isSaddle {
		t.Errorf(key, "point", pointHint(text), "%s: %q is no point that a tape can go to", key, text)
		return bike.Place{}
	}
	return r.onSaddle(t, key, name)
}

func pointHint(text string) string {
	names := make([]string, 0, len(bike.PlaceNames)+len(saddle.ReferenceNames))
	for _, p := range bike.PlaceNames {
		if p == "saddle" {
			for _, ref := range saddle.ReferenceNames {
				names = append(names, "saddle."+ref)
			}
			continue
		}
		names = append(names, p)
	}
	if _, err := saddle.ParseReference(text); err == nil {
		return fmt.Sprintf("write %q", "saddle."+text)
	}
	if near, ok := diag.Suggest(text, names); ok {
		return fmt.Sprintf("did you mean %q?", near)
	}
	return "the points are " + strings.Join(names, ", ")
}

// reference reads at, a reference on the saddle.
func (r *reader) reference(t *tomltree.Table, usual string) bike.Place {
	text := usual
	if t.Node("at") != nil {
		var ok bool
		if text, ok = t.String("at"); !ok {
			return bike.Place{Kind: bike.AtSaddle}
		}
	}
	return r.onSaddle(t, "at", strings.TrimPrefix(text, "saddle."))
}

func (r *reader) onSaddle(t *tomltree.Table, key, name string) bike.Place {
	p := bike.Place{Kind: bike.AtSaddle}
	ref, err := saddle.ParseReference(name)
	if err != nil {
		detail := ""
		if near, ok := diag.Suggest(name, saddle.ReferenceNames); ok {
			detail = fmt.Sprintf("did you mean %q?", near)
		}
		t.Errorf(key, "reference", detail, "%v", err)
		return p
	}
	p.Ref = ref
	if r.root.Has("saddle") && r.b.Saddle.Empty() && ref.Kind != saddle.Sit && !r.fits("saddle", "part") && !r.fits("saddle", "parts") {
		t.Errorf(key, "reference-shape", `read to a mark at the support, "sit", or give the saddle's part`,
			"%s of a saddle without a part is not known", ref)
	}
	if s := single(r.b.Saddle.Slot); s != nil && ref.Kind != saddle.Sit { // sit waits for the rider
		if _, err := s.Station(ref, 0); err != nil {
			t.Errorf(key, "reference", "", "%s: %v", key, err)
		}
	}
	return p
}

// checkReading judges a reading whose points are known.
func (r *reader) checkReading(t *tomltree.Table, rd *bike.Reading) {
	key := "kind"
	if slices.Contains(t.Keys(), "to") { // unlike Has, this does not make a to known where it does not belong
		key = "to"
	}
	switch rd.Kind {
	case bike.Angle:
		return
	case bike.SeatTube:
		if !r.fits("frame", "seat_angle") {
			t.Errorf("kind", "reading-needs-frame", "give seat_angle in [frame]",
				"a reading along the seat tube needs the seat angle of the frame")
		}
		return
	}
	if rd.From == rd.To {
		t.Errorf(key, "reading-nowhere", "", "the reading goes from %s to itself", rd.From)
		return
	}
	if rd.From.Kind != bike.AtFloor && rd.To.Kind != bike.AtFloor {
		return
	}
	if rd.Kind != bike.Plumb {
		t.Errorf("kind", "floor-reading", `the floor is a line, not a point: use kind = "plumb"`,
			"a %s reading cannot go to the floor", rd.Kind)
		return
	}
	if !r.fits("frame", "bb_height") {
		t.Errorf(key, "reading-needs-frame", "give bb_height, floor to BB centre, in [frame]",
			"a reading from the floor needs the height of the BB above it")
	}
}

func (r *reader) calibrations() {
	tables, _ := r.root.Tables("calibration")
	for i, t := range tables {
		c := bike.Calibration{}
		if n := r.root.Node("calibration"); len(n.Children) == len(tables) {
			c.Where = n.Children[i].Span
		}
		c.Name, _ = t.String("name")
		t.Require("marks")
		c.Marks = r.marks(t)
		c.Readings = r.readings(t)
		r.b.Calibrations = append(r.b.Calibrations, c)
	}
}
