package partfile

import (
	"slices"

	"carryover/internal/cockpit"
	"carryover/internal/plane"
	"carryover/internal/tomltree"
)

// readBar reads a bar: its curve, or one measured hand place instead.
func readBar(t *tomltree.Table) *cockpit.Bar {
	b := &cockpit.Bar{}
	ok := true
	read := func(key string, into *float64, rule tomltree.Rule) {
		v, good := t.Float(key, rule)
		if !good {
			ok = ok && !t.Has(key)
			return
		}
		*into = v
	}
	read("reach", &b.Reach, tomltree.Plausible(20, 250))
	read("drop", &b.Drop, tomltree.Plausible(20, 300))
	read("bend", &b.Bend, tomltree.Plausible(5, 150))
	read("width", &b.Width, tomltree.Plausible(200, 1200))
	read("flare", &b.Flare, tomltree.Between(-20, 60))
	read("clamp", &b.Clamp, tomltree.Between(15, 60))
	b.Drops = Point(t, "drops", 500)
	ok = ok && (b.Drops != nil || !t.Has("drops"))

	if !t.Has("hood") {
		if t.Has("hood_angle") {
			t.Errorf("hood_angle", "bar-hood", "give hood = [x, y] as well, or leave hood_angle out",
				"hood_angle belongs to a measured hood, and there is none")
		}
		ok = t.Require("reach", "drop", "bend") && ok
		if ok && b.Bend > b.Reach {
			t.Errorf("bend", "bar-bend", "bend is the radius of the forward bend",
				"bend %s is more than reach %s", num(b.Bend), num(b.Reach))
			ok = false
		}
		if !ok {
			return nil
		}
		return b
	}
	for _, key := range []string{"reach", "drop", "bend"} {
		if t.Has(key) {
			t.Warnf(key, "unused-key", "leave it out", "%s is not used beside a measured hood", key)
		}
	}
	b.Reach, b.Drop, b.Bend = 0, 0, 0
	b.Hood = Point(t, "hood", 500)
	angle, good := 0.0, t.Require("hood_angle")
	if good {
		angle, good = t.Float("hood_angle", tomltree.Between(-90, 90))
	}
	b.HoodAngle = plane.Rad(angle)
	if !ok || !good || b.Hood == nil {
		return nil
	}
	return b
}

// Point reads [x, y] with coordinates of at most limit mm to either side; nil when absent or wrong.
func Point(t *tomltree.Table, key string, limit float64) *plane.Point {
	v, ok := t.Floats(key, 2, tomltree.Between(-limit, limit))
	if !ok {
		return nil
	}
	return &plane.Point{X: v[0], Y: v[1]}
}

func readLever(t *tomltree.Table) *cockpit.Lever {
	t.Require("hollow", "angle")
	hollow := Point(t, "hollow", 200)
	angle, ok := t.Float("angle", tomltree.Between(-90, 90))
	if !ok || hollow == nil {
		return nil
	}
	return &cockpit.Lever{Along: hollow.X, Out: hollow.Y, Angle: plane.Rad(angle)}
}

func readStem(t *tomltree.Table) *cockpit.Stem {
	t.Require("length", "angle", "height")
	length, lengthOK := t.Float("length", tomltree.Plausible(20, 250))
	angle, angleOK := t.Float("angle", tomltree.Between(-75, 75))
	height, heightOK := t.Float("height", tomltree.Plausible(10, 150))
	if !lengthOK || !angleOK || !heightOK {
		return nil
	}
	return &cockpit.Stem{Length: length, Angle: plane.Rad(angle), Height: height}
}

func readClipon(t *tomltree.Table) *cockpit.Clipon {
	c := &cockpit.Clipon{}
	ok := t.Require("base", "stacks", "holes", "tilt", "spacing", "gap", "pad", "grip")
	read := func(t *tomltree.Table, key string, into *float64, rules ...tomltree.Rule) {
		v, good := t.Float(key, rules...)
		ok = ok && (good || !t.Has(key))
		*into = v
	}
	read(t, "base", &c.Base, tomltree.Between(-100, 300))
	read(t, "gap", &c.Gap, tomltree.Between(0, 400))
	for _, list := range []struct {
		key    string
		into   *[]float64
		lo, hi float64
	}{{"stacks", &c.Stacks, 0, 300}, {"holes", &c.Holes, -300, 300}, {"spacing", &c.Spacings, 30, 600}} {
		values, good := t.Floats(list.key, -1, tomltree.Between(list.lo, list.hi))
		if good && len(values) == 0 {
			t.Errorf(list.key, "empty-list", "list what can be built, at least one", "%s is empty", list.key)
			good = false
		}
		slices.Sort(values)
		*list.into = slices.Compact(values)
		ok = ok && good
	}

	read(t, "spread", &c.Spread, tomltree.Between(0, 100))
	if from, good := t.OneOf("tilt_from", "level", "bar"); good {
		c.TiltFromBar = from == "bar"
	} else {
		ok = ok && !t.Has("tilt_from")
	}
	pieces, good := t.Floats("pieces", -1, tomltree.Positive(), tomltree.Max(300))
	ok = ok && (good || !t.Has("pieces"))
	slices.Sort(pieces)
	c.Pieces = pieces

	lo, hi, _, tiltOK := t.Range("tilt", tomltree.Between(-60, 90))
	step := 0.0
	read(t, "tilt_step", &step, tomltree.Min(0))
	const finest = 0.01 // degrees: finer than any level reads
	switch {
	case step == 0 || !tiltOK:
	case lo == hi:
		t.Errorf("tilt_step", "step-empty-range", "write tilt_step = 0.0, or a tilt from least to greatest",
			"tilt_step %s has nothing to step through: tilt is fixed at %s", num(step), num(lo))
	case step < finest:
		t.Errorf("tilt_step", "step-tiny", "write tilt_step = 0.0 for anywhere between", "tilt_step %s is no step to feel", num(step))
	}
	c.Tilt, c.TiltStep = [2]float64{plane.Rad(lo), plane.Rad(hi)}, plane.Rad(step)

	if pad, good := t.Table("pad"); good {
		ok = pad.Require("length", "width") && ok
		read(pad, "length", &c.PadLength, tomltree.Plausible(15, 400))
		read(pad, "width", &c.PadWidth, tomltree.Plausible(15, 300))
	} else {
		ok = false
	}
	grip, good := t.Table("grip")
	if !good {
		return nil
	}
	ok = grip.Require("forward", "rise") && ok
	from, to, _, forwardOK := grip.Range("forward", tomltree.Between(0, 800))
	c.GripForward = [2]float64{from, to}
	read(grip, "rise", &c.GripRise, tomltree.Between(-300, 400))
	if !ok || !tiltOK || !forwardOK {
		return nil
	}
	return c
}
