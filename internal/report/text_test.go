package report_test

import (
	"context"
	"io/fs"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"unicode"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/catalogs"
	"carryover/internal/bike"
	"carryover/internal/bikefile"
	"carryover/internal/carry"
	"carryover/internal/catalog"
	"carryover/internal/diag"
	"carryover/internal/locate"
	"carryover/internal/report"
)

func exampleBike(t testing.TB, name string) *bike.Bike {
	t.Helper()
	src, err := fs.ReadFile(catalogs.Examples, name+".toml")
	require.NoError(t, err)
	b, problems := bikefile.ReadBike("example:"+name, src, bikefile.Folder{FS: catalogs.Examples}, catalog.New(catalogs.Files))
	require.False(t, problems.HasErrors(), problems)
	b.File = "example:" + name
	return b
}

// carryAll carries every posture of a source.
func carryAll(t testing.TB, source, target *bike.Bike) report.Carry {
	t.Helper()
	a, err := locate.Adjust(source, nil, locate.Options{})
	require.NoError(t, err)
	c := report.Carry{Schema: 1, From: source.File, To: target.File, FromName: source.Name, ToName: target.Name, Suspects: report.NewSuspects(a)}
	for _, p := range source.Postures {
		pos, err := a.Position(p)
		require.NoError(t, err)
		s, err := carry.Solve(context.Background(), target, source.Feet, &pos, carry.Options{})
		require.NoError(t, err)
		require.NoError(t, s.AddSigmas())
		r, err := report.NewResult(s, a)
		require.NoError(t, err)
		c.Results = append(c.Results, r)
	}
	return c
}

func text(t testing.TB, c report.Carry) string {
	t.Helper()
	var b strings.Builder
	require.NoError(t, report.Text(&b, c, false))
	return b.String()
}

// wantsFit fails on a line that is wider than the page, ends in blanks, or could steer a terminal.
func wantsFit(t testing.TB, out string) {
	t.Helper()
	for _, line := range strings.Split(out, "\n") {
		assert.LessOrEqual(t, diag.Columns(line), report.Columns, line)
		assert.Equal(t, strings.TrimRight(line, " "), line)
		for _, r := range line {
			assert.True(t, unicode.IsPrint(r), "%q in %q", r, line)
		}
		assert.NotContains(t, line, "NaN")
		assert.NotContains(t, line, "Inf")
		assert.NotRegexp(t, `-0\.0+([^0-9]|$)`, line)
	}
}

var pairs = [][2]string{{"road", "studio"}, {"road", "outdoor"}, {"tri", "studio"}}

func TestTextFitsThePage(t *testing.T) {
	for _, p := range pairs {
		wantsFit(t, text(t, carryAll(t, exampleBike(t, p[0]), exampleBike(t, p[1]))))
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
		for _, p := range pairs {
			source, target := exampleBike(t, p[0]), exampleBike(t, p[1])
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
			wantsFit(t, text(t, carryAll(t, source, target)))
		}
	}
}

// Whatever the size of the machine, its scales and its posture, nothing runs over the edge.
func TestTextSurvivesOddMachines(t *testing.T) {
	const seed = 3
	rng := rand.New(rand.NewPCG(seed, seed))
	for n := range 200 {
		source, target := exampleBike(t, "road"), exampleBike(t, "studio")
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
		c := carryAll(t, source, target)
		out := text(t, c)
		wantsFit(t, out)
		if !c.Results[0].Carried {
			assert.Contains(t, out, "NOT CARRIED", "seed %d, machine %d", seed, n)
			assert.Contains(t, out, "mm too ", "seed %d, machine %d", seed, n)
		}
	}
}

// What holds no letters but bold type differs in nothing else.
func TestBoldIsAllThatColourAdds(t *testing.T) {
	c := carryAll(t, exampleBike(t, "road"), exampleBike(t, "studio"))
	var b strings.Builder
	require.NoError(t, report.Text(&b, c, true))
	bold := b.String()
	assert.Contains(t, bold, "\x1b[1m")
	assert.Equal(t, text(t, c), strings.NewReplacer("\x1b[1m", "", "\x1b[0m", "").Replace(bold))
}

// Marks as they stand on the scale.
func TestMarksInWords(t *testing.T) {
	for _, tc := range []struct {
		name               string
		unit, lo, hi, step float64
		anchorY            float64 // with the post upright at this height, the mark wanted follows
		want               string
	}{
		{"between two marks", 10, 0, 40, 0, 0, `post +\d+\.\d, between \d+ and \d+  +\d`},
		{"on steps", 10, 0, 40, 0.5, 0, `post +step \d+(\.5)?  +\d`},
		{"a scale in mm is read to the mm", 1, 0, 400, 0, 0, `post +\d+\.\d  +\d`},
		{"a scale in inches is read finer", 25.4, 0, 16, 0, 0, `post +\d+\.\d\d, between \d+ and \d+  +\d`},
	} {
		t.Run(tc.name, func(t *testing.T) {
			target := exampleBike(t, "studio")
			a := &target.Adjusters[0]
			require.Equal(t, "saddle post", a.Name)
			a.Unit, a.Lo, a.Hi, a.Step = tc.unit, tc.lo, tc.hi, tc.step
			delete(target.Marks, a.Name)
			assert.Regexp(t, tc.want, text(t, carryAll(t, exampleBike(t, "road"), target)))
		})
	}
}

// An adjuster without a scale is given by tape, and the tape reading is the one of the finished bike.
func TestNoScaleIsGivenByTape(t *testing.T) {
	c := carryAll(t, exampleBike(t, "road"), exampleBike(t, "studio"))
	r := c.Results[0]
	for _, s := range r.Settings {
		if s.Adjuster != "bar slide" {
			assert.Nil(t, s.Tape, s.Adjuster)
			continue
		}
		require.NotNil(t, s.Tape)
		assert.False(t, s.Scale)
		for _, k := range r.Checks {
			if k.Name == "nose-to-bar" {
				assert.Equal(t, "line", s.Tape.Kind)
				assert.InDelta(t, k.Value, s.Tape.Value, 1e-9)
				assert.InDelta(t, k.Sigma, s.Tape.Sigma, 1e-6)
			}
		}
	}
}

// By how much and in which direction a contact is off, seen from where it should be.
func TestMissesInWords(t *testing.T) {
	target := exampleBike(t, "studio")
	target.Adjusters[0].Hi = 15 // the saddle post ends 1.06 marks below what is wanted
	c := carryAll(t, exampleBike(t, "road"), target)
	out := text(t, c)
	sit := c.Results[0].Contacts[0]
	require.Less(t, sit.Got.Y, sit.Want.Y)
	assert.Contains(t, out, "NOT carried: ")
	assert.Regexp(t, `sit   NOT carried: \d+\.\d mm too low`, out)
	assert.Contains(t, strings.Join(strings.Fields(out), " "), "held by the saddle post at its upper stop (15)")
	require.Equal(t, []report.Held{{Contact: "sit", Settings: []string{"saddle post"}}}, c.Results[0].Held)
}
