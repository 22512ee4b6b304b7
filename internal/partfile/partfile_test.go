package partfile

import (
	"flag"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/catalogs"
	"carryover/internal/diag"
	"carryover/internal/plane"
)

var update = flag.Bool("update", false, "write the golden files anew")

const goodSaddle = `schema = 1
kind = "saddle"
id = "own-240"
name = "Own"
length = 240.0
width = [[0.0, 40.0], [60.0, 55.0], [120.0, 80.0], [200.0, 140.0], [240.0, 80.0]]
top = [[0.0, -4.0], [40.0, 0.0], [120.0, -3.0], [210.0, 0.0], [240.0, -4.0]]
sag = 6.0
rail = { height = 45.0, from = 80.0, to = 150.0 }
`

const goodBar = `schema = 1
kind = "bar"
id = "own-bar"
name = "Own"
reach = 75.0
drop = 125.0
bend = 30.0
width = 420.0
flare = 2.0
clamp = 31.8
`

const goodClipon = `schema = 1
kind = "clipon"
id = "own-clip"
name = "Own"
base = 40.0
stacks = [10.0, 0.0, 5.0]
holes = [0.0, 20.0]
tilt = [-5.0, 15.0]
tilt_step = 2.5
spacing = [180.0, 200.0]
gap = 72.0
pad = { length = 100.0, width = 85.0 }
grip = { forward = [240.0, 340.0], rise = 30.0 }
`

func TestSaddleIsReadWithItsShape(t *testing.T) {
	p, problems := Read("own.toml", []byte(goodSaddle))
	require.Empty(t, problems)
	assert.Equal(t, "own-240", p.ID)
	assert.Equal(t, Saddle, p.Kind)
	assert.Equal(t, 240.0, p.Saddle.Length)
	assert.Equal(t, 6.0, p.Saddle.Sag)
	assert.Equal(t, 45.0, p.Saddle.Rail.Height)
	assert.Equal(t, 140.0, p.Saddle.Width(200))
	assert.Equal(t, -3.0, p.Saddle.Top(120))
	assert.Nil(t, p.Bar)
}

func TestClipOnListsRiseAndAnglesAreRadians(t *testing.T) {
	p, problems := Read("own.toml", []byte(goodClipon))
	require.Empty(t, problems)
	assert.Equal(t, []float64{0, 5, 10}, p.Clipon.Stacks)
	assert.InDelta(t, plane.Rad(15), p.Clipon.Tilt[1], 1e-15)
	assert.InDelta(t, plane.Rad(2.5), p.Clipon.TiltStep, 1e-15)
	assert.Equal(t, [2]float64{240, 340}, p.Clipon.GripForward)
}

func TestMeasuredHoodStandsInsteadOfACurve(t *testing.T) {
	src := "schema = 1\nkind = \"bar\"\nid = \"h\"\nname = \"H\"\nhood = [110, 8]\nhood_angle = 2\n"
	p, problems := Read("own.toml", []byte(src))
	require.Empty(t, problems)
	assert.Equal(t, &plane.Point{X: 110, Y: 8}, p.Bar.Hood)
	assert.InDelta(t, plane.Rad(2), p.Bar.HoodAngle, 1e-15)
	assert.False(t, p.Bar.Curved())

	p, problems = Read("own.toml", []byte(src+"reach = 80.0\n"))
	require.NotNil(t, p, "a superfluous key is no error")
	require.Len(t, problems, 1)
	assert.Equal(t, diag.Warning, problems[0].Severity)
	assert.Equal(t, "unused-key", problems[0].Code)
}

func TestEveryBuiltInPartReadsWithoutAWord(t *testing.T) {
	seen := 0
	require.NoError(t, fs.WalkDir(catalogs.Files, ".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		src, err := catalogs.Files.ReadFile(path)
		require.NoError(t, err)
		p, problems := Read(path, src)
		assert.Empty(t, problems, path)
		if assert.NotNil(t, p, path) {
			assert.Equal(t, strings.TrimSuffix(filepath.Base(path), ".toml"), p.ID)
			assert.Equal(t, filepath.Dir(path), p.Kind.String()+"s")
		}
		seen++
		return nil
	}))
	assert.GreaterOrEqual(t, seen, 60)
}

// problem is one mistake made in a good file, and where and as what it must be reported.
type problem struct {
	name     string
	base     string
	old, new string
	want     []string // "line:column code", in order
	mend     string   // part of the detail of the first; "" when there is none to test
}

var problems = []problem{
	{"unknown key", goodSaddle, "sag =", "sagg =", []string{"1:1 missing-key", "8:1 unknown-key"}, ""},
	{"length as text", goodSaddle, "length = 240.0", `length = "240"`, []string{"5:10 wrong-type"}, "without quotes"},
	{"length in centimetres", goodSaddle, "length = 240.0", "length = 24.0", []string{"5:10 implausible"},
		"24.0 reads like centimetres: write 240"},
	{"length is nan", goodSaddle, "length = 240.0", "length = nan", []string{"5:10 not-finite"}, ""},
	{"sag is infinite", goodSaddle, "sag = 6.0", "sag = inf", []string{"8:7 not-finite"}, ""},
	{"first station", goodSaddle, "width = [[0.0,", "width = [[5.0,", []string{"6:10 station-first"}, "nose back"},
	{"last station", goodSaddle, "[240.0, 80.0]]", "[238.0, 80.0]]", []string{"6:68 station-last"}, ""},
	{"stations out of order", goodSaddle, "[120.0, 80.0], [200.0, 140.0]", "[200.0, 140.0], [120.0, 80.0]",
		[]string{"6:53 station-order"}, ""},
	{"one station twice", goodSaddle, "[120.0, -3.0]", "[40.0, -3.0]", []string{"7:34 station-order"}, ""},
	{"one station only", goodSaddle, "[[0.0, -4.0], [40.0, 0.0], [120.0, -3.0], [210.0, 0.0], [240.0, -4.0]]", "[[0.0, 0.0]]",
		[]string{"7:7 station-count"}, ""},
	{"height above", goodSaddle, "[120.0, -3.0]", "[120.0, 3.0]", []string{"7:34 value-range"}, "measure down"},
	{"height too deep", goodSaddle, "[120.0, -3.0]", "[120.0, -300.0]", []string{"7:34 value-range"}, ""},
	{"straightedge touches nothing", goodSaddle, "[40.0, 0.0], [120.0, -3.0], [210.0, 0.0]",
		"[40.0, -2.0], [120.0, -3.0], [210.0, -1.5]", []string{"7:7 straightedge"}, "add 1.5 to every height"},
	{"no width", goodSaddle, "[0.0, 40.0]", "[0.0, 0.0]", []string{"6:10 value-range"}, ""},
	{"pair of three", goodSaddle, "[0.0, 40.0]", "[0.0, 40.0, 1.0]", []string{"6:10 wrong-count"}, ""},
	{"rail backwards", goodSaddle, "from = 80.0, to = 150.0", "from = 150.0, to = 80.0", []string{"9:32 reversed-range"},
		"from = 80, to = 150"},
	{"rail of no length", goodSaddle, "from = 80.0, to = 150.0", "from = 80.0, to = 80.0", []string{"9:43 empty-range"}, ""},
	{"rail behind the tail", goodSaddle, "to = 150.0", "to = 250.0", []string{"9:43 rail-beyond"}, ""},
	{"rail without height", goodSaddle, "height = 45.0, ", "", []string{"9:8 missing-key"}, ""},
	{"no schema", goodSaddle, "schema = 1\n", "\n", []string{"1:1 missing-key"}, ""},
	{"later schema", goodSaddle, "schema = 1", "schema = 2", []string{"1:10 schema"}, "schema = 1"},
	{"kind nobody knows", goodSaddle, `"saddle"`, `"sadle"`, []string{"2:8 value-choice"}, `did you mean "saddle"?`},
	{"no kind", goodSaddle, "kind = \"saddle\"\n", "\n", []string{"1:1 missing-key"}, ""},
	{"id of a pattern", goodSaddle, "own-240", "own-*", []string{"3:6 part-id"}, ""},
	{"empty id", goodSaddle, "own-240", "", []string{"3:6 part-id"}, ""},
	{"a price", goodSaddle, "sag", "price = 1.0\nsag", []string{"8:1 unknown-key"}, ""},
	{"sigma below nothing", goodSaddle, "sag", "sigma = -1.0\nsag", []string{"8:9 value-range"}, ""},
	{"many at once", goodSaddle, "length = 240.0", "length = 24.0\nlenght = 1\nsigma = \"dear\"",
		[]string{"5:10 implausible", "6:1 unknown-key", "7:9 wrong-type"}, ""},
	{"not TOML", goodSaddle, "length = 240.0", "length 240.0", []string{"5:8 toml-syntax"}, ""},

	{"bend past reach", goodBar, "bend = 30.0", "bend = 80.0", []string{"7:8 bar-bend"}, ""},
	{"bend in centimetres", goodBar, "bend = 30.0", "bend = 3.0", []string{"7:8 implausible"}, "write 30"},
	{"bar without drop", goodBar, "drop = 125.0\n", "\n", []string{"1:1 missing-key"}, ""},
	{"hood angle without hood", goodBar, "flare", "hood_angle = 3.0\nflare", []string{"9:14 missing-key"}, ""},
	{"hood without its angle", goodBar, "reach = 75.0\ndrop = 125.0\nbend = 30.0\n", "hood = [110.0, 8.0]\n",
		[]string{"5:8 missing-key"}, ""},
	{"drops of one number", goodBar, "flare", "drops = [40.0]\nflare", []string{"9:9 wrong-count"}, ""},

	{"no stacks", goodClipon, "stacks = [10.0, 0.0, 5.0]", "stacks = []", []string{"6:10 empty-list"}, ""},
	{"tilt from high to low", goodClipon, "[-5.0, 15.0]", "[15.0, -5.0]", []string{"8:8 reversed-range"}, "[-5.0, 15.0]"},
	{"step on a fixed tilt", goodClipon, "[-5.0, 15.0]", "[5.0, 5.0]", []string{"9:13 step-empty-range"}, "tilt_step = 0.0"},
	{"tilt step of nothing", goodClipon, "tilt_step = 2.5", "tilt_step = 1e-9", []string{"9:13 step-tiny"}, ""},
	{"negative tilt step", goodClipon, "tilt_step = 2.5", "tilt_step = -2.5", []string{"9:13 value-range"}, ""},
	{"pad without width", goodClipon, ", width = 85.0", "", []string{"12:7 missing-key"}, ""},
	{"grip is a number", goodClipon, "grip = { forward = [240.0, 340.0], rise = 30.0 }", "grip = 3", []string{"13:8 wrong-type"}, ""},

	{"lever without angle", "schema = 1\nkind = \"lever\"\nid = \"x\"\nname = \"X\"\nhollow = [30.0, 20.0]\nangle = 8.0\n",
		"angle = 8.0\n", "", []string{"1:1 missing-key"}, ""},
	{"stem in centimetres", "schema = 1\nkind = \"stem\"\nid = \"x\"\nname = \"X\"\nlength = 10.0\nangle = 6.0\nheight = 40.0\n",
		"", "", []string{"5:10 implausible"}, "10.0 reads like centimetres: write 100"},
}

func TestProblemsAreFoundWithTheirPlace(t *testing.T) {
	var golden strings.Builder
	for _, c := range problems {
		t.Run(c.name, func(t *testing.T) {
			require.Contains(t, c.base, c.old)
			p, found := Read("own.toml", []byte(strings.Replace(c.base, c.old, c.new, 1)))
			assert.Nil(t, p)
			var got []string
			for _, d := range found {
				got = append(got, fmt.Sprintf("%d:%d %s", d.Span.Start.Line, d.Span.Start.Col, d.Code))
			}
			assert.Equal(t, c.want, got, found.Error())
			if len(found) > 0 {
				assert.Contains(t, found[0].Detail, c.mend)
			}
			fmt.Fprintf(&golden, "== %s\n%s\n", c.name, found.Error())
		})
	}
	assertGolden(t, "testdata/problems.golden", golden.String())
}

func assertGolden(t *testing.T, path, got string) {
	t.Helper()
	if *update {
		require.NoError(t, os.WriteFile(path, []byte(got), 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, string(want), got, "go test -update writes it anew")
}

func TestMissingPartFile(t *testing.T) {
	p, found := Load(filepath.Join(t.TempDir(), "none.toml"))
	assert.Nil(t, p)
	require.Len(t, found, 1)
	assert.Equal(t, "file-missing", found[0].Code)
}

func FuzzReadPart(f *testing.F) {
	for _, src := range []string{goodSaddle, goodBar, goodClipon, "", "kind = 1", "[rail]\n[[rail]]"} {
		f.Add([]byte(src))
	}
	f.Fuzz(func(t *testing.T, src []byte) {
		p, found := Read("fuzz.toml", src)
		require.Equal(t, found.HasErrors(), p == nil, "a part exactly when nothing is wrong")
		if p == nil {
			return
		}
		set := 0
		for _, there := range []bool{p.Saddle != nil, p.Bar != nil, p.Lever != nil, p.Stem != nil, p.Clipon != nil} {
			if there {
				set++
			}
		}
		require.Equal(t, 1, set, "exactly one shape")
		if s := p.Saddle; s != nil {
			for k := range 101 {
				at := s.Length * float64(k) / 100
				require.LessOrEqual(t, s.Top(at), 1e-9, "the straightedge lies on top")
				require.Greater(t, s.Width(at), 0.0)
			}
		}
	})
}
