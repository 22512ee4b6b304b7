package catalog

import (
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
)

const soundSaddle = `schema = 1
kind = "saddle"
id = "own"
name = "Own saddle"
length = 280.0
width = [[0.0, 38.0], [60.0, 52.0], [110.0, 59.0], [160.0, 91.0], [220.0, 138.0], [280.0, 68.0]]
top = [[0.0, -5.0], [50.0, 0.0], [110.0, -3.0], [160.0, -5.0], [220.0, -2.0], [255.0, 0.0], [280.0, -3.5]]
sag = 7.0
rail = { height = 45.0, from = 110.0, to = 180.0 }
`

func lintPlaces(found diag.List) string {
	var all []string
	for _, d := range found {
		all = append(all, fmt.Sprintf("%d:%d %s %s", d.Span.Start.Line, d.Span.Start.Col, d.Severity, d.Code))
	}
	return strings.Join(all, ", ")
}

func TestLintPointsAtWhatIsUnusual(t *testing.T) {
	for _, c := range []struct{ name, old, new, want string }{
		{"sound", "", "", ""},
		{"an error and what is unusual", "height = 45.0, from", "height = 70.0, form",
			"9:8 error missing-key, 9:19 warning unusual-size, 9:25 error unknown-key"},
		{"sag of a spring", "sag = 7.0", "sag = 25", "8:7 warning unusual-size"},
		{"rails of a tractor", "height = 45.0", "height = 70.0", "9:19 warning unusual-size"},
		{"a wide nose", "[0.0, 38.0]", "[0.0, 80.0]", "6:10 warning unusual-nose, 6:23 warning width-falls"},
		{"a wide nose that narrows again", "[0.0, 38.0]", "[0.0, 70.0]", "6:23 warning width-falls"},
		{"half widths", "[60.0, 52.0], [110.0, 59.0], [160.0, 91.0], [220.0, 138.0]",
			"[60.0, 40.0], [110.0, 42.0], [160.0, 50.0], [220.0, 69.0]", "6:9 warning unusual-width"},
		{"a jump", "[60.0, 52.0], [110.0, 59.0]", "[60.0, 52.0], [62.0, 64.0], [110.0, 69.0]", "6:37 warning width-jumps"},
		{"a straightedge that rocks", "[50.0, 0.0], ", "[50.0, -0.1], ", "7:7 warning rocks"},
		{"rails under the nose", "from = 110.0, to = 180.0", "from = 30.0, to = 100.0", "9:8 warning rail-off"},
		{"a narrow saddle", "138.0", "110.0", "6:9 warning unusual-width"},
		{"counted from the tail", "[0.0, 38.0], [60.0, 52.0], [110.0, 59.0], [160.0, 91.0], [220.0, 138.0], [280.0, 68.0]",
			"[0.0, 68.0], [60.0, 138.0], [110.0, 91.0], [160.0, 59.0], [220.0, 52.0], [280.0, 38.0]", "6:9 warning widest-in-front"},
		{"a gap between stations", "[110.0, 59.0], ", "", "6:37 warning stations-apart"},
		{"a deep waist", "[160.0, -5.0]", "[160.0, -50.0]", "7:49 warning unusual-depth"},
		{"no room for the clamp", "to = 180.0", "to = 130.0", "9:8 warning unusual-rail"},
		{"a bike", `kind = "saddle"`, "[feet]\ncrank = 170.0", "2:1 error file-type"},
		{"not even TOML", "sag = 7.0", "sag = ", "8:7 error toml-syntax"},
		{"a name of another file", `id = "own"`, `id = "other"`, "3:6 warning part-file-name"},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.Contains(t, soundSaddle, c.old)
			assert.Equal(t, c.want, lintPlaces(Lint("own.toml", []byte(strings.Replace(soundSaddle, c.old, c.new, 1)))))
		})
	}
}

func TestLintFindsNothingInTheCatalogue(t *testing.T) {
	require.NoError(t, fs.WalkDir(catalogs.Files, ".", func(name string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() || !strings.HasSuffix(name, ".toml") {
			return err
		}
		src, err := fs.ReadFile(catalogs.Files, name)
		assert.Empty(t, Lint(name, src), name)
		return err
	}))
}

func TestLintAllReportsAnIDGivenTwice(t *testing.T) {
	dir := t.TempDir()
	var files []string
	for _, sub := range []string{"a", "b"} {
		require.NoError(t, os.Mkdir(filepath.Join(dir, sub), 0o777))
		file := filepath.Join(dir, sub, "own.toml")
		require.NoError(t, os.WriteFile(file, []byte(soundSaddle), 0o666))
		files = append(files, file)
	}
	files = append(files, filepath.Join(dir, "none.toml"))
	got := LintAll(files)
	require.Len(t, got, 2)
	assert.Equal(t, "part-twice", got[0].Code)
	assert.Equal(t, files[1], got[0].Span.File)
	assert.Contains(t, got[0].Summary, files[0])
	assert.Equal(t, "file-missing", got[1].Code)
}
