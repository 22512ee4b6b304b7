package locate

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/bike"
	"carryover/internal/biketest"
	"carryover/internal/saddle"
)

// seated is a bike whose saddle is fixed by as many readings as it has unknowns, and the bar likewise.
func seated(height, setback, tilt float64) string {
	return fmt.Sprintf(`schema = 1
[feet]
crank = 172.5
sole_height = 22
[saddle]
part = "classic-275"
[bar]
part = "compact-420"
lever = "lever-mid"
lever_at = 5
[posture.road]
hands = "hood"
support = 120
[[reading]]
kind = "saddle-height"
value = %g
[[reading]]
kind = "setback"
value = %g
[[reading]]
kind = "saddle-tilt"
value = %g
[[reading]]
kind = "reach"
value = 566
[[reading]]
kind = "drop"
value = 74
`, height, setback, tilt)
}

// Where nothing checks a reading, the adjustment can follow it exactly; what it cannot follow, no bike has.
func TestReadingsThatNoBikeHas(t *testing.T) {
	for _, c := range []struct {
		name                  string
		height, setback, tilt float64
		extra                 string
		named, unnamed        []string // nil: possible
	}{
		{"an ordinary bike", 741, 61, -1, "", nil, nil},
		{"further back than the tape is long", 741, 880, -1, "", []string{"reading 1, saddle-height at mid = 741.0 mm",
			"reading 2, setback at nose = 880.0 mm"}, []string{"reach", "drop", "bar"}},
		{"further ahead than the tape is long", 741, -1100, -1, "", []string{"saddle-height", "setback"}, []string{"reach"}},
		{"a straight line to the bar shorter than its plumb part", 741, 61, -1,
			"[[reading]]\nkind = \"nose-to-bar\"\nvalue = 160\n[[reading]]\nkind = \"bar-rotation\"\nvalue = 2\n", []string{"nose-to-bar",
				"drop at mid to hood"}, []string{"setback", "saddle-height"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			text := seated(c.height, c.setback, c.tilt)
			if c.extra != "" { // in place of the reach
				text = strings.Replace(text, "[[reading]]\nkind = \"reach\"\nvalue = 566\n", "", 1) + c.extra
				text = strings.Replace(text, "value = 74\n", "value = 474\n", 1)
			}
			_, err := Adjust(biketest.Parsed(t, text), nil, Options{})
			if c.named == nil {
				require.NoError(t, err)
				return
			}
			var contradiction *ContradictionError
			require.ErrorAs(t, err, &contradiction)
			for _, n := range c.named {
				assert.Contains(t, err.Error(), n)
			}
			for _, n := range c.unnamed {
				assert.NotContains(t, err.Error(), n)
			}
		})
	}
}

// A setback that is longer than the straight line, by about as much as a search for wrong readings sees: where they point the same way
// the two seem to check each other. Neither is set aside: without it nothing would tell where the saddle is.
func TestASetbackALittleTooLong(t *testing.T) {
	refused := 0
	for seed := range uint64(60) {
		r := rand.New(rand.NewPCG(seed, 0))
		truth := biketest.Bike(r, bike.Hood)
		taped(r, truth, true, true)
		truth.Bike.SaddleAnchor, truth.Bike.BarAnchor = nil, nil
		height := biketest.Between(r, 600, 750)
		truth.Bike.Readings[0].Value, truth.Bike.Readings[1].Value = height, height+biketest.Between(r, 9, 13)
		a, err := Adjust(truth.Bike, nil, Options{})
		if err == nil {
			require.Empty(t, a.Findings(), "seed %d", seed)
			require.Error(t, a.Err())
			continue
		}
		var contradiction *ContradictionError
		require.ErrorAs(t, err, &contradiction)
		assert.Equal(t, []int{0, 1}, contradiction.Observations)
		refused++
	}
	assert.Greater(t, refused, 10)
}

// Two readings of one thing check each other: one of them is wrong, which is not impossible.
func TestADisagreementIsNoImpossibility(t *testing.T) {
	b := biketest.Parsed(t, seated(741, 61, -1)+"[[reading]]\nkind = \"saddle-height\"\nvalue = 800\n")
	a, err := Adjust(b, nil, Options{})
	require.NoError(t, err)
	require.Len(t, a.Search.Suspects, 1)
	assert.Len(t, a.Search.Suspects[0].Twins, 1)
}

// Just possible, with the saddle level with the BB: a mm of the tape is then worth a hundred of its height.
func TestWhatIsHardlyFixedIsMissing(t *testing.T) {
	b := biketest.Parsed(t, seated(741, 603.4, 0))
	a, err := Adjust(b, nil, Options{})
	require.NoError(t, err)
	var missing *MissingError
	require.ErrorAs(t, a.Err(), &missing)
	require.Equal(t, "saddle.y", missing.Gaps[0].Name)
	assert.Greater(t, missing.Gaps[0].Sigma.Value(), float64(looseMM))
	assert.NotContains(t, missing.Gaps[0].Readings, "saddle-height at sit", "it has been taken")
	assert.Contains(t, missing.Gaps[0].Readings, "plumb from bb to saddle.sit")
	assert.Len(t, missing.Shortest, 1, "what is hardly fixed is open along the way that it moves most")
	assert.Contains(t, a.Err().Error(), "known to ")
	_, err = a.Position(b.Postures[0])
	require.ErrorAs(t, err, &missing)
}

// What a position must not have without a word: every warning alone, and none on an ordinary bike.
func TestPositionsThatNoRiderHas(t *testing.T) {
	for _, c := range []struct {
		name                  string
		height, setback, tilt float64
		says                  []string
	}{
		{"ordinary", 741, 61, -1, nil},
		{"time trial, nose ahead of the BB", 741, -140, -1, nil},
		{"at the very limits", 945, 245, -14, nil},
		{"digits swapped", 471, 61, -1, []string{"check the saddle height"}},
		{"the tail read for the nose", 741, 336, -1, []string{"was it read at the tail? Then the nose is 61 mm behind"}},
		{"the sign of a setback that went to the tail", 741, -214, -1, []string{"Then the nose is 61 mm behind"}},
		{"out of all reason", 741, 550, -1, []string{"check the setback"}},
		{"tilted", 741, 61, -40, []string{"check its tilt"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			a, err := Adjust(biketest.Parsed(t, seated(c.height, c.setback, c.tilt)), nil, Options{})
			require.NoError(t, err)
			got := a.Implausible()
			require.Len(t, got, len(c.says), "%v", got)
			for i := range got {
				assert.Contains(t, got[i], c.says[i])
			}
			assert.Empty(t, a.Unsupported())
		})
	}
	text := strings.Replace(seated(741, 61, -1), "support = 120", "support = 220", 1)
	a, err := Adjust(biketest.Parsed(t, text), nil, Options{})
	require.NoError(t, err)
	require.Len(t, a.Unsupported(), 1)
	assert.Contains(t, a.Unsupported()[0], "220 mm wide")

	b := biketest.Example(t, "studio")
	b.SaddleAnchor.X, b.Marks["bar slide"] = 133, 80
	b.Postures = biketest.Example(t, "road").Postures
	a, err = Adjust(b, nil, Options{})
	require.NoError(t, err)
	assert.Contains(t, strings.Join(a.Implausible(), "\n"), "ahead of the BB; positive is forward")
}

// An anchor that is not known exactly is an observation like any other: alone it stays where the file says,
// and readings move it against its own uncertainty.
func TestAnAnchorOfSomeUncertainty(t *testing.T) {
	b := biketest.Example(t, "studio")
	b.Postures, b.Marks["bar slide"] = biketest.Example(t, "road").Postures, 80
	b.Readings = []bike.Reading{{Kind: bike.Angle, Of: bike.SaddleBody, Sigma: 0.01}}
	b.AnchorSigma = 0
	exact, err := Adjust(b, nil, Options{})
	require.NoError(t, err)
	b.AnchorSigma = 3
	loose, err := Adjust(b, nil, Options{})
	require.NoError(t, err)
	p, err := exact.Position(b.Postures[0])
	require.NoError(t, err)
	q, err := loose.Position(b.Postures[0])
	require.NoError(t, err)
	assert.InDelta(t, p.Sit.At.X, q.Sit.At.X, 1e-6)
	assert.InDelta(t, p.Cov[0][0]+9, q.Cov[0][0], 1e-6, "the anchor's variance is added")
	assert.InDelta(t, p.Cov[4][4]+9, q.Cov[4][4], 1e-6)
}

// A range that says what a bolt can do says nothing of where it stands: level, or as near to it as it goes.
func TestAFreeTiltWithoutAReadingIsLevel(t *testing.T) {
	for _, c := range []struct {
		set  string
		want float64
	}{{"tilt = [-8.0, 4.0]", 0}, {"tilt = [2.0, 8.0]", 2}, {"tilt = [-9.0, -3.0]", -3}} {
		text := strings.Replace(seated(741, 61, 0), "[[reading]]\nkind = \"saddle-tilt\"\nvalue = 0\n", "", 1)
		text = strings.Replace(text, "part = \"classic-275\"\n", "part = \"classic-275\"\n"+c.set+"\n", 1)
		a, err := Adjust(biketest.Parsed(t, text), nil, Options{})
		require.NoError(t, err)
		assert.Contains(t, strings.Join(a.Assumptions(), "\n"),
			fmt.Sprintf("the saddle tilt is neither stated nor read: taken as %.1f° ± 1.5°", c.want))
	}
}

// When either of two readings may be wrong, the slip that explains it is named in whichever it is, and none is
// where each has one.
func TestASlipOfATwinIsNamed(t *testing.T) {
	again := func(value float64) Finding {
		text := strings.Replace(seated(741, 61, -1), "[feet]", "[frame]\nbb_height = 272\n[feet]", 1)
		b := biketest.Parsed(t, text+fmt.Sprintf("[[reading]]\nkind = \"saddle-height\"\nvalue = %g\n", value))
		a, err := Adjust(b, nil, Options{})
		require.NoError(t, err)
		found := a.Findings()
		require.Len(t, found, 1)
		require.Len(t, found[0].Twins, 1)
		return found[0]
	}
	floor := again(986.6) // the middle is 714.6 mm above the BB
	require.Len(t, floor.Slips, 1)
	assert.Equal(t, "floor", floor.Slips[0].Code)
	assert.Equal(t, 5, floor.Slips[0].Observation)
	assert.Equal(t, 5, floor.Observation, "a slip speaks against it")
	assert.False(t, floor.Aside)
	assert.NotNil(t, floor.Likely())
	for _, value := range []float64{714, 641} { // 741 for 714 or the other way about, 100 short or 100 long
		alike := again(value)
		assert.Greater(t, len(alike.Slips), 1)
		assert.Nil(t, alike.Likely(), "nobody can tell")
	}
}

// A small distance with a decimal that nothing checks may be centimetres, but for one who reads the others with decimals too, half of
// them or more.
func TestASmallDistanceMayBeCentimetres(t *testing.T) {
	bb := place(bike.AtBB)
	for _, c := range []struct {
		setback      float64
		height, drop float64 // of the saddle and the hoods
		reach, again float64 // again: 0, not read
		asked        bool
	}{
		{4.5, 720, 650, 480, 0, true},
		{5, 720, 650, 480, 0, false},
		{45.5, 720, 650, 480, 0, false},
		{4.5, 720.5, 650, 480, 0, true},
		{4.5, 720.5, 650.5, 480, 0, false},
		{4.5, 720.5, 650.5, 480, 480, false},
		{4.5, 720.5, 650, 480, 480, true},
	} {
		b := plain(t, bike.Hood)
		b.Readings = []bike.Reading{reading(bike.Level, on(saddle.Nose), bb, c.setback), reading(bike.Plumb, bb, on(saddle.Nose), c.height),
			tilted(bike.SaddleBody, 0.3), reading(bike.Level, bb, place(bike.AtHood), c.reach), reading(bike.Plumb, bb, place(bike.AtHood), c.drop),
			tilted(bike.HoodBody, 4.2)}
		if c.again != 0 {
			b.Readings = append(b.Readings, reading(bike.Level, bb, place(bike.AtHood), c.again))
		}
		a, err := Adjust(b, nil, Options{})
		require.NoError(t, err)
		asked := strings.Contains(strings.Join(a.Implausible(), "\n"), "if it was read in centimetres, write 45")
		assert.Equal(t, c.asked, asked, "%+v: %v", c, a.Implausible())
	}
}
