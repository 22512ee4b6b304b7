package words

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"carryover/internal/calibrate"
	"carryover/internal/diag"
	"carryover/internal/locate"
)

// Calibrate lays out what was learnt of a machine; all adds the entries that are off most, how straight each scale is, and
// the lines for the file.
func (p *Page) Calibrate(r *calibrate.Result, all bool) {
	p.Strong(Titled(r.Bike) + " calibrated")
	for _, o := range r.Readings {
		if o.Suspect {
			p.Danger(fmt.Sprintf("Entry %d: %s, %s, does not fit the other entries, which say %s. It is left out; measure it again.",
				o.Entry+1, entryName(r, o), entryRead(o), entryFits(o)))
		}
	}
	switch {
	case r.DOF == 0:
		p.Danger("No reading checks another, so nothing tells whether they are right.")
	case r.P < locate.DefaultSignificance:
		p.Danger("The entries disagree by more than their ± allows: a reading or a mark is wrong, or a scale is bent.")
	default:
		p.Para("", "The entries agree.")
	}
	p.Danger(Untold(r)...)
	p.Space()
	rows := [][]string{{"", "file", "learnt", ""}}
	for _, k := range r.Parameters {
		show := func(v float64) string { return Num(r.Quantity(k, v).Shown(), decimals(k)) }
		value, sigma := "as in the file", ""
		switch {
		case k.Kept:
			value, sigma = "stays", "the entries agree within ± "+show(k.Sigma)
		case k.Fitted:
			value, sigma = show(k.Value), "± "+show(k.Sigma)+parameterUnit(r, k)
		}
		rows = append(rows, []string{Parameter(r, k), show(k.Before), value, sigma})
	}
	p.Table("lrrl", rows...)
	p.straight(r)
	for _, t := range r.Assumptions {
		p.Para("", diag.Visible("Assumed: "+Sentence(t)))
	}
	if all {
		p.entries(r)
	}
	p.Space()
	switch {
	case r.Written != "":
		p.Para("", fmt.Sprintf("Written into %s; the original is kept as %s.", diag.Visible(r.Written), diag.Visible(r.Kept)))
	case len(r.Doubtful()) > 0:
		p.Para("", "Not to be relied upon as yet, so --write refuses it; --more shows what it would write.")
	case !all:
		p.Para("", "--write puts these numbers into the file; --more shows its lines, and the readings that are off most.")
	}
	p.Para("", Meaning)
}

// straight says which scales run straight, as far as that can be told.
func (p *Page) straight(r *calibrate.Result) {
	var yes, open []string
	for _, l := range r.Linear {
		name := diag.Shorten(r.Bike.Adjusters[l.Adjuster].Name, 24)
		switch bend, sigma := r.Bent(l); {
		case l.Points < 3 || !l.Tested:
			open = append(open, name)
		case l.Straight:
			yes = append(yes, name)
		default:
			p.Danger(fmt.Sprintf("The scale of the %s is NOT straight: its middle is off by %s, or a reading or mark there is wrong.", name,
				fine(bend, sigma.Value())))
		}
	}
	if len(yes) > 0 {
		p.Para("", "Straight, as far as the readings tell: the scale of the "+List(yes)+".")
	}
	if len(open) > 0 {
		p.Para("", "Whether the scale of the "+List(open)+" is straight cannot be told: it takes readings at three marks.")
	}
}

// entries are the readings that are off most, and the lines for the file.
func (p *Page) entries(r *calibrate.Result) {
	p.Heading("Readings that are off most")
	rows := [][]string{{"entry", "", "read", "fits", "off"}}
	for _, o := range worst(r.Readings, 8) {
		off := o.Value.Of(o.Residual)
		rows = append(rows, []string{fmt.Sprint(o.Entry + 1), entryName(r, o), entryRead(o), entryFits(o),
			Signed(off.Shown(), 1) + either(o.Reading == nil, unit(off), "")}) // of a mark it is no longer in marks
	}
	p.Table("rlrrl", rows...)
	p.Para("", fmt.Sprintf("All together: chi-square %s with %d to spare, p = %.2g.", Num(r.Chi2, 1), r.DOF, r.P))
	if r.Written == "" {
		p.Heading("For the file")
		for _, l := range strings.Split(strings.TrimRight(r.Fragment(), "\n"), "\n") {
			p.Line("  " + diag.Visible(l))
		}
	}
}

// Parameter is what a number of the machine is called.
func Parameter(r *calibrate.Result, k calibrate.Parameter) string {
	if k.Adjuster >= 0 {
		return diag.Shorten(r.Bike.Adjusters[k.Adjuster].Name, 24) + ", " + k.Name()
	}
	return either(k.Saddle, "saddle clamp", "bar clamp") + either(k.Kind == locate.AnchorX, ", ahead (+)", ", up")
}

func decimals(k calibrate.Parameter) int {
	switch k.Kind {
	case locate.Direction:
		return 2
	case locate.Unit:
		return 3
	}
	return 1
}

func parameterUnit(r *calibrate.Result, k calibrate.Parameter) string {
	unit := either(k.On(r.Bike).Turns(), "°", NoBreak+"mm")
	return unit + either(k.Kind == locate.Unit, " per mark", "")
}

// entryName is what a reading or mark of an entry is called.
func entryName(r *calibrate.Result, o calibrate.Reading) string {
	if o.Reading != nil {
		return Called(*o.Reading)
	}
	return "mark of " + diag.Shorten(r.Bike.Adjusters[o.Adjuster].Name, 30)
}

// entryRead is a reading in its unit, or a mark as its scale shows it; entryFits is what it should be.
func entryRead(o calibrate.Reading) string {
	if o.Reading == nil {
		return Trimmed(o.Mark, 4)
	}
	return Trimmed(o.Value.Shown(), 2) + unit(o.Value)
}

func entryFits(o calibrate.Reading) string {
	if o.Reading == nil {
		return Num(o.FittedMark, 2)
	}
	return Num(o.Value.Of(o.Fitted).Shown(), 1)
}

// Untold says what the entries do not tell, or tell badly, and what would.
func Untold(r *calibrate.Result) []string {
	type key struct{ doubt, needs string }
	said := map[key]bool{}
	var list []string
	for _, k := range r.Parameters {
		this := key{k.Doubt, k.Needs}
		if this == (key{}) || said[this] {
			continue
		}
		said[this] = true
		var of []string
		for _, o := range r.Parameters {
			if (key{o.Doubt, o.Needs}) == this {
				of = append(of, Parameter(r, o))
			}
		}
		text := "The entries do not tell: " + strings.Join(of, "; ") + "."
		if k.Doubt != "" {
			text = "Not to be relied upon: " + strings.Join(of, "; ") + "; " + k.Doubt + "."
		}
		if k.Needs != "" {
			text += either(k.Doubt != "", " What would help: ", " What would: ") + k.Needs + "."
		}
		list = append(list, diag.Visible(text))
	}
	return list
}

// worst are the n readings that are off most for their ±, in their order.
func worst(all []calibrate.Reading, n int) []calibrate.Reading {
	by := make([]int, len(all))
	for i := range by {
		by[i] = i
	}
	slices.SortStableFunc(by, func(a, b int) int { return cmp.Compare(all[b].Normalized, all[a].Normalized) })
	by = by[:min(n, len(by))]
	slices.Sort(by)
	var list []calibrate.Reading
	for _, i := range by {
		list = append(list, all[i])
	}
	return list
}
