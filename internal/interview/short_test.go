package interview_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/interview"
)

// The short way all at once makes the very file that it makes question by question, whatever order the answers come in.
func TestShortIsTheSameInterview(t *testing.T) {
	s := interview.Subject{File: "own.toml", Lib: library}
	for _, hands := range []string{"hood", "drop", "pad"} {
		asked, _ := interview.Short(s, map[string]string{"hands": hands})
		answers := map[string]string{"name": "Blue", "hands": hands, "support": "122", "saddle post": "cm", "bar slide": "none"}
		lines := []string{"Blue", "both", "short"}
		for i, a := range asked[:len(asked)-1] {
			if _, given := answers[a.Name]; !given {
				answers[a.Name] = []string{"172.5", "", "", "738", "202", "-1.5", "750", "57", "3.5"}[i]
			}
			lines = append(lines, answers[a.Name])
		}
		lines = append(lines, "saddle post", "saddle", "post", "cm", "", "", "bar slide", "bar", "forward", "none", "", "same", "", "", "", "")
		want, said, _ := talk("bike", nil, lines...)
		require.False(t, want.Stopped, said)
		asked, got := interview.Short(s, answers)
		assert.Equal(t, string(want.Source), string(got.Source))
		assert.Equal(t, want.Open, got.Open)
		for _, a := range asked {
			assert.Contains(t, strings.ReplaceAll(said, "\n", " "), a.Text)
			text, mend := a.Doubt()
			assert.Empty(t, text+mend, a.Name)
		}
	}
}

// An answer that cannot be read is left out, questioned, and read as what it may have meant.
func TestShortDoubts(t *testing.T) {
	s := interview.Subject{File: "own.toml", Lib: library}
	asked, r := interview.Short(s, map[string]string{"feet.crank": "17,25", "hands": "feet", "reading reach sit": "tall",
		"reading setback sit": "19.8", "reading drop sit": "4,5"})
	doubts := map[string][2]string{}
	for _, a := range asked {
		text, mend := a.Doubt()
		if text != "" {
			doubts[a.Name] = [2]string{text, mend}
		}
	}
	require.Len(t, doubts, 5)
	assert.Equal(t, "198", doubts["reading setback sit"][1])
	assert.Equal(t, [2]string{"4.5 mm is little: if it was read in centimetres, it is 45", "45"}, doubts["reading drop sit"])
	assert.Equal(t, "172.5", doubts["feet.crank"][1])
	assert.Contains(t, doubts["hands"][0], "hood, drop, pad")
	assert.Contains(t, doubts["reading reach sit"][0], "number")
	assert.Equal(t, []string{"crank in [feet]"}, r.Missing)
	assert.NotContains(t, string(r.Source), "reach")
}
