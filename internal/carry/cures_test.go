package carry

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

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
		s.Stems = append(s.Stems, bike.Option[cockpit.Stem]{ID: id, Part: &cockpit.Stem{Length: 60 + 12*float64(i), Angle: plane.Rad(between(r, -17, 17)), Height: 40}})
		s.Clipons = append(s.Clipons, bike.Option[cockpit.Clipon]{ID: id, Part: &cockpit.Clipon{Base: between(r, 30, 70), Stacks: []float64{0, 10, 20, 30},
			Holes: []float64{-20, 0, 20}, Tilt: [2]float64{0, 0.35}, GripForward: [2]float64{250, 340}, Gap: between(r, 60, 110)}})
	}
	return s
}

// Random wishes that a bike cannot reach: the bike that a cure says to make is built anew from what the cure names, and
// carries the contact it is for.
func TestEveryCureCarries(t *testing.T) {
	const seed = 2027
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	kinds := map[CureKind]int{}
	cured, wishes := 0, tenth(500)
	for n := 0; n < wishes; {
		m := newMachine(r)
		m.sit.At = m.sit.At.Add(plane.Point{X: between(r, -60, 60), Y: between(r, -60, 60)})
		m.hands.At = m.hands.At.Add(plane.Point{X: between(r, -60, 60), Y: between(r, -60, 60)})
		s := solvePosition(t, m, positionOf(m, nil))
		if s.Contacts[0].Carried && s.Contacts[1].Carried {
			continue
		}
		n++
		cures := s.Cures(context.Background(), corner(r))
		last := CureSetting
		for _, c := range cures {
			kinds[c.Kind]++
			require.GreaterOrEqual(t, c.Kind, last, "what costs less comes first")
			last = c.Kind
			k := 1
			if c.OnSaddle {
				k = 0
			}
			again, err := Solve(context.Background(), rebuilt(s, c), s.Source, s.Position, s.Options)
			require.NoError(t, err)
			require.True(t, again.Contacts[k].Carried, "case %d: %+v", n, c)
			require.LessOrEqual(t, again.Contacts[k].Miss, CarriedMM+1e-6, "case %d", n)
		}
		if len(cures) > 0 {
			cured++
		}
	}
	t.Logf("cures by kind: %v; %d of %d wishes have one", kinds, cured, wishes)
	assert.Greater(t, cured, wishes*7/10)
	for _, k := range []CureKind{CureSetting, CureStem, CureSetback, CureHeight, CureReach} {
		assert.Positive(t, kinds[k], "kind %d", k)
	}
}

// rebuilt is the bike of a solution with a cure made, from what the cure names alone.
func rebuilt(s *Solution, c Cure) *bike.Bike {
	b := s.pinned()
	b.Adjusters = append([]bike.Adjuster(nil), b.Adjusters...)
	from := c.Solution.Target
	switch c.Kind {
	case CureSetting:
		at := 0.0
		for _, set := range c.Solution.Settings {
			if set.Sets == c.Sets {
				at = set.Travel
			}
		}
		switch c.Sets {
		case bike.SetsRails:
			b.Saddle.ClampAt = bike.Fixed(at)
		case bike.SetsSaddleTilt:
			b.Saddle.Tilt = bike.Fixed(at)
		case bike.SetsLever:
			b.Bar.LeverAt = bike.Fixed(at)
		case bike.SetsRotation:
			b.Bar.Rotation = bike.Fixed(at)
		default:
			b.Clipon = from.Clipon
		}
	case CureSpacers, CureFlip:
		flip := *b.Stem.Flip != (c.Kind == CureFlip)
		b.Stem.Flip, b.Stem.Spacers = &flip, bike.Spacers{Given: true, Fixed: *c.Spacers}
	case CureStem:
		for _, o := range from.Stem.Options {
			if o.ID == c.Part.ID {
				b.Stem = &bike.StemFit{Slot: bike.Slot[cockpit.Stem]{Options: []bike.Option[cockpit.Stem]{o}}, Flip: &c.Part.Flip,
					Spacers: bike.Spacers{Given: true, Fixed: *c.Spacers}}
			}
		}
	case CureSaddle:
		for i, o := range from.Saddle.Options {
			if o.ID == c.Part.ID {
				b.Saddle.Slot, b.Saddle.ClampAt = only(from.Saddle.Slot, i), from.Saddle.ClampAt
			}
		}
	case CureBar:
		for i, o := range from.Bar.Options {
			if o.ID == c.Part.ID {
				b.Bar.Slot = only(from.Bar.Slot, i)
			}
		}
	case CureLever:
		for i, o := range from.Bar.Lever.Options {
			if o.ID == c.Part.ID {
				b.Bar.Lever = only(from.Bar.Lever, i)
			}
		}
	case CureClipon:
		for i, o := range from.Clipon.Options {
			if o.ID == c.Part.ID {
				b.Clipon = &bike.CliponFit{Slot: only(from.Clipon.Slot, i)}
			}
		}
	default: // the clamp itself stands elsewhere
		d := plane.Point{X: c.By}
		if c.Kind == CureHeight {
			d = plane.Point{Y: c.By}
		}
		if c.OnSaddle {
			at := b.SaddleAnchor.Add(d)
			b.SaddleAnchor = &at
		} else if b.Stem != nil {
			top := b.Frame.SteererTop.Add(d)
			b.Frame.SteererTop = &top
		} else {
			at := b.BarAnchor.Add(d)
			b.BarAnchor = &at
		}
	}
	return b
}

// Common practice: a seat too far forward by more than its rails allow asks for a seatpost with that much more setback.
func TestASeatThatIsTooFarForwardAsksForSetback(t *testing.T) {
	_, m := limited(bike.Adjuster{Unit: 1, Lo: -50, Hi: 50}, bike.Adjuster{Unit: 1, Lo: -10, Hi: 10})
	m.sit.At.X -= 28
	s := solvePosition(t, m, positionOf(m, nil))
	cures := s.Cures(context.Background(), Shop{})
	var setback []float64
	for _, c := range cures {
		if c.Kind == CureSetback {
			setback = append(setback, c.By)
		}
	}
	require.Len(t, setback, 1)
	assert.InDelta(t, -16, setback[0], 1.0, "28 mm less the 10 mm of the slide, less the 2 mm that count as carried")
	assert.Less(t, math.Abs(setback[0]), 18.01)
}
