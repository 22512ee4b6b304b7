package alternate

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/cockpit"
	"carryover/internal/plane"
)

// knob is a setting with the postures that feel it.
type knob struct {
	bike.Settable
	values []float64  // where it stands on steps
	turns  bike.Turns // of an angle: what it may be, Zero included
	users  []int
}

// movable reports whether it may stand differently in two postures: what is built once may not.
func (k *knob) movable() bool { return len(k.users) > 1 && !k.Sets.Built() && !k.Fixed() }

// link is one posture's contact: at base + Σ knob·column + R(turn)·at, its angle turn + offset.
type link struct {
	base, at plane.Point
	offset   float64 // radians
	noAngle  bool    // no angle is wanted
	angles   []int   // knobs whose turns make up its own
	fixed    float64 // what of its turn stands still
	steerer  plane.Point
}

// build is one half of the target with its parts chosen: what stays the same in every posture.
type build struct {
	bike  *bike.Bike // with those parts alone
	parts []carry.Part
	knobs []knob
	links []link // one for each posture
}

// use adds a setting that posture p feels.
func (b *build) use(p int, s bike.Settable, values []float64, turns bike.Turns) int {
	at := slices.IndexFunc(b.knobs, func(k knob) bool { return k.Name == s.Name })
	if at < 0 {
		at = len(b.knobs)
		b.knobs = append(b.knobs, knob{Settable: s, values: values, turns: turns})
	}
	b.knobs[at].users = append(b.knobs[at].users, p)
	return at
}

// stands are the steps that a setting stands on; nil: it may be anything between its ends.
func (b *build) stands(s *bike.Settable) []float64 {
	f := b.bike.Chosen()
	switch {
	case s.Sets == bike.SetsSpacers:
		return b.bike.Stem.Spacers.Heights()
	case s.Sets == bike.SetsHole:
		return b.bike.Clipon.Hole.Offered(f.Clipon.Holes)
	case s.Sets == bike.SetsRisers:
		return b.bike.Clipon.Stack.Offered(f.Clipon.Stacks)
	case s.Step > 0:
		var all []float64
		for v := s.Lo; v <= s.Hi+1e-9; v = s.Lo + float64(len(all))*s.Step {
			all = append(all, v)
		}
		return all
	}
	return nil
}

// link connects posture p of a half: where its contact hangs and what moves it. ok is false where the parts give it none.
func (b *build) link(p int, post *posture, onSaddle bool) (ok bool) {
	l, hands, f := link{noAngle: post.noAngle && !onSaddle}, post.want.Hands.Name, b.bike.Chosen()
	turning := map[bike.Sets]bike.Turns{}
	if onSaddle {
		l.base = *b.bike.SaddleAnchor
		turning[bike.SetsSaddleTilt], _ = b.bike.TurnsOf(bike.MovesSaddleTilt)
		if a := b.bike.Saddle.Arm; f.Saddle == nil && a != nil {
			l.at = a.At
		} else {
			clamp, held := b.bike.Saddle.ClampAt.OnRails(f.Saddle.Rail)
			station, _ := f.Saddle.WidthStation(post.support)
			l.at = plane.Point{X: clamp.Lo - station, Y: f.Saddle.Rail.Height + f.Saddle.Loaded(station).Y}
			if b.bike.Saddle.ClampAt.Free {
				l.at.X = -station
			}
			if !held {
				return false
			}
		}
	} else if ok = b.holds(&l, hands, f, turning); !ok {
		return false
	}
	for _, s := range b.bike.Settables(f, hands) {
		switch t, turns := turning[s.Sets]; {
		case s.Sets.OnSaddle() != onSaddle || s.Sets.Sideways() || s.Sets == bike.SetsExtension || s.Sets == bike.SetsLever:
		case s.Turns():
			if turns {
				l.angles = append(l.angles, b.use(p, s, nil, t))
				delete(turning, s.Sets)
			}
		default:
			b.use(p, s, b.stands(&s), bike.Turns{})
		}
	}
	for _, t := range turning { // what nothing turns
		l.fixed += t.Ends().Lo
	}
	b.links = append(b.links, l)
	return true
}

// holds says where the hands are on the bar or the pads.
func (b *build) holds(l *link, hands bike.Contact, f bike.Fitted, turning map[bike.Sets]bike.Turns) (ok bool) {
	if b.bike.Stem != nil {
		steerer, ok := b.bike.Steerer()
		if !ok {
			return false
		}
		spacers := b.bike.Stem.Spacers.Fixed
		if b.bike.Stem.Spacers.Free {
			spacers = 0
		}
		l.base, l.steerer = steerer.BarClamp(*f.Stem, b.bike.Stem.Flipped(), spacers), steerer.Up()
	} else {
		l.base = *b.bike.BarAnchor
	}
	rotation, _ := b.bike.TurnsOf(bike.MovesBarRotation)
	if a, own := b.bike.Bar.Arms[hands]; own {
		l.at, l.offset, l.noAngle = a.At, a.Angle, l.noAngle || a.NoAngle
		turning[bike.SetsRotation] = rotation
		return true
	}
	if hands == bike.Pad {
		if f.Clipon == nil {
			return false
		}
		c := b.bike.Clipon
		tilts, ok := c.Tilt.Tilts(f.Clipon)
		holes, stacks := c.Hole.Offered(f.Clipon.Holes), c.Stack.Offered(f.Clipon.Stacks)
		if !ok || len(holes) == 0 || len(stacks) == 0 {
			return false
		}
		turning[bike.SetsPadTilt] = tilts
		if f.Clipon.TiltFromBar {
			turning[bike.SetsRotation] = rotation
		}
		l.at = f.Clipon.Pad(0, 0)
		if !c.Hole.Open() {
			l.at.X += holes[0]
		}
		if !c.Stack.Open() {
			l.at.Y += stacks[0]
		}
		return true
	}
	turning[bike.SetsRotation] = rotation
	switch {
	case f.Bar == nil:
		return false
	case hands == bike.Drop:
		l.at, ok = f.Bar.DropContact()
	default:
		l.at, l.offset, ok = f.Bar.HoodContact(f.Lever, b.bike.Bar.LeverAt.Lo)
	}
	return ok
}

// column is where a knob takes the contact of a link turned by turn.
func (l *link) column(k *knob, turn float64) plane.Point {
	switch k.Sets {
	case bike.SetsRails, bike.SetsHole:
		return plane.Direction(turn)
	case bike.SetsRisers:
		return plane.Direction(turn).Perp()
	case bike.SetsSpacers:
		return l.steerer
	}
	return k.Heading
}

// mostBuilds bounds how many combinations of parts are taken on together.
const mostBuilds = 20_000

// leverStep is how finely a lever free along its bar is tried, mm: no finer than it can be taped into place.
const leverStep = 1

// fits lists the bike with every choice of the parts that several postures share: of the saddle, or of what holds the hands.
func fits(b *bike.Bike, list []posture, onSaddle bool) (all []*build, err error) {
	hood := slices.ContainsFunc(list, func(p posture) bool { return p.want.Hands.Name == bike.Hood })
	pad := slices.ContainsFunc(list, func(p posture) bool { return p.want.Hands.Name == bike.Pad })
	bar := hood || slices.ContainsFunc(list, func(p posture) bool { return p.want.Hands.Name == bike.Drop })
	all = []*build{{bike: b}}
	each := func(n int, slot string, open bool, choose func(c *bike.Bike, i int) carry.Part) {
		var next []*build
		for _, before := range all {
			for i := range n {
				c := *before.bike
				k := &build{bike: &c, parts: slices.Clone(before.parts)}
				if part := choose(&c, i); open {
					part.Slot = slot
					k.parts = append(k.parts, part)
				}
				next = append(next, k)
			}
		}
		all = next
	}
	switch {
	case onSaddle:
		if n := len(b.Saddle.Options); n > 0 {
			each(n, "saddle", b.Saddle.Open, func(c *bike.Bike, i int) carry.Part {
				c.Saddle.Slot = b.Saddle.Slot.One(i)
				return carry.Part{ID: b.Saddle.Options[i].ID, Name: b.Saddle.Options[i].Name}
			})
		}
		return all, nil
	case b.Stem != nil:
		type way struct {
			option int
			flip   bool
		}
		var ways []way
		for i := range b.Stem.Options {
			for _, flip := range b.Stem.Ways(i) {
				ways = append(ways, way{i, flip})
			}
		}
		each(len(ways), "stem", b.Stem.Open, func(c *bike.Bike, i int) carry.Part {
			stem, o := *b.Stem, b.Stem.Options[ways[i].option]
			stem.Slot, stem.Flip = b.Stem.Slot.One(ways[i].option), &ways[i].flip
			c.Stem = &stem
			return carry.Part{ID: o.ID, Name: o.Name, Flip: ways[i].flip}
		})
	}
	if bar && len(b.Bar.Options) > 0 {
		each(len(b.Bar.Options), "bar", b.Bar.Open, func(c *bike.Bike, i int) carry.Part {
			c.Bar.Slot = b.Bar.Slot.One(i)
			return carry.Part{ID: b.Bar.Options[i].ID, Name: b.Bar.Options[i].Name}
		})
	}
	if lever := b.Bar.Lever; hood && len(lever.Options) > 0 {
		each(len(lever.Options), "lever", lever.Open, func(c *bike.Bike, i int) carry.Part {
			c.Bar.Lever = lever.One(i)
			return carry.Part{ID: lever.Options[i].ID, Name: lever.Options[i].Name}
		})
		if at := b.Bar.LeverAt; at.Free {
			each(int(math.Floor((at.Hi-at.Lo)/leverStep))+1, "", false, func(c *bike.Bike, i int) carry.Part {
				c.Bar.LeverAt = bike.Fixed(at.Lo + float64(i)*leverStep)
				return carry.Part{}
			})
		}
	}
	if pad && b.Clipon != nil {
		fit := slices.ContainsFunc(b.Clipon.Options, func(o bike.Option[cockpit.Clipon]) bool { return b.Short(o.Part) <= 1e-9 })
		each(len(b.Clipon.Options), "clipon", b.Clipon.Open, func(c *bike.Bike, i int) carry.Part {
			clipon, o := *b.Clipon, b.Clipon.Options[i]
			clipon.Slot = b.Clipon.Slot.One(i)
			c.Clipon = &clipon
			return carry.Part{ID: o.ID, Name: o.Name}
		})
		if fit { // one that fits wins over one that does not
			all = slices.DeleteFunc(all, func(k *build) bool { return k.bike.Short(k.bike.Chosen().Clipon) > 1e-9 })
		}
	}
	if len(all) > mostBuilds {
		return nil, fmt.Errorf("%s leaves %d combinations of parts open, more than the %d that several postures are solved for "+
			"together: narrow the lists", b.File, len(all), mostBuilds)
	}
	return all, nil
}

// builds lists the choices that give every posture a place.
func builds(b *bike.Bike, list []posture, onSaddle bool) ([]*build, error) {
	what := map[bool]string{true: "needs a saddle and [anchor] saddle_clamp = [x, y]",
		false: "does not say where its bar is: give [anchor] bar_clamp = [x, y] or a [stem]"}[onSaddle]
	if onSaddle && (b.SaddleAnchor == nil || b.Saddle.Empty() && b.Saddle.Arm == nil) || !onSaddle && b.Stem == nil && b.BarAnchor == nil {
		return nil, fmt.Errorf("%s %s", b.File, what)
	}
	all, err := fits(b, list, onSaddle)
	if err != nil {
		return nil, err
	}
	all = slices.DeleteFunc(all, func(k *build) bool {
		for p := range list {
			if !k.link(p, &list[p], onSaddle) {
				return true
			}
		}
		return false
	})
	if len(all) == 0 {
		return nil, fmt.Errorf("%s: nothing fitted gives a place for every posture", b.File)
	}
	return all, nil
}

// turned settles the angles of every posture with some of the knobs moved between them, as near to the wanted ones as they
// go, and says what they still miss by, squared, in mm² (carried counts 2 mm and 1° alike). Where two steps are equally
// near there are two answers.
func (b *build) turned(wants []wish, moved func(*knob) bool) (turns [][]float64, of [][]map[int]float64, misses []float64) {
	start := make([]map[int]float64, len(wants)) // of each posture: knob to turn
	for p := range start {
		start[p] = map[int]float64{}
	}
	all := [][]map[int]float64{start}
	left := func(p int, own map[int]float64) float64 { // what is still to be turned
		l := &b.links[p]
		rest := wants[p].Angle - l.offset - l.fixed
		for _, v := range own {
			rest -= v
		}
		return rest
	}
	// The bar before the pads whose tilt counts from it, since hoods have nothing else; and once more, for what steps of the tilt leave.
	order, done := []int{}, map[int]bool{}
	for k := range b.knobs {
		if b.knobs[k].Turns() {
			order = append(order, k)
		}
	}
	slices.SortStableFunc(order, func(x, y int) int { return int(b.knobs[x].Sets) - int(b.knobs[y].Sets) })
	if len(order) > 1 && b.knobs[order[0]].Sets == bike.SetsRotation {
		order = append(order, order[0])
	}
	for _, k := range order {
		knob := &b.knobs[k]
		groups := [][]int{knob.users}
		if moved(knob) {
			groups = nil
			for _, p := range knob.users {
				groups = append(groups, []int{p})
			}
		}
		for _, g := range groups {
			var next [][]map[int]float64
			for _, so := range all {
				sum, n := 0.0, 0
				for _, p := range g {
					if l := &b.links[p]; !l.noAngle && (done[k] || l.angles[len(l.angles)-1] == k) {
						sum, n = sum+left(p, so[p])+so[p][k], n+1
					}
				}
				wish := knob.Home + knob.Zero
				if n > 0 {
					wish = sum / float64(n)
				}
				for _, v := range knob.turns.Nearest(wish) {
					other := slices.Clone(so)
					for _, p := range g {
						other[p] = maps.Clone(so[p])
						other[p][k] = v
					}
					next = append(next, other)
				}
			}
			all = next
		}
		done[k] = true
	}
	for _, so := range all {
		turn, miss := make([]float64, len(wants)), 0.0
		for p := range wants {
			rest := left(p, so[p])
			turn[p] = wants[p].Angle - b.links[p].offset - rest
			if !b.links[p].noAngle {
				miss += math.Pow(rest*carry.CarriedMM/carry.CarriedRad, 2)
			}
		}
		turns, misses = append(turns, turn), append(misses, miss)
	}
	return turns, all, misses
}

// couple is the build as a problem with its angles settled: the knobs that are moved have a variable for every posture,
// the others one for all. of[k][p] is the variable of knob k in posture p, -1: none.
func (b *build) couple(wants []wish, turns []float64, moved func(*knob) bool) (
	c *coupling, of [][]int) {
	rows := 2 * len(wants)
	c = &coupling{limit: nodeLimit, want: make([]float64, rows)}
	put := func(row []float64, p int, v plane.Point) {
		flat := wants[p].metric.Flat(v)
		row[2*p], row[2*p+1] = flat.X, flat.Y
	}
	for p, w := range wants {
		l := &b.links[p]
		put(c.want, p, w.At.Sub(l.base).Sub(l.at.Turn(turns[p])))
	}
	of = make([][]int, len(b.knobs))
	for k := range b.knobs {
		of[k] = slices.Repeat([]int{-1}, len(wants))
		knob := &b.knobs[k]
		if knob.Turns() {
			continue
		}
		for i, p := range knob.users {
			if i == 0 || moved(knob) {
				c.vars = append(c.vars, variable{knob.Lo, knob.Hi, knob.values, knob.Home})
				c.col = append(c.col, make([]float64, rows))
			}
			of[k][p] = len(c.vars) - 1
			put(c.col[len(c.col)-1], p, b.links[p].column(knob, turns[p]))
		}
	}
	return c, of
}

// nodeLimit bounds one search; a front whose search meets it is not called proven.
const nodeLimit = 400_000
