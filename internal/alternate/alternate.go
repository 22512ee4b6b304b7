// Package alternate sets one bike up for several positions: which settings they can share, which are
// worth moving between them, and what each position then misses.
//
// Angles first, as in a carry: an angle that is shared stands where its misses, squared and summed over the postures, are
// least, and one that is moved where each posture wants it. Then the saddle is placed, leg extension before setback, and
// then the hands, which keep their place from the saddle that was got. The objective is the root of the sum over the
// postures of their E², in which a wrong angle counts 2 mm per degree, as it does for what is carried. Parts, the crank, a
// lever's place on its bar, spacers, holes and risers are the same in every posture.
package alternate

import (
	"cmp"
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
	Source
	want carry.Wanted
}

// Value is one setting in one posture.
type Value struct {
	carry.Setting
	Moved bool
	Tape  *carry.Check // the reading to set it by, for an adjuster without a scale
}

// Outcome is one posture on the target, carried to it with everything held where the row has it.
type Outcome struct {
	*carry.Solution
	Label  string
	Values []Value       // of the settings that the posture feels
	Checks []carry.Check // readings that confirm it; their uncertainty is left out
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

// Worst is the greatest miss of a primary contact, mm, and the greatest wrong angle of one.
func (r *Row) Worst() (mm float64, turn plane.Angle) {
	for _, o := range r.Outcomes {
		for _, c := range o.Contacts {
			if c.Primary {
				mm, turn = math.Max(mm, c.Miss), plane.Angle(math.Max(float64(turn), math.Abs(c.MissAngle)))
			}
		}
	}
	return mm, turn
}

// Carried reports whether every posture is.
func (r *Row) Carried() bool {
	return !slices.ContainsFunc(r.Outcomes, func(o Outcome) bool { return !o.Carried() })
}

// Alone is one posture carried by itself.
type Alone struct {
	*carry.Solution
	// Rows are those of all postures with everything built as it is for this one: what that would cost.
	Rows []Row
}

// Otherwise is what a row has built, or put into an open slot, otherwise than the posture p would have by itself.
func (r *Row) Otherwise(p int, alone *carry.Solution) (parts []carry.Part, sets []carry.Setting) {
	for _, part := range alone.Parts {
		if !slices.Contains(r.Parts, part) {
			parts = append(parts, part)
		}
	}
	for _, set := range alone.Settings {
		if slices.ContainsFunc(r.Outcomes[p].Values, func(v Value) bool {
			return v.Name == set.Name && set.Sets.Built() && math.Abs(v.Travel-set.Travel) > 1e-6
		}) {
			sets = append(sets, set)
		}
	}
	return parts, sets
}

// Result is the trade between moving settings and missing contacts.
type Result struct {
	Crank    float64  // mm, the same for all
	Cranks   []string // sources that would rather have another crank, in words
	Rows     []Row    // Rows[k]: k settings moved
	Movable  []string
	Searches int     // sets of moved settings solved
	Sets     int     // sets of moved settings there are
	Alone    []Alone // of each posture: what the postures cannot have together
}

// Proven reports whether every row is.
func (r *Result) Proven() bool {
	return !slices.ContainsFunc(r.Rows, func(row Row) bool { return !row.Proven })
}

// Worthwhile is what one more move must gain to be made, mm of E.
const Worthwhile = 1.0

// Carrying is the row with the fewest moves that carries every posture; nil: none does.
func Carrying(rows []Row) *Row {
	if i := slices.IndexFunc(rows, func(row Row) bool { return row.Carried() }); i >= 0 {
		return &rows[i]
	}
	return nil
}

// Best is the row to recommend: of those with no more moves than it takes to carry every posture, or of all when nothing does,
// the last that gains a millimetre on every row with fewer. A millimetre of everything that is off, since what is furthest off
// may be so whatever is moved.
func (r *Result) Best() *Row {
	last := &r.Rows[len(r.Rows)-1]
	if row := Carrying(r.Rows); row != nil {
		last = row
	}
	best := last.Moves
	for best > 0 && r.Rows[best-1].E-r.Rows[best].E < Worthwhile { // no row with more moves is worse
		best--
	}
	return &r.Rows[best]
}

// Solve finds, for every number of moved settings, which to move and where to set everything. progress, if
// not nil, is told how many sets of moved settings are done.
func Solve(ctx context.Context, target *bike.Bike, sources []Source, o carry.Options, progress func(done, total int)) (*Result, error) {
	if len(sources) < 2 {
		return nil, fmt.Errorf("alternating takes at least two postures, there is %d", len(sources))
	}
	cranked := *target
	cranked.Feet.Crank, cranked.Feet.Cranks = carry.NearestCrank(target.Feet, sources[0].Feet.Crank), nil
	r := &Result{Crank: cranked.Feet.Crank}
	t := table{options: o}
	for _, s := range sources {
		if own := carry.NearestCrank(target.Feet, s.Feet.Crank); own != r.Crank {
			r.Cranks = append(r.Cranks, fmt.Sprintf("%s: its own cranks would be %g mm; %g mm stay in, and the saddle makes up for it",
				s.Label, own, r.Crank))
		}
		want, err := carry.Want(s.Position, s.Feet, &cranked, o)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", s.Label, err)
		}
		alone, err := carry.Solve(ctx, &cranked, &bike.Bike{File: s.Label, Feet: s.Feet}, s.Position, o)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", s.Label, err)
		}
		r.Alone = append(r.Alone, Alone{Solution: alone})
		t.postures = append(t.postures, posture{s, want})
	}
	whole := t
	if err := whole.open(&cranked); err != nil {
		return nil, err
	}
	seat, hands := whole.halves[0].movable, whole.halves[1].movable
	r.Movable = slices.Concat(seat, hands)
	r.Sets = 1<<len(seat) + (len(seat)+1)<<len(hands)
	var err error
	if r.Rows, err = whole.solve(ctx, func() {
		r.Searches++
		if progress != nil {
			progress(r.Searches, r.Sets)
		}
	}); err != nil {
		return nil, err
	}
	for p := range r.Alone {
		a := &r.Alone[p]
		if !slices.ContainsFunc(r.Rows, func(row Row) bool {
			parts, sets := row.Otherwise(p, a.Solution)
			return len(parts)+len(sets) > 0
		}) {
			continue
		}
		own := t
		if own.open(a.Built()) == nil { // one that gives the others a place
			if a.Rows, err = own.solve(ctx, func() {}); err != nil {
				return nil, err
			}
		}
	}
	return r, nil
}

// table is the best of both halves for every number of moves: of the saddle, and for each of those of the hands.
type table struct {
	target   *bike.Bike
	postures []posture
	options  carry.Options
	halves   [2]half
	saddles  []answer
	hands    [][]answer
}

// open lists what the target leaves open of both halves.
func (t *table) open(b *bike.Bike) error {
	t.target = b
	for i := range t.halves {
		all, err := builds(b, t.postures, i == 0)
		if err != nil {
			return err
		}
		t.halves[i] = newHalf(all)
	}
	return nil
}

// solve is the rows, by how many settings are moved.
func (t *table) solve(ctx context.Context, done func()) (rows []Row, err error) {
	var seats []wish
	for i := range t.postures {
		sit := t.postures[i].want.Sit
		seats = append(seats, wish{sit, nil, carry.SeatMetric(sit.At, t.postures[i].Position.Posture.Weights)})
	}
	if t.saddles, err = t.halves[0].solve(ctx, seats, done); err != nil {
		return nil, err
	}
	for k := range t.saddles {
		if k > 0 && t.saddles[k].set == t.saddles[k-1].set {
			t.hands = append(t.hands, t.hands[k-1])
			continue
		}
		var wishes []wish
		for p := range t.postures {
			want := t.postures[p].want.After(t.saddles[k].got(p))
			wishes = append(wishes, wish{want.Hands, want.Second, carry.HandMetric(t.postures[p].Position.Posture.Weights)})
		}
		hands, err := t.halves[1].solve(ctx, wishes, done)
		if err != nil {
			return nil, err
		}
		t.hands = append(t.hands, hands)
	}
	for moves := range len(t.halves[0].movable) + len(t.halves[1].movable) + 1 {
		row, err := t.row(ctx, moves)
		if err != nil {
			return nil, err
		}
		rows = append(rows, row)
	}
	return rows, nil
}

// wish is where a contact of one posture should be, and what missing it costs.
type wish struct {
	assembly.Contact
	second *assembly.Contact // nil: there is none, or it is not known
	metric plane.Metric
}

// half is the saddle's or the hands' half.
type half struct {
	builds  []*build
	movable []string
	angles  uint // those of movable that turn something
}

func newHalf(builds []*build) half {
	h := half{builds: builds}
	for _, b := range builds {
		for i := range b.knobs {
			if k := &b.knobs[i]; k.movable() && !slices.Contains(h.movable, k.Name) {
				if k.Turns() {
					h.angles |= 1 << len(h.movable)
				}
				h.movable = append(h.movable, k.Name)
			}
		}
	}
	return h
}

// moved tells which settings a set of the movable ones holds.
func (h *half) moved(set uint) func(*knob) bool {
	return func(k *knob) bool {
		i := slices.Index(h.movable, k.Name)
		return i >= 0 && set>>i&1 == 1
	}
}

// answer is the best of one half for one number of moves.
type answer struct {
	*trial
	set    uint // of movable
	c      *coupling
	of     [][]int
	x      []float64
	square float64 // mm²
	proven bool
}

// got is where the contact of posture p comes to lie.
func (a *answer) got(p int) plane.Point {
	l := &a.build.links[p]
	at := l.Clamp.Add(l.At.Turn(a.turns[p]))
	for k := range a.build.knobs {
		if v := a.of[k][p]; v >= 0 {
			at = at.Add(column(&a.build.knobs[k], a.turns[p]).Scale(a.x[v]))
		}
	}
	return at
}

// solve goes through every set of moved settings. With the angles settled, moving more travels never misses more: for
// every choice of moved angles the builds are gone through in the order of what they come to with all travels moved, which
// bounds them in every set, and the rest is left out once that is no better than what is known.
func (h *half) solve(ctx context.Context, wants []wish, done func()) ([]answer, error) {
	m := len(h.movable)
	if m > 16 {
		return nil, fmt.Errorf("%d settings could be moved between the postures, more than the 16 that every set of is gone through: "+
			"fix some of them in the file", m)
	}
	best := make([]answer, m+1)
	for i := range best {
		best[i] = answer{square: math.Inf(1), proven: true}
	}
	all := uint(1)<<m - 1
	floors := map[uint][]trial{}
	for set := range all + 1 {
		count := bits.OnesCount(set)
		list, known := floors[set&h.angles]
		if !known {
			list = h.trials(wants, set&h.angles)
			for i := range list {
				list[i].floor = list[i].solve(ctx, h, wants, set|all&^h.angles, math.Inf(1)).square
			}
			slices.SortStableFunc(list, func(a, b trial) int { return cmp.Compare(a.floor, b.floor) })
			floors[set&h.angles] = list
		}
		for i := range list {
			k := &list[i]
			if k.floor >= below(best[count].square) {
				break
			}
			out := k.solve(ctx, h, wants, set, best[count].square)
			proven := best[count].proven && out.proven
			if out.square < best[count].square {
				best[count] = out
			}
			best[count].proven = proven
		}
		done()
	}
	for i := range best {
		if best[i].x == nil {
			return nil, fmt.Errorf("stopped before any shared setting was found")
		}
		if i > 0 && math.Sqrt(best[i-1].square) <= math.Sqrt(best[i].square)+Tolerance { // one more to move gains nothing
			proven := best[i].proven && best[i-1].proven
			best[i] = best[i-1]
			best[i].proven = proven
			continue
		}
		best[i] = h.tied(best[i], floors[best[i].set&h.angles], wants)
	}
	return best, nil
}

// trial is a build with its angles settled.
type trial struct {
	build *build
	turns []float64         // of each posture, radians
	own   []map[int]float64 // of each posture: the turn of each knob that turns it
	miss  float64           // of the angles, squared, mm²
	floor float64           // with every travel moved, mm²
}

func (h *half) trials(wants []wish, moved uint) (list []trial) {
	for _, b := range h.builds {
		list = append(list, b.turned(wants, h.moved(moved))...)
	}
	return list
}

// coupled is the trial with a set of settings moved, not solved yet.
func (k *trial) coupled(h *half, wants []wish, set uint) answer {
	a := answer{trial: k, set: set}
	a.c, a.of = k.build.couple(wants, k.turns, h.moved(set))
	return a
}

// solve is the trial with a set of settings moved, where it is better than a square.
func (k *trial) solve(ctx context.Context, h *half, wants []wish, set uint, square float64) answer {
	a := k.coupled(h, wants, set)
	out := a.c.solve(ctx, square-k.miss)
	a.x, a.square, a.proven = out.x, out.square+k.miss, out.proven
	return a
}

// tied is, of all that come out as well as an answer with the same settings moved, the one of least second miss, then the
// nearest to where the machine stands, as in a carry.
func (h *half) tied(best answer, list []trial, wants []wish) answer {
	limit := math.Pow(math.Sqrt(best.square)+2*Tolerance/10, 2)
	short, stray := math.Inf(1), math.Inf(1)
	out := best
	for i := range list {
		k := &list[i]
		if k.floor > limit {
			break
		}
		a := k.coupled(h, wants, best.set)
		a.c.ties(limit-k.miss, func(x []float64, square float64) {
			a.x, a.square, a.proven = a.c.near(x), square+k.miss, best.proven
			second, way := a.short(wants), a.stray()
			if second < short-Tolerance || second < short+Tolerance && way < stray-1e-6 {
				short, stray, out = math.Min(second, short), way, a
			}
		})
	}
	return out
}

// short is the root of the summed squares of what the second contacts miss by, mm.
func (a *answer) short(wants []wish) float64 {
	sum := 0.0
	f := a.build.bike.Chosen()
	for p := range wants {
		want := wants[p].second
		if want == nil {
			continue
		}
		l := &a.build.links[p]
		off := want.At.Sub(a.got(p)).Turn(-a.turns[p]) // seen from the first contact, in the frame of the part
		switch {
		case want.Name == bike.Grip && f.Clipon != nil:
			grip := f.Clipon.Grip(0, 0, 0).Sub(f.Clipon.Pad(0, 0))
			r := a.build.bike.Clipon.Extension.Within(f.Clipon.GripForward[0], f.Clipon.GripForward[1])
			off = off.Sub(grip)
			off.X -= plane.Clamp(off.X, r.Lo, r.Hi)
		case want.Name == bike.Drop && f.Bar != nil:
			drop, ok := f.Bar.DropContact()
			if !ok {
				continue
			}
			off = off.Sub(drop.Sub(l.At))
		default:
			continue
		}
		sum += off.Dot(off)
	}
	return math.Sqrt(sum)
}

// stray is how far everything is from home: summed squares, mm².
func (a *answer) stray() float64 {
	sum := 0.0
	for i, v := range a.c.vars {
		sum += (a.x[i] - v.home) * (a.x[i] - v.home)
	}
	return sum
}

// row joins the halves for a number of moves: the split of the moves between them that comes out best.
func (t *table) row(ctx context.Context, moves int) (Row, error) {
	var a, b *answer
	for k := range t.saddles {
		if moves-k < 0 || moves-k >= len(t.hands[k]) {
			continue
		}
		x, y := &t.saddles[k], &t.hands[k][moves-k]
		if a == nil || x.square+y.square < a.square+b.square-1e-9 {
			a, b = x, y
		}
	}
	r := Row{Moves: moves, E: math.Sqrt(a.square + b.square), Proven: a.proven && b.proven}
	for i, x := range [2]*answer{a, b} {
		for j, name := range t.halves[i].movable {
			if x.set>>j&1 == 1 {
				r.Moved = append(r.Moved, name)
			}
		}
		r.Parts = append(r.Parts, x.build.parts...)
	}
	for p := range t.postures {
		o, err := t.outcome(ctx, p, a, b, r.Moved)
		if err != nil {
			return r, fmt.Errorf("%s: %w", t.postures[p].Label, err)
		}
		r.Outcomes = append(r.Outcomes, o)
	}
	return r, nil
}

// outcome carries a posture to the bike with everything fixed as the halves have it: nothing but its extension is left.
func (t *table) outcome(ctx context.Context, p int, a, b *answer, moved []string) (Outcome, error) {
	post := &t.postures[p]
	o := Outcome{Label: post.Label}
	fitted := *b.build.bike
	fitted.Saddle = a.build.bike.Saddle
	var list []bike.Settable
	var at []float64
	for _, x := range [2]*answer{a, b} {
		for k := range x.build.knobs {
			if knob := &x.build.knobs[k]; slices.Contains(knob.users, p) {
				list, at = append(list, knob.Settable), append(at, x.travel(k, p))
				o.Values = append(o.Values, Value{Setting: carry.Setting{Settable: knob.Settable, Travel: x.travel(k, p)},
					Moved: slices.Contains(moved, knob.Name)})
			}
		}
	}
	s, err := carry.Solve(ctx, fitted.Held(list, at), &bike.Bike{File: post.Label, Feet: post.Feet}, post.Position, t.options)
	if err != nil {
		return o, err
	}
	o.Solution = s
	hands := post.want.Hands.Name
	for _, set := range s.Settings {
		if set.Sets == bike.SetsExtension {
			o.Values = append(o.Values, Value{Setting: set})
		}
	}
	if q := fitted.Bar.LeverAt; t.target.Bar.LeverAt.Free && hands == bike.Hood { // tried place by place
		o.Values = append(o.Values, Value{Setting: carry.Setting{Settable: t.target.Settable(-1, bike.SetsLever.Key()), Travel: q.Lo}})
	}
	for _, r := range carry.CheckReadings(s.Target, hands) {
		v, _, err := s.Placement.ReadingOf(r)
		if err != nil {
			continue // a place that no part gives
		}
		o.Checks = append(o.Checks, carry.Check{Reading: r, Foretold: carry.Foretold{Value: r.Quantity().Of(v)}})
	}
	for i := range o.Values {
		v := &o.Values[i]
		if v.Adjuster < 0 || v.Scale {
			continue
		}
		readings := v.Readings(&fitted, hands) // a saddle's height and setback, a bar's reach and height
		r := readings[0]
		if len(readings) > 1 && v.Steep() != v.Sets.OnSaddle() {
			r = readings[1]
		}
		if got, _, err := s.Placement.ReadingOf(r); err == nil {
			v.Tape = &carry.Check{Reading: r, Foretold: carry.Foretold{Value: r.Quantity().Of(got)}}
		}
	}
	return o, nil
}

// travel is where knob k stands in posture p.
func (a *answer) travel(k, p int) float64 {
	if v := a.of[k][p]; v >= 0 {
		return a.x[v]
	}
	return a.own[p][k] - a.build.knobs[k].Zero
}

// Step is one line of a changeover card.
type Step struct{ Before, After Value }

// By is how far it goes.
func (s Step) By() plane.Quantity {
	return plane.QuantityOf(s.Before.Turns(), s.After.Travel-s.Before.Travel)
}

// stands is every setting in posture p: one that it does not feel stands where the last posture before it that does, going
// round, left it, so that whichever way the cards are gone through nothing is left over.
func (r *Row) stands(p int) (list []Value) {
	for back := range r.Outcomes {
		for _, v := range r.Outcomes[(p-back+len(r.Outcomes))%len(r.Outcomes)].Values {
			if !slices.ContainsFunc(list, func(known Value) bool { return known.Name == v.Name }) {
				list = append(list, v)
			}
		}
	}
	return list
}

// rank is a setting's place among equals of its phase: that of a carry, with posts and slides, which no tape confirms here, as
// the file has them.
func (v Value) rank() int {
	v.Heading = plane.Point{}
	return v.Rank()
}

// Changeover lists what to move to go from one posture of a row to another, in an order in which a step's reading is
// right when it is taken, there and back: the order of a carry, what has no scale after all else of its phase.
func (r *Row) Changeover(from, to int) []Step {
	var list []Step
	for _, a := range r.stands(from) {
		for _, b := range r.stands(to) {
			if a.Name == b.Name && math.Abs(a.Travel-b.Travel) >= 1e-6 {
				list = append(list, Step{a, b})
			}
		}
	}
	slices.SortStableFunc(list, func(a, b Step) int {
		x, y := &a.Before, &b.Before
		taped := 0
		switch {
		case x.Tape != nil && y.Tape == nil:
			taped = 1
		case x.Tape == nil && y.Tape != nil:
			taped = -1
		}
		return cmp.Or(cmp.Compare(x.Phase(), y.Phase()), taped, cmp.Compare(x.rank(), y.rank()))
	})
	return list
}
