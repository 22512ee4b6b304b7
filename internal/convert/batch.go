package convert

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/diag"
	"carryover/internal/plane"
)

// Columns are the columns a batch may have, besides the readings of Words: a name to give back, the saddle,
// the other saddle, and what the flags of the same names say.
var Columns = []string{"id", "saddle", "to", "support", "sit-bones", "margin", "seat-angle", "bb-height"}

// Batch answers one request per line of CSV. Lines end with \n or \r\n, a cell may be quoted but holds no line
// break, so that a bad line never swallows the next; empty lines and those beginning with # are skipped.
type Batch struct {
	Find     func(id string) (Saddle, error)
	Defaults Request // for what has no column or an empty cell; its Readings are not used
	To       *Saddle // used in a row that names none
	Margin   float64 // added to a row's sit-bones, mm
	Loaded   bool
	Bad      func(line int, err error) // called for every row that cannot be answered

	saddles map[string]Saddle
	layout  []string
	swaps   bool
}

// maxLine is the longest line that is read, bytes; a longer one is a bad row.
const maxLine = 64 << 10

// maxSaddles bounds the cache, so that memory stays constant whatever the rows name.
const maxSaddles = 1024

// Run reads requests from r and writes one row per good request to w, in order. It returns how many rows were
// good and bad; the error is one of reading, writing or the header, which nothing can follow. Memory does not
// grow with the number of rows.
func (b *Batch) Run(r io.Reader, w io.Writer) (good, bad int, err error) {
	in := bufio.NewReaderSize(r, maxLine)
	out := bufio.NewWriterSize(w, maxLine)
	b.saddles = make(map[string]Saddle)
	var cells []string
	var row []byte
	for line := 1; ; line++ {
		text, err := readLine(in)
		if err == io.EOF {
			break
		}
		if err != nil && !errors.Is(err, errLong) {
			return good, bad, errors.Join(err, out.Flush())
		}
		if line == 1 {
			text = strings.TrimPrefix(text, "\ufeff")
		}
		if err == nil && (strings.TrimSpace(text) == "" || text[0] == '#') {
			continue
		}
		if err == nil {
			cells, err = splitCells(cells[:0], text)
		}
		if b.layout == nil {
			if err == nil {
				err = b.header(cells)
			}
			if err != nil {
				return 0, 0, fmt.Errorf("line %d, the header: %w", line, err)
			}
			if _, err := out.WriteString(strings.Join(b.resultColumns(), ",") + "\n"); err != nil {
				return good, bad, err
			}
			continue
		}
		if err == nil {
			row, err = b.answer(row[:0], line, cells)
		}
		if err != nil {
			bad++
			b.Bad(line, err)
			continue
		}
		good++
		if _, err := out.Write(row); err != nil {
			return good, bad, err
		}
	}
	if b.layout == nil {
		return 0, 0, errors.New("no header line: the first line names the columns, like saddle,height,setback,tilt")
	}
	return good, bad, out.Flush()
}

var errLong = fmt.Errorf("the line is longer than %d bytes", maxLine)

// readLine reads a line without its end; errLong when it was too long and has been skipped.
func readLine(in *bufio.Reader) (string, error) {
	part, err := in.ReadSlice('\n')
	if err == bufio.ErrBufferFull {
		for err == bufio.ErrBufferFull {
			_, err = in.ReadSlice('\n')
		}
		if err != nil && err != io.EOF {
			return "", err
		}
		return "", errLong
	}
	if err != nil && (err != io.EOF || len(part) == 0) {
		return "", err
	}
	return strings.TrimRight(string(part), "\r\n"), nil
}

// splitCells splits a line of CSV (RFC 4180, without line breaks in cells).
func splitCells(cells []string, line string) ([]string, error) {
	for {
		rest, quoted := strings.CutPrefix(line, `"`)
		if !quoted {
			cell, after, more := strings.Cut(line, ",")
			cells = append(cells, strings.TrimSpace(cell))
			if !more {
				return cells, nil
			}
			line = after
			continue
		}
		var cell strings.Builder
		for {
			part, after, closed := strings.Cut(rest, `"`)
			cell.WriteString(part)
			if !closed {
				return cells, errors.New("a quoted cell is not closed on its line")
			}
			if rest, quoted = strings.CutPrefix(after, `"`); !quoted {
				rest = after
				break
			}
			cell.WriteByte('"')
		}
		cells = append(cells, cell.String())
		if rest == "" {
			return cells, nil
		}
		after, ok := strings.CutPrefix(rest, ",")
		if !ok {
			return cells, errors.New("a comma must follow a closed quote")
		}
		line = after
	}
}

// header settles what each column holds.
func (b *Batch) header(cells []string) error {
	b.swaps = b.To != nil
	reads := false
	for _, name := range cells {
		word := ShortWord(strings.ToLower(strings.TrimSpace(name)))
		switch {
		case slices.Contains(Words, word):
			reads = true
		case !slices.Contains(Columns, word):
			known := slices.Concat(Columns, Words)
			if near, ok := diag.Suggest(word, known); ok {
				return fmt.Errorf("no column is called %q, did you mean %q?", name, near)
			}
			return fmt.Errorf("no column is called %q; there are %s", name, strings.Join(known, ", "))
		case slices.Contains(b.layout, word):
			return fmt.Errorf("column %q is there twice; only readings may repeat", word)
		}
		b.swaps = b.swaps || word == "to"
		b.layout = append(b.layout, word)
	}
	if !reads {
		return fmt.Errorf("no column holds a reading; there are %s", strings.Join(Words, ", "))
	}
	if b.Defaults.Saddle.Shape == nil && !slices.Contains(b.layout, "saddle") {
		return errors.New("no column is called saddle, and no saddle was given")
	}
	return nil
}

var batchReferences = []string{"nose", "mid", "tail", "widest", "support"}

// resultColumns are the columns of the answer.
func (b *Batch) resultColumns() []string {
	names := []string{"line", "id", "saddle", "tilt", "tilt_sigma", "setback_sigma", "height_sigma"}
	add := func(prefix string) {
		for _, ref := range batchReferences {
			names = append(names, prefix+ref+"_setback", prefix+ref+"_height", prefix+ref+"_line")
		}
	}
	add("")
	if b.swaps {
		names = append(names, "to")
		add("to_")
		names = append(names, "spread")
	}
	return append(names, "warning")
}

func (b *Batch) find(id string) (Saddle, error) {
	if s, ok := b.saddles[id]; ok {
		return s, nil
	}
	s, err := b.Find(strings.Clone(id))
	if err != nil {
		return s, err
	}
	if len(b.saddles) >= maxSaddles {
		clear(b.saddles)
	}
	b.saddles[strings.Clone(id)] = s
	return s, nil
}

// answer appends the answer to one row.
func (b *Batch) answer(out []byte, line int, cells []string) ([]byte, error) {
	if len(cells) != len(b.layout) {
		return out, fmt.Errorf("%d cells, but the header has %d", len(cells), len(b.layout))
	}
	q, to := b.Defaults, b.To
	q.Readings = nil
	id, sitBones, margin := "", 0.0, b.Margin
	for i, cell := range cells {
		column := b.layout[i]
		if cell == "" {
			continue
		}
		number := func(lo, hi float64) (float64, error) {
			v, err := parseNumber(cell)
			if err == nil && (v < lo || v > hi) {
				err = fmt.Errorf("%g is not plausible, expected %g to %g", v, lo, hi)
			}
			if err != nil {
				err = fmt.Errorf("%s: %w", column, err)
			}
			return v, err
		}
		var err error
		var v float64
		switch column {
		case "id":
			id = cell
		case "saddle":
			q.Saddle, err = b.find(cell)
		case "to":
			var s Saddle
			s, err = b.find(cell)
			to = &s
		case "support":
			if v, err = number(10, 300); err == nil {
				q.Support = v
			}
		case "sit-bones":
			sitBones, err = number(50, 200)
		case "margin":
			margin, err = number(0, 80)
		case "seat-angle":
			if v, err = number(45, 90); err == nil {
				v = plane.Rad(v)
				q.SeatAngle = &v
			}
		case "bb-height":
			if v, err = number(100, 600); err == nil {
				q.BBHeight = &v
			}
		default:
			var r bike.Reading
			if r, err = ParseReading(column, cell); err == nil {
				q.Readings = append(q.Readings, r)
			}
		}
		if err != nil {
			return out, err
		}
	}
	if sitBones > 0 {
		q.SitWidth = sitBones + margin
	}
	if q.Saddle.Shape == nil {
		return out, errors.New("no saddle is named")
	}
	l, err := Locate(q)
	if err != nil {
		return out, err
	}
	return b.appendAnswer(out, line, id, l, to)
}

// appendAnswer writes what resultColumns names.
func (b *Batch) appendAnswer(out []byte, line int, id string, l *Located, to *Saddle) ([]byte, error) {
	out = strconv.AppendInt(out, int64(line), 10)
	out = appendCell(append(out, ','), id)
	out = appendCell(append(out, ','), l.Saddle.ID)
	out = appendNumber(out, plane.Deg(l.Tilt()))
	out = appendNumber(out, plane.Deg(l.SigmaTilt()))
	refs := l.References()
	out = appendNumber(out, refs[0].SigmaX)
	out = appendNumber(out, refs[0].SigmaY)
	width, supported := l.supportWidth()
	support := ""
	if supported {
		support = "sit"
		if l.Support > 0 {
			support = refName(width)
		}
	}
	out = appendReferences(out, refs, support)
	var warnings []string
	switch {
	case to != nil:
		s, err := l.Swap(*to, b.Loaded)
		if err != nil {
			return out, err
		}
		out = appendCell(append(out, ','), to.ID)
		others := make([]Reference, 0, len(s.References))
		for _, r := range s.References {
			others = append(others, r.To)
		}
		out = appendReferences(out, others, support)
		out = appendNumber(out, s.Spread)
		warnings = s.Warnings(l.Saddle)
	case b.swaps:
		for range 2 + 3*len(batchReferences) {
			out = append(out, ',')
		}
	}
	if supported && to == nil {
		_, fit := l.Saddle.Shape.WidthStation(width)
		if text := FitWarning(l.Saddle.ID, fit); text != "" {
			warnings = append(warnings, text)
		}
	}
	for _, i := range l.Adjustment.Suspects() {
		warnings = append(warnings, "suspect: the others contradict "+l.Adjustment.Observations[i].Name)
	}
	out = appendCell(append(out, ','), strings.Join(warnings, "; "))
	return append(out, '\n'), nil
}

func appendReferences(out []byte, refs []Reference, support string) []byte {
	for _, name := range batchReferences {
		if name == "support" {
			name = support
		}
		i := slices.IndexFunc(refs, func(r Reference) bool { return r.Name == name })
		if i < 0 {
			out = append(out, ",,,"...)
			continue
		}
		out = appendNumber(out, refs[i].Setback())
		out = appendNumber(out, refs[i].At.Y)
		out = appendNumber(out, refs[i].Line)
	}
	return out
}

func appendNumber(out []byte, v float64) []byte {
	return strconv.AppendFloat(append(out, ','), v, 'f', 3, 64)
}

// appendCell quotes a cell where it must be. A cell that a spreadsheet would run as a formula gets an apostrophe.
func appendCell(out []byte, cell string) []byte {
	if cell != "" && strings.IndexByte("=+-@", cell[0]) >= 0 {
		cell = "'" + cell
	}
	if !strings.ContainsAny(cell, ",\"\r\n") {
		return append(out, cell...)
	}
	out = append(out, '"')
	out = append(out, strings.ReplaceAll(cell, `"`, `""`)...)
	return append(out, '"')
}
