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
	s, err := saddle.New(length, width, top, t.Number("sag"), *rail)
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
	rail := &saddle.Rail{Height: r.Number("height"), From: r.Number("from"), To: r.Number("to")}
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
	b := &cockpit.Bar{Width: t.Number("width"), Flare: t.Number("flare"), Clamp: t.Number("clamp"), Drops: t.Point("drops"),
		Hood: t.Point("hood")}
	if b.Hood != nil {
		b.HoodAngle = t.Number("hood_angle")
		return b
	}
	b.Reach, b.Drop, b.Bend = t.Number("reach"), t.Number("drop"), t.Number("bend")
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
		Base: t.Number("base"), Gap: t.Number("gap"), Spread: t.Number("spread"), TiltStep: t.Number("tilt_step"),
		TiltFromBar: t.String("tilt_from") == "bar", Pieces: sorted("pieces"), Stacks: slices.Compact(sorted("stacks")),
		Holes: slices.Compact(sorted("holes")), Spacings: slices.Compact(sorted("spacing")),
		PadLength: pad.Number("length"), PadWidth: pad.Number("width"), GripRise: grip.Number("rise"),
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
