package partfile

import (
	"math"
	"strconv"

	"carryover/internal/saddle"
	"carryover/internal/tomltree"
)

// What a saddle can be, mm. Wider than what is sold, so that only slips are caught.
const (
	maxWidth    = 300
	deepest     = -150
	touchSlack  = 0.5 // how far below the straightedge the highest listed point may stay through rounding
	minStations = 2
)

// readSaddle reads the shape keys of a saddle; nil when they make no curves.
func readSaddle(t *tomltree.Table) *saddle.Shape {
	t.Require("length", "width", "top", "sag", "rail")
	length, lengthOK := t.Float("length", tomltree.Plausible(100, 400))
	width, widthOK := readCurve(t, "width", length, lengthOK, checkWidth)
	top, topOK := readCurve(t, "top", length, lengthOK, checkHeight)
	if topOK {
		checkTouch(t, top)
	}
	sag, sagOK := t.Float("sag", tomltree.Between(0, 40))
	rail, railOK := readRail(t, length, lengthOK)
	if !lengthOK || !widthOK || !topOK || !sagOK || !railOK {
		return nil
	}
	s, err := saddle.New(length, width, top, sag, rail)
	if err != nil { // the checks above leave nothing to find, so this is their fault
		t.Errorf("", "saddle-shape", "", "%v", err)
		return nil
	}
	return s
}

// readCurve reads [[station, value], ...] with stations that rise from 0 to the length.
func readCurve(t *tomltree.Table, key string, length float64, lengthOK bool,
	check func(t *tomltree.Table, n *tomltree.Node, station, value float64) bool) ([][2]float64, bool) {
	pairs, nodes, ok := t.Pairs(key)
	if !ok {
		return nil, false
	}
	if len(pairs) < minStations {
		t.Errorf(key, "station-count", "begin at the nose, station 0, and end at the tail, the length",
			"%s needs at least %d stations", key, minStations)
		return nil, false
	}
	if first := pairs[0][0]; first != 0 {
		t.ErrorAtf(nodes[0], "station-first", "stations are counted from the nose back",
			"the first station of %s must be 0, is %s", key, num(first))
		ok = false
	}
	last := len(pairs) - 1
	for i, p := range pairs {
		if i > 0 && p[0] <= pairs[i-1][0] {
			t.ErrorAtf(nodes[i], "station-order", "list the stations from the nose back, each once",
				"station %s of %s does not lie behind station %s", num(p[0]), key, num(pairs[i-1][0]))
			ok = false
		}
		ok = check(t, nodes[i], p[0], p[1]) && ok
	}
	if end := pairs[last][0]; lengthOK && end != length {
		t.ErrorAtf(nodes[last], "station-last", "measure the tail as well, or correct length",
			"the last station of %s must be the length %s, is %s", key, num(length), num(end))
		ok = false
	}
	return pairs, ok
}

func checkWidth(t *tomltree.Table, n *tomltree.Node, station, width float64) bool {
	if width > 0 && width <= maxWidth {
		return true
	}
	t.ErrorAtf(n, "implausible", "give the full width there, side to side, in mm",
		"width %s at station %s must be above 0 and at most %d mm", num(width), num(station), maxWidth)
	return false
}

// checkHeight needs the listed heights only: a monotone piece does not leave the range of its two ends.
func checkHeight(t *tomltree.Table, n *tomltree.Node, station, height float64) bool {
	switch {
	case height > 0:
		t.ErrorAtf(n, "height-above", "measure down from the straightedge: heights are 0 where it touches, else negative",
			"height %s in top at station %s is above the straightedge", num(height), num(station))
	case height < deepest:
		t.ErrorAtf(n, "implausible", "heights are in mm below the straightedge",
			"height %s in top at station %s is deeper than any saddle", num(height), num(station))
	default:
		return true
	}
	return false
}

func checkTouch(t *tomltree.Table, top [][2]float64) {
	highest := math.Inf(-1)
	for _, p := range top {
		highest = math.Max(highest, p[1])
	}
	if highest < -touchSlack {
		t.Errorf("top", "straightedge", "the highest points are 0: add "+num(math.Round(-highest*1000)/1000)+" to every height",
			"the straightedge touches nothing: no height in top is 0, the highest is %s", num(highest))
	}
}

func readRail(t *tomltree.Table, length float64, lengthOK bool) (saddle.Rail, bool) {
	r, ok := t.Table("rail")
	if !ok || !r.Require("height", "from", "to") {
		return saddle.Rail{}, false
	}
	height, heightOK := r.Float("height", tomltree.Between(0, 150))
	from, fromOK := r.Float("from", tomltree.Min(0))
	to, toOK := r.Float("to", tomltree.Min(0))
	if !heightOK || !fromOK || !toOK {
		return saddle.Rail{}, false
	}
	switch {
	case from > to:
		r.Errorf("from", "reversed-range", "write from = "+num(to)+", to = "+num(from),
			"the rail stretch runs backwards, from %s to %s", num(from), num(to))
		return saddle.Rail{}, false
	case from == to:
		r.Errorf("to", "empty-range", "from and to bound the straight stretch of the rails",
			"the rail stretch is empty, from %s to %s", num(from), num(to))
		return saddle.Rail{}, false
	case lengthOK && to > length:
		r.Errorf("to", "rail-beyond", "from and to are stations, counted from the nose back",
			"the rail stretch ends at station %s, behind the tail at %s", num(to), num(length))
		return saddle.Rail{}, false
	}
	return saddle.Rail{Height: height, From: from, To: to}, true
}

// num writes a number in the shortest form that reads back the same.
func num(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
