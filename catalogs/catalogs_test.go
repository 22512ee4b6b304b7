package catalogs_test

import (
	"io/fs"
	"path"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/catalogs"
	"carryover/internal/catalog"
	"carryover/internal/partfile"
	"carryover/internal/plane"
)

// What each part is by itself is judged by the program's own lint, in package catalog. Here is what they are together.

func parts(t *testing.T, kind partfile.Kind) []*partfile.Part {
	t.Helper()
	all, err := catalog.New(catalogs.Files).List(kind)
	require.NoError(t, err)
	return all
}

func TestEveryPartIsNamedByShapeAndSize(t *testing.T) {
	idForm := regexp.MustCompile(`^[a-z]+(-[a-z0-9]+)*$`)
	ids, names, found := map[string]string{}, map[string]string{}, 0
	for k, atLeast := range []int{20, 14, 8, 26, 10} {
		all := parts(t, partfile.Kind(k))
		assert.GreaterOrEqual(t, len(all), atLeast, partfile.KindNames[k])
		found += len(all)
		for _, p := range all {
			assert.Equal(t, p.ID, strings.TrimSuffix(path.Base(p.File), ".toml"), "the file is named after the id")
			assert.Regexp(t, idForm, p.ID)
			assert.Empty(t, ids[p.ID], "%s: an id is unique over all kinds", p.ID)
			assert.Empty(t, names[p.Name], "%s: two parts with one name", p.ID)
			ids[p.ID], names[p.Name] = p.Name, p.ID
		}
	}
	files, err := fs.Glob(catalogs.Files, "*/*.toml")
	require.NoError(t, err)
	assert.Len(t, files, found, "every file is a part of the folder it lies in")
	for _, id := range []string{"classic-280", "compact-420", "lever-mid", "clip-low", "stem-80", "stem-90", "stem-100"} {
		assert.Contains(t, ids, id)
	}
}

func TestShapesCoverTheTrade(t *testing.T) {
	for _, shape := range []string{"short", "classic", "long", "wide", "split-nose", "flat", "waved", "narrow", "tri"} {
		assert.GreaterOrEqual(t, len(catalog.New(catalogs.Files).Glob(partfile.Saddle, "*"+shape+"*")), 2, shape)
	}
	bent, ownDrops := 0, 0
	for _, p := range parts(t, partfile.Bar) {
		if p.Bar.Curved() {
			bent++
		}
		if p.Bar.Drops != nil {
			ownDrops++
		}
	}
	assert.True(t, bent >= 12 && len(parts(t, partfile.Bar))-bent >= 4 && ownDrops >= 2)
	fixed, stepped, stepless := 0, 0, 0
	for _, p := range parts(t, partfile.Clipon) {
		c := p.Clipon
		assert.Contains(t, c.Holes, 0.0, "%s: a hole above the bar", p.ID)
		assert.Zero(t, c.Stacks[0], "%s: no riser at all can be built", p.ID)
		assert.GreaterOrEqual(t, c.Spacings[0], c.PadWidth, "%s: the pads do not overlap", p.ID)
		switch {
		case c.Tilt[0] == c.Tilt[1]:
			fixed++
		case c.TiltStep == 0:
			stepless++
		default:
			stepped++
		}
	}
	assert.True(t, fixed >= 1 && stepped >= 3 && stepless >= 1)
	stems := map[[2]float64]bool{}
	for _, p := range parts(t, partfile.Stem) {
		shape := [2]float64{p.Stem.Length, p.Stem.Angle}
		assert.False(t, stems[shape], "%s: two stems of one length and angle", p.ID)
		stems[shape] = true
	}
	for _, angle := range []float64{6, 17} { // the common two, in every common length
		for length := 70.0; length <= 130; length += 10 {
			assert.True(t, stems[[2]float64{length, plane.Rad(angle)}], "stem of %g, %g°", length, angle)
		}
	}
}

// TestStraightedgeRests: a saddle whose straightedge touches one point rocks and has no tilt; nothing but a split nose is
// broad in front.
func TestStraightedgeRests(t *testing.T) {
	for _, p := range parts(t, partfile.Saddle) {
		s, touching := p.Saddle, 0
		for _, at := range s.Stations() {
			if s.Top(at) == 0 {
				touching++
			}
		}
		assert.GreaterOrEqual(t, touching, 2, p.ID)
		assert.Equal(t, strings.HasPrefix(p.ID, "split-"), s.Width(0) > 50, p.ID)
	}
}

// TestFirstAnswerFromLittle: two bikes without shapes take at most 25 lines and 14 numbers that a tape, a level or a crank gives.
func TestFirstAnswerFromLittle(t *testing.T) {
	lines, numbers := 0, 0
	for _, name := range []string{"weekend.toml", "trainer.toml"} {
		src, err := fs.ReadFile(catalogs.Examples, name)
		require.NoError(t, err)
		for _, line := range strings.Split(strings.TrimSpace(string(src)), "\n") {
			if !strings.HasPrefix(line, "#") {
				lines++
			}
		}
		numbers += len(regexp.MustCompile(`(value|crank) = `).FindAll(src, -1))
	}
	assert.LessOrEqual(t, lines, 25)
	assert.LessOrEqual(t, numbers, 14)
}
