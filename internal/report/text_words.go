package report

import (
	"fmt"
	"math"
	"strings"

	"carryover/internal/diag"
)

// settingWords are what a person calls the settings that are on no scale.
var settingWords = map[string]string{
	"saddle.tilt": "saddle tilt", "saddle.clamp_at": "rail clamp", "bar.rotation": "bar rotation", "bar.lever_at": "lever place",
	"stem.spacers": "spacers", "clipon.tilt": "pad tilt", "clipon.hole": "pad hole", "clipon.stack": "pad risers",
	"clipon.extension": "extension",
}

// settingName is what a person calls a setting.
func settingName(n string) string {
	if w, ok := settingWords[n]; ok {
		return w
	}
	return diag.Shorten(n, 24)
}

// markDecimals is how finely a scale is worth reading: to 1 mm or 0.1 degrees, or better.
func markDecimals(s Placed) int {
	per := math.Abs(s.PerMark)
	if s.Unit == "deg" {
		per *= 10
	}
	if !(per > 0) {
		return 1
	}
	return int(min(max(math.Ceil(math.Log10(per)-1e-9), 1), 6))
}

// fine reports a scale whose marks lie so close that nobody reads between them.
func fine(s Placed) bool {
	return s.Unit == "mm" && math.Abs(s.PerMark) <= 1 || s.Unit == "deg" && math.Abs(s.PerMark) <= 0.1
}

// markText is a mark as it stands on the scale.
func markText(s Placed) string {
	if s.Step > 0 {
		return "step " + trimmed(s.shown())
	}
	text := num(s.shown(), markDecimals(s))
	whole := strings.TrimRight(strings.TrimRight(text, "0"), ".")
	switch {
	case s.Between == nil || !strings.Contains(whole, "."):
		return whole
	case fine(s):
		return text
	}
	return fmt.Sprintf("%s, between %s and %s", text, num(s.Between[0], 0), num(s.Between[1], 0))
}

// trimmed prints up to four decimals, no more than there are.
func trimmed(v float64) string {
	s := num(v, 4)
	return strings.TrimRight(strings.TrimRight(s, "0"), ".")
}

// valueText is what a setting is set to.
func valueText(s Placed) string {
	if s.Scale {
		return markText(s)
	}
	a := amount(s.Travel, s.Unit)
	switch s.Adjuster {
	case "saddle.tilt":
		return a + tilted(s.Travel, "nose")
	case "bar.rotation", "clipon.tilt":
		return a + tilted(s.Travel, "front")
	case "saddle.clamp_at":
		return a + " from the nose"
	case "bar.lever_at":
		return a + " along the bar"
	case "stem.spacers":
		return a + " under the stem"
	case "clipon.hole":
		if at := num(s.Travel, 1); at == "0.0" || at == "-0.0" {
			return a + ", in line with the bar"
		}
		if s.Travel < 0 {
			return amount(-s.Travel, s.Unit) + " behind the bar"
		}
		return a + " ahead of the bar"
	case "clipon.extension":
		return a + " ahead of the pad"
	case "clipon.stack":
		if s.Travel == 0 {
			return "none"
		}
	}
	return a
}

// tilted says which way an angle goes, that nobody has to remember the sign.
func tilted(deg float64, end string) string {
	switch s := num(deg, 1); {
	case s == "0.0":
		return ", level"
	case deg < 0:
		return ", " + end + " down"
	}
	return ", " + end + " up"
}

// point is what a person calls a place a tape goes to.
func point(s string) string {
	words := map[string]string{"bb": "BB", "bar": "bar centre", "saddle.nose": "saddle nose", "saddle.mid": "middle of the saddle",
		"saddle.tail": "saddle tail", "pad": "pad centre", "pad.rear": "rear of the pad", "pad.front": "front of the pad",
		"pedal": "pedal axle", "clamp": "middle of the rail clamp"}
	if w, ok := words[s]; ok {
		return w
	}
	return diag.Visible(s)
}

// checkPhrase is what a reading measures, in words; the sign of its value is in them.
func checkPhrase(c Check) string {
	from, to := point(c.From), point(c.To)
	switch c.Kind {
	case "angle":
		return map[string]string{"saddle": "level on a straightedge along the saddle", "bar": "bar's flat run against the level",
			"hood": "level on top of the hood", "pad": "level along the pad"}[c.Of]
	case "level":
		switch {
		case c.To == "bb" && c.Value < 0:
			return from + " ahead of the BB"
		case c.To == "bb":
			return from + " behind the BB"
		case c.Value < 0:
			return to + " behind the " + from
		}
		return to + " ahead of the " + from
	case "plumb":
		switch {
		case c.From == "floor":
			return "floor to " + to
		case c.Value < 0:
			return to + " below the " + from
		}
		return to + " above the " + from
	case "seat-tube":
		return "BB along the seat tube to the saddle"
	}
	if c.To == "clamp" {
		return "saddle nose back to " + to
	}
	return from + " to " + to
}

// checkValue is the value of a reading as checkPhrase words it.
func checkValue(c Check) string {
	v, unit := c.Value, "mm"
	if c.Kind == "angle" {
		unit = "deg"
	} else {
		v = math.Abs(v)
	}
	return withSigma(v, c.Sigma, unit)
}
