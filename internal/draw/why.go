package draw

import (
	"fmt"
	"math"
	"slices"

	"carryover/internal/carry"
	"carryover/internal/plane"
	"carryover/internal/words"
)

const (
	worth            = 0.25 // the least share, mm, that gets a bar of its own: half of what a tape tells
	most             = 12   // bars on a page with much else: there only greater shares get one
	whyRow           = 4.2
	whyGap           = 1.8
	whyNames, whyEnd = 40.0, 13.0 // room for names to the left of the bars and for values beside them
)

// Why draws, for every customary number, the way from the first bike's to that of the bike set up: each cause starts
// where the last one ended.
func (v *Scene) Why(o Sheet) *Picture {
	if v.top() != To || !slices.Contains(v.result.Why.Known[:], true) {
		return nil
	}
	w := &v.result.Why
	p := &Picture{Title: "Why the numbers changed", Of: v.Posture.Name, Width: o.Width}
	y := p.headed(o)
	because := words.Because(v.result)
	p.Text = because + " For each number, what changes it on the way from the first bike to this one."
	p.legend(plane.Point{X: edge, Y: y + 2.4}, 0, []sign{
		{true, "more", 8, func(q plane.Point) { p.Area(Solid, Both, "", rect(q.X, q.Y-1.4, 6.5, 2.8)...) }},
		{true, "less than on the first bike, mm", 8, func(q plane.Point) { p.Area(Open, Both, "", rect(q.X, q.Y-1.4, 6.5, 2.8)...) }},
	})
	y += 6.5
	if !o.Plain {
		p.Say(Label, Both, plane.Point{X: edge, Y: y + 3.6}, Start, Shortened(because, Label, p.Width-2*edge))
		y += 6.5
	}
	columns, between := 2, 8.0
	if o.Width < 120 {
		columns = 1
	}
	c := chart{v: v, p: p, width: (p.Width - 2*edge - between*float64(columns-1)) / float64(columns), worth: worth}
	for o.Plain && c.bars() > most {
		c.worth *= 1.5
	}
	if o.Plain && c.bars() == 0 {
		return nil // nothing to see: the sentence says it
	}
	c.scale = c.fitting()
	bottom := make([]float64, columns)
	for m := range carry.Measures {
		if !w.Known[m] {
			continue
		}
		k := 0
		if bottom[columns-1] < bottom[0] {
			k = columns - 1
		}
		bottom[k] += c.waterfall(m, plane.Point{X: edge + float64(k)*(c.width+between), Y: y + bottom[k]})
	}
	p.Height = y + slices.Max(bottom) - whyGap + edge
	return p
}

// chart is a picture of why numbers changed under way.
type chart struct {
	v            *Scene
	p            *Picture
	width, scale float64 // mm of paper for one measure, and how many mm one mm of paper stands for
	worth        float64 // mm
}

// bars are how many are drawn.
func (c chart) bars() (n int) {
	for m := range carry.Measures {
		_, by := c.shares(m)
		n += len(by)
	}
	return n
}

// shares are the causes of a measure that are worth showing; what is too small for a bar of its own is told together.
func (c chart) shares(m carry.Measure) (names []string, by []float64) {
	rest := 0.0
	for _, s := range c.v.result.Why.Swaps {
		if math.Abs(s.By[m]) < c.worth {
			rest += s.By[m]
			continue
		}
		names, by = append(names, words.Cause(s.Cause)), append(by, s.By[m])
	}
	if math.Abs(rest) >= c.worth {
		names, by = append(names, "smaller ones"), append(by, rest)
	}
	return names, by
}

// stretch is what a measure's bars run over, mm from the first bike's value.
func stretch(by []float64) (lo, hi float64) {
	sum := 0.0
	for _, v := range by {
		sum += v
		lo, hi = math.Min(lo, sum), math.Max(hi, sum)
	}
	return lo, hi
}

// fitting is the scale at which every measure fits, the same for all so that bars compare.
func (c chart) fitting() float64 {
	longest := 1.0
	for m := range carry.Measures {
		_, by := c.shares(m)
		lo, hi := stretch(by)
		longest = math.Max(longest, hi-lo)
	}
	return longest / (c.width - whyNames - 2*whyEnd)
}

// waterfall draws one measure and returns the height it took.
func (c chart) waterfall(m carry.Measure, at plane.Point) float64 {
	p, w := c.p, &c.v.result.Why
	names, by := c.shares(m)
	title := words.Measure(m, c.v.Posture.Hands)
	was, is, unchanged := mm(w.Source[m]), mm(w.Target[m]), ""
	if was == is {
		unchanged = ", unchanged"
	}
	p.Text += fmt.Sprintf(" %s: from %s to %s mm%s", title, was, is, unchanged)
	p.Say(Bold, Both, at.Add(plane.Point{Y: 3.4}), Start, title+": "+was+" → "+is+unchanged)
	p.Line(Hair, Both, "", at.Add(plane.Point{Y: 4.9}), at.Add(plane.Point{X: c.width, Y: 4.9}))
	y := at.Y + 5.4
	lo, hi := stretch(by)
	zero := at.X + whyNames + whyEnd + (c.width-whyNames-2*whyEnd-(hi-lo)/c.scale)/2 - lo/c.scale
	if len(by) > 0 {
		p.Line(Thin, Both, "zero "+m.String(), plane.Point{X: zero, Y: y + 0.2}, plane.Point{X: zero, Y: y + float64(len(by))*whyRow - 0.6})
	}
	from := zero
	for i, d := range by {
		to := from + d/c.scale
		p.Say(Minor, Both, plane.Point{X: at.X + 2, Y: y + 3.2}, Start, Shortened(names[i], Minor, whyNames-2))
		style := Solid
		if d < 0 {
			style = Open
		}
		p.Area(style, Both, m.String()+" "+names[i], rect(math.Min(from, to), y+0.7, math.Max(math.Abs(to-from), 0.3), 2.8)...)
		p.Say(Label, Both, plane.Point{X: max(from, to, zero) + 1.2, Y: y + 3.2}, Start, change(d))
		if i+1 < len(by) {
			p.Line(Thin, Both, "", plane.Point{X: to, Y: y + 3.5}, plane.Point{X: to, Y: y + whyRow + 0.7})
		}
		p.Text += fmt.Sprintf(", %s %s", names[i], change(d))
		from, y = to, y+whyRow
	}
	p.Text += "."
	return y - at.Y + whyGap
}

func rect(x, y, w, h float64) []plane.Point {
	return []plane.Point{{X: x, Y: y}, {X: x + w, Y: y}, {X: x + w, Y: y + h}, {X: x, Y: y + h}}
}
