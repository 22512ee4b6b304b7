// Package measure makes a saddle part from the handful of readings that a person takes with a tape, a calliper and a
// straightedge: what to measure where, what of it is hardly a saddle, how the outline looks, and the part file.
package measure

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"carryover/internal/diag"
	"carryover/internal/partfile"
	"carryover/internal/saddle"
	"carryover/internal/tomltree"
)

// Readings are what was measured, mm. Stations are counted from the nose back along a straightedge laid lengthwise on
// the saddle; a dip is how far the surface lies below it there, 0 where it touches.
type Readings struct {
	ID, Name string
	Length   float64
	Widths   [][2]float64 // station, full width
	Dips     [][2]float64 // station, dip
	Sag      float64
	Rail     saddle.Rail
}

// Question is one thing to measure.
type Question struct {
	Key     string  // length, width, dip, sag, rail-height, rail-from, rail-to
	Station float64 // of a width or dip, mm; NaN: the answer names it too, as STATION:VALUE
	Ask     string  // what
	How     string  // where to hold the tape
	Usual   string  // taken for an empty answer; "": none
}

// widthShares and dipShares are where widths and dips are asked for, as shares of the length.
var (
	widthShares = []float64{0, 0.15, 0.3, 0.45, 0.6, 0.7}
	dipShares   = []float64{0, 0.3, 0.5, 0.7, 1}
)

// round5 is a share of a length on a multiple of 5 mm, as one marks it on tape; the ends stay.
func round5(length, share float64) float64 {
	if share == 1 {
		return length
	}
	return 5 * math.Round(length*share/5)
}

// First is the question that the others depend on.
func First() Question {
	return Question{Key: "length", Station: math.NaN(), Ask: "length, nose to tail",
		How: "lay a straightedge lengthwise on the saddle, so that it rests on its two highest places; hang a square from it at the tip of the nose and at the very tail, and measure between"}
}

// Questions are what to measure on a saddle of that length, in the order of the work.
func Questions(length float64) []Question {
	var all []Question
	for i, share := range widthShares {
		q := Question{Key: "width", Station: round5(length, share), How: "mark the place along the straightedge, then callipers across the saddle there, over the padding, not pressing"}
		q.Ask = fmt.Sprintf("width %s behind the nose", mm(q.Station))
		if i == 0 {
			q.Ask, q.How = "width at the very tip of the nose", "callipers across the nose, where its rounding begins"
		}
		all = append(all, q)
	}
	all = append(all,
		Question{Key: "width", Station: math.NaN(), Ask: "the widest place, as STATION:WIDTH",
			How: "close the callipers over the wings and slide to and fro until they are widest; read the width and how far behind the nose that is"},
		Question{Key: "width", Station: length, Ask: "width of the tail",
			How: "callipers at the very end, where the rounding of the tail begins"})
	// The tail comes last: only then can be told whether the straightedge lies.
	all = append(all,
		Question{Key: "dip", Station: math.NaN(), Ask: "where the straightedge touches in front, as STATION:0",
			How: "slide a sheet of paper under the straightedge from the nose until it is held"},
		Question{Key: "dip", Station: math.NaN(), Ask: "where the straightedge touches at the rear, as STATION:0",
			How: "the same from the tail; give the station from the nose"})
	for _, share := range dipShares {
		q := Question{Key: "dip", Station: round5(length, share), How: "straightedge along the middle of the saddle; a thin ruler straight down from it to the surface, beside a cut-out if there is one"}
		q.Ask = fmt.Sprintf("dip below the straightedge %s behind the nose", mm(q.Station))
		all = append(all, q)
	}
	return append(all,
		Question{Key: "sag", Ask: "how far the surface gives under the rider", Usual: "6",
			How: "straightedge height over the rails before and while somebody sits; if nobody can help, press the padding with both thumbs"},
		Question{Key: "rail-height", Ask: "straightedge down to the middle of the rails",
			How: "ruler straight down beside the saddle, at the straight stretch of the rails, to half their thickness"},
		Question{Key: "rail-from", Ask: "where the straight stretch of the rails begins, behind the nose",
			How: "square from the straightedge to where the rails stop bending; what the clamp may hold"},
		Question{Key: "rail-to", Ask: "where it ends, behind the nose", How: "the same at its rear end"})
}

// Set takes the answer to a question.
func (r *Readings) Set(q Question, answer string) error {
	answer = strings.TrimSpace(answer)
	if answer == "" {
		answer = q.Usual
	}
	station, value := q.Station, answer
	if (q.Key == "width" || q.Key == "dip") && math.IsNaN(q.Station) {
		at, v, ok := strings.Cut(answer, ":")
		if !ok {
			return fmt.Errorf("write the station, a colon and the reading, like 210:143")
		}
		s, err := number(at)
		if err != nil {
			return err
		}
		station, value = s, v
	}
	v, err := number(value)
	if err != nil {
		return err
	}
	return r.Put(q.Key, station, v)
}

// limits are what a reading can be, mm: wide enough for any saddle, narrow enough for cm and inches.
var limits = map[string][2]float64{
	"length": {100, 400}, "width": {10, 300}, "dip": {0, 60}, "sag": {0, 40}, "rail-height": {15, 120}, "rail-from": {0, 400}, "rail-to": {1, 400},
}

// Keys are the keys of readings, in the order of a file.
var Keys = []string{"length", "width", "dip", "sag", "rail-height", "rail-from", "rail-to"}

// Put stores one reading, replacing one at the same station.
func (r *Readings) Put(key string, station, v float64) error {
	in, ok := limits[key]
	if !ok {
		return fmt.Errorf("no reading is called %q; there are %s", key, strings.Join(Keys, ", "))
	}
	if v < in[0] || v > in[1] {
		hint := ""
		switch {
		case key == "dip" && v < 0:
			hint = "; a dip is counted downward"
		case v*10 >= in[0] && v*10 <= in[1] && v > 0:
			hint = fmt.Sprintf("; in mm, so %s?", number10(v))
		}
		return fmt.Errorf("%s %s mm is not plausible, expected %g to %g%s", key, number1(v), in[0], in[1], hint)
	}
	switch key {
	case "width", "dip":
		if math.IsNaN(station) || station < 0 || r.Length > 0 && station > r.Length {
			return fmt.Errorf("the station lies between the nose, 0, and the tail, %s", number1(r.Length))
		}
		rows := &r.Widths
		if key == "dip" {
			rows = &r.Dips
		}
		at, found := slices.BinarySearchFunc(*rows, station, func(p [2]float64, s float64) int { return cmp.Compare(p[0], s) })
		if found {
			(*rows)[at][1] = v
		} else {
			*rows = slices.Insert(*rows, at, [2]float64{station, v})
		}
	case "length":
		r.Length = v
	case "sag":
		r.Sag = v
	case "rail-height":
		r.Rail.Height = v
	case "rail-from":
		r.Rail.From = v
	case "rail-to":
		r.Rail.To = v
	}
	return nil
}

// Shape builds the saddle. The highest reading against the straightedge counts as touching: a ruler held a little
// high everywhere must not sink the saddle.
func (r *Readings) Shape() (*saddle.Shape, error) {
	if r.Length <= 0 {
		return nil, fmt.Errorf("the length is missing")
	}
	if len(r.Dips) == 0 {
		return nil, fmt.Errorf("the dips below the straightedge are missing")
	}
	return saddle.New(r.Length, r.Widths, r.tops(), r.Sag, r.Rail)
}

func (r *Readings) tops() [][2]float64 {
	least := math.Inf(1)
	for _, d := range r.Dips {
		least = math.Min(least, d[1])
	}
	top := make([][2]float64, len(r.Dips))
	for i, d := range r.Dips {
		top[i] = [2]float64{d[0], math.Round((least-d[1])*1000) / 1000}
		if top[i][1] == 0 {
			top[i][1] = 0 // not -0
		}
	}
	return top
}

// PartFile writes the part file and reads it back with the strict reader: the problems are what a reader would refuse
// or warn of.
func (r *Readings) PartFile() ([]byte, diag.List) {
	var b strings.Builder
	name := r.Name
	if name == "" {
		name = r.ID
	}
	fmt.Fprintf(&b, "# Measured with tape, calliper and straightedge; mm.\nschema = 1\nkind = \"saddle\"\nid = %s\nname = %s\n\n", tomltree.Quote(r.ID), tomltree.Quote(name))
	fmt.Fprintf(&b, "length = %s\n", decimal(r.Length))
	rows := func(key, remark string, list [][2]float64) {
		fmt.Fprintf(&b, "%s = [ # %s\n", key, remark)
		for _, p := range list {
			fmt.Fprintf(&b, "  [%s, %s],\n", decimal(p[0]), decimal(p[1]))
		}
		b.WriteString("]\n")
	}
	rows("width", "behind the nose, full width", r.Widths)
	rows("top", "behind the nose, height against the straightedge", r.tops())
	fmt.Fprintf(&b, "sag = %s\nrail = { height = %s, from = %s, to = %s }\n", decimal(r.Sag), decimal(r.Rail.Height), decimal(r.Rail.From), decimal(r.Rail.To))
	src := []byte(b.String())
	_, problems := partfile.Read(cmp.Or(r.ID, "saddle")+".toml", src)
	return src, problems
}

func number(text string) (float64, error) {
	v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		if strings.Contains(text, ",") {
			return 0, fmt.Errorf("%q: write the decimal with a point", text)
		}
		return 0, fmt.Errorf("%q is not a number of mm", text)
	}
	return v, nil
}

func number1(v float64) string  { return strconv.FormatFloat(v, 'f', -1, 64) }
func number10(v float64) string { return number1(math.Round(v*10*1000) / 1000) }
func mm(v float64) string       { return number1(v) + " mm" }

func decimal(v float64) string {
	s := number1(v)
	if !strings.Contains(s, ".") {
		s += ".0"
	}
	return s
}

// Optional reports whether a saddle of that length can do without the answer: a width or dip between the ends.
func (q Question) Optional(length float64) bool {
	return (q.Key == "width" || q.Key == "dip") && q.Station != 0 && q.Station != length
}
