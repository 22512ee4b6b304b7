package format_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io/fs"
	"maps"
	"math"
	"path"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/BurntSushi/toml"
	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/catalogs"
	"carryover/internal/bikefile"
	"carryover/internal/catalog"
	"carryover/internal/diag"
	"carryover/internal/format"
	"carryover/internal/partfile"
)

// beyond are the problems that a schema cannot see, since they take the rest of the file, another file, or the order
// of numbers to judge. Every other problem must be one for both.
var beyond = []string{
	"adjuster-twice", "bar-bend", "empty-range", "hood-and-lever", "implausible-travel", "mark-range", "mark-unknown",
	"implausible-height", "missing-anchor", "lever-without-bar", "reference-shape", "support-shape", "stretch-open", "date", "not-offered",
	"out-of-reach", "part-broken", "part-kind", "part-missing", "file-missing",
	"point-needs-part", "rail-beyond", "reading-needs-frame", "reading-nowhere", "reference", "reversed-range",
	"set-twice", "station-last", "station-order", "step-empty-range", "step-tiny", "straightedge", "turned-twice",
}

func compiled(t testing.TB, name string) *jsonschema.Schema {
	t.Helper()
	n, ok := format.Schema(name)
	require.True(t, ok)
	src, err := json.Marshal(n)
	require.NoError(t, err)
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(src))
	require.NoError(t, err)
	c := jsonschema.NewCompiler()
	require.NoError(t, c.AddResource(name+".json", doc))
	s, err := c.Compile(name + ".json") // which also validates it against the meta-schema it names
	require.NoError(t, err)
	return s
}

var library = catalog.New(catalogs.Files)

// file is a document with what reads it strictly.
type file struct {
	kind, name string
	src        []byte
}

func (f file) read(src []byte) diag.List {
	var problems diag.List
	switch f.kind {
	case "bike":
		_, problems = bikefile.ReadBike(f.name, src, bikefile.Folder{FS: catalogs.Examples}, library)
	case "part":
		_, problems = partfile.Read(f.name, src)
	case "rider":
		_, problems = bikefile.ReadRider(f.name, src)
	}
	return problems
}

func (f file) decoded(t testing.TB) map[string]any {
	t.Helper()
	var doc map[string]any
	require.NoError(t, toml.Unmarshal(f.src, &doc), f.name)
	return plain(doc).(map[string]any)
}

// plain turns what the TOML decoder makes into what the JSON validator takes.
func plain(v any) any {
	switch v := v.(type) {
	case map[string]any:
		m := make(map[string]any, len(v))
		for k, e := range v {
			m[k] = plain(e)
		}
		return m
	case []map[string]any:
		l := make([]any, len(v))
		for i, e := range v {
			l[i] = plain(e)
		}
		return l
	case []any:
		l := make([]any, len(v))
		for i, e := range v {
			l[i] = plain(e)
		}
		return l
	}
	return v
}

func shipped(t testing.TB) []file {
	t.Helper()
	var files []file
	take := func(fsys fs.FS, kind func(name string) string) {
		require.NoError(t, fs.WalkDir(fsys, ".", func(name string, e fs.DirEntry, err error) error {
			if err != nil || e.IsDir() || path.Ext(name) != ".toml" {
				return err
			}
			src, err := fs.ReadFile(fsys, name)
			files = append(files, file{kind(name), name, src})
			return err
		}))
	}
	take(catalogs.Files, func(string) string { return "part" })
	take(catalogs.Examples, func(name string) string {
		if strings.HasPrefix(name, "rider") {
			return "rider"
		}
		return "bike"
	})
	return files
}

func TestEveryShippedFileIsValid(t *testing.T) {
	schemas := map[string]*jsonschema.Schema{}
	for _, name := range format.SchemaNames {
		schemas[name] = compiled(t, name)
	}
	seen := map[string]int{}
	for _, f := range shipped(t) {
		assert.NoError(t, schemas[f.kind].Validate(f.decoded(t)), f.name)
		assert.False(t, f.read(f.src).HasErrors(), f.name)
		seen[f.kind]++
	}
	for _, name := range format.SchemaNames {
		assert.Positive(t, seen[name], name)
	}
}

func TestAFileIsNotOfAnotherKind(t *testing.T) {
	schemas := map[string]*jsonschema.Schema{}
	for _, name := range format.SchemaNames {
		schemas[name] = compiled(t, name)
	}
	for _, f := range shipped(t) {
		for _, name := range format.SchemaNames {
			if name != f.kind {
				assert.Error(t, schemas[name].Validate(f.decoded(t)), "%s as %s", f.name, name)
			}
		}
		if strings.HasPrefix(f.name, "saddles/") {
			break // one of many is enough
		}
	}
}

// whole are documents that together use every key there is; TestWholeUsesEveryKey sees to it.
func whole(t testing.TB) []file {
	t.Helper()
	docs := []file{
		{"bike", "source.toml", []byte(wholeSource)}, {"bike", "target.toml", []byte(wholeTarget)},
		{"bike", "stand.toml", []byte(wholeStand)}, {"bike", "readings.toml", []byte(wholeReadings)},
		{"bike", "plain.toml", []byte(wholePlain)}, {"bike", "unshaped.toml", []byte(wholeUnshaped)},
		{"rider", "rider.toml", nil},
		{"part", "bar.toml", []byte(wholeBar)}, {"part", "hood.toml", []byte(wholeHood)},
	}
	src, err := fs.ReadFile(catalogs.Examples, "rider.toml")
	require.NoError(t, err)
	docs[6].src = src
	extra := map[string]string{"clipons/clip-low": "\ntilt_from = \"bar\"\nspread = 4.0\npieces = [5.0, 10.0]\n"}
	for _, id := range []string{"levers/lever-mid", "stems/stem-100", "clipons/clip-low"} {
		src, err := fs.ReadFile(catalogs.Files, id+".toml")
		require.NoError(t, err)
		docs = append(docs, file{"part", id, append(src[:len(src):len(src)], extra[id]...)})
	}
	return append(docs, file{"part", "saddle.toml", []byte(wholeSaddle)})
}

func TestWholeUsesEveryKey(t *testing.T) {
	used := map[string]bool{}
	var note func(v any)
	note = func(v any) {
		switch v := v.(type) {
		case map[string]any:
			for k, e := range v {
				used[k] = true
				note(e)
			}
		case []any:
			for _, e := range v {
				note(e)
			}
		}
	}
	for _, f := range whole(t) {
		problems := f.read(f.src)
		require.False(t, problems.HasErrors(), "%s: %v", f.name, problems)
		doc := f.decoded(t)
		require.NoError(t, compiled(t, f.kind).Validate(doc), f.name)
		note(doc)
	}
	for _, name := range format.SchemaNames {
		n, _ := format.Schema(name)
		for key := range properties(n) {
			assert.True(t, used[key], "no document of this test uses %q of %s", key, name)
		}
	}
}

// properties are the keys that a schema knows anywhere.
func properties(v any) map[string]bool {
	keys := map[string]bool{}
	eachNode(v, func(n map[string]any) {
		if p, ok := n["properties"].(map[string]any); ok {
			for k := range p {
				keys[k] = true
			}
		}
	})
	return keys
}

func eachNode(v any, do func(map[string]any)) {
	switch v := v.(type) {
	case map[string]any:
		do(v)
		for _, k := range slices.Sorted(maps.Keys(v)) {
			eachNode(v[k], do)
		}
	case []map[string]any:
		for _, e := range v {
			eachNode(e, do)
		}
	}
}

// limits are the numbers at which a schema draws a line, by the key of the value, each with its neighbours.
func limits(name string) map[string][]any {
	all := map[string][]any{}
	var walk func(v any, key string)
	walk = func(v any, key string) {
		switch v := v.(type) {
		case []map[string]any:
			for _, e := range v {
				walk(e, key)
			}
		case map[string]any:
			for _, word := range []string{"minimum", "maximum", "exclusiveMinimum"} {
				if at, ok := v[word].(float64); ok {
					room := math.Max(1e-6, math.Abs(at)*1e-6)
					all[key] = append(all[key], at, at-room, at+room)
				}
			}
			for _, word := range slices.Sorted(maps.Keys(v)) {
				if keys, ok := v[word].(map[string]any); ok && word == "properties" {
					for k, e := range keys {
						walk(e, k)
					}
				} else {
					walk(v[word], key)
				}
			}
		}
	}
	n, _ := format.Schema(name)
	walk(n, "")
	defs, _ := n["$defs"].(map[string]any)
	for def, keys := range map[string][]string{"sigma": {"sigma"}, "angle-read": {"value"}} { // behind a $ref
		if defs[def] != nil {
			for _, k := range keys {
				walk(defs[def], k)
			}
		}
	}
	return all
}

// TestSchemaAndReaderAgree changes one value at a time, in every way that a hand slips, and asks both.
func TestSchemaAndReaderAgree(t *testing.T) {
	met := map[string]bool{} // problems beyond the schema that came up
	refused, passed, mutants, step := 0, 0, 0, 8*stride
	if testing.Short() {
		step *= 2
	}
	for _, f := range whole(t) {
		s := compiled(t, f.kind)
		doc := f.decoded(t)
		mutate(doc, "", limits(f.kind), func(what string) {
			alone := strings.HasPrefix(what, "without") || strings.HasSuffix(what, " = 0") // no other mutant is like it
			if mutants++; mutants%step != 0 && !(alone && stride == 1) {
				return
			}
			src := written(doc)
			valid := s.Validate(doc)
			problems := f.read([]byte(src))
			if !problems.HasErrors() {
				passed++
				assert.NoError(t, valid, "%s, %s: the reader takes it", f.name, what)
				return
			}
			refused++
			if valid != nil {
				return
			}
			for _, d := range problems {
				if d.Severity == diag.Error {
					code := d.Code
					if code == "implausible" && strings.Contains(d.Summary, "goes beyond") {
						code = "implausible-travel" // range times unit
					}
					met[code] = true
					assert.Contains(t, beyond, code, "%s, %s: the schema takes it, the reader says %s", f.name, what, d.Summary)
				}
			}
		})
	}
	t.Logf("%d mutants refused, %d passed", refused, passed)
	assert.Greater(t, refused, 4000/step)
	assert.Greater(t, passed, 1000/step)
	for _, code := range []string{"mark-unknown", "part-missing", "reversed-range", "out-of-reach"} {
		if stride > 1 {
			break // so few mutants do not meet them all
		}
		assert.True(t, met[code], "no mutant met %s", code)
	}
}

// mutate changes one place of the document at a time, calls try, and restores it.
func mutate(v any, under string, limits map[string][]any, try func(what string)) {
	switch v := v.(type) {
	case map[string]any:
		for _, key := range slices.Sorted(maps.Keys(v)) {
			old := v[key]
			delete(v, key)
			try("without " + key)
			v[key+"x"] = old
			try(key + " misspelt")
			delete(v, key+"x")
			for _, other := range others(old, limits[key]) {
				v[key] = other
				try(fmt.Sprintf("%s = %v", key, other))
			}
			v[key] = old
			mutate(old, key, limits, try)
		}
		v["unheard-of"] = int64(1)
		try("with a key nobody knows")
		delete(v, "unheard-of")
	case []any:
		for i, old := range v {
			for _, other := range others(old, limits[under]) {
				v[i] = other
				try(fmt.Sprintf("element %d = %v", i, other))
			}
			v[i] = old
			mutate(old, under, limits, try)
			if _, isTable := old.(map[string]any); !isTable && i > 0 {
				break // the numbers of a list are alike
			}
		}
	}
}

// others are values in place of old: of other types, and of the same type with other content.
func others(old any, numbers []any) []any {
	all := []any{true, "text", []any{}, map[string]any{}, []any{1.0, 2.0, 3.0}}
	switch v := old.(type) {
	case int64:
		return append(all, int64(0), int64(2), -1.5)
	case float64:
		return append(append(all, 0.0, -v, v/10, v*10, v*1000), numbers...)
	case string:
		return append(all, "", v+"s", v+":1", "saddle."+v, "saddle.nose", "nose", "floor", "pad.front", "bb", "*", "file:", "12",
			"sit-bones", "hood", "tail", "bar", "saddle", 7.0)
	case bool:
		return append(all, !v, 1.0)
	case []any:
		all = append(all, 5.0)
		if len(v) > 0 {
			all = append(all, v[:len(v)-1], append(slices.Clone(v), v[0]))
		}
		if len(v) == 2 {
			all = append(all, v[0], []any{v[1], v[0]})
		}
		return all
	}
	return append(all, 5.0)
}

// written is a document as TOML, every table inline.
func written(doc map[string]any) string {
	var b strings.Builder
	for _, k := range slices.Sorted(maps.Keys(doc)) {
		fmt.Fprintf(&b, "%q = %s\n", k, literal(doc[k]))
	}
	return b.String()
}

func literal(v any) string {
	switch v := v.(type) {
	case map[string]any:
		var parts []string
		for _, k := range slices.Sorted(maps.Keys(v)) {
			parts = append(parts, fmt.Sprintf("%q = %s", k, literal(v[k])))
		}
		return "{" + strings.Join(parts, ", ") + "}"
	case []any:
		var parts []string
		for _, e := range v {
			parts = append(parts, literal(e))
		}
		return "[" + strings.Join(parts, ", ") + "]"
	case string:
		return strconv.Quote(v)
	case float64:
		s := strconv.FormatFloat(v, 'f', -1, 64)
		if !strings.Contains(s, ".") {
			s += ".0"
		}
		return s
	}
	return fmt.Sprint(v)
}

// TestReservedNames tries every "table.key" as the name of an adjuster.
func TestReservedNames(t *testing.T) {
	s := compiled(t, "bike")
	n, _ := format.Schema("bike")
	f := file{"bike", "target.toml", []byte(wholeTarget)}
	doc := f.decoded(t)
	adjuster := doc["adjuster"].([]any)[0].(map[string]any)
	delete(doc, "marks")
	delete(doc, "calibration")
	reserved := 0
	for section, v := range n["properties"].(map[string]any) {
		inner, ok := v.(map[string]any)["properties"].(map[string]any)
		if !ok {
			continue
		}
		for key := range inner {
			adjuster["name"] = section + "." + key
			invalid := s.Validate(doc) != nil
			assert.Equal(t, f.read([]byte(written(doc))).HasErrors(), invalid, "%v", adjuster["name"])
			if invalid {
				reserved++
			}
		}
	}
	assert.Positive(t, reserved)
}
