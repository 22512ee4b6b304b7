package alternate

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"carryover/internal/bike"
	"carryover/internal/carry"
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

// link is one posture's contact: where it hangs, moved by Σ travel·column, and what turns it.
type link struct {
	carry.Mount
	noAngle bool    // no angle is wanted
	angles  []int   // knobs whose turns make up its own
	fixed   float64 // what of its turn stands still
}

// build is one half of the target with its parts chosen: what stays the same in every posture.
type build struct {
	bike  *bike.Bike // with those parts alone
	parts []carry.Part
	knobs []knob
	links []link // one for each posture
}

// use adds a setting that posture p feels.
func (b *build) use(p int, s bike.Settable, turns bike.Turns) int {
	at := slices.IndexFunc(b.knobs, func(k knob) bool { return k.Name == s.Name })
	if at < 0 {
		at = len(b.knobs)
		b.knobs = append(b.knobs, knob{Settable: s, values: s.Places(), turns: turns})
	}
	b.knobs[at].users = append(b.knobs[at].users, p)
	return at
}

// link connects posture p of a half: where its contact hangs and what moves it. ok is false where the parts give it none.
func (b *build) link(p int, post *posture, onSaddle bool) (ok bool) {
	mount, err := carry.MountOf(b.bike, post.Position.Posture, onSaddle)
	if err != nil {
		return false
	}
	l := link{Mount: mount, noAngle: !onSaddle && (post.Position.NoAngle || mount.NoAngle)}
	for _, s := range b.bike.Settables(b.bike.Chosen(), post.want.Hands.Name) {
		switch t, turns := l.Turns[s.Sets]; {
		case s.Sets.OnSaddle() != onSaddle || s.Sets.Sideways() || s.Sets == bike.SetsExtension || s.Sets == bike.SetsLever:
		case turns:
			l.angles = append(l.angles, b.use(p, s, t))
			delete(l.Turns, s.Sets)
		case !s.Turns():
			b.use(p, s, bike.Turns{})
			if onPart(s.Sets) { // a mount has it at its least
				l.At = l.At.Sub(s.Heading.Scale(s.Lo))
			}
		}
	}
	for _, t := range l.Turns { // what nothing turns
		l.fixed += t.Ends().Lo
	}
	b.links = append(b.links, l)
	return true
}

// onPart reports whether a knob moves its contact along the part that turns.
func onPart(s bike.Sets) bool {
	return s == bike.SetsRails || s == bike.SetsHole || s == bike.SetsRisers
}

// column is where a knob takes a contact whose part is turned by turn.
func column(k *knob, turn float64) plane.Point {
	if onPart(k.Sets) {
		return k.Heading.Turn(turn)
	}
	return k.Heading
}

// mostBuilds bounds how many combinations of parts are taken on together.
const mostBuilds = 20_000

// leverStep is how finely a lever free along its bar is tried, mm: no finer than it can be taped into place.
const leverStep = 1

// fits lists the bike with every choice of the parts that several postures share: of the saddle, or of what holds the hands, with
// each stem either way up and each place of a free lever.
func fits(b *bike.Bike, list []posture, onSaddle bool) ([]*build, error) {
	slots := []int{bike.StemSlot, bike.BarSlot, bike.LeverSlot, bike.CliponSlot}
	if onSaddle {
		slots = []int{bike.SaddleSlot}
	}
	all := []*build{{bike: b}}
	for _, slot := range slots {
		stock := b.Stocks()[slot]
		if stock.Count == 0 || !slices.ContainsFunc(list, func(p posture) bool { return p.want.Hands.Name.Uses(slot) }) {
			continue
		}
		var next []*build
		for _, before := range all {
			for i := range stock.Count {
				for _, c := range ways(before.bike.Narrowed(bike.Pick(slot, i)), slot) {
					k := &build{bike: c, parts: slices.Clone(before.parts)}
					if stock.Open {
						k.parts = append(k.parts, carry.Part{Slot: stock.Slot, ID: stock.At(i).ID, Name: stock.At(i).Name,
							Flip: slot == bike.StemSlot && c.Stem.Flipped()})
					}
					next = append(next, k)
				}
			}
		}
		all = next
		leavesRoom := func(k *build) bool { return k.bike.Short(k.bike.Chosen().Clipon) <= 1e-9 }
		if slot == bike.CliponSlot && slices.ContainsFunc(all, leavesRoom) { // one that fits wins over one that does not
			all = slices.DeleteFunc(all, func(k *build) bool { return !leavesRoom(k) })
		}
	}
	if len(all) > mostBuilds {
		return nil, fmt.Errorf("%s leaves %d combinations of parts open, more than the %d that several postures are solved for "+
			"together: narrow the lists", b.File, len(all), mostBuilds)
	}
	return all, nil
}

// ways are the ways to mount the part of a slot.
func ways(b *bike.Bike, slot int) (list []*bike.Bike) {
	switch at := b.Bar.LeverAt; {
	case slot == bike.StemSlot:
		for _, flip := range b.Stem.Ways(0) {
			c, stem := *b, *b.Stem
			stem.Flip, c.Stem = &flip, &stem
			list = append(list, &c)
		}
	case slot == bike.LeverSlot && at.Free:
		for i := range int((at.Hi-at.Lo)/leverStep) + 1 {
			c := *b
			c.Bar.LeverAt = bike.Fixed(at.Lo + float64(i)*leverStep)
			list = append(list, &c)
		}
	default:
		return []*bike.Bike{b}
	}
	return list
}

// builds lists the choices that give every posture a place.
func builds(b *bike.Bike, list []posture, onSaddle bool) ([]*build, error) {
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
func (b *build) turned(wants []wish, moved func(*knob) bool) (list []trial) {
	start := make([]map[int]float64, len(wants)) // of each posture: knob to turn
	for p := range start {
		start[p] = map[int]float64{}
	}
	all := [][]map[int]float64{start}
	left := func(p int, own map[int]float64) float64 { // what is still to be turned
		l := &b.links[p]
		rest := wants[p].Angle - l.Offset - l.fixed
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
		together := len(knob.users)
		if moved(knob) {
			together = 1
		}
		for g := range slices.Chunk(knob.users, together) {
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
		k := trial{build: b, turns: make([]float64, len(wants)), own: so}
		for p := range wants {
			rest := left(p, so[p])
			k.turns[p] = wants[p].Angle - b.links[p].Offset - rest
			if !b.links[p].noAngle {
				k.miss += math.Pow(rest*carry.CarriedMM/carry.CarriedRad, 2)
			}
		}
		list = append(list, k)
	}
	return list
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
		put(c.want, p, w.At.Sub(l.Clamp).Sub(l.At.Turn(turns[p])))
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
			put(c.col[len(c.col)-1], p, column(knob, turns[p]))
		}
	}
	return c, of
}

// nodeLimit bounds one search; a front whose search meets it is not called proven.
const nodeLimit = 400_000
