package drawtest_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"carryover/internal/draw"
	"carryover/internal/draw/drawtest"
	"carryover/internal/plane"
)

func TestFaultsAreFound(t *testing.T) {
	say := func(x, y, turn float64) draw.Mark {
		return draw.Mark{Style: draw.Label, Text: "text", At: plane.Point{X: x, Y: y}, Turn: turn}
	}
	line := func(style draw.Style, pts ...plane.Point) draw.Mark { return draw.Mark{Style: style, Line: pts} }
	w := draw.TextWidth("text", draw.Label)
	for _, c := range []struct {
		name   string
		marks  []draw.Mark
		faults int
	}{
		{"alone", []draw.Mark{say(20, 20, 0)}, 0},
		{"cut at the right", []draw.Mark{say(50-w/2, 20, 0)}, 1},
		{"one over the other", []draw.Mark{say(20, 20, 0), say(21, 20.5, 0)}, 1},
		{"one turned across the other", []draw.Mark{say(20, 20, 0), say(22, 23, math.Pi/2)}, 1},
		{"on a line", []draw.Mark{say(20, 20, 0), line(draw.Hair, plane.Point{X: 5, Y: 19}, plane.Point{X: 45, Y: 19})}, 1},
		{"over a line", []draw.Mark{say(20, 20, 0), line(draw.Hair, plane.Point{X: 5, Y: 20.2}, plane.Point{X: 45, Y: 20.2})}, 0},
		{"on a tint", []draw.Mark{say(20, 20, 0), line(draw.Tint, plane.Point{X: 5, Y: 19}, plane.Point{X: 45, Y: 19})}, 0},
	} {
		p := &draw.Picture{Width: 50, Height: 50, Marks: c.marks}
		assert.Len(t, drawtest.Faults(p, 0), c.faults, c.name)
	}
}
