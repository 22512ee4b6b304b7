package rules

import (
	"fmt"
	"math"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// units are of what rules can be about.
var units = map[string]string{
	"saddle-length":       "mm",
	"saddle-tilt":         "°",  // of the straightedge on the saddle's highest points
	"nose-setback":        "mm", // saddle nose behind the bottom bracket's vertical
	"extension-reach":     "mm", // foremost end of the extensions ahead of the bottom bracket's vertical
	"extension-above-pad": "mm", // extension's end above the middle of the forearm support
	"pad-tilt":            "°",
	"pad-length":          "mm",
	"pad-width":           "mm",
	"bar-width":           "mm",
	"flare-out":           "mm", // drops wider than the tops, one side
	"clip-ons":            "",   // 1 when there are any
	"bb-height":           "mm",
	"front-centre":        "mm", // bottom bracket to front axle, horizontally
	"bar-ahead-of-axle":   "mm", // foremost point of the bar ahead of the front axle
}

// givenBy is the key of a bike file that gives a measure which no reading does.
var givenBy = map[string]string{
	"bb-height":         "bb_height in [frame]",
	"front-centre":      "front_axle in [frame]",
	"bar-ahead-of-axle": "front_axle in [frame], and a bar with its curve",
}

// barTube is half the diameter of a drop bar where it bends, 23.8 mm: trade practice.
const barTube = 11.9

// Tips says what of the extensions lies beyond the grip, mm; nil: not given.
type Tips struct {
	Ahead *float64 // foremost point, shifters included, ahead of the grip
	Above *float64 // highest point above the grip
}

// Reads is what a tape or level shows on a bike, mm or radians, with its standard uncertainty; ok is false where nothing says.
type Reads func(bike.Reading) (value, sigma float64, ok bool)

// measurer takes measures from a bike. Parts are exact; what the bike does not give is left out.
type measurer struct {
	*assembly.Layout
	reads Reads
	found map[string]Found
}

// Take takes what rules are about from a bike as it is laid out.
func Take(l *assembly.Layout, reads Reads, tips Tips) map[string]Found {
	m := measurer{l, reads, map[string]Found{}}
	if l.Shape != nil {
		m.exact("saddle-length", l.Shape.Length)
	}
	m.read("saddle-tilt", angle(bike.SaddleBody))
	m.read("nose-setback", bike.Reading{Kind: bike.Level, From: l.Bike.Seat(saddle.Nose), To: bb})
	if h := l.Bike.Frame.BBHeight; h != nil {
		m.exact("bb-height", *h)
	}
	if x := l.Bike.Frame.FrontAxleX; x != nil {
		m.exact("front-centre", *x)
	}
	if l.BarShape != nil {
		m.bar()
	}
	m.clipon(tips)
	return m.found
}

var bb = bike.Place{Kind: bike.AtBB}

func angle(of bike.Body) bike.Reading { return bike.Reading{Kind: bike.Angle, Of: of} }

func (m *measurer) exact(name string, v float64) { m.found[name] = Found{Value: v, Known: true} }

// read takes a measure that is a reading, mm or degrees.
func (m *measurer) read(name string, r bike.Reading) (f Found, ok bool) {
	v, sigma, ok := m.reads(r)
	if !ok {
		return f, false
	}
	if r.Kind == bike.Angle {
		v, sigma = plane.Deg(v), plane.Deg(sigma)
	}
	f = Found{Value: v, Sigma: sigma, Known: true}
	m.found[name] = f
	return f, true
}

func (m *measurer) bar() {
	bar := m.BarShape
	if bar.Width > 0 {
		m.found["bar-width"] = Found{Value: bar.Width, Known: true, Note: "width of the part file, taken as outside to outside"}
	}
	if !bar.Curved() {
		return
	}
	m.found["flare-out"] = Found{Value: bar.Drop * math.Tan(plane.Rad(bar.Flare)), Known: true,
		Note: fmt.Sprintf("from a flare of %g° over the drop", bar.Flare)}
	clamp, sigma, ok := m.reads(bike.Reading{Kind: bike.Level, From: bb, To: bike.Place{Kind: bike.AtBar}})
	if axle := m.Bike.Frame.FrontAxleX; axle != nil && ok {
		rotation, _, _ := m.reads(angle(bike.BarBody))
		bend := clamp + bar.BendCentre().Turn(rotation).X
		m.found["bar-ahead-of-axle"] = Found{Value: bend + bar.Bend + barTube - *axle, Sigma: sigma, Known: true,
			Note: "front of the bend, half a tube of 23.8 mm included"}
	}
}

func (m *measurer) clipon(tips Tips) {
	pad, grip := bike.Place{Kind: bike.AtPad}, bike.Place{Kind: bike.AtGrip}
	_, tilted := m.read("pad-tilt", angle(bike.PadBody))
	if m.Bike.Clipon == nil && !tilted {
		for _, name := range []string{"extension-reach", "extension-above-pad", "pad-tilt", "pad-length", "pad-width"} {
			m.found[name] = Found{Absent: true, Note: "no clip-on"}
		}
		m.found["clip-ons"] = Found{Known: true}
		return
	}
	m.exact("clip-ons", 1)
	c := m.Clipon
	if c == nil && m.Bike.Clipon != nil {
		c = m.Bike.Clipon.Only()
	}
	if c != nil {
		m.exact("pad-length", c.PadLength)
		m.exact("pad-width", c.PadWidth)
	}
	if reach, ok := m.read("extension-reach", bike.Reading{Kind: bike.Level, From: bb, To: grip}); ok {
		if tips.Ahead != nil {
			reach.Value += *tips.Ahead
		} else {
			reach.AtLeast, reach.Note = true, "to the grip: the end with its shifter lies further ahead, give it with --tip-ahead"
		}
		m.found["extension-reach"] = reach
	}
	if above, ok := m.read("extension-above-pad", bike.Reading{Kind: bike.Plumb, From: pad, To: grip}); ok {
		switch {
		case tips.Above != nil:
			above.Value += *tips.Above
		case above.Value >= 0:
			above.AtLeast, above.Note = true, "to the grip: the highest point of the end lies above it, give it with --tip-above"
		default:
			above.Note = "to the grip"
		}
		m.found["extension-above-pad"] = above
	}
}
