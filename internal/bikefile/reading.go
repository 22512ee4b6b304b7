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
	kind      bike.Kind
	from, to  bike.Place // on is what the file says at, the nose where the word has no at; other is what it says to
	at, usual string     // what at and to are where the file does not say; "": the word has none
	of        bike.Body
}

var on, bb, other = bike.Place{Kind: bike.AtSaddle}, bike.Place{Kind: bike.AtBB}, bike.Place{Kind: -1}

var shorthands = map[string]shorthand{
	"saddle-height": {kind: bike.Line, from: bb, to: on, at: "mid"},
	"setback":       {kind: bike.Level, from: on, to: bb, at: "nose"},
	"nose-to-bar":   {kind: bike.Line, from: on, to: bike.Place{Kind: bike.AtBar}},
	"reach":         {kind: bike.Level, from: on, to: other, at: "nose", usual: "hood"},
	"drop":          {kind: bike.Plumb, from: other, to: on, at: "mid", usual: "hood"},
	"floor-height":  {kind: bike.Plumb, from: bike.Place{Kind: bike.AtFloor}, to: other, usual: "bb"}, // the file must say; it is never taken
	"saddle-tilt":   {kind: bike.Angle, of: bike.SaddleBody},
	"bar-rotation":  {kind: bike.Angle, of: bike.BarBody},
	"hood-angle":    {kind: bike.Angle, of: bike.HoodBody},
	"pad-tilt":      {kind: bike.Angle, of: bike.PadBody},
}

// Usual is where on the saddle and to what a kind of reading goes when the file does not say; "": it has none, or must say.
func Usual(kind string) (at, to string) {
	s := shorthands[kind]
	return s.at, map[bool]string{true: s.usual}[s.at != ""] // without a saddle's place it must be said
}

// named is what a word's at and to are for a reading; ok is false when the word does not stand for it.
func (s *shorthand) named(r bike.Reading) (at, to bike.Place, ok bool) {
	at = on
	fits := func(end, p bike.Place) bool {
		switch end {
		case on:
			at = p
			return p == on || p.Kind == bike.AtSaddle && s.at != ""
		case other:
			to = p
			return p.Kind != bike.AtFloor
		}
		return end == p
	}
	return at, to, s.kind == r.Kind && s.of == r.Of && fits(s.from, r.From) && fits(s.to, r.To)
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
		if at, to, ok := s.named(r); ok {
			usualAt, usualTo := Usual(word)
			add("kind", word, "")
			if s.at != "" {
				add("at", at.Ref.String(), usualAt)
			}
			if s.usual != "" {
				add("to", to.String(), usualTo)
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
	rd.Value, rd.Sigma = t.Number("value"), rd.UsualSigma()
	if sigma, given := t.Float("sigma"); given {
		if rd.Sigma = sigma; rd.Kind == bike.Angle {
			rd.Sigma = plane.Rad(sigma)
		}
	}
	rd.By, rd.Date = t.String("by"), t.String("date")
	return rd, t.Right() && !(*r.problems)[problems:].HasErrors()
}

func (r *reader) readShorthand(t *format.Table, rd *bike.Reading, s shorthand) {
	at, to := on, other
	if s.at != "" {
		at = r.point(t, "at", s.at)
		rd.Written += " at " + at.Ref.String()
	}
	if s.usual != "" {
		to = r.point(t, "to", s.usual)
		rd.Written += " to " + to.String()
	}
	stated := func(end bike.Place) bike.Place {
		switch end {
		case on:
			return at
		case other:
			return to
		}
		return end
	}
	rd.Kind, rd.Of, rd.From, rd.To = s.kind, s.of, stated(s.from), stated(s.to)
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
	v, n := t.Number("value"), t.Node("value")
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
