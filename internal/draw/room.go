package draw

import (
	"iter"
	"math"
	"slices"

	"carryover/internal/plane"
)

// box is a rectangle on paper, mm.
type box struct{ lo, hi plane.Point }

// near is the point of a box nearest to q.
func (b box) near(q plane.Point) plane.Point {
	return plane.Point{X: plane.Clamp(q.X, b.lo.X, b.hi.X), Y: plane.Clamp(q.Y, b.lo.Y, b.hi.Y)}
}

// shift is how far left of its anchor text of a width begins, mm.
func (m *Mark) shift(width float64) float64 {
	return [...]float64{Start: 0, Middle: -0.5, End: -1}[m.Side] * width
}

// corners are those of a mark's text, once around, moved outward by some mm: what no line and no other text may enter.
func (m *Mark) corners(out float64) (list [4]plane.Point) {
	size, width := m.Style.Size(), TextWidth(m.Text, m.Style)
	left := m.shift(width) - out
	right, low, high := left+width+2*out, 0.22*size+out, -0.76*size-out // paper y runs down
	for i, c := range [4]plane.Point{{X: left, Y: low}, {X: right, Y: low}, {X: right, Y: high}, {X: left, Y: high}} {
		list[i] = m.At.Add(c.Turn(-m.Turn))
	}
	return list
}

// box is the upright rectangle around a mark's text.
func (m *Mark) box() box {
	c := m.corners(0)
	lo, hi := around(c[:]...)
	return box{lo, hi}
}

// outline is a mark's line with, of an area, the way back to its beginning.
func (m *Mark) outline() []plane.Point {
	if !m.Closed {
		return m.Line
	}
	return append(m.Line[:len(m.Line):len(m.Line)], m.Line[0])
}

// Room knows what on a picture is taken, in cells, so that text finds a place that touches nothing.
// It looks at the picture's marks itself: what is drawn later is seen the next time a place is asked for.
type Room struct {
	p      *Picture
	within box
	cell   float64 // mm
	nx, ny int
	taken  []taken
	seen   int // marks of the picture looked at
}

// taken says by what a cell is.
type taken uint8

const (
	byLine taken = 1 << iota
	byText
)

const (
	cell  = 0.5 // mm, on any page; coarser on a poster
	cells = 4e6 // at most
	pad   = 0.6 // mm kept free around text
)

// NewRoom looks at the part of a picture between two corners.
func NewRoom(p *Picture, lo, hi plane.Point) *Room {
	r := &Room{p: p, within: box{lo, hi}, cell: math.Max(cell, math.Sqrt(p.Width*p.Height/cells))}
	r.nx, r.ny = int(math.Ceil(p.Width/r.cell))+1, int(math.Ceil(p.Height/r.cell))+1
	r.taken = make([]taken, r.nx*r.ny)
	return r
}

// at is the cell of a place, if it is on the picture.
func (r *Room) at(q plane.Point) (*taken, bool) {
	x, y := int(math.Floor(q.X/r.cell)), int(math.Floor(q.Y/r.cell))
	if x < 0 || y < 0 || x >= r.nx || y >= r.ny {
		return nil, false
	}
	return &r.taken[y*r.nx+x], true
}

// along are the cells along a line.
func (r *Room) along(line []plane.Point) iter.Seq[*taken] {
	return func(yield func(*taken) bool) {
		for i := 1; i < len(line); i++ {
			d := line[i].Sub(line[i-1])
			n := int(math.Ceil(d.Norm()/r.cell*2)) + 1
			for k := 0; k <= n; k++ {
				if c, ok := r.at(line[i-1].Add(d.Scale(float64(k) / float64(n)))); ok && !yield(c) {
					return
				}
			}
		}
	}
}

// inside are the cells of a turned rectangle.
func (r *Room) inside(c [4]plane.Point) iter.Seq[*taken] {
	return func(yield func(*taken) bool) {
		u, v := c[1].Sub(c[0]), c[3].Sub(c[0])
		nu, nv := int(math.Ceil(u.Norm()/r.cell*1.5))+1, int(math.Ceil(v.Norm()/r.cell*1.5))+1
		for a := 0; a <= nu; a++ {
			for b := 0; b <= nv; b++ {
				q := c[0].Add(u.Scale(float64(a) / float64(nu))).Add(v.Scale(float64(b) / float64(nv)))
				if c, ok := r.at(q); ok && !yield(c) {
					return
				}
			}
		}
	}
}

// without reports whether no cell is taken in one of some ways.
func without(by taken, cells iter.Seq[*taken]) bool {
	for c := range cells {
		if *c&by != 0 {
			return false
		}
	}
	return true
}

// look marks what was drawn since the last time.
func (r *Room) look() {
	for ; r.seen < len(r.p.Marks); r.seen++ {
		m := r.p.Marks[r.seen]
		switch {
		case m.Text != "":
			for c := range r.inside(m.corners(0)) {
				*c |= byText
			}
		case m.Style.Drawn():
			for c := range r.along(m.outline()) {
				*c |= byLine
			}
		}
	}
}

// Free reports whether text would touch nothing and leave nothing.
func (r *Room) Free(m Mark) bool {
	r.look()
	for _, q := range m.corners(0) {
		if r.within.near(q) != q {
			return false
		}
	}
	return without(byLine|byText, r.inside(m.corners(pad)))
}

// Clear reports whether lines would touch nothing.
func (r *Room) Clear(lines ...[]plane.Point) bool {
	r.look()
	return !slices.ContainsFunc(lines, func(l []plane.Point) bool { return !without(byLine|byText, r.along(l)) })
}

// Put draws the first of several texts that has room, and reports whether one has.
func (r *Room) Put(list ...Mark) bool {
	for _, m := range list {
		if m.Text != "" && r.Free(m) {
			r.p.Marks = append(r.p.Marks, m)
			return true
		}
	}
	return false
}

// leader is the line from a point to its text's box; none when they are close.
func leader(at plane.Point, b box) []plane.Point {
	near := b.near(at)
	d := near.Distance(at)
	if d <= 3.2 {
		return nil
	}
	return []plane.Point{at.Add(near.Sub(at).Scale(1.2 / d)), near.Add(at.Sub(near).Scale(0.3 / d))}
}

// far are the distances at which say looks for room, mm.
var far = [...]float64{2.6, 4, 6, 9, 12, 16, 20, 25, 31, 38, 46, 55, 65}

// note is a label before it has its place.
type note struct {
	style  Style
	layer  Layer
	at     plane.Point
	text   string
	toward float64     // where it had best stand: radians, counter-clockwise from the right
	along  plane.Point // it may stand as well at so much to both sides of the place
}

// say puts labels where they touch nothing, as near as can be and in the direction asked for, with a leader when one had to go far.
func (r *Room) say(list ...note) {
	for _, n := range list {
		best, from, cost := Mark{}, n.at, math.Inf(1)
		for _, share := range []float64{0, 0.3, -0.3, 0.6, -0.6} {
			at := n.at.Add(n.along.Scale(share))
			if m, c := r.nearest(n, at, cost-math.Abs(share)); m.Text != "" {
				best, from, cost = m, at, c+math.Abs(share)
			}
			if n.along == (plane.Point{}) {
				break
			}
		}
		if best.Text == "" {
			best = r.anywhere(n)
		}
		if best.Text == "" { // so full a page that the numbers stand in the text only
			continue
		}
		if l := leader(from, best.box()); l != nil {
			r.p.Line(Thin, n.layer, "", l...)
		}
		r.p.Marks = append(r.p.Marks, best)
	}
}

// Label puts text near a place, best in a direction (radians, counter-clockwise from the right), where it touches nothing.
func (r *Room) Label(style Style, at plane.Point, text string, toward float64) {
	r.say(note{style: style, at: at, text: text, toward: toward})
}

// fits reports whether there is room for a label and its leader.
func (r *Room) fits(m Mark, at plane.Point) bool {
	return m.Text != "" && r.Free(m) && without(byText, r.along(leader(at, m.box())))
}

// nearest is the best place for a label around a point that costs less than another, and what it costs.
func (r *Room) nearest(n note, at plane.Point, least float64) (best Mark, cost float64) {
	cost = least
	for _, d := range far {
		for turn := range 16 {
			c := 0.6*d + 0.9*float64((turn+1)/2)
			if c >= cost {
				continue
			}
			// Alternately to both sides of the direction asked for.
			s, co := math.Sincos(n.toward + float64((turn+1)/2)*[2]float64{1, -1}[turn%2]*math.Pi/8)
			side := Middle
			switch {
			case co > 0.35:
				side = Start
			case co < -0.35:
				side = End
			}
			q := plane.Point{X: at.X + d*co, Y: at.Y - d*s}
			q.Y += 0.35 * n.style.Size() * (1 - s) // so that the text's middle, foot or head meets the direction
			m := Mark{Style: n.style, Layer: n.layer, Text: n.text, At: q, Side: side}
			if !r.fits(m, at) {
				continue
			}
			const crossing = 4.0 // mm: a leader that crosses lines is hard to follow, each is as bad as some way
			if c += crossing * r.crossed(leader(at, m.box())); c < cost {
				best, cost = m, c
			}
		}
	}
	return best, cost
}

// crossed is how many lines a leader crosses, but for the one that it starts from.
func (r *Room) crossed(leader []plane.Point) (n float64) {
	was := byLine
	for c := range r.along(leader) {
		if *c&byLine > was {
			n++
		}
		was = *c & byLine
	}
	return n
}

// anywhere is the nearest place with room for a label, if there is one.
func (r *Room) anywhere(n note) (best Mark) {
	nearest, step := math.Inf(1), 4*r.cell
	for y := r.within.lo.Y; y <= r.within.hi.Y; y += step {
		for x := r.within.lo.X; x <= r.within.hi.X; x += step {
			m := Mark{Style: n.style, Layer: n.layer, Text: n.text, At: plane.Point{X: x, Y: y}}
			if d := m.At.Distance(n.at); d < nearest && r.fits(m, n.at) {
				best, nearest = m, d
			}
		}
	}
	return best
}

// dimension is a measure, drawn from a to b, of two places beside it.
type dimension struct {
	of         [2]plane.Point
	a, b       plane.Point
	name, text string
	toward     float64 // where its text goes that has no room along it, radians
}

// between measures between two places themselves.
func between(a, b plane.Point, name, text string) dimension {
	return dimension{[2]plane.Point{a, b}, a, b, name, text, math.Pi / 4}
}

// level and upright measure between two places on a line of their own.
func level(a, b plane.Point, y float64, name, text string) dimension {
	d := between(a, b, name, text)
	d.a.Y, d.b.Y = y, y
	return d
}

func upright(a, b plane.Point, x float64, name, text string) dimension {
	d := between(a, b, name, text)
	d.a.X, d.b.X = x, x
	return d
}

// lines draws dimensions without their texts.
func (r *Room) lines(list ...dimension) {
	for _, d := range list {
		for i, end := range []plane.Point{d.a, d.b} {
			if way := end.Sub(d.of[i]); way.Norm() > 2 {
				u := way.Scale(1.2 / way.Norm())
				r.p.Line(Hair, Both, "", d.of[i].Add(u), end.Add(u))
			}
		}
	}
	for _, d := range list {
		r.arrows(d)
	}
}

// texts puts the texts of dimensions along their lines, and returns those that have no room there.
func (r *Room) texts(list ...dimension) (rest []note) {
	for _, d := range list {
		if !r.Put(r.placesAlong(d)...) {
			rest = append(rest, note{Label, Both, d.a.Add(d.b).Scale(0.5), d.text, d.toward, d.b.Sub(d.a).Scale(0.5)})
		}
	}
	return rest
}

const arrowhead = 1.9 // mm

// arrows draws a dimension's line with arrows at both ends, outside where there is no room between them.
func (r *Room) arrows(d dimension) {
	n := d.b.Distance(d.a)
	if n < 0.05 {
		return
	}
	u := d.b.Sub(d.a).Scale(1 / n)
	out := plane.Point{}
	if n < 3*arrowhead {
		out = u.Scale(2.2 * arrowhead)
	}
	r.p.Line(Thin, Both, d.name, d.a.Sub(out), d.b.Add(out))
	if n < 3*arrowhead {
		u = u.Scale(-1)
	}
	r.p.head(Solid, Both, d.a, u.Scale(-1), arrowhead)
	r.p.head(Solid, Both, d.b, u, arrowhead)
}

// placesAlong are the places for text along a dimension's line, off it; for text longer than the line those beyond its ends,
// and over the middle of a level one.
func (r *Room) placesAlong(d dimension) (list []Mark) {
	const k = Label
	way := d.b.Sub(d.a)
	n, w := way.Norm(), TextWidth(d.text, k)
	off := pad + r.cell // a line's cell may begin so much before it
	over, under := -0.22*k.Size()-off, 0.76*k.Size()+off
	turn := math.Atan2(-way.Y, way.X)
	if turn > math.Pi/2+1e-9 {
		turn -= math.Pi
	} else if turn <= -math.Pi/2+1e-9 {
		turn += math.Pi
	}
	if w+2 > n {
		mid, beyond := d.a.Add(d.b).Scale(0.5), n/2+1.5
		if n < 3*arrowhead {
			beyond += 2.2 * arrowhead
		}
		for i, at := range []plane.Point{{Y: over}, {Y: under}, {X: beyond, Y: 0.36 * k.Size()}, {X: -beyond, Y: 0.36 * k.Size()}} {
			if i > 1 || math.Abs(way.Y) < 0.01 {
				list = append(list, Mark{Style: k, Text: d.text, At: mid.Add(at.Turn(-turn)), Side: []Side{Middle, Middle, Start, End}[i], Turn: turn})
			}
		}
		return list
	}
	for _, off := range []float64{over, under} {
		for i := range 21 {
			// From the middle outwards.
			t := 0.5 + float64((i+1)/2)*[2]float64{1, -1}[i%2]*(0.5-(w/2+1)/n)/10
			at := d.a.Add(way.Scale(t)).Add(plane.Point{Y: off}.Turn(-turn))
			list = append(list, Mark{Style: k, Text: d.text, At: at, Side: Middle, Turn: turn})
		}
	}
	return list
}

// roomy is the first of some dimensions whose text has room along it where its own lines will not be, else the first of all.
func (r *Room) roomy(list ...dimension) dimension {
	for _, d := range list {
		fits := TextWidth(d.text, Label)+2 <= d.a.Distance(d.b)
		if slices.ContainsFunc(r.placesAlong(d), func(m Mark) bool { return (fits || m.Side != Middle) && r.Free(m) }) {
			return d
		}
	}
	return list[0]
}

// Dimension measures from a to b: a line with arrows and its text along it, or near it in a direction.
func (r *Room) Dimension(toward float64, a, b plane.Point, name, text string) {
	d := between(a, b, name, text)
	d.toward = toward
	r.lines(d)
	r.say(r.texts(d)...)
}

// head is an arrow's head at tip, pointing along u.
func (p *Picture) head(k Style, layer Layer, tip, u plane.Point, length float64) {
	base, side := tip.Sub(u.Scale(length)), u.Perp().Scale(0.19*length)
	p.Area(k, layer, "", tip, base.Add(side), base.Sub(side))
}

// arrow is a line with a filled head.
func (p *Picture) arrow(layer Layer, name string, a, b plane.Point) {
	n := b.Distance(a)
	if n < 0.2 {
		return
	}
	u := b.Sub(a).Scale(1 / n)
	head := math.Min(2.2, 0.8*n)
	p.Line(Strong, layer, name, a, b.Sub(u.Scale(head)))
	p.head(Accent, layer, b, u, head)
}
