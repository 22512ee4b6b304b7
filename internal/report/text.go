package report

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"carryover/internal/diag"
)

// Columns is the width that text for a person is laid out in.
const Columns = 80

// page collects lines of text, with its headings bold where the reader's terminal shows that.
type page struct {
	b    strings.Builder
	bold bool
}

func (p *page) line(text string) {
	p.b.WriteString(strings.TrimRight(strings.ReplaceAll(text, noBreak, " "), " ") + "\n")
}

// strong is a line that stands out.
func (p *page) strong(text string) {
	if p.bold {
		text = "\x1b[1m" + text + "\x1b[0m"
	}
	p.line(text)
}

// heading opens a section, with a remark in the same line where it fits.
func (p *page) heading(title string) {
	p.line("")
	p.strong(title)
}

// para folds text to Columns: the first line after lead, the others indented as far.
func (p *page) para(lead, text string) {
	p.b.WriteString(folded(lead, text))
}

// noBreak is a space at which no line is broken, so that a number stays with its unit. diag.Visible writes
// the ones in names out, so it never comes from a file.
const noBreak = "\u00a0"

// columns is how many columns a text takes once printed.
func columns(s string) int { return diag.Columns(strings.ReplaceAll(s, noBreak, " ")) }

func folded(lead, text string) string {
	indent := columns(lead)
	var b strings.Builder
	line, used := lead, indent
	empty := true
	for _, word := range strings.Split(text, " ") {
		word = strings.ReplaceAll(word, noBreak, " ")
		w := columns(word)
		if w > Columns-indent { // one endless word
			word = diag.Shorten(word, Columns-indent)
			w = columns(word)
		}
		if !empty && used+1+w > Columns {
			b.WriteString(line + "\n")
			line, used, empty = strings.Repeat(" ", indent), indent, true
		}
		if !empty {
			line, used = line+" ", used+1
		}
		line, used, empty = line+word, used+w, false
	}
	b.WriteString(strings.TrimRight(line, " ") + "\n")
	return b.String()
}

// left and right set a cell of n columns; what is longer is cut when it is a name, and pushes on when not.
func left(s string, n int) string  { return s + strings.Repeat(" ", max(0, n-columns(s))) }
func right(s string, n int) string { return strings.Repeat(" ", max(0, n-columns(s))) + s }

// name is a name from a file, in exactly n columns.
func name(s string, n int) string { return left(diag.Shorten(s, n), n) }

// num prints with a number of decimals, without a minus in front of zero.
func num(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return s
}

// signed is num with a plus in front of what is added.
func signed(v float64, decimals int) string {
	s := num(v, decimals)
	if strings.Trim(s, "-0.") != "" && v > 0 {
		return "+" + s
	}
	return s
}

// amount is a number with its unit.
func amount(v float64, unit string) string {
	if unit == "deg" {
		return num(v, 1) + "°"
	}
	return num(v, 1) + noBreak + "mm"
}

// withSigma is a number with its standard uncertainty.
func withSigma(v, sigma float64, unit string) string {
	switch {
	case num(sigma, 1) == "0.0": // settled by steps, stops and parts alone
		return amount(v, unit)
	case unit == "deg":
		return num(v, 1) + "°" + noBreak + "±" + noBreak + num(sigma, 1) + "°"
	}
	return num(v, 1) + noBreak + "±" + noBreak + amount(sigma, unit)
}

// sentence closes a text with a full stop.
func sentence(s string) string { return strings.TrimSuffix(s, ".") + "." }

func plural(contact string) string {
	switch contact {
	case "hood", "drop", "pad":
		return contact + "s"
	}
	return contact
}

func (p *page) settings(r *Result) {
	p.heading("Settings")
	p.line("  " + left("", 18) + left("set to", 25) + left("travel", 17) + left("from", 6) + "move")
	was := ""
	if r.CrankFitted != r.Crank {
		was = " (" + trimmed(r.CrankFitted) + " is on it now)"
	}
	p.line("  " + left("crank", 18) + trimmed(r.Crank) + " mm" + was)
	for _, part := range r.Parts {
		p.line("  " + left(part.Slot, 18) + diag.Shorten(part.Part, 40) + turnedOver(part.Flip))
	}
	for _, s := range r.Settings {
		p.setting(s)
	}
	p.para("  ", "± is the standard uncertainty that the readings of the first bike leave, here and below; "+
		"twice as much either way covers nearly every case.")
	p.feet(r)
}

// feet says what the crank and what lies under the foot do to the saddle.
func (p *page) feet(r *Result) {
	var words []string
	if d := r.Crank - r.CrankSource; d != 0 {
		words = append(words, fmt.Sprintf("the crank is %s where the first bike has %s", amount(r.Crank, "mm"), amount(r.CrankSource, "mm")))
	}
	if d := r.FootStack; d != 0 {
		way := "more"
		if d < 0 {
			way = "less"
		}
		words = append(words, fmt.Sprintf("there is %s %s between pedal axle and foot", amount(math.Abs(d), "mm"), way))
	}
	if len(words) == 0 {
		return
	}
	moved := missWords(Contact{Got: Pose{X: r.Shift.Forward, Y: r.Shift.Up}})
	text := "Feet: " + strings.Join(words, ", and ") + ". "
	if moved == "" {
		text += "One makes up for the other: the saddle stays."
	} else {
		moved = strings.NewReplacer("too high", "up", "too low", "down", "too far back", "back", "too far forward", "forward").Replace(moved)
		text += "To keep the leg's reach the saddle goes " + moved
		if r.HandsFollow {
			text += ", and the hands with it"
		} else {
			text += "; the hands stay"
		}
		text += "."
	}
	p.para("  ", text)
}

func turnedOver(flip bool) string {
	if flip {
		return ", turned over"
	}
	return ""
}

func (p *page) setting(s Placed) {
	label := "  " + name(settingName(s.Adjuster), 17) + " "
	if s.Idle {
		p.para(label, "leave it: it moves nothing that this posture touches")
		return
	}
	if s.Tape != nil && !s.Scale {
		p.para(label, "no scale: set it by tape, "+checkPhrase(*s.Tape)+" "+checkValue(*s.Tape))
		return
	}
	value, travel, from, move := valueText(s), "", "", ""
	if s.Scale {
		travel = withSigma(s.Travel, s.Sigma, s.Unit)
	} else if num(s.Sigma, 1) != "0.0" {
		travel = "±" + noBreak + amount(s.Sigma, s.Unit)
	}
	if s.FromMark != nil {
		from = trimmed(*s.FromMark)
		move = num(math.Abs(*s.Move), 1) + " " + s.Toward
		if math.Abs(*s.Move) < 0.05 {
			move = "stays"
		}
	}
	row := label + left(value, 25) + left(travel, 17) + left(from, 6) + move
	if columns(value) < 25 && columns(travel) < 17 && columns(from) < 6 && columns(row) <= Columns {
		p.line(row)
		return
	}
	text := value
	if travel != "" {
		text += "; travel " + travel
	}
	if from != "" {
		text += "; from " + from + ", " + move
	}
	p.para(label, text)
}

// missWords is by how much and in which direction a contact is off its place, "" when it is on it.
func missWords(c Contact) string {
	var words []string
	d := Pose{X: c.Got.X - c.Want.X, Y: c.Got.Y - c.Want.Y}
	add := func(v float64, more, less string) {
		if num(v, 1) != "0.0" && num(v, 1) != "-0.0" {
			if v < 0 {
				more = less
			}
			words = append(words, num(math.Abs(v), 1)+" mm too "+more)
		}
	}
	add(d.Y, "high", "low")
	add(d.X, "far forward", "far back")
	text := strings.Join(words, " and ")
	if a := num(c.MissAngle, 1); c.Primary && a != "0.0" {
		front := "front"
		if c.Contact == "sit" {
			front = "nose"
		}
		way := "-up"
		if c.MissAngle < 0 {
			way = "-down"
		}
		if text != "" {
			text += ", "
		}
		text += num(math.Abs(c.MissAngle), 1) + "° " + front + way
	}
	return text
}

func (p *page) contacts(r *Result) {
	p.heading("Contacts")
	for _, c := range r.Contacts {
		label := "  " + left(c.Contact, 6)
		off := missWords(c)
		switch {
		case !c.Primary && off == "":
			p.para(label, "where it was, though nothing asked for it")
		case !c.Primary:
			p.para(label, "for information only: "+off)
		case c.Carried && off == "":
			p.para(label, "carried, exactly where it was")
		case c.Carried:
			p.para(label, "carried, within 2 mm and 1°: "+off+held(r, c))
		default:
			p.para(label, "NOT carried: "+off+stillOpenMiss(c)+held(r, c))
		}
	}
}

// stillOpenMiss is how sure a miss is, "" when the readings leave nothing of it open.
func stillOpenMiss(c Contact) string {
	if num(c.MissSigma, 1) == "0.0" {
		return ""
	}
	return " (" + withSigma(c.Miss, c.MissSigma, "mm") + " in all)"
}

// held says what holds a contact back.
func held(r *Result, c Contact) string {
	var words []string
	for _, h := range r.Held {
		for _, s := range r.Settings {
			if h.Contact == c.Contact && slices.Contains(h.Settings, s.Adjuster) {
				words = append(words, settingName(s.Adjuster)+" "+limitText(s))
			}
		}
	}
	if len(words) == 0 {
		return "; nothing on this bike moves it that way"
	}
	return "; held by the " + strings.Join(words, ", the ")
}

func limitText(s Placed) string {
	at := trimmed(s.shown())
	if !s.Scale {
		at = amount(s.Travel, s.Unit)
	}
	switch s.Limit {
	case "min":
		return "at its lower stop (" + at + ")"
	case "max":
		return "at its upper stop (" + at + ")"
	}
	return "on a step (" + at + ")"
}

func (p *page) checks(r *Result) {
	p.heading("Check the finished bike by tape (nobody on it, at the unloaded surface)")
	for _, c := range r.Checks {
		trade, _, _ := strings.Cut(c.Name, " ")
		row := "  " + left(trade, 14) + left(checkPhrase(c), 43) + checkValue(c)
		p.line(row)
	}
}

func (p *page) cautions() {
	p.heading("Before riding")
	for _, t := range cautionText {
		p.para("  - ", t)
	}
}

// cautionText is what a tool can tell nobody often enough.
var cautionText = []string{
	"Keep post, stem and bar beyond the minimum insertion and tighten every bolt to the torque that its maker marks.",
	"Tighten, then check each bolt and each reading again before riding.",
	"Where the numbers are new to you, go there in small changes, one at a time.",
	"Pain or numbness is a reason to stop, and to see a clinician or a qualified fitter.",
	"Local rules apply to bikes on roads and in events.",
}

func titled(file, name string) string {
	const room = 34
	text := diag.Shorten(file, room)
	if name != "" {
		text += "  (" + diag.Shorten(name, room) + ")"
	}
	return text
}
