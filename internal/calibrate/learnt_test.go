package calibrate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/bike"
	"carryover/internal/biketest"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// An adjuster without a scale: entries at its stop give mark 0, others nothing.
func TestAnAdjusterWithoutAScaleCountsFromItsStop(t *testing.T) {
	b := biketest.Example(t, "studio")
	m := real(b)
	slide := &b.Adjusters[3]
	require.True(t, slide.NoScale)
	for _, marks := range m.marks { // pushed back to its stop while the others are entered
		if marks["bar slide"] == (slide.Lo+slide.Hi)/2 {
			marks["bar slide"] = 0
		}
	}
	m.enter(t, b)
	for e := range b.Calibrations {
		if m.marks[e]["bar slide"] != 0 {
			delete(b.Calibrations[e].Marks, "bar slide")
		}
	}
	r, err := Calibrate(b, Options{})
	require.NoError(t, err)
	for _, p := range r.Parameters {
		if p.Adjuster == 3 && p.Kind == locate.Direction {
			assert.True(t, p.Fitted)
			assert.InDelta(t, m.angle[3], p.Value, 1e-6)
		}
		if p.Adjuster < 0 && !p.Saddle {
			assert.True(t, p.Fitted)
			assert.InDelta(t, m.truth(p), p.Value, 1e-5)
		}
	}

	// Pulled out somewhere while the post is entered, it hides what the post's unit is: that is said.
	m = real(b)
	m.enter(t, b)
	for e := range b.Calibrations {
		if m.marks[e]["bar slide"] != 0 {
			delete(b.Calibrations[e].Marks, "bar slide")
		}
	}
	r, err = Calibrate(b, Options{})
	require.NoError(t, err)
	for _, p := range r.Parameters {
		if p.Adjuster == 2 && p.Kind == locate.Unit {
			assert.False(t, p.Fitted)
			assert.Contains(t, p.Needs, `"bar slide" at its stop`)
		}
	}
}

func TestAWrongEntryIsNamed(t *testing.T) {
	b := biketest.Example(t, "studio")
	m := real(b)
	m.disturb = rand.New(rand.NewPCG(8, 0))
	m.enter(t, b)
	if testing.Short() {
		saddleOnly(b)
	}
	b.Calibrations[4].Readings[0].Value += 50
	r, err := Calibrate(b, Options{})
	require.NoError(t, err)
	var suspects []Reading
	for _, k := range r.Readings {
		if k.Suspect {
			suspects = append(suspects, k)
		}
	}
	require.Len(t, suspects, 1)
	assert.Equal(t, 4, suspects[0].Entry)
	assert.Equal(t, 1, suspects[0].Reading.Index)
}

func TestOnlyWhatIsAskedForIsFitted(t *testing.T) {
	b := biketest.Example(t, "studio")
	m := real(b)
	m.enter(t, b)
	if testing.Short() {
		saddleOnly(b)
	}
	b.Adjusters[3].Moves = bike.MovesBarRotation
	post, err := ParseNumbers(b, "saddle post = unit, angle")
	require.Error(t, err, "the name is as it stands")
	require.Empty(t, post)
	post, err = ParseNumbers(b, "saddle post=angle")
	require.NoError(t, err)
	both, err := ParseNumbers(b, "saddle post=unit, angle")
	require.NoError(t, err)
	all, err := ParseNumbers(b, "saddle post")
	require.NoError(t, err)
	assert.ElementsMatch(t, all, both)
	assert.Len(t, all, 2)
	turns, err := ParseNumbers(b, "bar slide")
	require.NoError(t, err)
	assert.Equal(t, []locate.Number{{Kind: locate.Unit, Adjuster: 3}}, turns)
	clamp, err := ParseNumbers(b, "saddle_clamp")
	require.NoError(t, err)
	b.Adjusters[3].Moves = bike.MovesBar
	r, err := Calibrate(b, Options{Only: append(post, clamp...)})
	require.NoError(t, err)
	for _, p := range r.Parameters {
		want := p.Adjuster == 0 && p.Kind == locate.Direction || p.Adjuster < 0 && p.Saddle
		assert.Equal(t, want, p.Fitted, "%+v", p)
	}
	for text, say := range map[string]string{
		"sadle post": "nothing to fit is called", "saddle post=colour": "angle and unit can be fitted",
		"=angle": `nothing to fit is called ""`, "saddle post=": "angle and unit can be fitted",
		"saddle_clamp=angle": "angle and unit can be fitted", "dial=angle": "turns something",
	} {
		b.Adjusters[3].Name, b.Adjusters[3].Moves = "dial", bike.MovesBarRotation
		_, err := ParseNumbers(b, text)
		assert.ErrorContains(t, err, say)
	}
}

func TestFilesThatCannotBeCalibrated(t *testing.T) {
	b := biketest.Example(t, "studio")
	_, err := Calibrate(b, Options{})
	assert.ErrorContains(t, err, "has no [[calibration]]")

	b.Calibrations = []bike.Calibration{{Marks: map[string]float64{"saddle post": 3}}}
	r, err := Calibrate(b, Options{})
	if err == nil {
		for _, p := range r.Parameters {
			assert.False(t, p.Fitted)
		}
	}

	m := real(b)
	m.enter(t, b)
	b.Calibrations[0].Readings[0].Sigma = -1
	_, err = Calibrate(b, Options{})
	assert.ErrorContains(t, err, "cannot be adjusted")
	b.Saddle.Open = true
	_, err = Calibrate(b, Options{})
	assert.ErrorContains(t, err, "open slot")
}

// A scale made to a plain unit keeps it where the entries do not contradict it, and loses it where they do.
func TestAPlainUnitStays(t *testing.T) {
	for _, c := range []struct {
		unit float64
		kept bool
	}{{10, true}, {10.6, false}} {
		b := biketest.Example(t, "studio")
		m := real(b)
		m.unit[0] = c.unit
		m.enter(t, b)
		r, err := Calibrate(b, Options{})
		require.NoError(t, err)
		for _, p := range r.Parameters {
			if p.Kind == locate.Unit && p.Adjuster == 0 {
				assert.Equal(t, c.kept, p.Kept)
				assert.Equal(t, c.kept, p.Value == 10, "%v", p.Value)
			}
		}
	}
}

// What is asked for is the first check of that half that is lacking, not what is there; and where all are there, another entry.
func TestAdviceNamesWhatIsMissing(t *testing.T) {
	b := biketest.Example(t, "studio")
	b.Adjusters = append(b.Adjusters, bike.Adjuster{Name: "tilt wheel", Moves: bike.MovesSaddleTilt, Unit: plane.Rad(0.5),
		Sigma: plane.Rad(0.3)})
	post, stem, wheel := 0, 2, 4
	anchor, of := locate.Number{Kind: locate.AnchorX, Saddle: true, Adjuster: -1},
		func(i int) locate.Number { return locate.Number{Adjuster: i, Kind: locate.Unit} }
	known, line, level, plumb := "known to ± 12.0 mm only", bike.Line, bike.Level, bike.Plumb
	for _, c := range []struct {
		read  []bike.Kind
		of    locate.Number
		doubt string
		asks  string
	}{
		{[]bike.Kind{line, level}, anchor, unchecked, "a check: floor-height of the saddle"},
		{[]bike.Kind{line, plumb}, of(post), unchecked, "a check: setback"},
		{[]bike.Kind{level}, of(wheel), unchecked, "a check: saddle-height"},
		{[]bike.Kind{line, level, plumb}, of(post), unchecked, "one more entry at other marks, with the same readings of the saddle"},
		{[]bike.Kind{level, plumb}, of(stem), unchecked, "a check: nose-to-bar"},
		{[]bike.Kind{line, plumb}, locate.Number{Adjuster: -1}, unchecked, "a check: reach to the bar"},
		{[]bike.Kind{line, level, plumb}, of(stem), unchecked, "one more entry at other marks, with the same readings of the bar"},
		{[]bike.Kind{line, level}, anchor, known, "marks of what moves it nearer to 0"},
		{[]bike.Kind{line}, anchor, known, "readings in one entry that fix the part both ways"},
		{[]bike.Kind{line, level}, of(post), known, `an entry with "saddle post" at another mark than 3`},
	} {
		entry := bike.Calibration{Marks: map[string]float64{"saddle post": 3}}
		for _, k := range c.read {
			for _, to := range []bike.Place{biketest.Mid, biketest.At(bike.AtBar)} {
				if onSaddle := to == biketest.Mid; onSaddle == (c.of != of(stem) && c.of != (locate.Number{Adjuster: -1})) {
					entry.Readings = append(entry.Readings, bike.Reading{Kind: k, From: biketest.BB, To: to, Value: 500, Sigma: 1})
				}
			}
		}
		b.Calibrations = []bike.Calibration{entry}
		entries, err := locate.Entries(b)
		require.NoError(t, err)
		assert.Contains(t, (&learner{b: b, entries: entries}).helps(&Parameter{Number: c.of, Doubt: c.doubt}), c.asks, "%+v", c)
	}
}

// A number is in doubt where what it makes of the far end of its scale, or an anchor or direction itself, is known no better than to
// 10 mm or 2°; the words say how well it is known.
func TestHowWellANumberMustBeKnown(t *testing.T) {
	b := biketest.Example(t, "studio")
	b.Adjusters = append(b.Adjusters, bike.Adjuster{Name: "tilt wheel", Moves: bike.MovesSaddleTilt, Unit: plane.Rad(0.5), Lo: -10, Hi: 4,
		Sigma: plane.Rad(0.3)})
	o := Options{Only: slices.DeleteFunc(locate.Numbers(b), func(n locate.Number) bool {
		return n.Kind == locate.Unit && b.Adjusters[n.Adjuster].NoScale
	})}
	saw := map[[2]bool]int{} // a unit, in doubt
	for _, sigma := range []float64{1, 8, 20} {
		m := real(b)
		b.Adjusters[0].Sigma, b.Adjusters[1].Sigma = sigma, sigma // marks that help as little as the tape
		m.unit[4], m.readingsSigma = plane.Rad(0.5), sigma
		m.enter(t, b)
		for e := range b.Calibrations {
			b.Calibrations[e].Readings[4].Sigma *= sigma
		}
		r, err := Calibrate(b, o)
		require.NoError(t, err)
		for _, p := range r.Parameters {
			if !p.Fitted {
				continue
			}
			off, limit := p.Sigma, 10.0
			if p.On(b).Turns() {
				limit = plane.Rad(2)
			}
			if p.Kind == locate.Unit {
				off *= max(math.Abs(b.Adjusters[p.Adjuster].Lo), math.Abs(b.Adjusters[p.Adjuster].Hi))
			}
			if said := strings.HasPrefix(p.Doubt, "known to ± "); assert.Equal(t, off > limit, said, "%+v", p) && said {
				assert.Contains(t, p.Doubt, fmt.Sprintf("± %.1f", r.Quantity(p, off).Shown()))
				assert.Equal(t, p.Kind == locate.Unit, strings.HasSuffix(p.Doubt, "at the end of its scale"))
				assert.NotEmpty(t, p.Needs)
			}
			assert.NotEqual(t, unchecked, p.Doubt, "there are readings to spare")
			saw[[2]bool{p.Kind == locate.Unit, off > limit}]++
		}
	}
	assert.Len(t, saw, 4)
}

// A turn that nothing states or reads is told as an assumption where some reading sees it, and not where none does.
func TestWhatIsAssumedInEveryEntry(t *testing.T) {
	saddle, bar := "the saddle tilt is neither stated nor read: taken as 0.0° ± 1.5° in every entry", "the bar rotation is neither"
	for _, c := range []struct {
		kept []int // readings of each entry
		hood bool
		says []string
	}{
		{[]int{0, 1, 2, 3, 4}, false, nil},
		{[]int{0, 1, 2, 3}, false, []string{saddle}},
		{[]int{0, 1, 4}, true, []string{bar}},
	} {
		b := biketest.Example(t, "studio")
		real(b).enter(t, b)
		for e := range b.Calibrations {
			var kept []bike.Reading
			for _, k := range c.kept {
				kept = append(kept, b.Calibrations[e].Readings[k])
			}
			if c.hood {
				kept = append(kept, bike.Reading{Kind: bike.Plumb, From: biketest.BB, To: biketest.At(bike.AtHood), Value: 620, Sigma: 200})
			}
			b.Calibrations[e].Readings = kept
		}
		r, err := Calibrate(b, Options{Only: []locate.Number{}})
		require.NoError(t, err)
		require.Len(t, r.Assumptions, len(c.says), "%v", r.Assumptions)
		for i, say := range c.says {
			assert.Contains(t, r.Assumptions[i], say)
		}
	}
}

// A number is written with as many decimals as its uncertainty gives a meaning to and one more, mm or degrees, at least one.
func TestNumbersAreWrittenAsWellAsTheyAreKnown(t *testing.T) {
	r := &Result{Bike: &bike.Bike{Adjusters: []bike.Adjuster{{Moves: bike.MovesSaddle}, {Moves: bike.MovesSaddleTilt}}}}
	for _, c := range []struct {
		p    Parameter
		want string
	}{
		{Parameter{Number: locate.Number{Kind: locate.Unit}, Fitted: true, Value: 1.23456, Sigma: 0.02}, "1.235"},
		{Parameter{Number: locate.Number{Kind: locate.Unit}, Fitted: true, Value: 1.23456, Sigma: 0.5}, "1.23"},
		{Parameter{Number: locate.Number{Kind: locate.Unit}, Fitted: true, Value: 1.23456, Sigma: 1}, "1.2"},
		{Parameter{Number: locate.Number{Kind: locate.Unit}, Fitted: true, Value: 1.23456, Sigma: 40}, "1.2"},
		{Parameter{Number: locate.Number{Kind: locate.Unit}, Fitted: true, Value: 1.23456789, Sigma: 1e-9}, "1.234568"},
		{Parameter{Number: locate.Number{Kind: locate.Unit}, Fitted: true, Value: -0.001, Sigma: 5}, "0.0"},
		{Parameter{Number: locate.Number{Kind: locate.Direction}, Fitted: true, Value: plane.Rad(73.4567), Sigma: plane.Rad(0.3)}, "73.46"},
		{Parameter{Number: locate.Number{Kind: locate.Unit, Adjuster: 1}, Fitted: true, Value: plane.Rad(2), Sigma: plane.Rad(0.06)}, "2.000"},
		{Parameter{Number: locate.Number{Kind: locate.Unit}, Value: 1.23456789, Sigma: 40}, "1.234568"},
	} {
		assert.Equal(t, c.want, r.shown(c.p), "%+v", c.p)
	}
}

// What hides an adjuster at several marks is another that moves the same part and whose mark is not said.
func TestWhatHidesAnAdjusterIsNamed(t *testing.T) {
	b := biketest.Example(t, "studio")
	for _, mark := range []float64{20, 120} {
		b.Calibrations = append(b.Calibrations, bike.Calibration{Marks: map[string]float64{"bar slide": mark},
			Readings: []bike.Reading{{Kind: bike.Level, From: biketest.BB, To: biketest.At(bike.AtBar), Value: 500, Sigma: 1}}})
	}
	entries, err := locate.Entries(b)
	require.NoError(t, err)
	slide := &Parameter{Number: locate.Number{Kind: locate.Direction, Adjuster: 3}}
	assert.Equal(t, `an entry with "bar slide" at another mark and "bar post" whose mark is entered too`, (&learner{b: b,
		entries: entries}).needs(slide))
}

// With the unit of one scale alone to be learnt its marks stand for what that unit makes of them.
func TestMarksCountByTheUnitThatIsLearnt(t *testing.T) {
	b := biketest.Example(t, "studio")
	m := real(b)
	m.enter(t, b)
	saddleOnly(b)
	b.SaddleAnchor = &m.saddle
	for i := range b.Adjusters {
		if b.Adjusters[i].Angle = m.angle[i]; i > 0 {
			b.Adjusters[i].Unit = m.unit[i]
		}
	}
	r, err := Calibrate(b, Options{Only: []locate.Number{{Kind: locate.Unit, Adjuster: 0}}})
	require.NoError(t, err)
	marks := 0
	for _, k := range r.Readings {
		if k.Origin == locate.FromMark && k.Adjuster == 0 {
			assert.InDelta(t, m.unit[0]*k.Mark, k.Value.Value(), 1e-4)
			assert.InDelta(t, k.Mark, k.FittedMark, 1e-4)
			marks++
		}
	}
	assert.Positive(t, marks)
}

// Of entries without errors every mark and every reading fits what was read.
func TestWhatIsExactFits(t *testing.T) {
	b := biketest.Example(t, "studio")
	b.Adjusters = append(b.Adjusters, bike.Adjuster{Name: "tilt wheel", Moves: bike.MovesSaddleTilt, Unit: plane.Rad(0.5), Lo: -10, Hi: 10,
		Sigma: plane.Rad(0.3)})
	m := real(b)
	m.unit[4] = plane.Rad(0.5)
	for _, marks := range m.marks {
		marks["tilt wheel"] = m.tilt / m.unit[4]
	}
	m.enter(t, b)
	r, err := Calibrate(b, Options{})
	require.NoError(t, err)
	marks := 0
	for _, k := range r.Readings {
		assert.InDelta(t, k.Value.Value(), k.Fitted, 1e-4, "%+v", k)
		if k.Reading != nil {
			assert.Equal(t, k.Reading.Kind == bike.Angle, k.Value.Turns())
		} else {
			assert.Equal(t, b.Adjusters[k.Adjuster].Moves.Turns(), k.Value.Turns())
			assert.InDelta(t, k.Mark, k.FittedMark, 1e-4)
			assert.Equal(t, b.Calibrations[k.Entry].Marks[b.Adjusters[k.Adjuster].Name], k.Mark)
			marks++
		}
	}
	assert.Positive(t, marks)
}
