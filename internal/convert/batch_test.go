package convert

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/plane"
	"carryover/internal/saddle"
)

func newBatch(t testing.TB, bad func(int, string)) *Batch {
	return batchOver(catalogSaddles(t), bad)
}

func batchOver(saddles []Saddle, bad func(int, string)) *Batch {
	all := map[string]Saddle{}
	for _, s := range saddles {
		all[s.ID] = s
	}
	return &Batch{Margin: 20, Loaded: true, Why: error.Error, Bad: bad, Find: func(id string) (Saddle, error) {
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
	b := newBatch(t, nil)
	b.Defaults.Also = []saddle.Reference{{Kind: saddle.ByWidth, MM: 80}, {Kind: saddle.Tail}}
	rows, good, bad := run(t, b, "id,saddle,saddle-height,setback,tilt,to,sit-bones,seat-angle,to-tilt\r\n"+
		"\"Lane 1, red\",classic-280,742@mid,55,-1,short-245,102,73,\r\n"+
		"# a remark\r\n\r\n"+
		"=2+2,short-245,730@tail,40,,,,,\r\n"+
		"c,classic-280,742@mid,55,-1,short-245,102,73,2\r\n")
	require.Equal(t, [2]int{3, 0}, [2]int{good, bad})
	require.Len(t, rows, 5, "every row keeps its place")
	angle := plane.Rad(73)
	q := Request{Saddle: find(t, "classic-280"), SitWidth: 122, SeatAngle: &angle, Also: b.Defaults.Also,
		Readings: readings(t, "saddle-height", "742", "setback", "55", "tilt", "-1")}
	for i, turned := range []bool{false, true} {
		if tilt := plane.Rad(2); turned {
			q.ToTilt = &tilt
		}
		l, err := Locate(q)
		require.NoError(t, err)
		s, err := l.Put(find(t, "short-245"), true)
		require.NoError(t, err)
		check := func(column string, want float64) {
			got, err := strconv.ParseFloat(rows[4*i][column], 64)
			require.NoError(t, err, column)
			assert.InDelta(t, want, got, 5e-4, column)
		}
		for _, r := range s.References {
			name := strings.TrimSuffix(r.Ref.String(), ".0")
			if name == "sit" {
				name = "support"
			}
			check("setback@"+name, r.From.Setback)
			check("saddle-height@"+name, r.From.SaddleHeight)
			check("vertical-height@"+name, r.From.VerticalHeight)
			check("to-setback@"+name, r.Setback)
			check("to-vertical-height@"+name, r.VerticalHeight)
			check("to-saddle-height@"+name, r.SaddleHeight)
		}
		check("spread", s.Spread)
		check("seat-tube", l.SeatTube.Value)
		check("to-seat-tube", s.SeatTube.Value)
		check("post-up", s.Post.Up)
		check("to-clamp-at", s.Post.To)
		check("vertical-height-sigma", l.References[0].SigmaVertical)
	}
	assert.Equal(t, "Lane 1, red", rows[0]["id"])
	assert.Equal(t, "2", rows[0]["row"])
	assert.Equal(t, "# a remark", rows[1]["id"])
	assert.Equal(t, map[string]string{"row": "4"}, filled(rows[2]))
	assert.Equal(t, "=2+2", rows[3]["id"], "given back untouched")
	assert.Equal(t, "5", rows[3]["row"])
	assert.Empty(t, rows[3]["to"])
	assert.Empty(t, rows[3]["seat-tube"], "this row gives no angle")
	assert.Contains(t, rows[3]["noted"], "taken as 0.0° ± 1.5°")
}

// filled is a row without its empty cells.
func filled(row map[string]string) map[string]string {
	row = maps.Clone(row)
	maps.DeleteFunc(row, func(_, cell string) bool { return cell == "" })
	return row
}

func TestBatchGoesOnAfterABadRow(t *testing.T) {
	var lines []int
	var texts []string
	b := newBatch(t, func(row int, why string) { lines, texts = append(lines, row), append(texts, why) })
	rows, good, bad := run(t, b, "id,saddle,saddle-height,saddle-height,setback,tilt\n"+
		"a,classic-280,742,,55,0\n"+ // good
		"b,classic-279,742,,55,0\n"+
		"c,classic-280,742,55,0,0,7\n"+
		"d,classic-280,74.2,,55,0\n"+
		"e,classic-280,,,55,0\n"+
		"f,\"classic-280\"x,742,,55,0\n"+
		"g,classic-280,742,741@mid,55\n"+ // good: a spreadsheet leaves empty cells at the end out
		"h,\"classic-280,742,,55,0\n"+
		"i,classic-280,742,,55,0\n")
	assert.Equal(t, 2, good)
	assert.Equal(t, 7, bad)
	assert.Equal(t, []int{3, 4, 5, 6, 7, 9, 10}, lines)
	for i, want := range []string{`no saddle "classic-279"`, "7 cells", "reads like centimetres: write 742", "how high the saddle is",
		"extraneous", "extraneous", "not closed"} {
		assert.Contains(t, texts[i], want)
		assert.Equal(t, texts[i], rows[lines[i]-2]["problem"])
		assert.Empty(t, rows[lines[i]-2]["saddle"])
	}
	assert.Equal(t, "e", rows[4]["id"])
	assert.Equal(t, "g", rows[6]["id"])
	assert.Equal(t, "742.000", rows[0]["saddle-height@mid"])
}

func TestBatchHeader(t *testing.T) {
	for text, want := range map[string]string{
		"":                            "no header",
		"\n# nothing\n":               "no header",
		"saddle,hieght\n":             `did you mean "saddle-height"`,
		"saddle,id\n":                 "no column holds a reading",
		"setback,tilt\n":              "called saddle",
		"saddle,saddle,tilt\n":        "twice",
		"saddle,setback@width:\n":     "after the colon",
		"saddle,setback@widht:80\n":   "no place on a saddle",
		"\xff\xfes\x00a\x00\n":        "UTF-16",
		"\n\nsaddle,saddle,tilt\n":    "row 3, the header",
		"sep=;\nsaddle;saddle;tilt\n": "row 1, the header",
	} {
		_, _, err := newBatch(t, nil).Run(context.Background(), strings.NewReader(text), io.Discard)
		assert.ErrorContains(t, err, want, "%q", text)
	}
}

// What a person types above a column, and what it is understood as.
func TestColumnsAsPeopleNameThem(t *testing.T) {
	for header, want := range map[string]string{
		"Saddle Height (mm)": "saddle-height", "saddle_height": "saddle-height", "Vertical height @ Tail": "vertical-height@tail",
		"SETBACK@width:80": "setback@width:80", "Saddle-Tilt [°]": "tilt", "nose_line": "saddle-height@nose",
		"tail_height": "vertical-height@tail", "widest_setback": "setback@widest", "Seat tube": "seat-tube",
		"plumb@nose, tail": "plumb@nose,tail",
	} {
		c, err := parseColumn(header)
		require.NoError(t, err, header)
		assert.Equal(t, want, c.name, header)
		assert.Equal(t, reading, c.kind, header)
	}
	for _, header := range []string{"Client", "", "colour@home", "height at hip", "support_line"} {
		c, err := parseColumn(header)
		require.NoError(t, err, header)
		assert.Equal(t, carried, c.kind, header)
	}
}

// spreadsheet is a file as an office suite set to German makes it: semicolons, decimal commas, CRLF, a byte order mark, quotes where
// they are needed, an empty row, a header that ends in nothing.
const spreadsheet = byteOrderMark + "Kunde;saddle;Saddle height;setback@nose;tilt;\"Anmerkung\nvom Mai\";to;support;\r\n" +
	"Müller;classic-280;742,5;55 mm;-1,5;\"sagt \"\"gut\"\"; kommt wieder\";;;\r\n" +
	";;;;;;;;\r\n" +
	"Maier;short-245;29,2in;4 cm;0,0;\"zwei\nZeilen\";;;\r\n" +
	"Maier;short-24;738;40;;=1+1;;;\r\n" +
	"Huber;classic-280;742,5@mid~1,5;55;-1,5°;;short-245;122,0;Rest\r\n"

func TestASpreadsheetAsItComes(t *testing.T) {
	text := spreadsheet
	var out bytes.Buffer
	var notes []string
	b := newBatch(t, func(int, string) {})
	b.Note = func(text string) { notes = append(notes, text) }
	good, bad, err := b.Run(context.Background(), strings.NewReader(text), &out)
	require.NoError(t, err)
	assert.Equal(t, [2]int{3, 1}, [2]int{good, bad})
	assert.Empty(t, notes)
	require.True(t, strings.HasPrefix(out.String(), byteOrderMark+"row;Kunde;\"Anmerkung\r\nvom Mai\";;saddle;tilt;"))
	in := csv.NewReader(strings.NewReader(strings.TrimPrefix(out.String(), byteOrderMark)))
	in.Comma = ';'
	rows, err := in.ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 6)
	at := func(row int, column string) string { return rows[row][slices.Index(rows[0], column)] }
	for i, want := range [][]string{1: {"2", "Müller", "sagt \"gut\"; kommt wieder", "", "classic-280", "-1,500"},
		2: {"3", "", "", "", "", ""},
		3: {"4", "Maier", "zwei\nZeilen", "", "short-245", "0,000"}, 4: {"5", "Maier", "=1+1", "", "", ""},
		5: {"6", "Huber", "", "Rest", "classic-280", "-1,500"}} {
		if i > 0 {
			assert.Equal(t, want, rows[i][:6])
		}
	}
	assert.Equal(t, "742,500", at(1, "saddle-height@mid"))
	assert.Equal(t, "55,000", at(1, "setback@nose"))
	assert.Equal(t, "741,680", at(3, "saddle-height@mid"))
	assert.Equal(t, "40,000", at(3, "setback@nose"))
	assert.Contains(t, at(4, "problem"), "no saddle")
	assert.Equal(t, "short-245", at(5, "to"))
}

// An office suite reads that file and writes it anew, in its own mixture: numbers with points, text as it was typed. The answers
// are the same; and it reads them as a table as wide as they are. testdata holds, byte for byte, what LibreOffice 7.4.7 wrote.
func TestAnOfficeSuiteBetween(t *testing.T) {
	answer := func(text string) (rows [][]string, answers string) {
		var out bytes.Buffer
		good, bad, err := newBatch(t, func(int, string) {}).Run(context.Background(), strings.NewReader(text), &out)
		require.NoError(t, err)
		require.Equal(t, [2]int{3, 1}, [2]int{good, bad})
		answers = out.String()
		d, rest, _, err := sniff(&out)
		require.NoError(t, err)
		rows, err = d.reader(rest).ReadAll()
		require.NoError(t, err)
		for _, r := range rows {
			for i := range r {
				r[i] = strings.ReplaceAll(strings.ReplaceAll(r[i], "\r\n", "\n"), ",", ".")
			}
		}
		return rows, answers
	}
	want, answers := answer(spreadsheet)
	same := func(requests, answers string) {
		got, _ := answer(requests)
		got[4][2] = want[4][2] // =1+1 has become 2
		assert.Equal(t, want, got)
		in := csv.NewReader(strings.NewReader(answers))
		in.Comma = ';'
		rows, err := in.ReadAll()
		require.NoError(t, err, "as many cells in every row")
		assert.Len(t, rows, 6)
	}
	read := func(path ...string) string {
		text, err := os.ReadFile(filepath.Join(path...))
		require.NoError(t, err)
		return string(text)
	}
	same(read("testdata", "office-requests.csv"), read("testdata", "office-answers.csv"))

	office, err := exec.LookPath("soffice")
	if err != nil || os.Getenv("CI") != "true" {
		return // the sample has to do: the suite takes longer to start than all other tests here to run
	}
	folder := t.TempDir()
	for name, text := range map[string]string{"requests.csv": spreadsheet, "answers.csv": answers} {
		require.NoError(t, os.WriteFile(filepath.Join(folder, name), []byte(text), 0o600))
	}
	const filter = "Text - txt - csv (StarCalc):59,34,76,1,,1031,false,true" // semicolons, quotes, UTF-8, German
	cmd := exec.Command(office, "--headless", "-env:UserInstallation=file://"+folder, "--infilter="+filter, "--convert-to", "csv:"+filter,
		"--outdir", filepath.Join(folder, "written"), filepath.Join(folder, "requests.csv"), filepath.Join(folder, "answers.csv"))
	if said, err := cmd.CombinedOutput(); err != nil {
		t.Skipf("the office suite does not run here: %v: %s", err, said)
	}
	same(read(folder, "written", "requests.csv"), read(folder, "written", "answers.csv"))
}

// The same rows in every dialect have the same answers, each written in its own.
func TestDialects(t *testing.T) {
	answer := func(text string) string {
		var out bytes.Buffer
		_, bad, err := newBatch(t, func(int, string) {}).Run(context.Background(), strings.NewReader(text), &out)
		require.NoError(t, err)
		require.Zero(t, bad)
		return out.String()
	}
	plain := answer("id,saddle,saddle-height,setback,plumb\nx,classic-280,742.5,55,\"12@tail,nose\"\n")
	require.Contains(t, plain, "742.500")
	for name, c := range map[string]struct{ text, before, comma, decimal, end string }{
		"semicolons, commas":  {"id;saddle;saddle-height;setback;plumb\nx;classic-280;742,5;55;12@tail,nose\n", "", ";", ",", "\n"},
		"semicolons, points":  {"id;saddle;saddle-height;setback;plumb\nx;classic-280;742.5;55;12@tail,nose\n", "", ";", ".", "\n"},
		"thousands":           {"id;saddle;saddle-height;setback;plumb\nx;classic-280;742,5;55;0.012,0@tail,nose\n", "", ";", ",", "\n"},
		"nothing to learn by": {"id;saddle;saddle-height;setback;plumb\nx;classic-280;7425 e-1;55;12@tail,nose\n", "", ";", ",", "\n"},
		"tabs": {"id\tsaddle\tsaddle-height\tsetback\tplumb\r\nx\tclassic-280\t742,5\t55\t12@tail,nose\r\n", "", "\t", ",",
			"\r\n"},
		"sep=": {"sep=;\r\nid;saddle;saddle-height;setback;plumb\r\nx;classic-280;742,5;55;12@tail,nose\r\n", "sep=;\r\n", ";",
			",", "\r\n"},
		"SEP=|": {"SEP=|\nid|saddle|saddle-height|setback|plumb\nx|classic-280|742.5|55|12@tail,nose\n", "sep=|\n", "|", ".", "\n"},
		"a byte order mark": {byteOrderMark + "id,saddle,saddle-height,setback,plumb\nx,classic-280,742.5,55,\"12@tail,nose\"\n",
			byteOrderMark, ",", ".", "\n"},
	} {
		if name == "nothing to learn by" {
			c.text = strings.Replace(c.text, "7425 e-1", "742", 1)
			assert.Contains(t, answer(c.text), "742,000", name)
			continue
		}
		got, ok := strings.CutPrefix(answer(c.text), c.before)
		require.True(t, ok, name)
		var want bytes.Buffer
		records, err := csv.NewReader(strings.NewReader(plain)).ReadAll()
		require.NoError(t, err)
		number := regexp.MustCompile(`^-?\d+\.\d{3}$`)
		w := csv.NewWriter(&want)
		w.Comma, w.UseCRLF = rune(c.comma[0]), c.end == "\r\n"
		for _, r := range records {
			for i := range r {
				if number.MatchString(r[i]) {
					r[i] = strings.Replace(r[i], ".", c.decimal, 1)
				}
			}
			require.NoError(t, w.Write(r))
		}
		w.Flush()
		assert.Equal(t, want.String(), got, name)
	}
}

// Old names are understood with a note, and an answer that is read again has the same answer.
func TestOldColumnsAndOldAnswers(t *testing.T) {
	var notes []string
	again := func(text string) []map[string]string {
		b := newBatch(t, func(row int, why string) { assert.Fail(t, why) })
		b.Note = func(text string) { notes = append(notes, text) }
		rows, _, _ := run(t, b, text)
		return rows
	}
	first := again("id,saddle,height,setback,tilt\na,classic-280,742,55,-1\n")
	require.Len(t, notes, 1)
	assert.Contains(t, notes[0], "straight from the BB")

	notes = nil
	old := again("line,id,saddle,tilt,tilt_sigma,nose_setback,nose_height,mid_height,mid_line,support_setback,warning\n" +
		"2,a,classic-280,-1.000,0.500,55.000,713.481,715.924,742.000,,\n")
	require.Len(t, notes, 2)
	assert.Contains(t, notes[0], "mid_height as vertical-height@mid")
	assert.Contains(t, notes[0], "mid_line as saddle-height@mid")
	assert.Contains(t, notes[1], "line, tilt_sigma, support_setback, warning")
	for _, column := range []string{"saddle-height@mid", "vertical-height@mid", "setback@tail"} {
		a, err := strconv.ParseFloat(first[0][column], 64)
		require.NoError(t, err)
		b, err := strconv.ParseFloat(old[0][column], 64)
		require.NoError(t, err)
		assert.InDelta(t, a, b, 0.002, "%s: three decimals are read", column)
	}

	var out bytes.Buffer
	_, _, err := newBatch(t, nil).Run(context.Background(),
		strings.NewReader("id,note,saddle,saddle-height,setback,tilt,support,seat-angle,to\na,keep,classic-280,742,55,-1,122,73,short-245\n"),
		&out)
	require.NoError(t, err)
	rows := again(out.String())
	assert.Equal(t, "742.000", rows[0]["saddle-height@mid"])
	assert.Equal(t, "keep", rows[0]["note"])
}

// What makes a row one that asks nothing, and what a cell that cannot be is told by.
func TestRowsThatAskNothing(t *testing.T) {
	rows, good, bad := run(t, newBatch(t, func(int, string) {}), "id,saddle,saddle-height,setback,sit-bones\n"+
		"#1,classic-280,742,55,\n"+ // a number, not a remark
		"#1,,,,\n"+
		"alone,,,,\n"+
		"b,classic-280,742,55,700\n"+
		"c,classic-280,\"1,010\",55,\n")
	assert.Equal(t, [2]int{1, 3}, [2]int{good, bad})
	assert.Equal(t, map[string]string{"row": "3", "id": "#1"}, filled(rows[1]))
	assert.Equal(t, "no saddle is named", rows[2]["problem"])
	assert.Equal(t, "sit-bones: it must be from 50 to 200 mm, is 700", rows[3]["problem"])
	assert.Contains(t, rows[4]["problem"], "a comma leaves it open")
}

// A unit above a column is that of its bare numbers.
func TestUnitsInAHeader(t *testing.T) {
	b := newBatch(t, func(_ int, why string) { assert.Fail(t, why) })
	b.SeatTube = true
	rows, _, _ := run(t, b, "saddle,Saddle height (in),setback [cm],tilt (°),support (mm)\n"+
		"classic-280,29.2,5.5,-1,122\nclassic-280,29.2@mid~0.1,55 mm,-1°,122 mm\nclassic-280,29,5,0,122\n")
	assert.Equal(t, "50.000", rows[2]["setback@nose"], "one digit has the unit as well")
	assert.Equal(t, "741.680", rows[0]["saddle-height@mid"])
	assert.Equal(t, "55.000", rows[0]["setback@nose"])
	assert.Equal(t, "-1.000", rows[0]["tilt"])
	assert.Equal(t, rows[0]["setback@support"], rows[1]["setback@support"])
	assert.NotEqual(t, rows[0]["vertical-height-sigma"], rows[1]["vertical-height-sigma"], "a tenth of an inch is 2.54 mm")
	tube, there := rows[0]["seat-tube"]
	assert.True(t, there && tube == "", "asked for, and no angle")
}

func TestTwinsAreNoted(t *testing.T) {
	rows, good, _ := run(t, newBatch(t, nil),
		"id,saddle,saddle-height,setback,tilt\n"+
			"a,classic-280,742,55,0\nb,classic-280,742,55,0\n a ,classic-280,742,55,0\n,classic-280,742,55,0\n,classic-280,742,55,0\n")
	require.Equal(t, 5, good)
	for i, want := range []string{"", "", "row 2 has the same id", "", ""} {
		assert.Equal(t, want, rows[i]["noted"])
	}
}

// A cell overrules what was given for all rows.
func TestDefaultsOfABatch(t *testing.T) {
	b := newBatch(t, nil)
	b.Defaults = Request{Saddle: find(t, "classic-280"), Support: 150}
	short := find(t, "short-245")
	b.To = &short
	rows, good, _ := run(t, b, "saddle-height,setback,saddle,support,sit-bones\n"+
		"742,55,,,\n742,55,classic-280,150,102\n742,55,,sit-bones,102\n742,55,,122,\n742,55,short-245,122,\n")
	require.Equal(t, 5, good)
	const nose = "to-setback@nose"
	assert.Equal(t, rows[0][nose], rows[1][nose])
	assert.Equal(t, rows[2][nose], rows[3][nose])
	assert.NotEqual(t, rows[0][nose], rows[2][nose])
	assert.Contains(t, rows[0]["warning"], "saddle-narrow")
	assert.Equal(t, rows[4]["setback@nose"], rows[4][nose], "the same saddle")
}

func TestNumbersInABatch(t *testing.T) {
	for v, want := range map[float64]string{0: "0.000", -0.0004: "0.000", 1.0625: "1.062", -12.3456: "-12.346", 999.9999: "1000.000",
		742: "742.000", 0.02: "0.020"} {
		assert.Equal(t, want, dialect{decimals: '.'}.number(v))
	}
	assert.Equal(t, "-12,346", dialect{decimals: ','}.number(-12.3456))
}

type failing struct{}

func (failing) Write([]byte) (int, error) { return 0, errors.New("disk full") }

func TestBatchReportsAFailedWrite(t *testing.T) {
	_, _, err := newBatch(t, nil).Run(context.Background(), strings.NewReader("saddle,saddle-height,setback\nclassic-280,742,50\n"), failing{})
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
			heap := uint64(math.MaxUint64)
			for range 5 { // the workers go on meanwhile
				runtime.GC()
				var m runtime.MemStats
				runtime.ReadMemStats(&m)
				heap = min(heap, m.HeapAlloc)
			}
			e.heaps = append(e.heaps, heap)
		}
		e.rest = e.text
	}
	n := copy(p, e.rest)
	e.rest = e.rest[n:]
	return n, nil
}

func TestBatchKeepsItsMemory(t *testing.T) {
	e := &endless{rows: 40000, text: []byte("classic-280,742,55,-1\n")}
	in := io.MultiReader(strings.NewReader("saddle,saddle-height,setback,tilt\n"), e)
	good, bad, err := newBatch(t, nil).Run(context.Background(), in, io.Discard)
	require.NoError(t, err)
	assert.Equal(t, [2]int{40000, 0}, [2]int{good, bad})
	require.Len(t, e.heaps, 4)
	assert.InDelta(t, float64(e.heaps[0]), float64(e.heaps[3]), 4<<20, "heap after 10,000 and after 40,000 rows, whose answers are 9 MB")
}

func FuzzBatch(f *testing.F) {
	f.Add("saddle,saddle-height,setback,to,sit-bones\nclassic-280,742,55,short-245,118\n")
	f.Add("saddle,height\n\"classic-280\",\"7\"\"4\"\n,,\n")
	f.Add("saddle,floor-height,setback,bb-height,seat-angle,seat-tube\nclassic-280,1000,0,270,73,\n")
	saddles := []Saddle{find(f, "classic-280"), find(f, "short-245")}
	f.Fuzz(func(t *testing.T, text string) {
		rows := 0
		b := batchOver(saddles, func(int, string) { rows++ })
		var out bytes.Buffer
		good, bad, err := b.Run(context.Background(), strings.NewReader(text), &out)
		if err != nil {
			return
		}
		require.Equal(t, rows, bad)
		in := b.dialect.reader(&out)
		if b.dialect.sep || b.dialect.bom {
			return
		}
		in.FieldsPerRecord = 0
		records, err := in.ReadAll()
		require.NoError(t, err)
		require.GreaterOrEqual(t, len(records), good+bad+1)
		require.NotContains(t, out.String(), "NaN")
	})
}

// BenchmarkBatch100000 answers 100,000 rows, each swapped to another saddle.
func BenchmarkBatch100000(b *testing.B) {
	var text bytes.Buffer
	text.WriteString("id,saddle,saddle-height,setback,tilt,to,sit-bones\n")
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
		return copy(p, "saddle,saddle-height,setback\n"), e.next()
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
		_, _ = io.WriteString(w, "saddle,saddle-height,setback\nclassic-280,742,50\n")
		end()
	}()
	_, _, err := newBatch(t, nil).Run(ctx, r, io.Discard)
	assert.ErrorIs(t, err, context.Canceled)
}

// Without sit bones and without a support nobody knows what should rest where it was; the margin alone is no width.
func TestAMarginAloneIsNoWidth(t *testing.T) {
	var why []string
	_, good, bad := run(t, newBatch(t, func(_ int, text string) { why = append(why, text) }),
		"saddle,saddle-height,setback,to\nclassic-280,742,55,short-245\n")
	assert.Equal(t, [2]int{0, 1}, [2]int{good, bad})
	require.Len(t, why, 1)
	assert.Contains(t, why[0], "needs the width")
}

// A spreadsheet's rows as they come, and written as it has them.
func TestRowsOfASpreadsheet(t *testing.T) {
	text := "\ufeffname;height\r\n\"Lane 1; red\";742,5\r\nb;\r\n"
	rows, err := ReadRows(strings.NewReader(text))
	require.NoError(t, err)
	assert.Equal(t, []string{"name", "height"}, rows.Header)
	assert.Equal(t, [][]string{{"Lane 1; red", "742,5"}, {"b", ""}}, rows.Cells)
	assert.Equal(t, "1,5", rows.Number("1.5"))
	var out bytes.Buffer
	require.NoError(t, rows.Write(&out, append([][]string{rows.Header}, rows.Cells...)))
	assert.Equal(t, text, out.String())

	plain, err := ReadRows(strings.NewReader("name,height\na,742.5\n"))
	require.NoError(t, err)
	assert.Equal(t, [][]string{{"a", "742.5"}}, plain.Cells)
	assert.Equal(t, "1.5", plain.Number("1.5"))
	for _, empty := range []string{"", "\n\r\n", ";;\n", "# a remark\n"} {
		_, err := ReadRows(strings.NewReader(empty))
		assert.ErrorContains(t, err, "no header row")
	}
	_, err = ReadRows(strings.NewReader("name,height\n\"a,742.5\n"))
	assert.Error(t, err, "a quote that never ends")
}
