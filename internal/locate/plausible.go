package locate

import (
	"fmt"
	"math"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// ImplausibleCode marks a warning about a position that no rider is likely to have.
const ImplausibleCode = "implausible"

// What a saddle of an ordinary bike keeps to (common practice), mm and radians: from the BB to its middle, how
// far its nose is behind the BB, and its tilt.
const (
	leastHeight, mostHeight   = bike.LeastHeight, bike.MostHeight
	leastSetback, mostSetback = -150, 250
	mostTilt                  = 15 * math.Pi / 180
)

// Implausible says in words what of the adjusted bike is unlikely: readings that nothing checks can be wrong by
// any amount without one contradicting another.
func (a *Adjustment) Implausible() []string {
	if a.Search == nil || a.Err() != nil {
		return nil
	}
	var list []string
	say := func(format string, args ...any) { list = append(list, fmt.Sprintf(format, args...)) }
	for _, i := range a.Unchecked() {
		r := a.Observations[i].Reading
		mm := bike.Centimetres(r.Value)
		if (r.Kind != bike.Level && r.Kind != bike.Plumb) || a.decimals(i) {
			mm = 0
		}
		if k := r.From.Ref.Kind; r.Kind == bike.Level && r.From.Kind == bike.AtSaddle && r.To.Kind == bike.AtBB && k != saddle.Nose &&
			k != saddle.ByStation && r.Value < bike.LeastBehind && r.Value*10 > bike.LeastBehind && r.Value*10 < bike.MostBehind {
			mm = r.Value * 10
		}
		if mm != 0 {
			say("%s is %s mm, and no other reading checks it; if it was read in centimetres, write %s", a.Observations[i].Name,
				number(r.Value), number(mm))
		}
	}
	if !a.Uses(assembly.Saddle) || a.Placement.Shape == nil {
		return list
	}
	shape, pose := a.Placement.Shape, a.Placement.Poses[assembly.Saddle]
	if h := pose.At(shape.Point(shape.Length / 2)).Norm(); h < leastHeight || h > mostHeight {
		say("the middle of the saddle is %.0f mm from the BB, usual are %d to %d: check the saddle height", h, leastHeight, mostHeight)
	}
	if math.Abs(pose.Turn) > mostTilt {
		say("the saddle is tilted by %.0f°, usual is less than %.0f: check its tilt", plane.Deg(pose.Turn), plane.Deg(mostTilt))
	}
	usualSetback := func(v float64) bool { return v >= leastSetback && v <= mostSetback }
	if setback := -pose.At(shape.Point(0)).X; !usualSetback(setback) {
		hint := "check the setback"
		switch {
		case usualSetback(setback - shape.Length):
			hint = fmt.Sprintf("was it read at the tail? Then the nose is %.0f mm behind", setback-shape.Length)
		case usualSetback(setback + shape.Length):
			hint = fmt.Sprintf("was the tail meant where the nose was read? Then the nose is %.0f mm behind", setback+shape.Length)
		}
		say("the nose of the saddle is %.0f mm behind the BB, usual are %d to %d; %s", setback, leastSetback, mostSetback, hint)
	}
	if at := a.model.layout.Bike.SaddleAnchor; at != nil && at.X > 0 {
		say("the saddle's clamp is anchored %.0f mm ahead of the BB; positive is forward", at.X)
	}
	return list
}

// decimals reports whether half or more of the distances read, another one aside, are not whole mm: who reads so reads mm.
func (a *Adjustment) decimals(but int) bool {
	whole, all := 0, 0
	for i, o := range a.Observations {
		if o.Origin == FromReading && !o.Value.Turns() && i != but {
			all++
			if o.Reading.Value == math.Trunc(o.Reading.Value) {
				whole++
			}
		}
	}
	return 2*whole <= all
}

// Unsupported says in words which postures want a saddle wider than this one.
func (a *Adjustment) Unsupported() (list []string) {
	if a.Search == nil || a.Err() != nil {
		return nil
	}
	for _, p := range a.model.layout.Bike.Postures {
		if p.Support <= 0 {
			continue
		}
		if _, meets := a.Placement.SitMount(p.Support); meets == saddle.TooNarrow {
			_, widest := a.Placement.Shape.Widest()
			list = append(list, fmt.Sprintf("posture %s is supported where the saddle is %.0f mm wide, but it is %.0f mm at its widest; "+
				"the rider is taken to sit there",
				p.Name, p.Support, widest))
		}
	}
	return list
}
