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
	"carryover/internal/written"
)

// Row is one line of the work at the bike: what to set, to what (how far from where it stands), and the reading that
// confirms it.
type Row struct {
	Step            int // 0: goes with the row before
	What, To, Check string
}

// quantityOf is a travel of a setting, mm or radians.
func quantityOf(set carry.Setting, v float64) plane.Quantity { return plane.QuantityOf(set.Turns(), v) }

// scaled is the adjuster whose scale a setting is read on; nil: it is set by tape or level.
func scaled(target *bike.Bike, set carry.Setting) *bike.Adjuster {
	if !set.Scale {
		return nil
	}
	return &target.Adjusters[set.Adjuster]
}

// taped reports a setting that has no scale and no number of its own: the reading beside it sets it.
func taped(target *bike.Bike, set carry.Setting) bool {
	return set.Adjuster >= 0 && target.Adjusters[set.Adjuster].NoScale
}

// Mark is a mark as finely as a scale is worth reading: to half a millimetre or a tenth of a degree where the marks are as
// close, else to a tenth of a mark or what comes to a millimetre.
func Mark(a *bike.Adjuster, mark float64) string {
	mark, decimals := readable(a, mark)
	return Trimmed(mark, decimals)
}

// readable is a mark as finely as it is told, with its decimals.
func readable(a *bike.Adjuster, mark float64) (v float64, decimals int) {
	per := math.Abs(a.Unit)
	if a.Moves.Turns() {
		per = 10 * plane.Deg(per)
	}
	switch {
	case a.Step > 0:
		decimals = 4
	case !(per > 0):
		decimals = 1
	case per <= 1 && !a.Moves.Turns():
		mark, decimals = steps(mark*per, byTape)/per, 2
	default:
		decimals = int(min(max(math.Ceil(math.Log10(per)-1e-9), 1), 6))
	}
	return steps(mark, math.Pow10(-decimals)), decimals
}

// rounded is the travel that a mark told by Mark stands for.
func rounded(a *bike.Adjuster, mark float64) float64 {
	mark, _ = readable(a, mark)
	return a.Travel(mark)
}

// pieces are the risers to stack, where the clip-on lists them and one alone is not enough.
func pieces(set carry.Setting) string {
	if set.Clipon == nil {
		return ""
	}
	var words []string
	for _, v := range set.Clipon.Stacked(set.Travel) {
		words = append(words, Trimmed(v, 1))
	}
	if len(words) < 2 {
		return ""
	}
	return " (" + strings.Join(words, " + ") + ")"
}

// Value is what a setting is set to.
func Value(target *bike.Bike, set carry.Setting) string {
	if a := scaled(target, set); a != nil {
		return Mark(a, set.Mark())
	}
	q := quantityOf(set, set.Travel)
	by, known := set.Move()
	switch set.Sets {
	case bike.SetsSaddleTilt:
		return Tilted(plane.Angle(set.Zero+set.Travel), "nose")
	case bike.SetsRotation, bike.SetsPadTilt:
		return Tilted(plane.Angle(set.Zero+set.Travel), "front")
	case bike.SetsRails:
		return Amount(q) + " from the nose"
	case bike.SetsLever:
		return Amount(q) + " along the bar"
	case bike.SetsSpacers:
		return either(None(q), "none", Amount(q)+" under it")
	case bike.SetsHole:
		return either(None(q), "in line with the bar", Size(q)+either(set.Travel < 0, " behind the bar", " ahead of the bar"))
	case bike.SetsExtension:
		return Amount(q) + " ahead of the pad"
	case bike.SetsRisers:
		return either(None(q), "none", Amount(q)+pieces(set))
	}
	switch {
	case taped(target, set):
		return "by tape"
	case known && None(quantityOf(set, by)):
		return "it stays"
	case known:
		return Size(quantityOf(set, by)) + " " + set.Towards(by)
	}
	return Amount(q)
}

// move is how far a setting goes from where it stands, in brackets; "" when that is not known.
func move(s *carry.Solution, set carry.Setting) string {
	a := scaled(s.Target, set)
	if a == nil {
		return ""
	}
	mark, marked := s.Target.Marks[a.Name]
	by := rounded(a, set.Mark()) - a.Travel(mark)
	switch {
	case !marked:
		return ""
	case Mark(a, mark) == Mark(a, set.Mark()), None(quantityOf(set, by)):
		return " (it stays)"
	}
	return fmt.Sprintf(" (%s %s from %s)", Size(quantityOf(set, by)), set.Towards(by), Trimmed(mark, 4))
}

// Scales says how far out a machine could be that is set by its scales alone, where its readings tell it better; "" where
// nothing has a scale.
func Scales(r *job.Result) string {
	worst := 0.0
	for _, step := range r.Steps {
		for _, i := range step.Settings {
			set := r.Settings[i]
			sigma := set.SigmaTotal
			if set.Sets.OnSaddle() {
				sigma = math.Hypot(sigma, r.Standing.ClampSigma)
			}
			if scaled(r.Target, set) != nil && !set.Turns() && sigma > 2*byTape && sigma > step.SigmaTotal {
				worst = math.Max(worst, 2*sigma)
			}
		}
	}
	if worst == 0 {
		return ""
	}
	return fmt.Sprintf("Set by its scales alone it could be %s out: where a reading disagrees with a scale, trust the reading.", MM(worst))
}

// Rows are the steps of a result in their order.
func Rows(r *job.Result) []Row {
	var rows []Row
	for i, step := range r.Steps {
		var list []Row
		if len(step.Settings)+len(step.Parts) == 0 {
			list = append(list, Row{What: "crank", To: fmt.Sprintf("%s mm (%s is on it)", Trimmed(r.Want.Crank, 1),
				Trimmed(r.Target.Feet.Crank, 1))})
		}
		for _, k := range step.Parts {
			p := r.Parts[k]
			list = append(list, Row{What: slot(p), To: cmp.Or(stemOf(r.Solution, p), diag.Shorten(p.ID, 32)+flipped(p.Flip))})
		}
		for _, k := range step.Settings {
			set := r.Settings[k]
			list = append(list, Row{What: Setting(set.Name), To: Value(r.Target, set) + move(r.Solution, set)})
		}
		list[0].Step = i + 1
		list[len(list)-1].Check = stepCheck(step)
		rows = append(rows, list...)
	}
	return rows
}

func flipped(flip bool) string { return either(flip, ", flipped", "") }

// stepCheck is the reading that confirms a step, and what a later step makes of it.
func stepCheck(step carry.Step) string {
	g := step.Gauge
	if g.Check(step.Foretold) == nil { // what is set says it: the spacing of pads, and nothing else moved
		return ""
	}
	q := gauge(g, step.Value.Value())
	text := gauged(g, step.Value.Value()) + " " + Bare(q) + give(q.Of(step.SigmaTotal)) + inMM(q)
	if len(step.Disturbed) > 0 {
		var later []string
		for _, k := range step.Disturbed {
			later = append(later, fmt.Sprint(k+1))
		}
		final := step.Final.Value
		text += fmt.Sprintf(" now; step %s takes it to %s%s", List(later), Bare(final.Of(math.Abs(final.Value()))), inMM(final))
	}
	return text
}

// gauged is what a gauge reads, in words.
func gauged(g carry.Gauge, value float64) string {
	switch g.Own {
	case "crank":
		return "BB to pedal axle"
	case "clamp":
		return "nose back to the rail clamp"
	}
	return Reading(g.Reading, value)
}

func gauge(g carry.Gauge, value float64) plane.Quantity {
	if g.Own != "" {
		return plane.Length(value)
	}
	return quantity(g.Reading, value)
}

// held says what holds a contact back, "" when nothing does.
func held(s *carry.Solution, c carry.Carried) string {
	var list []string
	by := s.HeldBy(c)
	for _, set := range s.Settings {
		if !slices.Contains(by, set.Name) {
			continue
		}
		at := ""
		switch {
		case set.Adjuster < 0 || scaled(s.Target, set) != nil:
			at = " (" + Value(s.Target, set) + ")"
		case !taped(s.Target, set):
			at = " (" + Amount(quantityOf(set, set.Travel)) + ")"
		}
		several := set.Sets.Several()
		end := either(several, "come in", "comes in") + " steps"
		switch {
		case set.Limit != "step":
			end = either(several, "are at their", "is at its") + either(set.Limit == "min", " lower stop", " upper stop")
		case set.Offered != nil:
			end = "can be " + written.Or(places(s.Target, set)) + ", nothing between"
		case set.Step > 0:
			end += " of " + Amount(quantityOf(set, set.Step))
		}
		list = append(list, "the "+Setting(set.Name)+" "+end+at)
	}
	return List(list)
}

// places are what a part offers a setting where it stands and to either side of that, in words.
func places(target *bike.Bike, set carry.Setting) (list []string) {
	at, _ := slices.BinarySearch(set.Offered, set.Travel-1e-6)
	for _, set.Travel = range set.Offered[max(0, at-1):min(len(set.Offered), at+2)] {
		list = append(list, Value(target, set))
	}
	return list
}
