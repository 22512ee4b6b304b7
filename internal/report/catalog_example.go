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
}

// WriteExamples writes the list as a table.
func WriteExamples(w io.Writer, files []ExampleFile) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "name\twhat it is")
	for _, f := range files {
		what := f.Title
		switch {
		case f.Readings > 0:
			what += fmt.Sprintf(": %s, %s", strings.Join(f.Postures, " and "), several(f.Readings, "reading"))
		case f.Adjusters > 0:
			what += ": " + several(f.Adjusters, "adjuster")
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
