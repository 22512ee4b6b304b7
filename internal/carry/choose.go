package carry

import (
	"cmp"
	"context"
	"math"
	"slices"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/plane"
	"carryover/internal/reach"
)

// evenStray is the difference in stray, mm², below which two ways to set a half are equally near to home.
const evenStray = 1e-6

// option is a candidate with its settings.
type option struct {
	settled settled
	from    reach.Candidate
}

// order tells candidates apart that come out alike in everything, by the order of the file: a stem upright
// before the same one turned over, a lower step before a higher one. Rounding must not decide.
func order(a, b reach.Candidate) int {
	return cmp.Or(cmp.Compare(a.Arm, b.Arm), cmp.Compare(a.Base, b.Base), slices.Compare(a.Steps, b.Steps), cmp.Compare(a.Turn, b.Turn))
}

// ballot keeps of the options offered those that can still turn out best: of the ones within Tie of the
// least second miss the one of least stray, of the ones within evenStray of that the first in order. An
// option that another one is not behind in any of the three is dropped.
type ballot struct{ front []option }

// least is the least second miss so far, mm.
func (v *ballot) least() float64 {
	short := math.Inf(1)
	for i := range v.front {
		short = math.Min(short, v.front[i].settled.short)
	}
	return short
}

func (v *ballot) offer(k settled, from reach.Candidate) {
	behind := func(a, b *settled, ordered int) bool {
		return b.short <= a.short && b.strayS <= a.strayS && ordered <= 0
	}
	for i := range v.front {
		if f := &v.front[i]; behind(&k, &f.settled, order(f.from, from)) {
			return
		}
	}
	most := math.Min(v.least(), k.short) + reach.Tie
	v.front = slices.DeleteFunc(v.front, func(f option) bool {
		return f.settled.short > most || behind(&f.settled, &k, order(from, f.from))
	})
	if k.short <= most {
		v.front = append(v.front, option{k, from})
	}
}

// best is the winner; there must have been an offer.
func (v *ballot) best() (settled, reach.Candidate) {
	short, stray := v.least()+reach.Tie, math.Inf(1)
	for i := range v.front {
		if k := &v.front[i].settled; k.short <= short {
			stray = math.Min(stray, k.strayS)
		}
	}
	var best *option
	for i := range v.front {
		f := &v.front[i]
		if f.settled.short <= short && f.settled.strayS <= stray+evenStray && (best == nil || order(f.from, best.from) < 0) {
			best = f
		}
	}
	return best.settled, best.from
}

// beaten reports whether an option of at least this second miss (mm) and this stray (mm²) cannot win. A
// second miss is known no better than a few times Tie before everything is settled.
func (v *ballot) beaten(least [2]float64) bool {
	if len(v.front) == 0 {
		return false
	}
	if least[0] > v.least()+3*reach.Tie {
		return true
	}
	return slices.ContainsFunc(v.front, func(f option) bool {
		return f.settled.short <= least[0]+3*reach.Tie && f.settled.strayS < least[1]-evenStray
	})
}

// mostSettled bounds how many ties are settled one by one; only steps without number that bounds cannot tell
// apart come to so many.
const mostSettled = 1 << 16

// choose returns the best of all ties of a search: least miss of the second contact, then nearest to home.
// all is false when there were too many to be sure of that, or the context was cancelled on the way.
func (s *side) choose(ctx context.Context, b *bike.Bike, p bike.Posture, r reach.Result, wantSecond *assembly.Contact) (best settled, from reach.Candidate, all bool) {
	var v ballot
	for _, c := range r.Ties {
		v.offer(s.settle(b, p, c, wantSecond), c)
	}
	all = true
	if r.More {
		count := 0
		l := newLower(s, b, p, r.Best, wantSecond)
		all = s.Ties(ctx, r.Best, reach.Review{Least: l.least, Beaten: v.beaten, Offer: func(c reach.Candidate) bool {
			v.offer(s.settle(b, p, c, wantSecond), c)
			count++
			return count < mostSettled
		}})
	}
	best, from = v.best()
	return best, from, all
}

// lower bounds second miss and stray of the ties of a search from below.
type lower struct {
	side   *side
	bike   *bike.Bike
	best   float64 // E, mm
	second *assembly.Contact
	known  []pose // by arm
}

// pose is an arm with its contact where every tie has it.
type pose struct {
	ok     bool
	part   settled     // second miss, and stray of all but travels and spacers
	clamp  plane.Point // for X = 0
	travel reach.Travel
	slides bool
	off    float64 // how far a tie may be from it, mm
}

func newLower(s *side, b *bike.Bike, p bike.Posture, best float64, second *assembly.Contact) *lower {
	l := &lower{side: s, bike: b, best: best, second: second, known: make([]pose, len(s.Arms))}
	for i := range s.Arms {
		l.known[i] = s.posed(i, b, p, best, second)
	}
	return l
}

// posed works out where an arm is in every tie: at the turn nearest to the wanted one with its contact in
// place, when nothing but that angle makes up E. Otherwise it is not known.
func (s *side) posed(i int, b *bike.Bike, p bike.Posture, best float64, second *assembly.Contact) (k pose) {
	arm := &s.Arms[i]
	if arm.Bend != nil {
		return k
	}
	wanted := s.Wish.Angle - arm.Offset
	turn := plane.Clamp(wanted, arm.Turn.Lo, arm.Turn.Hi)
	if len(arm.Turn.Values) > 0 {
		turn = slices.MinFunc(arm.Turn.Values, func(x, y float64) int { return cmp.Compare(math.Abs(x-wanted), math.Abs(y-wanted)) })
		if math.Abs(turn-wanted)*s.Wish.Weight > reach.Tie {
			return k // another may be as near
		}
	}
	e, gap := best+reach.Tie, s.Wish.Weight*(turn-wanted)
	k.off = math.Sqrt(math.Max(0, e*e-gap*gap)) * (1 + math.Hypot(math.Max(math.Abs(arm.X.Lo), math.Abs(arm.X.Hi)), arm.Y)/s.Wish.Weight)
	if k.off > 1e-2 {
		return k
	}
	k.ok = true
	along := plane.Direction(turn)
	k.clamp = s.Wish.Place.Sub(along.Perp().Scale(arm.Y))
	k.slides = arm.X.Hi > arm.X.Lo
	k.travel = ownTravel(arm.X, s.arms[i], along)
	at := settled{base: baseChoice{stem: -1}, arm: s.arms[i], turn: turn}
	at.clamp = k.clamp.Sub(along.Scale(arm.X.Lo))
	if k.slides { // wherever it slides to, the second contact is no nearer than across the slide
		if second != nil && p.Hands == bike.Hood {
			if drop, ok := b.Bar.Options[s.arms[i].bar].Part.DropContact(); ok {
				x := plane.Clamp(drop.X-second.At.Sub(s.Wish.Place).Turn(-turn).X, arm.X.Lo, arm.X.Hi)
				at.clamp = k.clamp.Sub(along.Scale(x))
			}
		}
	}
	s.finishPart(b, p, &at, second)
	at.short = math.Max(0, at.short-k.off+reach.Tie)
	k.part = at
	return k
}

// least is what second miss (mm) and stray (mm²) of a tie do not fall below, for reach.Review.
func (l *lower) least(arm, base int, steps []int) [2]float64 {
	s, k := l.side, &l.known[arm]
	at, stray := s.Bases[base], 0.0
	for i, j := range steps {
		r := s.Racks[i]
		travel := r.First + float64(j)*r.Step
		at = at.Add(r.Dir.Scale(travel))
		d := travel - Home(l.bike, s.racks[i])
		stray += d * d
	}
	stray += spacerStray(l.bike, s.bases[base])
	if !k.ok {
		return [2]float64{0, stray}
	}
	stray += k.part.strayS
	// The rest goes the shortest way from home, were its steps no steps.
	travels := make([]reach.Travel, 0, len(s.slides)+len(s.racks)+1)
	for i, a := range s.slides {
		travels = append(travels, reach.Travel{Slide: s.Slides[i], Home: Home(l.bike, a)})
	}
	for i := len(steps); i < len(s.Racks); i++ {
		travels = append(travels, reach.Travel{Slide: s.Racks[i].Slide(), Home: Home(l.bike, s.racks[i])})
	}
	if k.slides {
		travels = append(travels, k.travel)
	} else {
		at = at.Add(k.travel.Dir.Scale(k.travel.Lo))
	}
	rest := 0.0
	for i, x := range reach.Share(k.clamp.Sub(at), travels) {
		rest += (x - travels[i].Home) * (x - travels[i].Home)
	}
	near := math.Max(0, math.Sqrt(rest)-2*k.off)
	return [2]float64{k.part.short, stray + near*near}
}
