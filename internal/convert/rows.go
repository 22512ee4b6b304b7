package convert

import (
	"errors"
	"io"
	"strings"
)

// Rows is a spreadsheet's CSV, read whole: the first row names the columns.
type Rows struct {
	Header []string
	Cells  [][]string
	dialect
}

// ReadRows reads a spreadsheet's CSV as it comes: with commas, semicolons or tabs, decimal commas, a byte order mark.
func ReadRows(r io.Reader) (*Rows, error) {
	d, text, _, err := sniff(r)
	if errors.Is(err, io.EOF) {
		err = errors.New("it has no header row")
	}
	if err != nil {
		return nil, err
	}
	d.settle()
	all, err := d.reader(text).ReadAll() // one row at least: the one that was sniffed at
	if err != nil {
		return nil, err
	}
	return &Rows{Header: all[0], Cells: all[1:], dialect: d}, nil
}

// Number is a number as this spreadsheet writes it.
func (d dialect) Number(text string) string {
	if d.decimals == ',' {
		return strings.Replace(text, ".", ",", 1)
	}
	return text
}

// Write writes rows as this spreadsheet has them.
func (d dialect) Write(w io.Writer, rows [][]string) error {
	if d.comma == 0 {
		d.comma = ','
	}
	out, err := d.writer(w)
	if err != nil {
		return err
	}
	return out.WriteAll(rows)
}
