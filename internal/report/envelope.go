package report

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/diag"
	"carryover/internal/envelope"
	"carryover/internal/plane"
)

// Envelope is the outcome of `carryover envelope`, as JSON. Lengths mm, angles degrees, places from the BB.
type Envelope struct {
	Schema   int              `json:"schema"`
	Bike     string           `json:"bike"`
	Fitted   []string         `json:"fitted"` // taken for fitted, being the first of an open slot
	Extremes []Extreme        `json:"extremes"`
	Regions  []EnvelopeRegion `json:"regions"`
	For      []EnvelopeFor    `json:"for"`
}

// Extreme is the least and the greatest that a measure can be; not all of them at once.
type Extreme struct {
	Measure  string  `json:"measure"`
	From     string  `json:"from"`
	To       string  `json:"to"`
	Least    float64 `json:"least"`
	Greatest float64 `json:"greatest"`
}

// EnvelopeRegion is where a point can be brought, corners counter-clockwise.
type EnvelopeRegion struct {
	Point      string         `json:"point"`
	Turn       float64        `json:"turn"`        // of its part
	TurnFree   bool           `json:"turn_free"`   // the region is for this turn only
	Rail       bool           `json:"rail"`        // the rail stretch is part of it
	Stepped    bool           `json:"stepped"`     // polygon is the hull of the pieces
	AllPieces  bool           `json:"all_pieces"`  // every piece is listed
	LeverSteps bool           `json:"lever_steps"` // a free lever is taken every millimetre
	Polygon    [][2]float64   `json:"polygon"`
	Pieces     [][][2]float64 `json:"pieces"`
}

// EnvelopeFor is the room around one posture.
type EnvelopeFor struct {
	From    string         `json:"from"`
	Posture string         `json:"posture"`
	Crank   float64        `json:"crank"`
	Rooms   []EnvelopeRoom `json:"rooms"`
	Missing []string       `json:"missing"` // contacts for which nothing is fitted
}

// EnvelopeRoom is the room around one wanted contact. A distance is to the border of the region: positive
// inside; outside it is less the way into the region, null where the region is not that way.
type EnvelopeRoom struct {
	Contact  string              `json:"contact"`
	X        float64             `json:"x"`
	Y        float64             `json:"y"`
	Inside   bool                `json:"inside"`
	Nearest  float64             `json:"nearest"`
	TowardX  float64             `json:"toward_x"`
	TowardY  float64             `json:"toward_y"`
	Along    map[string]*float64 `json:"along"`
	TurnDown float64             `json:"turn_down"`
	TurnUp   float64             `json:"turn_up"`
	Region   EnvelopeRegion      `json:"region"`
}

func corners(poly []plane.Point) [][2]float64 {
	list := make([][2]float64, 0, len(poly))
	for _, p := range poly {
		list = append(list, [2]float64{p.X, p.Y})
	}
	return list
}

func newEnvelopeRegion(g envelope.Region) EnvelopeRegion {
	r := EnvelopeRegion{Point: g.Name, Turn: plane.Deg(g.Turn), TurnFree: g.TurnFree, Rail: g.Rail, Stepped: g.Pieces != nil,
		AllPieces: !g.PieceOpen, LeverSteps: g.Sampled, Polygon: corners(g.Polygon), Pieces: [][][2]float64{}}
	for _, p := range g.Pieces {
		r.Pieces = append(r.Pieces, corners(p))
	}
	return r
}

// NewEnvelope is what a machine can be, as JSON.
func NewEnvelope(file string, m *envelope.Machine, extremes []envelope.Extreme) Envelope {
	e := Envelope{Schema: 1, Bike: file, Fitted: append([]string{}, m.Fitted...), For: []EnvelopeFor{}}
	for _, x := range extremes {
		e.Extremes = append(e.Extremes, Extreme{Measure: x.Name, From: x.From, To: x.To, Least: x.Least, Greatest: x.Greatest})
	}
	for _, g := range m.Regions() {
		e.Regions = append(e.Regions, newEnvelopeRegion(g))
	}
	return e
}

// NewEnvelopeFor is the room around one posture, as JSON.
func NewEnvelopeFor(from, posture string, hands bike.Contact, crank float64, rooms []envelope.Room) EnvelopeFor {
	f := EnvelopeFor{From: from, Posture: posture, Crank: crank, Missing: []string{}}
	if !slices.ContainsFunc(rooms, func(r envelope.Room) bool { return r.Contact == hands }) {
		f.Missing = append(f.Missing, string(hands))
	}
	for _, r := range rooms {
		j := EnvelopeRoom{Contact: string(r.Contact), X: r.Want.X, Y: r.Want.Y, Inside: r.Inside, Nearest: r.Nearest,
			TowardX: r.Toward.X, TowardY: r.Toward.Y, Along: map[string]*float64{},
			TurnDown: plane.Deg(r.TurnDown), TurnUp: plane.Deg(r.TurnUp), Region: newEnvelopeRegion(r.Region)}
		for k, name := range envelope.Compass {
			j.Along[name] = nil
			if v := r.Along[k]; !math.IsNaN(v) {
				j.Along[name] = &v
			}
		}
		f.Rooms = append(f.Rooms, j)
	}
	return f
}

// Write prints the envelope for a person.
func (e *Envelope) Write(w io.Writer) {
	fmt.Fprintf(w, "What %s can be, each measure by itself, mm\n", diag.Visible(e.Bike))
	for _, f := range e.Fitted {
		lines(w, "  ", "taken for fitted, the first of an open slot: "+diag.Visible(f))
	}
	fmt.Fprintf(w, "  %-28s %8s  %8s   %s\n", "", "least", "greatest", "between")
	for _, x := range e.Extremes {
		fmt.Fprintf(w, "  %-28s %8.1f  %8.1f   %s, %s\n", x.Measure, x.Least, x.Greatest, x.From, x.To)
	}
	for _, f := range e.For {
		fmt.Fprintf(w, "\nRoom around %s on this machine, crank %g mm\n", diag.Visible(f.From+":"+f.Posture), f.Crank)
		for _, r := range f.Rooms {
			r.write(w)
		}
		for _, c := range f.Missing {
			fmt.Fprintf(w, "  %s: nothing fitted gives it a place\n", c)
		}
	}
}

func (r EnvelopeRoom) write(w io.Writer) {
	state := fmt.Sprintf("inside, nearest border %.1f mm %s", r.Nearest, toward(r))
	if !r.Inside {
		state = fmt.Sprintf("outside by %.1f mm; the region lies %s", -r.Nearest, toward(r))
	}
	at := fmt.Sprintf("%s wanted at %.1f, %.1f from the BB: %s", r.Contact, r.X, r.Y, state)
	if r.Region.TurnFree || r.Region.Rail {
		at += fmt.Sprintf(" (with the part turned %.1f°%s)", r.Region.Turn, map[bool]string{true: ", rails included", false: ""}[r.Region.Rail])
	}
	if r.Region.Stepped {
		at += "; steps between the borders not counted"
	}
	lines(w, "  ", at)
	var words []string
	for _, name := range envelope.Compass {
		if v := r.Along[name]; v != nil {
			words = append(words, fmt.Sprintf("%s %.1f", name, clean(*v)))
		} else {
			words = append(words, name+" -")
		}
	}
	lines(w, "    ", strings.Join(words, ", "))
	lines(w, "    ", fmt.Sprintf("turn: %.1f° down, %.1f° up", clean(r.TurnDown), clean(r.TurnUp)))
}

// toward names the compass direction nearest to that of the border.
func toward(r EnvelopeRoom) string {
	if r.TowardX == 0 && r.TowardY == 0 {
		return "right here"
	}
	k := int(math.Round(math.Atan2(r.TowardY, r.TowardX)/(math.Pi/4))+8) % 8
	return envelope.Compass[k]
}
