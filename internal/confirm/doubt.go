package confirm

import (
	"maps"
	"math"
	"slices"

	"carryover/internal/bike"
	"carryover/internal/locate"
)

// Doubtful are the ways to read a bike whose readings disagree where nothing tells which of them is wrong: without each of
// those that may be, one at a time.
func Doubtful(b *bike.Bike, rider *bike.Rider, a *locate.Adjustment) []*bike.Bike {
	var list []*bike.Bike
	for _, f := range a.Findings() {
		switch o := &a.Observations[f.Observation]; {
		case !f.Aside:
			for _, i := range f.Blamed() {
				list = append(list, without(b, &a.Observations[i]))
			}
		case (o.Origin == locate.FromAnchor || o.Origin == locate.FromMark) && !o.Value.Turns() && math.Abs(f.Others-o.Value.Value()) > mostScale:
			list = append(list, agreeing(b, rider, a)...)
		}
	}
	return list
}

// mostScale is how far, mm, a mark or an anchor may be off without a doubt that it is the tape which was misread (common
// practice: tapes are misread by tens).
const mostScale = 15

// agreeing are the ways to read a bike without one of its readings with which everything else agrees.
func agreeing(b *bike.Bike, rider *bike.Rider, a *locate.Adjustment) []*bike.Bike {
	var list []*bike.Bike
	for i := range a.Observations {
		o := &a.Observations[i]
		if o.Origin != locate.FromReading || o.Value.Turns() {
			continue
		}
		other := without(b, o)
		k, err := locate.Adjust(other, rider, locate.Options{})
		if err == nil && len(k.Findings()) == 0 && k.Global().Passed && k.Err() == nil {
			list = append(list, other)
		}
	}
	return list
}

// loosely is the standard uncertainty, mm, of an anchor that says nothing.
const loosely = 1000

// without is the bike with one of its observations left out.
func without(b *bike.Bike, o *locate.Observation) *bike.Bike {
	c := *b
	switch o.Origin {
	case locate.FromReading:
		c.Readings = slices.DeleteFunc(slices.Clone(b.Readings), func(r bike.Reading) bool { return r.Index == o.Reading.Index })
	case locate.FromMark:
		c.Marks = maps.Clone(b.Marks)
		delete(c.Marks, o.Name)
	case locate.FromAnchor:
		c.AnchorSigma = loosely
	case locate.FromStated: // it is then read, or taken to be level
		for _, k := range [2]bike.Sets{bike.SetsSaddleTilt, bike.SetsRotation} {
			if k.Key() == o.Name {
				*c.Setting(k) = bike.Setting{}
			}
		}
	}
	return &c
}

// How much two answers may differ, mm and radians, for a move to hold in both.
const (
	alikeMM  = 1.0
	alikeRad = 0.5 * math.Pi / 180
)

// doubt takes back what another way to read the bikes does not bear out: moves that it does not make alike, and that a
// contact is inside tolerance or is not.
func (r *Result) doubt(k *Result) {
	travel := func(list []Move, name string) float64 {
		for i := range list {
			if list[i].Name == name {
				return list[i].Travel().Value()
			}
		}
		return 0
	}
	for _, m := range slices.Concat(k.Corrections, r.Corrections) {
		most := alikeMM
		if m.Turns() {
			most = alikeRad
		}
		if math.Abs(travel(k.Corrections, m.Name)-travel(r.Corrections, m.Name)) > most && !slices.Contains(r.Withheld, m.Name) {
			r.Withheld = append(r.Withheld, m.Name)
		}
	}
	r.Corrections = slices.DeleteFunc(r.Corrections, func(m Move) bool { return slices.Contains(r.Withheld, m.Name) })
	r.Cured = r.Cured && len(r.Withheld) == 0
	for i := range r.Contacts {
		c := &r.Contacts[i]
		if i >= len(k.Contacts) || k.Contacts[i].Inside() != c.Inside() {
			c.Unsure, c.Carried.Carried = true, false
		}
	}
}
