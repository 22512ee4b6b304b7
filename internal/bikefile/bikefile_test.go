package bikefile

import (
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/catalogs"
	"carryover/internal/bike"
	"carryover/internal/catalog"
	"carryover/internal/plane"
	"carryover/internal/saddle"
	"carryover/internal/tomltree"
)

var library = catalog.New(catalogs.Files)

func text(t testing.TB, name string) string {
	t.Helper()
	src, err := os.ReadFile(filepath.Join("testdata", name+".toml"))
	require.NoError(t, err)
	return string(src)
}

// readClean reads a test bike that must give no finding at all.
func readClean(t *testing.T, name string) *bike.Bike {
	t.Helper()
	file := filepath.Join("testdata", name+".toml")
	src, err := os.ReadFile(file)
	require.NoError(t, err)
	b, problems := ReadBike(file, src, Folder{Dir: "testdata"}, library)
	require.Empty(t, problems)
	return b
}

func TestSourceIsResolved(t *testing.T) {
	b := readClean(t, "source")
	assert.Equal(t, "Źródło", b.Name)
	assert.Equal(t, 270.0, *b.Frame.BBHeight)
	assert.InDelta(t, plane.Rad(73), *b.Frame.SeatAngle, 1e-15)
	assert.Equal(t, bike.Feet{Crank: 172.5, SoleHeight: 24}, b.Feet)
	assert.Equal(t, "classic-280", b.Saddle.Options[0].ID)
	assert.Equal(t, bike.Fixed(plane.Rad(0.5)), b.Saddle.Tilt)
	assert.Equal(t, bike.Setting{}, b.Saddle.ClampAt)
	assert.Equal(t, "file:parts/lever.toml", b.Bar.Lever.Options[0].ID, "as it is written")
	assert.Equal(t, "Test lever", b.Bar.Lever.Options[0].Name)
	assert.Equal(t, 30.0, b.Bar.Lever.Only().Along)
	assert.Equal(t, bike.Fixed(4), b.Bar.LeverAt)
	assert.Equal(t, bike.Setting{}, b.Bar.Rotation)
	assert.Equal(t, []bike.Posture{{Name: "road", Hands: bike.Hood, SitBones: true, SupportSigma: 4, Weights: bike.DefaultWeights()}},
		b.Postures)
	assert.Nil(t, b.Stem)
	assert.NotNil(t, b.Marks)
}

func TestTargetIsResolved(t *testing.T) {
	b := readClean(t, "target")
	assert.Equal(t, []float64{165, 170}, b.Feet.Cranks)
	rail := b.Saddle.Only().Rail
	assert.Equal(t, bike.Setting{Given: true, Free: true, Lo: rail.From, Hi: rail.To}, b.Saddle.ClampAt, "narrowed to the rails")
	assert.Equal(t, bike.Setting{Given: true, Free: true, Lo: plane.Rad(-5), Hi: plane.Rad(5)}, b.Bar.Rotation)
	assert.Equal(t, bike.Setting{}, b.Bar.LeverAt)
	assert.Equal(t, &plane.Point{X: -150, Y: 520}, b.SaddleAnchor)
	assert.Equal(t, map[string]float64{"saddle post": 12.5}, b.Marks)
	assert.Equal(t, []string{"where the lever sits is not stated (lever_at in [bar]): taken where the flat run meets the bend"}, b.Assumed)
	post, dial, barPost := b.Adjusters[0], b.Adjusters[1], b.Adjusters[2]
	assert.InDelta(t, plane.Rad(107), post.Angle, 1e-15)
	assert.Equal(t, []float64{10, 0, 30, 0.5, 0.5}, []float64{post.Unit, post.Lo, post.Hi, post.Step, post.Sigma})
	assert.Equal(t, bike.MovesSaddleTilt, dial.Moves)
	assert.Equal(t, []float64{plane.Rad(0.5), plane.Rad(0.3)}, []float64{dial.Unit, dial.Sigma}, "angles in radians")
	assert.Equal(t, []float64{-1, 1.5}, []float64{barPost.Unit, barPost.Sigma})
	assert.True(t, barPost.NoScale)
	assert.False(t, post.NoScale)
}

func TestOpenSlotsAndClipOn(t *testing.T) {
	b := readClean(t, "aero")
	var saddles, stems []string
	for _, o := range b.Saddle.Options {
		saddles = append(saddles, o.ID)
	}
	for _, o := range b.Stem.Options {
		stems = append(stems, o.ID)
	}
	assert.True(t, b.Saddle.Open)
	assert.Equal(t, []string{"split-nose-250", "tri-275", "tri-short-250"}, saddles, "patterns in the order of the ids")
	assert.Equal(t, []string{"stem-100", "stem-110", "stem-120", "stem-130"}, stems, "as written, each once")
	assert.Equal(t, bike.Spacers{Given: true, Free: true, Max: 30, Step: 5}, b.Stem.Spacers)
	require.NotNil(t, b.Stem.Flip)
	assert.False(t, *b.Stem.Flip)
	steerer, ok := b.Steerer()
	require.True(t, ok)
	assert.Equal(t, plane.Point{X: 385, Y: 570}, steerer.Top)

	c := b.Clipon
	assert.Equal(t, bike.Fixed(plane.Rad(7.5)), c.Tilt)
	assert.Equal(t, bike.Fixed(10), c.Stack)
	assert.Equal(t, bike.Setting{Given: true, Free: true, Lo: 0, Hi: 30}, c.Hole)
	assert.Equal(t, bike.Setting{Given: true, Free: true, Lo: 240, Hi: 300}, c.Extension, "narrowed to the part")
	assert.Equal(t, bike.Weights{Extension: 3, Setback: 1, Hands: 1, Angle: plane.Deg(1)}, b.Postures[0].Weights)
	assert.Equal(t, 85.0, b.Postures[0].Support)

	require.Len(t, b.Calibrations, 1)
	cal := b.Calibrations[0]
	assert.Equal(t, "all the way down", cal.Name)
	require.Len(t, cal.Readings, 1)
	assert.Equal(t, 3.0, cal.Readings[0].Sigma, "from the floor")
}

func TestInlinePart(t *testing.T) {
	src := strings.Replace(text(t, "target"), `"lever-mid"`, `{ name = "Own", hollow = [31.0, 22.0], angle = 6.0, sigma = 2.5 }`, 1)
	b, problems := ReadBike("x.toml", []byte(src), Folder{}, library)
	require.Empty(t, problems)
	o := b.Bar.Lever.Options[0]
	assert.Equal(t, "inline", o.ID)
	assert.Equal(t, "Own", o.Name)
	assert.Equal(t, 2.5, o.Sigma)
	assert.InDelta(t, plane.Rad(6), o.Part.Angle, 1e-15)
}

func TestPartFileIsFoundInTheFolderOfTheBike(t *testing.T) {
	files := fstest.MapFS{"bikes/parts/lever.toml": {Data: []byte(text(t, "parts/lever"))}}
	b, problems := ReadBike("example:x", []byte(text(t, "source")), Folder{Dir: "bikes", FS: files}, library)
	require.Empty(t, problems)
	assert.Equal(t, "example:x", b.File)
	assert.Equal(t, "Test lever", b.Bar.Lever.Options[0].Name)
}

func TestReadingsAndTheirShorthands(t *testing.T) {
	nose := bike.Place{Kind: bike.AtSaddle}
	mid := bike.Place{Kind: bike.AtSaddle, Ref: saddle.Reference{Kind: saddle.Mid}}
	at := func(kind saddle.RefKind, mm float64) bike.Place {
		return bike.Place{Kind: bike.AtSaddle, Ref: saddle.Reference{Kind: kind, MM: mm}}
	}
	floor, bb, bar := bike.Place{Kind: bike.AtFloor}, bike.Place{Kind: bike.AtBB}, bike.Place{Kind: bike.AtBar}
	hood, drop, pad := bike.Place{Kind: bike.AtHood}, bike.Place{Kind: bike.AtDrop}, bike.Place{Kind: bike.AtPad}
	half := plane.Rad(0.5)
	for _, c := range []struct {
		src  string
		want bike.Reading
	}{
		{`kind = "line", from = "bb", to = "saddle.mid", value = 740`,
			bike.Reading{Kind: bike.Line, From: bb, To: mid, Value: 740, Sigma: 2, Written: "line bb to saddle.mid"}},
		{`kind = "level", from = "saddle.tail", to = "hood", value = -3`,
			bike.Reading{Kind: bike.Level, From: at(saddle.Tail, 0), To: hood, Value: -3, Sigma: 2, Written: "level saddle.tail to hood"}},
		{`kind = "plumb", from = "drop", to = "floor", value = -800.5`,
			bike.Reading{Kind: bike.Plumb, From: drop, To: floor, Value: -800.5, Sigma: 3, Written: "plumb drop to floor"}},
		{`kind = "angle", of = "pad", value = 10`,
			bike.Reading{Kind: bike.Angle, Of: bike.PadBody, Value: plane.Rad(10), Sigma: half, Written: "angle of pad"}},
		{`kind = "seat-tube", value = 730`,
			bike.Reading{Kind: bike.SeatTube, Value: 730, Sigma: 3, Written: "seat-tube"}},
		{`kind = "saddle-height", value = 740, sigma = 1.5`,
			bike.Reading{Kind: bike.Line, From: bb, To: mid, Value: 740, Sigma: 1.5, Written: "saddle-height at mid"}},
		{`kind = "saddle-height", at = "width:80", value = 740`,
			bike.Reading{Kind: bike.Line, From: bb, To: at(saddle.ByWidth, 80), Value: 740, Sigma: 2, Written: "saddle-height at width:80.0"}},
		{`kind = "setback", value = 60`,
			bike.Reading{Kind: bike.Level, From: nose, To: bb, Value: 60, Sigma: 2, Written: "setback at nose"}},
		{`kind = "setback", at = "sit", value = 60`,
			bike.Reading{Kind: bike.Level, From: at(saddle.Sit, 0), To: bb, Value: 60, Sigma: 2, Written: "setback at sit"}},
		{`kind = "nose-to-bar", value = 500`,
			bike.Reading{Kind: bike.Line, From: nose, To: bar, Value: 500, Sigma: 2, Written: "nose-to-bar"}},
		{`kind = "reach", value = 540`,
			bike.Reading{Kind: bike.Level, From: nose, To: hood, Value: 540, Sigma: 2, Written: "reach at nose to hood"}},
		{`kind = "reach", at = "at:100", to = "pad", value = 540`,
			bike.Reading{Kind: bike.Level, From: at(saddle.ByStation, 100), To: pad, Value: 540, Sigma: 2, Written: "reach at at:100.0 to pad"}},
		{`kind = "drop", value = 60`,
			bike.Reading{Kind: bike.Plumb, From: hood, To: mid, Value: 60, Sigma: 2, Written: "drop at mid to hood"}},
		{`kind = "drop", at = "nose", to = "bar", value = 60`,
			bike.Reading{Kind: bike.Plumb, From: bar, To: nose, Value: 60, Sigma: 2, Written: "drop at nose to bar"}},
		{`kind = "floor-height", to = "saddle.mid", value = 990`,
			bike.Reading{Kind: bike.Plumb, From: floor, To: mid, Value: 990, Sigma: 3, Written: "floor-height to saddle.mid"}},
		{`kind = "saddle-tilt", value = -2`,
			bike.Reading{Kind: bike.Angle, Of: bike.SaddleBody, Value: plane.Rad(-2), Sigma: half, Written: "saddle-tilt"}},
		{`kind = "bar-rotation", value = 2, sigma = 1`,
			bike.Reading{Kind: bike.Angle, Of: bike.BarBody, Value: plane.Rad(2), Sigma: plane.Rad(1), Written: "bar-rotation"}},
		{`kind = "hood-angle", value = 2`,
			bike.Reading{Kind: bike.Angle, Of: bike.HoodBody, Value: plane.Rad(2), Sigma: half, Written: "hood-angle"}},
		{`kind = "pad-tilt", value = 2`,
			bike.Reading{Kind: bike.Angle, Of: bike.PadBody, Value: plane.Rad(2), Sigma: half, Written: "pad-tilt"}},
	} {
		t.Run(c.src, func(t *testing.T) {
			head, _, _ := strings.Cut(text(t, "source"), "[[reading]]")
			src := "reading = [{ " + c.src + " }]\n" + head
			b, problems := ReadBike("x.toml", []byte(src), Folder{Dir: "testdata"}, library)
			require.Empty(t, problems)
			require.Len(t, b.Readings, 1)
			got := b.Readings[0]
			assert.Equal(t, 1, got.Where.Start.Line)
			assert.Equal(t, "reading = [{ "+c.src+" }]", got.Source)
			got.Where, got.Source = c.want.Where, ""
			c.want.Index = 1
			assert.Equal(t, c.want, got)
		})
	}
}

func TestOrderLineEndsAndByteOrderMarkDoNotMatter(t *testing.T) {
	for _, name := range []string{"source", "target", "aero"} {
		plain := text(t, name)
		want, problems := ReadBike("x.toml", []byte(plain), Folder{Dir: "testdata"}, library)
		require.Empty(t, problems)
		for variant, src := range map[string]string{
			"CRLF": strings.ReplaceAll(plain, "\n", "\r\n"),
			"BOM":  "\ufeff" + plain,
			"both": "\ufeff" + strings.ReplaceAll(plain, "\n", "\r\n"),
		} {
			got, problems := ReadBike("x.toml", []byte(src), Folder{Dir: "testdata"}, library)
			require.Empty(t, problems, variant)
			assert.Equal(t, want, got, variant)
		}
	}
	head, frame, _ := strings.Cut(text(t, "source"), "[frame]")
	frame, rest, _ := strings.Cut(frame, "[feet]")
	moved := head + "[feet]" + rest + "[frame]" + frame
	b, problems := ReadBike("x.toml", []byte(moved), Folder{Dir: "testdata"}, library)
	require.Empty(t, problems)
	assert.Equal(t, 270.0, *b.Frame.BBHeight)
}

func TestListsMayBeEmptyAndMuchLeftOut(t *testing.T) {
	b, problems := ReadBike("bikes/least.toml", []byte(
		"schema = 1\nadjuster = []\nreading = []\n[feet]\ncrank = 170\nsole_height = 20\n[saddle]\npart = \"short-250\"\n"), Folder{}, library)
	require.Empty(t, problems)
	assert.Equal(t, "least", b.Name)
	assert.True(t, b.Bar.Empty())
	assert.Empty(t, b.Readings)
	assert.Empty(t, b.Postures)
}

func TestEveryExampleReadsWithoutAWord(t *testing.T) {
	names, err := fs.Glob(catalogs.Examples, "*.toml")
	require.NoError(t, err)
	require.Contains(t, names, "road.toml")
	require.Contains(t, names, "studio.toml")
	for _, name := range names {
		src, err := fs.ReadFile(catalogs.Examples, name)
		require.NoError(t, err)
		assert.Contains(t, string(src), "nvented", name)
		if name == "rider.toml" {
			r, problems := ReadRider(name, src)
			require.Empty(t, problems)
			assert.Equal(t, 122.0, r.SitWidth())
			continue
		}
		b, problems := ReadBike("example:"+strings.TrimSuffix(name, ".toml"), src, Folder{FS: catalogs.Examples}, library)
		require.Empty(t, problems, name)
		assert.NotEmpty(t, b.Name)
	}
}

func TestRider(t *testing.T) {
	r, problems := ReadRider("me.toml", []byte("schema = 1\nsit_bones = 110\nheight = 1780\nhip_above_saddle = 90\n"))
	require.Empty(t, problems)
	assert.Equal(t, "me", r.Name)
	assert.Equal(t, 20.0, r.Margin, "the usual margin")
	assert.Equal(t, 130.0, r.SitWidth())
	assert.Equal(t, 1780.0, *r.Body.Height)
	assert.Equal(t, 90.0, *r.Body.HipAboveSaddle)
	assert.Nil(t, r.Body.Trunk)
}

func TestFilesThatAreNone(t *testing.T) {
	big := filepath.Join(t.TempDir(), "big.toml")
	require.NoError(t, os.WriteFile(big, make([]byte, 1<<20+1), 0o644))
	for path, code := range map[string]string{
		filepath.Join(t.TempDir(), "none.toml"): "file-missing",
		t.TempDir():                             "file-kind",
		big:                                     "file-size",
	} {
		src, problems := tomltree.ReadFile(path)
		assert.Nil(t, src)
		require.Len(t, problems, 1)
		assert.Equal(t, code, problems[0].Code)
	}
	for _, src := range []string{"", "\x00\x01\x7fELF", "hello", "\xff\xfeh\x00", "{}"} {
		b, problems := ReadBike("x.toml", []byte(src), Folder{}, library)
		assert.Nil(t, b)
		assert.True(t, problems.HasErrors(), "%q", src)
	}
}

// finite fails when any number that the bike's geometry is computed from is not an ordinary number.
func finite(t *testing.T, b *bike.Bike) {
	numbers := []float64{b.Feet.Crank, b.Feet.SoleHeight}
	numbers = append(numbers, b.Feet.Cranks...)
	for _, s := range []bike.Setting{b.Saddle.ClampAt, b.Saddle.Tilt, b.Bar.LeverAt, b.Bar.Rotation} {
		require.LessOrEqual(t, s.Lo, s.Hi)
		numbers = append(numbers, s.Lo, s.Hi)
	}
	for _, a := range b.Adjusters {
		require.LessOrEqual(t, a.Lo, a.Hi)
		require.Positive(t, a.Sigma)
		require.NotZero(t, a.Unit)
		numbers = append(numbers, a.Angle, a.Travel(a.Lo), a.Travel(a.Hi), a.Step)
	}
	for _, r := range b.Readings {
		require.Positive(t, r.Sigma)
		numbers = append(numbers, r.Value)
	}
	for _, v := range numbers {
		require.False(t, math.IsNaN(v) || math.IsInf(v, 0))
	}
}

func FuzzReadBike(f *testing.F) {
	for _, name := range []string{"source", "target", "aero"} {
		f.Add([]byte(text(f, name)))
	}
	f.Add([]byte("schema = 1\n[saddle]\npart = { }\n[stem]\nspacers = []\n[marks]\na.b = 1\n"))
	nothing := Folder{FS: fstest.MapFS{}}
	f.Fuzz(func(t *testing.T, src []byte) {
		b, problems := ReadBike("fuzz.toml", src, nothing, library)
		require.Equal(t, problems.HasErrors(), b == nil, "a bike exactly when nothing is wrong")
		if b != nil {
			finite(t, b)
		}
	})
}

func FuzzReadRider(f *testing.F) {
	f.Add([]byte("schema = 1\nname = \"A\"\nsit_bones = 110.0\nmargin = 20.0\ntrunk = 500.0\n"))
	f.Add([]byte("schema = 1\nsit_bones = -1\n"))
	f.Fuzz(func(t *testing.T, src []byte) {
		r, problems := ReadRider("fuzz.toml", src)
		require.Equal(t, problems.HasErrors(), r == nil, "a rider exactly when nothing is wrong")
		if r != nil {
			require.GreaterOrEqual(t, r.SitWidth(), 0.0)
		}
	})
}

func BenchmarkReadBike(b *testing.B) {
	src := []byte(text(b, "target"))
	b.ReportAllocs()
	for b.Loop() {
		if _, problems := ReadBike("x.toml", src, Folder{}, library); problems.HasErrors() {
			b.Fatal(problems)
		}
	}
}

// TestWithoutShapes is a bike of readings alone: what it leaves out stays open, and what is usual is filled in.
func TestWithoutShapes(t *testing.T) {
	b, found := ReadBike("my.toml", []byte(`schema = 1
date = 2026-11-27
fitter = "A. Fitter"
feet.crank = 172.5
frame.pitch = 0.5
saddle = { sag = 7.0 }
bar = {}
posture.road.hands = "hood"
posture.far = { hands = "hood", support = 100.0, support_sigma = 1.5 }
reading = [
  { kind = "saddle-height", at = "sit", value = 735.0, by = "B. Helper", date = "2026-11-26" },
  { kind = "reach", at = "sit", value = 740.0 },
]`), Folder{}, library)
	require.Empty(t, found)
	assert.True(t, b.Saddle.Empty() && b.Bar.Empty() && b.Feet.NoSole)
	assert.Equal(t, 7.0, *b.Saddle.Sag)
	assert.InDelta(t, plane.Rad(0.5), b.Frame.Pitch, 1e-15)
	assert.Equal(t, 1.0, b.AnchorSigma)
	assert.Equal(t, bike.Record{Date: "2026-11-27", Fitter: "A. Fitter"}, b.Record)
	assert.Equal(t, 0.0, b.Postures[0].Support)
	assert.Equal(t, 3.0, b.Postures[0].SupportSigma)
	assert.Equal(t, 1.5, b.Postures[1].SupportSigma)
	assert.Equal(t, "B. Helper", b.Readings[0].By)
	assert.Equal(t, "2026-11-26", b.Readings[0].Date)
}

// TestStretchFitsTheShape: the place where it is as wide as the support moves with both scales.
func TestStretchFitsTheShape(t *testing.T) {
	read := func(saddle string) *bike.Bike {
		b, found := ReadBike("my.toml", []byte("schema = 1\nfeet.crank = 170\nsaddle = "+saddle+
			"\nposture.road = { hands = \"hood\", support = \"at:150\" }\n"), Folder{}, library)
		require.Empty(t, found)
		return b
	}
	plain := read(`{ part = "classic-280" }`)
	_, wide := plain.Saddle.Only().Widest()
	long := read(fmt.Sprintf(`{ part = "classic-280", stretch = { length = 308, width = %g } }`, 1.2*wide))
	s, l := plain.Saddle.Only(), long.Saddle.Only()
	assert.InDelta(t, 308, l.Length, 1e-9)
	assert.InDelta(t, 1.2*s.Width(100), l.Width(110), 1e-9)
	assert.InDelta(t, s.Top(100), l.Top(110), 1e-9)
	assert.InDelta(t, 1.1*s.Rail.From, l.Rail.From, 1e-9)
	assert.Equal(t, s.Rail.Height, l.Rail.Height)
	assert.Equal(t, 150.0, *long.Postures[0].At)
	assert.InDelta(t, l.Width(150), long.Postures[0].Support, 1e-12)
	assert.Equal(t, plain.Saddle.Options[0].Sigma, long.Saddle.Options[0].Sigma)
}
