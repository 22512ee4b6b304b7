package alternate

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/catalogs"
	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/bikefile"
	"carryover/internal/carry"
	"carryover/internal/catalog"
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

func example(t *testing.T, name string) *bike.Bike {
	t.Helper()
	src, err := catalogs.Examples.Open(name + ".toml")
	require.NoError(t, err)
	defer src.Close()
	text := make([]byte, 1<<16)
	n, err := src.Read(text)
	require.NoError(t, err)
	b, problems := bikefile.ReadBike("example:"+name, text[:n], bikefile.Folder{FS: catalogs.Examples}, catalog.New(catalogs.Files))
	require.False(t, problems.HasErrors(), "%v", problems)
	return b
}

func source(t *testing.T, name string, postures ...string) []Source {
	t.Helper()
	b := example(t, name)
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
		target := example(t, "studio")
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
		target := example(t, "outdoor")
		target.Stem.Options = target.Stem.Options[:max(3, runs(8))]
		target.Bar.LeverAt = lever
		list := append(source(t, "road", "road"), source(t, "road", "road")...)
		r, err := Solve(context.Background(), target, list, carry.Options{}, nil)
		require.NoError(t, err)
		require.True(t, r.Proven())
		require.Len(t, r.Rows[0].Parts, 1)
		for _, v := range r.Rows[0].Outcomes[0].Values {
			if v.Name == "bar.lever_at" {
				assert.False(t, v.Turns)
				assert.GreaterOrEqual(t, v.Mark, lever.Lo-1e-9)
				assert.LessOrEqual(t, v.Mark, lever.Hi+1e-9)
			}
		}
	}
}

// TestAnOpenSlotTakesTheBestPartForAllPostures solves the target with each stem alone, either way up: the
// open slot must come out as the best of them in every row.
func TestAnOpenSlotTakesTheBestPartForAllPostures(t *testing.T) {
	list := append(source(t, "road", "road"), source(t, "tri", "horns")...)
	whole := example(t, "outdoor")
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
	r, err := Solve(context.Background(), example(t, "studio"), append(source(t, "road", "road"), source(t, "tri", "horns")...), carry.Options{}, nil)
	require.NoError(t, err)
	require.Len(t, r.Rows, len(r.Movable)+1)
	for k := 1; k < len(r.Rows); k++ {
		assert.Len(t, r.Rows[k].Moved, k)
		assert.LessOrEqual(t, r.Rows[k].E, r.Rows[k-1].E+Tolerance)
	}
}

func TestTheSamePostureTwiceNeedsNoMove(t *testing.T) {
	target := example(t, "studio")
	list := append(source(t, "road", "road"), source(t, "road", "road")...)
	r, err := Solve(context.Background(), target, list, carry.Options{}, nil)
	require.NoError(t, err)
	assert.Empty(t, r.Best().Changeover(0, 1))
	assert.InDelta(t, separately(t, oneCrank(target, r.Crank), list), r.Rows[0].E, 2*Tolerance)
}

func TestASharedSettingHasOneMarkAndAMovedOneIsOnTheCard(t *testing.T) {
	r, err := Solve(context.Background(), example(t, "studio"), append(source(t, "road", "road"), source(t, "tri", "horns")...), carry.Options{}, nil)
	require.NoError(t, err)
	for _, row := range r.Rows {
		card := map[string]Step{}
		for _, s := range row.Changeover(0, 1) {
			card[s.Name] = s
		}
		back := row.Changeover(1, 0)
		require.Len(t, back, len(card))
		for _, s := range back {
			assert.Equal(t, card[s.Name].Before.Mark, s.After.Mark)
			assert.Equal(t, card[s.Name].After.Mark, s.Before.Mark)
		}
		for i, v := range row.Outcomes[0].Values {
			w := row.Outcomes[1].Values[i]
			require.Equal(t, v.Name, w.Name)
			if !v.Moved {
				assert.Equal(t, v.Travel, w.Travel, v.Name)
			}
			assert.GreaterOrEqual(t, v.Travel, v.Lo-1e-9, v.Name)
			assert.LessOrEqual(t, v.Travel, v.Hi+1e-9, v.Name)
			if s, ok := card[v.Name]; ok {
				assert.True(t, v.Moved)
				assert.Equal(t, v.Mark, s.Before.Mark)
				assert.Equal(t, w.Mark, s.After.Mark)
			}
		}
	}
}

// TestContactsAreWhereTheBikeStands rebuilds the target with every setting fixed at a row's values and
// carries each posture onto it: nothing is left to decide, and the misses must be the row's.
func TestContactsAreWhereTheBikeStands(t *testing.T) {
	target := example(t, "studio")
	list := append(source(t, "road", "road"), source(t, "tri", "horns", "aero")...)
	r, err := Solve(context.Background(), target, list, carry.Options{}, nil)
	require.NoError(t, err)
	for _, row := range r.Rows {
		for p, o := range row.Outcomes {
			fixed := oneCrank(target, r.Crank)
			fixed.Adjusters = append([]bike.Adjuster(nil), target.Adjusters...)
			pads := *target.Clipon
			fixed.Clipon = &pads
			for _, v := range o.Values {
				for i := range fixed.Adjusters {
					if fixed.Adjusters[i].Name == v.Name {
						fixed.Adjusters[i].Lo, fixed.Adjusters[i].Hi = v.Mark, v.Mark
					}
				}
				switch v.Name {
				case "saddle.tilt":
					fixed.Saddle.Tilt = bike.Fixed(v.Travel)
				case "bar.rotation":
					fixed.Bar.Rotation = bike.Fixed(v.Travel)
				case "clipon.tilt":
					fixed.Clipon.Tilt = bike.Fixed(v.Travel)
				case "clipon.hole":
					fixed.Clipon.Hole = bike.Fixed(v.Travel)
				case "clipon.stack":
					fixed.Clipon.Stack = bike.Fixed(v.Travel)
				}
			}
			want, err := carry.Want(list[p].Position, list[p].Feet, fixed, carry.Options{})
			require.NoError(t, err)
			still := *list[p].Position
			still.Hands, still.Second = want.Hands, want.Second
			s, err := carry.Solve(context.Background(), fixed, &bike.Bike{Feet: list[p].Feet}, &still, carry.Options{HandsFixed: true})
			require.NoError(t, err)
			for i, c := range o.Contacts {
				assert.InDelta(t, s.Contacts[i].Miss, c.Miss, 1e-6, "%d moves, %s, %s", row.Moves, o.Label, c.Want.Name)
				assert.InDelta(t, s.Contacts[i].MissAngle, c.MissAngle, 1e-9)
			}
			checks, err := s.Checks()
			require.NoError(t, err)
			require.Len(t, o.Checks, len(checks))
			for i, c := range checks {
				assert.Equal(t, c.Reading, o.Checks[i].Reading)
				assert.InDelta(t, c.Value, o.Checks[i].Value, 1e-6, "%d moves, %s, %s", row.Moves, o.Label, c.Reading.Written)
			}
			taped := 0
			for _, v := range o.Values {
				if v.Adjuster < 0 || !target.Adjusters[v.Adjuster].NoScale {
					assert.Nil(t, v.Tape, v.Name)
					continue
				}
				taped++
				require.NotNil(t, v.Tape, v.Name)
				got, _, err := s.Stance.Measure(v.Tape.Reading)
				require.NoError(t, err)
				assert.InDelta(t, got, v.Tape.Value, 1e-6, "%s is set by tape", v.Name)
			}
			assert.Equal(t, 1, taped, "the bar slide of the frame")
		}
	}
}

// TestNoRandomSettingBeatsARow sets the target up at random, sharing what a row shares: none may be better.
func TestNoRandomSettingBeatsARow(t *testing.T) {
	rnd := rand.New(rand.NewPCG(seed, 9))
	target := example(t, "studio")
	list := append(source(t, "road", "road"), source(t, "tri", "horns")...)
	r, err := Solve(context.Background(), target, list, carry.Options{}, nil)
	require.NoError(t, err)
	var ps []posture
	for _, s := range list {
		want, err := carry.Want(s.Position, s.Feet, oneCrank(target, r.Crank), carry.Options{})
		require.NoError(t, err)
		ps = append(ps, posture{want, s.Position.Posture.Support, s.Position.Posture.Weights})
	}
	saddles, err := saddleBuilds(target, ps)
	require.NoError(t, err)
	hands, err := handBuilds(target, ps)
	require.NoError(t, err)
	for _, row := range r.Rows {
		best := math.Inf(1)
		for range runs(20_000) {
			sum := 0.0
			for _, b := range []*build{saddles[0], hands[0]} {
				moved := make([]bool, len(b.knobs))
				for k := range b.knobs {
					for _, name := range row.Moved {
						moved[k] = moved[k] || b.knobs[k].name == name
					}
				}
				c, of := b.couple(moved)
				x := make([]float64, len(c.vars))
				for k := range b.knobs {
					for p := range ps { // near the row, so that a better one would be met
						i := of[k][p]
						v := &c.vars[i]
						for _, s := range row.Outcomes[p].Values {
							if s.Name == b.knobs[k].name {
								x[i] = plane.Clamp(s.Travel+rnd.NormFloat64()*(v.hi-v.lo)*math.Pow(10, -1-3*rnd.Float64()), v.lo, v.hi)
							}
						}
					}
				}
				sum += c.square(x)
			}
			best = math.Min(best, math.Sqrt(sum))
		}
		assert.GreaterOrEqual(t, best, row.E-Tolerance, "seed %d, %d moves", seed, row.Moves)
	}
}

func TestStoppedEarlyThereIsAWholeAnswer(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	list := append(source(t, "road", "road"), source(t, "tri", "horns")...)
	stopped, err := Solve(ctx, example(t, "studio"), list, carry.Options{}, nil)
	require.NoError(t, err)
	whole, err := Solve(context.Background(), example(t, "studio"), list, carry.Options{}, nil)
	require.NoError(t, err)
	for k, row := range stopped.Rows {
		assert.GreaterOrEqual(t, row.E, whole.Rows[k].E-Tolerance)
		if row.Proven {
			assert.InDelta(t, whole.Rows[k].E, row.E, Tolerance)
		}
	}
}

func TestAPadPostureSaysWhereItsGripGoes(t *testing.T) {
	r, err := Solve(context.Background(), example(t, "studio"), append(source(t, "road", "road"), source(t, "tri", "aero")...), carry.Options{}, nil)
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
	_, err := Solve(context.Background(), example(t, "studio"), source(t, "road", "road"), carry.Options{}, nil)
	assert.ErrorContains(t, err, "at least two postures")
}

// TestAlongOneSlideTheBestSharedMarkIsTheMean checks the coupling against a closed form: two postures that
// want the saddle at the same height, tilt and support, d mm apart along a free slide, share its mark half
// way and miss by d/2 each, root sum of squares d/√2.
func TestAlongOneSlideTheBestSharedMarkIsTheMean(t *testing.T) {
	target := example(t, "studio")
	a := source(t, "road", "road")[0]
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
