package convert

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/plane"
	"carryover/internal/saddle"
	"carryover/internal/written"
)

// Default standard uncertainties, the same as in a bike file.
const (
	tapeSigma, floorSigma, seatTubeSigma = 2.0, 3.0, 3.0 // mm
	angleSigma                           = 0.5           // degrees
)

// Words are the kinds of reading that concern a saddle alone, as they are called on the command line and in the header of a
// batch. Saddle height is straight from the BB, vertical height upright above it.
var Words = []string{"saddle-height", "vertical-height", "setback", "tilt", "seat-tube", "floor-height", "line", "level", "plumb"}

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
	r := bike.Reading{Written: word, Source: text}
	fail := func(format string, args ...any) (bike.Reading, error) {
		return bike.Reading{}, fmt.Errorf("%s %q: %s", word, text, fmt.Sprintf(format, args...))
	}
	word, usual, wordAt := strings.Cut(word, "@")
	body, sigma, hasSigma := strings.Cut(strings.TrimSpace(text), "~")
	number, at, hasAt := strings.Cut(body, "@")
	if !hasAt {
		at, hasAt = usual, wordAt
	}
	parse := written.Length
	if word == "tilt" {
		parse = written.Degrees
	}
	value, err := parse(number)
	if err != nil {
		return fail("%v", err)
	}
	r.Value, r.Sigma = value, tapeSigma
	bb, floor := bike.Place{Kind: bike.AtBB}, bike.Place{Kind: bike.AtFloor}
	lo, hi := -3000.0, 3000.0
	if hasAt && (word == "tilt" || word == "seat-tube") {
		return fail("a %s reading has no place, leave @%s out", word, at)
	}
	if !hasAt {
		at = map[string]string{"setback": "nose"}[word]
		if at == "" {
			at = "mid"
		}
	}
	if r.Written = word; word != "tilt" && word != "seat-tube" {
		r.Written += " at " + at
	}
	var places []bike.Place
	for _, name := range strings.Split(at, ",") {
		p, err := parsePlace(name)
		if err != nil {
			return fail("%v", err)
		}
		places = append(places, p)
	}
	only := places[0]
	switch word {
	case "line", "level", "plumb":
		r.From, r.To = bb, only
		if len(places) == 2 {
			r.From, r.To = places[0], places[1]
		} else if len(places) > 2 {
			return fail("a tape has two ends, not %d", len(places))
		}
		if r.From == r.To {
			return fail("it goes from %s to itself", r.From)
		}
		r.Kind = bike.Kind(slices.Index(bike.KindNames, word))
		if r.Kind == bike.Line {
			lo = math.SmallestNonzeroFloat64
		}
		if floorIn := r.From.Kind == bike.AtFloor || r.To.Kind == bike.AtFloor; floorIn {
			if r.Kind != bike.Plumb {
				return fail("the floor is a line, not a point: use plumb or floor-height")
			}
			r.Sigma = floorSigma
		}
	case "saddle-height", "vertical-height", "setback", "floor-height":
		if len(places) > 1 || only.Kind != bike.AtSaddle {
			return fail("it goes to one place of the saddle")
		}
		switch word {
		case "saddle-height":
			r.Kind, r.From, r.To = bike.Line, bb, only
			lo, hi = 200, 1300
		case "vertical-height":
			r.Kind, r.From, r.To = bike.Plumb, bb, only
			lo, hi = 100, 1300
		case "setback":
			r.Kind, r.From, r.To = bike.Level, only, bb
		default:
			r.Kind, r.From, r.To, r.Sigma = bike.Plumb, floor, only, floorSigma
			lo, hi = 100, 2500
		}
	case "tilt":
		r.Kind, r.Of, r.Sigma = bike.Angle, bike.SaddleBody, angleSigma
		lo, hi = -60, 60
	case "seat-tube":
		r.Kind, r.Sigma = bike.SeatTube, seatTubeSigma
		lo, hi = 200, 1300
	default:
		return fail("no such reading; there are %s", strings.Join(Words, ", "))
	}
	if value < lo || value > hi {
		return fail("%g is not plausible, expected %.0f to %.0f%s", value, lo, hi, unitHint(value, lo, hi, r.Kind))
	}
	if hasSigma {
		if r.Sigma, err = parse(sigma); err != nil {
			return fail("%v", err)
		}
		if r.Sigma < 0.001 || r.Sigma > 1000 {
			return fail("the uncertainty after ~ must be from 0.001 to 1000")
		}
	}
	if r.Kind == bike.Angle {
		r.Value, r.Sigma = plane.Rad(r.Value), plane.Rad(r.Sigma)
	}
	return r, nil
}

// unitHint guesses that a length was given in cm.
func unitHint(v, lo, hi float64, k bike.Kind) string {
	if k != bike.Angle && v*10 >= lo && v*10 <= hi {
		return fmt.Sprintf(" mm; if it was cm, write %g", v*10)
	}
	return ""
}

func parsePlace(name string) (bike.Place, error) {
	switch name = strings.TrimPrefix(strings.TrimSpace(name), "saddle."); name {
	case "bb":
		return bike.Place{Kind: bike.AtBB}, nil
	case "floor":
		return bike.Place{Kind: bike.AtFloor}, nil
	}
	ref, err := saddle.ParseReference(name)
	return bike.Place{Kind: bike.AtSaddle, Ref: ref}, err
}
