package bike_test

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/bike"
	"carryover/internal/cockpit"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// open is a bike of which everything can be set that has a setting.
func open() *bike.Bike {
	b := &bike.Bike{Marks: map[string]float64{"post": 3}, Adjusters: []bike.Adjuster{
		{Name: "post", Moves: bike.MovesSaddle, Angle: plane.Rad(106), Unit: 10, Lo: 1, Hi: 12},
		{Name: "bar slide", Moves: bike.MovesBar, Unit: -2, Lo: 4, Hi: 9, Step: 2, NoScale: true},
	}}
	free := func(lo, hi float64) bike.Setting { return bike.Setting{Given: true, Free: true, Lo: lo, Hi: hi} }
	width := 60.0
	b.Saddle = bike.SaddleFit{Tilt: free(-0.1, 0.2), ClampAt: free(100, 180),
		Slot: bike.Slot[saddle.Shape]{Options: []bike.Option[saddle.Shape]{{Part: &saddle.Shape{Rail: saddle.Rail{From: 92, To: 165}}}}}}
	b.Bar = bike.BarFit{Rotation: free(-0.3, 0.1), LeverAt: free(-8, 200), ClampWidth: &width,
		Slot:  bike.Slot[cockpit.Bar]{Options: []bike.Option[cockpit.Bar]{{Part: &cockpit.Bar{Reach: 78, Drop: 128, Bend: 34}}}},
		Lever: bike.Slot[cockpit.Lever]{Options: []bike.Option[cockpit.Lever]{{Part: &cockpit.Lever{Along: 30, Out: 20}}}}}
	b.Stem = &bike.StemFit{Spacers: bike.Spacers{Given: true, Free: true, Max: 32, Step: 5},
		Slot: bike.Slot[cockpit.Stem]{Options: []bike.Option[cockpit.Stem]{{Part: &cockpit.Stem{Length: 100, Angle: -0.1}}}}}
	b.Clipon = &bike.CliponFit{Slot: bike.Slot[cockpit.Clipon]{Options: []bike.Option[cockpit.Clipon]{{Part: &cockpit.Clipon{
		Stacks: []float64{0, 10, 25}, Holes: []float64{-20, 0, 25}, Tilt: [2]float64{-0.1, 0.25}, TiltStep: 0.1,
		GripForward: [2]float64{200, 340}, Spacings: []float64{180, 200, 230}, Gap: 40, Spread: 15}}}}}
	return b
}

type row struct {
	called             string
	lo, hi, step, home float64
}

func rows(list []bike.Settable) (all []row) {
	round := func(v float64) float64 { return math.Round(v*1e9) / 1e9 }
	for _, s := range list {
		all = append(all, row{s.Called, round(s.Lo), round(s.Hi), round(s.Step), round(s.Home)})
	}
	return all
}

// What has a scale comes first, in the order of the file; then what the file leaves open, as far as the parts go.
func TestWhatCanBeSet(t *testing.T) {
	onHoods := []row{{"post", 10, 120, 0, 30}, {"bar slide", -16, -8, 4, -13}, {"saddle tilt", -0.1, 0.2, 0, 0.05},
		{"rail clamp", 100, 165, 0, 132.5}, {"bar rotation", -0.3, 0.1, 0, -0.1},
		{"lever on the bar", -8, math.Round(17e9*math.Pi) / 1e9, 0, math.Round(1e9*(17*math.Pi-8)/2) / 1e9}, {"spacers", 0, 30, 5, 15}}
	// On the pads: the clamps straddle 60 mm, 20 more than at their closest, and the pads' spacing widens with them.
	onPads := append(slices.DeleteFunc(slices.Clone(onHoods), func(r row) bool { return r.called == "lever on the bar" }),
		row{"pad tilt", -0.1, 0.2, 0.1, 0.05}, row{"pad hole", -20, 25, 0, 2.5}, row{"risers", 0, 25, 0, 12.5},
		row{"extension", 200, 340, 0, 270}, row{"pad spacing", 200, 250, 0, 225}, row{"clamp gap", 40, 70, 0, 55})
	b := open()
	assert.Equal(t, onHoods, rows(b.Settables(b.Chosen(), bike.Hood)))
	assert.Equal(t, onPads, rows(b.Settables(b.Chosen(), bike.Pad)))

	dial := func(m bike.Moves) bike.Adjuster { return bike.Adjuster{Name: "dial", Moves: m, Unit: 1} }
	for _, c := range []struct {
		why  string
		not  string // what is then not listed beside what an adjuster sets
		spec func(b *bike.Bike)
	}{
		{"a stated tilt", "saddle tilt", func(b *bike.Bike) { b.Saddle.Tilt = bike.Fixed(0) }},
		{"a tilt with a dial", "saddle tilt", func(b *bike.Bike) { b.Adjusters = append(b.Adjusters, dial(bike.MovesSaddleTilt)) }},
		{"a stated clamp", "rail clamp", func(b *bike.Bike) { b.Saddle.ClampAt = bike.Fixed(120) }},
		{"a saddle without a shape", "rail clamp", func(b *bike.Bike) { b.Saddle.Options = nil }},
		{"a stated rotation", "bar rotation", func(b *bike.Bike) { b.Bar.Rotation = bike.Fixed(0) }},
		{"a bar with a dial", "bar rotation", func(b *bike.Bike) { b.Adjusters = append(b.Adjusters, dial(bike.MovesBarRotation)) }},
		{"stated spacers", "spacers", func(b *bike.Bike) { b.Stem.Spacers = bike.Spacers{Given: true, Fixed: 10} }},
		{"no stem", "spacers", func(b *bike.Bike) { b.Stem = nil }},
		{"a stated pad tilt", "pad tilt", func(b *bike.Bike) { b.Clipon.Tilt = bike.Fixed(0) }},
		{"a pad tilt out of the clip-on's range", "pad tilt", func(b *bike.Bike) {
			b.Clipon.Tilt = bike.Setting{Given: true, Free: true, Lo: 1, Hi: 2}
		}},
		{"a stated hole", "pad hole", func(b *bike.Bike) { b.Clipon.Hole = bike.Fixed(0) }},
		{"no holes", "pad hole", func(b *bike.Bike) { b.Clipon.Only().Holes = nil }},
		{"risers between those there are", "risers", func(b *bike.Bike) {
			b.Clipon.Stack = bike.Setting{Given: true, Free: true, Lo: 11, Hi: 24}
		}},
		{"a stated extension", "extension", func(b *bike.Bike) { b.Clipon.Extension = bike.Fixed(300) }},
		{"a stated spacing", "pad spacing", func(b *bike.Bike) { b.Clipon.Spacing = bike.Fixed(200) }},
		{"clamps that do not move", "clamp gap", func(b *bike.Bike) { b.Clipon.Only().Spread = 0 }},
	} {
		t.Run(c.why, func(t *testing.T) {
			b := open()
			c.spec(b)
			var names, want []string
			for _, s := range b.Settables(b.Chosen(), bike.Pad) {
				if s.Adjuster < 0 {
					names = append(names, s.Called)
				}
			}
			for _, r := range onPads[2:] {
				if r.called != c.not {
					want = append(want, r.called)
				}
			}
			assert.Equal(t, want, names)
		})
	}
	for why, spec := range map[string]func(b *bike.Bike){
		"a stated place":                 func(b *bike.Bike) { b.Bar.LeverAt = bike.Fixed(0) },
		"no lever":                       func(b *bike.Bike) { b.Bar.Lever.Options = nil },
		"no bar":                         func(b *bike.Bike) { b.Bar.Options = nil },
		"a bar known by its hoods alone": func(b *bike.Bike) { b.Bar.Only().Hood = &plane.Point{} },
	} {
		b := open()
		spec(b)
		for _, s := range b.Settables(b.Chosen(), bike.Hood) {
			assert.NotEqual(t, bike.SetsLever, s.Sets, why)
		}
	}
}

// A setting is described alike in the list and by its key, but for what it may be.
func TestASettingByItsKey(t *testing.T) {
	b := open()
	for _, s := range append(b.Settables(b.Chosen(), bike.Hood), b.Settables(b.Chosen(), bike.Pad)...) {
		by := b.Settable(s.Adjuster, s.Name)
		assert.Equal(t, []any{s.Sets, s.Name, s.Called, s.Unit, s.Weight, s.Turns()},
			[]any{by.Sets, by.Name, by.Called, by.Unit, by.Weight, by.Turns()})
		if s.Adjuster < 0 {
			assert.Equal(t, s.Called, bike.Called(s.Name))
		}
	}
	assert.Empty(t, bike.Called("post"))
	assert.Empty(t, bike.Called(""))
}

// One line a setting: an angle, on the saddle's half, outside the side view, built once.
func TestWhatASettingIs(t *testing.T) {
	for _, c := range []struct {
		sets                            bike.Sets
		turns, saddle, sideways, counts bool
	}{
		{bike.SetsSaddle, false, true, false, false},
		{bike.SetsSaddleTilt, true, true, false, false},
		{bike.SetsRails, false, true, false, false},
		{bike.SetsBar, false, false, false, false},
		{bike.SetsRotation, true, false, false, false},
		{bike.SetsLever, false, false, false, false},
		{bike.SetsSpacers, false, false, false, true},
		{bike.SetsPadTilt, true, false, false, false},
		{bike.SetsHole, false, false, false, true},
		{bike.SetsRisers, false, false, false, true},
		{bike.SetsExtension, false, false, false, false},
		{bike.SetsSpacing, false, false, true, true},
		{bike.SetsGap, false, false, true, true},
	} {
		assert.Equal(t, []bool{c.turns, c.saddle, c.sideways, c.counts},
			[]bool{c.sets.Turns(), c.sets.OnSaddle(), c.sets.Sideways(), c.sets.Built()}, "%s", c.sets.Key())
	}
}

// A stretch of a setting takes what is on its ends; a part offers nothing beyond its own last step.
func TestTiltsOfAClipon(t *testing.T) {
	free := func(lo, hi float64) bike.Setting { return bike.Setting{Given: true, Free: true, Lo: lo, Hi: hi} }
	for _, c := range []struct {
		why  string
		set  bike.Setting
		step float64
		want bike.Turns
		ok   bool
	}{
		{"all of it", bike.Setting{}, 0, bike.Turns{Range: plane.Range{Lo: -0.1, Hi: 0.3}}, true},
		{"all its steps", bike.Setting{}, 0.2, bike.Turns{Values: []float64{-0.1, 0.1, 0.3}}, true},
		{"the last step short of the end", bike.Setting{}, 0.15, bike.Turns{Values: []float64{-0.1, 0.05, 0.2}}, true},
		{"steps on the ends of the stretch", free(0.1, 0.3), 0.2, bike.Turns{Values: []float64{0.1, 0.3}}, true},
		{"no step in the stretch", free(0.15, 0.25), 0.2, bike.Turns{}, false},
		{"a stretch that sticks out", free(0.2, 0.9), 0, bike.Turns{Range: plane.Range{Lo: 0.2, Hi: 0.3}}, true},
		{"a stretch beyond", free(0.4, 0.9), 0, bike.Turns{Range: plane.Range{Lo: 0.4, Hi: 0.3}}, false},
		{"a stated tilt, as it stands", bike.Fixed(0.7), 0.2, bike.Turns{Range: plane.Range{Lo: 0.7, Hi: 0.7}}, true},
	} {
		got, ok := c.set.Tilts(&cockpit.Clipon{Tilt: [2]float64{-0.1, 0.3}, TiltStep: c.step})
		assert.Equal(t, c.ok, ok, c.why)
		assert.Equal(t, c.want.Range, got.Range, c.why)
		assert.InDeltaSlice(t, c.want.Values, got.Values, 1e-12, c.why)
	}
}

// Two steps equally near are both named; without steps the nearest turn in the range is.
func TestNearestTurns(t *testing.T) {
	steps, all := bike.Turns{Values: []float64{-0.2, 0, 0.2}}, bike.Turns{Range: plane.Range{Lo: -0.2, Hi: 0.2}}
	for _, c := range []struct {
		turns  bike.Turns
		wanted float64
		want   []float64
	}{
		{steps, 0.1, []float64{0, 0.2}}, {steps, 0.11, []float64{0.2}}, {steps, -9, []float64{-0.2}},
		{all, 0.1, []float64{0.1}}, {all, 0.3, []float64{0.2}}, {all, -0.3, []float64{-0.2}},
	} {
		assert.Equal(t, c.want, c.turns.Nearest(c.wanted))
	}
	assert.Equal(t, plane.Range{Lo: -0.2, Hi: 0.2}, steps.Ends())
	assert.Equal(t, plane.Range{Lo: -0.2, Hi: 0.2}, all.Ends())
}

// Of a stem nothing is said but in an open slot, where one with an angle goes either way up.
func TestWaysOfAStem(t *testing.T) {
	no, yes := false, true
	for _, c := range []struct {
		why     string
		flip    *bool
		open    bool
		angle   float64
		flipped bool
		ways    []bool
	}{
		{"not said", nil, false, -0.1, false, []bool{false}},
		{"said to be upright", &no, false, -0.1, false, []bool{false}},
		{"said to be flipped", &yes, false, -0.1, true, []bool{true}},
		{"open", nil, true, -0.1, false, []bool{false, true}},
		{"open, flipped", &yes, true, -0.1, true, []bool{true}},
		{"open, upright", &no, true, -0.1, false, []bool{false}},
		{"open, square to the steerer", nil, true, 0, false, []bool{false}},
	} {
		s := bike.StemFit{Flip: c.flip}
		s.Open, s.Options = c.open, []bike.Option[cockpit.Stem]{{Part: &cockpit.Stem{Angle: c.angle}}}
		assert.Equal(t, c.flipped, s.Flipped(), c.why)
		assert.Equal(t, c.ways, s.Ways(0), c.why)
	}
}

// Upright steerer, top at (400, 500), the stem square to it but for an angle of 30°: everything can be added up by hand.
func TestWhereAStemHoldsTheBar(t *testing.T) {
	upright, stack, reach, cover, yes := math.Pi/2, 490.0, 400.0, 10.0, true
	ahead := 100 * math.Cos(math.Pi/6)
	for _, c := range []struct {
		why  string
		spec func(b *bike.Bike)
		want plane.Point
		ok   bool
	}{
		{"upright on its spacers", func(*bike.Bike) {}, plane.Point{X: 400 + ahead, Y: 500 + 15 + 20 + 50}, true},
		{"flipped", func(b *bike.Bike) { b.Stem.Flip = &yes }, plane.Point{X: 400 + ahead, Y: 500 + 15 + 20 - 50}, true},
		{"no cover stated", func(b *bike.Bike) { b.Frame.Cover = nil }, plane.Point{X: 400 + ahead, Y: 490 + 15 + 20 + 50}, true},
		{"the top as it was measured", func(b *bike.Bike) { b.Frame.SteererTop = &plane.Point{X: 1, Y: 2} },
			plane.Point{X: 1 + ahead, Y: 2 + 15 + 20 + 50}, true},
		{"no stem", func(b *bike.Bike) { b.Stem = nil }, plane.Point{}, false},
		{"no stem fitted", func(b *bike.Bike) { b.Stem.Options = nil }, plane.Point{}, false},
		{"no head angle", func(b *bike.Bike) { b.Frame.HeadAngle = nil }, plane.Point{}, false},
		{"no reach", func(b *bike.Bike) { b.Frame.Reach = nil }, plane.Point{}, false},
		{"no stack", func(b *bike.Bike) { b.Frame.Stack = nil }, plane.Point{}, false},
	} {
		t.Run(c.why, func(t *testing.T) {
			b := &bike.Bike{Frame: bike.Frame{HeadAngle: &upright, Stack: &stack, Reach: &reach, Cover: &cover}, Stem: open().Stem}
			b.Stem.Spacers = bike.Spacers{Given: true, Fixed: 15}
			*b.Stem.Only() = cockpit.Stem{Length: 100, Angle: math.Pi / 6, Height: 40}
			c.spec(b)
			at, ok := b.OnStem()
			require.Equal(t, c.ok, ok)
			if ok {
				assert.InDelta(t, 0, at.Distance(c.want), 1e-9)
			}
		})
	}
}

func TestHeightsOfSpacers(t *testing.T) {
	for _, c := range []struct {
		spacers bike.Spacers
		want    []float64
	}{
		{bike.Spacers{Given: true, Fixed: 12}, []float64{12}},
		{bike.Spacers{Free: true, Max: 20, Step: 5}, []float64{0, 5, 10, 15, 20}},
		{bike.Spacers{Free: true, Max: 0.3, Step: 0.1}, []float64{0, 0.1, 0.2, 0.3}},
		{bike.Spacers{Free: true, Max: 19, Step: 5}, []float64{0, 5, 10, 15}},
		{bike.Spacers{Free: true}, []float64{0}},
	} {
		assert.InDeltaSlice(t, c.want, c.spacers.Heights(), 1e-12, "%+v", c.spacers)
	}
}

// The width that carries a rider is the sit bones' with the margin; nothing is added to what is not known.
func TestSitWidth(t *testing.T) {
	assert.Equal(t, 145.0, (&bike.Rider{SitBones: 125, Margin: 20}).SitWidth())
	assert.Zero(t, (&bike.Rider{Margin: 20}).SitWidth())
	assert.Zero(t, (*bike.Rider)(nil).SitWidth())
}

func TestPlacesWhereTheRiderSits(t *testing.T) {
	assert.True(t, bike.Place{Kind: bike.AtSaddle, Ref: saddle.Reference{Kind: saddle.Sit}}.Sits())
	assert.False(t, bike.Place{Kind: bike.AtSaddle, Ref: saddle.Reference{Kind: saddle.Nose}}.Sits())
	assert.False(t, bike.Place{Kind: bike.AtBar, Ref: saddle.Reference{Kind: saddle.Sit}}.Sits())
	assert.Equal(t, plane.Turning(0.1), (&bike.Reading{Kind: bike.Angle, Value: 0.1}).Quantity())
	assert.Equal(t, plane.Length(0.1), (&bike.Reading{Kind: bike.Plumb, Value: 0.1}).Quantity())
}

// Every notch of a clip-on can be used, the last as well as the first; a fixed one has its one tilt.
func TestTiltsOfAClipOn(t *testing.T) {
	notched := &cockpit.Clipon{Tilt: [2]float64{0, 15}, TiltStep: 2.5}
	for _, c := range []struct {
		set  bike.Setting
		part *cockpit.Clipon
		want []float64
	}{
		{bike.Setting{}, notched, []float64{0, 2.5, 5, 7.5, 10, 12.5, 15}},
		{bike.Setting{Given: true, Free: true, Lo: 5, Hi: 10}, notched, []float64{5, 7.5, 10}},
		{bike.Setting{Given: true, Free: true, Lo: 5.5, Hi: 7}, notched, nil},
		{bike.Setting{}, &cockpit.Clipon{Tilt: [2]float64{5, 5}}, []float64{5, 5}},
		{bike.Fixed(3), notched, []float64{3, 3}},
	} {
		tilts, ok := c.set.Tilts(c.part)
		assert.Equal(t, c.want != nil, ok)
		if got := tilts.Values; ok && got == nil {
			assert.Equal(t, c.want, []float64{tilts.Lo, tilts.Hi})
		} else {
			assert.Equal(t, c.want, got)
		}
	}
}

func TestScaledAndRisers(t *testing.T) {
	b := bike.Bike{Adjusters: []bike.Adjuster{{Moves: bike.MovesSaddle, NoScale: true}, {Moves: bike.MovesBar}}}
	assert.False(t, b.Scaled(bike.MovesSaddle))
	assert.True(t, b.Scaled(bike.MovesBar))
	assert.False(t, b.Scaled(bike.MovesSaddleTilt))
	part := &cockpit.Clipon{}
	b.Clipon = &bike.CliponFit{Slot: bike.Slot[cockpit.Clipon]{Options: []bike.Option[cockpit.Clipon]{{Part: part}}}}
	assert.Same(t, part, b.Settable(-1, bike.SetsRisers.Key()).Clipon, "its pieces are told with the risers")
	assert.Nil(t, b.Settable(-1, bike.SetsHole.Key()).Clipon)
}

// Where a setting can stand: on every step of an adjuster, the last included, at what a part offers, or anywhere.
func TestPlacesAreEveryStepOrWhatAPartOffers(t *testing.T) {
	assert.Nil(t, (&bike.Settable{Lo: -1, Hi: 4}).Places())
	assert.InDeltaSlice(t, []float64{-1, -0.9, -0.8, -0.7}, (&bike.Settable{Lo: -1, Hi: -0.7, Step: 0.1}).Places(), 1e-12)
	assert.Equal(t, []float64{3}, (&bike.Settable{Lo: 3, Hi: 3, Step: 5}).Places())
	assert.Equal(t, []float64{0, 10, 25}, (&bike.Settable{Hi: 25, Offered: []float64{0, 10, 25}}).Places())
}
