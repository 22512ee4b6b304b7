package catalog

import (
	"fmt"
	"math"

	"carryover/internal/bike"
	"carryover/internal/diag"
	"carryover/internal/partfile"
	"carryover/internal/plane"
	"carryover/internal/saddle"
	"carryover/internal/written"
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
		return fmt.Sprintf("%.0f x %.0f, sag %s", p.Saddle.Length, wide, written.Short(p.Saddle.Sag))
	case partfile.Bar:
		if p.Bar.Hood != nil {
			return fmt.Sprintf("hand at %s, %s; width %s", written.Short(p.Bar.Hood.X), written.Short(p.Bar.Hood.Y), written.Short(p.Bar.Width))
		}
		return fmt.Sprintf("reach %s, drop %s, width %s", written.Short(p.Bar.Reach), written.Short(p.Bar.Drop), written.Short(p.Bar.Width))
	case partfile.Lever:
		return fmt.Sprintf("hollow %s, %s; %s°", written.Short(p.Lever.Along), written.Short(p.Lever.Out), degrees(p.Lever.Angle))
	case partfile.Stem:
		return fmt.Sprintf("%s, %s°", written.Short(p.Stem.Length), degrees(p.Stem.Angle))
	}
	c := p.Clipon
	return fmt.Sprintf("base %s, stack to %s, tilt %s", written.Short(c.Base), written.Short(c.Stacks[len(c.Stacks)-1]), span(
		plane.Deg(c.Tilt[0]), plane.Deg(c.Tilt[1]), "°"))
}

func degrees(rad float64) string { return written.Short(plane.Deg(rad)) }

// dustless takes off what conversions leave beyond a thousandth.
func dustless(v float64) float64 { return math.Round(v*1e3) / 1e3 }

// span is a number, or two with "to" between them.
func span(lo, hi float64, unit string) string {
	if lo == hi {
		return written.Short(lo) + unit
	}
	return written.Short(lo) + " to " + written.Short(hi) + unit
}

// NewSheet is everything about a part.
func NewSheet(p *partfile.Part) Sheet {
	s := Sheet{Schema: 1, Kind: p.Kind.String(), ID: p.ID, Name: p.Name, File: p.File, Version: bike.VersionOf(p.Shape()), Shape: p.Stated}
	if p.Kind == partfile.Saddle {
		s.Saddle = newSaddleSheet(p.Saddle)
	}
	return s
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
	Schema   int       `json:"schema"`
	Files    int       `json:"files"`
	Errors   int       `json:"errors"`
	Warnings int       `json:"warnings"`
	Findings diag.List `json:"findings"`
}

// NewLinted counts what was found in so many files.
func NewLinted(files int, found diag.List) Linted {
	l := Linted{Schema: 1, Files: files, Findings: append(diag.List{}, found...)}
	for _, d := range found {
		if d.Severity == diag.Error {
			l.Errors++
		} else {
			l.Warnings++
		}
	}
	return l
}
