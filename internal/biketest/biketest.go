// Package biketest makes bikes for tests: the truth first, and from it the file and the readings.
package biketest

import (
	"math"
	"math/rand/v2"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/cockpit"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Truth is a bike of which everything is known: its file with every part, anchor and mark, and where its parts are.
type Truth struct {
	Bike      *bike.Bike
	Placement *assembly.Placement
	Posture   bike.Posture
	Saddle    SaddleRows
}

// SaddleRows are the numbers of a saddle, from which it can be made anew with another error.
type SaddleRows struct {
	Length, Sag float64
	Width, Top  [][2]float64
	Rail        saddle.Rail
}

// Shape makes the saddle with so much added to every width and to every height of its top, mm.
func (s SaddleRows) Shape(wider, higher float64) *saddle.Shape {
	add := func(rows [][2]float64, v float64) [][2]float64 {
		out := append([][2]float64(nil), rows...)
		for i := range out {
			out[i][1] += v
		}
		return out
	}
	shape, err := saddle.New(s.Length, add(s.Width, wider), add(s.Top, higher), s.Sag, s.Rail)
	if err != nil {
		panic(err)
	}
	return shape
}

// Between draws a number from lo to hi.
func Between(r *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }

// One is a slot with one part, known to sigma mm.
func One[T any](id string, sigma float64, part *T) bike.Slot[T] {
	return bike.Slot[T]{Options: []bike.Option[T]{{ID: id, Name: id, Sigma: sigma, Part: part}}}
}

// Saddle draws a saddle.
func Saddle(r *rand.Rand) SaddleRows {
	l := Between(r, 235, 290)
	return SaddleRows{Length: l, Sag: Between(r, 2, 12),
		Width: [][2]float64{{0, Between(r, 32, 46)}, {l * 0.45, Between(r, 62, 75)}, {l * 0.85, Between(r, 140, 160)}, {l, Between(r, 105, 130)}},
		Top:   [][2]float64{{0, -Between(r, 2, 8)}, {l * 0.5, -Between(r, 3, 9)}, {l * 0.84, 0}, {l, -Between(r, 2, 8)}},
		Rail:  saddle.Rail{Height: Between(r, 38, 54), From: 92, To: 165}}
}

// Bike draws a bike that is held with the given hands: parts of its own, posts and slides with marks, sometimes dials for
// the angles, a support that is a width.
func Bike(r *rand.Rand, hands bike.Contact) *Truth {
	b := &bike.Bike{File: "bike.toml", AnchorSigma: 1, Marks: map[string]float64{}}
	height, seat, head := Between(r, 255, 300), plane.Rad(Between(r, 72, 75)), plane.Rad(Between(r, 71.5, 73.5))
	b.Frame = bike.Frame{BBHeight: &height, SeatAngle: &seat, HeadAngle: &head}
	b.Feet = bike.Feet{Crank: 172.5, SoleHeight: Between(r, 15, 40)}
	t := &Truth{Bike: b, Saddle: Saddle(r)}
	t.Posture = bike.Posture{Name: "road", Hands: hands, Support: Between(r, 80, 135), SupportSigma: 3, Weights: bike.DefaultWeights()}
	b.Postures = []bike.Posture{t.Posture}
	b.Saddle.Slot = One("own saddle", 1, t.Saddle.Shape(0, 0))
	b.Saddle.ClampAt = bike.Fixed(Between(r, 95, 160))
	b.Bar = bike.BarFit{Slot: One("own bar", 1, &cockpit.Bar{Reach: Between(r, 68, 90), Drop: Between(r, 115, 145), Bend: Between(r, 25, 40)}),
		Lever:   One("own lever", 1, &cockpit.Lever{Along: Between(r, 28, 48), Out: Between(r, 18, 34), Angle: Between(r, 0.03, 0.27)}),
		LeverAt: bike.Fixed(Between(r, -8, 16))}
	if hands == bike.Pad {
		b.Clipon = &bike.CliponFit{Slot: One("own clip-on", 1, &cockpit.Clipon{Base: Between(r, 33, 55),
			Stacks: []float64{0, 10, 20}, Holes: []float64{-20, 0, 20}, Tilt: [2]float64{-0.2, 0.5}, PadLength: 100, GripForward: [2]float64{200,
				340}, GripRise: 40}),
			Hole: bike.Fixed(20), Stack: bike.Fixed(10), Extension: bike.Fixed(Between(r, 220, 320)), Tilt: bike.Fixed(Between(r, 0, 0.3))}
	}
	l := assembly.New(b, t.Posture)
	t.Placement = &assembly.Placement{Layout: l}
	tilt := t.turning(r, "saddle tilt dial", bike.MovesSaddleTilt, &b.Saddle.Tilt)
	clamp := t.clamp(r, bike.MovesSaddle, "saddle", plane.Point{X: Between(r, -210, -150), Y: Between(r, 560, 660)})
	b.SaddleAnchor = &clamp.anchor
	rail := plane.Point{X: b.Saddle.ClampAt.Lo, Y: t.Saddle.Rail.Height}
	t.Placement.Poses[assembly.Saddle] = plane.Pose{Origin: clamp.now.Add(rail.Turn(tilt)), Turn: tilt}
	rotation := t.turning(r, "bar dial", bike.MovesBarRotation, &b.Bar.Rotation)
	bar := t.clamp(r, bike.MovesBar, "bar", plane.Point{X: Between(r, 360, 480), Y: Between(r, 560, 680)})
	b.BarAnchor = &bar.anchor
	t.Placement.Poses[assembly.Bar] = plane.Pose{Origin: bar.now, Turn: rotation}
	if b.Clipon != nil {
		t.Placement.Poses[assembly.Pads] = plane.Pose{Origin: bar.now, Turn: b.Clipon.Tilt.Lo}
	}
	return t
}

type clamp struct{ anchor, now plane.Point }

// clamp hangs a clamp that stands at now on a post and a slide.
func (t *Truth) clamp(r *rand.Rand, moves bike.Moves, name string, now plane.Point) clamp {
	c := clamp{now, now}
	for _, a := range []bike.Adjuster{
		{Name: name + " post", Angle: plane.Rad(Between(r, 95, 110)), Lo: 0, Hi: 30},
		{Name: name + " slide", Angle: plane.Rad([]float64{-2, 0, 1.5, 180, 183}[r.IntN(5)]), Lo: -6, Hi: 8},
	} {
		a.Moves, a.Unit, a.Sigma = moves, []float64{10, -10, 2.5}[r.IntN(3)], 0.5
		mark := Between(r, a.Lo, a.Hi)
		c.anchor = c.anchor.Sub(a.Direction().Scale(a.Travel(mark)))
		t.Bike.Adjusters = append(t.Bike.Adjusters, a)
		t.Bike.Marks[a.Name] = mark
	}
	return c
}

// turning gives an angle a dial, or states it.
func (t *Truth) turning(r *rand.Rand, name string, moves bike.Moves, set *bike.Setting) float64 {
	at := Between(r, -0.1, 0.1)
	if r.IntN(2) == 0 {
		*set = bike.Fixed(at)
		return at
	}
	a := bike.Adjuster{Name: name, Moves: moves, Unit: plane.Rad(2), Lo: -6, Hi: 6, Sigma: plane.Rad(0.3)}
	t.Bike.Adjusters = append(t.Bike.Adjusters, a)
	t.Bike.Marks[name] = at / plane.Rad(2)
	return at
}

// Places of readings.
var (
	BB    = bike.Place{Kind: bike.AtBB}
	Floor = bike.Place{Kind: bike.AtFloor}
	Sit   = bike.Place{Kind: bike.AtSaddle, Ref: saddle.Reference{Kind: saddle.Sit}}
	Nose  = bike.Place{Kind: bike.AtSaddle}
	Mid   = bike.Place{Kind: bike.AtSaddle, Ref: saddle.Reference{Kind: saddle.Mid}}
	Tail  = bike.Place{Kind: bike.AtSaddle, Ref: saddle.Reference{Kind: saddle.Tail}}
)

// Wide is where the saddle is so wide.
func Wide(mm float64) bike.Place {
	return bike.Place{Kind: bike.AtSaddle, Ref: saddle.Reference{Kind: saddle.ByWidth, MM: mm}}
}

// At is a place of the hands.
func At(k bike.PlaceKind) bike.Place { return bike.Place{Kind: k} }

// Read takes a reading of the truth into the bike's file, exactly, with the usual uncertainty.
func (t *Truth) Read(kind bike.Kind, from, to bike.Place) {
	t.take(bike.Reading{Kind: kind, From: from, To: to})
}

// Level takes an angle.
func (t *Truth) Level(of bike.Body) { t.take(bike.Reading{Kind: bike.Angle, Of: of}) }

func (t *Truth) take(r bike.Reading) {
	v, _, err := t.Placement.ReadingOf(r)
	if err != nil {
		panic(err)
	}
	r.Value, r.Sigma, r.Index, r.Written = v, 2, len(t.Bike.Readings)+1, r.Kind.String()
	if r.Kind == bike.Angle {
		r.Sigma = plane.Rad(0.5)
	}
	t.Bike.Readings = append(t.Bike.Readings, r)
}

// Disturb adds to every reading an error drawn with its uncertainty.
func (t *Truth) Disturb(r *rand.Rand) {
	for i := range t.Bike.Readings {
		t.Bike.Readings[i].Value += t.Bike.Readings[i].Sigma * r.NormFloat64()
	}
}

// Contacts are where the rider truly sits and holds on, as the bike is read.
func (t *Truth) Contacts() (sit, hands assembly.Contact) {
	m, _ := t.Placement.SitMount(t.Posture.Support)
	return t.Placement.At(bike.Sit, m), t.Placement.At(t.Posture.Hands, t.Placement.HandMount(t.Posture.Hands))
}

// Unshaped takes the shape of the saddle, of what the hands hold, or of both out of the bike's file; the truth keeps it.
func (t *Truth) Unshaped(seat, hands bool) {
	b := *t.Bike
	if seat {
		sag := t.Saddle.Sag
		b.Saddle.Slot, b.Saddle.Sag, b.Saddle.ClampAt = bike.Slot[saddle.Shape]{}, &sag, bike.Setting{}
	}
	if hands {
		b.Bar.Slot, b.Bar.Lever, b.Bar.LeverAt, b.Clipon = bike.Slot[cockpit.Bar]{}, bike.Slot[cockpit.Lever]{}, bike.Setting{}, nil
	}
	t.Bike = &b
}

// Lose takes a mark out of the file, and with the anchor where the clamp is.
func (t *Truth) Lose(name string) { delete(t.Bike.Marks, name) }

// Standing is where the contacts of a described bike are with its adjusters at their marks, those without one where they
// stand, by the equations of design.md alone.
func Standing(b *bike.Bike, p bike.Posture) (sit, hands assembly.Contact) {
	clamp := func(anchor *plane.Point, moves bike.Moves) plane.Point {
		at := *anchor
		for _, i := range b.Moving(moves) {
			a := &b.Adjusters[i]
			if mark, ok := b.Marks[a.Name]; ok {
				at = at.Add(a.Direction().Scale(mark * a.Unit))
			}
		}
		return at
	}
	turn := func(stated bike.Setting, moves bike.Moves) float64 {
		on := b.Moving(moves)
		if len(on) == 0 {
			return stated.Mid()
		}
		if mark, ok := b.Marks[b.Adjusters[on[0]].Name]; ok {
			return mark * b.Adjusters[on[0]].Unit
		}
		return stated.Mid()
	}
	put := func(name bike.Contact, at plane.Point, turn float64, arm plane.Point, angle float64) assembly.Contact {
		return assembly.Contact{Name: name, At: at.Add(arm.Turn(turn)), Angle: turn + angle}
	}
	seat, tilt := clamp(b.SaddleAnchor, bike.MovesSaddle), turn(b.Saddle.Tilt, bike.MovesSaddleTilt)
	if shape := b.Saddle.Only(); shape != nil {
		station, _ := shape.WidthStation(p.Support)
		held := b.Saddle.ClampAt.Mid()
		if !b.Saddle.ClampAt.Given {
			held = shape.Rail.Mid()
		}
		sit = put(bike.Sit, seat, tilt, plane.Point{X: held - station, Y: shape.Rail.Height + shape.Top(station) - shape.Sag}, 0)
	} else {
		sit = put(bike.Sit, seat, tilt, b.Saddle.Arm.At, 0)
	}
	bar, rotation := clamp(b.BarAnchor, bike.MovesBar), turn(b.Bar.Rotation, bike.MovesBarRotation)
	if arm, ok := b.Bar.Arms[p.Hands]; ok {
		return sit, put(p.Hands, bar, rotation, arm.At, arm.Angle)
	}
	switch p.Hands {
	case bike.Hood:
		at, angle, _ := b.Bar.Only().HoodContact(b.Bar.Lever.Only(), b.Bar.LeverAt.Lo)
		hands = put(bike.Hood, bar, rotation, at, angle)
	case bike.Drop:
		at, _ := b.Bar.Only().DropContact()
		hands = put(bike.Drop, bar, rotation, at, 0)
	case bike.Pad:
		hands = put(bike.Pad, bar, b.Clipon.Tilt.Mid(), b.Clipon.Only().Pad(b.Clipon.Hole.Lo, b.Clipon.Stack.Lo), 0)
	}
	return sit, hands
}

// Near is how far two contacts are apart, mm, an angle counted by 100 mm to the radian.
func Near(a, b assembly.Contact) float64 {
	return math.Hypot(a.At.Distance(b.At), 100*(a.Angle-b.Angle))
}
