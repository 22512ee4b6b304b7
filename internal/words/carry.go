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
	"carryover/internal/saddle"
)

// OutOfReach is the E, weighted mm that no tape shows, beyond which a wrong reading or the wrong bike is likelier than a rider who
// would put up with it.
const OutOfReach = 20

// Names are what two bikes are called beside one another: by their files where their names are the same.
func Names(from, to *bike.Bike) (string, string) {
	a, b := Bike(from), Bike(to)
	if a == b {
		a, b = diag.Shorten(from.File, 40), diag.Shorten(to.File, 40)
	}
	return a, b
}

// Verdict is what became of a posture, in a sentence.
func Verdict(r *job.Result) string {
	from, to := Names(r.Source.Bike, r.Target)
	text := fmt.Sprintf("NOT CARRIED: %s does not come all the way", to)
	if sit, hands := r.Contacts[0], r.Contacts[1]; sit.Carried && hands.Carried { // the places would do, were it not for the parts
		text = fmt.Sprintf("NOT CARRIED: what is fitted to %s does not fit", to)
	}
	if r.Carried() {
		text = fmt.Sprintf("CARRIED: seat and %s on %s are as on %s", Touched(r.Contacts[1].Want.Name), to, from)
		if offset(r.Want.Shift) != "" {
			text += either(r.Options.HandsFixed, ", the seat moved along with its pedals", ", moved along with its pedals")
		}
		var off []string
		for _, c := range r.Contacts {
			if w := Miss(c); c.Primary && w != "" {
				off = append(off, Touched(c.Want.Name)+" "+w)
			}
		}
		if len(off) > 0 {
			text = fmt.Sprintf("CARRIED, within 2 mm and 1°: %s", strings.Join(off, "; "))
		}
	}
	if disagree(r) {
		return text + "; from readings that disagree: mend them first."
	}
	return text + "."
}

// Promise is what a whole carry comes to: only one that is carried, from readings that agree, is as on the other bike.
func Promise(c *job.Carry) string {
	from, _ := Names(c.Bike, c.Target)
	out := func(r *job.Result) bool { return r.E > OutOfReach }
	switch {
	case slices.ContainsFunc(c.Results, out):
		return "it does not come to how you sit and hold on " + from
	case !c.Carried():
		return "as near as it comes to how you sit and hold on " + from
	case slices.ContainsFunc(c.Results, disagree):
		return "by readings that disagree, to sit and hold as on " + from
	}
	return "so that you sit and hold as on " + from
}

// Touched is what a contact is to a rider.
func Touched(c bike.Contact) string {
	if c == bike.Sit {
		return "seat"
	}
	return Hands(c)
}

// Miss is by how much and in which direction a contact is off its place, "" when it is on it to what can be set.
func Miss(c carry.Carried) string { return astray(c.Want.Name, c.Away.Scale(-1), c.MissAngle) }

// distance is how far a contact is off its place and its angle, as a tape and a level tell; "" where they do not.
func distance(c carry.Carried) string {
	mm, turn := plane.Length(c.Miss), plane.Turning(plane.Angle(math.Abs(c.MissAngle)))
	return List(some(either(None(mm), "", Amount(mm)), either(None(turn), "", Amount(turn))))
}

// off is how far the seat and the hands are off, each for itself: "seat by 127 mm and 1.5°"; "nothing" where that cannot be set.
func off(s *carry.Solution) string {
	var list []string
	for _, c := range s.Contacts {
		if d := distance(c); c.Primary && d != "" {
			list = append(list, Touched(c.Want.Name)+" by "+d)
		}
	}
	return cmp.Or(strings.Join(list, "; "), "nothing")
}

// astray is how far a contact went from its place and turned, radians; "" when no tape or level tells.
func astray(c bike.Contact, by plane.Point, turn float64) string {
	end := ""
	if a := plane.Angle(turn); !None(plane.Turning(a)) {
		end = turned(a, either(c == bike.Sit, "nose", "front"))
	}
	return strings.Join(some(offset(by), end), ", ")
}

// turned is a wrong angle in words: "0.5° further up at the nose".
func turned(a plane.Angle, end string) string {
	return Size(plane.Turning(a)) + either(a > 0, " further up", " further down") + " at the " + end
}

// way is a length with the word for where it goes, above 0 and below.
type way struct {
	by         float64
	more, less string
}

// ways are the lengths that can be set at all: "4 mm back", "2 mm up".
func ways(all ...way) (list []string) {
	for _, w := range all {
		if q := plane.Length(w.by); !None(q) {
			list = append(list, Size(q)+" "+either(w.by > 0, w.more, w.less))
		}
	}
	return list
}

// offset is a displacement in words: "18.5 mm further forward and 3 mm lower"; "" when it cannot be set.
func offset(d plane.Point) string {
	return List(ways(way{d.X, "further forward", "further back"}, way{d.Y, "higher", "lower"}))
}

// Shifted is a displacement in a table: "4 mm back", "2 mm up".
func Shifted(x, y float64) []string { return ways(way{x, "forward", "back"}, way{y, "up", "down"}) }

// some are the sentences that there are.
func some(list ...string) []string {
	return slices.DeleteFunc(slices.Clone(list), func(t string) bool { return t == "" })
}

// Consequences are what a miss means to the rider, and what holds it back.
func Consequences(r *job.Result) []string {
	var list []string
	from, _ := Names(r.Source.Bike, r.Target)
	sit, hands := r.Contacts[0], r.Contacts[1]
	if !sit.Carried {
		kept := "leg extension and tilt are kept"
		leg := ways(way{sit.Got.At.Norm() - sit.Want.At.Norm(), "more", "less"})
		tilt := plane.Turning(plane.Angle(sit.MissAngle))
		if len(leg) > 0 || !None(tilt) {
			kept = either(len(leg) > 0, "your leg has "+List(leg), "leg extension is kept") + ", " +
				either(None(tilt), "the tilt is kept", "the saddle is "+turned(plane.Angle(sit.MissAngle), "nose"))
		}
		where := offset(sit.Away.Scale(-1))
		list = append(list, fmt.Sprintf("Your seat is %s on %s; %s.%s", either(where == "", "where it was", where+" than"), from, kept,
			because(r, sit)))
	}
	reach := hands.Got.At.Sub(sit.Got.At).Sub(r.Position.Hands.At.Sub(r.Position.Sit.At).Turn(-r.Target.Frame.Pitch))
	where := Hands(hands.Want.Name)
	switch w := offset(reach); {
	case !sit.Carried && w == "":
		list = append(list, fmt.Sprintf("The %s moved with the seat, so your reach and drop are the same.", where))
	case !sit.Carried || !hands.Carried:
		if w = astray(hands.Want.Name, reach, hands.MissAngle); w != "" {
			list = append(list, fmt.Sprintf("Seen from the seat your %s are %s.%s", where, w, because(r, hands)))
		}
	}
	if own := r.Alone; own != nil && r.E-own.E > byTape {
		list = append(list, fmt.Sprintf("What is bolted on was chosen for all postures together: by itself this one would have %s, and %s.",
			Fitted(own, r.Solution), either(own.Carried(), "be carried", "be off: "+off(own))))
	}
	if r.E > OutOfReach {
		list = append(list, fmt.Sprintf("Out of reach: %s. Check the readings. Do not set the bike up like this.", off(r.Solution)))
	}
	return list
}

// Work heads the order of work.
func Work(r *job.Result) string {
	return either(r.E > OutOfReach, "As near as it comes", "Set in this order")
}

func because(r *job.Result, c carry.Carried) string {
	if by := held(r.Solution, c); by != "" {
		return " " + Sentence(by)
	}
	if !c.Carried {
		return fmt.Sprintf(" No adjuster in its file %s %s that way.", either(None(plane.Length(c.Miss)), "turns", "moves"),
			either(c.Want.Name == bike.Sit, "it", "them"))
	}
	return ""
}

// wristMM is from where on a grip that ends elsewhere bends the wrist: common practice.
const wristMM = 10.0

// foremost are the warnings that stand among the dangers.
var foremost = map[string]bool{"clipon-gap": true, "saddle-narrow": true, "support-at-nose": true}

// Dangers are what stands first: what is not carried, does not fit, must be done before all else, or bends a wrist.
func Dangers(r *job.Result) []string {
	var list []string
	if !r.Carried() {
		list = append(list, Consequences(r)...)
	}
	list = append(list, some(tapeAgain(r))...)
	for _, w := range r.Warnings {
		if foremost[w.Code] {
			list = append(list, diag.Visible(Sentence(w.Text)))
		}
	}
	for _, c := range r.Contacts {
		if c.Want.Name == bike.Grip && math.Abs(c.Away.Y) >= wristMM {
			from, _ := Names(r.Source.Bike, r.Target)
			list = append(list, fmt.Sprintf("The ends of the extensions are %s than on %s: your wrists bend differently.",
				offset(c.Away.Scale(-1)), from))
		}
	}
	return list
}

// mostCures is how many cures of one contact are worth telling: the cheapest come first.
const mostCures = 4

// Cures are for each contact that ails the smallest changes that would carry it, what costs nothing first.
func Cures(r *job.Result) []string {
	return cures(r, func(posture string) string { return "posture " + posture })
}

// cures are Cures with every posture called by its name among the others.
func cures(r *job.Result, called func(posture string) string) []string {
	var list []string
	for _, a := range r.Ails {
		mend := either(a.Gap, "make the clip-on fit", "bring the "+Touched(a.Contact)+" there")
		var cures, first []string // first: what goes before each
		machine := true           // nothing but what is lacking is done
		for i := range a.Cures {
			c := &a.Cures[i]
			with := ""
			for w := c; w != nil; w = w.With {
				machine = machine && w.Kind >= carry.CureTurn
				if w != c {
					with = change(c.Solution, w) + ", and " + with
				}
			}
			if len(cures) < mostCures {
				cures, first = append(cures, cure(r, c)), append(first, with)
			}
		}
		all := ""
		if len(cures) > 1 && first[0] != "" && len(slices.Compact(slices.Clone(first))) == 1 {
			all, first = first[0]+"one of these: ", make([]string, len(first))
		}
		for i := range cures {
			cures[i] = first[i] + cures[i] + besides(r, &a.Cures[i], called)
		}
		lacks, text := lack(&a), ""
		if !a.Single() && lacks != "" {
			text = fmt.Sprintf("No single change would %s: it lacks %s.", mend, lacks)
			if machine {
				cures = nil
			}
		}
		if len(cures) > 0 {
			text += either(text == "", "What would "+mend+": ", " These together would: ") + all + strings.Join(cures, "; or ") + "."
		}
		if text != "" {
			list = append(list, text)
		}
	}
	return list
}

// besides is what a cure does to other postures, and to what is carried now; "" where it does nothing to them.
func besides(r *job.Result, c *carry.Cure, called func(posture string) string) string {
	names := func(list []string) string {
		var all []string
		for _, posture := range list {
			all = append(all, called(posture))
		}
		return List(all)
	}
	var list []string
	if len(c.Also) > 0 {
		list = append(list, "carries "+names(c.Also)+" too")
	}
	if len(c.Leaves) > 0 {
		list = append(list, names(c.Leaves)+either(len(c.Leaves) == 1, " stays", " stay")+" out of reach")
	}
	var whole []string // of these neither seat nor hands are carried any more
	for i, t := range c.Spoils {
		same := func(k int) bool { return k >= 0 && k < len(c.Spoils) && c.Spoils[k].Posture == t.Posture }
		switch {
		case same(i - 1): // told with the contact before
		case same(i + 1):
			whole = append(whole, t.Posture)
		default:
			in := either(t.Posture == r.Position.Posture.Name, "", " in "+called(t.Posture))
			list = append(list, fmt.Sprintf("the %s%s would no longer be carried", Touched(t.Contact), in))
		}
	}
	if len(whole) > 0 {
		list = append(list, names(whole)+" would no longer be carried")
	}
	if len(list) == 0 {
		return ""
	}
	return " (" + strings.Join(list, ", ") + ")"
}

// lack is what a contact lacks, in words; "" where nothing is known to lack.
func lack(a *carry.Ailment) string {
	var list []string
	sit := a.Contact == bike.Sit
	if t := a.Lack.Turn; t != 0 {
		list = append(list, Degrees(plane.Angle(math.Abs(t)))+" "+either(sit, "nose", "front")+either(t > 0, " up", " down"))
	}
	return List(append(list, ways(way{a.Lack.Place.X, either(sit, "forward", "of reach"), either(sit, "of setback", "backward")},
		way{a.Lack.Place.Y, "of height", "downward"})...))
}

// cure is one change with the settings it needs, as a shop would say it.
func cure(r *job.Result, c *carry.Cure) string {
	told := []bike.Sets{c.Sets}
	if c.With != nil {
		told = append(told, c.With.Sets)
	}
	needs := needs(c.Solution, r.Solution, func(k bike.Sets) bool {
		return slices.Contains(told, k) || c.Kind == carry.CureGap || c.Cost() >= carry.CureTurn || k.OnSaddle() != c.OnSaddle
	})
	return strings.Join(append([]string{change(c.Solution, c)}, needs...), ", ")
}

// change is what is changed alone, s what comes of it.
func change(s *carry.Solution, c *carry.Cure) string {
	half := either(c.OnSaddle, "saddle", "bar")
	mm, deg := MM(math.Abs(c.By)), Degrees(plane.Angle(math.Abs(c.By)))
	up, more := either(c.By > 0, "up", "down"), either(c.By > 0, "more", "less")
	what := map[bike.Sets][3]string{ // as it is, and one that goes further
		bike.SetsSaddleTilt: {"the saddle tilted", "a seatpost head that goes", "nose"}, bike.SetsRotation: {"the bar turned",
			"a bar clamp that turns", "front"}, bike.SetsPadTilt: {"the pads tilted", "pads that tilt", "front"}}[c.Sets]
	switch c.Kind {
	case carry.CureGap:
		text := fmt.Sprintf("each clamp with its pad %s further out", mm)
		if p := s.Spacing(s.Source); p != nil {
			text += fmt.Sprintf(", the pads %s apart", MM(p.Target))
		}
		return text
	case carry.CureSetting:
		switch c.Sets {
		case bike.SetsSaddleTilt, bike.SetsRotation, bike.SetsPadTilt:
			return fmt.Sprintf("%s another %s %s %s", what[0], deg, what[2], up)
		case bike.SetsRails:
			return fmt.Sprintf("the saddle %s further %s on its rails", mm, either(c.By > 0, "forward", "back"))
		case bike.SetsLever:
			return fmt.Sprintf("the lever %s further %s the bar", mm, either(c.By > 0, "along", "back along"))
		}
		for _, set := range s.Settings {
			if set.Sets == c.Sets {
				return built(s, set)
			}
		}
	case carry.CureSpacers:
		return fmt.Sprintf("%s %s of spacers", mm, more)
	case carry.CureFlip:
		return "the stem " + either(c.Part.Flip, "flipped", "turned back upright")
	case carry.CureTurn:
		return fmt.Sprintf("%s %s further %s %s", what[1], deg, what[2], up)
	case carry.CureSetback:
		return fmt.Sprintf("a seatpost with %s %s setback", mm, either(c.By < 0, "more", "less"))
	case carry.CureHeight:
		return fmt.Sprintf("%s %s under the %s", mm, more, half)
	case carry.CureReach:
		return fmt.Sprintf("the %s %s further %s", half, mm, either(c.By > 0, "forward", "back"))
	}
	return "the " + part(s, c.Part)
}

// tapeAgain says that what is turned about a clamp nobody has read should be taped again; "" where nothing is.
func tapeAgain(r *job.Result) string {
	var parts []string
	for _, set := range r.Settings {
		by, known := set.Move()
		if !set.Turns() || known && None(quantityOf(set, by)) {
			continue
		}
		switch arm, ok := r.Target.Bar.Arms[r.Position.Posture.Hands]; {
		case set.Sets == bike.SetsSaddleTilt && r.Target.Saddle.Arm != nil && r.Target.Saddle.Arm.Taken:
			parts = append(parts, "saddle")
		case set.Sets == bike.SetsRotation && ok && arm.Taken:
			parts = append(parts, "bar")
		}
	}
	if len(parts) == 0 {
		return ""
	}
	what := strings.Join(parts, " and the ")
	return fmt.Sprintf("FIRST set the angle of the %s by level, tape its two readings again, write them in the file and carry again: "+
		"nobody has read what it turns about, so where it then stands is a guess.", what)
}

// Minds are what else to mind of a result.
func Minds(r *job.Result) []string {
	var list []string
	from, _ := Names(r.Source.Bike, r.Target)
	for _, w := range r.Warnings {
		if w.Code != "crank" && !foremost[w.Code] { // told with the feet, and among the dangers
			list = append(list, diag.Visible(Sentence(w.Text)))
		}
	}
	list = append(list, some(pitch(r, r.Source.Bike), pitch(r, r.Target), Feet(r), sitBones(r), Scales(r), mark(r))...)
	list = append(list, Pads(r)...)
	for _, c := range r.Contacts {
		w := Miss(c)
		told := c.Want.Name == bike.Grip && math.Abs(c.Away.Y) >= wristMM
		if !c.Primary && w != "" && !told {
			list = append(list, fmt.Sprintf("The %s end up %s than on %s.", Hands(c.Want.Name), w, from))
		}
	}
	return list
}

// pitch says what it does to the readings of a bike that it stands for the tape otherwise than it is ridden; "" where it does not, or
// where the other does alike.
func pitch(r *job.Result, b *bike.Bike) string {
	p := b.Frame.Pitch
	if p == 0 || r.Source.Bike.Frame.Pitch == r.Target.Frame.Pitch {
		return ""
	}
	read := r.Contacts[0].Want.At // in the frame of the target as read
	if b == r.Source.Bike {
		read = r.Position.Sit.At.Turn(-p)
	}
	return fmt.Sprintf("%s is ridden with its front %s %s than the tape finds it: ridden, the seat is %s than it reads.", Bike(b),
		Degrees(plane.Angle(math.Abs(p))), either(p > 0, "higher", "lower"), offset(read.Turn(p).Sub(read)))
}

// sitBones says that a posture's own support is taken where the rider's sit bones call for another; else "".
func sitBones(r *job.Result) string {
	const differs = 5 // mm
	if r.Source.Rider == nil || r.Source.Rider.SitBones == 0 || r.Position.Posture.SitBones {
		return ""
	}
	want, has := r.Source.Rider.SitWidth(), r.Position.Posture.Support
	if math.Abs(want-has) <= differs {
		return ""
	}
	return fmt.Sprintf("The rider's sit bones call for a saddle %s mm wide; the posture says %s mm, and that is taken. "+
		"support = \"sit-bones\" takes the rider's.", Num(want, 0), Num(has, 0))
}

// mark says how the place of the support is found on a saddle with a shape, where a reading goes to it; else "".
func mark(r *job.Result) string {
	if r.Target.Saddle.Empty() || !slices.ContainsFunc(r.Checks,
		func(c carry.Check) bool { return c.Reading.From == r.Target.Seat(saddle.Sit) }) {
		return ""
	}
	return fmt.Sprintf("The sit mark is where the saddle is %s mm wide; a gauge to cut out finds it (carryover template --gauge %[1]s).",
		Num(r.Position.Posture.Support, 0))
}

// Feet says what the crank and what lies under the foot do to the saddle; "" when both are the same.
func Feet(r *job.Result) string {
	from, to := Names(r.Source.Bike, r.Target)
	var list []string
	if r.Want.Crank != r.Source.Bike.Feet.Crank {
		list = append(list, fmt.Sprintf("cranks of %s (%s %s)", MM(r.Want.Crank), from, MM(r.Source.Bike.Feet.Crank)))
	}
	if d := r.Target.Feet.SoleHeight - r.Source.Bike.Feet.SoleHeight; d != 0 {
		list = append(list, fmt.Sprintf("%s %s between pedal axle and foot", MM(math.Abs(d)),
			either(d > 0, "more", "less")))
	}
	if len(list) == 0 {
		return ""
	}
	text := to + " has " + List(list) + ": "
	moved := offset(r.Want.Shift)
	if moved == "" {
		return text + "one makes up for the other, and the saddle stays."
	}
	why := either(r.Options.Policy == carry.KeepExtension, "your legs stretch as far", "your knees stay over the pedals")
	return text + "so that " + why + ", the seat is " + moved + either(r.Options.HandsFixed, "; the hands stay.", ", and the hands with it.")
}

// padPlaces says where the pads and the ends of the extensions are from the BB.
func padPlaces(r *job.Result) []string {
	if r.Position.Posture.Hands != bike.Pad {
		return nil
	}
	at := []string{}
	told := func(name string, p plane.Point) {
		at = append(at, fmt.Sprintf("%s %s ahead and %s up", name, Trimmed(steps(p.X, byTape), 1), Trimmed(steps(p.Y, byTape), 1)))
	}
	told("pad centre", r.Contacts[1].Got.At)
	if rear, err := r.Placement.Where(bike.Place{Kind: bike.AtPadRear}); err == nil {
		told("back of the pad", rear)
	}
	for _, c := range r.Contacts[2:] {
		told("end of the extension", c.Got.At)
	}
	if len(at) == 1 { // a pad centre alone is read at its step
		return nil
	}
	return []string{"From the BB: " + strings.Join(at, "; ") + "."}
}

// padGap is how wide the gap between two pads is, spacing apart (mm); "" where it is not known.
func padGap(c *bike.CliponFit, spacing *float64) string {
	if c == nil || c.Open || c.Only() == nil || spacing == nil {
		return ""
	}
	return MM(*spacing - c.Only().PadWidth)
}

// Pads says what the side view does not show of pads: how far apart they are, the room between the arms, and their
// height above the floor.
func Pads(r *job.Result) []string {
	from, to := Names(r.Source.Bike, r.Target)
	var list []string
	if s := r.Spacing; s != nil {
		text := fmt.Sprintf("Set the pads %s apart, centre to centre", MM(s.Target))
		switch each, known := s.Outward(); {
		case !known:
			text += fmt.Sprintf("; %s does not say its own, so check it by feel.", from)
		case None(plane.Length(each)):
			text += fmt.Sprintf(", as on %s.", from)
		default:
			text += fmt.Sprintf(" where %s has %s: each pad %s.", from, MM(*s.Source), List(ways(way{each, "further out", "further in"})))
		}
		if a, b := padGap(r.Source.Bike.Clipon, s.Source), padGap(r.Target.Clipon, &s.Target); b != "" {
			text += fmt.Sprintf(" The gap between them is %s%s.", b, either(a == "", "", either(a == b, ", as there", "; on "+from+" it is "+a)))
		}
		list = append(list, text)
	}
	list = append(list, padPlaces(r)...)
	if a, b := r.Source.Bike.Frame.BBHeight, r.Target.Frame.BBHeight; a != nil && b != nil && *a != *b &&
		r.Position.Posture.Hands == bike.Pad {
		list = append(list, fmt.Sprintf("The pads are %s above the floor on %s and %s on %s, whose BB is %s.", MM(r.Position.Hands.At.Y+*a), from,
			MM(r.Contacts[1].Got.At.Y+*b), to, offset(plane.Point{Y: *b - *a})))
	}
	return list
}

// Finished are the readings of the finished bike in a sentence.
func Finished(r *job.Result) string {
	var list []string
	for _, c := range r.Checks {
		q := quantity(c.Reading, c.Value.Value())
		list = append(list, CalledAt(c.Reading, c.Value.Value())+" "+Bare(q)+inMM(q))
	}
	return "Once finished, with nobody on it, it reads: " + strings.Join(list, ", ") + "."
}

// Meaning explains ±, once.
const Meaning = "± is how sure a number is: two times in three the truth is nearer than that, and hardly ever twice as far."

// Cautions is what to heed before riding.
func Cautions() []string {
	return []string{
		"Post and stem must go in at least as far as their minimum mark. Recheck bolts.",
		"Change little at a time. Pain or numbness: stop, see a clinician or a fitter.",
	}
}

// More is how much a text tells beyond what is needed at the bike.
type More struct{ Why, All bool }

// Carry lays out a carry for a person.
func (p *Page) Carry(c *job.Carry, more More) {
	p.Para("From  ", Titled(c.Bike))
	p.Para("To    ", Titled(c.Target))
	told := c.Told()
	p.Danger(AllDoubts(told)...)
	p.failed("CARRIED", c.Failed)
	feet := "" // as already told of another posture
	for _, r := range c.Results {
		minds := slices.DeleteFunc(Minds(r), func(t string) bool { return t == feet })
		p.result(r, minds, more)
		feet = Feet(r)
	}
	p.Space()
	p.Para("", AllAssumed(told)...)
	p.Para("", Meaning)
	p.Para("", Cautions()...)
	p.versions(more.All, c.Versions())
}

// failed says which postures cannot be done, CARRIED or CONFIRMED, and why.
func (p *Page) failed(done string, list []job.Posture) {
	for _, f := range list {
		p.Space()
		p.Danger(cannot(done, f))
		p.Lines("   ", Failure(f.Err))
	}
}

// CannotCarry opens why a posture cannot be carried.
func CannotCarry(f job.Posture) string { return cannot("CARRIED", f) }

func cannot(done string, f job.Posture) string {
	return fmt.Sprintf("Posture %s CANNOT BE %s:", diag.Shorten(f.Name, 22), done)
}

// PostureVerdict is what became of a posture, by its name.
func PostureVerdict(r *job.Result) string {
	text := fmt.Sprintf("Posture %s is %s", diag.Shorten(r.Position.Posture.Name, 22), Verdict(r))
	if !r.Proven {
		text += " The search was stopped early: this is the best it had found."
	}
	return text
}

func (p *Page) result(r *job.Result, minds []string, more More) {
	p.Space()
	if Sound(r) {
		p.Strong(PostureVerdict(r))
	} else {
		p.Danger(PostureVerdict(r))
	}
	p.Danger(Dangers(r)...)
	p.Para("   ", Cures(r)...)
	var rows [][]string
	for _, w := range Rows(r) {
		rows = append(rows, []string{either(w.Step > 0, fmt.Sprint(w.Step), ""), w.What, w.To, w.Check})
	}
	if len(rows) == 0 {
		p.Para("", "Nothing on this bike can be set.")
	} else {
		p.Para("", Work(r)+"; the reading at the end, in mm, confirms each step:")
		p.Table("rlll", rows...)
	}
	p.Para("", Finished(r))
	p.Para("- ", minds...)
	p.Danger(Impossible(r.Body)...)
	p.Para("- ", Joints(r.Body))
	if more.Why {
		p.why(r)
	}
	if o := r.Options; more.Why || len(o.Also) > 0 || o.SeatTube {
		p.references(r)
	}
	if more.All {
		p.more(r)
	}
	p.draws(r.Draws)
	p.blame(r)
	p.others(r)
	p.stems(r)
}

// Lines adds the lines of a message, each set in.
func (p *Page) Lines(indent, text string) {
	for _, l := range strings.Split(text, "\n") {
		in := len(l) - len(strings.TrimLeft(l, " "))
		p.Para(indent+l[:in], diag.Visible(l[in:]))
	}
}
