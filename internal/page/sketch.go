package page

import (
	"html/template"
	"math"

	"carryover/internal/draw"
	"carryover/internal/plane"
	"carryover/internal/words"
)

// What the sketch takes while it is not known, mm and degrees: a bike of middle size.
const guessCrank, guessHeight, guessSetback, guessReach, guessDrop = 172.5, 700.0, 190.0, 700.0, 40.0

// wide are pictures on the page, mm of paper: words in them can be read on a phone.
const wide = 72.0

// figure is a bike on a sketch: the places that a rider touches, and how surely each is known. Lengths mm, angles degrees.
type figure struct {
	*draw.Picture
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
	f.begin("The bike from its drive side, as far as it is known.")
	f.draw()
	f.whereToMeasure(kindOf(question), d)
	return template.HTML(f.Inline("sketch"))
}

// begin makes room for the bike.
func (f *figure) begin(text string) {
	lo := plane.Point{X: math.Min(-770, f.mark.X-150), Y: math.Min(-300, f.hands.Y-200)}
	hi := plane.Point{X: math.Max(950, f.hands.X+90), Y: math.Max(math.Max(f.mark.Y, f.hands.Y)+130, 830)}
	scale := (hi.X - lo.X) / wide
	f.Picture = &draw.Picture{Title: "Side view", Text: text, Width: wide, Height: (hi.Y - lo.Y) / scale,
		Frame: draw.Frame{Scale: scale, Origin: plane.Point{X: -lo.X / scale, Y: hi.Y / scale}}}
}

func (f *figure) line(style draw.Style, pts ...plane.Point) {
	f.Line(style, draw.Both, "", f.All(pts...)...)
}

// draw draws the bike: what is known is solid where it is, what is not is dashed where it might be. Wheels and frame only help to
// recognise it.
func (f *figure) draw() {
	axle, mark, hands := plane.Point{}, f.mark, f.hands
	rear, front := plane.Point{X: -410, Y: 60}, plane.Point{X: 590, Y: 60}
	head := plane.Point{X: math.Min(hands.X-130, 430), Y: math.Max(math.Min(hands.Y-90, 560), 300)}
	clamp := mark.Add(plane.Point{X: 25, Y: -75})
	const floor, wheel = -280.0, 335.0
	for _, hub := range []plane.Point{rear, front} {
		f.Ring(draw.Hair, f.At(hub), wheel/f.Scale)
	}
	f.line(draw.Hair, plane.Point{X: -760, Y: floor}, plane.Point{X: 940, Y: floor})
	f.line(draw.Machine, axle, clamp.Scale(0.72), head.Add(plane.Point{X: 10, Y: -50}), axle)
	f.line(draw.Machine, axle, rear, clamp.Scale(0.72))
	f.line(draw.Machine, front, head)
	f.line(shade(f.seat), clamp.Scale(0.72), clamp, mark.Add(plane.Point{X: 20, Y: -28}))
	f.line(shade(f.held), head, head.Add(plane.Point{X: -12, Y: 45}), hands.Add(plane.Point{X: -105, Y: -25}),
		hands.Add(plane.Point{X: -20, Y: -22}))
	f.line(shade(f.cranked), axle, plane.Direction(-math.Pi/3).Scale(f.crank))
	f.Dot(draw.Open, draw.Both, "", f.At(axle), 0.9)
	// The saddle and what the hands hold turn about the places that the tape goes to.
	turned := func(known bool, at plane.Point, by float64, pts ...plane.Point) {
		pose := plane.Pose{Origin: at, Turn: plane.Rad(by)}
		for i, p := range pts {
			pts[i] = pose.At(p)
		}
		f.line(shade(known), pts...)
	}
	turned(f.seat && f.level, mark, f.tilt, plane.Point{X: 165}, plane.Point{X: 60, Y: -2}, plane.Point{X: -40}, plane.Point{X: -105, Y: 12},
		plane.Point{X: -110, Y: -14}, plane.Point{X: -30, Y: -34}, plane.Point{X: 150, Y: -18}, plane.Point{X: 165})
	hold := []plane.Point{{X: -95, Y: -6}, {X: -8}, {X: 22, Y: 34}, {X: 40, Y: -8}, {X: 5, Y: -60}, {X: -40, Y: -150}, {X: -110, Y: -160}}
	if f.onPads {
		hold = []plane.Point{{X: -60}, {X: 60}, {X: 40, Y: -14}, {X: 230, Y: 6}, {X: 300, Y: 40}}
	}
	turned(f.held && f.turned, hands, f.hold, hold...)
	f.Touch(!f.seat, draw.Both, "", f.At(mark), plane.Point{})
	f.Touch(!f.held, draw.Both, "", f.At(hands), plane.Point{})
}

// shade is how surely something is drawn.
func shade(known bool) draw.Style {
	if known {
		return draw.Heavy
	}
	return draw.Faint
}

// whereToMeasure draws the tape or the level for a kind of reading, with what was read.
func (f *figure) whereToMeasure(kind string, d *draft) {
	room := draw.NewRoom(f.Picture, plane.Point{}, plane.Point{X: f.Width, Y: f.Height})
	measure := func(unit string, from, to plane.Point) {
		read := "?"
		if x, ok := d.value(kind); ok {
			read = words.Trimmed(x, 1) + unit
		}
		f.line(draw.Strong, from, to)
		f.Dot(draw.Open, draw.Both, "", f.At(from), 0.8)
		f.Dot(draw.Open, draw.Both, "", f.At(to), 0.8)
		room.Label(draw.Alert, f.At(from.Add(to).Scale(0.5)), read, math.Pi/2)
	}
	level := func(at plane.Point, angle, from, to, above float64) {
		along, up := plane.Direction(plane.Rad(angle)), plane.Point{Y: above}
		measure("°", at.Add(along.Scale(from)).Add(up), at.Add(along.Scale(to)).Add(up))
	}
	axle, corner := plane.Point{}, plane.Point{X: f.hands.X, Y: f.mark.Y}
	switch kind {
	case "feet.crank":
		measure(" mm", axle, plane.Direction(-math.Pi/3).Scale(f.crank))
	case "support":
		measure(" mm", f.mark.Add(plane.Point{Y: 60}), f.mark)
	case "saddle-tilt":
		level(f.mark, f.tilt, -130, 190, 22)
	case "saddle-height":
		measure(" mm", axle, f.mark)
	case "setback":
		plumb := plane.Point{X: f.mark.X}
		f.line(draw.Chain, f.mark, plumb)
		measure(" mm", plumb, axle)
	case "reach":
		f.line(draw.Chain, corner, f.hands)
		measure(" mm", f.mark, corner)
	case "drop":
		f.line(draw.Chain, f.mark, corner)
		measure(" mm", f.hands, corner)
	case "hood-angle", "pad-tilt":
		level(f.hands, f.hold, -120, 70, 26)
	}
}
