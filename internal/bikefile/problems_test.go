package bikefile

import (
	"flag"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/diag"
	"carryover/internal/format"
)

var update = flag.Bool("update", false, "write the golden files anew")

// problem is one mistake made in a good file, and where and as what it must be reported.
type problem struct {
	name     string
	base     string // file in testdata
	old, new string
	want     string // "line:column code", in order
	mend     string // part of what is told to mend it; "" when there is none to test
}

var problems = []problem{
	{"unknown table", "source", "[feet]", "[foot]", "1:1 missing-key, 11:2 unknown-key", ""},
	{"unknown key", "target", "clamp_at =", "clamp_ad =", "11:1 unknown-key", `did you mean "clamp_at"?`},
	{"schema missing", "source", "schema = 1\n", "\n", "1:1 missing-key", ""},
	{"schema of text", "source", "schema = 1", `schema = "1"`, "1:10 wrong-type", ""},
	{"no saddle", "source", "[saddle]\npart = \"classic-280\"\ntilt = 0.5\n", "", "1:1 missing-key", ""},
	{"saddle twice over", "source", `part = "classic-280"`, "part = \"classic-280\"\nparts = [\"short-250\"]", "17:9 part-twice", ""},
	{"saddle without part, the nose read", "source", "part = \"classic-280\"\n", "",
		"27:1 reference-shape, 31:1 reference-shape, 35:1 reference-shape, 39:1 reference-shape", `"sit"`},
	{"support nowhere", "source", "support = \"sit-bones\"\n", "\n", "24:1 missing-key", ""},
	{"support behind the tail", "source", `"sit-bones"`, `"at:900"`, "26:11 reference", ""},
	{"support at no number", "source", `"sit-bones"`, `"at:back"`, "26:11 reference", ""},
	{"support at a place of no saddle", "target", "part = \"short-250\"\n",
		"parts = [\"short-250\"]\n[posture.road]\nhands = \"hood\"\nsupport = \"at:45\"\n[saddle-]\n",
		"13:11 support-shape, 14:2 unknown-key", "the width there"},
	{"stretch in centimetres", "source", "tilt = 0.5", "stretch = { length = 28.5 }", "17:22 implausible", "write 285"},
	{"stretch of nothing", "source", "tilt = 0.5", "stretch = {}", "17:11 missing-key", "length = 270.0"},
	{"stretch of a choice", "target", "part = \"short-250\"\n", "parts = [\"short-250\"]\nstretch = { width = 150 }\n",
		"11:11 stretch-open", ""},
	{"lever without a bar", "source", "part = \"compact-420\"\n", "\n", "21:9 lever-without-bar, 22:12 lever-without-bar", ""},
	{"too steep a pitch", "source", "[frame]", "[frame]\npitch = 11", "5:9 value-range", ""},
	{"anchor sure to the atom", "target", "[anchor]", "[anchor]\nsigma = 0", "19:9 value-range", ""},
	{"day of no calendar", "source", "[frame]", "date = \"2026-02-30\"\n[frame]", "4:8 date", "2026-11-27"},
	{"day as a number", "source", "value = 740.0", "value = 740.0\ndate = 2026", "31:8 wrong-type", "2026-11-27"},
	{"mark without a range", "target", "range = [0.0, 30.0]\n", "\n", "46:17 mark-range", ""},
	{"bb height in centimetres", "source", "bb_height = 270.0", "bb_height = 27.0", "5:13 implausible", "write 270"},
	{"head angle of a leaning wall", "source", "head_angle = 73.0", "head_angle = 17.0", "7:14 value-range", ""},
	{"crank in centimetres", "source", "crank = 172.5", "crank = 17.25", "12:9 implausible", "17.25 reads like centimetres: write 172.5"},
	{"crank of no length", "source", "crank = 172.5", "crank = 0.0", "12:9 implausible", ""},
	{"crank nan", "source", "crank = 172.5", "crank = nan", "12:9 not-finite", ""},
	{"sole height too high", "source", "sole_height = 24.0", "sole_height = 240.0", "13:15 value-range", ""},
	{"no crank to choose", "target", "cranks = [165.0, 170.0]", "cranks = []", "6:10 empty-list", ""},
	{"crank in a list in centimetres", "target", "cranks = [165.0, 170.0]", "cranks = [16.5, 170.0]", "6:11 implausible", "write 165"},
	{"id misspelt", "source", `"classic-280"`, `"clasic-280"`, "16:8 part-missing", `did you mean "classic-280"?`},
	{"part of the wrong kind", "source", `"classic-280"`, `"compact-420"`, "16:8 part-missing", "compact-420 is a bar, not a saddle"},
	{"part file of the wrong kind", "source", `"classic-280"`, `"file:parts/lever.toml"`, "16:8 part-kind", `kind = "saddle"`},
	{"part file missing", "source", "parts/lever.toml", "parts/leaver.toml", "21:9 file-missing", "folder of the bike file"},
	{"part file is a directory", "source", "parts/lever.toml", "parts", "21:9 file-kind", "folder of the bike file"},
	{"part file of no name", "source", "file:parts/lever.toml", "file:", "21:9 part-missing", ""},
	{"part file with a slip", "source", "parts/lever.toml", "parts/broken.toml", "1:1 missing-key, 7:1 unknown-key", ""},
	{"file without its prefix", "source", "file:parts/lever.toml", "lever.toml", "21:9 part-missing", `"file:lever.toml"`},
	{"pattern for one part", "source", `"classic-280"`, `"classic-*"`, "16:8 part-pattern", `parts = ["classic-*"]`},
	{"list for one part", "source", `"classic-280"`, `["classic-280"]`, "16:8 wrong-type", "parts = [...]"},
	{"part of a number", "source", `"classic-280"`, "280", "16:8 wrong-type", ""},
	{"pattern of nothing", "aero", `"tri-*"`, `"quad-*"`, "16:28 part-missing", ""},
	{"no part to choose", "aero", `["split-nose-250", "tri-*"]`, "[]", "16:9 empty-list", ""},
	{"inline part with a slip", "target", `"lever-mid"`, `{ hollow = [30.0, 25.0], angle = 8.0, kind = "lever" }`, "15:47 unknown-key", ""},
	{"inline saddle too short", "source", `"classic-280"`,
		"{ length = 28.0, width = [[0.0, 40.0], [280.0, 140.0]], top = [[0.0, 0.0], [280.0, 0.0]], sag = 5.0, " +
			"rail = { height = 45.0, from = 110.0, to = 180.0 } }", "16:19 implausible", "write 280"},
	{"measured hood and lever", "source", `"compact-420"`, `"base-flat-400"`, "21:9 hood-and-lever, 22:12 hood-and-lever", "needs no lever"},
	{"lever beyond the bend", "source", "lever_at = 4.0", "lever_at = 400.0", "22:12 out-of-reach", ""},
	{"clamp off the rails", "target", "[0.0, 250.0]", "20.0", "11:12 out-of-reach", ""},
	{"clamp in centimetres", "target", "[0.0, 250.0]", "12.0", "11:12 out-of-reach", "write 120"},
	{"clamp range off the rails", "target", "[0.0, 250.0]", "[200.0, 250.0]", "11:12 out-of-reach", ""},
	{"clamp range backwards", "target", "[0.0, 250.0]", "[250.0, 0.0]", "11:12 reversed-range", "write [0.0, 250.0]"},
	{"rotation of nothing", "target", "[-5.0, 5.0]", "[]", "16:12 wrong-count", ""},
	{"rotation of text", "target", "[-5.0, 5.0]", `"free"`, "16:12 wrong-type", ""},
	{"stem and bar anchor", "aero", "[steerer]", "[anchor]\nbar_clamp = [400.0, 500.0]\n\n[steerer]", "9:13 bar-held-twice", ""},
	{"stem without a steerer", "aero", "[steerer]\ntop = [385.0, 570.0]\n", "", "19:1 stem-frame", "stack and reach"},
	{"stem without a head angle", "aero", "head_angle = 72.0\n", "\n", "21:1 stem-frame", "head_angle"},
	{"spacers of no step", "aero", "step = 5.0", "step = 0.0", "23:32 implausible", ""},
	{"spacers as a list", "aero", "{ max = 30.0, step = 5.0 }", "[0.0, 30.0]", "23:11 wrong-type", "{ max = 30.0, step = 5.0 }"},
	{"flip as a number", "aero", "flip = false", "flip = 0", "24:8 wrong-type", ""},
	{"hole between the holes", "aero", "hole = [0.0, 30.0]", "hole = 10.0", "29:8 not-offered", "-20, 0, 20, 40"},
	{"stack that cannot be built", "aero", "stack = 10.0", "stack = 12.0", "30:9 not-offered", "0, 5, 10"},
	{"spacing not offered", "aero", "spacing = 200.0", "spacing = 150.0", "32:11 not-offered", "180, 200"},
	{"tilt between its steps", "aero", "tilt = 7.5", "tilt = 7.0", "28:8 not-offered", "7.5"},
	{"extension too long", "aero", "[200.0, 300.0]", "400.0", "31:13 out-of-reach", ""},
	{"posture without hands", "source", "hands = \"hood\"\n", "\n", "24:1 missing-key", ""},
	{"hands on the tops", "source", `hands = "hood"`, `hands = "tops"`, "25:9 value-choice", ""},
	{"support misspelt", "source", `"sit-bones"`, `"sit-bone"`, "26:11 value-choice", `did you mean "sit-bones"?`},
	{"support in centimetres", "source", `"sit-bones"`, "12.2", "26:11 implausible", "write 122"},
	{"support in quotes", "source", `"sit-bones"`, `"122"`, "26:11 value-choice", "without quotes"},
	{"weight of nothing", "aero", "{ angle = 1.0 }", "{ angle = 0.0 }", "37:21 value-range", ""},
	{"adjuster without a name", "target", "name = \"saddle post\"\n", "\n", "22:1 missing-key", ""},
	{"adjuster of an empty name", "target", `name = "saddle post"`, `name = ""`, "23:8 adjuster-name", ""},
	{"adjuster named like a setting", "target", `name = "tilt dial"`, `name = "saddle.tilt"`, "31:8 adjuster-name", ""},
	{"two adjusters of one name", "target", `name = "bar post"`, `name = "saddle post"`, "37:8 adjuster-twice", ""},
	{"adjuster that moves nothing known", "target", `moves = "bar"`, `moves = "bars"`, "38:9 value-choice", `did you mean "bar"?`},
	{"adjuster without a direction", "target", "angle = 107.0\n", "\n", "22:1 missing-key", ""},
	{"turning adjuster with a direction", "target", `moves = "saddle-tilt"`, "moves = \"saddle-tilt\"\nangle = 90.0",
		"33:9 unknown-key", ""},
	{"unit of nothing", "target", "unit = 10.0", "unit = 0.0", "26:8 value-range", ""},
	{"range of one number", "target", "range = [0.0, 30.0]", "range = [0.0]", "27:9 wrong-count", ""},
	{"range backwards", "target", "range = [0.0, 30.0]", "range = [30.0, 0.0]", "27:9 reversed-range", "write [0.0, 30.0]"},
	{"range beyond the room", "target", "range = [0.0, 30.0]", "range = [0.0, 3000.0]", "27:9 implausible", ""},
	{"step on an empty range", "target", "range = [0.0, 30.0]", "range = [12.5, 12.5]", "28:8 step-empty-range", "step = 0.0"},
	{"step backwards", "target", "step = 0.5", "step = -0.5", "28:8 value-range", ""},
	{"step of nothing to see", "target", "step = 0.5", "step = 1e-9", "28:8 step-tiny", "step = 0.0"},
	{"sigma of nothing", "target", "sigma = 1.5", "sigma = 0.0", "42:9 value-range", ""},
	{"marked as text", "target", "marked = false", `marked = "no"`, "43:10 wrong-type", ""},
	{"saddle adjuster without its anchor", "target", "saddle_clamp = [-150.0, 520.0]\n", "\n", "24:9 missing-anchor", "saddle_clamp"},
	{"bar adjuster without its anchor", "target", "bar_clamp = [400.0, 500.0]\n", "\n", "38:9 missing-anchor", "bar_clamp"},
	{"anchor far away", "target", "[-150.0, 520.0]", "[-15000.0, 520.0]", "19:17 value-range", ""},
	{"tilt set twice", "target", "clamp_at", "tilt = 1.0\nclamp_at", "11:8 set-twice", "leave one of the two out"},
	{"two tilt dials", "target", "name = \"bar post\"\nmoves = \"bar\"\nangle = 90.0\nunit = -1.0",
		"name = \"second dial\"\nmoves = \"saddle-tilt\"\nunit = 0.1", "38:9 turned-twice", "handles one"},
	{"mark of no adjuster", "target", `"saddle post" = 12.5`, `"sadle post" = 12.5`, "46:16 mark-unknown", `did you mean "saddle post"?`},
	{"mark of a setting", "target", `"saddle post" = 12.5`, `"bar.rotation" = 1.0`, "46:18 mark-unknown", "no scale"},
	{"mark outside the range", "target", `"saddle post" = 12.5`, `"saddle post" = 30.5`, "46:17 mark-range", ""},
	{"mark as text", "target", `"saddle post" = 12.5`, `"saddle post" = "12.5"`, "46:17 wrong-type", "without quotes"},
	{"reading without a kind", "source", "kind = \"setback\"\n", "\n", "32:1 missing-key", ""},
	{"reading of a kind nobody knows", "source", `kind = "setback"`, `kind = "set-back"`, "33:8 value-choice", `did you mean "setback"?`},
	{"reading without a value", "source", "value = 740.0\n", "\n", "28:1 missing-key", ""},
	{"reading with a key of another kind", "source", `kind = "hood-angle"`, "kind = \"hood-angle\"\nto = \"hood\"", "46:1 unknown-key", ""},
	{"saddle height in centimetres", "source", "value = 740.0", "value = 74.0", "30:9 implausible",
		"74.0 reads like centimetres: write 740"},
	{"a reading sure to the atom", "source", "value = 740.0", "value = 740.0\nsigma = 1e-9", "31:9 value-range", ""},
	{"saddle height below nothing", "source", "value = 740.0", "value = -740.0", "30:9 implausible", ""},
	{"angle beyond belief", "source", "value = 4.0", "value = 94.0", "46:9 value-range", ""},
	{"value is infinite", "source", "value = 60.0", "value = inf", "34:9 not-finite", ""},
	{"reading without its ends", "source", "kind = \"saddle-height\"\n", "kind = \"line\"\n", "28:1 missing-key, 28:1 missing-key", ""},
	{"angle of nothing", "source", `kind = "hood-angle"`, `kind = "angle"`, "44:1 missing-key", ""},
	{"angle of a wheel", "source", `kind = "hood-angle"`, "kind = \"angle\"\nof = \"wheel\"", "46:6 value-choice", ""},
	{"floor height to nothing", "source", "kind = \"saddle-height\"\nvalue = 740.0", "kind = \"floor-height\"\nvalue = 990.0",
		"28:1 missing-key", ""},
	{"floor height in centimetres", "source", "kind = \"saddle-height\"\nvalue = 740.0",
		"kind = \"floor-height\"\nto = \"bar\"\nvalue = 91.5", "31:9 implausible", "write 915"},
	{"line to the floor", "source", "kind = \"saddle-height\"\n", "kind = \"line\"\nfrom = \"floor\"\nto = \"bar\"\n",
		"30:8 floor-reading", `kind = "plumb"`},
	{"floor to floor", "source", "kind = \"saddle-height\"\n", "kind = \"floor-height\"\nto = \"floor\"\n", "30:6 reading-nowhere", ""},
	{"floor without a BB height", "target", "[marks]", "[[reading]]\nkind = \"floor-height\"\nto = \"bar\"\nvalue = 990.0\n\n[marks]",
		"47:6 reading-needs-frame", "bb_height"},
	{"seat tube without its angle", "aero", "kind = \"plumb\"\nfrom = \"floor\"\nto = \"pad.rear\"\nvalue = 900.0",
		"kind = \"seat-tube\"\nvalue = 740.0", "44:8 reading-needs-frame", "seat_angle"},
	{"point of no bike", "source", `kind = "reach"`, "kind = \"reach\"\nto = \"hoods\"", "38:6 point", `did you mean "hood"?`},
	{"saddle point without saddle", "source", "kind = \"saddle-height\"\n", "kind = \"line\"\nfrom = \"bb\"\nto = \"nose\"\n",
		"31:6 point", `write "saddle.nose"`},
	{"reference misspelt", "source", `kind = "setback"`, "kind = \"setback\"\nat = \"noze\"", "34:6 reference", `did you mean "nose"?`},
	{"width the saddle never has", "source", `kind = "setback"`, "kind = \"setback\"\nat = \"width:220\"", "34:6 reference", ""},
	{"station behind the tail", "source", `kind = "setback"`, "kind = \"setback\"\nat = \"at:300\"", "34:6 reference", ""},
	{"width of no number", "source", `kind = "setback"`, "kind = \"setback\"\nat = \"width:wide\"", "34:6 reference", ""},
	{"from a point to itself", "source", "kind = \"saddle-height\"\n", "kind = \"line\"\nfrom = \"bar\"\nto = \"bar\"\n",
		"31:6 reading-nowhere", ""},
	{"pad edge without a clip-on", "source", `kind = "reach"`, "kind = \"reach\"\nto = \"pad.rear\"", "38:6 point-needs-part", ""},
	{"calibration without marks", "aero", "marks = {}\n", "\n", "39:1 missing-key", ""},
	{"calibration with a mark of nothing", "aero", "marks = {}", "marks = { post = 1.0 }", "41:18 mark-unknown", ""},
	{"one reading as a table", "source",
		"[[reading]]\nkind = \"saddle-height\"\nvalue = 740.0\n\n[[reading]]\nkind = \"setback\"\nvalue = 60.0\n\n" +
			"[[reading]]\nkind = \"reach\"\nvalue = 540.0\n\n[[reading]]\nkind = \"drop\"\nvalue = 60.0\n\n[[reading]]\nkind = \"hood-angle\"",
		"[reading]\nkind = \"hood-angle\"", "28:1 wrong-type", "[[reading]]"},
}

// places writes findings as the table does.
func places(found diag.List) string {
	var got []string
	for _, d := range found {
		got = append(got, fmt.Sprintf("%d:%d %s", d.Span.Start.Line, d.Span.Start.Col, d.Code))
	}
	return strings.Join(got, ", ")
}

func TestProblemsAreFoundWithTheirPlace(t *testing.T) {
	var golden strings.Builder
	for _, c := range problems {
		t.Run(c.name, func(t *testing.T) {
			base := text(t, c.base)
			require.Contains(t, base, c.old)
			b, found := ReadBike("my.toml", []byte(strings.Replace(base, c.old, c.new, 1)), Folder{Dir: "testdata"}, library)
			assert.Nil(t, b)
			assert.Equal(t, c.want, places(found), found.Error())
			var mends []string
			for _, d := range found {
				mends = append(mends, d.Detail)
			}
			assert.Contains(t, strings.Join(mends, "\n"), c.mend)
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

func TestAllProblemsOfAFileAtOnce(t *testing.T) {
	src := text(t, "target")
	for _, slip := range [][2]string{
		{"crank = 170.0", "crank = 17.0"}, {`"short-250"`, `"short-205"`}, {"[-5.0, 5.0]", "[5.0, -5.0]"},
		{"step = 0.5", "step = -0.5"}, {`"saddle post" = 12.5`, `"sadle post" = 12.5`}, {"marked", "markd"},
	} {
		require.Contains(t, src, slip[0])
		src = strings.Replace(src, slip[0], slip[1], 1)
	}
	_, found := ReadBike("my.toml", []byte(src), Folder{}, library)
	assert.Equal(t, "5:9 implausible, 10:8 part-missing, 16:12 reversed-range, 28:8 value-range, 43:1 unknown-key, "+
		"46:16 mark-unknown", places(found), found.Error())
}

func TestWhatAMachineMayBe(t *testing.T) {
	for _, c := range []struct{ name, base, old, new string }{
		{"negative marks", "target", "range = [0.0, 30.0]", "range = [-20.0, 30.0]"},
		{"a step wider than the range", "target", "step = 0.5\n", "step = 40.0\n"},
		{"an adjuster that cannot move", "target", "range = [-50.0, 200.0]", "range = [20.0, 20.0]"},
		{"a far anchor", "target", "[-150.0, 520.0]", "[-4000.0, 3000.0]"},
		{"whole numbers", "source", "740.0", "740"},
		{"two steps to a bar adjuster and a stem", "aero", "[steerer]",
			"[[adjuster]]\nname = \"riser\"\nmoves = \"bar\"\nangle = 90.0\nunit = 1.0\nrange = [0.0, 40.0]\n\n[steerer]"},
		{"readings to a grip without a clip-on", "source", `kind = "reach"`, `kind = "reach"` + "\nto = \"grip\""},
		{"no sole height", "source", "sole_height = 24.0\n", "\n"},
		{"a place as support", "source", `"sit-bones"`, `"at:170"`},
		{"a stretched saddle", "source", "tilt = 0.5", "stretch = { length = 285.0, width = 140.0 }"},
		{"no stop known", "target", "range = [-10.0, 10.0]", ""},
		{"a bare date", "source", "[frame]", "date = 2026-11-27\n[frame]"},
		{"readings instead of an anchor", "target", "[anchor]\nsaddle_clamp = [-150.0, 520.0]\nbar_clamp = [400.0, 500.0]",
			"[[reading]]\nkind = \"setback\"\nvalue = 50.0"},
		{"a rail stretch just touched", "target", "[0.0, 250.0]", "[156.0, 250.0]"},
		{"a stack off by rounding", "aero", "stack = 10.0", "stack = 10.02"},
	} {
		t.Run(c.name, func(t *testing.T) {
			base := text(t, c.base)
			require.Contains(t, base, c.old)
			src := strings.Replace(base, c.old, c.new, 1)
			if c.name == "a step wider than the range" {
				src = strings.Replace(src, "= 12.5", "= 0.0", 1)
			}
			b, found := ReadBike("my.toml", []byte(src), Folder{Dir: "testdata"}, library)
			require.Empty(t, found)
			assert.NotNil(t, b)
		})
	}
}

func TestFittedCrankThatIsNotToChooseIsAWarning(t *testing.T) {
	src := strings.Replace(text(t, "target"), "crank = 170.0", "crank = 172.5", 1)
	b, found := ReadBike("my.toml", []byte(src), Folder{}, library)
	require.NotNil(t, b)
	require.Len(t, found, 1)
	assert.Equal(t, diag.Warning, found[0].Severity)
	assert.Equal(t, "crank-not-listed", found[0].Code)
	assert.Equal(t, "the crank that is fitted, 172.5 mm, is not one of cranks", found[0].Summary)
}

// What reads well and is hardly meant is said, with the mend.
func TestTrapsAreWarnings(t *testing.T) {
	for _, c := range []struct{ base, old, new, want, mend string }{
		{"target", "angle = 107.0", "angle = 73.0", "25:9 travel-forward", "180 - 73 = 107"},
		{"source", `"sit-bones"`, "25.0", "26:11 support-at-nose", ""},
		{"source", "value = 60.0", "value = 743", "34:9 unusual-size", ""},
		{"source", "value = 60.0", "value = 18.5\nat = \"mid\"", "34:9 unusual-size", "write 185"},
		{"source", "sole_height = 24.0", "sole_height = 2.4", "13:15 unusual-size", "write 24"},
		{"target", "[-150.0, 520.0]", "[-15.0, 52.0]", "19:16 centimetres", "write [-150, 520]"},
		{"target", "[400.0, 500.0]", "[40.0, 50.0]", "20:13 centimetres", "write [400, 500]"},
		{"source", "value = 60.0", "value = 240", "34:9 unusual-size", ""},
		{"source", "tilt = 0.5", "tilt = 16.5", "17:8 unusual-size", ""},
		{"source", "lever_at = 4.0", "rotation = 44\nclamp_width = 118", "22:12 unusual-size, 23:15 unusual-size", ""},
		{"source", "value = 540.0", "value = 54.0", "38:9 unusual-size", "write 540"},
		{"source", "part = \"compact-420\"\nlever = \"file:parts/lever.toml\"\nlever_at = 4.0", "", "", ""},
	} {
		b, found := ReadBike("my.toml", []byte(strings.Replace(text(t, c.base), c.old, c.new, 1)), Folder{Dir: "testdata"}, library)
		require.NotNil(t, b, found.Error())
		assert.Equal(t, c.want, places(found))
		for _, d := range found {
			assert.Equal(t, diag.Warning, d.Severity)
			assert.Contains(t, d.Detail, c.mend)
		}
	}
}

func TestMoreAdjustersThanCanBeHandled(t *testing.T) {
	src := "schema = 1\nfeet.crank = 170\nsaddle = {}\n"
	for i := range 33 {
		src += fmt.Sprintf("[[adjuster]]\nname = \"%d\"\nmoves = \"saddle\"\nangle = 90\nunit = 1\n", i)
	}
	src += "[[reading]]\nkind = \"setback\"\nat = \"sit\"\nvalue = 180.0\n"
	_, found := ReadBike("my.toml", []byte(src), Folder{}, library)
	assert.Equal(t, "164:1 adjusters-many", places(found))
	b, found := ReadBike("my.toml", []byte(strings.Replace(src,
		"[[adjuster]]\nname = \"32\"\nmoves = \"saddle\"\nangle = 90\nunit = 1\n", "", 1)), Folder{}, library)
	require.Empty(t, found)
	assert.Len(t, b.Adjusters, 32)
	assert.True(t, b.Adjusters[0].NoRange)
}

func TestMarkBetweenStepsIsAWarning(t *testing.T) {
	src := strings.Replace(text(t, "target"), "= 12.5", "= 12.7", 1)
	b, found := ReadBike("my.toml", []byte(src), Folder{}, library)
	require.NotNil(t, b)
	require.Len(t, found, 1)
	assert.Equal(t, diag.Warning, found[0].Severity)
	assert.Equal(t, "mark-step", found[0].Code)
	assert.Equal(t, "the nearest step is 12.5", found[0].Detail)
	assert.Equal(t, 12.7, b.Marks["saddle post"])
}

func TestBrokenPartFileShowsBothPlaces(t *testing.T) {
	src := strings.Replace(text(t, "source"), "parts/lever.toml", "parts/broken.toml", 1)
	_, found := ReadBike("my.toml", []byte(src), Folder{Dir: "testdata"}, library)
	require.NotEmpty(t, found)
	assert.Equal(t, "testdata/parts/broken.toml", found[0].Span.File)
	require.Len(t, found[0].Related, 1)
	assert.Equal(t, "my.toml", found[0].Related[0].Span.File)
	assert.Equal(t, 21, found[0].Related[0].Span.Start.Line)
}

func TestRiderProblems(t *testing.T) {
	for _, c := range []struct{ name, src, want, mend string }{
		{"negative sit bones", "schema = 1\nsit_bones = -110.0\n", "2:13 implausible", ""},
		{"sit bones in centimetres", "schema = 1\nsit_bones = 11.0\n", "2:13 implausible", "write 110"},
		{"height in metres", "schema = 1\nheight = 1.78\n", "2:10 implausible", "1.78 reads like metres: write 1780"},
		{"height in centimetres", "schema = 1\nheight = 178\n", "2:10 implausible", "write 1780"},
		{"margin too great", "schema = 1\nmargin = 200.0\n", "2:10 value-range", ""},
		{"unknown key", "schema = 1\nsitbones = 110.0\n", "2:1 unknown-key", `did you mean "sit_bones"?`},
		{"no schema", "sit_bones = 110.0\n", "1:1 missing-key", ""},
		{"nan", "schema = 1\ntrunk = nan\n", "2:9 not-finite", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, found := ReadRider("me.toml", []byte(c.src))
			assert.Nil(t, r)
			assert.Equal(t, c.want, places(found))
			assert.Contains(t, found[0].Detail, c.mend)
		})
	}
}

// Every built-in setting that an adjuster must not be named after is refused.
func TestSettingNamesAreTaken(t *testing.T) {
	for _, name := range format.Settings {
		src := strings.Replace(text(t, "target"), "tilt dial", name, 1)
		_, found := ReadBike("my.toml", []byte(src), Folder{}, library)
		assert.Equal(t, "31:8 adjuster-name", places(found), name)
	}
}
