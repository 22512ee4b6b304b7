package page

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/diag"
	"carryover/internal/job"
	"carryover/internal/locate"
	"carryover/internal/words"
	"carryover/internal/written"
)

// carryPage is a carry: every posture as the command line tells it, one of them to be worked through.
type carryPage struct {
	pair
	Doubts, Assumed []string
	Meaning         string
	Results         []carriedPosture
}

// carriedPosture is one posture carried, or why it cannot be.
type carriedPosture struct {
	Name, Verdict                 string
	Good                          bool
	Dangers, Cures, Minds, Failed []string
	Rows                          []words.Row // where several postures are shown
	Steps                         []stepCard  // where it is the only one
	Checks                        []checkField
	Disagree                      []string // what was typed beside one another
	AllDone                       bool
	Progress, Finished            string
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
	Sure                  string // how sure its scale is
	Picture               template.HTML
	Check, Tool           string
	Typed, Answer         string
	Tone                  string // good, off, or nothing
	Stands                []field
	Move                  field // the mark to move it to, as a button says it
	Done, Current, Signed bool
}

// All is what stands for every posture in a list.
func (p *carryPage) All() string { return "all" }

// Done reports whether every step is ticked.
func (p *carryPage) Done() bool { return len(p.Results) == 1 && p.Results[0].AllDone }

func (v *visit) carry() Response {
	p := carryPage{Meaning: words.Meaning}
	return v.paired("carry", "Carry", "This cannot be carried", &p.pair, &p, p.work)
}

// work carries, and goes through the steps with what was typed.
func (p *carryPage) work(v *visit) error {
	c, err := p.carried(v)
	if err != nil {
		return err
	}
	p.Doubts, p.Assumed = words.PairDoubts(c), words.PairAssumed(c)
	for _, f := range c.Failed {
		p.Results = append(p.Results, carriedPosture{Name: f.Name, Verdict: words.CannotCarry(f),
			Failed: strings.Split(diag.Visible(words.Failure(f.Err)), "\n")})
	}
	for _, r := range c.Results {
		k := carriedPosture{Name: r.Position.Posture.Name, Good: words.Sound(r) && len(p.Doubts) == 0, Verdict: words.PostureVerdict(r),
			Dangers: append(words.Dangers(r), words.Impossible(r.Body)...), Cures: words.Cures(r), Minds: words.Minds(r),
			Finished: words.Finished(r)}
		if joints := words.Joints(r.Body); joints != "" {
			k.Minds = append(k.Minds, joints)
		}
		if len(c.Results) == 1 {
			k.steps(v, r)
		} else {
			k.Rows = words.Rows(r)
		}
		p.Results = append(p.Results, k)
	}
	return nil
}

// typed reads what stands in a field; ok is false where nothing, or no number, does.
func typed(text string, answer, tone *string) (x float64, ok bool) {
	if text == "" {
		return 0, false
	}
	x, err := written.Quantity(text)
	if err != nil {
		*answer, *tone = words.Sentence(err.Error()), "off"
	}
	return x, err == nil
}

// tell says an answer with a sign that does not need colour.
func tell(text string, good bool, answer, tone *string) {
	*answer, *tone = "→ "+text, "off"
	if good {
		*answer, *tone = "✓ "+text, "good"
	}
}

// stands are the marks that a person has moved on to, by setting. What has just been moved is taken anew: its old reading is gone.
func (v *visit) stands(r *job.Result) map[int]float64 {
	if at := strings.Split(v.get("moved"), " "); len(at) == 3 { // step, setting, mark
		v.req.Query.Set("m"+at[1], at[2])
		v.req.Query.Del("t" + at[0])
	}
	marks := map[int]float64{}
	for i, set := range r.Settings {
		if x, err := strconv.ParseFloat(v.get("m"+strconv.Itoa(i)), 64); err == nil && set.Scale && set.Adjuster >= 0 && math.Abs(x) < 1e4 {
			marks[i] = x
		}
	}
	return marks
}

func (p *carriedPosture) steps(v *visit, r *job.Result) {
	for _, row := range words.Rows(r) {
		if row.Step > 0 {
			p.Steps = append(p.Steps, stepCard{No: row.Step})
		}
		s := &p.Steps[len(p.Steps)-1]
		s.Rows = append(s.Rows, row)
		s.Check += row.Check
	}
	marks := v.stands(r)
	var read []bike.Reading
	done, current := 0, false
	for i := range p.Steps {
		s, step := &p.Steps[i], r.Steps[i]
		no := strconv.Itoa(s.No)
		s.Typed, s.Done, s.Tool = v.get("t"+no), v.get("d"+no) != "", "tape"
		s.Picture, s.Sure = ruler(r, step, marks), words.ScaleSure(r, step)
		if s.Signed = step.Gauge.Turns(); s.Signed {
			s.Tool = "level"
		}
		for _, k := range step.Settings {
			if m, ok := marks[k]; ok {
				s.Stands = append(s.Stands, field{"m" + strconv.Itoa(k), words.Mark(&r.Target.Adjusters[r.Settings[k].Adjuster], m)})
			}
		}
		if x, ok := typed(s.Typed, &s.Answer, &s.Tone); ok {
			if step.Gauge.Own == "" && len(step.Disturbed) == 0 {
				read = append(read, words.Typed(step.Gauge.Reading, step.Value, x, s.No))
			}
			a := words.Taped(r, step, marks, x)
			tell(a.Text, a.Good, &s.Answer, &s.Tone)
			if a.To != "" {
				s.Move = field{fmt.Sprintf("%d %d %s", s.No, a.Setting, a.To), a.To}
			}
		}
		if s.Done {
			done++
		} else if !current {
			s.Current, current = true, true
		}
	}
	p.AllDone = done == len(p.Steps)
	p.Progress = fmt.Sprintf("%d of %s done; the reading of each, in mm, confirms it.", done, words.Counted(len(p.Steps), "step"))
	p.Disagree = together(r, marks, append(read, p.checks(v, r)...))
}

// checks are the readings of the finished bike; it returns those that were typed.
func (p *carriedPosture) checks(v *visit, r *job.Result) (read []bike.Reading) {
	for i, c := range r.Checks {
		k := checkField{ID: fmt.Sprintf("c%d", i+1), No: len(p.Steps) + i + 1, Signed: c.Reading.Kind == bike.Angle}
		k.Name, k.Value = words.Should(c)
		k.Typed = v.get(k.ID)
		if x, ok := typed(k.Typed, &k.Answer, &k.Tone); ok {
			text, good := words.Checked(c, x)
			tell(text, good, &k.Answer, &k.Tone)
			read = append(read, words.Typed(c.Reading, c.Value, x, k.No))
		}
		p.Checks = append(p.Checks, k)
	}
	return read
}

// together says which of the readings taken at the steps disagree, with one another and with the marks, by the findings that
// `carryover confirm` tells: the bike as it is to stand, read by them alone.
func together(r *job.Result, marks map[int]float64, read []bike.Reading) []string {
	const least = 2 // one reading agrees with itself
	if len(read) < least {
		return nil
	}
	b := *r.Target
	b.Readings, b.Postures, b.Marks, b.Adjusters = read, []bike.Posture{r.Position.Posture}, map[string]float64{}, slices.Clone(b.Adjusters)
	const anywhere = 100 // mm or degrees: what has no scale is where the tape says
	for i, set := range r.Settings {
		if set.Adjuster < 0 {
			continue
		}
		a := &b.Adjusters[set.Adjuster]
		b.Marks[a.Name] = set.Mark()
		if m, ok := marks[i]; ok {
			b.Marks[a.Name] = m
		}
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
