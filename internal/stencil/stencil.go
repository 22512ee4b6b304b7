// Package stencil makes a saddle's outline and profile in its true size, on paper: laid on the real saddle it shows
// where to measure, and whether the shape in the catalogue is the real one.
package stencil

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
	margin = 10.0 // that printers leave free, mm
	head   = 24.0 // title and advice
	foot   = 14.0 // the level ruler
	shared = 20.0 // stretch of the saddle that two pages share
	inset  = 10.0 // from the ends of that stretch to the registration marks: both pages have them whole
)

// Saddle is what a stencil is of.
type Saddle struct {
	Name    string
	Shape   *saddle.Shape
	Support float64 // width, mm, whose station is marked; 0: none
}

// mark is a station worth a line across.
type mark struct {
	station      float64
	text, remark string // the remark stands below, small
	strong       bool
}

// Pages draws the outline from above and then the profile from the drive side, nose up, on as many sheets as the
// length of the saddle needs. The saddle's centre line, or its straightedge, runs down the page.
func Pages(s Saddle, p Paper) []*draw.Picture {
	cuts := cutsOf(s.Shape.Length, p.Height-2*margin-head-foot)
	var pages []*draw.Picture
	for _, side := range []bool{false, true} {
		for i, c := range cuts {
			pages = append(pages, s.page(p, side, c, i, cuts))
		}
	}
	for i, q := range pages {
		q.Say(draw.Minor, draw.Both, plane.Point{X: p.Width - margin, Y: margin + 4}, draw.End, fmt.Sprintf("page %d of %d", i+1, len(pages)))
	}
	return pages
}

// cut is the stretch of stations on one page.
type cut struct{ from, to float64 }

// cutsOf shares a length out over pages of so much room, neighbours having a stretch in common.
func cutsOf(length, room float64) []cut {
	n := 1
	if length > room {
		n = int(math.Ceil((length - shared) / (room - shared)))
	}
	each := (length + float64(n-1)*shared) / float64(n)
	var cuts []cut
	for i := range n {
		from := float64(i) * (each - shared)
		cuts = append(cuts, cut{from, from + each})
	}
	return cuts
}

// sheet is one page under way: a frame from the saddle (lateral or height, station) to paper.
type sheet struct {
	*draw.Picture
	zero plane.Point // paper place of the middle, or the straightedge, at station 0
	cut  cut
}

// at is a place on paper: across to the right, station down.
func (q *sheet) at(across, station float64) plane.Point {
	return plane.Point{X: q.zero.X + across, Y: q.zero.Y + station}
}

func (s Saddle) page(p Paper, profile bool, c cut, i int, cuts []cut) *draw.Picture {
	title := "outline from above"
	if profile {
		title = "profile from the drive side"
	}
	q := &sheet{cut: c, Picture: &draw.Picture{Width: p.Width, Height: p.Height, Scale: 1,
		Title: "Saddle template, true size: " + draw.Fit(s.Name, draw.Head, 90)}}
	q.Text = fmt.Sprintf("The %s of %s in true size.", title, draw.Fit(s.Name, draw.Head, 400))
	q.zero = plane.Point{X: p.Width/2 - 18, Y: margin + head - c.from}
	if profile {
		q.zero.X = p.Width / 2
	}
	q.Origin = q.zero
	q.Say(draw.Head, draw.Both, plane.Point{X: margin, Y: margin + 4}, draw.Start, q.Title)
	q.Say(draw.Label, draw.Both, plane.Point{X: margin, Y: margin + 9.5}, draw.Start, title+", nose up")
	q.Say(draw.Label, draw.Both, plane.Point{X: margin, Y: margin + 14}, draw.Start,
		"Print at 100 %, not fitted to the page. Both rulers must measure 100 mm, or throw the print away.")
	if i > 0 {
		q.Say(draw.Label, draw.Both, plane.Point{X: margin, Y: margin + 18.5}, draw.Start,
			fmt.Sprintf("Lay the two marks of join %d on those of the page before.", i))
	}
	if profile {
		s.profile(q)
	} else {
		s.outline(q)
	}
	q.register(p, i, cuts)
	q.rulers(p)
	return q.Picture
}

// stations are those of a page, fine enough for a true-size line.
func (s Saddle) stations(c cut) []float64 {
	var all []float64
	for _, st := range s.Shape.Stations() {
		if st > c.from && st < c.to {
			all = append(all, st)
		}
	}
	for st := c.from; st < c.to; st++ {
		all = append(all, st)
	}
	all = append(all, c.to)
	sort.Float64s(all)
	return all
}

// marks are the references of the saddle, and the ends of what the clamp may hold.
func (s Saddle) marks() []mark {
	widest, width := s.Shape.Widest()
	list := []mark{{0, "nose", "", false}, {s.Shape.Length / 2, "mid " + draw.Fixed(s.Shape.Length/2, 1), "", true},
		{widest, "widest " + draw.Fixed(widest, 1), draw.Fixed(width, 1) + " wide", false},
		{s.Shape.Length, "tail " + draw.Fixed(s.Shape.Length, 1), "", false}}
	if s.Support > 0 {
		at, fit := s.Shape.WidthStation(s.Support)
		remark := draw.Fixed(s.Support, 1) + " wide"
		switch fit {
		case saddle.TooNarrow:
			remark = "narrower than " + draw.Fixed(s.Support, 1)
		case saddle.AtNose:
			remark = "wider than " + draw.Fixed(s.Support, 1)
		}
		list = append(list, mark{at, "support " + draw.Fixed(at, 1), remark, true})
	}
	sort.SliceStable(list, func(i, j int) bool { return list[i].station < list[j].station })
	return list
}

// scale draws stations down a line: a tick every 10 mm, a number every 50.
func (q *sheet) scale(across float64) {
	q.Line(draw.Chain, draw.Both, "axis", q.at(across, q.cut.from-3), q.at(across, q.cut.to+3))
	for k := math.Ceil(q.cut.from / 10); k*10 <= q.cut.to; k++ {
		long := 1.2
		if int(k)%5 == 0 {
			long = 2.2
		}
		if int(k)%5 == 0 && k > 0 {
			q.Say(draw.Minor, draw.Both, q.at(across+2.8, k*10+0.9), draw.Start, fmt.Sprintf("%g", k*10))
		}
		q.Line(draw.Thin, draw.Both, "", q.at(across-long, k*10), q.at(across+long, k*10))
	}
}

// name writes the marks' names beside the drawing, none into another.
func (q *sheet) name(list []mark, edge func(station float64) float64, x float64) {
	free := math.Inf(-1)
	for _, m := range list {
		if m.station < q.cut.from || m.station > q.cut.to {
			continue
		}
		ink, line := draw.Label, draw.Thin
		if m.strong {
			ink, line = draw.Bold, draw.Strong
		}
		y := math.Max(q.at(0, m.station).Y, free)
		free = y + 4.6
		if m.remark != "" {
			free += 3
		}
		from := q.at(edge(m.station)+1, m.station)
		if from.X < x-1 {
			q.Line(draw.Thin, draw.Both, "", from, plane.Point{X: math.Max(x-4, from.X), Y: from.Y}, plane.Point{X: x - 1, Y: y})
		}
		q.Line(line, draw.Both, "mark "+m.text, q.at(-edge(m.station), m.station), q.at(edge(m.station), m.station))
		q.SayOn(ink, draw.Both, plane.Point{X: x, Y: y + 1}, draw.Start, 0, m.text)
		if m.remark != "" {
			q.SayOn(draw.Minor, draw.Both, plane.Point{X: x, Y: y + 4.2}, draw.Start, 0, m.remark)
		}
	}
}

func (s Saddle) outline(q *sheet) {
	stations := s.stations(q.cut)
	var right, left []plane.Point
	for _, st := range stations {
		right = append(right, q.at(s.Shape.Width(st)/2, st))
		left = append(left, q.at(-s.Shape.Width(st)/2, st))
	}
	q.Line(draw.Heavy, draw.Both, "outline right", right...)
	q.Line(draw.Heavy, draw.Both, "outline left", left...)
	for _, end := range []float64{0, s.Shape.Length} {
		if end >= q.cut.from && end <= q.cut.to {
			half := s.Shape.Width(end) / 2
			q.Line(draw.Heavy, draw.Both, "", q.at(-half, end), q.at(half, end))
		}
	}
	q.scale(0)
	_, widest := s.Shape.Widest()
	q.name(s.marks(), func(st float64) float64 { return s.Shape.Width(st) / 2 }, math.Min(q.at(widest/2, 0).X+6, q.Width-margin-26))
}

func (s Saddle) profile(q *sheet) {
	var top []plane.Point
	for _, st := range s.stations(q.cut) {
		top = append(top, q.at(s.Shape.Top(st), st))
	}
	q.Line(draw.Heavy, draw.Both, "profile", top...)
	q.scale(0)
	q.Say(draw.Minor, draw.Both, q.at(3, q.cut.from-1.5), draw.Start, "straightedge")
	r := s.Shape.Rail
	if from, to := math.Max(r.From, q.cut.from), math.Min(r.To, q.cut.to); from < to {
		q.Line(draw.Heavy, draw.Both, "rails", q.at(-r.Height, from), q.at(-r.Height, to))
		y := (from + to) / 2
		q.Say(draw.Label, draw.Both, q.at(-r.Height-3, y), draw.End, "rail centre, "+draw.Fixed(r.Height, 1)+" below")
		q.Say(draw.Label, draw.Both, q.at(-r.Height-3, y+4.4), draw.End, "clamp from "+draw.Fixed(r.From, 1)+" to "+draw.Fixed(r.To, 1))
	}
	q.name(s.marks(), func(float64) float64 { return 4 }, q.at(18, 0).X)
}

// register draws a pair of marks in every stretch that two pages share: laid over each other they line up.
func (q *sheet) register(p Paper, i int, cuts []cut) {
	cross := func(at plane.Point, name string) {
		q.Line(draw.Thin, draw.Both, name, at.Sub(plane.Point{X: 4}), at.Add(plane.Point{X: 4}))
		q.Line(draw.Thin, draw.Both, "", at.Sub(plane.Point{Y: 4}), at.Add(plane.Point{Y: 4}))
		q.Area(draw.Open, draw.Both, "", ring(at, 1.6)...)
	}
	join := func(station float64, name, text string) {
		for _, x := range []float64{margin + 14, p.Width - margin - 8} {
			cross(plane.Point{X: x, Y: q.at(0, station).Y}, name)
		}
		q.Say(draw.Minor, draw.Both, plane.Point{X: margin + 20, Y: q.at(0, station).Y + 1}, draw.Start, text)
	}
	if i > 0 {
		join(cuts[i].from+inset, fmt.Sprintf("join %d", i), fmt.Sprintf("join %d", i))
	}
	if i+1 < len(cuts) {
		join(cuts[i].to-inset, fmt.Sprintf("join %d", i+1), fmt.Sprintf("join %d", i+1))
	}
}

func ring(at plane.Point, r float64) []plane.Point {
	var pts []plane.Point
	for i := range 24 {
		pts = append(pts, at.Add(plane.Direction(float64(i)*math.Pi/12).Scale(r)))
	}
	return pts
}

// rulers draws 100 mm level and upright: a printer may stretch one way only.
func (q *sheet) rulers(p Paper) {
	a := plane.Point{X: p.Width/2 - 50, Y: p.Height - margin - 5}
	q.ruler(a, plane.Point{X: 1}, plane.Point{Y: 1}, "ruler level")
	q.Say(draw.Minor, draw.Both, plane.Point{X: a.X + 102, Y: a.Y + 1}, draw.Start, "100 mm")
	b := plane.Point{X: margin + 3, Y: p.Height/2 - 50}
	q.ruler(b, plane.Point{Y: 1}, plane.Point{X: -1}, "ruler upright")
	q.Say(draw.Minor, draw.Both, plane.Point{X: margin, Y: b.Y + 104}, draw.Start, "100 mm")
}

func (q *sheet) ruler(at, along, tick plane.Point, name string) {
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
