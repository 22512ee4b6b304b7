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

func (a *asking) add(k float64, b asking) {
	for i := range a {
		a[i] += k * b[i]
	}
}

// displaced is the change that a displacement of the target's contacts amounts to: of the seat, of the hands and of what
// goes along with them, in the frame of the target.
func displaced(sit, hands, second plane.Pose) asking {
	return asking{-sit.Origin.X, -sit.Origin.Y, -sit.Turn, -hands.Origin.X, -hands.Origin.Y, -hands.Turn, -second.Origin.X, -second.Origin.Y}
}

// byFault is what a mm of a fault does to the contacts on the target's own parts.
func (s *Solution) byFault(f assembly.Fault) asking {
	moved := func(p bike.Place, turn float64) plane.Pose {
		return plane.Pose{Origin: s.Stance.Moved(p, f).Turn(turn)}
	}
	hands := s.Position.Posture.Hands
	second := bike.Drop
	if hands == bike.Pad {
		second = bike.Grip
	}
	k := displaced(moved(bike.Place{Kind: bike.AtSaddle, Ref: sitting}, s.saddle.turn), moved(hands.Place(), s.hands.turn),
		moved(second.Place(), s.hands.turn))
	if s.Want.Second == nil {
		k[6], k[7] = 0, 0
	}
	return k
}

// byShift is what a shift of the target's anchors, angles and arms does.
func (s *Solution) byShift(k *locate.Shift) asking {
	about := func(at, clamp plane.Point, by plane.Pose, turn float64, own plane.Pose) plane.Pose {
		return plane.Pose{Origin: by.Origin.Add(at.Sub(clamp).Perp().Scale(by.Turn)).Add(own.Origin.Turn(turn)), Turn: by.Turn + own.Turn}
	}
	bar := k.Bar
	if s.hands.arm.clipon >= 0 { // pads turn with the bar only where their tilt counts from it
		if s.hands.arm.rotation == nil {
			bar.Turn = 0
		}
		bar.Turn += k.Pads
	}
	second := plane.Pose{}
	if s.Want.Second != nil && s.hands.second != nil {
		second = about(s.hands.second.At, s.hands.clamp, bar, s.hands.turn, k.Second)
	}
	return displaced(about(s.saddle.got.At, s.saddle.clamp, k.Saddle, s.saddle.turn, k.Sit),
		about(s.hands.got.At, s.hands.clamp, bar, s.hands.turn, k.Hands), second)
}

// uncertain is the standard uncertainty of a fault of the chosen parts, mm, and which part has it.
func (s *Solution) uncertain(f assembly.Fault) (sigma float64, part string) {
	b := s.Target
	switch {
	case (f == assembly.SaddleWidths || f == assembly.SaddleHeights) && s.saddle.arm.saddle >= 0:
		o := b.Saddle.Options[s.saddle.arm.saddle]
		return o.Sigma, o.ID
	case (f == assembly.BarX || f == assembly.BarY) && s.hands.arm.bar >= 0:
		o := b.Bar.Options[s.hands.arm.bar]
		return o.Sigma, o.ID
	case (f == assembly.LeverX || f == assembly.LeverY) && s.hands.arm.lever >= 0:
		o := b.Bar.Lever.Options[s.hands.arm.lever]
		return o.Sigma, o.ID
	case (f == assembly.CliponX || f == assembly.CliponY) && s.hands.arm.clipon >= 0:
		o := b.Clipon.Options[s.hands.arm.clipon]
		return o.Sigma, o.ID
	}
	return 0, ""
}

// sameFile reports whether a part of that id is one shape wherever it is fitted; a table in the bike's own file is not.
func sameFile(id string) bool { return id != "" && id != "inline" }

// askedFor is a cause with what a unit of it changes: what is asked for, and where the target's contacts lie (as asking).
// The two differ where the seat is out of reach: the line that leg extension counts along turns with the first alone.
type askedFor struct {
	locate.Cause
	of      Side
	by, own asking
}

// causes lists everything that the settings depend on.
func (s *Solution) causes(source *locate.Adjustment, stand *locate.Standing) ([]askedFor, error) {
	effects, err := source.Effects(s.Position.Posture)
	if err != nil {
		return nil, err
	}
	wants, err := s.wants()
	if err != nil {
		return nil, err
	}
	var own [assembly.Faults]asking // per mm of the target's faults, through parts and readings
	for f := range own {
		own[f] = s.byFault(assembly.Fault(f))
	}
	var list []askedFor
	if stand != nil {
		for _, k := range stand.Shifts() {
			if k.Kind == locate.ByFault {
				own[k.Fault].add(1, s.byShift(&k))
				continue
			}
			list = append(list, askedFor{Cause: k.Cause, of: OfTarget, own: s.byShift(&k)})
		}
	}
	var both [assembly.Faults]bool
	for _, e := range effects {
		k := askedFor{Cause: e.Cause}
		for i := range k.by {
			for j, v := range e.At {
				k.by[i] += wants[i][j] * v
			}
		}
		k.own.add(e.Width, own[assembly.Support])
		if sigma, part := s.uncertain(e.Fault); e.Kind == locate.ByFault && sigma > 0 && sameFile(part) && part == e.Part {
			k.of, both[e.Fault] = OfBoth, true
			k.own.add(1, own[e.Fault])
		}
		list = append(list, k)
	}
	for f := range own {
		if sigma, part := s.uncertain(assembly.Fault(f)); sigma > 0 && !both[f] {
			fault := locate.Cause{Kind: locate.ByFault, Fault: assembly.Fault(f), Part: part, Sigma: sigma}
			list = append(list, askedFor{Cause: fault, of: OfTarget, own: own[f]})
		}
	}
	return list, nil
}

// Total works out what everything leaves open in the settings, each cause by its first-order effect with the choices
// held, and keeps the causes. stand is the target as it stands, nil where it is as described.
func (s *Solution) Total(source *locate.Adjustment, stand *locate.Standing) error {
	list, err := s.causes(source, stand)
	if err != nil {
		return err
	}
	by := s.responses(travels)
	own := s.heldResponses(by, travels)
	s.Causes = s.Causes[:0]
	variance := make([]float64, len(by))
	memory := make([]float64, len(list)*len(by))
	for n, k := range list {
		c := Cause{k.Cause, k.of, memory[n*len(by) : (n+1)*len(by)]}
		for i, row := range by {
			for j, v := range row {
				c.Moves[i] += v*k.by[j] + own[i][j]*k.own[j]
			}
			variance[i] += c.Moves[i] * c.Moves[i] * c.Sigma * c.Sigma
		}
		s.Causes = append(s.Causes, c)
	}
	for i, v := range variance {
		s.Settings[i].SigmaTotal = math.Sqrt(v)
	}
	return nil
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
