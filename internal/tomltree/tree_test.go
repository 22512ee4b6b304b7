package tomltree

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strings"
	"testing"
	"time"

	"github.com/BurntSushi/toml"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/diag"
)

// documents are valid, and together use every form of key, table and value.
var documents = map[string]string{
	"empty":            "",
	"comment only":     "# nothing here",
	"bom and crlf":     "\ufeffa = 1\r\n[b]\r\nc = \"d\"\r\n",
	"scalars":          "i = -1_000\nh = 0xff\nf = 2.5e3\nb = true\nd = 2020-01-02 03:04:05Z # c\nt = 07:08\nn = nan\nz = -inf\n",
	"strings":          "a = \"q\\\"#[\"\nb = 'c:\\'\nc = \"\"\"\none \\\n   two\"\"\"\"\nd = '''\nraw ''x'''''\ne = \"\"\nf = ''\n",
	"keys":             "\"a b\" = 1\n'c.d' = 2\n\"\\u00e9\" = 3\n\"\" = 4\n1.2 = 5\n e . \"f\" . g = 6\n",
	"arrays":           "a = [ [1, 2], # x\n  [3,\n 4,], ]\nb = []\nc = [[], [[]]]\nd = [\"]\", '[', 1.5]\n",
	"inline tables":    "a = { b = 1, c.d = \"}\", e = { f = [1, {g = 2}] } }\nx = {}\n",
	"inline lines":     "a = {\n  b = 1, # c\n  c = 2,\n}\n",
	"tables":           "[a.b.c]\nx = 1\n[a]\ny = 2\n[ a . b ] # later\nz = 3\n[\"q r\".'s']\n",
	"arrays of tables": "[[p]]\nn = 1\n[p.q]\nr = 1\n[[p.s]]\nt = 1\n[[p.s]]\n[[p]]\nn = 2\n[p.q]\nr = 2\n",
	"dotted":           "a.b = 1\na.c = 2\n[t]\nu.v.w = 3\nu.v.x = 4\n",
	"case":             "name = 1\nName = 2\nNAME = 3\n",
	"not ascii":        "a = \"日本語 e\u0301 é\" # ok\nb = [\"é\", 1]\n",
	"no last newline":  "[a]\nb = 1",
}

func parse(t *testing.T, text string) *Node {
	t.Helper()
	root, problems := Parse("f.toml", []byte(text))
	require.Empty(t, problems)
	return root
}

// The decoder itself is the oracle: it lists every key in file order and decodes every value.
func TestTreeAgreesWithTheDecoder(t *testing.T) {
	for name, text := range documents {
		t.Run(name, func(t *testing.T) {
			root := parse(t, text)
			var values map[string]any
			meta, err := toml.Decode(text, &values)
			require.NoError(t, err)
			assert.Equal(t, decoderKeys(meta), treeKeys(root))
			assertValue(t, root, values)
			assertSpans(t, root, strings.TrimPrefix(text, "\ufeff"))
		})
	}
}

func decoderKeys(meta toml.MetaData) []string {
	keys := []string{}
	for _, k := range meta.Keys() {
		keys = append(keys, fmt.Sprintf("%q", []string(k)))
	}
	return keys
}

// treeKeys are the paths of everything written in the document, in file order. The elements of a list share the
// list's path.
func treeKeys(root *Node) []string {
	type entry struct {
		pos  diag.Pos
		path string
	}
	var entries []entry
	var walk func(n *Node, path []string)
	walk = func(n *Node, path []string) {
		for _, c := range n.Children {
			below := path
			if n.Kind == KindTable {
				below = append(path[:len(path):len(path)], c.Key)
				if !c.implicit && !c.headers {
					entries = append(entries, entry{c.KeySpan.Start, fmt.Sprintf("%q", below)})
				}
			} else if n.headers {
				entries = append(entries, entry{c.Span.Start, fmt.Sprintf("%q", path)})
			}
			walk(c, below)
		}
	}
	walk(root, nil)
	sort.SliceStable(entries, func(i, j int) bool {
		a, b := entries[i].pos, entries[j].pos
		return a.Line < b.Line || a.Line == b.Line && a.Col < b.Col
	})
	keys := []string{}
	for _, e := range entries {
		keys = append(keys, e.path)
	}
	return keys
}

func assertValue(t *testing.T, n *Node, value any) {
	t.Helper()
	switch v := value.(type) {
	case map[string]any:
		require.Equal(t, KindTable, n.Kind)
		require.Len(t, n.Children, len(v))
		for key, child := range v {
			require.NotNil(t, n.Get(key), key)
			assert.Equal(t, key, n.Get(key).Key)
			assertValue(t, n.Get(key), child)
		}
	case []map[string]any:
		require.Equal(t, KindArray, n.Kind)
		require.Len(t, n.Children, len(v))
		for i := range v {
			assertValue(t, n.Children[i], v[i])
		}
	case []any:
		require.Equal(t, KindArray, n.Kind)
		require.Len(t, n.Children, len(v))
		for i := range v {
			assertValue(t, n.Children[i], v[i])
		}
	case string:
		require.Equal(t, KindString, n.Kind)
		assert.Equal(t, v, n.Str)
	case int64:
		require.Equal(t, KindInteger, n.Kind)
		assert.Equal(t, float64(v), n.Float)
	case float64:
		require.Equal(t, KindFloat, n.Kind)
		assert.Equal(t, math.Float64bits(v), math.Float64bits(n.Float))
	case bool:
		require.Equal(t, KindBool, n.Kind)
		assert.Equal(t, v, n.Bool)
	case time.Time:
		assert.Equal(t, KindDatetime, n.Kind)
	default:
		t.Fatalf("decoder gave a %T", value)
	}
}

// assertSpans wants every span inside the file, and what it encloses to be what the node says.
func assertSpans(t *testing.T, root *Node, text string) {
	t.Helper()
	lines := strings.SplitAfter(text, "\n")
	var walk func(n *Node)
	walk = func(n *Node) {
		if n != root {
			got, ok := excerpt(lines, n.Span)
			require.True(t, ok, "span %v is outside the file", n.Span)
			require.NotEmpty(t, got)
			require.Equal(t, strings.TrimRight(lines[n.Span.Start.Line-1], "\r\n"), strings.TrimRight(n.Line, "\r"))
			switch {
			case n.Kind >= KindInteger:
				require.Equal(t, n.Str, got)
			case n.Kind == KindString:
				require.Contains(t, `"'`, got[:1])
				require.Equal(t, got[:1], got[len(got)-1:])
			case n.Kind == KindArray:
				require.Equal(t, "[]", got[:1]+got[len(got)-1:])
			}
			if n.Key != "" {
				key, ok := excerpt(lines, n.KeySpan)
				require.True(t, ok, "key span %v is outside the file", n.KeySpan)
				require.Equal(t, n.Key, unquote(key))
			}
		}
		for _, c := range n.Children {
			walk(c)
		}
	}
	walk(root)
}

func excerpt(lines []string, s diag.Span) (string, bool) {
	from, okFrom := offset(lines, s.Start)
	to, okTo := offset(lines, s.End)
	if !okFrom || !okTo || from > to {
		return "", false
	}
	return strings.Join(lines, "")[from:to], true
}

func offset(lines []string, p diag.Pos) (int, bool) {
	if p.Line < 1 || p.Line > len(lines) {
		return 0, false
	}
	at := len(strings.Join(lines[:p.Line-1], ""))
	col := 1
	for i := range lines[p.Line-1] {
		if col == p.Col {
			return at + i, true
		}
		col++
	}
	return at + len(lines[p.Line-1]), col == p.Col
}

func TestSpansCountCharacters(t *testing.T) {
	root := parse(t, "# éé\n[[p]]\n[[p]]\n\"日本\" = [\"é\", 27.5] # c\n[p.t]\nx.y = {\n z = 1 }\n")
	span := func(l1, c1, l2, c2 int) diag.Span {
		return diag.Span{File: "f.toml", Start: diag.Pos{Line: l1, Col: c1}, End: diag.Pos{Line: l2, Col: c2}}
	}
	p := root.Get("p")
	assert.Equal(t, span(2, 3, 2, 4), p.KeySpan)
	assert.Equal(t, span(2, 1, 2, 6), p.Children[0].Span)
	second := p.Children[1]
	assert.Equal(t, span(3, 1, 3, 6), second.Span)
	list := second.Get("日本")
	assert.Equal(t, span(4, 1, 4, 5), list.KeySpan)
	assert.Equal(t, span(4, 8, 4, 19), list.Span)
	assert.Equal(t, span(4, 14, 4, 18), list.Children[1].Span)
	assert.Equal(t, `"日本" = ["é", 27.5] # c`, list.Children[1].Line)
	table := second.Get("t")
	assert.Equal(t, span(5, 1, 5, 6), table.Span)
	assert.Equal(t, span(5, 4, 5, 5), table.KeySpan)
	inline := table.Get("x").Get("y")
	assert.Equal(t, span(6, 3, 6, 4), inline.KeySpan)
	assert.Equal(t, span(6, 7, 7, 9), inline.Span)
	assert.Equal(t, " z = 1 }", inline.Get("z").Line)
	assert.Nil(t, root.Get("P"), "keys are case sensitive")
}

// FuzzParse: no panic, no span outside the file, and the decoder's verdict, save for the limits that are ours.
func FuzzParse(f *testing.F) {
	for _, text := range documents {
		f.Add([]byte(text))
	}
	for _, c := range syntaxErrors {
		f.Add([]byte(c.text))
	}
	f.Fuzz(func(t *testing.T, src []byte) {
		if len(src) > 4096 {
			return // assertSpans takes quadratic time
		}
		root, problems := Parse("f.toml", src)
		require.NotEmpty(t, problems.Error()+"x")
		text := strings.TrimPrefix(string(src), "\ufeff")
		lines := strings.SplitAfter(text, "\n")
		for _, d := range problems {
			if d.Span != nil && d.Span.Start.Line > 0 {
				_, ok := excerpt(lines, *d.Span)
				require.True(t, ok, "span %v is outside the file", *d.Span)
			}
		}
		if root == nil && !slices.Contains([]string{"toml-syntax", "toml-duplicate", "toml-shape"}, problems[0].Code) {
			return // a limit of ours
		}
		var values map[string]any
		meta, err := toml.Decode(string(src), &values)
		if root == nil && err == nil && problems[0].Code == "toml-duplicate" {
			return // the decoder lets "a.b = 1" followed by "a = 2" pass, and drops the second
		}
		require.Equal(t, err == nil, root != nil, "decoder: %v; ours: %v", err, problems)
		if root == nil {
			return
		}
		require.Equal(t, decoderKeys(meta), treeKeys(root))
		assertValue(t, root, values)
		assertSpans(t, root, text)
	})
}

func BenchmarkParse(b *testing.B) {
	src := []byte(strings.Repeat("[[reading]]\nkind = \"line\"\nfrom = \"bb\"\nto = \"saddle.mid\"\nvalue = 742.0\n", 200))
	b.ReportAllocs()
	b.SetBytes(int64(len(src)))
	for b.Loop() {
		if _, problems := Parse("f.toml", src); problems != nil {
			b.Fatal(problems)
		}
	}
}

func TestReadFile(t *testing.T) {
	dir := t.TempDir()
	write := func(name string, size int) string {
		path := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(path, []byte(strings.Repeat("#", size)), 0o600))
		return path
	}
	src, problems := ReadFile(write("most.toml", MaxBytes))
	require.Empty(t, problems)
	assert.Len(t, src, MaxBytes)

	big := write("big.toml", MaxBytes+1)
	missing := filepath.Join(dir, "none.toml")
	for _, c := range []struct{ path, want string }{
		{big, "the file holds 1048577 bytes; at most 1048576 are read"},
		{missing, "no such file"},
		{filepath.Join(big, "x"), "the file cannot be read: not a directory"},
		{dir, "this is a directory, not a file"},
		{os.DevNull, "this is a pipe or device, not a regular file"},
	} {
		src, problems := ReadFile(c.path)
		assert.Nil(t, src)
		assert.Equal(t, c.path+": error: "+c.want, problems.Error())
	}
	assert.Equal(t, "x: error: no permission to read the file",
		fileProblem("x", &os.PathError{Op: "open", Path: "x", Err: os.ErrPermission}).Error())
}
