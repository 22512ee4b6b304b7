package words

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/catalogs"
	"carryover/internal/catalog"
	"carryover/internal/partfile"
	"carryover/internal/plane"
)

func everyPart(t *testing.T) []*partfile.Part {
	t.Helper()
	lib := catalog.New(catalogs.Files)
	var all []*partfile.Part
	for k := range partfile.KindNames {
		parts, err := lib.List(partfile.Kind(k))
		require.NoError(t, err)
		all = append(all, parts...)
	}
	require.NotEmpty(t, all)
	return all
}

func TestCatalogFitsThePage(t *testing.T) {
	var lines []catalog.Line
	list := Page{Width: Usual}
	for _, part := range everyPart(t) {
		lines = append(lines, catalog.NewLine(part))
		sheet := Page{Width: Usual}
		sheet.Part(part)
		narrow(t, part.ID, sheet.String())
		assert.NotContains(t, sheet.String(), "NaN", part.ID)
	}
	list.Catalog(lines)
	narrow(t, "list", list.String())
	for _, l := range lines {
		assert.Contains(t, list.String(), "\n"+l.ID+" ")
	}
}

func narrow(t *testing.T, what, text string) {
	t.Helper()
	for _, line := range strings.Split(text, "\n") {
		assert.LessOrEqual(t, Columns(line), Usual, "%s: %s", what, line)
		assert.Equal(t, strings.TrimRight(line, " "), line, "%s: blanks at the end", what)
	}
}

// TestSaddleOutlineIsToScale measures the drawing itself: as long and as wide as the saddle, and alike on both sides.
func TestSaddleOutlineIsToScale(t *testing.T) {
	for _, p := range everyPart(t) {
		if p.Kind != partfile.Saddle {
			continue
		}
		s := p.Saddle
		drawing, _, _ := strings.Cut(saddleOutline(p), "\nProfile")
		rows := strings.Split(drawing, "\n")[3:]
		for len(rows) > 0 && rows[len(rows)-1] == "" {
			rows = rows[:len(rows)-1]
		}
		scale := newPicture(plane.Point{X: -s.Length}, plane.Point{}, pictureColumns).scale
		left, right, first, last := math.MaxInt, 0, -1, 0
		for i, row := range rows {
			at := strings.IndexByte(row, '#')
			if at < 0 {
				continue
			}
			left, right, last = min(left, at), max(right, strings.LastIndexByte(row, '#')), i
			if first < 0 {
				first = i
			}
		}
		_, wide := s.Widest()
		assert.InDelta(t, s.Length, float64(right-left)*scale, scale, "%s: length", p.ID)
		assert.InDelta(t, wide, float64(last-first)*2*scale, 2*scale, "%s: width", p.ID)
		for i := first; i <= last; i++ {
			assert.Equal(t, strings.ReplaceAll(rows[i], "-", " "), strings.ReplaceAll(rows[first+last-i], "-", " "), "%s: row %d", p.ID, i)
		}
	}
}
