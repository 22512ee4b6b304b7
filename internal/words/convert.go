package words

import (
	"fmt"
	"math"

	"carryover/internal/convert"
	"carryover/internal/diag"
	"carryover/internal/locate"
)

// Convert lays out a located saddle, and another in its place.
func (p *Page) Convert(l *convert.Located) {
	p.Line(diag.Shorten(l.ID, 40) + " (" + diag.Shorten(l.Name, 60) + ")")
	p.Line(fmt.Sprintf("tilt %s° ± %s°", Signed(l.Tilt.Degrees(), 1), Num(l.SigmaTilt.Degrees(), 1)))
	p.Danger(Doubts(l.Adjustment)...)
	p.Heading("From the BB, mm")
	align, head := "lrrr", []string{"", "setback", "vertical height", "saddle height"}
	if l.BBHeight != nil {
		align, head = align+"r", append(head, "from the floor")
	}
	rows := [][]string{head}
	for _, r := range l.References {
		row := []string{r.Ref.String(), estimate(r.Setback, r.SigmaSetback), estimate(r.VerticalHeight, r.SigmaVertical),
			estimate(r.SaddleHeight, r.SigmaHeight)}
		if l.BBHeight != nil {
			row = append(row, Num(r.VerticalHeight+*l.BBHeight, 1))
		}
		rows = append(rows, row)
	}
	p.Table(align, rows...)
	p.Para("", "Vertical height is upright, saddle height straight from the BB.")
	if t := l.SeatTube; t != nil {
		p.Para("", fmt.Sprintf("Along the seat tube to the top: %s%smm.", estimate(t.Value, t.Sigma), NoBreak))
	}
	p.checked(l.Adjustment)
	if l.Swap != nil {
		p.swap(l)
	}
	if len(l.Assumptions)+len(l.Warnings) > 0 {
		p.Space()
	}
	for _, a := range l.Assumptions {
		p.Para("assumed: ", diag.Visible(a))
	}
	for _, w := range l.Warnings {
		if w.Code == locate.ImplausibleCode {
			continue // told with the doubts
		}
		p.Danger(Sentence(diag.Visible(w.Text)))
	}
}

// estimate is a number with its ±, in columns that stand below one another.
func estimate(v, sigma float64) string { return Num(v, 1) + " ±" + Right(Num(sigma, 1), 4) }

// checked says of each reading how well the others check it.
func (p *Page) checked(a *locate.Adjustment) {
	p.Heading("Readings")
	rows := [][]string{{"", "read", "fits", "±", "checked by others"}}
	suspect := map[int]bool{}
	for _, i := range a.Suspects() {
		suspect[i] = true
	}
	for i, j := range a.Judged() {
		o := a.Observations[i]
		if o.Origin != locate.FromReading {
			continue
		}
		of := func(v float64) string { return Num(observation(a, i, v).Shown(), 1) }
		by := "no"
		if j.Redundancy > 0.005 {
			by = Num(100*j.Redundancy, 0) + " %"
		}
		if suspect[i] {
			by += ", suspect"
		}
		rows = append(rows, []string{Called(*o.Reading), of(o.Value.Value()), of(j.Fitted), of(o.Sigma), by})
	}
	p.Table("lrrrl", rows...)
}

// swap tells of the other saddle.
func (p *Page) swap(l *convert.Located) {
	s := l.Swap
	p.Heading("On " + diag.Shorten(s.To, 40) + " (" + diag.Shorten(s.Name, 60) + ")")
	load, tilt := "nobody on it", "at the same tilt"
	if s.Loaded {
		load = "with what each saddle gives"
	}
	if s.Tilt != l.Tilt {
		tilt = "at a tilt of " + Signed(s.Tilt.Degrees(), 1) + "°"
	}
	p.Para("", fmt.Sprintf("The support, %s%smm wide, rests where it was (%s), %s.", Num(s.Support, 1), NoBreak, load, tilt))
	rows := [][]string{{"", "setback", "vertical height", "saddle height", "kept, the support lands"}}
	for _, r := range s.References {
		rows = append(rows, []string{r.Ref.String(), Num(r.Setback, 1), Num(r.VerticalHeight, 1), Num(r.SaddleHeight, 1), lands(r.ErrorForward,
			r.ErrorUp)})
	}
	p.Table("lrrrl", rows...)
	if t := s.SeatTube; t != nil {
		p.Para("", fmt.Sprintf("Along the seat tube to the top: %s%smm.", estimate(t.Value, t.Sigma), NoBreak))
	}
	p.Para("", fmt.Sprintf("The references disagree by up to %s%smm about where this saddle goes.", Num(s.Spread, 1), NoBreak))
	if s.Post == nil {
		p.Para("", "With --seat-angle it says how far post and rails move.")
		return
	}
	way := "out of"
	if s.Post.Up < 0 {
		way = "into"
	}
	p.Para("", fmt.Sprintf("The post goes %s%smm %s the seat tube. Its clamp holds the rails %s%smm behind the nose; it held %s at %s%smm.",
		Num(math.Abs(s.Post.Up), 1), NoBreak, way, Num(s.Post.To, 1), NoBreak, diag.Shorten(l.ID, 40), Num(s.Post.From, 1), NoBreak))
}

// lands says how far off something lands.
func lands(forward, up float64) string {
	if Num(forward, 1) == "0.0" && Num(up, 1) == "0.0" {
		return "in place"
	}
	way := func(v float64, more, less string) string {
		if v < 0 {
			more = less
		}
		return Num(math.Abs(v), 1) + " " + more
	}
	return way(forward, "forward", "back") + ", " + way(up, "up", "down")
}

// Saddles lays out a table of swaps in blocks that fit the page.
func (p *Page) Saddles(t convert.Table) {
	load := "nobody on them"
	if t.Loaded {
		load = "with what each saddle gives"
	}
	p.Para("", fmt.Sprintf("From the saddle on the left to the numbered one: how far the nose moves forward and the top (the "+
		"straightedge) up, mm, so that a support %s%smm wide stays where it is (%s, tilt %s°).",
		Num(t.Support, 1), NoBreak, load, Num(t.Tilt.Degrees(), 1)))
	const first, cell = 18, 10
	columns := max(1, (p.Width-first)/cell)
	narrow := false
	for lo := 0; lo < len(t.To); lo += columns {
		hi := min(lo+columns, len(t.To))
		p.Space()
		head := Left("", first)
		for j := lo; j < hi; j++ {
			p.Line(fmt.Sprintf("%4d  %s", j+1, diag.Shorten(t.To[j], 40)))
			head += Right(fmt.Sprint(j+1), cell)
		}
		p.Line(head)
		for _, r := range t.Rows {
			text := Left(diag.Shorten(r.From, first-1), first)
			for _, c := range r.Cells[lo:hi] {
				mark := ""
				if c.Narrow {
					mark, narrow = "*", true
				}
				text += Right(Signed(c.Nose, 0)+"/"+Signed(c.Top, 0)+mark, cell)
			}
			p.Line(text)
		}
	}
	if narrow {
		p.Space()
		p.Para("* ", "One of the two does not reach the support and carries at its widest place, or at its nose.")
	}
}
