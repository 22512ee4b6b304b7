package catalog

import (
	"fmt"
	"math"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/diag"
	"carryover/internal/partfile"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Line is a part with its main sizes in words.
type Line struct {
	Kind  string `json:"kind"`
	ID    string `json:"id"`
	Name  string `json:"name"`
	Sizes string `json:"sizes"`
	File  string `json:"file"`
}

// Sheet is one part with its shape keys as its file has them, mm and degrees, and for a saddle what follows from them.
type Sheet struct {
	Schema  int            `json:"schema"`
	Kind    string         `json:"kind"`
	ID      string         `json:"id"`
	Name    string         `json:"name"`
	Version string         `json:"version"`
	File    string         `json:"file"`
	Shape   map[string]any `json:"shape"`
	Saddle  *SaddleSheet   `json:"saddle,omitempty"`
}

// SaddleSheet is a saddle's curves sampled every 20 mm and at the tail, where it reaches which width, and its
// references. Lengths mm.
type SaddleSheet struct {
	Curve      []CurvePoint `json:"curve"`
	Widths     []WidthAt    `json:"widths"`
	References []RefAt      `json:"references"`
}

// CurvePoint is the full width and the height against the straightedge at a station.
type CurvePoint struct {
	Station float64 `json:"station"`
	Width   float64 `json:"width"`
	Top     float64 `json:"top"`
}

// WidthAt is the most forward station that is as wide.
type WidthAt struct {
	Width   float64 `json:"width"`
	Station float64 `json:"station"`
}

// RefAt is where a reference lies.
type RefAt struct {
	Reference string  `json:"reference"`
	Station   float64 `json:"station"`
	Width     float64 `json:"width"`
	Top       float64 `json:"top"`
}

// Distances of the samples, mm.
const curveStep, widthStep = 20.0, 10.0

// NewLine is a part's line in the list.
func NewLine(p *partfile.Part) Line {
	return Line{Kind: p.Kind.String(), ID: p.ID, Name: p.Name, Sizes: sizes(p), File: p.File}
}

// sizes are the numbers by which a part is told from its neighbours.
func sizes(p *partfile.Part) string {
	switch p.Kind {
	case partfile.Saddle:
		_, wide := p.Saddle.Widest()
		return fmt.Sprintf("%.0f x %.0f, sag %s", p.Saddle.Length, wide, plain(p.Saddle.Sag))
	case partfile.Bar:
		if p.Bar.Hood != nil {
			return fmt.Sprintf("hand at %s, %s; width %s", plain(p.Bar.Hood.X), plain(p.Bar.Hood.Y), plain(p.Bar.Width))
		}
		return fmt.Sprintf("reach %s, drop %s, width %s", plain(p.Bar.Reach), plain(p.Bar.Drop), plain(p.Bar.Width))
	case partfile.Lever:
		return fmt.Sprintf("hollow %s, %s; %s°", plain(p.Lever.Along), plain(p.Lever.Out), plainDegrees(p.Lever.Angle))
	case partfile.Stem:
		return fmt.Sprintf("%s, %s°", plain(p.Stem.Length), plainDegrees(p.Stem.Angle))
	}
	c := p.Clipon
	return fmt.Sprintf("base %s, stack to %s, tilt %s", plain(c.Base), plain(c.Stacks[len(c.Stacks)-1]), span(
		plane.Deg(c.Tilt[0]), plane.Deg(c.Tilt[1]), "°"))
}

// plainNumber is a number with at most one decimal.
func plain(v float64) string { return strings.TrimSuffix(fmt.Sprintf("%.1f", v), ".0") }

func plainDegrees(rad float64) string { return plain(plane.Deg(rad)) }

// dustless takes off what conversions leave beyond a thousandth.
func dustless(v float64) float64 { return math.Round(v*1e3) / 1e3 }

// plainSpan is a number, or two with "to" between them.
func span(lo, hi float64, unit string) string {
	if lo == hi {
		return plain(lo) + unit
	}
	return plain(lo) + " to " + plain(hi) + unit
}

// NewSheet is everything about a part.
func NewSheet(p *partfile.Part) Sheet {
	s := Sheet{Schema: 1, Kind: p.Kind.String(), ID: p.ID, Name: p.Name, File: p.File, Version: bike.VersionOf(p.Shape()), Shape: shapeKeys(p)}
	if p.Kind == partfile.Saddle {
		s.Saddle = newSaddleSheet(p.Saddle)
	}
	return s
}

// shapeKeys are the keys of the part file, less the curves of a saddle, which are sampled instead.
func shapeKeys(p *partfile.Part) map[string]any {
	point := func(at *plane.Point) [2]float64 { return [2]float64{at.X, at.Y} }
	deg := func(rad float64) float64 { return dustless(plane.Deg(rad)) }
	switch p.Kind {
	case partfile.Saddle:
		r := p.Saddle.Rail
		return map[string]any{"length": p.Saddle.Length, "sag": p.Saddle.Sag,
			"rail": map[string]float64{"height": r.Height, "from": r.From, "to": r.To}}
	case partfile.Bar:
		b := p.Bar
		keys := map[string]any{}
		for key, v := range map[string]float64{"reach": b.Reach, "drop": b.Drop, "bend": b.Bend, "width": b.Width,
			"flare": b.Flare, "clamp": b.Clamp} {
			if v != 0 {
				keys[key] = v
			}
		}
		if b.Drops != nil {
			keys["drops"] = point(b.Drops)
		}
		if b.Hood != nil {
			keys["hood"], keys["hood_angle"] = point(b.Hood), deg(b.HoodAngle)
		}
		return keys
	case partfile.Lever:
		return map[string]any{"hollow": [2]float64{p.Lever.Along, p.Lever.Out}, "angle": deg(p.Lever.Angle)}
	case partfile.Stem:
		return map[string]any{"length": p.Stem.Length, "angle": deg(p.Stem.Angle), "height": p.Stem.Height}
	}
	c := p.Clipon
	return map[string]any{"base": c.Base, "stacks": c.Stacks, "holes": c.Holes, "spacing": c.Spacings, "gap": c.Gap,
		"tilt": [2]float64{deg(c.Tilt[0]), deg(c.Tilt[1])}, "tilt_step": deg(c.TiltStep),
		"pad":  map[string]float64{"length": c.PadLength, "width": c.PadWidth},
		"grip": map[string]any{"forward": c.GripForward, "rise": c.GripRise}}
}

func newSaddleSheet(s *saddle.Shape) *SaddleSheet {
	sheet := &SaddleSheet{}
	at := func(station float64) CurvePoint {
		return CurvePoint{station, dustless(s.Width(station)), dustless(s.Top(station))}
	}
	for station := 0.0; station < s.Length; station += curveStep {
		sheet.Curve = append(sheet.Curve, at(station))
	}
	sheet.Curve = append(sheet.Curve, at(s.Length))
	_, wide := s.Widest()
	for w := widthStep; w <= wide; w += widthStep {
		if station, fit := s.WidthStation(w); fit == saddle.Reached {
			sheet.Widths = append(sheet.Widths, WidthAt{w, dustless(station)})
		}
	}
	for _, kind := range []saddle.RefKind{saddle.Nose, saddle.Mid, saddle.Widest, saddle.Tail} {
		ref := saddle.Reference{Kind: kind}
		if station, err := s.Station(ref, 0); err == nil {
			sheet.References = append(sheet.References, RefAt{ref.String(), station, dustless(s.Width(station)), dustless(s.Top(station))})
		}
	}
	return sheet
}

// Linted is what was found in part files.
type Linted struct {
	Schema   int     `json:"schema"`
	Files    int     `json:"files"`
	Errors   int     `json:"errors"`
	Warnings int     `json:"warnings"`
	Findings []Fault `json:"findings"`
}

// Fault is one thing to mend in a file. Line and column count from 1, columns in characters; 0: the file as a whole.
type Fault struct {
	Severity string `json:"severity"`
	Code     string `json:"code"`
	File     string `json:"file"`
	Line     int    `json:"line"`
	Column   int    `json:"column"`
	Text     string `json:"text"`
	Mend     string `json:"mend"`
}

// NewLinted counts and lists what was found in so many files.
func NewLinted(files int, found diag.List) Linted {
	l := Linted{Schema: 1, Files: files, Findings: []Fault{}}
	for _, d := range found {
		if d.Severity == diag.Error {
			l.Errors++
		} else {
			l.Warnings++
		}
		f := Fault{Severity: d.Severity.String(), Code: d.Code, Text: d.Summary, Mend: d.Detail}
		if d.Span != nil {
			f.File, f.Line, f.Column = d.Span.File, d.Span.Start.Line, d.Span.Start.Col
		}
		l.Findings = append(l.Findings, f)
	}
	return l
}
