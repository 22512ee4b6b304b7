package carry

import "math"

// Mend is how far one setting of a step has to go, mm or radians, so that the step's gauge shows its Value where it now reads
// read: (Value - read) / (dgauge/dtravel), the derivative by a central difference with everything else where it is to be. It is
// the setting that the gauge answers most; ok is false where it answers none.
func (s *Solution) Mend(st Step, read float64) (setting int, by float64, ok bool) {
	const least = 0.05 // mm of gauge per mm of travel; less would ask for a long way to mend a short one
	setting, slope := s.answers(st.Gauge, st.Settings)
	if math.Abs(slope) < least {
		return 0, 0, false
	}
	return setting, (st.Value - read) / slope, true
}
