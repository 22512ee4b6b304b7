package draw

import (
	"fmt"
	"math"

	"carryover/internal/carry"
	"carryover/internal/plane"
)

// worth is the least share, mm, that gets a bar of its own.
const worth = 0.05

const (
	whyTitle = 6.0
	whyRow   = 4.4
	whyGap   = 2.6
)

// Why draws, for every customary number, the way from the source's to the target's as a waterfall: each cause
// starts where the last one ended.
func Why(w *carry.Why, posture string, o Sheet) *Picture {
	p := &Picture{Title: "Why the numbers changed: " + posture, Width: o.Width}
	y := 0.0
	if !o.Plain {
		p.Say(Head, Both, plane.Point{X: 0.5, Y: 4.4}, Start, Fit(p.Title, Head, p.Width-1))
		y = titleRoom
	}
	p.Area(Solid, Both, "", rect(0.5, y+1, 7, 3)...)
	p.Say(Minor, Both, plane.Point{X: 9, Y: y + 3.6}, Start, "more")
	p.Area(Open, Both, "", rect(20, y+1, 6.5, 3)...)
	p.Say(Minor, Both, plane.Point{X: 28, Y: y + 3.6}, Start, "less; mm, all to one scale")
	y += 7
	p.Text = "For each number, what changes it on the way from the source to the target."

	const columns, between = 2, 8.0
	width := (p.Width - between) / columns
	scale := whyScale(w, width)
	var bottom [columns]float64
	for m := range carry.Measures {
		if !w.Known[m] {
			continue
		}
		k := 0
		if bottom[1] < bottom[0] {
			k = 1
		}
		bottom[k] += p.waterfall(w, m, plane.Point{X: float64(k) * (width + between), Y: y + bottom[k]}, width, scale)
	}
	p.Height = y + math.Max(bottom[0], bottom[1])
	return p
}

const whyNames, whyValues = 22.0, 13.0 // room for causes to the left of the bars and for values beside them

// steps are the causes of a measure that are worth showing; what is too small for a bar of its own is told together.
func steps(w *carry.Why, m carry.Measure) (names []string, by []float64) {
	rest := 0.0
	for _, s := range w.Swaps {
		if math.Abs(s.By[m]) < worth {
			rest += s.By[m]
			continue
		}
		names, by = append(names, s.Cause), append(by, s.By[m])
	}
	if math.Abs(rest) >= worth {
		names, by = append(names, "smaller ones"), append(by, rest)
	}
	return names, by
}

// span is the stretch that a measure's bars run over, mm from the source's value.
func span(by []float64) (lo, hi float64) {
	sum := 0.0
	for _, v := range by {
		sum += v
		lo, hi = math.Min(lo, sum), math.Max(hi, sum)
	}
	return lo, hi
}

// whyScale is how many mm one mm of paper stands for, the same for every measure so that bars compare.
func whyScale(w *carry.Why, width float64) float64 {
	most := 1.0
	for m := range carry.Measures {
		_, by := steps(w, m)
		lo, hi := span(by)
		most = math.Max(most, hi-lo)
	}
	return most / (width - whyNames - whyValues - 2)
}

// waterfall draws one measure and returns the height it took.
func (p *Picture) waterfall(w *carry.Why, m carry.Measure, at plane.Point, width, scale float64) float64 {
	names, by := steps(w, m)
	text := m.String() + " " + Fixed(w.Source[m], 1) + " → " + Fixed(w.Target[m], 1)
	p.Say(Bold, Both, at.Add(plane.Point{X: 0.5, Y: 3.4}), Start, text)
	p.Line(Hair, Both, "", at.Add(plane.Point{Y: 4.8}), at.Add(plane.Point{X: width, Y: 4.8}))
	p.Text += fmt.Sprintf(" %s: from %s to %s mm", m, Fixed(w.Source[m], 1), Fixed(w.Target[m], 1))
	y := at.Y + whyTitle
	lo, hi := span(by)
	// In the middle of the room left of the value's own.
	zero := at.X + whyNames + (width-whyNames-whyValues-2-(hi-lo)/scale)/2 - lo/scale + 1
	from := zero
	for i, v := range by {
		to := from + v/scale
		p.Say(Label, Both, plane.Point{X: at.X + 0.5, Y: y + 3}, Start, names[i])
		ink := Solid
		if v < 0 {
			ink = Open
		}
		p.Area(ink, Both, m.String()+" "+names[i], rect(math.Min(from, to), y+0.6, math.Max(math.Abs(to-from), 0.3), 2.8)...)
		p.Say(Label, Both, plane.Point{X: math.Max(from, to) + 1, Y: y + 3}, Start, Signed(v, 1))
		if i+1 < len(by) {
			p.Line(Thin, Both, "", plane.Point{X: to, Y: y + 3.4}, plane.Point{X: to, Y: y + whyRow + 0.6})
		}
		p.Text += fmt.Sprintf(", %s %s", names[i], Signed(v, 1))
		from, y = to, y+whyRow
	}
	if len(by) == 0 {
		p.Say(Minor, Both, plane.Point{X: at.X + 0.5, Y: y + 3}, Start, "unchanged")
		p.Text += ", unchanged"
		y += whyRow
	}
	p.Text += "."
	return y - at.Y + whyGap
}

func rect(x, y, w, h float64) []plane.Point {
	return []plane.Point{{X: x, Y: y}, {X: x + w, Y: y}, {X: x + w, Y: y + h}, {X: x, Y: y + h}}
}
