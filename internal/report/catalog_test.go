package report

import (
	"bytes"
	"math"
	"strings"
	"testing"
	"unicode/utf8"

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

func TestCatalogFitsEightyColumns(t *testing.T) {
	var list bytes.Buffer
	var lines []PartLine
	for _, p := range everyPart(t) {
		lines = append(lines, NewPartLine(p))
		var sheet bytes.Buffer
		require.NoError(t, WritePart(&sheet, p))
		narrow(t, p.ID, sheet.String())
		assert.NotContains(t, sheet.String(), "NaN", p.ID)
	}
	require.NoError(t, WriteCatalog(&list, lines))
	narrow(t, "list", list.String())
	for _, p := range lines {
		assert.Contains(t, list.String(), "\n"+p.ID+" ")
	}
}

func narrow(t *testing.T, what, text string) {
	t.Helper()
	for _, line := range strings.Split(text, "\n") {
		assert.LessOrEqual(t, utf8.RuneCountInString(line), 80, "%s: %s", what, line)
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

func TestSaddleSheetFollowsTheCurves(t *testing.T) {
	for _, p := range everyPart(t) {
		if p.Kind != partfile.Saddle {
			continue
		}
		sheet := NewPartSheet(p).Saddle
		assert.Equal(t, 0.0, sheet.Curve[0].Station)
		assert.Equal(t, p.Saddle.Length, sheet.Curve[len(sheet.Curve)-1].Station)
		for i, c := range sheet.Curve {
			assert.InDelta(t, p.Saddle.Width(c.Station), c.Width, 6e-4)
			assert.InDelta(t, p.Saddle.Top(c.Station), c.Top, 6e-4)
			if i > 0 {
				assert.LessOrEqual(t, c.Station-sheet.Curve[i-1].Station, 20.0)
			}
		}
		for _, w := range sheet.Widths {
			assert.InDelta(t, w.Width, p.Saddle.Width(w.Station), 5e-3, "%s", p.ID)
		}
		assert.NotEmpty(t, sheet.Widths)
	}
}
