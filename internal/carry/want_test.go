package carry

import (
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
)

// Closed forms: a longer crank or a thicker sole changes the leg's length by the difference; KeepExtension
// keeps the direction from BB to saddle, KeepKnee moves the saddle by the crank's difference.
func TestCrankPolicies(t *testing.T) {
	const seed = 91
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for range 1000 {
		pos := &locate.Position{Sit: assembly.Contact{At: plane.Point{X: between(r, -300, 0), Y: between(r, 600, 800)}, Angle: 0.02},
			Hands: assembly.Contact{At: plane.Point{X: 480, Y: 640}, Angle: 0.1}, Second: &assembly.Contact{At: plane.Point{X: 450, Y: 520}}}
		source := bike.Feet{Crank: between(r, 150, 180), SoleHeight: between(r, 10, 40)}
		target := bike.Feet{Crank: between(r, 150, 180), SoleHeight: between(r, 10, 40)}
		longer := source.Crank - target.Crank + target.SoleHeight - source.SoleHeight
		for _, policy := range []Policy{KeepExtension, KeepKnee} {
			w, err := Want(pos, source, &bike.Bike{Feet: target}, Options{Policy: policy})
			require.NoError(t, err)
			require.InDelta(t, pos.Sit.At.Norm()+longer, w.Sit.At.Norm(), 1e-9, "the leg keeps its extension")
			if policy == KeepExtension {
				require.InDelta(t, 0, pos.Sit.At.Scale(1/pos.Sit.At.Norm()).Cross(w.Sit.At), 1e-9, "in the same direction")
			} else {
				require.InDelta(t, pos.Sit.At.X+target.Crank-source.Crank, w.Sit.At.X, 1e-12, "the knee over the pedal")
			}
			shift := w.Sit.At.Sub(pos.Sit.At)
			require.Equal(t, shift, w.Shift)
			require.InDelta(t, 0, w.Hands.At.Sub(pos.Hands.At).Distance(shift), 1e-12, "the hands follow")
			require.InDelta(t, 0, w.Second.At.Sub(pos.Second.At).Distance(shift), 1e-12, "and so do the drops")
			require.Equal(t, [2]float64{pos.Sit.Angle, pos.Hands.Angle}, [2]float64{w.Sit.Angle, w.Hands.Angle}, "angles are kept")

			still, err := Want(pos, source, &bike.Bike{Feet: target}, Options{Policy: policy, HandsFixed: true})
			require.NoError(t, err)
			require.Equal(t, w.Sit, still.Sit)
			require.Equal(t, pos.Hands, still.Hands, "hands fixed")
			require.Equal(t, pos.Second.At, still.Second.At)
		}
	}
}

// Common practice: cranks 5 mm shorter raise a saddle by 5 mm along the line from the BB.
func TestShorterCranksRaiseTheSaddle(t *testing.T) {
	pos := &locate.Position{Sit: assembly.Contact{At: plane.Direction(plane.Rad(107)).Scale(740)}}
	w, err := Want(pos, bike.Feet{Crank: 175, SoleHeight: 20}, &bike.Bike{Feet: bike.Feet{Crank: 170, SoleHeight: 20}}, Options{})
	require.NoError(t, err)
	assert.InDelta(t, 0, w.Sit.At.Distance(plane.Direction(plane.Rad(107)).Scale(745)), 1e-9)
	w, err = Want(pos, bike.Feet{Crank: 170, SoleHeight: 20}, &bike.Bike{Feet: bike.Feet{Crank: 170, SoleHeight: 23}}, Options{})
	require.NoError(t, err)
	assert.InDelta(t, 743, w.Sit.At.Norm(), 1e-9, "pedals 3 mm thicker raise it by 3 mm")
}

func TestNearestCrank(t *testing.T) {
	for _, c := range []struct {
		name   string
		cranks []float64
		source float64
		want   float64
	}{
		{"what is fitted when nothing else can be", nil, 165, 170},
		{"the same", []float64{165, 170, 175}, 170, 170},
		{"the nearer", []float64{165, 170, 175}, 173, 175},
		{"of two equally near the fitted one", []float64{175, 165, 170}, 172.5, 170},
		{"the fitted one, be it the longer", []float64{165, 170}, 167.5, 170},
		{"else the shorter", []float64{177.5, 172.5, 175}, 176.25, 175},
		{"beyond the ends", []float64{165, 175}, 150, 165},
	} {
		t.Run(c.name, func(t *testing.T) {
			assert.Equal(t, c.want, NearestCrank(bike.Feet{Crank: 170, Cranks: c.cranks}, c.source))
		})
	}
}

func TestLegsThatCannotBe(t *testing.T) {
	at := func(p plane.Point) *locate.Position { return &locate.Position{Sit: assembly.Contact{At: p}} }
	_, err := Want(at(plane.Point{}), bike.Feet{Crank: 170}, &bike.Bike{Feet: bike.Feet{Crank: 170}}, Options{})
	assert.ErrorContains(t, err, "no leg")
	_, err = Want(at(plane.Point{X: -1}), bike.Feet{Crank: 170}, &bike.Bike{Feet: bike.Feet{Crank: 180}}, Options{})
	assert.ErrorContains(t, err, "no leg")
	_, err = Want(at(plane.Point{X: -90, Y: 10}), bike.Feet{Crank: 180}, &bike.Bike{Feet: bike.Feet{Crank: 110, SoleHeight: -100}},
		Options{Policy: KeepKnee})
	assert.ErrorContains(t, err, "knee")
}

// limited is a bike whose saddle moves straight up and straight forward and whose bar is in place.
func limited(up, ahead bike.Adjuster) (*bike.Bike, *machine) {
	r := rand.New(rand.NewPCG(92, 0))
	m := hooded(r)
	up.Name, up.Angle, ahead.Name = "up", math.Pi/2, "ahead"
	m.b.Adjusters = []bike.Adjuster{up, ahead}
	m.b.Saddle.ClampAt, m.b.Saddle.Tilt = bike.Fixed(130), bike.Fixed(0)
	m.b.SaddleAnchor = &plane.Point{X: -150, Y: 600}
	s := m.b.Saddle.Only()
	station, _ := s.WidthStation(support)
	m.sit = assembly.Contact{Name: bike.Sit, At: m.b.SaddleAnchor.Add(plane.Point{X: 130 - station, Y: s.Rail.Height + s.Loaded(station).Y})}
	m.b.Bar = bike.BarFit{Slot: one(m.b.Bar.Only()), Lever: one(m.b.Bar.Lever.Only()), LeverAt: bike.Fixed(0), Rotation: bike.Fixed(0)}
	m.b.BarAnchor = &plane.Point{X: 400, Y: 600}
	local, angle, _ := m.b.Bar.Only().HoodContact(m.b.Bar.Lever.Only(), 0)
	m.hands = assembly.Contact{Name: bike.Hood, At: m.b.BarAnchor.Add(local), Angle: angle}
	return m.b, m
}

// What holds a contact back is named by the mark's own end, which of a scale that runs backwards is the other.
func TestLimits(t *testing.T) {
	for _, c := range []struct {
		name   string
		up     bike.Adjuster
		ahead  bike.Adjuster
		want   plane.Point // of the saddle, from its place with every mark at 0
		marks  [2]float64
		limits [2]string
	}{
		{"within reach", bike.Adjuster{Unit: 10, Hi: 5}, bike.Adjuster{Unit: 1, Lo: -20, Hi: 20}, plane.Point{X: 5, Y: 25}, [2]float64{2.5, 5},
			[2]string{"", ""}},
		{"too high", bike.Adjuster{Unit: 10, Hi: 5}, bike.Adjuster{Unit: 1, Lo: -20, Hi: 20}, plane.Point{X: 5, Y: 60}, [2]float64{5, 5},
			[2]string{"max", ""}},
		{"too low and too far forward", bike.Adjuster{Unit: 10, Hi: 5}, bike.Adjuster{Unit: 1, Lo: -20, Hi: 20}, plane.Point{X: 25, Y: -8},
			[2]float64{0, 20}, [2]string{"min", "max"}},
		{"too far forward on a scale that runs backwards", bike.Adjuster{Unit: 10, Hi: 5}, bike.Adjuster{Unit: -1, Lo: -20, Hi: 20},
			plane.Point{X: 25, Y: 10}, [2]float64{1, -20}, [2]string{"", "min"}},
		{"too far back on it", bike.Adjuster{Unit: 10, Hi: 5}, bike.Adjuster{Unit: -1, Lo: -20, Hi: 20}, plane.Point{X: -25, Y: 10},
			[2]float64{1, 20}, [2]string{"", "max"}},
		{"exactly at a stop holds nothing back", bike.Adjuster{Unit: 10, Hi: 5}, bike.Adjuster{Unit: 1, Lo: -20, Hi: 20}, plane.Point{X: -20,
			Y: 50}, [2]float64{5, -20}, [2]string{"", ""}},
		{"between two steps", bike.Adjuster{Unit: 10, Hi: 5, Step: 1}, bike.Adjuster{Unit: 1, Lo: -20, Hi: 20}, plane.Point{X: 5, Y: 23},
			[2]float64{2, 5}, [2]string{"step", ""}},
		{"steps counted from the least mark", bike.Adjuster{Unit: 10, Lo: 0.3, Hi: 5, Step: 1}, bike.Adjuster{Unit: 1, Lo: -20, Hi: 20},
			plane.Point{X: 5, Y: 23}, [2]float64{2.3, 5}, [2]string{"", ""}},
		{"steps of a scale that runs backwards", bike.Adjuster{Unit: 10, Hi: 5}, bike.Adjuster{Unit: -2, Lo: -3, Hi: 4, Step: 2},
			plane.Point{X: 5.5, Y: 20}, [2]float64{2, -3}, [2]string{"", "step"}},
		{"above the last step", bike.Adjuster{Unit: 10, Hi: 5.4, Step: 1}, bike.Adjuster{Unit: 1, Lo: -20, Hi: 20}, plane.Point{Y: 90},
			[2]float64{5, 0}, [2]string{"max", ""}},
		{"a stop on both sides", bike.Adjuster{Unit: 10, Lo: 2, Hi: 2}, bike.Adjuster{Unit: 1, Lo: -20, Hi: 20}, plane.Point{Y: 30},
			[2]float64{2, 0}, [2]string{"max", ""}},
		{"metres away", bike.Adjuster{Unit: 10, Hi: 5}, bike.Adjuster{Unit: 1, Lo: -20, Hi: 20}, plane.Point{X: -4e3, Y: 1e4}, [2]float64{5,
			-20}, [2]string{"max", "min"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, m := limited(c.up, c.ahead)
			m.sit.At = m.sit.At.Add(c.want)
			pos := positionOf(m, nil)
			pos.Posture.Weights.Extension = 1 // as for the setback: each travel serves its own direction
			s := solvePosition(t, m, pos)
			for i := range 2 {
				assert.InDelta(t, c.marks[i], s.Settings[i].Mark(), 1e-9, s.Settings[i].Name)
				assert.Equal(t, c.limits[i], s.Settings[i].Limit, s.Settings[i].Name)
			}
			assert.InDelta(t, s.E, s.Contacts[0].Miss, 1e-6, "only the place is missed")
		})
	}
}

// A miss of 2 mm or 1° is carried, more is not.
func TestWhatCountsAsCarried(t *testing.T) {
	for _, c := range []struct {
		miss    float64
		carried bool
	}{{1.99, true}, {2, true}, {2.01, false}} {
		_, m := limited(bike.Adjuster{Unit: 1}, bike.Adjuster{Unit: 1})
		m.sit.At.Y += c.miss
		s := solvePosition(t, m, positionOf(m, nil))
		assert.Equal(t, c.carried, s.Carried(), "%g mm", c.miss)
	}
	for _, c := range []struct {
		deg     float64
		carried bool
	}{{0.99, true}, {1, true}, {1.01, false}} {
		_, m := limited(bike.Adjuster{Unit: 1}, bike.Adjuster{Unit: 1})
		m.sit.Angle = plane.Rad(c.deg)
		s := solvePosition(t, m, positionOf(m, nil))
		assert.Equal(t, c.carried, s.Carried(), "%g°", c.deg)
		assert.InDelta(t, bike.DegreeCost*c.deg, s.E, 1e-9, "a degree costs 1.75 mm")
	}
}

// A second contact that misses does not decide whether the result is carried.
func TestASecondContactDoesNotDecide(t *testing.T) {
	_, m := limited(bike.Adjuster{Unit: 1}, bike.Adjuster{Unit: 1})
	s := solvePosition(t, m, positionOf(m, &assembly.Contact{Name: bike.Drop, At: plane.Point{X: 900, Y: 100}}))
	require.Len(t, s.Contacts, 3)
	assert.False(t, s.Contacts[2].Carried)
	assert.True(t, s.Carried())
	assert.InDelta(t, 0, s.E, 1e-9)
}

// The drops are carried exactly where the target's bar has the shape of the source's.
func TestTheDropsOfTheSameBarAreCarried(t *testing.T) {
	r := rand.New(rand.NewPCG(93, 0))
	m := hooded(r)
	source, p := m.source(r, Options{})
	m.b.Bar.Slot, m.b.Bar.Lever, m.b.Bar.LeverAt = source.Bar.Slot, source.Bar.Lever, source.Bar.LeverAt
	m.b.Bar.Rotation = free(-3, 3)
	m.b.Adjusters = append(m.b.Adjusters, bike.Adjuster{Name: "more up", Moves: bike.MovesBar, Angle: math.Pi / 2, Unit: 1, Lo: -300, Hi: 300},
		bike.Adjuster{Name: "more ahead", Moves: bike.MovesBar, Unit: 1, Lo: -300, Hi: 300})
	m.b.Adjusters = withoutTurns(m.b.Adjusters)
	s := carryBike(t, source, m.b, p, Options{})
	assert.InDelta(t, 0, s.Second, 1e-6)
}

func withoutTurns(all []bike.Adjuster) (some []bike.Adjuster) {
	for _, a := range all {
		if a.Moves != bike.MovesBarRotation {
			some = append(some, a)
		}
	}
	return some
}

func TestRailsNarrowerThanTheSettingAllows(t *testing.T) {
	for _, c := range []struct {
		name   string
		at     bike.Setting
		lo, hi float64 // of the rails
		clamp  float64 // got, "" when it cannot be held
		says   string
	}{
		{"setting within the rails", free(120, 140), 90, 170, 130, ""},
		{"setting beyond the rails on both sides", free(20, 400), 128, 132, 130, ""},
		{"rails of one place", free(20, 400), 131, 131, 131, ""},
		{"setting that misses the rails", free(20, 80), 90, 170, 0, "cannot hold its rails"},
		{"a value off the rails", bike.Fixed(85), 90, 170, 0, "cannot hold its rails"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, m := limited(bike.Adjuster{Unit: 1, Lo: -50, Hi: 50}, bike.Adjuster{Unit: 1, Lo: -50, Hi: 50})
			m.b.Saddle.Only().Rail.From, m.b.Saddle.Only().Rail.To = c.lo, c.hi
			m.b.Saddle.ClampAt = c.at
			s, err := Solve(t.Context(), m.b, m.b, positionOf(m, nil), Options{})
			if c.says != "" {
				require.ErrorContains(t, err, c.says)
				return
			}
			require.NoError(t, err)
			require.InDelta(t, 0, s.E, 1e-9)
			last := s.Settings[len(s.Settings)-1]
			require.Equal(t, "saddle.clamp_at", last.Name)
			assert.InDelta(t, c.clamp, last.Travel, 1e-6)
		})
	}
}

func TestBikesThatCannotBeATarget(t *testing.T) {
	for _, c := range []struct {
		name  string
		spoil func(b *bike.Bike)
		says  string
	}{
		{"no saddle", func(b *bike.Bike) { b.Saddle.Options = nil }, "no saddle"},
		{"no saddle anchor", func(b *bike.Bike) { b.SaddleAnchor = nil }, "saddle clamp"},
		{"no bar", func(b *bike.Bike) { b.Bar.Options = nil }, "no bar"},
		{"no levers", func(b *bike.Bike) { b.Bar.Lever.Options = nil }, "no levers"},
		{"no bar anchor", func(b *bike.Bike) { b.BarAnchor = nil }, "where its bar is"},
		{"a stem without a steerer", func(b *bike.Bike) { b.Stem = &bike.StemFit{Slot: one(&cockpit.Stem{})} }, "no steerer"},
		{"an empty list of stems", func(b *bike.Bike) { b.Stem = &bike.StemFit{} }, "no stem"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b, m := limited(bike.Adjuster{Unit: 1}, bike.Adjuster{Unit: 1})
			c.spoil(b)
			_, err := Solve(t.Context(), b, b, positionOf(m, nil), Options{})
			assert.ErrorContains(t, err, c.says)
		})
	}
}
