package carry

import (
	"math"
	"slices"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/plane"
	"carryover/internal/reach"
)

// settleOnBend settles a lever on the bend. Where the hood is reached exactly, the bar may be turned
// together with the lever's place on it, the hand's own turn kept. The turns that still reach are stretches
// and single points; on each the second contact, or nearness to home, decides.
func (s *side) settleOnBend(b *bike.Bike, p bike.Posture, c reach.Candidate, wantSecond *assembly.Contact) settled {
	arm, choice := s.Arms[c.Arm], s.arms[c.Arm]
	bend, bar := arm.Bend, b.Bar.Options[choice.bar].Part
	at := func(t, hand float64) settled {
		v := bend.Centre.Turn(t).Add(bend.Hand.Turn(hand)).Turn(-t)
		fixed := arm
		fixed.Bend, fixed.X, fixed.Y = nil, reach.Range{Lo: v.X, Hi: v.X}, v.Y
		fixed.Offset = arm.Offset - (t - hand)
		k := c
		k.Turn = t
		out := s.settleAt(b, p, k, fixed, wantSecond)
		out.leverAt = plane.Clamp(t-hand, bend.F.Lo, bend.F.Hi) * bar.Bend
		d := out.leverAt - choice.leverHome
		out.strayS += d * d
		return out
	}
	asFound := at(c.Turn, c.Turn-c.Around)
	if c.Square > reach.Tie*reach.Tie || len(arm.Turn.Values) > 0 {
		return asFound
	}
	hand := plane.Clamp(s.Wish.Angle-arm.Offset, arm.Turn.Lo-bend.F.Hi, arm.Turn.Hi-bend.F.Lo)
	r := reach.Range{Lo: math.Max(arm.Turn.Lo, hand+bend.F.Lo), Hi: math.Min(arm.Turn.Hi, hand+bend.F.Hi)}
	swing := swing{centre: bend.Centre, at: s.Wish.Place.Sub(bend.Hand.Turn(hand)), clamps: plane.NewZonogon(s.fixed(c), s.Slides)}
	var v ballot
	for _, stretch := range swing.reaching(r, c.Turn) {
		turns := swing.nearestSecond(stretch, bar.DropContact, wantSecond)
		if turns == nil {
			turns = []float64{leastOn(stretch, s.strayOnBend(b, c, swing, hand))}
		}
		for _, t := range turns {
			from := c
			from.Turn = t
			v.offer(at(t, hand), from)
		}
	}
	if len(v.front) == 0 {
		return asFound
	}
	best, _ := v.best()
	return best
}

// swing is a bar turning about the place, at, of the centre of its bend: its clamp stands at
// at - R(t)·centre.
type swing struct {
	centre plane.Point // of the bend, from the clamp
	at     plane.Point
	clamps plane.Zonogon // where the clamp can stand
}

func (w *swing) clamp(t float64) plane.Point { return w.at.Sub(w.centre.Turn(t)) }

// reaching returns the turns of r at which the clamp can stand where it must, in rising order; single turns
// are stretches of no length. Along the normal n of each strip of the clamp's places the clamp moves as a
// sinusoid, n·R(t)·centre = |centre|·cos(t + its angle - n's), so the turns at which it meets the strip's two
// lines are known; known is a turn that search found.
func (w *swing) reaching(r reach.Range, known float64) []reach.Range {
	off := w.at.Sub(w.clamps.Centre)
	strips := w.clamps.Strips()
	size, phase := w.centre.Norm(), math.Atan2(w.centre.Y, w.centre.X)
	marks := []float64{r.Lo, r.Hi, plane.Clamp(known, r.Lo, r.Hi)}
	for _, strip := range strips {
		for _, side := range [2]float64{-1, 1} {
			c := strip.Normal.Dot(off) + side*strip.Half
			if math.Abs(c) > size+reach.Nought || size == 0 {
				continue
			}
			angle := math.Acos(plane.Clamp(c/size, -1, 1))
			for _, t := range [2]float64{angle, -angle} {
				t += math.Atan2(strip.Normal.Y, strip.Normal.X) - phase
				for t -= 2 * math.Pi * math.Floor((t-r.Lo)/(2*math.Pi)); t <= r.Hi; t += 2 * math.Pi {
					marks = append(marks, t)
				}
			}
		}
	}
	slices.Sort(marks)
	reaches := func(t float64) bool {
		at := off.Sub(w.centre.Turn(t))
		for _, strip := range strips {
			if math.Abs(strip.Normal.Dot(at)) > strip.Half+reach.Nought {
				return false
			}
		}
		return true
	}
	var list []reach.Range
	for i, t := range marks {
		joined := i > 0 && reaches((marks[i-1]+t)/2)
		switch k := len(list) - 1; {
		case !reaches(t):
		case joined && k >= 0 && list[k].Hi == marks[i-1]:
			list[k].Hi = t
		default:
			list = append(list, reach.Range{Lo: t, Hi: t})
		}
	}
	return list
}

// nearestSecond returns the turns of a stretch at which the drop contact may come nearest to its place, nil
// when the turn makes no difference to it. The drop lies at at + R(t)·(drop - centre): its distance falls
// towards the turn that brings this arm in line with the place, and at an end where that is not to be had.
func (w *swing) nearestSecond(r reach.Range, dropContact func() (plane.Point, bool), want *assembly.Contact) []float64 {
	if want == nil {
		return nil
	}
	drop, ok := dropContact()
	if !ok {
		return nil
	}
	arm, to := drop.Sub(w.centre), want.At.Sub(w.at)
	if math.Min(arm.Norm(), to.Norm()) <= reach.Tie/4 {
		return nil
	}
	t := math.Atan2(to.Y, to.X) - math.Atan2(arm.Y, arm.X)
	t -= 2 * math.Pi * math.Floor((t-r.Lo)/(2*math.Pi))
	if t <= r.Hi {
		return []float64{t}
	}
	return []float64{r.Lo, r.Hi}
}

// strayOnBend is how far everything is from home with the bar at turn t, mm².
func (s *side) strayOnBend(b *bike.Bike, c reach.Candidate, w swing, hand float64) func(t float64) float64 {
	choice := s.arms[c.Arm]
	base, bar := s.fixed(c), b.Bar.Options[choice.bar].Part
	travels := make([]reach.Travel, len(s.slides))
	for k, i := range s.slides {
		travels[k] = reach.Travel{Slide: s.Slides[k], Home: Home(b, i)}
	}
	return func(t float64) float64 {
		lever := (t-hand)*bar.Bend - choice.leverHome
		sum := s.turnStray(b, settled{arm: choice, turn: t}) + lever*lever
		for k, x := range reach.Share(w.clamp(t).Sub(base), travels) {
			d := x - travels[k].Home
			sum += d * d
		}
		return sum
	}
}

// leastOn returns where a function with few dips is least on a stretch: samples choose a dip, golden section
// ends in it.
func leastOn(r reach.Range, f func(float64) float64) float64 {
	const parts = 48
	step := (r.Hi - r.Lo) / parts
	best, least := r.Lo, f(r.Lo)
	if step == 0 {
		return best
	}
	for i := 1; i <= parts; i++ {
		t := math.Min(r.Hi, r.Lo+float64(i)*step)
		if v := f(t); v < least {
			best, least = t, v
		}
	}
	if t, v := reach.Minimise(f, math.Max(r.Lo, best-step), math.Min(r.Hi, best+step), 1e-10); v < least {
		return t
	}
	return best
}
