package draw

import (
	"bytes"
	"compress/zlib"
	"encoding/base64"
	"encoding/binary"
	"io"
	"regexp"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// unpacked is a WOFF file as the TrueType file it holds, with the sums of its tables checked.
func unpacked(t *testing.T, woff []byte) []byte {
	t.Helper()
	u32 := binary.BigEndian.Uint32
	require.Equal(t, "wOFF", string(woff[:4]))
	require.EqualValues(t, len(woff), u32(woff[8:]))
	n := int(binary.BigEndian.Uint16(woff[12:]))
	out := append(append(slices.Clone(woff[4:8]), woff[12:14]...), make([]byte, 6+16*n)...)
	for i := range n {
		e := woff[44+20*i:]
		b := woff[u32(e[4:]) : u32(e[4:])+u32(e[8:])]
		if length := u32(e[12:]); int(length) > len(b) {
			r, err := zlib.NewReader(bytes.NewReader(b))
			require.NoError(t, err)
			b, err = io.ReadAll(r)
			require.NoError(t, err)
			require.EqualValues(t, length, len(b))
		}
		d := out[12+16*i:]
		copy(d, e[:4])
		copy(d[4:], e[16:20])
		binary.BigEndian.PutUint32(d[8:], uint32(len(out)))
		binary.BigEndian.PutUint32(d[12:], uint32(len(b)))
		out = append(out, b...)
		for len(out)%4 != 0 {
			out = append(out, 0)
		}
	}
	require.EqualValues(t, len(out), u32(woff[16:]))
	return out
}

// The embedded font draws every letter asked for as the whole font does, parts of letters included, and no other.
func TestEmbeddedFontHasItsLetters(t *testing.T) {
	const text = "Äé½ floor 738.0 → 735.9 ± 1.5°□Ωж"
	list := regexp.MustCompile(`base64,([^)]+)\)`).FindAllStringSubmatch(FontCSS(text), -1)
	require.Len(t, list, 2)
	for i, whole := range []face{regular(), bold()} {
		raw, err := base64.StdEncoding.DecodeString(list[i][1])
		require.NoError(t, err)
		assert.Less(t, len(raw), 20_000, "bytes")
		f, err := sfnt.Parse(unpacked(t, raw))
		require.NoError(t, err)
		var buf sfnt.Buffer
		outline := func(f *sfnt.Font, r rune) (sfnt.Segments, fixed.Int26_6) {
			g, err := f.GlyphIndex(&buf, r)
			require.NoError(t, err)
			s, err := f.LoadGlyph(&buf, g, whole.unit, nil)
			require.NoError(t, err)
			s = slices.Clone(s)
			a, err := f.GlyphAdvance(&buf, g, whole.unit, 0)
			require.NoError(t, err)
			return s, a
		}
		for _, r := range text {
			want, wide := outline(whole.font, r)
			got, width := outline(f, r)
			assert.Equal(t, want, got, "%c", r)
			assert.Equal(t, wide, width, "%c", r)
		}
		rest, _ := outline(f, 'Q')
		assert.Empty(t, rest, "Q was not asked for")
	}
}
