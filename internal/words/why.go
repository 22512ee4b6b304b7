package words

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/carry"
	"carryover/internal/diag"
	"carryover/internal/job"
	"carryover/internal/plane"
)

// measures are what a person calls the customary numbers, in the order of carry's constants, whole and in the two lines over a
// column; what is left out at the end is where the hands are.
var measures = [carry.Measures]struct{ name, over, under string }{{"setback", "", "setback"}, {"saddle height", "saddle", "height"},
	{"reach to the ", "reach to", ""}, {"drop to the ", "drop to", ""}, {"nose to bar", "nose to", "bar"},
	{"floor to mid-saddle", "floor to", "saddle"}}

// Measure is what a person calls a customary number, for hands at a contact.
func Measure(m carry.Measure, hands bike.Contact) string {
	return measures[m].name + either(measures[m].under == "", Hands(hands), "")
}

// causeNames are what a person calls the differences between two bikes, in a list and in a sentence.
var causeNames = map[string][2]string{"pitch": {"how it stands", "how the bikes stand when they are read"}, "crank": {"crank",
	"the crank"}, "foot stack": {"pedals and shoes", "pedals and shoes"},
	"saddle shape": {"saddle's shape", "the saddle's shape"}, "sag": {"saddle's give", "how far the saddle gives"},
	"tilt": {"saddle tilt", "the saddle tilt"},
	"bar":  {"bar", "the bar"}, "lever": {"levers", "the levers"}, "clip-on": {"clip-on", "the clip-on"},
	"BB height": {"BB height", "the BB's height"}, "leftover": {"not carried", "what could not be carried"}}

// Cause is what a person calls a difference between two bikes.
func Cause(c string) string {
	return causeNames[c][0]
}

// Because says in a sentence why the number that changes most reads differently, although the contacts are where they were.
func Because(r *job.Result) string {
	w, hands := &r.Why, r.Position.Posture.Hands
	most, changed := carry.Measure(-1), 0.0
	for _, m := range [...]carry.Measure{carry.Reach, carry.Drop, carry.Setback, carry.SaddleHeight} {
		if d := w.Target[m] - w.Source[m]; w.Known[m] && math.Abs(d) > math.Abs(changed)+1e-9 {
			most, changed = m, d
		}
	}
	if most < 0 || None(plane.Length(changed)) {
		return "The numbers read as they did."
	}
	cause, share := "", 0.0
	for _, s := range w.Swaps {
		if v := s.By[most] * math.Copysign(1, changed); v > share {
			cause, share = s.Cause, v
		}
	}
	text := fmt.Sprintf("Your %s reads %s %s", Measure(most, hands), Size(plane.Length(changed)),
		either(changed > 0, "more", "less"))
	if cause != "" {
		text += either(share > 0.9*math.Abs(changed), " because of ", " mostly because of ") + causeNames[cause][1]
	}
	if r.Carried() {
		return text + "; your body did not move."
	}
	return text + "."
}

// why is the table of what each difference adds to the customary numbers.
func (p *Page) why(r *job.Result) {
	w, hands := &r.Why, r.Position.Posture.Hands
	from, to := Names(r.Source.Bike, r.Target)
	p.Heading("Why the numbers changed, mm")
	if !slices.Contains(w.Known[:], true) {
		p.Para("", fmt.Sprintf("%s and %s have no number in common: without the parts' shapes a setting is a move from where it stands.",
			Capital(from), to))
		return
	}
	p.Para("", Because(r))
	var heads [2][]string
	align := "l"
	for m := range carry.Measures {
		if w.Known[m] {
			heads[0], heads[1] = append(heads[0], measures[m].over), append(heads[1], cmp.Or(measures[m].under, Hands(hands)))
			align += "r"
		}
	}
	row := func(name string, v [carry.Measures]float64, show func(float64, int) string) (cells []string, some bool) {
		cells = []string{diag.Shorten(name, 22)}
		for m := range carry.Measures {
			if w.Known[m] {
				text := show(v[m], 1)
				some = some || text != "0.0"
				cells = append(cells, text)
			}
		}
		return cells, some
	}
	source, _ := row(from, w.Source, Num)
	rows := [][]string{append([]string{""}, heads[0]...), append([]string{""}, heads[1]...), source}
	for _, s := range w.Swaps {
		if cells, some := row("  "+Cause(s.Cause), s.By, Signed); some {
			rows = append(rows, cells)
		}
	}
	target, _ := row(to, w.Target, Num)
	p.Table(align, append(rows, target)...)
	p.Para("", "Each line is what one difference adds, taken one after the other in this order.")
}

// references is the table of saddle references.
func (p *Page) references(r *job.Result) {
	from, to := Names(r.Source.Bike, r.Target)
	list, amb := r.References(r.Source.Adjusted.Placement)
	if len(list) == 0 {
		return
	}
	p.Heading("Where the saddles are, seen from the BB, mm")
	rows := [][]string{{"", "setback", "upright", "height", "setback", "upright", "height", "ahead", "up"}}
	for _, ref := range list {
		name := strings.TrimSuffix(ref.Name, ".0")
		if name == "support" {
			name = "seat"
		}
		cells := []string{name}
		for _, at := range [...]plane.Point{ref.Source, ref.Target} {
			cells = append(cells, Num(-at.X, 1), Num(at.Y, 1), Num(at.Norm(), 1))
		}
		rows = append(rows, append(cells, Signed(ref.Away.X, 1), Signed(ref.Away.Y, 1)))
	}
	p.Table("lrrrrrrrr", rows...)
	p.Para("", fmt.Sprintf("The first three columns are %s, the next three %s: upright is straight up, height straight from the BB, as "+
		"saddle height is read. The last two are how far ahead (+) and up (+) of where you sat you would sit, had that place's setback or "+
		"upright height been kept instead.", from, to))
	if r.Options.SeatTube {
		way := func(v *float64) string {
			if v == nil {
				return "not known (no seat_angle in its file)"
			}
			return MM(*v)
		}
		was, is := r.SeatTubes(r.Source.Adjusted.Placement)
		p.Para("", fmt.Sprintf("Along the seat tube to the top of the saddle: %s on %s, %s on %s.", way(was), from, way(is), to))
	}
	text := fmt.Sprintf("Keeping one place rather than another moves you by up to %s fore and aft and %s in height.", MM(amb.Level),
		MM(amb.Plumb))
	if amb.UsualOK {
		where := offset(amb.Usual)
		text += fmt.Sprintf(" With the usual pair, setback at the nose and saddle height, you would sit %s.", either(where == "",
			"where you sat", where))
	}
	p.Para("", text)
}

// Coupling tells what one setting does to what another has put right.
func Coupling(s *carry.Solution, c carry.Coupling) string {
	by, mend := s.Settings[c.By], s.Settings[c.Mend]
	hands := "the " + Hands(s.Position.Posture.Hands)
	ways := map[carry.Measure][2]string{
		carry.SaddleHeight: {"lengthens the saddle height by %s", "shortens the saddle height by %s"},
		carry.Setback:      {"takes the nose %s back", "takes the nose %s forward"},
		carry.Reach:        {"takes " + hands + " %s forward", "takes " + hands + " %s back"},
		carry.Drop:         {"lowers " + hands + " by %s", "raises " + hands + " by %s"},
	}[c.Measure]
	way := ways[0]
	if c.Change < 0 {
		way = ways[1]
	}
	amount := quantityOf(by, c.Amount)
	move := Trimmed(math.Abs(amount.Shown()), 1) + unit(amount)
	return fmt.Sprintf("%s %s on the %s %s: the %s goes %s %s.", move, by.Towards(c.Amount), Setting(by.Name),
		fmt.Sprintf(way, fine(plane.Length(math.Abs(c.Change)), 0)),
		Setting(mend.Name), mend.Towards(c.MendTravel), fine(plane.Length(math.Abs(c.MendTravel)), 0))
}
