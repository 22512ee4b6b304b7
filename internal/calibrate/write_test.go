package calibrate

import (
	"encoding/json"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/catalogs"
	"carryover/internal/bike"
	"carryover/internal/bikefile"
	"carryover/internal/biketest"
	"carryover/internal/catalog"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/tomltree"
)

func calibrated(t *testing.T) (*Result, string) {
	t.Helper()
	src := biketest.Text(t, "studio")
	b := biketest.Example(t, "studio")
	real(b).enter(t, b)
	r, err := Calibrate(b, Options{})
	require.NoError(t, err)
	return r, src
}

// Only the fitted numbers change: taken out of both texts, the rest is the same byte for byte.
func TestRewritingKeepsEverythingElse(t *testing.T) {
	r, src := calibrated(t)
	for name, text := range map[string]string{
		"as it is":        src,
		"with CRLF":       strings.ReplaceAll(src, "\n", "\r\n"),
		"with a mark":     "\ufeff" + src,
		"inline anchor":   regexp.MustCompile(`\[anchor\]\n(.+\n)+`).ReplaceAllString(src, ""),
		"odd characters":  strings.Replace(src, "schema = 1", "# längs – ½ 汉字\nschema = 1", 1),
		"no final return": strings.TrimRight(src, "\n"),
	} {
		t.Run(name, func(t *testing.T) {
			if name == "inline anchor" {
				text = "anchor = { saddle_clamp = [ -128.0 , 527.0 ], bar_clamp = [392.0, 486.0] } # mine\n" + text
			}
			out, err := r.Rewrite("studio.toml", []byte(text))
			require.NoError(t, err)
			b, problems := bikefile.ReadBike("studio.toml", out, bikefile.Folder{FS: catalogs.Examples}, catalog.New(catalogs.Files))
			require.False(t, problems.HasErrors(), "%v", problems)
			for _, p := range r.Parameters {
				if !p.Fitted {
					continue
				}
				got := 0.0
				switch {
				case p.Kind == locate.Direction:
					got = b.Adjusters[p.Adjuster].Angle
				case p.Kind == locate.Unit:
					got = b.Adjusters[p.Adjuster].Unit
				case p.Saddle && p.Kind == locate.AnchorX:
					got = b.SaddleAnchor.X
				case p.Saddle:
					got = b.SaddleAnchor.Y
				case p.Kind == locate.AnchorX:
					got = b.BarAnchor.X
				default:
					got = b.BarAnchor.Y
				}
				assert.InDelta(t, p.Value, got, 0.2*p.Sigma, "rounding hides nothing: %+v", p)
				if p.Adjuster < 0 {
					assert.GreaterOrEqual(t, b.AnchorSigma, p.Sigma)
				}
			}
			// Lines that hold no fitted number are untouched, in their order.
			before, after := strings.Split(text, "\n"), strings.Split(string(out), "\n")
			if name != "inline anchor" {
				added := func(line string) bool { return strings.HasPrefix(line, "sigma = ") }
				require.True(t, slices.ContainsFunc(after, added), "the ± of the anchors is a line of its own")
				after = slices.DeleteFunc(after, added)
			}
			require.Len(t, after, len(before))
			changed := 0
			for i := range before {
				if before[i] == after[i] {
					continue
				}
				changed++
				key := strings.TrimSpace(strings.SplitN(before[i], "=", 2)[0])
				assert.Contains(t, []string{"saddle_clamp", "bar_clamp", "angle", "unit", "anchor"}, key)
				assert.Equal(t, comment(before[i]), comment(after[i]))
			}
			assert.Greater(t, changed, 6)
		})
	}
}

func comment(line string) string {
	_, c, _ := strings.Cut(line, "#")
	return c
}

func TestAFragmentIsTOML(t *testing.T) {
	r, _ := calibrated(t)
	text := r.Fragment()
	root, problems := tomltree.Parse("fragment", []byte(text))
	require.NotNil(t, root, "%v\n%s", problems, text)
	require.Len(t, root.Get("adjuster").Children, 4)
	post := root.Get("adjuster").Children[0]
	assert.Equal(t, "saddle post", post.Get("name").Str)
	assert.InDelta(t, 107.3, post.Get("angle").Float, 0.05)
	assert.InDelta(t, 10.2, post.Get("unit").Float, 0.02)
	assert.Nil(t, root.Get("adjuster").Children[3].Get("unit"), "without a scale there is no unit to fit")
	assert.InDelta(t, -131, root.Get("anchor").Get("saddle_clamp").Children[0].Float, 0.1)
	assert.NotContains(t, text, "NaN")
	assert.Regexp(t, `(?m)^unit = \S+  # ± \S+ mm per mark$`, text)
	assert.Regexp(t, `(?m)^angle = \S+  # ± \S+°$`, text)
}

// One ± for all anchors of a file: the largest of those fitted and of what the file says of those kept, never finer than a tape, rounded
// up to a tenth; none where none is fitted.
func TestOneSigmaForAllAnchors(t *testing.T) {
	x, y := locate.Number{Kind: locate.AnchorX, Adjuster: -1}, locate.Number{Kind: locate.AnchorY, Adjuster: -1}
	for _, c := range []struct {
		why    string
		file   float64
		fitted [2]bool
		sigma  [2]float64
		want   string
	}{
		{"both fitted", 3, [2]bool{true, true}, [2]float64{0.31, 0.42}, "0.5"},
		{"the first is worse", 3, [2]bool{true, true}, [2]float64{0.72, 0.42}, "0.8"},
		{"one kept that the file knows worse", 3, [2]bool{true, false}, [2]float64{0.31, 0}, "3.0"},
		{"one kept that the file knows better", 0.2, [2]bool{false, true}, [2]float64{0, 0.42}, "0.5"},
		{"finer than a tape", 3, [2]bool{true, true}, [2]float64{0.01, 0.02}, "0.1"},
		{"none fitted", 3, [2]bool{}, [2]float64{}, ""},
	} {
		r := &Result{Bike: &bike.Bike{AnchorSigma: c.file, Adjusters: make([]bike.Adjuster, 1)}, Parameters: []Parameter{
			{Number: x, Fitted: c.fitted[0], Sigma: c.sigma[0]}, {Number: y, Fitted: c.fitted[1], Sigma: c.sigma[1]},
			{Number: locate.Number{Kind: locate.Unit}, Fitted: true, Sigma: 7}, // of a scale
		}}
		text, ok := r.anchorSigma()
		if assert.Equal(t, c.want != "", ok, c.why); ok {
			assert.Equal(t, c.want, text, c.why)
		}
	}
}

// JSON counts entries from 1, gives a mark as the travel it stands for and as its scale shows it, degrees where something turns, and only
// the keys that have something to say.
func TestAResultAsJSON(t *testing.T) {
	r := &Result{Bike: &bike.Bike{File: "m.toml", Adjusters: []bike.Adjuster{{Name: "wheel", Moves: bike.MovesSaddleTilt}}}, DOF: 3, Chi2: 2,
		Parameters: []Parameter{
			{Number: locate.Number{Kind: locate.AnchorX, Adjuster: -1}, Before: 390, Value: 392, Sigma: 0.5, Fitted: true, Doubt: "so",
				Needs: "this"},
			{Number: locate.Number{Kind: locate.AnchorY, Adjuster: -1}, Before: 486, Value: 486},
			{Number: locate.Number{Kind: locate.Unit}, Before: plane.Rad(0.5), Value: plane.Rad(0.5), Sigma: plane.Rad(0.01), Kept: true},
		},
		Readings: []Reading{
			{Observation: locate.Observation{Entry: 1, Reading: &bike.Reading{Kind: bike.Line, Index: 4, Written: "nose-to-bar"},
				Value: plane.Length(460), Sigma: 2}, Judgement: locate.Judgement{Fitted: 463, Residual: 3}, Suspect: true},
			{Observation: locate.Observation{Value: plane.Turning(0), Sigma: plane.Rad(0.3)}, FittedMark: 5,
				Judgement: locate.Judgement{Fitted: plane.Rad(2.5), Residual: plane.Rad(2.5)}},
		},
		Linear: []Linear{{Points: 3, Tested: true, Bend: plane.Rad(1), Sigma: plane.Rad(0.2)}},
	}
	text, err := json.Marshal(r)
	require.NoError(t, err)
	assert.JSONEq(t, `{"schema":1,"bike":"m.toml","assumptions":[],"versions":null,"fit":{"chi2":2,"dof":3},"p":0,
		"fragment":`+string(must(json.Marshal(r.Fragment())))+`,
		"parameters":[
			{"name":"anchor.bar_clamp.x","before":390,"value":392,"sigma":0.5,"unit":"mm","fitted":true,"doubt":"so","needs":"this"},
			{"name":"anchor.bar_clamp.y","before":486,"value":486,"sigma":0,"unit":"mm","fitted":false},
			{"name":"unit","adjuster":"wheel","before":0.5,"value":0.5,"sigma":0.01,"unit":"deg","fitted":false,"kept":true}],
		"readings":[
			{"entry":2,"index":4,"name":"nose-to-bar","value":460,"fitted":463,"residual":3,"sigma":2,"normalized":0,"redundancy":0,"unit":"mm",
				"suspect":true},
			{"entry":1,"index":0,"name":"mark of wheel","mark":0,"fitted_mark":5,"value":0,"fitted":2.5,"residual":2.5,"sigma":0.3,"normalized":0,
				"redundancy":0,"unit":"deg","suspect":false}],
		"linear":[{"adjuster":"wheel","points":3,"tested":true,"straight":false,"bend":1,"sigma":0.2,"unit":"deg"}]}`,
		regexp.MustCompile(`(\.\d{6})\d+`).ReplaceAllString(string(text), "$1"))
}

func must(text []byte, _ error) []byte { return text }

func TestTurnsAreWrittenInDegrees(t *testing.T) {
	r, _ := calibrated(t)
	p := Parameter{Number: locate.Number{Kind: locate.Direction}, Value: plane.Rad(107.25), Sigma: plane.Rad(0.2), Fitted: true}
	assert.Equal(t, "107.25", r.shown(p))
	p.Value = -plane.Rad(0.0001)
	assert.Equal(t, "0.00", r.shown(p))
}

// Half an anchor fitted: what is kept is written as the file has it, and no ± is claimed for it.
func TestAFragmentClaimsNothingOfWhatIsKept(t *testing.T) {
	r, _ := calibrated(t)
	r.Bike.Adjusters[0].Name = "post\u0007 \"x\""
	for i := range r.Parameters {
		if p := &r.Parameters[i]; p.Kind == locate.AnchorX && p.Saddle {
			p.Fitted, p.Value, p.Sigma = false, -133, 0
		}
	}
	text := r.Fragment()
	assert.Regexp(t, `saddle_clamp = \[-133, 523\.\d+\]  # x as in the file, y ± \S+ mm`, text)
	assert.NotContains(t, text, "± 0,")
	root, problems := tomltree.Parse("fragment", []byte(text))
	require.NotNil(t, root, "%v\n%s", problems, text)
	assert.Equal(t, r.Bike.Adjusters[0].Name, root.Get("adjuster").Children[0].Get("name").Str)
}
