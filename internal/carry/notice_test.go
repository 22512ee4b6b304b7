package carry

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/biketest"
	"carryover/internal/cockpit"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// One reading of a target as it stands read otherwise by a little: the settings, and what a check of the bike set right reads, go as far
// as its part of their uncertainty says. Pads on a bar that is read by tape are among them, their tilt from the level or from the bar.
func TestAReadingOfTheTargetMovesWhatItIsBlamedFor(t *testing.T) {
	const seed = 93
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	compared, pads := 0, 0
	for n := 0; n < tenth(200); {
		hands := []bike.Contact{bike.Pad, bike.Hood, bike.Pad, bike.Drop}[r.IntN(4)]
		from, to := biketest.Bike(r, hands), biketest.Bike(r, hands)
		if hands == bike.Pad && r.IntN(2) == 0 {
			to.Bike.Clipon.Only().TiltFromBar = true
			to.Placement.Poses[assembly.Pads].Turn = to.Placement.Poses[assembly.Bar].Turn + to.Bike.Clipon.Tilt.Lo
		}
		for _, k := range []*biketest.Truth{from, to} {
			at := hands.Place()
			k.Read(bike.Line, biketest.BB, biketest.Mid)
			k.Read(bike.Level, biketest.Nose, biketest.BB)
			k.Level(bike.SaddleBody)
			k.Read(bike.Level, biketest.BB, at)
			k.Read(bike.Plumb, biketest.BB, at)
			k.Level(map[bike.Contact]bike.Body{bike.Pad: bike.PadBody, bike.Hood: bike.HoodBody, bike.Drop: bike.BarBody}[hands])
			k.Level(bike.BarBody)
		}
		posture := from.Posture
		a, err := locate.Adjust(from.Bike, nil, locate.Options{})
		require.NoError(t, err)
		pos, err := a.Position(posture)
		require.NoError(t, err)
		solve := func(b *bike.Bike) (*Solution, *locate.Standing) {
			stand, err := locate.Stand(b, nil, posture)
			require.NoError(t, err)
			s, err := Solve(context.Background(), stand.Bike, from.Bike, &pos, Options{})
			require.NoError(t, err)
			return s, stand
		}
		s, stand := solve(to.Bike)
		if !s.Carried() || stand.Adjusted == nil || len(stand.Adjusted.Findings()) > 0 {
			continue
		}
		n++
		require.NoError(t, s.Total(a, stand))
		readings := CheckReadings(s.Target, hands)
		for _, c := range s.Causes {
			if c.Of != OfTarget || c.Kind != locate.ByObservation {
				continue
			}
			ob := stand.Adjusted.Observations[c.Observation]
			if ob.Origin != locate.FromReading {
				continue
			}
			const h = 1e-3
			var sides [2]*Solution
			for k, d := range [2]float64{h, -h} {
				b := *to.Bike
				b.Readings = append([]bike.Reading(nil), b.Readings...)
				b.Readings[ob.Reading.Index-1].Value += d
				sides[k], _ = solve(&b)
			}
			up, down := sides[0].travels(), sides[1].travels()
			for i, set := range s.Settings {
				// The first order of the adjustment leaves out what its residuals bend.
				require.InDelta(t, (up[i]-down[i])/(2*h), c.Moves[i], 2e-3*(1+math.Abs(c.Moves[i])), "case %d: %s by %s", n, set.Name, ob.Name)
				compared++
			}
			alone := *s
			alone.Causes = []Cause{c}
			told := alone.foretold(readings)
			for i, g := range readings {
				above, _ := sides[0].read(Gauge{Reading: g})
				below, _ := sides[1].read(Gauge{Reading: g})
				want := math.Abs(above-below) / (2 * h)
				require.InDelta(t, want, told[i].SigmaTotal/c.Sigma, 3e-3*(1+want), "case %d: %s by %s", n, g.Written, ob.Name)
			}
			if hands == bike.Pad {
				pads++
			}
		}
	}
	t.Logf("%d settings compared, %d readings of bikes with pads", compared, pads)
	assert.Positive(t, pads)
}

// A lever on the flat goes along the bar: its stop holds back a hand that is wanted further on, not one that is wanted higher. Only
// around the bend does it turn the hand: the stop at the end of the flat holds one that is wanted further down where the bend lies
// beyond it, and none where the flat does.
func TestAStopOfALeverHoldsWhatItWouldMove(t *testing.T) {
	for _, c := range []struct {
		lo, hi, at float64
		off        plane.Point
		turn       float64 // degrees
		limit      string
	}{
		{-30, 0, 0, plane.Point{X: 12}, 0, "max"}, {-30, 0, 0, plane.Point{Y: 12}, 0, ""}, {-30, 0, 0, plane.Point{Y: -12}, 0, ""},
		{-30, 0, 0, plane.Point{X: 12, Y: 12}, 0, "max"},
		{-30, 0, 0, plane.Point{}, -5, "max"}, {-30, 0, 0, plane.Point{}, 5, ""}, {-30, -10, -10, plane.Point{}, -5, ""},
		{0, 30, 0, plane.Point{X: -12}, 0, "min"}, {0, 30, 0, plane.Point{Y: -12}, 0, ""}, {0, 30, 0, plane.Point{}, 5, ""},
		{-30, 20, 20, plane.Point{}, -5, "max"}, {5, 20, 5, plane.Point{}, 5, "min"},
	} {
		m := levered(rand.New(rand.NewPCG(21, 0)), c.lo, c.hi, c.at, 0)
		m.hands.At, m.hands.Angle = m.hands.At.Add(c.off), m.hands.Angle+plane.Rad(c.turn)
		s := solvePosition(t, m, positionOf(m, nil))
		assert.Equal(t, c.limit, setting(t, s, "bar.lever_at").Limit, "%+v", c)
	}
}

// A disturbed angle counts as half a millimetre per quarter degree, from the furthest that its dial may have stood.
func TestADisturbedAngleCountsBesideMillimetres(t *testing.T) {
	b, m := limited(bike.Adjuster{Unit: 1, Lo: -50, Hi: 50}, bike.Adjuster{Unit: 1, Lo: -50, Hi: 50})
	b.Adjusters = append(b.Adjusters, bike.Adjuster{Name: "dial", Moves: bike.MovesSaddleTilt, Unit: plane.Rad(1), Lo: -1, Hi: 3})
	s := solvePosition(t, m, positionOf(m, nil))
	got := s.disturbance(Gauge{Reading: bike.Reading{Kind: bike.Angle, Of: bike.SaddleBody}}, &task{settings: []int{2}}, s.starts())
	assert.InDelta(t, 3/0.25*0.5, got, 1e-9)
}

// Holes and risers stand, before the work, in the middle of those that the file's stretch leaves; where it leaves one, which no step
// sets, there: once all steps are done the pads are where they are to be.
func TestHolesAndRisersStandWhereTheyMayBefore(t *testing.T) {
	for _, c := range []struct{ lo, hi, start float64 }{{15, 30, 20}, {-30, 12, -10}} {
		b, m := limited(bike.Adjuster{Unit: 1, Lo: -50, Hi: 50}, bike.Adjuster{Unit: 1, Lo: -50, Hi: 50})
		part := clipon()
		b.Clipon = &bike.CliponFit{Slot: one(&part), Tilt: bike.Fixed(0), Hole: free(c.lo, c.hi), Stack: free(4, 15)}
		m.hands = assembly.Contact{Name: bike.Pad, At: b.BarAnchor.Add(part.Pad(0, 10))}
		s := solvePosition(t, m, positionOf(m, nil))
		starts := map[bike.Sets]float64{}
		for i, at := range s.starts() {
			starts[s.Settings[i].Sets] = at
		}
		assert.Equal(t, [2]float64{c.start, 10}, [2]float64{starts[bike.SetsHole], starts[bike.SetsRisers]})
		steps := s.Order()
		done := s.after(steps, s.starts())[len(steps)-1]
		g := gauge(bike.Line, placed(bike.AtBB), placed(bike.AtPad))
		is, ok := s.read(g)
		after, _ := done.read(g)
		require.True(t, ok)
		assert.InDelta(t, is, after, 1e-9)
	}
}

// Common practice: tilt before the rails, slides before posts, the bar's turn when its place is right, the extensions
// last; spacers are no post.
func TestTheUsualOrderInAWorkshop(t *testing.T) {
	up, ahead := plane.Direction(plane.Rad(105)), plane.Point{X: 1}
	list := []Setting{{Settable: bike.Settable{Sets: bike.SetsSaddleTilt}}, {Settable: bike.Settable{Sets: bike.SetsRails, Heading: ahead}},
		{Settable: bike.Settable{Sets: bike.SetsSaddle, Heading: ahead}}, {Settable: bike.Settable{Sets: bike.SetsSaddle, Heading: up}},
		{Settable: bike.Settable{Sets: bike.SetsRotation}}, {Settable: bike.Settable{Sets: bike.SetsExtension}}}
	last := -1
	for _, set := range list {
		assert.Greater(t, set.Rank(), last)
		last = set.Rank()
	}
	spacers := Setting{Settable: bike.Settable{Sets: bike.SetsSpacers, Heading: plane.Point{Y: 1}}}
	assert.Equal(t, list[2].Rank(), spacers.Rank())
}

// What makes a disturbed measure good again slides: nothing that is built in pieces, turned, or a lever that turns the hand along.
func TestWhatMendsSlides(t *testing.T) {
	r := rand.New(rand.NewPCG(95, 0))
	mended := 0
	for range 200 {
		m := newMachine(r)
		m.b.Bar.LeverAt = free(-20, 0)
		s := solvePosition(t, m, positionOf(m, nil))
		for _, k := range s.Couplings() {
			assert.GreaterOrEqual(t, math.Abs(k.Change), 0.2, "less is not worth telling")
			mend := s.Settings[k.Mend]
			mended++
			assert.False(t, mend.Turns() || mend.Sets.Built() || mend.Sets == bike.SetsLever || mend.Fixed(), "%s mends", mend.Name)
			at := s.travels()
			at[k.By], at[k.Mend] = at[k.By]+k.Amount, at[k.Mend]+k.MendTravel
			g := Gauge{Reading: k.Measure.Reading(s.Target, m.hands.Name)}
			was, _ := s.read(g)
			is, _ := s.at(at).read(g)
			assert.InDelta(t, was, is, 0.1+0.15*math.Abs(k.Change), "%s made good by %s", k.Measure, mend.Name)
		}
	}
	assert.Greater(t, mended, 100)
}

// A bolt that the file holds turns either way, as far as it takes; what has stops, a stretch in the file or a dial, must go further by
// the least half degrees that leave 1°, and with steps by what brings a step there. Nothing else turns the saddle then.
func TestATiltOutOfReachIsTurnedEitherWay(t *testing.T) {
	dial := func(unit, step float64) func(b *bike.Bike) {
		return func(b *bike.Bike) {
			b.Adjusters = append(b.Adjusters, bike.Adjuster{Name: "dial", Moves: bike.MovesSaddleTilt, Unit: plane.Rad(unit), Lo: -1, Hi: 1,
				Step: step})
		}
	}
	for _, c := range []struct {
		name string
		with func(b *bike.Bike)
		kind CureKind
		// Of 4.2°, degrees: what is turned, and what is lacking in half degrees.
		by, lacks float64
	}{
		{"a bolt", func(*bike.Bike) {}, CureSetting, 4.2, 3.5},
		{"a stretch", func(b *bike.Bike) { b.Saddle.Tilt = free(-plane.Rad(1), plane.Rad(1)) }, CureTurn, 2.5, 2.5},
		{"a dial", dial(1, 0), CureTurn, 2.5, 2.5},
		{"a dial that runs backwards, with steps", dial(-1, 0.5), CureTurn, 2.5, 2.5},
	} {
		for _, sign := range []float64{-1, 1} {
			b, m := limited(bike.Adjuster{Unit: 1, Lo: -50, Hi: 50}, bike.Adjuster{Unit: 1, Lo: -50, Hi: 50})
			c.with(b)
			m.sit.Angle = sign * plane.Rad(4.2)
			s := solvePosition(t, m, positionOf(m, nil))
			cures := curesOf(t, s, Shop{})
			require.Len(t, cures, 1, c.name)
			require.Len(t, cures[0].Cures, 1, c.name)
			k := cures[0].Cures[0]
			assert.Equal(t, [2]any{c.kind, bike.SetsSaddleTilt}, [2]any{k.Kind, k.Sets}, c.name)
			assert.InDelta(t, sign*c.by, plane.Deg(k.By), 1e-9, c.name)
			assert.Equal(t, c.kind == CureSetting, k.Solution.Contacts[0].MissAngle == 0, c.name)
			assert.InDelta(t, sign*c.lacks, plane.Deg(cures[0].Lack.Turn), 1e-9, c.name)
		}
	}
}

// A saddle that carries wins over one that comes nearer and does not: 1.5 mm of leg count more than 2.5 mm of setback, but only the
// latter is out of what counts as carried.
func TestAPartThatCarriesIsPreferredToANearerOne(t *testing.T) {
	b, m := limited(bike.Adjuster{Unit: 1}, bike.Adjuster{Unit: 1})
	shape := func(ahead, up float64) *saddle.Shape {
		s, err := saddle.New(260, [][2]float64{{0, 40}, {100 + ahead, 60}, {220 + ahead, 145}, {260, 100}},
			[][2]float64{{0, -2}, {130, -6}, {240, 0}, {260, -3}}, 5, saddle.Rail{Height: 45 + up, From: 90, To: 170})
		require.NoError(t, err)
		return s
	}
	wanted := shape(0, 0)
	station, _ := wanted.WidthStation(support)
	m.sit.At = b.SaddleAnchor.Add(plane.Point{X: b.Saddle.ClampAt.Lo - station, Y: wanted.Rail.Height + wanted.Loaded(station).Y})
	m.sit.Angle, b.Saddle.Tilt, b.Saddle.Open, b.Saddle.Options = 0, bike.Fixed(0), true, nil
	for id, part := range []*saddle.Shape{shape(30, 0), shape(2.6, 0), shape(0, 1.5)} {
		b.Saddle.Options = append(b.Saddle.Options, bike.Option[saddle.Shape]{ID: []string{"fitted", "near", "carries"}[id], Part: part})
	}
	s := solvePosition(t, m, positionOf(m, nil))
	require.Equal(t, "near", partOf(s, "saddle"))
	require.False(t, s.Carried())
	f, err := PreferFitted(t.Context(), b, b, positionOf(m, nil), Options{HandsFixed: true})
	require.NoError(t, err)
	assert.True(t, f.Preferred.Solution.Carried())
	assert.Equal(t, "carries", partOf(f.Preferred.Solution, "saddle"))
	assert.Equal(t, "near", partOf(f.Trades[len(f.Trades)-1].Solution, "saddle"), "the least that misses is told too")

	// Of bars 1.5 mm and 0.9° count more than 2.1 mm.
	b, m = limited(bike.Adjuster{Unit: 1, Lo: -50, Hi: 50}, bike.Adjuster{Unit: 1, Lo: -50, Hi: 50})
	local := m.hands.At.Sub(*b.BarAnchor)
	b.Bar.Slot, b.Bar.Lever = bike.Slot[cockpit.Bar]{Open: true}, bike.Slot[cockpit.Lever]{}
	for id, off := range map[string][2]float64{"fitted": {30, 0}, "near": {2.1, 0}, "carries": {1.5, 0.9}} {
		at := local.Add(plane.Point{X: off[0]})
		b.Bar.Options = append(b.Bar.Options, bike.Option[cockpit.Bar]{ID: id, Part: &cockpit.Bar{Hood: &at, HoodAngle: m.hands.Angle +
			plane.Rad(off[1])}})
	}
	require.Equal(t, "near", partOf(solvePosition(t, m, positionOf(m, nil)), "bar"))
	f, err = PreferFitted(t.Context(), b, b, positionOf(m, nil), Options{HandsFixed: true})
	require.NoError(t, err)
	assert.Equal(t, "carries", partOf(f.Preferred.Solution, "bar"))
}

// A bar that a post lifts on its stem: every stack of spacers with the travel that then is left enumerated, the one nearest to home is
// the answer, for the stack the middle of what it may be.
func TestSpacersAreDividedWithAPost(t *testing.T) {
	const seed = 96
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for range 200 {
		m := hooded(r)
		head := plane.Rad(72)
		m.b.Frame.HeadAngle, m.b.Frame.SteererTop = &head, &plane.Point{X: 360, Y: 560}
		m.b.Stem = &bike.StemFit{Slot: one(&cockpit.Stem{Length: 100, Height: 40}), Spacers: bike.Spacers{Given: true, Free: true, Max: 40,
			Step: 5}}
		steerer, _ := m.b.Steerer()
		post := bike.Adjuster{Name: "bar post", Moves: bike.MovesBar, Angle: math.Atan2(steerer.Up().Y, steerer.Up().X), Unit: 1, Lo: 0, Hi: 60}
		m.b.Adjusters, m.b.Bar.Rotation, m.b.Bar.LeverAt = []bike.Adjuster{post}, bike.Fixed(0), bike.Fixed(0)
		m.b.Marks = map[string]float64{"bar post": between(r, 0, 60)}
		hood, angle, _ := m.b.Bar.Only().HoodContact(m.b.Bar.Lever.Only(), 0)
		lift := between(r, 0, 100)
		m.hands = assembly.Contact{Name: bike.Hood, Angle: angle,
			At: steerer.BarClamp(*m.b.Stem.Only(), false, 0).Add(steerer.Up().Scale(lift)).Add(hood)}
		s := solvePosition(t, m, positionOf(m, nil))
		best, least := 0.0, math.Inf(1)
		for _, stack := range m.b.Stem.Spacers.Heights() {
			travel := lift - stack
			if travel < 0 || travel > 60 {
				continue
			}
			if d := math.Hypot(stack-20, travel-m.b.Marks["bar post"]); d < least {
				best, least = stack, d
			}
		}
		require.Equal(t, best, setting(t, s, "stem.spacers").Travel)
		require.InDelta(t, lift-best, setting(t, s, "bar post").Travel, 1e-6)
	}
}

// Two bars alike but in their drops: what goes along with the hands of both postures decides which serves them.
func TestSharedPartsAlikeAreChosenByWhatGoesAlong(t *testing.T) {
	for _, apart := range []float64{-30, 30} {
		b, m := limited(bike.Adjuster{Unit: 1, Lo: -50, Hi: 50}, bike.Adjuster{Unit: 1, Lo: -50, Hi: 50})
		first := *b.Bar.Only()
		other := first
		other.Drop += apart
		b.Bar.Open, b.Bar.Options = true, []bike.Option[cockpit.Bar]{{ID: "first", Part: &first}, {ID: "other", Part: &other}}
		for drop, want := range map[float64]string{first.Drop: "first", other.Drop: "other", first.Drop + 0.4*apart: "first", first.Drop +
			0.6*apart: "other"} {
			wanted := first
			wanted.Drop = drop
			local, _ := wanted.DropContact()
			var asked []Asked
			for i := range 2 { // one of them wants less of it
				second := &assembly.Contact{Name: bike.Drop, At: b.BarAnchor.Add(local).Add(plane.Point{X: 2 * float64(i)})}
				asked = append(asked, Asked{Target: b, Position: positionOf(m, second)})
			}
			for _, o := range SolveAll(t.Context(), b, asked, Options{HandsFixed: true}) {
				require.NoError(t, o.Err)
				require.Equal(t, want, partOf(o.Solution, "bar"), "drops %+.0f mm apart", apart)
			}
		}
	}
}

// The same part errs alike on both bikes, and is one cause; two parts are two.
func TestTheSamePartIsOneCause(t *testing.T) {
	for _, same := range []bool{true, false} {
		s, a := carriedExample(t, "road", "studio", 0)
		if same {
			target := *s.Target
			target.Saddle.Slot = s.Source.Saddle.Slot
			var err error
			s, err = Solve(context.Background(), &target, s.Source, s.Position, Options{})
			require.NoError(t, err)
		}
		require.NoError(t, s.Total(a, nil))
		sides := map[Side]int{}
		for _, c := range s.Causes {
			if c.Kind == locate.ByFault && c.Fault == assembly.SaddleHeights {
				sides[c.Of]++
			}
		}
		assert.Equal(t, map[bool]map[Side]int{true: {OfBoth: 1}, false: {OfSource: 1, OfTarget: 1}}[same], sides)
	}
}

// Of a bar that no part and no reading tells of, nothing says how far it is from the saddle.
func TestNoseToBarIsKnownWhereTheBarIs(t *testing.T) {
	for _, known := range []bool{true, false} {
		source, target := biketest.Example(t, "road"), biketest.Example(t, "studio")
		if !known {
			source.Bar = bike.BarFit{}
			source.Readings = append(source.Readings[:6:6], source.Readings[7]) // but nose-to-bar and the height of the bar
		}
		a, err := locate.Adjust(source, nil, locate.Options{})
		require.NoError(t, err)
		pos, err := a.Position(source.Postures[0])
		require.NoError(t, err)
		s, err := Solve(context.Background(), target, source, &pos, Options{})
		require.NoError(t, err)
		w := s.Why(a)
		assert.Equal(t, known, w.Known[NoseToBar])
		assert.True(t, w.Known[Setback])
	}
}

// An answer speaks for every stack of spacers on every stem either way up, on every step, at every turn that has steps.
func TestHowManyWaysAnAnswerSpeaksFor(t *testing.T) {
	b, m := limited(bike.Adjuster{Unit: 1, Lo: 0, Hi: 6, Step: 2}, bike.Adjuster{Unit: 1, Lo: 0, Hi: 4, Step: 1})
	b.Adjusters = append(b.Adjusters, bike.Adjuster{Name: "dial", Moves: bike.MovesSaddleTilt, Unit: plane.Rad(1), Lo: -1, Hi: 1, Step: 1})
	seat := 4.0 * 5 * 3
	assert.Equal(t, seat, solvePosition(t, m, positionOf(m, nil)).Combinations)
	head := plane.Rad(72)
	b.Frame.HeadAngle, b.Frame.SteererTop = &head, &plane.Point{X: 360, Y: 560}
	stem := &cockpit.Stem{Length: 100, Angle: plane.Rad(6), Height: 40}
	b.Stem = &bike.StemFit{Slot: bike.Slot[cockpit.Stem]{Open: true, Options: []bike.Option[cockpit.Stem]{{ID: "a", Part: stem}, {ID: "b",
		Part: stem}}},
		Spacers: bike.Spacers{Given: true, Free: true, Max: 20, Step: 10}}
	assert.Equal(t, seat*2*2*3, solvePosition(t, m, positionOf(m, nil)).Combinations)
}

// A stop holds what is pushed onto it, a step what is pushed beside it; between them nothing is held, nor by what is not known to stop.
func TestWhatHoldsASetting(t *testing.T) {
	at := func(travel, push, step float64, stops bool) string {
		set := Setting{Settable: bike.Settable{Lo: 0, Hi: 10, Unit: 1, Step: step, Stops: stops}, Travel: travel, Push: push, Limit: "stale"}
		set.hold()
		return set.Limit
	}
	assert.Equal(t, [8]string{"max", "min", "", "", "", "step", "", "step"}, [8]string{at(10, 1, 0, true), at(0, -1, 0, true), at(10, -1, 0,
		true),
		at(5, 1, 0, true), at(10, 1, 0, false), at(5, 1, 1, true), at(5, 0, 1, true), at(0, 1, 1, true)})
}

// A lever free on the bend of a bar that turns in steps: where the hands come to lie is where the bar on that step and the lever at that
// place, within its stops, have them; and no step and place comes nearer in the angle, nor with the same angle in the place.
func TestALeverOnTheBendOfABarThatTurnsInSteps(t *testing.T) {
	const seed = 98
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for n := range 100 {
		m := levered(r, 2, 22, between(r, -5, 30), between(r, -5, 5))
		m.b.Adjusters = []bike.Adjuster{{Name: "dial", Moves: bike.MovesBarRotation, Unit: plane.Rad(1), Lo: -10, Hi: 10, Step: 5}}
		m.hands.Angle += between(r, -0.2, 0.2)
		s := solvePosition(t, m, positionOf(m, nil))
		hood := func(turn, lever float64) assembly.Contact {
			at, angle, _ := m.b.Bar.Only().HoodContact(m.b.Bar.Lever.Only(), lever)
			return assembly.Contact{At: m.b.BarAnchor.Add(at.Turn(turn)), Angle: angle + turn}
		}
		lever, got := setting(t, s, "bar.lever_at").Travel, s.Contacts[1]
		require.InDelta(t, 12, lever, 10+1e-9)
		is := hood(setting(t, s, "dial").Travel, lever)
		require.InDelta(t, 0, is.At.Distance(got.Got.At), 1e-9, "case %d", n)
		require.InDelta(t, is.Angle, got.Got.Angle, 1e-9, "case %d", n)
		for step := -10.0; step <= 10; step += 5 {
			for i := range 201 {
				k := hood(plane.Rad(step), 2+0.1*float64(i))
				off := math.Abs(k.Angle - m.hands.Angle)
				require.GreaterOrEqual(t, off, math.Abs(got.MissAngle)-1e-9, "case %d", n)
				if off <= math.Abs(got.MissAngle)+1e-12 {
					require.GreaterOrEqual(t, k.At.Distance(m.hands.At), got.Miss-1e-9, "case %d", n)
				}
			}
		}
	}
}

// Where a saddle hardly widens a few mm of support are a long way, and a place is worth more than a width; not where the place is said,
// nor where the saddle has no such width.
func TestASaddleThatHardlyWidens(t *testing.T) {
	_, m := limited(bike.Adjuster{Unit: 1, Lo: -50, Hi: 50}, bike.Adjuster{Unit: 1, Lo: -50, Hi: 50})
	flat, err := saddle.New(250, [][2]float64{{0, 40}, {100, 90}, {200, 100}, {250, 140}}, [][2]float64{{0, -2}, {240, 0}, {250, -3}}, 5,
		saddle.Rail{Height: 45, From: 80, To: 175})
	require.NoError(t, err)
	at := 150.0
	for _, c := range []struct {
		shape *saddle.Shape
		meets saddle.Meeting
		at    *float64
		codes []string
	}{
		{flat, saddle.Reached, nil, []string{"support-flat"}},
		{m.b.Saddle.Only(), saddle.Reached, nil, nil},
		{flat, saddle.Reached, &at, nil},
		{flat, saddle.TooNarrow, nil, []string{"saddle-narrow"}},
		{flat, saddle.AtNose, nil, []string{"support-at-nose"}},
	} {
		s := solvePosition(t, m, positionOf(m, nil))
		s.Source = &bike.Bike{Saddle: bike.SaddleFit{Slot: one(c.shape)}}
		s.Position.Meets, s.Position.Posture.At = c.meets, c.at
		var codes []string
		for _, w := range s.warnings() {
			codes = append(codes, w.Code)
		}
		assert.Equal(t, c.codes, codes)
	}
}
