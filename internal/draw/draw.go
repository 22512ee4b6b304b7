// Package draw makes the pictures of a carried position: side view, saddles from above, scales, and the chart
// of why the numbers changed. A picture is a list of marks in millimetres of paper, made once; SVG, PNG and PDF
// are written from the same list, so they cannot differ.
//
// Libraries were chosen by what they cost a program that mostly prints text. One canvas library for all three
// formats added 6.8 MB and 4.1 ms to every start (345 packages); fpdf with Go's own x/image adds 2.8 MB and 0.4 ms
// (136 packages), and is all that is left once SVG is written here, with its own classes and fixed decimals.
package draw

import (
	"math"
	"strings"

	"carryover/internal/plane"
	"carryover/internal/words"
)

// Layer says whose mark something is, so that a page can show one bike and hide the other.
type Layer string

// Layers.
const (
	Both Layer = ""
	From Layer = "from"
	To   Layer = "to"
)

// Picture is a finished drawing: marks in paper mm, x to the right and y down from the upper left corner.
type Picture struct {
	Width, Height float64 // mm
	Title, Of     string  // one line, and whose posture it shows; "": nobody's
	Text          string  // what the picture shows, for who cannot see it
	Marks         []Mark
	Frame         // of what is drawn to scale
}

// Frame leads to paper from a view to scale: mm of bike per mm of paper, and where on paper the BB (or a saddle's support) lies.
// Scale 0: not to scale.
type Frame struct {
	Scale  float64
	Origin plane.Point
}

// At is where a place of the view lies on paper.
func (f Frame) At(p plane.Point) plane.Point {
	return plane.Point{X: f.Origin.X + p.X/f.Scale, Y: f.Origin.Y - p.Y/f.Scale}
}

// All are places on paper.
func (f Frame) All(pts ...plane.Point) []plane.Point {
	out := make([]plane.Point, len(pts))
	for i, p := range pts {
		out[i] = f.At(p)
	}
	return out
}

// heading is the title with the posture.
func (p *Picture) heading() string {
	if p.Of == "" {
		return p.Title
	}
	return p.Title + ": " + p.Of
}

// Mark is one line, area or piece of text.
type Mark struct {
	Style Style
	Layer Layer
	Name  string // what it stands for; "" for what only adorns

	Line   []plane.Point // a line or, closed, an area; empty for text
	Closed bool

	Text string
	At   plane.Point // of the text's anchor, on its base line
	Side Side
	Turn float64 // radians, counter-clockwise as seen
}

// Side is where text lies from its anchor.
type Side int

// Text begins at, is centred on or ends at its anchor.
const (
	Start Side = iota
	Middle
	End
)

// Line adds a line.
func (p *Picture) Line(style Style, layer Layer, name string, pts ...plane.Point) {
	p.Marks = append(p.Marks, Mark{Style: style, Layer: layer, Name: name, Line: pts})
}

// Area adds a closed line.
func (p *Picture) Area(style Style, layer Layer, name string, pts ...plane.Point) {
	p.Marks = append(p.Marks, Mark{Style: style, Layer: layer, Name: name, Line: pts, Closed: true})
}

// Dot adds a disc.
func (p *Picture) Dot(style Style, layer Layer, name string, at plane.Point, radius float64) {
	p.Area(style, layer, name, circle(at, radius, 0, 2*math.Pi)...)
}

// Ring adds a circle.
func (p *Picture) Ring(style Style, at plane.Point, radius float64) {
	p.Line(style, Both, "", circle(at, radius, 0, 2*math.Pi)...)
}

// Say adds text.
func (p *Picture) Say(style Style, layer Layer, at plane.Point, side Side, text string) {
	if text != "" {
		p.Marks = append(p.Marks, Mark{Style: style, Layer: layer, Text: words.Plain(text), At: at, Side: side})
	}
}

// circle is an arc as a fine polyline, angles in radians, counter-clockwise as seen.
func circle(at plane.Point, radius, from, to float64) []plane.Point {
	n := int(math.Ceil(math.Abs(to-from) / (2 * math.Pi) * math.Max(24, 12*math.Sqrt(radius)*math.Pi)))
	n = max(n, 2)
	pts := make([]plane.Point, 0, n+1)
	for i := 0; i <= n; i++ {
		s, c := math.Sincos(from + (to-from)*float64(i)/float64(n))
		pts = append(pts, plane.Point{X: at.X + radius*c, Y: at.Y - radius*s})
	}
	return pts
}

// moved is a picture's marks shifted, for putting pictures onto one sheet.
func (p *Picture) moved(by plane.Point) []Mark {
	out := make([]Mark, len(p.Marks))
	for i, m := range p.Marks {
		m.At = m.At.Add(by)
		line := make([]plane.Point, len(m.Line))
		for k, q := range m.Line {
			line[k] = q.Add(by)
		}
		m.Line = line
		out[i] = m
	}
	return out
}

// Stack puts pictures below one another on one sheet.
func Stack(title string, gap float64, pictures ...*Picture) *Picture {
	sheet := &Picture{Title: title}
	for i, q := range pictures {
		if i > 0 {
			sheet.Height += gap
			sheet.Text += " "
		}
		sheet.Marks = append(sheet.Marks, q.moved(plane.Point{Y: sheet.Height})...)
		sheet.Width = math.Max(sheet.Width, q.Width)
		sheet.Height += q.Height
		sheet.Text += q.Text
	}
	return sheet
}

// typeset is a number in text with a true minus sign.
func typeset(s string) string { return strings.ReplaceAll(s, "-", "−") }

// mm is a length as a tape tells it, without its unit.
func mm(v float64) string { return typeset(words.Bare(plane.Length(v))) }

// change is a length with its sign.
func change(v float64) string {
	if text := mm(v); v < 0 || text == "0" {
		return text
	}
	return "+" + mm(v)
}

// Fixed writes v with so many decimals, with a true minus sign and never as -0.
func Fixed(v float64, decimals int) string { return typeset(words.Num(v, decimals)) }

// Window returns the marks of a picture between two corners, moved by by: lines cut at the edge, text only where it
// is whole.
func Window(p *Picture, lo, hi, by plane.Point) []Mark {
	var out []Mark
	for _, m := range p.Marks {
		if m.Text != "" {
			if b := m.box(); b.lo.X >= lo.X && b.lo.Y >= lo.Y && b.hi.X <= hi.X && b.hi.Y <= hi.Y {
				m.At = m.At.Add(by)
				out = append(out, m)
			}
			continue
		}
		for _, piece := range inside(m.Line, lo, hi) {
			for i := range piece {
				piece[i] = piece[i].Add(by)
			}
			m.Line = piece
			out = append(out, m)
		}
	}
	return out
}

// inside are the pieces of a line in a rectangle (Liang and Barsky 1984, segment by segment).
func inside(line []plane.Point, lo, hi plane.Point) [][]plane.Point {
	return clipped(line, func(a, d plane.Point) (from, to float64) {
		from, to = 0, 1
		for _, e := range [4][2]float64{{-d.X, a.X - lo.X}, {d.X, hi.X - a.X}, {-d.Y, a.Y - lo.Y}, {d.Y, hi.Y - a.Y}} {
			switch { // e[0]·t <= e[1]
			case e[0] < 0:
				from = math.Max(from, e[1]/e[0])
			case e[0] > 0:
				to = math.Min(to, e[1]/e[0])
			case e[1] < 0:
				to = -1
			}
		}
		return from, to
	})
}

// inCircle are the pieces of a line inside a circle: |a + t·d| <= radius.
func inCircle(line []plane.Point, centre plane.Point, radius float64) [][]plane.Point {
	return clipped(line, func(a, d plane.Point) (from, to float64) {
		a = a.Sub(centre)
		qa, qb, qc := d.Dot(d), a.Dot(d), a.Dot(a)-radius*radius
		disc := qb*qb - qa*qc
		if qa == 0 || disc <= 0 {
			return 0, 0
		}
		root := math.Sqrt(disc)
		return math.Max(0, (-qb-root)/qa), math.Min(1, (-qb+root)/qa)
	})
}

// clipped are the pieces of a line of which each segment from a along d is kept from one share of it to another.
func clipped(line []plane.Point, keeps func(a, d plane.Point) (from, to float64)) (pieces [][]plane.Point) {
	open := false // the last piece reaches to where the next segment begins
	for i := 1; i < len(line); i++ {
		a, d := line[i-1], line[i].Sub(line[i-1])
		from, to := keeps(a, d)
		if from >= to {
			open = false
			continue
		}
		if from > 0 || !open {
			pieces = append(pieces, []plane.Point{a.Add(d.Scale(from))})
		}
		last := len(pieces) - 1
		pieces[last] = append(pieces[last], a.Add(d.Scale(to)))
		open = to == 1
	}
	return pieces
}
