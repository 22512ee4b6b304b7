package confirm

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/locate"
)

// usual gives every reading the uncertainty that it usually has.
func (s *setUp) usual() {
	for i := range s.frame.Readings {
		if r := &s.frame.Readings[i]; r.Kind != bike.Angle {
			r.Sigma = 2
		}
	}
}

// Nose to bar misread by 20 mm, or the reach: nothing tells which, so nothing is set aside, no move of the bar along the
// slide is given, and what does not rest on it is.
func TestWhereTwoReadingsMayBeWrongNoMoveRestsOnEither(t *testing.T) {
	s := set(t)
	s.shift(t, "bar post", 8, true)
	delete(s.frame.Marks, "bar slide") // it has no scale
	s.read(t)
	s.usual()
	for i := range s.frame.Readings {
		if r := &s.frame.Readings[i]; r.Kind == bike.Line && r.To.Kind == bike.AtBar {
			r.Value -= 20
		}
	}
	stand, r := s.check(t)
	found := stand.Adjusted.Findings()
	require.Len(t, found, 1)
	assert.False(t, found[0].Aside)
	assert.GreaterOrEqual(t, len(found[0].Blamed()), 2)
	assert.Equal(t, []string{"bar slide"}, r.Withheld)
	require.Len(t, r.Corrections, 1)
	assert.Equal(t, "bar post", r.Corrections[0].Name)
	assert.InDelta(t, -8, r.Corrections[0].Travel().Value(), 1)
	assert.False(t, r.Inside(), "8 mm too high, whichever is wrong")
	assert.False(t, r.Cured)
	for _, c := range r.Readings {
		if c.Reading.Kind == bike.Line && c.Reading.To.Kind == bike.AtBar {
			assert.InDelta(t, -20, c.Reading.Value-c.After, 3, "the table shows it")
		}
	}
}

// A scale that slipped by 5 mm while saddle height, drop and floor height agree: too little for any of them to be called wrong, but the
// readings count, and the post goes back by what they say. A slip that could be the tape's is none.
func TestTapesThatAgreeCountMoreThanAMark(t *testing.T) {
	for _, c := range []struct {
		by      float64
		doubted []string
	}{{-5, []string{"saddle post"}}, {5, []string{"saddle post"}}, {-2, nil}, {0, nil}} {
		s := set(t)
		right := s.frame.Marks["saddle post"]
		s.shift(t, "saddle post", c.by, false)
		s.read(t)
		s.usual()
		stand, r := s.check(t)
		assert.Empty(t, stand.Adjusted.Findings())
		assert.Equal(t, c.doubted, stand.Doubted)
		assert.Equal(t, c.doubted == nil, r.Inside())
		if c.doubted != nil {
			require.Len(t, r.Corrections, 1)
			assert.InDelta(t, -c.by, r.Corrections[0].Travel().Value(), 1)
			assert.InDelta(t, right, r.Corrections[0].From, 0.01, "it counts from what its scale shows")
		}
	}
}

// The same on the other bike: what is wanted hangs on which of its readings is wrong.
func TestAMoveThatHangsOnAReadingOfTheOtherBikeIsWithheld(t *testing.T) {
	s := set(t)
	s.read(t)
	stand, _ := s.check(t)
	moved := s.pos.Moved(3, 12) // the hands 12 mm further forward, if another reading is wrong
	from := From{Feet: s.source.Feet, Position: &s.pos, Effects: s.effects, Others: []*locate.Position{&moved}}
	r, err := Check(context.Background(), stand, from, carry.Options{})
	require.NoError(t, err)
	assert.Equal(t, []string{"bar slide"}, r.Withheld)
	assert.False(t, r.Contacts[0].Unsure && math.Abs(r.Contacts[0].Miss) > 2)
	assert.True(t, r.Contacts[1].Unsure)
}

func TestWhatTheUncertaintyLeavesOpenCannotBeTold(t *testing.T) {
	for _, c := range []struct {
		miss, sigma, angle, sigmaAngle float64
		inside, unsure                 bool
	}{
		{0.5, 1, 0, 0.3, true, false},
		{0.5, 2, 0, 0.3, true, true},   // 1.5 mm to the tolerance, 2 uncertain
		{3, 0.5, 0, 0.3, false, false}, // 1 mm out, 0.5 uncertain
		{3, 1.5, 0, 0.3, false, true},
		{0.5, 1, 0.9, 0.3, true, true},
		{3, 1.5, 2, 0.3, false, false}, // the angle is out for sure
	} {
		var cov [locate.Coordinates][locate.Coordinates]float64
		cov[0][0], cov[1][1], cov[2][2] = c.sigma*c.sigma, c.sigma*c.sigma, math.Pow(c.sigmaAngle*math.Pi/180, 2)
		want := set(t).answer.Contacts[0].Want
		got := want
		got.At.X += c.miss
		got.Angle += c.angle * math.Pi / 180
		k := compare(want, got, true, &cov, 0)
		assert.Equal(t, c.inside, k.Inside(), "%+v", c)
		assert.Equal(t, c.unsure, k.Unsure, "%+v", c)
	}
}

// One reading 20 mm off, noise on all: whatever is told to move more than 3 mm has to move that way.
func TestASlipNeverSendsAnythingTheWrongWay(t *testing.T) {
	const seed = 1020
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	n := 300
	if testing.Short() {
		n = 60
	}
	told, withheld, wrong := 0, 0, 0
	for trial := range n {
		s := set(t)
		need := map[string]float64{}
		for _, name := range []string{"saddle post", "saddle slide", "bar post", "bar slide"} {
			if r.IntN(3) == 0 {
				by := float64(r.IntN(25) - 12)
				s.shift(t, name, by, true)
				need[name] = -by
			}
		}
		if r.IntN(2) == 0 {
			delete(s.frame.Marks, "bar slide")
		}
		s.read(t)
		s.usual()
		var lengths []int
		for i := range s.frame.Readings {
			if k := &s.frame.Readings[i]; k.Kind != bike.Angle {
				lengths = append(lengths, i)
				k.Value += r.NormFloat64()
			} else {
				k.Value += r.NormFloat64() * 0.004
			}
		}
		slip := lengths[r.IntN(len(lengths))]
		s.frame.Readings[slip].Value += []float64{-20, 20}[r.IntN(2)]
		_, k := s.check(t)
		withheld += len(k.Withheld)
		for _, c := range k.Corrections {
			if c.Turns() || math.Abs(c.Travel().Value()) <= 3 {
				continue
			}
			told++
			if need[c.Name]*c.Travel().Value() <= 0 {
				wrong++
				t.Errorf("seed %d, trial %d: %s is slipped, %s is to move %.1f and is told %.1f", seed, trial,
					s.frame.Readings[slip].Written, c.Name, need[c.Name], c.Travel().Value())
			}
		}
	}
	t.Logf("%d confirms: %d moves told, %d withheld, %d the wrong way", n, told, withheld, wrong)
	assert.Greater(t, told, n/4)
}

// Without a reading on which everything rests nothing can be told: no move, and nothing of any contact.
func TestWhatNothingIsLeftOfIsNotTold(t *testing.T) {
	s := set(t)
	s.shift(t, "saddle post", 9, true)
	s.read(t)
	_, r := s.check(t)
	require.NotEmpty(t, r.Corrections)
	require.True(t, r.Contacts[1].Inside())
	r.doubt(&Result{})
	assert.Empty(t, r.Corrections)
	assert.Equal(t, []string{"saddle post"}, r.Withheld)
	assert.False(t, r.Cured)
	for _, c := range r.Contacts {
		assert.True(t, c.Unsure)
		assert.False(t, c.Inside())
	}
	assert.False(t, r.Sure())
}

// A move holds where all ways to read the bikes agree to a millimetre or half a degree, and no further.
func TestAMoveHoldsWhereAllAgree(t *testing.T) {
	tilt := bike.Settable{Sets: bike.SetsSaddleTilt, Name: "saddle.tilt", Adjuster: -1}
	slide := bike.Settable{Sets: bike.SetsSaddle, Name: "slide"}
	result := func(mm, degrees float64) *Result {
		return &Result{Cured: true, Corrections: []Move{{Settable: slide, After: mm}, {Settable: tilt, After: degrees * math.Pi / 180}}}
	}
	for _, c := range []struct {
		mm, degrees float64
		withheld    []string
	}{{5.9, 2.4, nil}, {3.9, 2.4, []string{"slide"}}, {5.9, 2.6, []string{"saddle.tilt"}}, {6.1, 1.4, []string{"slide", "saddle.tilt"}}} {
		r := result(5, 2)
		r.doubt(result(c.mm, c.degrees))
		assert.ElementsMatch(t, c.withheld, r.Withheld, "%+v", c)
		assert.Equal(t, len(c.withheld) == 0, r.Cured)
		assert.Len(t, r.Corrections, 2-len(c.withheld))
	}
}

// Where another way to read the bikes has a contact inside as well, it stays told; where it has not, it is not.
func TestAContactIsToldWhereAllAgree(t *testing.T) {
	for _, other := range []bool{true, false} {
		primary := func(inside bool) []Contact {
			return []Contact{{Carried: carry.Carried{Primary: true, Carried: inside}}}
		}
		r := &Result{Contacts: primary(true)}
		r.doubt(&Result{Contacts: primary(other)})
		assert.Equal(t, other, r.Inside())
		assert.Equal(t, other, r.Sure())
	}
}

// An anchor or a scale that would be 20 mm off may as well be a tape misread: what hangs on that is not told. A mark that
// several readings see is told.
func TestAScaleFarOffMayBeATapeMisread(t *testing.T) {
	s := set(t)
	delete(s.frame.Marks, "bar slide")
	s.read(t)
	s.usual()
	for i := range s.frame.Readings {
		if r := &s.frame.Readings[i]; r.Kind == bike.Level && r.To.Kind == bike.AtBB {
			r.Value -= 20
		}
	}
	stand, r := s.check(t)
	require.NotEmpty(t, stand.Adjusted.Findings())
	ways := agreeing(s.frame, nil, stand.Adjusted)
	require.Len(t, ways, 1, "without the setback everything else agrees")
	assert.Len(t, ways[0].Readings, len(s.frame.Readings)-1)
	for _, r := range ways[0].Readings {
		assert.False(t, r.Kind == bike.Level && r.To.Kind == bike.AtBB)
	}
	assert.Contains(t, r.Withheld, "saddle slide")

	for by, doubtful := range map[float64]int{3: 1, 1.2: 0} { // 30 mm may be a tape misread, which the setback alone sees; 12 is none
		s = set(t)
		delete(s.frame.Marks, "bar slide")
		s.read(t)
		s.usual()
		s.frame.Marks["saddle slide"] += by
		stand, _ = s.check(t)
		require.Len(t, stand.Adjusted.Findings(), 1)
		require.True(t, stand.Adjusted.Findings()[0].Aside)
		assert.Len(t, Doubtful(s.frame, nil, stand.Adjusted), doubtful)
	}

	s = set(t)
	s.read(t)
	s.usual()
	s.frame.Marks["saddle post"] += 3 // 30 mm, seen by saddle height and floor height
	stand, r = s.check(t)
	assert.Len(t, stand.Adjusted.Findings(), 1)
	assert.Empty(t, Doubtful(s.frame, nil, stand.Adjusted))
	assert.Empty(t, r.Withheld)
}

// The uncertainty along the miss is nᵀ·C·n with n its direction.
func TestTheUncertaintyIsThatAlongTheMiss(t *testing.T) {
	var cov [locate.Coordinates][locate.Coordinates]float64
	cov[3][3], cov[4][4], cov[3][4], cov[4][3], cov[5][5] = 4, 9, 1, 1, 1
	want := set(t).answer.Contacts[1].Want
	got := want
	got.At.X, got.At.Y = want.At.X+3, want.At.Y+4
	c := compare(want, got, true, &cov, 3)
	assert.InDelta(t, math.Sqrt((9*4+2*12*1+16*9)/25.0), c.SigmaMiss, 1e-12)
	assert.Equal(t, 2.0, c.SigmaX)
	assert.Equal(t, 3.0, c.SigmaY)
	assert.Equal(t, 1.0, c.SigmaAngle)
}
