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

	// The legend: every sign that is drawn, in columns of four.
	both := v.both()
	signs := []struct {
		there bool
		text  string
		draw  func(q plane.Point)
	}{
		{p.shows("contact "), "where the rider touches", func(q plane.Point) { p.Touch(false, Both, "", q, plane.Point{X: 3.5}) }},
		{both && p.shows("contact "), "where it was on the first", func(q plane.Point) { p.Touch(true, Both, "", q, plane.Point{X: 3.5}) }},
		{p.shows("wanted "), "where it should be", func(q plane.Point) {
			p.Line(Cut, Both, "", q.Add(plane.Point{X: -3.5}), q.Add(plane.Point{X: 1}))
			p.Dot(Open, Both, "", q.Add(plane.Point{X: 1.8}), 0.8)
		}},
		{p.shows("bar clamp"), "centre of the bar's clamp", func(q plane.Point) { p.Dot(Open, Both, "", q, 1.2) }},
		{true, "post or slider; frame sketched", func(q plane.Point) {
			p.Area(Carriage, Both, "", rect(q.X-3.5, q.Y-0.8, 7, 1.6)...)
		}},
		{both, "a → b: on the first, on this one", nil},
		{v.top() == To, "±: may be off by so much", nil},
	}
	n := 0
	for _, s := range signs {
		if !s.there {
			continue
		}
		q, text := at(edge+4.5+57*float64(n/4), 2.7+4.5*float64(n%4)), plane.Point{X: -3.5, Y: 1}
		if s.draw != nil {
			s.draw(q)
			text.X = 5.5
		}
		p.Say(Minor, Both, q.Add(text), Start, s.text)
		n++
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
