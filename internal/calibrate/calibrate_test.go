package calibrate

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/biketest"
	"carryover/internal/locate"
	"carryover/internal/lsq/lsqtest"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// machine is what a bike really is: its file may say something else.
type machine struct {
	saddle, bar   plane.Point
	angle, unit   []float64
	bent          map[string]float64 // how far the middle of a scale is off, mm
	tilt, turn    float64
	marks         []map[string]float64
	disturb       *rand.Rand // nil: exact
	readingsSigma float64
}

// real is the example frame with anchors, directions and units of its own.
func real(b *bike.Bike) *machine {
	m := &machine{saddle: plane.Point{X: -131, Y: 523}, bar: plane.Point{X: 396, Y: 489}, tilt: plane.Rad(-0.7), turn: plane.Rad(1.1),
		bent: map[string]float64{}, readingsSigma: 1}
	for _, a := range b.Adjusters {
		m.angle, m.unit = append(m.angle, a.Angle+plane.Rad(1.3)), append(m.unit, a.Unit*1.02)
		if a.NoScale {
			m.unit[len(m.unit)-1] = a.Unit
		}
	}
	// Both ends of each scale and a point between, the others left in the middle.
	mid := map[string]float64{}
	for _, a := range b.Adjusters {
		mid[a.Name] = (a.Lo + a.Hi) / 2
	}
	for _, a := range b.Adjusters {
		for _, at := range []float64{a.Lo, (a.Lo + 2*a.Hi) / 3, a.Hi} {
			marks := map[string]float64{}
			for k, v := range mid {
				marks[k] = v
			}
			marks[a.Name] = at
			m.marks = append(m.marks, marks)
		}
	}
	return m
}

// saddleOnly keeps what was measured of the saddle and its adjusters: a search for wrong readings takes its time.
func saddleOnly(b *bike.Bike) {
	b.Calibrations = b.Calibrations[:6]
	for i := range b.Calibrations {
		r := b.Calibrations[i].Readings
		b.Calibrations[i].Readings = []bike.Reading{r[0], r[1], r[4]}
	}
}

// enter writes the entries that measuring the machine gives.
func (m *machine) enter(t testing.TB, b *bike.Bike) {
	t.Helper()
	b.Calibrations = nil
	on := func(k saddle.RefKind) bike.Place {
		return bike.Place{Kind: bike.AtSaddle, Ref: saddle.Reference{Kind: k}}
	}
	bb, bar := bike.Place{Kind: bike.AtBB}, bike.Place{Kind: bike.AtBar}
	list := []bike.Reading{
		{Kind: bike.Line, From: bb, To: on(saddle.Mid), Written: "saddle-height"},
		{Kind: bike.Level, From: on(saddle.Nose), To: bb, Written: "setback"},
		{Kind: bike.Line, From: on(saddle.Nose), To: bar, Written: "nose-to-bar"},
		{Kind: bike.Line, From: bb, To: bar, Written: "line from bb to bar"},
		{Kind: bike.Angle, Of: bike.SaddleBody, Written: "saddle-tilt"},
	}
	layout := assembly.New(b, bike.Posture{})
	for _, marks := range m.marks {
		c := bike.Calibration{Marks: map[string]float64{}}
		s := &assembly.Placement{Layout: layout}
		poses := map[bike.Moves]plane.Point{bike.MovesSaddle: m.saddle, bike.MovesBar: m.bar}
		for i, a := range b.Adjusters {
			mark := marks[a.Name]
			c.Marks[a.Name] = mark
			u := (mark - a.Lo) / (a.Hi - a.Lo)
			travel := m.unit[i]*mark + m.bent[a.Name]*4*u*(1-u)
			if m.disturb != nil {
				travel += a.Sigma * m.disturb.NormFloat64()
			}
			poses[a.Moves] = poses[a.Moves].Add(plane.Direction(m.angle[i]).Scale(travel))
		}
		rail := plane.Point{X: b.Saddle.ClampAt.Mid(), Y: layout.Shape.Rail.Height}
		s.Poses[assembly.Saddle] = plane.Pose{Origin: poses[bike.MovesSaddle].Add(rail.Turn(m.tilt)), Turn: m.tilt}
		s.Poses[assembly.Bar] = plane.Pose{Origin: poses[bike.MovesBar], Turn: m.turn}
		for i, r := range list {
			v, _, err := s.ReadingOf(r)
			require.NoError(t, err)
			r.Value, r.Index, r.Sigma = v, i+1, m.readingsSigma
			if r.Kind == bike.Angle {
				r.Sigma = plane.Rad(0.3)
			}
			if m.disturb != nil {
				r.Value += r.Sigma * m.disturb.NormFloat64()
			}
			c.Readings = append(c.Readings, r)
		}
		b.Calibrations = append(b.Calibrations, c)
	}
}

// truth is what a parameter really is.
func (m *machine) truth(p Parameter) float64 {
	switch {
	case p.Kind == locate.Direction:
		return m.angle[p.Adjuster]
	case p.Kind == locate.Unit:
		return m.unit[p.Adjuster]
	case p.Saddle && p.Kind == locate.AnchorX:
		return m.saddle.X
	case p.Saddle:
		return m.saddle.Y
	case p.Kind == locate.AnchorX:
		return m.bar.X
	}
	return m.bar.Y
}

func TestAnExactlyMeasuredMachineIsLearnedExactly(t *testing.T) {
	b := biketest.Example(t, "studio")
	m := real(b)
	m.enter(t, b)
	r, err := Calibrate(b, Options{})
	require.NoError(t, err)
	fitted := 0
	for _, p := range r.Parameters {
		if p.Kind == locate.Unit && b.Adjusters[p.Adjuster].NoScale {
			assert.False(t, p.Fitted, "a tape from the stop needs no unit")
			continue
		}
		fitted++
		require.True(t, p.Fitted, "%+v", p)
		assert.Empty(t, p.Needs)
		assert.InDelta(t, m.truth(p), p.Value, 1e-6, "%+v", p)
		assert.Greater(t, p.Sigma, 0.0)
		assert.NotEqual(t, p.Before, p.Value)
	}
	assert.Equal(t, 4+4+3, fitted)
	assert.InDelta(t, 0, r.Chi2, 1e-9)
	for _, l := range r.Linear {
		assert.True(t, l.Tested)
		assert.True(t, l.Straight)
		assert.Equal(t, 4, l.Points, "ends, a third, and the middle where the others are entered")
		assert.InDelta(t, 0, l.Bend, 1e-5)
	}
}

// The derivatives of the model against central differences.
func TestDerivativesOfTheModel(t *testing.T) {
	b := biketest.Example(t, "studio")
	b.Adjusters = append(b.Adjusters, bike.Adjuster{Name: "tilt wheel", Moves: bike.MovesSaddleTilt, Unit: plane.Rad(0.5), Lo: -10, Hi: 10,
		Sigma: plane.Rad(0.3)})
	m := real(b)
	m.unit[4] = plane.Rad(0.5)
	m.enter(t, b)
	a, err := locate.Entries(b)
	require.NoError(t, err)
	k := &learner{b: b, entries: a}
	k.listNumbers(Options{})
	for i := range b.Adjusters {
		k.learn = append(k.learn, locate.Number{Kind: locate.Bend, Adjuster: i})
	}
	p := a.Learn(k.learn)
	for j := range p.Start {
		p.Start[j] += 0.03 * p.Scale[j]
	}
	assert.Less(t, lsqtest.JacobianError(p.Model, p.Start, p.Sigmas, p.Scale), 1e-7)
}

// A bike that is read as it stands is a calibration of one entry: with the anchors held, or as good as unknown, both say the same of
// every reading and mark.
func TestAsItStandsIsOneEntry(t *testing.T) {
	for _, c := range []struct {
		why    string
		sigma  float64 // of the anchors as the file has them, mm
		anchor bool    // learnt
	}{{"anchors held", 0, false}, {"anchors unknown", 1e6, true}} {
		t.Run(c.why, func(t *testing.T) {
			b := biketest.Example(t, "studio")
			m := real(b)
			m.disturb = rand.New(rand.NewPCG(31, 0))
			m.enter(t, b)
			entry := b.Calibrations[7]
			b.Calibrations = []bike.Calibration{entry}
			b.Marks, b.Readings, b.AnchorSigma = entry.Marks, entry.Readings, c.sigma
			only := []locate.Number{}
			if c.anchor {
				only = locate.Numbers(b)[:4]
			}
			one, err := Calibrate(b, Options{Only: only, Significance: 1e-9})
			require.NoError(t, err)
			a, err := locate.Adjust(b, nil, locate.Options{Significance: 1e-9})
			require.NoError(t, err)
			require.Len(t, one.Readings, len(entry.Readings)+len(entry.Marks))
			for i, said := range a.Judged()[:len(one.Readings)] {
				of := one.Readings[i]
				assert.Equal(t, a.Observations[i].Reading, of.Reading)
				assert.InDelta(t, said.Fitted, of.Fitted, 1e-6)
				assert.InDelta(t, said.Residual, of.Residual, 1e-6)
				assert.InDelta(t, said.Normalized, of.Normalized, 1e-6)
				assert.InDelta(t, said.Redundancy, of.Redundancy, 1e-6)
			}
			if all := a.Global(); !c.anchor {
				assert.Positive(t, one.DOF)
				assert.Equal(t, all.DOF, one.DOF)
				assert.InEpsilon(t, all.Chi2, one.Chi2, 1e-6)
				assert.InEpsilon(t, all.P, one.P, 1e-6)
				return
			}
			for i, o := range a.Observations {
				if o.Origin == locate.FromAnchor {
					p := one.Parameters[slices.IndexFunc(one.Parameters, func(p Parameter) bool { return a.Unknown(p.Number) == o.Unknown })]
					require.True(t, p.Fitted)
					assert.InDelta(t, a.Judged()[i].Fitted, p.Value, 1e-5)
					assert.InDelta(t, a.Search.Final.Sigma(o.Unknown), p.Sigma, 1e-5)
				}
			}
		})
	}
}

// Estimates of disturbed measurements spread as they say: the sum of squared errors over sigma² of each
// parameter over many machines is chi-square distributed.
func TestTheUncertaintyOfParametersIsHonest(t *testing.T) {
	const seed = 5
	n := 12
	if testing.Short() {
		n = 3
	}
	r := rand.New(rand.NewPCG(seed, 0))
	b := biketest.Example(t, "studio")
	m := real(b)
	m.disturb = r
	sums := map[int]float64{}
	nonlinear, chi := 0, 0.0
	dof := 0
	for range n {
		m.enter(t, b)
		res, err := Calibrate(b, Options{})
		require.NoError(t, err)
		for i, p := range res.Parameters {
			if p.Fitted {
				d := (p.Value - m.truth(p)) / p.Sigma
				sums[i] += d * d
			}
		}
		for _, l := range res.Linear {
			if !l.Straight {
				nonlinear++
			}
		}
		chi, dof = chi+res.Chi2, dof+res.DOF
	}
	of := distuv.ChiSquared{K: float64(n)}
	lo, hi := of.Quantile(1e-5), of.Quantile(1-1e-5)
	for i, s := range sums {
		assert.Greater(t, s, lo, "parameter %d", i)
		assert.Less(t, s, hi, "parameter %d", i)
	}
	t.Logf("seed %d: %d of %d straight scales called bent; chi-square %.0f for %d", seed, nonlinear, 4*n, chi, dof)
	assert.LessOrEqual(t, nonlinear, 3, "at 0.1 % more than three of 100 has a chance of 4e-6")
	assert.InEpsilon(t, float64(dof), chi, 0.1)
}

// A bent scale is found where the bend stands out from its ±, and a straight one, or one that was read too badly to tell, passes.
func TestABentScaleIsFound(t *testing.T) {
	for _, c := range []struct {
		sigma float64 // of the readings, mm
		found bool
	}{{1, true}, {20, false}} {
		b := biketest.Example(t, "studio")
		m := real(b)
		m.bent["saddle post"], m.readingsSigma = 8, c.sigma
		m.disturb = rand.New(rand.NewPCG(6, 0))
		m.enter(t, b)
		if testing.Short() {
			saddleOnly(b)
		}
		r, err := Calibrate(b, Options{})
		require.NoError(t, err)
		for _, l := range r.Linear {
			post := b.Adjusters[l.Adjuster].Name == "saddle post"
			t.Logf("%s bend %.2f ± %.2f", b.Adjusters[l.Adjuster].Name, l.Bend, l.Sigma)
			assert.Equal(t, post && c.found, !l.Straight)
			if post {
				assert.InDelta(t, 8, l.Bend, 4*l.Sigma)
			}
		}
	}
}

// A reading that is wrong by far, or a mark, makes no scale look bent.
func TestAWrongEntryBendsNoScale(t *testing.T) {
	for _, wrong := range []func(c *bike.Calibration){
		func(c *bike.Calibration) { c.Readings[0].Value -= 450 },
		func(c *bike.Calibration) { c.Readings[1].Value += 40 },
	} {
		b := biketest.Example(t, "studio")
		m := real(b)
		m.disturb = rand.New(rand.NewPCG(8, 0))
		m.enter(t, b)
		saddleOnly(b)
		wrong(&b.Calibrations[1])
		r, err := Calibrate(b, Options{})
		require.NoError(t, err)
		suspects := 0
		for _, k := range r.Readings {
			if k.Suspect {
				suspects++
			}
		}
		assert.Equal(t, 1, suspects)
		for _, l := range r.Linear {
			assert.Equal(t, b.Adjusters[l.Adjuster].Moves == bike.MovesSaddle, l.Tested)
			assert.True(t, l.Straight, "%s: %.1f ± %.1f", b.Adjusters[l.Adjuster].Name, l.Bend, l.Sigma)
		}
	}
}

// What is fitted but hardly known, or checked by nothing, is in doubt; a whole set of entries leaves no doubt.
func TestWhatTheEntriesHardlyTellIsInDoubt(t *testing.T) {
	b := biketest.Example(t, "studio")
	m := real(b)
	m.disturb = rand.New(rand.NewPCG(9, 0))
	m.enter(t, b)
	r, err := Calibrate(b, Options{})
	require.NoError(t, err)
	assert.Empty(t, r.Doubtful())

	// The post at two marks, one reading too few to check anything.
	only := func(readings ...int) *Result {
		b := biketest.Example(t, "studio")
		m := real(b)
		m.enter(t, b)
		b.Calibrations = []bike.Calibration{b.Calibrations[0], b.Calibrations[2]}
		for i := range b.Calibrations {
			var kept []bike.Reading
			for _, k := range readings {
				kept = append(kept, b.Calibrations[i].Readings[k])
			}
			b.Calibrations[i].Readings = kept
		}
		r, err := Calibrate(b, Options{})
		require.NoError(t, err)
		return r
	}
	r = only(0, 1)
	require.NotEmpty(t, r.Doubtful())
	assert.Equal(t, 0, r.DOF)
	for _, p := range r.Doubtful() {
		assert.Contains(t, p.Doubt, "checked by no other reading")
		assert.NotEmpty(t, p.Needs)
	}

	// Two readings of the tilt check each other, and hardly shape where the clamp is, which nothing else checks.
	m.readingsSigma = 5
	m.enter(t, b)
	entry := &b.Calibrations[0]
	entry.Readings = []bike.Reading{entry.Readings[0], entry.Readings[1], entry.Readings[4], entry.Readings[4]}
	b.Calibrations = b.Calibrations[:1]
	r, err = Calibrate(b, Options{Only: locate.Numbers(b)[:2]})
	require.NoError(t, err)
	require.Equal(t, 1, r.DOF)
	for _, p := range r.Parameters[:2] {
		require.True(t, p.Fitted)
		assert.Equal(t, unchecked, p.Doubt)
	}

	// Everything read, but no better than by eye.
	m.disturb, m.readingsSigma = nil, 40
	m.enter(t, b)
	r, err = Calibrate(b, Options{})
	require.NoError(t, err)
	for _, p := range r.Parameters {
		if p.Fitted && p.Kind == locate.AnchorX {
			require.Greater(t, p.Sigma, float64(worstMM))
			assert.Contains(t, p.Doubt, "known to ± ")
		}
	}
}

// Three marks tell no bend where nothing was read at the one between.
func TestAMarkWithoutReadingsTellsNoBend(t *testing.T) {
	b := biketest.Example(t, "studio")
	m := real(b)
	for i, marks := range m.marks[:3] { // the post alone at three marks
		marks["saddle post"] = []float64{0, 15, 30}[i]
	}
	m.marks = m.marks[:3]
	m.enter(t, b)
	for _, read := range []bool{true, false} {
		if !read {
			b.Calibrations[1].Readings = nil
		}
		r, err := Calibrate(b, Options{})
		require.NoError(t, err)
		assert.Equal(t, 3, r.Linear[0].Points)
		assert.Equal(t, read, r.Linear[0].Tested)
	}
}

func TestTwoPointsCannotTellABend(t *testing.T) {
	b := biketest.Example(t, "studio")
	m := real(b)
	for _, marks := range m.marks {
		for _, a := range b.Adjusters {
			if v := marks[a.Name]; v != a.Lo && v != a.Hi {
				marks[a.Name] = a.Lo
			}
		}
	}
	m.enter(t, b)
	r, err := Calibrate(b, Options{})
	require.NoError(t, err)
	for _, l := range r.Linear {
		assert.Equal(t, 2, l.Points)
		assert.False(t, l.Tested)
	}
}

// An adjuster of a half that no entry reads needs a reading; the anchor of that half needs none, as the half is not asked for.
func TestWhatNoReadingSeesIsNamed(t *testing.T) {
	b := biketest.Example(t, "studio")
	real(b).enter(t, b)
	saddleOnly(b)
	b.Calibrations = b.Calibrations[:3]
	r, err := Calibrate(b, Options{Only: locate.Numbers(b)})
	require.NoError(t, err)
	for _, p := range r.Parameters {
		bar := p.Adjuster >= 0 && b.Adjusters[p.Adjuster].Moves == bike.MovesBar
		assert.Equal(t, bar, strings.HasPrefix(p.Needs, "a reading that sees what it moves"), "%+v", p)
	}
}

// What the entries cannot tell stays as it is and is named, with the entry that would tell it.
func TestWhatTheEntriesCannotTellIsNamed(t *testing.T) {
	for _, still := range []map[int]float64{{1: 0, 2: 17.5}, {0: 0}, {0: 0, 1: 0}} { // adjusters left alone, at which mark
		b := biketest.Example(t, "studio")
		m := real(b)
		for i, at := range still {
			for _, marks := range m.marks {
				marks[b.Adjusters[i].Name] = at
			}
			m.angle[i], m.unit[i] = b.Adjusters[i].Angle, b.Adjusters[i].Unit
		}
		m.enter(t, b)
		r, err := Calibrate(b, Options{})
		require.NoError(t, err)
		named := 0
		for _, p := range r.Parameters {
			if _, left := still[p.Adjuster]; left {
				named++
				assert.False(t, p.Fitted)
				assert.Equal(t, p.Before, p.Value)
				assert.Contains(t, p.Needs, b.Adjusters[p.Adjuster].Name)
				assert.Contains(t, p.Needs, "at another mark")
				continue
			}
			if p.Fitted {
				assert.InDelta(t, m.truth(p), p.Value, 1e-6, "%+v", p)
			}
		}
		assert.Equal(t, 2*len(still), named)
	}
}
