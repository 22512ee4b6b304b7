// Package written reads numbers as people write them, with a unit or without.
package written

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// unit is what may stand behind a number.
type unit struct {
	name string
	size float64 // in mm or degrees
}

// The longer of two names that end alike comes first.
var (
	lengths = []unit{{"mm", 1}, {"cm", 10}, {"inches", 25.4}, {"inch", 25.4}, {"in", 25.4}, {`"`, 25.4}, {"″", 25.4}, {"m", 1000}}
	angles  = []unit{{"degrees", 1}, {"deg", 1}, {"°", 1}}
)

// Length reads a length, mm: "742", "742 mm", "74.2 cm", "29.2in", "74,2 cm".
func Length(text string) (float64, error) { return number(text, lengths) }

// Degrees reads an angle, degrees: "-1.5", "-1.5°", "-1,5 deg".
func Degrees(text string) (float64, error) { return number(text, angles) }

// number reads a number, in the first of the units where it names none. A comma is a decimal comma unless it could divide
// thousands.
func number(text string, units []unit) (float64, error) {
	bare, scale := strings.TrimSpace(text), 1.0
	if v, err := strconv.ParseFloat(bare, 64); err == nil && finite(v) {
		return v, nil
	}
	for _, u := range units {
		if cut, ok := strings.CutSuffix(strings.ToLower(bare), u.name); ok {
			bare, scale = strings.TrimSpace(cut), u.size
			break
		}
	}
	bare = strings.Replace(bare, "−", "-", 1) // a minus sign in print
	if whole, decimals, ok := strings.Cut(bare, ","); ok {
		if _, err := strconv.ParseUint(decimals, 10, 16); err == nil && len(decimals) == 3 && strings.Trim(whole, "-0") != "" {
			return 0, fmt.Errorf("%q: write %s%s or %s.%s, a comma leaves it open which", text, whole, decimals, whole, decimals)
		}
		bare = whole + "." + decimals
	}
	v, err := strconv.ParseFloat(bare, 64)
	if err != nil || !finite(v) {
		return 0, fmt.Errorf("%q is not a number", text)
	}
	return math.Round(v*scale*1e6) / 1e6, nil
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
