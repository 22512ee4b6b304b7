package convert

import (
	"bufio"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"iter"
	"math"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"

	"carryover/internal/bike"
	"carryover/internal/diag"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Columns are the columns a batch may have, besides the readings of Words: a name to give back, the saddle,
// the other saddle, and what the flags of the same names say.
var Columns = []string{"id", "saddle", "to", "support", "sit-bones", "margin", "seat-angle", "bb-height"}

// Batch answers one request per line of CSV. Lines end with \n or \r\n, a cell may be quoted but holds no line
// break, so that a bad line never swallows the next; empty lines and those beginning with # are skipped.
type Batch struct {
	Find     func(id string) (Saddle, error) // called from several goroutines
	Defaults Request                         // for what has no column or an empty cell; its Readings are not used
	To       *Saddle                         // used in a row that names none
	Margin   float64                         // added to a row's sit-bones, mm
	Loaded   bool
	Bad      func(line int, err error) // called in order for every row that cannot be answered

	layout []string
	swaps  bool
}

// maxLine is the longest line that is read, bytes; a longer one is a bad row.
const maxLine = 64 << 10

// maxSaddles bounds a cache, so that memory stays constant whatever the rows name.
const maxSaddles = 1024

// A chunk is what one goroutine answers at a time: so many lines or bytes, whichever comes first.
const (
	chunkLines = 256
	chunkBytes = 256 << 10
)

// line is one line of a batch with its number; err says why it could not be read.
type line struct {
	number int
	text   string
	err    error
}

// chunk is lines and, once done is closed, their answer.
type chunk struct {
	lines []line
	out   []byte
	good  int
	bad   []line
	done  chan struct{}
}

// Run reads requests from r and writes one row per good request to w, in order. It returns how many rows were
// good and bad; the error is one of reading, writing or the header, which nothing can follow. The rows are
// answered on all cores; memory does not grow with their number. When ctx ends it returns at once with its error,
// after whole rows; a read of r that is under way is left to end by itself.
func (b *Batch) Run(ctx context.Context, r io.Reader, w io.Writer) (good, bad int, err error) {
	in := &lineReader{in: bufio.NewReaderSize(r, maxLine)}
	head, err := in.next()
	if err == io.EOF {
		return 0, 0, errors.New("no header line: the first line names the columns, like saddle,height,setback,tilt")
	}
	if err != nil {
		return 0, 0, err
	}
	cells, err := splitCells(nil, head.text)
	if err = cmp.Or(head.err, err); err == nil {
		err = b.header(cells)
	}
	if err != nil {
		return 0, 0, fmt.Errorf("line %d, the header: %w", head.number, err)
	}
	if _, err := io.WriteString(w, strings.Join(b.resultColumns(), ",")+"\n"); err != nil {
		return 0, 0, err
	}

	workers := runtime.GOMAXPROCS(0)
	todo, ordered := make(chan *chunk, workers), make(chan *chunk, workers)
	stop := make(chan struct{})
	var readErr error
	var group sync.WaitGroup
	group.Go(func() {
		defer close(todo)
		defer close(ordered)
		readErr = in.chunks(func(c *chunk) bool {
			for _, to := range []chan *chunk{todo, ordered} {
				select {
				case to <- c:
				case <-stop:
					return false
				}
			}
			return true
		})
	})
	for range workers {
		group.Go(func() {
			a := answerer{Batch: b, saddles: make(map[string]Saddle), widths: make(widthCache)}
			for c := range todo {
				a.answerAll(c)
				close(c.done)
			}
		})
	}
	for c := range until(ctx, ordered) {
		good, bad = good+c.good, bad+len(c.bad)
		for _, l := range c.bad {
			b.Bad(l.number, l.err)
		}
		if _, err = w.Write(c.out); err != nil {
			break
		}
	}
	close(stop)
	if ctx.Err() != nil {
		return good, bad, ctx.Err()
	}
	for range ordered { // lets the reader end after a failed write
	}
	group.Wait()
	return good, bad, cmp.Or(err, readErr)
}

// until gives the chunks that are answered, in order, until ctx ends.
func until(ctx context.Context, ordered <-chan *chunk) iter.Seq[*chunk] {
	return func(yield func(*chunk) bool) {
		for ctx.Err() == nil {
			var c *chunk
			var ok bool
			select {
			case <-ctx.Done():
				return
			case c, ok = <-ordered:
			}
			if !ok {
				return
			}
			select {
			case <-ctx.Done():
				return
			case <-c.done:
			}
			if !yield(c) {
				return
			}
		}
	}
}

// lineReader reads lines that hold something.
type lineReader struct {
	in     *bufio.Reader
	number int
}

// next returns the next line that is neither empty nor a remark; io.EOF at the end.
func (l *lineReader) next() (line, error) {
	for {
		text, err := readLine(l.in)
		if err != nil && !errors.Is(err, errLong) {
			return line{}, err
		}
		if l.number++; l.number == 1 {
			text = strings.TrimPrefix(text, "\ufeff")
		}
		if err != nil || strings.TrimSpace(text) != "" && text[0] != '#' {
			return line{l.number, text, err}, nil
		}
	}
}

// chunks gives all lines in chunks until send refuses one.
func (l *lineReader) chunks(send func(*chunk) bool) error {
	for {
		c := &chunk{done: make(chan struct{})}
		var err error
		for size := 0; err == nil && len(c.lines) < chunkLines && size < chunkBytes; {
			var next line
			if next, err = l.next(); err == nil {
				c.lines, size = append(c.lines, next), size+len(next.text)
			}
		}
		if len(c.lines) > 0 && !send(c) || err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
	}
}

// answerer is one goroutine's share of a batch.
type answerer struct {
	*Batch
	saddles map[string]Saddle
	widths  widthCache
}

func (a *answerer) answerAll(c *chunk) {
	c.out = make([]byte, 0, 320*len(c.lines))
	var cells []string
	for _, l := range c.lines {
		err := l.err
		if err == nil {
			cells, err = splitCells(cells[:0], l.text)
		}
		was := len(c.out)
		if err == nil {
			c.out, err = a.answer(c.out, l.number, cells)
		}
		if err != nil {
			c.out = c.out[:was]
			c.bad = append(c.bad, line{number: l.number, err: err})
			continue
		}
		c.good++
	}
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
	if len(cells) == 1 && strings.ContainsAny(cells[0], ";\t") {
		return errors.New("separate the columns with commas, not with semicolons or tabs, and write decimals with a point")
	}
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

func (a *answerer) find(id string) (Saddle, error) {
	if s, ok := a.saddles[id]; ok {
		return s, nil
	}
	s, err := a.Find(id)
	if err != nil {
		return s, err
	}
	if len(a.saddles) >= maxSaddles {
		clear(a.saddles)
	}
	a.saddles[strings.Clone(id)] = s // id is a piece of a whole line
	return s, nil
}

// answer appends the answer to one row.
func (a *answerer) answer(out []byte, line int, cells []string) ([]byte, error) {
	if len(cells) != len(a.layout) {
		return out, fmt.Errorf("%d cells, but the header has %d", len(cells), len(a.layout))
	}
	q, to := a.Defaults, a.To
	q.Readings, q.widths = make([]bike.Reading, 0, 4), a.widths
	id, sitBones, margin := "", 0.0, a.Margin
	for i, cell := range cells {
		column := a.layout[i]
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
			q.Saddle, err = a.find(cell)
		case "to":
			var s Saddle
			s, err = a.find(cell)
			to = &s
		case "support":
			if cell == "sit-bones" {
				q.Support = 0 // the sit width carries
			} else if v, err = number(10, 300); err == nil {
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
	return a.appendAnswer(out, line, id, l, to)
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
	support := saddle.Reference{Kind: -1} // found nowhere
	switch {
	case l.Support > 0:
		support = saddle.Reference{Kind: saddle.ByWidth, MM: width}
	case supported:
		support = saddle.Reference{Kind: saddle.Sit}
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
		if text := FitWarning(l.Saddle.ID, l.Fit()); text != "" {
			warnings = append(warnings, text)
		}
	}
	for _, text := range l.Adjustment.Implausible() {
		warnings = append(warnings, locate.ImplausibleCode+": "+text)
	}
	for _, i := range l.Adjustment.Suspects() {
		warnings = append(warnings, "suspect: the others contradict "+l.Adjustment.Observations[i].Name)
	}
	out = appendCell(append(out, ','), strings.Join(warnings, "; "))
	return append(out, '\n'), nil
}

// appendReferences writes nose, mid, tail, widest and the support; what is not there is left empty.
func appendReferences(out []byte, refs []Reference, support saddle.Reference) []byte {
	for _, ref := range [...]saddle.Reference{{Kind: saddle.Nose}, {Kind: saddle.Mid}, {Kind: saddle.Tail}, {Kind: saddle.Widest}, support} {
		i := slices.IndexFunc(refs, func(r Reference) bool { return r.Ref == ref })
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

// appendNumber writes a comma and a number of at most a few thousand, to three decimals and without a minus before 0.
func appendNumber(out []byte, v float64) []byte {
	out = append(out, ',')
	thousandths := int64(math.Round(v * 1000))
	if thousandths < 0 {
		out, thousandths = append(out, '-'), -thousandths
	}
	out = strconv.AppendInt(out, thousandths/1000, 10)
	rest := thousandths % 1000
	return append(out, '.', byte('0'+rest/100), byte('0'+rest/10%10), byte('0'+rest%10))
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
