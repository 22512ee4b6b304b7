package alternate

import (
	"fmt"
	"math"
	"slices"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/plane"
)

// build is one half of the target with its parts chosen: what stays the same in every posture.
type build struct {
	parts []carry.Part
	pick  map[string]int // slot to index
	flip  bool
	knobs []knob
	links []link // one for each posture; its variables are indexes of knobs
}

// knob is one setting, and the postures that feel it.
type knob struct {
	name     string
	adjuster int // -1: no scale
	variable
	users []int
	fixed bool    // stands with the build: a lever's place on the bar
	scale float64 // of its value, to what a person sets; 0: none
}

// movable reports whether a knob can be worth moving between postures.
func (k *knob) movable() bool {
	return len(k.users) > 1 && !k.fixed && (len(k.values) > 1 || len(k.values) == 0 && k.hi > k.lo)
}

// builder collects knobs and links of one build.
type builder struct {
	b    *bike.Bike
	out  *build
	byID map[string]int
}

func newBuilder(b *bike.Bike, postures int) *builder {
	return &builder{b: b, out: &build{pick: map[string]int{}, links: make([]link, postures)}, byID: map[string]int{}}
}

// use notes that posture p feels a knob, which is made when first used.
func (a *builder) use(p int, k knob) int {
	i, ok := a.byID[k.name]
	if !ok {
		i = len(a.out.knobs)
		a.byID[k.name] = i
		a.out.knobs = append(a.out.knobs, k)
	}
	if u := a.out.knobs[i].users; !slices.Contains(u, p) {
		a.out.knobs[i].users = append(u, p)
	}
	return i
}

// adjuster is the knob of one of the target's adjusters.
func adjuster(b *bike.Bike, i int) knob {
	a := &b.Adjusters[i]
	k := knob{name: a.Name, adjuster: i}
	lo, hi := a.Stops()
	k.variable = variable{lo: lo, hi: hi, turns: a.Moves.Turns(), home: b.Home(i)}
	if a.Indexed() {
		for j := range a.Steps() {
			k.values = append(k.values, lo+float64(j)*math.Abs(a.Travel(a.Step)))
		}
	}
	return k
}

// free is a knob without a scale.
func free(name string, lo, hi float64, values []float64, turns bool) knob {
	return knob{name: name, adjuster: -1, variable: variable{lo: lo, hi: hi, values: values, turns: turns, home: lo + (hi-lo)/2}}
}

// travel lets posture p feel every adjuster that moves m.
func (a *builder) travel(p int, m bike.Moves) {
	for _, i := range a.b.Moving(m) {
		l := &a.out.links[p]
		l.slides = append(l.slides, slideUse{a.use(p, adjuster(a.b, i)), a.b.Adjusters[i].Direction()})
	}
}

// turning is the variable that turns a part in posture p: an adjuster, a free setting, or none (-1) and
// the angle it stands at.
func (a *builder) turning(p int, m bike.Moves, name string, set bike.Setting) (v int, fixed float64) {
	if on := a.b.Moving(m); len(on) > 0 {
		return a.use(p, adjuster(a.b, on[0])), 0
	}
	if set.Free {
		return a.use(p, free(name, set.Lo, set.Hi, nil, true)), 0
	}
	return -1, set.Lo
}

// aim sets what posture p wants.
func (a *builder) aim(p int, want assembly.Contact, weight float64) {
	l := &a.out.links[p]
	l.want, l.angle, l.weight = want.At, want.Angle, weight
}

// saddleBuilds lists the saddle half for every saddle.
func saddleBuilds(b *bike.Bike, list []posture) ([]*build, error) {
	if b.Saddle.Empty() || b.SaddleAnchor == nil {
		return nil, fmt.Errorf("%s needs a saddle and [anchor] saddle_clamp = [x, y]", b.File)
	}
	var builds []*build
	for i, o := range b.Saddle.Options {
		clamp, ok := b.Saddle.ClampAt.OnRails(o.Part.Rail)
		if !ok {
			continue
		}
		a := newBuilder(b, len(list))
		a.out.pick["saddle"] = i
		if b.Saddle.Open {
			a.out.parts = append(a.out.parts, carry.Part{Slot: "saddle", ID: o.ID, Name: o.Name})
		}
		for p, post := range list {
			a.out.links[p].base = *b.SaddleAnchor
			a.travel(p, bike.MovesSaddle)
			turn, fixed := a.turning(p, bike.MovesSaddleTilt, "saddle.tilt", b.Saddle.Tilt)
			station, _ := o.Part.WidthStation(post.support)
			t := term{turn: turn, back: -1, fixed: fixed, x: -1, y: -1,
				at: plane.Point{X: clamp.Lo - station, Y: o.Part.Rail.Height + o.Part.Loaded(station).Y}}
			if b.Saddle.ClampAt.Free {
				t.at.X = -station
				t.x = a.use(p, free("saddle.clamp_at", clamp.Lo, clamp.Hi, nil, false))
			}
			a.out.links[p].terms = []term{t}
			a.aim(p, post.want.Sit, post.weights.Angle)
		}
		builds = append(builds, a.out)
	}
	if len(builds) == 0 {
		return nil, fmt.Errorf("%s: the clamp can hold none of the saddles", b.File)
	}
	return builds, nil
}

// mostBuilds bounds how many combinations of parts are taken on together.
const mostBuilds = 20_000

// handBuilds lists the hands' half for every combination of stem, way up, bar, lever and clip-on that the
// postures use.
func handBuilds(b *bike.Bike, list []posture) ([]*build, error) {
	var hood, bar, pad bool
	for _, p := range list {
		hood = hood || p.want.Hands.Name == bike.Hood
		bar = bar || p.want.Hands.Name != bike.Pad
		pad = pad || p.want.Hands.Name == bike.Pad
	}
	choices := []func(*builder) bool{}
	each := func(n int, use bool, choose func(a *builder, i int) bool) {
		if !use {
			n = 1
			choose = func(*builder, int) bool { return true }
		}
		var next []func(*builder) bool
		if len(choices) == 0 {
			choices = append(choices, func(*builder) bool { return true })
		}
		for _, before := range choices {
			for i := range n {
				next = append(next, func(a *builder) bool { return before(a) && choose(a, i) })
			}
		}
		choices = next
	}
	part := func(a *builder, open bool, slot, id, name string, i int) {
		a.out.pick[slot] = i
		if open {
			a.out.parts = append(a.out.parts, carry.Part{Slot: slot, ID: id, Name: name, Flip: slot == "stem" && a.out.flip})
		}
	}
	if b.Stem != nil {
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
		each(len(ways), true, func(a *builder, i int) bool {
			a.out.flip = ways[i].flip
			o := b.Stem.Options[ways[i].option]
			part(a, b.Stem.Open, "stem", o.ID, o.Name, ways[i].option)
			return true
		})
	} else if b.BarAnchor == nil {
		return nil, fmt.Errorf("%s does not say where its bar is: give [anchor] bar_clamp = [x, y] or a [stem]", b.File)
	}
	each(len(b.Bar.Options), bar, func(a *builder, i int) bool {
		o := b.Bar.Options[i]
		part(a, b.Bar.Open, "bar", o.ID, o.Name, i)
		return true
	})
	each(len(b.Bar.Lever.Options), hood && len(b.Bar.Lever.Options) > 0, func(a *builder, i int) bool {
		if b.Bar.Options[a.out.pick["bar"]].Part.Hood != nil {
			return i == 0 // the bar gives its hood itself
		}
		o := b.Bar.Lever.Options[i]
		part(a, b.Bar.Lever.Open, "lever", o.ID, o.Name, i)
		return true
	})
	if pad && b.Clipon == nil {
		return nil, fmt.Errorf("%s has no clip-on for the pads: give [clipon] part = \"...\"", b.File)
	}
	if pad {
		each(len(b.Clipon.Options), true, func(a *builder, i int) bool {
			o := b.Clipon.Options[i]
			part(a, b.Clipon.Open, "clipon", o.ID, o.Name, i)
			return true
		})
	}
	if len(choices) > mostBuilds {
		return nil, fmt.Errorf("%s leaves %d combinations of parts open, more than the %d that several postures are solved for together: narrow the lists", b.File, len(choices), mostBuilds)
	}
	var builds []*build
	for _, choose := range choices {
		for _, onBend := range []bool{false, true} {
			a := newBuilder(b, len(list))
			if choose(a) && a.hands(list, onBend) {
				builds = append(builds, a.out)
			}
			if !hood || !b.Bar.LeverAt.Free {
				break
			}
		}
	}
	if len(builds) == 0 {
		return nil, fmt.Errorf("%s: nothing fitted gives a place for the hands of every posture", b.File)
	}
	return builds, nil
}

// hands links every posture's hands; false when the parts give a posture no place. With a lever free along
// the bar, onBend says which of its two stretches it is on.
func (a *builder) hands(list []posture, onBend bool) bool {
	b := a.b
	for p, post := range list {
		l := &a.out.links[p]
		switch i, ok := a.out.pick["stem"]; {
		case !ok:
			l.base = *b.BarAnchor
		default:
			steerer, ok := b.Steerer()
			if !ok {
				return false
			}
			l.base = steerer.BarClamp(*b.Stem.Options[i].Part, a.out.flip, 0)
			if s := b.Stem.Spacers; s.Free {
				h := s.Heights()
				k := a.use(p, free("stem.spacers", 0, h[len(h)-1], h, false))
				l.slides = append(l.slides, slideUse{k, steerer.Up()})
			} else {
				l.base = l.base.Add(steerer.Up().Scale(s.Fixed))
			}
		}
		a.travel(p, bike.MovesBar)
		a.aim(p, post.want.Hands, post.weights.Angle)
		ok := true
		switch post.want.Hands.Name {
		case bike.Pad:
			ok = a.pad(p)
		case bike.Drop:
			ok = a.drop(p)
		default:
			ok = a.hood(p, onBend)
		}
		if !ok {
			return false
		}
	}
	return true
}

func (a *builder) drop(p int) bool {
	at, ok := a.b.Bar.Options[a.out.pick["bar"]].Part.DropContact()
	turn, fixed := a.turning(p, bike.MovesBarRotation, "bar.rotation", a.b.Bar.Rotation)
	a.out.links[p].terms = []term{{turn: turn, back: -1, fixed: fixed, at: at, x: -1, y: -1}}
	return ok
}

func (a *builder) hood(p int, onBend bool) bool {
	b, l := a.b, &a.out.links[p]
	bar := b.Bar.Options[a.out.pick["bar"]].Part
	turn, fixed := a.turning(p, bike.MovesBarRotation, "bar.rotation", b.Bar.Rotation)
	t := term{turn: turn, back: -1, fixed: fixed, x: -1, y: -1}
	j, hasLever := a.out.pick["lever"]
	if bar.Hood != nil || !hasLever {
		at, angle, ok := bar.HoodContact(nil, 0)
		t.at, l.offset = at, angle
		l.terms = []term{t}
		return ok && !onBend
	}
	lever := b.Bar.Lever.Options[j].Part
	set := b.Bar.LeverAt
	if !set.Free {
		at, angle, ok := bar.HoodContact(lever, set.Lo)
		t.at, l.offset = at, angle
		l.terms = []term{t}
		return ok
	}
	if !bar.Curved() {
		return false
	}
	first, last := bar.LeverTravel()
	lo, hi := math.Max(set.Lo, first), math.Min(set.Hi, last)
	l.offset = lever.Angle
	lever0 := func(k knob) knob { k.fixed = true; return k }
	if !onBend {
		if lo > math.Min(hi, 0) {
			return false
		}
		at, _, _ := bar.HoodContact(lever, 0)
		t.at = at
		t.x = a.use(p, lever0(free("bar.lever_at", lo, math.Min(hi, 0), nil, false)))
		l.terms = []term{t}
		return true
	}
	if hi <= math.Max(lo, 0) || bar.Bend == 0 {
		return false
	}
	bend := lever0(free("bar.lever_at", math.Max(lo, 0)/bar.Bend, hi/bar.Bend, nil, true))
	bend.scale = bar.Bend // radians around the bend to mm along it
	around := a.use(p, bend)
	hand := t
	t.at = bar.BendCentre()
	hand.at, hand.back = plane.Point{X: lever.Along, Y: bar.Bend + lever.Out}, around
	l.terms = []term{t, hand}
	return true
}

func (a *builder) pad(p int) bool {
	c := a.b.Clipon
	part := c.Options[a.out.pick["clipon"]].Part
	tilts, ok := c.Tilt.Tilts(part)
	holes, stacks := c.Hole.Offered(part.Holes), c.Stack.Offered(part.Stacks)
	if !ok || len(holes) == 0 || len(stacks) == 0 {
		return false
	}
	t := term{turn: -1, back: -1, at: plane.Point{Y: part.Base}, x: -1, y: -1}
	switch r := tilts; {
	case len(r.Values) > 1:
		t.turn = a.use(p, free("clipon.tilt", r.Values[0], r.Values[len(r.Values)-1], r.Values, true))
	case len(r.Values) == 1:
		t.fixed = r.Values[0]
	case r.Hi > r.Lo:
		t.turn = a.use(p, free("clipon.tilt", r.Lo, r.Hi, nil, true))
	default:
		t.fixed = r.Lo
	}
	list := func(name string, v []float64, at *float64) int {
		if len(v) == 1 {
			*at += v[0]
			return -1
		}
		return a.use(p, free(name, v[0], v[len(v)-1], v, false))
	}
	t.x = list("clipon.hole", holes, &t.at.X)
	t.y = list("clipon.stack", stacks, &t.at.Y)
	a.out.links[p].terms = []term{t}
	return true
}

// couple is the build as a problem: the knobs of moved have a variable for every posture, the others one
// for all. of[k][p] is the variable of knob k in posture p.
func (b *build) couple(moved []bool) (c *coupling, of [][]int) {
	c = &coupling{limit: nodeLimit, links: make([]link, len(b.links))}
	of = make([][]int, len(b.knobs))
	for k := range b.knobs {
		of[k] = make([]int, len(b.links))
		for i, p := range b.knobs[k].users {
			if i == 0 || moved[k] {
				c.vars = append(c.vars, b.knobs[k].variable)
			}
			of[k][p] = len(c.vars) - 1
		}
	}
	at := func(k, p int) int {
		if k < 0 {
			return -1
		}
		return of[k][p]
	}
	for p, l := range b.links {
		l.slides, l.terms = slices.Clone(l.slides), slices.Clone(l.terms)
		for i := range l.slides {
			l.slides[i].v = at(l.slides[i].v, p)
		}
		for i := range l.terms {
			t := &l.terms[i]
			t.turn, t.back, t.x, t.y = at(t.turn, p), at(t.back, p), at(t.x, p), at(t.y, p)
		}
		c.links[p] = l
	}
	return c, of
}

// nodeLimit bounds one search; a front whose search meets it is not called proven.
const nodeLimit = 400_000
