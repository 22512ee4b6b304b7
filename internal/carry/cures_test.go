package carry

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/cockpit"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// corner is a shop with a few of everything.
func corner(r *rand.Rand) Shop {
	var s Shop
	for i := range 6 {
		id := fmt.Sprint("shop-", i)
		s.Saddles = append(s.Saddles, bike.Option[saddle.Shape]{ID: id, Part: randomSaddle(r)})
		s.Bars = append(s.Bars, bike.Option[cockpit.Bar]{ID: id, Part: randomBar(r)})
		s.Levers = append(s.Levers, bike.Option[cockpit.Lever]{ID: id, Part: randomLever(r)})
		s.Stems = append(s.Stems, bike.Option[cockpit.Stem]{ID: id, Part: &cockpit.Stem{Length: 60 + 12*float64(i), Angle: plane.Rad(between(r,
			-17, 17)), Height: 40}})
		s.Clipons = append(s.Clipons, bike.Option[cockpit.Clipon]{ID: id, Part: &cockpit.Clipon{Base: between(r, 30, 70), Stacks: []float64{0,
			10, 20, 30},
			Holes: []float64{-20, 0, 20}, Tilt: [2]float64{0, 0.35}, GripForward: [2]float64{250, 340}, Gap: between(r, 60, 110)}})
	}
	return s
}

// curesOf are those of a posture by itself.
func curesOf(t *testing.T, s *Solution, shop Shop) []Ailment {
	t.Helper()
	return curesOfAll(t, []*Solution{s}, shop)[0]
}

// curesOfAll are those of all postures on one target.
func curesOfAll(t *testing.T, all []*Solution, shop Shop) [][]Ailment {
	t.Helper()
	ails, err := Cures(t.Context(), all, func() (Shop, error) { return shop, nil })
	require.NoError(t, err)
	return ails
}

// Random wishes that a bike cannot reach, in one posture or in two on the same target: the bike that a cure says to make is built anew
// from what the cure names, and carries the contact it is for. In the other posture, and in what else is touched, it does what it
// says: cures, leaves or spoils. Of what is done to a machine one step less, a millimetre or half a degree, does not.
func TestEveryCureCarries(t *testing.T) {
	const seed = 2027
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	kinds, sets, effects := map[CureKind]int{}, map[bike.Sets]int{}, [3]int{}
	wishes, ailing, cured, single, pairs, harmful := tenth(500), 0, 0, 0, 0, 0
	for n := 0; n < wishes; {
		m := newMachine(r)
		if m.b.Clipon != nil {
			width := between(r, 40, 120)
			m.b.Bar.ClampWidth = &width
		}
		wide := 60.0
		if n%2 == 1 {
			wide = between(r, 5, 40)
		}
		asked := make([]Asked, 1+n%2)
		for i := range asked {
			k := *m
			k.sit.At = k.sit.At.Add(plane.Point{X: between(r, -wide, wide), Y: between(r, -wide, wide)})
			k.hands.At = k.hands.At.Add(plane.Point{X: between(r, -wide, wide), Y: between(r, -wide, wide)})
			k.sit.Angle += plane.Rad(between(r, -wide, wide) / 10)
			asked[i] = Asked{Target: m.b, Position: positionOf(&k, nil)}
			asked[i].Position.Posture.Name = fmt.Sprint(i)
		}
		var all []*Solution
		carried := true
		for _, o := range SolveAll(t.Context(), m.b, asked, Options{}) {
			require.NoError(t, o.Err)
			all, carried = append(all, o.Solution), carried && o.Carried()
		}
		if carried {
			continue
		}
		n++
		for of, ails := range curesOfAll(t, all, corner(r)) {
			for _, a := range ails {
				s := all[of]
				ailing++
				if len(a.Cures) > 0 {
					cured++
				}
				if a.Single() {
					single++
				}
				clean := slices.ContainsFunc(a.Cures, func(c Cure) bool { return c.With == nil && len(c.Spoils) == 0 })
				for j, c := range a.Cures {
					kinds[c.Kind]++
					if c.Kind == CureSetting {
						sets[c.Sets]++
					}
					if j > 0 {
						last := a.Cures[j-1]
						require.LessOrEqual(t, last.Compare(c), 0, "what carries more comes first, then what costs less")
						require.False(t, len(last.Spoils) > 0 && len(c.Spoils) == 0, "what spoils comes last")
						require.False(t, len(last.Leaves) > 0 && len(c.Leaves)+len(c.Spoils) == 0, "what carries all comes first")
					}
					if c.With != nil {
						pairs++
						kinds[c.With.Kind]++
						require.False(t, clean, "several changes are named only where no single one does without harm")
						require.False(t, a.Single() && len(c.Spoils) > 0, "those that do harm only where no single one does at all")
						if c.With.Kind == CureSetting && len(c.Spoils) > 0 {
							harmful++
						}
					}
					// becomes is what a cure makes of every contact.
					becomes := func(c Cure) (list []*Solution, does bool) {
						for j, was := range all {
							k, err := Solve(t.Context(), rebuilt(all, j, c), was.Source, was.Position, was.Options)
							require.NoError(t, err)
							list = append(list, k)
						}
						k, was := contactOf(list[of], c.OnSaddle), contactOf(s, c.OnSaddle)
						switch {
						case a.Gap:
							return list, list[of].GapShort <= 0 && (k.Carried || !was.Carried)
						case was.Carried: // a stop held it back
							return list, k.Miss <= CarriedMM/2+1e-9 && math.Abs(k.MissAngle) <= CarriedRad/2+1e-9
						}
						return list, k.Carried
					}
					list, does := becomes(c)
					require.True(t, does, "case %d: %+v", n, c)
					var also, leaves []string
					var spoils []Touch
					for j, k := range list {
						name := k.Position.Posture.Name
						for i := range 2 {
							if was, now := all[j].Contacts[i].Carried, k.Contacts[i].Carried; was && !now ||
								i == 1 && all[j].GapShort <= 0 && k.GapShort > 0 {
								spoils = append(spoils, Touch{k.Contacts[i].Want.Name, name})
							} else if j != of && !was && (i == 0) == c.OnSaddle {
								if now {
									also = append(also, name)
								} else {
									leaves = append(leaves, name)
								}
							}
						}
					}
					require.Equal(t, [3]any{also, leaves, spoils}, [3]any{c.Also, c.Leaves, c.Spoils}, "case %d: %+v", n, c)
					effects[0], effects[1], effects[2] = effects[0]+len(also), effects[1]+len(leaves), effects[2]+len(spoils)
					// An angle that two postures share is wanted by neither, and a seat turned otherwise may need less.
					if c.Kind >= CureTurn && (c.With == nil || c.With.turns() && (len(all) == 1 || c.With.Kind == CureTurn)) {
						less := c
						less.By -= math.Copysign(map[bool]float64{true: halfDegree, false: wholeMM}[c.Kind == CureTurn], c.By)
						list, does := becomes(less)
						for _, k := range list {
							name := k.Position.Posture.Name
							does = does && (slices.Contains(leaves, name) || contactOf(k, c.OnSaddle).Carried ||
								slices.Contains(spoils, Touch{contactOf(k, c.OnSaddle).Want.Name, name}))
						}
						require.False(t, does, "case %d: %+v is more than it takes", n, c)
					}
				}
			}
		}
	}
	t.Logf("cures by kind: %v; %d contacts ail in %d wishes, %d have a cure, %d a single one; %d pairs, %d that spoil something; "+
		"also cured, left, spoilt: %v", kinds,
		ailing, wishes, cured, single, pairs, harmful, effects)
	assert.Greater(t, cured, ailing*9/10)
	assert.Positive(t, pairs)
	assert.True(t, harmful > 0 || testing.Short(), "pairs that spoil something, where nothing else does")
	for i := range 3 {
		assert.Positive(t, effects[i])
	}
	for _, k := range []bike.Sets{bike.SetsSaddleTilt, bike.SetsRails, bike.SetsLever} {
		assert.Positive(t, sets[k], k.Key())
	}
	for k := CureGap; k <= CureReach && !testing.Short(); k++ {
		assert.Positive(t, kinds[k], "kind %s", k)
	}
}

// Against every stem of the shop, either way up and on every stack of spacers: where one carries the hands of both postures, the first
// cure of either does, and a stem that is named does not where none of them does.
func TestAStemThatCarriesBothPosturesComesFirst(t *testing.T) {
	const seed = 2028
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	both := 0
	for n := 0; n < 40; {
		m := newMachine(r)
		if m.b.Stem == nil {
			continue
		}
		off := plane.Point{X: between(r, 10, 25), Y: between(r, -25, 25)}
		var asked []Asked
		for i := range 2 {
			k := *m
			k.hands.At = k.hands.At.Add(off).Add(plane.Point{X: between(r, -1, 1), Y: between(r, -1, 1)})
			asked = append(asked, Asked{Target: m.b, Position: positionOf(&k, nil)})
			asked[i].Position.Posture.Name = fmt.Sprint(i)
		}
		list := SolveAll(t.Context(), m.b, asked, Options{})
		all := []*Solution{list[0].Solution, list[1].Solution}
		if all[0].Contacts[1].Carried || all[1].Contacts[1].Carried {
			continue
		}
		n++
		shop := Shop{Stems: corner(r).Stems}
		carries := false
		for i := 0; i < len(shop.Stems)*2*9 && !carries; i++ {
			b, flip := m.b.Held(nil, nil), i%2 == 1
			b.Stem = &bike.StemFit{Slot: bike.Slot[cockpit.Stem]{Options: shop.Stems[i/18 : i/18+1]}, Flip: &flip,
				Spacers: bike.Spacers{Given: true, Fixed: 5 * float64(i/2%9)}}
			one := solvePosition(t, &machine{b: b}, asked[0].Position)
			carries = carries || one.Contacts[1].Carried && solvePosition(t, &machine{b: b}, asked[1].Position).Contacts[1].Carried
		}
		for _, ails := range curesOfAll(t, all, shop) {
			cures := ails[len(ails)-1].Cures
			at := slices.IndexFunc(cures, func(c Cure) bool { return c.Kind == CureStem && c.With == nil })
			if carries {
				both++
				require.GreaterOrEqual(t, at, 0)
				require.Empty(t, cures[at].Leaves)
				require.Empty(t, cures[at].Spoils)
				require.Empty(t, cures[0].Leaves)
			} else if at >= 0 {
				require.NotEmpty(t, cures[at].Leaves)
			}
		}
	}
	t.Logf("%d times a stem carries both", both)
	assert.Positive(t, both)
}

// rebuilt is the target of one of several postures with a cure made, from what the cure names alone.
func rebuilt(all []*Solution, of int, c Cure) *bike.Bike {
	picks := all[of].picks()
	for _, s := range all {
		picks = picks.And(s.picks())
	}
	b := pinned(all[of].Target, picks, all[of].hands.base).Held(nil, nil)
	for w := &c; w != nil; w = w.With {
		remake(b, c.Solution.Target, c, w)
	}
	return b
}

// remake makes one of the changes w of a cure c; from has the parts that it names.
func remake(b, from *bike.Bike, c Cure, w *Cure) {
	named := func(id string) bool { return id == w.Part.ID }
	spacers := bike.Spacers{Given: true, Fixed: c.Solution.hands.base.spacers}
	switch w.Kind {
	case CureGap:
		o := b.Clipon.Options[0]
		p := *o.Part
		p.Spread += w.By
		o.Part = &p
		b.Clipon.Options = []bike.Option[cockpit.Clipon]{o}
	case CureSetting:
		at, on := 0.0, b.Setting(w.Sets)
		for _, set := range c.Solution.Settings {
			if set.Sets == w.Sets {
				at = set.Travel
			}
		}
		if on.Free { // the file lets every posture have its own, within what the part offers
			*on = map[bike.Sets]bike.Setting{bike.SetsRails: free(0, 1000), bike.SetsLever: free(-1000, 1000)}[w.Sets]
		} else {
			*on = bike.Fixed(at)
		}
	case CureSpacers, CureFlip:
		flip := *b.Stem.Flip != (w.Kind == CureFlip)
		b.Stem.Flip, b.Stem.Spacers = &flip, spacers
	case CureStem:
		flip := w.Part.Flip
		b.Stem = &bike.StemFit{Slot: chosen(from.Stem.Slot, named), Flip: &flip, Spacers: spacers}
	case CureSaddle:
		b.Saddle.Slot, b.Saddle.ClampAt = chosen(from.Saddle.Slot, named), from.Saddle.ClampAt
	case CureBar:
		b.Bar.Slot = chosen(from.Bar.Slot, named)
	case CureLever:
		b.Bar.Lever = chosen(from.Bar.Lever, named)
	case CureClipon:
		b.Clipon = &bike.CliponFit{Slot: chosen(from.Clipon.Slot, named)}
	case CureTurn:
		turnFurther(b, c.OnSaddle, w.Sets == bike.SetsPadTilt, w.By)
	default: // the clamp itself stands elsewhere
		d := plane.Point{X: w.By}
		if w.Kind == CureHeight {
			d = plane.Point{Y: w.By}
		}
		if c.OnSaddle {
			at := b.SaddleAnchor.Add(d)
			b.SaddleAnchor = &at
		} else if b.Stem != nil {
			steerer, _ := b.Steerer()
			top := steerer.Top.Add(d)
			b.Frame.SteererTop = &top
		} else {
			at := b.BarAnchor.Add(d)
			b.BarAnchor = &at
		}
	}
}

// chosen is the one part of a slot that is named.
func chosen[T any](s bike.Slot[T], named func(id string) bool) bike.Slot[T] {
	for _, o := range s.Options {
		if named(o.ID) {
			return bike.Slot[T]{Options: []bike.Option[T]{o}}
		}
	}
	panic("the shop does not have what a cure names")
}

// turnFurther moves the stop of what turns a half one way; what has steps, or stands fast, is moved whole.
func turnFurther(b *bike.Bike, seat, pads bool, by float64) {
	shift := func(lo, hi *float64, by float64, whole bool) {
		if whole || by < 0 {
			*lo += by
		}
		if whole || by > 0 {
			*hi += by
		}
	}
	if pads {
		o := b.Clipon.Options[0]
		p := *o.Part
		p.Tilt = [2]float64{p.Tilt[0] + by, p.Tilt[1] + by}
		o.Part = &p
		b.Clipon.Options = []bike.Option[cockpit.Clipon]{o}
		shift(&b.Clipon.Tilt.Lo, &b.Clipon.Tilt.Hi, by, !b.Clipon.Tilt.Free) // says nothing where it is not given
		return
	}
	moves, set := bike.MovesBarRotation, &b.Bar.Rotation
	if seat {
		moves, set = bike.MovesSaddleTilt, &b.Saddle.Tilt
	}
	for _, i := range b.Moving(moves) {
		a := &b.Adjusters[i]
		shift(&a.Lo, &a.Hi, by/a.Unit, a.Indexed())
		return
	}
	shift(&set.Lo, &set.Hi, by, !set.Free)
}

// Common practice: a seat too far forward by more than its rails allow asks for a seatpost with that much more setback.
func TestASeatThatIsTooFarForwardAsksForSetback(t *testing.T) {
	_, m := limited(bike.Adjuster{Unit: 1, Lo: -50, Hi: 50}, bike.Adjuster{Unit: 1, Lo: -10, Hi: 10})
	m.sit.At.X -= 28
	s := solvePosition(t, m, positionOf(m, nil))
	cures := curesOf(t, s, Shop{})
	require.Len(t, cures, 1)
	require.True(t, cures[0].Single())
	require.Len(t, cures[0].Cures, 2)
	assert.Equal(t, bike.SetsRails, cures[0].Cures[0].Sets, "what costs nothing first")
	assert.InDelta(t, -18, cures[0].Cures[0].By, 1e-6)
	assert.Equal(t, CureSetback, cures[0].Cures[1].Kind)
	// 28 mm less the 10 mm of the slide leave 18; 2 mm count as carried, but the post keeps the leg's extension rather than the
	// nearest place, and so a little more than 2 mm is left by 16.
	assert.Equal(t, -17.0, cures[0].Cures[1].By)
}

// A lever that would cure the hoods stands where they want it: pads on the same bike, which do not feel it, have no say.
func TestASettingIsHeldForThePosturesThatFeelIt(t *testing.T) {
	b, m := limited(bike.Adjuster{Unit: 1, Lo: -50, Hi: 50}, bike.Adjuster{Unit: 1, Lo: -50, Hi: 50})
	part := &cockpit.Clipon{Base: 40, Stacks: []float64{0}, Holes: []float64{0}, Tilt: [2]float64{0, 0}, GripForward: [2]float64{250, 340}}
	b.Clipon = &bike.CliponFit{Slot: one(part)}
	pads := *m
	pads.hands = assembly.Contact{Name: bike.Pad, At: b.BarAnchor.Add(part.Pad(0, 0))}
	m.hands.At.X -= 3.2
	var asked []Asked
	for i, k := range []*machine{m, &pads} {
		asked = append(asked, Asked{Target: b, Position: positionOf(k, nil)})
		asked[i].Position.Posture.Name = fmt.Sprint(i)
	}
	list := SolveAll(t.Context(), b, asked, Options{})
	require.NoError(t, list[1].Err)
	require.True(t, list[1].Carried())
	cures := curesOfAll(t, []*Solution{list[0].Solution, list[1].Solution}, Shop{})[0][0].Cures
	require.Equal(t, bike.SetsLever, cures[0].Sets)
	assert.InDelta(t, -3.2, cures[0].By, 1e-6)
	assert.Empty(t, cures[0].Spoils)
}

// Pads whose tilt the file states may be tilted otherwise for nothing; a stretch that it gives is as far as they go, and one that
// turns further is asked for.
func TestAStretchOfTiltIsKeptByItsCures(t *testing.T) {
	for _, tilt := range []bike.Setting{bike.Fixed(0), free(0, plane.Rad(5))} {
		b, m := limited(bike.Adjuster{Unit: 1, Lo: -50, Hi: 50}, bike.Adjuster{Unit: 1, Lo: -50, Hi: 50})
		part := clipon()
		b.Clipon = &bike.CliponFit{Slot: one(&part), Tilt: tilt, Hole: bike.Fixed(0), Stack: bike.Fixed(0)}
		m.hands = assembly.Contact{Name: bike.Pad, Angle: plane.Rad(15), At: b.BarAnchor.Add(part.Pad(0, 0).Turn(plane.Rad(15)))}
		ails := curesOf(t, solvePosition(t, m, positionOf(m, nil)), Shop{})
		require.Len(t, ails, 1)
		require.True(t, ails[0].Single())
		assert.Equal(t, map[bool]CureKind{true: CureTurn, false: CureSetting}[tilt.Free], ails[0].Cures[0].Kind)
		assert.Equal(t, bike.SetsPadTilt, ails[0].Cures[0].Sets)
	}
}
