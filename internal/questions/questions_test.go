package questions_test

import (
	"flag"
	"os"
	"path/filepath"
	"regexp"
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
	"carryover/internal/partfile"
	"carryover/internal/questions"
)

var update = flag.Bool("update", false, "write the golden files anew")

// interview answers with the lines, and returns the file with everything that was said and asked.
func interview(kind string, answers []string) (questions.Result, string) {
	var said strings.Builder
	r := questions.Run(kind, "own.toml", bikefile.Folder{}, catalog.New(catalogs.Files), questions.Conversation{
		Ask: func(question string) (string, bool) {
			said.WriteString(question)
			if len(answers) == 0 {
				said.WriteString("\n")
				return "", false
			}
			answer := answers[0]
			answers = answers[1:]
			said.WriteString(answer + "\n")
			return answer, true
		},
		Say: func(text string) { said.WriteString(text + "\n") },
	})
	return r, said.String()
}

func read(kind string, src []byte) diag.List {
	var found diag.List
	switch kind {
	case "bike":
		_, found = bikefile.ReadBike("own.toml", src, bikefile.Folder{}, catalog.New(catalogs.Files))
	case "rider":
		_, found = bikefile.ReadRider("own.toml", src)
	case "part":
		_, found = partfile.Read("own.toml", src)
	}
	return found
}

// transcripts are answers in files, by name.
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
	for name, answers := range transcripts(t) {
		t.Run(name, func(t *testing.T) {
			r, said := interview(kindOf(name), answers)
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

// TestStoppedAnywhere ends the answers after each of them: the file is TOML, whatever it holds is right, and what the
// reader misses is what was said to be missing.
func TestStoppedAnywhere(t *testing.T) {
	for name, answers := range transcripts(t) {
		for n := 0; n < len(answers); n += stride {
			r, _ := interview(kindOf(name), answers[:n])
			var doc map[string]any
			require.NoError(t, toml.Unmarshal(r.Source, &doc), "%s after %d answers:\n%s", name, n, r.Source)
			missing := 0
			for _, d := range read(kindOf(name), r.Source) {
				assert.Equal(t, "missing-key", d.Code, "%s after %d answers: %s\n%s", name, n, d.Summary, r.Source)
				missing++
				key, _, _ := strings.Cut(strings.TrimPrefix(d.Summary, `missing key "`), `"`)
				named := slices.ContainsFunc(r.Missing, func(m string) bool { return m == key || strings.HasPrefix(m, key+" in ") })
				// of a bar with neither form begun the reader names the other one
				assert.True(t, named || slices.Contains(r.Missing, "hood"), "%s after %d answers: %s", name, n, d.Summary)
			}
			if n > 0 && missing > 0 {
				assert.NotEmpty(t, r.Missing, "%s after %d answers: %v\n%s", name, n, r.Missing, r.Source)
			}
			for _, m := range r.Missing {
				key, _, _ := strings.Cut(m, " in ")
				assert.Regexp(t, `(?m)^# (still missing: )?`+regexp.QuoteMeta(key)+` `, string(r.Source))
			}
		}
	}
}

func TestAWrongAnswerIsRefusedInTheReadersWords(t *testing.T) {
	for _, c := range []struct {
		kind         string
		before       []string
		answer, want string
	}{
		{"bike", []string{"", "", ""}, "17.25", "17.25 reads like centimetres: write 172.5"},
		{"bike", []string{"", "", ""}, "long", `"long" is not a number`},
		{"bike", []string{"", "", "", "170", "24", ""}, "clasic-280", `did you mean "classic-280"?`},
		{"bike", []string{"", "", "", "170", "24", ""}, "280x142", "the nearest are classic-280"},
		{"bike", []string{"", "", "", "170", "24", "", "classic-280", "compact-420", "lever-mid"}, "400", "out of reach"},
		{"bike", []string{"", "", "", "170", "24", "", "classic-280", "compact-420", "lever-mid", "4", "44", "no"}, "tops", "answer with one of hood, drop"},
		{"rider", []string{""}, "5", "sit_bones must be from 50 to 200 mm"},
		{"part", nil, "sadle", `did you mean "saddle"?`},
		{"part", []string{"saddle"}, "my saddle", "holds a blank"},
		{"part", []string{"saddle", "own", "", "280"}, "400", "at most 300 mm"},
	} {
		_, said := interview(c.kind, append(c.before, c.answer))
		asked := strings.LastIndex(said, ": "+c.answer+"\n")
		require.GreaterOrEqual(t, asked, 0, "%v", c)
		assert.Contains(t, said[asked:], c.want, "%v", c)
		r, _ := interview(c.kind, append(c.before, c.answer))
		assert.NotContains(t, string(r.Source), "= "+c.answer, "what is refused is not kept")
	}
}

func TestEachReadingSaysWhatItLeavesOpen(t *testing.T) {
	_, said := interview("bike", transcripts(t)["bike_measure"])
	var steps []string
	for _, line := range strings.Split(said, "\n") {
		if strings.HasPrefix(line, "  that leaves") || strings.HasPrefix(line, "  nothing is open") {
			steps = append(steps, strings.TrimSpace(line))
		}
	}
	require.Len(t, steps, 9)
	assert.Equal(t, "that leaves how far back the saddle is, the saddle height, how far forward the bar is and the bar height open", steps[0],
		"a straight line alone fixes neither coordinate")
	assert.Equal(t, "that leaves how far forward the bar is and the bar height open", steps[1])
	assert.Equal(t, "that leaves the bar height open", steps[3])
	assert.Equal(t, "nothing is open now; one more reading would check the others", steps[4])
	assert.Contains(t, steps[8], "check one another")
}

func TestAReadingThatDisagreesIsNamed(t *testing.T) {
	answers := transcripts(t)["bike_measure"]
	answers[len(answers)-1] = "950" // 40 mm too high
	_, said := interview("bike", answers)
	assert.Regexp(t, `does not agree with the others, by about \d\d mm: read it again`, said)
}

func TestQuestionMarkListsTheParts(t *testing.T) {
	_, said := interview("bike", []string{"", "", "", "170", "24", "", "?"})
	for _, id := range catalog.New(catalogs.Files).IDs(partfile.Saddle) {
		assert.Contains(t, said, "\n  "+id+" ")
	}
}

// FuzzAnswers lets anything be answered: the file is TOML all the same and holds nothing the reader refuses.
func FuzzAnswers(f *testing.F) {
	for name, answers := range transcripts(f) {
		f.Add(kindOf(name), strings.Join(answers, "\n"))
	}
	f.Add("bike", "\"]\n[x]\ny\n\x00\n\u202e\n'''")
	f.Add("part", "saddle\nid\nname\n280\n-1\n1e308\nnan\ninf\n0x10\n5\n5\n5\n5\n5")
	f.Fuzz(func(t *testing.T, kind, answers string) {
		if kind != "bike" && kind != "rider" && kind != "part" {
			return
		}
		lines := strings.Split(answers, "\n")
		if len(lines) > 80 || len(answers) > 2000 {
			return
		}
		r, _ := interview(kind, lines)
		var doc map[string]any
		require.NoError(t, toml.Unmarshal(r.Source, &doc), "%s", r.Source)
		for _, d := range read(kind, r.Source) {
			if d.Severity == diag.Error {
				require.Equal(t, "missing-key", d.Code, "%s\n%s", d.Summary, r.Source)
			}
		}
	})
}
