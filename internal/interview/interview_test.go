package interview_test

import (
	"flag"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/BurntSushi/toml"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/catalogs"
	"carryover/internal/bikefile"
	"carryover/internal/catalog"
	"carryover/internal/diag"
	"carryover/internal/interview"
	"carryover/internal/partfile"
)

var library = catalog.New(catalogs.Files)

var update = flag.Bool("update", false, "write the golden files anew")

// talk answers with the lines, and returns the file, everything that was said and asked, and the answers that were kept.
func talk(kind string, former []interview.Answer, lines ...string) (r interview.Result, said string, kept []interview.Answer) {
	var b strings.Builder
	s := interview.Subject{Kind: kind, File: "own.toml", Lib: library}
	r = interview.Run(s, former, interview.Conversation{
		Ask: func(question string) (string, bool) {
			b.WriteString(question)
			if len(lines) == 0 {
				b.WriteString("\n")
				return "", false
			}
			answer := lines[0]
			lines = lines[1:]
			b.WriteString(answer + "\n")
			return answer, true
		},
		Say:  func(text string) { b.WriteString(text + "\n") },
		Keep: func(all []interview.Answer) { kept = all },
	})
	return r, b.String(), kept
}

func read(kind string, src []byte) diag.List {
	var found diag.List
	switch kind {
	case "bike":
		_, found = bikefile.ReadBike("own.toml", src, bikefile.Folder{}, library)
	case "rider":
		_, found = bikefile.ReadRider("own.toml", src)
	case "part":
		_, found = partfile.Read("own.toml", src)
	}
	return found
}

// transcripts are the answers of testdata, by name.
func transcripts(t testing.TB) map[string][]string {
	t.Helper()
	files, err := filepath.Glob("testdata/*.answers")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	all := map[string][]string{}
	for _, f := range files {
		src, err := os.ReadFile(f)
		require.NoError(t, err)
		all[strings.TrimSuffix(filepath.Base(f), ".answers")] = strings.Split(strings.TrimSuffix(string(src), "\n"), "\n")
	}
	return all
}

func kindOf(name string) string {
	kind, _, _ := strings.Cut(name, "_")
	return kind
}

func TestAnswersMakeAFile(t *testing.T) {
	for name, lines := range transcripts(t) {
		t.Run(name, func(t *testing.T) {
			r, said, _ := talk(kindOf(name), nil, lines...)
			assert.False(t, r.Stopped)
			assert.Empty(t, r.Missing)
			assert.Empty(t, r.Open)
			assert.Empty(t, read(kindOf(name), r.Source), "the strict reader finds nothing, not even a warning")
			for suffix, got := range map[string]string{".toml": string(r.Source), ".said": said} {
				golden := filepath.Join("testdata", name+suffix)
				if *update {
					require.NoError(t, os.WriteFile(golden, []byte(got), 0o666))
				}
				want, err := os.ReadFile(golden)
				require.NoError(t, err)
				assert.Equal(t, string(want), got)
			}
		})
	}
}

// TestStoppedAnywhere ends the answers after each of them: what was answered is kept, and going on from there with the rest
// makes the very file that one sitting makes.
func TestStoppedAnywhere(t *testing.T) {
	step := 7
	if testing.Short() {
		step = 11
	}
	all := transcripts(t)
	for i, name := range slices.Sorted(maps.Keys(all)) {
		lines := all[name]
		whole, _, _ := talk(kindOf(name), nil, lines...)
		for n := 1 + i%step; n < len(lines); n += step { // every step is met in one transcript or another
			if lines[n] == "" && lines[n-1] == "<" || lines[n] == lines[n-1] {
				continue // what was offered again, or doubted, is not so to another sitting
			}
			first, _, kept := talk(kindOf(name), nil, lines[:n]...)
			var doc map[string]any
			require.NoError(t, toml.Unmarshal(first.Source, &doc), "%s after %d answers:\n%s", name, n, first.Source)
			for _, d := range read(kindOf(name), first.Source) {
				if d.Severity == diag.Error {
					assert.Contains(t, []string{"missing-key", "missing-anchor"}, d.Code, "%s after %d answers: %s\n%s", name, n, d.Summary,
						first.Source)
				}
			}
			then, _, _ := talk(kindOf(name), kept, lines[n:]...)
			assert.Equal(t, string(whole.Source), string(then.Source), "%s stopped after %d answers", name, n)
		}
	}
}

func TestAWrongAnswerIsRefused(t *testing.T) {
	measured := []string{"", "from", "long", ""}
	for _, c := range []struct {
		kind         string
		before       []string
		answer, want string
	}{
		{"bike", measured, "17.25", "it must be from 50 to 300 mm, is 17.25: 17.25 reads like centimetres: write 172.5"},
		{"bike", measured, "long", `"long" is not a number`},
		{"bike", append(measured, "170", "24", ""), "clasic-280", `did you mean "classic-280"?`},
		{"bike", append(measured, "170", "24", "", "classic-280", "compact-420", "lever-mid"), "400", "out of reach"},
		{"bike", append(measured, "170", "24", "", "classic-280", "compact-420", "lever-mid", "4", "none"), "tops",
			"answer with one of hood, drop"},
		{"bike", append(measured, "170", "24", "", "classic-280", "compact-420", "lever-mid", "4", "none", "hood"), "25",
			"narrower than this saddle's nose"},
		{"rider", []string{""}, "5", "it must be from 50 to 200 mm"},
		{"part", nil, "sadle", `did you mean "saddle"?`},
		{"part", []string{"saddle"}, "my saddle", "holds a blank"},
		{"part", []string{"saddle", "own", "", "280"}, "400", "at most 300 mm"},
		{"part", []string{"saddle", "own", "", "280", "40", "49", "53", "62", "80", "124"}, "143", "give two numbers"},
		{"part", []string{"saddle", "own", "", "280", "40", "49", "53", "62", "80", "124"}, "400; 143",
			"between the nose, 0, and the tail, 280"},
		{"part", []string{"saddle", "own", "", "280", "40", "49", "53", "62", "80", "124", "238:143", "68", "50", "240"}, "-4",
			"a dip is counted downward"},
	} {
		r, said, _ := talk(c.kind, nil, append(slices.Clone(c.before), c.answer)...)
		asked := max(strings.LastIndex(said, ": "+c.answer+"\n"), strings.LastIndex(said, "> "+c.answer+"\n"))
		require.GreaterOrEqual(t, asked, 0, "%v\n%s", c, said)
		assert.Contains(t, said[asked:], c.want, "%v", c)
		assert.NotContains(t, string(r.Source), "= "+c.answer, "what is refused is not kept")
	}
}

// An odd answer is questioned once; the same again is taken.
func TestOddAnswersAreQuestioned(t *testing.T) {
	before := []string{"", "from", "short", "170", "hood", "122", "730", "205"}
	r, said, _ := talk("bike", nil, append(slices.Clone(before), "16.5")...)
	assert.Contains(t, said, "16.5 is unusual: nearly all are from -12 to 12°\n  the same again keeps it")
	assert.NotContains(t, string(r.Source), "16.5")
	r, _, _ = talk("bike", nil, append(slices.Clone(before), "16.5", "16.5")...)
	assert.Contains(t, string(r.Source), "value = 16.5")
	r, _, _ = talk("bike", nil, append(slices.Clone(before), "16.5", "17", "16.5")...)
	assert.NotContains(t, string(r.Source), "value = 16.5", "not the same twice running")
}

// A tilt that was stated gives way to the scale that is told of later; before, every answer about the scale was refused.
func TestAScaleTakesThePlaceOfAStatedTilt(t *testing.T) {
	r, said, _ := talk("bike", nil, "", "to", "long", "272", "170", "", "24", "", "short-250", "", "-2", "none", "none", "slides", "no",
		"dial", "saddle-tilt", "degrees", "-1.5", "-5 5", "")
	assert.Contains(t, said, "left out it counts as the middle of the rails")
	assert.Contains(t, string(r.Source), `moves = "saddle-tilt", unit = 1.0, range = [-5.0, 5.0]`)
	assert.Contains(t, string(r.Source), `"dial" = -1.5`)
	assert.NotContains(t, string(r.Source), "tilt = -2.0")
}

func TestChangingAnAnswerAsksNothingElseAgain(t *testing.T) {
	lines := transcripts(t)["bike_long_measure"]
	r, said, kept := talk("bike", nil, append(slices.Clone(lines[:len(lines)-1]), "4", "280", "yes")...)
	_ = r
	assert.Contains(t, said, "  4  floor to the middle of the bottom bracket  272 mm\n")
	assert.Contains(t, said, "  4  floor to the middle of the bottom bracket  280 mm\n")
	assert.Equal(t, 1, strings.Count(said, "> 172,5\n"), "asked for once")
	assert.Equal(t, 2, strings.Count(said, "crank length                               172.5 mm\n"), "and shown in two summaries")
	assert.Contains(t, kept, interview.Answer{Ask: "frame.bb_height", Text: "280"})

	// Another way through the questions asks what is new and keeps what is not asked any more.
	_, said, _ = talk("bike", nil, append(slices.Clone(lines[:len(lines)-1]), "3", "short", "hood")...)
	assert.Contains(t, said, "the mark")
	assert.Contains(t, said, "How wide the saddle is at the mark", "the other way asks what is new")
}

func TestBackFromTheFirstQuestion(t *testing.T) {
	_, said, _ := talk("rider", nil, "<", "Me")
	assert.Contains(t, said, "this is the first question")
}

func TestEachReadingSaysWhatItLeavesOpen(t *testing.T) {
	_, said, _ := talk("bike", nil, transcripts(t)["bike_long_measure"]...)
	var steps []string
	for _, line := range strings.Split(said, "\n") {
		if strings.HasPrefix(line, "  that leaves") || strings.HasPrefix(line, "  nothing is open") {
			steps = append(steps, strings.TrimSpace(line))
		}
	}
	require.Len(t, steps, 10)
	assert.Equal(t, "that leaves open how far the saddle is behind or ahead of the BB, how high the saddle is, how far forward the bar is "+
		"and how high the bar is", steps[0],
		"a straight line alone fixes neither coordinate")
	assert.Equal(t, "that leaves open how high the bar is", steps[3])
	assert.Equal(t, "nothing is open now; one more reading would check the others", steps[4])
	assert.Contains(t, steps[9], "check one another")
}

func TestAReadingThatDisagreesIsNamed(t *testing.T) {
	lines := slices.Clone(transcripts(t)["bike_long_measure"])
	lines[slices.Index(lines, "910")] = "950" // 40 mm too high
	_, said, _ := talk("bike", nil, lines...)
	assert.Regexp(t, `does not agree with the others, by about \d\d mm: read it again`, said)
}

func TestNothingReadIsSaid(t *testing.T) {
	r, _, _ := talk("bike", nil, "Bare", "from", "short", "170", "hood", "122", "", "", "", "", "", "", "same", "")
	require.Len(t, r.Open, 1)
	assert.Contains(t, r.Open[0], "nothing was read")
	r, _, _ = talk("bike", nil, "Bare", "from", "short", "170", "hood", "122", "730", "", "-1", "", "", "", "same", "")
	assert.Contains(t, strings.Join(r.Open, "; "), "how far the saddle is behind or ahead of the BB")
	assert.Contains(t, string(r.Source), "# The readings leave open: ")
}

func TestAStretchedShapeIsOffered(t *testing.T) {
	r, _, _ := talk("bike", nil, transcripts(t)["bike_long_stand"]...)
	assert.Regexp(t, `part = "[a-z0-9-]+"`, string(r.Source))
	assert.Contains(t, string(r.Source), "stretch = { length = 285.0, width = 150.0 }")
}

func TestQuestionMarkListsTheParts(t *testing.T) {
	_, said, _ := talk("bike", nil, "", "from", "long", "", "170", "24", "", "?")
	for _, id := range library.IDs(partfile.Saddle) {
		assert.Contains(t, said, "\n  "+id+" ")
	}
}

// FuzzAnswers lets anything be answered: the file is TOML all the same and holds nothing the reader refuses.
func FuzzAnswers(f *testing.F) {
	for name, lines := range transcripts(f) {
		f.Add(kindOf(name), strings.Join(lines, "\n"))
	}
	f.Add("bike", "\"]\n[x]\ny\n\x00\n\u202e\n'''")
	f.Add("part", "saddle\nid\nname\n280\n-1\n1e308\nnan\ninf\n0x10\n5\n5\n5\n5\n5")
	f.Fuzz(func(t *testing.T, kind, text string) {
		if !slices.Contains(interview.Kinds, kind) {
			return
		}
		lines := strings.Split(text, "\n")
		if len(lines) > 80 || len(text) > 2000 {
			return
		}
		r, said, kept := talk(kind, nil, lines...)
		var doc map[string]any
		require.NoError(t, toml.Unmarshal(r.Source, &doc), "%s", r.Source)
		for _, d := range read(kind, r.Source) {
			if d.Severity == diag.Error {
				require.Contains(t, []string{"missing-key", "missing-anchor"}, d.Code, "%s\n%s", d.Summary, r.Source)
			}
		}
		if r.Stopped && len(kept) > 0 && !slices.Contains(lines, "<") && !strings.Contains(said, "Write it") { // nothing was taken back
			again, _, _ := talk(kind, kept)
			require.Equal(t, string(r.Source), string(again.Source))
		}
	})
}
