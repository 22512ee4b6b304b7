package draw

import (
	"math"
	"slices"

	"carryover/internal/plane"
	"carryover/internal/saddle"
	"carryover/internal/words"
)

// laid is a saddle from above, laid with one of its stations at the origin.
type laid struct {
	*saddle.Shape
	station float64 // mm
	layer   Layer
	style   Style
	name    string
}

// Saddles draws two saddles from above, the second dashed, laid over each other at a station of each, front to the right.
func Saddles(a, b *saddle.Shape, at, there, width float64) *Picture {
	p := &Picture{Title: "Both saddles from above", Text: "Laid together where the rider sits; front to the right."}
	p.saddles(Sheet{Width: width, Plain: true, Fills: true}, []laid{{a, at, Both, Heavy, ""}, {b, there, Both, Dashed, ""}},
		a.Width(at)/2, margins{4, 4, 4, 4}, width)
	return p
}

// saddles draws saddles over each other, the last on top, where a support of a half width lies. It returns the corners of what is
// drawn, mm of saddle.
func (p *Picture) saddles(o Sheet, list []laid, half float64, m margins, least float64) (f Frame, lo, hi plane.Point) {
	pts := []plane.Point{{Y: half}, {Y: -half}}
	for _, s := range list {
		pts = append(pts, s.outline(5)...)
	}
	lo, hi = around(pts...)
	f = p.place(o, lo, hi, m, least)
	for i := range list { // the dashed one over the other's tint
		s := list[len(list)-1-i]
		pts := f.All(s.outline(math.Max(1, p.Scale/2))...)
		if s.style == Dashed {
			p.Line(Dashed, s.layer, "outline", append(pts, pts[0])...)
		} else {
			p.Area(Body, s.layer, "outline", pts...)
		}
	}
	p.Line(Chain, Both, "", f.At(plane.Point{X: lo.X - 3*p.Scale}), f.At(plane.Point{X: hi.X + 3*p.Scale}))
	// The support line, with the width it stands for.
	reach := hi.Y + 2.5*p.Scale
	p.Line(Strong, Both, "support", f.At(plane.Point{Y: reach}), f.At(plane.Point{Y: -reach}))
	for _, y := range []float64{half, -half} {
		p.Dot(Accent, Both, "", f.At(plane.Point{Y: y}), 1)
	}
	return f, lo, hi
}

// outline is a saddle once around, a point every step mm.
func (s laid) outline(step float64) []plane.Point {
	var left, right []plane.Point
	for _, st := range along(s.Shape, step) {
		left = append(left, plane.Point{X: s.station - st, Y: s.Width(st) / 2})
		right = append(right, plane.Point{X: s.station - st, Y: -s.Width(st) / 2})
	}
	slices.Reverse(right)
	return append(left, right...)
}

// Top draws the saddles from above, laid over each other where they carry the rider, front to the right. Nil when no
// saddle has a shape.
func (v *Scene) Top(o Sheet) *Picture {
	var list []laid // the one of the bike that is set up last, on top
	for _, l := range v.layers() {
		if s := v.bikes[l]; s.Shape != nil && v.ridden() {
			list = append(list, laid{s.Shape, s.seat(v.Posture), l, v.parts(l), v.names[l]})
		}
	}
	title := "Saddles from above"
	switch len(list) {
	case 0:
		return nil
	case 1:
		title, list[0].style = "Saddle from above", Heavy
	}
	p := &Picture{Title: title, Of: v.Posture.Name}
	top, names := o.top(), 4.8*float64(len(list))
	f, lo, hi := p.saddles(o, list, v.Posture.Support/2, margins{13, 4, top + names + 6, 9.5 + 6*float64(len(list))}, 110)
	for i := range list {
		s, y := list[len(list)-1-i], top+4.8*float64(i)
		p.Line(s.style, s.layer, "", plane.Point{X: edge, Y: y + 2.6}, plane.Point{X: edge + 9, Y: y + 2.6})
		p.Say(Label, s.layer, plane.Point{X: edge + 11, Y: y + 3.6}, Start, Shortened(s.name, Label, p.Width-2*edge-11))
	}
	r := NewRoom(p, plane.Point{X: edge, Y: top + names}, plane.Point{X: p.Width - edge, Y: p.Height - edge})
	// Below: how far nose and tail lie from the support.
	y := f.At(lo).Y + 6
	var ways []dimension
	p.Text = words.FromAbove
	for _, s := range list {
		if len(list) == 2 {
			p.Line(s.style, s.layer, "", plane.Point{X: edge, Y: y}, plane.Point{X: edge + 7, Y: y})
		}
		for i, x := range []float64{s.station, s.station - s.Length} {
			if math.Abs(x) >= 0.05 {
				d := level(plane.Point{X: f.Origin.X, Y: y}, f.At(plane.Point{X: x, Y: -s.Width(s.station-x) / 2}), y,
					"support to "+[]string{"nose", "tail"}[i], mm(math.Abs(x)))
				d.toward = -math.Pi / 2
				ways = append(ways, d)
			}
		}
		y += 6
		p.Text += " " + words.Plain(words.Carries(Shortened(s.name, Label, 120), s.Shape, s.station, v.Posture.Support))
	}
	p.foot("mm", 50)
	r.lines(ways...)
	r.say(r.texts(ways...)...)
	r.say(note{style: Label, at: f.At(plane.Point{Y: hi.Y + 2.5*p.Scale}), text: "support, " + mm(v.Posture.Support) + " wide"})
	return p
}

// foot writes a picture's scale below it.
func (p *Picture) foot(units string, bar float64) {
	p.scaleBar(plane.Point{X: p.Width - edge - 8, Y: p.Height - 4.6}, bar)
	p.Say(Minor, Both, plane.Point{X: edge, Y: p.Height - 1}, Start, scaleName(p.Scale)+", "+units)
}
