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
	"strconv"

	"carryover/internal/plane"
)

// Layer says whose mark something is, so that a page can show one bike and hide the other.
type Layer string

// Layers.
const (
	Both   Layer = ""
	Source Layer = "source"
	Target Layer = "target"
)

// Picture is a finished drawing: marks in paper mm, x to the right and y down from the upper left corner.
type Picture struct {
	Width, Height float64 // mm
	Title         string  // one line
	Text          string  // what the picture shows, for who cannot see it
	Marks         []Mark
	// Scale and Origin lead back from paper to the side view: mm of bike per mm of paper, and where on paper the
	// BB (or a saddle's support) lies. Scale 0: not to scale.
	Scale  float64
	Origin plane.Point
}

// Mark is one line, area or piece of text.
type Mark struct {
	Ink   Ink
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
func (p *Picture) Line(ink Ink, layer Layer, name string, pts ...plane.Point) {
	p.Marks = append(p.Marks, Mark{Ink: ink, Layer: layer, Name: name, Line: pts})
}

// Area adds a closed line.
func (p *Picture) Area(ink Ink, layer Layer, name string, pts ...plane.Point) {
	p.Marks = append(p.Marks, Mark{Ink: ink, Layer: layer, Name: name, Line: pts, Closed: true})
}

// Dot adds a small filled disc.
func (p *Picture) Dot(ink Ink, layer Layer, name string, at plane.Point, radius float64) {
	p.Area(ink, layer, name, circle(at, radius, 0, 2*math.Pi)...)
}

// Say adds text.
func (p *Picture) Say(ink Ink, layer Layer, at plane.Point, side Side, text string) {
	if text != "" {
		p.Marks = append(p.Marks, Mark{Ink: ink, Layer: layer, Text: text, At: at, Side: side})
	}
}

// SayOn adds text on a patch of paper, so that no line runs through it, turned by turn radians.
func (p *Picture) SayOn(ink Ink, layer Layer, at plane.Point, side Side, turn float64, text string) {
	size := ink.look().size
	w := Measure(text, ink)
	left := map[Side]float64{Start: 0, Middle: -w / 2, End: -w}[side]
	const pad = 0.6
	var box []plane.Point
	for _, c := range [][2]float64{{left - pad, 0.25 * size}, {left + w + pad, 0.25 * size}, {left + w + pad, -0.85 * size}, {left - pad, -0.85 * size}} {
		// Paper y runs down, so a turn counter-clockwise as seen is negative here.
		box = append(box, at.Add(plane.Point{X: c[0], Y: c[1]}.Turn(-turn)))
	}
	p.Area(Paper, layer, "", box...)
	p.Marks = append(p.Marks, Mark{Ink: ink, Layer: layer, Text: text, At: at, Side: side, Turn: turn})
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

// Fixed writes v with so many decimals, with a true minus sign and never as -0.
func Fixed(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if zero, err := strconv.ParseFloat(s, 64); err == nil && zero == 0 {
		return strconv.FormatFloat(0, 'f', decimals, 64)
	}
	if s[0] == '-' {
		return "−" + s[1:]
	}
	return s
}

// Signed writes a change with its sign; no change is ±0.
func Signed(v float64, decimals int) string {
	s := Fixed(v, decimals)
	if v > 0 && s != strconv.FormatFloat(0, 'f', decimals, 64) {
		return "+" + s
	}
	return s
}
