// Package alternate sets one bike up for several positions: which settings they can share, which are
// worth moving between them, and what each position then misses.
//
// The objective is the root of the sum over the postures of their E², so a posture that misses much
// weighs more than one that misses little. Parts, the crank and a lever's place on its bar are the same
// in every posture.
package alternate

import (
	"context"
	"fmt"
	"math"
	"math/bits"
	"slices"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// Source is one position to alternate with.
type Source struct {
	Label    string // road.toml:road
	Feet     bike.Feet
	Position *locate.Position
}

// posture is a source with what it wants of the target.
type posture struct {
	want    carry.Wanted
	support float64
	weights bike.Weights
}

// Value is one setting in one posture.
type Value struct {
	Name   string
	Travel float64 // mm or radians
	Turns  bool
	Mark   float64 // on the adjuster's scale; for the others mm or degrees
	Moved  bool
	Sits   bool    // moves the saddle, not the hands
	Lo, Hi float64 // what Travel may be

	Adjuster int          // index into the target's adjusters; -1: none
	Tape     *carry.Check // the reading to set it by, for an adjuster without a scale
}

// Outcome is one posture on the target.
type Outcome struct {
	Label    string
	Values   []Value // of the settings that the posture feels
	Contacts []carry.Carried
	Checks   []carry.Check // readings that confirm it; their uncertainty is left out
}

// Row is the best for one number of moved settings.
type Row struct {
	Moves    int
	Moved    []string // names, in file order
	E        float64  // root of the sum over the postures of E², mm
	Parts    []carry.Part
	Outcomes []Outcome
	Proven   bool // nothing lies more than Tolerance below E
}

// Worst is the greatest miss of a primary contact, mm.
func (r *Row) Worst() float64 {
	worst := 0.0
	for _, o := range r.Outcomes {
		for _, c := range o.Contacts {
			worst = math.Max(worst, c.Miss)
		}
	}
	return worst
}

// WorstAngle is the greatest wrong angle of a primary contact, radians.
func (r *Row) WorstAngle() float64 {
	worst := 0.0
	for _, o := range r.Outcomes {
		for _, c := range o.Contacts {
			worst = math.Max(worst, math.Abs(c.MissAngle))
		}
	}
	return worst
}

// Carried reports whether every primary contact of every posture is.
func (r *Row) Carried() bool {
	for _, o := range r.Outcomes {
		for _, c := range o.Contacts {
			if !c.Carried {
				return false
			}
		}
	}
	return true
}

// Result is the trade between moving settings and missing contacts.
type Result struct {
	Crank    float64  // mm, the same for all
	Cranks   []string // sources that would rather have another crank, in words
	Rows     []Row    // Rows[k]: k settings moved
	Movable  []string
	Searches int // sets of moved settings solved; the others were ruled out by a bound
	Sets     int // sets of moved settings there are
}

// Proven reports whether every row is.
func (r *Result) Proven() bool {
	return !slices.ContainsFunc(r.Rows, func(row Row) bool { return !row.Proven })
}

// Best is the row with the fewest moves that carries every posture; the last when none does.
func (r *Result) Best() *Row {
	for i := range r.Rows {
		if r.Rows[i].Carried() {
			return &r.Rows[i]
		}
	}
	best := &r.Rows[len(r.Rows)-1]
	for i := len(r.Rows) - 1; i >= 0; i-- { // moves that gain nothing are not worth making
		if r.Rows[i].E <= best.E+Tolerance {
			best = &r.Rows[i]
		}
	}
	return best
}

// Solve finds, for every number of moved settings, which to move and where to set everything. progress, if
// not nil, is told how many sets of moved settings are done.
func Solve(ctx context.Context, target *bike.Bike, sources []Source, o carry.Options, progress func(done, total int)) (*Result, error) {
	if len(sources) < 2 {
		return nil, fmt.Errorf("alternating takes at least two postures, there is %d", len(sources))
	}
	feet := target.Feet
	feet.Crank = carry.NearestCrank(target.Feet, sources[0].Feet.Crank)
	feet.Cranks = nil
	cranked := *target
	cranked.Feet = feet
	r := &Result{Crank: feet.Crank}
	var list []posture
	for _, s := range sources {
		if own := carry.NearestCrank(target.Feet, s.Feet.Crank); own != feet.Crank {
			r.Cranks = append(r.Cranks, fmt.Sprintf("%s: its own cranks would be %g mm; %g mm stay in, and the saddle makes up for it", s.Label,
				own, feet.Crank))
		}
		want, err := carry.Want(s.Position, s.Feet, &cranked, o)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", s.Label, err)
		}
		list = append(list, posture{want, s.Position.Posture.Support, s.Position.Posture.Weights})
	}
	saddles, err := saddleBuilds(target, list)
	if err != nil {
		return nil, err
	}
	hands, err := handBuilds(target, list)
	if err != nil {
		return nil, err
	}
	h := [2]*half{newHalf(saddles), newHalf(hands)}
	r.Sets = 1<<len(h[0].movable) + 1<<len(h[1].movable)
	for _, x := range h {
		if err := x.solve(ctx, func() {
			r.Searches++
			if progress != nil {
				progress(r.Searches, r.Sets)
			}
		}); err != nil {
			return nil, err
		}
		r.Movable = append(r.Movable, x.movable...)
	}
	for moves := range len(r.Movable) + 1 {
		row, err := row(target, sources, list, h, moves)
		if err != nil {
			return nil, err
		}
		r.Rows = append(r.Rows, row)
	}
	return r, nil
}

// half is the saddle's or the hands' half: they share nothing, so each is solved by itself.
type half struct {
	builds  []*build
	movable []string
	best    []answer // by number of moves
}

// answer is the best of one half for one number of moves.
type answer struct {
	set    uint // of movable
	build  *build
	of     [][]int
	c      *coupling
	x      []float64
	square float64
	proven bool
}

func newHalf(builds []*build) *half {
	h := &half{builds: builds}
	for _, b := range builds {
		for i := range b.knobs {
			if k := &b.knobs[i]; k.movable() && !slices.Contains(h.movable, k.name) {
				h.movable = append(h.movable, k.name)
			}
		}
	}
	h.best = make([]answer, len(h.movable)+1)
	for i := range h.best {
		h.best[i].square = math.Inf(1)
		h.best[i].proven = true
	}
	return h
}

// solve goes through the sets of moved settings from all to none. Moving more never misses more, so what a
// set with one more member cannot beat, the set cannot either: such sets are ruled out unsolved.
func (h *half) solve(ctx context.Context, done func()) error {
	m := len(h.movable)
	if m > 16 {
		return fmt.Errorf("%d settings could be moved between the postures, more than the 16 that every set of is gone through: fix some of them in the file", m)
	}
	all := uint(1)<<m - 1
	bound := make([]float64, all+1)
	sets := make([]uint, all+1)
	for i := range sets {
		sets[i] = uint(i)
	}
	slices.SortStableFunc(sets, func(a, b uint) int { return bits.OnesCount(b) - bits.OnesCount(a) })
	// The builds in the order of what they reach with everything moved, which bounds them in every other set.
	floor := make([]float64, len(h.builds))
	order := make([]int, len(h.builds))
	for i := range order {
		order[i] = i
	}
	for _, set := range sets {
		count := bits.OnesCount(set)
		best := &h.best[count]
		for i := range m {
			if set>>i&1 == 0 {
				bound[set] = math.Max(bound[set], bound[set|1<<i])
			}
		}
		if bound[set] >= below(best.square) {
			continue
		}
		least := math.Inf(1)
		for _, i := range order {
			b := h.builds[i]
			goal := below(best.square)
			if set != all && math.Max(floor[i], bound[set]) >= goal {
				least = math.Min(least, floor[i])
				continue
			}
			moved := make([]bool, len(b.knobs))
			for k := range b.knobs {
				at := slices.Index(h.movable, b.knobs[k].name)
				moved[k] = at >= 0 && set>>at&1 == 1
			}
			c, of := b.couple(moved)
			cutoff := goal
			if set == all { // its bound serves every other set: worth more than whether it is the best
				e := math.Sqrt(best.square) + floorMargin
				cutoff = e * e
			}
			out := c.solve(ctx, cutoff)
			if set == all {
				floor[i] = out.bound
			}
			least = math.Min(least, out.bound)
			best.proven = best.proven && out.proven
			if out.square < best.square {
				proven := best.proven
				*best = answer{set, b, of, c, out.x, out.square, proven}
			}
		}
		bound[set] = math.Max(bound[set], least)
		if set == all {
			slices.SortStableFunc(order, func(a, b int) int {
				switch {
				case floor[a] < floor[b]:
					return -1
				case floor[a] > floor[b]:
					return 1
				}
				return 0
			})
		}
		done()
	}
	for i := range h.best {
		if h.best[i].x == nil {
			return fmt.Errorf("stopped before any shared setting was found")
		}
		h.best[i].x = h.best[i].c.near(h.best[i].x, h.best[i].of)
	}
	return nil
}

// floorMargin is how far above the best parts, with everything moved, other parts are still solved exactly, mm.
// Beyond it they are only known to be that much worse, and solved when a set of moves needs more.
const floorMargin = 10

// near moves travels, turns and steps held, to where they are nearest to their homes and the postures are
// nearest to one another, as far as contacts do not feel it: both count a ten-thousandth of a miss.
func (c *coupling) near(x []float64, of [][]int) []float64 {
	const slight, together = 1e-4, 1e-3
	w := newWork(c)
	x = slices.Clone(x)
	box := make([]stretch, len(c.vars))
	for i := range box {
		box[i] = c.vars[i].whole()
		if len(c.vars[i].values) > 0 || c.vars[i].turns {
			box[i] = stretch{lo: x[i], hi: x[i]}
		}
	}
	w.fit(box, x)
	for i := range c.vars {
		for k := range w.col {
			v := 0.0
			if k == i && !c.vars[i].turns {
				v = slight
			}
			w.col[k] = append(w.col[k], v)
		}
		r := 0.0
		if !c.vars[i].turns {
			r = slight * (c.vars[i].home - x[i])
		}
		w.res = append(w.res, r)
	}
	for _, vars := range of {
		for p := 1; p < len(vars); p++ {
			a, b := vars[p-1], vars[p]
			if a == b || c.vars[a].turns {
				continue
			}
			for k := range w.col {
				v := 0.0
				switch k {
				case a:
					v = together
				case b:
					v = -together
				}
				w.col[k] = append(w.col[k], v)
			}
			w.res = append(w.res, together*(x[b]-x[a]))
		}
	}
	bounded(w.col, w.res, x, box, c.vars)
	return x
}

// row joins the halves for a number of moves: the split of the moves between them that comes out best.
func row(target *bike.Bike, sources []Source, list []posture, h [2]*half, moves int) (Row, error) {
	var a, b *answer
	for k := range moves + 1 {
		if k >= len(h[0].best) || moves-k >= len(h[1].best) {
			continue
		}
		x, y := &h[0].best[k], &h[1].best[moves-k]
		if a == nil || x.square+y.square < a.square+b.square {
			a, b = x, y
		}
	}
	r := Row{Moves: moves, Proven: a.proven && b.proven}
	r.E = math.Sqrt(a.c.square(a.x) + b.c.square(b.x))
	for i, x := range [2]*answer{a, b} {
		for j, name := range h[i].movable {
			if x.set>>j&1 == 1 {
				r.Moved = append(r.Moved, name)
			}
		}
		r.Parts = append(r.Parts, x.build.parts...)
	}
	for p, s := range sources {
		o := Outcome{Label: s.Label}
		var got [2]assembly.Contact
		for i, x := range [2]*answer{a, b} {
			l := &x.c.links[p]
			got[i].At, got[i].Angle = l.contact(x.x)
			for _, v := range x.values(target, p, r.Moved) {
				v.Sits = i == 0
				o.Values = append(o.Values, v)
			}
		}
		want := list[p].want
		if v, ok := b.extension(target, p, want, got[1]); ok {
			o.Values = append(o.Values, v)
		}
		got[0].Name, got[1].Name = want.Sit.Name, want.Hands.Name
		o.Contacts = []carry.Carried{carry.Judged(want.Sit, got[0], true), carry.Judged(want.Hands, got[1], true)}
		var err error
		if o.Checks, err = checks(stand(target, a.build, b.build, o.Values, list[p].support), want.Hands.Name, o.Values); err != nil {
			return r, fmt.Errorf("%s: %w", s.Label, err)
		}
		r.Outcomes = append(r.Outcomes, o)
	}
	return r, nil
}

// values lists what posture p feels of an answer.
func (a *answer) values(target *bike.Bike, p int, moved []string) []Value {
	var list []Value
	for k := range a.build.knobs {
		knob := &a.build.knobs[k]
		if !slices.Contains(knob.users, p) {
			continue
		}
		v := Value{Name: knob.name, Travel: a.x[a.of[k][p]], Turns: knob.turns, Lo: knob.lo, Hi: knob.hi, Adjuster: knob.adjuster,
			Moved: slices.Contains(moved, knob.name)}
		if knob.scale != 0 {
			v.Travel, v.Lo, v.Hi, v.Turns = v.Travel*knob.scale, v.Lo*knob.scale, v.Hi*knob.scale, false
		}
		switch {
		case knob.adjuster >= 0:
			v.Mark = v.Travel / target.Adjusters[knob.adjuster].Unit
		case v.Turns:
			v.Mark = plane.Deg(v.Travel)
		default:
			v.Mark = v.Travel
		}
		list = append(list, v)
	}
	return list
}

// extension is how far ahead of its pad a posture's grip goes: as near to the wanted grip as it can. It is
// set for each pad posture by itself; it moves no primary contact.
func (a *answer) extension(target *bike.Bike, p int, want carry.Wanted, pad assembly.Contact) (v Value, ok bool) {
	i, on := a.build.pick["clipon"]
	if !on || want.Hands.Name != bike.Pad || want.Second == nil {
		return v, false
	}
	grip := target.Clipon.Options[i].Part.GripForward
	r := target.Clipon.Extension.Within(grip[0], grip[1])
	ahead := want.Second.At.Sub(pad.At).Turn(-pad.Angle).X
	v = Value{Name: "clipon.extension", Adjuster: -1, Travel: plane.Clamp(ahead, r.Lo, r.Hi), Lo: r.Lo, Hi: r.Hi}
	v.Mark = v.Travel
	return v, true
}

// Step is one line of a changeover card.
type Step struct {
	Name          string
	Before, After Value
	By            float64 // travel, mm or radians
	Turns         bool
}

// Changeover lists what to move to go from one posture of a row to another, in an order in which a step's reading is
// right when it is taken, there and back: the saddle before the bar, whose tape starts at it; the saddle's tilt before
// its place, the bar's rotation last; what has no scale after what has.
func (r *Row) Changeover(from, to int) []Step {
	var list []Step
	for _, a := range r.Outcomes[from].Values {
		for _, b := range r.Outcomes[to].Values {
			if a.Name == b.Name && math.Abs(a.Travel-b.Travel) >= 1e-6 {
				list = append(list, Step{Name: a.Name, Before: a, After: b, By: b.Travel - a.Travel, Turns: a.Turns})
			}
		}
	}
	rank := func(s Step) int {
		switch {
		case s.Before.Sits && s.Turns:
			return 0
		case s.Before.Sits && s.Before.Tape == nil:
			return 1
		case s.Before.Sits:
			return 2
		case s.Turns:
			return 5
		case s.Before.Tape == nil:
			return 3
		}
		return 4
	}
	slices.SortStableFunc(list, func(a, b Step) int { return rank(a) - rank(b) })
	return list
}
