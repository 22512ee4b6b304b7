//go:build !js

// Not in the page: a browser is handed SVG.

package draw

import (
	"fmt"
	"image"
	"image/color"
	imagedraw "image/draw"
	"image/png"
	"io"
	"math"

	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/vector"

	"carryover/internal/plane"
)

// MaxPixels bounds a picture: 100 million pixels are an A0 sheet at 220 dpi.
const MaxPixels = 100e6

// PNG writes the picture at a resolution in dots per inch.
func (p *Picture) PNG(w io.Writer, dpi float64) error {
	k := dpi / 25.4
	width, height := math.Ceil(p.Width*k), math.Ceil(p.Height*k)
	if !(width >= 1 && height >= 1 && width*height <= MaxPixels) {
		return fmt.Errorf("%g dpi makes a picture of %.0f by %.0f pixels; at most %.0f million are drawn", dpi, width, height, MaxPixels/1e6)
	}
	img := image.NewRGBA(image.Rect(0, 0, int(width), int(height)))
	imagedraw.Draw(img, img.Bounds(), image.White, image.Point{}, imagedraw.Src)
	c := &canvas{img: img, perMM: k}
	for _, m := range p.Marks {
		c.mark(m)
	}
	return png.Encode(w, img)
}

// canvas fills polygons on an image.
type canvas struct {
	img   *image.RGBA
	perMM float64
	fill  vector.Rasterizer
}

func (c *canvas) mark(m Mark) {
	l := m.Style.look()
	if m.Text != "" {
		c.text(m, l)
		return
	}
	if l.fill.A > 0 && m.Closed {
		c.paint([][]plane.Point{m.Line}, l.fill)
	}
	if l.stroke.A > 0 {
		var shapes [][]plane.Point
		for _, piece := range dashes(m.outline(), l.dash) {
			shapes = append(shapes, stroke(piece, l.width)...)
		}
		c.paint(shapes, l.stroke)
	}
}

// paint fills closed shapes, mm, that all run the same way round; where they overlap they count once.
func (c *canvas) paint(shapes [][]plane.Point, col color.RGBA) {
	lo, hi := around()
	for _, s := range shapes {
		a, b := around(s...)
		lo, hi = plane.Point{X: math.Min(lo.X, a.X), Y: math.Min(lo.Y, a.Y)}, plane.Point{X: math.Max(hi.X, b.X), Y: math.Max(hi.Y, b.Y)}
	}
	box := image.Rect(int(math.Floor(lo.X*c.perMM)), int(math.Floor(lo.Y*c.perMM)), int(math.Ceil(hi.X*c.perMM)), int(math.Ceil(hi.Y*c.perMM)))
	box = box.Intersect(c.img.Bounds())
	if box.Empty() {
		return
	}
	c.fill.Reset(box.Dx(), box.Dy())
	for _, s := range shapes {
		for i, q := range s {
			x, y := float32(q.X*c.perMM)-float32(box.Min.X), float32(q.Y*c.perMM)-float32(box.Min.Y)
			if i == 0 {
				c.fill.MoveTo(x, y)
			} else {
				c.fill.LineTo(x, y)
			}
		}
		c.fill.ClosePath()
	}
	c.fill.Draw(c.img, box, image.NewUniform(col), image.Point{})
}

// stroke is the area of a line of some width: a box for each segment and a disc at each bend, all turned the same
// way so that overlaps add up instead of cancelling.
func stroke(line []plane.Point, width float64) [][]plane.Point {
	var shapes [][]plane.Point
	for i := 1; i < len(line); i++ {
		d := line[i].Sub(line[i-1])
		n := d.Norm()
		if n == 0 {
			continue
		}
		side := d.Perp().Scale(width / 2 / n)
		shapes = append(shapes, []plane.Point{line[i-1].Sub(side), line[i].Sub(side), line[i].Add(side), line[i-1].Add(side)})
		if i > 1 {
			disc := circle(plane.Point{}, width/2, 2*math.Pi, 0)
			for k := range disc {
				disc[k] = disc[k].Add(line[i-1])
			}
			shapes = append(shapes, disc)
		}
	}
	return shapes
}

// dashes cuts a line into the pieces that a dash pattern leaves; no pattern leaves it whole.
func dashes(line []plane.Point, pattern []float64) [][]plane.Point {
	if len(pattern) == 0 {
		return [][]plane.Point{line}
	}
	var pieces [][]plane.Point
	var piece []plane.Point
	k, left, on := 0, pattern[0], true
	for i := 1; i < len(line); i++ {
		a, b := line[i-1], line[i]
		for {
			if on && len(piece) == 0 {
				piece = []plane.Point{a}
			}
			d := a.Distance(b)
			if d < left {
				left -= d
				if on {
					piece = append(piece, b)
				}
				break
			}
			a = a.Add(b.Sub(a).Scale(left / d))
			if on {
				pieces, piece = append(pieces, append(piece, a)), nil
			}
			k, on = (k+1)%len(pattern), !on
			left = pattern[k]
		}
	}
	if len(piece) > 1 {
		pieces = append(pieces, piece)
	}
	return pieces
}

// text draws the glyphs' outlines.
func (c *canvas) text(m Mark, l look) {
	f := faceOf(m.Style)
	text := printable(m.Text)
	var buf sfnt.Buffer
	pen := m.shift(TextWidth(text, m.Style))
	k := l.size / float64(f.unit) // mm per font unit in 26.6
	for _, r := range text {
		g, err := f.font.GlyphIndex(&buf, r)
		if err != nil {
			continue
		}
		segs, err := f.font.LoadGlyph(&buf, g, f.unit, nil)
		if err != nil {
			continue
		}
		place := func(x, y float64) plane.Point {
			return m.At.Add(plane.Point{X: pen + x*k, Y: y * k}.Turn(-m.Turn))
		}
		c.paint(contours(segs, place), l.fill)
		pen += TextWidth(string(r), m.Style)
	}
}

// contours turns a glyph's segments into polygons.
func contours(segs sfnt.Segments, place func(x, y float64) plane.Point) [][]plane.Point {
	var shapes [][]plane.Point
	var at plane.Point
	point := func(s sfnt.Segment, i int) plane.Point { return place(float64(s.Args[i].X), float64(s.Args[i].Y)) }
	const pieces = 6
	for _, s := range segs {
		last := len(shapes) - 1
		switch s.Op {
		case sfnt.SegmentOpMoveTo:
			at = point(s, 0)
			shapes = append(shapes, []plane.Point{at})
		case sfnt.SegmentOpLineTo:
			at = point(s, 0)
			shapes[last] = append(shapes[last], at)
		case sfnt.SegmentOpQuadTo: // a cubic TrueType has not
			p, q := point(s, 0), point(s, 1)
			for i := 1; i <= pieces; i++ {
				t := float64(i) / pieces
				shapes[last] = append(shapes[last], at.Scale((1-t)*(1-t)).Add(p.Scale(2*t*(1-t))).Add(q.Scale(t*t)))
			}
			at = q
		}
	}
	return shapes
}
