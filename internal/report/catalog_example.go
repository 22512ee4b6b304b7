package report

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
)

// Examples lists the example files, as JSON.
type Examples struct {
	Schema   int           `json:"schema"`
	Examples []ExampleFile `json:"examples"`
}

// ExampleFile is one example: what to call it on the command line and what it holds.
type ExampleFile struct {
	Name      string   `json:"name"`
	Kind      string   `json:"kind"`
	Title     string   `json:"title"`
	Postures  []string `json:"postures,omitempty"`
	Readings  int      `json:"readings"`
	Adjusters int      `json:"adjusters"`
	// Calibrations is how many standings a frame whose scales are not known was measured at.
	Calibrations int `json:"calibrations"`
}

// WriteExamples writes the list as a table.
func WriteExamples(w io.Writer, files []ExampleFile) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "name\twhat it is")
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
				has = append(has, several(n.count, n.noun))
			}
		}
		what := f.Title
		if len(has) > 0 {
			what += ": " + strings.Join(has, ", ")
		}
		fmt.Fprintf(t, "%s\t%s\n", f.Name, what)
	}
	return t.Flush()
}

// several is "1 reading", "2 readings".
func several(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}
