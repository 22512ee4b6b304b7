package bikefile

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/cockpit"
	"carryover/internal/format"
	"carryover/internal/partfile"
	"carryover/internal/plane"
	"carryover/internal/saddle"
	"carryover/internal/written"
)

// onList is how far a stated value may lie from what a part offers, mm or degrees: rounding, not another hole.
const onList = 0.05

// setting reads a value or [min, max].
func setting(t *format.Table, key string) bike.Setting {
	lo, hi, isRange, ok := t.Span(key)
	return bike.Setting{Given: ok, Free: isRange && lo < hi, Lo: lo, Hi: hi}
}

// within narrows a free setting to lo..hi and reports what lies outside. what names the stretch.
func within(t *format.Table, key string, s *bike.Setting, lo, hi float64, what string) {
	stretch := fmt.Sprintf("%s runs from %s to %s", what, written.Short(lo), written.Short(hi))
	switch {
	case !s.Given:
	case s.Hi < lo-onList || s.Lo > hi+onList:
		if s.Free {
			t.Errorf(key, "out-of-reach", "", "no part of %s [%s, %s] can be used: %s", key, format.Num(s.Lo), format.Num(s.Hi), stretch)
		} else {
			detail := ""
			if mm := math.Round(s.Lo*100) / 10; lo <= mm && mm <= hi && mm != 0 {
				detail = fmt.Sprintf("%s reads like centimetres: write %s", format.Num(s.Lo), format.Num(mm))
			}
			t.Errorf(key, "out-of-reach", detail, "%s %s is out of reach: %s", key, format.Num(s.Lo), stretch)
		}
	case s.Free:
		s.Lo, s.Hi = math.Max(s.Lo, lo), math.Min(s.Hi, hi)
		s.Free = s.Lo < s.Hi
		if !s.Free { // they touch, or miss each other by rounding
			s.Lo = plane.Clamp(s.Lo, lo, hi)
			s.Hi = s.Lo
		}
	}
}

// offered reports a setting that hits none of the values a part offers.
func offered(t *format.Table, key string, s bike.Setting, values []float64) {
	if !s.Given || slices.ContainsFunc(values, func(v float64) bool { return s.Lo-onList <= v && v <= s.Hi+onList }) {
		return
	}
	t.Errorf(key, "not-offered", "the part offers "+listed(values), "%s %s is nothing this part can be set to",
		key, stated(s))
}

// stated is a setting as its file has it.
func stated(s bike.Setting) string {
	if s.Free {
		return fmt.Sprintf("[%s, %s]", format.Num(s.Lo), format.Num(s.Hi))
	}
	return format.Num(s.Lo)
}

// listed writes values for a message, long lists shortened in the middle.
func listed(values []float64) string {
	const most = 12
	var words []string
	for _, v := range values {
		words = append(words, format.Num(v))
	}
	if n := len(words); n > most {
		words = append(words[:most-2], "... "+words[n-1])
	}
	return strings.Join(words, ", ")
}

func (r *reader) saddle() {
	t, ok := r.root.Table("saddle")
	if !ok {
		return
	}
	f, given := &r.b.Saddle, false
	f.Slot, given = slot[saddle.Shape](r, t, partfile.Saddle, "part", "parts")
	f.ClampAt, f.Tilt = setting(t, "clamp_at"), setting(t, "tilt")
	if !given {
		f.Sag = t.Optional("sag")
		t.Unused("of a saddle without a part", "clamp_at", "stretch")
		return
	}
	t.Unused("beside a part, which says its own", "sag")
	r.stretch(t)
	if s := single(f.Slot); s != nil {
		within(t, "clamp_at", &f.ClampAt, s.Rail.From, s.Rail.To, "the stretch of rail that a clamp may hold")
	}
}

// stretch fits the saddle's shape to a measured length and width.
func (r *reader) stretch(t *format.Table) {
	st, ok := t.Table("stretch")
	if !ok {
		return
	}
	f := &r.b.Saddle
	switch {
	case f.Open:
		t.Errorf("stretch", "stretch-open", "write part for the one that is fitted",
			"stretch fits one saddle, and there are several to choose from")
	case !st.Has("length") && !st.Has("width"):
		t.Errorf("stretch", "missing-key", "write stretch = { length = 270.0, width = 145.0 }", "stretch gives neither length nor width")
	case f.Only() != nil && st.Right():
		f.Stretch = bike.Stretch{Length: st.Number("length"), Width: st.Number("width")}
		s, err := f.Only().Stretched(f.Stretch.Length, f.Stretch.Width)
		if err != nil {
			t.Errorf("stretch", "saddle-shape", "", "%v", err)
			return
		}
		f.Options[0].Part = s
	}
}

func (r *reader) bar() {
	t, ok := r.root.Table("bar")
	if !ok { // without one, readings place what the hands hold
		return
	}
	f, given, hasLever := &r.b.Bar, false, false
	f.Slot, given = slot[cockpit.Bar](r, t, partfile.Bar, "part", "parts")
	f.Lever, hasLever = slot[cockpit.Lever](r, t, partfile.Lever, "lever", "levers")
	f.LeverAt, f.Rotation, f.ClampWidth = setting(t, "lever_at"), setting(t, "rotation"), t.Optional("clamp_width")
	for _, key := range []string{"lever", "levers", "lever_at"} {
		if !given && t.Has(key) {
			t.Errorf(key, "lever-without-bar", "give the bar's part, or leave it out: readings then place the hood",
				"%s needs the shape of a bar to sit on", key)
		}
	}
	if b := single(f.Slot); b != nil {
		r.leverOn(t, b)
	}
	if given && hasLever && !t.Has("lever_at") {
		r.assume("where the lever sits is not stated (lever_at in [bar]): taken where the flat run meets the bend")
	}
}

func (r *reader) leverOn(t *format.Table, b *cockpit.Bar) {
	if b.Hood == nil {
		lo, hi := b.LeverTravel()
		within(t, "lever_at", &r.b.Bar.LeverAt, lo, hi, "the stretch of this bar that takes a lever")
		return
	}
	for _, key := range []string{"lever", "levers", "lever_at"} {
		if t.Has(key) {
			t.Errorf(key, "hood-and-lever", "a bar with a measured hood needs no lever: leave it out",
				"this bar gives its hood itself, and %s gives it again", key)
		}
	}
}

func (r *reader) stem() {
	t, ok := r.root.Table("stem")
	if !ok {
		return
	}
	parts, given := slot[cockpit.Stem](r, t, partfile.Stem, "part", "parts")
	needPart(t, given)
	f := &bike.StemFit{Slot: parts}
	r.b.Stem = f
	if flip, ok := t.Bool("flip"); ok {
		f.Flip = &flip
	}
	f.Spacers.Given = t.Has("spacers")
	if free, ok := t.Table("spacers"); ok {
		f.Spacers.Free, f.Spacers.Max, f.Spacers.Step = true, free.Number("max"), free.Number("step")
	} else if f.Spacers.Fixed = t.Number("spacers"); !f.Spacers.Given {
		r.assume("spacers are not stated (spacers in [stem]): none under the stem")
	}
	if !r.root.Has("frame.head_angle") {
		t.Errorf("", "stem-frame", "give head_angle in [frame]", "a stem needs the head angle of the frame")
	}
	if !r.root.Has("steerer") && !(r.root.Has("frame.stack") && r.root.Has("frame.reach")) {
		t.Errorf("", "stem-frame", "give stack and reach (and cover) in [frame], or top = [x, y] in [steerer]",
			"a stem needs to know where the steerer ends: neither frame stack and reach nor a steerer top is given")
	}
}

func (r *reader) clipon() {
	t, ok := r.root.Table("clipon")
	if !ok {
		return
	}
	parts, given := slot[cockpit.Clipon](r, t, partfile.Clipon, "part", "parts")
	needPart(t, given)
	f := &bike.CliponFit{Slot: parts, Tilt: setting(t, "tilt"), Hole: setting(t, "hole"), Stack: setting(t, "stack"),
		Extension: setting(t, "extension"), Spacing: setting(t, "spacing")}
	r.b.Clipon = f
	if c := single(f.Slot); c != nil {
		offered(t, "hole", f.Hole, c.Holes)
		offered(t, "stack", f.Stack, c.Stacks)
		offered(t, "spacing", f.Spacing, c.Spacings)
		within(t, "extension", &f.Extension, c.GripForward[0], c.GripForward[1], "the extension")
		padTilt(t, &f.Tilt, c)
	}
}

// padTilt judges a tilt against the tilts of the part, in degrees.
func padTilt(t *format.Table, s *bike.Setting, c *cockpit.Clipon) {
	dustless := func(rad float64) float64 { return math.Round(plane.Deg(rad)*1e6) / 1e6 } // after radians and back
	lo, hi, step := dustless(c.Tilt[0]), dustless(c.Tilt[1]), dustless(c.TiltStep)
	tilt := *s
	tilt.Lo, tilt.Hi = dustless(s.Lo), dustless(s.Hi)
	if step == 0 {
		within(t, "tilt", &tilt, lo, hi, "the tilt of this part")
		s.Lo, s.Hi, s.Free = plane.Rad(tilt.Lo), plane.Rad(tilt.Hi), tilt.Free
		return
	}
	const slack = 1e-6
	var tilts []float64
	for k := 0.0; lo+k*step <= hi+slack; k++ {
		tilts = append(tilts, lo+k*step)
	}
	offered(t, "tilt", tilt, tilts)
}
