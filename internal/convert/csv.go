package convert

import "strconv"

// CSV is a located saddle as rows: one per reference and one along the seat tube, with the other saddle beside it.
func (l *Located) CSV() [][]string {
	d := dialect{decimals: '.'}
	head := []string{"reference", "setback", "setback-sigma", "vertical-height", "vertical-height-sigma", "saddle-height",
		"saddle-height-sigma"}
	if l.Swap != nil {
		head = append(head, "to-setback", "to-vertical-height", "to-saddle-height", "error-forward", "error-up")
	}
	rows := [][]string{head}
	put := func(row []string, values ...float64) {
		for i, v := range values {
			row[i] = d.number(v)
		}
	}
	for _, r := range l.References {
		row := make([]string, len(head))
		row[0] = r.Ref.String()
		put(row[1:], r.Setback, r.SigmaSetback, r.VerticalHeight, r.SigmaVertical, r.SaddleHeight, r.SigmaHeight)
		if l.Swap != nil {
			for _, t := range l.Swap.References {
				if t.Ref == r.Ref {
					put(row[7:], t.Setback, t.VerticalHeight, t.SaddleHeight, t.ErrorForward, t.ErrorUp)
				}
			}
		}
		rows = append(rows, row)
	}
	if tube := l.SeatTube; tube != nil { // one number, straight along the tube
		row := make([]string, len(head))
		row[0] = "seat-tube"
		put(row[5:], tube.Value, tube.Sigma)
		if l.Swap != nil && l.Swap.SeatTube != nil {
			put(row[9:], l.Swap.SeatTube.Value)
		}
		rows = append(rows, row)
	}
	return rows
}

// CSV is a table as rows, one per pair.
func (t Table) CSV() [][]string {
	d := dialect{decimals: '.'}
	rows := [][]string{{"from", "to", "nose-forward", "top-up", "narrow"}}
	for _, r := range t.Rows {
		for j, c := range r.Cells {
			rows = append(rows, []string{r.From, t.To[j], d.number(c.Nose), d.number(c.Top), strconv.FormatBool(c.Narrow)})
		}
	}
	return rows
}
