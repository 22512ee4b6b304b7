package words

import (
	"fmt"
	"math"
	"regexp"
	"strings"
	"testing"

	"carryover/internal/carry"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/catalogs"
	"carryover/internal/catalog"
	"carryover/internal/partfile"
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
		scale := number(t, drawing, "a column is ")
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

// number is what stands behind words.
func number(t *testing.T, text, after string) (v float64) {
	t.Helper()
	_, rest, found := strings.Cut(text, after)
	require.True(t, found, after)
	_, err := fmt.Sscan(rest, &v)
	require.NoError(t, err)
	return v
}

// Every part's picture stands on one screen without empty rows, all signs that its caption names are to be seen, and what is
// drawn hangs together: nothing floats.
func TestEveryPicture(t *testing.T) {
	for _, p := range everyPart(t) {
		for _, drawing := range strings.Split(outline(p), "\nProfile") {
			rows := strings.Split(strings.TrimSuffix(drawing, "\n"), "\n")
			caption := rows[0]
			for rows[0] != "" {
				rows = rows[1:]
			}
			rows = rows[1:]
			assert.LessOrEqual(t, len(rows), pictureRows, p.ID)
			require.NotEmpty(t, strings.TrimSpace(rows[0]), "%s: an empty row above", p.ID)
			require.NotEmpty(t, strings.TrimSpace(rows[len(rows)-1]), "%s: an empty row below", p.ID)
			for _, sign := range regexp.MustCompile(`[:,] ([A-Z]) `).FindAllStringSubmatch(caption, -1) {
				assert.Contains(t, strings.Join(rows, ""), sign[1], "%s: %s", p.ID, caption)
			}
			if p.Kind == partfile.Clipon || p.Kind == partfile.Saddle {
				continue // its grips float: the extensions lie beside the pads; rails lie under the saddle
			}
			// Flood from the first letter over neighbours, diagonal ones too.
			ink := map[[2]int]bool{}
			var open [][2]int
			for y, row := range rows {
				for x, c := range row {
					if c != ' ' {
						ink[[2]int{x, y}] = true
					}
				}
			}
			for at := range ink {
				open = append(open, at)
				break
			}
			for len(open) > 0 {
				at := open[0]
				open = open[1:]
				for dx := -1; dx <= 1; dx++ {
					for dy := -1; dy <= 1; dy++ {
						next := [2]int{at[0] + dx, at[1] + dy}
						if ink[next] {
							delete(ink, next)
							open = append(open, next)
						}
					}
				}
			}
			assert.Empty(t, ink, "%s: something floats\n%s", p.ID, drawing)
		}
	}
}

// What no reading can confirm has none beside it, and not one from nowhere to nowhere.
func TestAStepWithoutAReadingNamesNone(t *testing.T) {
	assert.Empty(t, stepCheck(carry.Step{Gauge: carry.Gauge{Own: "none"}}))
	assert.NotEmpty(t, stepCheck(carry.Step{Gauge: carry.Gauge{Own: "crank"}}))
}
