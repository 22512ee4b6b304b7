package catalog

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/catalogs"
	"carryover/internal/diag"
	"carryover/internal/partfile"
)

func lever(id string, along float64) []byte {
	return fmt.Appendf(nil, "schema = 1\nkind = \"lever\"\nid = %q\nname = \"Lever %s\"\nhollow = [%g, 20.0]\nangle = 5.0\n", id, id, along)
}

func stem(id string) []byte {
	return fmt.Appendf(nil, "schema = 1\nkind = \"stem\"\nid = %q\nname = \"Stem\"\nlength = 90.0\nangle = 6.0\nheight = 40.0\n", id)
}

func small() *Library {
	return New(fstest.MapFS{
		"levers/lever-a.toml": {Data: lever("lever-a", 30)},
		"levers/lever-b.toml": {Data: lever("lever-b", 32)},
		"stems/stem-90.toml":  {Data: stem("stem-90")},
		"stems/broken.toml":   {Data: []byte("schema = 1\n")},
	})
}

func write(t *testing.T, dir, name string, src []byte) {
	t.Helper()
	path := filepath.Join(dir, name)
	require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
	require.NoError(t, os.WriteFile(path, src, 0o644))
}

func TestLookupReadsOnlyWhatIsAskedFor(t *testing.T) {
	p, err := small().Lookup(partfile.Lever, "lever-b") // the broken stem beside it does not matter
	require.NoError(t, err)
	assert.Equal(t, 32.0, p.Lever.Along)
	assert.Equal(t, "Lever lever-b", p.Name)
}

func TestMissingPartIsExplained(t *testing.T) {
	for _, c := range []struct {
		name string
		kind partfile.Kind
		id   string
		hint string
	}{
		{"a slip of the pen", partfile.Lever, "lever-aa", `did you mean "lever-a"?`},
		{"of another kind", partfile.Lever, "stem-90", "stem-90 is a stem, not a lever"},
		{"a file", partfile.Lever, "mine.toml", `for a file write "file:mine.toml"`},
		{"nothing like it", partfile.Lever, "something-else", "catalog list"},
		{"a path", partfile.Lever, "../stems/stem-90", ""},
		{"empty", partfile.Lever, "", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := small().Lookup(c.kind, c.id)
			var missing *MissingError
			require.ErrorAs(t, err, &missing)
			assert.Equal(t, c.id, missing.ID)
			assert.Contains(t, missing.Hint, c.hint)
			assert.Contains(t, err.Error(), "no lever")
		})
	}
}

func TestBrokenPartIsAnErrorAndNoPart(t *testing.T) {
	p, err := small().Lookup(partfile.Stem, "broken")
	assert.Nil(t, p)
	var list diag.List
	require.ErrorAs(t, err, &list)
}

func TestGlobAndIDs(t *testing.T) {
	l := small()
	assert.Equal(t, []string{"lever-a", "lever-b"}, l.IDs(partfile.Lever))
	assert.Equal(t, []string{"lever-a", "lever-b"}, l.Glob(partfile.Lever, "lever-*"))
	assert.Equal(t, []string{"lever-b"}, l.Glob(partfile.Lever, "*[b-z]"))
	assert.Empty(t, l.Glob(partfile.Lever, "stem-*"))
	assert.Empty(t, l.Glob(partfile.Lever, "[a"), "a malformed pattern matches nothing")
	assert.Empty(t, l.IDs(partfile.Saddle))
}

func TestOwnPartsComeFirst(t *testing.T) {
	dir := t.TempDir()
	write(t, dir, "any-name.toml", lever("lever-a", 40))
	write(t, dir, "mine/stem.toml", stem("own-stem"))
	write(t, dir, "mine/deeper/stem.toml", stem("too-deep"))
	write(t, dir, "notes.txt", []byte("not a part"))
	l := small()
	problems := l.AddDir(dir)
	require.Len(t, problems, 1, problems.Error())
	assert.Equal(t, "part-shadowed", problems[0].Code)
	assert.Equal(t, diag.Warning, problems[0].Severity)

	p, err := l.Lookup(partfile.Lever, "lever-a")
	require.NoError(t, err)
	assert.Equal(t, 40.0, p.Lever.Along)
	assert.Equal(t, []string{"lever-a", "lever-b"}, l.IDs(partfile.Lever), "an id that stands in for another is listed once")
	assert.Contains(t, l.IDs(partfile.Stem), "own-stem")
	assert.NotContains(t, l.IDs(partfile.Stem), "too-deep")
}

func TestOwnPartsWithProblems(t *testing.T) {
	dir := t.TempDir()
	write(t, dir, "a.toml", lever("own", 40))
	write(t, dir, "b.toml", lever("own", 41))
	write(t, dir, "c.toml", []byte("schema = 1\nkind = \"lever\"\n"))
	l := small()
	problems := l.AddDir(dir)
	require.False(t, problems.HasErrors(), "it stops only who asks for them")
	codes := map[string]int{}
	for _, d := range problems {
		codes[d.Code]++
	}
	assert.Equal(t, 1, codes["part-twice"])
	assert.Positive(t, codes["missing-key"])
	for _, id := range []string{"own", "c"} { // either of the two may be meant; c is called after its file
		_, err := l.Lookup(partfile.Lever, id)
		var found diag.List
		require.ErrorAs(t, err, &found)
		assert.True(t, found.HasErrors())
	}
	list, err := l.List(partfile.Lever)
	require.NoError(t, err)
	assert.NotEmpty(t, list)
}

func TestNoSuchDirectory(t *testing.T) {
	problems := small().AddDir(filepath.Join(t.TempDir(), "none"))
	require.Len(t, problems, 1)
	assert.Equal(t, "catalog-dir", problems[0].Code)
}

func TestBuiltInPartsCanBeListedAndFound(t *testing.T) {
	l := New(catalogs.Files)
	for k := range partfile.KindNames {
		parts, err := l.List(partfile.Kind(k))
		require.NoError(t, err)
		assert.NotEmpty(t, parts)
		for _, p := range parts {
			found, err := l.Find(p.ID)
			require.NoError(t, err)
			assert.Equal(t, p.Kind, found.Kind)
		}
	}
	_, err := l.Find("clasic-280")
	var missing *MissingError
	require.ErrorAs(t, err, &missing)
	assert.Equal(t, `did you mean "classic-280"? --catalog DIR adds parts of your own`, missing.Hint)
}

func BenchmarkLookup(b *testing.B) {
	l := New(catalogs.Files)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := l.Lookup(partfile.Saddle, "classic-280"); err != nil {
			b.Fatal(err)
		}
	}
}
