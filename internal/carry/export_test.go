package carry

import "carryover/internal/assembly"

// StandAt is the target with every setting at a travel of its own, mm or radians, in the order of Settings.
func (s *Solution) StandAt(travels []float64) *assembly.Placement { return s.at(travels).Placement }
