package partfile

import (
	"math"
	"slices"

	"carryover/internal/cockpit"
	"carryover/internal/format"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// touchSlack is how far below the straightedge the highest listed point may stay through rounding, mm.
const touchSlack = 0.5

// saddleShape builds a saddle; nil when its numbers make no curves.
func saddleShape(t *format.Table) *saddle.Shape {
	length, known := t.Float("length")
	ends := func(key string) [][2]float64 {
		rows, nodes, ok := t.Curve(key)
		if !ok {
			return nil
		}
		if last := len(rows) - 1; known && rows[last][0] != length {
			t.ErrorAtf(nodes[last], "station-last", "measure the tail as well, or correct length",
				"the last station of %s must be the length %s, is %s", key, format.Num(length), format.Num(rows[last][0]))
		}
		return rows
	}
	width, top := ends("width"), ends("top")
	if top != nil {
		highest := math.Inf(-1)
		for _, p := range top {
			highest = math.Max(highest, p[1])
		}
		if highest < -touchSlack {
			t.Errorf("top", "straightedge", "the highest points are 0: add "+format.Num(math.Round(-highest*1000)/1000)+" to every height",
				"the straightedge touches nothing: no height in top is 0, the highest is %s", format.Num(highest))
		}
	}
	rail := rails(t, length, known)
	if !t.Right() || rail == nil || width == nil || top == nil {
		return nil
	}
	s, err := saddle.New(length, width, top, t.Or("sag", 0), *rail)
	if err != nil {
		return nil // the last station, which has been reported
	}
	return s
}

func rails(t *format.Table, length float64, known bool) *saddle.Rail {
	r, ok := t.Table("rail")
	if !ok || !r.Right() {
		return nil
	}
	rail := &saddle.Rail{Height: r.Or("height", 0), From: r.Or("from", 0), To: r.Or("to", 0)}
	switch {
	case rail.From > rail.To:
		r.Errorf("from", "reversed-range", "write from = "+format.Num(rail.To)+", to = "+format.Num(rail.From),
			"the rail stretch runs backwards, from %s to %s", format.Num(rail.From), format.Num(rail.To))
	case rail.From == rail.To:
		r.Errorf("to", "empty-range", "from and to bound the straight stretch of the rails",
			"the rail stretch is empty, from %s to %s", format.Num(rail.From), format.Num(rail.To))
	case known && rail.To > length:
		r.Errorf("to", "rail-beyond", "from and to are stations, counted from the nose back",
			"the rail stretch ends at station %s, behind the tail at %s", format.Num(rail.To), format.Num(length))
	default:
		return rail
	}
	return nil
}

// barShape builds a bar from its curve, or from one measured hand place instead.
func barShape(t *format.Table) *cockpit.Bar {
	b := &cockpit.Bar{Width: t.Or("width", 0), Flare: t.Or("flare", 0), Clamp: t.Or("clamp", 0), Drops: t.Point("drops"),
		Hood: t.Point("hood")}
	if b.Hood != nil {
		b.HoodAngle = t.Or("hood_angle", 0)
		return b
	}
	b.Reach, b.Drop, b.Bend = t.Or("reach", 0), t.Or("drop", 0), t.Or("bend", 0)
	if b.Bend > b.Reach {
		t.Errorf("bend", "bar-bend", "bend is the radius of the forward bend", "bend %s is more than reach %s", format.Num(b.Bend),
			format.Num(b.Reach))
		return nil
	}
	return b
}

func clipon(t *format.Table) *cockpit.Clipon {
	sorted := func(key string) []float64 {
		v, _ := t.Floats(key)
		slices.Sort(v)
		return v
	}
	pad, _ := t.Table("pad")
	grip, _ := t.Table("grip")
	c := &cockpit.Clipon{
		Base: t.Or("base", 0), Gap: t.Or("gap", 0), Spread: t.Or("spread", 0), TiltStep: t.Or("tilt_step", 0),
		TiltFromBar: t.String("tilt_from") == "bar", Pieces: sorted("pieces"), Stacks: slices.Compact(sorted("stacks")),
		Holes: slices.Compact(sorted("holes")), Spacings: slices.Compact(sorted("spacing")),
		PadLength: pad.Or("length", 0), PadWidth: pad.Or("width", 0), GripRise: grip.Or("rise", 0),
	}
	c.Tilt[0], c.Tilt[1], _, _ = t.Span("tilt")
	c.GripForward[0], c.GripForward[1], _, _ = grip.Span("forward")
	if c.TiltStep > 0 && c.Tilt[0] == c.Tilt[1] {
		t.Errorf("tilt_step", "step-empty-range", "write tilt_step = 0.0, or a tilt from least to greatest",
			"tilt_step %s has nothing to step through: tilt is fixed at %s", format.Num(plane.Deg(c.TiltStep)), format.Num(plane.Deg(c.Tilt[0])))
		return nil
	}
	return c
}
