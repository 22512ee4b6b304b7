package catalogs

import (
	"io/fs"
	"math"
	"path"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/BurntSushi/toml"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/interp"
)

// The ranges below are common practice: what somebody who handles these parts every day expects to measure. Where a
// published limit applies it is named beside the check.

type header struct {
	Schema int     `toml:"schema"`
	Kind   string  `toml:"kind"`
	ID     string  `toml:"id"`
	Name   string  `toml:"name"`
	Sigma  float64 `toml:"sigma"`
}

type saddlePart struct {
	header
	Length float64      `toml:"length"`
	Width  [][2]float64 `toml:"width"`
	Top    [][2]float64 `toml:"top"`
	Sag    float64      `toml:"sag"`
	Rail   struct {
		Height float64 `toml:"height"`
		From   float64 `toml:"from"`
		To     float64 `toml:"to"`
	} `toml:"rail"`
}

type barPart struct {
	header
	Reach     *float64    `toml:"reach"`
	Drop      *float64    `toml:"drop"`
	Bend      *float64    `toml:"bend"`
	Flare     *float64    `toml:"flare"`
	Hood      *[2]float64 `toml:"hood"`
	HoodAngle *float64    `toml:"hood_angle"`
	Drops     *[2]float64 `toml:"drops"`
	Width     float64     `toml:"width"`
	Clamp     float64     `toml:"clamp"`
}

type leverPart struct {
	header
	Hollow *[2]float64 `toml:"hollow"`
	Angle  *float64    `toml:"angle"`
}

type stemPart struct {
	header
	Length float64  `toml:"length"`
	Angle  *float64 `toml:"angle"`
	Height float64  `toml:"height"`
}

type cliponPart struct {
	header
	Base     float64     `toml:"base"`
	Stacks   []float64   `toml:"stacks"`
	Holes    []float64   `toml:"holes"`
	Tilt     *[2]float64 `toml:"tilt"`
	TiltStep *float64    `toml:"tilt_step"`
	Spacing  []float64   `toml:"spacing"`
	Gap      float64     `toml:"gap"`
	Pad      struct {
		Length float64 `toml:"length"`
		Width  float64 `toml:"width"`
	} `toml:"pad"`
	Grip struct {
		Forward [2]float64 `toml:"forward"`
		Rise    float64    `toml:"rise"`
	} `toml:"grip"`
}

// partFiles lists the part files of one folder by id.
func partFiles(t *testing.T, folder string) map[string]string {
	t.Helper()
	paths, err := fs.Glob(Files, folder+"/*.toml")
	require.NoError(t, err)
	files := make(map[string]string, len(paths))
	for _, p := range paths {
		files[strings.TrimSuffix(path.Base(p), ".toml")] = p
	}
	return files
}

// eachPart decodes every file of a folder strictly and runs check on it as a subtest.
func eachPart[P any](t *testing.T, folder string, check func(t *testing.T, part P)) {
	t.Helper()
	files := partFiles(t, folder)
	require.NotEmpty(t, files)
	for id, p := range files {
		t.Run(id, func(t *testing.T) {
			data, err := Files.ReadFile(p)
			require.NoError(t, err)
			var part P
			meta, err := toml.Decode(string(data), &part)
			require.NoError(t, err)
			require.Empty(t, meta.Undecoded(), "unknown keys")
			check(t, part)
		})
	}
}

func assertWithin(t *testing.T, low, high, got float64, what string) {
	t.Helper()
	assert.GreaterOrEqual(t, got, low, what)
	assert.LessOrEqual(t, got, high, what)
}

// assertRising asserts that values rise strictly.
func assertRising(t *testing.T, values []float64, what string) {
	t.Helper()
	for i := 1; i < len(values); i++ {
		assert.Greater(t, values[i], values[i-1], "%s: entry %d", what, i+1)
	}
}

func columns(pairs [][2]float64) (stations, values []float64) {
	for _, p := range pairs {
		stations = append(stations, p[0])
		values = append(values, p[1])
	}
	return stations, values
}

// sampled gives the values of the monotone cubic at each millimetre from the nose, station 0, to the tail.
func sampled(t *testing.T, stations, values []float64) []float64 {
	t.Helper()
	var curve interp.FritschButland
	require.NoError(t, curve.Fit(stations, values))
	var out []float64
	for s := 0.0; s <= stations[len(stations)-1]; s++ {
		out = append(out, curve.Predict(s))
	}
	return out
}

func TestEveryPartIsNamedByShapeAndSize(t *testing.T) {
	kinds := []struct {
		folder, kind string
		atLeast      int
	}{
		{"saddles", "saddle", 20},
		{"bars", "bar", 14},
		{"levers", "lever", 8},
		{"stems", "stem", 26},
		{"clipons", "clipon", 10},
	}
	idForm := regexp.MustCompile(`^[a-z]+(-[a-z0-9]+)*$`)
	folderOf := map[string]string{}
	nameOf := map[string]string{}
	for _, k := range kinds {
		files := partFiles(t, k.folder)
		assert.GreaterOrEqual(t, len(files), k.atLeast, k.folder)
		for id, p := range files {
			var h header
			data, err := Files.ReadFile(p)
			require.NoError(t, err)
			require.NoError(t, toml.Unmarshal(data, &h), p)
			assert.Equal(t, 1, h.Schema, p)
			assert.Equal(t, k.kind, h.Kind, p)
			assert.Equal(t, id, h.ID, "%s: the file is named after the id", p)
			assert.Regexp(t, idForm, h.ID, p)
			assert.NotEmpty(t, h.Name, p)
			assert.Empty(t, folderOf[id], "%s: an id is unique over all kinds", p)
			assert.Empty(t, nameOf[h.Name], "%s: two parts with one name", p)
			folderOf[id], nameOf[h.Name] = k.folder, id
		}
	}
	for _, id := range []string{"classic-280", "compact-420", "lever-mid", "clip-low", "stem-80", "stem-90", "stem-100"} {
		assert.Contains(t, folderOf, id)
	}
}

func TestSaddleOutlineIsPlausible(t *testing.T) {
	eachPart(t, "saddles", func(t *testing.T, s saddlePart) {
		stations, widths := columns(s.Width)
		require.GreaterOrEqual(t, len(stations), 8)
		// UCI regulations art. 1.3.014: 240 to 300 mm, 5 mm tolerance; value from memory.
		assertWithin(t, 240-5, 300+5, s.Length, "length")
		assert.Zero(t, stations[0], "first station")
		assert.Equal(t, s.Length, stations[len(stations)-1], "last station")
		for i := 1; i < len(stations); i++ {
			assertWithin(t, 18, 40, stations[i]-stations[i-1], "distance between stations")
		}

		widest := slices.Index(widths, slices.Max(widths))
		assertRising(t, widths[:widest+1], "width from the nose to the widest")
		for i := widest + 1; i < len(widths); i++ {
			assert.Less(t, widths[i], widths[i-1], "width behind the widest")
		}
		assertWithin(t, 130, 165, widths[widest], "widest")
		assertWithin(t, 0.75*s.Length, 0.9*s.Length, stations[widest], "station of the widest")
		assertWithin(t, 55, 100, widths[len(widths)-1], "width of the rounded tail")

		curve := sampled(t, stations, widths)
		if strings.HasPrefix(s.ID, "split-") {
			assertWithin(t, 60, 75, curve[0], "split nose")
			assertWithin(t, 65, 80, curve[60], "split nose, 60 mm back")
			return
		}
		assertWithin(t, 35, 45, curve[0], "nose")
		assertWithin(t, 50, 60, curve[60], "60 mm behind the nose")
	})
}

func TestStraightedgeRestsOnTheSaddle(t *testing.T) {
	eachPart(t, "saddles", func(t *testing.T, s saddlePart) {
		stations, heights := columns(s.Top)
		require.GreaterOrEqual(t, len(stations), 8)
		assert.Zero(t, stations[0], "first station")
		assert.Equal(t, s.Length, stations[len(stations)-1], "last station")
		for i := 1; i < len(stations); i++ {
			assertWithin(t, 18, 40, stations[i]-stations[i-1], "distance between stations")
		}

		var touching []float64
		for i, h := range heights {
			if h == 0 {
				touching = append(touching, stations[i])
			}
		}
		require.GreaterOrEqual(t, len(touching), 2, "a straightedge that touches one point rocks and has no tilt")
		front, rear := touching[0], touching[len(touching)-1]
		assertWithin(t, 30, 60, front, "station of the front touching point")
		assertWithin(t, 20, 50, s.Length-rear, "rear touching point to tail")

		curve := sampled(t, stations, heights)
		assert.LessOrEqual(t, slices.Max(curve), 1e-12, "nothing stands above the straightedge")
		assertWithin(t, 2, 9, -curve[0], "dip of the nose")
		assertWithin(t, 1, 7, -heights[len(heights)-1], "dip of the tail")
		assertRising(t, curve[:int(front)+1], "nose up to the front touching point")
		hollow := -slices.Min(curve[int(front) : int(rear)+1])
		switch {
		case strings.Contains(s.ID, "flat"):
			assertWithin(t, 0.5, 3, hollow, "hollow of a flat saddle")
		case strings.Contains(s.ID, "waved"):
			assertWithin(t, 8, 14, hollow, "hollow of a waved saddle")
		default:
			assertWithin(t, 1, 14, hollow, "hollow")
		}
	})
}

func TestSaddleRailAndSag(t *testing.T) {
	eachPart(t, "saddles", func(t *testing.T, s saddlePart) {
		assertWithin(t, 3, 14, s.Sag, "sag")
		assertWithin(t, 38, 52, s.Rail.Height, "rail below the straightedge")
		assertWithin(t, 65, 75, s.Rail.To-s.Rail.From, "stretch a clamp may hold")
		assertWithin(t, 0.45*s.Length, 0.56*s.Length, (s.Rail.From+s.Rail.To)/2, "middle of the stretch")
		assert.Greater(t, s.Rail.From, 0.0)
		assert.Less(t, s.Rail.To, s.Length)
	})
}

func TestSaddleShapesCoverTheTrade(t *testing.T) {
	for _, shape := range []string{"short", "classic", "long", "wide", "split-nose", "flat", "waved", "narrow", "tri"} {
		found := 0
		for id := range partFiles(t, "saddles") {
			if strings.Contains(id, shape) {
				found++
			}
		}
		assert.GreaterOrEqual(t, found, 2, shape)
	}
}

func TestBars(t *testing.T) {
	bent, measured, withOwnDrops := 0, 0, 0
	eachPart(t, "bars", func(t *testing.T, b barPart) {
		assert.Contains(t, []float64{26, 31.8, 35}, b.Clamp, "clamp diameter")
		if b.Drops != nil {
			withOwnDrops++
			assertWithin(t, 25, 65, b.Drops[0], "drops, ahead of the clamp")
			assertWithin(t, 100, 150, -b.Drops[1], "drops, below the clamp")
		}
		if b.Hood != nil {
			measured++
			require.NotNil(t, b.HoodAngle)
			for _, shape := range []*float64{b.Reach, b.Drop, b.Bend, b.Flare} {
				assert.Nil(t, shape, "a measured hand place stands instead of a centreline")
			}
			assertWithin(t, 360, 640, b.Width, "width")
			assertWithin(t, -60, 120, b.Hood[0], "hand ahead of the clamp")
			assertWithin(t, -60, 30, b.Hood[1], "hand above the clamp")
			assertWithin(t, -20, 20, *b.HoodAngle, "hood angle")
			return
		}
		bent++
		assert.Nil(t, b.HoodAngle)
		for _, shape := range []*float64{b.Reach, b.Drop, b.Bend, b.Flare} {
			require.NotNil(t, shape)
		}
		assertWithin(t, 65, 100, *b.Reach, "reach")
		assertWithin(t, 110, 150, *b.Drop, "drop")
		assertWithin(t, 25, 40, *b.Bend, "bend")
		assertWithin(t, 360, 480, b.Width, "width")
		assertWithin(t, 0, 20, *b.Flare, "flare")
		assert.LessOrEqual(t, *b.Bend, *b.Reach, "the bend ends ahead of the clamp")
		assert.LessOrEqual(t, 2**b.Bend, *b.Drop, "two bends fit into the drop")
	})
	assert.GreaterOrEqual(t, bent, 12, "drop bars with a centreline")
	assert.GreaterOrEqual(t, measured, 4, "bars with a measured hand place")
	assert.GreaterOrEqual(t, withOwnDrops, 2, "bars that say where the drops are")
}

func TestLevers(t *testing.T) {
	seen := map[[3]float64]string{}
	eachPart(t, "levers", func(t *testing.T, l leverPart) {
		require.NotNil(t, l.Hollow)
		require.NotNil(t, l.Angle)
		assertWithin(t, 25, 50, l.Hollow[0], "hollow along the bar")
		assertWithin(t, 15, 35, l.Hollow[1], "hollow out from the bar")
		assertWithin(t, 2, 18, *l.Angle, "angle of the top")
		shape := [3]float64{l.Hollow[0], l.Hollow[1], *l.Angle}
		assert.Empty(t, seen[shape], "two levers of one shape")
		seen[shape] = l.ID
	})
}

func TestStems(t *testing.T) {
	seen := map[[2]float64]string{}
	eachPart(t, "stems", func(t *testing.T, s stemPart) {
		require.NotNil(t, s.Angle)
		assertWithin(t, 70, 130, s.Length, "length")
		assertWithin(t, 38, 42, s.Height, "clamp height")
		assert.Contains(t, []float64{0, 6, 10, 17, 30}, *s.Angle, "angles that are made; a stem turned over has the negative one")
		shape := [2]float64{s.Length, *s.Angle}
		assert.Empty(t, seen[shape], "two stems of one length and angle")
		seen[shape] = s.ID
	})
	for length := 70.0; length <= 130; length += 10 {
		assert.Contains(t, seen, [2]float64{length, 6})
		assert.Contains(t, seen, [2]float64{length, 17})
	}
}

func TestClipons(t *testing.T) {
	fixed, stepped, stepless := 0, 0, 0
	eachPart(t, "clipons", func(t *testing.T, c cliponPart) {
		assertWithin(t, 25, 70, c.Base, "base")

		require.NotEmpty(t, c.Stacks)
		assert.Zero(t, c.Stacks[0], "no riser at all can be built")
		assertRising(t, c.Stacks, "stacks")
		assert.LessOrEqual(t, slices.Max(c.Stacks), 60.0)
		for i := 1; i < len(c.Stacks); i++ {
			assert.Contains(t, []float64{5, 10}, c.Stacks[i]-c.Stacks[i-1], "riser")
		}

		require.NotEmpty(t, c.Holes)
		assertRising(t, c.Holes, "holes")
		assert.Contains(t, c.Holes, 0.0, "a hole above the bar")
		assertWithin(t, -40, 0, c.Holes[0], "rearmost hole")
		assertWithin(t, 0, 40, c.Holes[len(c.Holes)-1], "foremost hole")

		require.NotNil(t, c.Tilt)
		require.NotNil(t, c.TiltStep)
		span := c.Tilt[1] - c.Tilt[0]
		assertWithin(t, -10, 30, c.Tilt[0], "least tilt")
		assertWithin(t, -10, 30, c.Tilt[1], "greatest tilt")
		switch {
		case span == 0:
			fixed++
			assert.Zero(t, *c.TiltStep, "a fixed tilt has no step")
		case *c.TiltStep == 0:
			stepless++
			assert.Positive(t, span)
		default:
			stepped++
			assert.Positive(t, span)
			assert.Contains(t, []float64{2.5, 5}, *c.TiltStep, "tilt step")
			assert.Zero(t, math.Mod(span, *c.TiltStep), "the greatest tilt is a step")
		}

		require.NotEmpty(t, c.Spacing)
		assertRising(t, c.Spacing, "spacing")
		assertWithin(t, 150, 280, c.Spacing[0], "least spacing")
		assertWithin(t, 150, 280, c.Spacing[len(c.Spacing)-1], "greatest spacing")
		assertWithin(t, 60, 90, c.Gap, "gap between the clamps")
		assertWithin(t, 80, 125, c.Pad.Length, "pad length")
		assertWithin(t, 75, 120, c.Pad.Width, "pad width")
		assert.GreaterOrEqual(t, c.Spacing[0], c.Pad.Width, "the pads do not overlap")

		assert.Less(t, c.Grip.Forward[0], c.Grip.Forward[1], "extensions slide")
		assertWithin(t, 180, 380, c.Grip.Forward[0], "shortest extension")
		assertWithin(t, 180, 380, c.Grip.Forward[1], "longest extension")
		assertWithin(t, 0, 70, c.Grip.Rise, "grip rise")
	})
	assert.GreaterOrEqual(t, fixed, 2, "clip-ons of fixed tilt")
	assert.GreaterOrEqual(t, stepped, 5, "clip-ons of stepped tilt")
	assert.GreaterOrEqual(t, stepless, 1, "clip-ons of stepless tilt")
}
