package saddle

import (
	"math"
	"slices"

	"carryover/internal/plane"
)

// curve is a monotone piecewise cubic over stations: Fritsch and Butland, "A method for constructing local monotone piecewise cubic
// interpolants", SIAM J. Sci. Stat. Comput. 5 (1984). It is what gonum's interp.FritschButland is, which would bring a whole matrix
// library along; a test holds the two together.
type curve struct {
	at, value []float64    // two at least, stations rising
	cubics    [][4]float64 // between two stations, in powers of the way from the first
	last      float64      // the slope at the last
}

func newCurve(points [][2]float64) curve {
	c := curve{}
	for _, p := range points {
		c.at, c.value = append(c.at, p[0]), append(c.value, p[1])
	}
	m := len(points) - 1
	chords, slopes := make([]float64, m), make([]float64, m+1)
	for i := range chords {
		chords[i] = (c.value[i+1] - c.value[i]) / (c.at[i+1] - c.at[i])
	}
	if m == 1 {
		slopes[0], slopes[1] = chords[0], chords[0]
	} else {
		x := c.at
		for i := 1; i < m; i++ {
			if chords[i]*chords[i-1] > 0 { // else a peak, a dip or a flat: 0
				slopes[i] = 3 * (x[i+1] - x[i-1]) / ((2*x[i+1]-x[i-1]-x[i])/chords[i-1] + (x[i+1]+x[i]-2*x[i-1])/chords[i])
			}
		}
		slopes[0] = endSlope(chords[0], chords[1], x[1]-x[0], x[2]-x[0], x[1]+x[2]-2*x[0])
		slopes[m] = endSlope(chords[m-1], chords[m-2], x[m]-x[m-1], x[m]-x[m-2], 2*x[m]-x[m-2]-x[m-1])
	}
	for i := range chords {
		dx, dy := c.at[i+1]-c.at[i], c.value[i+1]-c.value[i]
		a, b := slopes[i], slopes[i+1]
		c.cubics = append(c.cubics, [4]float64{c.value[i], a, (3*dy - (2*a+b)*dx) / dx / dx, (-2*dy + (a+b)*dx) / dx / dx / dx})
	}
	c.last = slopes[m]
	return c
}

// endSlope is the slope at an end, from the chords next to it and further in.
func endSlope(next, inner, near, far, f float64) float64 {
	g := (f*next - near*inner) / far
	switch {
	case g*next <= 0:
		return 0
	case next*inner <= 0 && math.Abs(g) > 3*math.Abs(next):
		return 3 * next
	}
	return g
}

// of is the value and the slope at a station within the ends.
func (c *curve) of(station float64) (value, slope float64) {
	i, found := slices.BinarySearch(c.at, station)
	if !found {
		i--
	}
	if i = max(i, 0); i == len(c.cubics) {
		return c.value[i], c.last
	}
	d, k := station-c.at[i], &c.cubics[i]
	return ((k[3]*d+k[2])*d+k[1])*d + k[0], (3*k[3]*d+2*k[2])*d + k[1]
}

// height is the value at a station; beyond the ends that of the end.
func (c *curve) height(station float64) float64 {
	v, _ := c.of(plane.Clamp(station, 0, c.at[len(c.at)-1]))
	return v
}

// slope is how much the value rises per mm of station, 0 beyond the ends.
func (c *curve) slope(station float64) float64 {
	if station < 0 || station > c.at[len(c.at)-1] {
		return 0
	}
	_, s := c.of(station)
	return s
}

func (c *curve) rows(along, across float64) [][2]float64 {
	p := make([][2]float64, len(c.at))
	for i := range p {
		p[i] = [2]float64{c.at[i] * along, c.value[i] * across}
	}
	return p
}
