package words

import (
	"fmt"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/diag"
	"carryover/internal/job"
	"carryover/internal/plane"
)

// Who says which bikes use a part and what another shape of it does to each.
func (p *Page) Who(w *job.Who) {
	part := w.Kind + " " + diag.Shorten(w.Part, 40)
	p.Para("", fmt.Sprintf("%s of %d looked at %s %s.", Counted(len(w.Clients), "bike"), w.Looked,
		either(len(w.Clients) == 1, "uses", "use"), part))
	for _, b := range w.Broken {
		p.Danger(diag.Shorten(b.File, 40) + " CANNOT BE READ: carryover locate says why.")
	}
	switch was, is := w.Was, w.Is; {
	case was == nil:
	case was.Version == is.Version:
		p.Para("", fmt.Sprintf("%s has the same shape as %s, version %s: nothing moves.", diag.Shorten(is.File, 40),
			diag.Shorten(was.File, 40), is.Version))
	default:
		p.Para("", fmt.Sprintf("Two shapes of it: %s (version %s), then %s (version %s). From the same readings and marks the second "+
			"finds the rider%s:", diag.Shorten(was.File, 40), was.Version, diag.Shorten(is.File, 40), is.Version,
			either(w.To == "", "", ", and changes most on "+diag.Shorten(w.To, 40))))
	}
	head := []string{"file", "posture", "seat", "hands"}
	if w.To != "" {
		head = append(head, "setting")
	}
	var rows [][]string
	for _, c := range w.Clients {
		file := diag.Shorten(c.File, 40) + either(c.Choice, " (one to choose from)", "")
		if c.Problem != "" {
			rows = append(rows, []string{file, "", "cannot be told: " + diag.Shorten(c.Problem, 60)})
			continue
		}
		for _, m := range c.Moves {
			row := []string{file, diag.Shorten(m.Posture, 16), elsewhere(bike.Sit, m.Seat), elsewhere(bike.Hood, m.Hands)}
			switch {
			case w.To == "":
			case m.Setting == "":
				row = append(row, "the same")
			default:
				row = append(row, diag.Shorten(m.Setting, 24)+" "+either(m.By.Value() > 0, "+", "-")+Size(m.By))
			}
			rows = append(rows, row)
		}
		if w.Was == nil {
			rows = append(rows, []string{file, diag.Shorten(c.Name, 40)})
		}
	}
	switch {
	case len(rows) == 0:
	case w.Was == nil:
		p.Table("ll", rows...)
	default:
		p.Table(strings.Repeat("l", len(head)), append([][]string{head}, rows...)...)
	}
}

// elsewhere is where a contact is found instead.
func elsewhere(c bike.Contact, o job.Offset) string {
	text := Shifted(o.X, o.Y)
	if a := plane.Turning(o.Angle); !None(a) {
		text = append(text, turned(o.Angle, either(c == bike.Sit, "nose", "front")))
	}
	return either(len(text) == 0, "the same", strings.Join(text, ", "))
}
