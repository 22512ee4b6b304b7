package words

import (
	"cmp"
	"math"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/diag"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// Bike is what a bike is called: its name, or its file.
func Bike(b *bike.Bike) string { return diag.Shorten(cmp.Or(strings.TrimSpace(b.Name), b.File), 40) }

// Titled is a bike's name with its file.
func Titled(b *bike.Bike) string {
	if strings.TrimSpace(b.Name) == "" {
		return diag.Shorten(b.File, 60)
	}
	return Bike(b) + " (" + diag.Shorten(b.File, 40) + ")"
}

// Setting is what a person calls a setting: an adjuster by its name, the others in words.
func Setting(name string) string { return cmp.Or(bike.Called(name), diag.Shorten(name, 24)) }

// settings are what a person calls some settings, behind an article.
func settings(article string, names []string) (list []string) {
	for _, n := range names {
		list = append(list, article+Setting(n))
	}
	return list
}

// Hands is where the hands are, in the plural.
func Hands(c bike.Contact) string {
	switch c {
	case bike.Hood, bike.Drop, bike.Pad, bike.Grip:
		return string(c) + "s"
	}
	return string(c)
}

// Place is what a person calls a place that a tape goes to.
func Place(p bike.Place) string {
	if p.Kind == bike.AtSaddle {
		return saddlePlace(p.Ref)
	}
	return cmp.Or(map[bike.PlaceKind]string{bike.AtBB: "BB", bike.AtBar: "bar centre", bike.AtPad: "pad centre",
		bike.AtPadRear: "rear of the pad", bike.AtPadFront: "front of the pad"}[p.Kind], bike.PlaceNames[p.Kind])
}

func saddlePlace(r saddle.Reference) string {
	switch r.Kind {
	case saddle.ByWidth:
		return "saddle's " + MM(r.MM) + " width"
	case saddle.ByStation:
		return "saddle " + MM(r.MM) + " behind the nose"
	}
	return map[saddle.RefKind]string{saddle.Nose: "nose", saddle.Mid: "mid-saddle", saddle.Tail: "saddle tail",
		saddle.Widest: "widest part of the saddle", saddle.Sit: "sit mark"}[r.Kind]
}

// Reading is what a reading measures, in words, for a value of it: the sign of the value is in them.
func Reading(r bike.Reading, value float64) string {
	from, to := Place(r.From), Place(r.To)
	back := value < 0
	switch r.Kind {
	case bike.Angle:
		return [...]string{"level on the saddle", "level on the bar's flat run", "level on the hood", "level on the pad"}[r.Of]
	case bike.SeatTube:
		return "BB along the seat tube to the saddle"
	case bike.Level:
		switch {
		case r.To.Kind == bike.AtBB && back:
			return from + " ahead of the BB"
		case r.To.Kind == bike.AtBB:
			return from + " behind the BB"
		case back:
			return to + " behind the " + from
		}
		return to + " ahead of the " + from
	case bike.Plumb:
		switch {
		case r.From.Kind == bike.AtFloor:
			return "floor to " + to
		case back:
			return to + " below the " + from
		}
		return to + " above the " + from
	}
	return from + " to " + to
}

// Trade is what a bike's usual readings are called; "" for one that has no name.
func Trade(r bike.Reading) string {
	nose, mid := r.From.Kind == bike.AtSaddle && r.From.Ref.Kind == saddle.Nose, r.To.Kind == bike.AtSaddle && r.To.Ref.Kind == saddle.Mid
	hands := ""
	for _, p := range [...]bike.Place{r.From, r.To} {
		switch p.Kind {
		case bike.AtHood, bike.AtDrop, bike.AtPad, bike.AtGrip:
			hands = " to the " + bike.PlaceNames[p.Kind] + "s"
		}
	}
	switch {
	case r.Kind == bike.Angle:
		return [...]string{"saddle tilt", "bar rotation", "hood angle", "pad tilt"}[r.Of]
	case r.Kind == bike.Line && r.From.Kind == bike.AtBB && mid:
		return "saddle height"
	case r.Kind == bike.Level && nose && r.To.Kind == bike.AtBB:
		return "setback"
	case r.Kind == bike.Level && nose && hands != "":
		return "reach" + hands
	case r.Kind == bike.Plumb && mid && hands != "":
		return "drop" + hands
	case r.Kind == bike.Line && nose && r.To.Kind == bike.AtBar:
		return "nose to bar"
	case r.Kind == bike.Plumb && r.From.Kind == bike.AtFloor:
		return "floor to " + Place(r.To)
	}
	return ""
}

// quantity is a value of a reading with the sign that its words leave out taken off.
func quantity(r bike.Reading, value float64) plane.Quantity {
	if r.Kind != bike.Angle {
		value = math.Abs(value)
	}
	return reads(r, value)
}

// reads is a value of a reading with its sign.
func reads(r bike.Reading, value float64) plane.Quantity {
	return r.Quantity().Of(value)
}

// Called is what a reading is called, however it is written.
func Called(r bike.Reading) string { return CalledAt(r, 1) }

// CalledAt is what a reading is called that shows a value: by its trade name, but for a length below 0, whose words then say which
// way it goes.
func CalledAt(r bike.Reading, value float64) string {
	if t := Trade(r); t != "" && (value >= 0 || r.Kind == bike.Angle) {
		return t
	}
	return Reading(r, value)
}

// Tilted is an angle with which end is up, so that nobody has to remember the sign.
func Tilted(a plane.Angle, end string) string {
	q := plane.Turning(a)
	return either(None(q), "level", Size(q)+" "+end+either(a < 0, " down", " up"))
}

// Versions names the parts of bikes with the short hash of their shapes: what a result rests on; "" where no part is named.
func Versions(list []bike.Version) string {
	var all []string
	last := ""
	for _, v := range list {
		text := v.Slot + " " + diag.Shorten(v.Part, 32) + " (" + v.Version + ")"
		if v.Bike != last {
			text = diag.Shorten(v.Bike, 40) + ": " + text
		}
		last = v.Bike
		all = append(all, text)
	}
	return strings.Join(all, ", ")
}

// versions ends a page with Versions, where everything is asked for.
func (p *Page) versions(all bool, list []bike.Version) {
	if text := Versions(list); all && text != "" {
		p.Para("", "Parts by the versions of their shapes: "+text+".")
	}
}
