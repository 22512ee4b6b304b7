package stencil_test

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

	"carryover/internal/draw"
	"carryover/internal/plane"
	"carryover/internal/saddle"
	"carryover/internal/stencil"
)

func shape(t testing.TB, length float64) *saddle.Shape {
	t.Helper()
	s, err := saddle.New(length,
		[][2]float64{{0, 40}, {length / 3, 55}, {0.85 * length, 142}, {length, 70}},
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

func TestPages(t *testing.T) {
	for _, c := range []struct {
		name   string
		length float64
		paper  stencil.Paper
		pages  int // of outline and profile together
	}{
		{"short, A4", 230, stencil.A4, 2},
		{"long, A4", 280, stencil.A4, 4},
		{"short, Letter", 220, stencil.Letter, 2},
		{"middling, Letter", 240, stencil.Letter, 4},
		{"longer than two pages", 600, stencil.A4, 6},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := shape(t, c.length)
			pages := stencil.Pages(stencil.Saddle{Name: "An invented saddle", Shape: s, Support: 122}, c.paper)
			require.Len(t, pages, c.pages)
			covered := map[int]bool{}
			for _, p := range pages[:c.pages/2] {
				assert.Equal(t, c.paper, stencil.Paper{Width: p.Width, Height: p.Height})
				right, left := marks(p, "outline right")[0].Line, marks(p, "outline left")[0].Line
				for i := range right {
					station := right[i].Y - p.Origin.Y
					assert.InDelta(t, s.Width(station), right[i].X-left[i].X, 1e-9, "width at %g", station)
					covered[int(math.Round(station))] = true
				}
			}
			for _, p := range pages[c.pages/2:] {
				for _, q := range marks(p, "profile")[0].Line {
					assert.InDelta(t, s.Top(q.Y-p.Origin.Y), q.X-p.Origin.X, 1e-9)
				}
			}
			for st := range int(c.length) {
				assert.True(t, covered[st], "station %d is on no page", st)
			}
			for _, p := range pages {
				for _, m := range p.Marks {
					if m.Text != "" {
						x := m.At.X
						if m.Side == draw.End {
							x -= draw.Measure(m.Text, m.Ink)
						}
						assert.True(t, x >= 9 && x+draw.Measure(m.Text, m.Ink) <= p.Width-9, "%q leaves what printers print", m.Text)
					}
					for _, q := range m.Line {
						assert.True(t, q.X >= 5 && q.X <= p.Width-5 && q.Y >= 5 && q.Y <= p.Height-5, "%q leaves what printers print: %v", m.Name, q)
					}
				}
			}
		})
	}
}

// The marks of a join lie at the same station on both of its pages, the same distance apart.
func TestJoinsMatch(t *testing.T) {
	pages := stencil.Pages(stencil.Saddle{Name: "Long", Shape: shape(t, 600)}, stencil.A4)
	place := func(p *draw.Picture, name string) (q []plane.Point) {
		for _, m := range marks(p, name) {
			mid := m.Line[0].Add(m.Line[1]).Scale(0.5)
			q = append(q, mid.Sub(p.Origin))
		}
		return q
	}
	for _, first := range []int{0, 3} {
		for join := 1; join <= 2; join++ {
			name := "join " + strconv.Itoa(join)
			a, b := place(pages[first+join-1], name), place(pages[first+join], name)
			require.Len(t, a, 2)
			require.Len(t, b, 2)
			for i := range a {
				assert.InDelta(t, a[i].X, b[i].X, 1e-9)
				assert.InDelta(t, a[i].Y, b[i].Y, 1e-9)
			}
		}
	}
}

func TestSupportIsMarkedWhereTheWidthIs(t *testing.T) {
	s := shape(t, 230)
	p := stencil.Pages(stencil.Saddle{Name: "S", Shape: s, Support: 122}, stencil.A4)[0]
	station, _ := s.WidthStation(122)
	list := marks(p, "mark support "+draw.Fixed(station, 1))
	require.Len(t, list, 1)
	assert.InDelta(t, 122, list[0].Line[1].X-list[0].Line[0].X, 1e-6)
	assert.InDelta(t, station, list[0].Line[0].Y-p.Origin.Y, 1e-9)
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
		paper         stencil.Paper
		width, height float64
	}{{stencil.A4, 210, 297}, {stencil.Letter, 215.9, 279.4}} {
		s := shape(t, 215)
		var b bytes.Buffer
		require.NoError(t, draw.PDF(&b, stencil.Pages(stencil.Saddle{Name: "S", Shape: s}, c.paper)...))
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
			case math.Abs(h-215) < 0.02 && w > 30 && w < widest/2:
				outline++
			}
		}
		assert.Equal(t, 1, level, "the level ruler is 100 mm")
		assert.Equal(t, 1, upright, "the upright ruler is 100 mm")
		assert.Equal(t, 2, outline, "both halves of the outline are 215 mm long")
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
