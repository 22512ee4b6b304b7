package confirm

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/biketest"
	"carryover/internal/carry"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// setUp is the example position carried to the studio frame, and that frame set up so: marks as solved and
// readings of what then stands there, all exact.
type setUp struct {
	source  *bike.Bike
	pos     locate.Position
	effects []locate.Effect
	answer  *carry.Solution
	frame   *bike.Bike
	truth   *assembly.Placement
}

func set(t testing.TB) setUp {
	t.Helper()
	var s setUp
	s.source = biketest.Example(t, "road")
	s.locate(t)
	s.frame = biketest.Example(t, "studio")
	s.frame.Feet.Crank = 170
	var err error
	s.answer, err = carry.Solve(context.Background(), s.frame, s.source, &s.pos, carry.Options{})
	require.NoError(t, err)
	truth := *s.answer.Placement
	s.truth = &truth
	s.frame.Marks = map[string]float64{}
	for _, k := range s.answer.Settings {
		if k.Adjuster >= 0 {
			s.frame.Marks[k.Name] = k.Mark()
		}
	}
	return s
}

// locate says where the position is by the readings of the source, and what it depends on.
func (s *setUp) locate(t testing.TB) {
	t.Helper()
	a, err := locate.Adjust(s.source, nil, locate.Options{})
	require.NoError(t, err)
	s.pos, err = a.Position(s.source.Postures[0])
	require.NoError(t, err)
	s.effects, err = a.Effects(s.source.Postures[0])
	require.NoError(t, err)
}

// shift moves the saddle or the bar of what really stands there along an adjuster, mm, with its scale left
// as it is when scale is false.
func (s *setUp) shift(t testing.TB, adjuster string, by float64, scale bool) {
	t.Helper()
	for i := range s.frame.Adjusters {
		a := &s.frame.Adjusters[i]
		if a.Name != adjuster {
			continue
		}
		body := assembly.Saddle
		if a.Moves == bike.MovesBar {
			body = assembly.Bar
		}
		s.truth.Poses[body].Origin = s.truth.Poses[body].Origin.Add(a.Direction().Scale(by))
		if scale {
			s.frame.Marks[adjuster] += by / a.Unit
		}
		return
	}
	require.Fail(t, "no adjuster", adjuster)
}

// read takes the usual readings on what really stands there.
func (s *setUp) read(t testing.TB) {
	t.Helper()
	checks, err := s.answer.Checks()
	require.NoError(t, err)
	s.frame.Readings = nil
	for i, c := range checks {
		r := c.Reading
		v, _, err := s.truth.ReadingOf(r)
		require.NoError(t, err)
		r.Value, r.Index, r.Sigma = v, i+1, 1
		if r.Kind == bike.Angle {
			r.Sigma = plane.Rad(0.3)
		}
		s.frame.Readings = append(s.frame.Readings, r)
	}
}

func (s *setUp) check(t testing.TB) (*Standing, *Result) {
	t.Helper()
	stand, err := Stand(s.frame, nil, s.source.Postures)
	require.NoError(t, err)
	r, err := Check(context.Background(), stand, From{Feet: s.source.Feet, Position: &s.pos, Effects: s.effects}, carry.Options{})
	require.NoError(t, err)
	return stand, r
}

func TestABikeSetUpAsSolvedIsConfirmed(t *testing.T) {
	s := set(t)
	s.read(t)
	stand, r := s.check(t)
	assert.Empty(t, stand.Adjusted.Suspects())
	assert.True(t, r.Inside())
	assert.True(t, r.Cured)
	assert.Empty(t, r.Corrections)
	for _, c := range r.Contacts {
		if c.Primary { // the bars differ, and with them the drops
			assert.InDelta(t, 0, c.Miss, 0.05, string(c.Want.Name))
		}
		assert.Greater(t, c.SigmaX, 1.0, "readings and shapes leave that much open")
		assert.Less(t, c.SigmaX, 6.0)
	}
	assert.Equal(t, bike.Drop, r.Contacts[2].Want.Name)
}

func TestOneThingMovedIsTheOneCorrected(t *testing.T) {
	for _, c := range []struct {
		adjuster string
		by       float64
	}{{"saddle post", 4}, {"saddle slide", -5}, {"bar post", 6}, {"bar slide", -4}} {
		t.Run(c.adjuster, func(t *testing.T) {
			s := set(t)
			before := s.frame.Marks[c.adjuster]
			s.shift(t, c.adjuster, c.by, true)
			now := s.frame.Marks[c.adjuster]
			s.read(t)
			_, r := s.check(t)
			assert.False(t, r.Inside())
			require.Len(t, r.Corrections, 1)
			got := r.Corrections[0]
			assert.Equal(t, c.adjuster, got.Name)
			assert.InDelta(t, now, got.From, 1e-9, "as the scale shows it")
			unit := math.Abs(s.frame.Adjusters[got.Adjuster].Unit)
			assert.InDelta(t, before, got.To, 0.4/unit)
			assert.InDelta(t, -c.by, got.Travel().Value(), 0.4)
			assert.Equal(t, got.Scale, got.Tape == nil, "a tape stands in for a scale")
			for _, k := range r.Contacts { // off is got - want, also in JSON
				text, err := json.Marshal(k)
				require.NoError(t, err)
				var off struct{ X, Y float64 }
				require.NoError(t, json.Unmarshal(bytes.ReplaceAll(text, []byte("off_"), nil), &off))
				assert.InDelta(t, 0, plane.Point{X: off.X, Y: off.Y}.Distance(k.Got.At.Sub(k.Want.At)), 1e-9)
			}
			require.True(t, r.Cured)
			for _, a := range r.After {
				assert.True(t, a.Inside())
			}
		})
	}
}

// Nothing smaller works: exhaustively, no single movable brings a saddle that is off both ways inside.
func TestTheSmallestSetIsReallyTheSmallest(t *testing.T) {
	s := set(t)
	s.shift(t, "saddle post", 6, true)
	s.shift(t, "saddle slide", 7, true)
	s.read(t)
	stand, r := s.check(t)
	require.True(t, r.Cured)
	require.Len(t, r.Corrections, 2)
	now, err := stand.rig(s.source.Postures[0])
	require.NoError(t, err)
	moving := now.movables(0)
	require.Len(t, moving, 3, "post, slide and tilt")
	for k, i := range moving {
		one, err := carry.Solve(context.Background(), now.held(moving, 1<<k), s.source, &s.pos, carry.Options{})
		require.NoError(t, err)
		assert.False(t, one.Contacts[0].Carried, now.all[i].Name)
	}
}

// A tilt without a scale is corrected in degrees.
func TestATiltIsCorrectedInDegrees(t *testing.T) {
	s := set(t)
	p := &s.truth.Poses[assembly.Saddle]
	sit, _ := s.truth.SitMount(s.source.Postures[0].Support)
	at := p.At(sit.At)
	p.Turn += plane.Rad(3)
	p.Origin = at.Sub(sit.At.Turn(p.Turn)) // turned about where the rider sits
	// The clamp is bolted to the frame, so that the marks move with it.
	s.frame.Marks = map[string]float64{"bar post": s.frame.Marks["bar post"], "bar slide": s.frame.Marks["bar slide"]}
	s.read(t)
	_, r := s.check(t)
	assert.False(t, r.Contacts[0].Inside())
	assert.InDelta(t, 3, plane.Deg(r.Contacts[0].MissAngle), 0.3)
	names := map[string]*Move{}
	for i := range r.Corrections {
		names[r.Corrections[i].Name] = &r.Corrections[i]
	}
	require.Contains(t, names, "saddle.tilt")
	assert.InDelta(t, -3, plane.Deg(names["saddle.tilt"].Travel().Value()), 0.6)
	assert.Equal(t, -1, names["saddle.tilt"].Adjuster)
}

// A mark that was read wrong is named, and the correction starts from where the adjuster really stands.
func TestAMarkThatDisagreesIsNamed(t *testing.T) {
	s := set(t)
	right := s.frame.Marks["saddle post"]
	s.read(t)
	s.frame.Marks["saddle post"] = right + 3 // 30 mm
	stand, r := s.check(t)
	require.Len(t, stand.Adjusted.Suspects(), 1)
	o := stand.Adjusted.Observations[stand.Adjusted.Suspects()[0]]
	assert.Equal(t, locate.FromMark, o.Origin)
	assert.Equal(t, "saddle post", o.Name)
	assert.True(t, r.Inside(), "what stands there is right; only the mark was written wrong")

	s.shift(t, "saddle post", 5, false)
	s.read(t)
	_, r = s.check(t)
	require.Len(t, r.Corrections, 1)
	assert.InDelta(t, right+0.5, r.Corrections[0].From, 0.15)
	assert.InDelta(t, right, r.Corrections[0].To, 0.15)
}

// An anchor that is wrong in the file is named, with the scale that may be wrong as well; what the tape says holds
// whichever it is, and a scale is corrected from where it stands, in the direction in which it has to go.
func TestAWrongAnchorIsNoWrongScale(t *testing.T) {
	for _, off := range []float64{12, -15} {
		s := set(t)
		s.frame.SaddleAnchor.X += off
		s.frame.AnchorSigma = 2
		s.read(t)
		stand, r := s.check(t)
		found := stand.Adjusted.Findings()
		require.Len(t, found, 1)
		assert.True(t, found[0].Aside)
		anchor, slide := false, false
		for _, i := range append([]int{found[0].Observation}, found[0].Twins...) {
			o := stand.Adjusted.Observations[i]
			anchor = anchor || o.Origin == locate.FromAnchor && o.Name == "saddle_clamp x"
			slide = slide || o.Origin == locate.FromMark && o.Name == "saddle slide"
		}
		assert.True(t, anchor)
		assert.True(t, slide, "along the slide the two cannot be told apart")
		assert.True(t, r.Inside(), "what stands there is right")

		s.shift(t, "saddle slide", -5, true)
		now := s.frame.Marks["saddle slide"]
		s.read(t)
		_, r = s.check(t)
		require.Len(t, r.Corrections, 1)
		got := r.Corrections[0]
		assert.Equal(t, "saddle slide", got.Name)
		assert.InDelta(t, now, got.From, 0.05, "as its scale shows it")
		assert.InDelta(t, 5, got.Travel().Value(), 0.5)
		assert.InDelta(t, got.From+got.Travel().Value()/10, got.To, 1e-9)
		assert.Equal(t, "forward", got.Toward)
	}
}

// What has no scale is set by tape: by what the tape will show once all is corrected.
func TestWhatHasNoScaleIsSetByTape(t *testing.T) {
	s := set(t)
	s.shift(t, "bar slide", -9, true)
	s.shift(t, "saddle slide", 6, true) // it moves the nose, which the tape goes from
	s.read(t)
	_, r := s.check(t)
	require.Len(t, r.Corrections, 2)
	got := r.Corrections[1]
	require.Equal(t, "bar slide", got.Name)
	assert.False(t, got.Scale)
	assert.Equal(t, "forward", got.Toward)
	require.NotNil(t, got.Tape)
	before, _, err := s.truth.ReadingOf(got.Tape.Reading)
	require.NoError(t, err)
	after, _, err := s.answer.Placement.ReadingOf(got.Tape.Reading)
	require.NoError(t, err)
	assert.InDelta(t, before, got.Tape.Before, 0.5)
	assert.InDelta(t, after, got.Tape.After, 0.6)
	assert.Greater(t, after-before, 12.0, "of both moves")
	assert.True(t, r.Corrections[0].Scale)
	assert.Nil(t, r.Corrections[0].Tape)
}

func TestAReadingThatDisagreesIsNamed(t *testing.T) {
	s := set(t)
	s.read(t)
	s.frame.Readings[0].Value += 40
	stand, r := s.check(t)
	require.Len(t, stand.Adjusted.Suspects(), 1)
	assert.Equal(t, 0, stand.Adjusted.Suspects()[0])
	assert.True(t, r.Inside())
}

// A stop that is too near: said to be so, as near as it comes.
func TestWhatCannotBeCuredIsSaid(t *testing.T) {
	s := set(t)
	s.shift(t, "saddle post", -30, true)
	s.read(t)
	for i := range s.frame.Adjusters {
		if s.frame.Adjusters[i].Name == "saddle post" {
			s.frame.Adjusters[i].Hi = s.frame.Marks["saddle post"] + 0.5
		}
	}
	_, r := s.check(t)
	assert.False(t, r.Cured)
	require.NotEmpty(t, r.Corrections)
	// 25 mm of post are lacking: the slide goes back so that the leg keeps its extension, which counts three times.
	want, got := r.After[0].Want.At, r.After[0].Got.At
	assert.Less(t, got.Y, want.Y-20)
	assert.Less(t, got.X, want.X-10)
	assert.Less(t, math.Abs(got.Norm()-want.Norm()), 15.0)
}

func TestStepsStayOnTheirGrid(t *testing.T) {
	s := set(t)
	s.shift(t, "bar slide", 10, true)
	s.read(t)
	for i := range s.frame.Adjusters {
		if s.frame.Adjusters[i].Name == "bar slide" {
			s.frame.Adjusters[i].Step = 5
			s.frame.Adjusters[i].Lo = s.frame.Marks["bar slide"] - 50
		}
	}
	_, r := s.check(t)
	require.Len(t, r.Corrections, 1)
	c := r.Corrections[0]
	assert.InDelta(t, -10, c.To-c.From, 1e-6)
}

func TestWhatIsLeftOpenOnTheTargetIsListed(t *testing.T) {
	b := biketest.Example(t, "outdoor")
	_, err := Stand(b, nil, biketest.Example(t, "road").Postures)
	require.Error(t, err)
	assert.Contains(t, err.Error(), "[stem] part")
	assert.Contains(t, err.Error(), "[stem] spacers")
}

// Kept the other way: change the road bike as told, by its readings, and it confirms against the studio frame.
func TestKeepSaysWhatATapeWillReadOnABikeWithoutScales(t *testing.T) {
	s := set(t)
	s.shift(t, "saddle post", 8, true)
	s.shift(t, "bar slide", -12, true)
	s.read(t)
	felt, _ := s.check(t)
	base, err := Stand(s.source, nil, s.source.Postures)
	require.NoError(t, err)
	posture := s.source.Postures[0]
	pos, err := felt.Adjusted.Position(posture)
	require.NoError(t, err)
	feet := s.frame.Feet
	feet.Cranks = nil
	r, err := Check(context.Background(), base, From{Feet: feet, Position: &pos}, carry.Options{})
	require.NoError(t, err)
	assert.False(t, r.Inside())
	assert.Empty(t, r.Corrections, "it has no scales")
	changes := r.Readings
	require.Len(t, changes, len(s.source.Readings))

	// Do as told: every reading now shows what was promised.
	for i := range s.source.Readings {
		s.source.Readings[i].Value = changes[i].After
	}
	done, err := Stand(s.source, nil, s.source.Postures)
	require.NoError(t, err)
	r, err = Check(context.Background(), done, From{Feet: feet, Position: &pos}, carry.Options{})
	require.NoError(t, err)
	for _, c := range r.Contacts {
		if c.Primary {
			assert.InDelta(t, 0, c.Miss, 0.01, string(c.Want.Name))
			assert.InDelta(t, 0, c.MissAngle, 1e-4)
		}
	}
	assert.Less(t, done.Adjusted.Search.Final.Chi2, 1e-3, "the readings promised agree with one another")
}

// The uncertainty of the difference, drawn: readings of both bikes disturbed at once.
func TestTheSpreadOfADifferenceAgainstDifferences(t *testing.T) {
	s := set(t)
	s.read(t)
	s.source.Postures[0].SupportSigma = 0 // readings, marks and anchors alone
	for _, b := range []*bike.Bike{s.source, s.frame} {
		b.Saddle.Options[0].Sigma, b.Bar.Options[0].Sigma, b.Bar.Lever.Options[0].Sigma = 0, 0, 0
	}
	s.locate(t)
	_, r := s.check(t)
	variance := 0.0
	// Σ over all observations of (d off / d value · sigma)², by central differences of the whole way.
	off := func() float64 {
		s.locate(t)
		_, r := s.check(t)
		return -r.Contacts[0].Away.Y
	}
	by := func(v *float64, sigma float64) {
		h, kept := 0.05*sigma, *v
		*v = kept + h
		up := off()
		*v = kept - h
		down := off()
		*v = kept
		variance += math.Pow((up-down)/(2*h)*sigma, 2)
	}
	for i := range s.source.Readings {
		by(&s.source.Readings[i].Value, s.source.Readings[i].Sigma)
	}
	for i := range s.frame.Readings {
		by(&s.frame.Readings[i].Value, s.frame.Readings[i].Sigma)
	}
	for _, a := range s.frame.Adjusters {
		m := s.frame.Marks[a.Name]
		h := 0.05
		s.frame.Marks[a.Name] = m + h
		up := off()
		s.frame.Marks[a.Name] = m - h
		down := off()
		s.frame.Marks[a.Name] = m
		variance += math.Pow((up-down)/(2*h)*a.Sigma/math.Abs(a.Unit), 2)
	}
	by(&s.frame.SaddleAnchor.X, s.frame.AnchorSigma)
	by(&s.frame.SaddleAnchor.Y, s.frame.AnchorSigma)
	t.Logf("sit height: ± %.4f, by differences ± %.4f", r.Contacts[0].SigmaY, math.Sqrt(variance))
	assert.InEpsilon(t, math.Sqrt(variance), r.Contacts[0].SigmaY, 0.01)
}

// A bike held against itself: the parts err alike on both, so what is off is as sure as two sets of readings; with another saddle it is
// less sure by the shapes of both.
func TestWhatIsOffCountsEverythingButWhatErrsAlike(t *testing.T) {
	b := biketest.Example(t, "road")
	p := b.Postures[0]
	a, err := locate.Adjust(b, nil, locate.Options{})
	require.NoError(t, err)
	pos, err := a.Position(p)
	require.NoError(t, err)
	effects, err := a.Effects(p)
	require.NoError(t, err)
	against := func(to *bike.Bike) Contact {
		stand, err := Stand(to, nil, []bike.Posture{p})
		require.NoError(t, err)
		r, err := Check(context.Background(), stand, From{Feet: b.Feet, Position: &pos, Effects: effects}, carry.Options{})
		require.NoError(t, err)
		return r.Contacts[0]
	}
	itself := against(b)
	assert.InEpsilon(t, math.Sqrt2*pos.Sigma(0), itself.SigmaX, 1e-3)
	assert.InEpsilon(t, math.Sqrt2*pos.Sigma(1), itself.SigmaY, 1e-3)
	other := biketest.Parsed(t, strings.Replace(biketest.Text(t, "road"), "short-250", "short-245", 1))
	assert.Greater(t, against(other).SigmaX, 5.0)
}
