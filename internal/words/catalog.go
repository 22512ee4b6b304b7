package words

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"carryover/internal/catalog"
	"carryover/internal/diag"
	"carryover/internal/partfile"
)

// Catalog lists parts, those of one kind together; a name that does not fit is cut short.
func (p *Page) Catalog(parts []catalog.Line) {
	for len(parts) > 0 {
		n := 1
		for n < len(parts) && parts[n].Kind == parts[0].Kind {
			n++
		}
		const heading = "sizes, mm"
		id, sizes := Columns(parts[0].Kind), Columns(heading)
		for _, k := range parts[:n] {
			id, sizes = max(id, Columns(diag.Visible(k.ID))), max(sizes, Columns(k.Sizes))
		}
		p.Space()
		p.Line(Left(parts[0].Kind, id) + "  " + Left(heading, sizes) + "  name")
		for _, k := range parts[:n] {
			p.Line(Left(diag.Visible(k.ID), id) + "  " + Left(k.Sizes, sizes) + "  " + diag.Shorten(k.Name, max(p.Width-id-sizes-4, 12)))
		}
		parts = parts[n:]
	}
}

// Part lays out a part: its keys, the sampled curve of a saddle, and an outline to scale.
func (p *Page) Part(part *partfile.Part) {
	s := catalog.NewSheet(part)
	p.Line(s.Kind + " " + diag.Visible(s.ID))
	p.Line(diag.Visible(s.Name))
	p.Space()
	var rows [][]string
	for _, key := range slices.Sorted(maps.Keys(s.Shape)) {
		rows = append(rows, []string{key, shown(s.Shape[key])})
	}
	p.Table("ll", append(rows, []string{"version", s.Version})...)
	if s.Saddle != nil {
		p.Para("", "In mm: stations go back from the nose, heights are against a straightedge laid along the saddle. The rails can be held "+
			"from one station to another, so far below the straightedge.")
		p.curve(s.Saddle)
	}
	p.Space()
	for _, l := range strings.Split(strings.TrimRight(outline(part), "\n"), "\n") {
		p.Line(l)
	}
}

// shown writes the value of a key as its file does.
func shown(v any) string {
	var list []string
	switch v := v.(type) {
	case float64:
		return Trimmed(v, 1)
	case [2]float64:
		return shown(v[:])
	case []float64:
		for _, e := range v {
			list = append(list, Trimmed(e, 1))
		}
		return "[" + strings.Join(list, ", ") + "]"
	case map[string]float64:
		for _, k := range slices.Sorted(maps.Keys(v)) {
			list = append(list, k+" "+Trimmed(v[k], 1))
		}
	case map[string]any:
		for _, k := range slices.Sorted(maps.Keys(v)) {
			list = append(list, k+" "+shown(v[k]))
		}
	default:
		return fmt.Sprint(v)
	}
	return strings.Join(list, ", ")
}

func (p *Page) curve(s *catalog.SaddleSheet) {
	p.Heading("Curve")
	rows := [][]string{{"station", "width", "height"}}
	for _, c := range s.Curve {
		rows = append(rows, []string{Num(c.Station, 0), Num(c.Width, 1), Num(c.Top, 1)})
	}
	p.Table("rrr", rows...)
	p.Heading("References")
	rows = [][]string{{"reference", "station", "width", "height"}}
	for _, r := range s.References {
		rows = append(rows, []string{r.Reference, Num(r.Station, 1), Num(r.Width, 1), Num(r.Top, 1)})
	}
	p.Table("lrrr", rows...)
	p.Heading("Where it reaches a width")
	rows = [][]string{{"width", "station"}}
	for _, w := range s.Widths {
		rows = append(rows, []string{Num(w.Width, 0), Num(w.Station, 1)})
	}
	p.Table("rr", rows...)
}
