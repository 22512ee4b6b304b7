package bike

import (
	"math"

	"carryover/internal/diag"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Kind is what a reading measures.
type Kind int

// The kinds of reading: a straight distance, a horizontal and a vertical difference, an angle, and the
// distance from the BB along the seat-tube line to the saddle's top.
const (
	Line Kind = iota
	Level
	Plumb
	Angle
	SeatTube
)

// KindNames are the words of the file, in the order of the constants.
var KindNames = []string{"line", "level", "plumb", "angle", "seat-tube"}

func (k Kind) String() string { return KindNames[k] }

// Place is a point that a tape can go to.
type Place struct {
	Kind PlaceKind
	Ref  saddle.Reference // of a point on the saddle
}

// Sits reports whether the place is where the rider sits.
func (p Place) Sits() bool { return p.Kind == AtSaddle && p.Ref.Kind == saddle.Sit }

// PlaceKind is the kind of a Place.
type PlaceKind int

// The places of the side view.
const (
	AtFloor PlaceKind = iota
	AtBB
	AtSaddle
	AtBar
	AtHood
	AtDrop
	AtPad
	AtPadRear
	AtPadFront
	AtGrip
)

// PlaceNames are the words of the file, in the order of the constants; "saddle" is followed by a reference.
var PlaceNames = []string{"floor", "bb", "saddle", "bar", "hood", "drop", "pad", "pad.rear", "pad.front", "grip"}

func (p Place) String() string {
	if p.Kind == AtSaddle {
		return "saddle." + p.Ref.String()
	}
	return PlaceNames[p.Kind]
}

// MarshalText is the word of the file.
func (p Place) MarshalText() ([]byte, error) { return []byte(p.String()), nil }

// Body is something whose angle can be read.
type Body int

// The bodies with an angle.
const (
	SaddleBody Body = iota
	BarBody
	HoodBody
	PadBody
)

// BodyNames are the words of the file, in the order of the constants.
var BodyNames = []string{"saddle", "bar", "hood", "pad"}

func (b Body) String() string { return BodyNames[b] }

// Reading is one measurement with its standard uncertainty. Readings go to unloaded surfaces.
type Reading struct {
	Index    int // counted from 1 in file order
	Kind     Kind
	From, To Place // line, level, plumb
	Of       Body  // angle
	Value    float64
	Sigma    float64 // mm, or radians for an angle (as Value)
	Written  string  // how the file said it, in words: "saddle-height at mid"
	Where    diag.Span
	Source   string // the line of the file
	By, Date string // who took it and when; "": not said
}

// What nearly all saddles are from the BB, mm (common practice).
const LeastHeight, MostHeight = 500, 950

// How far behind the BB nearly all marks on saddles are, half a saddle behind the nose more or less, mm (common practice).
const LeastBehind, MostBehind = 50, 450

// UsualSigma is the standard uncertainty of a reading of its kind where nobody says one, mm or radians: common practice with a steel
// tape, a plumb line and a digital level.
func (r *Reading) UsualSigma() float64 {
	switch {
	case r.Kind == Angle:
		return plane.Rad(0.5)
	case r.Kind == SeatTube, r.From.Kind == AtFloor, r.To.Kind == AtFloor:
		return 3
	}
	return 2
}

// Centimetres is what a level or plumb distance is, mm, if it was read in centimetres, which a small one with a decimal may have
// been: 4.5 for 45. 0: nothing says so.
func Centimetres(v float64) float64 {
	const least, most = 1.5, 16 // mm: less hardly matters, ten times more is no usual setback or drop
	if size := math.Abs(v); size < least || size > most || size == math.Trunc(size) {
		return 0
	}
	return math.Round(v*100) / 10
}

// Keys are the words of the file for the kind of a reading and for what it goes from and to, or is the angle of.
type Keys struct {
	Kind string `json:"kind"`
	From string `json:"from,omitempty"`
	To   string `json:"to,omitempty"`
	Of   string `json:"of,omitempty"`
}

// Keys are the words of the file for what is read.
func (r *Reading) Keys() Keys {
	switch r.Kind {
	case Angle:
		return Keys{Kind: r.Kind.String(), Of: r.Of.String()}
	case SeatTube:
		return Keys{Kind: r.Kind.String()}
	}
	return Keys{Kind: r.Kind.String(), From: r.From.String(), To: r.To.String()}
}

// Quantity is the value, which knows whether it is an angle.
func (r *Reading) Quantity() plane.Quantity {
	if r.Kind == Angle {
		return plane.Turning(plane.Angle(r.Value))
	}
	return plane.Length(r.Value)
}

// Calibration is one standing of a machine with the readings taken there.
type Calibration struct {
	Name     string // optional
	Marks    map[string]float64
	Readings []Reading
}
