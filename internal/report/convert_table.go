package report

import (
	"encoding/csv"
	"fmt"
	"io"

	"carryover/internal/convert"
	"carryover/internal/plane"
)

// ConvertTable is the outcome of `carryover convert --table`, as JSON: rows[i].cells[j] is what going from saddle i to
// saddle j moves, mm.
type ConvertTable struct {
	Schema  int               `json:"schema"`
	Support float64           `json:"support"`
	Tilt    float64           `json:"tilt"`
	Loaded  bool              `json:"loaded"`
	To      []string          `json:"to"`
	Rows    []ConvertTableRow `json:"rows"`
}

// ConvertTableRow is one saddle that is left.
type ConvertTableRow struct {
	From  string             `json:"from"`
	Cells []ConvertTableCell `json:"cells"`
}

// ConvertTableCell is one swap. Narrow: one of the two does not reach the support, so the swap rests on its widest place
// or its nose.
type ConvertTableCell struct {
	NoseForward float64 `json:"nose_forward"`
	TopUp       float64 `json:"top_up"`
	Narrow      bool    `json:"narrow"`
}

// NewConvertTable is a table of swaps; tilt in radians.
func NewConvertTable(from, to []convert.Saddle, support, tilt float64, loaded bool) ConvertTable {
	t := ConvertTable{Schema: 1, Support: support, Tilt: plane.Deg(tilt), Loaded: loaded, To: []string{}, Rows: []ConvertTableRow{}}
	for _, s := range to {
		t.To = append(t.To, s.ID)
	}
	for i, cells := range convert.Table(from, to, support, tilt, loaded) {
		row := ConvertTableRow{From: from[i].ID}
		for _, c := range cells {
			row.Cells = append(row.Cells, ConvertTableCell{c.Nose, c.Top, c.Narrow})
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// WriteCSV writes one line per pair.
func (t ConvertTable) WriteCSV(out io.Writer) error {
	w := csv.NewWriter(out)
	rows := [][]string{{"from", "to", "nose_forward", "top_up", "narrow"}}
	for _, r := range t.Rows {
		for j, c := range r.Cells {
			rows = append(rows, []string{r.From, t.To[j], three(c.NoseForward), three(c.TopUp), fmt.Sprint(c.Narrow)})
		}
	}
	return w.WriteAll(rows)
}

// ConvertTableText writes the matrix for a person, in blocks that fit 80 columns.
func ConvertTableText(w io.Writer, t ConvertTable, bold bool) error {
	p := &page{bold: bold}
	load := "unloaded"
	if t.Loaded {
		load = "loaded"
	}
	p.para("", fmt.Sprintf("From the saddle on the left to the numbered one: how far the nose moves forward and the top (the straightedge) up, mm, so that "+
		"a support %s%smm wide stays where it is (%s, tilt %s°).", num(t.Support, 1), noBreak, load, num(t.Tilt, 1)))
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
				text += right(signed(c.NoseForward, 0)+"/"+signed(c.TopUp, 0)+mark, cell)
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
