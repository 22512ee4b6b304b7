package convert

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"iter"
	"runtime"
	"strconv"
	"strings"
	"sync"

	"carryover/internal/bike"
	"carryover/internal/saddle"
)

// Batch answers one request per row of a spreadsheet's CSV, in the same dialect: every row of the file has one row of the
// answer, in its place. A row that cannot be answered holds the reason; an empty one and one that is a remark, beginning with
// # and empty otherwise, stay as they are. Columns that are not known here are given back untouched.
type Batch struct {
	Find     func(id string) (Saddle, error) // called from several goroutines
	Defaults Request                         // for what has no column or an empty cell; its Readings are not used
	To       *Saddle                         // used in a row that names none
	Margin   float64                         // added to a row's sit-bones, mm
	Loaded   bool
	SeatTube bool                      // answer along the seat tube whether or not a row says its angle
	Why      func(error) string        // what is said in a line of a row that cannot be answered
	Bad      func(row int, why string) // called in order for every such row
	Note     func(text string)         // told how the header is understood; nil: nobody

	dialect  dialect
	columns  []column
	swaps    bool
	seatTube bool
	extra    []saddle.Reference // asked for besides those that every answer has
}

// maxSaddles bounds a cache, so that it stays small whatever the rows name.
const maxSaddles = 1024

// chunkRows is how many rows one goroutine answers at a time.
const chunkRows = 256

// row is one row of a batch with its number in the spreadsheet; err says why it could not be read or answered.
type row struct {
	number int
	cells  []string
	twin   int // an earlier row with the same id
	err    error
}

// chunk is rows and, once done is closed, their answers.
type chunk struct {
	rows []row
	out  [][]string
	good int
	done chan struct{}
}

// Run reads requests from r and writes the answers to w, in order. It returns how many rows were good and bad; the error is
// one of reading, writing or the header, which nothing can follow. The rows are answered on all cores; besides the ids, which
// are kept to find twins, memory does not grow with their number. When ctx ends it returns at once with its error, after whole
// rows; a read of r that is under way is left to end by itself.
func (b *Batch) Run(ctx context.Context, r io.Reader, w io.Writer) (good, bad int, err error) {
	d, text, before, err := sniff(r)
	if err == io.EOF {
		return 0, 0, errors.New("no header line: the first row names the columns, like saddle,saddle-height,setback,tilt")
	}
	if err != nil {
		return 0, 0, err
	}
	b.dialect = d
	in := &rowReader{in: d.reader(text), number: before}
	head := in.next()
	if head.err == nil {
		head.err = b.header(head.cells)
	}
	if head.err != nil {
		return 0, 0, fmt.Errorf("row %d, the header: %w", head.number, head.err)
	}
	in.id = -1
	for i, c := range b.columns {
		if c.kind == idColumn {
			in.id, in.ids = i, map[string]int{}
		}
	}
	out, err := d.writer(w)
	if err != nil {
		return 0, 0, err
	}
	names := []string{"row"}
	for _, c := range b.columns {
		if c.kept() {
			names = append(names, c.header)
		}
	}
	names = append(append(names, b.line(nil)...), "problem")
	if err := out.WriteAll([][]string{names}); err != nil {
		return 0, 0, err
	}
	answerers := sync.Pool{New: func() any { return &answerer{Batch: b, saddles: map[string]Saddle{}, cells: len(names)} }}
	ordered, stop := make(chan *chunk, 2*runtime.GOMAXPROCS(0)), make(chan struct{})
	var readErr error
	var group sync.WaitGroup
	group.Go(func() {
		defer close(ordered)
		readErr = in.chunks(func(c *chunk) bool {
			b.learn(c)
			select {
			case ordered <- c:
			case <-stop:
				return false
			}
			group.Go(func() {
				a := answerers.Get().(*answerer)
				a.answerAll(c)
				answerers.Put(a)
				close(c.done)
			})
			return true
		})
	})
	for c := range until(ctx, ordered) {
		good += c.good
		for _, r := range c.rows {
			if r.err != nil {
				bad++
				b.Bad(r.number, b.Why(r.err))
			}
		}
		if err = out.WriteAll(c.out); err != nil { // flushes
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
	return good, bad, errors.Join(err, readErr)
}

// learn looks for the decimal sign in the first chunk; the workers get it with the chunk.
func (b *Batch) learn(c *chunk) {
	if b.dialect.decimals != 0 {
		return
	}
	for _, r := range c.rows {
		for i, cell := range r.cells {
			if i < len(b.columns) && b.columns[i].kind == reading {
				b.dialect.learn(cell)
			}
		}
	}
	b.dialect.settle()
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

// rowReader reads the rows of a spreadsheet, those that the file leaves out or spoils among them.
type rowReader struct {
	in      *csv.Reader
	number  int
	line    int   // of the file, at which the next row is expected
	waiting []row // read already
	id      int   // column of the ids; -1: none
	ids     map[string]int
	err     error // of the file
}

// next returns the next row; its err is io.EOF at the end, or what is wrong with the row.
func (l *rowReader) next() row {
	if len(l.waiting) == 0 {
		l.read()
	}
	r := l.waiting[0]
	if l.waiting = l.waiting[1:]; r.err != io.EOF {
		l.number++
		r.number = l.number
	}
	return r
}

// read appends what one record of the file comes to: empty lines ahead of it are rows, and so are all lines of a record whose
// quotes are wrong.
func (l *rowReader) read() {
	cells, err := l.in.Read()
	var wrong *csv.ParseError
	switch {
	case errors.As(err, &wrong):
		l.skipped(wrong.StartLine)
		l.waiting = append(l.waiting, row{err: wrong.Err})
		for range wrong.Line - wrong.StartLine {
			l.waiting = append(l.waiting, row{err: errors.New("a quoted cell that is opened further up is not closed")})
		}
		l.line = wrong.Line + 1
	case err != nil:
		if err != io.EOF {
			l.err = err
		}
		l.waiting = append(l.waiting, row{err: io.EOF})
	default:
		line, _ := l.in.FieldPos(0)
		l.skipped(line)
		l.waiting = append(l.waiting, row{cells: cells})
		for l.line = line + 1; len(cells) > 0; cells = cells[1:] {
			l.line += strings.Count(cells[0], "\n")
		}
	}
}

// skipped adds a row for every empty line ahead of one.
func (l *rowReader) skipped(line int) {
	for ; l.line > 0 && l.line < line; l.line++ {
		l.waiting = append(l.waiting, row{})
	}
}

// chunks gives all rows in chunks until send refuses one.
func (l *rowReader) chunks(send func(*chunk) bool) error {
	for end := false; !end; {
		c := &chunk{done: make(chan struct{}), rows: make([]row, 0, chunkRows)}
		for len(c.rows) < chunkRows {
			r := l.next()
			if end = r.err == io.EOF; end {
				break
			}
			if l.id >= 0 && l.id < len(r.cells) && strings.TrimSpace(r.cells[l.id]) != "" {
				id := strings.TrimSpace(r.cells[l.id])
				if r.twin = l.ids[id]; r.twin == 0 {
					l.ids[id] = r.number
				}
			}
			c.rows = append(c.rows, r)
		}
		if len(c.rows) > 0 && !send(c) {
			break
		}
	}
	return l.err
}

// answerer is what one goroutine at a time answers with.
type answerer struct {
	*Batch
	saddles map[string]Saddle
	cells   int // of a row of the answer
}

func (a *answerer) answerAll(c *chunk) {
	for i := range c.rows {
		r := &c.rows[i]
		out := make([]string, 1, a.cells)
		out[0] = strconv.Itoa(r.number)
		for k, col := range a.columns {
			switch {
			case !col.kept():
			case k < len(r.cells):
				out = append(out, r.cells[k])
			default:
				out = append(out, "")
			}
		}
		if r.err == nil && !r.silent() {
			var l *Located
			if l, r.err = a.answer(*r); r.err == nil {
				out = append(out, a.line(l)...)
				c.good++
			}
		}
		out = out[:a.cells]
		if r.err != nil {
			out[a.cells-1] = a.Why(r.err)
		}
		c.out = append(c.out, out)
	}
}

// silent reports whether a row asks nothing: it is empty, or a remark.
func (r row) silent() bool {
	for i, cell := range r.cells {
		if cell = strings.TrimSpace(cell); cell != "" && (i > 0 || cell[0] != '#') {
			return false
		}
	}
	return true
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
	a.saddles[strings.Clone(id)] = s // id is a piece of a whole row
	return s, nil
}

// ask reads what a row asks for.
func (a *answerer) ask(cells []string) (q Question, err error) {
	q = Question{Request: a.Defaults, To: a.To, Margin: a.Margin}
	q.Readings = make([]bike.Reading, 0, 4)
	for _, cell := range cells[min(len(cells), len(a.columns)):] {
		if strings.TrimSpace(cell) != "" {
			return q, fmt.Errorf("%d cells, but the header has %d", len(cells), len(a.columns))
		}
	}
	for i, c := range a.columns[:min(len(cells), len(a.columns))] {
		if cell := strings.TrimSpace(cells[i]); cell != "" {
			if err := a.put(&q, c, cell); err != nil {
				return q, err
			}
		}
	}
	q.Settle()
	if q.Saddle.Shape == nil {
		return q, errors.New("no saddle is named")
	}
	return q, nil
}

// put adds a cell to what is asked.
func (a *answerer) put(q *Question, c column, cell string) (err error) {
	switch c.kind {
	case saddleColumn:
		q.Saddle, err = a.find(cell)
		return err
	case toColumn:
		to, err := a.find(cell)
		q.To = &to
		return err
	case reading:
		r, err := ParseReading(c.name, c.measured(a.dialect.pointed(cell)))
		q.Readings = append(q.Readings, r)
		return err
	case supportColumn, numberColumn:
		return c.set(q, c.measured(a.dialect.pointed(cell)))
	}
	return nil
}

// answer answers a row.
func (a *answerer) answer(r row) (*Located, error) {
	q, err := a.ask(r.cells)
	if err != nil {
		return nil, err
	}
	l, err := Locate(q.Request)
	if err != nil {
		return nil, err
	}
	if q.To != nil {
		if _, err := l.Put(*q.To, a.Loaded); err != nil {
			return nil, err
		}
	}
	if r.twin > 0 {
		l.Assumptions = append(l.Assumptions, fmt.Sprintf("row %d has the same id", r.twin))
	}
	return l, nil
}
