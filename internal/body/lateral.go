package body

import "math"

// Laterals are full widths across the bike, mm; 0: unknown and not counted.
type Laterals struct {
	Drops   float64 // between the hands in the drops, which flare carries further out than the tops
	Hands   float64 // between the hands, or between the pads' centres
	QFactor float64 // between the outer faces of the crank arms
}

// footOutside is how far the middle of the foot lies outside the crank arm's face, mm: common practice.
const footOutside = 55.0

// side is the length that a limb of that length shows in the side view when its ends lie half mm apart across the bike:
//
//	sqrt(limb² - half²)
//
// ok is false when it does not span half at all.
func side(limb, half float64) (seen float64, ok bool) {
	if math.Abs(half) > limb {
		return 0, false
	}
	return math.Sqrt((limb - half) * (limb + half)), true
}

// armOffset is how far each hand lies outside its shoulder, mm; 0 when either width is unknown.
func (w Laterals) armOffset(s *Segments) float64 {
	if w.Hands == 0 || s.Shoulders.MM == 0 {
		return 0
	}
	return (w.Hands - s.Shoulders.MM) / 2
}

// legOffset is how far each foot lies outside its hip joint, mm; both widths are known.
func (w Laterals) legOffset(s *Segments) float64 {
	return w.QFactor/2 + footOutside - s.Hips.MM/2
}

// reachLost is what a spacing of the hands takes from the reach of an arm of that length, mm: arm - sqrt(arm² - half²)
// with half the difference between the hands' and the shoulders' widths.
func reachLost(arm, hands, shoulders float64) float64 {
	seen, ok := side(arm, (hands-shoulders)/2)
	if !ok {
		return math.NaN()
	}
	return arm - seen
}

// flareOut is how much wider the drops are than the tops on one side, mm, for a drop in mm and a flare in radians.
func flareOut(drop, flare float64) float64 { return drop * math.Tan(flare) }
