package page

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"

	"carryover/internal/bike"
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
	Name, Verdict         string
	Good                  bool
	Dangers, Cures, Minds []string
	Failed                *trouble
	Rows                  []words.Row // where several postures are shown
	Steps                 []stepCard  // where it is the only one
	Checks                []entry     // readings of the finished bike, numbered on from the steps
	Disagree              []string    // what was typed beside one another
	AllDone               bool
	Progress, Finished    string
}

// entry is a field for what a tape or a level says, with the answer to it.
type entry struct {
	ID, Label, Typed string
	Out, Answer      string // Out is the id of the answer
	Tone             string // good, off, or nothing
	Signed           bool
}

// stepCard is one step, with what the tape said after it.
type stepCard struct {
	No            int
	Rows          []words.Row
	Sure          string // how sure its scale is
	Picture       template.HTML
	Check         string
	Read          entry
	Stands        []field
	Move          field // the mark to move it to, as a button says it
	Done, Current bool
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
	readings := c.Told()
	p.Doubts, p.Assumed = words.AllDoubts(readings), words.AllAssumed(readings)
	for _, f := range c.Failed {
		p.Results = append(p.Results, carriedPosture{Name: f.Name, Verdict: words.CannotCarry(f), Failed: newTrouble("", f.Err)})
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

// entry is the field of an id; ok is false where nothing, or no number, stands in it.
func (v *visit) entry(id, out, label string, signed bool) (e entry, x float64, ok bool) {
	e = entry{ID: id, Out: out, Label: label, Typed: v.get(id), Signed: signed}
	if e.Typed == "" {
		return e, 0, false
	}
	x, err := written.Quantity(e.Typed)
	if err != nil {
		e.Answer, e.Tone = words.Sentence(err.Error()), "off"
	}
	return e, x, err == nil
}

// tell says an answer with a sign that does not need colour.
func (e *entry) tell(text string, good bool) {
	e.Answer, e.Tone = "→ "+text, "off"
	if good {
		e.Answer, e.Tone = "✓ "+text, "good"
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
		s.Done, s.Picture, s.Sure = v.get("d"+no) != "", ruler(r, step, marks), words.ScaleSure(r, step)
		tool := map[bool]string{false: "tape", true: "level"}[step.Gauge.Turns()]
		for _, k := range step.Settings {
			if m, ok := marks[k]; ok {
				s.Stands = append(s.Stands, field{"m" + strconv.Itoa(k), words.Mark(&r.Target.Adjusters[r.Settings[k].Adjuster], m)})
			}
		}
		var x float64
		var ok bool
		if s.Read, x, ok = v.entry("t"+no, "a"+no, "What the "+tool+" says", step.Gauge.Turns()); ok {
			if step.Gauge.Own == "" && len(step.Disturbed) == 0 {
				read = append(read, words.Typed(step.Gauge.Reading, step.Value, x, s.No))
			}
			a := words.Taped(r, step, marks, x)
			s.Read.tell(a.Text, a.Good)
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
		no, id := len(p.Steps)+i+1, fmt.Sprintf("c%d", i+1)
		name, value := words.Should(c)
		e, x, ok := v.entry(id, "a"+id, fmt.Sprintf("%d. %s: %s", no, name, value), c.Reading.Kind == bike.Angle)
		if ok {
			e.tell(words.Checked(c, x))
			read = append(read, words.Typed(c.Reading, c.Value, x, no))
		}
		p.Checks = append(p.Checks, e)
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
