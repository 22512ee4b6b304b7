package measure

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/catalogs"
	"carryover/internal/catalog"
	"carryover/internal/partfile"
	"carryover/internal/saddle"
)

// take measures a saddle as a person would: every question answered to the millimetre.
func take(t *testing.T, s *saddle.Shape) *Readings {
	t.Helper()
	r := &Readings{ID: "mine"}
	require.NoError(t, r.Set(First(), fmt.Sprintf("%.0f", s.Length)))
	var touching []float64
	for at := 0.0; at <= s.Length; at++ {
		if s.Top(at) > -0.05 {
			touching = append(touching, at)
		}
	}
	touches := []float64{touching[0], touching[len(touching)-1]}
	for _, q := range Questions(r.Length) {
		var answer string
		switch q.Key {
		case "width":
			answer = fmt.Sprintf("%.0f", s.Width(q.Station))
			if math.IsNaN(q.Station) {
				at, w := s.Widest()
				answer = fmt.Sprintf("%.0f:%.0f", at, w)
			}
		case "dip":
			answer = fmt.Sprintf("%.0f", -s.Top(q.Station))
			if math.IsNaN(q.Station) {
				answer, touches = fmt.Sprintf("%.0f:0", touches[0]), touches[1:]
			}
		case "sag":
			answer = fmt.Sprint(s.Sag)
		case "rail-height":
			answer = fmt.Sprint(s.Rail.Height)
		case "rail-from":
			answer = fmt.Sprint(s.Rail.From)
		case "rail-to":
			answer = fmt.Sprint(s.Rail.To)
		}
		require.NoError(t, r.Set(q, answer), q.Ask)
	}
	return r
}

// Every saddle of the catalogue, measured with this list of questions: the strict reader takes the file, reads the very
// shape that was measured, and that shape is the saddle within a few millimetres.
func TestMeasuredSaddlesReadBack(t *testing.T) {
	parts, err := catalog.New(catalogs.Files).List(partfile.Saddle)
	require.NoError(t, err)
	require.NotEmpty(t, parts)
	worstWidth, worstTop, worstStation := 0.0, 0.0, 0.0
	for _, p := range parts {
		r := take(t, p.Saddle)
		r.Name = "Mine, \"the\" \\ one"
		src, problems := r.PartFile()
		require.Empty(t, problems, "%s:\n%s", p.ID, src)
		got, problems := partfile.Read("mine.toml", src)
		require.Empty(t, problems)
		assert.Equal(t, r.Name, got.Name)
		want, err := r.Shape()
		require.NoError(t, err)
		assert.Equal(t, want, got.Saddle, p.ID)
		assert.Equal(t, p.Saddle.Rail, got.Saddle.Rail)
		assert.Empty(t, r.Implausible(), p.ID)
		widest, _ := p.Saddle.Widest()
		for at := 0.0; at <= p.Saddle.Length; at++ {
			if at <= widest { // the rounded tail behind it carries nobody
				worstWidth = max(worstWidth, math.Abs(p.Saddle.Width(at)-got.Saddle.Width(at)))
			}
			worstTop = max(worstTop, math.Abs(p.Saddle.Top(at)-got.Saddle.Top(at)))
		}
		for w := 85.0; w <= 125; w += 5 {
			was, _ := p.Saddle.WidthStation(w)
			now, _ := got.Saddle.WidthStation(w)
			worstStation = max(worstStation, math.Abs(was-now))
		}
	}
	t.Logf("worst width %.1f mm, worst height %.1f mm, worst place of a support %.1f mm", worstWidth, worstTop, worstStation)
	assert.Less(t, worstWidth, 4.0)
	assert.Less(t, worstTop, 2.0)
	assert.Less(t, worstStation, 4.0)
}

func TestQuestionsCoverTheSaddle(t *testing.T) {
	for length := 200.0; length <= 320; length++ {
		stations := map[string][]float64{}
		for _, q := range Questions(length) {
			assert.NotEmpty(t, q.Ask)
			assert.NotEmpty(t, q.How)
			if !math.IsNaN(q.Station) && (q.Key == "width" || q.Key == "dip") {
				stations[q.Key] = append(stations[q.Key], q.Station)
			}
		}
		for key, s := range stations {
			assert.Equal(t, 0.0, s[0], key)
			assert.Equal(t, length, s[len(s)-1], key)
			assert.IsIncreasing(t, s)
		}
	}
}

func TestAnswersThatAreRefused(t *testing.T) {
	widest := Question{Key: "width", Station: math.NaN()}
	for _, c := range []struct {
		q            Question
		answer, want string
	}{
		{First(), "27", "in mm, so 270?"},
		{First(), "27,5", "with a point"},
		{First(), "", "not a number"},
		{widest, "143", "write the station"},
		{widest, "400:143", "between the nose"},
		{widest, "-1:143", "between the nose"},
		{Question{Key: "dip", Station: 0}, "-4", "counted downward"},
		{Question{Key: "colour"}, "1", "no reading"},
		{Question{Key: "sag"}, "NaN", "not a number"},
	} {
		r := &Readings{Length: 270}
		assert.ErrorContains(t, r.Set(c.q, c.answer), c.want, "%s %q", c.q.Key, c.answer)
	}
	r := &Readings{Length: 270}
	require.NoError(t, r.Set(Question{Key: "sag", Usual: "6"}, ""))
	assert.Equal(t, 6.0, r.Sag, "an empty answer takes the usual")
	require.NoError(t, r.Put("width", 100, 60))
	require.NoError(t, r.Put("width", 100, 62))
	assert.Equal(t, [][2]float64{{100, 62}}, r.Widths, "a second reading replaces the first")
}

func TestImplausibleShapes(t *testing.T) {
	good := func() *Readings {
		return &Readings{ID: "x", Length: 270,
			Widths: [][2]float64{{0, 42}, {100, 70}, {200, 140}, {225, 145}, {270, 70}},
			Dips:   [][2]float64{{0, 4}, {45, 0}, {130, 6}, {240, 0}, {270, 3}},
			Sag:    6, Rail: saddle.Rail{Height: 45, From: 95, To: 165}}
	}
	require.Empty(t, good().Implausible())
	for want, spoil := range map[string]func(*Readings){
		"half widths":        func(r *Readings) { r.Widths = [][2]float64{{0, 21}, {100, 35}, {225, 72}, {270, 35}} },
		"counted from":       func(r *Readings) { r.Widths = [][2]float64{{0, 70}, {45, 145}, {170, 70}, {270, 42}} },
		"gets narrower":      func(r *Readings) { r.Widths[1][1] = 30 },
		"jumps":              func(r *Readings) { r.Widths[2] = [2]float64{105, 140} },
		"nose is":            func(r *Readings) { r.Widths[0][1] = 95; r.Widths[1][1] = 100 },
		"broad comfort":      func(r *Readings) { r.Widths[3][1] = 240 },
		"touches nowhere":    func(r *Readings) { r.Dips[1][1], r.Dips[3][1] = 1, 1 },
		"rocks":              func(r *Readings) { r.Dips[3][1] = 2 },
		"waved":              func(r *Readings) { r.Dips[2][1] = 40 },
		"before they begin":  func(r *Readings) { r.Rail.From, r.Rail.To = 165, 95 },
		"straight stretch":   func(r *Readings) { r.Rail.To = 105 },
		"middle of the rail": func(r *Readings) { r.Rail.From, r.Rail.To = 20, 90 },
		"below the straight": func(r *Readings) { r.Rail.Height = 90 },
		"sprung":             func(r *Readings) { r.Sag = 30 },
	} {
		r := good()
		spoil(r)
		assert.Contains(t, strings.Join(r.Implausible(), "\n"), want)
	}
}

// A ruler that reads 1 mm too deep everywhere still makes a saddle that the straightedge touches.
func TestTheHighestPlaceTouches(t *testing.T) {
	r := &Readings{ID: "x", Length: 270, Widths: [][2]float64{{0, 42}, {270, 70}}, Dips: [][2]float64{{0, 5}, {45, 1}, {270, 4}},
		Rail: saddle.Rail{Height: 45, From: 95, To: 165}}
	src, problems := r.PartFile()
	require.Empty(t, problems)
	p, _ := partfile.Read("x.toml", src)
	assert.Equal(t, 0.0, p.Saddle.Top(45))
	assert.Equal(t, -4.0, p.Saddle.Top(0))
}

func TestOutlineGrowsAndIsSymmetric(t *testing.T) {
	assert.Empty(t, (&Readings{}).Outline())
	r := &Readings{Length: 270}
	rows := 0
	for _, w := range [][2]float64{{0, 42}, {100, 70}, {225, 145}, {270, 70}} {
		require.NoError(t, r.Put("width", w[0], w[1]))
		lines := strings.Split(strings.TrimSuffix(r.Outline(), "\n"), "\n")
		assert.Greater(t, len(lines), rows)
		rows = len(lines)
		for _, l := range lines {
			assert.LessOrEqual(t, len(l), 80)
			body := l[6:]
			left := strings.IndexAny(body, "+|")
			right := strings.LastIndexAny(body, "+|")
			assert.Equal(t, drawColumns, left+right, "%q", l)
		}
	}
	assert.Equal(t, 4, strings.Count(r.Outline(), "+")/2, "each reading is marked")
}

func FuzzPartFile(f *testing.F) {
	f.Add("mine", "My saddle", 270.0, 42.0, 145.0, 4.0)
	f.Add("", "a\"b\\c\x01\u00e9\n", 100.0, 10.0, 300.0, 0.0)
	f.Fuzz(func(t *testing.T, id, name string, length, nose, tail, dip float64) {
		r := &Readings{ID: id, Name: name}
		for _, p := range []error{r.Put("length", 0, length), r.Put("width", 0, nose), r.Put("width", length, tail), r.Put("dip", 0, dip),
			r.Put("dip", length, 0), r.Put("sag", 0, 5), r.Put("rail-height", 0, 45), r.Put("rail-from", 0, 30), r.Put("rail-to", 0, 70)} {
			if p != nil {
				return
			}
		}
		src, problems := r.PartFile()
		if problems.HasErrors() {
			return
		}
		p, _ := partfile.Read("x.toml", src)
		require.NotNil(t, p)
		if utf8.ValidString(id) {
			require.Equal(t, id, p.ID)
		}
		want, err := r.Shape()
		require.NoError(t, err)
		require.Equal(t, want, p.Saddle)
	})
}

func TestReadingsFromCSV(t *testing.T) {
	r := &Readings{}
	require.NoError(t, r.ReadCSV(strings.NewReader("\ufeffreading,station,value\n# calliper\nwidth,0,42\nwidth,270,\"70\"\n\nlength,,270\n"+
		"id,,mine\nname,,\"My saddle, black\"\ndip,0,4\ndip,40,0\ndip,240,0\ndip,270,3\nsag,,6\nrail-height,,45\nrail-from,,95\nrail-to,,165\n")))
	assert.Empty(t, r.Missing())
	assert.Equal(t, "My saddle, black", r.Name)
	assert.Equal(t, [][2]float64{{0, 42}, {270, 70}}, r.Widths)
	_, problems := r.PartFile()
	assert.Empty(t, problems)

	err := (&Readings{}).ReadCSV(strings.NewReader("length,,270\nwidth,300,50\nwidth,0,x\nheight,0,1\nsag\ndip,,4\n"))
	for _, want := range []string{"line 2: the station lies", "line 3:", "line 4: no reading", "line 5: wants", "line 6: the station"} {
		assert.ErrorContains(t, err, want)
	}
	assert.Len(t, (&Readings{}).Missing(), 6)
	assert.ErrorContains(t, (&Readings{}).ReadCSV(strings.NewReader(strings.Repeat("\n", 2000))), "more than 1000 lines")
}
