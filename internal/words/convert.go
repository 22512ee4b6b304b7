package words

import (
	"fmt"
	"slices"
	"strings"

	"carryover/internal/convert"
	"carryover/internal/diag"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Convert lays out a located saddle, and another in its place.
func (p *Page) Convert(l *convert.Located) {
	p.Para("", diag.Shorten(l.ID, 40)+" ("+diag.Shorten(l.Name, 60)+"), tilt "+Sure(plane.Turning(l.Tilt), float64(l.SigmaTilt)))
	p.Danger(Doubts(l.Adjustment)...)
	p.Heading("From the BB, mm")
	align, head := "lrrr", []string{"", "setback", "vertical height", "saddle height"}
	if l.BBHeight != nil {
		align, head = align+"r", append(head, "from the floor")
	}
	rows := [][]string{head}
	for _, r := range l.References {
		row := []string{on(r.Ref), estimate(r.Setback, r.SigmaSetback), estimate(r.VerticalHeight, r.SigmaVertical),
			estimate(r.SaddleHeight, r.SigmaHeight)}
		if l.BBHeight != nil {
			row = append(row, halves(r.VerticalHeight+*l.BBHeight))
		}
		rows = append(rows, row)
	}
	p.Table(align, rows...)
	p.Para("", "Vertical height is upright, saddle height straight from the BB.")
	p.alongTube(l.SeatTube)
	p.checked(l.Adjustment)
	if l.Swap != nil {
		p.swap(l)
	}
	p.Space()
	p.Para("", assumed(l.Assumptions)...)
	for _, w := range l.Warnings {
		if w.Code != locate.ImplausibleCode { // told with the doubts
			p.Danger(Sentence(diag.Visible(w.Text)))
		}
	}
	p.Para("", Meaning)
}

// alongTube tells of the way along the seat tube, where it is known.
func (p *Page) alongTube(t *convert.Estimate) {
	if t != nil {
		p.Para("", "Along the seat tube to the top: "+Sure(plane.Length(t.Value), t.Sigma)+".")
	}
}

// estimate is a number with its ±, in columns that stand below one another.
func estimate(v, sigma float64) string { return halves(v) + " ±" + Right(halves(sigma), 4) }

// halves is a length to half a millimetre, in columns that stand below one another.
func halves(mm float64) string { return Num(steps(mm, byTape), 1) }

// on is a place on the saddle, in a table of places.
func on(r saddle.Reference) string {
	switch r.Kind {
	case saddle.ByWidth:
		return Trimmed(r.MM, 1) + " mm wide"
	case saddle.ByStation:
		return "at " + Trimmed(r.MM, 1) + " mm"
	}
	return r.String()
}

// checked says of each reading how well the others check it.
func (p *Page) checked(a *locate.Adjustment) {
	p.Heading("Readings")
	rows := [][]string{{"", "read", "fits", "±", "checked by the others"}}
	suspects := a.Suspects()
	for i, j := range a.Judged() {
		o := a.Observations[i]
		if o.Origin != locate.FromReading {
			continue
		}
		by := either(j.Redundancy > 0.005, Num(100*j.Redundancy, 0)+" %", "no") + either(slices.Contains(suspects, i), ", does not fit", "")
		rows = append(rows, []string{Called(*o.Reading), Trimmed(o.Value.Shown(), 2), Bare(o.Written(j.Fitted)), Bare(o.Written(o.Sigma)), by})
	}
	p.Table("lrrrl", rows...)
}

// swap tells of the other saddle.
func (p *Page) swap(l *convert.Located) {
	s := l.Swap
	p.Heading("On " + diag.Shorten(s.To, 40) + " (" + diag.Shorten(s.Name, 60) + ")")
	tilt := "at the same tilt"
	if s.Tilt != l.Tilt {
		tilt = "at a tilt of " + Degrees(s.Tilt)
	}
	p.Para("", fmt.Sprintf("You sit where you sat, where the saddle is %s wide (%s), %s.", MM(s.Support), giving(s.Loaded), tilt))
	rows := [][]string{{"", "setback", "vertical height", "saddle height", "kept, you would sit"}}
	for _, r := range s.References {
		lands := Shifted(steps(r.Setback, byTape)-steps(r.From.Setback, byTape), // of the numbers shown
			steps(r.From.VerticalHeight, byTape)-steps(r.VerticalHeight, byTape))
		rows = append(rows, []string{on(r.Ref), halves(r.Setback), halves(r.VerticalHeight), halves(r.SaddleHeight),
			either(len(lands) == 0, "where you sat", strings.Join(lands, ", "))})
	}
	p.Table("lrrrl", rows...)
	p.alongTube(s.SeatTube)
	p.Para("", fmt.Sprintf("Keeping one place rather than another moves you by up to %s.", MM(s.Spread)))
	if s.Post == nil {
		p.Para("", "With --seat-angle it says how far post and rails move.")
		return
	}
	post := "The post stays."
	if up := plane.Length(s.Post.Up); !None(up) {
		post = fmt.Sprintf("The post goes %s %s the seat tube.", Size(up), either(s.Post.Up < 0, "into", "out of"))
	}
	p.Para("", fmt.Sprintf("%s Its clamp holds the rails %s behind the nose; it held %s at %s.", post, MM(s.Post.To), diag.Shorten(l.ID, 40),
		MM(s.Post.From)))
}

// giving is what saddles do under the rider.
func giving(loaded bool) string {
	return either(loaded, "with what each saddle gives under you", "with nobody on it")
}

// Saddles lays out a table of swaps in blocks that fit the page.
func (p *Page) Saddles(t convert.Table) {
	p.Para("", fmt.Sprintf("From the saddle on the left to the numbered one: how far the nose moves forward / the top up, mm, so that "+
		"you sit where you sat, where the saddles are %s wide (%s, tilt %s).", MM(t.Support), giving(t.Loaded), Degrees(t.Tilt)))
	const first, cell = 20, 10
	columns := max(1, (p.Width-first)/cell)
	narrow := false
	for lo := 0; lo < len(t.To); lo += columns {
		hi := min(lo+columns, len(t.To))
		p.Space()
		head := []string{""}
		for j := lo; j < hi; j++ {
			p.Line(fmt.Sprintf("%4d  %s", j+1, diag.Shorten(t.To[j], 40)))
			head = append(head, fmt.Sprint(j+1))
		}
		rows := [][]string{head}
		for _, r := range t.Rows {
			row := []string{diag.Shorten(r.From, first-2)}
			for _, c := range r.Cells[lo:hi] {
				narrow = narrow || c.Narrow
				row = append(row, Signed(c.Nose, 0)+"/"+Signed(c.Top, 0)+either(c.Narrow, "*", ""))
			}
			rows = append(rows, row)
		}
		p.Table("l"+strings.Repeat("r", hi-lo), rows...)
	}
	if narrow {
		p.Space()
		p.Para("* ", "One of the two is nowhere so wide: you would sit where it is widest, or at its nose.")
	}
}
