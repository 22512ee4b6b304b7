package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"carryover/internal/carry"
	"carryover/internal/diag"
)

func (p *page) order(r *Result) {
	p.heading("Order of work, each step with the reading that confirms it")
	if len(r.Order) == 0 {
		p.line("  Nothing on this bike can be set.")
		return
	}
	clean := true
	for _, o := range r.Order {
		p.para(right(strconv.Itoa(o.Step), 3)+". ", stepText(r, o))
		text := "No tape can tell; look."
		if o.Check != nil {
			text = "Check: " + checkPhrase(*o.Check) + " " + checkValue(*o.Check)
		}
		if len(o.Disturbed) > 0 {
			clean = false
			final := *o.Check
			final.Value = o.Final
			var later []string
			for _, k := range o.Disturbed {
				later = append(later, strconv.Itoa(k))
			}
			text += fmt.Sprintf(" (as the later settings stand now; step %s takes it to %s)", strings.Join(later, " and "), checkAmount(final))
		}
		p.para("     ", text)
	}
	if clean {
		p.para("  ", "In this order no step changes the reading of one before it.")
	}
	if len(r.Couplings) > 0 {
		p.para("  ", "If you change one of them later:")
	}
	for _, c := range r.Couplings {
		p.para("  - ", couplingText(r, c))
	}
}

// checkAmount is the bare value of a reading.
func checkAmount(c Check) string {
	if c.Kind == "angle" {
		return amount(c.Value, "deg")
	}
	return amount(math.Abs(c.Value), "mm")
}

// stepText is what to do in a step.
func stepText(r *Result, o OrderStep) string {
	if len(o.Settings)+len(o.Parts) == 0 {
		return "Fit the cranks at " + trimmed(r.Crank) + noBreak + "mm."
	}
	var words []string
	for _, slot := range o.Parts {
		for _, part := range r.Parts {
			if part.Slot == slot {
				words = append(words, "fit the "+slot+" "+diag.Shorten(part.Part, 40)+turnedOver(part.Flip))
			}
		}
	}
	for _, n := range o.Settings {
		for _, s := range r.Settings {
			if s.Adjuster == n {
				words = append(words, setWords(s))
			}
		}
	}
	text := strings.Join(words, ", ")
	return strings.ToUpper(text[:1]) + text[1:] + "."
}

func setWords(s Placed) string {
	n := settingName(s.Adjuster)
	switch {
	case s.Tape != nil && !s.Scale:
		return "move the " + n + " (no scale) until the reading is right"
	case s.Move != nil && math.Abs(*s.Move) < 0.05:
		return "leave the " + n + " at " + markText(s)
	case s.Move != nil:
		return fmt.Sprintf("set the %s to %s (%s %s from %s)", n, markText(s), amount(math.Abs(*s.Move), s.Unit), s.Toward, trimmed(*s.FromMark))
	}
	return "set the " + n + " to " + valueText(s)
}

// couplingText tells how one setting disturbs what another has put right.
func couplingText(r *Result, c CouplingRow) string {
	hands := "the " + r.Hands
	ways := map[string][2]string{
		carry.SaddleHeight.String(): {"lengthens BB-to-saddle by %s", "shortens BB-to-saddle by %s"},
		carry.Setback.String():      {"takes the nose %s back", "takes the nose %s forward"},
		carry.Reach.String():        {"takes " + hands + " %s forward", "takes " + hands + " %s back"},
		carry.Drop.String():         {"lowers " + hands + " by %s", "raises " + hands + " by %s"},
	}[c.Measure]
	more := ways[0]
	if c.Change < 0 {
		more = ways[1]
	}
	move := trimmed(c.Move) + noBreak + "mm"
	if c.Turns {
		move = trimmed(c.Move) + "°"
	}
	return fmt.Sprintf("%s %s on the %s %s: the %s goes %s %s", move, c.Toward, settingName(c.Setting),
		fmt.Sprintf(more, amount(math.Abs(c.Change), "mm")), settingName(c.Mend), c.MendToward, amount(c.MendMove, "mm")+".")
}

// why is the table of shares.
func (p *page) why(r *Result, c Carry) {
	p.heading("Why the numbers changed (mm)")
	heads := [carry.Measures][2]string{{"setback", "at nose"}, {"BB to", "saddle"}, {"reach to", plural(r.Hands)}, {"drop to", plural(r.Hands)},
		{"nose to", "bar"}, {"floor to", "saddle"}}
	known := r.Why.Source.list()
	for row := range 2 {
		line := "  " + left("", 22)
		for m := range heads {
			if known[m] != nil {
				line += right(heads[m][row], 9)
			}
		}
		p.line(line)
	}
	cells := func(label string, set MeasureSet, show func(float64, int) string) string {
		line := "  " + name(label, 22)
		for m, v := range set.list() {
			if known[m] != nil && v != nil {
				line += right(show(*v, 1), 9)
			}
		}
		return line
	}
	p.line(cells(c.From, r.Why.Source, num))
	var none []string
	for _, s := range r.Why.Swaps {
		zero := true
		for _, v := range s.list() {
			zero = zero && (v == nil || signed(*v, 1) == "0.0")
		}
		if zero {
			none = append(none, s.Cause)
			continue
		}
		label := s.Cause
		if s.Cause == "leftover" {
			label = "could not be carried"
		}
		p.line(cells("  "+label, s.MeasureSet, signed))
	}
	p.line(cells(c.To, r.Why.Target, num))
	text := "One difference after another was swapped in this order; in another order they would share the same change differently."
	if len(none) > 0 {
		text += " No share: " + strings.Join(none, ", ") + "."
	}
	p.para("  ", text)
}

// references is the table of saddle references.
func (p *page) references(r *Result, c Carry) {
	p.heading("Saddle references from the BB (mm, unloaded)")
	p.line("  " + left("", 10) + left("on "+diag.Shorten(c.From, 20), 25) + left("on "+diag.Shorten(c.To, 20), 25) + "kept: you sit at")
	p.line("  " + left("", 8) + strings.Repeat(right("setback", 8)+right("height", 8)+right("line", 8)+" ", 2) + "  fore/aft  height")
	for _, ref := range r.References {
		n := ref.Reference
		if n == "support" {
			n = num(r.Support, 0) + " wide"
		}
		line := "  " + name(n, 8)
		for _, v := range [2]ReferenceRow{ref.Source, ref.Target} {
			line += right(num(v.Setback, 1), 8) + right(num(v.Height, 1), 8) + right(num(v.Line, 1), 8) + " "
		}
		p.line(line + "  " + right(signed(ref.Away.Forward, 1), 8) + right(signed(ref.Away.Up, 1), 8))
	}
	text := fmt.Sprintf("The last columns: where you would sit, forward (+) and up (+) of where you sat, had the setback or the height been kept at that reference instead. "+
		"They disagree by up to %s mm fore and aft and %s mm in height: that is how ambiguous this swap is.", num(r.Ambiguity.Level, 1), num(r.Ambiguity.Plumb, 1))
	if u := r.Ambiguity.Usual; u != nil {
		at := Contact{Got: Pose{X: u.Forward, Y: u.Up}}
		words := missWords(at)
		if words == "" {
			words = "in the right place"
		}
		text += " With the usual pair kept, setback at the nose and BB to the middle of the saddle, you would sit " + words + "."
	}
	p.para("  ", text)
}
