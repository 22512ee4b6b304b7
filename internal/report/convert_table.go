package report

import (
	"encoding/csv"
	"fmt"
	"io"

	"carryover/internal/convert"
)

// WriteTableCSV writes one line per pair.
func WriteTableCSV(out io.Writer, t convert.Table) error {
	w := csv.NewWriter(out)
	rows := [][]string{{"from", "to", "nose_forward", "top_up", "narrow"}}
	for _, r := range t.Rows {
		for j, c := range r.Cells {
			rows = append(rows, []string{r.From, t.To[j], three(c.Nose), three(c.Top), fmt.Sprint(c.Narrow)})
		}
	}
	return w.WriteAll(rows)
}

// ConvertTableText writes the matrix for a person, in blocks that fit 80 columns.
func ConvertTableText(w io.Writer, t convert.Table, bold bool) error {
	p := &page{bold: bold}
	load := "unloaded"
	if t.Loaded {
		load = "loaded"
	}
	p.para("", fmt.Sprintf("From the saddle on the left to the numbered one: how far the nose moves forward and the top (the straightedge) up, mm, so that "+
		"a support %s%smm wide stays where it is (%s, tilt %s°).", num(t.Support, 1), noBreak, load, num(t.Tilt.Degrees(), 1)))
	const first, cell, columns = 18, 10, 6
	narrow := false
	for lo := 0; lo < len(t.To); lo += columns {
		hi := min(lo+columns, len(t.To))
		p.line("")
		for j := lo; j < hi; j++ {
			p.line(fmt.Sprintf("%4d  %s", j+1, name(t.To[j], 40)))
		}
		head := left("", first)
		for j := lo; j < hi; j++ {
			head += right(fmt.Sprint(j+1), cell)
		}
		p.strong(head)
		for _, r := range t.Rows {
			text := name(r.From, first)
			for _, c := range r.Cells[lo:hi] {
				mark := ""
				if c.Narrow {
					mark, narrow = "*", true
				}
				text += right(signed(c.Nose, 0)+"/"+signed(c.Top, 0)+mark, cell)
			}
			p.line(text)
		}
	}
	if narrow {
		p.line("")
		p.para("* ", "one of the two does not reach the support and carries at its widest place, or at its nose")
	}
	_, err := io.WriteString(w, p.b.String())
	return err
}
