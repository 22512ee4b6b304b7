package convert

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"runtime"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func newBatch(t testing.TB, bad func(int, error)) *Batch {
	return batchOver(catalogSaddles(t), bad)
}

func batchOver(saddles []Saddle, bad func(int, error)) *Batch {
	all := map[string]Saddle{}
	for _, s := range saddles {
		all[s.ID] = s
	}
	return &Batch{Margin: 20, Loaded: true, Bad: bad, Find: func(id string) (Saddle, error) {
		if s, ok := all[id]; ok {
			return s, nil
		}
		return Saddle{}, fmt.Errorf("no saddle %q", id)
	}}
}

func run(t testing.TB, b *Batch, text string) (rows []map[string]string, good, bad int) {
	t.Helper()
	var out bytes.Buffer
	good, bad, err := b.Run(context.Background(), strings.NewReader(text), &out)
	require.NoError(t, err)
	records, err := csv.NewReader(&out).ReadAll()
	require.NoError(t, err)
	for _, r := range records[1:] {
		row := map[string]string{}
		for i, name := range records[0] {
			row[name] = r[i]
		}
		rows = append(rows, row)
	}
	return rows, good, bad
}

func TestBatchAnswersAsOneRequestDoes(t *testing.T) {
	rows, good, bad := run(t, newBatch(t, nil), "\ufeffid,saddle,saddle-height,setback,tilt,to,sit-bones\r\n"+
		"\"Lane 1, red\",classic-280,742@mid,55,-1,short-245,102\r\n"+
		"# a remark\r\n\r\n"+
		"=2+2,short-245,730@tail,40,,,\r\n")
	require.Equal(t, [2]int{2, 0}, [2]int{good, bad})
	l, err := Locate(Request{Saddle: find(t, "classic-280"), SitWidth: 122, Readings: readings(t, "height", "742", "setback", "55", "tilt", "-1")})
	require.NoError(t, err)
	s, err := l.Swap(find(t, "short-245"), true)
	require.NoError(t, err)
	check := func(column string, want float64) {
		got, err := strconv.ParseFloat(rows[0][column], 64)
		require.NoError(t, err, column)
		assert.InDelta(t, want, got, 5e-4, column)
	}
	assert.Equal(t, "Lane 1, red", rows[0]["id"])
	assert.Equal(t, "2", rows[0]["line"])
	for _, r := range s.References {
		name := r.From.Ref.String()
		if name == "sit" {
			name = "support"
		}
		check(name+"_setback", r.From.Setback())
		check(name+"_line", r.From.Line)
		check("to_"+name+"_setback", r.To.Setback())
		check("to_"+name+"_height", r.To.At.Y)
	}
	check("spread", s.Spread)
	assert.Equal(t, "'=2+2", rows[1]["id"], "no spreadsheet runs it")
	assert.Equal(t, "5", rows[1]["line"])
	assert.Empty(t, rows[1]["to"])
}

func TestBatchGoesOnAfterABadRow(t *testing.T) {
	var lines []int
	var texts []string
	b := newBatch(t, func(line int, err error) { lines, texts = append(lines, line), append(texts, err.Error()) })
	good, bad, err := b.Run(context.Background(), strings.NewReader("saddle,height,height,setback,tilt\n"+
		"classic-280,742,,55,0\n"+ // good
		"classic-279,742,,55,0\n"+
		"classic-280,742,55,0\n"+
		"classic-280,74.2,,55,0\n"+
		"\"classic-280,742,,55,0\n"+
		"classic-280,"+strings.Repeat("7", 2*maxLine)+",,55,0\n"+
		"classic-280,,,55,0\n"+
		"classic-280,742,741@mid,55,0"), io.Discard)
	require.NoError(t, err)
	assert.Equal(t, 2, good)
	assert.Equal(t, 6, bad)
	assert.Equal(t, []int{3, 4, 5, 6, 7, 8}, lines)
	for i, want := range []string{"no saddle", "4 cells", "if it was cm", "not closed", "longer than", "saddle.y"} {
		assert.Contains(t, texts[i], want)
	}
}

func TestBatchHeader(t *testing.T) {
	for text, want := range map[string]string{
		"":                     "no header",
		"\n# nothing\n":        "no header",
		"saddle,hieght\n":      `did you mean "height"`,
		"saddle,id\n":          "no column holds a reading",
		"height,setback\n":     "called saddle",
		"saddle,saddle,tilt\n": "twice",
	} {
		_, _, err := newBatch(t, nil).Run(context.Background(), strings.NewReader(text), io.Discard)
		assert.ErrorContains(t, err, want, "%q", text)
	}
}

// A cell overrules what was given for all rows.
func TestDefaultsOfABatch(t *testing.T) {
	b := newBatch(t, nil)
	b.Defaults = Request{Saddle: find(t, "classic-280"), Support: 150}
	short := find(t, "short-245")
	b.To = &short
	rows, good, _ := run(t, b, "height,setback,saddle,support,sit-bones\n742,55,,,\n742,55,classic-280,150,102\n742,55,,sit-bones,102\n742,55,,122,\n742,55,short-245,122,\n")
	require.Equal(t, 5, good)
	assert.Equal(t, rows[0]["to_nose_setback"], rows[1]["to_nose_setback"])
	assert.Equal(t, rows[2]["to_nose_setback"], rows[3]["to_nose_setback"])
	assert.NotEqual(t, rows[0]["to_nose_setback"], rows[2]["to_nose_setback"])
	assert.Contains(t, rows[0]["warning"], "saddle-narrow")
	assert.Equal(t, rows[4]["nose_setback"], rows[4]["to_nose_setback"], "the same saddle")
}

func TestNumbersInABatch(t *testing.T) {
	for v, want := range map[float64]string{0: ",0.000", -0.0004: ",0.000", 1.0625: ",1.063", -12.3456: ",-12.346", 999.9999: ",1000.000", 742: ",742.000", 0.02: ",0.020"} {
		assert.Equal(t, want, string(appendNumber(nil, v)))
	}
}

type failing struct{}

func (failing) Write([]byte) (int, error) { return 0, errors.New("disk full") }

func TestBatchReportsAFailedWrite(t *testing.T) {
	_, _, err := newBatch(t, nil).Run(context.Background(), strings.NewReader("saddle,height,setback\nclassic-280,742,50\n"), failing{})
	assert.ErrorContains(t, err, "disk full")
}

// endless gives the same rows again and again and looks at the heap as it goes.
type endless struct {
	rows  int
	text  []byte
	rest  []byte
	heaps []uint64
}

func (e *endless) Read(p []byte) (int, error) {
	if len(e.rest) == 0 {
		if e.rows == 0 {
			return 0, io.EOF
		}
		if e.rows--; e.rows%10000 == 0 {
			runtime.GC()
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			e.heaps = append(e.heaps, m.HeapAlloc)
		}
		e.rest = e.text
	}
	n := copy(p, e.rest)
	e.rest = e.rest[n:]
	return n, nil
}

func TestBatchKeepsItsMemory(t *testing.T) {
	e := &endless{rows: 40000, text: []byte("classic-280,742,55,-1\n")}
	in := io.MultiReader(strings.NewReader("saddle,height,setback,tilt\n"), e)
	good, bad, err := newBatch(t, nil).Run(context.Background(), in, io.Discard)
	require.NoError(t, err)
	assert.Equal(t, [2]int{40000, 0}, [2]int{good, bad})
	require.Len(t, e.heaps, 4)
	assert.InDelta(t, float64(e.heaps[0]), float64(e.heaps[3]), 4<<20, "heap after 10,000 and after 40,000 rows, whose answers are 9 MB")
}

func FuzzBatch(f *testing.F) {
	f.Add("saddle,height,setback,to,sit-bones\nclassic-280,742,55,short-245,118\n")
	f.Add("saddle,height\n\"classic-280\",\"7\"\"4\"\n,,\n")
	f.Add("saddle,floor-height,setback,bb-height,seat-angle,seat-tube\nclassic-280,1000,0,270,73,\n")
	saddles := []Saddle{find(f, "classic-280"), find(f, "short-245")}
	f.Fuzz(func(t *testing.T, text string) {
		rows := 0
		b := batchOver(saddles, func(int, error) { rows++ })
		var out bytes.Buffer
		good, bad, err := b.Run(context.Background(), strings.NewReader(text), &out)
		if err != nil {
			return
		}
		require.Equal(t, rows, bad)
		records, err := csv.NewReader(&out).ReadAll()
		require.NoError(t, err)
		require.Len(t, records, good+1)
		require.NotContains(t, out.String(), "NaN")
	})
}

// BenchmarkBatch100000 answers 100,000 rows, each swapped to another saddle.
func BenchmarkBatch100000(b *testing.B) {
	var text bytes.Buffer
	text.WriteString("id,saddle,height,setback,tilt,to,sit-bones\n")
	ids := catalogSaddles(b)
	for i := range 100000 {
		fmt.Fprintf(&text, "rider-%d,%s,%d@mid,%d,%.1f,%s,102\n", i, ids[i%len(ids)].ID, 700+i%80, i%70, float64(i%5)-2, ids[i/7%len(ids)].ID)
	}
	b.ReportAllocs()
	for b.Loop() {
		good, bad, err := newBatch(b, nil).Run(context.Background(), bytes.NewReader(text.Bytes()), io.Discard)
		if err != nil || good != 100000 || bad != 0 {
			b.Fatal(good, bad, err)
		}
	}
}

// unending is rows without an end, after which ctx ends.
type unending struct {
	rows int
	end  func()
}

func (e *unending) Read(p []byte) (int, error) {
	if e.rows == 0 {
		return copy(p, "saddle,height,setback\n"), e.next()
	}
	n := 0
	for row := "classic-280,742,50\n"; n+len(row) <= len(p); _ = e.next() {
		n += copy(p[n:], row)
	}
	return n, nil
}

func (e *unending) next() error {
	if e.rows++; e.rows == 2000 {
		e.end()
	}
	return nil
}

func TestABatchEndsWhenItIsInterrupted(t *testing.T) {
	ctx, end := context.WithCancel(context.Background())
	var out strings.Builder
	good, bad, err := newBatch(t, nil).Run(ctx, &unending{end: end}, &out)
	require.ErrorIs(t, err, context.Canceled)
	assert.Zero(t, bad)
	assert.Equal(t, good+1, strings.Count(out.String(), "\n"), "whole rows and the header")
	assert.True(t, strings.HasSuffix(out.String(), "\n"))
}

// A read that never comes back does not hold it up either.
func TestAnInterruptedBatchDoesNotWaitForItsInput(t *testing.T) {
	ctx, end := context.WithCancel(context.Background())
	r, w := io.Pipe()
	defer w.Close()
	go func() {
		_, _ = io.WriteString(w, "saddle,height,setback\nclassic-280,742,50\n")
		end()
	}()
	_, _, err := newBatch(t, nil).Run(ctx, r, io.Discard)
	assert.ErrorIs(t, err, context.Canceled)
}

func TestAHeaderWithSemicolons(t *testing.T) {
	for _, head := range []string{"saddle;height;setback", "saddle\theight\tsetback"} {
		_, _, err := newBatch(t, nil).Run(context.Background(), strings.NewReader(head+"\nclassic-280;742;50\n"), io.Discard)
		assert.ErrorContains(t, err, "separate the columns with commas")
	}
}
