package catalog_test

import (
	"testing"

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

func TestSaddleSheetFollowsTheCurves(t *testing.T) {
	for _, p := range everyPart(t) {
		if p.Kind != partfile.Saddle {
			continue
		}
		sheet := catalog.NewSheet(p).Saddle
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
