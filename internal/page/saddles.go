package page

import (
	"html/template"
	"math"
	"strconv"

	"carryover/internal/draw"
	"carryover/internal/partfile"
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
	there, fit := b.Saddle.WidthStation(a.Saddle.Width(at))
	p.Numbers = words.OverEachOther(a.Name, b.Name, a.Saddle, b.Saddle, at, there, fit)
	// Dragging moves the field "at".
	p.Picture = template.HTML(draw.Saddles(a.Saddle, b.Saddle, at, there, wide).Inline("saddles", `data-drag="at"`, `data-from="`+p.At+`"`))
}
