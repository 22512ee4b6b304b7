package carry

import (
	"cmp"
	"math"
	"slices"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// Cause is something that may be off, with what it does to every setting.
type Cause struct {
	locate.Cause
	Of    Side
	Moves []float64 // of each setting per mm (or radian) of the cause, mm or radians
	// What a unit of it changes: what is asked for, and where the target's contacts lie. The two differ where the seat is out
	// of reach: the line that leg extension counts along turns with the first alone.
	by, lies asking
	own      [2]displacement // where they lie: of parts and readings, and of the width that carries the rider
}

// Side is the bike that something belongs to.
type Side int

// The sides. The same part on both bikes errs alike.
const (
	OfSource Side = iota
	OfTarget
	OfBoth
)

// asking is a change of what is asked for, in the order of locate.Position.Cov. A contact of the target that lies further
// on by d than its settings say is as one asked for d less far on.
type asking [locate.Coordinates]float64

// displacement is how the target itself errs, by so many times a mm of a fault of its parts (in the frames of their bodies) and
// as a bike that stands elsewhere than it is described.
type displacement struct {
	times float64
	fault assembly.Fault // none: noFault
	shift *locate.Shift
}

const noFault assembly.Fault = -1

// bodies are how far the bodies go with a displacement.
func (s *Solution) bodies(k *locate.Shift) (by [assembly.Bodies]plane.Pose) {
	if k == nil {
		return by
	}
	hang := func(b assembly.Body, clamp plane.Point, with plane.Pose, turn float64, own plane.Pose) {
		arm := s.Placement.Poses[b].Origin.Sub(clamp)
		by[b] = plane.Pose{Origin: with.Origin.Add(arm.Perp().Scale(with.Turn)).Add(own.Origin.Turn(turn)), Turn: with.Turn + own.Turn}
	}
	hang(assembly.Saddle, s.saddle.clamp, k.Saddle, s.saddle.turn, k.Sit)
	hang(assembly.Bar, s.hands.clamp, k.Bar, 0, plane.Pose{})
	first, second := s.touched()
	for _, b := range []assembly.Body{assembly.Hood, assembly.Drop, assembly.Pads, assembly.Grip} {
		bar, own := k.Bar, plane.Pose{}
		switch b {
		case first:
			own = k.Hands
		case second:
			own = k.Second
		}
		if b == assembly.Pads && s.hands.arm.Clipon != nil { // pads turn with the bar only where their tilt counts from it
			if s.hands.arm.rotation == nil {
				bar.Turn = 0
			}
			bar.Turn += k.Pads
		}
		hang(b, s.hands.clamp, bar, s.hands.turn, own)
	}
	return by
}

// touched are the bodies that the hands and what goes along with them are on.
func (s *Solution) touched() (first, second assembly.Body) {
	first = s.Placement.HandMount(s.Position.Posture.Hands).Body
	if s.hands.second == nil {
		return first, first
	}
	return first, s.Placement.HandMount(s.hands.second.Name).Body
}

// asks is the change of what is asked for that a displacement of the target's contacts amounts to.
func (s *Solution) asks(d displacement) asking {
	if d.times == 0 {
		return asking{}
	}
	by, hands := s.bodies(d.shift), s.Position.Posture.Hands
	first, along := s.touched()
	gone := func(p bike.Place, b assembly.Body, at plane.Point, turn float64) plane.Pose {
		m := by[b]
		to := m.Origin.Add(at.Sub(s.Placement.Poses[b].Origin).Perp().Scale(m.Turn))
		if d.fault != noFault {
			to = to.Add(s.Placement.Moved(p, d.fault).Turn(turn))
		}
		return plane.Pose{Origin: to.Scale(d.times), Turn: d.times * m.Turn}
	}
	sit := gone(bike.Place{Kind: bike.AtSaddle, Ref: sitting}, assembly.Saddle, s.saddle.got.At, s.saddle.turn)
	grip := gone(hands.Place(), first, s.hands.got.At, s.hands.turn)
	k := asking{-sit.Origin.X, -sit.Origin.Y, -sit.Turn, -grip.Origin.X, -grip.Origin.Y, -grip.Turn}
	if s.Want.Second != nil && s.hands.second != nil {
		second := gone(s.hands.second.Name.Place(), along, s.hands.second.At, s.hands.turn).Origin
		k[6], k[7] = -second.X, -second.Y
	}
	return k
}

// reads is how far a reading of the target as it stands goes with a displacement while every setting stays.
func (s *Solution) reads(g Gauge, d displacement) float64 {
	if g.Own != "" || d.times == 0 {
		return 0
	}
	tape, err := s.Placement.Span(g.Reading)
	if err != nil {
		return 0
	}
	off := 0.0
	if d.fault != noFault {
		off = s.Placement.Off(&tape, d.fault)
	}
	if d.shift != nil {
		_, slope := s.Placement.Read(&tape)
		for b, by := range s.bodies(d.shift) {
			off += slope[b].By.Dot(by.Origin) + slope[b].Turn*by.Turn
		}
	}
	return d.times * off
}

// used is the target with the parts that this posture uses, and no others.
func (s *Solution) used() *bike.Bike {
	b, k := s.Target.Narrowed(s.picks()), &s.hands.arm
	if k.Bar == nil {
		b.Bar.Slot.Options = nil
	}
	if k.Lever == nil {
		b.Bar.Lever.Options = nil
	}
	if k.Clipon == nil {
		b.Clipon = nil
	}
	return b
}

// sameFile reports whether a part of that id is one shape wherever it is fitted; a table in the bike's own file is not.
func sameFile(id string) bool { return id != "" && id != "inline" }

// causes lists everything that the settings depend on.
func (s *Solution) causes(source *locate.Adjustment, stand *locate.Standing) ([]Cause, error) {
	effects, err := source.Effects(s.Position.Posture)
	if err != nil {
		return nil, err
	}
	var list []Cause
	var shifts [assembly.Faults]*locate.Shift // of the target's readings, by its faults
	if stand != nil {
		all := stand.Shifts()
		for i := range all {
			if k := &all[i]; k.Kind == locate.ByFault {
				shifts[k.Fault] = k
			} else {
				list = append(list, Cause{Cause: k.Cause, Of: OfTarget, own: [2]displacement{{1, noFault, k}}})
			}
		}
	}
	var both [assembly.Faults]bool
	used, p := s.used(), s.Position.Posture
	for _, e := range effects {
		k := Cause{Cause: e.Cause}
		for i := range k.by {
			for j, v := range e.At {
				k.by[i] += s.wants[i][j] * v
			}
		}
		k.own[1] = displacement{e.Width, assembly.Support, shifts[assembly.Support]}
		if sigma, part := assembly.Uncertain(used, p, e.Fault); e.Kind == locate.ByFault && sigma > 0 && sameFile(part) && part == e.Part {
			k.Of, both[e.Fault] = OfBoth, true
			k.own[0] = displacement{1, e.Fault, shifts[e.Fault]}
		}
		list = append(list, k)
	}
	for f := range assembly.Faults {
		if sigma, part := assembly.Uncertain(used, p, f); f != assembly.Support && sigma > 0 && !both[f] {
			fault := locate.Cause{Kind: locate.ByFault, Fault: f, Part: part, Sigma: sigma}
			list = append(list, Cause{Cause: fault, Of: OfTarget, own: [2]displacement{{1, f, shifts[f]}}})
		}
	}
	for n := range list {
		for _, d := range list[n].own {
			for j, v := range s.asks(d) {
				list[n].lies[j] += v
			}
		}
	}
	return list, nil
}

// Total works out what the source's readings and what everything leaves open in the settings, each cause by its first-order effect with
// the choices held, and keeps the causes. stand is the target as it stands, nil where it is as described.
func (s *Solution) Total(source *locate.Adjustment, stand *locate.Standing) (err error) {
	if s.Causes, err = s.causes(source, stand); err != nil {
		return err
	}
	by := s.responses((*Solution).travels)
	own := s.heldResponses(by, (*Solution).travels)
	memory := make([]float64, len(s.Causes)*len(by))
	for i, row := range s.bySource(by) {
		s.Settings[i].Sigma, s.Settings[i].SigmaTotal = Spread(row, &s.Position.Cov), 0
	}
	for n := range s.Causes {
		c := &s.Causes[n]
		c.Moves = memory[n*len(by) : (n+1)*len(by)]
		c.answered(by, own, c.Moves)
		for i, v := range c.Moves {
			s.Settings[i].SigmaTotal = math.Hypot(s.Settings[i].SigmaTotal, v*c.Sigma)
		}
	}
	return nil
}

// answered adds how far outputs with these responses go per mm (or radian) of the cause to moves.
func (c *Cause) answered(by, own [][locate.Coordinates]float64, moves []float64) {
	for i, row := range by {
		for j, v := range row {
			moves[i] += v*c.by[j] + own[i][j]*c.lies[j]
		}
	}
}

// totals are what everything leaves open in what gauges are to show, [gauge], mm or radians: what they show goes with what is set, by
// and values, and with the target itself, which at[gauge] is as it stands when the gauge is read. A gauge that goes to the very
// place that is carried hardly depends on the target: what is set makes up for it.
func (s *Solution) totals(gauges []Gauge, at []*Solution, by [][locate.Coordinates]float64, values func(*Solution) []float64) []float64 {
	own := s.heldResponses(by, values)
	sigma := make([]float64, len(gauges))
	for n := range s.Causes {
		c := &s.Causes[n]
		moves := make([]float64, len(gauges))
		c.answered(by, own, moves)
		for i, g := range gauges {
			moves[i] += at[i].reads(g, c.own[0]) + at[i].reads(g, c.own[1])
			sigma[i] = math.Hypot(sigma[i], moves[i]*c.Sigma)
		}
	}
	return sigma
}

// Contribution is how much of a setting's uncertainty comes from one cause.
type Contribution struct {
	*Cause
	Sigma   float64 // standard uncertainty that it brings into the setting, mm or radians
	Share   float64 // of the variance, 0 to 1
	Without float64 // what is left of the setting's uncertainty once this cause is known exactly
}

// Blame says for each setting, in their order, which causes its uncertainty comes from, the largest first. Those that
// contribute less than a millionth are left out. Total must have been called.
func (s *Solution) Blame() [][]Contribution {
	out := make([][]Contribution, len(s.Settings))
	for i, set := range s.Settings {
		total := set.SigmaTotal * set.SigmaTotal
		for n := range s.Causes {
			c := &s.Causes[n]
			sigma := math.Abs(c.Moves[i]) * c.Sigma
			if total > 0 && sigma*sigma/total >= 1e-6 {
				out[i] = append(out[i], Contribution{c, sigma, sigma * sigma / total, math.Sqrt(math.Max(0, total-sigma*sigma))})
			}
		}
		slices.SortStableFunc(out[i], func(a, b Contribution) int { return cmp.Compare(b.Share, a.Share) })
	}
	return out
}
