// Package confirm checks a bike that has been set up: where its contacts really are by its marks and the
// readings taken after setting up, which are inside tolerance, and the fewest things to move so that all are.
package confirm

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/cockpit"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// Standing is a bike that has been set up, adjusted for the postures of another.
type Standing struct {
	Bike     *bike.Bike // as its file describes it, with the crank that is fitted as its only one
	Adjusted *locate.Adjustment
	Doubted  []string // adjusters whose marks the readings contradict: the readings count
	rider    *bike.Rider
}

// contradicted is the normalized residual beyond which a mark is not believed where all else agrees. A tape is trusted before a
// scale, whose pointer slips (common practice), so sooner than a reading is: one right mark in 80 lies as far out by chance.
const contradicted = 2.5

// Stand adjusts a bike by its marks and readings for the given postures; where the readings contradict a mark, by the readings.
func Stand(b *bike.Bike, rider *bike.Rider, postures []bike.Posture) (*Standing, error) {
	s, err := stand(b, rider, postures)
	if err != nil || len(s.Adjusted.Findings()) > 0 {
		return s, err
	}
	c, doubted := *s.Bike, []string(nil)
	c.Adjusters = slices.Clone(c.Adjusters)
	for i, w := range s.Adjusted.Search.Final.Normalized() {
		if o := &s.Adjusted.Observations[i]; o.Origin == locate.FromMark && !o.Value.Turns() && w > contradicted {
			c.Adjusters[o.Adjuster].Sigma, doubted = loosely, append(doubted, o.Name)
		}
	}
	if doubted == nil {
		return s, nil
	}
	s, err = stand(&c, rider, postures)
	if err == nil {
		s.Doubted = doubted
	}
	return s, err
}

// stand adjusts a bike by its marks and readings for the given postures. Everything on it must be said, not
// left open: the error lists what is.
func stand(b *bike.Bike, rider *bike.Rider, postures []bike.Posture) (*Standing, error) {
	c := *b
	c.Feet.Cranks = nil
	c.Postures = slices.Clone(postures)
	for i := range c.Postures {
		c.Postures[i].At, c.Postures[i].SitBones = nil, false // its support is the width on the other bike
	}
	if open := open(&c); len(open) > 0 {
		return nil, fmt.Errorf("%s leaves open how it stands now; write in the file what is fitted and set: %s", b.File, strings.Join(open, "; "))
	}
	a, err := locate.Adjust(&c, rider, locate.Options{})
	if err != nil {
		return nil, err
	}
	if err := a.Err(); err != nil {
		return nil, err
	}
	return &Standing{Bike: &c, Adjusted: a, rider: rider}, nil
}

// Position is where a rider touches the bike in a posture of another, and what that depends on.
func (s *Standing) Position(p bike.Posture) (pos locate.Position, effects []locate.Effect, err error) {
	p.At = nil
	of, err := s.Adjusted.For(p)
	if err != nil {
		return pos, nil, err
	}
	if pos, err = of.Position(p); err != nil {
		return pos, nil, err
	}
	effects, err = of.Effects(p)
	return pos, effects, err
}

// open lists in words what a bike leaves open although a posture on it depends on it.
func open(b *bike.Bike) (list []string) {
	on := func(hands bike.Contact) bool {
		return slices.ContainsFunc(b.Postures, func(p bike.Posture) bool { return p.Hands == hands })
	}
	stem, clipon, pads := cmp.Or(b.Stem, &bike.StemFit{}), cmp.Or(b.Clipon, &bike.CliponFit{}), &cockpit.Clipon{}
	if on(bike.Pad) && !clipon.Open && !b.Bar.Open {
		pads = cmp.Or(clipon.Only(), pads)
	}
	left := func(s bike.Setting) bool { return !s.Given || s.Free }
	for _, k := range []struct {
		open bool
		what string
	}{
		{b.Saddle.Open, "[saddle] part, the one fitted"},
		{b.Bar.Open, "[bar] part, the one fitted"},
		{b.Bar.Lever.Open, "[bar] lever, the one fitted"},
		{stem.Open, "[stem] part, the one fitted"},
		{clipon.Open, "[clipon] part, the one fitted"},
		{on(bike.Hood) && !b.Bar.Lever.Empty() && b.Bar.LeverAt.Free, "[bar] lever_at, where the levers stand"},
		{stem.Spacers.Free, "[stem] spacers, what lies under the stem"},
		{left(clipon.Hole) && len(pads.Holes) > 1, "[clipon] hole, where the pads are screwed"},
		{left(clipon.Stack) && len(pads.Stacks) > 1, "[clipon] stack, the risers under the pads"},
	} {
		if k.open {
			list = append(list, k.what)
		}
	}
	return list
}

// Contact is one contact: where it should be and where it is, as the bike is read.
type Contact struct {
	carry.Carried
	// Standard uncertainties of the difference, from the readings of both bikes: x, y and along the miss, mm; angle, radians.
	SigmaX, SigmaY, SigmaMiss, SigmaAngle float64
	xy                                    float64 // covariance of x and y, mm²
	// Unsure is whether it cannot be told if it is carried: the uncertainty exceeds the distance to the tolerance, or it hangs on
	// which of several readings is the wrong one.
	Unsure bool
}

// Inside reports whether it is inside tolerance, as far as can be told.
func (c *Contact) Inside() bool { return c.Carried.Carried }

// Result is a posture confirmed.
type Result struct {
	Posture     bike.Posture
	Contacts    []Contact
	Corrections []Move
	// Withheld are the settings that no move is given for: it would hang on which of several readings is the wrong one.
	Withheld []string
	// Doubted are the adjusters whose marks the readings contradict.
	Doubted []string
	// ByTape is whether something that no correction is given for can be moved all the same, with only a tape to tell how far.
	ByTape bool
	// Followed is whether the hands are wanted from a saddle that does not come all the way.
	Followed bool
	// After is what the primary contacts miss by once the corrections are made.
	After []Contact
	// Cured is whether the corrections bring every primary contact inside; true when nothing is to correct.
	Cured bool
	// Readings are those of the bike: what each should read, and reads.
	Readings []Change
	// Kept is what a tape reads now and then on the bike that is to be made to feel like another, as Changes says.
	Kept []Change
}

// Inside reports whether every primary contact is inside tolerance, as far as can be told.
func (r *Result) Inside() bool {
	return r.every((*Contact).Inside)
}

// Sure reports whether nothing that is said of a primary contact could as well be otherwise.
func (r *Result) Sure() bool {
	return r.every(func(c *Contact) bool { return !c.Unsure })
}

func (r *Result) every(is func(*Contact) bool) bool {
	return !slices.ContainsFunc(r.Contacts, func(c Contact) bool { return c.Primary && !is(&c) })
}

// From is a position on another bike: its feet, and where its rider touches it; Others are the same if another of its
// readings is the wrong one.
type From struct {
	Feet     bike.Feet
	Position *locate.Position
	Effects  []locate.Effect // what it depends on
	Others   []*locate.Position
}

// Check compares a bike as it stands with a position on another. Where readings disagree and nothing tells which is wrong,
// it is done again without each of those that may be: what does not come out alike is not told.
func Check(ctx context.Context, s *Standing, from From, o carry.Options) (*Result, error) {
	r, err := check(ctx, s, from, from.Position, o)
	if err != nil {
		return nil, err
	}
	r.Readings, r.Doubted = s.changes(r), s.Doubted
	for _, pos := range from.Others {
		k, err := check(ctx, s, from, pos, o)
		if err != nil {
			return nil, err
		}
		r.doubt(k)
	}
	for _, b := range Doubtful(s.Bike, s.rider, s.Adjusted) {
		other, err := Stand(b, s.rider, s.Bike.Postures)
		if err != nil { // without that reading nothing can be told
			r.doubt(&Result{})
			continue
		}
		k, err := check(ctx, other, from, from.Position, o)
		if err != nil {
			return nil, err
		}
		r.doubt(k)
	}
	return r, nil
}

func check(ctx context.Context, s *Standing, from From, pos *locate.Position, o carry.Options) (*Result, error) {
	got, effects, err := s.Position(pos.Posture)
	if err != nil {
		return nil, err
	}
	got = got.Turned(-s.Bike.Frame.Pitch)
	want, err := carry.Want(pos, from.Feet, s.Bike, o)
	if err != nil {
		return nil, err
	}
	r := &Result{Posture: pos.Posture}
	by, err := carry.Wants(pos, from.Feet, s.Bike, o)
	if err != nil {
		return nil, err
	}
	cov := locate.Apart(locate.Turned(effects, -s.Bike.Frame.Pitch), wanted(by, from.Effects))
	if pos.NoAngle || got.NoAngle {
		want.Hands.Angle, cov[5][5] = got.Hands.Angle, 0
	}
	r.Contacts = []Contact{compare(want.Sit, got.Sit, true, &cov, 0), compare(want.Hands, got.Hands, true, &cov, 3)}
	if want.Second != nil && got.Second != nil {
		r.Contacts = append(r.Contacts, compare(*want.Second, *got.Second, false, &cov, 6))
	}
	return r, r.correct(ctx, s, from.Feet, pos, o)
}

// wanted are the effects on what is wanted, by its derivatives by a position, of what that position depends on.
func wanted(by [locate.Coordinates][locate.Coordinates]float64, effects []locate.Effect) []locate.Effect {
	out := slices.Clone(effects)
	for n, e := range effects {
		out[n].At = [locate.Coordinates]float64{}
		for i := range by {
			for a, v := range e.At {
				out[n].At[i] += by[i][a] * v
			}
		}
	}
	return out
}

// compare judges one contact; its coordinates begin at k of the covariance of the differences.
func compare(want, got assembly.Contact, primary bool, cov *[locate.Coordinates][locate.Coordinates]float64, k int) Contact {
	c := Contact{Carried: carry.Carried{Want: want, Got: got, Primary: primary}}
	c.SigmaX, c.SigmaY, c.xy = math.Sqrt(cov[k][k]), math.Sqrt(cov[k+1][k+1]), cov[k][k+1]
	if primary {
		c.SigmaAngle = math.Sqrt(cov[k+2][k+2])
	}
	c.judge()
	return c
}

// judge says by how much a contact misses, how sure that is, and what is to be thought of it.
func (c *Contact) judge() {
	c.Carried = carry.Judged(c.Want, c.Got, c.Primary)
	n := plane.Point{X: 1}
	if c.Miss > 0 {
		n = c.Away.Scale(1 / c.Miss)
	}
	c.SigmaMiss = math.Sqrt(math.Max(0, n.X*n.X*c.SigmaX*c.SigmaX+2*n.X*n.Y*c.xy+n.Y*n.Y*c.SigmaY*c.SigmaY))
	angle := math.Abs(c.MissAngle)
	surely := carry.Carries(c.Miss+c.SigmaMiss, angle+c.SigmaAngle)
	off := !carry.Carries(math.Max(0, c.Miss-c.SigmaMiss), math.Max(0, angle-c.SigmaAngle))
	c.Unsure = !surely && !off
}
