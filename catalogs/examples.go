package catalogs

import (
	"embed"
	"io/fs"
)

//go:embed examples/*.toml
var exampleFiles embed.FS

// Examples holds the example bikes and rider, one file NAME.toml each. All of them are invented.
var Examples = must(fs.Sub(exampleFiles, "examples"))

// must is for the one failure that a well-formed constant path rules out.
func must(f fs.FS, err error) fs.FS {
	if err != nil {
		panic(err)
	}
	return f
}
