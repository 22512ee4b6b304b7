package convert

import (
	"fmt"
	"slices"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/format"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

// kind is a kind of reading that concerns a saddle alone: from where to where it goes, AtSaddle being the place that is named.
type kind struct {
	word     string // as it is called on the command line and in the header of a batch
	kind     bike.Kind
	from, to bike.Place
	usual    string // the place of one that names none; "": it has no place
	value    *format.Key
}

var bb, floor, on = bike.Place{Kind: bike.AtBB}, bike.Place{Kind: bike.AtFloor}, bike.Place{Kind: bike.AtSaddle}

// Saddle height is straight from the BB, vertical height upright above it. Line, level and plumb may name both their ends.
var kinds = []kind{
	{"saddle-height", bike.Line, bb, on, "mid", format.Reading("saddle-height")},
	{"vertical-height", bike.Plumb, bb, on, "mid", &format.Key{Kind: format.Number, Unit: format.MM, Lo: 100, Hi: 1300}},
	{"setback", bike.Level, on, bb, "nose", format.Reading("setback")},
	{word: "tilt", kind: bike.Angle, value: format.Reading("saddle-tilt")},
	{word: "seat-tube", kind: bike.SeatTube, value: format.Reading("seat-tube")},
	{"floor-height", bike.Plumb, floor, on, "mid", format.Reading("floor-height")},
	{"line", bike.Line, bb, on, "mid", format.Reading("line")},
	{"level", bike.Level, bb, on, "mid", format.Reading("level")},
	{"plumb", bike.Plumb, bb, on, "mid", format.Reading("plumb")},
}

// Words are what the kinds are called.
var Words = func() (words []string) {
	for _, k := range kinds {
		words = append(words, k.word)
	}
	return words
}()

// OldHeight is what saddle-height was called here once.
const OldHeight = "height"

// OldHeightNote is what a person who writes OldHeight is told.
const OldHeightNote = "height is read as saddle-height, straight from the BB; vertical-height is the other"

// Word is the word used here for one of the bike file, or for an old one of this command.
func Word(word string) string {
	switch word {
	case OldHeight:
		return "saddle-height"
	case "saddle-tilt":
		return "tilt"
	}
	return word
}

// ParseReading reads one reading: the value, then perhaps @ and where it goes, then perhaps ~ and its standard uncertainty:
// "742", "742@mid", "742 mm@mid~1.5", "29.2in". The word may say where it goes too: "setback@width:80". Heights, setback and
// their kin go to one place of the saddle; line, level and plumb go from the BB to a place, or between two: "12@nose,tail".
// A number without a unit is mm, or degrees.
func ParseReading(word, text string) (bike.Reading, error) {
	r := bike.Reading{Source: text}
	fail := func(format string, args ...any) (bike.Reading, error) {
		return bike.Reading{}, fmt.Errorf("%s %q: %s", word, text, fmt.Sprintf(format, args...))
	}
	word, at, placed := strings.Cut(word, "@")
	i := slices.Index(Words, word)
	if i < 0 {
		return fail("no such reading; there are %s", strings.Join(Words, ", "))
	}
	k := &kinds[i]
	body, sigma, unsure := strings.Cut(strings.TrimSpace(text), "~")
	number, place, ok := strings.Cut(body, "@")
	if ok {
		at, placed = place, true
	}
	value, err := inside(k.value, number)
	if err != nil {
		return fail("%v", err)
	}
	r.Written, r.Kind, r.Value = word, k.kind, value
	switch {
	case k.usual != "":
		if !placed {
			at = k.usual
		}
		r.Written += " at " + at
		if r.From, r.To, err = k.ends(at); err != nil {
			return fail("%v", err)
		}
	case placed:
		return fail("a %s reading has no place, leave @%s out", word, at)
	}
	r.Sigma = r.UsualSigma()
	if unsure {
		sure := *format.Bike.Keys.Find("reading.sigma")
		sure.Unit = k.value.Unit
		if r.Sigma, err = inside(&sure, sigma); err != nil {
			return fail("the uncertainty after ~: %v", err)
		}
	}
	return r, nil
}

// inside is a number as the program counts it, mm or radians.
func inside(k *format.Key, text string) (float64, error) {
	v, err := k.Read(text)
	if k.Unit == format.Deg {
		v = plane.Rad(v)
	}
	return v, err
}

// ends are from where to where a reading goes that names a place, or two.
func (k *kind) ends(at string) (from, to bike.Place, err error) {
	var named []bike.Place
	for name := range strings.SplitSeq(at, ",") {
		p, err := parsePlace(name)
		if err != nil {
			return from, to, err
		}
		named = append(named, p)
	}
	from, to = k.from, k.to
	plain := k.word == k.kind.String()
	switch {
	case !plain && (len(named) > 1 || named[0].Kind != bike.AtSaddle):
		return from, to, fmt.Errorf("it goes to one place of the saddle")
	case len(named) > 2:
		return from, to, fmt.Errorf("a tape has two ends, not %d", len(named))
	case len(named) == 2:
		from, to = named[0], named[1]
	case from == on:
		from = named[0]
	default:
		to = named[0]
	}
	switch {
	case from == to:
		err = fmt.Errorf("it goes from %s to itself", from)
	case k.kind != bike.Plumb && (from == floor || to == floor):
		err = fmt.Errorf("the floor is a line, not a point: use plumb or floor-height")
	}
	return from, to, err
}

func parsePlace(name string) (bike.Place, error) {
	switch name = strings.TrimPrefix(strings.TrimSpace(name), "saddle."); name {
	case "bb":
		return bb, nil
	case "floor":
		return floor, nil
	}
	ref, err := saddle.ParseReference(name)
	return bike.Place{Kind: bike.AtSaddle, Ref: ref}, err
}
