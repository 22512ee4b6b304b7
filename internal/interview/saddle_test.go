package interview

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
func take(t *testing.T, shape *saddle.Shape) *Saddle {
	t.Helper()
	s := &Saddle{ID: "mine"}
	put := func(p Place, answer string) {
		station, v, err := p.read(s.number("length"), answer)
		require.NoError(t, err, p.Ask)
		require.NoError(t, s.Put(p.Key, station, v), p.Ask)
	}
	put(first(), fmt.Sprintf("%.0f", shape.Length))
	var touching []float64
	for at := 0.0; at <= shape.Length; at++ {
		if shape.Top(at) > -0.05 {
			touching = append(touching, at)
		}
	}
	touches := []float64{touching[0], touching[len(touching)-1]}
	for _, p := range placesOn(s.number("length")) {
		answer := ""
		switch {
		case p.Key == "width" && p.AskStation:
			at, w := shape.Widest()
			answer = fmt.Sprintf("%.0f; %.0f", at, w)
		case p.Key == "width":
			answer = fmt.Sprintf("%.0f", shape.Width(p.Station))
		case p.Key == "dip" && p.AskStation:
			answer, touches = fmt.Sprintf("%.0f", touches[0]), touches[1:]
		case p.Key == "dip":
			answer = fmt.Sprintf("%.0f", -shape.Top(p.Station))
		case p.Key == "sag":
			answer = fmt.Sprint(shape.Sag)
		case p.Key == "rail-height":
			answer = fmt.Sprint(shape.Rail.Height)
		case p.Key == "rail-from":
			answer = fmt.Sprint(shape.Rail.From)
		case p.Key == "rail-to":
			answer = fmt.Sprint(shape.Rail.To)
		}
		put(p, answer)
	}
	return s
}

func measured(rows map[string][][2]float64) *Saddle { return &Saddle{ID: "x", rows: rows} }

// Every saddle of the catalogue, measured with this list of questions: the strict reader takes the file without a word, and its
// shape is the saddle within a few millimetres.
func TestMeasuredSaddlesReadBack(t *testing.T) {
	parts, err := catalog.New(catalogs.Files).List(partfile.Saddle)
	require.NoError(t, err)
	require.NotEmpty(t, parts)
	worstWidth, worstTop, worstStation := 0.0, 0.0, 0.0
	for _, p := range parts {
		s := take(t, p.Saddle)
		s.Name = "Mine, \"the\" \\ one"
		assert.Empty(t, s.Missing())
		src, problems := s.PartFile()
		require.Empty(t, problems, "%s:\n%s", p.ID, src)
		got, problems := partfile.Read("mine.toml", src)
		require.Empty(t, problems)
		assert.Equal(t, s.Name, got.Name)
		assert.Equal(t, p.Saddle.Rail, got.Saddle.Rail)
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

func TestPlacesCoverTheSaddle(t *testing.T) {
	for length := 200.0; length <= 320; length++ {
		stations := map[string][]float64{}
		for _, p := range placesOn(length) {
			assert.NotEmpty(t, p.Ask)
			assert.NotEmpty(t, p.How)
			if !p.AskStation && (p.Key == "width" || p.Key == "dip") {
				stations[p.Key] = append(stations[p.Key], p.Station)
			}
		}
		for key, s := range stations {
			assert.Equal(t, 0.0, s[0], key)
			assert.Equal(t, length, s[len(s)-1], key)
			assert.IsIncreasing(t, s)
		}
	}
}

func TestReadingsThatAreRefused(t *testing.T) {
	for _, c := range []struct{ key, station, value, want string }{
		{"length", "", "27", "27 reads like centimetres: write 270"},
		{"length", "", "", "not a number"},
		{"length", "3", "270", "has no station"},
		{"width", "", "143", "needs a station"},
		{"width", "400", "143", "between the nose"},
		{"width", "-1", "143", "between the nose"},
		{"dip", "0", "-4", "counted downward"},
		{"colour", "", "1", "no reading"},
		{"sag", "", "NaN", "not a number"},
	} {
		assert.ErrorContains(t, measured(map[string][][2]float64{"length": {{0, 270}}}).PutText(c.key, c.station, c.value), c.want, "%v", c)
	}
	s := measured(map[string][][2]float64{"length": {{0, 270}}})
	require.NoError(t, s.Put("width", 100, 60))
	require.NoError(t, s.PutText("width", "10 cm", "6,2 cm"))
	assert.Equal(t, [][2]float64{{100, 62}}, s.rows["width"], "a second reading replaces the first")
}

// A ruler that reads 1 mm too deep everywhere still makes a saddle that the straightedge touches.
func TestTheHighestPlaceTouches(t *testing.T) {
	s := measured(map[string][][2]float64{"length": {{0, 270}}, "width": {{0, 42}, {270, 70}}, "dip": {{0, 5}, {45, 1}, {270, 4}},
		"sag": {{0, 6}}, "rail-height": {{0, 45}}, "rail-from": {{0, 95}}, "rail-to": {{0, 165}}})
	src, problems := s.PartFile()
	require.Empty(t, problems)
	p, _ := partfile.Read("x.toml", src)
	assert.Equal(t, 0.0, p.Saddle.Top(45))
	assert.Equal(t, -4.0, p.Saddle.Top(0))
}

func TestOutlineGrowsAndIsSymmetric(t *testing.T) {
	assert.Empty(t, (&Saddle{}).Outline())
	s := measured(map[string][][2]float64{"length": {{0, 270}}})
	rows := 0
	for _, w := range [][2]float64{{0, 42}, {100, 70}, {225, 145}, {270, 70}} {
		require.NoError(t, s.Put("width", w[0], w[1]))
		lines := strings.Split(strings.TrimSuffix(s.Outline(), "\n"), "\n")
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
	assert.Equal(t, 4, strings.Count(s.Outline(), "+")/2, "each reading is marked")
}

func FuzzPartFile(f *testing.F) {
	f.Add("mine", "My saddle", 270.0, 42.0, 145.0, 4.0)
	f.Add("", "a\"b\\c\x01\u00e9\n", 100.0, 10.0, 300.0, 0.0)
	f.Fuzz(func(t *testing.T, id, name string, length, nose, tail, dip float64) {
		s := &Saddle{ID: id, Name: name}
		for _, err := range []error{s.Put("length", 0, length), s.Put("width", 0, nose), s.Put("width", length, tail), s.Put("dip", 0, dip),
			s.Put("dip", length, 0), s.Put("sag", 0, 5), s.Put("rail-height", 0, 45), s.Put("rail-from", 0, 30), s.Put("rail-to", 0, 70)} {
			if err != nil {
				return
			}
		}
		src, problems := s.PartFile()
		if problems.HasErrors() {
			return
		}
		p, _ := partfile.Read("x.toml", src)
		require.NotNil(t, p)
		if utf8.ValidString(id) {
			require.Equal(t, id, p.ID)
		}
		require.Equal(t, length, p.Saddle.Length)
		require.Equal(t, tail, p.Saddle.Width(length))
	})
}

func TestReadingsFromCSV(t *testing.T) {
	s := &Saddle{}
	require.NoError(t, s.ReadCSV(strings.NewReader("\ufeffreading,station,value\n# calliper\nwidth,0,42\nwidth,270,\"70\"\n\nlength,,270\n"+
		"id,,mine\nname,,\"My saddle, black\"\ndip,0,4\ndip,40,0\ndip,240,0\n"+
		"dip,270,3\nsag,,6\nrail-height,,4.5 cm\nrail-from,,95\nrail-to,,165\n")))
	assert.Empty(t, s.Missing())
	assert.Equal(t, "My saddle, black", s.Name)
	assert.Equal(t, [][2]float64{{0, 42}, {270, 70}}, s.rows["width"])
	_, problems := s.PartFile()
	assert.Empty(t, problems)

	err := (&Saddle{}).ReadCSV(strings.NewReader("length,,270\nwidth,300,50\nwidth,0,x\nheight,0,1\nsag\ndip,,4\n"))
	for _, want := range []string{"line 2: a station lies", "line 3:", "line 4: ", "line 5: wants", "line 6: dip needs a station"} {
		assert.ErrorContains(t, err, want)
	}
	assert.Len(t, (&Saddle{}).Missing(), 8)
	assert.ErrorContains(t, (&Saddle{}).ReadCSV(strings.NewReader(strings.Repeat("sag,,6\n", 2000))), "more than 1000 lines")
}
