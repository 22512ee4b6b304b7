package words

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"carryover/internal/assembly"
	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/diag"
	"carryover/internal/job"
	"carryover/internal/locate"
	"carryover/internal/partfile"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// more is what a result has beyond what is needed at the bike.
func (p *Page) more(r *job.Result) {
	from, _ := Names(r.Source.Bike, r.Target)
	p.Heading("If you change a setting later")
	for _, c := range r.Couplings {
		p.Para("- ", Coupling(r.Solution, c))
	}
	if len(r.Couplings) == 0 {
		p.Para("", "No setting changes what another has put right.")
	}
	p.Heading("Checks of the finished bike, with nobody on it")
	var rows [][]string
	for _, c := range r.Checks {
		name, how, _ := Check(c.Reading, c.Value.Value(), 0)
		rows = append(rows, []string{name, how, fine(quantity(c.Reading, c.Value.Value()), c.SigmaTotal)})
	}
	p.Table("lll", rows...)
	rows = nil
	for _, set := range r.Settings {
		if text := settingSure(set); text != "" {
			rows = append(rows, []string{Setting(set.Name), text})
		}
	}
	if len(rows) > 0 {
		p.Heading("How sure each setting is, with everything that is not exactly known")
		p.Table("lr", rows...)
	}
	p.Heading("How sure the contacts are")
	rows = [][]string{{"", "fore and aft", "up and down", "angle", fmt.Sprintf("(from the readings of %s)", from)}}
	for _, c := range r.Sure {
		miss := Num(c.Miss, 1)
		rows = append(rows, []string{Touched(c.Name), Num(c.WantX, 1) + NoBreak + "mm", Num(c.WantY, 1) + NoBreak + "mm",
			either(c.WantAngle > 0, Degrees(plane.Angle(c.WantAngle)), ""),
			either(miss == "0.0", "", "what it misses by is known to ± "+miss+NoBreak+"mm")})
	}
	p.Table("lrrrl", rows...)
	p.Para("", fmt.Sprintf("You sit where the saddle is %s mm wide.", Num(r.Position.Posture.Support, 0))+
		either(r.Combinations > 1, fmt.Sprintf(" This is the best of %s combinations of parts and steps.", Thousands(r.Combinations)), ""))
}

// fine is a quantity to a tenth with its ±.
func fine(q plane.Quantity, sigma float64) string {
	text := Num(q.Shown(), 1)
	if s := Num(q.Of(sigma).Shown(), 1); s != "0.0" {
		text += NoBreak + "±" + NoBreak + s
	}
	return text + unit(q)
}

func (p *Page) draws(d *carry.Draws) {
	if d == nil {
		return
	}
	p.Heading(fmt.Sprintf("%d draws of the readings, each worked out anew (seed %d)", d.N, d.Seed))
	rows := [][]string{{"", "mean", "±", "95 % of them between", ""}}
	for _, k := range d.Settings {
		rows = append(rows, []string{Setting(k.Name), fine(k.Mean, 0), fine(k.Sigma, 0), Num(k.Lo.Shown(), 1), "and " + fine(k.Hi, 0)})
	}
	p.Table("lrrrl", rows...)
	for _, k := range d.Settings {
		if k.In < 1 {
			p.Para("  ", fmt.Sprintf("%s is there in %s; the others come out with parts that do not have it.", Setting(k.Name), share(k.In, d.N)))
		}
	}
	p.Para("  ", fmt.Sprintf("Carried in %s.", share(d.Carried, d.N)))
	if d.Void > 0 {
		p.Para("  ", fmt.Sprintf("%d more draws have no answer.", d.Void))
	}
	for _, c := range d.Choices {
		text := fmt.Sprintf("%s: %s in %s", Setting(c.Name), diag.Shorten(c.Chosen, 30), share(1-c.Other, d.N))
		if c.Next != "" {
			text += fmt.Sprintf("; next %s in %s%s%%", diag.Shorten(c.Next, 30), percent(c.NextIn), NoBreak)
		}
		p.Para("  ", text+".")
	}
}

// share is a share of n draws in words.
func share(v float64, n int) string {
	switch v {
	case 1:
		return fmt.Sprintf("all %d draws", n)
	case 0:
		return fmt.Sprintf("none of %d draws", n)
	}
	return fmt.Sprintf("%s%s%% of %d draws", percent(v), NoBreak, n)
}

// percent is a share in hundredths; what is neither all nor nothing never reads as such.
func percent(v float64) string {
	switch v *= 100; {
	case v > 0 && v < 0.1:
		return "fewer than 0.1"
	case v < 100 && v > 99.9:
		return "more than 99.9"
	}
	return Trimmed(v, 1)
}

// faults are what may be off of parts, as a person says it.
var faults = [assembly.Faults]string{"the widths of the saddle", "the heights of the saddle", "the support", "the bar, fore and aft",
	"the bar, up and down", "the lever, along the bar", "the lever, out from the bar", "the clip-on, fore and aft", "the clip-on, up and down"}

// caused says what a cause of uncertainty is.
func caused(r *job.Result, c *carry.Cause) string {
	on := " of " + Bike(r.Source.Bike)
	switch c.Of {
	case carry.OfTarget:
		on = " of " + Bike(r.Target)
	case carry.OfBoth:
		on = " of both"
	}
	half := map[assembly.Body]string{assembly.Saddle: "saddle", assembly.Bar: "bar"}[c.Body]
	switch {
	case c.Kind == locate.ByObservation && c.Of == carry.OfTarget:
		return observed(r.Standing.Adjusted, c.Observation) + on
	case c.Kind == locate.ByObservation:
		return observed(r.Source.Adjusted, c.Observation)
	case c.Kind == locate.ByFault && c.Fault == assembly.Support:
		return faults[c.Fault]
	case c.Kind == locate.ByFault:
		return faults[c.Fault] + on
	case c.Kind == locate.ByClamp:
		return "the " + half + "'s clamp" + on + ", taken to be where it usually is"
	}
	return "the anchor of the " + half + on
}

// shrinks says what a person does about a cause of uncertainty.
func shrinks(r *job.Result, c *carry.Cause) string {
	of, shape := Bike(r.Source.Bike), r.Source.Bike.Saddle.Only()
	if c.Of == carry.OfTarget {
		of, shape = Bike(r.Target), r.Fitted().Saddle
	}
	switch {
	case c.Kind == locate.ByObservation:
		return "take " + caused(r, c) + " again, with more care"
	case c.Kind == locate.ByClamp:
		return "read to the clamp of " + of
	case c.Kind == locate.ByAnchor:
		return "learn the anchors of " + of + " (carryover calibrate), or read to it as it stands"
	}
	switch c.Fault {
	case assembly.Support:
		return fmt.Sprintf("find the place where you sit with a gauge (carryover template --gauge %s)", Num(r.Position.Posture.Support, 0))
	case assembly.SaddleWidths, assembly.SaddleHeights:
		where := fmt.Sprintf("where it is %s mm wide", Num(r.Position.Posture.Support, 0))
		if _, fit := shape.WidthStation(r.Position.Posture.Support); fit == saddle.TooNarrow {
			where = "at its widest"
		} else if fit == saddle.AtNose {
			where = "at its nose"
		}
		return fmt.Sprintf("read the saddle of %s %s, or measure it (carryover catalog measure)", of, where)
	case assembly.CliponX, assembly.CliponY:
		return "read to the pads of " + of + " themselves"
	}
	return "read to the hoods of " + of + " themselves, level and plumb"
}

func (p *Page) blame(r *job.Result) {
	if r.Blame == nil {
		return
	}
	p.Heading("Where the uncertainty comes from")
	for i, set := range r.Settings {
		name := Setting(set.Name)
		if set.SigmaTotal == 0 {
			p.Para("  ", name+": none; a stop, a step or the file holds it.")
			continue
		}
		var parts []string
		rest := 1.0
		for _, s := range r.Blame[i] {
			if s.Share < 0.02 || len(parts) == 5 {
				break
			}
			parts = append(parts, fmt.Sprintf("%s %s%s%%", caused(r, s.Cause), Num(100*s.Share, 0), NoBreak))
			rest -= s.Share
		}
		if rest > 0.005 {
			parts = append(parts, fmt.Sprintf("others %s%s%%", Num(100*rest, 0), NoBreak))
		}
		of := func(sigma float64) string { return fine(quantityOf(set, sigma), 0) }
		text := fmt.Sprintf("%s ± %s: %s.", name, of(set.SigmaTotal), strings.Join(parts, ", "))
		if first := r.Blame[i][0]; first.Without < 0.9*set.SigmaTotal {
			text += fmt.Sprintf(" To know it better, %s: at best ± %s.", shrinks(r, first.Cause), of(first.Without))
		}
		p.Para("  ", text)
	}
}

// others lists other combinations of parts, best first.
func (p *Page) others(r *job.Result) {
	if f := r.Front; f != nil {
		p.Heading(fmt.Sprintf("Changing as few parts as possible%s", proof(f.Proven)))
		rows := [][]string{{"changes", "off", "", "instead of the fitted part"}}
		for _, t := range f.Trades {
			rows = append(rows, []string{fmt.Sprint(len(t.Changed)), off(t.Solution), carriedWord(t.Solution), exchanged(t.Changed)})
		}
		p.Table("rlll", rows...)
		word := "The fewest changes that carry the position"
		if !f.Preferred.Solution.Carried() {
			word = "No parts carry the position; the nearest"
		}
		p.Para("  ", fmt.Sprintf("%s: %d, %s.", word, len(f.Preferred.Changed), exchanged(f.Preferred.Changed)))
		p.misses(f.Preferred.Solution)
	}
	if r.Others == nil {
		return
	}
	p.Heading(fmt.Sprintf("What else could be fitted, best first%s", proof(r.OthersProven)))
	if len(r.Others) == 1 {
		p.Para("  ", "There is nothing else to choose from.")
	}
	for i, s := range r.Others[1:] {
		p.Para(fmt.Sprintf("  %d. ", i+1), Fitted(s, r.Others[0])+": "+carriedWord(s))
		p.misses(s)
	}
}

// proof qualifies a list that was not searched to its end.
func proof(proven bool) string { return either(proven, "", " (stopped early: the best found so far)") }

func carriedWord(s *carry.Solution) string { return either(s.Carried(), "carried", "not carried") }

func exchanged(list []carry.Change) string {
	var names []string
	for _, c := range list {
		names = append(names, diag.Visible(c.Slot+" "+c.To))
	}
	return orNothing(names)
}

// orNothing is a list, or the word for an empty one.
func orNothing(names []string) string {
	return either(len(names) == 0, "nothing", strings.Join(names, ", "))
}

// Fitted names the parts of a solution with all they need: "stem stem-90-10 (90 mm, −10° flipped), 10 mm of spacers"; of what
// turns or slides, what stands otherwise than in another solution.
func Fitted(s, than *carry.Solution) string {
	var names []string
	for _, p := range s.Parts {
		names = append(names, part(s, p))
	}
	return orNothing(append(names, needs(s, than, func(bike.Sets) bool { return false })...))
}

// slot is what the place of a part is called.
func slot(p carry.Part) string {
	return partfile.Kind(slices.Index(partfile.KindNames, p.Slot)).Called()
}

// part names a part; a stem by its length and its angle as it stands too.
func part(s *carry.Solution, p carry.Part) string {
	text := slot(p) + " " + diag.Shorten(p.ID, 32)
	if of := stemOf(s, p); of != "" {
		return text + " (" + of + ")"
	}
	return text + flipped(p.Flip)
}

// stemOf is what a stem is asked for by, with the angle it then has: "90 mm, -10° flipped"; "" of another part.
func stemOf(s *carry.Solution, p carry.Part) string {
	stem := s.Fitted().Stem
	if p.Slot != "stem" || stem == nil {
		return ""
	}
	angle := stem.Angle
	if p.Flip {
		angle = -angle
	}
	return fmt.Sprintf("%s, %s°", MM(stem.Length), Trimmed(plane.Deg(angle), 1)) + either(p.Flip, " flipped", "")
}

// built is what is built once: "no risers", "10 mm of spacers".
func built(s *carry.Solution, set carry.Setting) string {
	q := quantityOf(set, set.Travel)
	switch {
	case set.Sets != bike.SetsHole && None(q):
		return "no " + Setting(set.Name)
	case set.Sets == bike.SetsSpacers:
		return Amount(q) + " of spacers"
	}
	return Setting(set.Name) + " " + Value(s.Target, set)
}

// needs is what else parts of a solution are built with or set to: spacers, hole and risers, and of what turns or slides on
// them what stands otherwise than in another solution; but for what is skipped.
func needs(s, than *carry.Solution, skip func(k bike.Sets) bool) (list []string) {
	for _, set := range s.Settings {
		if skip(set.Sets) {
			continue
		}
		now, instead := Value(s.Target, set), ""
		for _, o := range than.Settings {
			if o.Sets == set.Sets {
				instead = Value(than.Target, o)
			}
		}
		switch set.Sets {
		case bike.SetsSpacers, bike.SetsHole, bike.SetsRisers:
			list = append(list, built(s, set))
		case bike.SetsRotation, bike.SetsLever, bike.SetsPadTilt, bike.SetsRails:
			if instead != now {
				list = append(list, Setting(set.Name)+" "+now+either(instead == "", "", " instead of "+instead))
			}
		}
	}
	return list
}

// misses are what a solution misses, contact by contact.
func (p *Page) misses(s *carry.Solution) {
	var list []string
	for _, c := range s.Contacts {
		list = append(list, Touched(c.Want.Name)+" "+cmp.Or(Miss(c), "as it was"))
	}
	p.Para("     ", strings.Join(list, "; "))
}

// settingSure is how sure a setting is, with everything that is not exactly known; "" where nothing leaves it open.
func settingSure(set carry.Setting) string {
	if set.Fixed() || set.SigmaTotal <= 0 {
		return ""
	}
	return "± " + fine(quantityOf(set, set.SigmaTotal), 0)
}

// ScaleSure says how sure a step is that is set by its scale alone; "" where it has none.
func ScaleSure(r *job.Result, step carry.Step) string {
	for _, i := range step.Settings {
		if text := settingSure(r.Settings[i]); text != "" && scaled(r.Target, r.Settings[i]) != nil {
			return "By its scale alone " + text + "."
		}
	}
	return ""
}
