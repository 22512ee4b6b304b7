package format_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"carryover/internal/diag"
	"carryover/internal/format"
)

// A file that is none of the sort asked for is told in one sentence, at the place that gives it away.
func TestAFileOfAnotherSortIsTold(t *testing.T) {
	const bike, rider, part = "schema = 1\n[feet]\ncrank = 170\n", "schema = 1\nsit_bones = 100\n", "schema = 1\nkind = \"bar\"\n"
	for _, c := range []struct {
		text string
		want *format.Key
		says string
	}{
		{rider, &format.Bike, "f:2:13: error: this is a rider file; a bike file is expected"},
		{part, &format.Bike, "f:2:8: error: this is a part file; a bike file is expected"},
		{bike, &format.Rider, "f:2:1: error: this is a bike file; a rider file is expected"},
		{bike, &format.Part, "f:2:1: error: this is a bike file; a part file is expected"},
		{"a,b\n1,2\n", &format.Bike, "f:1:2: error: this is no TOML, which says key = value line by line; a bike file is expected"},
		{"\x7fELF\x00\x01 = 2", &format.Bike, "f:1:1: error: this is no text; a bike file is expected"},
	} {
		var problems diag.List
		assert.Nil(t, format.Document("f", []byte(c.text), c.want, &problems, true))
		if assert.Len(t, problems, 1) {
			assert.Contains(t, problems.Error(), c.says)
		}
	}
	for _, c := range []struct {
		text string
		key  *format.Key
	}{{bike, &format.Bike}, {rider, &format.Rider}, {part, &format.Part}} {
		var problems diag.List
		assert.NotNil(t, format.Document("f", []byte(c.text), c.key, &problems, true))
		for _, k := range []*format.Key{&format.Bike, &format.Rider, &format.Part} {
			assert.Equal(t, k == c.key, format.Is(k, []byte(c.text)))
		}
	}
	assert.True(t, format.Is(&format.Bike, []byte("no TOML")), "it may be meant as one")
}
