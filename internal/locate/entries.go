package locate

import (
	"fmt"
	"slices"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/lsq"
	"carryover/internal/plane"
)

// NumberKind is what a number of the machine is.
type NumberKind int

// The numbers of a machine: x and y of an anchor, the direction an adjuster travels in, its unit, and how far the middle of
// its scale is off the straight line through the least and the greatest mark entered.
const (
	AnchorX NumberKind = iota
	AnchorY
	Direction
	Unit
	Bend
)

// Number is a number of the machine itself, the same in whatever standing it is read: mm or radians (of a unit, per mark).
type Number struct {
	Kind     NumberKind
	Saddle   bool // of an anchor: the saddle's, else the bar's
	Adjuster int  // of the others, -1 for an anchor
}

// Clamp is the key of the anchor that a number is of.
func (n Number) Clamp() string {
	if n.Saddle {
		return "saddle_clamp"
	}
	return "bar_clamp"
}

func anchor(kind NumberKind, body assembly.Body) Number {
	return Number{kind, body == assembly.Saddle, -1}
}

// body is the one whose clamp an anchor is of.
func (n Number) body() assembly.Body {
	if n.Saddle {
		return assembly.Saddle
	}
	return assembly.Bar
}

// On is the number as a bike's file has it: mm or radians, of a unit per mark. A scale is straight as far as the file says, and an
// anchor that it does not give 0.
func (n Number) On(b *bike.Bike) plane.Quantity {
	if n.Adjuster < 0 {
		at := plane.Point{}
		if a := map[bool]*plane.Point{true: b.SaddleAnchor, false: b.BarAnchor}[n.Saddle]; a != nil {
			at = *a
		}
		return plane.Length([...]float64{AnchorX: at.X, AnchorY: at.Y}[n.Kind])
	}
	a := &b.Adjusters[n.Adjuster]
	switch n.Kind {
	case Direction:
		return plane.Turning(plane.Angle(a.Angle))
	case Unit:
		return plane.QuantityOf(a.Moves.Turns(), a.Unit)
	default:
		return plane.QuantityOf(a.Moves.Turns(), 0)
	}
}

// Numbers are those that a bike's file gives of its machine and that readings may tell: of its anchors, where no stem says where the
// bar is, and of each adjuster its direction, where it has one, and its unit.
func Numbers(b *bike.Bike) (list []Number) {
	if b.SaddleAnchor != nil {
		list = append(list, anchor(AnchorX, assembly.Saddle), anchor(AnchorY, assembly.Saddle))
	}
	if b.BarAnchor != nil && b.Stem == nil {
		list = append(list, anchor(AnchorX, assembly.Bar), anchor(AnchorY, assembly.Bar))
	}
	for i := range b.Adjusters {
		if !b.Adjusters[i].Moves.Turns() {
			list = append(list, Number{Kind: Direction, Adjuster: i})
		}
		list = append(list, Number{Kind: Unit, Adjuster: i})
	}
	return list
}

// Entries is a bike read in several standings, those of its calibration, as one adjustment: Learn says of what. The saddle's
// clamp holds the rails where the file says, else in their middle. The errors are diagnostics of readings that cannot be used.
func Entries(b *bike.Bike) (*Adjustment, error) {
	l := assembly.New(b, bike.Posture{})
	if l.Shape != nil {
		c := *b
		c.Saddle.ClampAt = bike.Fixed(clamped(b.Saddle.ClampAt, l.Shape.Rail))
		l.Bike = &c
	}
	a := &Adjustment{model: &model{layout: l, entries: b.Calibrations}}
	problems := a.read()
	for i, o := range a.Observations {
		for body, n := range a.spans[i].Needs() {
			if body := assembly.Body(body); n && body != assembly.Saddle && body != assembly.Bar && (body != assembly.Pads || l.Clipon == nil) {
				problems = append(problems, unusable(o.Reading, o.Name+" goes to a place that hangs on no part of this file: give the bar with its "+
					"lever, or the clip-on with its hole and stack"))
			}
		}
	}
	switch hands := a.used[assembly.Bar] || a.used[assembly.Pads]; {
	case problems.HasErrors():
		return nil, problems
	case a.used[assembly.Saddle] && l.Shape == nil:
		return nil, fmt.Errorf("%s: to calibrate the saddle's adjusters its part is needed: give it in [saddle]", b.File)
	case a.used[assembly.Saddle] && b.SaddleAnchor == nil || hands && b.BarAnchor == nil && b.Stem == nil:
		return nil, fmt.Errorf("%s: give a rough [anchor] for what is to be calibrated, a place to start from", b.File)
	}
	a.Learn(nil)
	return a, nil
}

// Learn sets up the adjustment of all entries with some numbers of the machine unknown, which start from what the file says, and
// the rest held at that. The observations that are no readings are listed anew.
func (a *Adjustment) Learn(numbers []Number) lsq.Problem {
	a.Observations = a.Observations[:len(a.spans)]
	a.model = newModel(a.model.layout, a.used, a.model.entries, numbers)
	a.observe(nil)
	return a.problem()
}

// Unknown is which unknown a number of the machine is, -1: it is held.
func (a *Adjustment) Unknown(n Number) int {
	m := a.model
	switch n.Kind {
	case Direction:
		return m.joints.Angle[n.Adjuster].Unknown
	case Unit:
		return m.unit[n.Adjuster].Unknown
	case Bend:
		return m.bend[n.Adjuster].Unknown
	}
	return m.joints.At[n.body()][n.Kind].Unknown
}

// Sees reports whether any reading sees what a number says: a part on its clamp, or what an adjuster moves.
func (a *Adjustment) Sees(n Number) bool {
	if n.Adjuster < 0 {
		return a.Uses(n.body())
	}
	return a.model.travel[0][n.Adjuster].Unknown >= 0
}

// Entered lists the different marks that the standings of the bike say of an adjuster, from the least.
func (a *Adjustment) Entered(i int) []float64 { return a.model.entered(i) }

func (m *model) entered(i int) (marks []float64) {
	for _, c := range m.entries {
		if mark, ok := c.Marks[m.layout.Bike.Adjusters[i].Name]; ok {
			marks = append(marks, mark)
		}
	}
	slices.Sort(marks)
	return slices.Compact(marks)
}

// hump is how far a bent scale is off at a mark, for a bend of 1: nothing at the ends, all in the middle.
func (m *model) hump(i int, mark float64) float64 {
	all := m.entered(i)
	if m.bend[i].Unknown < 0 || len(all) < 2 {
		return 0
	}
	u := (mark - all[0]) / (all[len(all)-1] - all[0])
	return 4 * u * (1 - u)
}
