package page

import (
	"fmt"
	"html/template"
	"math"
	"strconv"

	"carryover/internal/draw"
	"carryover/internal/partfile"
	"carryover/internal/plane"
	"carryover/internal/saddle"
	"carryover/internal/words"
)

// saddlesPage shows two saddles over one another, laid together where the rider sits.
type saddlesPage struct {
	A, B       string
	Parts      []*partfile.Part
	At, Length string // the support's place behind A's nose, mm
	Picture    template.HTML
	Numbers    []string
	Wrong      *trouble
}

func (v *visit) saddles() Response {
	p := saddlesPage{A: v.get("a"), B: v.get("b"), At: v.get("at")}
	lib, err := v.files.Library()
	if err == nil {
		p.Parts, err = lib.List(partfile.Saddle)
	}
	if err != nil || len(p.Parts) < 2 {
		return v.problem(StatusFailed, "The catalogue cannot be read", err)
	}
	find := func(id *string, other int) *partfile.Part {
		for _, k := range p.Parts {
			if k.ID == *id {
				return k
			}
		}
		*id = p.Parts[other].ID
		return p.Parts[other]
	}
	a, b := find(&p.A, 0), find(&p.B, 1)
	at, err := strconv.ParseFloat(p.At, 64)
	if err != nil || !(at >= 0 && at <= a.Saddle.Length) {
		at, _ = a.Saddle.WidthStation(120)
	}
	p.At, p.Length = words.Num(at, 0), words.Num(math.Floor(a.Saddle.Length), 0)
	p.over(a, b, at)
	return v.show(StatusOK, "saddles", "Two saddles", p)
}

// over lays B's support on A's, at stations where both are equally wide, and tells what that does to the usual numbers.
func (p *saddlesPage) over(a, b *partfile.Part, at float64) {
	width := a.Saddle.Width(at)
	there, fit := b.Saddle.WidthStation(width)
	p.Numbers = append(p.Numbers, fmt.Sprintf("Sitting where both are %s wide: %s behind the nose of %s, %s behind the nose of %s.",
		words.MM(width), words.MM(at), a.Name, words.MM(there), b.Name))
	switch fit {
	case saddle.TooNarrow:
		p.Numbers[0] = fmt.Sprintf("%s is nowhere %s wide: its widest place stands in for it.", b.Name, words.MM(width))
	case saddle.AtNose:
		p.Numbers[0] = fmt.Sprintf("%s is wider than %s at its very nose.", b.Name, words.MM(width))
	}
	longer := there - at
	p.Numbers = append(p.Numbers, same(longer, fmt.Sprintf("The nose of %s is", b.Name), "further forward",
		"further back")+": with the same setback at the nose you would sit that much too far "+
		map[bool]string{true: "back.", false: "forward."}[longer > 0])
	if words.None(plane.Length(longer)) {
		p.Numbers[1] = "Both noses are equally far ahead of you: the same setback at the nose fits."
	}
	middle := b.Saddle.Loaded(there).Y - b.Saddle.Top(b.Saddle.Length/2) - (a.Saddle.Loaded(at).Y - a.Saddle.Top(a.Saddle.Length/2))
	p.Numbers = append(p.Numbers, same(middle, fmt.Sprintf("Measured to the middle of the saddle, on %s you sit", b.Name), "higher",
		"lower")+" for the same saddle height.")
	// Dragging moves the field "at".
	p.Picture = template.HTML(draw.Saddles(a.Saddle, b.Saddle, at, there, wide).Inline("saddles", `data-drag="at"`, `data-from="`+p.At+`"`))
}

// same says a difference in words.
func same(d float64, what, more, less string) string {
	if words.None(plane.Length(d)) {
		return what + " equally far"
	}
	return what + " " + words.MM(math.Abs(d)) + " " + map[bool]string{true: more, false: less}[d > 0]
}
