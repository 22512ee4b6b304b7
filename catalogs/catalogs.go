// Package catalogs holds the parts that are compiled into carryover: saddles, bars, levers, stems and clip-ons, one
// TOML file per part, named after its id.
//
// Every shape is generic and invented for this catalogue. Parts are named by shape and size; none is measured from,
// or stands for, a product on sale. Sizes are in millimetres and angles in degrees. A rider whose part differs from
// all of these should measure it and write a part file.
package catalogs

import "embed"

// Files holds the part files, one folder per kind: saddles, bars, levers, stems and clipons.
//
//go:embed saddles/*.toml bars/*.toml levers/*.toml stems/*.toml clipons/*.toml
var Files embed.FS
