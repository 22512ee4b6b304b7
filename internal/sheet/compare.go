package sheet

import (
	"io"
	"time"

	"carryover/internal/diag"
	"carryover/internal/job"
	"carryover/internal/words"
)

// Compared writes the page that puts two bikes, or two dates of one, beside one another.
func Compared(w io.Writer, c *job.Comparison, date time.Time, inputs []Input) error {
	a, b := words.Dated(c)
	v := view{Kind: "Comparison", Title: "A: " + a, Lead: "B: " + b, Date: date.Format(time.DateOnly), Meaning: words.Meaning,
		Inputs: versioned(inputs, append(c.A.Bike.Versions(nil), c.B.Bike.Versions(nil)...))}
	v.Bikes = []machine{{"A", parts(c.A.Bike, nil)}, {"B", parts(c.B.Bike, nil)}}
	v.Facts = facts(c.A.Rider, c.B.Bike.Record, c.A.Bike.Record, "A")
	v.Doubts, v.Assumed = words.OfEach(c, words.Doubts), words.OfEach(c, words.Assumed)
	v.Says = []string{words.Changes(c)}
	if t := words.OtherParts(c); t != "" {
		v.Says = append(v.Says, t)
	}
	for _, n := range c.Notes {
		v.Says = append(v.Says, diag.Visible(words.Sentence(n)))
	}
	v.Tables = words.Compared(c, false)
	return v.write(w)
}
