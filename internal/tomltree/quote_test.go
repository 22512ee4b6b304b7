package tomltree

import (
	"testing"

	"github.com/BurntSushi/toml"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Whatever is quoted is read back as it was by a TOML reader of its own.
func TestAQuotedTextIsReadBack(t *testing.T) {
	texts := []string{"", "saddle post", `6" post \ two`, "post\u0007x", "a\nb\tc\rd",
		"\u007f\u0085", "Sattelstütze – 汉字", "\ufeff", "\u202e"}
	for r := rune(0); r < 0x120; r++ {
		texts = append(texts, "x"+string(r)+"y")
	}
	for _, text := range texts {
		var got struct{ K string }
		_, err := toml.Decode("K = "+Quote(text), &got)
		require.NoError(t, err, "%q as %s", text, Quote(text))
		assert.Equal(t, text, got.K)
	}
	assert.Equal(t, `"post\u0007x"`, Quote("post\u0007x"))
	assert.Equal(t, "\"a\ufffdb\"", Quote("a\xffb"), "no text at all")
}
