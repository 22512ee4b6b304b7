package carry

import (
	"cmp"
	"math"
	"slices"

	"carryover/internal/bike"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Gauge is what confirms a step: a tape reading, or a length that no tape reading of a file stands for.
type Gauge struct {
	Reading bike.Reading // when Own is ""
	Own     string       // "crank": BB to pedal axle; "clamp": nose to rail clamp along the saddle
}

// Turns reports whether the gauge reads an angle.
func (g Gauge) Turns() bool { return g.Own == "" && g.Reading.Kind == bike.Angle }

// Step is one step of the work on the target, with the one reading that confirms it at that moment.
type Step struct {
	Settings []int // indexes into Solution.Settings
	Parts    []int // indexes into Solution.Parts
	Gauge    Gauge
	Foretold          // of the gauge once this step is done and no later one
	Final    Foretold // of the gauge once every step is done
	// Disturbed lists the later steps, as indexes, that change the gauge by more than Undone.
	Disturbed []int
}

// What a later step may change in an earlier step's reading without undoing it: a tenth of what a tape or
// an angle gauge can tell.
const (
	UndoneMM  = 0.1
	UndoneRad = 0.05 * math.Pi / 180
)

// Undone reports whether a change d of a gauge counts as a step undone.
func (g Gauge) Undone(d float64) bool {
	if g.Turns() {
		return math.Abs(d) > UndoneRad
	}
	return math.Abs(d) > UndoneMM
}

// Phase is a stretch of the work: each is done before the next begins.
type Phase int

// The phases, in their order.
const (
	OfCrank Phase = iota
	OfParts       // what is exchanged
	OfSaddle
	OfHands // after the saddle, at which their tape begins
)

// Phase is when a setting is set.
func (s *Setting) Phase() Phase {
	if s.Sets.OnSaddle() {
		return OfSaddle
	}
	return OfHands
}

// Rank is a setting's place among equals of its phase, as is usual in a workshop: first what goes with a part, and the saddle's
// tilt, which swings it about its clamp; then rails and the tilt of pads, slides, posts, the bar's rotation, the extensions.
func (s *Setting) Rank() int {
	switch s.Sets {
	case bike.SetsRails, bike.SetsPadTilt:
		return 1
	case bike.SetsSpacers:
		return 2
	case bike.SetsSaddle, bike.SetsBar:
		if s.Steep() {
			return 3
		}
		return 2
	case bike.SetsRotation:
		return 4
	case bike.SetsExtension:
		return 5
	}
	return 0
}

// Steep reports whether a setting moves up and down more than back and forth.
func (s *Setting) Steep() bool { return math.Abs(s.Heading.Y) > math.Sqrt2/2 }

// task is a step before its place in the order and its gauge are decided.
type task struct {
	phase      Phase
	rank       int
	settings   []int
	parts      []int
	candidates []Gauge
}

func placed(k bike.PlaceKind) bike.Place { return bike.Place{Kind: k} }

func gauge(kind bike.Kind, from, to bike.Place) Gauge {
	return Gauge{Reading: bike.Reading{Kind: kind, From: from, To: to}}
}

// Idle reports a setting that touches no contact of this posture.
func (s *Solution) Idle(set bike.Settable) bool {
	switch set.Sets {
	case bike.SetsRotation:
		return s.Position.Posture.Hands == bike.Pad && s.hands.arm.rotation == nil
	case bike.SetsExtension: // of a source that has none
		return s.Want.Second == nil
	}
	return false
}

// feels reports whether a setting touches a contact of this posture.
func (s *Solution) feels(set bike.Settable) bool {
	switch set.Sets {
	case bike.SetsLever:
		return s.hands.arm.Lever != nil
	case bike.SetsPadTilt, bike.SetsHole, bike.SetsRisers, bike.SetsExtension:
		return s.hands.arm.Clipon != nil && !s.Idle(set)
	}
	return !s.Idle(set)
}

// tasks lists the work: what is set together is one task.
func (s *Solution) tasks() []*task {
	var list []*task
	bySlot := map[string]*task{}
	if c := s.Target.Feet; len(c.Cranks) > 0 && s.Want.Crank != c.Crank {
		list = append(list, &task{candidates: []Gauge{{Own: "crank"}}})
	}
	bar := placed(bike.AtBar)
	gauges := map[string][]Gauge{
		"saddle": {gauge(bike.Line, s.Target.Seat(saddle.Nose), s.Target.Seat(saddle.Tail))},
		"bar":    {gauge(bike.Line, bar, placed(bike.AtDrop)), gauge(bike.Line, bar, placed(bike.AtHood))},
		"lever":  {gauge(bike.Line, bar, placed(bike.AtHood))},
		"stem":   {gauge(bike.Level, placed(bike.AtBB), bar)},
		"clipon": {gauge(bike.Line, bar, placed(bike.AtPad))},
	}
	for i, p := range s.Parts {
		bySlot[p.Slot] = &task{phase: OfParts, parts: []int{i}, candidates: gauges[p.Slot]}
	}
	with := map[bike.Sets]string{bike.SetsLever: "lever", bike.SetsSpacers: "stem", bike.SetsHole: "clipon", bike.SetsRisers: "clipon",
		bike.SetsSpacing: "clipon", bike.SetsGap: "clipon"}
	for i, set := range s.Settings {
		if set.Fixed() || s.Idle(set.Settable) {
			continue
		}
		slot := with[set.Sets]
		if j := bySlot[slot]; j != nil { // set together with its part, or with what is on the same one
			j.settings = append(j.settings, i)
			continue
		}
		j := &task{phase: set.Phase(), rank: set.Rank(), settings: []int{i}, candidates: s.gaugesOf(set)}
		if slot != "" {
			bySlot[slot] = j
		} else {
			list = append(list, j)
		}
	}
	for _, slot := range []string{"saddle", "bar", "lever", "stem", "clipon"} {
		if j := bySlot[slot]; j != nil {
			list = append(list, j)
		}
	}
	return list
}

// gaugesOf lists what can confirm a setting, the handiest first.
func (s *Solution) gaugesOf(set Setting) (list []Gauge) {
	if set.Sets == bike.SetsRails {
		return []Gauge{{Own: "clamp"}}
	}
	hands := s.Position.Posture.Hands
	for _, r := range set.Readings(s.Target, hands) {
		list = append(list, Gauge{Reading: r})
	}
	bb := placed(bike.AtBB)
	switch {
	case set.Sets == bike.SetsSaddle && !s.Target.Saddle.Empty():
		list = append(list, gauge(bike.Level, s.Target.Seat(saddle.Sit), bb))
	case set.Sets == bike.SetsBar && !s.Target.Bar.Empty():
		list = append(list, Gauge{Reading: s.Target.Above(hands.Place())}, gauge(bike.Level, bb, hands.Place()))
	}
	return list
}

// starts is where every setting stands before the work begins: at its mark, else in mid-range.
func (s *Solution) starts() []float64 {
	v := make([]float64, len(s.Settings))
	for i, set := range s.Settings {
		v[i] = set.Home
		if set.Sets == bike.SetsHole || set.Sets == bike.SetsRisers {
			v[i] = set.Lo + (set.Hi-set.Lo)/2
		}
	}
	return v
}

// travels is what every setting is to be.
func (s *Solution) travels() []float64 {
	v := make([]float64, len(s.Settings))
	for i, set := range s.Settings {
		v[i] = set.Travel
	}
	return v
}

// at is the solution with its parts and every setting at a travel of its own, mm or radians, in the order of Settings.
func (s *Solution) at(travels []float64) *Solution {
	k := *s
	k.place(travels)
	k.Placement, k.Settings = k.stand(), slices.Clone(s.Settings)
	for i, v := range travels {
		k.Settings[i].Travel = v
	}
	return &k
}

// place moves the settled halves to other travels.
func (s *Solution) place(travels []float64) {
	s.saddle.clamp, s.hands.clamp = *s.Target.SaddleAnchor, plane.Point{}
	tilt := s.hands.turn - s.padRotation()
	for i, v := range travels {
		set := &s.Settings[i]
		switch {
		case set.Sets == bike.SetsSaddle:
			s.saddle.clamp = s.saddle.clamp.Add(set.Heading.Scale(v))
		case set.Sets == bike.SetsBar:
			s.hands.clamp = s.hands.clamp.Add(set.Heading.Scale(v))
		case set.Sets == bike.SetsPadTilt:
			tilt = v
		case set.Sets != bike.SetsRotation || !s.Idle(set.Settable):
			if number, zero := s.stored(&set.Settable); number != nil {
				*number = v + zero
			}
		}
	}
	s.hands.turn = s.hands.rotation
	if s.hands.arm.Clipon != nil {
		s.hands.turn = tilt + s.padRotation()
	}
	from := s.Target.BarAnchor
	if base := s.hands.base; base.stem != nil {
		steerer, _ := s.Target.Steerer()
		at := steerer.BarClamp(*base.stem, base.flip, base.spacers)
		from = &at
	}
	s.hands.clamp = s.hands.clamp.Add(*from)
}

// read is what a gauge shows; ok is false when the bike has no such point.
func (s *Solution) read(g Gauge) (float64, bool) {
	switch g.Own {
	case "crank":
		return s.Want.Crank, true
	case "clamp":
		for _, set := range s.Settings {
			if set.Sets == bike.SetsRails {
				return set.Travel, true
			}
		}
		return 0, false
	}
	v, _, err := s.Placement.ReadingOf(g.Reading)
	return v, err == nil && !math.IsNaN(v)
}

// disturbance is the most that a task can change a gauge, from any place its settings may have stood, mm;
// angles count as half a millimetre per quarter degree, in which a tape and a level are equally fine.
func (s *Solution) disturbance(g Gauge, j *task, starts []float64) float64 {
	final := s.travels()
	base, _ := s.read(g)
	worst := 0.0
	for _, i := range j.settings {
		for _, from := range [3]float64{starts[i], s.Settings[i].Lo, s.Settings[i].Hi} {
			v := slices.Clone(final)
			v[i] = from
			got, ok := s.at(v).read(g)
			if !ok {
				continue
			}
			d := math.Abs(got - base)
			if g.Turns() {
				d = d / UndoneRad * UndoneMM
			}
			worst = math.Max(worst, d)
		}
	}
	return worst
}

// answers is which of some settings a gauge answers most, and by how much it changes per mm (or radian) of it: central differences
// with everything else where it is to be. The slope is 0 where it answers none.
func (s *Solution) answers(g Gauge, settings []int) (setting int, slope float64) {
	for _, i := range settings {
		var v [2]float64
		read := true
		for k, d := range [2]float64{stepMM, -stepMM} {
			at := s.travels()
			at[i] += d
			var ok bool
			v[k], ok = s.at(at).read(g)
			read = read && ok
		}
		if d := (v[0] - v[1]) / (2 * stepMM); read && math.Abs(d) > math.Abs(slope)+1e-9 {
			setting, slope = i, d
		}
	}
	return setting, slope
}

// direct keeps the gauges of a task that respond to it nearly as well as the best does, in their order.
func (s *Solution) direct(j *task) []Gauge {
	var have []Gauge
	for _, g := range j.candidates {
		if _, ok := s.read(g); ok {
			have = append(have, g)
		}
	}
	if len(j.settings) == 0 || len(have) < 2 {
		return have
	}
	r := make([]float64, len(have))
	for i, g := range have {
		_, r[i] = s.answers(g, j.settings)
		r[i] = math.Abs(r[i])
	}
	const nearly = 0.8
	return kept(have, func(i int) bool { return r[i] >= nearly*slices.Max(r) })
}

// kept are the gauges of a list that are worth it, in their order.
func kept(list []Gauge, worth func(i int) bool) (some []Gauge) {
	for i, g := range list {
		if worth(i) {
			some = append(some, g)
		}
	}
	return some
}

// sure keeps the gauges that are nearly as sure as the surest, in their order.
func (s *Solution) sure(list []Gauge) []Gauge {
	if len(list) < 2 {
		return list
	}
	at := make([]*Solution, len(list))
	for i := range at {
		at[i] = s
	}
	values := func(k *Solution) []float64 {
		v := make([]float64, len(list))
		for i, g := range list {
			v[i], _ = k.read(g)
		}
		return v
	}
	total := s.totals(list, at, s.responses(values), values)
	return kept(list, func(i int) bool { return surer*total[i] <= slices.Min(total) })
}

// Order puts the work into an order in which no step undoes an earlier one, wherever that can be had, and
// gives each step its reading.
//
// A step's cost is the most that all steps after it can change the best of its readings. It can only
// grow with the set of steps still to come, so taking the cheapest step first at every turn makes the
// greatest cost as small as it can be (Lawler 1973, for one machine with precedence, read backwards).
func (s *Solution) Order() (steps []Step) {
	starts := s.starts()
	left := s.tasks()
	for _, j := range left {
		j.candidates = s.sure(s.direct(j))
	}
	type pair struct {
		g Gauge
		j *task
	}
	known := map[pair]float64{}
	disturb := func(g Gauge, j *task) float64 {
		k := pair{g, j}
		if _, ok := known[k]; !ok {
			known[k] = s.disturbance(g, j, starts)
		}
		return known[k]
	}
	for len(left) > 0 {
		phase := slices.MinFunc(left, func(a, b *task) int { return cmp.Compare(a.phase, b.phase) }).phase
		var next *task
		with, least := Gauge{}, math.Inf(1)
		for _, j := range left {
			if j.phase != phase {
				continue
			}
			g, cost := Gauge{Own: "none"}, 0.0
			for n, candidate := range j.candidates {
				worst := UndoneMM
				for _, k := range left {
					if k != j {
						worst = math.Max(worst, disturb(candidate, k))
					}
				}
				if n == 0 || worst-UndoneMM < cost {
					g, cost = candidate, worst-UndoneMM
				}
			}
			if next == nil || cost < least || cost == least && j.rank < next.rank {
				next, with, least = j, g, cost
			}
		}
		left = slices.DeleteFunc(left, func(j *task) bool { return j == next })
		steps = append(steps, Step{Settings: next.settings, Parts: next.parts, Gauge: with})
	}
	s.predict(steps, starts)
	return steps
}

// Simulate returns what every step's gauge shows after each step, [after step][of step], the settings
// standing at starts before the first.
func (s *Solution) Simulate(steps []Step, starts []float64) [][]float64 {
	shown := make([][]float64, len(steps))
	for k, at := range s.after(steps, starts) {
		for _, step := range steps {
			v, _ := at.read(step.Gauge)
			shown[k] = append(shown[k], v)
		}
	}
	return shown
}

// after is the target after each step.
func (s *Solution) after(steps []Step, starts []float64) []*Solution {
	now, final := slices.Clone(starts), s.travels()
	list := make([]*Solution, len(steps))
	for k, step := range steps {
		for _, i := range step.Settings {
			now[i] = final[i]
		}
		list[k] = s.at(now)
	}
	return list
}

// predict fills in what the gauges of the steps show, and which steps disturb them.
func (s *Solution) predict(steps []Step, starts []float64) {
	states := s.after(steps, starts)
	shown := s.Simulate(steps, starts)
	gauges, at := make([]Gauge, 2*len(steps)), append(states, make([]*Solution, len(steps))...)
	for k, step := range steps {
		gauges[k], gauges[len(steps)+k], at[len(steps)+k] = step.Gauge, step.Gauge, s
		for later := k + 1; later < len(steps); later++ {
			if step.Gauge.Undone(shown[later][k] - shown[later-1][k]) {
				steps[k].Disturbed = append(steps[k].Disturbed, later)
			}
		}
	}
	sure := s.foretell(gauges, at, func(k *Solution) []float64 {
		v := make([]float64, 2*len(steps))
		for i, row := range k.Simulate(steps, starts) {
			v[i] = row[i]
			v[len(steps)+i], _ = k.read(steps[i].Gauge)
		}
		return v
	})
	for k := range steps {
		steps[k].Foretold, steps[k].Final = sure[k], sure[len(steps)+k]
	}
}

// Mend is how far one setting of a step has to go, mm or radians, so that the step's gauge shows its Value where it now reads
// read: (Value - read) / (dgauge/dtravel), the derivative by a central difference with everything else where it is to be. It is
// the setting that the gauge answers most; ok is false where it answers none.
func (s *Solution) Mend(st Step, read float64) (setting int, by float64, ok bool) {
	const least = 0.05 // mm of gauge per mm of travel; less would ask for a long way to mend a short one
	setting, slope := s.answers(st.Gauge, st.Settings)
	if math.Abs(slope) < least {
		return 0, 0, false
	}
	return setting, (st.Value.Value() - read) / slope, true
}
