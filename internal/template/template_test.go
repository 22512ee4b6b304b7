package template_test

import (
	"bytes"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/catalogs"
	"carryover/internal/catalog"
	"carryover/internal/draw"
	"carryover/internal/draw/drawtest"
	"carryover/internal/partfile"
	"carryover/internal/plane"
	"carryover/internal/saddle"
	"carryover/internal/template"
)

func shape(t testing.TB, length, widest float64) *saddle.Shape {
	t.Helper()
	s, err := saddle.New(length,
		[][2]float64{{0, 40}, {length / 3, 55}, {0.85 * length, widest}, {length, 70}},
		[][2]float64{{0, -5}, {0.2 * length, 0}, {0.6 * length, -6}, {0.9 * length, 0}, {length, -4}},
		6, saddle.Rail{Height: 45, From: 0.4 * length, To: 0.65 * length})
	require.NoError(t, err)
	return s
}

func marks(p *draw.Picture, name string) (list []draw.Mark) {
	for _, m := range p.Marks {
		if m.Name == name {
			list = append(list, m)
		}
	}
	return list
}

// pages is a template that must be there, on which nothing touches and 12 mm are free on every side.
func pages(t *testing.T, s template.Saddle, p template.Paper) []*draw.Picture {
	t.Helper()
	list, err := template.Pages(s, p)
	require.NoError(t, err)
	for _, q := range list {
		assert.Equal(t, p, template.Paper{Width: q.Width, Height: q.Height})
		assert.Empty(t, drawtest.Faults(q, 12))
	}
	return list
}

// Every point of the outline and of the profile is on some page, where the shape has it.
func TestPages(t *testing.T) {
	for _, c := range []struct {
		name           string
		length, widest float64
		paper          template.Paper
		sheets         int
		start          float64 // of the profile, where it stands below the outline
	}{
		{"short, A4", 230, 142, template.A4, 2, 0},
		{"long, A4", 280, 142, template.A4, 3, 290},
		{"short, Letter", 210, 142, template.Letter, 2, 0},
		{"wide, A4", 230, 230, template.A4, 3, 0},
		{"wide and long, Letter", 280, 230, template.Letter, 6, 0},
		{"longer than two pages", 600, 142, template.A4, 6, 610},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := shape(t, c.length, c.widest)
			list := pages(t, template.Saddle{Name: "An invented saddle", Shape: s, Support: 122}, c.paper)
			require.Len(t, list, c.sheets)
			seen := map[string]map[int]bool{"outline right": {}, "outline left": {}, "profile": {}}
			for _, p := range list {
				for name, sign := range map[string]float64{"outline right": 1, "outline left": -1, "profile": 0} {
					for _, m := range marks(p, name) {
						for _, q := range m.Line {
							station, across := q.Y-p.Origin.Y, q.X-p.Origin.X
							want := sign * s.Width(station) / 2
							if sign == 0 {
								station -= c.start
								want = s.Top(station)
							}
							// A line cut at the edge of the page ends between two of its points.
							assert.InDelta(t, want, across, 0.02, "%s at %g", name, station)
							seen[name][int(math.Round(station))] = true
						}
					}
				}
			}
			for name, stations := range seen {
				for st := range int(c.length) {
					assert.True(t, stations[st], "%s: station %d is on no page", name, st)
				}
			}
		})
	}
}

// The crosses of a join lie at the same place of the saddle on both of its pages, two by two.
func TestJoinsMatch(t *testing.T) {
	for _, c := range []struct{ length, widest float64 }{{280, 142}, {600, 142}, {280, 230}} {
		places := map[string]map[plane.Point]int{} // on how many sheets each cross is
		for _, p := range pages(t, template.Saddle{Name: "Long", Shape: shape(t, c.length, c.widest)}, template.A4) {
			for _, m := range p.Marks {
				if !strings.HasPrefix(m.Name, "join ") {
					continue
				}
				name := m.Name + " of " + p.Text[:12]
				if places[name] == nil {
					places[name] = map[plane.Point]int{}
				}
				q := m.Line[0].Add(m.Line[1]).Scale(0.5).Sub(p.Origin)
				places[name][plane.Point{X: math.Round(q.X*1e6) / 1e6, Y: math.Round(q.Y*1e6) / 1e6}]++
			}
		}
		require.NotEmpty(t, places)
		for name, list := range places {
			require.Len(t, list, 2, name)
			var ends []plane.Point
			for q, sheets := range list {
				assert.GreaterOrEqual(t, sheets, 2, "%s at %v", name, q)
				ends = append(ends, q)
			}
			assert.Greater(t, ends[0].Distance(ends[1]), 50.0, "%s: two crosses close together turn easily", name)
		}
	}
}

func TestSupportIsMarkedWhereTheWidthIs(t *testing.T) {
	s := shape(t, 210, 142)
	p := pages(t, template.Saddle{Name: "S", Shape: s, Support: 122}, template.A4)[0]
	station, _ := s.WidthStation(122)
	list := marks(p, "mark support "+draw.Fixed(station, 1)+", 122.0 wide")
	require.Len(t, list, 1)
	assert.InDelta(t, 122, list[0].Line[1].X-list[0].Line[0].X, 1e-6)
	assert.InDelta(t, station, list[0].Line[0].Y-p.Origin.Y, 1e-9)
	for _, width := range []float64{150, 30} {
		_, err := template.Pages(template.Saddle{Name: "S", Shape: s, Support: width}, template.A4)
		assert.ErrorContains(t, err, "mm", "the saddle is nowhere %g mm wide", width)
	}
}

// Every saddle of the catalogue, with every support it has.
func TestCatalogueTouchesNothing(t *testing.T) {
	list, err := catalog.New(catalogs.Files).List(partfile.Saddle)
	require.NoError(t, err)
	for _, p := range list {
		for _, support := range []float64{0, 90, 122} {
			if _, fit := p.Saddle.WidthStation(support); support > 0 && fit != saddle.Reached {
				continue
			}
			pages(t, template.Saddle{Name: p.Name, Shape: p.Saddle, Support: support}, template.Letter)
		}
	}
}

// The notch of a gauge is as wide as it says, on both papers, from the narrowest to the widest.
func TestGauge(t *testing.T) {
	for _, paper := range []template.Paper{template.A4, template.Letter} {
		for _, width := range []float64{template.GaugeMin, 85, 122, 155.5, template.GaugeMax} {
			p, err := template.Gauge(width, paper)
			require.NoError(t, err)
			assert.Empty(t, drawtest.Faults(p, 12))
			card := marks(p, "card")[0].Line
			assert.InDelta(t, width, card[3].Distance(card[6]), 1e-9)
			assert.InDelta(t, width, card[4].Distance(card[5]), 1e-9)
		}
	}
	for _, width := range []float64{19, 191, math.NaN()} {
		_, err := template.Gauge(width, template.A4)
		assert.Error(t, err)
	}
}

// poppler reads the PDF back: the page is A4, the rulers are 100 mm, and the outline is as long and wide as the saddle.
func TestPDFIsTrueSize(t *testing.T) {
	for _, program := range []string{"pdfinfo", "pdftocairo"} {
		if _, err := exec.LookPath(program); err != nil {
			if os.Getenv("CI") == "true" {
				t.Fatalf("%s is missing: apt-get install poppler-utils", program)
			}
			t.Skipf("%s is missing: apt-get install poppler-utils", program)
		}
	}
	for _, c := range []struct {
		paper         template.Paper
		width, height float64
	}{{template.A4, 210, 297}, {template.Letter, 215.9, 279.4}} {
		s := shape(t, 210, 142)
		var b bytes.Buffer
		require.NoError(t, draw.PDF(&b, pages(t, template.Saddle{Name: "S", Shape: s}, c.paper)...))
		file := filepath.Join(t.TempDir(), "a.pdf")
		require.NoError(t, os.WriteFile(file, b.Bytes(), 0o600))
		info, err := exec.Command("pdfinfo", file).Output()
		require.NoError(t, err)
		size := regexp.MustCompile(`Page size:\s+([\d.]+) x ([\d.]+) pts`).FindStringSubmatch(string(info))
		require.NotNil(t, size, string(info))
		assert.InDelta(t, c.width, number(t, size[1])*25.4/72, 0.02)
		assert.InDelta(t, c.height, number(t, size[2])*25.4/72, 0.02)

		// By itself pdftocairo fits a page of 595.28 points onto one of 595.
		svg, err := exec.Command("pdftocairo", "-svg", "-noshrink", "-f", "1", "-l", "1", file, "-").Output()
		require.NoError(t, err)
		boxes := paths(t, string(svg))
		level, upright, outline := 0, 0, 0
		_, widest := s.Widest()
		for _, q := range boxes {
			w, h := (q[2]-q[0])*25.4/72, (q[3]-q[1])*25.4/72
			switch {
			case math.Abs(w-100) < 0.02 && h < 0.02:
				level++
			case math.Abs(h-100) < 0.02 && w < 0.02:
				upright++
			case math.Abs(h-210) < 0.02 && w > 30 && w < widest/2:
				outline++
			}
		}
		assert.Equal(t, 1, level, "the level ruler is 100 mm")
		assert.Equal(t, 1, upright, "the upright ruler is 100 mm")
		assert.Equal(t, 2, outline, "both halves of the outline are 210 mm long")
	}
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return v
}

// paths are the boxes, in points, of the stroked paths that poppler finds in a page. It writes coordinates in the
// page's own points with a matrix that each path carries.
func paths(t *testing.T, svg string) (boxes [][4]float64) {
	t.Helper()
	tag := regexp.MustCompile(`<path [^>]*stroke(?:="|:)rgb[^>]*>`)
	d := regexp.MustCompile(` d="([^"]*)"`)
	matrix := regexp.MustCompile(`transform="matrix\(([^)]*)\)"`)
	split := regexp.MustCompile(`[ ,]+`)
	for _, p := range tag.FindAllString(svg, -1) {
		m := [6]float64{1, 0, 0, 1, 0, 0}
		if f := matrix.FindStringSubmatch(p); f != nil {
			for i, s := range split.Split(f[1], -1) {
				m[i] = number(t, s)
			}
		}
		box := [4]float64{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
		var xy []float64
		for _, s := range strings.Fields(d.FindStringSubmatch(p)[1]) {
			if v, err := strconv.ParseFloat(s, 64); err == nil {
				xy = append(xy, v)
			}
		}
		for i := 0; i+1 < len(xy); i += 2 {
			x, y := m[0]*xy[i]+m[2]*xy[i+1]+m[4], m[1]*xy[i]+m[3]*xy[i+1]+m[5]
			box = [4]float64{math.Min(box[0], x), math.Min(box[1], y), math.Max(box[2], x), math.Max(box[3], y)}
		}
		boxes = append(boxes, box)
	}
	return boxes
}
