package bikefile

import (
	"fmt"
	"slices"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/format"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// shorthand is a word of the trade that stands for one reading.
type shorthand struct {
	kind bike.Kind
	at   string // default saddle reference; "" when the word has no at
	to   string // default point; "" when the word has none

	ends func(at, to bike.Place) (from, end bike.Place)
	of   bike.Body
}

var shorthands = map[string]shorthand{
	"saddle-height": {kind: bike.Line, at: "mid",
		ends: func(at, _ bike.Place) (bike.Place, bike.Place) { return bike.Place{Kind: bike.AtBB}, at }},
	"setback": {kind: bike.Level, at: "nose",
		ends: func(at, _ bike.Place) (bike.Place, bike.Place) { return at, bike.Place{Kind: bike.AtBB} }},
	"nose-to-bar": {kind: bike.Line,
		ends: func(_, _ bike.Place) (bike.Place, bike.Place) {
			return bike.Place{Kind: bike.AtSaddle}, bike.Place{Kind: bike.AtBar}
		}},
	"reach": {kind: bike.Level, at: "nose", to: "hood",
		ends: func(at, to bike.Place) (bike.Place, bike.Place) { return at, to }},
	"drop": {kind: bike.Plumb, at: "mid", to: "hood",
		ends: func(at, to bike.Place) (bike.Place, bike.Place) { return to, at }},
	"floor-height": {kind: bike.Plumb, to: "bb", // the file must say; it is never taken
		ends: func(_, to bike.Place) (bike.Place, bike.Place) { return bike.Place{Kind: bike.AtFloor}, to }},
	"saddle-tilt":  {kind: bike.Angle, of: bike.SaddleBody},
	"bar-rotation": {kind: bike.Angle, of: bike.BarBody},
	"hood-angle":   {kind: bike.Angle, of: bike.HoodBody},
	"pad-tilt":     {kind: bike.Angle, of: bike.PadBody},
}

// Usual is where on the saddle and to what a kind of reading goes when the file does not say; "": it has none, or must say.
func Usual(kind string) (at, to string) {
	s := shorthands[kind]
	return s.at, map[bool]string{true: s.to}[s.at != ""] // without a saddle's place it must be said
}

// Keys are the keys by which a file names a reading, by the trade's word where there is one: kind = "setback", at = "sit".
func Keys(r bike.Reading) (keys [][2]string) {
	add := func(key, value, usual string) {
		if value != usual {
			keys = append(keys, [2]string{key, value})
		}
	}
	for _, word := range format.Shorthands {
		s := shorthands[word]
		if s.kind != r.Kind || s.kind == bike.Angle && s.of != r.Of {
			continue
		}
		if s.kind == bike.Angle {
			return [][2]string{{"kind", word}}
		}
		for _, p := range [2][2]bike.Place{{r.From, r.To}, {r.To, r.From}} { // at and to
			from, end := s.ends(p[0], p[1])
			if from != r.From || end != r.To || s.at != "" && (p[0].Kind != bike.AtSaddle || p[1].Kind == bike.AtFloor) {
				continue
			}
			add("kind", word, "")
			at, to := Usual(word)
			if s.at != "" {
				add("at", p[0].Ref.String(), at)
			}
			if s.to != "" {
				add("to", p[1].String(), to)
			}
			return keys
		}
	}
	plain := r.Keys()
	add("kind", plain.Kind, "")
	add("from", plain.From, "")
	add("to", plain.To, "")
	add("of", plain.Of, "")
	return keys
}

// readings reads the [[reading]] tables below t, numbered in file order.
func (r *reader) readings(t *format.Table) []bike.Reading {
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
func (r *reader) reading(t *format.Table) (rd bike.Reading, ok bool) {
	if !t.Is("kind") {
		return rd, false
	}
	problems := len(*r.problems)
	rd.Written = t.String("kind")
	if s, isShort := shorthands[rd.Written]; isShort {
		r.readShorthand(t, &rd, s)
	} else {
		r.readPlain(t, &rd)
	}
	if t.Right() && len(*r.problems) == problems {
		r.checkReading(t, &rd)
	}
	if n := t.Node("value"); n != nil {
		rd.Where, rd.Source = n.Span, n.Line
	}
	rd.Value, rd.Sigma = t.Or("value", 0), rd.UsualSigma()
	if sigma, given := t.Float("sigma"); given {
		if rd.Sigma = sigma; rd.Kind == bike.Angle {
			rd.Sigma = plane.Rad(sigma)
		}
	}
	rd.By, rd.Date = t.String("by"), t.String("date")
	return rd, t.Right() && !(*r.problems)[problems:].HasErrors()
}

func (r *reader) readShorthand(t *format.Table, rd *bike.Reading, s shorthand) {
	rd.Kind, rd.Of = s.kind, s.of
	if rd.Kind == bike.Angle {
		return
	}
	var at, to bike.Place
	if s.at != "" {
		at = r.point(t, "at", s.at)
		rd.Written += " at " + at.Ref.String()
	}
	if s.to != "" {
		to = r.point(t, "to", s.to)
		rd.Written += " to " + to.String()
	}
	rd.From, rd.To = s.ends(at, to)
}

func (r *reader) readPlain(t *format.Table, rd *bike.Reading) {
	rd.Kind = bike.Kind(slices.Index(bike.KindNames, rd.Written))
	switch rd.Kind {
	case bike.Angle:
		if of := t.String("of"); of != "" {
			rd.Of = bike.Body(slices.Index(bike.BodyNames, of))
			rd.Written += " of " + of
		}
	case bike.Line, bike.Level, bike.Plumb:
		rd.From, rd.To = r.point(t, "from", ""), r.point(t, "to", "")
		rd.Written += fmt.Sprintf(" %s to %s", rd.From, rd.To)
	}
}

// point reads a point of the side view, for "at" one on the saddle; usual is taken where the file gives none.
func (r *reader) point(t *format.Table, key, usual string) bike.Place {
	text := t.String(key)
	switch {
	case text == "" && t.Has(key), text == "" && usual == "":
		return bike.Place{} // which has been reported
	case text == "":
		text = usual
	}
	if i := slices.Index(bike.PlaceNames, text); i >= 0 && key != "at" {
		p := bike.Place{Kind: bike.PlaceKind(i)}
		if (p.Kind == bike.AtPadRear || p.Kind == bike.AtPadFront) && !r.root.Has("clipon") {
			t.Errorf(key, "point-needs-part", "give the part in [clipon], or read to pad, its centre",
				"%s lies half the pad's length from its centre, and no clip-on says how long the pad is", text)
		}
		return p
	}
	ref, _ := saddle.ParseReference(strings.TrimPrefix(text, "saddle.")) // judged by its form
	p := bike.Place{Kind: bike.AtSaddle, Ref: ref}
	if s := single(r.b.Saddle.Slot); s != nil && ref.Kind != saddle.Sit { // sit waits for the rider
		if _, err := s.Station(ref, 0); err != nil {
			t.Errorf(key, "reference", "", "%s: %v", key, err)
		}
	}
	if r.root.Has("saddle") && !r.shaped() && ref.Kind != saddle.Sit {
		t.Errorf(key, "reference-shape", `read to a mark at the support, "sit", or give the saddle's part`,
			"%s of a saddle without a part is not known", ref)
	}
	return p
}

// checkReading judges a reading whose points are known.
func (r *reader) checkReading(t *format.Table, rd *bike.Reading) {
	key := "kind"
	if t.Has("to") {
		key = "to"
	}
	switch rd.Kind {
	case bike.Angle:
		return
	case bike.SeatTube:
		if !r.root.Has("frame.seat_angle") {
			t.Errorf("kind", "reading-needs-frame", "give seat_angle in [frame]",
				"a reading along the seat tube needs the seat angle of the frame")
		}
		return
	}
	from, to := rd.From.Kind, rd.To.Kind
	switch {
	case rd.From == rd.To:
		t.Errorf(key, "reading-nowhere", "", "the reading goes from %s to itself", rd.From)
	case (from == bike.AtFloor || to == bike.AtFloor) && !r.root.Has("frame.bb_height"):
		t.Errorf(key, "reading-needs-frame", "give bb_height, floor to BB centre, in [frame]",
			"a reading from the floor needs the height of the BB above it")
	}
	v, n := t.Or("value", 0), t.Node("value")
	switch {
	case rd.Kind == bike.Line && (from == bike.AtBB && to == bike.AtSaddle || from == bike.AtSaddle && to == bike.AtBB):
		if fault := format.ToSaddle.Judge(v, n.Str); fault != nil {
			t.Errorf("value", "implausible-height", fault.Mend, "from the BB to the saddle %s", fault.Text)
		}
	case rd.Kind == bike.Level && from == bike.AtSaddle && to == bike.AtBB:
		fault := format.Setback(rd.From.Ref).Odd(v, n.Str)
		if told := t.String("kind") == "setback" && format.Reading("setback").Odd(v, n.Str) != nil; fault != nil && !told {
			t.Warnf("value", fault.Code, fault.Mend, "setback of %s: %s", rd.From, fault.Text)
		}
	}
}

func (r *reader) calibrations() {
	tables, _ := r.root.Tables("calibration")
	for _, t := range tables {
		r.b.Calibrations = append(r.b.Calibrations,
			bike.Calibration{Name: t.String("name"), Marks: r.marks(t), Readings: r.readings(t)})
	}
}
