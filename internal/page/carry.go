package page

import (
	"fmt"
	"html/template"
	"slices"
	"strconv"

	"carryover/internal/bike"
	"carryover/internal/diag"
	"carryover/internal/job"
	"carryover/internal/locate"
	"carryover/internal/words"
	"carryover/internal/written"
)

// pair is the two bikes of a page, with what there is to choose from.
type pair struct {
	From, To, Posture string
	PostureNames      []string
	Sources, Targets  []card
}

func (v *visit) pair() (pair, error) {
	own, examples, err := v.bikes()
	p := pair{From: v.get("from"), To: v.get("to"), Posture: v.get("posture")}
	for _, c := range slices.Concat(own, examples) {
		if c.Wrong != nil {
			continue
		}
		p.Targets = append(p.Targets, c)
		if len(c.Postures) > 0 {
			p.Sources = append(p.Sources, c)
		}
	}
	if p.From == "" && p.To != "" {
		p.From = only(own, p.To)
	}
	return p, err
}

// only is the one bike of one's own, beside another, that a position can be carried from; "" where there is a choice.
func only(own []card, but string) string {
	found := ""
	for _, c := range own {
		switch {
		case c.File == but || c.Wrong != nil || len(c.Postures) == 0:
		case found != "":
			return ""
		default:
			found = c.File
		}
	}
	return found
}

// carryPage is a carry as it is worked through.
type carryPage struct {
	pair
	Wrong                                *trouble
	Result                               *job.Result
	Good                                 bool
	AllDone                              bool
	Verdict, Progress, Finished, Meaning string
	Disagree                             []string // what was typed beside one another
	Doubts, Dangers, Minds, Assumed      []string
	Steps                                []stepCard
	Checks                               []checkField // of the finished bike
}

// checkField is a reading of the finished bike.
type checkField struct {
	ID, Name, Value, Typed, Answer, Tone string
	No                                   int // goes on from the steps
	Signed                               bool
}

// stepCard is one step, with what the tape said after it.
type stepCard struct {
	No                    int
	Rows                  []words.Row
	Picture               template.HTML
	Check, Tool           string
	Typed, Answer         string
	Tone                  string // good, off, or nothing
	Done, Current, Signed bool
}

func (v *visit) carry() Response {
	var err error
	p := carryPage{Meaning: words.Meaning}
	if p.pair, err = v.pair(); err != nil {
		return v.problem(StatusFailed, "The folder cannot be read", err)
	}
	status := StatusOK
	if p.From != "" && p.To != "" {
		if err := p.work(v); err != nil {
			p.Wrong, status = newTrouble("This cannot be carried", err), StatusUnprocessed
		}
	}
	return v.show(status, "carry", "Carry", p)
}

// carried is the pair's job, and its result in the posture that was picked.
func (p *pair) carried(v *visit) (*job.Carry, *job.Result, error) {
	c, err := v.files.Carry(v.ctx, job.Asked{From: p.From, To: p.To})
	if err != nil {
		return nil, nil, err
	}
	var r *job.Result
	for _, k := range c.Results {
		name := k.Position.Posture.Name
		p.PostureNames = append(p.PostureNames, name)
		if r == nil || name == p.Posture {
			r = k
		}
	}
	p.Posture = r.Position.Posture.Name
	return c, r, nil
}

// work carries, and goes through the steps with what was typed.
func (p *carryPage) work(v *visit) error {
	c, r, err := p.carried(v)
	if err != nil {
		return err
	}
	p.Result = r
	p.Doubts = words.PairDoubts(c)
	p.Good = r.Carried() && len(p.Doubts) == 0
	p.Verdict, p.Dangers, p.Minds = words.Verdict(r), append(words.Dangers(r), words.Cures(r)...), words.Minds(r)
	p.Assumed, p.Finished = words.PairAssumed(c), words.Finished(r)
	for _, f := range c.Failed {
		p.Dangers = append(p.Dangers, "Posture "+diag.Shorten(f.Name, 22)+": "+diag.Visible(words.Failure(f.Err)))
	}
	p.steps(v, r)
	return nil
}

func (p *carryPage) steps(v *visit, r *job.Result) {
	for _, row := range words.Rows(r) {
		if row.Step > 0 {
			p.Steps = append(p.Steps, stepCard{No: row.Step})
		}
		s := &p.Steps[len(p.Steps)-1]
		s.Rows = append(s.Rows, row)
		s.Check += row.Check
	}
	var typed []bike.Reading
	done := 0
	current := false
	for i := range p.Steps {
		s := &p.Steps[i]
		no := strconv.Itoa(s.No)
		s.Typed, s.Done, s.Tool = v.get("t"+no), v.get("d"+no) != "", "tape"
		step := r.Steps[i]
		s.Picture = ruler(r, step)
		if s.Signed = step.Gauge.Turns(); s.Signed {
			s.Tool = "level"
		}
		if s.Typed != "" {
			x, err := written.Quantity(s.Typed)
			if err == nil && step.Gauge.Own == "" && len(step.Disturbed) == 0 {
				typed = append(typed, words.Typed(step.Gauge.Reading, step.Value, x, s.No))
			}
			if err != nil {
				s.Answer, s.Tone = words.Sentence(err.Error()), "off"
			} else if answer, good := words.Taped(r, step, x); good {
				s.Answer, s.Tone = "✓ "+answer, "good"
			} else {
				s.Answer, s.Tone = "→ "+answer, "off"
			}
		}
		if s.Done {
			done++
		} else if !current {
			s.Current, current = true, true
		}
	}
	p.AllDone = done == len(p.Steps)
	for i, c := range r.Checks {
		k := checkField{ID: fmt.Sprintf("c%d", i+1), No: len(p.Steps) + i + 1, Signed: c.Reading.Kind == bike.Angle}
		k.Name, k.Value = words.Should(c)
		if k.Typed = v.get(k.ID); k.Typed != "" {
			x, err := written.Quantity(k.Typed)
			switch answer, good := words.Checked(c, x); {
			case err != nil:
				k.Answer, k.Tone = words.Sentence(err.Error()), "off"
			case good:
				k.Answer, k.Tone = "✓ "+answer, "good"
			default:
				k.Answer, k.Tone = "→ "+answer, "off"
			}
			if err == nil {
				typed = append(typed, words.Typed(c.Reading, c.Value, x, k.No))
			}
		}
		p.Checks = append(p.Checks, k)
	}
	p.Disagree = together(r, typed)
	p.Progress = fmt.Sprintf("%d of %s done.", done, words.Counted(len(p.Steps), "step"))
}

// together says which of the readings taken at the steps disagree, with one another and with the marks, in the words of
// `carryover locate`: the bike as it is to stand, read by them alone.
func together(r *job.Result, typed []bike.Reading) []string {
	const least = 2 // one reading agrees with itself
	if len(typed) < least {
		return nil
	}
	b := *r.Target
	b.Readings, b.Postures, b.Marks, b.Adjusters = typed, []bike.Posture{r.Position.Posture}, map[string]float64{}, slices.Clone(b.Adjusters)
	const anywhere = 100 // mm or degrees: what has no scale is where the tape says
	for _, set := range r.Settings {
		if set.Adjuster < 0 {
			continue
		}
		a := &b.Adjusters[set.Adjuster]
		b.Marks[a.Name] = set.Mark()
		if !set.Scale {
			a.NoScale, a.Sigma = false, anywhere
		}
	}
	a, err := locate.Adjust(&b, r.Source.Rider, locate.Options{})
	if err != nil || a.Err() != nil {
		return nil // too few yet to say where everything is
	}
	return words.Doubts(a)
}
