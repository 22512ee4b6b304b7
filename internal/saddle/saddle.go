// Package saddle models a saddle: its outline from above, its profile along the middle, how far it gives
// under the rider, and where on it a tape goes or a rider sits.
//
// Stations are distances behind the nose along a straightedge laid lengthwise on the saddle, mm; heights
// are measured from that straightedge and are never above it. Between listed stations both curves are
// monotone piecewise cubics (Fritsch and Butland 1984), so no bump is invented.
package saddle

import (
	"fmt"
	"math"
	"slices"

	"carryover/internal/plane"
)

// Rail is the straight stretch of the rails: its centre line lies Height below the straightedge, and a
// clamp may hold it anywhere from station From to station To, mm.
type Rail struct{ Height, From, To float64 }

// Mid is the station in the middle of the stretch, where a clamp is taken to be of which nothing is said.
func (r Rail) Mid() float64 { return r.From + (r.To-r.From)/2 }

// Sigma is the standard uncertainty of that, mm: any place of the stretch is as likely, half of it over the root of 3.
func (r Rail) Sigma() float64 { return (r.To - r.From) / 2 / math.Sqrt(3) }

// Shape is a saddle. Build one with New.
type Shape struct {
	Length float64 // nose to tail, mm
	Sag    float64 // how far the surface gives under the seated rider, mm
	Rail   Rail

	width, top curve
}

// New builds a saddle from its listed stations. width holds [station, full width] and top [station,
// height], mm, at least two rows each, stations rising from 0 to length. The rules of the part file
// (heights, plausibility) are judged where the file is read; New returns an error only for what would
// make the curves undefined.
func New(length float64, width, top [][2]float64, sag float64, rail Rail) (*Shape, error) {
	for _, rows := range []struct {
		name   string
		points [][2]float64
	}{{"width", width}, {"top", top}} {
		p := rows.points
		if len(p) < 2 || p[0][0] != 0 || p[len(p)-1][0] != length {
			return nil, fmt.Errorf("saddle: %s needs stations from 0 to the length %g", rows.name, length)
		}
		for i := 1; i < len(p); i++ {
			if !(p[i][0] > p[i-1][0]) {
				return nil, fmt.Errorf("saddle: %s station %g does not lie behind %g", rows.name, p[i][0], p[i-1][0])
			}
		}
	}
	return &Shape{Length: length, Sag: sag, Rail: rail, width: newCurve(width), top: newCurve(top)}, nil
}

// Listed are the rows that the shape was made of: widths and heights by station, mm.
func (s *Shape) Listed() (width, top [][2]float64) { return s.width.rows(1, 1), s.top.rows(1, 1) }

// Stretched fits the shape to a saddle of that length and greatest width, mm; 0 keeps what it has. Stations and the rail
// stretch go with the length, widths with the greatest width, heights stay.
func (s *Shape) Stretched(length, width float64) (*Shape, error) {
	along, across := 1.0, 1.0
	if length > 0 {
		along = length / s.Length
	}
	if _, widest := s.Widest(); width > 0 {
		across = width / widest
	}
	rail := Rail{Height: s.Rail.Height, From: s.Rail.From * along, To: s.Rail.To * along}
	w, t := s.width.rows(along, across), s.top.rows(along, 1)
	end := w[len(w)-1][0] // the length, but for rounding
	t[len(t)-1][0] = end
	return New(end, w, t, s.Sag, rail)
}

// Width returns the full width at a station, mm; stations beyond the ends count as the ends.
func (s *Shape) Width(station float64) float64 { return s.width.height(station) }

// Top returns the height of the unloaded surface at a station against the straightedge, mm (never above 0).
func (s *Shape) Top(station float64) float64 { return s.top.height(station) }

// Stations returns the listed stations of the outline and of the profile, merged, rising.
func (s *Shape) Stations() []float64 {
	return slices.Compact(slices.Sorted(slices.Values(slices.Concat(s.width.at, s.top.at))))
}

// Widest returns the most forward station of greatest width and that width, mm. A monotone piece has its
// greatest value at an end, so only the listed stations need to be compared.
func (s *Shape) Widest() (station, width float64) {
	for i, w := range s.width.value {
		if w > width {
			station, width = s.width.at[i], w
		}
	}
	return station, width
}

// Meeting says how a width meets a saddle.
type Meeting int

// How a width meets a saddle: reached somewhere behind the nose, nowhere (the saddle is too narrow, and
// carries at its widest), or already exceeded at the nose.
const (
	Reached Meeting = iota
	TooNarrow
	AtNose
)

// WidthStation returns the most forward station at which the full width reaches w, mm, and how the two
// meet. A saddle nowhere as wide gives the widest station, one wider at its nose gives 0.
func (s *Shape) WidthStation(w float64) (float64, Meeting) {
	at, value := s.width.at, s.width.value
	if value[0] >= w {
		if value[0] > w {
			return 0, AtNose
		}
		return 0, Reached
	}
	for i := 1; i < len(at); i++ {
		if value[i] == w { // exactly: bisection is loose where the outline ends level
			return at[i], Reached
		}
		if value[i] > w {
			return s.crossing(at[i-1], at[i], w), Reached
		}
	}
	station, _ := s.Widest()
	return station, TooNarrow
}

// crossing bisects a rising monotone piece for the first station whose width is w; 60 halvings of at most
// a few hundred mm end below the spacing of floats.
func (s *Shape) crossing(lo, hi, w float64) float64 {
	for range 60 {
		mid := lo + (hi-lo)/2
		if v, _ := s.width.of(mid); v < w {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}

// Point returns the unloaded surface point at a station in the saddle's own frame: origin on the
// straightedge above the nose, x forward, so a station lies at x = -station.
func (s *Shape) Point(station float64) plane.Point {
	return plane.Point{X: -station, Y: s.Top(station)}
}

// Loaded returns the surface point at a station once the rider has sunk in by the sag.
func (s *Shape) Loaded(station float64) plane.Point {
	return s.Point(station).Sub(plane.Point{Y: s.Sag})
}

// RailPoint returns the point of the rails that a clamp holding a station has at its centre.
func (s *Shape) RailPoint(station float64) plane.Point {
	return plane.Point{X: -station, Y: -s.Rail.Height}
}

// Slope returns the rise of the profile per mm of station, 0 beyond the ends.
func (s *Shape) Slope(station float64) float64 { return s.top.slope(station) }

// Widening returns how much wider the saddle gets per mm of station, 0 beyond the ends.
func (s *Shape) Widening(station float64) float64 { return s.width.slope(station) }
