package bike_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/bike"
	"carryover/internal/cockpit"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// What is held stands there and nowhere else, on a copy: an adjuster between two equal stops, what has none as stated in the file.
func TestWhatIsHeldStandsThere(t *testing.T) {
	whole := open()
	whole.Adjusters = append(whole.Adjusters, bike.Adjuster{Name: "dial", Moves: bike.MovesBarRotation, Unit: 0.5, FromHere: true})
	whole.Bar.Rotation = bike.Fixed(0.1)
	for _, hands := range []bike.Contact{bike.Hood, bike.Pad} {
		all := whole.Settables(whole.Chosen(), hands)
		for i, s := range all {
			if s.Sets == bike.SetsGap {
				continue // follows from the bar
			}
			at := s.Lo + (s.Hi-s.Lo)/4
			b := whole.Held(all[i:i+1], []float64{at})
			left := b.Settables(b.Chosen(), hands)
			if s.Adjuster < 0 {
				assert.Len(t, left, len(all)-1, s.Called)
				for _, k := range left {
					assert.NotEqual(t, s.Sets, k.Sets, s.Called)
				}
				continue
			}
			k := left[i]
			require.NotNil(t, k.Stands, s.Called)
			turned := at + s.Zero // one that counted from where the bar stands counts from level now
			assert.InDeltaSlice(t, []float64{turned, turned, turned, turned, 0}, []float64{k.Lo, k.Hi, *k.Stands, k.Home, k.Zero}, 1e-12, s.Called)
			assert.True(t, k.Fixed() && k.Stops, s.Called)
		}
		assert.Equal(t, all, whole.Settables(whole.Chosen(), hands), "the bike itself stays as it was")
	}
}

// An adjuster whose stops nobody knows goes 400 mm or 30° either way from where it stands, by whole steps.
func TestAnAdjusterWithoutStops(t *testing.T) {
	for _, c := range []struct {
		a        bike.Adjuster
		lo, hi   float64
		steps    int
		stands   bool
		settable row
	}{
		{bike.Adjuster{Unit: 1, NoRange: true}, -400, 400, 0, true, row{"x", -400, 400, 0, 7}},
		{bike.Adjuster{Unit: -10, Step: 1.5, NoRange: true, Moves: bike.MovesBar}, -390, 390, 53, true, row{"x", -390, 390, 15, -70}},
		{bike.Adjuster{Unit: 1, FromHere: true}, -400, 400, 0, true, row{"x", -400, 400, 0, 0}},
		{bike.Adjuster{Unit: 1, FromHere: true, Moves: bike.MovesSaddleTilt}, -plane.Rad(30), plane.Rad(30), 0, true,
			row{"x", -0.523598776, 0.523598776, 0, 0}},
		{bike.Adjuster{Unit: 2, Lo: 1, Hi: 4, Moves: bike.MovesBarRotation}, 2, 8, 0, true, row{"x", 2, 8, 0, 14}},
	} {
		c.a.Name = "x"
		lo, hi := c.a.Stops()
		assert.InDeltaSlice(t, []float64{c.lo, c.hi}, []float64{lo, hi}, 1e-12, "%+v", c.a)
		assert.Equal(t, c.steps > 0, c.a.Indexed(), "%+v", c.a)
		if c.steps > 0 {
			assert.Equal(t, c.steps, c.a.Steps(), "%+v", c.a)
		}
		b := &bike.Bike{Adjusters: []bike.Adjuster{c.a}, Marks: map[string]float64{"x": 7}}
		s := b.Settable(0, "")
		assert.Equal(t, []row{c.settable}, rows([]bike.Settable{s}), "%+v", c.a)
		assert.Equal(t, c.stands, s.Stands != nil)
		assert.Equal(t, c.a.Moves >= bike.MovesSaddleTilt, s.Turns())
		delete(b.Marks, "x")
		assert.Equal(t, c.a.FromHere, b.Settable(0, "").Stands != nil, "without a mark only one that counts from here stands somewhere")
	}
}

// What a setting leaves of what a part offers, mm.
func TestWhatASettingLeaves(t *testing.T) {
	free := func(lo, hi float64) bike.Setting { return bike.Setting{Given: true, Free: true, Lo: lo, Hi: hi} }
	between := func(lo, hi float64) plane.Range { return plane.Range{Lo: lo, Hi: hi} }
	rail, all := saddle.Rail{From: 100, To: 160}, []float64{100, 130, 160}
	for _, c := range []struct {
		why     string
		set     bike.Setting
		rails   plane.Range
		ok      bool
		within  plane.Range
		offered []float64
	}{
		{"nothing said: the middle of the rails, all of a part", bike.Setting{}, between(130, 130), true, between(100, 160), all},
		{"stated, on the ends", bike.Fixed(100), between(100, 100), true, between(100, 100), []float64{100}},
		{"stated, on the other", bike.Fixed(160), between(160, 160), true, between(160, 160), []float64{160}},
		{"stated outside", bike.Fixed(170), between(170, 170), false, between(170, 170), []float64{170}},
		{"stated before", bike.Fixed(90), between(90, 90), false, between(90, 90), []float64{90}},
		{"a stretch, its ends on what there is", free(100, 130), between(100, 130), true, between(100, 130), []float64{100, 130}},
		{"a stretch that sticks out", free(120, 200), between(120, 160), true, between(120, 160), []float64{130, 160}},
		{"a stretch of one place", free(160, 160), between(160, 160), true, between(160, 160), []float64{160}},
		{"a stretch beyond", free(170, 200), between(170, 160), false, between(160, 160), nil},
	} {
		rails, ok := c.set.OnRails(rail)
		assert.Equal(t, c.ok, ok, c.why)
		assert.Equal(t, c.rails, rails, c.why)
		assert.Equal(t, c.within, c.set.Within(100, 160), c.why)
		assert.Equal(t, c.offered, c.set.Offered(all), c.why)
	}
	assert.Equal(t, 130.0, free(120, 140).Mid())
}

// Clamps of 40 mm at their closest that go 15 mm further out each, over what the bar is clamped in.
func TestClampsThatStraddle(t *testing.T) {
	part := &cockpit.Clipon{Gap: 40, Spread: 15}
	for _, c := range []struct{ width, widening, short float64 }{{30, 0, -40}, {40, 0, -30}, {60, 20, -10}, {70, 30, 0}, {75, 30, 5}} {
		b := &bike.Bike{Bar: bike.BarFit{ClampWidth: &c.width}}
		assert.Equal(t, c.widening, b.Widening(part), "%g", c.width)
		assert.Equal(t, c.short, b.Short(part), "%g", c.width)
	}
	assert.Zero(t, (&bike.Bike{}).Widening(part))
	assert.Zero(t, (&bike.Bike{}).Short(part))
}

func TestOpenSlots(t *testing.T) {
	assert.False(t, (&bike.Bike{Stem: &bike.StemFit{}, Clipon: &bike.CliponFit{}}).Opens())
	for _, set := range []func(b *bike.Bike) *bool{
		func(b *bike.Bike) *bool { return &b.Saddle.Open }, func(b *bike.Bike) *bool { return &b.Bar.Open },
		func(b *bike.Bike) *bool { return &b.Bar.Lever.Open }, func(b *bike.Bike) *bool { return &b.Stem.Open },
		func(b *bike.Bike) *bool { return &b.Clipon.Open },
	} {
		b := &bike.Bike{Stem: &bike.StemFit{}, Clipon: &bike.CliponFit{}}
		*set(b) = true
		assert.True(t, b.Opens())
	}
}

// What a saddle or a bar may be turned to: the setting of the file, or the dial, counted from where it stands where that is unknown.
func TestWhatMayBeTurnedTo(t *testing.T) {
	free := func(lo, hi float64) bike.Setting { return bike.Setting{Given: true, Free: true, Lo: lo, Hi: hi} }
	steps := bike.Adjuster{Unit: 0.1, Lo: -1, Hi: 2, Step: 1}
	for _, c := range []struct {
		why  string
		dial *bike.Adjuster
		want func(tilt float64) bike.Turns
	}{
		{"as the file says", nil, func(tilt float64) bike.Turns { return bike.Turns{Range: plane.Range{Lo: tilt - 0.2, Hi: tilt + 0.2}} }},
		{"by a dial", &bike.Adjuster{Unit: -0.1, Lo: -1, Hi: 3}, func(float64) bike.Turns {
			return bike.Turns{Range: plane.Range{Lo: -0.3, Hi: 0.1}}
		}},
		{"by steps", &steps, func(float64) bike.Turns {
			return bike.Turns{Range: plane.Range{Lo: -0.1, Hi: 0.2}, Values: []float64{-0.1, 0, 0.1, 0.2}}
		}},
		{"from where it stands", &bike.Adjuster{Unit: 1, FromHere: true}, func(tilt float64) bike.Turns {
			return bike.Turns{Range: plane.Range{Lo: tilt - plane.Rad(30), Hi: tilt + plane.Rad(30)}}
		}},
	} {
		for m, tilt := range map[bike.Moves]float64{bike.MovesSaddleTilt: 0.05, bike.MovesBarRotation: 0.3} {
			b := &bike.Bike{Saddle: bike.SaddleFit{Tilt: free(-0.15, 0.25)}, Bar: bike.BarFit{Rotation: free(0.1, 0.5)}}
			if c.dial != nil {
				dial := *c.dial
				dial.Moves = m
				b.Adjusters = []bike.Adjuster{{Moves: bike.MovesSaddle}, dial}
			}
			got, by := b.TurnsOf(m)
			want := c.want(tilt)
			assert.InDeltaSlice(t, []float64{want.Lo, want.Hi}, []float64{got.Lo, got.Hi}, 1e-12, "%s: %s", c.why, m)
			assert.InDeltaSlice(t, want.Values, got.Values, 1e-12, c.why)
			assert.Equal(t, map[bool]int{true: 1, false: -1}[c.dial != nil], by, c.why)
		}
	}
}

// A pick leaves one of a slot; no pick, or one that the slot does not have, leaves it as it is.
func TestNarrowed(t *testing.T) {
	b := open()
	for i := range 2 {
		b.Stem.Options = append(b.Stem.Options, bike.Option[cockpit.Stem]{ID: []string{"long", "longer"}[i]})
		b.Bar.Options = append(b.Bar.Options, bike.Option[cockpit.Bar]{ID: []string{"wide", "wider"}[i]})
	}
	p := bike.Picks{}
	p[bike.StemSlot], p[bike.BarSlot] = 2, bike.Every
	n := b.Narrowed(p)
	require.Len(t, n.Stem.Options, 1)
	assert.Equal(t, "longer", n.Stem.Options[0].ID)
	assert.Len(t, n.Bar.Options, 3)
	assert.Len(t, b.Stem.Options, 3, "the bike itself stays as it was")
	p[bike.StemSlot] = 7
	assert.Len(t, b.Narrowed(p).Stem.Options, 3)
	assert.Nil(t, (&bike.Bike{}).Narrowed(bike.Picks{}).Stem)
	assert.Nil(t, (&bike.Bike{}).Narrowed(bike.Picks{}).Clipon)
}

func TestUsualSigmas(t *testing.T) {
	floor, bb := bike.Place{Kind: bike.AtFloor}, bike.Place{Kind: bike.AtBB}
	for _, c := range []struct {
		r    bike.Reading
		want float64
	}{
		{bike.Reading{Kind: bike.Angle}, plane.Rad(0.5)}, {bike.Reading{Kind: bike.SeatTube, From: bb, To: bb}, 3},
		{bike.Reading{Kind: bike.Plumb, From: floor, To: bb}, 3}, {bike.Reading{Kind: bike.Plumb, From: bb, To: floor}, 3},
		{bike.Reading{Kind: bike.Line, From: bb, To: bb}, 2},
	} {
		assert.Equal(t, c.want, c.r.UsualSigma(), "%+v", c.r)
	}
}

// Which slots a rider feels: on the hoods bar and lever, in the drops the bar, on pads the clip-on; saddle and stem always.
func TestWhatTheHandsHangOn(t *testing.T) {
	for hands, slots := range map[bike.Contact][]int{
		bike.Hood: {bike.SaddleSlot, bike.BarSlot, bike.LeverSlot, bike.StemSlot},
		bike.Drop: {bike.SaddleSlot, bike.BarSlot, bike.StemSlot},
		bike.Pad:  {bike.SaddleSlot, bike.StemSlot, bike.CliponSlot},
	} {
		for slot := range bike.Slots {
			assert.Equal(t, slices.Contains(slots, slot), hands.Uses(slot), "%s, slot %d", hands, slot)
		}
	}
	assert.Equal(t, bike.Picks{bike.Every, 3, bike.Every, bike.Every, bike.Every}, bike.Pick(bike.BarSlot, 3))
}
