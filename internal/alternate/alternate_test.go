package alternate

import (
	"context"
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/biketest"
	"carryover/internal/carry"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// runs is how many of n random cases are tried: an eighth of them with -short, as under the race detector.
func runs(n int) int {
	if testing.Short() {
		return n / 8
	}
	return n
}

func source(t *testing.T, name string, postures ...string) []Source {
	t.Helper()
	b := biketest.Example(t, name)
	adjusted, err := locate.Adjust(b, nil, locate.Options{})
	require.NoError(t, err)
	var list []Source
	for _, n := range postures {
		p, ok := b.Posture(n)
		require.True(t, ok)
		pos, err := adjusted.Position(p)
		require.NoError(t, err)
		list = append(list, Source{Label: name + ":" + n, Feet: b.Feet, Position: &pos})
	}
	return list
}

// oneCrank keeps the target's crank the same for every source, as alternating does.
func oneCrank(b *bike.Bike, crank float64) *bike.Bike {
	n := *b
	n.Feet.Crank, n.Feet.Cranks = crank, nil
	return &n
}

// separately is the root of the sum of E² with every posture carried on its own.
func separately(t *testing.T, target *bike.Bike, list []Source) float64 {
	t.Helper()
	sum := 0.0
	for _, s := range list {
		k, err := carry.Solve(context.Background(), target, &bike.Bike{Feet: s.Feet}, s.Position, carry.Options{})
		require.NoError(t, err)
		sum += k.E * k.E
	}
	return math.Sqrt(sum)
}

func TestEverythingMovedIsEveryPostureCarriedOnItsOwn(t *testing.T) {
	for _, postures := range [][]string{{"horns"}, {"aero"}, {"horns", "aero"}} {
		target := biketest.Example(t, "studio")
		list := append(source(t, "road", "road"), source(t, "tri", postures...)...)
		r, err := Solve(context.Background(), target, list, carry.Options{}, nil)
		require.NoError(t, err)
		require.True(t, r.Proven())
		last := r.Rows[len(r.Rows)-1]
		assert.InDelta(t, separately(t, oneCrank(target, r.Crank), list), last.E, 2*Tolerance, "%v", postures)
	}
}

// TestTheSamePostureTwiceOnAnOutdoorBike shares everything: stem, way up, spacers and a lever that is free
// along its bar, on the flat and around the bend.
func TestTheSamePostureTwiceOnAnOutdoorBike(t *testing.T) {
	for _, lever := range []bike.Setting{bike.Fixed(2), {Given: true, Free: true, Lo: -20, Hi: 40}, {Given: true, Free: true, Lo: 5, Hi: 30}} {
		target := biketest.Example(t, "outdoor")
		target.Stem.Options = target.Stem.Options[:max(3, runs(8))]
		target.Bar.LeverAt = lever
		list := append(source(t, "road", "road"), source(t, "road", "road")...)
		r, err := Solve(context.Background(), target, list, carry.Options{}, nil)
		require.NoError(t, err)
		require.True(t, r.Proven())
		require.Len(t, r.Rows[0].Parts, 1)
		for _, v := range r.Rows[0].Outcomes[0].Values {
			if v.Name == "bar.lever_at" {
				assert.False(t, v.Turns())
				assert.GreaterOrEqual(t, v.Mark(), lever.Lo-1e-9)
				assert.LessOrEqual(t, v.Mark(), lever.Hi+1e-9)
			}
		}
	}
}

// TestAnOpenSlotTakesTheBestPartForAllPostures solves the target with each stem alone, either way up: the
// open slot must come out as the best of them in every row.
func TestAnOpenSlotTakesTheBestPartForAllPostures(t *testing.T) {
	list := append(source(t, "road", "road"), source(t, "tri", "horns")...)
	whole := biketest.Example(t, "outdoor")
	whole.Stem.Options = whole.Stem.Options[:max(2, runs(6))]
	r, err := Solve(context.Background(), whole, list, carry.Options{}, nil)
	require.NoError(t, err)
	best := make([]float64, len(r.Rows))
	for i := range best {
		best[i] = math.Inf(1)
	}
	for i := range whole.Stem.Options {
		for _, flip := range []bool{false, true} {
			one := *whole
			stem := *whole.Stem
			stem.Options, stem.Flip = whole.Stem.Options[i:i+1], &flip
			one.Stem = &stem
			k, err := Solve(context.Background(), &one, list, carry.Options{}, nil)
			require.NoError(t, err)
			for n, row := range k.Rows {
				best[n] = math.Min(best[n], row.E)
			}
		}
	}
	for n, row := range r.Rows {
		assert.InDelta(t, best[n], row.E, 2*Tolerance, "%d moves", n)
	}
}

func TestMoreMovesNeverMissMore(t *testing.T) {
	list := append(source(t, "road", "road"), source(t, "tri", "horns")...)
	r, err := Solve(context.Background(), biketest.Example(t, "studio"), list, carry.Options{}, nil)
	require.NoError(t, err)
	require.Len(t, r.Rows, len(r.Movable)+1)
	for k := 1; k < len(r.Rows); k++ {
		assert.LessOrEqual(t, len(r.Rows[k].Moved), k)
		assert.LessOrEqual(t, r.Rows[k].E, r.Rows[k-1].E+Tolerance)
	}
}

func TestTheSamePostureTwiceNeedsNoMove(t *testing.T) {
	target := biketest.Example(t, "studio")
	list := append(source(t, "road", "road"), source(t, "road", "road")...)
	r, err := Solve(context.Background(), target, list, carry.Options{}, nil)
	require.NoError(t, err)
	assert.Empty(t, r.Best().Changeover(0, 1))
	assert.InDelta(t, separately(t, oneCrank(target, r.Crank), list), r.Rows[0].E, 2*Tolerance)
}

func TestASharedSettingHasOneMarkAndAMovedOneIsOnTheCard(t *testing.T) {
	list := append(source(t, "road", "road"), source(t, "tri", "horns")...)
	r, err := Solve(context.Background(), biketest.Example(t, "studio"), list, carry.Options{}, nil)
	require.NoError(t, err)
	for _, row := range r.Rows {
		card, back := row.Changeover(0, 1), row.Changeover(1, 0)
		require.Len(t, back, len(card))
		steps := map[string]Step{}
		for i, s := range card {
			steps[s.Before.Name] = s
			assert.Equal(t, Step{s.After, s.Before}, back[i], "the way back, in the same order")
			assert.Equal(t, -s.By().Value(), back[i].By().Value())
		}
		for i, v := range row.Outcomes[0].Values {
			w := row.Outcomes[1].Values[i]
			require.Equal(t, v.Name, w.Name)
			assert.GreaterOrEqual(t, v.Travel, v.Lo-1e-9, v.Name)
			assert.LessOrEqual(t, v.Travel, v.Hi+1e-9, v.Name)
			s, ok := steps[v.Name]
			if !ok {
				assert.InDelta(t, v.Travel, w.Travel, 1e-6, v.Name)
				continue
			}
			assert.True(t, v.Moved)
			assert.Equal(t, Step{v, w}, s)
			assert.Equal(t, plane.Measured(v.Turns(), w.Travel-v.Travel), s.By(), v.Name)
			assert.InDelta(t, s.By().Value(), (w.Mark()-v.Mark())*v.Unit, 1e-9, "a mark is worth its unit")
		}
	}
}

// TestARowIsWorthWhatItSays works E of every row out anew from where its contacts come to lie.
func TestARowIsWorthWhatItSays(t *testing.T) {
	target := biketest.Example(t, "studio")
	list := append(source(t, "road", "road"), source(t, "tri", "horns", "aero")...)
	r, err := Solve(context.Background(), target, list, carry.Options{}, nil)
	require.NoError(t, err)
	for _, row := range r.Rows {
		sum := 0.0
		for _, o := range row.Outcomes {
			sit, hands := o.Contacts[0], o.Contacts[1]
			sum += squareOf(sit.Want, sit.Got, true) + squareOf(hands.Want, hands.Got, false)
			taped := 0
			for _, v := range o.Values {
				if v.Adjuster >= 0 && target.Adjusters[v.Adjuster].NoScale {
					taped++
					assert.NotNil(t, v.Tape, v.Name)
				} else {
					assert.Nil(t, v.Tape, v.Name)
				}
			}
			assert.Equal(t, 1, taped, "the bar slide of the frame")
		}
		assert.InDelta(t, row.E, math.Sqrt(sum), Tolerance, "%d moves", row.Moves)
	}
}

// squareOf is E² of a contact by design.md, section 7, a degree counting 2 mm.
func squareOf(want, got assembly.Contact, sits bool) float64 {
	away, angle := got.At.Sub(want.At), 2*plane.Deg(got.Angle-want.Angle)
	place := away.Dot(away)
	if sits {
		n := want.At.Scale(1 / want.At.Norm())
		place = 9*math.Pow(n.Dot(away), 2) + math.Pow(n.Cross(away), 2)
	}
	return place + angle*angle
}

// A single posture is built as a carry would build it: the same hole and risers, where nothing it shares asks otherwise.
func TestPadsAreBuiltAsACarryWould(t *testing.T) {
	target := biketest.Example(t, "studio")
	list := append(source(t, "road", "road"), source(t, "tri", "aero")...)
	r, err := Solve(context.Background(), target, list, carry.Options{}, nil)
	require.NoError(t, err)
	built := 0
	for _, v := range r.Rows[len(r.Rows)-1].Outcomes[1].Values {
		for _, set := range r.Alone[1].Settings {
			if set.Name == v.Name && set.Sets.Built() {
				assert.InDelta(t, set.Travel, v.Travel, 1e-9, v.Name)
				built++
			}
		}
	}
	assert.Equal(t, 2, built)
}

// A row with more moves is recommended only where it carries, or gains a millimetre.
func TestMovesThatGainLessThanAMillimetreAreNotRecommended(t *testing.T) {
	row := func(off float64, carried bool) Row {
		return Row{E: off, Outcomes: []Outcome{{Contacts: []carry.Carried{{Miss: off, Carried: carried}}}}}
	}
	for _, c := range []struct {
		rows []Row
		best int
	}{
		{[]Row{row(9, false), row(8.5, false), row(8.1, false)}, 0},
		{[]Row{row(9, false), row(7.9, false), row(7.5, false)}, 1},
		{[]Row{row(9, false), row(7.9, false), row(7.5, false), row(6, false)}, 3},
		{[]Row{row(2.5, false), row(1.9, true), row(0, true)}, 1},
	} {
		r := Result{Rows: c.rows}
		assert.Same(t, &r.Rows[c.best], r.Best())
	}
}

func TestStoppedEarlyThereIsAWholeAnswer(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	list := append(source(t, "road", "road"), source(t, "tri", "horns")...)
	stopped, err := Solve(ctx, biketest.Example(t, "studio"), list, carry.Options{}, nil)
	require.NoError(t, err)
	whole, err := Solve(context.Background(), biketest.Example(t, "studio"), list, carry.Options{}, nil)
	require.NoError(t, err)
	for k, row := range stopped.Rows {
		assert.GreaterOrEqual(t, row.E, whole.Rows[k].E-Tolerance)
		if row.Proven {
			assert.InDelta(t, whole.Rows[k].E, row.E, Tolerance)
		}
	}
}

func TestAPadPostureSaysWhereItsGripGoes(t *testing.T) {
	list := append(source(t, "road", "road"), source(t, "tri", "aero")...)
	r, err := Solve(context.Background(), biketest.Example(t, "studio"), list, carry.Options{}, nil)
	require.NoError(t, err)
	found := false
	for _, v := range r.Rows[0].Outcomes[1].Values {
		if v.Name == "clipon.extension" {
			found = true
			assert.GreaterOrEqual(t, v.Travel, v.Lo)
			assert.LessOrEqual(t, v.Travel, v.Hi)
		}
	}
	assert.True(t, found)
}

func TestOnePostureIsNothingToAlternateWith(t *testing.T) {
	_, err := Solve(context.Background(), biketest.Example(t, "studio"), source(t, "road", "road"), carry.Options{}, nil)
	assert.ErrorContains(t, err, "at least two postures")
}

// TestAlongOneSlideTheBestSharedMarkIsTheMean checks the coupling against a closed form: two postures that
// want the saddle at the same height, tilt and support, d mm apart along a free slide, share its mark half
// way and miss by d/2 each, root sum of squares d/√2, where leg extension weighs no more than setback.
func TestAlongOneSlideTheBestSharedMarkIsTheMean(t *testing.T) {
	target := biketest.Example(t, "studio")
	a := source(t, "road", "road")[0]
	a.Position.Posture.Weights.Extension = 1
	for _, d := range []float64{1, 6, 20} {
		moved := *a.Position
		moved.Sit = assembly.Contact{Name: moved.Sit.Name, At: moved.Sit.At.Add(plane.Point{X: d}), Angle: moved.Sit.Angle}
		b := Source{Label: "b", Feet: target.Feet, Position: &moved}
		first := a
		first.Feet, b.Feet = target.Feet, target.Feet // the same crank and sole: nothing shifts
		r, err := Solve(context.Background(), oneCrank(target, target.Feet.Crank), []Source{first, b}, carry.Options{HandsFixed: true}, nil)
		require.NoError(t, err)
		assert.InDelta(t, d/math.Sqrt2, r.Rows[0].E, Tolerance, fmt.Sprintf("%g mm apart", d))
		assert.InDelta(t, d/2, r.Rows[0].Worst(), 0.05)
		assert.Equal(t, []string{"saddle slide"}, r.Rows[1].Moved)
		assert.InDelta(t, 0, r.Rows[1].E, Tolerance)
	}
}

// The saddle is moved before the bar, whose tape starts at it, and its tilt first of all.
func TestTheSaddleComesBeforeTheBar(t *testing.T) {
	list := append(source(t, "road", "road"), source(t, "tri", "horns")...)
	r, err := Solve(context.Background(), biketest.Example(t, "studio"), list, carry.Options{}, nil)
	require.NoError(t, err)
	var names []string
	for _, s := range r.Rows[len(r.Rows)-1].Changeover(0, 1) {
		names = append(names, s.Before.Name)
	}
	assert.Equal(t, []string{"saddle.tilt", "saddle post", "saddle slide", "bar post", "bar slide", "bar.rotation"}, names)
}

// Of holes and risers that bring the pads to the same place, those are built that suit the grips, then those nearest to the
// middle, as in a carry.
func TestHolesAndRisersThatTieAreChosenAsInACarry(t *testing.T) {
	target := biketest.Example(t, "studio")
	one := source(t, "tri", "aero")[0]
	seen := map[float64]bool{}
	for trial := range 12 {
		pos := one.Position.Moved(7, float64(trial*7-40))
		list := []Source{one, one}
		list[0].Position, list[1].Position = &pos, &pos
		r, err := Solve(context.Background(), target, list, carry.Options{}, nil)
		require.NoError(t, err)
		for _, v := range r.Rows[len(r.Rows)-1].Outcomes[0].Values {
			for _, set := range r.Alone[0].Settings {
				if set.Name == v.Name && set.Sets.Built() {
					assert.InDelta(t, set.Travel, v.Travel, 1e-9, "%s, grips %d mm higher", v.Name, trial*7-40)
					seen[v.Travel] = true
				}
			}
		}
	}
	assert.NotEmpty(t, seen)
}

// Hands in the drops, on bars still to be chosen: everything moved is each posture carried on its own, and one whose angle
// is not known wants none.
func TestDropsAndHandsWithoutAnAngle(t *testing.T) {
	target := biketest.Example(t, "studio")
	target.Clipon = nil
	b := biketest.Example(t, "road")
	adjusted, err := locate.Adjust(b, nil, locate.Options{})
	require.NoError(t, err)
	p := b.Postures[0]
	p.Hands = bike.Drop
	pos, err := adjusted.Position(p)
	require.NoError(t, err)
	noAngle := *source(t, "tri", "horns")[0].Position
	noAngle.NoAngle, noAngle.Hands.Angle = true, 2 // nobody has hands like that
	list := []Source{{Label: "drops", Feet: b.Feet, Position: &pos}, {Label: "hoods", Feet: b.Feet, Position: &noAngle}}
	r, err := Solve(context.Background(), target, list, carry.Options{}, nil)
	require.NoError(t, err)
	last := r.Rows[len(r.Rows)-1]
	assert.InDelta(t, separately(t, oneCrank(target, r.Crank), list), last.E, 2*Tolerance)
	assert.InDelta(t, 0, last.Worst(), 0.01)
	for _, row := range r.Rows { // the drops alone say how the bar is turned
		assert.InDelta(t, 0, row.Outcomes[0].Contacts[1].MissAngle, 1e-9)
	}
}
