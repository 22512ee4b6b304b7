package draw_test

import (
	"bytes"
	"encoding/xml"
	"image/png"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/draw"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// find returns the marks of a name.
func find(p *draw.Picture, name string, layer draw.Layer) (list []draw.Mark) {
	for _, m := range p.Marks {
		if m.Name == name && m.Layer == layer {
			list = append(list, m)
		}
	}
	return list
}

// centre is the middle of a mark, on paper.
func centre(m draw.Mark) plane.Point {
	lo, hi := plane.Point{X: math.Inf(1), Y: math.Inf(1)}, plane.Point{X: math.Inf(-1), Y: math.Inf(-1)}
	for _, q := range m.Line {
		lo = plane.Point{X: math.Min(lo.X, q.X), Y: math.Min(lo.Y, q.Y)}
		hi = plane.Point{X: math.Max(hi.X, q.X), Y: math.Max(hi.Y, q.Y)}
	}
	return lo.Add(hi).Scale(0.5)
}

// back leads a place on paper back to the side view, mm from the BB.
func back(p *draw.Picture, q plane.Point) plane.Point {
	return plane.Point{X: (q.X - p.Origin.X) * p.Scale, Y: (p.Origin.Y - q.Y) * p.Scale}
}

func TestSideViewIsToScale(t *testing.T) {
	for i, pr := range pairs {
		t.Run(pr.source+" to "+pr.target, func(t *testing.T) {
			source, s := pair(t, i)
			p := draw.NewScene(source, s).Side(draw.A4())
			const within = 0.01 // mm of bike: the discs are polygons
			at := func(name string, layer draw.Layer) plane.Point {
				list := find(p, name, layer)
				require.NotEmpty(t, list, name)
				return back(p, centre(list[0]))
			}
			near := func(want, got plane.Point, what string) {
				assert.InDelta(t, want.X, got.X, within, what)
				assert.InDelta(t, want.Y, got.Y, within, what)
			}
			near(s.Position.Sit.At, at("contact sit", draw.Source), "source sit")
			near(s.Position.Hands.At, at("contact "+string(s.Position.Posture.Hands), draw.Source), "source hands")
			for _, c := range s.Contacts {
				near(c.Got.At, at("contact "+string(c.Got.Name), draw.Target), "target "+string(c.Got.Name))
			}
			near(s.Stance.Poses[assembly.Bar].Origin, at("bar clamp", draw.Target), "bar clamp")
			near(plane.Point{}, at("bb", draw.Both), "bb")

			top := find(p, "saddle", draw.Target)[0].Line
			for _, k := range []saddle.RefKind{saddle.Nose, saddle.Tail} {
				want, err := s.Stance.Where(bike.Place{Kind: bike.AtSaddle, Ref: saddle.Reference{Kind: k}})
				require.NoError(t, err)
				end := top[0]
				if k == saddle.Tail {
					end = top[len(top)-1]
				}
				near(want, back(p, end), "saddle end")
			}
			ring := find(p, "crank circle", draw.Target)[0].Line
			for _, q := range ring {
				assert.InDelta(t, s.Want.Crank, back(p, q).Norm(), within)
			}
			floor := find(p, "floor", draw.Target)[0].Line
			assert.InDelta(t, -*s.Target.Frame.BBHeight, back(p, floor[0]).Y, within)
		})
	}
}

// The profile drawn is the shape's own curve: every point of it, led back into the saddle, is on it.
func TestSaddleIsItsShape(t *testing.T) {
	source, s := pair(t, 0)
	scene := draw.NewScene(source, s)
	p := scene.Side(draw.A4())
	pose := s.Stance.Poses[assembly.Saddle]
	for _, q := range find(p, "saddle", draw.Target)[0].Line {
		local := pose.Local(back(p, q))
		assert.InDelta(t, s.Stance.Shape.Top(-local.X), local.Y, 1e-6)
	}
	above := scene.Top(draw.A4())
	station, _ := s.Stance.Shape.WidthStation(s.Position.Posture.Support)
	for _, q := range find(above, "outline", draw.Target)[0].Line {
		x := back(above, q)
		assert.InDelta(t, s.Stance.Shape.Width(station-x.X)/2, math.Abs(x.Y), 1e-6)
	}
}

func TestScalesPointToTheMark(t *testing.T) {
	for i := range pairs {
		_, s := pair(t, i)
		p := draw.Scales(s, nil, draw.A4())
		scales := find(p, "scale", draw.Both)
		require.Len(t, scales, len(s.Settings))
		for n, set := range s.Settings {
			m := draw.MarkingOf(s, set)
			if m.Hi <= m.Lo {
				continue
			}
			tip := find(p, "pointer "+set.Name, draw.Both)[0].Line[0]
			a, b := scales[n].Line[0], scales[n].Line[1]
			assert.InDelta(t, m.Mark, m.Lo+(m.Hi-m.Lo)*(tip.X-a.X)/(b.X-a.X), 1e-6*(m.Hi-m.Lo), set.Name)
		}
	}
}

// The bars of a measure lead from the source's number to the target's: each begins where the last one ended, and one
// scale serves them all.
func TestWaterfallAddsUp(t *testing.T) {
	for i, pr := range pairs {
		source, s := pair(t, i)
		w := s.Why(source)
		p := draw.Why(&w, "road", draw.A4())
		greatest, most := "", 0.0
		for _, k := range w.Swaps {
			for m, by := range k.By {
				if math.Abs(by) > most {
					greatest, most = carry.MeasureNames[m]+" "+k.Cause, math.Abs(by)
				}
			}
		}
		bar := find(p, greatest, draw.Both)
		require.Len(t, bar, 1)
		scale := (bar[0].Line[1].X - bar[0].Line[0].X) / most // mm of paper per mm
		require.Positive(t, scale)
		for m, name := range carry.MeasureNames {
			if !w.Known[m] {
				continue
			}
			first, at := math.NaN(), 0.0
			for _, bar := range p.Marks {
				if !strings.HasPrefix(bar.Name, name+" ") {
					continue
				}
				from, to := bar.Line[0].X, bar.Line[1].X
				if bar.Ink == draw.Open { // less
					from, to = to, from
				}
				if math.IsNaN(first) {
					first = from
				} else {
					assert.InDelta(t, at, from, 0.31, "%s: %s does not begin where the last bar ended", name, bar.Name)
				}
				at = to
			}
			if math.IsNaN(first) {
				continue
			}
			// Bars too thin to see are drawn 0.3 mm wide, and shares below 0.05 mm may be left out.
			assert.InDelta(t, w.Target[m]-w.Source[m], (at-first)/scale, 0.1+0.6/scale, "%s to %s: %s", pr.source, pr.target, name)
		}
	}
}

// No text runs into another or off the page.
func TestTextKeepsClear(t *testing.T) {
	for i, pr := range pairs {
		source, s := pair(t, i)
		pages, err := draw.View(source, s, "all", draw.Both, 0)
		require.NoError(t, err)
		for _, show := range []draw.Layer{draw.Source, draw.Target} {
			more, err := draw.View(source, s, "side", show, 0)
			require.NoError(t, err)
			pages = append(pages, more...)
		}
		for _, p := range pages {
			var boxes [][4]float64
			var texts []string
			for _, m := range p.Marks {
				if m.Text == "" || m.Turn != 0 {
					continue
				}
				w := draw.Measure(m.Text, m.Ink)
				x := m.At.X
				switch m.Side {
				case draw.Middle:
					x -= w / 2
				case draw.End:
					x -= w
				}
				b := [4]float64{x, m.At.Y - 0.7*m.Ink.Size(), x + w, m.At.Y}
				name := pr.source + " to " + pr.target + ", " + p.Title + ": " + m.Text
				assert.True(t, b[0] >= -0.01 && b[2] <= p.Width+0.01 && b[1] >= -0.01 && b[3] <= p.Height+0.01, "%s leaves the page", name)
				for k, o := range boxes {
					apart := b[0] >= o[2] || o[0] >= b[2] || b[1] >= o[3] || o[1] >= b[3]
					assert.True(t, apart, "%s runs into %s", name, texts[k])
				}
				boxes, texts = append(boxes, b), append(texts, m.Text)
			}
		}
	}
}

func TestSVGIsWellFormedAndExactInMM(t *testing.T) {
	source, s := pair(t, 0)
	s.Target.Name = hostile
	p := draw.NewScene(source, s).Side(draw.A4())
	var b bytes.Buffer
	require.NoError(t, p.SVG(&b))
	d := xml.NewDecoder(&b)
	text := ""
	for {
		tok, err := d.Token()
		if err == io.EOF {
			break
		}
		require.NoError(t, err)
		switch e := tok.(type) {
		case xml.StartElement:
			assert.NotContains(t, []string{"script", "image", "a", "use", "foreignObject"}, e.Name.Local)
			if e.Name.Local == "svg" {
				attr := map[string]string{}
				for _, a := range e.Attr {
					attr[a.Name.Local] = a.Value
				}
				width, err := strconv.ParseFloat(strings.TrimSuffix(attr["width"], "mm"), 64)
				require.NoError(t, err)
				assert.InDelta(t, p.Width, width, 1e-3)
				assert.Equal(t, "0 0 "+strings.TrimSuffix(attr["width"], "mm")+" "+strings.TrimSuffix(attr["height"], "mm"), attr["viewBox"])
			}
		case xml.CharData:
			text += string(e)
		}
	}
	assert.Contains(t, text, `<script>alert("1")</script>`, "a hostile name is shown as it is written")
	assert.NotContains(t, text, "\u202e", "direction marks are written out")
}

// hostile is a name that must stay text.
const hostile = "<script>alert(\"1\")</script>\u202e'&"

func TestPNGHasTheSizeItsResolutionSays(t *testing.T) {
	source, s := pair(t, 0)
	p := draw.NewScene(source, s).Top(draw.A4())
	var b bytes.Buffer
	require.NoError(t, p.PNG(&b, 254)) // ten pixels per mm
	img, err := png.Decode(&b)
	require.NoError(t, err)
	assert.Equal(t, int(math.Ceil(p.Width*10-1e-9)), img.Bounds().Dx())
	assert.Equal(t, int(math.Ceil(p.Height*10-1e-9)), img.Bounds().Dy())
	// The accent of the support line is where the line is, and paper is white.
	line := find(p, "support", draw.Both)[0].Line
	r, g, bl, _ := img.At(int(line[0].X*10), int((line[0].Y+line[1].Y)*5)+40).RGBA()
	assert.Equal(t, [3]uint32{0x9e, 0x2f, 0x12}, [3]uint32{r >> 8, g >> 8, bl >> 8})
	r, g, bl, _ = img.At(2, img.Bounds().Dy()-2).RGBA()
	assert.Equal(t, [3]uint32{0xff, 0xff, 0xff}, [3]uint32{r >> 8, g >> 8, bl >> 8})

	assert.ErrorContains(t, p.PNG(io.Discard, 1e6), "pixels")
}

// A bent line of some width has no holes where its pieces overlap.
func TestStrokesOverlapWithoutHoles(t *testing.T) {
	p := &draw.Picture{Width: 10, Height: 10}
	p.Line(draw.Heavy, draw.Both, "", plane.Point{X: 1, Y: 5}, plane.Point{X: 5, Y: 5}, plane.Point{X: 5, Y: 9}, plane.Point{X: 5, Y: 1}, plane.Point{X: 9, Y: 5})
	var b bytes.Buffer
	require.NoError(t, p.PNG(&b, 2540))
	img, err := png.Decode(&b)
	require.NoError(t, err)
	for _, q := range [][2]int{{500, 500}, {500, 700}, {500, 890}, {495, 300}, {300, 500}, {505, 115}} {
		r, _, _, _ := img.At(q[0], q[1]).RGBA()
		assert.Less(t, r>>8, uint32(0x40), "pixel %v is not inked", q)
	}
}

func TestSamePictureSameBytes(t *testing.T) {
	for name, write := range map[string]func(*draw.Picture, io.Writer) error{
		"svg": func(p *draw.Picture, w io.Writer) error { return p.SVG(w) },
		"png": func(p *draw.Picture, w io.Writer) error { return p.PNG(w, 60) },
		"pdf": func(p *draw.Picture, w io.Writer) error { return draw.PDF(w, p) },
	} {
		var twice [2]bytes.Buffer
		for k := range twice {
			source, s := pair(t, 0)
			require.NoError(t, write(draw.NewScene(source, s).Side(draw.A4()), &twice[k]))
		}
		assert.True(t, bytes.Equal(twice[0].Bytes(), twice[1].Bytes()), name)
	}
}

// poppler runs one of poppler's programs on a PDF, or skips where they are not installed.
func poppler(t *testing.T, program string, pdf []byte, args ...string) string {
	t.Helper()
	if _, err := exec.LookPath(program); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("%s is missing: apt-get install poppler-utils", program)
		}
		t.Skipf("%s is missing: apt-get install poppler-utils", program)
	}
	file := filepath.Join(t.TempDir(), "a.pdf")
	require.NoError(t, os.WriteFile(file, pdf, 0o600))
	var args2 []string
	for _, a := range args {
		if a == "FILE" {
			a = file
		}
		args2 = append(args2, a)
	}
	out, err := exec.Command(program, args2...).Output()
	require.NoError(t, err)
	return string(out)
}

func TestPDFPageIsThePicture(t *testing.T) {
	source, s := pair(t, 0)
	s.Target.Name = "Rahmen ÄÖ Ωμέγα Рама 車"
	p := draw.NewScene(source, s).Side(draw.A4())
	var b bytes.Buffer
	require.NoError(t, draw.PDF(&b, p))
	info := poppler(t, "pdfinfo", b.Bytes(), "FILE")
	var width, height float64
	for _, line := range strings.Split(info, "\n") {
		if f := strings.Fields(line); len(f) > 4 && f[0] == "Page" && f[1] == "size:" {
			width, _ = strconv.ParseFloat(f[2], 64)
			height, _ = strconv.ParseFloat(f[4], 64)
		}
	}
	assert.InDelta(t, p.Width, width*25.4/72, 0.02)
	assert.InDelta(t, p.Height, height*25.4/72, 0.02)
	text := poppler(t, "pdftotext", b.Bytes(), "FILE", "-")
	assert.Contains(t, text, "Rahmen ÄÖ Ωμέγα Рама \\u8eca", "what the font has is text, what it lacks is written out")
	assert.Contains(t, text, "nose to hood")
}

func FuzzFit(f *testing.F) {
	f.Add("saddle post", 20.0)
	f.Add("\u202e\x00\xff", 3.0)
	f.Add(strings.Repeat("x", 10_000), 50.0)
	f.Fuzz(func(t *testing.T, name string, width float64) {
		if !(width > 2 && width < 500) {
			return
		}
		got := draw.Fit(name, draw.Label, width)
		if draw.Measure(got, draw.Label) > width+1e-9 && got != "…" {
			t.Fatalf("%q is %g mm wide, more than %g", got, draw.Measure(got, draw.Label), width)
		}
	})
}

func BenchmarkSideSVG(b *testing.B) {
	source, s := pair(b, 0)
	b.ReportAllocs()
	for b.Loop() {
		if err := draw.NewScene(source, s).Side(draw.A4()).SVG(io.Discard); err != nil {
			b.Fatal(err)
		}
	}
}
