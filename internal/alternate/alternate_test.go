package alternate

import (
	"context"
	"fmt"
	"math"
	"slices"
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

// separately is the root of the sum of E² with every posture carried on its own, a degree counting 2 mm.
func separately(r *Result) float64 {
	sum := 0.0
	for _, k := range r.Alone {
		sum += squareOf(k.Contacts[0].Want, k.Contacts[0].Got, true) + squareOf(k.Contacts[1].Want, k.Contacts[1].Got, false)
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
		assert.InDelta(t, separately(r), last.E, 2*Tolerance, "%v", postures)
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
		var places []float64
		for _, o := range r.Rows[0].Outcomes {
			for _, v := range o.Values {
				if v.Sets == bike.SetsLever {
					places = append(places, v.Travel)
				}
			}
		}
		if !lever.Free {
			assert.Empty(t, places)
			continue
		}
		require.Len(t, places, 2, "where the lever is put is told, the same for both")
		assert.Equal(t, places[0], places[1])
		assert.True(t, places[0] >= lever.Lo && places[0] <= lever.Hi)
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
	assert.InDelta(t, separately(r), r.Rows[0].E, 2*Tolerance)
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
			assert.Equal(t, plane.QuantityOf(v.Turns(), w.Travel-v.Travel), s.By(), v.Name)
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
		return Row{E: off, Outcomes: []Outcome{{Solution: &carry.Solution{
			Contacts: []carry.Carried{{Primary: true, Miss: off, Carried: carried}}}}}}
	}
	for _, c := range []struct {
		rows []Row
		best int
	}{
		{[]Row{row(9, false), row(8.5, false), row(8.1, false)}, 0},
		{[]Row{row(9, false), row(7.9, false), row(7.5, false)}, 1},
		{[]Row{row(9, false), row(7.9, false), row(7.5, false), row(6, false)}, 3},
		{[]Row{row(9, false), row(8.1, false), row(7.2, false), row(6.3, false)}, 0},
		{[]Row{row(3.5, false), row(1.9, true), row(0, true)}, 1},
		{[]Row{row(3, false), row(2, true)}, 1},
		{[]Row{row(2.5, false), row(1.9, true), row(0, true)}, 0}, // carried by one more move, for 0.6 mm
		{[]Row{row(9, false), row(3, false), row(2.4, true)}, 1},
		{[]Row{row(9, false), row(8.5, false), row(2, true), row(0, true)}, 2},
		{[]Row{row(0, true), row(0, true)}, 0},
	} {
		r := Result{Rows: c.rows}
		for i := range r.Rows {
			r.Rows[i].Moves = i
		}
		assert.Equal(t, c.best, r.Best().Moves)
		for i := range c.best {
			assert.GreaterOrEqual(t, r.Rows[i].E-r.Rows[c.best].E, Worthwhile)
		}
	}
}

// Two seats 4.1 mm apart along the only slide and 3.4 mm in height: shared, each is 2.05 mm off and not carried; moved, the 1.7 mm of
// leg extension are left, which count three times. E goes from √(2·(2.05² + 5.1²)) to √2·5.1, by 0.56 mm: not worth a move.
func TestAMoveForLessThanAMillimetreIsLeftOutThoughItWouldCarry(t *testing.T) {
	target := biketest.Example(t, "studio")
	p := source(t, "road", "road")[0]
	target.Feet.Cranks, p.Feet = nil, target.Feet
	s, err := carry.Solve(context.Background(), target, &bike.Bike{Feet: p.Feet}, p.Position, carry.Options{})
	require.NoError(t, err)
	up := s.Contacts[0].Got.At.Scale(1 / s.Contacts[0].Got.At.Norm())
	list, at := []bike.Settable{s.Settings[0].Settable}, []float64{s.Settings[0].Travel}
	held := target.Held(list, at) // the post
	require.Equal(t, "saddle slide", held.Adjusters[1].Name)
	anchor := target.SaddleAnchor.Add(target.Adjusters[1].Direction().Scale(s.Settings[1].Travel))
	held.SaddleAnchor, held.Adjusters[1].Angle = &anchor, math.Atan2(up.Perp().Y, up.Perp().X)
	var sources []Source
	for _, side := range []float64{-1, 1} {
		pos := *p.Position
		pos.Sit, pos.Hands = s.Contacts[0].Got, s.Contacts[1].Got
		pos.Sit.At = pos.Sit.At.Add(up.Scale(1.7 * side)).Add(up.Perp().Scale(2.05 * side))
		sources = append(sources, Source{"a", p.Feet, &pos})
	}
	r, err := Solve(context.Background(), held, sources, carry.Options{HandsFixed: true}, nil)
	require.NoError(t, err)
	require.Equal(t, []string{"saddle slide"}, r.Rows[1].Moved)
	assert.InDelta(t, math.Sqrt(2*(2.05*2.05+5.1*5.1)), r.Rows[0].E, 0.02)
	assert.InDelta(t, math.Sqrt2*5.1, r.Rows[1].E, 0.02)
	assert.False(t, r.Rows[0].Carried())
	assert.True(t, r.Rows[1].Carried())
	assert.Zero(t, r.Best().Moves)
}

// What a posture by itself would be built with is told with what it would cost the others: the rows of a target with nothing else
// to build, never better, and as good where it is built so anyway.
func TestBuiltAsForOnePostureAlone(t *testing.T) {
	built := 0
	for _, postures := range [][]Source{
		append(source(t, "road", "road"), source(t, "tri", "aero")...),
		source(t, "tri", "aero", "horns"),
		append(source(t, "tri", "aero"), source(t, "tri", "aero")...),
	} {
		target := biketest.Example(t, "studio")
		r, err := Solve(context.Background(), target, postures, carry.Options{}, nil)
		require.NoError(t, err)
		for p := range r.Alone {
			a := &r.Alone[p]
			for k, row := range r.Rows {
				parts, sets := row.Otherwise(p, a.Solution)
				if len(a.Rows) == 0 {
					assert.Empty(t, append(sets, make([]carry.Setting, len(parts))...))
					continue
				}
				built++
				for _, set := range a.Settings {
					for _, v := range row.Outcomes[p].Values {
						if v.Name == set.Name {
							told := slices.ContainsFunc(sets, func(s carry.Setting) bool { return s.Name == set.Name })
							assert.Equal(t, set.Sets.Built() && math.Abs(v.Travel-set.Travel) > 1e-6, told, set.Name)
						}
					}
				}
				assert.GreaterOrEqual(t, a.Rows[k].E, row.E-2*Tolerance)
				if len(parts)+len(sets) == 0 {
					assert.InDelta(t, row.E, a.Rows[k].E, 2*Tolerance)
				}
				for _, v := range a.Rows[k].Outcomes[p].Values {
					for _, set := range a.Settings {
						if v.Name == set.Name && set.Sets.Built() {
							t.Errorf("%s is not left to choose", v.Name)
						}
					}
				}
			}
		}
	}
	assert.Positive(t, built)
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
		mm, _ := r.Rows[0].Worst()
		assert.InDelta(t, d/2, mm, 0.05)
		assert.Equal(t, []string{"saddle slide"}, r.Rows[1].Moved)
		assert.InDelta(t, 0, r.Rows[1].E, Tolerance)
	}
}

// The saddle is moved before the bar, whose tape starts at it, and its tilt first of all; what has no scale comes last.
func TestTheSaddleComesBeforeTheBar(t *testing.T) {
	list := append(source(t, "road", "road"), source(t, "tri", "horns")...)
	r, err := Solve(context.Background(), biketest.Example(t, "studio"), list, carry.Options{}, nil)
	require.NoError(t, err)
	var names []string
	for _, s := range r.Rows[len(r.Rows)-1].Changeover(0, 1) {
		names = append(names, s.Before.Name)
	}
	assert.Equal(t, []string{"saddle.tilt", "saddle post", "saddle slide", "bar post", "bar.rotation", "bar slide"}, names)
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
	assert.InDelta(t, separately(r), last.E, 2*Tolerance)
	mm, _ := last.Worst()
	assert.InDelta(t, 0, mm, 0.01)
	for _, row := range r.Rows { // the drops alone say how the bar is turned
		assert.InDelta(t, 0, row.Outcomes[0].Contacts[1].MissAngle, 1e-9)
	}
}

// Whichever way round the cards are gone through, every posture finds all that it feels where it is to be, also what the one before
// it does not feel: the bar's rotation does not move the pads.
func TestWhatAPostureDoesNotFeelIsMovedForTheNextThatDoes(t *testing.T) {
	road, tri := source(t, "road", "road")[0], source(t, "tri", "aero", "horns")
	turned := *road.Position
	turned.Hands.Angle += plane.Rad(6)
	road.Position = &turned
	for _, list := range [][]Source{{road, tri[0], tri[1]}, {tri[0], road, tri[1]}, {road, tri[1], tri[0]}, {tri[0], road, tri[0], tri[1]}} {
		r, err := Solve(context.Background(), biketest.Example(t, "studio"), list, carry.Options{}, nil)
		require.NoError(t, err)
		row := &r.Rows[len(r.Rows)-1]
		n := len(list)
		for _, way := range []int{1, n - 1} {
			now, moved := map[string]float64{}, 0
			for k := range 2*n + 1 {
				p := k * way % n
				for _, v := range row.Outcomes[p].Values {
					if k >= n { // once round, everything has been set
						assert.InDelta(t, v.Travel, now[v.Name], 1e-6, "%s in %s", v.Name, row.Outcomes[p].Label)
					}
					now[v.Name] = v.Travel
				}
				for _, s := range row.Changeover(p, (k+1)*way%n) {
					moved++
					now[s.Before.Name] = s.After.Travel
				}
			}
			assert.Positive(t, moved)
			assert.Contains(t, now, "bar.rotation")
		}
	}
}
