package sheet

import (
	"io"
	"time"

	"carryover/internal/job"
	"carryover/internal/words"
)

// Stems writes the page for a client who is to buy a stem: two sentences, and between which to choose.
func Stems(w io.Writer, c *job.Carry, date time.Time, inputs []Input) error {
	from, to := words.Names(c.Bike, c.Target)
	v := view{Kind: "Stems to buy", Title: to, Date: date.Format(time.DateOnly), Lead: "to hold it as " + from,
		Inputs: versioned(inputs, c.Versions())}
	v.Facts = facts(c.Rider, c.Target.Record, c.Bike.Record, from)
	for _, r := range c.Results {
		p := posture{ID: v.next(), Name: shown(r.Position.Posture.Name), Verdict: words.Stems(r), Carried: r.Stems[0].Carried(),
			Work: "Any one of these", Below: "Below each: what it is built with, and where your hands come to be."}
		for _, s := range r.Stems {
			what, how, near := words.Stem(s)
			p.Steps = append(p.Steps, step{[]words.Row{{What: "stem", To: what}}, how + "; " + near})
		}
		v.Postures = append(v.Postures, p)
	}
	return v.write(w)
}
