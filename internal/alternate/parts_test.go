package alternate

import (
	"context"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/bike"
	"carryover/internal/biketest"
	"carryover/internal/carry"
	"carryover/internal/cockpit"
)

// with is the studio frame with lines of its file replaced.
func with(t *testing.T, pairs ...string) *bike.Bike {
	t.Helper()
	text := biketest.Text(t, "studio")
	for i := 0; i < len(pairs); i += 2 {
		require.Contains(t, text, pairs[i])
	}
	return biketest.Parsed(t, strings.NewReplacer(pairs...).Replace(text))
}

func solved(t *testing.T, target *bike.Bike, list []Source) *Result {
	t.Helper()
	r, err := Solve(context.Background(), target, list, carry.Options{}, nil)
	require.NoError(t, err)
	require.True(t, r.Proven())
	require.Len(t, r.Rows, len(r.Movable)+1)
	for k := 1; k < len(r.Rows); k++ { // a move more either gains something or is none
		if r.Rows[k-1].E-r.Rows[k].E <= Tolerance {
			require.Equal(t, r.Rows[k-1].Moved, r.Rows[k].Moved)
		} else {
			require.LessOrEqual(t, len(r.Rows[k].Moved), k)
		}
	}
	return r
}

const clipon = `part = "clip-stepless"`

// However pads are held, with everything moved each posture is as a carry by itself has it, with the same things built.
func TestPadsOfEveryKindAreCarriedAsAlone(t *testing.T) {
	part := `part = { base = 40.0, stacks = [0.0, 10.0, 25.0], holes = [-20.0, 0.0, 20.0], tilt = [-10.0, 20.0], spacing = [180.0, 200.0], ` +
		`gap = 72.0, pad = { length = 100.0, width = 85.0 }, grip = { forward = [250.0, 340.0], rise = 30.0 }`
	for name, lines := range map[string]string{
		"open": clipon, "one hole": clipon + "\nhole = 20.0", "one stack": clipon + "\nstack = 20.0",
		"fixed": clipon + "\nhole = -10.0\nstack = 30.0\ntilt = 4.0", "stepped tilt": part + ", tilt_step = 5.0 }",
		"tilt from the bar": part + `, tilt_from = "bar" }`, "stepped from the bar": part + `, tilt_from = "bar", tilt_step = 5.0 }`,
		"fixed on the bar": part + `, tilt_from = "bar" }` + "\ntilt = 4.0",
	} {
		t.Run(name, func(t *testing.T) {
			target := with(t, clipon, lines)
			list := append(source(t, "road", "road"), source(t, "tri", "aero")...)
			r := solved(t, target, list)
			last := r.Rows[len(r.Rows)-1]
			assert.InDelta(t, separately(r), last.E, 2*Tolerance)
			_, sets := last.Otherwise(1, r.Alone[1].Solution)
			for _, set := range sets { // as near to where a carry has it
				assert.LessOrEqual(t, math.Abs(last.E-r.Alone[1].Rows[len(r.Rows)-1].E), 2*Tolerance, set.Name)
			}
		})
	}
}

func TestPadsThatNothingHoldsGiveNoPlace(t *testing.T) {
	list := append(source(t, "road", "road"), source(t, "tri", "aero")...)
	for _, hole := range []bool{true, false} {
		target := biketest.Example(t, "studio")
		nowhere := bike.Setting{Given: true, Free: true, Lo: 500, Hi: 600}
		if hole {
			target.Clipon.Hole = nowhere
		} else {
			target.Clipon.Stack = nowhere
		}
		all, err := builds(target, []posture{{list[0], carry.Wanted{Hands: list[0].Position.Hands}},
			{list[1], carry.Wanted{Hands: list[1].Position.Hands}}}, false)
		assert.ErrorContains(t, err, "nothing fitted gives a place for every posture")
		assert.Empty(t, all)
	}
}

// clipons is the studio frame with a slot for a clip-on that is open between copies of its own.
func clipons(t *testing.T, changes ...func(c *cockpit.Clipon)) *bike.Bike {
	target := biketest.Example(t, "studio")
	fit, own := *target.Clipon, target.Clipon.Options[0]
	fit.Open, fit.Options = true, nil
	for i, change := range changes {
		o, part := own, *own.Part
		change(&part)
		o.ID, o.Part = string(rune('a'+i)), &part
		fit.Options = append(fit.Options, o)
	}
	target.Clipon = &fit
	return target
}

// Of clip-ons that bring the pads to the same place the one that suits the grips is built; of two where one does not fit the bar's
// clamp the one that does; and where nobody rests on pads none is chosen at all.
func TestOfClipOnsThatTieTheGripsDecide(t *testing.T) {
	rise := func(by float64) func(*cockpit.Clipon) { return func(c *cockpit.Clipon) { c.GripRise += by } }
	list := append(source(t, "road", "road"), source(t, "tri", "aero")...)
	chosen := func(target *bike.Bike, list []Source) []carry.Part {
		r := solved(t, target, list)
		return r.Rows[len(r.Rows)-1].Parts
	}
	for _, rises := range [][]float64{{0, 60, -60}, {60, 0, -60}, {-60, 60, 0}} {
		target := clipons(t, rise(rises[0]), rise(rises[1]), rise(rises[2]))
		alone, err := carry.Solve(context.Background(), oneCrank(target, 170), &bike.Bike{Feet: list[1].Feet}, list[1].Position, carry.Options{})
		require.NoError(t, err)
		assert.Equal(t, alone.Parts, chosen(target, list))
	}
	narrow := func(c *cockpit.Clipon) { c.Gap, c.Spread = 10, 0 }
	assert.Equal(t, "b", chosen(clipons(t, narrow, rise(60)), list)[0].ID)
	assert.Empty(t, chosen(clipons(t, narrow, rise(60)), append(source(t, "road", "road"), source(t, "tri", "horns")...)))
}

// Of bars that bring the hoods to the same place the one that suits the drops is fitted.
func TestOfBarsThatTieTheDropsDecide(t *testing.T) {
	target := biketest.Example(t, "studio")
	own := target.Bar.Options[0]
	list := append(source(t, "road", "road"), source(t, "road", "road")...)
	require.NotNil(t, list[0].Position.Second)
	for _, deeper := range [][]float64{{0, 40, -40}, {40, 0, -40}, {-40, 40, 0}, {40, -40, 80}} {
		target.Bar.Open, target.Bar.Options = true, nil
		for i, by := range deeper {
			o, part := own, *own.Part
			part.Drop += by
			o.ID, o.Part = string(rune('a'+i)), &part
			target.Bar.Options = append(target.Bar.Options, o)
		}
		r := solved(t, target, list)
		assert.Equal(t, r.Alone[0].Parts, r.Rows[0].Parts, "%v", deeper)
	}
}

// An open bar is chosen for hands in the drops too, and the better one.
func TestAnOpenBarIsChosenForTheDrops(t *testing.T) {
	target := biketest.Example(t, "studio")
	own := target.Bar.Options[0]
	far, part := own, *own.Part
	part.Reach, part.Drop = part.Reach+300, part.Drop+300
	far.ID, far.Part = "far", &part
	list := append(source(t, "road", "road"), source(t, "road", "road")...)
	for i := range list {
		pos := *list[i].Position
		pos.Posture.Hands, pos.Hands.Name = bike.Drop, bike.Drop
		list[i].Position = &pos
	}
	for _, o := range [][]bike.Option[cockpit.Bar]{{own, far}, {far, own}} {
		target.Bar.Open, target.Bar.Options = true, o
		parts := solved(t, target, list).Rows[0].Parts
		require.Len(t, parts, 1)
		assert.Equal(t, own.ID, parts[0].ID)
	}
}

// The first posture's crank stays in; who would rather have another is told of.
func TestWhoWouldHaveAnotherCrankIsNamed(t *testing.T) {
	list := append(source(t, "road", "road"), source(t, "road", "road")...)
	for i, crank := range []float64{170, 175} {
		list[i].Feet.Crank, list[i].Label = crank, []string{"first", "second"}[i]
	}
	r := solved(t, biketest.Example(t, "studio"), list)
	assert.Equal(t, 170.0, r.Crank)
	require.Len(t, r.Cranks, 1)
	assert.Contains(t, r.Cranks[0], "second: its own cranks would be 175 mm")
}

// What has no scale is set by the reading that it moves most: a post by the height, a slide by the way along.
func TestTheTapeGoesAlongWhatItSets(t *testing.T) {
	target := biketest.Example(t, "studio")
	for i := range target.Adjusters {
		target.Adjusters[i].NoScale = true
	}
	r := solved(t, target, append(source(t, "road", "road"), source(t, "tri", "horns")...))
	want := map[string]bike.Kind{"saddle post": bike.Line, "saddle slide": bike.Level, "bar post": bike.Plumb, "bar slide": bike.Line}
	for _, v := range r.Rows[0].Outcomes[0].Values {
		kind, ok := want[v.Name]
		if !ok {
			assert.Nil(t, v.Tape, v.Name)
			continue
		}
		require.NotNil(t, v.Tape, v.Name)
		assert.Equal(t, kind, v.Tape.Reading.Kind, v.Name)
		got, _, err := r.Rows[0].Outcomes[0].Placement.ReadingOf(v.Tape.Reading)
		require.NoError(t, err)
		assert.Equal(t, got, v.Tape.Value.Value())
		delete(want, v.Name)
	}
	assert.Empty(t, want)
}

// A row is proven when both its halves are.
func TestARowIsProvenWhenBothHalvesAre(t *testing.T) {
	var tb table
	target := oneCrank(biketest.Example(t, "studio"), 170)
	for _, s := range append(source(t, "road", "road"), source(t, "tri", "horns")...) {
		want, err := carry.Want(s.Position, s.Feet, target, carry.Options{})
		require.NoError(t, err)
		tb.postures = append(tb.postures, posture{s, want})
	}
	require.NoError(t, tb.open(target))
	rows, err := tb.solve(context.Background(), func() {})
	require.NoError(t, err)
	assert.True(t, rows[0].Proven)
	for _, half := range []*answer{&tb.saddles[0], &tb.hands[0][0]} {
		half.proven = false
		row, err := tb.row(context.Background(), 0)
		require.NoError(t, err)
		assert.False(t, row.Proven)
		half.proven = true
	}
}

// bounded against every way to be free or at a stop; columns that nearly run together included, along which one variable at a time
// would take thousands of sweeps.
func TestBoundedIsTheLeastAlongColumnsNearlyAlike(t *testing.T) {
	r := rand.New(rand.NewPCG(seed, 21))
	for trial := range runs(3000) {
		rows, n := 4+r.IntN(3), 2+r.IntN(3)
		col, box, x := make([][]float64, n), make([]stretch, n), make([]float64, n)
		lo, hi, want := make([]float64, n), make([]float64, n), make([]float64, rows)
		for k := range want {
			want[k] = r.NormFloat64() * 20
		}
		apart := math.Exp(-8 * r.Float64())
		for i := range col {
			col[i] = make([]float64, rows)
			for k := range col[i] {
				col[i][k] = r.NormFloat64()
				if i > 0 && trial%3 > 0 {
					col[i][k] = col[0][k] + apart*col[i][k]
				}
			}
			lo[i], hi[i] = -r.Float64()*40, r.Float64()*40
			box[i] = stretch{lo: lo[i], hi: hi[i]}
		}
		res := append([]float64(nil), want...)
		bounded(col, res, x, box)
		square := 0.0
		for _, v := range res {
			square += v * v
		}
		require.InDelta(t, math.Sqrt(exact(col, want, lo, hi)), math.Sqrt(square), Tolerance/10, "trial %d", trial)
	}
}

// A lever free along its bar is tried every millimetre from one end, as far as the other, on each choice of the rest.
func TestALeverIsTriedEveryMillimetre(t *testing.T) {
	target := biketest.Example(t, "studio")
	list := append(source(t, "road", "road"), source(t, "tri", "horns")...)
	target.Bar.LeverAt = bike.Setting{Given: true, Free: true, Lo: 2.5, Hi: 14}
	var postures []posture
	for _, s := range list {
		postures = append(postures, posture{s, carry.Wanted{Hands: s.Position.Hands}})
	}
	all, err := builds(target, postures, false)
	require.NoError(t, err)
	var places []float64
	for _, b := range all {
		places = append(places, b.bike.Bar.LeverAt.Lo)
	}
	assert.Equal(t, []float64{2.5, 3.5, 4.5, 5.5, 6.5, 7.5, 8.5, 9.5, 10.5, 11.5, 12.5, 13.5}, places)
	last := solved(t, target, list)
	assert.LessOrEqual(t, last.Rows[len(last.Rows)-1].E, separately(last)+1)
}
