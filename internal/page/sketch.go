package page

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"carryover/internal/plane"
	"carryover/internal/words"
)

// What the sketch takes while it is not known, mm and degrees: a bike of middle size.
const (
	guessCrank, guessHeight, guessSetback, guessReach, guessDrop = 172.5, 700.0, 190.0, 700.0, 40.0
	sketchFloor                                                  = -280.0
)

// figure is a bike on a sketch: the places that a rider touches, and how surely each is known. Lengths mm, angles degrees.
type figure struct {
	crank, tilt, hold                  float64 // hold: how the hands' place is turned
	mark, hands                        plane.Point
	onPads                             bool
	cranked, seat, level, held, turned bool // what is known: crank, seat, saddle tilt, hands, their angle
}

// sketch is a bike in the side view, growing with the answers. The tape of a question lies over it.
func sketch(d *draft, question string) template.HTML {
	get := func(kind string, guess float64) (float64, bool) {
		if x, ok := d.value(kind); ok && math.Abs(x) < 2000 {
			return x, true
		}
		return guess, false
	}
	height, knownHeight := get("saddle-height", guessHeight)
	back, knownBack := get("setback", guessSetback)
	reach, knownReach := get("reach", guessReach)
	drop, knownDrop := get("drop", guessDrop)
	f := figure{seat: knownHeight && knownBack, held: knownReach && knownDrop}
	f.crank, f.cranked = get("feet.crank", guessCrank)
	f.tilt, f.level = get("saddle-tilt", 0)
	f.hold, f.turned = get("hood-angle", 5)
	for _, a := range d.asked {
		f.onPads = f.onPads || a.Name == "reading pad-tilt"
	}
	if f.onPads {
		f.hold, f.turned = get("pad-tilt", 10)
	}
	f.mark = plane.Point{X: -back, Y: math.Sqrt(math.Max(height*height-back*back, 1))}
	f.hands = plane.Point{X: f.mark.X + reach, Y: f.mark.Y - drop}
	s := &sketcher{}
	s.figure(f)
	s.tape(kindOf(question), d, f)
	return s.svg(f.mark, f.hands, "The bike from its drive side, as far as it is known")
}

// figure draws a bike: what is known in ink where it is, what is not in grey where it might be.
func (s *sketcher) figure(f figure) {
	axle, mark, hands := plane.Point{}, f.mark, f.hands
	head := plane.Point{X: math.Min(hands.X-130, 430), Y: math.Max(math.Min(hands.Y-90, 560), 300)}
	clamp := mark.Add(plane.Point{X: 25, Y: -75})
	s.wheels()
	s.line("faint", axle, clamp.Scale(0.72), head.Add(plane.Point{X: 10, Y: -50}), axle)
	s.line("faint", axle, rearAxle, clamp.Scale(0.72))
	s.line("faint", frontAxle, head)
	s.line(shade(f.seat), clamp.Scale(0.72), clamp, mark.Add(plane.Point{X: 20, Y: -28}))
	s.line(shade(f.held), head, head.Add(plane.Point{X: -12, Y: 45}), hands.Add(plane.Point{X: -105, Y: -25}),
		hands.Add(plane.Point{X: -20, Y: -22}))
	s.line(shade(f.cranked), axle, plane.Direction(-math.Pi/3).Scale(f.crank))
	s.circle(shade(f.cranked), axle, 16)
	// The saddle and what the hands hold turn about the places that the tape goes to.
	turned := func(at plane.Point, by float64, pts ...plane.Point) []plane.Point {
		out := make([]plane.Point, len(pts))
		for i, p := range pts {
			out[i] = at.Add(p.Turn(plane.Rad(by)))
		}
		return out
	}
	s.area(shade(f.seat && f.level), turned(mark, f.tilt, plane.Point{X: 165}, plane.Point{X: 60, Y: -2}, plane.Point{X: -40},
		plane.Point{X: -105, Y: 12},
		plane.Point{X: -110, Y: -14}, plane.Point{X: -30, Y: -34}, plane.Point{X: 150, Y: -18})...)
	hold := []plane.Point{{X: -95, Y: -6}, {X: -8}, {X: 22, Y: 34}, {X: 40, Y: -8}, {X: 5, Y: -60}, {X: -40, Y: -150}, {X: -110, Y: -160}}
	if f.onPads {
		hold = []plane.Point{{X: -60}, {X: 60}, {X: 40, Y: -14}, {X: 230, Y: 6}, {X: 300, Y: 40}}
	}
	s.line(shade(f.held && f.turned), turned(hands, f.hold, hold...)...)
	s.dot(shade(f.seat), mark)
	s.dot(shade(f.held), hands)
}

// Wheels only help to recognise a bike.
var rearAxle, frontAxle = plane.Point{X: -410, Y: 60}, plane.Point{X: 590, Y: 60}

func (s *sketcher) wheels() {
	s.circle("faint", rearAxle, 335)
	s.circle("faint", frontAxle, 335)
	s.line("faint", plane.Point{X: -760, Y: sketchFloor}, plane.Point{X: 940, Y: sketchFloor})
}

// shade is how surely something is drawn.
func shade(known bool) string {
	if known {
		return "known"
	}
	return "guess"
}

// tape draws where to measure for a kind of reading, with what was read.
func (s *sketcher) tape(kind string, d *draft, f figure) {
	read := "?"
	say := func(unit string) string {
		if x, ok := d.value(kind); ok {
			read = words.Trimmed(x, 1) + unit
		}
		return read
	}
	level := func(at plane.Point, angle, from, to, above float64) {
		along := plane.Direction(plane.Rad(angle))
		s.measure(say("°"), at.Add(along.Scale(from)).Add(plane.Point{Y: above}), at.Add(along.Scale(to)).Add(plane.Point{Y: above}))
	}
	axle, corner := plane.Point{}, plane.Point{X: f.hands.X, Y: f.mark.Y}
	switch kind {
	case "feet.crank":
		s.measure(say(" mm"), axle, plane.Direction(-math.Pi/3).Scale(f.crank))
	case "support":
		s.measure(say(" mm"), f.mark.Add(plane.Point{Y: 60}), f.mark)
	case "saddle-tilt":
		level(f.mark, f.tilt, -130, 190, 22)
	case "saddle-height":
		s.measure(say(" mm"), axle, f.mark)
	case "setback":
		plumb := plane.Point{X: f.mark.X}
		s.line("plumb", f.mark, plumb)
		s.measure(say(" mm"), plumb, axle)
	case "reach":
		s.line("plumb", corner, f.hands)
		s.measure(say(" mm"), f.mark, corner)
	case "drop":
		s.line("plumb", f.mark, corner)
		s.measure(say(" mm"), f.hands, corner)
	case "hood-angle", "pad-tilt":
		level(f.hands, f.hold, -120, 70, 26)
	}
}

// sketcher collects the strokes, in mm of bike with y up.
type sketcher struct{ b strings.Builder }

func points(pts []plane.Point) string {
	list := make([]string, len(pts))
	for i, p := range pts {
		list[i] = fmt.Sprintf("%.0f,%.0f", p.X, -p.Y)
	}
	return strings.Join(list, " ")
}

func (s *sketcher) line(class string, pts ...plane.Point) {
	fmt.Fprintf(&s.b, `<polyline class="%s" points="%s"/>`, class, points(pts))
}

func (s *sketcher) area(class string, pts ...plane.Point) {
	fmt.Fprintf(&s.b, `<polygon class="%s" points="%s"/>`, class, points(pts))
}

func (s *sketcher) circle(class string, at plane.Point, r float64) {
	fmt.Fprintf(&s.b, `<circle class="%s" cx="%.0f" cy="%.0f" r="%.0f"/>`, class, at.X, -at.Y, r)
}

func (s *sketcher) dot(class string, at plane.Point) {
	fmt.Fprintf(&s.b, `<circle class="%s dot" cx="%.0f" cy="%.0f" r="13"/>`, class, at.X, -at.Y)
}

func (s *sketcher) measure(read string, from, to plane.Point) {
	s.line("tape", from, to)
	for _, p := range []plane.Point{from, to} {
		fmt.Fprintf(&s.b, `<circle class="tape" cx="%.0f" cy="%.0f" r="15"/>`, p.X, -p.Y)
	}
	middle := from.Add(to).Scale(0.5)
	fmt.Fprintf(&s.b, `<text class="tape" x="%.0f" y="%.0f" text-anchor="middle">%s</text>`, middle.X, -middle.Y-24,
		template.HTMLEscapeString(read))
}

// svg is the sketch, with room for what was answered.
func (s *sketcher) svg(mark, hands plane.Point, label string) template.HTML {
	left := math.Min(-770, mark.X-150)
	right := math.Max(950, hands.X+90)
	top := math.Max(math.Max(mark.Y, hands.Y)+130, 830)
	bottom := math.Min(sketchFloor-20, hands.Y-200)
	return template.HTML(fmt.Sprintf(`<svg class="sketch" viewBox="%.0f %.0f %.0f %.0f" role="img" aria-label="%s">%s</svg>`,
		left, -top, right-left, top-bottom, label, s.b.String()))
}
