// Package template prints things in their true size: a saddle's outline and profile, to lay on the real one and see
// where to measure and whether the shape in the catalogue is the real one, and a gauge that finds where a saddle has
// a given width.
package template

import (
	"fmt"
	"math"
	"sort"

	"carryover/internal/draw"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Paper is a size of sheets, mm, upright.
type Paper struct{ Width, Height float64 }

// The papers of the world's printers (ISO 216 and ANSI).
var (
	A4     = Paper{210, 297}
	Letter = Paper{215.9, 279.4}
)

const (
	margin = 12.0 // left free on every side, mm: no printer needs more
	head   = 20.0 // title and advice
	foot   = 10.0 // the level ruler
	side   = 10.0 // the upright ruler, to the left
	shared = 20.0 // stretch that two neighbouring pages both show
)

// Saddle is what a template is of.
type Saddle struct {
	Name    string
	Shape   *saddle.Shape
	Support float64 // width, mm, whose station is marked; 0: none
}

// Pages draws the outline from above and then the profile from the drive side, nose up, on as many sheets as the saddle
// needs. A support that the saddle does not have is an error.
func Pages(s Saddle, p Paper) ([]*draw.Picture, error) {
	if s.Support > 0 {
		_, widest := s.Shape.Widest()
		switch _, fit := s.Shape.WidthStation(s.Support); fit {
		case saddle.TooNarrow:
			return nil, fmt.Errorf("this saddle is nowhere %g mm wide: its widest place has %.1f mm", s.Support, widest)
		case saddle.AtNose:
			return nil, fmt.Errorf("this saddle is wider than %g mm at its very nose: that has %.1f mm", s.Support, s.Shape.Width(0))
		}
	}
	var pages []*draw.Picture
	for _, d := range s.drawings(p) {
		pages = append(pages, d.sheets(draw.Shortened(s.Name, draw.Head, 95), p)...)
	}
	number(pages, p)
	return pages, nil
}

// drawings are the outline and the profile, each by itself; where each would leave its last sheet half empty, one below the other.
func (s Saddle) drawings(p Paper) []*drawing {
	const outline, profile = "outline from above", "profile from the drive side"
	_, widest := s.Shape.Widest()
	lo, right := math.Min(-widest/2, -s.Shape.Rail.Height-40), math.Max(widest/2, 80)
	if long := s.Shape.Length; long+2*beyond > p.tall() && right-lo <= p.wide() {
		d := s.drawing(outline+", below it the "+profile, lo, right, 2*long+4*beyond)
		s.outline(d)
		d.start = long + 2*beyond
		s.profile(d)
		return []*drawing{d}
	}
	above := s.drawing(outline, -widest/2, math.Max(widest/2, 36), s.Shape.Length+2*beyond)
	s.outline(above)
	side := s.drawing(profile, -s.Shape.Rail.Height-40, 80, s.Shape.Length+2*beyond)
	s.profile(side)
	return []*drawing{above, side}
}

func number(pages []*draw.Picture, p Paper) {
	for i, q := range pages {
		q.Say(draw.Minor, draw.Both, plane.Point{X: p.Width - margin, Y: margin + 3.2}, draw.End, fmt.Sprintf("page %d of %d", i+1, len(pages)))
	}
}

// drawing is one view of a saddle, or two below one another, before it is cut into sheets: across to the right, stations down.
type drawing struct {
	*draw.Picture
	*draw.Room
	name   string
	shape  *saddle.Shape
	lo, hi plane.Point // what is to be seen, across and down
	start  float64     // how far down the nose of the view under way lies
}

const (
	around = 40.0 // paper left free around a drawing, where words may stand
	beyond = 5.0  // shown before the nose and behind the tail
)

// tall and wide are the room for a drawing on a sheet.
func (p Paper) tall() float64 { return p.Height - 2*margin - head - foot }
func (p Paper) wide() float64 { return p.Width - 2*margin - side }

func (s Saddle) drawing(name string, lo, hi, long float64) *drawing {
	d := &drawing{name: name + ", nose up", shape: s.Shape, lo: plane.Point{X: lo, Y: -beyond}, hi: plane.Point{X: hi, Y: long - beyond}}
	d.Picture = &draw.Picture{Width: hi - lo + 2*around, Height: long + 2*around}
	d.Origin = plane.Point{X: around - lo, Y: around}
	d.Room = draw.NewRoom(d.Picture, plane.Point{}, plane.Point{X: d.Width, Y: d.Height})
	return d
}

// at is a place of the drawing: across to the right, station down.
func (d *drawing) at(across, station float64) plane.Point {
	return plane.Point{X: d.Origin.X + across, Y: d.Origin.Y + d.start + station}
}

// axis draws stations down the middle: a tick every 10 mm, a number every 50.
func (d *drawing) axis() {
	d.Line(draw.Chain, draw.Both, "axis", d.at(0, -4), d.at(0, d.shape.Length+4))
	for k := 0; float64(k)*10 <= d.shape.Length; k++ {
		long, st := 1.2, float64(k)*10
		if k%5 == 0 {
			long = 2.2
		}
		d.Line(draw.Thin, draw.Both, "", d.at(-long, st), d.at(long, st))
	}
}

// numbers names every 50 mm of the axis, where nothing else stands.
func (d *drawing) numbers() {
	for st := 50.0; st <= d.shape.Length; st += 50 {
		var places []draw.Mark
		for _, dy := range []float64{0.9, 3.4, -1.6} {
			for _, x := range []float64{3.2, -3.2} {
				side := draw.Start
				if x < 0 {
					side = draw.End
				}
				places = append(places, draw.Mark{Style: draw.Minor, Text: fmt.Sprint(st), At: d.at(x, st+dy), Side: side})
			}
		}
		d.Put(places...)
	}
}

// mark is a station worth a line across, and what it is called.
type mark struct {
	station float64
	text    string
	strong  bool
}

func (s Saddle) marks() []mark {
	widest, width := s.Shape.Widest()
	list := []mark{{0, "nose", false}, {s.Shape.Length / 2, "middle " + draw.Fixed(s.Shape.Length/2, 1), true},
		{widest, "widest " + draw.Fixed(widest, 1) + ", " + draw.Fixed(width, 1) + " wide", false},
		{s.Shape.Length, "tail " + draw.Fixed(s.Shape.Length, 1), false}}
	if s.Support > 0 {
		at, _ := s.Shape.WidthStation(s.Support)
		list = append(list, mark{at, "support " + draw.Fixed(at, 1) + ", " + draw.Fixed(s.Support, 1) + " wide", true})
	}
	return list
}

// cross draws the marks, from edge to edge (from the middle, mm), and then their names where they touch nothing: beside
// the axis, or beyond the right edge.
func (d *drawing) cross(list []mark, edge func(station float64) float64) {
	for _, m := range list {
		line := draw.Thin
		if m.strong {
			line = draw.Strong
		}
		d.Line(line, draw.Both, "mark "+m.text, d.at(-edge(m.station), m.station), d.at(edge(m.station), m.station))
	}
	for _, m := range list {
		text := draw.Label
		if m.strong {
			text = draw.Bold
		}
		say := func(across, down float64, side draw.Side) draw.Mark {
			return draw.Mark{Style: text, Text: m.text, At: d.at(across, m.station+down), Side: side}
		}
		var places []draw.Mark
		if half := edge(m.station); half > 14+draw.TextWidth(m.text, text) {
			places = append(places, say(12, -1.8, draw.Start), say(12, 4, draw.Start), say(-5, -1.8, draw.End), say(-5, 4, draw.End))
		}
		// Past whatever of the outline lies to the right.
		for out := edge(m.station) + 2; out < d.hi.X+around; out += 3 {
			places = append(places, say(out, 1.1, draw.Start), say(out, -2, draw.Start), say(out, 4.5, draw.Start))
		}
		d.Put(places...)
	}
	d.numbers()
}

// stations are fine enough for a true-size line.
func stations(s *saddle.Shape) []float64 {
	all := s.Stations()
	for st := 0.0; st < s.Length; st++ {
		all = append(all, st)
	}
	sort.Float64s(all)
	return all
}

func (s Saddle) outline(d *drawing) {
	for _, half := range []struct {
		name string
		sign float64
	}{{"outline right", 1}, {"outline left", -1}} {
		var line []plane.Point
		for _, st := range stations(s.Shape) {
			line = append(line, d.at(half.sign*s.Shape.Width(st)/2, st))
		}
		d.Line(draw.Heavy, draw.Both, half.name, line...)
	}
	for _, end := range []float64{0, s.Shape.Length} {
		d.Line(draw.Heavy, draw.Both, "", d.at(-s.Shape.Width(end)/2, end), d.at(s.Shape.Width(end)/2, end))
	}
	d.axis()
	d.cross(s.marks(), func(st float64) float64 { return s.Shape.Width(st) / 2 })
}

func (s Saddle) profile(d *drawing) {
	r := s.Shape.Rail
	var top []plane.Point
	for _, st := range stations(s.Shape) {
		top = append(top, d.at(s.Shape.Top(st), st))
	}
	d.Line(draw.Heavy, draw.Both, "profile", top...)
	d.axis()
	d.Line(draw.Heavy, draw.Both, "rails", d.at(-r.Height, r.From), d.at(-r.Height, r.To))
	d.cross(s.marks(), func(float64) float64 { return 4 })
	d.Put(draw.Mark{Style: draw.Minor, Text: "straightedge", At: d.at(3, -3)})
	for i, text := range []string{"rail centre, " + draw.Fixed(r.Height, 1) + " below",
		"clamp from " + draw.Fixed(r.From, 1) + " to " + draw.Fixed(r.To, 1)} {
		var places []draw.Mark
		for st := (r.From + r.To) / 2; st < s.Shape.Length; st += 3 {
			places = append(places, draw.Mark{Style: draw.Label, Text: text, At: d.at(-r.Height+2, st+4.4*float64(i))})
		}
		d.Put(places...)
	}
}

// cut is the stretch that one sheet shows.
type cut struct{ from, to float64 }

// cutsOf shares a length out over sheets of so much room, neighbours having a stretch in common.
func cutsOf(from, to, room float64) []cut {
	n := 1
	if to-from > room {
		n = int(math.Ceil((to - from - shared) / (room - shared)))
	}
	each := (to - from + float64(n-1)*shared) / float64(n)
	var cuts []cut
	for i := range n {
		start := from + float64(i)*(each-shared)
		cuts = append(cuts, cut{start, start + each})
	}
	return cuts
}

// sheets cuts the drawing into pages, from top to bottom and then from left to right.
func (d *drawing) sheets(name string, p Paper) []*draw.Picture {
	columns := cutsOf(d.lo.X, d.hi.X, p.wide())
	rows := cutsOf(d.lo.Y, d.hi.Y, p.tall())
	d.start = 0
	joins := d.joins(columns, rows)
	var pages []*draw.Picture
	for _, c := range columns {
		for _, r := range rows {
			q := frame(p, "Saddle template, true size: "+name, d.name)
			q.Text = fmt.Sprintf("The %s, of %s in true size.", d.name, name)
			if joins > 0 {
				q.Say(draw.Label, draw.Both, plane.Point{X: margin, Y: margin + 17.5}, draw.Start,
					"Do not cut. Lay the sheets over one another so that crosses with the same letter meet, and tape them together.")
			}
			q.Origin = plane.Point{X: margin + side + (p.wide()-(c.to-c.from))/2 - c.from, Y: margin + head - r.from}
			q.Marks = append(q.Marks, draw.Window(d.Picture, d.at(c.from, r.from), d.at(c.to, r.to), q.Origin.Sub(d.Origin))...)
			pages = append(pages, q)
		}
	}
	return pages
}

// joins draws a pair of crosses in every stretch that two neighbouring sheets share, where they touch nothing, and
// returns how many stretches there are.
func (d *drawing) joins(columns, rows []cut) int {
	n := 0
	pair := func(lo, hi plane.Point) {
		letter := string(rune('A' + n%26))
		n++
		along := plane.Point{X: hi.X - lo.X}
		if hi.Y-lo.Y > hi.X-lo.X {
			along = plane.Point{Y: hi.Y - lo.Y}
		}
		for _, half := range [2][2]float64{{0, 0.45}, {1, 0.55}} {
			d.registerAlong(lo, hi, along, half, letter)
		}
	}
	for i, c := range columns {
		for k, r := range rows {
			if k+1 < len(rows) {
				pair(plane.Point{X: c.from, Y: rows[k+1].from}, plane.Point{X: c.to, Y: r.to})
			}
			if i+1 < len(columns) {
				pair(plane.Point{X: columns[i+1].from, Y: r.from}, plane.Point{X: c.to, Y: r.to})
			}
		}
	}
	return n
}

// registerAlong draws one cross of a stretch, as far out in its half as it touches nothing.
func (d *drawing) registerAlong(lo, hi, along plane.Point, half [2]float64, letter string) {
	across := hi.Sub(lo).Sub(along)
	for k := 0.0; k <= 1; k += 0.02 {
		for _, off := range []float64{0.5, 0.25, 0.75} {
			at := lo.Add(along.Scale(half[0] + (half[1]-half[0])*k)).Add(across.Scale(off))
			if at.X-lo.X < 4.5 || hi.X-at.X < 7.5 || at.Y-lo.Y < 4.5 || hi.Y-at.Y < 4.5 {
				continue
			}
			if d.register(d.at(at.X, at.Y), "join "+letter, letter) {
				return
			}
		}
	}
}

// register draws a cross with its letter, unless it would touch something.
func (d *drawing) register(at plane.Point, name, letter string) bool {
	x, y := plane.Point{X: 3}, plane.Point{Y: 3}
	level, upright := []plane.Point{at.Sub(x), at.Add(x)}, []plane.Point{at.Sub(y), at.Add(y)}
	text := draw.Mark{Style: draw.Minor, Text: letter, At: at.Add(plane.Point{X: 4, Y: 0.9})}
	for _, dy := range []float64{-4, 4} { // and its neighbourhood
		if !d.Clear([]plane.Point{at.Add(plane.Point{X: -4, Y: dy}), at.Add(plane.Point{X: 6, Y: dy})}) {
			return false
		}
	}
	if !d.Free(text) || !d.Clear(level, upright) {
		return false
	}
	d.Line(draw.Thin, draw.Both, name, level...)
	d.Line(draw.Thin, draw.Both, "", upright...)
	d.Picture.Marks = append(d.Picture.Marks, text)
	return true
}

// frame is an empty page with its title and its rulers: a printer may stretch one way only.
func frame(p Paper, title, subtitle string) *draw.Picture {
	q := &draw.Picture{Width: p.Width, Height: p.Height, Frame: draw.Frame{Scale: 1}, Title: title}
	q.Say(draw.Head, draw.Both, plane.Point{X: margin, Y: margin + 3.2}, draw.Start, title)
	for i, text := range []string{subtitle,
		"Print at 100 %, not fitted to the page. Both rulers must measure 100 mm, or throw the print away."} {
		q.Say(draw.Label, draw.Both, plane.Point{X: margin, Y: margin + 8.5 + 4.5*float64(i)}, draw.Start, text)
	}
	a := plane.Point{X: p.Width/2 - 50, Y: p.Height - margin - 3}
	ruler(q, a, plane.Point{X: 1}, plane.Point{Y: 1}, "ruler level")
	q.Say(draw.Minor, draw.Both, plane.Point{X: a.X + 102, Y: a.Y + 1}, draw.Start, "100 mm")
	b := plane.Point{X: margin + 3, Y: p.Height/2 - 50}
	ruler(q, b, plane.Point{Y: 1}, plane.Point{X: -1}, "ruler upright")
	q.Say(draw.Minor, draw.Both, plane.Point{X: margin, Y: b.Y - 2}, draw.Start, "100 mm")
	return q
}

// ruler draws 100 mm with a tick each.
func ruler(q *draw.Picture, at, along, tick plane.Point, name string) {
	q.Line(draw.Thin, draw.Both, name, at, at.Add(along.Scale(100)))
	for i := range 101 {
		long := 1.0
		switch {
		case i%10 == 0:
			long = 3
		case i%5 == 0:
			long = 2
		}
		e := at.Add(along.Scale(float64(i)))
		q.Line(draw.Thin, draw.Both, "", e, e.Add(tick.Scale(long)))
	}
}
