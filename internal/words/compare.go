package words

import (
	"fmt"
	"slices"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/body"
	"carryover/internal/diag"
	"carryover/internal/job"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// Dated is what a bike of a comparison is called: its name, and its date where it has one.
func Dated(c *job.Comparison) (a, b string) {
	if a, b = Names(c.A.Bike, c.B.Bike); c.A.Bike.Record.Date != c.B.Bike.Record.Date {
		a, b = Bike(c.A.Bike), Bike(c.B.Bike) // the dates tell them apart
	}
	return dated(a, c.A.Bike), dated(b, c.B.Bike)
}

// dated is a name with the date of the bike, where it has one.
func dated(name string, b *bike.Bike) string {
	return name + either(b.Record.Date == "", "", ", "+diag.Visible(b.Record.Date))
}

// groups are what the groups of a comparison are called, in the order in which they are told.
var groups = []struct {
	group job.Group
	name  string
	short bool // told without being asked for
}{{job.Measures, "What a tape would read", true}, {job.Contacts, "Where you touch it, seen from the BB", true},
	{job.Angles, "What the joints do", true},
	{job.Feet, "Under the foot", false}, {job.Marks, "Where the scales stand", false}, {job.Readings, "Readings as they were taken", false},
	{job.References, "Places on the saddles", false}}

// Different is what a number of a comparison is called; of one that is told as above 0 although it is below, the other way round.
func Different(d *job.Difference, below bool) string {
	switch {
	case d.Reading != nil && below:
		return Reading(*d.Reading, -1)
	case d.Reading != nil:
		return Called(*d.Reading)
	case d.Figure != nil:
		return d.Figure.Name
	case d.Group == job.Contacts:
		ways := [...][2]string{{"ahead", "behind"}, {"up", "down"}, {"angle", "angle"}}[d.Axis]
		return Touched(d.Contact) + ", " + either(below, ways[1], ways[0])
	case d.Group == job.Marks:
		return Setting(d.Key)
	}
	return map[string]string{job.Crank: "crank", job.SoleHeight: "sole height"}[d.Key]
}

// beside is a row of a comparison: both values and the change with its ±; what both are below 0 is told the other way round.
func beside(d *job.Difference) []string {
	if d.Group == job.Marks {
		return []string{Different(d, false), Trimmed(d.A.Value(), 2), Trimmed(d.B.Value(), 2), Signed(d.By().Value(), 2)}
	}
	a, b := d.A, d.B
	below := a.Value() < 0 && b.Value() < 0 && !a.Turns() && d.Figure == nil
	if below {
		a, b = a.Of(-a.Value()), b.Of(-b.Value())
	}
	return []string{Different(d, below), Bare(a) + inMM(a), Bare(b) + inMM(b), difference(a, b) + give(d.Sigma) + inMM(a)}
}

// Table is a heading with rows, for a comparison on paper.
type Table struct {
	Title string
	Head  []string
	Rows  [][]string
}

// Compared are the tables of a comparison; all adds those that are told only when asked for.
func Compared(c *job.Comparison, all bool) (list []Table) {
	for _, g := range groups {
		if !all && !g.short {
			continue
		}
		var t *Table // of the posture at hand
		var posture string
		told := map[string]bool{} // what reads alike in another posture
		for i := range c.Differences {
			d := &c.Differences[i]
			if d.Group != g.group || d.Group == job.Contacts && !all && d.A.Turns() {
				continue
			}
			row := beside(d)
			if g.group == job.Measures {
				key := strings.Join(row, "|")
				if told[key] {
					continue
				}
				told[key] = true
			}
			if t == nil || posture != d.Posture {
				posture = d.Posture
				title := g.name
				if posture != "" {
					title += ": " + diag.Shorten(posture, 22)
				}
				list = append(list, Table{Title: title, Head: []string{"", "A", "B", "change"}})
				t = &list[len(list)-1]
			}
			if d.Group != job.Angles || all || len(t.Rows) < body.Short {
				t.Rows = append(t.Rows, row)
			}
		}
	}
	return list
}

// Changes is the answer of a comparison in a sentence: what changed by more than its ± could make of nothing.
func Changes(c *job.Comparison) string {
	var list []string
	for i := range c.Differences {
		d := &c.Differences[i]
		if by := d.By(); d.Group == job.Measures && !None(by) && d.Surely() {
			list = append(list, Different(d, false)+" "+Size(apart(d.A, d.B))+either(by.Value() > 0, " more", " less"))
		}
	}
	feet := ""
	for i := range c.Differences {
		if d := &c.Differences[i]; d.Group == job.Feet && !None(d.By()) {
			feet += fmt.Sprintf(" The %s is %s on A and %s on B.", Different(d, false), Amount(d.A), Amount(d.B))
		}
	}
	switch {
	case !slices.ContainsFunc(c.Differences, func(d job.Difference) bool { return d.Group == job.Measures && d.Reading.Kind != bike.Angle }):
		return touched(c) + "No length is read from the same places on both." + feet
	case len(list) == 0:
		return touched(c) + "Nothing that a tape would read differs by more than twice its ±." + feet
	}
	return touched(c) + "A tape would read: " + List(once(list)) + "; the rest differs by no more than twice its ±." + feet
}

// touched says which contacts moved by more than twice their ±; "" where no place is known on both.
func touched(c *job.Comparison) string {
	type contact struct {
		posture string
		name    bike.Contact
	}
	var names []contact
	by, known, several, posture := map[contact][]string{}, false, false, ""
	for i := range c.Differences {
		d := &c.Differences[i]
		if d.Group != job.Contacts {
			continue
		}
		several = several || known && d.Posture != posture
		known, posture = true, d.Posture
		if None(d.By()) || !d.Surely() {
			continue
		}
		name := contact{d.Posture, d.Contact}
		if !slices.Contains(names, name) {
			names = append(names, name)
		}
		far := d.By().Value()
		by[name] = append(by[name], [...]string{offset(plane.Point{X: far}), offset(plane.Point{Y: far}),
			turned(plane.Angle(far), "front")}[d.Axis])
	}
	switch {
	case !known:
		return ""
	case len(names) == 0:
		return "Where you touch it, nothing moved by more than twice its ±. "
	}
	var list []string
	for _, k := range names {
		list = append(list, Touched(k.name)+either(several, " in posture "+diag.Shorten(k.posture, 22), "")+" "+List(by[k]))
	}
	return "Seen from the BB, on B: " + strings.Join(list, "; ") + ". "
}

// OtherParts says which parts are others; "" where none is.
func OtherParts(c *job.Comparison) string {
	var list []string
	for _, p := range c.Parts {
		a, b := named(p.A), named(p.B)
		if a == b {
			b += " of another shape"
		}
		list = append(list, fmt.Sprintf("%s %s on A, %s on B", p.Slot, a, b))
	}
	if len(list) == 0 {
		return ""
	}
	return "Other parts: " + strings.Join(list, "; ") + "."
}

// named is a part that is fitted.
func named(v bike.Version) string { return either(v.Part == "", "none", diag.Shorten(v.Part, 32)) }

// OfEach is what is told of either bike, Doubts or Assumed, under its letter.
func OfEach(c *job.Comparison, told func(*locate.Adjustment) []string) []string {
	return append(of("A", told(c.A.Adjusted)), of("B", told(c.B.Adjusted))...)
}

// Compare lays out two bikes, or two dates of one, beside one another. No verdict: what is better is not for a tape to say.
func (p *Page) Compare(c *job.Comparison, all bool) {
	p.Para("A  ", dated(Bike(c.A.Bike), c.A.Bike)+" ("+diag.Visible(c.A.Bike.File)+")")
	p.Para("B  ", dated(Bike(c.B.Bike), c.B.Bike)+" ("+diag.Visible(c.B.Bike.File)+")")
	p.Danger(OfEach(c, Doubts)...)
	p.Space()
	p.Para("", Changes(c))
	p.Para("", OtherParts(c))
	for _, t := range Compared(c, all) {
		p.Heading(t.Title)
		p.Table("lrrr", append([][]string{t.Head}, t.Rows...)...)
	}
	p.Space()
	for _, n := range c.Notes {
		p.Para("- ", diag.Visible(n)+".")
	}
	var elsewhere []string
	for _, r := range c.Elsewhere {
		if name := Called(r); !slices.Contains(elsewhere, name) {
			elsewhere = append(elsewhere, name)
		}
	}
	if len(elsewhere) > 0 {
		p.Para("- ", "Not read from the same places on both: "+List(elsewhere)+".")
	}
	p.Para("", OfEach(c, Assumed)...)
	p.Para("", "Lengths in mm. "+Meaning)
	p.versions(all, append(c.A.Bike.Versions(nil), c.B.Bike.Versions(nil)...))
}

// ChangeColumns head the rows of a comparison as CSV.
var ChangeColumns = []string{"group", "posture", "what", "unit", "A", "B", "change", "±"}

// ChangeRows are all numbers of a comparison, rounded to what can be set.
func ChangeRows(c *job.Comparison) (rows [][]string) {
	for i := range c.Differences {
		d := &c.Differences[i]
		unit, show := "mm", func(q plane.Quantity) string { return Trimmed(settable(q), 1) }
		switch {
		case d.Group == job.Marks:
			unit, show = "mark", func(q plane.Quantity) string { return Trimmed(q.Value(), 2) }
		case d.A.Turns():
			unit = "°"
		}
		change := Trimmed(apart(d.A, d.B).Shown(), 1) // as in text: of the numbers shown
		if d.Group == job.Marks {
			change = show(d.By())
		}
		sigma := ""
		if d.Sigma.Value() > 0 {
			sigma = show(d.Sigma)
		}
		rows = append(rows, []string{string(d.Group), d.Posture, Plain(Different(d, false)), unit, show(d.A), show(d.B), change, sigma})
	}
	return rows
}
