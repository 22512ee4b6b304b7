package catalogs

import (
	"embed"
	"io/fs"
)

//go:embed rules/*.toml
var ruleFiles embed.FS

// Rules holds the rules of events, one file per event, named after it. Each says which published text it encodes,
// from which date, and how well every limit is known. Rules change: the event's current text and its officials decide.
var Rules = must(fs.Sub(ruleFiles, "rules"))
