package carry

import (
	"math"
	"slices"

	"carryover/internal/plane"
	"carryover/internal/search"
)

// settleOnBend settles a lever on the bend. Where the hood is reached, the bar may be turned together with the lever's
// place on it, the hand's own turn kept. The turns that still reach are stretches and single points; on each the second
// contact, or nearness to home, decides.
func (h *half) settleOnBend(c search.Candidate) settled {
	w, arm := h.ways[c.Arm], &h.Arms[c.Arm]
	choice := &h.arms[w.choice]
	bend, bar := choice.bend, choice.Bar
	at := func(t float64) settled {
		v := bend.centre.Turn(t).Add(bend.hand.Turn(w.hand)).Turn(-t)
		out := h.settleAt(c, t, plane.Range{Lo: v.X, Hi: v.X}, v.Y)
		out.from.Turn = t
		out.got.Angle = w.hand + choice.offset
		out.leverAt = plane.Clamp(t-w.hand, bend.f.Lo, bend.f.Hi) * bar.Bend
		out.strayS = h.travelStray(&out)
		h.finish(&out)
		out.strayS += (out.leverAt - choice.leverHome) * (out.leverAt - choice.leverHome)
		return out
	}
	if c.Square-arm.Square > search.Tie*search.Tie || arm.Bend.Turn.Hi == arm.Bend.Turn.Lo {
		return at(c.Turn)
	}
	swing := swing{centre: bend.centre, at: h.want.At.Sub(arm.At), clamps: h.clampPlaces(c)}
	v := ballot{half: h}
	for _, stretch := range swing.reaching(arm.Bend.Turn, c.Turn) {
		turns := h.turnsForDrop(&swing, stretch, bar.DropContact)
		if turns == nil {
			turns = []float64{leastOn(stretch, h.strayOnBend(c, &swing))}
		}
		for _, t := range turns {
			v.offer(at(t))
		}
	}
	if len(v.front) == 0 {
		return at(c.Turn)
	}
	return v.best()
}

// swing is a bar turning about the place, at, of the centre of its bend: its clamp stands at at - R(t)·centre.
type swing struct {
	centre plane.Point // of the bend, from the clamp
	at     plane.Point
	clamps plane.Zonogon // where the clamp can stand
}

func (w *swing) clamp(t float64) plane.Point { return w.at.Sub(w.centre.Turn(t)) }

// reaching returns the turns of r at which the clamp can stand where it must, in rising order; single turns are
// stretches of no length. Along the normal n of each strip of the clamp's places the clamp moves as a sinusoid,
// n·R(t)·centre = |centre|·cos(t + its angle - n's), so the turns at which it meets the strip's two lines are known;
// known is a turn that search found.
func (w *swing) reaching(r plane.Range, known float64) []plane.Range {
	off := w.at.Sub(w.clamps.Centre)
	strips := w.clamps.Strips()
	size, phase := w.centre.Norm(), math.Atan2(w.centre.Y, w.centre.X)
	marks := []float64{r.Lo, r.Hi, plane.Clamp(known, r.Lo, r.Hi)}
	for _, strip := range strips {
		for _, side := range [2]float64{-1, 1} {
			c := strip.Normal.Dot(off) + side*strip.Half
			if math.Abs(c) > size+search.Nought || size == 0 {
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
			if math.Abs(strip.Normal.Dot(at)) > strip.Half+search.Nought {
				return false
			}
		}
		return true
	}
	var list []plane.Range
	for i, t := range marks {
		joined := i > 0 && reaches((marks[i-1]+t)/2)
		switch k := len(list) - 1; {
		case !reaches(t):
		case joined && k >= 0 && list[k].Hi == marks[i-1]:
			list[k].Hi = t
		default:
			list = append(list, plane.Range{Lo: t, Hi: t})
		}
	}
	return list
}

// turnsForDrop returns the turns of a stretch at which the drop contact may come nearest to its place, nil when the turn
// makes no difference to it. The drop lies at at + R(t)·(drop - centre): its distance falls towards the turn that brings
// this arm in line with the place, and at an end where that is not to be had.
func (h *half) turnsForDrop(w *swing, r plane.Range, dropContact func() (plane.Point, bool)) []float64 {
	drop, ok := dropContact()
	if !ok || h.second == nil {
		return nil
	}
	arm, to := drop.Sub(w.centre), h.second.At.Sub(w.at)
	if math.Min(arm.Norm(), to.Norm()) <= search.Tie/4 {
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
func (h *half) strayOnBend(c search.Candidate, w *swing) func(t float64) float64 {
	choice := h.arms[h.ways[c.Arm].choice]
	hand := h.ways[c.Arm].hand
	base, bar := h.fixed(c), choice.Bar
	return func(t float64) float64 {
		lever := (t-hand)*bar.Bend - choice.leverHome
		sum := h.turnStray(&settled{arm: choice, turn: t}) + lever*lever
		for k, x := range search.Share(w.clamp(t).Sub(base), h.Slides) {
			d := x - h.Slides[k].Home
			sum += d * d
		}
		return sum
	}
}

// leastOn returns where a function with few dips is least on a stretch: samples choose a dip, golden section ends in it.
func leastOn(r plane.Range, f func(float64) float64) float64 {
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
	if t := plane.Lowest(f, plane.Range{Lo: math.Max(r.Lo, best-step), Hi: math.Min(r.Hi, best+step)}, 1e-10); f(t) < least {
		return t
	}
	return best
}
