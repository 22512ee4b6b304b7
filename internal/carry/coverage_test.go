package carry

import (
	"context"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/catalogs"
	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/catalog"
	"carryover/internal/cockpit"
	"carryover/internal/locate"
	"carryover/internal/partfile"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// covered counts how often the truth lies within twice the uncertainty that is told.
type covered struct{ in, all int }

func (c *covered) add(t *testing.T, truth map[string]float64, name string, told, sigma float64) {
	want, ok := truth[name]
	if !ok || sigma <= 0 {
		t.Fatalf("%s: known %t, sigma %g", name, ok, sigma)
	}
	c.all++
	if math.Abs(told-want) <= 2*sigma {
		c.in++
	}
}

// require93to97 is what a standard uncertainty promises: 95.4 % within twice of it, give or take what a linear model and
// so many trials leave open.
func (c *covered) require93to97(t *testing.T, trials int) {
	t.Helper()
	share := float64(c.in) / float64(c.all)
	t.Logf("%.1f %% of %d within 2 × sigma_total", 100*share, c.all)
	slack := 2 * math.Sqrt(0.046*0.954/float64(trials))
	if trials >= 2000 {
		slack = 0
	}
	assert.Greater(t, share, 0.93-slack)
	assert.Less(t, share, 0.97+slack)
}

// invented is a pair of bikes as they are said to be, drawn around the truth by what their files say of themselves.
type invented struct {
	source, target *bike.Bike
	posture        bike.Posture
	truth          map[string]float64 // of every setting and every check, by its name
}

// checks are the truths of the readings that confirm a target.
func (v invented) checks(values ...float64) {
	for i, r := range CheckReadings(v.target, v.posture.Hands) {
		v.truth[r.Written] = values[i]
	}
}

// blank is a saddle with its widths off by wider and, seen from its rails, its heights by higher, mm.
func blank(length, nose, wide, wider, higher float64) *saddle.Shape {
	width := [][2]float64{{0, nose + wider}, {length * 0.4, 60 + wider}, {length * 0.9, wide + wider}, {length, wide - 30 + wider}}
	top := [][2]float64{{0, -2}, {length * 0.5, -6}, {length * 0.9, 0}, {length, -3}}
	s, err := saddle.New(length, width, top, 5, saddle.Rail{Height: 45 + higher, From: 80, To: 190})
	if err != nil {
		panic(err)
	}
	return s
}

// seat is a saddle as it is, and as it is said to be: on a source by what a tape meets, on a target hung on its rails, where
// heights count.
type seat struct {
	truth, onSource, onTarget *saddle.Shape
	sigma                     float64
}

// shaped invents a pair whose saddles and bars are described, each off by its sigma.
func shaped(r *rand.Rand) invented {
	return described(r, func() seat {
		const sigma = 1.5
		length, nose, wide := between(r, 240, 285), between(r, 35, 45), between(r, 132, 155)
		wider, higher := sigma*r.NormFloat64(), sigma*r.NormFloat64()
		return seat{blank(length, nose, wide, 0, 0), blank(length, nose, wide, wider, 0), blank(length, nose, wide, wider, higher), sigma}
	})
}

// stretched invents a pair with saddles of the catalogue, each said to be another of its family stretched to its length and width,
// which were read to a mm.
func stretched(t *testing.T) func(r *rand.Rand) invented {
	parts, err := catalog.New(catalogs.Files).List(partfile.Saddle)
	require.NoError(t, err)
	return func(r *rand.Rand) invented {
		return described(r, func() seat {
			truth, told := relatives(r, parts)
			_, widest := truth.Saddle.Widest()
			shape, err := told.Saddle.Stretched(math.Round(truth.Saddle.Length), math.Round(widest))
			if err != nil {
				panic(err)
			}
			return seat{truth.Saddle, shape, shape, told.Sigma}
		})
	}
}

// relatives are two saddles of one family of the catalogue.
func relatives(r *rand.Rand, parts []*partfile.Part) (a, b *partfile.Part) {
	family := func(p *partfile.Part) string { name, _, _ := strings.Cut(p.ID, "-"); return name }
	for {
		a, b = parts[r.IntN(len(parts))], parts[r.IntN(len(parts))]
		if a != b && family(a) == family(b) {
			return a, b
		}
	}
}

// described invents a pair with such saddles and with bars that are off by their sigma; half of the pairs share a saddle.
func described(r *rand.Rand, invent func() seat) invented {
	const barSigma, supportSigma, anchorSigma = 2.0, 1.5, 1.0
	seats, ids := [2]seat{invent(), invent()}, [2]string{"from", "to"}
	if r.IntN(2) == 0 {
		seats[1], ids = seats[0], [2]string{"both", "both"}
	}
	width := between(r, 85, 120)
	tilt, hood, angle := between(r, -0.06, 0.06), plane.Point{X: between(r, 100, 140), Y: between(r, 10, 40)}, between(r, -0.1, 0.1)
	post := bike.Adjuster{Name: "post", Moves: bike.MovesSaddle, Angle: plane.Rad(between(r, 100, 110)), Unit: 1, Lo: -400, Hi: 400}
	slide := bike.Adjuster{Name: "slide", Moves: bike.MovesSaddle, Angle: plane.Rad(between(r, -3, 3)), Unit: 1, Lo: -400, Hi: 400}
	up := bike.Adjuster{Name: "up", Moves: bike.MovesBar, Angle: plane.Rad(between(r, 97, 109)), Unit: 1, Lo: -400, Hi: 400}
	ahead := bike.Adjuster{Name: "ahead", Moves: bike.MovesBar, Angle: plane.Rad(between(r, -3, 3)), Unit: 1, Lo: -400, Hi: 400}
	// build is the pair with everything off by so many of its sigmas.
	build := func(k float64) (source, target *bike.Bike, p bike.Posture) {
		n := func(sigma float64) float64 { return k * sigma * r.NormFloat64() }
		p = bike.Posture{Name: "road", Hands: bike.Hood, Support: width + n(supportSigma), SupportSigma: supportSigma,
			Weights: bike.DefaultWeights()}
		part := func(i int) bike.Slot[saddle.Shape] {
			shape := seats[i].truth
			if k > 0 {
				shape = [2]*saddle.Shape{seats[i].onSource, seats[i].onTarget}[i]
			}
			s := one(shape)
			s.Options[0].ID, s.Options[0].Sigma = ids[i], seats[i].sigma
			return s
		}
		source = &bike.Bike{File: "source", Feet: bike.Feet{Crank: 172.5, SoleHeight: 20}, Saddle: bike.SaddleFit{Slot: part(0)},
			Postures: []bike.Posture{p}}
		target = &bike.Bike{File: "target", Feet: bike.Feet{Crank: 170, SoleHeight: 25}, AnchorSigma: anchorSigma,
			Adjusters:    []bike.Adjuster{post, slide, up, ahead},
			Saddle:       bike.SaddleFit{Slot: part(1), ClampAt: bike.Fixed(135), Tilt: free(-0.5, 0.5)},
			SaddleAnchor: &plane.Point{X: -170 + n(anchorSigma), Y: 560 + n(anchorSigma)}, BarAnchor: &plane.Point{X: 400 + n(anchorSigma),
				Y: 560 + n(anchorSigma)}}
		at := hood.Add(plane.Point{X: n(barSigma), Y: n(barSigma)})
		target.Bar = bike.BarFit{Slot: one(&cockpit.Bar{Hood: &at, HoodAngle: angle}), Rotation: free(-0.5, 0.5)}
		target.Bar.Options[0].Sigma = barSigma
		return source, target, p
	}
	source, target, p := build(0)
	seat := plane.Pose{Origin: plane.Point{X: between(r, -40, 0), Y: between(r, 700, 740)}, Turn: tilt}
	st := &assembly.Placement{Layout: assembly.New(source, p)}
	st.Poses[assembly.Saddle] = seat
	hands := plane.Pose{Origin: plane.Point{X: between(r, 480, 540), Y: between(r, 640, 720)}, Turn: between(r, -0.1, 0.15)}
	st.Poses[assembly.Hood] = hands
	bb, at := bike.Place{Kind: bike.AtBB}, bike.Place{Kind: bike.AtHood}
	readings := []bike.Reading{{Kind: bike.Line, From: bb, To: source.Seat(saddle.Mid)}, {Kind: bike.Level, From: source.Seat(saddle.Nose),
		To: bb},
		{Kind: bike.Angle, Of: bike.SaddleBody}, {Kind: bike.Level, From: source.Seat(saddle.Nose), To: at},
		{Kind: bike.Plumb, From: at, To: source.Seat(saddle.Mid)}, {Kind: bike.Angle, Of: bike.HoodBody}}
	sigma := func(k bike.Kind) float64 { return map[bool]float64{true: plane.Rad(0.4), false: 1.5}[k == bike.Angle] }
	for i := range readings {
		readings[i].Value, _, _ = st.ReadingOf(readings[i])
		readings[i].Sigma, readings[i].Index = sigma(readings[i].Kind), i+1
	}
	source.Readings = readings
	exact, _, _ := solvedAs(source, target, p)
	truth := map[string]float64{}
	for _, set := range exact.Settings {
		truth[set.Name] = set.Travel
	}
	told, machine, q := build(1)
	told.Readings = append([]bike.Reading(nil), readings...)
	for i := range told.Readings {
		told.Readings[i].Value += told.Readings[i].Sigma * r.NormFloat64()
	}
	for _, r := range slices.AppendSeq(CheckReadings(target, p.Hands), maps.Values(exact.contacts())) {
		truth[r.Written], _, _ = exact.Placement.ReadingOf(r)
	}
	return invented{told, machine, q, truth}
}

// unshaped invents a pair of which nothing is known but six readings each and the direction of the target's adjusters; its
// clamps lie somewhere about where clamps usually are.
func unshaped(r *rand.Rand) invented {
	p := bike.Posture{Name: "road", Hands: bike.Hood, Weights: bike.DefaultWeights()}
	sag := 0.0
	bare := func(file string) *bike.Bike {
		return &bike.Bike{File: file, Feet: bike.Feet{Crank: 172.5, SoleHeight: 20}, Saddle: bike.SaddleFit{Sag: &sag},
			Postures: []bike.Posture{p}, AnchorSigma: 1}
	}
	source, target := bare("source"), bare("target")
	slide := func(name string, m bike.Moves, deg float64) bike.Adjuster {
		return bike.Adjuster{Name: name, Moves: m, Angle: plane.Rad(deg), Unit: 1, NoRange: true}
	}
	turn := func(name string, m bike.Moves) bike.Adjuster {
		return bike.Adjuster{Name: name, Moves: m, Unit: plane.Rad(1), NoRange: true}
	}
	target.Adjusters = []bike.Adjuster{slide("post", bike.MovesSaddle, between(r, 100, 110)), slide("slide", bike.MovesSaddle, between(r, -3,
		3)),
		slide("up", bike.MovesBar, between(r, 97, 109)), slide("ahead", bike.MovesBar, between(r, -3, 3)),
		turn("tilt", bike.MovesSaddleTilt), turn("rotation", bike.MovesBarRotation)}
	type stand struct{ sit, hood plane.Pose }
	pose := func(x, y, a float64) plane.Pose {
		return plane.Pose{Origin: plane.Point{X: x + between(r, -25, 25), Y: y + between(r, -25, 25)}, Turn: a}
	}
	from := stand{pose(-190, 700, between(r, -0.05, 0.05)), pose(500, 680, between(r, 0, 0.1))}
	to := stand{pose(-190, 700, from.sit.Turn+between(r, -0.05, 0.05)), pose(500, 680, from.hood.Turn+between(r, -0.05, 0.05))}
	read := func(b *bike.Bike, at stand) {
		bb, sit, hood := bike.Place{Kind: bike.AtBB}, b.Seat(saddle.Sit), bike.Place{Kind: bike.AtHood}
		values := []float64{at.sit.Origin.Norm(), -at.sit.Origin.X, at.sit.Turn, at.hood.Origin.X - at.sit.Origin.X,
			at.sit.Origin.Y - at.hood.Origin.Y, at.hood.Turn}
		for i, k := range []bike.Reading{{Kind: bike.Line, From: bb, To: sit}, {Kind: bike.Level, From: sit, To: bb}, {Kind: bike.Angle,
			Of: bike.SaddleBody},
			{Kind: bike.Level, From: sit, To: hood}, {Kind: bike.Plumb, From: hood, To: sit}, {Kind: bike.Angle, Of: bike.HoodBody}} {
			k.Sigma, k.Index = 1.5, i+1
			if k.Kind == bike.Angle {
				k.Sigma = plane.Rad(0.4)
			}
			k.Value = values[i] + k.Sigma*r.NormFloat64()
			b.Readings = append(b.Readings, k)
		}
	}
	read(source, from)
	read(target, to)
	// The truth: turned about a clamp that is where it is, then shifted into place.
	truth := map[string]float64{}
	move := func(now, want plane.Pose, arm plane.Point, a, b bike.Adjuster, turn string) {
		by := want.Turn - now.Turn
		clamp := now.Origin.Sub(arm.Turn(now.Turn))
		left := want.Origin.Sub(clamp.Add(arm.Turn(want.Turn)))
		u, v := a.Direction(), b.Direction()
		truth[a.Name], truth[b.Name], truth[turn] = left.Cross(v)/u.Cross(v), u.Cross(left)/u.Cross(v), by
	}
	move(to.sit, from.sit, plane.Point{X: 40 * r.NormFloat64(), Y: 50 + 15*r.NormFloat64()}, target.Adjusters[0], target.Adjusters[1], "tilt")
	move(to.hood, from.hood, plane.Point{X: 80 + 20*r.NormFloat64(), Y: 30 + 15*r.NormFloat64()}, target.Adjusters[2], target.Adjusters[3],
		"rotation")
	pair := invented{source, target, p, truth}
	pair.checks(from.sit.Origin.Norm(), -from.sit.Origin.X, from.sit.Turn, from.hood.Origin.X-from.sit.Origin.X,
		from.sit.Origin.Y-from.hood.Origin.Y, from.hood.Turn)
	return pair
}

// solvedAs is a pair carried, with what its uncertainty comes from.
func solvedAs(source, target *bike.Bike, p bike.Posture) (*Solution, *locate.Adjustment, *locate.Standing) {
	a, err := locate.Adjust(source, nil, locate.Options{})
	if err != nil {
		panic(err)
	}
	pos, err := a.Position(p)
	if err != nil {
		panic(err)
	}
	stand, err := locate.Stand(target, nil, pos.Posture)
	if err != nil {
		panic(err)
	}
	s, err := Solve(context.Background(), stand.Bike, source, &pos, Options{})
	if err != nil {
		panic(err)
	}
	return s, a, stand
}

// Over random invented pairs, with shapes, support, anchors, clamps and readings off by what is said of them, the truth lies
// within twice sigma_total as often as a standard uncertainty promises.
func TestTheTruthLiesWithinTwiceWhatIsTold(t *testing.T) {
	for _, c := range []struct {
		name   string
		invent func(*rand.Rand) invented
	}{{"shaped", shaped}, {"unshaped", unshaped}, {"stretched", stretched(t)}} {
		t.Run(c.name, func(t *testing.T) {
			const seed = 515
			t.Logf("seed %d", seed)
			r := rand.New(rand.NewPCG(seed, 0))
			var settings, checks covered
			trials := tenth(2000)
			for range trials {
				pair := c.invent(r)
				s, a, stand := solvedAs(pair.source, pair.target, pair.posture)
				require.NoError(t, s.Total(a, stand))
				told, err := s.Checks()
				require.NoError(t, err)
				for _, set := range s.Settings {
					settings.add(t, pair.truth, set.Name, set.Travel, set.SigmaTotal)
				}
				for _, k := range told {
					checks.add(t, pair.truth, k.Reading.Written, k.Value.Value(), k.SigmaTotal)
				}
			}
			settings.require93to97(t, trials)
			if c.name == "stretched" { // of another profile, which one error for all heights does not tell
				t.Logf("%.1f %% of %d checks", 100*float64(checks.in)/float64(checks.all), checks.all)
				return
			}
			checks.require93to97(t, trials)
		})
	}
}
