package bikefile

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/format"
	"carryover/internal/tomltree"
)

// Every word of the trade, to its usual places and to others, is named by the very keys that a file gives.
func TestAReadingIsNamedAsAFileNamesIt(t *testing.T) {
	base := strings.Split(text(t, "source"), "[[reading]]")[0]
	for _, word := range format.Shorthands {
		at, to := Usual(word)
		lists := [][][2]string{{{"kind", word}}}
		switch {
		case word == "floor-height":
			lists = [][][2]string{{{"kind", word}, {"to", "saddle.mid"}}, {{"kind", word}, {"to", "hood"}}}
		case at != "":
			lists = append(lists, [][2]string{{"kind", word}, {"at", "tail"}})
			if to != "" {
				lists = append(lists, [][2]string{{"kind", word}, {"at", "widest"}, {"to", "bar"}})
			}
		}
		for _, keys := range lists {
			src := base + "[[reading]]\nvalue = 300.0\n"
			if format.Reading(word).Unit == format.Deg {
				src = base + "[[reading]]\nvalue = 3.0\n"
			}
			for _, k := range keys {
				src += k[0] + " = " + tomltree.Quote(k[1]) + "\n"
			}
			b, found := ReadBike("my.toml", []byte(src), Folder{Dir: "testdata"}, library)
			require.NotNil(t, b, "%v\n%v", keys, found)
			assert.Equal(t, keys, Keys(b.Readings[0]))
		}
	}
}

// A bike file with one thing changed, and what is said of it: "" nothing.
func TestStatedValuesAtTheirEdges(t *testing.T) {
	rail := readClean(t, "target").Saddle.Only().Rail
	held := func(at float64) string { return fmt.Sprintf("clamp_at = %g", at) }
	for _, c := range []struct{ base, old, new, want string }{
		{"target", "clamp_at = [0.0, 250.0]", held(rail.From), ""},
		{"target", "clamp_at = [0.0, 250.0]", held(rail.To), ""},
		{"target", "clamp_at = [0.0, 250.0]", held(rail.From - 1), "out of reach"},
		{"target", "clamp_at = [0.0, 250.0]", held(rail.To + 1), "out of reach"},
		{"target", "step = 0.5", "step = 2.5", ""},
		{"target", "step = 0.5", "step = 4.0", "the nearest step is 12"},
		{"target", `part = "short-250"`, `part = ""`, "catalogue"},
		{"target", `lever = "lever-mid"`, `levers = ["lever-nosuch"]`, "lever-nosuch"},
		{"aero", "tilt = 7.5", "tilt = 15.0", ""},
		{"aero", "tilt = 7.5", "tilt = 60.0", "offers"},
	} {
		src := text(t, c.base)
		require.Contains(t, src, c.old)
		_, found := ReadBike("my.toml", []byte(strings.Replace(src, c.old, c.new, 1)), Folder{Dir: "testdata"}, library)
		if c.want == "" {
			assert.Empty(t, found, c.new)
		} else {
			assert.Contains(t, found.Error(), c.want, c.new)
		}
	}
}

// A line between the BB and the saddle is a saddle height, whichever end is named first.
func TestALineToTheSaddleIsAHeight(t *testing.T) {
	base := strings.Split(text(t, "source"), "[[reading]]")[0]
	for _, ends := range [][2]string{{"bb", "saddle.mid"}, {"saddle.mid", "bb"}} {
		src := fmt.Sprintf("%s[[reading]]\nkind = \"line\"\nfrom = %q\nto = %q\nvalue = 74.3\n", base, ends[0], ends[1])
		_, found := ReadBike("my.toml", []byte(src), Folder{Dir: "testdata"}, library)
		assert.Contains(t, found.Error(), "74.3 reads like centimetres: write 743")
	}
	src := base + "[[reading]]\nkind = \"line\"\nfrom = \"bb\"\nto = \"bar\"\nvalue = 150\n"
	_, found := ReadBike("my.toml", []byte(src), Folder{Dir: "testdata"}, library)
	assert.Empty(t, found, "the bar may be nearer")
}

// What is as it is leaves nothing free, and a bar without a lever assumes none.
func TestWhatIsFixedAndWhatIsAssumed(t *testing.T) {
	b, found := ReadBike("my.toml", []byte(strings.NewReplacer("rotation = [-5.0, 5.0]", "rotation = [2.0, 2.0]", `lever = "lever-mid"`, "").
		Replace(text(t, "target"))), Folder{Dir: "testdata"}, library)
	require.Empty(t, found)
	assert.False(t, b.Bar.Rotation.Free)
	assert.Empty(t, b.Assumed)
}

// A width at the very nose of the saddle is one that somebody may sit on; a long list of what a part offers is told in short.
func TestAtTheNoseAndLongLists(t *testing.T) {
	nose := readClean(t, "target").Saddle.Only().Width(0)
	for width, want := range map[float64]string{nose: "", nose - 1: "nobody sits there"} {
		src := text(t, "target") + fmt.Sprintf("\n[posture.own]\nhands = \"hood\"\nsupport = %g\n", width)
		_, found := ReadBike("my.toml", []byte(src), Folder{Dir: "testdata"}, library)
		if want == "" {
			assert.Empty(t, found)
		} else {
			assert.Contains(t, found.Error(), want)
		}
	}
	assert.Equal(t, "1, 2, 3", listed([]float64{1, 2, 3}))
	assert.Equal(t, "1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12", listed([]float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}))
	assert.Equal(t, "1, 2, 3, 4, 5, 6, 7, 8, 9, 10, ... 13", listed([]float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13}))
}
