// Package search brings one contact as near as possible to where it is wanted, over everything that can be moved or
// chosen, and proves that nothing comes nearer.
//
// One half of a bike, with its angle settled, is a clamp and an arm that ends in the contact:
//
//	contact = base + Σ travel_i·dir_i + arm
//
// base is one of many (stems, spacers), travels are free between stops or stand on steps (racks), arm is one of many
// (parts, holes, risers) and may slide along its part or swing around the bend of a bar. The cost is
//
//	E² = |contact - place|² + what the arm's angle misses, squared
//
// with |·| the wish's metric. In the plane that the metric makes flat, whatever is left of the choices lies in a
// zonogon: slides as they are, a rack as the slide over its steps, bases and arms as the upright box around them; a single
// arm on a bend goes round it on a circle. How far the place is from it is a bound that nothing in it beats, and is exact
// once nothing is left to choose. So choices are split, the most promising first (tree.go), until one that is exact comes
// first of all: that is the proof. What ties with it is gone through in the order in which it may rank, by bounds of the
// same kind (ties.go).
package search

import (
	"context"
	"math"

	"carryover/internal/plane"
)

// Wish is where a contact should be, and what missing it costs: E is in the unit of the metric.
type Wish struct {
	Place  plane.Point
	Metric plane.Metric
}

// Travel is a slide with the place it would rather stay at.
type Travel struct {
	plane.Slide
	Home float64 // mm; need not lie within the stops
}

// Rack is an adjuster that stands only on steps: travel = First + j·Step along Dir, 0 <= j < Count, mm.
type Rack struct {
	Dir         plane.Point
	First, Step float64
	Count       int
	Home        float64 // mm
}

// Travel is how far step j has travelled, mm.
func (r Rack) Travel(j int) float64 { return r.First + float64(j)*r.Step }

// slide is the rack from step lo to before hi with the steps between forgotten: a relaxation.
func (r Rack) slide(lo, hi int) plane.Slide {
	a, b := r.Travel(lo), r.Travel(hi-1)
	return plane.Slide{Dir: r.Dir, Lo: math.Min(a, b), Hi: math.Max(a, b)}
}

// Base is a place of the clamp with every travel at 0.
type Base struct {
	At    plane.Point
	Stray float64 // how far what it is built of is from home, mm²
	Parts int     // which parts it stands for, 0 or more
}

// Arm is a way from the clamp to the contact, its angle settled.
type Arm struct {
	At     plane.Point
	Own    Travel  // along its part, beyond At; Lo = Hi = 0 when it cannot slide
	Bend   *Bend   // not nil: it swings instead
	Square float64 // what its angle misses, mm²
	Parts  int     // which parts it stands for, 0 or more
	// What secondary misses (mm) and way from home (mm², travels aside) do not fall below with the contact in place.
	Second, Stray float64
}

// Bend is the way of a lever free on the bend of a bar whose hand keeps its angle: contact = clamp + At + R(t)·Centre. The metric
// must count all ways alike, so that it remains a circle.
type Bend struct {
	Centre plane.Point // of the bend, seen from the clamp at turn 0, mm
	Turn   plane.Range // of the bar, radians
}

// Side is everything that can be moved or chosen to bring one contact into place.
type Side struct {
	Bases  []Base
	Slides []Travel
	Racks  []Rack
	Arms   []Arm
	Wish   Wish
}

// Candidate is one discrete choice at its best.
type Candidate struct {
	Base, Arm int
	Steps     []int   // of the racks
	Turn      float64 // of the bar, for an arm on a bend, radians
	Square    float64 // E², mm²
}

// Nought is the distance, mm, below which a contact counts as reached: three orders below the 1e-6 mm that settings
// are compared to, four above rounding in coordinates of a metre.
const Nought = 1e-9

// Tie is the difference in E, mm, below which two settings count as equally good.
const Tie = 1e-6

// slack is the difference in E, mm, below which an unexplored choice is no better than what is settled: a tenth of a tie.
const slack = 1e-7

// beyond is the E² a tie above E² = square.
func beyond(square float64) float64 {
	e := math.Sqrt(square) + Tie
	return e * e
}

// Best returns the candidate of least E. proven is false when the context ended the search early; ok is false when
// there is nothing to choose from.
func (s *Side) Best(ctx context.Context) (best Candidate, ok, proven bool) {
	return newSearch(s).best(ctx)
}

func (c *search) best(ctx context.Context) (best Candidate, ok, proven bool) {
	none := func(*node) bool { return false }
	proven = c.rising(ctx, none, func(n *node) bool {
		best, ok = c.candidate(n), true
		return false
	})
	return best, ok, proven
}

// Groups offers the best candidate of every group of parts (those of its base and of its arm) in rising order of E
// until offer returns false. It reports whether it got so far that nothing was left out.
func (s *Side) Groups(ctx context.Context, offer func(Candidate) bool) (proven bool) {
	return newSearch(s).groups(ctx, offer)
}

func (c *search) groups(ctx context.Context, offer func(Candidate) bool) (proven bool) {
	seen := map[[2]int]bool{}
	of := func(n *node) (group [2]int, alone bool) {
		a, b := c.bases.all[n.base].parts, c.arms.all[n.arm].parts
		return [2]int{a, b}, a != mixed && b != mixed
	}
	return c.rising(ctx, func(n *node) bool {
		group, alone := of(n)
		return alone && seen[group]
	}, func(n *node) bool {
		group, _ := of(n)
		seen[group] = true
		return offer(c.candidate(n))
	})
}
