package report

import (
	"math"

	"carryover/internal/carry"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// Placed is a setting of the result with what a person needs to set it. Lengths mm, angles degrees.
type Placed struct {
	Setting
	Unit     string      `json:"unit"`              // of travel: mm or deg
	PerMark  float64     `json:"per_mark"`          // travel per 1.0 of the scale; 1 for what has no scale
	Scale    bool        `json:"scale"`             // false: set by tape or level
	Step     float64     `json:"step"`              // marks; 0: anywhere
	Range    [2]float64  `json:"range"`             // marks
	Between  *[2]float64 `json:"between,omitempty"` // whole marks on either side; null when it is on one, or has no scale
	FromMark *float64    `json:"from_mark"`         // where the file says it stands
	Move     *float64    `json:"move"`              // travel from there
	Toward   string      `json:"toward"`            // which way a rising travel goes; the way of the move where there is one
	Tape     *Check      `json:"tape,omitempty"`    // the reading to set it by, for an adjuster without a scale
	Idle     bool        `json:"idle"`              // touches no contact of this posture
	Half     string      `json:"moves"`             // sit or hands
}

// Explained is what a rider reads beside the settings.
type Explained struct {
	Hands       string        `json:"hands"`
	Support     float64       `json:"support"` // width that carries the rider, mm
	CrankSource float64       `json:"crank_source"`
	CrankFitted float64       `json:"crank_fitted"` // to the target now
	FootStack   float64       `json:"foot_stack"`   // target less source, mm
	Shift       Shift         `json:"shift"`        // of the sit contact, for crank and foot stack
	HandsFollow bool          `json:"hands_follow"`
	Held        []Held        `json:"held"`
	Order       []OrderStep   `json:"order"`
	Couplings   []CouplingRow `json:"couplings"`
	Why         WhyTable      `json:"why"`
	Ambiguity   Ambiguity     `json:"ambiguity"`
}

// Held names the settings whose stop or step holds a contact back.
type Held struct {
	Contact  string   `json:"contact"`
	Settings []string `json:"settings"`
}

// OrderStep is one step of the work with the reading that confirms it.
type OrderStep struct {
	Step      int      `json:"step"`
	Settings  []string `json:"settings"`
	Parts     []string `json:"parts"`     // slots
	Check     *Check   `json:"check"`     // null when no tape can tell
	Final     float64  `json:"final"`     // of the same reading once every step is done
	Disturbed []int    `json:"disturbed"` // numbers of the later steps that change it
}

// CouplingRow is how moving one setting disturbs a measure, and what makes it good.
type CouplingRow struct {
	Setting    string  `json:"setting"`
	Move       float64 `json:"move"` // mm or degrees
	Turns      bool    `json:"turns"`
	Toward     string  `json:"toward"`
	Measure    string  `json:"measure"`
	Change     float64 `json:"change"`
	Mend       string  `json:"mend"`
	MendMove   float64 `json:"mend_move"` // mm, always positive
	MendToward string  `json:"mend_toward"`
}

// MeasureSet is the customary numbers, mm; null: not known on both bikes.
type MeasureSet struct {
	Setback      *float64 `json:"setback"`
	SaddleHeight *float64 `json:"saddle_height"`
	Reach        *float64 `json:"reach"`
	Drop         *float64 `json:"drop"`
	NoseToBar    *float64 `json:"nose_to_bar"`
	FloorHeight  *float64 `json:"floor_height"`
}

// list gives the measures in their order.
func (m MeasureSet) list() [carry.Measures]*float64 {
	return [carry.Measures]*float64{m.Setback, m.SaddleHeight, m.Reach, m.Drop, m.NoseToBar, m.FloorHeight}
}

// WhyTable tells why the numbers changed: the swaps add up to target less source, in this order.
type WhyTable struct {
	Source MeasureSet `json:"source"`
	Target MeasureSet `json:"target"`
	Swaps  []WhySwap  `json:"swaps"`
}

// WhySwap is what one difference adds.
type WhySwap struct {
	Cause string `json:"cause"`
	MeasureSet
}

// Shift is a displacement in words' directions, mm.
type Shift struct {
	Forward float64 `json:"forward"`
	Up      float64 `json:"up"`
}

// Ambiguity is by how much the saddle's references disagree about where it should go, mm.
type Ambiguity struct {
	Level float64 `json:"level"`
	Plumb float64 `json:"plumb"`
	Usual *Shift  `json:"usual"` // where one would sit with nose setback and BB-to-middle kept
}

// inDegrees converts a travel for printing.
func inDegrees(v float64, turns bool) float64 {
	if turns {
		return plane.Deg(v)
	}
	return v
}

// placed are the settings of a solution, each with what it takes to set it.
func placed(s *carry.Solution, steps []carry.Step) []Placed {
	list := []Placed{}
	for i, set := range s.Settings {
		turns := set.Turns()
		p := Placed{Setting: Setting{Adjuster: set.Name, Mark: markOf(set), Travel: inDegrees(set.Travel, turns),
			Sigma: inDegrees(set.Sigma, turns), SigmaTotal: inDegrees(set.SigmaTotal, turns), Limit: set.Limit},
			Unit: "mm", PerMark: 1, Range: [2]float64{inDegrees(set.Lo, turns), inDegrees(set.Hi, turns)},
			Half: "hands", Idle: s.Idle(set.Settable), Toward: set.Towards(1)}
		if turns {
			p.Unit = "deg"
		}
		if set.Sets.OnSaddle() {
			p.Half = "sit"
		}
		if set.Adjuster >= 0 {
			a := &s.Target.Adjusters[set.Adjuster]
			p.Scale, p.Step, p.Range, p.PerMark = set.Scale, a.Step, [2]float64{a.Lo, a.Hi}, inDegrees(a.Unit, turns)
			if from, ok := s.Target.Marks[a.Name]; ok {
				p.FromMark = &from
			}
			if lo, hi := math.Floor(set.Mark()), math.Ceil(set.Mark()); p.Scale && a.Step == 0 && hi > lo {
				p.Between = &[2]float64{lo, hi}
			}
		}
		if move, ok := set.Move(); ok {
			p.Toward = set.Towards(move)
			move = inDegrees(move, turns)
			p.Move = &move
		}
		if set.Adjuster >= 0 && !p.Scale {
			p.Tape = tapeFor(i, steps)
		}
		list = append(list, p)
	}
	return list
}

// tapeFor is the reading of the step that sets a setting, with everything in place.
func tapeFor(setting int, steps []carry.Step) *Check {
	for _, step := range steps {
		for _, i := range step.Settings {
			if c := gaugeCheck(step.Gauge, step.Final, step.FinalSigma); i == setting {
				return c
			}
		}
	}
	return nil
}

// gaugeCheck is a gauge as a check; nil when nothing can be read.
func gaugeCheck(g carry.Gauge, value, sigma float64) *Check {
	switch g.Own {
	case "crank":
		return &Check{Kind: "line", From: "bb", To: "pedal", Value: value, Sigma: sigma}
	case "clamp":
		return &Check{Kind: "line", From: "saddle.nose", To: "clamp", Value: value, Sigma: sigma}
	case "":
		c := NewCheck(carry.Check{Reading: g.Reading, Value: value, Sigma: sigma})
		return &c
	}
	return nil
}

// explain is what a rider reads beside the settings of a solution.
func explain(s *carry.Solution, steps []carry.Step, source *locate.Adjustment) Explained {
	e := Explained{Hands: string(s.Position.Posture.Hands), Support: s.Position.Posture.Support, Held: []Held{}, Order: []OrderStep{}, Couplings: []CouplingRow{}}
	e.CrankSource, e.CrankFitted, e.FootStack = s.Source.Feet.Crank, s.Target.Feet.Crank, s.Target.Feet.SoleHeight-s.Source.Feet.SoleHeight
	e.Shift, e.HandsFollow = Shift{s.Want.Shift.X, s.Want.Shift.Y}, !s.Options.HandsFixed
	for _, c := range s.Contacts {
		if by := s.HeldBy(c); len(by) > 0 {
			e.Held = append(e.Held, Held{string(c.Want.Name), by})
		}
	}
	for i, step := range steps {
		o := OrderStep{Step: i + 1, Settings: []string{}, Parts: []string{}, Disturbed: []int{},
			Check: gaugeCheck(step.Gauge, step.Value, step.Sigma), Final: inDegrees(step.Final, step.Gauge.Turns())}
		for _, k := range step.Settings {
			o.Settings = append(o.Settings, s.Settings[k].Name)
		}
		for _, k := range step.Parts {
			o.Parts = append(o.Parts, s.Parts[k].Slot)
		}
		for _, k := range step.Disturbed {
			o.Disturbed = append(o.Disturbed, k+1)
		}
		e.Order = append(e.Order, o)
	}
	for _, c := range s.Couplings() {
		by, mend := s.Settings[c.By], s.Settings[c.Mend]
		e.Couplings = append(e.Couplings, CouplingRow{Setting: by.Name, Move: math.Abs(inDegrees(c.Amount, by.Turns())), Turns: by.Turns(),
			Toward: by.Towards(c.Amount), Measure: c.Measure.String(), Change: c.Change, Mend: mend.Name,
			MendMove: math.Abs(c.MendTravel), MendToward: mend.Towards(c.MendTravel)})
	}
	w := s.Why(source)
	e.Why = WhyTable{Source: measureSet(w.Known, w.Source), Target: measureSet(w.Known, w.Target), Swaps: []WhySwap{}}
	for _, k := range w.Swaps {
		e.Why.Swaps = append(e.Why.Swaps, WhySwap{k.Cause, measureSet(w.Known, k.By)})
	}
	return e
}

func measureSet(known [carry.Measures]bool, v [carry.Measures]float64) MeasureSet {
	var p [carry.Measures]*float64
	for m := range v {
		if known[m] {
			p[m] = &v[m]
		}
	}
	return MeasureSet{p[0], p[1], p[2], p[3], p[4], p[5]}
}
