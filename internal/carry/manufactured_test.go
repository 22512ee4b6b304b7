package carry

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/cockpit"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

func between(r *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }

func randomSaddle(r *rand.Rand) *saddle.Shape {
	length := between(r, 235, 290)
	width := [][2]float64{{0, between(r, 35, 45)}, {length * 0.4, between(r, 50, 65)}, {length * 0.85, between(r, 132, 150)}, {length,
		between(r, 60, 110)}}
	top := [][2]float64{{0, -between(r, 0, 6)}, {length * 0.5, -between(r, 2, 9)}, {length * 0.9, 0}, {length, -between(r, 0, 5)}}
	s, err := saddle.New(length, width, top, between(r, 2, 8), saddle.Rail{Height: between(r, 40, 55), From: 90, To: 170})
	if err != nil {
		panic(err)
	}
	return s
}

func randomBar(r *rand.Rand) *cockpit.Bar {
	return &cockpit.Bar{Reach: between(r, 70, 100), Drop: between(r, 110, 150), Bend: between(r, 25, 45)}
}

func randomLever(r *rand.Rand) *cockpit.Lever {
	return &cockpit.Lever{Along: between(r, 25, 45), Out: between(r, 10, 35), Angle: between(r, -0.05, 0.2)}
}

func one[T any](part *T) bike.Slot[T] {
	return bike.Slot[T]{Options: []bike.Option[T]{{ID: "inline", Name: "a part", Part: part}}}
}

func free(lo, hi float64) bike.Setting { return bike.Setting{Given: true, Free: true, Lo: lo, Hi: hi} }

// machine is a target with the settings it stands at: travel, mm or radians, by name of the setting.
type machine struct {
	b      *bike.Bike
	truth  map[string]float64
	sit    assembly.Contact
	hands  assembly.Contact
	unique bool // nothing else brings the contacts there
}

// rail adds an adjuster that stands somewhere within its stops, on a step when it has any, and returns how
// far it moves its clamp.
func (m *machine) rail(r *rand.Rand, name string, moves bike.Moves, angleDeg, length float64, stepped bool) plane.Point {
	unit := []float64{1, 10, -1, -10, 25.4}[r.IntN(5)]
	a := bike.Adjuster{Name: name, Moves: moves, Angle: plane.Rad(angleDeg), Unit: unit, Sigma: 0.5}
	a.Lo = between(r, -20, 20) / math.Abs(unit)
	a.Hi = a.Lo + length/math.Abs(unit)
	mark := between(r, a.Lo, a.Hi)
	if stepped {
		a.Step = between(r, 3, 9) / math.Abs(unit)
		steps := math.Floor((a.Hi - a.Lo) / a.Step)
		mark = a.Lo + a.Step*math.Floor(r.Float64()*(steps+1))
	}
	m.b.Adjusters = append(m.b.Adjusters, a)
	m.truth[name] = mark * unit
	return a.Direction().Scale(mark * unit)
}

// turning adds what turns a part: an adjuster (with steps or without), a free setting or a fixed one.
func (m *machine) turning(r *rand.Rand, name string, moves bike.Moves, set *bike.Setting) float64 {
	t := between(r, -0.12, 0.12)
	switch r.IntN(4) {
	case 0:
		*set = bike.Fixed(t)
	case 1:
		*set = free(-0.2, 0.2)
		m.truth[name] = t
	default:
		a := bike.Adjuster{Name: name + " screw", Moves: moves, Unit: plane.Rad([]float64{1, -1, 2.5}[r.IntN(3)]), Sigma: 0.005}
		a.Lo = -0.2 / math.Abs(a.Unit)
		a.Hi = -a.Lo
		mark := t / a.Unit
		if r.IntN(2) == 0 {
			a.Step = plane.Rad(1.5) / math.Abs(a.Unit)
			mark = a.Lo + a.Step*math.Round((mark-a.Lo)/a.Step)
		}
		m.b.Adjusters = append(m.b.Adjusters, a)
		t = mark * a.Unit
		m.truth[a.Name] = t
	}
	return t
}

// newMachine builds a random target around a random setting of it.
func newMachine(r *rand.Rand) *machine {
	m := &machine{b: &bike.Bike{File: "target"}, truth: map[string]float64{}, unique: true}
	m.saddle(r)
	switch r.IntN(5) {
	case 0:
		m.pads(r)
	default:
		m.hoods(r)
	}
	m.b.Feet = bike.Feet{Crank: 172.5, SoleHeight: between(r, 15, 35)}
	if r.IntN(2) == 0 {
		m.b.Feet.Cranks = []float64{165, 167.5, 170, 172.5, 175}
	}
	return m
}

const support = 95.0

func (m *machine) saddle(r *rand.Rand) {
	s := randomSaddle(r)
	m.b.Saddle.Slot = one(s)
	anchor := plane.Point{X: between(r, -200, -140), Y: between(r, 480, 560)}
	m.b.SaddleAnchor = &anchor
	clamp := anchor.Add(m.rail(r, "saddle post", bike.MovesSaddle, between(r, 100, 110), 200, r.IntN(3) == 0))
	at := between(r, 90, 170)
	slide := r.IntN(3)
	if slide != 0 {
		clamp = clamp.Add(m.rail(r, "saddle slide", bike.MovesSaddle, between(r, -3, 3), 80, r.IntN(3) == 0))
	}
	m.b.Saddle.ClampAt = bike.Fixed(at)
	if slide != 1 {
		m.b.Saddle.ClampAt = free(80, 175)
		m.truth["saddle.clamp_at"] = at
		m.unique = m.unique && slide == 0
	}
	t := m.turning(r, "saddle.tilt", bike.MovesSaddleTilt, &m.b.Saddle.Tilt)
	station, _ := s.WidthStation(support)
	n := clamp.Add(plane.Point{X: at, Y: s.Rail.Height}.Turn(t))
	m.sit = assembly.Contact{Name: bike.Sit, At: n.Add(plane.Point{X: -station, Y: s.Top(station) - s.Sag}.Turn(t)), Angle: t}
}

// front places the bar's clamp, on posts and slides or on a stem.
func (m *machine) front(r *rand.Rand) plane.Point {
	if r.IntN(3) == 0 {
		return m.stem(r)
	}
	anchor := plane.Point{X: between(r, 380, 420), Y: between(r, 470, 530)}
	m.b.BarAnchor = &anchor
	clamp := anchor.Add(m.rail(r, "bar post", bike.MovesBar, between(r, 97, 109), 220, r.IntN(3) == 0))
	return clamp.Add(m.rail(r, "bar slide", bike.MovesBar, between(r, -2, 2), 100, r.IntN(3) == 0))
}

func (m *machine) stem(r *rand.Rand) plane.Point {
	head := plane.Rad(between(r, 70, 75))
	top := plane.Point{X: between(r, 350, 380), Y: between(r, 540, 600)}
	m.b.Frame.HeadAngle, m.b.Frame.SteererTop = &head, &top
	fit := &bike.StemFit{}
	fit.Open = true
	for i := range 1 + r.IntN(12) {
		fit.Options = append(fit.Options, bike.Option[cockpit.Stem]{ID: fmt.Sprintf("stem-%d", i),
			Part: &cockpit.Stem{Length: between(r, 60, 130), Angle: plane.Rad(between(r, -20, 17)), Height: 40}})
	}
	fit.Spacers = bike.Spacers{Given: true, Free: true, Max: 40, Step: 5}
	m.b.Stem = fit
	spacers := 5 * float64(r.IntN(9))
	m.truth["stem.spacers"] = spacers
	stem := fit.Options[r.IntN(len(fit.Options))].Part
	flip := r.IntN(2) == 0
	e := math.Pi/2 - head + stem.Angle
	if flip {
		e = math.Pi/2 - head - stem.Angle
	}
	return top.Add(plane.Direction(math.Pi - head).Scale(spacers + stem.Height/2)).Add(plane.Direction(e).Scale(stem.Length))
}

func (m *machine) hoods(r *rand.Rand) {
	clamp := m.front(r)
	bar, lever := randomBar(r), randomLever(r)
	m.b.Bar.Slot, m.b.Bar.Lever = one(bar), one(lever)
	b := m.turning(r, "bar.rotation", bike.MovesBarRotation, &m.b.Bar.Rotation)
	q := between(r, -25, 40)
	m.b.Bar.LeverAt = bike.Fixed(q)
	if r.IntN(3) == 0 {
		m.b.Bar.LeverAt = free(-25, 40)
		m.truth["bar.lever_at"] = q
		m.unique = false
	}
	mount, f := plane.Point{X: bar.Reach - bar.Bend + q}, 0.0
	if q > 0 {
		f = q / bar.Bend
		mount = plane.Point{X: bar.Reach - bar.Bend + bar.Bend*math.Sin(f), Y: -bar.Bend + bar.Bend*math.Cos(f)}
	}
	along, out := plane.Point{X: math.Cos(f), Y: -math.Sin(f)}, plane.Point{X: math.Sin(f), Y: math.Cos(f)}
	hood := mount.Add(along.Scale(lever.Along)).Add(out.Scale(lever.Out))
	m.hands = assembly.Contact{Name: bike.Hood, At: clamp.Add(hood.Turn(b)), Angle: b + lever.Angle - f}
}

func (m *machine) pads(r *rand.Rand) {
	clamp := m.front(r)
	m.b.Bar.Slot = one(randomBar(r))
	c := &cockpit.Clipon{Base: between(r, 40, 70), Stacks: []float64{0, 10, 20, 30}, Holes: []float64{-20, -7, 8, 21},
		Tilt: [2]float64{0, 0.35}, PadLength: 90, PadWidth: 100, GripForward: [2]float64{250, 340}, GripRise: 30, Gap: 100}
	m.b.Clipon = &bike.CliponFit{Slot: one(c)}
	tilt := between(r, 0, 0.35)
	if r.IntN(2) == 0 {
		c.TiltStep = 0.05
		tilt = 0.05 * float64(r.IntN(8))
	}
	m.truth["clipon.tilt"] = tilt
	hole, stack := c.Holes[r.IntN(4)], c.Stacks[r.IntN(4)]
	if r.IntN(2) == 0 {
		m.b.Clipon.Hole, m.b.Clipon.Stack = bike.Fixed(hole), bike.Fixed(stack)
	} else {
		m.unique = false
	}
	m.hands = assembly.Contact{Name: bike.Pad, At: clamp.Add(plane.Point{X: hole, Y: c.Base + stack}.Turn(tilt)), Angle: tilt}
}

// source builds a bike with parts of its own and exact readings, whose contacts come to those of the machine
// once crank and foot stack are allowed for.
func (m *machine) source(r *rand.Rand, o Options) (*bike.Bike, bike.Posture) {
	p := bike.Posture{Name: "road", Hands: m.hands.Name, Support: support, Weights: bike.DefaultWeights()}
	b := &bike.Bike{File: "source", Postures: []bike.Posture{p}}
	b.Feet = bike.Feet{Crank: []float64{165, 170, 172.5, 175}[r.IntN(4)], SoleHeight: between(r, 15, 35)}
	crank := m.b.Feet.Crank
	if m.b.Feet.Cranks != nil {
		crank = b.Feet.Crank
	}
	// Section by section backwards: the leg's length, then the place of the saddle on it.
	rTarget := m.sit.At.Norm()
	rSource := rTarget - (b.Feet.Crank - crank) - (m.b.Feet.SoleHeight - b.Feet.SoleHeight)
	sit := m.sit.At.Scale(rSource / rTarget)
	if o.Policy == KeepKnee {
		x := m.sit.At.X - (crank - b.Feet.Crank)
		sit = plane.Point{X: x, Y: math.Sqrt(rSource*rSource - x*x)}
	}
	hands := m.hands.At
	if !o.HandsFixed {
		hands = hands.Sub(m.sit.At.Sub(sit))
	}

	s := randomSaddle(r)
	b.Saddle.Slot = one(s)
	bar, lever := randomBar(r), randomLever(r)
	q := between(r, -20, 30)
	if m.hands.Name == bike.Hood {
		b.Bar = bike.BarFit{Slot: one(bar), Lever: one(lever), LeverAt: bike.Fixed(q)}
	}
	l := assembly.New(b, bike.Posture{})
	st := &assembly.Placement{Layout: l}
	station, _ := s.WidthStation(support)
	st.Poses[assembly.Saddle] = plane.Pose{Origin: sit.Sub(plane.Point{X: -station, Y: s.Top(station) - s.Sag}.Turn(m.sit.Angle)),
		Turn: m.sit.Angle}
	bb, mid := bike.Place{Kind: bike.AtBB}, b.Seat(saddle.Mid)
	readings := []bike.Reading{
		{Kind: bike.Line, From: bb, To: mid}, {Kind: bike.Level, From: b.Seat(saddle.Nose), To: bb}, {Kind: bike.Angle, Of: bike.SaddleBody},
	}
	if m.hands.Name == bike.Hood {
		local, angle, _ := bar.HoodContact(lever, q)
		turn := m.hands.Angle - angle
		st.Poses[assembly.Bar] = plane.Pose{Origin: hands.Sub(local.Turn(turn)), Turn: turn}
		at := bike.Place{Kind: bike.AtHood}
		readings = append(readings, bike.Reading{Kind: bike.Level, From: b.Seat(saddle.Nose), To: at},
			bike.Reading{Kind: bike.Plumb, From: at, To: mid}, bike.Reading{Kind: bike.Angle, Of: bike.HoodBody})
	} else {
		st.Poses[assembly.Pads] = plane.Pose{Origin: hands, Turn: m.hands.Angle}
		at := bike.Place{Kind: bike.AtPad}
		readings = append(readings, bike.Reading{Kind: bike.Line, From: bb, To: at},
			bike.Reading{Kind: bike.Plumb, From: at, To: mid}, bike.Reading{Kind: bike.Angle, Of: bike.PadBody})
	}
	for i := range readings {
		v, _, err := st.ReadingOf(readings[i])
		if err != nil {
			panic(err)
		}
		readings[i].Value, readings[i].Sigma = v, 2
		if readings[i].Kind == bike.Angle {
			readings[i].Sigma = 0.01
		}
	}
	b.Readings = readings
	return b, p
}

func carryBike(t testing.TB, source, target *bike.Bike, p bike.Posture, o Options) *Solution {
	t.Helper()
	a, err := locate.Adjust(source, nil, locate.Options{})
	require.NoError(t, err)
	pos, err := a.Position(p)
	require.NoError(t, err)
	s, err := Solve(context.Background(), target, source, &pos, o)
	require.NoError(t, err)
	return s
}

// Random machines, random settings of them, and a source with other parts, another crank and other pedals whose
// exact readings lead there: the answer is the settings, and the contacts are met.
func TestManufacturedSolutions(t *testing.T) {
	const seed = 71
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	unique := 0
	for n := range tenth(3000) {
		m := newMachine(r)
		o := Options{Policy: Policy(r.IntN(2)), HandsFixed: r.IntN(4) == 0}
		source, p := m.source(r, o)
		s := carryBike(t, source, m.b, p, o)
		require.InDelta(t, 0, s.E, 1e-6, "case %d", n)
		require.True(t, s.Carried() && s.Proven)
		for i, want := range []assembly.Contact{m.sit, m.hands} {
			require.InDelta(t, 0, s.Contacts[i].Got.At.Distance(want.At), 1e-6, "case %d: %s", n, want.Name)
			require.InDelta(t, want.Angle, s.Contacts[i].Got.Angle, 1e-8, "case %d: %s", n, want.Name)
		}
		requireStanding(t, s, n)
		for _, set := range s.Settings {
			require.Empty(t, set.Limit, "case %d: nothing is held back", n)
			require.True(t, set.Travel >= set.Lo-1e-9 && set.Travel <= set.Hi+1e-9, "case %d: %+v", n, set)
			if set.Adjuster >= 0 {
				require.InDelta(t, set.Travel, set.Mark()*m.b.Adjusters[set.Adjuster].Unit, 1e-9)
			}
			if want, ok := m.truth[set.Name]; ok && m.unique {
				tolerance := 1e-6
				if set.Turns() {
					tolerance = 1e-8
				}
				require.InDelta(t, want, set.Travel, tolerance, "case %d: %s", n, set.Name)
			}
		}
		if m.unique {
			unique++
		}
	}
	t.Logf("%d of them with one answer only", unique)
	require.Greater(t, unique, tenth(1000))
}

// requireStanding checks that the bike as set up has its contacts where the solution says they came.
func requireStanding(t *testing.T, s *Solution, n int) {
	t.Helper()
	sit, _ := s.Placement.SitMount(s.Position.Posture.Support)
	hands := s.Placement.HandMount(s.Position.Posture.Hands)
	for i, c := range []assembly.Contact{s.Placement.At(bike.Sit, sit), s.Placement.At(s.Position.Posture.Hands, hands)} {
		require.InDelta(t, 0, c.At.Distance(s.Contacts[i].Got.At), 1e-6, "case %d: %s stands elsewhere", n, c.Name)
		require.InDelta(t, s.Contacts[i].Got.Angle, c.Angle, 1e-9, "case %d: %s", n, c.Name)
	}
}

// asSource is a target as it stands: marks on the scales, values for what has none, and a posture.
func (m *machine) asSource(s *Solution, p bike.Posture) *bike.Bike {
	b := *m.b
	b.Postures = []bike.Posture{p}
	b.Marks = map[string]float64{}
	for _, set := range s.Settings {
		switch {
		case set.Adjuster >= 0:
			b.Marks[set.Name] = set.Mark()
		case set.Name == "saddle.tilt":
			b.Saddle.Tilt = bike.Fixed(set.Travel)
		case set.Name == "saddle.clamp_at":
			b.Saddle.ClampAt = bike.Fixed(set.Travel)
		case set.Name == "bar.rotation":
			b.Bar.Rotation = bike.Fixed(set.Travel)
		case set.Name == "bar.lever_at":
			b.Bar.LeverAt = bike.Fixed(set.Travel)
		}
	}
	return &b
}

// hooded is a machine with posts and slides only: one whose marks say where everything is.
func hooded(r *rand.Rand) *machine {
	for {
		if m := newMachine(r); m.b.Stem == nil && m.b.Clipon == nil && m.unique {
			m.b.Feet = bike.Feet{Crank: 170, SoleHeight: 20}
			return m
		}
	}
}

func TestThereAndBackGivesTheStart(t *testing.T) {
	const seed = 72
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for n := range tenth(500) {
		m := hooded(r)
		source, p := m.source(r, Options{})
		there := carryBike(t, source, m.b, p, Options{})
		// Back onto a machine around the start: the same readings, now as marks.
		back := m.asSource(there, p)
		again := carryBike(t, back, m.b, p, Options{})
		for i, set := range again.Settings {
			require.InDelta(t, there.Settings[i].Travel, set.Travel, 1e-6, "case %d: %s: a bike carried onto itself", n, set.Name)
		}
		a, err := locate.Adjust(source, nil, locate.Options{})
		require.NoError(t, err)
		start, err := a.Position(p)
		require.NoError(t, err)
		b, err := locate.Adjust(back, nil, locate.Options{})
		require.NoError(t, err)
		end, err := b.Position(p)
		require.NoError(t, err)
		returned, err := Want(&end, back.Feet, source, Options{})
		require.NoError(t, err)
		require.InDelta(t, 0, returned.Sit.At.Distance(start.Sit.At), 1e-6, "case %d", n)
		require.InDelta(t, 0, returned.Hands.At.Distance(start.Hands.At), 1e-6, "case %d", n)
	}
}

// A bike with more ways than it needs (a rail and a slide that move the same way), carried onto itself: among
// all the settings with E = 0 the marks it stands at are the nearest.
func TestABikeCarriedOntoItselfKeepsItsMarks(t *testing.T) {
	const seed = 73
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for n := range tenth(300) {
		m := hooded(r)
		extra := m.rail(r, "second slide", bike.MovesSaddle, between(r, -2, 2), 60, r.IntN(2) == 0)
		m.sit.At = m.sit.At.Add(extra)
		source, p := m.source(r, Options{})
		first := carryBike(t, source, m.b, p, Options{})
		own := m.asSource(first, p)
		second := carryBike(t, own, own, p, Options{})
		for i, set := range second.Settings {
			if set.Adjuster >= 0 {
				require.InDelta(t, first.Settings[i].Travel, set.Travel, 1e-6, "case %d: %s", n, set.Name)
			}
		}
	}
}

// Relabelling: another unit, another zero. The marks change, nothing else does.
func TestRelabellingAScaleChangesOnlyMarks(t *testing.T) {
	const seed = 74
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for n := range tenth(500) {
		m := hooded(r)
		source, p := m.source(r, Options{})
		source.Readings[0].Value += between(r, -30, 30) // not always within reach
		before := carryBike(t, source, m.b, p, Options{})

		b := *m.b
		b.Adjusters = append([]bike.Adjuster(nil), m.b.Adjusters...)
		k := r.IntN(len(b.Adjusters))
		a := &b.Adjusters[k]
		scale := []float64{10, -1, 0.1, 2.54}[r.IntN(4)]
		shift := 0.0 // of the zero, in marks
		if !a.Moves.Turns() {
			shift = between(r, -5, 5)
		}
		relabel := func(mark float64) float64 { return mark*scale + shift }
		a.Unit /= scale
		lo, hi := relabel(a.Lo), relabel(a.Hi)
		a.Step *= math.Abs(scale)
		reversed := lo > hi
		a.Lo, a.Hi = math.Min(lo, hi), math.Max(lo, hi)
		if reversed && a.Step > 0 { // steps are counted from the least mark
			a.Lo = a.Hi - a.Step*math.Floor((a.Hi-a.Lo)/a.Step+1e-9)
		}
		move := a.Direction().Scale(-shift * a.Unit)
		switch a.Moves {
		case bike.MovesSaddle:
			moved := b.SaddleAnchor.Add(move)
			b.SaddleAnchor = &moved
		case bike.MovesBar:
			moved := b.BarAnchor.Add(move)
			b.BarAnchor = &moved
		}
		after := carryBike(t, source, &b, p, Options{})
		require.InDelta(t, before.E, after.E, 1e-6, "case %d", n)
		for i, set := range after.Settings {
			want := before.Settings[i].Mark()
			tolerance := 1e-5
			if i == k {
				want, tolerance = relabel(want), tolerance*math.Abs(scale)
			}
			require.InDelta(t, want, set.Mark(), tolerance, "case %d: %s", n, set.Name)
		}
		for i := range after.Contacts {
			require.InDelta(t, 0, before.Contacts[i].Got.At.Distance(after.Contacts[i].Got.At), 1e-5, "case %d", n)
		}
	}
}

// Moving an anchor along an adjuster's own travel changes that adjuster's mark by as much and nothing else.
func TestMovingTheAnchorsChangesOnlyMarks(t *testing.T) {
	const seed = 75
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for n := range tenth(500) {
		m := hooded(r)
		source, p := m.source(r, Options{})
		before := carryBike(t, source, m.b, p, Options{})
		b := *m.b
		by := map[string]float64{}
		saddleAt, barAt := *b.SaddleAnchor, *b.BarAnchor
		for i := range b.Adjusters {
			a := &b.Adjusters[i]
			if a.Moves.Turns() || a.Step > 0 {
				continue
			}
			room := math.Min(m.truth[a.Name]-math.Min(a.Lo*a.Unit, a.Hi*a.Unit), math.Max(a.Lo*a.Unit, a.Hi*a.Unit)-m.truth[a.Name])
			d := between(r, -room, room)
			by[a.Name] = -d
			if a.Moves == bike.MovesSaddle {
				saddleAt = saddleAt.Add(a.Direction().Scale(d))
			} else {
				barAt = barAt.Add(a.Direction().Scale(d))
			}
		}
		b.SaddleAnchor, b.BarAnchor = &saddleAt, &barAt
		after := carryBike(t, source, &b, p, Options{})
		require.InDelta(t, 0, after.E, 1e-6)
		for i, set := range after.Settings {
			require.InDelta(t, before.Settings[i].Travel+by[set.Name], set.Travel, 1e-6, "case %d: %s", n, set.Name)
		}
	}
}

func TestThePositionIsWantedAsTheSourceHasIt(t *testing.T) {
	m := hooded(rand.New(rand.NewPCG(5, 5)))
	source, p := m.source(rand.New(rand.NewPCG(6, 6)), Options{})
	source.Feet = m.b.Feet
	s := carryBike(t, source, m.b, p, Options{})
	assert.Equal(t, s.Position.Sit.At, s.Want.Sit.At, "same crank, same pedals: nothing moves")
	assert.Equal(t, plane.Point{}, s.Want.Shift)
}
