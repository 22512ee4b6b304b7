package words

import (
	"strings"

	"carryover/internal/job"
)

// Examples lists the example files.
func (p *Page) Examples(files []job.ExampleFile) {
	rows := [][]string{}
	for _, f := range files {
		var has []string
		if len(f.Postures) > 0 {
			has = append(has, strings.Join(f.Postures, " and "))
		}
		for _, n := range []struct {
			count int
			noun  string
		}{{f.Adjusters, "adjuster"}, {f.Readings, "reading"}, {f.Calibrations, "calibration"}} {
			if n.count > 0 {
				has = append(has, Counted(n.count, n.noun))
			}
		}
		what := f.Title
		if len(has) > 0 {
			what += ": " + strings.Join(has, ", ")
		}
		rows = append(rows, []string{f.Name, what})
	}
	p.Table("ll", rows...)
}
