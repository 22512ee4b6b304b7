package draw

import (
	"math"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/plane"
)

// lensRadius is the radius of a magnified detail, mm of paper.
const lensRadius = 20.0

// lenses draws the primary contacts again, magnified, where there is room: a contact that moved by three mm with
// the crank cannot be seen at a tenth of its size.
func (v *Scene) lenses(p *Picture, c *crowd, f frame) {
	if v.Show != Both {
		return
	}
	letters := "AB"
	n := 0
	for _, t := range v.Contacts {
		if !t.Primary {
			continue
		}
		var was assembly.Contact
		for _, s := range v.Touched {
			if s.Name == t.Got.Name {
				was = s
			}
		}
		centre := was.At.Add(t.Got.At).Scale(0.5)
		scale := fitting(2*was.At.Distance(t.Got.At), 1, lensRadius, 1e9)
		if scale*3 > f.scale {
			continue // magnifies too little to show more
		}
		at, ok := c.room(lensRadius + 4)
		if !ok {
			continue
		}
		letter := letters[n : n+1]
		n++
		mark := f.at(centre)
		p.Line(Thin, Both, "", circle(mark, lensRadius*scale/f.scale, 0, 2*math.Pi)...)
		p.label(c, Minor, Both, mark.Add(plane.Point{X: -lensRadius * scale / f.scale * 0.7, Y: -lensRadius * scale / f.scale * 0.7}), letter, 0.75*math.Pi)
		v.lens(p, at, centre, scale, t.Got.Name, was, t.Got, letter)
		c.boxes = append(c.boxes, box{at, at}.grown(lensRadius+4))
	}
}

// lens draws the surroundings of one contact into a circle.
func (v *Scene) lens(p *Picture, at, centre plane.Point, scale float64, name bike.Contact, was, is assembly.Contact, letter string) {
	f := frame{scale, plane.Point{X: at.X - centre.X/scale, Y: at.Y + centre.Y/scale}}
	p.Area(Open, Both, "lens "+string(name), circle(at, lensRadius, 0, 2*math.Pi)...)
	for _, l := range v.layers() {
		s := v.stance(l)
		lines := [][]plane.Point{profile(s, 1), barLine(s)}
		lines = append(append(lines, leverLines(s)...), padLines(s)...)
		for _, list := range lines {
			for _, piece := range inCircle(f.all(list), at, lensRadius) {
				p.Line(line(l), l, "", piece...)
			}
		}
	}
	for _, l := range v.layers() {
		t := is
		if l == Source {
			t = was
		}
		p.touch(l, f, t, 14)
	}
	p.arrow(Both, "", f.at(was.At), f.at(is.At))
	text := letter + "  " + string(name) + ", " + scaleName(scale)
	p.SayOn(Label, Both, at.Add(plane.Point{Y: -lensRadius + 4.5}), Middle, 0, text)
	p.SayOn(Label, Both, at.Add(plane.Point{Y: lensRadius - 3}), Middle, 0, moved(is.At.Sub(was.At)))
}

// room finds the middle of a free circle, the one furthest to the right and down.
func (c *crowd) room(radius float64) (plane.Point, bool) {
	for x := c.page.hi.X - radius; x >= c.page.lo.X+radius; x -= 3 {
		for y := c.page.hi.Y - radius; y >= c.page.lo.Y+radius; y -= 3 {
			at := plane.Point{X: x, Y: y}
			if c.free(at, radius) {
				return at, true
			}
		}
	}
	return plane.Point{}, false
}

func (c *crowd) free(at plane.Point, radius float64) bool {
	for _, l := range c.lines {
		if l.Distance(at) < radius {
			return false
		}
	}
	for _, b := range c.boxes {
		near := plane.Point{X: plane.Clamp(at.X, b.lo.X, b.hi.X), Y: plane.Clamp(at.Y, b.lo.Y, b.hi.Y)}
		if near.Distance(at) < radius {
			return false
		}
	}
	return true
}
