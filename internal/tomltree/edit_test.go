package tomltree

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What is changed reads back as asked, and every other line is where it was.
func TestEditing(t *testing.T) {
	for name, c := range map[string]struct{ from, to string }{
		"headers": {`schema = 1
name = "a"  # mine

[feet]
crank = 170.0    # stamped

[stem] # the front
# several
parts = ["x", "y"] # to choose

# first
[[reading]]
kind = "a"

[[reading]]
kind = "b" # last

[marks]
"saddle post" = 1.0
`, `schema = 1
name = "a"  # mine
date = 2030-05-14

[feet]
crank = 165.0    # was 170; stamped
sole = 3.0               # new

[stem] # the front
# several
part = "x" # chosen; to choose
spacers = 5.0

[marks]
"saddle post" = 2.5
"bar post" = 1.0

[posture.road]
hands = "hood"
width = 3.0
# more
`},
		"braces and dots": {`schema = 1
name = "a"
feet.crank = 170.0
stem = { parts = ["x", "y"], old = 1 }
marks = {}
reading = [{ kind = "a" },
           { kind = "b" }] # last
posture = { }
`, `schema = 1
name = "a"
date = 2030-05-14
feet.crank = 165.0 # was 170
feet.sole = 3.0               # new
stem = { part = "x", old = 1, spacers = 5.0 }
marks = { "saddle post" = 2.5, "bar post" = 1.0 }
posture = { road = { hands = "hood" } }
# more
`},
	} {
		for _, ending := range []string{"\n", "\r\n"} {
			t.Run(name, func(t *testing.T) {
				e, problems := NewEdit("a.toml", []byte("\ufeff"+strings.ReplaceAll(c.from, "\n", ending)))
				require.Empty(t, problems)
				e.Set("date", "2030-05-14", "")
				e.Set("crank", "165.0", "was 170", "feet")
				e.Set("sole", "3.0", "new", "feet")
				parts := e.Root.Find("stem.parts")
				e.Rename(parts, "part")
				e.Replace(parts, `"x"`)
				e.Note(parts, "chosen")
				e.Set("spacers", "5.0", "", "stem")
				e.Remove(e.Root.Get("reading"))
				e.Set("saddle post", "2.5", "", "marks")
				e.Set("bar post", "1.0", "", "marks")
				if name == "headers" {
					e.Set("hands", `"hood"`, "", "posture", "road")
					e.Set("width", "3.0", "", "posture", "road")
				} else {
					e.Set("road", `{ hands = "hood" }`, "", "posture")
				}
				out := string(e.Bytes("# more"))
				assert.Equal(t, "\ufeff"+strings.ReplaceAll(c.to, "\n", ending), out)
				_, problems = Parse("a.toml", []byte(out))
				assert.Empty(t, problems)
			})
		}
	}
	e, _ := NewEdit("a.toml", []byte("stem.spacers.max = 30.0\nstem.spacers.step = 5.0 # mm\nstem.x = 1\n"+
		"[bar]\nlever.a = 1\nlever.b = 2\n[c.d]\nx = 1\n"))
	e.Set("spacers", "10.0", "", "stem")
	e.Set("lever", `"l"`, "", "bar")
	e.Set("d", "2", "", "c")
	assert.Equal(t, "stem.spacers = 10.0\nstem.x = 1\n[bar]\nlever = \"l\"\n\n[c]\nd = 2\n", string(e.Bytes()))
	e, _ = NewEdit("a.toml", []byte("[saddle]\nclamp_at = 1.0\n[saddle.part]\nlength = 2.0\n[bar]\nx = 1\n"))
	e.Remove(e.Root.Find("saddle.clamp_at"))
	e.Set("part", `"mine"`, "", "saddle")
	assert.Equal(t, "[saddle]\npart = \"mine\"\n[bar]\nx = 1\n", string(e.Bytes()))
	e, _ = NewEdit("a.toml", []byte("a = { x = 1 }\nb = { x = 1, y = 2 }\n[c]\nx = 1\ny = 2\n"))
	for _, table := range []string{"a", "b", "c"} { // what was taken out can come back
		e.Remove(e.Root.Find(table + ".x"))
		e.Set("x", "3", "", table)
	}
	assert.Equal(t, "a = { x = 3 }\nb = { y = 2, x = 3 }\n[c]\ny = 2\nx = 3\n", string(e.Bytes()))
	e, _ = NewEdit("a.toml", []byte("a = { x = 1, y = 2 }\nb = { x = 1, y = 2 }\n[c]\n[c.d]\nx = 1\n[e]\n"))
	e.Remove(e.Root.Find("a.x"))
	e.Remove(e.Root.Find("b.y"))
	e.Set("d", "2", "", "c")
	assert.Equal(t, "a = { y = 2 }\nb = { x = 1 }\n[c]\nd = 2\n[e]\n", string(e.Bytes()))
}

// In every example and in every way it is written, whatever is set reads back, and nothing else is changed.
func TestEditingChangesNothingElse(t *testing.T) {
	values := func(n *Node) map[string]string {
		all := map[string]string{}
		var walk func(n *Node, path string)
		walk = func(n *Node, path string) {
			for i, c := range n.Children {
				walk(c, path+"/"+c.Key+strings.Repeat("'", map[bool]int{true: i}[c.Key == ""]))
			}
			if len(n.Children) == 0 && n.Kind != KindTable && n.Kind != KindArray {
				all[path] = n.Str
			}
		}
		walk(n, "")
		return all
	}
	names, err := filepath.Glob("../../catalogs/examples/*.toml")
	require.NoError(t, err)
	require.NotEmpty(t, names)
	rng := rand.New(rand.NewPCG(6, 13))
	for _, name := range names {
		src, err := os.ReadFile(name)
		require.NoError(t, err)
		for range 40 {
			e, problems := NewEdit(name, src)
			require.Empty(t, problems)
			want := values(e.Root)
			for range 1 + rng.IntN(4) {
				path := [][]string{nil, {"feet"}, {"saddle"}, {"bar"}, {"marks"}, {"anchor"}, {"new", "one"}}[rng.IntN(7)]
				key := []string{"crank", "tilt", "part", "a b", "date", "rotation", "saddle post", "sag"}[rng.IntN(8)]
				at := "/" + strings.Join(append(path[:len(path):len(path)], key), "/")
				n := e.Root
				for _, k := range path {
					if n != nil {
						n = n.Get(k)
					}
				}
				if n = child(n, key); n != nil && (len(n.Children) > 0 || rng.IntN(3) == 0) {
					if !e.gone[n] {
						e.Remove(n)
						for p := range want {
							if p == at || strings.HasPrefix(p, at+"/") {
								delete(want, p)
							}
						}
					}
					continue
				}
				if _, twice := want[at]; twice && n == nil {
					continue // it was set a moment ago
				}
				value := fmt.Sprintf("%d.5", rng.IntN(100))
				if n != nil && want[at] != n.Str {
					continue
				}
				e.Set(key, value, []string{"", "a note"}[rng.IntN(2)], path...)
				want[at] = value
			}
			out := e.Bytes()
			root, problems := Parse(name, out)
			require.Empty(t, problems, "%s", out)
			require.Equal(t, want, values(root), "%s", out)
		}
	}
}

func child(n *Node, key string) *Node {
	if n == nil {
		return nil
	}
	return n.Get(key)
}
