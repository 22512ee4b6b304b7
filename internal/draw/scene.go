package draw

import (
	"fmt"
	"math"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/job"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/words"
)

// Scene is what the pictures show: two bikes as they stand in one posture, or one alone.
type Scene struct {
	Posture bike.Posture
	Show    Layer  // Both, or only one bike
	Date    string // for the title block; may be empty
	bikes   map[Layer]*standing
	names   map[Layer]string
	result  *job.Result // nil: one bike alone
}

// standing is one bike as it stands.
type standing struct {
	*assembly.Placement
	crank    float64 // mm
	contacts []assembly.Contact
	travels  []float64 // of its adjusters, mm or radians; NaN: not known
}

// Alone shows one bike as its readings have it.
func Alone(a *locate.Adjustment, pos *locate.Position) *Scene {
	b := a.Placement.Bike
	s := &standing{Placement: a.Placement, crank: b.Feet.Crank, contacts: []assembly.Contact{pos.Sit, pos.Hands}}
	if pos.Second != nil {
		s.contacts = append(s.contacts, *pos.Second)
	}
	for i := range b.Adjusters {
		at := math.NaN()
		if m, ok := b.Marks[b.Adjusters[i].Name]; ok {
			at = b.Adjusters[i].Travel(m)
		}
		s.travels = append(s.travels, at)
	}
	return &Scene{Posture: pos.Posture, Show: From, bikes: map[Layer]*standing{From: s}, names: map[Layer]string{From: words.Bike(b)}}
}

// NewScene shows a position carried, over the bike it was carried from.
func NewScene(r *job.Result) *Scene {
	v := Alone(r.Source.Adjusted, r.Position)
	v.Show, v.result = Both, r
	to := &standing{Placement: r.Placement, crank: r.Want.Crank, travels: make([]float64, len(r.Target.Adjusters))}
	for _, c := range r.Contacts {
		to.contacts = append(to.contacts, c.Got)
	}
	for _, set := range r.Settings {
		if set.Adjuster >= 0 {
			to.travels[set.Adjuster] = set.Travel
		}
	}
	v.bikes[To] = to
	v.names[From], v.names[To] = words.Names(r.Source.Bike, r.Target)
	return v
}

// layers are the bikes shown, the one that is set up last so that it lies on top.
func (v *Scene) layers() []Layer {
	var list []Layer
	for _, l := range []Layer{From, To} {
		if v.bikes[l] != nil && (v.Show == Both || v.Show == l) {
			list = append(list, l)
		}
	}
	return list
}

// top is the bike whose numbers are told.
func (v *Scene) top() Layer { return v.layers()[len(v.layers())-1] }

// both reports whether two bikes lie over each other.
func (v *Scene) both() bool { return len(v.layers()) == 2 }

// parts is the style of a bike's parts: the first is dashed only beside the second.
func (v *Scene) parts(l Layer) Style {
	if l == From && v.both() {
		return Dashed
	}
	return Heavy
}

// carried are the contacts of the bike that is set up, nil where it is not shown.
func (v *Scene) carried() []carry.Carried {
	if v.top() != To {
		return nil
	}
	return v.result.Contacts
}

// place is where a point of a bike lies; it is not finite where the bike does not have it.
func (v *Scene) place(l Layer, at bike.Place) plane.Point {
	if h := v.bikes[l].Bike.Frame.BBHeight; h != nil && at.Kind == bike.AtFloor {
		return plane.Point{Y: -*h}
	}
	q, err := v.bikes[l].Where(at)
	if err != nil {
		return plane.Point{X: math.NaN(), Y: math.NaN()}
	}
	return q
}

// seat is the station that carries a posture, mm; of a saddle with a shape.
func (s *standing) seat(p bike.Posture) float64 {
	if s.SitAt != nil {
		return *s.SitAt
	}
	station, _ := s.Shape.WidthStation(p.Support)
	return station
}

// ridden reports whether anybody sits on it: a bike of no posture is drawn without contacts.
func (v *Scene) ridden() bool { return v.Posture.Name != "" }

// sigma is the ± of a reading of the bike set up, 0 where it is not known.
func (v *Scene) sigma(of bike.Reading) float64 {
	if v.top() != To {
		return 0
	}
	for _, c := range v.result.Checks {
		if c.Reading.Kind == of.Kind && c.Reading.From == of.From && c.Reading.To == of.To {
			return c.SigmaTotal
		}
	}
	return 0
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

// scaleName is a drawing scale as drawings state it.
func scaleName(scale float64) string { return fmt.Sprintf("1:%g", scale) }

// around is the rectangle that holds points.
func around(pts ...plane.Point) (lo, hi plane.Point) {
	lo, hi = plane.Point{X: math.Inf(1), Y: math.Inf(1)}, plane.Point{X: math.Inf(-1), Y: math.Inf(-1)}
	for _, p := range pts {
		lo.X, lo.Y = math.Min(lo.X, p.X), math.Min(lo.Y, p.Y)
		hi.X, hi.Y = math.Max(hi.X, p.X), math.Max(hi.Y, p.Y)
	}
	return lo, hi
}
