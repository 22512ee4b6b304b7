package saddle

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Reference names a point of a saddle that a tape can go to. The zero value is the nose.
type Reference struct {
	Kind RefKind
	MM   float64 // the width of ByWidth, the station of ByStation
}

// RefKind is the kind of a Reference.
type RefKind int

// The references of the trade: the tip of the nose, the end of the tail, half the length, the greatest
// width, where the rider's sit bones rest, a stated full width, a stated station.
const (
	Nose RefKind = iota
	Tail
	Mid
	Widest
	Sit
	ByWidth
	ByStation
)

// ReferenceNames lists the references as they are written in a file, in the order of the constants.
var ReferenceNames = []string{"nose", "tail", "mid", "widest", "sit", "width:W", "at:S"}

// ParseReference reads "nose", "mid", "width:80", "at:120" and their like.
func ParseReference(text string) (Reference, error) {
	if k := slices.Index(ReferenceNames[:ByWidth], text); k >= 0 {
		return Reference{Kind: RefKind(k)}, nil
	}
	name, number, _ := strings.Cut(text, ":")
	if name != "width" && name != "at" || name == text {
		return Reference{}, fmt.Errorf("%q is no place on a saddle; use one of %s", text, strings.Join(ReferenceNames, ", "))
	}
	v, err := strconv.ParseFloat(number, 64)
	switch {
	case err != nil || math.IsNaN(v) || math.IsInf(v, 0):
		return Reference{}, fmt.Errorf("%q wants a number of mm after the colon, like %s:120", text, name)
	case name == "width" && v <= 0:
		return Reference{}, fmt.Errorf("%q: a width is more than 0 mm", text)
	case v < 0:
		return Reference{}, fmt.Errorf("%q: a station is counted from the nose back, 0 or more", text)
	}
	return Reference{map[string]RefKind{"width": ByWidth, "at": ByStation}[name], v}, nil
}

// String writes the reference as ParseReference reads it.
func (r Reference) String() string {
	switch r.Kind {
	case ByWidth:
		return "width:" + decimal(r.MM)
	case ByStation:
		return "at:" + decimal(r.MM)
	}
	return ReferenceNames[r.Kind]
}

// MarshalText writes the reference as String does.
func (r Reference) MarshalText() ([]byte, error) { return []byte(r.String()), nil }

// decimal writes a number with at least one decimal, as the files do.
func decimal(v float64) string {
	s := strconv.FormatFloat(v, 'f', -1, 64)
	if !strings.Contains(s, ".") {
		s += ".0"
	}
	return s
}

// Station returns where a reference lies on this saddle, mm behind the nose. sitWidth is the width that
// carries the rider's sit bones, 0 when unknown. What the saddle does not have is an error: a width it
// never reaches, a station behind its tail, a sit reference without a rider.
func (s *Shape) Station(r Reference, sitWidth float64) (float64, error) {
	switch r.Kind {
	case Nose:
		return 0, nil
	case Tail:
		return s.Length, nil
	case Mid:
		return s.Length / 2, nil
	case Widest:
		station, _ := s.Widest()
		return station, nil
	case ByStation:
		if r.MM > s.Length {
			return 0, fmt.Errorf("station %g lies behind the tail of this saddle, which is %g mm long", r.MM, s.Length)
		}
		return r.MM, nil
	case ByWidth:
		station, fit := s.WidthStation(r.MM)
		if fit == TooNarrow {
			_, widest := s.Widest()
			return 0, fmt.Errorf("this saddle is nowhere %g mm wide; its widest is %g mm", r.MM, widest)
		}
		return station, nil
	default: // Sit
		if sitWidth <= 0 {
			return 0, fmt.Errorf("the sit reference needs the spacing of the sit bones, or a support")
		}
		station, _ := s.WidthStation(sitWidth)
		return station, nil
	}
}
