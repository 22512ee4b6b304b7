package words_test

import (
	"context"
	"encoding/json"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"unicode"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/bike"
	"carryover/internal/biketest"
	"carryover/internal/carry"
	"carryover/internal/diag"
	"carryover/internal/job"
	"carryover/internal/locate"
	"carryover/internal/words"
)

// carried carries every posture of a source.
func carried(t testing.TB, source, target *bike.Bike) *job.Carry {
	t.Helper()
	s, err := job.NewSource(source, nil, locate.Options{})
	require.NoError(t, err)
	c, err := s.Carry(context.Background(), target, job.Asked{}, func() (carry.Shop, error) { return carry.Shop{}, nil })
	require.NoError(t, err)
	return c
}

const columns = 80

func text(c *job.Carry, more words.More) string {
	p := words.Page{Width: columns}
	p.Carry(c, more)
	return p.String()
}

func flat(s string) string { return strings.Join(strings.Fields(s), " ") }

// wantsFit fails on a line that is wider than the page, ends in blanks, or could steer a terminal.
func wantsFit(t testing.TB, out string) {
	t.Helper()
	for _, line := range strings.Split(out, "\n") {
		assert.LessOrEqual(t, diag.Columns(line), columns, line)
		assert.Equal(t, strings.TrimRight(line, " "), line)
		for _, r := range line {
			assert.True(t, unicode.IsPrint(r), "%q in %q", r, line)
		}
		assert.NotContains(t, line, "NaN")
		assert.NotContains(t, line, "Inf")
		assert.NotRegexp(t, `(^|[^\w])-0(\.0+)?([^0-9.]|$)`, line)
	}
}

var (
	pairs      = [][2]string{{"road", "studio"}, {"road", "outdoor"}, {"tri", "studio"}, {"tri", "outdoor"}, {"road", "resaddled"}}
	everything = words.More{Why: true, All: true}
)

func TestTextFitsThePage(t *testing.T) {
	for _, p := range pairs {
		wantsFit(t, text(carried(t, biketest.Example(t, p[0]), biketest.Example(t, p[1])), everything))
	}
}

// Names come from files: whatever they hold, the page keeps its width and its columns.
func TestTextSurvivesHostileNames(t *testing.T) {
	for _, name := range []string{
		strings.Repeat("Very long name of an adjuster ", 20),
		strings.Repeat("Unbroken", 40),
		strings.Repeat("鞍座", 60),
		"\x1b[31mred\x1b[0m\a\u202e\u00a0\u00a0\r\nnew line\ttab",
		strings.Repeat("é\u0301\u0302", 300),
		"",
	} {
		for _, p := range pairs[:3] {
			source, target := biketest.Example(t, p[0]), biketest.Example(t, p[1])
			source.File, target.File, source.Name, target.Name = name+"1", name+"2", name, name
			for i := range source.Postures {
				source.Postures[i].Name = name + source.Postures[i].Name
			}
			marks := map[string]float64{}
			for i := range target.Adjusters {
				a := &target.Adjusters[i]
				old := a.Name
				a.Name = name + string(rune('a'+i))
				if m, ok := target.Marks[old]; ok {
					marks[a.Name] = m
				}
			}
			target.Marks = marks
			if target.Stem != nil {
				for i := range target.Stem.Options {
					target.Stem.Options[i].ID = name + target.Stem.Options[i].ID
				}
			}
			source.Assumed = append(source.Assumed, name)
			wantsFit(t, text(carried(t, source, target), everything))
		}
	}
}

// Whatever the size of the machine, its scales and its posture, nothing runs over the edge, and a miss says what it means.
func TestTextSurvivesOddMachines(t *testing.T) {
	const seed = 3
	rng := rand.New(rand.NewPCG(seed, seed))
	for n := range 60 {
		source, target := biketest.Example(t, "road"), biketest.Example(t, "studio")
		for i := range target.Adjusters {
			a := &target.Adjusters[i]
			unit := math.Pow(10, rng.Float64()*8-4)
			lo, hi := a.Travel(a.Lo), a.Travel(a.Hi)
			a.Unit = unit
			a.Lo, a.Hi = lo/unit, lo/unit+(hi-lo)/unit*rng.Float64()*2
			if rng.IntN(4) == 0 {
				a.Unit, a.Lo, a.Hi = -a.Unit, -a.Hi, -a.Lo
			}
			if rng.IntN(3) == 0 {
				a.Step = (a.Hi - a.Lo) / 7
			}
			a.NoScale = rng.IntN(3) == 0
			target.Marks[a.Name] = a.Lo
		}
		anchor := *target.SaddleAnchor
		anchor.X += rng.NormFloat64() * 500
		target.SaddleAnchor = &anchor
		c := carried(t, source, target)
		out := text(c, everything)
		wantsFit(t, out)
		if r := c.Results[0]; !r.Solution.Carried() {
			assert.Contains(t, out, "!! Posture road is NOT CARRIED", "seed %d, machine %d", seed, n)
			assert.Regexp(t, `Your seat is|[Ss]een from the seat`, flat(out), "seed %d, machine %d", seed, n)
			assert.Equal(t, r.E > words.OutOfReach, strings.Contains(flat(out), "Do not set the bike up like this."), "machine %d", n)
		}
	}
}

// What holds no letters but bold type differs in nothing else.
func TestBoldIsAllThatColourAdds(t *testing.T) {
	target := biketest.Example(t, "studio")
	target.Adjusters[0].Hi = 12
	c := carried(t, biketest.Example(t, "road"), target)
	p := words.Page{Width: columns, Bold: true}
	p.Carry(c, everything)
	assert.Contains(t, p.String(), "\x1b[1m")
	assert.Equal(t, text(c, everything), strings.NewReplacer("\x1b[1m", "", "\x1b[0m", "").Replace(p.String()))
}

// Marks as they stand on the scale, and how far that is from where it stands: the two belong together.
func TestMarksInWords(t *testing.T) {
	for _, tc := range []struct {
		name               string
		unit, lo, hi, step float64
		from               float64
		want               string
	}{
		{"to a millimetre", 10, 0, 40, 0, 11, `saddle post +16\.1 \(51 mm up from 11\)  `},
		{"on steps", 10, 0, 40, 0.5, 15.5, `saddle post +16 \(5 mm up from 15\.5\)  `},
		{"a scale in mm is read to half of one", 1, 0, 400, 0, 100, `saddle post +160\.5 \(60\.5 mm up from 100\)  `},
		{"a scale in inches is read finer", 25.4, 0, 16, 0, 6, `saddle post +6\.32 \(8 mm up from 6\)  `},
		{"where it stands already", 10, 0, 40, 0, 16.06, `saddle post +16\.1 \(it stays\)  `},
	} {
		t.Run(tc.name, func(t *testing.T) {
			target := biketest.Example(t, "studio")
			a := &target.Adjusters[0]
			require.Equal(t, "saddle post", a.Name)
			a.Unit, a.Lo, a.Hi, a.Step = tc.unit, tc.lo, tc.hi, tc.step
			target.Marks[a.Name] = tc.from
			assert.Regexp(t, tc.want, text(carried(t, biketest.Example(t, "road"), target), words.More{}))
		})
	}
}

// What a miss means: which way the seat is off, what is kept, what holds it back, and where the hands are then.
func TestConsequencesInWords(t *testing.T) {
	target := biketest.Example(t, "studio")
	target.Adjusters[0].Hi = 15 // the saddle post ends 1.06 marks below what is wanted
	c := carried(t, biketest.Example(t, "road"), target)
	out := flat(text(c, words.More{}))
	sit := c.Results[0].Contacts[0]
	require.Less(t, sit.Got.At.Y, sit.Want.At.Y)
	assert.Contains(t, out, "!! Posture road is NOT CARRIED: Adjustable studio frame does not come all the way.")
	assert.Regexp(t, `!! Your seat is .*\d(\.5)? mm lower than on Short-saddled road bike; .*`+
		`The saddle post is at its upper stop \(15\)\.`, out)
	assert.Regexp(t, `!! (The hoods moved with the seat|Seen from the seat your hoods are)`, out)
}

// A reading that the others contradict is told alike wherever it is told: what, the likely slip, the rivals.
func TestOneTellingOfAWrongReading(t *testing.T) {
	source := biketest.Example(t, "road")
	for i := range source.Readings {
		if source.Readings[i].Value == 591 {
			source.Readings[i].Value = 519
		}
	}
	c := carried(t, source, biketest.Example(t, "studio"))
	told := words.Doubts(c.Adjusted)
	require.NotEmpty(t, told)
	assert.Contains(t, told[0], "Reading 4 (reach to the hoods), 519\u00a0mm, does not fit the others, which say 5")
	assert.Contains(t, told[0], "two digits swapped: 519 for 591")
	assert.Contains(t, flat(text(c, words.More{})), flat(strings.ReplaceAll(told[0], "\u00a0", " ")))
}

// Text and JSON name the same slip as the likely one, or neither names one; the text then lists what JSON calls possible.
func TestTextAndJSONNameTheSameSlip(t *testing.T) {
	type named struct {
		Slip     *struct{ Text string }
		Possible []struct{ Text string }
	}
	leads, alike := 0, 0
	for i := range biketest.Example(t, "road").Readings {
		for _, off := range []float64{9, 10, -10, 72, 100} {
			b := biketest.Example(t, "road")
			b.Readings[i].Value += off
			s, err := job.NewSource(b, nil, locate.Options{})
			require.NoError(t, err)
			for _, f := range s.Adjusted.Findings() {
				text, err := json.Marshal(f)
				require.NoError(t, err)
				var got named
				require.NoError(t, json.Unmarshal(text, &got))
				told := words.Finding(s.Adjusted, f)
				assert.Equal(t, got.Slip != nil, strings.Contains(told, "It looks like"), told)
				switch {
				case got.Slip != nil:
					leads++
					assert.Contains(t, told, got.Slip.Text)
				case len(got.Possible) > 0:
					alike++
					for _, p := range got.Possible {
						assert.Contains(t, told, p.Text)
					}
				}
			}
		}
	}
	assert.Positive(t, leads)
	assert.Positive(t, alike)
}
