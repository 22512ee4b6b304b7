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
	"carryover/internal/draw/drawtest"
	"carryover/internal/job"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/saddle"
	"carryover/internal/words"
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
			s := pair(t, i)
			p := draw.NewScene(s).Side(draw.A4())
			const within = 0.02 // mm of bike: the discs are polygons
			at := func(name string, layer draw.Layer) plane.Point {
				list := find(p, name, layer)
				require.NotEmpty(t, list, name)
				return back(p, centre(list[0]))
			}
			near := func(want, got plane.Point, what string) {
				assert.InDelta(t, want.X, got.X, within, what)
				assert.InDelta(t, want.Y, got.Y, within, what)
			}
			near(s.Position.Sit.At, at("contact sit", draw.From), "source sit")
			near(s.Position.Hands.At, at("contact "+string(s.Position.Posture.Hands), draw.From), "source hands")
			for _, c := range s.Contacts {
				near(c.Got.At, at("contact "+string(c.Got.Name), draw.To), "target "+string(c.Got.Name))
			}
			near(s.Placement.Poses[assembly.Bar].Origin, at("bar clamp", draw.To), "bar clamp")
			near(plane.Point{}, at("bb", draw.Both), "bb")

			if s.Placement.Shape != nil {
				top := find(p, "saddle", draw.To)[0].Line
				for _, k := range []saddle.RefKind{saddle.Nose, saddle.Tail} {
					want, err := s.Placement.Where(bike.Place{Kind: bike.AtSaddle, Ref: saddle.Reference{Kind: k}})
					require.NoError(t, err)
					end := top[0]
					if k == saddle.Tail {
						end = top[len(top)-1]
					}
					near(want, back(p, end), "saddle end")
				}
			}
			ring := find(p, "crank circle", draw.To)[0].Line
			for _, q := range ring {
				assert.InDelta(t, s.Want.Crank, back(p, q).Norm(), within)
			}
			if h := s.Target.Frame.BBHeight; h != nil {
				assert.InDelta(t, -*h, back(p, find(p, "floor", draw.To)[0].Line[0]).Y, within)
			}
		})
	}
}

// The profile drawn is the shape's own curve: every point of it, led back into the saddle, is on it.
func TestSaddleIsItsShape(t *testing.T) {
	s := pair(t, 0)
	v := draw.NewScene(s)
	p := v.Side(draw.A4())
	pose := s.Placement.Poses[assembly.Saddle]
	for _, q := range find(p, "saddle", draw.To)[0].Line {
		local := pose.Local(back(p, q))
		assert.InDelta(t, s.Placement.Shape.Top(-local.X), local.Y, 1e-6)
	}
	above := v.Top(draw.A4())
	station, _ := s.Placement.Shape.WidthStation(s.Position.Posture.Support)
	for _, q := range find(above, "outline", draw.To)[0].Line {
		x := back(above, q)
		assert.InDelta(t, s.Placement.Shape.Width(station-x.X)/2, math.Abs(x.Y), 1e-6)
	}
}

// The pointer stands on the mark, the arrow leads there from the old one, and what has no scale has no pointer.
func TestScalesPointToTheMark(t *testing.T) {
	for i := range pairs {
		s := pair(t, i)
		p := draw.NewScene(s).Scales(draw.A4(), 1)[0]
		scales := find(p, "scale", draw.Both)
		n := 0
		for _, set := range s.Settings {
			pointers := find(p, "pointer "+set.Name, draw.Both)
			if by, known := set.Move(); !set.Scale && known && !set.Turns() {
				for _, arrow := range find(p, "move "+set.Name, draw.Both) {
					assert.Equal(t, by > 0, arrow.Line[1].X > arrow.Line[0].X, "%s goes the way its mark would rise", set.Name)
				}
				continue
			}
			if !set.Scale {
				assert.Empty(t, pointers, "%s has no scale", set.Name)
				continue
			}
			a := &s.Target.Adjusters[set.Adjuster]
			require.Len(t, pointers, 1, set.Name)
			tip := pointers[0].Line[0]
			var line []plane.Point // the scale at the same height
			for _, c := range scales {
				if math.Abs(c.Line[0].Y-tip.Y) < 1e-9 {
					line = c.Line
				}
			}
			require.NotNil(t, line, set.Name)
			assert.InDelta(t, set.Mark(), a.Lo+(a.Hi-a.Lo)*(tip.X-line[0].X)/(line[1].X-line[0].X), 1e-6*(a.Hi-a.Lo), set.Name)
			for _, arrow := range find(p, "move "+set.Name, draw.Both) {
				was := a.Lo + (a.Hi-a.Lo)*(arrow.Line[0].X-line[0].X)/(line[1].X-line[0].X)
				assert.InDelta(t, s.Target.Marks[a.Name], was, 1e-6*(a.Hi-a.Lo), set.Name)
			}
			n++
		}
		assert.Len(t, scales, n)
	}
}

// The bars of a measure lead from the first bike's number to the second's: each begins where the last one ended.
func TestWaterfallAddsUp(t *testing.T) {
	for i, pr := range pairs {
		s := pair(t, i)
		w := &s.Why
		p := draw.NewScene(s).Why(draw.A4())
		if p == nil {
			assert.NotContains(t, w.Known[:], true)
			continue
		}
		for m := range carry.Measures {
			zero := find(p, "zero "+m.String(), draw.Both)
			if !w.Known[m] {
				assert.Empty(t, zero)
				continue
			}
			at, scale := math.NaN(), math.NaN() // where nothing changes a number there are no bars
			if len(zero) > 0 {
				at = zero[0].Line[0].X
			}
			for _, k := range w.Swaps {
				for _, bar := range find(p, m.String()+" "+words.Cause(k.Cause), draw.Both) {
					from, to := bar.Line[0].X, bar.Line[1].X
					if bar.Style == draw.Open { // less
						from, to = to, from
					}
					assert.InDelta(t, at, from, 0.31, "%s to %s: %s does not begin where the last bar ended", pr.source, pr.target, bar.Name)
					if math.Abs(to-from) > 0.31 { // thinner ones are drawn 0.3 mm wide
						each := (to - from) / k.By[m]
						if !math.IsNaN(scale) {
							assert.InEpsilon(t, scale, each, 1e-6, "%s is to another scale", bar.Name)
						}
						scale = each
					}
					at = from + k.By[m]*each(scale, (to-from)/k.By[m])
				}
			}
		}
	}
}

func each(known, seen float64) float64 {
	if math.IsNaN(known) {
		return seen
	}
	return known
}

// No text lies on a line or on other text, nothing is cut, on every example and beyond what is usual.
func TestNothingTouches(t *testing.T) {
	every := func(name string, v *draw.Scene) {
		v.Date = "2030-05-14"
		pages := v.View("all", 0)
		// As small as they stand on the sheet.
		for _, size := range [][2]float64{{190, 110}, {190, 152}, {190, 200}, {90, 72}, {90, 56}} {
			o := draw.Sheet{Width: size[0], Height: size[1], Plain: true}
			list := []*draw.Picture{v.Top(o), v.Pads(o), v.Why(o)}
			if o.Width == 190 {
				list = append(list, v.Side(o))
			}
			pages = append(pages, append(list, v.Scales(o, 2)...)...)
		}
		for _, p := range pages {
			if p == nil {
				continue
			}
			for _, f := range drawtest.Faults(p, 0) {
				t.Errorf("%s: %s", name, f)
			}
		}
	}
	look := func(name string, s *job.Result, shows ...draw.Layer) {
		for _, show := range shows {
			v := draw.NewScene(s)
			v.Show = show
			every(name, v)
		}
	}
	for i, pr := range pairs {
		look(pr.source+" to "+pr.target, pair(t, i), draw.Both, draw.To) // the first alone is below
	}
	for _, name := range []string{"road", "tri", "weekend", "aero", "studio-set", "trainer", "aero-trainer"} {
		var files job.Files
		source, err := files.Source("example:"+name, nil, locate.Options{})
		require.NoError(t, err)
		asked := source.Postures
		if len(source.Bike.Postures) == 0 {
			asked = source.AsItStands
		}
		list, err := asked("")
		require.NoError(t, err)
		for _, p := range list {
			every(name, draw.Alone(source.Adjusted, p.Position))
		}
	}
	for _, c := range []struct{ name, from, to string }{
		{"long names", strings.Repeat("An invented bike with a long name ", 5), strings.Repeat("W", 200)},
		{"other letters", "\u062f\u0631\u0627\u062c\u0629", "\u8eca\u8eca\u8eca"},
	} {
		s := pair(t, 0)
		s.Source.Bike.Name, s.Target.Name = c.from, c.to
		for i := range s.Target.Adjusters {
			old := s.Target.Adjusters[i].Name
			s.Target.Adjusters[i].Name = strings.Repeat("W", 60-i) // adjusters keep apart by their names
			for k := range s.Settings {
				if s.Settings[k].Name == old {
					s.Settings[k].Name = s.Target.Adjusters[i].Name
				}
			}
		}
		look(c.name, s, draw.Both, draw.From, draw.To)
	}
	for _, size := range []float64{0.75, 1.25} {
		s := drawtest.Carried(t, scaled(t, "road", size), scaled(t, "studio", size), "road").Results[0]
		look("size "+draw.Fixed(size, 2), s, draw.Both, draw.From)
	}
}

// And the test would see it: no label can be moved to where another one is.
func TestMovedLabelIsSeen(t *testing.T) {
	for _, p := range draw.NewScene(pair(t, 0)).View("all", 0) {
		n := 0
		for i, m := range p.Marks {
			for _, o := range p.Marks[i+1:] {
				if m.Text == "" || o.Text == "" {
					continue
				}
				p.Marks[i].At, p.Marks[i].Turn, p.Marks[i].Side = o.At, o.Turn, o.Side
				assert.NotEmpty(t, drawtest.Faults(p, 0), "%q lies on %q", m.Text, o.Text)
				p.Marks[i] = m
				n++
				break
			}
		}
		assert.Greater(t, n, 4, p.Title)
	}
}

// A bike without shapes is drawn by what was read of it: its mark and its hood.
func TestBikeWithoutShapes(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bike.toml")
	require.NoError(t, os.WriteFile(path, []byte(unshaped), 0o600))
	var files job.Files
	source, err := files.Source(path, nil, locate.Options{})
	require.NoError(t, err)
	asked, err := source.Postures("")
	require.NoError(t, err)
	v := draw.Alone(source.Adjusted, asked[0].Position)
	pages := v.View("all", 0)
	require.Len(t, pages, 1, "nothing is known of the saddle from above")
	assert.Empty(t, drawtest.Faults(pages[0], 0))
	assert.InDelta(t, -200, back(pages[0], centre(find(pages[0], "contact sit", draw.From)[0])).X, 0.1)
	assert.Contains(t, pages[0].Text, "setback 200 mm, reach to the hoods 750 mm")
}

func TestSVGIsWellFormedAndExactInMM(t *testing.T) {
	s := pair(t, 0)
	s.Target.Name = hostile
	p := draw.NewScene(s).Side(draw.A4())
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
	s := pair(t, 0)
	p := draw.NewScene(s).Top(draw.A4())
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
	p.Line(draw.Heavy, draw.Both, "", []plane.Point{{X: 1, Y: 5}, {X: 5, Y: 5}, {X: 5, Y: 9}, {X: 5, Y: 1}, {X: 9, Y: 5}}...)
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
			s := pair(t, 0)
			require.NoError(t, write(draw.NewScene(s).Side(draw.A4()), &twice[k]))
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
	s := pair(t, 0)
	s.Target.Name = "Rahmen ÄÖ Ωμέγα Рама 車"
	p := draw.NewScene(s).Side(draw.A4())
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
	assert.Contains(t, text, "Rahmen ÄÖ Ωμέγα Рама □", "what the font has is text, what it lacks is a box")
	assert.Contains(t, text, "reach to the hoods")
}

func FuzzFit(f *testing.F) {
	f.Add("saddle post", 20.0)
	f.Add("\u202e\x00\xff", 3.0)
	f.Add(strings.Repeat("x", 10_000), 50.0)
	f.Fuzz(func(t *testing.T, name string, width float64) {
		if !(width > 2 && width < 500) {
			return
		}
		got := draw.Shortened(name, draw.Label, width)
		if draw.TextWidth(got, draw.Label) > width+1e-9 && got != "…" {
			t.Fatalf("%q is %g mm wide, more than %g", got, draw.TextWidth(got, draw.Label), width)
		}
	})
}

func BenchmarkSideSVG(b *testing.B) {
	s := pair(b, 0)
	b.ReportAllocs()
	for b.Loop() {
		if err := draw.NewScene(s).Side(draw.A4()).SVG(io.Discard); err != nil {
			b.Fatal(err)
		}
	}
}
