package measure

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
)

// maxRows is how many lines a file of readings may have: more is no saddle.
const maxRows = 1000

// ReadCSV adds readings from lines reading,station,value: "length,,245", "width,0,41", "dip,40,0", "id,,mine". A first
// line that names the columns, empty lines and those beginning with # are skipped. All bad lines are reported together.
func (r *Readings) ReadCSV(in io.Reader) error {
	var bad []error
	var later [][3]string
	var lines []int
	s := bufio.NewScanner(in)
	for n := 1; s.Scan(); n++ {
		if n > maxRows {
			return fmt.Errorf("more than %d lines: this is no list of readings of a saddle", maxRows)
		}
		text := strings.TrimSpace(strings.TrimPrefix(s.Text(), "\ufeff"))
		if text == "" || text[0] == '#' {
			continue
		}
		cells := strings.SplitN(text, ",", 3)
		for i := range cells {
			cells[i] = strings.Trim(strings.TrimSpace(cells[i]), `"`)
		}
		if len(cells) != 3 {
			bad = append(bad, fmt.Errorf("line %d: wants reading,station,value", n))
			continue
		}
		if len(lines) == 0 && strings.EqualFold(cells[0], "reading") {
			continue
		}
		row := [3]string(cells)
		lines = append(lines, n)
		later = append(later, row)
		if row[0] == "length" { // stations are judged against it, wherever it stands
			if v, err := number(row[2]); err == nil {
				_ = r.Put("length", math.NaN(), v) // reported below
			}
		}
	}
	if err := s.Err(); err != nil {
		return err
	}
	for i, row := range later {
		if err := r.PutText(row[0], row[1], row[2]); err != nil {
			bad = append(bad, fmt.Errorf("line %d: %w", lines[i], err))
		}
	}
	return errors.Join(bad...)
}

// PutText stores one reading, or the id or name, from text; station may be empty.
func (r *Readings) PutText(key, station, value string) error {
	switch key {
	case "id":
		r.ID = value
		return nil
	case "name":
		r.Name = value
		return nil
	}
	at := math.NaN()
	if station != "" {
		var err error
		if at, err = number(station); err != nil {
			return err
		}
	}
	v, err := number(value)
	if err != nil {
		return err
	}
	return r.Put(key, at, v)
}

// Missing lists what a part file still needs, in words.
func (r *Readings) Missing() []string {
	var all []string
	need := func(ok bool, what string) {
		if !ok {
			all = append(all, what)
		}
	}
	ends := func(rows [][2]float64) bool {
		return len(rows) > 1 && rows[0][0] == 0 && rows[len(rows)-1][0] == r.Length
	}
	need(r.ID != "", "an id")
	need(r.Length > 0, "the length")
	need(ends(r.Widths), "widths from the nose, station 0, to the tail, station = length")
	need(ends(r.Dips), "dips from the nose, station 0, to the tail, station = length")
	need(r.Rail.Height > 0, "rail-height")
	need(r.Rail.To > 0, "rail-from and rail-to")
	return all
}
