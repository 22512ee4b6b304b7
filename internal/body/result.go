package body

import (
	"encoding/json"
	"math"
	"slices"

	"carryover/internal/plane"
)

// Figure is one of the numbers that a turn comes to: its key in JSON, what a person calls it, and its value, NaN where it
// is not known.
type Figure struct {
	Key, Name string
	of        func(*Numbers) plane.Quantity
}

// Of is the measure of a turn; ok is false where it is not known.
func (m Figure) Of(n *Numbers) (q plane.Quantity, ok bool) {
	q = m.of(n)
	return q, !math.IsNaN(q.Value())
}

// length and angle give a number of a turn its unit.
func length(of func(*Numbers) float64) func(*Numbers) plane.Quantity {
	return func(n *Numbers) plane.Quantity { return plane.Length(of(n)) }
}

func angle(of func(*Numbers) float64) func(*Numbers) plane.Quantity {
	return func(n *Numbers) plane.Quantity { return plane.Turning(plane.Angle(of(n))) }
}

// upperOf is a number of the upper body, NaN without one.
func upperOf(of func(*Upper) float64) func(*Numbers) float64 {
	return func(n *Numbers) float64 {
		if n.Upper == nil {
			return math.NaN()
		}
		return of(n.Upper)
	}
}

// width is a width across the bike, NaN where it is not known.
func width(mm float64) float64 {
	if mm <= 0 {
		return math.NaN()
	}
	return mm
}

// Figures are the numbers of a turn, those that tell most first.
var Figures = []Figure{
	{"knee_at_lowest", "knee bend, bottom of the stroke", angle(func(n *Numbers) float64 { return n.KneeLowest })},
	{"knee_at_highest", "knee bend, top of the stroke", angle(func(n *Numbers) float64 { return n.KneeHighest })},
	{"hip_least", "hip angle, tightest", angle(func(n *Numbers) float64 { return n.HipLeast })},
	{"trunk", "torso angle from the level", angle(upperOf(func(u *Upper) float64 { return u.Trunk }))},
	{"kneecap_ahead", "kneecap ahead of the pedal", length(func(n *Numbers) float64 { return n.KneecapAhead })},
	{"knee_ahead", "knee joint ahead of the pedal", length(func(n *Numbers) float64 { return n.KneeAhead })},
	{"shoulder", "shoulder angle", angle(upperOf(func(u *Upper) float64 { return u.ShoulderOpening }))},
	{"elbow", "elbow angle", angle(upperOf(func(u *Upper) float64 { return u.ElbowOpening }))},
	{"hands_apart", "hands apart", length(func(n *Numbers) float64 { return width(n.Widths.Hands) })},
	{"q_factor", "Q-factor", length(func(n *Numbers) float64 { return width(n.Widths.QFactor) })},
	{"knee_least", "knee bend, least of the turn", angle(func(n *Numbers) float64 { return n.KneeLeast })},
	{"knee_most", "knee bend, most of the turn", angle(func(n *Numbers) float64 { return n.KneeMost })},
	{"hip_least_at", "crank past the top, hip tightest", angle(func(n *Numbers) float64 { return n.HipLeastAt })},
	{"ankle_least", "ankle angle, least", angle(func(n *Numbers) float64 { return n.AnkleLeast })},
	{"ankle_most", "ankle angle, most", angle(func(n *Numbers) float64 { return n.AnkleMost })},
	{"drops_apart", "hands apart in the drops, with flare", length(func(n *Numbers) float64 { return width(n.Widths.Drops) })},
	{"reach_lost_arms", "reach lost to the hands' spread", length(upperOf(func(u *Upper) float64 { return u.ArmLost }))},
	{"reach_lost_drops", "reach lost to it in the drops", length(func(n *Numbers) float64 { return n.DropsLost })},
	{"way_longer_legs", "hip to ankle, longer across by", length(func(n *Numbers) float64 { return n.LegLost })},
	{"knee_at_lowest_across", "knee bend at the bottom, so seen", angle(func(n *Numbers) float64 { return n.KneeAcross })},
}

// Short is how many of the measures a short telling gives.
const Short = 4

// MarshalJSON writes every measure by its key, null where it is not known: mm and degrees.
func (n *Numbers) MarshalJSON() ([]byte, error) {
	keys := map[string]any{"elbow_is_assumed": n.Upper != nil && n.Upper.ElbowAssumed}
	for _, m := range Figures {
		keys[m.Key] = nil
		if q, ok := m.Of(n); ok {
			keys[m.Key] = q
		}
	}
	return json.Marshal(keys)
}

// MarshalText is the word for it.
func (o Origin) MarshalText() ([]byte, error) { return []byte(o.String()), nil }

// MarshalJSON writes degrees.
func (p Pitch) MarshalJSON() ([]byte, error) {
	return json.Marshal(map[string]plane.Angle{"mean": plane.Angle(p.Mean), "swing": plane.Angle(p.Swing), "peak": plane.Angle(p.Peak)})
}

// Impossible says in words what of a body does not close on a bike.
func (st Stage) Impossible() []string {
	list := []string{}
	if st.Err != nil {
		list = append(list, st.Err.Error())
	}
	if st.Numbers != nil && st.Numbers.UpperError != nil {
		list = append(list, st.Numbers.UpperError.Error())
	}
	return list
}

// MarshalJSON writes a stage; numbers are null where the leg does not close.
func (st Stage) MarshalJSON() ([]byte, error) {
	turn := []map[string]any{}
	for _, l := range st.Turn {
		leg := map[string]any{"crank": plane.Angle(l.Crank), "foot": plane.Angle(l.Pitch), "ankle": plane.Angle(l.AnkleOpening),
			"knee": plane.Angle(l.KneeFlexion), "hip": nil, "knee_x": l.Knee.X, "knee_y": l.Knee.Y}
		if hip := st.Numbers.HipAt(l); !math.IsNaN(hip) {
			leg["hip"] = plane.Angle(hip)
		}
		turn = append(turn, leg)
	}
	return json.Marshal(map[string]any{"cause": st.Cause, "impossible": st.Impossible(), "crank": st.Place.Crank, "numbers": st.Numbers,
		"turn": turn})
}

// Posture is a rider in one posture: on the bike, and what each difference of another makes of it.
type Posture struct {
	Posture string  `json:"posture"`
	Stages  []Stage `json:"stages"`
}

// Closes reports whether the rider fits every bike on the way: a stage whose leg does not close has no numbers.
func (p Posture) Closes() bool {
	return !slices.ContainsFunc(p.Stages, func(st Stage) bool { return st.Numbers == nil })
}

// List lists the turn of every stage that closes each step of the crank, radians; 0: not at all.
func (s *Segments) List(stages []Stage, step float64) {
	for i := range stages {
		st := &stages[i]
		for k := 0; step > 0 && st.Numbers != nil && float64(k)*step < 2*math.Pi-1e-9; k++ {
			if l, err := s.Leg(st.Place, float64(k)*step); err == nil {
				st.Turn = append(st.Turn, l)
			}
		}
	}
}

// Notes are what the numbers are not.
var Notes = []string{
	"These numbers describe geometry. They are no medical claim and no advice.",
	"Joint angles are those of the side view. Across the bike the way from hip to ankle is longer; where Q-factor and hips are known, " +
		"the knee bend that it leaves with the pedal lowest is given beside it.",
	"The hip is taken straight above the loaded saddle contact and still; a rider's rocks.",
	"Knee joint and kneecap are held against the pedal axle with the crank level. A plumb line falls from the front of the kneecap, " +
		"whose distance from the joint stands with the lengths; riders differ by several mm.",
	"The foot follows the stated pitch whatever the saddle does. Real ankles give way, so a change of the knee worked out here is an upper " +
		"bound, about twice what riders show (Ferrer-Roca et al. 2014).",
}
