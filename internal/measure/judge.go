package measure

import (
	"fmt"
	"math"
	"strings"

	"carryover/internal/saddle"
)

// Implausible says in words what of the readings so far is hardly a saddle. The bounds are wider than what is sold
// (common practice) and only warn.
func (r *Readings) Implausible() []string {
	var all []string
	say := func(format string, args ...any) { all = append(all, fmt.Sprintf(format, args...)) }
	widest, at := 0.0, 0.0
	for _, p := range r.Widths {
		if p[1] > widest {
			widest, at = p[1], p[0]
		}
	}
	complete := len(r.Widths) >= 2 && r.Length > 0 && r.Widths[len(r.Widths)-1][0] == r.Length
	if complete {
		switch {
		case widest < 100:
			say("the widest place is %s: were half widths measured, from the middle to one side?", mm(widest))
		case widest > 220:
			say("the widest place is %s, more than on a broad comfort saddle", mm(widest))
		}
		if at < r.Length/2 {
			say("the widest place lies %s behind the nose, in the front half: were the stations counted from the tail?", mm(at))
		}
		if first := r.Widths[0]; first[0] == 0 && first[1] > 90 {
			say("the nose is %s wide: measure where its rounding begins", mm(first[1]))
		}
	}
	for i := 1; i < len(r.Widths); i++ {
		p, q := r.Widths[i-1], r.Widths[i]
		if q[0] <= at && q[1] < p[1]-3 {
			say("the saddle gets narrower from %s to %s behind the nose (%s to %s) and wider again: read these two once more", mm(p[0]), mm(q[0]), mm(p[1]), mm(q[1]))
		}
		if run := q[0] - p[0]; run > 0 && math.Abs(q[1]-p[1]) > 4*run && q[0] < r.Length {
			say("the width jumps from %s to %s within %s", mm(p[1]), mm(q[1]), mm(run))
		}
	}
	if r.Length > 0 && len(r.Dips) >= 2 && r.Dips[len(r.Dips)-1][0] == r.Length {
		var front, rear float64 = math.NaN(), math.NaN()
		deepest := 0.0
		for _, d := range r.Dips {
			if d[1] == 0 {
				if math.IsNaN(front) {
					front = d[0]
				}
				rear = d[0]
			}
			deepest = math.Max(deepest, d[1])
		}
		switch {
		case math.IsNaN(front):
			say("the straightedge touches nowhere: every dip is above 0; the least counts as touching")
		case rear-front < r.Length/4:
			say("the straightedge touches only within %s, so it rocks and has no tilt of its own: lay it on the front and the rear", mm(rear-front))
		}
		if deepest > 30 {
			say("a dip of %s is deeper than on a waved saddle", mm(deepest))
		}
	}
	if r.Rail.To > 0 {
		stretch := r.Rail.To - r.Rail.From
		switch {
		case stretch <= 0:
			say("the rails end before they begin: %s to %s", mm(r.Rail.From), mm(r.Rail.To))
		case stretch < 30 || stretch > 120:
			say("the straight stretch of the rails is %s long; 40 to 90 mm is usual", mm(stretch))
		}
		if mid := (r.Rail.From + r.Rail.To) / 2; r.Length > 0 && (mid < 0.35*r.Length || mid > 0.7*r.Length) {
			say("the middle of the rails lies %s behind the nose, not near the middle of the saddle", mm(mid))
		}
		if r.Rail.Height < 30 || r.Rail.Height > 70 {
			say("the rails lie %s below the straightedge; 35 to 60 mm is usual", mm(r.Rail.Height))
		}
	}
	if r.Sag > 20 {
		say("a surface that gives %s is a sprung saddle", mm(r.Sag))
	}
	return all
}

// The scale of a drawing: a column is 3.3 mm; a row, about twice as high, stands for 12.5 mm, so the saddle is drawn
// shorter than it is.
const (
	drawColumns = 60
	drawMM      = 200.0 // across all columns
	drawRow     = 12.5  // mm
)

// Outline draws the saddle from above with the nose on top, in plain characters, as far as its widths go. Widths that
// were read are marked with +, those between are interpolated.
func (r *Readings) Outline() string {
	if len(r.Widths) == 0 {
		return ""
	}
	last := r.Widths[len(r.Widths)-1][0]
	width := func(float64) float64 { return r.Widths[0][1] }
	if len(r.Widths) > 1 && r.Widths[0][0] == 0 {
		// Only the widths matter here, so any top and rail will do.
		s, err := saddle.New(last, r.Widths, [][2]float64{{0, 0}, {last, 0}}, 0, saddle.Rail{})
		if err != nil {
			return ""
		}
		width = s.Width
	}
	var b strings.Builder
	for i := 0; ; i++ {
		from := math.Min(float64(i)*drawRow, last) // the tail has a row of its own
		edge, at := "|", from
		for _, p := range r.Widths {
			if p[0] >= from-drawRow/2 && p[0] < from+drawRow/2 && (p[0] < last || from == last) {
				edge, at = "+", p[0]
			}
		}
		half := min(int(math.Round(width(at)/drawMM*drawColumns/2)), drawColumns/2)
		gap := strings.Repeat(" ", max(0, 2*half-1))
		fmt.Fprintf(&b, "%5.0f %s%s%s%s %.0f\n", at, strings.Repeat(" ", drawColumns/2-half), edge, gap, edge, width(at))
		if from == last {
			return b.String()
		}
	}
}
