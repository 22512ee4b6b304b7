package saddle

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestReferences(t *testing.T) {
	s := shape(t, [][2]float64{{0, 40}, {100, 60}, {240, 140}, {280, 100}})
	for text, want := range map[string]float64{
		"nose": 0, "tail": 280, "mid": 140, "widest": 240, "sit": 240, "width:60": 100, "width:40": 0, "width:20": 0,
		"at:0": 0, "at:280": 280, "at:123.5": 123.5,
	} {
		t.Run(text, func(t *testing.T) {
			r, err := ParseReference(text)
			require.NoError(t, err)
			got, err := s.Station(r, 140)
			require.NoError(t, err)
			assert.InDelta(t, want, got, 1e-9)
			again, err := ParseReference(r.String())
			require.NoError(t, err)
			assert.Equal(t, r, again)
		})
	}
}

func TestReferencesThatASaddleDoesNotHave(t *testing.T) {
	s := shape(t, [][2]float64{{0, 40}, {280, 140}})
	for _, c := range []struct {
		text     string
		sitWidth float64
		says     string
	}{
		{"width:150", 0, "nowhere 150 mm wide"},
		{"at:281", 0, "behind the tail"},
		{"sit", 0, "sit bones"},
	} {
		r, err := ParseReference(c.text)
		require.NoError(t, err)
		_, err = s.Station(r, c.sitWidth)
		assert.ErrorContains(t, err, c.says)
	}
	at, err := s.Station(Reference{Kind: Sit}, 200)
	require.NoError(t, err, "a rider too wide for the saddle still sits somewhere")
	assert.Equal(t, 280.0, at)
}

func TestParseReferenceRefuses(t *testing.T) {
	for _, text := range []string{"", "Nose", "nose ", "width", "width:", "width:0", "width:-3", "width:NaN", "width:Inf",
		"width:80mm", "at:", "at:-1", "at:1e999", "at:0x10 ", "height:3", ":3", "mid:3"} {
		_, err := ParseReference(text)
		assert.Error(t, err, "%q", text)
	}
}

func FuzzParseReference(f *testing.F) {
	for _, text := range []string{"nose", "width:80", "at:120.5", "at:1e3", "width:0x1p4", "width:1_0", "at:-0", "mid:"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		r, err := ParseReference(text)
		if err != nil {
			return
		}
		if math.IsNaN(r.MM) || math.IsInf(r.MM, 0) || r.MM < 0 {
			t.Fatalf("%q became %v", text, r)
		}
		again, err := ParseReference(r.String())
		if err != nil || again != r {
			t.Fatalf("%q became %v, written %q, read again as %v (%v)", text, r, r.String(), again, err)
		}
	})
}
