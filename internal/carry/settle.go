package carry

import (
	"cmp"
	"context"
	"math"
	"slices"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/plane"
	"carryover/internal/search"
)

// settled is one half of the target with every setting decided.
type settled struct {
	from     search.Candidate
	base     baseChoice
	arm      armChoice
	travels  []float64   // of the adjusters that move this half, mm, by index into the bike's list; 0 for the others
	turn     float64     // of the part about its clamp, radians
	rotation float64     // of the bar, where a clip-on's tilt counts from it; else turn
	clamp    plane.Point // where the clamp stands
	slideAt  float64     // contact's x in the turning frame, mm
	leverAt  float64
	extend   float64 // grip ahead of the pad, mm

	got    assembly.Contact
	miss   plane.Point // from got to wanted
	square float64     // E², mm²
	second *assembly.Contact
	short  float64 // by how much the second contact misses, mm
	strayS float64 // Σ (travel - home)², degrees counted as bike.DegreeCost mm
	strayE float64 // the extension's part of it, which hangs on where exactly the contact comes to lie
}

// degrees is the squared difference of two turns in the mm that angles are compared in.
func degrees(turn, home float64) float64 {
	d := plane.Deg(turn-home) * bike.DegreeCost
	return d * d
}

// untouched is where an adjuster stays that moves nothing in a posture: where it stands now, or on the step nearest to
// the middle of its range.
func untouched(b *bike.Bike, i int) float64 {
	a := &b.Adjusters[i]
	if _, ok := b.Marks[a.Name]; ok || !a.Indexed() {
		return b.Home(i)
	}
	lo, _ := a.Stops()
	return lo + math.Min(math.Round((a.Hi-a.Lo)/2/a.Step), float64(a.Steps()-1))*math.Abs(a.Travel(a.Step))
}

// settle decides every setting of a candidate. Its discrete choices and its angle are given, the place nearest to the
// wanted one is unique, and what brings the contact there is shared so that first the second contact and then the way
// from home comes out best.
func (h *half) settle(c search.Candidate) settled {
	w := h.ways[c.Arm]
	if h.arms[w.choice].bend != nil {
		return h.settleOnBend(c)
	}
	choice := &h.arms[w.choice]
	return h.settleAt(c, w.turn, choice.x, choice.y)
}

// fixed is the clamp place with the racks of a candidate on their steps and every slide at 0.
func (h *half) fixed(c search.Candidate) plane.Point {
	at := h.Bases[c.Base].At
	for k, j := range c.Steps {
		at = at.Add(h.Racks[k].Dir.Scale(h.Racks[k].Travel(j)))
	}
	return at
}

// clampPlaces is where the clamp can stand with a candidate's steps.
func (h *half) clampPlaces(c search.Candidate) plane.Zonogon {
	z := plane.Zonogon{Centre: h.fixed(c), Half: make([]plane.Point, 0, len(h.Slides)+1)}
	for _, t := range h.Slides {
		z.Add(t.Slide)
	}
	return z
}

// settleAt settles a candidate whose contact lies at (x, y) of a part turned by turn, x within a stretch.
func (h *half) settleAt(c search.Candidate, turn float64, x plane.Range, y float64) settled {
	out := settled{from: c, base: h.bases[c.Base], arm: h.arms[h.ways[c.Arm].choice], turn: turn}
	out.travels = make([]float64, len(h.bike.Adjusters))
	out.leverAt = out.arm.leverAt
	along := plane.Direction(turn)
	foot := along.Perp().Scale(y).Add(along.Scale(x.Lo)) // from the clamp to the contact with its own slide at 0
	set := h.clampPlaces(c)
	base := h.fixed(c)
	set.Centre = set.Centre.Add(foot)
	slid := 0.0
	var got plane.Point
	if x.Hi > x.Lo {
		own := h.ownTravel(&out.arm, along)
		set.Add(own.Slide)
		got = set.NearestBy(h.Wish.Metric, h.want.At)
		all := append(slices.Clone(h.Slides), own)
		slid = search.Share(got.Sub(base).Sub(foot), all)[len(h.Slides)]
		if h.second != nil && h.posture.Hands == bike.Hood {
			slid = h.slideForDrop(out.arm, turn, got, plane.Range{Lo: x.Lo, Hi: x.Hi}, y, c, x.Lo+slid) - x.Lo
		}
		out.strayS = (slid - own.Home) * (slid - own.Home)
	} else {
		got = set.NearestBy(h.Wish.Metric, h.want.At)
	}
	out.slideAt = x.Lo + slid
	out.leverAt += slid // along the flat; 0 for what cannot slide
	out.clamp = got.Sub(foot).Sub(along.Scale(slid))
	for k, v := range search.Share(out.clamp.Sub(base), h.Slides) {
		out.travels[h.slides[k]] = v
	}
	for k, j := range c.Steps {
		out.travels[h.racks[k]] = h.Racks[k].Travel(j)
	}
	out.strayS += h.travelStray(&out)
	out.got = assembly.Contact{At: got, Angle: turn + out.arm.offset}
	h.finish(&out)
	return out
}

// travelStray is how far the adjusters of a half are from home, mm².
func (h *half) travelStray(out *settled) (sum float64) {
	add := func(v, home float64) { sum += (v - home) * (v - home) }
	for k, i := range h.slides {
		add(out.travels[i], h.Slides[k].Home)
	}
	for k, i := range h.racks {
		add(out.travels[i], h.Racks[k].Home)
	}
	return sum
}

// slideForDrop returns where a lever free on the flat brings the drop contact nearest to its place while the hood stays:
// the hood fixes the bar but for a shift along itself, and the clamp must stay where it can stand. Such shifts form an
// interval.
func (h *half) slideForDrop(arm armChoice, turn float64, got plane.Point, x plane.Range, y float64, c search.Candidate,
	known float64) float64 {
	drop, ok := arm.Bar.DropContact()
	if !ok {
		return known
	}
	// drop = got + R(turn)·(drop - (x, y)): its distance from its place is least where the x parts agree.
	best := plane.Clamp(drop.X-h.second.At.Sub(got).Turn(-turn).X, x.Lo, x.Hi)
	// The clamp stands at got - R(turn)·(x, y): every strip of where it can stand leaves a stretch of x.
	clamps := h.clampPlaces(c)
	at, along := got.Sub(plane.Point{Y: y}.Turn(turn)).Sub(clamps.Centre), plane.Direction(turn)
	lo, hi := x.Lo, x.Hi
	for _, strip := range clamps.Strips() {
		slope, off := strip.Normal.Dot(along), strip.Normal.Dot(at)
		if math.Abs(slope) <= search.Nought/(1+x.Hi-x.Lo) {
			continue // x does not matter to it
		}
		a, b := (off-strip.Half)/slope, (off+strip.Half)/slope
		lo, hi = math.Max(lo, math.Min(a, b)), math.Min(hi, math.Max(a, b))
	}
	if lo > hi { // one x only, but for rounding
		return known
	}
	return plane.Clamp(best, lo, hi)
}

// finish judges a settled half: what it misses by, where the second contact ends up, how far from home it is.
func (h *half) finish(out *settled) {
	out.miss = h.want.At.Sub(out.got.At)
	if h.anyAngle(&out.arm) {
		out.got.Angle = h.want.Angle
	}
	flat := h.Wish.Metric.Flat(out.miss)
	off := h.posture.Weights.Angle * (out.got.Angle - h.want.Angle)
	out.square = flat.Dot(flat) + off*off
	h.finishPart(out)
}

// finishPart is what of finish does not depend on the travels: where the second contact ends up, and how far turn,
// spacers and clip-on are from home.
func (h *half) finishPart(out *settled) {
	out.rotation = out.turn
	out.strayS += h.turnStray(out) + spacerStray(h.bike, out.base)
	pose := plane.Pose{Origin: out.clamp, Turn: out.turn}
	hands := h.posture.Hands
	switch {
	case out.arm.Clipon != nil:
		h.extendGrip(out, pose)
	case hands == bike.Hood && out.arm.Bar != nil:
		if drop, ok := out.arm.Bar.DropContact(); ok {
			out.second = &assembly.Contact{Name: bike.Drop, At: pose.At(drop)}
		}
	case hands == bike.Hood && out.arm.shapeless != nil:
		out.second = h.secondOf(bike.Drop, pose)
	case hands == bike.Pad && out.arm.shapeless != nil:
		out.second = h.secondOf(bike.Grip, pose)
	}
	if h.second != nil && out.second != nil {
		out.short = out.second.At.Distance(h.second.At)
	}
}

// secondOf is the second contact of a body without a shape, nil when it gives none.
func (h *half) secondOf(name bike.Contact, pose plane.Pose) *assembly.Contact {
	a, ok := h.bike.Bar.Arms[name]
	if !ok {
		return nil
	}
	return &assembly.Contact{Name: name, At: pose.At(a.At)}
}

// spacerStray is how far free spacers are from the middle of what they may be, mm².
func spacerStray(b *bike.Bike, c baseChoice) float64 {
	if c.stem == nil || !b.Stem.Spacers.Free {
		return 0
	}
	d := c.spacers - b.Stem.Spacers.Max/2
	return d * d
}

// turnStray is how far turn, hole and risers are from where they stand now, or from the middle of what they may be.
// It divides the turn of pads whose tilt counts from the bar.
func (h *half) turnStray(out *settled) float64 {
	c, part := h.bike.Clipon, out.arm.Clipon
	if part == nil {
		return degrees(out.turn, h.homeTurn(out.arm.turns))
	}
	hole := out.arm.hole - middle(c.Hole.Within(part.Holes[0], part.Holes[len(part.Holes)-1]))
	stack := out.arm.stack - middle(c.Stack.Within(part.Stacks[0], part.Stacks[len(part.Stacks)-1]))
	tilt := middle(c.Tilt.Within(part.Tilt[0], part.Tilt[1]))
	sum := hole*hole + stack*stack
	if out.arm.rotation == nil {
		return sum + degrees(out.turn, tilt)
	}
	bar := h.homeTurn(*out.arm.rotation)
	out.rotation = divide(out.turn, *out.arm.rotation, bar, out.arm.turns, tilt)
	return sum + degrees(out.rotation, bar) + degrees(out.turn-out.rotation, tilt)
}

// divide returns the share of a turn that a takes when b takes the rest, both as near to their homes as can be.
func divide(turn float64, a bike.Turns, homeA float64, b bike.Turns, homeB float64) float64 {
	lo, hi := b.Ends().Lo, b.Ends().Hi
	tries := a.Values
	switch {
	case len(a.Values) == 0 && len(b.Values) == 0:
		best := homeA + (turn-homeA-homeB)/2
		tries = []float64{plane.Clamp(best, math.Max(a.Lo, turn-hi), math.Min(a.Hi, turn-lo))}
	case len(a.Values) == 0:
		for _, v := range b.Values {
			tries = append(tries, turn-v)
		}
	}
	best, least := tries[0], math.Inf(1)
	for _, v := range tries {
		rest := turn - v
		if nearest := b.Nearest(rest)[0]; math.Abs(nearest-rest) > 1e-8 || v < a.Ends().Lo-1e-8 || v > a.Ends().Hi+1e-8 {
			continue
		}
		if d := (v-homeA)*(v-homeA) + (rest-homeB)*(rest-homeB); d < least {
			best, least = v, d
		}
	}
	return best
}

// extendGrip sets the extension: as near to the wanted grip as it goes, else to the middle of its travel.
func (h *half) extendGrip(out *settled, pose plane.Pose) {
	part := out.arm.Clipon
	r := h.bike.Clipon.Extension.Within(part.GripForward[0], part.GripForward[1])
	home := middle(r)
	out.extend = home
	if h.second != nil {
		ahead := pose.Local(h.second.At).X - part.Pad(out.arm.hole, out.arm.stack).X
		out.extend = plane.Clamp(ahead, r.Lo, r.Hi)
	}
	off := out.extend - home
	out.strayE = off * off
	out.strayS += out.strayE
	out.second = &assembly.Contact{Name: bike.Grip, At: pose.At(part.Grip(out.arm.hole, out.arm.stack, out.extend))}
}

// foresee is what second miss (mm) and way from home (mm², the travels aside) of an arm do not fall below with its
// contact in place.
func (h *half) foresee(w way) (second, stray float64) {
	c := &h.arms[w.choice]
	if c.bend != nil {
		return 0, 0
	}
	at := settled{base: anchored, arm: *c, turn: w.turn}
	x := c.x.Lo
	if c.x.Hi > c.x.Lo && h.second != nil && h.posture.Hands == bike.Hood { // no nearer than across the slide
		if drop, ok := c.Bar.DropContact(); ok {
			x = plane.Clamp(drop.X-h.second.At.Sub(h.want.At).Turn(-w.turn).X, c.x.Lo, c.x.Hi)
		}
	}
	at.clamp = h.want.At.Sub(plane.Point{X: x, Y: c.y}.Turn(w.turn))
	h.finishPart(&at)
	return at.short, at.strayS - at.strayE
}

// evenStray is the difference in stray, mm², below which two ways to set a half are equally near to home.
const evenStray = 1e-6

// ballot keeps of the options offered those that can still turn out best: of the ones within Tie of the least second
// miss the one of least stray, of the ones within evenStray of that the first in the order of the file. An option that
// another one is not behind in any of the three is dropped.
type ballot struct {
	half  *half
	front []settled
}

// order tells candidates apart that come out alike in everything, by the order of the file: a stem upright before the
// same one turned over, a lower step before a higher one. Rounding must not decide.
func (h *half) order(a, b search.Candidate) int {
	v, w := h.ways[a.Arm], h.ways[b.Arm]
	return cmp.Or(cmp.Compare(v.choice, w.choice), cmp.Compare(a.Base, b.Base), slices.Compare(a.Steps, b.Steps),
		cmp.Compare(v.turn, w.turn), cmp.Compare(a.Turn, b.Turn))
}

// least is the least second miss so far, mm.
func (v *ballot) least() float64 {
	short := math.Inf(1)
	for i := range v.front {
		short = math.Min(short, v.front[i].short)
	}
	return short
}

func (v *ballot) offer(k settled) {
	behind := func(a, b *settled) bool {
		return b.short <= a.short && b.strayS <= a.strayS && v.half.order(b.from, a.from) <= 0
	}
	for i := range v.front {
		if behind(&k, &v.front[i]) {
			return
		}
	}
	most := math.Min(v.least(), k.short) + search.Tie
	v.front = slices.DeleteFunc(v.front, func(f settled) bool { return f.short > most || behind(&f, &k) })
	if k.short <= most {
		v.front = append(v.front, k)
	}
}

// best is the winner; there must have been an offer.
func (v *ballot) best() settled {
	short, stray := v.least()+search.Tie, math.Inf(1)
	for i := range v.front {
		if k := &v.front[i]; k.short <= short {
			stray = math.Min(stray, k.strayS)
		}
	}
	var best *settled
	for i := range v.front {
		f := &v.front[i]
		if f.short <= short && f.strayS <= stray+evenStray && (best == nil || v.half.order(f.from, best.from) < 0) {
			best = f
		}
	}
	return *best
}

// beaten reports whether an option of at least this second miss (mm) and this stray (mm²) cannot win. A second miss is
// known no better than a few times Tie before everything is settled. There must have been an offer.
func (v *ballot) beaten(second, stray float64) bool {
	const known = 3 * search.Tie
	return second > v.least()+known ||
		slices.ContainsFunc(v.front, func(f settled) bool { return f.short <= second+known && f.strayS < stray-evenStray })
}

// mostSettled bounds how many ties are settled one by one; only steps without number that bounds cannot tell apart come
// to so many.
const mostSettled = 1 << 16

// solve finds the least E of a half that has been aimed, and of all that share it the one of least second miss, then
// nearest to home. proven is false when the context ended the search.
func (h *half) solve(ctx context.Context) (best settled, proven bool) {
	least, _, proven := h.Best(ctx)
	v := ballot{half: h}
	v.offer(h.settle(least))
	if len(h.Bases) > 1 || len(h.Racks) > 0 || len(h.Arms) > 1 {
		count := 0
		all := h.Ties(ctx, least.Square, search.Review{Beaten: v.beaten, Offer: func(c search.Candidate) bool {
			v.offer(h.settle(c))
			count++
			return count < mostSettled
		}})
		proven = proven && all
	}
	return v.best(), proven
}
