package carry

import (
	"math"
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

// padFrame is an adjustable frame with one clip-on, and a position on pads that it reaches.
func padFrame(t *testing.T, part cockpit.Clipon, clampWidth float64) (*bike.Bike, *locate.Position) {
	t.Helper()
	b := catalogue(shop{saddles: 1, stems: 1, spacers: 1, bars: 1, levers: 1}, 3)
	b.Bar.ClampWidth = &clampWidth
	anchor := plane.Point{X: 395, Y: 470}
	b.Stem, b.BarAnchor = nil, &anchor
	b.Adjusters = append(b.Adjusters,
		bike.Adjuster{Name: "post", Moves: bike.MovesBar, Angle: plane.Rad(102), Unit: 10, Hi: 30},
		bike.Adjuster{Name: "slide", Moves: bike.MovesBar, Unit: 1, Hi: 100})
	b.Clipon = &bike.CliponFit{Slot: bike.Slot[cockpit.Clipon]{Options: []bike.Option[cockpit.Clipon]{{ID: "fitted", Part: &part}}}}
	p := &locate.Position{Posture: bike.Posture{Name: "aero", Hands: bike.Pad, Support: 85, Weights: bike.DefaultWeights()},
		Sit:   assembly.Contact{Name: bike.Sit, At: plane.Point{X: -180, Y: 720}},
		Hands: assembly.Contact{Name: bike.Pad, At: plane.Point{X: 430, Y: 660}, Angle: plane.Rad(10)}}
	return b, p
}

func clipon(spacings ...float64) cockpit.Clipon {
	return cockpit.Clipon{Base: 40, Stacks: []float64{0, 10, 20}, Holes: []float64{-20, 0, 20}, Tilt: [2]float64{0, plane.Rad(15)},
		TiltStep: plane.Rad(5), Spacings: spacings, Gap: 70, PadLength: 100, PadWidth: 85, GripForward: [2]float64{250, 340}, GripRise: 30}
}

func TestPadSpacingIsTheNearestOnOfferUnlessFixed(t *testing.T) {
	cases := []struct {
		name    string
		offers  []float64
		source  bike.Setting
		fixed   bike.Setting
		want    float64
		outward float64
	}{
		{"the same", []float64{180, 200, 220}, bike.Fixed(200), bike.Setting{}, 200, 0},
		{"the nearest", []float64{180, 196, 220}, bike.Fixed(204), bike.Setting{}, 196, -4},
		{"the narrower of two equally near", []float64{190, 210}, bike.Fixed(200), bike.Setting{}, 190, -5},
		{"wider than anything on offer", []float64{180, 200}, bike.Fixed(260), bike.Setting{}, 200, -30},
		{"fixed by the target", []float64{180, 200, 220}, bike.Fixed(200), bike.Fixed(220), 220, 10},
		{"within what the target allows", []float64{180, 200, 220}, bike.Fixed(180), bike.Setting{Given: true, Free: true, Lo: 190, Hi: 300},
			200, 10},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			b, p := padFrame(t, clipon(c.offers...), 60)
			b.Clipon.Spacing = c.fixed
			s, err := Solve(t.Context(), b, b, p, Options{})
			require.NoError(t, err)
			source := &bike.Bike{Clipon: &bike.CliponFit{Slot: b.Clipon.Slot, Spacing: c.source}}
			got := s.Spacing(source)
			require.NotNil(t, got)
			assert.Equal(t, c.want, got.Target)
			each, ok := got.Outward()
			require.True(t, ok)
			assert.Equal(t, c.outward, each)
		})
	}
	t.Run("a source that does not say", func(t *testing.T) {
		b, p := padFrame(t, clipon(180, 200), 60)
		s, err := Solve(t.Context(), b, b, p, Options{})
		require.NoError(t, err)
		got := s.Spacing(&bike.Bike{})
		assert.Equal(t, 180.0, got.Target)
		_, ok := got.Outward()
		assert.False(t, ok)
	})
}

// A clip-on whose clamps leave 70 mm around 84: each goes 7 mm further out, and the pads with them; of the others in the
// shop the nearest that leaves enough.
func TestAClipOnThatDoesNotFitIsSlidOutFirst(t *testing.T) {
	b, p := padFrame(t, clipon(180, 200, 220), 84)
	s, err := Solve(t.Context(), b, b, p, Options{})
	require.NoError(t, err)
	low, high, narrow, far := clipon(200), clipon(200), clipon(200), clipon(200)
	low.Gap, low.Base = 84, 41 // just enough, and nearly as high as what is fitted
	high.Gap, high.Holes, high.Stacks, high.Base = 100, []float64{0}, []float64{0}, 90
	narrow.Gap = 83.9
	far.Gap, far.Tilt = 90, [2]float64{plane.Rad(30), plane.Rad(40)}
	ails := curesOf(t, s, Shop{Clipons: []bike.Option[cockpit.Clipon]{{ID: "far", Part: &far}, {ID: "low", Part: &low},
		{ID: "high", Part: &high}, {ID: "narrow", Part: &narrow}}})
	require.Len(t, ails, 1)
	require.True(t, ails[0].Gap)
	require.Len(t, ails[0].Cures, 2)
	slid, other := ails[0].Cures[0], ails[0].Cures[1]
	assert.Equal(t, CureGap, slid.Kind)
	assert.Equal(t, 7.0, slid.By)
	assert.True(t, slid.Solution.Carried())
	assert.Equal(t, s.Spacing(b).Target+14, slid.Solution.Spacing(b).Target)
	assert.Equal(t, CureClipon, other.Kind)
	assert.Contains(t, []string{"low", "high"}, other.Part.ID)
	for _, width := range []float64{70, 60} {
		*b.Bar.ClampWidth = width
		s, err := Solve(t.Context(), b, b, p, Options{})
		require.NoError(t, err)
		assert.Empty(t, curesOf(t, s, Shop{}), "there is room for %g mm", width)
	}
}

// aeroStance stands a bike with pads of tilt and hole, the bar clamp at clamp.
func aeroStance(clamp plane.Point, tilt, hole, stack, extension float64) *assembly.Placement {
	part := clipon(200)
	l := &assembly.Layout{Bike: &bike.Bike{}, Clipon: &part, Hole: hole, Stack: stack, Extension: extension, PadLength: part.PadLength}
	l.Hang()
	s := &assembly.Placement{Layout: l}
	s.Poses[assembly.Bar].Origin, s.Poses[assembly.Pads] = clamp, plane.Pose{Origin: clamp, Turn: plane.Rad(tilt)}
	return s
}

// TestMeasuresOfCompetitionRules takes the measures that rules are written in, at the numbers they are
// written with. The numbers are from secondary texts of UCI article 1.3.023 (extensions 750, 800 and 850 mm
// ahead of the bottom bracket; 100, 120 and 140 mm from the middle of the forearm support to the highest
// point of the extension, from 2023) and are cases of measuring here, not rules that are enforced.
func TestMeasuresOfCompetitionRules(t *testing.T) {
	bb, pad, grip := bike.Place{Kind: bike.AtBB}, bike.Place{Kind: bike.AtPad}, bike.Place{Kind: bike.AtGrip}
	ahead := bike.Reading{Kind: bike.Level, From: bb, To: grip}
	rise := bike.Reading{Kind: bike.Plumb, From: pad, To: grip}
	measure := func(s *assembly.Placement, r bike.Reading) float64 {
		v, _, err := s.ReadingOf(r)
		require.NoError(t, err)
		return v
	}
	for _, limit := range []float64{750, 800, 850} {
		for _, tilt := range []float64{0, 10, 15, 30} {
			// The clamp that puts the tip at the limit, from the closed form
			// x = clamp + (hole + extension)·cos t - (base + stack + rise)·sin t.
			sin, cos := math.Sincos(plane.Rad(tilt))
			clamp := plane.Point{X: limit - ((20+300)*cos - (40+10+30)*sin), Y: 600}
			s := aeroStance(clamp, tilt, 20, 10, 300)
			assert.InDelta(t, limit, measure(s, ahead), 1e-9, "%g at %g°", limit, tilt)
			// Tilt raises the tip above the middle of the support by extension·sin t + rise·cos t.
			assert.InDelta(t, 300*sin+30*cos, measure(s, rise), 1e-9)
		}
	}
	// The tilt at which the tip stands exactly 100, 120 and 140 mm above the support, 300 mm out and 30 mm up:
	// asin(height/|v|) - atan(30/300).
	for _, height := range []float64{100, 120, 140} {
		tilt := plane.Deg(math.Asin(height/math.Hypot(300, 30)) - math.Atan2(30, 300))
		assert.InDelta(t, height, measure(aeroStance(plane.Point{}, tilt, 0, 0, 300), rise), 1e-9)
	}
	// Saddle measures of article 1.3.013 and 1.3.014: a nose 50 mm behind the bottom bracket, and a front point
	// 32 mm below a rear one, 200 mm apart along the saddle: 9.207 degrees.
	shape, err := saddle.New(240, [][2]float64{{0, 40}, {240, 140}}, [][2]float64{{0, 0}, {240, 0}}, 0, saddle.Rail{Height: 50, From: 90,
		To: 150})
	require.NoError(t, err)
	st := &assembly.Placement{Layout: &assembly.Layout{Bike: &bike.Bike{}, Shape: shape}}
	st.Poses[assembly.Saddle] = plane.Pose{Origin: plane.Point{X: -50, Y: 700}, Turn: -math.Asin(32.0 / 200)}
	at := func(s float64) plane.Point { return st.Poses[assembly.Saddle].At(shape.Point(s)) }
	assert.InDelta(t, 50, measure(st, bike.Reading{Kind: bike.Level,
		From: (&bike.Bike{Saddle: bike.SaddleFit{Slot: one(shape)}}).Seat(saddle.Nose), To: bb}), 1e-9)
	assert.InDelta(t, 32, at(220).Y-at(20).Y, 1e-9)
	assert.InDelta(t, -9.207, plane.Deg(measure(st, bike.Reading{Kind: bike.Angle, Of: bike.SaddleBody})), 5e-4)
}
