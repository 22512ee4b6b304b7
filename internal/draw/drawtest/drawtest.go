// Package drawtest carries examples for tests of pictures, and looks at pictures as an eye would: text on lines, on text,
// or cut by the edge.
package drawtest

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"carryover/internal/draw"
	"carryover/internal/job"
	"carryover/internal/plane"
)

// Carried carries a posture ("" for all) of one bike to another, each example:NAME or the text of a file.
func Carried(t testing.TB, from, to, posture string) *job.Carry {
	t.Helper()
	file := func(what string) string {
		if !strings.Contains(what, "\n") {
			return what
		}
		path := filepath.Join(t.TempDir(), "bike.toml")
		require.NoError(t, os.WriteFile(path, []byte(what), 0o600))
		return path
	}
	var files job.Files
	c, err := files.Carry(context.Background(), job.Asked{From: file(from), To: file(to), Posture: posture})
	require.NoError(t, err)
	return c
}

// text is a piece of text as a rectangle of its own frame: along its base line and up, from its anchor.
type text struct {
	m          draw.Mark
	left, wide float64
	low, high  float64 // a little less than the letters take, so that touching is not overlapping
}

func (t text) local(q plane.Point) plane.Point {
	d := q.Sub(t.m.At)
	d.Y = -d.Y
	return d.Turn(-t.m.Turn)
}

func (t text) page(x, y float64) plane.Point {
	d := plane.Point{X: x, Y: y}.Turn(t.m.Turn)
	return t.m.At.Add(plane.Point{X: d.X, Y: -d.Y})
}

func (t text) corners() []plane.Point {
	r := t.left + t.wide
	return []plane.Point{t.page(t.left, t.low), t.page(r, t.low), t.page(r, t.high), t.page(t.left, t.high)}
}

// crossed reports whether a segment enters the rectangle, by halving it down to a hundredth of a mm.
func (t text) crossed(a, b plane.Point) bool {
	p, q := t.local(a), t.local(b)
	r := t.left + t.wide
	for _, side := range [4]bool{p.X < t.left && q.X < t.left, p.X > r && q.X > r, p.Y < t.low && q.Y < t.low, p.Y > t.high && q.Y > t.high} {
		if side {
			return false
		}
	}
	in := func(p plane.Point) bool { return p.X > t.left && p.X < r && p.Y > t.low && p.Y < t.high }
	if in(p) || in(q) {
		return true
	}
	if a.Distance(b) < 0.01 {
		return false
	}
	mid := a.Add(b).Scale(0.5)
	return t.crossed(a, mid) || t.crossed(mid, b)
}

// Faults lists what an eye would stumble on: text that lies on a line or on other text, or within margin mm of the
// edge of the paper, and lines beyond that.
func Faults(p *draw.Picture, margin float64) (faults []string) {
	say := func(format string, args ...any) { faults = append(faults, p.Title+": "+fmt.Sprintf(format, args...)) }
	var texts []text
	for _, m := range p.Marks {
		if m.Text == "" {
			continue
		}
		w, size := draw.TextWidth(m.Text, m.Style), m.Style.Size()
		t := text{m, map[draw.Side]float64{draw.Start: 0, draw.Middle: -w / 2, draw.End: -w}[m.Side], w, 0, 0.68 * size}
		for _, c := range t.corners() {
			if c.X < margin-0.01 || c.Y < margin-0.01 || c.X > p.Width-margin+0.01 || c.Y > p.Height-margin+0.01 {
				say("%q leaves the paper", m.Text)
				break
			}
		}
		for _, o := range texts {
			a, b := t.corners(), o.corners()
			for i := range a { // around, and from corner to corner: one may lie on the other to a hair
				if o.crossed(a[i], a[(i+1)%4]) || t.crossed(b[i], b[(i+1)%4]) || o.crossed(a[i], a[(i+2)%4]) {
					say("%q runs into %q", m.Text, o.m.Text)
					break
				}
			}
		}
		texts = append(texts, t)
	}
	for _, m := range p.Marks {
		if m.Text != "" || !m.Style.Drawn() {
			continue
		}
		line := m.Line
		if m.Closed {
			line = append(line[:len(line):len(line)], line[0])
		}
		for i := 1; i < len(line); i++ {
			for _, q := range line[i-1 : i+1] {
				if q.X < margin-0.01 || q.Y < margin-0.01 || q.X > p.Width-margin+0.01 || q.Y > p.Height-margin+0.01 {
					say("line %q leaves the paper at %.1f, %.1f", m.Name, q.X, q.Y)
				}
			}
			for _, t := range texts {
				if t.crossed(line[i-1], line[i]) {
					say("%q lies on line %q at %.1f, %.1f", t.m.Text, m.Name, line[i].X, line[i].Y)
				}
			}
		}
	}
	return faults
}
