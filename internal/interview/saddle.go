package interview

import (
	"cmp"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"carryover/internal/diag"
	"carryover/internal/format"
	"carryover/internal/partfile"
	"carryover/internal/saddle"
	"carryover/internal/tomltree"
	"carryover/internal/written"
)

// Saddle is what was measured on a saddle with tape, calliper and straightedge, mm. Stations are counted from the nose back
// along a straightedge laid lengthwise on it; a dip is how far the surface lies below it there, 0 where it touches.
type Saddle struct {
	ID, Name string
	rows     map[string][][2]float64 // by SaddleKeys: station and number, rising; of what has no station, one at 0
}

// Place is one thing to measure on a saddle.
type Place struct {
	Key        string  // one of SaddleKeys
	Station    float64 // of a width or dip
	AskStation bool    // the answer names the station too
	Name       string  // what tells it from others of the key
	Ask, How   string
	Usual      string // taken for an empty answer; "": none
	Needed     bool
}

// SaddleKeys are the keys of readings, in the order of a file.
var SaddleKeys = []string{"length", "width", "dip", "sag", "rail-height", "rail-from", "rail-to"}

// placed reports whether readings of the key have a station.
func placed(key string) bool { return key == "width" || key == "dip" }

// number is a reading that has no station, 0 where it was not taken.
func (s *Saddle) number(key string) float64 {
	if rows := s.rows[key]; len(rows) > 0 {
		return rows[0][1]
	}
	return 0
}

// shares are where widths and dips are asked for, as shares of the length.
var widthShares, dipShares = []float64{0, 0.15, 0.3, 0.45, 0.6, 0.7}, []float64{0, 0.3, 0.5, 0.7, 1}

// round5 is a share of a length on a multiple of 5 mm, as one marks it on tape; the ends stay.
func round5(length, share float64) float64 {
	if share == 1 {
		return length
	}
	return 5 * math.Round(length*share/5)
}

// fileKey is the key of a part file that a reading is for; its heights are dips counted upward.
func fileKey(key string) (path string, k *format.Key) {
	path = map[string]string{"dip": "top", "rail-height": "rail.height", "rail-from": "rail.from", "rail-to": "rail.to"}[key]
	path = cmp.Or(path, key)
	return path, format.Shape("saddle").Find(path)
}

// limits is what a reading can be.
func limits(key string) *format.Key {
	_, k := fileKey(key)
	if key == "dip" {
		return &format.Key{Kind: format.Number, Unit: format.MM, Hi: -k.Lo, Mend: "a dip is counted downward"}
	}
	return k
}

// plain is the place of a reading without a station, as the file's key has it.
func plain(key string) Place {
	_, k := fileKey(key)
	return Place{Key: key, Ask: k.Asked(), How: k.How, Usual: k.Usual, Needed: true}
}

// first is the place that the others depend on.
func first() Place { return plain("length") }

// placesOn are what to measure on a saddle of that length, in the order of the work.
func placesOn(length float64) []Place {
	across, down := limits("width").How, format.Shape("saddle").Find("top").How
	var all []Place
	for i, share := range widthShares {
		at := round5(length, share)
		p := Place{Key: "width", Station: at, Name: format.Num(at), How: across, Ask: fmt.Sprintf("Full width %s mm behind the nose, mm",
			format.Num(at))}
		if i == 0 {
			p.Ask, p.How, p.Needed = "Full width at the very tip of the nose, mm", "callipers across the nose, where its rounding begins", true
		}
		all = append(all, p)
	}
	all = append(all,
		Place{Key: "width", AskStation: true, Name: "widest", Ask: "The widest place: how far behind the nose, and how wide, two numbers, mm",
			How: "close the callipers over the wings and slide to and fro until they are widest"},
		Place{Key: "width", Station: length, Name: "tail", Ask: "Full width of the tail, mm",
			How: "callipers at the very end, where the rounding of the tail begins", Needed: true},
		Place{Key: "dip", AskStation: true, Name: "front", Ask: "How far behind the nose the straightedge touches in front, mm",
			How: "slide a sheet of paper under the straightedge from the nose until it is held"},
		Place{Key: "dip", AskStation: true, Name: "rear", Ask: "How far behind the nose it touches at the rear, mm",
			How: "the same from the tail"})
	// The tail comes last: only then can be told whether the straightedge lies.
	for _, share := range dipShares {
		at := round5(length, share)
		p := Place{Key: "dip", Station: at, Name: format.Num(at), How: down, Needed: share == 0 || share == 1,
			Ask: fmt.Sprintf("How far the surface is below the straightedge %s mm behind the nose, mm", format.Num(at))}
		all = append(all, p)
	}
	for _, key := range []string{"sag", "rail-height", "rail-from", "rail-to"} {
		all = append(all, plain(key))
	}
	return all
}

// read is an answer about a place: station and value, or the value alone; of where the straightedge touches, the station.
func (p Place) read(length float64, answer string) (station, v float64, err error) {
	n, want := 1, "one number"
	touch := p.Key == "dip" && p.AskStation // where the straightedge touches
	if p.AskStation && !touch {
		n, want = 2, "two numbers (how far behind the nose and how much, like 210; 143)"
	}
	all, err := several(strings.ReplaceAll(answer, ":", ";"), n, n, want, written.Length)
	switch {
	case err != nil:
		return 0, 0, err
	case touch:
		station = all[0]
	case p.AskStation:
		station, v = all[0], all[1]
	default:
		station, v = p.Station, all[0]
	}
	return station, v, check(p.Key, length, station, v)
}

// check says what is wrong with a reading.
func check(key string, length, station, v float64) error {
	if !slices.Contains(SaddleKeys, key) {
		return fmt.Errorf("no reading is called %q; there are %s", key, strings.Join(SaddleKeys, ", "))
	}
	if fault := limits(key).Judge(v, format.Num(v)); fault != nil {
		return fmt.Errorf("%s %w", key, fault)
	}
	if placed(key) && (station < 0 || length > 0 && station > length) {
		return fmt.Errorf("a station lies between the nose, 0, and the tail, %s", format.Num(length))
	}
	return nil
}

// Put stores one reading, replacing one at the same station.
func (s *Saddle) Put(key string, station, v float64) error {
	if err := check(key, s.number("length"), station, v); err != nil {
		return err
	}
	if s.rows == nil {
		s.rows = map[string][][2]float64{}
	}
	at, found := slices.BinarySearchFunc(s.rows[key], station, func(p [2]float64, at float64) int { return cmp.Compare(p[0], at) })
	if found {
		s.rows[key][at][1] = v
	} else {
		s.rows[key] = slices.Insert(s.rows[key], at, [2]float64{station, v})
	}
	return nil
}

// PutText stores a reading given as text; station is empty where the key has none. "id" and "name" are taken as well.
func (s *Saddle) PutText(key, station, value string) error {
	switch key {
	case "id":
		s.ID = value
		return nil
	case "name":
		s.Name = value
		return nil
	}
	at, errAt := 0.0, error(nil)
	switch {
	case placed(key) && station == "":
		return fmt.Errorf("%s needs a station", key)
	case !placed(key) && station != "":
		return fmt.Errorf("%s has no station", key)
	case placed(key):
		at, errAt = written.Length(station)
	}
	v, err := written.Length(value)
	if err := cmp.Or(errAt, err); err != nil {
		return err
	}
	return s.Put(key, at, v)
}

// ReadCSV adds readings from lines reading,station,value: "length,,245", "width,0,41", "dip,40,0", "id,,mine". A first
// line that names the columns and lines that begin with # are skipped. All bad lines are reported together.
func (s *Saddle) ReadCSV(in io.Reader) error {
	const most = 1000 // lines; more is no saddle
	lines := csv.NewReader(in)
	lines.FieldsPerRecord, lines.TrimLeadingSpace, lines.Comment = -1, true, '#'
	var bad []error
	for n := 0; ; n++ {
		cells, err := lines.Read()
		if err == io.EOF {
			return errors.Join(bad...)
		}
		if err != nil {
			return err
		}
		at, _ := lines.FieldPos(0)
		switch {
		case n == most:
			return fmt.Errorf("more than %d lines: this is no list of readings of a saddle", most)
		case len(cells) != 3:
			err = errors.New("wants reading,station,value")
		case n == 0 && strings.EqualFold(strings.TrimPrefix(cells[0], "\ufeff"), "reading"):
		default:
			err = s.PutText(strings.TrimSpace(strings.TrimPrefix(cells[0], "\ufeff")), strings.TrimSpace(cells[1]), strings.TrimSpace(cells[2]))
		}
		if err != nil {
			bad = append(bad, fmt.Errorf("line %d: %w", at, err))
		}
	}
}

// Missing lists what a part file still needs, in words.
func (s *Saddle) Missing() (all []string) {
	if s.ID == "" {
		all = append(all, "an id")
	}
	for _, key := range SaddleKeys {
		switch {
		case s.whole(key):
		case placed(key):
			all = append(all, key+"s from the nose, station 0, to the tail, station = length")
		default:
			all = append(all, key)
		}
	}
	return all
}

// whole reports whether the readings of a key are all there: those that have stations go from the nose to the tail.
func (s *Saddle) whole(key string) bool {
	rows, n := s.rows[key], len(s.rows[key])
	return n > 0 && (!placed(key) || n > 1 && rows[0][0] == 0 && rows[n-1][0] == s.number("length"))
}

// curve is a list of stations as the file has it: a dip is a height below the straightedge. The highest reading counts as
// touching: a ruler held a little high everywhere must not sink the saddle.
func (s *Saddle) curve(key string) string {
	least, text := math.Inf(1), ""
	for _, p := range s.rows[key] {
		least = math.Min(least, p[1])
	}
	for _, p := range s.rows[key] {
		if key == "dip" {
			p[1] = math.Round((least-p[1])*1000)/1000 + 0 // + 0: not -0
		}
		text += fmt.Sprintf("  [%s, %s],\n", tomltree.Float(p[0]), tomltree.Float(p[1]))
	}
	return "[\n" + text + "]"
}

// put writes the keys of the shape, as far as they go.
func (s *Saddle) put(t *table) {
	for _, key := range SaddleKeys {
		path, named := fileKey(key)
		k := t.set(path, "", named.About)
		k.needed = true
		switch {
		case placed(key) && s.whole(key):
			k.value = s.curve(key)
		case placed(key) && len(s.rows[key]) > 0:
			k.part = s.curve(key)
		case s.whole(key):
			k.value = tomltree.Float(s.number(key))
		}
	}
}

// PartFile writes the part file; the problems are what a strict reader refuses or finds odd.
func (s *Saddle) PartFile() ([]byte, diag.List) {
	var d draft
	for _, k := range [][2]string{{"schema", "1"}, {"kind", tomltree.Quote("saddle")}, {"id", tomltree.Quote(s.ID)},
		{"name", tomltree.Quote(cmp.Or(s.Name, s.ID))}} {
		d.top.set(k[0], k[1], "")
	}
	s.put(&d.top)
	src := []byte("# Measured with tape, calliper and straightedge; mm.\n" + d.String())
	return src, partfile.Judge(cmp.Or(s.ID, "saddle")+".toml", src, nil)
}

// The scale of a drawing: a column is 3.3 mm; a row, about twice as high, stands for 12.5 mm, so the saddle is drawn
// shorter than it is.
const (
	drawColumns = 60
	drawMM      = 200.0 // across all columns
	drawRow     = 12.5  // mm
)

// Outline draws the saddle from above with the nose on top, in plain characters, as far as its widths go. Widths that
// were read are marked with +, those between are interpolated.
func (s *Saddle) Outline() string {
	widths := s.rows["width"]
	if len(widths) == 0 {
		return ""
	}
	last := widths[len(widths)-1][0]
	width := func(float64) float64 { return widths[0][1] }
	if len(widths) > 1 && widths[0][0] == 0 {
		// Only the widths matter here, so any top and rail will do.
		shape, err := saddle.New(last, widths, [][2]float64{{0, 0}, {last, 0}}, 0, saddle.Rail{})
		if err != nil {
			return ""
		}
		width = shape.Width
	}
	var b strings.Builder
	for i := 0; ; i++ {
		from := math.Min(float64(i)*drawRow, last) // the tail has a row of its own
		edge, at := "|", from
		for _, p := range widths {
			if p[0] >= from-drawRow/2 && p[0] < from+drawRow/2 && (p[0] < last || from == last) {
				edge, at = "+", p[0]
			}
		}
		half := min(int(math.Round(width(at)/drawMM*drawColumns/2)), drawColumns/2)
		gap := strings.Repeat(" ", max(0, 2*half-1))
		fmt.Fprintf(&b, "%5.0f %s%s%s%s %.0f\n", at, strings.Repeat(" ", drawColumns/2-half), edge, gap, edge, width(at))
		if from == last {
			return b.String()
		}
	}
}
