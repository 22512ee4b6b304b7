package draw

import (
	"fmt"
	"math"

	"carryover/internal/carry"
	"carryover/internal/plane"
	"carryover/internal/report"
)

// The room that one scale takes, mm: alone, and on a page with much else.
const rowHeight, closeRows = 17.0, 13.2

// oneColumn is how many scales stand below one another before they take two columns of a page.
const oneColumn = 6

// Scales draws every setting of the target as a scale, with a pointer on the mark, in the order given (indexes
// into s.Settings; nil: all, as they are).
func Scales(s *carry.Solution, order []int, o Sheet) *Picture {
	p := &Picture{Title: "Settings: " + s.Position.Posture.Name, Width: o.Width}
	y := 0.0
	if !o.Plain {
		p.Say(Head, Both, plane.Point{X: 0.5, Y: 4.4}, Start, Fit(p.Title, Head, p.Width-1))
		y = titleRoom
	}
	p.Area(Accent, Both, "", pointer(plane.Point{X: 4, Y: y + 4}, 1)...)
	p.Say(Minor, Both, plane.Point{X: 6.5, Y: y + 3.8}, Start, "set it here")
	p.Area(Dotted, Both, "", pointer(plane.Point{X: 30, Y: y + 1}, -1)...)
	p.Say(Minor, Both, plane.Point{X: 32.5, Y: y + 3.8}, Start, "where its mark stood")
	p.Line(Strong, Both, "", plane.Point{X: 67, Y: y + 2.8}, plane.Point{X: 75, Y: y + 2.8})
	p.Say(Minor, Both, plane.Point{X: 77, Y: y + 3.8}, Start, "what the readings leave open, ± one standard uncertainty")
	y += 6.5
	p.Text = "A scale for each setting of the target."
	if order == nil {
		for i := range s.Settings {
			order = append(order, i)
		}
	}
	// On a page with much else, many scales stand in two columns.
	height, columns := rowHeight, 1
	if o.Plain {
		height = closeRows
		if len(order) > oneColumn {
			columns = 2
		}
	}
	const between = 6.0
	width := (p.Width - between*float64(columns-1)) / float64(columns)
	rows := (len(order) + columns - 1) / columns
	for n, i := range order {
		at := plane.Point{X: float64(n/rows) * (width + between), Y: y + float64(n%rows)*height + (height-rowHeight)/2}
		p.scaleRow(s, s.Settings[i], at, width)
		p.Text += " " + settingText(s, s.Settings[i]) + "."
	}
	y += float64(rows) * height
	p.Height = y
	return p
}

// Marking is a setting as a person reads it: in marks of its scale, mm or degrees.
type Marking struct {
	Mark, Lo, Hi, Sigma float64
	Was                 float64 // where the mark stood; NaN: not known
	Unit                string  // "mark", "mm" or "°"
	Decimals            int
}

// MarkingOf reads a setting off its scale.
func MarkingOf(s *carry.Solution, set carry.Setting) Marking {
	m := Marking{Mark: set.Mark, Lo: set.Lo, Hi: set.Hi, Sigma: set.Sigma, Was: math.NaN(), Unit: "mm", Decimals: 1}
	if set.Turns {
		m.Lo, m.Hi, m.Sigma, m.Unit = plane.Deg(set.Lo), plane.Deg(set.Hi), plane.Deg(set.Sigma), "°"
	}
	if set.Adjuster < 0 {
		return m
	}
	a := &s.Target.Adjusters[set.Adjuster]
	m.Lo, m.Hi = a.Lo, a.Hi
	m.Sigma = math.Abs(set.Sigma / a.Unit)
	if was, ok := s.Target.Marks[a.Name]; ok {
		m.Was = was
	}
	natural := 1.0
	if set.Turns {
		natural = plane.Rad(1)
	}
	if a.NoScale || a.Unit == natural {
		return m
	}
	m.Unit = "mark"
	// As finely as a scale is worth reading: to 1 mm or 0.1 degrees.
	per := math.Abs(a.Unit) / natural
	if set.Turns {
		per *= 10
	}
	m.Decimals = int(plane.Clamp(math.Ceil(math.Log10(per)-1e-9), 1, 6))
	return m
}

// Value is a mark with its unit.
func (m Marking) Value(v float64) string {
	switch m.Unit {
	case "°":
		return Fixed(v, m.Decimals) + "°"
	case "mm":
		return Fixed(v, m.Decimals) + " mm"
	}
	return Fixed(v, m.Decimals)
}

// settingText says one setting in words.
func settingText(s *carry.Solution, set carry.Setting) string {
	m := MarkingOf(s, set)
	t := fmt.Sprintf("%s: %s, on a scale from %s to %s", Fit(report.SettingName(set.Name), Label, 120), m.Value(m.Mark), m.Value(m.Lo), m.Value(m.Hi))
	if !math.IsNaN(m.Was) {
		t += ", was " + m.Value(m.Was)
	}
	return t
}

// pointer is a triangle whose tip touches at, from above (1) or from below (-1).
func pointer(at plane.Point, from float64) []plane.Point {
	return []plane.Point{at, {X: at.X + 1.5, Y: at.Y - 3*from}, {X: at.X - 1.5, Y: at.Y - 3*from}}
}

// scaleRow draws one setting's scale into the row that begins at corner.
func (p *Picture) scaleRow(s *carry.Solution, set carry.Setting, corner plane.Point, width float64) {
	nameWidth, pad := 34.0, 8.0
	if width < 120 {
		nameWidth, pad = 28, 4
	}
	m := MarkingOf(s, set)
	base := corner.Y + 9.5
	left, right := corner.X+nameWidth+pad, corner.X+width-pad
	p.Say(Label, Both, plane.Point{X: corner.X + 0.5, Y: base - 0.4}, Start, Fit(report.SettingName(set.Name), Label, nameWidth))
	p.Say(Minor, Both, plane.Point{X: corner.X + 0.5, Y: base + 3.4}, Start, scaleHint(s, set, m))

	span := m.Hi - m.Lo
	if !(span > 0) {
		p.Line(Thin, Both, "scale", plane.Point{X: left, Y: base}, plane.Point{X: right, Y: base})
		p.Area(Accent, Both, "pointer "+set.Name, pointer(plane.Point{X: (left + right) / 2, Y: base}, 1)...)
		p.Say(Alert, Both, plane.Point{X: (left + right) / 2, Y: base - 4}, Middle, m.Value(m.Mark))
		return
	}
	at := func(v float64) plane.Point { return plane.Point{X: left + (right-left)*(v-m.Lo)/span, Y: base} }
	p.Line(Thin, Both, "scale", at(m.Lo), at(m.Hi))
	major := niceStep(span / math.Max(4, (right-left)/17))
	minor := major / 5
	if first := leading(major); first == 2 {
		minor = major / 4
	}
	decimals := 0
	if major < 1 {
		decimals = int(math.Ceil(-math.Log10(major) - 1e-9))
	}
	if span/minor < 200 {
		for k := math.Ceil(m.Lo/minor - 1e-9); k*minor <= m.Hi+1e-9*span; k++ {
			q := at(k * minor)
			p.Line(Thin, Both, "", q, q.Add(plane.Point{Y: 1.2}))
		}
	}
	mark := at(plane.Clamp(m.Mark, m.Lo, m.Hi))
	was := math.Inf(-1)
	if !math.IsNaN(m.Was) {
		was = at(m.Was).X
	}
	for k := math.Ceil(m.Lo/major - 1e-9); k*major <= m.Hi+1e-9*span; k++ {
		q := at(k * major)
		p.Line(Thin, Both, "", q, q.Add(plane.Point{Y: 2.2}))
		text := Fixed(k*major, decimals)
		if math.Abs(q.X-was) < 1.5+(Measure(text, Minor)+Measure(m.Value(m.Was), Minor))/2 {
			continue // the old mark's pointer stands there
		}
		p.Say(Minor, Both, q.Add(plane.Point{Y: 5}), Middle, text)
	}
	for _, end := range []float64{m.Lo, m.Hi} {
		q := at(end)
		p.Line(Heavy, Both, "", q.Add(plane.Point{Y: -1.6}), q.Add(plane.Point{Y: 2.6}))
	}
	if m.Sigma > 0 {
		a, b := at(plane.Clamp(m.Mark-m.Sigma, m.Lo, m.Hi)), at(plane.Clamp(m.Mark+m.Sigma, m.Lo, m.Hi))
		p.Line(Strong, Both, "sigma", a.Add(plane.Point{Y: -0.4}), b.Add(plane.Point{Y: -0.4}))
	}
	if !math.IsNaN(m.Was) {
		q := at(m.Was)
		p.Area(Dotted, Both, "was "+set.Name, pointer(q.Add(plane.Point{Y: 0.3}), -1)...)
		p.Say(Minor, Both, q.Add(plane.Point{Y: 6}), Middle, m.Value(m.Was))
	}
	p.Area(Accent, Both, "pointer "+set.Name, pointer(mark, 1)...)
	text := m.Value(m.Mark)
	if m.Sigma > 0 {
		text += " ± " + Fixed(m.Sigma, m.Decimals)
	}
	if word := limitWord(set.Limit); word != "" {
		text += ", " + word
	}
	side := Middle
	if w := Measure(text, Alert) / 2; mark.X+w > corner.X+width {
		side = End
		mark.X += 2
	} else if mark.X-w < left-pad {
		side = Start
		mark.X -= 2
	}
	p.Say(Alert, Both, mark.Add(plane.Point{Y: -4.2}), side, text)
}

// limitWord says what holds a contact back at a setting.
func limitWord(limit string) string {
	switch limit {
	case "min", "max":
		return "at its stop"
	case "step":
		return "nearest step"
	}
	return ""
}

// scaleHint says what kind of scale it is.
func scaleHint(s *carry.Solution, set carry.Setting, m Marking) string {
	if set.Adjuster < 0 {
		if m.Unit == "°" {
			return "degrees, with a level"
		}
		return "mm, with a tape"
	}
	a := &s.Target.Adjusters[set.Adjuster]
	switch {
	case a.NoScale && m.Unit == "mm":
		return "mm, no scale: a tape"
	case a.NoScale:
		return "no scale"
	case m.Unit == "mm":
		return "scale in mm"
	case m.Unit == "°":
		return "scale in degrees"
	case set.Turns:
		return fmt.Sprintf("1 mark is %g°", round(plane.Deg(math.Abs(a.Unit))))
	}
	return fmt.Sprintf("1 mark is %g mm", round(math.Abs(a.Unit)))
}

func round(v float64) float64 { return math.Round(v*1e6) / 1e6 }

// niceStep is the least of 1, 2, 5 times a power of ten that is at least v.
func niceStep(v float64) float64 {
	ten := math.Pow(10, math.Floor(math.Log10(v)))
	for _, k := range []float64{1, 2, 5} {
		if k*ten >= v*(1-1e-9) {
			return k * ten
		}
	}
	return 10 * ten
}

// leading is the first digit of a nice step.
func leading(v float64) int {
	return int(math.Round(v / math.Pow(10, math.Floor(math.Log10(v)+1e-9))))
}
