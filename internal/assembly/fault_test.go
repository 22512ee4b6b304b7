package assembly_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/biketest"
	"carryover/internal/cockpit"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

var places = []bike.Place{biketest.BB, biketest.Floor, biketest.Sit, biketest.Nose, biketest.Mid, biketest.Tail, biketest.Wide(90),
	{Kind: bike.AtSaddle, Ref: saddle.Reference{Kind: saddle.ByStation, MM: 60}}, biketest.At(bike.AtBar), biketest.At(bike.AtHood),
	biketest.At(bike.AtDrop), biketest.At(bike.AtPad), biketest.At(bike.AtPadRear), biketest.At(bike.AtGrip)}

// wrong is a bike whose parts are off by so many mm of a fault, laid out anew, its bodies where they were.
func wrong(t *biketest.Truth, f assembly.Fault, mm float64) *assembly.Placement {
	b, p := *t.Bike, t.Posture
	switch f {
	case assembly.SaddleWidths:
		b.Saddle.Slot = biketest.One("", 1, t.Saddle.Shape(mm, 0))
	case assembly.SaddleHeights:
		b.Saddle.Slot = biketest.One("", 1, t.Saddle.Shape(0, mm))
	case assembly.Support:
		if p.At != nil {
			at := *p.At + mm
			p.At = &at
		} else {
			p.Support += mm
		}
	case assembly.BarX, assembly.BarY:
		bar := *b.Bar.Only()
		by := []plane.Point{{X: mm}, {Y: mm}}[f-assembly.BarX]
		if bar.Hood != nil {
			hood := bar.Hood.Add(by)
			bar.Hood = &hood
		}
		if drops, ok := bar.DropContact(); ok {
			drops = drops.Add(by)
			bar.Drops = &drops
		}
		b.Bar.Slot = biketest.One("", 1, &bar)
		l := assembly.New(&b, p)
		if bar.Hood == nil { // what a lever is mounted on lies elsewhere
			l.Hood.At = l.Hood.At.Add(by)
		}
		return &assembly.Placement{Layout: l, Poses: t.Placement.Poses}
	case assembly.LeverX, assembly.LeverY:
		lever := *b.Bar.Lever.Only()
		lever.Along, lever.Out = lever.Along+mm*float64(assembly.LeverY-f), lever.Out+mm*float64(f-assembly.LeverX)
		b.Bar.Lever = biketest.One("", 1, &lever)
	case assembly.CliponX, assembly.CliponY:
		if b.Clipon != nil {
			fit, part := *b.Clipon, *b.Clipon.Only()
			fit.Hole.Lo, part.Base = fit.Hole.Lo+mm*float64(assembly.CliponY-f), part.Base+mm*float64(f-assembly.CliponX)
			fit.Slot = biketest.One("", 1, &part)
			b.Clipon = &fit
		}
	}
	return &assembly.Placement{Layout: assembly.New(&b, p), Poses: t.Placement.Poses}
}

// What a fault of a part moves, and how it changes a reading, is what the bike with that part reads.
func TestFaultsAreWhatWrongPartsDo(t *testing.T) {
	const seed, h = 41, 1e-4
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	station := 150.0
	for name, c := range map[string]struct {
		hands bike.Contact
		spec  func(k *biketest.Truth)
	}{
		"on the hoods":             {bike.Hood, func(*biketest.Truth) {}},
		"hoods that were measured": {bike.Hood, func(k *biketest.Truth) { k.Bike.Bar.Only().Hood = &plane.Point{X: 90, Y: 20} }},
		"a bar that was measured": {bike.Hood, func(k *biketest.Truth) {
			*k.Bike.Bar.Only() = cockpit.Bar{Hood: &plane.Point{X: 90}, Drops: &plane.Point{Y: -90}}
		}},
		"hoods and drops of their own": {bike.Hood, func(k *biketest.Truth) { k.Bike.Bar.Options, k.Bike.Bar.Lever.Options = nil, nil }},
		"on the pads":                  {bike.Pad, func(*biketest.Truth) {}},
		"on pads nobody knows":         {bike.Pad, func(k *biketest.Truth) { k.Bike.Clipon.Hole = bike.Setting{} }},
		"pads without an extension":    {bike.Pad, func(k *biketest.Truth) { k.Bike.Clipon.Extension = bike.Setting{} }},
		"supported at a station":       {bike.Hood, func(k *biketest.Truth) { k.Posture.At = &station }},
		"wider than the saddle":        {bike.Hood, func(k *biketest.Truth) { k.Posture.Support = 300 }},
		"narrower than its nose":       {bike.Hood, func(k *biketest.Truth) { k.Posture.Support = 20 }},
		"on a saddle without a shape":  {bike.Hood, func(k *biketest.Truth) { k.Unshaped(true, false) }},
	} {
		t.Run(name, func(t *testing.T) {
			k := biketest.Bike(r, c.hands)
			c.spec(k)
			l := assembly.New(k.Bike, k.Posture)
			k.Placement.Layout = l
			for f := range assembly.Faults {
				gone := l.Shape == nil && f <= assembly.SaddleHeights || l.BarShape == nil && f >= assembly.BarX && f <= assembly.LeverY
				if gone { // no such part: it moves nothing
					for _, p := range places {
						assert.Zero(t, l.Moved(p, f), "fault %d, %s", f, p)
					}
					continue
				}
				more, less := wrong(k, f, h), wrong(k, f, -h)
				for _, p := range places {
					a, err := more.Mounted(p)
					b, other := less.Mounted(p)
					if err != nil || other != nil {
						continue
					}
					want := a.At.Sub(b.At).Scale(1 / (2 * h))
					assert.InDelta(t, 0, want.Distance(l.Moved(p, f)), 1e-6, "fault %d, %s: %v, not %v", f, p, l.Moved(p, f), want)
				}
				for _, reading := range readings() {
					tape, err := k.Placement.Span(reading)
					if err != nil {
						continue
					}
					a, _, errA := more.ReadingOf(reading)
					b, _, errB := less.ReadingOf(reading)
					require.NoError(t, errA)
					require.NoError(t, errB)
					assert.InDelta(t, (a-b)/(2*h), k.Placement.Off(&tape, f), 1e-5, "fault %d, %+v", f, reading)
				}
			}
		})
	}
}

func readings() []bike.Reading {
	list := []bike.Reading{{Kind: bike.SeatTube}, {Kind: bike.Angle, Of: bike.SaddleBody}, {Kind: bike.Angle, Of: bike.HoodBody}}
	for _, kind := range []bike.Kind{bike.Line, bike.Level, bike.Plumb} {
		for _, from := range places {
			for _, to := range places {
				if from != to {
					list = append(list, bike.Reading{Kind: kind, From: from, To: to})
				}
			}
		}
	}
	return list
}

// The width that carries a rider errs as the support does; at a station it is as wide as the saddle is there.
func TestTheWidthThatCarriesMoves(t *testing.T) {
	k := biketest.Bike(rand.New(rand.NewPCG(42, 0)), bike.Hood)
	station := 150.0
	at := bike.Posture{At: &station}
	for f := range assembly.Faults {
		want := map[assembly.Fault][2]float64{assembly.Support: {1, k.Bike.Saddle.Only().Widening(station)}, assembly.SaddleWidths: {0, 1}}[f]
		assert.Equal(t, want, [2]float64{assembly.New(k.Bike, k.Posture).WidthMoved(f), assembly.New(k.Bike, at).WidthMoved(f)}, "fault %d", f)
	}
	k.Unshaped(true, false)
	for f := range assembly.Faults {
		assert.Zero(t, assembly.New(k.Bike, at).WidthMoved(f), "fault %d of a saddle without a shape", f)
	}
}

// Where a rider sits: at a width, at a station of the saddle, or on the mark of one without a shape, sunk in by the sag.
func TestSeats(t *testing.T) {
	rows := biketest.Saddle(rand.New(rand.NewPCG(43, 0)))
	shape, sag, none := rows.Shape(0, 0), 6.0, 0.0
	station := func(v float64) *float64 { return &v }
	width, _ := shape.WidthStation(100)
	for _, c := range []struct {
		why  string
		fit  bike.SaddleFit
		p    bike.Posture
		want plane.Point
		says string
	}{
		{"a width", bike.SaddleFit{Slot: biketest.One("", 1, shape)}, bike.Posture{Support: 100}, shape.Loaded(width), ""},
		{"a station", bike.SaddleFit{Slot: biketest.One("", 1, shape)}, bike.Posture{At: station(60), Support: 100}, shape.Loaded(60), ""},
		{"its very nose", bike.SaddleFit{Slot: biketest.One("", 1, shape)}, bike.Posture{At: &none}, shape.Loaded(0), ""},
		{"its very tail", bike.SaddleFit{Slot: biketest.One("", 1, shape)}, bike.Posture{At: &shape.Length}, shape.Loaded(shape.Length), ""},
		{"before the nose", bike.SaddleFit{Slot: biketest.One("", 1, shape)}, bike.Posture{At: station(-1)}, plane.Point{}, "behind the nose"},
		{"behind the tail", bike.SaddleFit{Slot: biketest.One("", 1, shape)}, bike.Posture{At: station(400)}, plane.Point{}, "behind the nose"},
		{"sit bones that are not known", bike.SaddleFit{Slot: biketest.One("", 1, shape)}, bike.Posture{}, plane.Point{}, "sit bones"},
		{"a mark", bike.SaddleFit{}, bike.Posture{}, plane.Point{}, ""},
		{"a mark on a saddle that sags", bike.SaddleFit{Sag: &sag}, bike.Posture{At: station(60)}, plane.Point{Y: -6}, ""},
	} {
		t.Run(c.why, func(t *testing.T) {
			l := assembly.New(&bike.Bike{Saddle: c.fit}, c.p)
			m, _, err := l.Seat(c.p)
			if c.says != "" {
				assert.ErrorContains(t, err, c.says)
				return
			}
			require.NoError(t, err)
			assert.Equal(t, assembly.Mount{Body: assembly.Saddle, At: c.want, Known: true}, m)
			on := &assembly.Placement{Layout: l}
			on.Poses[assembly.Saddle] = plane.Pose{Origin: plane.Point{X: -60, Y: 700}, Turn: 0.25}
			m.Angle = 0.125
			got := on.At(bike.Sit, m)
			assert.Equal(t, assembly.Contact{Name: bike.Sit, At: plane.Point{X: -60, Y: 700}.Add(c.want.Turn(0.25)), Angle: 0.25 + 0.125}, got)
		})
	}
}

// Every number that poses depend on, unknown: a body stands where the chain's equation says, and the derivatives by the
// unknowns are what differences say.
func TestChains(t *testing.T) {
	adjusters := []bike.Adjuster{{Moves: bike.MovesSaddle}, {Moves: bike.MovesSaddle}, {Moves: bike.MovesBar}, {Moves: bike.MovesSaddleTilt},
		{Moves: bike.MovesBarRotation}}
	t.Run("tilt of the pads from the bar", func(t *testing.T) { testChains(t, adjusters, true) })
	t.Run("tilt of the pads from the level", func(t *testing.T) { testChains(t, adjusters, false) })
	t.Run("nothing that moves it", func(t *testing.T) { testChains(t, nil, true) })
}

func testChains(t *testing.T, adjusters []bike.Adjuster, fromBar bool) {
	const seed = 44
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	b := biketest.Bike(r, bike.Pad).Bike
	b.Clipon.Only().TiltFromBar, b.Adjusters = fromBar, adjusters
	var x []float64
	next := func(v float64) assembly.Number {
		x = append(x, v)
		return assembly.Number{Unknown: len(x) - 1}
	}
	var j assembly.Joints
	used := [assembly.Bodies]bool{assembly.Saddle: true, assembly.Bar: true, assembly.Pads: true, assembly.Drop: true}
	for body := range assembly.Bodies {
		j.Arm[body] = [2]assembly.Number{next(50 * r.NormFloat64()), next(50 * r.NormFloat64())}
		j.At[body] = [2]assembly.Number{next(300 * r.NormFloat64()), next(600 + 50*r.NormFloat64())}
		j.Turn[body] = next(0.2 * r.NormFloat64())
		j.Hung[body] = body != assembly.Drop
	}
	j.Arm[assembly.Pads], j.Arm[assembly.Saddle][1] = [2]assembly.Number{assembly.Held(0), assembly.Held(0)}, assembly.Held(30)
	for range b.Adjusters {
		j.Travel, j.Angle = append(j.Travel, next(0.3*r.NormFloat64())), append(j.Angle, next(r.NormFloat64()))
	}
	l := assembly.New(b, bike.Posture{Support: 100})
	chains := l.Chains(&j, used)
	s := &assembly.Placement{Layout: l}
	chains.Stand(x, s)

	of := func(n assembly.Number) float64 { return n.Of(x) }
	tilt, rotation := of(j.Turn[assembly.Saddle]), of(j.Turn[assembly.Bar])
	moved := map[assembly.Body][]int{}
	if len(adjusters) > 0 {
		tilt = of(j.Travel[3])
		rotation = of(j.Travel[4])
		moved = map[assembly.Body][]int{assembly.Saddle: {0, 1}, assembly.Bar: {2}, assembly.Pads: {2}}
	}
	pads := of(j.Turn[assembly.Pads])
	if fromBar {
		pads += rotation
	}
	for body, turn := range map[assembly.Body]float64{assembly.Saddle: tilt, assembly.Bar: rotation, assembly.Pads: pads,
		assembly.Drop: of(j.Turn[assembly.Drop])} {
		at := plane.Point{X: of(j.At[body][0]), Y: of(j.At[body][1])}
		for _, i := range moved[body] {
			at = at.Add(plane.Direction(of(j.Angle[i])).Scale(of(j.Travel[i])))
		}
		at = at.Add(plane.Point{X: of(j.Arm[body][0]), Y: of(j.Arm[body][1])}.Turn(turn))
		assert.InDelta(t, turn, s.Poses[body].Turn, 1e-12, "body %d", body)
		assert.InDelta(t, 0, at.Distance(s.Poses[body].Origin), 1e-9, "body %d", body)
		assert.True(t, chains.Uses(body))
	}
	assert.Zero(t, s.Poses[assembly.Hood], "what is not used stands nowhere")
	assert.False(t, chains.Uses(assembly.Hood))

	l.BarShape, l.Drop = nil, assembly.Mount{Body: assembly.Drop, Known: true}
	for _, reading := range readings() {
		tape, err := l.Span(reading)
		if err != nil || tape.Needs()[assembly.Hood] || tape.Needs()[assembly.Grip] {
			continue
		}
		v, g, err := s.ReadingOf(reading)
		require.NoError(t, err)
		if reading.Kind == bike.Line && v < 1 {
			continue // the tape has no direction
		}
		row := make([]float64, len(x))
		chains.Row(&g, s, x, row)
		for i := range x {
			read := func(by float64) float64 {
				moved := *s
				x[i] += by
				chains.Stand(x, &moved)
				x[i] -= by
				v, _, err := moved.ReadingOf(reading)
				require.NoError(t, err)
				return v
			}
			const h = 1e-5
			require.InDelta(t, (read(h)-read(-h))/(2*h), row[i], 1e-3*(1+math.Abs(row[i])), "unknown %d of %+v", i, reading)
		}
	}
}

// A support that a saddle reaches just where its outline is level is no surer than one a little less wide.
func TestLevelOutlineIsNotSure(t *testing.T) {
	shape, err := saddle.New(270, [][2]float64{{0, 40}, {100, 60}, {150, 60}, {220, 145}, {270, 90}}, [][2]float64{{0, 0}, {270, 0}}, 0,
		saddle.Rail{})
	require.NoError(t, err)
	for _, w := range []float64{60, 145} {
		l := assembly.Layout{Shape: shape, SitWidth: w}
		at, _ := shape.WidthStation(w)
		before, _ := shape.WidthStation(w - 1)
		assert.InDelta(t, before-at, l.Moved(biketest.Sit, assembly.Support).X, 1e-9)
		assert.InDelta(t, at-before, l.Moved(biketest.Sit, assembly.SaddleWidths).X, 1e-9)
	}
}

// Every fault has the ± of the part that has it, and its name: two bikes with one part err alike. What is not fitted does not err.
func TestWhoseFaultItIs(t *testing.T) {
	b := biketest.Bike(rand.New(rand.NewPCG(45, 0)), bike.Pad).Bike
	part := func(sigma *float64, id *string, s float64, name string) { *sigma, *id = s, name }
	part(&b.Saddle.Options[0].Sigma, &b.Saddle.Options[0].ID, 1, "saddle")
	part(&b.Bar.Options[0].Sigma, &b.Bar.Options[0].ID, 2, "bar")
	part(&b.Bar.Lever.Options[0].Sigma, &b.Bar.Lever.Options[0].ID, 3, "lever")
	part(&b.Clipon.Options[0].Sigma, &b.Clipon.Options[0].ID, 4, "clip-on")
	type said struct {
		sigma float64
		part  string
	}
	of := func(b *bike.Bike, f assembly.Fault) said {
		sigma, part := assembly.Uncertain(b, bike.Posture{SupportSigma: 5}, f)
		return said{sigma, part}
	}
	for f, want := range map[assembly.Fault]said{assembly.SaddleWidths: {1, "saddle"}, assembly.SaddleHeights: {1, "saddle"},
		assembly.Support: {5, ""},
		assembly.BarX:    {2, "bar"}, assembly.BarY: {2, "bar"}, assembly.LeverX: {3, "lever"}, assembly.LeverY: {3, "lever"},
		assembly.CliponX: {4, "clip-on"}, assembly.CliponY: {4, "clip-on"}} {
		assert.Equal(t, want, of(b, f), "fault %d", f)
	}
	for f := range assembly.Faults {
		want := said{}
		if f == assembly.Support {
			want.sigma = 5
		}
		assert.Equal(t, want, of(&bike.Bike{}, f), "fault %d of a bike without parts", f)
	}
}
