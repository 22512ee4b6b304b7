package cli

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
	"runtime"
	"runtime/debug"
	"strings"

	"carryover/catalogs"
)

// Version overrides what the build information says; set it when linking:
// -ldflags "-X carryover/internal/cli.Version=v1.2.3".
var Version string

// version is what --version prints: the program, what it was built from, and the parts compiled in, so that two
// people who get different answers can see whether they ask the same program.
func version() string {
	number, from := Version, ""
	if info, ok := debug.ReadBuildInfo(); ok {
		if number == "" {
			number = info.Main.Version
		}
		from = source(info.Settings)
	}
	if number == "" {
		number = "(devel)"
	}
	parts, hash := compiledIn(catalogs.Files)
	return fmt.Sprintf("%s\n%sbuilt with %s for %s/%s\ncatalogue of %d parts, sha256 %s\n",
		number, from, runtime.Version(), runtime.GOOS, runtime.GOARCH, parts, hash)
}

// source says which state of the sources a build is of, when it was recorded.
func source(settings []debug.BuildSetting) string {
	found := map[string]string{}
	for _, s := range settings {
		found[s.Key] = s.Value
	}
	if found["vcs.revision"] == "" {
		return ""
	}
	line := "commit " + found["vcs.revision"] + " of " + found["vcs.time"]
	if found["vcs.modified"] == "true" {
		line += ", with changes"
	}
	return line + "\n"
}

// compiledIn counts the part files and hashes their names and contents; the walk is in lexical order.
func compiledIn(files fs.FS) (count int, hash string) {
	h := sha256.New()
	_ = fs.WalkDir(files, ".", func(name string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() || !strings.HasSuffix(name, ".toml") {
			return err
		}
		src, err := fs.ReadFile(files, name)
		fmt.Fprintf(h, "%s %d\n%s", name, len(src), src)
		count++
		return err
	})
	return count, hex.EncodeToString(h.Sum(nil))[:16]
}
