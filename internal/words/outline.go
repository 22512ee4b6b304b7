package words

import (
	"fmt"
	"math"
	"strings"

	"carryover/internal/partfile"
	"carryover/internal/plane"
)

// picture is a drawing in characters. A character is taken as twice as high as it is wide.
type picture struct {
	scale  float64 // mm per column; a row is two of them
	origin plane.Point
	rows   [][]rune
}

// Room for the margin within 80 columns, and for a part's numbers above it on one screen.
const pictureColumns, pictureRows = 74, 26

// newPicture fits the box from lo to hi, mm, into the columns and rows that there are.
func newPicture(lo, hi plane.Point) *picture {
	scale := math.Max(math.Max((hi.X-lo.X)/(pictureColumns-1), (hi.Y-lo.Y)/(2*(pictureRows-1))), 1)
	scale = math.Ceil(scale*2) / 2
	top := math.Round(hi.Y / (2 * scale)) // in rows above y = 0, which thus lies in the middle of a row
	p := &picture{scale: scale, origin: plane.Point{X: lo.X, Y: 2 * scale * top}}
	p.rows = make([][]rune, int(top-math.Round(lo.Y/(2*scale)))+1)
	for i := range p.rows {
		p.rows[i] = []rune(strings.Repeat(" ", int(math.Round((hi.X-lo.X)/scale))+1))
	}
	return p
}

func (p *picture) plot(at plane.Point, mark rune) {
	column := int(math.Round((at.X - p.origin.X) / p.scale))
	row := int(math.Round(p.origin.Y/(2*p.scale)) - math.Round(at.Y/(2*p.scale))) // as newPicture counts them
	if row >= 0 && row < len(p.rows) && column >= 0 && column < len(p.rows[row]) {
		p.rows[row][column] = mark
	}
}

// line plots a straight line.
func (p *picture) line(from, to plane.Point, mark rune) {
	steps := math.Ceil(to.Sub(from).Norm()/(p.scale/2)) + 1
	for i := 0.0; i <= steps; i++ {
		p.plot(from.Add(to.Sub(from).Scale(i/steps)), mark)
	}
}

func (p *picture) String() string {
	var b strings.Builder
	for _, row := range p.rows {
		b.WriteString(strings.TrimRight("  "+string(row), " ") + "\n")
	}
	return b.String()
}

// caption says what is drawn at which scale.
func (p *picture) caption(what string) string {
	return fmt.Sprintf("%s\nTo scale: a column is %s mm, a row %s mm\n\n", what, Trimmed(p.scale, 1), Trimmed(2*p.scale, 1))
}

// outline draws a part to scale, a saddle from above and everything else from the drive side.
func outline(p *partfile.Part) string {
	if p.Kind == partfile.Saddle {
		return saddleOutline(p)
	}
	var lo, hi plane.Point // the box; what is at the origin is in every one
	type stroke struct {
		from, to plane.Point
		mark     rune
	}
	var strokes []stroke
	add := func(from, to plane.Point, mark rune) {
		for _, q := range [...]plane.Point{from, to} {
			lo, hi = plane.Point{X: min(lo.X, q.X), Y: min(lo.Y, q.Y)}, plane.Point{X: max(hi.X, q.X), Y: max(hi.Y, q.Y)}
		}
		strokes = append(strokes, stroke{from, to, mark})
	}
	point := func(at plane.Point, mark rune) { add(at, at, mark) }
	what := ""
	switch p.Kind {
	case partfile.Bar:
		what = "Side view, forward to the right: C clamp centre"
		bar := p.Bar
		line := bar.Line()
		for i := 1; i < len(line); i++ {
			add(line[i-1], line[i], '#')
		}
		if d, ok := bar.DropContact(); ok {
			what += ", D drops"
			point(d, 'D')
		}
		if bar.Hood != nil {
			what += ", H hand"
			point(*bar.Hood, 'H')
		}
		point(plane.Point{}, 'C')
	case partfile.Lever:
		what = "Side view on a level bar: M mount, H where the web of the hand sits"
		hand := plane.Point{X: p.Lever.Along, Y: p.Lever.Out}
		ahead := plane.Direction(p.Lever.Angle).Scale(30)
		add(plane.Point{X: -30}, plane.Point{X: 10}, '=')
		add(plane.Point{}, hand.Sub(ahead), '#')
		add(hand.Sub(ahead), hand.Add(ahead), '#')
		point(plane.Point{}, 'M')
		point(hand, 'H')
	case partfile.Stem:
		what = "Side view against an upright steerer: C bar clamp"
		s := p.Stem
		end := plane.Direction(s.Angle).Scale(s.Length)
		add(plane.Point{Y: -s.Height / 2}, plane.Point{Y: s.Height / 2}, '|')
		add(plane.Point{}, end, '#')
		point(end, 'C')
	case partfile.Clipon:
		what = "Side view at its least stack and tilt: C bar centre, P pad centre, G grips"
		c := p.Clipon
		turn := c.Tilt[0]
		pad := c.Pad(c.Holes[0], c.Stacks[0])
		half := plane.Point{X: c.PadLength / 2}
		add(plane.Point{}, pad.Turn(turn), '|')
		add(pad.Sub(half).Turn(turn), pad.Add(half).Turn(turn), '=')
		add(c.Grip(c.Holes[0], c.Stacks[0], c.GripForward[0]).Turn(turn), c.Grip(c.Holes[0], c.Stacks[0], c.GripForward[1]).Turn(turn), 'G')
		point(pad.Turn(turn), 'P')
		point(plane.Point{}, 'C')
	}
	pic := newPicture(lo, hi)
	for _, s := range strokes {
		pic.line(s.from, s.to, s.mark)
	}
	return pic.caption(what) + pic.String()
}

// saddleOutline draws a saddle from above, nose to the right as the bike stands in the side view, and below it the
// profile with its heights enlarged.
func saddleOutline(p *partfile.Part) string {
	s := p.Saddle
	_, wide := s.Widest()
	above := newPicture(plane.Point{X: -s.Length, Y: -wide / 2}, plane.Point{Y: wide / 2})
	edge := func(station float64) plane.Point { return plane.Point{X: -station, Y: s.Width(station) / 2} }
	for station := 0.0; station < s.Length; station++ {
		above.line(edge(station), edge(math.Min(station+1, s.Length)), '#')
	}
	for _, end := range []float64{0, s.Length} {
		above.line(plane.Point{X: -end}, edge(end), '#')
	}
	for i, last := 0, len(above.rows)-1; i < last-i; i++ { // both sides are alike
		above.rows[last-i] = above.rows[i]
	}
	above.line(plane.Point{X: -s.Rail.To}, plane.Point{X: -s.Rail.From}, '-')

	const enlarged = 4
	deepest := 0.0
	for _, station := range s.Stations() {
		deepest = math.Min(deepest, s.Top(station))
	}
	side := newPicture(plane.Point{X: -s.Length, Y: enlarged * deepest}, plane.Point{})
	for station := 0.0; station <= s.Length; station++ {
		side.plot(plane.Point{X: -station, Y: enlarged * s.Top(station)}, '#')
	}
	return above.caption("From above, nose to the right, -- the rails' straight stretch") + above.String() +
		fmt.Sprintf("\nProfile against the straightedge, heights enlarged %d times\n\n", enlarged) + side.String()
}
