package rules

import (
	"fmt"
	"math"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// units are of what rules can be about.
var units = map[string]string{
	"saddle-length":       "mm",
	"saddle-tilt":         "°",  // of the straightedge on the saddle's highest points
	"nose-setback":        "mm", // saddle nose behind the bottom bracket's vertical
	"extension-reach":     "mm", // foremost end of the extensions ahead of the bottom bracket's vertical
	"extension-above-pad": "mm", // extension's end above the middle of the forearm support
	"pad-tilt":            "°",
	"pad-length":          "mm",
	"pad-width":           "mm",
	"bar-width":           "mm",
	"flare-out":           "mm", // drops wider than the tops, one side
	"clip-ons":            "",   // 1 when there are any
	"bb-height":           "mm",
	"front-centre":        "mm", // bottom bracket to front axle, horizontally
	"bar-ahead-of-axle":   "mm", // foremost point of the bar ahead of the front axle
}

// givenBy is the key of a bike file that gives a measure which no reading does.
var givenBy = map[string]string{
	"bb-height":         "bb_height in [frame]",
	"front-centre":      "front_axle in [frame]",
	"bar-ahead-of-axle": "front_axle in [frame], and a bar with its curve",
}

// barTube is half the diameter of a drop bar where it bends, 23.8 mm: trade practice.
const barTube = 11.9

// Tips says what of the extensions lies beyond the grip, mm; nil: not given.
type Tips struct {
	Ahead *float64 // foremost point, shifters included, ahead of the grip
	Above *float64 // highest point above the grip
}

// Take takes what rules are about from a bike with its readings adjusted. Parts are exact; what the bike file does not give is
// left out.
func Take(b *bike.Bike, a *locate.Adjustment, tips Tips) map[string]Found {
	found := map[string]Found{}
	exact := func(name string, v float64) { found[name] = Found{Value: v, Known: true} }
	points := map[string]locate.PointValue{}
	for _, p := range a.Points() {
		points[p.Name] = p
	}
	turns := map[string]locate.Value{}
	for _, v := range a.Values() {
		if v.Value.Turns() {
			turns[v.Name] = v
		}
	}
	if s := b.Saddle.Only(); s != nil {
		exact("saddle-length", s.Length)
	}
	if v, ok := turns[bike.SetsSaddleTilt.Key()]; ok {
		found["saddle-tilt"] = Found{Value: v.Value.Shown(), Sigma: v.Sigma.Shown(), Known: true}
	}
	nose := bike.Place{Kind: bike.AtSaddle, Ref: saddle.Reference{Kind: saddle.Nose}}
	if p, ok := points[nose.String()]; ok {
		found["nose-setback"] = Found{Value: -p.At.X, Sigma: p.SigmaX, Known: true}
	}
	if h := b.Frame.BBHeight; h != nil {
		exact("bb-height", *h)
	}
	if x := b.Frame.FrontAxleX; x != nil {
		exact("front-centre", *x)
	}
	measureBar(b, a.Stance.Layout, points, turns, found)
	measureClipon(b, a.Stance.Layout, points, turns, tips, found)
	return found
}

func measureBar(b *bike.Bike, l *assembly.Layout, points map[string]locate.PointValue, turns map[string]locate.Value,
	found map[string]Found) {
	bar := l.BarShape
	if bar == nil {
		return
	}
	if bar.Width > 0 {
		found["bar-width"] = Found{Value: bar.Width, Known: true, Note: "width of the part file, taken as outside to outside"}
	}
	if !bar.Curved() {
		return
	}
	found["flare-out"] = Found{Value: bar.Drop * math.Tan(plane.Rad(bar.Flare)), Known: true,
		Note: fmt.Sprintf("from a flare of %g° over the drop", bar.Flare)}
	clamp, ok := points["bar"]
	if axle := b.Frame.FrontAxleX; axle != nil && ok {
		bend := clamp.At.X + bar.BendCentre().Turn(turns[bike.SetsRotation.Key()].Value.Value()).X
		found["bar-ahead-of-axle"] = Found{Value: bend + bar.Bend + barTube - *axle, Sigma: clamp.SigmaX, Known: true,
			Note: "front of the bend, half a tube of 23.8 mm included"}
	}
}

func measureClipon(b *bike.Bike, l *assembly.Layout, points map[string]locate.PointValue, turns map[string]locate.Value, tips Tips,
	found map[string]Found) {
	pad, padOK := points["pad"]
	grip, gripOK := points["grip"]
	if b.Clipon == nil && !padOK {
		for _, m := range []string{"extension-reach", "extension-above-pad", "pad-tilt", "pad-length", "pad-width"} {
			found[m] = Found{Absent: true, Note: "no clip-on"}
		}
		found["clip-ons"] = Found{Known: true}
		return
	}
	found["clip-ons"] = Found{Value: 1, Known: true}
	if b.Clipon != nil && b.Clipon.Only() != nil {
		c := b.Clipon.Only()
		found["pad-length"], found["pad-width"] = Found{Value: c.PadLength, Known: true}, Found{Value: c.PadWidth, Known: true}
	}
	tilt, tiltOK := turns[bike.SetsPadTilt.Key()]
	if !tiltOK {
		tilt, tiltOK = turns["pad.tilt"]
	}
	if tiltOK {
		found["pad-tilt"] = Found{Value: tilt.Value.Shown(), Sigma: tilt.Sigma.Shown(), Known: true}
	}
	if !gripOK {
		return
	}
	reach := Found{Value: grip.At.X, Sigma: grip.SigmaX, Known: true}
	if tips.Ahead != nil {
		reach.Value += *tips.Ahead
	} else {
		reach.AtLeast, reach.Note = true, "to the grip: the end with its shifter lies further ahead, give it with --tip-ahead"
	}
	found["extension-reach"] = reach
	if !padOK {
		return
	}
	rise := grip.At.Sub(pad.At)
	above := Found{Value: rise.Y, Sigma: math.Hypot(grip.SigmaY, pad.SigmaY), Known: true}
	if l.Clipon != nil && l.Grip.Body == assembly.Pads {
		above.Sigma = math.Abs(rise.X) * tilt.Sigma.Value() // both on one part, which only turns
	}
	switch {
	case tips.Above != nil:
		above.Value += *tips.Above
	case above.Value >= 0:
		above.AtLeast, above.Note = true, "to the grip: the highest point of the end lies above it, give it with --tip-above"
	default:
		above.Note = "to the grip"
	}
	found["extension-above-pad"] = above
}
