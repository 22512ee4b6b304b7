package words

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/diag"
	"carryover/internal/job"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// Agreement says in a sentence whether a bike's readings check one another and agree.
func Agreement(a *locate.Adjustment) string {
	all := a.WithAll().Global()
	switch {
	case !a.Measured():
		return "Nothing was read on it: this is what its marks and its file say."
	case all.DOF == 0:
		return "Nothing tells whether the readings are right: more of them would."
	case all.Passed && len(a.Suspects()) == 0:
		return "The readings agree."
	case Disagree(a):
		return "The readings disagree: mend them before anything rests on them."
	case a.Global().Passed:
		return "Without what is left out the readings agree."
	}
	return "The readings do not agree."
}

// Locate lays out where a rider touches a bike and how well its readings fit; all adds every number with its ±, and the
// parts.
func (p *Page) Locate(l *job.Located, all bool) {
	source, a := l.Source, l.Source.Adjusted
	p.Strong(Titled(source.Bike))
	if Disagree(a) {
		p.Danger("WORKED OUT FROM READINGS THAT DISAGREE: mend them first.")
	}
	p.Danger(Doubts(a)...)
	for _, t := range a.Unsupported() {
		p.Danger(diag.Visible(Sentence(t)))
	}
	if !compromise(a) { // else it is told above
		p.Para("", Agreement(a))
	}
	p.contacts(source, all)
	p.readings(a, all)
	p.Para("", assumed(a.Assumptions())...)
	if l.Plan != nil {
		p.plan(l.Plan, l.Target)
	}
	if all {
		p.parts(a)
		t := a.WithAll().Global()
		p.Space()
		p.Para("", fmt.Sprintf("All readings together: chi-square %s with %d to spare, p = %.2g, tested at %g.", Num(math.Max(0, t.Chi2), 1),
			t.DOF, t.P, a.Significance))
		p.Para("", either(compromise(a), "No ± counts what the readings disagree by.", Meaning))
	}
	p.versions(all, source.Bike.Versions(nil))
}

// contacts is where the rider touches, posture by posture.
func (p *Page) contacts(source *job.Source, all bool) {
	if len(source.Bike.Postures) == 0 {
		p.Para("", "Its file names no posture, so where a rider touches it is not known.")
	}
	var rows [][]string
	for _, posture := range source.Bike.Postures {
		pos, err := source.Adjusted.Position(posture)
		if err != nil {
			continue // its support is the rider's, who is not given
		}
		name := diag.Shorten(posture.Name, 16)
		for _, row := range Touches(source.Adjusted, &pos, all) {
			rows, name = append(rows, append([]string{name}, row...)), ""
		}
	}
	if len(rows) > 0 {
		p.Heading(TouchesHeading)
		sure := !all && !compromise(source.Adjusted)
		if sure {
			rows = append([][]string{{"", "", "", "", "", "could be out"}}, rows...)
		}
		p.Table("llrrlr", rows...)
		if sure {
			p.Para("", "Could be out: nineteen times in twenty it is less than that.")
		}
	}
}

// TouchesHeading is what Touches tells.
const TouchesHeading = "Where you touch it, seen from the BB"

// Touches are the contacts of a position: what touches, how far ahead and up, at which angle, and how sure that is; nothing of that
// where readings disagree, but for all.
func Touches(a *locate.Adjustment, pos *locate.Position, all bool) [][]string {
	var rows [][]string
	effects, err := a.Effects(pos.Posture)
	add := func(c assembly.Contact, k int, angle string) {
		rows = append(rows, []string{Touched(c.Name), ahead(c.At.X), MM(c.At.Y) + " up", angle,
			either(err == nil && (all || !compromise(a)), sureness(effects, k, all), "")})
	}
	add(pos.Sit, 0, Tilted(plane.Angle(pos.Sit.Angle), "nose"))
	add(pos.Hands, 3, Tilted(plane.Angle(pos.Hands.Angle), "front"))
	if pos.Second != nil {
		add(*pos.Second, 6, "")
	}
	return rows
}

func ahead(x float64) string { return MM(math.Abs(x)) + either(x < 0, " behind", " ahead") }

// sureness is how far a contact could be out by everything that is not exactly known, with each number in all.
func sureness(effects []locate.Effect, k int, all bool) string {
	x, y := locate.Total(effects, k), locate.Total(effects, k+1)
	if !all {
		return MM(2 * math.Hypot(x, y))
	}
	text := fmt.Sprintf("± %s, %s", Num(x, 1), Num(y, 1))
	if k < 6 {
		text += ", " + Degrees(plane.Angle(locate.Total(effects, k+2)))
	}
	return text
}

// readings lists the readings as read and as they fit.
func (p *Page) readings(a *locate.Adjustment, all bool) {
	p.Heading("Readings")
	judged, unchecked, suspects := a.Judged(), a.Unchecked(), a.Suspects()
	if a.WithAll().Global().DOF == 0 { // said of all of them
		unchecked = nil
	}
	head := []string{"", "", "read", "fits", "off", ""}
	if all {
		head[5] = "±"
	}
	rows := [][]string{head}
	lonely, wrong := false, false
	for i, o := range a.Observations {
		if o.Origin != locate.FromReading {
			continue
		}
		mark := ""
		switch {
		case slices.Contains(suspects, i):
			mark, wrong = "!", true
		case slices.Contains(unchecked, i):
			mark, lonely = "*", true
		}
		read, fitted := o.Written(o.Value.Value()), o.Written(judged[i].Fitted)
		fits, off := Bare(fitted), difference(read, fitted)
		if all {
			fits, off = Num(fitted.Shown(), 1), Signed(o.Written(judged[i].Residual).Shown(), 1)
			mark = Num(o.Written(o.Sigma).Shown(), 1) + " " + mark
		}
		rows = append(rows, []string{fmt.Sprint(o.Reading.Index), Called(*o.Reading), Trimmed(read.Shown(), 2) + inMM(read), fits + inMM(read),
			off, mark})
	}
	p.Table("rlrrrl", rows...)
	for _, k := range a.People() {
		p.Para(either(k.Apart, "  ! ", "  - "), people(k))
	}
	if wrong {
		p.Para("  ! ", "does not fit the others.")
	}
	if lonely {
		p.Para("  * ", "A mistake here would go unnoticed: measure it twice, or take a reading that sees the same thing.")
	}
}

// people says how two people's readings of one bike go together.
func people(k locate.Pair) string {
	const nobody = "whoever gave no name"
	first, second := diag.Shorten(cmp.Or(k.First, nobody), 30), diag.Shorten(cmp.Or(k.Second, nobody), 30)
	text := fmt.Sprintf("%s took %s and %s %d; in the %d that both took ", Capital(first), Counted(k.Taken[0], "reading"), second, k.Taken[1],
		len(k.Both))
	if k.Longer < 0 {
		first, second = second, first
	}
	var list, turned []string
	if k.Sigma > 0 { // they both took lengths
		list = append(list, fmt.Sprintf("%s reads %s longer than %s%s", second, Sure(plane.Length(math.Abs(k.Longer)), k.Sigma), first,
			either(k.Apart, ": one of them holds the tape otherwise", ", which is chance")))
	}
	for _, b := range k.Both {
		if b.First.Turns() && b.Apart {
			turned = append(turned, b.Reading)
		}
	}
	if len(turned) > 0 {
		list = append(list, "they are apart in "+List(turned))
	}
	return text + cmp.Or(strings.Join(list, "; "), "they agree") + "."
}

// parts is where the parts are.
func (p *Page) parts(a *locate.Adjustment) {
	p.Heading("Where its parts are, seen from the BB")
	var rows [][]string
	for _, v := range a.Values() {
		rows = append(rows, []string{v.Called(), fine(v.Value, v.Sigma.Value())})
	}
	p.Table("lr", rows...)
}

// plan is what to measure next.
func (p *Page) plan(plan *locate.Plan, target *bike.Bike) {
	p.Heading("What to measure next")
	of := "the contacts"
	if target != nil {
		of = "the settings of " + Bike(target)
	}
	if len(plan.Steps) == 0 {
		p.Para("", fmt.Sprintf("Nothing: no usual reading would make %s noticeably surer than their ± %s mm in all.", of, Num(plan.Now, 1)))
		return
	}
	p.Para("", fmt.Sprintf("The ± of %s comes to %s mm in all. In this order each reading takes off most:", of, Num(plan.Now, 1)))
	rows := [][]string{{"", "", "takes off", "leaves"}}
	for i, s := range plan.Steps {
		rows = append(rows, []string{fmt.Sprint(i + 1), taken(s), Num(s.Gain, 1) + NoBreak + "mm", Num(s.Spread, 1) + NoBreak + "mm"})
	}
	p.Table("rlrr", rows...)
}

// taken is a reading to take.
func taken(s locate.Step) string { return Called(s.Reading) + either(s.Again, ", once more", "") }

// Surer says what further readings would buy: what the ± of the contacts in all becomes with each.
func Surer(now float64, steps []locate.Step) []string {
	var list []string
	for _, s := range steps {
		list = append(list, Sentence(fmt.Sprintf("%s: ±%s%s mm in all becomes ±%s%s mm", taken(s), NoBreak, Num(now, 1), NoBreak,
			Num(s.Spread, 1))))
		now = s.Spread
	}
	return list
}
