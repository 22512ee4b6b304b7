package draw

import (
	"fmt"
	"math"
	"strings"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// Scene is what the pictures show: two bikes as they stand, in one posture.
type Scene struct {
	Source, Target *assembly.Stance
	Crank          [2]float64 // of source and target, mm
	Posture        bike.Posture
	Contacts       []carry.Carried // of the target
	Touched        []assembly.Contact
	Show           Layer // Both, or only one bike
}

// NewScene shows a solution beside the bike it was carried from.
func NewScene(source *locate.Adjustment, s *carry.Solution) *Scene {
	v := &Scene{Source: source.Stance, Target: s.Stance, Crank: [2]float64{s.Source.Crank, s.Want.Crank},
		Posture: s.Position.Posture, Contacts: s.Contacts}
	v.Touched = []assembly.Contact{s.Position.Sit, s.Position.Hands}
	if s.Position.Second != nil {
		v.Touched = append(v.Touched, *s.Position.Second)
	}
	return v
}

// shows reports whether a layer is part of this picture.
func (v *Scene) shows(l Layer) bool { return v.Show == Both || v.Show == l }

// layers are the bikes shown, the target last so that it lies on top.
func (v *Scene) layers() []Layer {
	var list []Layer
	for _, l := range []Layer{Source, Target} {
		if v.shows(l) {
			list = append(list, l)
		}
	}
	return list
}

func (v *Scene) stance(l Layer) *assembly.Stance {
	if l == Source {
		return v.Source
	}
	return v.Target
}

func (v *Scene) crank(l Layer) float64 {
	if l == Source {
		return v.Crank[0]
	}
	return v.Crank[1]
}

// contacts are where the rider touches a bike.
func (v *Scene) contacts(l Layer) []assembly.Contact {
	if l == Source {
		return v.Touched
	}
	var list []assembly.Contact
	for _, c := range v.Contacts {
		list = append(list, c.Got)
	}
	return list
}

// line is the ink of a bike's parts.
func line(l Layer) Ink {
	if l == Source {
		return Dashed
	}
	return Heavy
}

// scales are the drawing scales to choose from, mm of bike per mm of paper, and the same ten, a hundred... times.
var scales = [...]float64{1, 1.25, 1.5, 2, 2.5, 3, 4, 5, 6, 7.5, 8}

// fitting is the largest drawing scale at which a size of width by height mm fits into a space on paper.
func fitting(width, height, space, tall float64) float64 {
	for ten := 1.0; ; ten *= 10 {
		for _, s := range scales {
			if width <= s*ten*space && height <= s*ten*tall || ten > 1e9 {
				return s * ten
			}
		}
	}
}

// frame leads from the side view to paper.
type frame struct {
	scale  float64
	origin plane.Point
}

func (f frame) at(p plane.Point) plane.Point {
	return plane.Point{X: f.origin.X + p.X/f.scale, Y: f.origin.Y - p.Y/f.scale}
}

func (f frame) all(pts []plane.Point) []plane.Point {
	out := make([]plane.Point, len(pts))
	for i, p := range pts {
		out[i] = f.at(p)
	}
	return out
}

// scaleName is a drawing scale as drawings state it.
func scaleName(scale float64) string { return fmt.Sprintf("1:%g", scale) }

// moved says a displacement in words, mm: "31.2 forward, 3.4 down".
func moved(d plane.Point) string {
	var words []string
	say := func(v float64, plus, minus string) {
		switch {
		case math.Abs(v) < 0.05:
		case v > 0:
			words = append(words, Fixed(v, 1)+" "+plus)
		default:
			words = append(words, Fixed(-v, 1)+" "+minus)
		}
	}
	say(d.X, "forward", "back")
	say(d.Y, "up", "down")
	if len(words) == 0 {
		return "unmoved"
	}
	return strings.Join(words, ", ")
}
