package cli

import (
	"runtime/debug"
	"testing"
	"testing/fstest"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
)

func TestArgumentNames(t *testing.T) {
	for use, want := range map[string][]string{
		"carry FROM TO":         {"FROM", "TO"},
		"list [KIND]":           {"KIND"},
		"lint FILE...":          {"FILE..."},
		"sheet FROM TO -o FILE": {"FROM", "TO"},
		"catalog":               nil,
	} {
		assert.Equal(t, want, argumentNames(use), use)
	}
}

func TestVersionSource(t *testing.T) {
	set := func(pairs ...string) (all []debug.BuildSetting) {
		for i := 0; i < len(pairs); i += 2 {
			all = append(all, debug.BuildSetting{Key: pairs[i], Value: pairs[i+1]})
		}
		return all
	}
	assert.Empty(t, source(set("GOOS", "linux")), "nothing recorded")
	assert.Equal(t, "commit abc of 2026-01-02T03:04:05Z\n", source(set("vcs.revision", "abc", "vcs.time", "2026-01-02T03:04:05Z",
		"vcs.modified", "false")))
	assert.Equal(t, "commit abc of now, with changes\n", source(set("vcs.revision", "abc", "vcs.time", "now", "vcs.modified", "true")))
}

func TestCatalogueHash(t *testing.T) {
	files := fstest.MapFS{"saddles/a.toml": {Data: []byte("1")}, "saddles/b.toml": {Data: []byte("2")}, "README": {Data: []byte("3")}}
	count, hash := compiledIn(files)
	assert.Equal(t, 2, count)
	assert.Len(t, hash, 16)
	files["README"].Data = []byte("4")
	_, same := compiledIn(files)
	assert.Equal(t, hash, same, "only parts count")
	files["saddles/b.toml"].Data = []byte("3")
	_, other := compiledIn(files)
	assert.NotEqual(t, hash, other)
}

func TestAdjusterNamesComplete(t *testing.T) {
	a := &app{}
	cmd := &cobra.Command{Use: "x FROM TO", RunE: func(*cobra.Command, []string) error { return nil }}
	cmd.Flags().String("fit", "", "fit only `WHAT`")
	a.completions(cmd)
	complete, ok := cmd.GetFlagCompletionFunc("fit")
	if assert.True(t, ok) {
		names, _ := complete(cmd, []string{"example:road", "example:studio"}, "")
		assert.Equal(t, []string{"bar post", "bar slide", "saddle post", "saddle slide"}, names)
		names, _ = complete(cmd, []string{"nowhere.toml"}, "")
		assert.Empty(t, names, "a file that cannot be read has none")
	}
}
