package biketest

import (
	"io/fs"
	"testing"

	"github.com/stretchr/testify/require"

	"carryover/catalogs"
	"carryover/internal/bike"
	"carryover/internal/bikefile"
	"carryover/internal/catalog"
)

// Text is the file of an example.
func Text(t testing.TB, name string) string {
	t.Helper()
	src, err := fs.ReadFile(catalogs.Examples, name+".toml")
	require.NoError(t, err)
	return string(src)
}

// Example is an example as the program reads it.
func Example(t testing.TB, name string) *bike.Bike {
	t.Helper()
	return read(t, "example:"+name, Text(t, name))
}

// Parsed is a bike's file as the program reads it, with the parts of the catalogue.
func Parsed(t testing.TB, text string) *bike.Bike {
	t.Helper()
	return read(t, "bike.toml", text)
}

func read(t testing.TB, file, text string) *bike.Bike {
	t.Helper()
	b, problems := bikefile.ReadBike(file, []byte(text), bikefile.Folder{FS: catalogs.Examples}, catalog.New(catalogs.Files))
	require.False(t, problems.HasErrors(), "%v", problems)
	return b
}
