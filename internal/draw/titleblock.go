package draw

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"carryover/internal/plane"
)

// titleBlock draws the legend and the title block along the foot of a side view, from y down.
func (v *Scene) titleBlock(p *Picture, y float64) {
	const wide, row = 74.0, 5.0
	p.Line(Hair, Both, "", plane.Point{X: edge, Y: y}, plane.Point{X: p.Width - edge, Y: y})
	x0 := p.Width - edge - wide
	at := func(x, dy float64) plane.Point { return plane.Point{X: x, Y: y + dy} }
	names := v.layers()
	for i := 1; i <= len(names); i++ {
		p.Line(Hair, Both, "", at(x0, row*float64(i)+0.8), at(p.Width-edge, row*float64(i)+0.8))
	}
	p.Line(Hair, Both, "", at(x0, 0), at(x0, 18.5))
	for i := range names { // the bike that is set up first
		l := names[len(names)-1-i]
		base := row*float64(i) + 4.4
		p.Line(v.parts(l), l, "", at(x0+2, base-1.1), at(x0+11, base-1.1))
		p.Say(Label, l, at(x0+13, base), Start, Shortened(v.names[l], Label, wide-14.5))
	}
	last := row*float64(len(names)) + 0.6
	text := fmt.Sprintf("%s, mm", scaleName(p.Scale))
	if v.Date != "" {
		text += ", " + v.Date
	}
	p.Say(Label, Both, at(x0+2, last+4.4), Start, text)
	p.scaleBar(at(p.Width-edge-8, last+2.8), 26)

	both := v.both()
	p.legend(at(edge+1, 2.7), 4, []sign{
		{p.shows("contact "), "where the rider touches", 9, func(q plane.Point) {
			p.Touch(false, Both, "", q.Add(plane.Point{X: 3.5}), plane.Point{X: 3.5})
		}},
		{both && p.shows("contact "), "where it was on the first", 9, func(q plane.Point) {
			p.Touch(true, Both, "", q.Add(plane.Point{X: 3.5}), plane.Point{X: 3.5})
		}},
		{p.shows("wanted "), "where it should be", 9, func(q plane.Point) {
			p.Line(Cut, Both, "", q, q.Add(plane.Point{X: 4.5}))
			p.Dot(Open, Both, "", q.Add(plane.Point{X: 5.3}), 0.8)
		}},
		{p.shows("bar clamp"), "centre of the bar's clamp", 9, func(q plane.Point) { p.Dot(Open, Both, "", q.Add(plane.Point{X: 3.5}), 1.2) }},
		{true, "post or slider; frame sketched", 9, func(q plane.Point) { p.Area(Carriage, Both, "", rect(q.X, q.Y-0.8, 7, 1.6)...) }},
		{both, "a → b: on the first, on this one", 0, nil},
		{v.top() == To, "±: may be off by so much", 0, nil},
	})
}

// sign is one that a legend explains, drawn from a place to the right, with its words so much further on.
type sign struct {
	there bool
	text  string
	wide  float64 // mm
	draw  func(q plane.Point)
}

// legend explains the signs that are there, in columns of so many, or side by side.
func (p *Picture) legend(at plane.Point, column int, signs []sign) {
	signs = slices.DeleteFunc(signs, func(s sign) bool { return !s.there })
	for i, s := range signs {
		q := at
		if column > 0 {
			q = at.Add(plane.Point{X: 57 * float64(i/column), Y: 4.5 * float64(i%column)})
		}
		if s.draw != nil {
			s.draw(q)
		}
		p.Say(Minor, Both, q.Add(plane.Point{X: s.wide, Y: 1}), Start, s.text)
		if column == 0 {
			at.X += s.wide + TextWidth(s.text, Minor) + 5
		}
	}
}

// shows reports whether something of a name is drawn.
func (p *Picture) shows(name string) bool {
	return slices.ContainsFunc(p.Marks, func(m Mark) bool { return strings.HasPrefix(m.Name, name) })
}

// scaleBar draws a bar of a round length, at most so long on paper, with its right end at at and its ends named below.
func (p *Picture) scaleBar(at plane.Point, most float64) {
	// The longest of 1, 2 or 5 times a power of ten.
	length := math.Pow(10, math.Floor(math.Log10(most*p.Scale)))
	for _, k := range []float64{5, 2} {
		if k*length <= most*p.Scale {
			length *= k
			break
		}
	}
	w := length / p.Scale
	for i := range 4 {
		style := Solid
		if i%2 == 1 {
			style = Open
		}
		p.Area(style, Both, "", rect(at.X-w+w*float64(i)/4, at.Y-1, w/4, 1)...)
	}
	p.Line(Thin, Both, "scale bar", plane.Point{X: at.X - w, Y: at.Y}, at)
	p.Say(Minor, Both, plane.Point{X: at.X - w, Y: at.Y + 3.6}, Middle, "0")
	p.Say(Minor, Both, plane.Point{X: at.X, Y: at.Y + 3.6}, Middle, fmt.Sprintf("%g mm", length))
}
